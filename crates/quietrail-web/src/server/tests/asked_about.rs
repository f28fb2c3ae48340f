//! What is typed or sent on the Bench and looks wrong: it is asked about, nothing is written, and said again it is kept.

use super::{HOST, JOB, TOKEN, bench_of};
use crate::views::VIEWS;
use axum::body::Body;
use axum::http::{Request, StatusCode};
use tower::ServiceExt;

const HEAD: &str = "row,time,step,state,of,what,value,unit,instrument,range,averages,setup,mains_v,limit,capture,corrects,note\r\n";
/// The step of the rows below is gone on with.
const GONE_ON: &str = "1,2026-11-20T10:00:00Z,raw on a dummy load,,raw on a dummy load,override,1,,,,,,,,,,read on paper last week\r\n";
const STEP: &str = "raw+on+a+dummy+load";
const SCOPE: &str = "[instrument.scope]\npart = \"oscilloscope, 8 bits, 100 MHz, 1x probe\"\n";

/// Five cycles of 50 Hz, a saw of 1.2 V p-p at 100 Hz on 14 V, with so many samples in a cycle.
fn saw(in_a_cycle: u32) -> String {
    let row = |k: u32| {
        let t = f64::from(k) / f64::from(in_a_cycle);
        let v = 14.0 - 1.2 * ((2.0 * t).fract() - 0.5);
        format!("{:.6},{v:.4}\n", t / 50.0)
    };
    let rows: String = (0..5 * in_a_cycle).map(row).collect();
    format!("s,V\n{rows}")
}

struct Asked {
    bench: super::Bench,
}

impl Asked {
    /// A workbook whose log has these rows beside that of going on.
    fn with(rows: &str) -> Self {
        let bench = bench_of(&format!("{JOB}{SCOPE}"), VIEWS);
        std::fs::write(
            bench.folder.path().join("readings.csv"),
            format!("{HEAD}{GONE_ON}{rows}"),
        )
        .expect("written");
        std::fs::create_dir(bench.folder.path().join("captures")).expect("made");
        std::fs::write(bench.folder.path().join("captures/coarse.csv"), saw(20)).expect("written");
        std::fs::write(bench.folder.path().join("captures/fine.csv"), saw(400)).expect("written");
        Self { bench }
    }

    fn log(&self) -> String {
        std::fs::read_to_string(self.bench.folder.path().join("readings.csv")).expect("read")
    }

    /// Sends the form of the ripple of the raw rail; what is asked, and nothing where it is kept.
    async fn keep(&self, fields: &str) -> String {
        let body = format!("step={STEP}&point=1&with=scope&setup=1x+probe&at=230&{fields}");
        // The rows of a step are worked out beside the pages.
        for _ in 0..600 {
            let request = Request::post(format!("/{TOKEN}/bench"))
                .header("host", HOST)
                .header("origin", format!("http://{HOST}"))
                .header("content-type", "application/x-www-form-urlencoded")
                .body(Body::from(body.clone()))
                .expect("a request");
            let (status, page) = self.bench.ask(request).await;
            if status == StatusCode::SEE_OTHER {
                return String::new();
            }
            if !page.contains(crate::words::NO_BENCH) {
                return page;
            }
            tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        }
        panic!("the step was not worked out");
    }

    /// A page, once the rows of its step are worked out.
    async fn page(&self, path: &str) -> String {
        for _ in 0..600 {
            let (_, page) = self.bench.get(path).await;
            if page.contains("class=\"stop\"") {
                return page;
            }
            tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        }
        panic!("the step was not worked out");
    }

    /// Sends a file; under what it is held.
    async fn send(&self, text: &str) -> String {
        let part = |name: &str, value: &str| {
            format!("--b\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n")
        };
        let body = format!(
            "{}{}--b\r\nContent-Disposition: form-data; name=\"file\"; filename=\"sent.csv\"\r\n\r\n{text}\r\n--b--\r\n",
            part("step", "raw on a dummy load"),
            part("point", "1")
        );
        let request = Request::post(format!("/{TOKEN}/bench"))
            .header("host", HOST)
            .header("origin", format!("http://{HOST}"))
            .header("content-type", "multipart/form-data; boundary=b")
            .body(Body::from(body))
            .expect("a request");
        let response = self.bench.app.clone().oneshot(request).await;
        let response = response.expect("answered");
        let to = response.headers()["location"].to_str().expect("a text");
        let held = to.split("upload=").nth(1).expect("it is held");
        held.split(['&', '#']).next().unwrap_or_default().to_owned()
    }
}

