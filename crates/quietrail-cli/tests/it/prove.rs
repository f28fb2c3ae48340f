//! `prove`: exit statuses, the last line, and the form of its data.

use super::bench::{Bench, RAIL, rail};
use serde_json::Value;

fn keys(value: &Value) -> Vec<&str> {
    let object = value.as_object().expect("an object");
    object.keys().map(String::as_str).collect()
}

#[test]
fn status_says_what_was_found() {
    let drift = "what = \"valley\"\nmin = \"12 V\"\nfrom = \"own rule\"\n[[limit]]\nname = \"creep\"\nof = \"raw\"\n\
                 what = \"drift\"\nmax = \"1 mV\"";
    let (valley, higher) = (
        "what = \"valley\"\nmin = \"12 V\"",
        "what = \"valley\"\nmin = \"20 V\"",
    );
    for (job, status) in [
        (RAIL.to_owned(), 0),
        (rail(valley, higher), 1),
        ("nonsense".to_owned(), 2),
        (rail(valley, drift), 3),
    ] {
        let ran = Bench::with(&job).run(&["prove", "job.toml"]);
        assert_eq!(ran.status, status, "{job}\n{ran:?}");
    }
}

#[test]
fn nothing_measured_is_not_shown() {
    let bench = Bench::with(RAIL);
    let ran = bench.run(&["prove", ".", "--shown"]);
    assert_eq!(ran.status, 3, "{ran:?}");
}

/// Both halves add up to the count, and a bare 0 says that nothing is measured.
#[test]
fn the_last_line_has_both_halves() {
    let ran = Bench::with(RAIL).run(&["prove", "."]);
    let mut lines = ran.out.lines().rev();
    let last = lines.next().expect("a last line");
    let (all, halves) = last.split_once(" limits: ").expect(last);
    let (predicted, measured) = halves.split_once("; ").expect(last);
    assert_eq!(predicted, format!("{all} predicted to hold"));
    assert_eq!(measured, format!("{all} with nothing measured"));
    assert_eq!(
        lines.next(),
        Some(format!("predicted, nothing measured: {all} of {all}").as_str())
    );
}

#[test]
fn data_has_the_keys_of_the_contract() {
    let ran = Bench::with(RAIL).run(&["prove", ".", "--json"]);
    assert_eq!(ran.status, 0, "{ran:?}");
    let data: Value = serde_json::from_str(&ran.out).expect("JSON");
    assert_eq!(keys(&data)[..2], ["format", "job"]);
    assert_eq!(data["format"], 1);
    assert_eq!(data["job"], "one rail");
    for wanted in ["limits", "nodes", "parts", "ended", "assumptions", "effort"] {
        assert!(!data[wanted].is_null(), "{wanted}");
    }
    let limit = &data["limits"][0];
    for wanted in [
        "name",
        "of",
        "what",
        "state",
        "min",
        "max",
        "unit",
        "nominal",
        "worst",
        "margin",
        "predicted",
        "measured",
        "overall",
        "corner",
        "corner_words",
        "help",
    ] {
        assert!(keys(limit).contains(&wanted), "{wanted}");
    }
    // Figures agree with one another, whatever they are.
    let number = |value: &Value| value.as_f64().expect("a number");
    let (worst, margin) = (number(&limit["worst"]), number(&limit["margin"]));
    assert_eq!(worst - 12.0, margin);
    assert!(worst < number(&limit["nominal"]));
    assert_eq!(limit["corner"]["mains.voltage"], 207.0);
    let node = &data["nodes"][0];
    for wanted in [
        "node",
        "state",
        "mains",
        "mean",
        "valley",
        "peak",
        "ripple_rms",
        "ripple_pp",
    ] {
        assert!(keys(node).contains(&wanted), "{wanted}");
    }
    assert_eq!(data["ended"][0]["settled"], true);
}

#[test]
fn diagnostics_are_data_too() {
    let job = rail("value = \"4700 µF\"", "value = \"4700 V\"");
    let ran = Bench::with(job).run(&["prove", ".", "--json"]);
    assert_eq!(ran.status, 2, "{ran:?}");
    let data: Value = serde_json::from_str(&ran.out).expect("JSON");
    assert_eq!(data["format"], 1);
    let first = &data["diagnostics"][0];
    assert_eq!(first["severity"], "error");
    assert_eq!(first["at"]["line"], 20);
}
