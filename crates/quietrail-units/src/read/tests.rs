//! Texts as people write them, and what is said of those that are no quantity.

mod faults;
mod questions;

use crate::{Form, Kind, read};
use proptest::{prelude::prop_assert, proptest};

/// The one door: a text, its kind and the limits that it gives.
fn check(kind: Kind, text: &str, expected: (f64, f64, f64)) {
    let reading = read::quantity(text, kind).unwrap_or_else(|e| panic!("{text}: {e}"));
    let found = [reading.low, reading.nominal, reading.high];
    let expected = [expected.0, expected.1, expected.2];
    for (found, expected) in found.into_iter().zip(expected) {
        // Limits are computed in one or two steps from their decimals: a few roundings, no more.
        let near = (found - expected).abs() <= 4.0 * f64::EPSILON * expected.abs();
        assert!(near, "{text}: {found:e}, not {expected:e}");
    }
}

/// Without tolerance every digit counts: the value is the float nearest to what is written.
fn value(kind: Kind, text: &str, expected: f64) {
    let reading = read::quantity(text, kind).unwrap_or_else(|e| panic!("{text}: {e}"));
    assert_eq!(
        (reading.nominal, reading.form),
        (expected, Form::Exact),
        "{text}"
    );
    assert_eq!((reading.low, reading.high), (expected, expected), "{text}");
}

#[test]
fn capacitances() {
    for text in [
        "4700 \u{b5}F",
        "4700 \u{3bc}F",
        "4700uF",
        "4700u",
        "4700 u",
        "4700\u{a0}\u{b5}F",
        "4700\u{202f}\u{b5}F",
        "4700 microfarads",
        "4700 mfd",
        "  4.7e-3 F ",
    ] {
        value(Kind::Farads, text, 4700e-6);
    }
    value(Kind::Farads, "22 pF", 22e-12);
    value(Kind::Farads, "22 mmfd", 22e-12);
    value(Kind::Farads, "22 \u{b5}\u{b5}F", 22e-12);
    value(Kind::Farads, "100n", 100e-9);
    value(Kind::Farads, "100nf", 100e-9);
}

#[test]
fn resistances() {
    for text in [
        "4k7",
        "4K7",
        "4.7k",
        "4,7 k\u{3a9}",
        "4.7 k\u{2126}",
        "4700 ohm",
        "4.7 kohm",
    ] {
        value(Kind::Ohms, text, 4700.0);
    }
    for text in [
        "0R47",
        "R47",
        "470 m\u{3a9}",
        "470 mohm",
        "0.47 ohms",
        "0,47 R",
    ] {
        value(Kind::Ohms, text, 0.47);
    }
    for text in [
        "1meg",
        "1 Meg",
        "1 megohm",
        "1M0",
        "1 M\u{3a9}",
        "1 Mohm",
        "1000k",
    ] {
        value(Kind::Ohms, text, 1e6);
    }
    value(Kind::Ohms, "4k7 \u{3a9}", 4700.0);
    value(Kind::Ohms, "1.5E-9 \u{3a9}", 1.5e-9);
    value(Kind::Ohms, "1.5e\u{2212}9 \u{3a9}", 1.5e-9);
}

#[test]
fn voltages_and_currents() {
    for text in [
        "6V3",
        "6.3 V",
        "6,3 V",
        "6.3 volts",
        "6.3 V rms",
        "6.3 Vrms",
        "6.3 VAC",
        "+6.3 V",
    ] {
        value(Kind::Volts, text, 6.3);
    }
    for text in ["-12 V", "\u{2212}12 V", "\u{2013}12 V", "- 12 V"] {
        value(Kind::Volts, text, -12.0);
    }
    value(Kind::Volts, "1,234 V", 1.234);
    value(Kind::Volts, ".5 V", 0.5);
    value(Kind::Volts, "450 m", 0.45);
    value(Kind::Amperes, "450 mA rms", 0.45);
    value(Kind::Amperes, "2A5", 2.5);
    value(Kind::Amperes, "14 nA", 14e-9);
}

#[test]
fn frequencies_and_times() {
    value(Kind::Hertz, "10 M", 10e6);
    value(Kind::Hertz, "10 MHz", 10e6);
    value(Kind::Hertz, "32k768", 32768.0);
    value(Kind::Hertz, "50hz", 50.0);
    value(Kind::Seconds, "5 min", 300.0);
    value(Kind::Seconds, "2 hours", 7200.0);
    value(Kind::Seconds, "3 d", 259_200.0);
    value(Kind::Seconds, "5 ms", 5e-3);
    value(Kind::Hours, "3000 h", 3000.0);
    value(Kind::Hours, "10 days", 240.0);
    value(Kind::Hours, "90 min", 1.5);
}

