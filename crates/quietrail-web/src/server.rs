//! Sockets, who may ask, and routes.
//!
//! The address holds a random token. Requests without it, for another host name, or sent by another page's script are refused
//! before anything looks at them. Nothing but this program's own pages is ever loaded by a page: its policy says so.

use crate::asked::Asked;
use crate::desk::Desk;
use crate::folder::Folder;
use crate::page;
use crate::timing;
use crate::upload::{Sent, boundary, parted};
use crate::views::{Answer, VIEWS, View};
use crate::words;
use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{Path, RawQuery, Request, State};
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::http::{Method, StatusCode};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::serve::ListenerExt;
use quietrail_bench::capture::MAX_CAPTURE_BYTES;
use std::future::{Future, poll_fn};
use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::pin::pin;
use std::sync::Arc;
use std::task::Poll;
use std::time::{Duration, Instant};
use tokio::net::TcpListener;
use tokio::runtime::Runtime;

/// The port that is asked for where the person names none; any other is as good.
const PORT: u16 = 8230;
/// Bytes that a form may send: a job file at its largest, encoded, and some.
const LARGEST: usize = 4 << 20;
/// Field of a form under which the file that it brought is asked for.
pub(crate) const UPLOADED: &str = "upload";
/// How long a page waits for news before it asks again.
const PATIENCE: Duration = Duration::from_secs(25);
/// How often it is told of a search that goes on.
const TICK: Duration = Duration::from_millis(350);

/// A workbook that is being served.
pub struct Serving {
    /// Where: `http://127.0.0.1:8230/…/`
    pub address: String,
    /// The port that was asked for, where another had to be taken.
    pub taken: Option<u16>,
    runtime: Runtime,
    desk: Arc<Desk>,
    ended: tokio::task::JoinHandle<()>,
}

/// Begins to serve a folder; on the port asked for if that is free, else on another.
///
/// # Errors
/// No port of the loopback address can be had.
pub fn start(folder: Folder, port: Option<u16>) -> io::Result<Serving> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_io()
        .enable_time()
        .build()?;
    let wanted = port.unwrap_or(PORT);
    let (listener, taken) = runtime.block_on(listen(wanted))?;
    let at = listener.local_addr()?;
    let desk = Desk::open(folder);
    let token = token()?;
    let app = app(desk.clone(), &token, at, VIEWS);
    let closing = desk.clone();
    // A page goes out whole at once: its last piece must not wait until the one before is acknowledged.
    let listener = listener.tap_io(|socket| {
        let _ = socket.set_nodelay(true);
    });
    let ended = runtime.spawn(async move {
        let mut news = closing.news();
        let served = axum::serve(listener, app).with_graceful_shutdown(async move {
            while !closing.is_closing() {
                if news.changed().await.is_err() {
                    return;
                }
            }
        });
        if let Err(error) = served.await {
            eprintln!("quietrail: {error}");
        }
    });
    Ok(Serving {
        address: format!("http://{at}/{token}/"),
        taken: taken.then_some(wanted),
        runtime,
        desk,
        ended,
    })
}

impl Serving {
    /// Serves until Ctrl-C. `opened` is to tell the address: by then an interrupt is noticed, so that nobody who has seen the
    /// address can come too early with it. What it complains of ends the serving at once, and is given back.
    ///
    /// # Errors
    /// The system gives no way to notice Ctrl-C.
    pub fn until_interrupted<E>(
        self,
        opened: impl FnOnce(&str) -> Result<(), E>,
    ) -> io::Result<Result<(), E>> {
        let told = self.runtime.block_on(async {
            let mut interrupted = pin!(tokio::signal::ctrl_c());
            // It is noticed from the first poll on.
            if let Poll::Ready(ended) =
                poll_fn(|context| Poll::Ready(interrupted.as_mut().poll(context))).await
            {
                return ended.map(Ok);
            }
            if let Err(complaint) = opened(&self.address) {
                return Ok(Err(complaint));
            }
            interrupted.await.map(Ok)
        })?;
        self.stop();
        Ok(told)
    }

    /// Ends it. Requests that are under way have a second to end.
    pub fn stop(self) {
        self.desk.close();
        let Self { runtime, ended, .. } = self;
        runtime.block_on(async {
            let _ = tokio::time::timeout(Duration::from_secs(1), ended).await;
        });
        runtime.shutdown_background();
    }
}

