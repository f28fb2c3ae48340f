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

const COUNTER: &str = "stability = [\"0.05 ppb at 1 s\", \"0.05 ppb at 100 s\"]\n[instrument.counter]\nkind = \"counter\"\n\
    counting = { timing = \"20 ps\", time_base = \"1 ppb\", gate = \"plain\" }\n";

/// A log of so many readings so many seconds apart, its frequency a saw of 0.02 ppb.
fn counted(readings: u32, apart: u32) -> String {
    let row = |k: u32| {
        let hertz = 1e7 * (1.0 + 3e-9 + 1e-12 * (f64::from(k * 7 % 20) - 9.5));
        format!("{},{hertz:.6}\n", k * apart)
    };
    let rows: String = (0..readings).map(row).collect();
    format!("t (s),f (Hz)\n{rows}")
}

/// Verdicts are by the latest log that shows a line, and so by several: each is drawn and told, and not the last alone.
#[tokio::test]
async fn the_deviations_of_all_logs_are_drawn() {
    let bench = bench_of(&format!("{JOB}{OSCILLATOR}{COUNTER}"), VIEWS);
    let captures = bench.folder.path().join("captures");
    std::fs::create_dir(&captures).expect("made");
    let mut drawn = Vec::new();
    for (name, text) in [
        ("short.csv", counted(200, 1)),
        ("long.csv", counted(400, 100)),
    ] {
        std::fs::write(captures.join(name), text).expect("written");
        let body = format!(
            "kind=log&of=X1&with=counter&capture=captures%2F{name}&column=&setup=GPS+reference"
        );
        let request = post(&format!("/{TOKEN}/oscillator"))
            .header("origin", format!("http://{HOST}"))
            .body(Body::from(body))
            .expect("a request");
        assert_eq!(bench.ask(request).await.0, StatusCode::SEE_OTHER);
        let (_, page) = bench.get(&format!("/{TOKEN}/oscillator")).await;
        assert!(
            page.contains(&format!("captures/{name} in figures")),
            "{page}"
        );
        drawn.push(page.matches("class=\"rd\"").count());
    }
    // 1 to 16 s of the short log, 100 to 3200 s of the long one, for a desk and for a hand-held screen.
    assert_eq!(drawn, [2 * 5, 2 * (5 + 6)]);
    // A part in a million million, and no digit of the computer's own.
    let log = log(&bench);
    assert!(log.contains(",frequency,10000000.03,Hz,"), "{log}");
}

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
