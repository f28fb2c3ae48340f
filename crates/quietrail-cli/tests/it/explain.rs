//! `explain` and `schema`.

use super::bench::{Bench, RAIL};
use serde_json::Value;

#[test]
fn a_figure_is_the_one_that_prove_gives() {
    let bench = Bench::with(RAIL);
    let data = |arguments: &[&str]| -> Value {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 0, "{ran:?}");
        serde_json::from_str(&ran.out).expect("JSON")
    };
    let explained = data(&["explain", ".", "raw, low", "--json"]);
    let proven = data(&["prove", ".", "--json"]);
    assert_eq!(explained["format"], 1);
    assert_eq!(explained["job"], "one rail");
    // Solved anew with more figures to read, and heat settled to a hundredth of a kelvin: not to the last bit.
    let worst = |of: &Value| of["worst"].as_f64().expect("a number");
    let (told, found) = (worst(&explained), worst(&proven["limits"][0]));
    assert!((told / found - 1.0).abs() < 2e-6, "{told} is not {found}");
    assert_eq!(explained["corner"], proven["limits"][0]["corner"]);
    let ran = bench.run(&["explain", ".", "raw, low", "--state", "on"]);
    assert!(
        ran.out.contains("read from the steady cycle"),
        "{}",
        ran.out
    );
}

#[test]
fn a_code_is_explained_without_a_job() {
    let bench = Bench::new();
    let ran = bench.run(&["explain", "J012"]);
    assert_eq!(ran.status, 0, "{ran:?}");
    for head in ["J012: ", "Checks: ", "Why: ", "Fails:", "Mended:"] {
        assert!(ran.out.contains(head), "{}", ran.out);
    }
}

#[test]
fn what_is_not_known_is_said_with_what_is() {
    let bench = Bench::with(RAIL);
    for (arguments, words) in [
        (
            ["explain", "J999"].as_slice(),
            "no diagnostic has the code J999",
        ),
        (
            &["explain", "."],
            "name the limit to explain:\n  raw, low\n",
        ),
        (
            &["explain", ".", "raw, lwo"],
            "the job asks nothing of the name raw, lwo; did you mean\n  raw, low\n",
        ),
        (
            &["explain", ".", "low"],
            "the job asks nothing of the name low; did you mean\n  raw, low\n",
        ),
        (
            &["explain", ".", "raw, low", "--state", "off"],
            "no state is called off",
        ),
        (
            &["explain", "nowhere", "raw, low"],
            "there is no such file or folder",
        ),
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains(words), "{ran:?}");
    }
}

#[test]
fn the_schema_is_json() {
    let ran = Bench::new().run(&["schema"]);
    assert_eq!(ran.status, 0, "{ran:?}");
    let schema: Value = serde_json::from_str(&ran.out).expect("JSON");
    assert!(schema["properties"]["capacitor"].is_object());
}

/// What other verbs say of a job with a long title, and of an oscillator of which nothing was read, keeps to the columns too.
#[test]
fn long_titles_and_paragraphs_keep_to_the_columns() {
    let long = "Reference oven supply for the hilltop beacon";
    let title = format!(
        "{long}, with a title that is longer than any terminal that somebody would read it on"
    );
    let bench =
        Bench::with(include_str!("../../demo/beacon-mended/job.toml").replace(long, &title));
    for verb in [
        &["regulators", "."][..],
        &["sidebands", "."],
        &["translate", "."],
        &["oscillator", "."],
    ] {
        let ran = bench.run(verb);
        assert!(!ran.out.is_empty(), "{verb:?}: {}", ran.err);
        for line in ran.out.lines() {
            assert!(line.chars().count() <= 100, "{verb:?}: {line}");
        }
    }
}