/// The loopback address at a port, or at any other where that is taken.
async fn listen(port: u16) -> io::Result<(TcpListener, bool)> {
    match TcpListener::bind((Ipv4Addr::LOCALHOST, port)).await {
        Ok(listener) => Ok((listener, false)),
        Err(error) if error.kind() == io::ErrorKind::AddrInUse => {
            Ok((TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await?, true))
        }
        Err(error) => Err(error),
    }
}

/// 128 bits that nobody can guess.
fn token() -> io::Result<String> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes).map_err(io::Error::other)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

/// What all requests share.
#[derive(Clone)]
struct App {
    desk: Arc<Desk>,
    token: Arc<str>,
    hosts: Arc<[String]>,
    views: &'static [View],
}

/// The workbook as a function from requests to responses.
pub(crate) fn app(desk: Arc<Desk>, token: &str, at: SocketAddr, views: &'static [View]) -> Router {
    let port = at.port();
    let app = App {
        desk,
        token: token.into(),
        hosts: [
            format!("127.0.0.1:{port}"),
            format!("localhost:{port}"),
            format!("[::1]:{port}"),
        ]
        .into(),
        views,
    };
    let of_job = Router::new()
        .route("/", get(front))
        .route("/news", get(news))
        .route("/workbook.css", get(style))
        .route("/workbook.js", get(script))
        .route("/{view}", get(show).post(act));
    Router::new()
        .nest(&format!("/{token}"), of_job)
        .route(&format!("/{token}/"), get(front))
        .fallback(nothing_here)
        .layer(middleware::from_fn_with_state(app.clone(), guard))
        .with_state(app)
}

/// Refuses whoever is not a page of this workbook, and sets what every answer says of itself.
async fn guard(State(app): State<App>, request: Request, next: Next) -> Response {
    let begun = Instant::now();
    let mut response = match refusal(&app, &request) {
        Some(refusal) => refusal.into_response(),
        None => next.run(request).await,
    };
    let took = begun.elapsed().as_secs_f64() * 1e3;
    let headers = response.headers_mut();
    // What of a page's time was ours (W3C Server Timing), for whoever measures it.
    let solving = headers.get(&TIMING).and_then(|own| own.to_str().ok());
    let solving = solving.map_or_else(String::new, |own| format!(", {own}"));
    if let Ok(told) = HeaderValue::from_str(&format!("page;dur={took:.1}{solving}")) {
        headers.insert(TIMING, told);
    }
    for (name, value) in HEADERS {
        headers
            .entry(name)
            .or_insert(HeaderValue::from_static(value));
    }
    response
}

/// Where times are told.
const TIMING: header::HeaderName = header::HeaderName::from_static("server-timing");

/// Nothing is loaded from elsewhere, framed, kept or guessed.
const HEADERS: [(header::HeaderName, &str); 6] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; \
         form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::REFERRER_POLICY, "same-origin"),
    (header::CACHE_CONTROL, "no-store"),
    (
        header::HeaderName::from_static("cross-origin-resource-policy"),
        "same-origin",
    ),
];

fn refusal(app: &App, request: &Request) -> Option<(StatusCode, &'static str)> {
    let headers = request.headers();
    let is_own = |host: &str| app.hosts.iter().any(|own| own == host);
    let host = text_of(headers, &header::HOST);
    if !host.is_some_and(is_own) {
        return Some((StatusCode::FORBIDDEN, words::REFUSED_HOST));
    }
    let method = request.method();
    let is_reading = *method == Method::GET || *method == Method::HEAD;
    if !is_reading && *method != Method::POST {
        return Some((StatusCode::METHOD_NOT_ALLOWED, words::REFUSED_METHOD));
    }
    // A page always says where it was when it sends a form; only a page of ours may.
    let origin = text_of(headers, &header::ORIGIN);
    let is_own_origin = |origin: &str| origin.strip_prefix("http://").is_some_and(is_own);
    let is_refused = match origin {
        Some(origin) => !is_own_origin(origin),
        None => !is_reading,
    };
    if is_refused {
        return Some((StatusCode::FORBIDDEN, words::REFUSED_ORIGIN));
    }
    let site = text_of(headers, &header::HeaderName::from_static("sec-fetch-site"));
    let mode = text_of(headers, &header::HeaderName::from_static("sec-fetch-mode"));
    if site.is_some_and(|site| site == "cross-site") && mode != Some("navigate") {
        return Some((StatusCode::FORBIDDEN, words::REFUSED_ORIGIN));
    }
    let path = request.uri().path();
    let token = path
        .trim_start_matches('/')
        .split('/')
        .next()
        .unwrap_or_default();
    if !same(token, &app.token) {
        return Some((StatusCode::NOT_FOUND, words::REFUSED_TOKEN));
    }
    let length =
        text_of(headers, &header::CONTENT_LENGTH).and_then(|text| text.parse::<u64>().ok());
    if length.is_some_and(|length| length > largest(headers) as u64) {
        return Some((StatusCode::PAYLOAD_TOO_LARGE, words::REFUSED_SIZE));
    }
    None
}

