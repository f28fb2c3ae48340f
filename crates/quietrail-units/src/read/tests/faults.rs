//! What is said of a text that is no quantity, and where the caret goes.

use crate::{Kind, QuantityFault, read};

/// The sentence, and the piece of the text at fault.
fn says(kind: Kind, text: &str, piece: &str, sentence: &str) {
    let error = read::quantity(text, kind).expect_err(text);
    assert_eq!(error.to_string(), sentence, "{text}");
    assert_eq!(&text[error.at.clone()], piece, "{text}");
    assert_eq!(error.wanted, kind);
}

#[test]
fn units() {
    says(
        Kind::Volts,
        "450 mA",
        "450 mA",
        "read 450 mA, a current; a voltage is wanted, for instance 12 V",
    );
    says(
        Kind::Celsius,
        "25 K",
        "25 K",
        "read 25 K, a temperature difference; a temperature is wanted, for instance 25 \u{b0}C",
    );
    says(
        Kind::Volts,
        "  12",
        "12",
        "read 12 without a unit; a voltage is wanted, for instance 12 V",
    );
    says(
        Kind::Volts,
        "12 Vpp",
        "Vpp",
        "read 12 with the unknown unit Vpp; a voltage is wanted, for instance 12 V",
    );
    says(
        Kind::Ohms,
        "4k7x",
        "x",
        "read 4k7 with the unknown unit x; a resistance is wanted, for instance 4.7 k\u{3a9}",
    );
    says(
        Kind::SquareMetres,
        "99 AWG",
        "99 AWG",
        "read the wire gauge 99 AWG; gauges are whole numbers from 0 to 50, for instance 18 AWG",
    );
}

#[test]
fn numbers() {
    says(
        Kind::Volts,
        "",
        "",
        "nothing is written; a voltage is wanted, for instance 12 V",
    );
    says(
        Kind::Volts,
        "207 V ..",
        "",
        "a number is missing at the end, for instance 12 V",
    );
    says(
        Kind::Volts,
        "unknown",
        "unknown",
        "read unknown where a number is wanted, for instance 12 V",
    );
    says(
        Kind::Volts,
        "-inf V",
        "-inf",
        "read -inf, which is not a finite number; a voltage is wanted, for instance 12 V",
    );
    says(
        Kind::Volts,
        "1e999 V",
        "1e999 V",
        "read 1e999 V, which is too large or too small to compute with; a voltage is wanted, for instance 12 V",
    );
    says(
        Kind::Volts,
        "1e-400 V",
        "1e-400 V",
        "read 1e-400 V, which is too large or too small to compute with; a voltage is wanted, for instance 12 V",
    );
    for number in ["1,234.5", "1.234,5", "1.234.567", "10 000", "10\u{a0}000"] {
        says(
            Kind::Volts,
            &format!("{number} V"),
            number,
            &format!(
                "read {number} with its digits in groups; point and comma both mark decimals here, so digits are written without groups"
            ),
        );
    }
}

#[test]
fn tolerances() {
    says(
        Kind::Volts,
        "230 V 10 %",
        "10 %",
        "read the tolerance 10 % without a sign; write \u{b1}10 %, or both sides as in -20/+50 %",
    );
    for tolerance in ["\u{b1}-10 %", "+5/+6 %", "-5 %/+6 V"] {
        says(
            Kind::Volts,
            &format!("230 V {tolerance}"),
            tolerance,
            &format!(
                "read the tolerance {tolerance}; write both sides as in -20/+50 %, or \u{b1} before a positive number"
            ),
        );
    }
    says(
        Kind::Celsius,
        "25 \u{b0}C \u{b1}10 %",
        "\u{b1}10 %",
        "read the tolerance \u{b1}10 %; a part of a temperature means nothing, so write it in the unit, or as a range",
    );
}

#[test]
fn ranges() {
    says(
        Kind::Volts,
        "253 V .. 207 V",
        "253 V .. 207 V",
        "read a range from 253\u{a0}V to 207\u{a0}V; the lower end comes first",
    );
    says(
        Kind::Volts,
        "500 .. 1 kV",
        "500 .. 1 kV",
        "read a range from 500\u{a0}kV to 1\u{a0}kV; the lower end comes first",
    );
    says(
        Kind::Volts,
        "250 V (207 V .. 244 V)",
        "250 V",
        "read 250 V, which is outside its range 207 V .. 244 V",
    );
    says(
        Kind::Volts,
        "230 V (207 V)",
        "(207 V)",
        "read (207 V); a parenthesis holds the range of the value before it, as in 230 V (207 V .. 244 V)",
    );
    says(
        Kind::Volts,
        "between 18 V",
        "",
        "the second end of the range is missing; write it as in between 18 and 20 V",
    );
}

#[test]
fn left_over() {
    says(
        Kind::Farads,
        "10uF/16V",
        "/16V",
        "read 10uF, then /16V is left over",
    );
    says(
        Kind::Volts,
        "7.8 V at 233 V",
        "at 233 V",
        "read 7.8 V, then at 233 V is left over",
    );
    says(
        Kind::Volts,
        "230 V 50 Hz",
        "50 Hz",
        "read 230 V, then 50 Hz is left over",
    );
}

#[test]
fn faults_are_data() {
    let error = read::quantity("450 mA", Kind::Volts).expect_err("a current");
    let fault = QuantityFault::WrongUnit {
        read: "450 mA".to_owned(),
        measures: Kind::Amperes,
    };
    assert_eq!(error.fault, fault);
}
