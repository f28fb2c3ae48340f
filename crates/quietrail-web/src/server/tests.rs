//! Who is answered and who is refused, without a socket.

mod accepted;
mod asked_about;
#[cfg(unix)]
mod interrupted;

use super::{LARGEST, app};
use crate::desk::Desk;
use crate::folder::Folder;
use crate::views::{VIEWS, View};
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Request, StatusCode};
use std::sync::Arc;
use tower::ServiceExt;

const TOKEN: &str = "0123456789abcdef0123456789abcdef";
const HOST: &str = "127.0.0.1:8230";

/// The smallest job that can be solved: a winding, a rectifier, a reservoir, a load.
const JOB: &str = r#"format = 1
[job]
title = "Small"
region = "230 V 50 Hz"
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
[states]
on = "on"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "20 Ω" }]
secondary = [{ name = "S", open = "12 V at 230 V", resistance = "0.3 Ω" }]
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF ±20 %"   # from the drawer
esr = "50 mΩ"
[load.lamp]
at = "raw"
draws = { on = "500 mA" }
"#;

struct Bench {
    folder: tempfile::TempDir,
    desk: Arc<Desk>,
    app: Router,
}

impl Drop for Bench {
    fn drop(&mut self) {
        self.desk.close();
    }
}

fn bench_with(views: &'static [View]) -> Bench {
    bench_of(JOB, views)
}

fn bench_of(job: &str, views: &'static [View]) -> Bench {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("job.toml"), job).expect("written");
    std::fs::write(folder.path().join("secret.txt"), "not for the browser").expect("written");
    let desk = Desk::open(Folder::of(folder.path()).expect("a job"));
    let app = app(
        desk.clone(),
        TOKEN,
        HOST.parse().expect("an address"),
        views,
    );
    Bench { folder, desk, app }
}

impl Bench {
    async fn ask(&self, request: Request<Body>) -> (StatusCode, String) {
        let response = self.app.clone().oneshot(request).await.expect("answered");
        let status = response.status();
        let bytes = to_bytes(response.into_body(), usize::MAX)
            .await
            .expect("a body");
        (status, String::from_utf8_lossy(&bytes).into_owned())
    }

    async fn get(&self, path: &str) -> (StatusCode, String) {
        self.ask(get(path).body(Body::empty()).expect("a request"))
            .await
    }

    fn text(&self) -> String {
        std::fs::read_to_string(self.folder.path().join("job.toml")).expect("read")
    }
}

fn get(path: &str) -> axum::http::request::Builder {
    Request::get(path).header("host", HOST)
}

fn post(path: &str) -> axum::http::request::Builder {
    Request::post(path)
        .header("host", HOST)
        .header("content-type", "application/x-www-form-urlencoded")
}

