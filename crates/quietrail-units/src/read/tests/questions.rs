//! Texts with two meanings: the question names both, and each can be read.

use crate::{Kind, QuantityError, QuantityFault, read};
use proptest::{prelude::prop_assert, test_runner::TestCaseError};

/// Every choice that an error offers is a quantity.
pub(super) fn choices_can_be_read(error: &QuantityError) -> Result<(), TestCaseError> {
    let QuantityFault::Ambiguous { choices, .. } = &error.fault else {
        return Ok(());
    };
    prop_assert!(choices.len() > 1, "{error}");
    for choice in choices {
        let read = read::quantity(choice, error.wanted);
        prop_assert!(read.is_ok(), "{error}: {choice}: {read:?}");
    }
    Ok(())
}

fn asks(kind: Kind, text: &str, expected: &[&str]) {
    let error = read::quantity(text, kind).expect_err(text);
    choices_can_be_read(&error).unwrap_or_else(|e| panic!("{text}: {e}"));
    let QuantityFault::Ambiguous { choices, .. } = error.fault else {
        panic!("{text}: {error}");
    };
    let choices: Vec<_> = choices
        .iter()
        .map(|choice| choice.replace('\u{a0}', " "))
        .collect();
    assert_eq!(choices, expected, "{text}");
}

#[test]
fn milli_or_mega() {
    for text in ["1 M", "1M", "1 m", "1m"] {
        asks(Kind::Ohms, text, &["1 m\u{3a9}", "1 M\u{3a9}"]);
    }
    asks(Kind::Ohms, "1mJ", &["1 m\u{3a9}", "1 M\u{3a9}"]);
    asks(Kind::Ohms, "1m5", &["1.5 m\u{3a9}", "1.5 M\u{3a9}"]);
    asks(Kind::Hertz, "10 m", &["10 mHz", "10 MHz"]);
    asks(Kind::Hertz, "10 mhz", &["10 mHz", "10 MHz"]);
    asks(Kind::Amperes, "450 MA", &["450 mA", "450000 kA"]);
    asks(Kind::Seconds, "5 m", &["5 ms", "300 s"]);
}

#[test]
fn milli_or_micro_farads() {
    for text in ["10 mF", "10mF", "10 MF", "10m"] {
        asks(Kind::Farads, text, &["10 \u{b5}F", "10000 \u{b5}F"]);
    }
    asks(Kind::Farads, "4m7", &["4.7 \u{b5}F", "4700 \u{b5}F"]);
}

#[test]
fn marks() {
    asks(Kind::Ohms, "4E7", &["4.7 \u{3a9}", "40 M\u{3a9}"]);
    asks(Kind::Farads, "104", &["100 nF", "104 pF"]);
    asks(Kind::Farads, "4n7F", &["4.7 nF", "4.7 nF \u{b1}1 %"]);
    asks(
        Kind::Farads,
        "1n0P",
        &["1 nF \u{b1}0.02 %", "1 nF -0/+100 %"],
    );
}

#[test]
fn tolerances() {
    asks(
        Kind::Volts,
        "15.6 V \u{b1}0.1",
        &["15.6 V \u{b1}0.1 V", "15.6 V \u{b1}0.1 %"],
    );
    asks(Kind::Volts, "12 V -1/+2", &["12 V -1/+2 V", "12 V -1/+2 %"]);
    asks(
        Kind::Volts,
        "12 V +2",
        &["12 V \u{b1}2 V", "12 V \u{b1}2 %"],
    );
    asks(
        Kind::Volts,
        "12 V -5 %",
        &["12 V -5 %/+0", "12 V \u{b1}5 %"],
    );
    asks(
        Kind::Volts,
        "12 V +0.5 V",
        &["12 V -0/+0.5 V", "12 V \u{b1}0.5 V"],
    );
    asks(
        Kind::Ratio,
        "80 % \u{b1}10 %",
        &["0.8 \u{b1}10 %", "0.8 \u{b1}0.1"],
    );
}

#[test]
fn ranges() {
    asks(
        Kind::Hertz,
        "10 .. 100 kHz",
        &["10 kHz .. 100 kHz", "10 Hz .. 100 kHz"],
    );
    asks(Kind::Volts, "18-20 V", &["18 V .. 20 V", "18 V -20 V/+0 V"]);
    asks(
        Kind::Volts,
        "18 V \u{2013}20 V",
        &["18 V .. 20 V", "18 V -20 V/+0 V"],
    );
}