#[test]
fn heat() {
    for text in [
        "25 \u{b0}C",
        "25 \u{ba}C",
        "25\u{2103}",
        "25 degC",
        "25 deg C",
        "25 C",
        "77 \u{b0}F",
        "77 F",
    ] {
        value(Kind::Celsius, text, 25.0);
    }
    value(Kind::Kelvins, "30 K", 30.0);
    for text in ["6.5 K/W", "6.5 \u{b0}C/W", "6,5 C/W"] {
        value(Kind::KelvinsPerWatt, text, 6.5);
    }
    check(Kind::Celsius, "25 \u{b0}C \u{b1}2 K", (23.0, 25.0, 27.0));
    check(Kind::Celsius, "25 \u{b0}C \u{b1}2", (23.0, 25.0, 27.0));
    // A difference of 9 °F is one of 5 °C.
    check(
        Kind::Celsius,
        "77 \u{b0}F \u{b1}9 \u{b0}F",
        (20.0, 25.0, 30.0),
    );
    check(Kind::Celsius, "15 .. 35 \u{b0}C", (15.0, 25.0, 35.0));
}

#[test]
fn lengths_and_cross_sections() {
    value(Kind::Metres, "35 mm", 35e-3);
    value(Kind::Metres, "2\"", 0.0508);
    value(Kind::Metres, "2 in", 0.0508);
    value(Kind::Metres, "3 ft", 0.9144);
    for text in ["0.75 mm\u{b2}", "0.75 mm2", "0,75mm^2", "0.75 sq mm"] {
        value(Kind::SquareMetres, text, 0.75e-6);
    }
    // 18 AWG is 1.023687 mm thick (PWR-SAFE-27).
    for text in ["18 AWG", "AWG 18", "AWG18"] {
        let reading = read::quantity(text, Kind::SquareMetres).expect("a gauge");
        let diameter = (reading.nominal * 4.0 / std::f64::consts::PI).sqrt();
        assert!(
            (diameter / 1.023687e-3 - 1.0).abs() < 1e-6,
            "{text}: {diameter}"
        );
    }
}

#[test]
fn other_units() {
    value(Kind::Ratio, "80 %", 0.8);
    value(Kind::Ratio, "0,8", 0.8);
    value(Kind::Ratio, "35 ppm", 35e-6);
    value(Kind::Decibels, "-80 dBc", -80.0);
    value(Kind::DecibelMilliwatts, "+7.1 dBm", 7.1);
    check(Kind::DecibelMilliwatts, "7 dBm \u{b1}2 dB", (5.0, 7.0, 9.0));
    check(Kind::DecibelMilliwatts, "7 dBm -1/+2 dB", (6.0, 7.0, 9.0));
    value(Kind::Degrees, "30\u{b0}", 30.0);
    value(Kind::VoltsPerRootHertz, "20 nV/\u{221a}Hz", 20e-9);
    value(Kind::VoltsPerRootHertz, "20nV/sqrt(Hz)", 20e-9);
    value(Kind::AmpereSquaredSeconds, "1.2 A2s", 1.2);
    value(Kind::Siemens, "2 \u{b5}S", 2e-6);
    value(Kind::Henries, "4m7", 4.7e-3);
    value(Kind::VoltAmperes, "30 VA", 30.0);
    value(Kind::Joules, "6 J", 6.0);
}

#[test]
fn shares_of_the_workshop() {
    value(Kind::Watts, "1/4 W", 0.25);
    value(Kind::Metres, "3/8\"", 0.009525);
    value(Kind::Amperes, "5/32 A", 0.15625);
    assert!(read::quantity("1/3 W", Kind::Watts).is_err());
}