/// 14 V is what the rail reads on direct volts; its ripple is a volt.
#[tokio::test]
async fn a_level_typed_for_a_ripple_is_asked_about() {
    let asked = Asked::with("");
    let before = asked.log();
    let page = asked.keep("typed=14+V").await;
    assert!(page.contains("was the meter on direct volts?"), "{page}");
    assert_eq!(asked.log(), before);
    assert_eq!(asked.keep("typed=14+V&as_typed=1").await, "");
    assert!(asked.log().contains(",raw,ripple p-p,14,V,scope,"));
}

/// With twenty samples in a cycle of the mains the sharpest step is anything.
#[tokio::test]
async fn the_series_resistance_out_of_a_doubtful_capture_is_asked_about() {
    let asked = Asked::with("");
    let before = asked.log();
    let held = asked.send(&saw(20)).await;
    let fields = format!("upload={held}&keep=esr&esr_of=C1&amps=0.8");
    let page = asked.keep(&fields).await;
    assert!(
        page.contains("only 20 samples in a cycle of the mains"),
        "{page}"
    );
    assert_eq!(asked.log(), before);
    assert_eq!(asked.keep(&format!("{fields}&as_typed=1")).await, "");
    assert!(asked.log().contains(",C1,esr,"), "{}", asked.log());
    // One that shows the step is not asked about.
    let held = asked.send(&saw(400)).await;
    let fields = format!("upload={held}&keep=esr&esr_of=C1&amps=0.8");
    assert_eq!(asked.keep(&fields).await, "");
}

/// What is odd about a capture stands under the drawing that it is laid over; of one that is in order nothing does.
#[tokio::test]
async fn a_doubtful_capture_that_is_laid_over_says_so() {
    let row = |row: u32, file: &str| {
        format!(
            "{row},2026-11-20T10:00:00Z,raw on a dummy load,,raw,ripple p-p,1.2,V,scope,,,1x probe,230,,captures/{file}.csv,,\r\n"
        )
    };
    let asked = Asked::with(&format!("{}{}", row(2, "coarse"), row(3, "fine")));
    let odd = "only 20 samples in a cycle of the mains";
    let page = |row: u32| format!("/{TOKEN}/waves?node=raw&capture={row}");
    let (_, coarse) = asked.bench.get(&page(2)).await;
    assert!(
        coarse.contains("captures/coarse.csv") && coarse.contains(odd),
        "{coarse}"
    );
    let (_, fine) = asked.bench.get(&page(3)).await;
    assert!(
        fine.contains("captures/fine.csv") && !fine.contains("samples in a cycle"),
        "{fine}"
    );
}

/// A step with a reading outside its band asks what single fault would read so, and says it when it is asked.
#[tokio::test]
async fn what_single_fault_would_read_so_is_said_when_it_is_asked() {
    // Without its reservoir the rail is the mean of the rectified sine, 2√2/π of 12 V, less two junctions: 9.4 V.
    let asked = Asked::with(
        "2,2026-11-20T10:00:00Z,raw on a dummy load,,raw,mean,9.4,V,,,,clips,230,,,,\r\n",
    );
    let path = format!("/{TOKEN}/bench?step={STEP}");
    let page = asked.page(&path).await;
    assert!(page.contains(crate::words::bench::WHY), "{page}");
    assert!(!page.contains("C1 open"), "{page}");
    let page = asked.page(&format!("{path}&why=1")).await;
    assert!(page.contains("C1 open"), "{page}");
    // A reading that fits asks nothing.
    let asked = Asked::with("");
    let page = asked.page(&format!("{path}&why=1")).await;
    assert!(!page.contains(crate::words::bench::WHY), "{page}");
}