#[tokio::test]
async fn only_whole_addresses_on_this_host_are_answered() {
    let bench = bench_with(VIEWS);
    let path = format!("/{TOKEN}/descent");
    assert_eq!(bench.get(&path).await.0, StatusCode::OK);
    for wrong in [
        "/",
        "/descent",
        "/0123/descent",
        "//descent",
        &format!("/{TOKEN}x/descent"),
    ] {
        assert_eq!(bench.get(wrong).await.0, StatusCode::NOT_FOUND, "{wrong}");
    }
    for host in [
        "evil.example",
        "127.0.0.1",
        "127.0.0.1:80",
        "localhost.evil.example:8230",
        "0.0.0.0:8230",
    ] {
        let request = Request::get(&path)
            .header("host", host)
            .body(Body::empty())
            .expect("a request");
        assert_eq!(bench.ask(request).await.0, StatusCode::FORBIDDEN, "{host}");
    }
    let nameless = Request::get(&path).body(Body::empty()).expect("a request");
    assert_eq!(bench.ask(nameless).await.0, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn no_other_page_reads_or_writes() {
    let bench = bench_with(VIEWS);
    let sum = bench.desk.version().sum.clone();
    let form = format!("view=descent&sum={sum}&try=C1.value:6800u");
    for origin in [
        None,
        Some("http://evil.example"),
        Some("null"),
        Some("https://127.0.0.1:8230"),
        Some("http://127.0.0.1:1"),
    ] {
        let mut request = post(&format!("/{TOKEN}/do-keep"));
        if let Some(origin) = origin {
            request = request.header("origin", origin);
        }
        let (status, _) = bench
            .ask(request.body(Body::from(form.clone())).expect("a request"))
            .await;
        assert_eq!(status, StatusCode::FORBIDDEN, "{origin:?}");
    }
    assert_eq!(bench.text(), JOB);
    let script = get(&format!("/{TOKEN}/descent"))
        .header("sec-fetch-site", "cross-site")
        .header("sec-fetch-mode", "no-cors");
    let (status, _) = bench
        .ask(script.body(Body::empty()).expect("a request"))
        .await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    let own = post(&format!("/{TOKEN}/do-keep")).header("origin", "http://127.0.0.1:8230");
    let (status, _) = bench
        .ask(own.body(Body::from(form)).expect("a request"))
        .await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let kept = JOB.replace("\"4700 µF ±20 %\"   # from", "\"6800 µF ±20 %\"   # from");
    assert_eq!(
        bench.text(),
        kept,
        "the value, its tolerance, and the comment in its place"
    );
}

#[tokio::test]
async fn nothing_outside_the_workbook_is_reached() {
    let bench = bench_with(VIEWS);
    for path in [
        "/../secret.txt",
        "/..%2fsecret.txt",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/secret.txt",
        "/job.toml",
        "//etc/passwd",
        "/descent/../../secret.txt",
    ] {
        let (status, text) = bench.get(&format!("/{TOKEN}{path}")).await;
        assert_eq!(status, StatusCode::NOT_FOUND, "{path}");
        assert!(
            !text.contains("not for the browser") && !text.contains("root:"),
            "{path}"
        );
    }
    let put = Request::put(format!("/{TOKEN}/file")).header("host", HOST);
    let (status, _) = bench.ask(put.body(Body::empty()).expect("a request")).await;
    assert_eq!(status, StatusCode::METHOD_NOT_ALLOWED);
}

#[tokio::test]
async fn a_hundred_megabytes_are_refused_said_or_not() {
    let bench = bench_with(VIEWS);
    let own = || post(&format!("/{TOKEN}/do-write")).header("origin", "http://127.0.0.1:8230");
    let said = own().header("content-length", "104857600");
    let (status, _) = bench
        .ask(said.body(Body::empty()).expect("a request"))
        .await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    let whole = vec![b'x'; 100 << 20];
    assert!(whole.len() > LARGEST);
    let (status, _) = bench
        .ask(own().body(Body::from(whole)).expect("a request"))
        .await;
    assert_eq!(status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(bench.text(), JOB);
}

/// A view that fails, as no view should.
const FAILING: &[View] = &[View {
    slug: "descent",
    name: "Descent",
    show: |_| panic!("on purpose"),
    file: None,
    act: None,
}];

#[tokio::test]
async fn a_panic_in_one_page_is_one_answer() {
    let bench = bench_with(FAILING);
    for _ in 0..3 {
        let (status, text) = bench.get(&format!("/{TOKEN}/descent")).await;
        assert_eq!(status, StatusCode::INTERNAL_SERVER_ERROR);
        assert!(text.contains("The workbook goes on"), "{text}");
    }
    assert_eq!(
        bench.get(&format!("/{TOKEN}/workbook.css")).await.0,
        StatusCode::OK
    );
}

#[tokio::test]
async fn every_answer_forbids_what_comes_from_elsewhere() {
    let bench = bench_with(VIEWS);
    for path in ["descent", "workbook.js", "nowhere"] {
        let request = get(&format!("/{TOKEN}/{path}"))
            .body(Body::empty())
            .expect("a request");
        let response = bench.app.clone().oneshot(request).await.expect("answered");
        let policy = response.headers()["content-security-policy"]
            .to_str()
            .expect("text");
        assert!(policy.starts_with("default-src 'none'"), "{policy}");
        assert_eq!(response.headers()["x-content-type-options"], "nosniff");
    }
    for view in VIEWS {
        let (status, text) = bench.get(&format!("/{TOKEN}/{}", view.slug)).await;
        assert_eq!(status, StatusCode::OK, "{}", view.slug);
        let outside = text.replace("http://www.w3.org/2000/svg", "");
        assert!(
            !outside.contains("http://") && !outside.contains("https://"),
            "{}",
            view.slug
        );
        assert!(
            !text.contains(" style=\"") && !text.contains("<style"),
            "{}: the policy forbids it",
            view.slug
        );
    }
}

#[tokio::test]
async fn names_that_try_to_be_markup_stay_names() {
    let bench = bench_with(VIEWS);
    let (_, text) = bench
        .get(&format!("/{TOKEN}/descent?state=%3Cscript%3Ealert(1)%3C/script%3E&try=%3Cb%3E:%3Ci%3E&why=%22%3E%3Cimg%3E"))
        .await;
    assert!(
        !text.contains("<script>alert") && !text.contains("<img>") && !text.contains("<i>"),
        "escaped"
    );
}

/// A file comes in by a form of this workbook alone, is held and not written, and what is too large or of another kind is refused.
#[tokio::test]
async fn a_file_comes_in_by_a_form_of_this_workbook_alone() {
    let bench = bench_with(VIEWS);
    let body = "--b\r\nContent-Disposition: form-data; name=\"step\"\r\n\r\nraw on a dummy load\r\n\
        --b\r\nContent-Disposition: form-data; name=\"point\"\r\n\r\n0\r\n\
        --b\r\nContent-Disposition: form-data; name=\"file\"; filename=\"../../x.csv\"\r\n\r\ns,V\n0,1\n\r\n--b--\r\n";
    let send = |origin: Option<&str>, kind: &str, length: Option<&str>| {
        let mut request = Request::post(format!("/{TOKEN}/bench"))
            .header("host", HOST)
            .header("content-type", kind);
        for (name, value) in [("origin", origin), ("content-length", length)] {
            if let Some(value) = value {
                request = request.header(name, value);
            }
        }
        request.body(Body::from(body)).expect("a request")
    };
    let own = Some("http://127.0.0.1:8230");
    let parts = "multipart/form-data; boundary=b";
    for (request, status) in [
        (send(None, parts, None), StatusCode::FORBIDDEN),
        (
            send(Some("http://evil.example"), parts, None),
            StatusCode::FORBIDDEN,
        ),
        (
            send(own, "text/plain", None),
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
        ),
        (
            send(own, parts, Some("99000000")),
            StatusCode::PAYLOAD_TOO_LARGE,
        ),
        (
            send(own, "application/x-www-form-urlencoded", Some("9000000")),
            StatusCode::PAYLOAD_TOO_LARGE,
        ),
        (send(own, parts, None), StatusCode::SEE_OTHER),
    ] {
        assert_eq!(bench.ask(request).await.0, status);
    }
    let names = std::fs::read_dir(bench.folder.path()).expect("read");
    let names: Vec<_> = names
        .filter_map(|one| Some(one.ok()?.file_name()))
        .collect();
    assert_eq!(names.len(), 2, "{names:?}");
}