#[test]
fn tolerances() {
    check(Kind::Amperes, "450 mA \u{b1}10 %", (0.405, 0.45, 0.495));
    check(Kind::Amperes, "450 mA +/- 10%", (0.405, 0.45, 0.495));
    for text in [
        "-20/+50 %",
        "+50/-20 %",
        "\u{2212}20/+50 %",
        "-20 % +50 %",
        "+50%/-20%",
    ] {
        let text = format!("4700 \u{b5}F {text}");
        check(Kind::Farads, &text, (3760e-6, 4700e-6, 7050e-6));
    }
    check(Kind::Volts, "230 V \u{2013}10/+6 %", (207.0, 230.0, 243.8));
    check(Kind::Volts, "15.6 V \u{b1}0.1 V", (15.5, 15.6, 15.7));
    check(Kind::Volts, "15.6 \u{b1}0.1 V", (15.5, 15.6, 15.7));
    check(Kind::Volts, "15.6 V \u{b1}100 mV", (15.5, 15.6, 15.7));
    check(Kind::Volts, "15 V -0.5/+1 V", (14.5, 15.0, 16.0));
    check(Kind::Volts, "15 V -500 mV/+1 V", (14.5, 15.0, 16.0));
    check(
        Kind::Hertz,
        "10 MHz \u{b1}2 ppm",
        (9_999_980.0, 10e6, 10_000_020.0),
    );
    check(Kind::Ratio, "0.8 \u{b1}10 %", (0.72, 0.8, 0.88));
    check(Kind::Ratio, "0.8 \u{b1}0.05", (0.75, 0.8, 0.85));
    // A part of a negative value is a part of its size.
    check(Kind::Volts, "-12 V \u{b1}5 %", (-12.6, -12.0, -11.4));
    check(Kind::Ohms, "4K7J", (4465.0, 4700.0, 4935.0));
    check(Kind::Ohms, "47KJ", (44_650.0, 47e3, 49_350.0));
    check(Kind::Ohms, "1MJ", (0.95e6, 1e6, 1.05e6));
    check(Kind::Farads, "100nK", (90e-9, 100e-9, 110e-9));
}

#[test]
fn ranges() {
    for text in [
        "207 V .. 253 V",
        "207..253 V",
        "207 V .. 253",
        "207 V ... 253 V",
        "207 V \u{2026} 253 V",
        "207 to 253 V",
        "207\u{2013}253 V",
        "207 V \u{2013} 253 V",
        "between 207 and 253 V",
        "between 207 V and 253 V",
    ] {
        check(Kind::Volts, text, (207.0, 230.0, 253.0));
    }
    for text in [
        "230 V (207 V .. 244 V)",
        "230 V (207 .. 244)",
        "230 (207 .. 244 V)",
        "230 V (between 207 and 244 V)",
        "230 V (207 to 244 V)",
    ] {
        check(Kind::Volts, text, (207.0, 230.0, 244.0));
        let form = read::quantity(text, Kind::Volts).map(|reading| reading.form);
        assert_eq!(form, Ok(Form::RangeAround), "{text}");
    }
    check(Kind::Ratio, "0 .. 0.05", (0.0, 0.025, 0.05));
    check(Kind::Volts, "0 .. 20 mV", (0.0, 0.01, 0.02));
    check(Kind::Volts, "18 .. 20 mV", (0.018, 0.019, 0.02));
    check(Kind::Volts, "\u{2212}10 V .. +10 V", (-10.0, 0.0, 10.0));
    check(Kind::Hertz, "10 Hz .. 100 kHz", (10.0, 50_005.0, 100e3));
    check(Kind::Hertz, "10 k .. 100 kHz", (10e3, 55e3, 100e3));
}

/// Pieces of which wrong and right quantities are made.
const PIECES: &str = "(4|12|0|7|[.,]|k|m|M|R|V|F|J|\u{b5}F|\u{3a9}|mA|Hz|%|AWG|\u{b0}C|K| |\u{a0}|\\(|\\)|\u{b1}|-|\u{2212}|\u{2013}|\\+|/|\\.\\.|to|and|between|e|E){0,9}";

proptest! {
    /// Whatever is typed: no panic, a place inside the text, choices that can be read, limits in order.
    #[test]
    fn any_text_is_read_or_explained(text in PIECES, kind in 0..Kind::ALL.len()) {
        let kind = Kind::ALL[kind];
        match read::quantity(&text, kind) {
            Ok(reading) => {
                prop_assert!(reading.low <= reading.nominal && reading.nominal <= reading.high);
                prop_assert!(reading.low.is_finite() && reading.high.is_finite());
            }
            Err(error) => {
                prop_assert!(text.get(error.at.clone()).is_some(), "{:?} of {}", error.at, text);
                prop_assert!(!error.to_string().is_empty());
                questions::choices_can_be_read(&error)?;
            }
        }
    }

    #[test]
    fn any_unicode_is_read_or_explained(text in "\\PC{0,12}") {
        if let Err(error) = read::quantity(&text, Kind::Volts) {
            prop_assert!(text.get(error.at.clone()).is_some(), "{:?} of {}", error.at, text);
        }
    }
}