fn text_of<'a>(headers: &'a HeaderMap, name: &header::HeaderName) -> Option<&'a str> {
    headers.get(name)?.to_str().ok()
}

/// Whether two texts are the same, in a time that tells nothing of where they differ.
fn same(one: &str, other: &str) -> bool {
    one.len() == other.len()
        && one
            .bytes()
            .zip(other.bytes())
            .fold(0, |all, (a, b)| all | (a ^ b))
            == 0
}

async fn nothing_here() -> (StatusCode, &'static str) {
    (StatusCode::NOT_FOUND, words::NOTHING_HERE)
}

async fn style() -> impl IntoResponse {
    let text = format!(
        "{}\n{}",
        quietrail_report::svg::style(),
        include_str!("../assets/workbook.css")
    );
    ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], text)
}

async fn script() -> impl IntoResponse {
    let text = include_str!("../assets/workbook.js");
    (
        [(header::CONTENT_TYPE, "text/javascript; charset=utf-8")],
        text,
    )
}

async fn front(State(app): State<App>) -> Response {
    let version = app.desk.version();
    let first = if version.texts.job.is_none() && version.unreadable.is_none() {
        "begin"
    } else {
        "descent"
    };
    to(&format!("/{}/{first}", app.token))
}

/// On to another page, by a request that reads.
fn to(place: &str) -> Response {
    let location = HeaderValue::from_str(place).unwrap_or(HeaderValue::from_static("/"));
    (StatusCode::SEE_OTHER, [(header::LOCATION, location)]).into_response()
}

async fn show(
    State(app): State<App>,
    Path(view): Path<String>,
    RawQuery(query): RawQuery,
) -> Response {
    let pairs = pairs(query.unwrap_or_default().as_bytes());
    apart(move || {
        let asked = Asked::of(&pairs);
        answered(page::show(&app.desk, app.views, &view, &asked), &app)
    })
    .await
}

async fn act(State(app): State<App>, Path(view): Path<String>, request: Request) -> Response {
    let media_type = text_of(request.headers(), &header::CONTENT_TYPE);
    let media_type = media_type.unwrap_or_default().to_owned();
    let most = largest(request.headers());
    let Ok(body) = to_bytes(request.into_body(), most).await else {
        return (StatusCode::PAYLOAD_TOO_LARGE, words::REFUSED_SIZE).into_response();
    };
    let is_plain = media_type.starts_with("application/x-www-form-urlencoded");
    if !is_plain && boundary(&media_type).is_none() {
        return StatusCode::UNSUPPORTED_MEDIA_TYPE.into_response();
    }
    apart(move || {
        let Sent { mut pairs, upload } = match boundary(&media_type) {
            Some(boundary) => parted(&body, boundary),
            None => Sent {
                pairs: pairs(&body),
                upload: None,
            },
        };
        if let Some(upload) = upload {
            pairs.push((UPLOADED.to_owned(), app.desk.uploads.hold(upload)));
        }
        answered(page::act(&app.desk, app.views, &view, &pairs), &app)
    })
    .await
}

/// Bytes that a request may bring: of a form that brings a file, those of a capture.
fn largest(headers: &HeaderMap) -> usize {
    let media_type = text_of(headers, &header::CONTENT_TYPE).unwrap_or_default();
    match boundary(media_type) {
        Some(_) => MAX_CAPTURE_BYTES + LARGEST,
        None => LARGEST,
    }
}

