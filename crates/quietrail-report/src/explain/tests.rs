//! Accounts as they are printed: a rail, explained.

use super::{account_json, diagnostic, text};
use crate::{Style, number};
use quietrail_job::model::What;
use quietrail_study::explain::{Account, explain};
use unicode_width::UnicodeWidthStr;

const RAIL: &str = r#"
format = 1
[job]
title = "one rail"
region = "230 V 50 Hz"
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
[states]
on = "running"
[transformer.T1]
primary = [{ name = "P1", volts = "230 V", resistance = "45 Ω" }]
secondary = [{ name = "S1", open = "15.5 V at 230 V", resistance = "0.6 Ω" }]
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF ±20 %"
esr = "40 mΩ"
[load.lamp]
at = "raw"
draws = { on = "0.4 A" }
[[limit]]
name = "raw, low"
of = "raw"
what = "valley"
min = "12 V"
from = "own rule"
"#;

const PLAIN: Style = Style {
    color: false,
    width: 100,
};

fn account() -> Account {
    let job = quietrail_job::read(RAIL, None).job.expect("the job reads");
    explain(&job, "raw, low", None, &quietrail_study::options()).expect("it is explained")
}

/// Names as long as somebody writes them, and a source that cites a document: nothing runs over the edge, and no word is lost.
#[test]
fn long_names_keep_to_the_columns() {
    let long = RAIL
        .replace("one rail", "one rail for the oven of the reference of the light at the end of the harbour wall")
        .replace("raw, low", "lowest instant of the rail that feeds the lamp at the end of the harbour wall")
        .replace("own rule", "data sheet of the lamp, edition of November, table 3 on page 17, with the note under it")
        .replace("lamp", "lamp_at_the_end_of_the_harbour_wall");
    let job = quietrail_job::read(&long, None).job.expect("the job reads");
    let name = job.limits[0].name.clone();
    let account = explain(&job, &name, None, &quietrail_study::options()).expect("it is explained");
    for width in [64, 80, 100] {
        let told = text(
            &account,
            Style {
                color: false,
                width,
            },
        );
        for line in told.lines() {
            assert!(line.width() <= width, "{} columns: {line}", line.width());
        }
        let words = told.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            words.contains("table 3 on page 17, with the note under it"),
            "{told}"
        );
        assert!(
            words.contains("lamp_at_the_end_of_the_harbour_wall"),
            "{told}"
        );
    }
}

#[test]
fn text_and_data_tell_the_same_figure() {
    let account = account();
    let told = text(&account, PLAIN);
    let data = account_json(&account);
    assert_eq!(data["format"], 1);
    assert_eq!(data["job"], "one rail");
    assert_eq!(data["formula"], "read");
    assert_eq!(data["worst"], data["terms"][0]["value"]);
    let volts = data["worst"].as_f64().expect("a number");
    assert!(
        told.contains(&format!(
            "  lowest of raw  {}  read from the steady cycle\n",
            number::spaced(&number::statistic(
                What::Valley,
                volts,
                "V",
                Some(volts - 12.0)
            ))
        )),
        "{told}"
    );
    assert!(told.contains("the circuit itself"), "{told}");
    assert!(told.contains("Asked by: own rule\n"), "{told}");
    assert!(
        told.contains("Solved: the steady mains cycle at 207 V, 50 Hz; settled"),
        "{told}"
    );
    // The mains moves it most, and its loss is told with the unit.
    assert_eq!(data["movers"][0]["figures"][0]["address"], "mains.voltage");
    let first = told.split_once("at that corner:\n").map(|(_, rest)| rest);
    assert!(
        first.is_some_and(|rest| rest.starts_with("  mains 207 V")),
        "{told}"
    );
    assert!(
        told.lines().all(|line| line.chars().count() <= 100),
        "{told}"
    );
}

#[test]
fn a_diagnostic_shows_both_jobs() {
    let explanation = quietrail_job::explain("j006").expect("known in either case");
    let told = diagnostic(explanation, PLAIN);
    assert!(told.starts_with("J006: newer format\n\nChecks: "), "{told}");
    assert!(
        told.contains("\nFails:\n  format = 2\n\nMended:\n  format = 1\n"),
        "{told}"
    );
}
