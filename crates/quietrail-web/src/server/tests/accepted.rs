//! What is read of the oscillator, typed on its page.

use super::{Bench, HOST, JOB, TOKEN, bench_of, post};
use crate::views::VIEWS;
use axum::body::Body;
use axum::http::StatusCode;

const OSCILLATOR: &str = r#"
[instrument.analyser]
part = "spectrum analyser, swept"
[oscillator.X1]
frequency = "10 MHz"
supply = { at = ["raw", "common"] }
harmonics = "-30 dBc"
spurs = "-90 dBc"
warm_up = { time = "5 min", within = "20 ppb" }
"#;

/// Sends the form; the page where nothing was kept.
async fn keep(bench: &Bench, fields: &str) -> Option<String> {
    let body = format!("kind=reading&of=X1&{fields}");
    let request = post(&format!("/{TOKEN}/oscillator"))
        .header("origin", format!("http://{HOST}"))
        .body(Body::from(body))
        .expect("a request");
    let (status, page) = bench.ask(request).await;
    (status != StatusCode::SEE_OTHER).then_some(page)
}

fn log(bench: &Bench) -> String {
    std::fs::read_to_string(bench.folder.path().join("readings.csv")).unwrap_or_default()
}

/// A question of the page has an answer on the page, as it has on the command line.
#[tokio::test]
async fn what_is_asked_about_may_be_kept_as_typed() {
    let bench = bench_of(&format!("{JOB}{OSCILLATOR}"), VIEWS);
    let spectral = "with=analyser&rbw=1+kHz&attenuation=30+dB&reference=10+dBm";
    for (fields, asked, row) in [
        (
            "what=harmonic&typed=41+dBc&at=20+MHz",
            "did you mean −41 dBc?",
            ",harmonic,41,dBc,",
        ),
        (
            "what=spur&typed=-41+dBc&at=20+MHz",
            "is it a harmonic?",
            ",spur,-41,dBc,",
        ),
        (
            "what=harmonic&typed=-60+dBc&at=21.4+MHz",
            "is it a spur?",
            ",harmonic,-60,dBc,",
        ),
    ] {
        let fields = format!("{spectral}&{fields}");
        let page = keep(&bench, &fields).await.expect("asked about");
        assert!(page.contains(asked), "{asked}: {page}");
        assert!(page.contains("name=\"as_typed\""), "{page}");
        assert!(!log(&bench).contains(row), "{}", log(&bench));
        assert_eq!(keep(&bench, &format!("{fields}&as_typed=1")).await, None);
        assert!(log(&bench).contains(row), "{row}: {}", log(&bench));
    }
    // What cannot be read at all is no question.
    let page = keep(&bench, &format!("{spectral}&what=spur&typed=low&at=9+MHz")).await;
    let page = page.expect("refused");
    assert!(!page.contains("name=\"as_typed\""), "{page}");
}

/// A watch is no instrument of the job; an analyser is.
#[tokio::test]
async fn a_warm_up_by_the_watch_wants_no_instrument() {
    let bench = bench_of(&format!("{JOB}{OSCILLATOR}"), VIEWS);
    let (_, page) = bench.get(&format!("/{TOKEN}/oscillator")).await;
    assert!(
        page.contains("<option value=\"\">none, by hand</option>"),
        "{page}"
    );
    let fields = "what=warm-up&typed=4.5+min&with=&error=10+s&setup=watch";
    assert_eq!(keep(&bench, fields).await, None);
    let (_, page) = bench.get(&format!("/{TOKEN}/oscillator")).await;
    assert!(page.contains("4.3\u{a0}min .. 4.7\u{a0}min"), "{page}");
    let fields = "what=spur&typed=-98+dBc&with=&at=9+MHz&setup=pad";
    let page = keep(&bench, fields).await.expect("refused");
    assert!(page.contains("No instrument"), "{page}");
}