fn answered(answer: Answer, app: &App) -> Response {
    match answer {
        Answer::Page(status, page) => {
            let status = StatusCode::from_u16(status).unwrap_or(StatusCode::OK);
            let kind = [(header::CONTENT_TYPE, "text/html; charset=utf-8")];
            (status, kind, page.into_string()).into_response()
        }
        Answer::File { name, kind, text } => {
            let name = format!("attachment; filename=\"{name}\"");
            (
                [
                    (header::CONTENT_TYPE, kind.to_owned()),
                    (header::CONTENT_DISPOSITION, name),
                ],
                text,
            )
                .into_response()
        }
        Answer::Go(place) => to(&format!("/{}/{place}", app.token)),
        Answer::Nowhere => (StatusCode::NOT_FOUND, words::NOTHING_HERE).into_response(),
    }
}

/// Does what takes time away from the sockets; a panic in it is an answer like any other.
async fn apart(work: impl FnOnce() -> Response + Send + 'static) -> Response {
    let timed = move || {
        timing::taken();
        let response = work();
        (response, timing::taken())
    };
    match tokio::task::spawn_blocking(timed).await {
        Ok((mut response, solving)) => {
            let told = format!("solve;dur={:.1}", solving.as_secs_f64() * 1e3);
            if let Ok(told) = HeaderValue::from_str(&told) {
                response.headers_mut().insert(TIMING, told);
            }
            response
        }
        Err(_) => {
            let kind = [(header::CONTENT_TYPE, "text/html; charset=utf-8")];
            let page = page::failed().into_string();
            (StatusCode::INTERNAL_SERVER_ERROR, kind, page).into_response()
        }
    }
}

/// Waits until there is something new after a number, or a search has come further, or for long.
async fn news(State(app): State<App>, RawQuery(query): RawQuery) -> Response {
    let pairs = pairs(query.unwrap_or_default().as_bytes());
    let after = pairs.iter().find(|(key, _)| key == "after");
    let after: u64 = after.and_then(|(_, value)| value.parse().ok()).unwrap_or(0);
    let mut news = app.desk.news();
    let wait = if app.desk.searching().is_some() {
        TICK
    } else {
        PATIENCE
    };
    if *news.borrow_and_update() <= after {
        let _ = tokio::time::timeout(wait, news.changed()).await;
    }
    let number = *news.borrow();
    let searching = app.desk.searching();
    let line = searching.as_ref().map(words::searching).unwrap_or_default();
    let share = searching.as_ref().map_or(0.0, words::share_searched);
    let told = serde_json::json!({
        "news": number,
        "sum": app.desk.version().sum,
        "searching": searching.is_some(),
        "line": line,
        "share": share,
        "closing": app.desk.is_closing(),
    });
    let kind = [(header::CONTENT_TYPE, "application/json")];
    (kind, Body::from(told.to_string())).into_response()
}

/// The pairs of a query or a form (`application/x-www-form-urlencoded`, as the URL Standard reads it).
fn pairs(bytes: &[u8]) -> Vec<(String, String)> {
    bytes
        .split(|byte| *byte == b'&')
        .filter(|pair| !pair.is_empty())
        .map(|pair| {
            let at = pair
                .iter()
                .position(|byte| *byte == b'=')
                .unwrap_or(pair.len());
            let value = pair.get(at + 1..).unwrap_or_default();
            (decoded(&pair[..at]), decoded(value))
        })
        .collect()
}

fn decoded(part: &[u8]) -> String {
    let hex = |digit: Option<&u8>| char::from(*digit?).to_digit(16);
    let mut out = Vec::with_capacity(part.len());
    let mut at = 0;
    while let Some(&byte) = part.get(at) {
        at += 1;
        match (byte, hex(part.get(at)), hex(part.get(at + 1))) {
            (b'%', Some(high), Some(low)) => {
                out.push((high * 16 + low) as u8);
                at += 2;
            }
            (b'+', ..) => out.push(b' '),
            (byte, ..) => out.push(byte),
        }
    }
    String::from_utf8_lossy(&out).into_owned()
}

#[cfg(test)]
mod tests;
