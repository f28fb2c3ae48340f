//! Readings of one limit at several mains voltages: each stands for its own, and together they reach as far as they were taken.

#![allow(
    clippy::unwrap_used,
    reason = "a test that has nothing to unwrap has failed"
)]

use quietrail_bench::decide::Shown;
use quietrail_bench::judge::{Asked, Content, Judgement, Why, judge};
use quietrail_bench::log::{Draft, Row};
use quietrail_job::model::{Instrument, What};
use std::sync::Arc;

/// A meter that reads to 10 mV at 12 V, and one whose error nobody knows.
fn instruments() -> Arc<[Instrument]> {
    let text = r#"
format = 1
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
[states]
on = "on"
[instrument.meter]
kind = "multimeter"
dc = { ranges = ["60 V ±10 mV"] }
[instrument.dial]
kind = "multimeter"
"#;
    let reading = quietrail_job::read(text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
        .instruments
}

fn row(number: u64, value: &str, mains: &str, with: &str) -> Row {
    let draft = Draft {
        of: "minus12".to_owned(),
        what: "mean".to_owned(),
        value: value.to_owned(),
        unit: "V".to_owned(),
        instrument: with.to_owned(),
        setup: "at the pins".to_owned(),
        mains_v: mains.to_owned(),
        ..Draft::default()
    };
    draft.row(number).unwrap()
}

/// A rail under common, −12.6 .. −11.4 V.
fn judged(rows: &[Row]) -> Judgement {
    let asked = Asked {
        what: What::Mean,
        band: None,
        min: Some(-12.6),
        max: Some(-11.4),
        mains_hertz: 50.0,
        content: Content(Vec::new()),
        amps: Vec::new(),
        behind: None,
        averaged: None,
        direct: 0.0,
        loads: Vec::new(),
        inside: None,
    };
    let refs: Vec<&Row> = rows.iter().collect();
    judge(&asked, &refs, &instruments()).unwrap()
}

/// One at each end of the range and one between: the tightest is told, and all three mains are read.
#[test]
fn readings_that_hold_at_several_mains_stand_together() {
    let found = judged(&[
        row(1, "-12.00", "230", "meter"),
        row(2, "-12.30", "253", "meter"),
        row(3, "-11.95", "207", "meter"),
    ]);
    assert_eq!(found.shown, Shown::Holds);
    assert_eq!(found.rows, [1, 2, 3]);
    assert_eq!(found.mains, [230.0, 253.0, 207.0]);
    assert!((found.value + 12.3).abs() < 1e-12, "{found:?}");
}

/// One that fails stands before all that hold, and by itself.
#[test]
fn one_mains_at_which_it_fails_is_enough() {
    let found = judged(&[
        row(1, "-12.00", "230", "meter"),
        row(2, "-12.70", "253", "meter"),
    ]);
    assert_eq!((found.shown, found.rows), (Shown::Fails, vec![2]));
}

/// What shows nothing takes nothing from what holds; where nothing shows anything, the latest says why.
#[test]
fn readings_that_show_nothing_do_not_count_beside_those_that_do() {
    let found = judged(&[
        row(1, "-12.00", "230", "meter"),
        row(2, "-12.00", "253", "dial"),
    ]);
    assert_eq!((found.shown, found.mains), (Shown::Holds, vec![230.0]));
    let found = judged(&[
        row(1, "-12.60", "230", "meter"),
        row(2, "-12.00", "253", "dial"),
    ]);
    assert_eq!((found.shown, found.why), (Shown::NotShown, Why::NoFunction));
}
