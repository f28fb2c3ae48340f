//! Accounts as they are printed: a rail, explained.

use super::{account_json, diagnostic, text};
use crate::{Style, number};
use quietrail_job::model::What;
use quietrail_study::explain::{Account, explain};

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
