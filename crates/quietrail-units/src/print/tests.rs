//! Printing and reading back is the identity, to the last bit.

use crate::{
    AmpereSquaredSeconds, Amperes, Celsius, DecibelMilliwatts, Decibels, Degrees, Farads, Form,
    Henries, Hertz, HertzPerVolt, Hours, Joules, Kelvins, KelvinsPerWatt, Metres, Ohms, PerVolt,
    Quantity, Ratio, Seconds, Siemens, SquareMetres, Unit, VoltAmperes, Volts, VoltsPerRootHertz,
    Watts,
};
use proptest::prelude::{Strategy, TestCaseError, any, prop_assert, prop_assert_eq, prop_oneof};
use proptest::{
    num::f64::NORMAL,
    test_runner::{Config, TestRunner},
};

/// Printed and read back.
fn again<U: Unit>(quantity: &Quantity<U>) -> Result<Quantity<U>, TestCaseError> {
    let text = quantity.to_string();
    Quantity::parse(&text).map_err(|error| TestCaseError::fail(format!("{text}: {error}")))
}

/// Values of any size and sign, and values with few digits as people write them.
fn values() -> impl Strategy<Value = f64> {
    let as_written = (-99_999_i32..=99_999, -15_i32..=9)
        .prop_map(|(digits, power)| format!("{digits}e{power}").parse().expect("a number"));
    prop_oneof![
        as_written,
        NORMAL.prop_map(|x| x % 1e20),
        any::<f64>().prop_map(finite)
    ]
}

fn finite(value: f64) -> f64 {
    // Far enough below the greatest float for any tolerance of `sides`.
    if value.is_finite() { value / 1e10 } else { 0.0 }
}

/// Tolerances of few digits, and of many.
fn sides() -> impl Strategy<Value = f64> {
    let as_written =
        (0_u32..=999, -3_i32..=2).prop_map(|(d, p)| format!("{d}e{p}").parse().expect("a number"));
    prop_oneof![as_written, 0.0..150.0]
}

fn same_bits<U: Unit>(one: &Quantity<U>, other: &Quantity<U>) -> Result<(), TestCaseError> {
    let bits = |q: &Quantity<U>| [q.low, q.nominal, q.high].map(|value| (value + 0.0).to_bits());
    prop_assert_eq!(bits(one), bits(other), "{} and {}", one, other);
    Ok(())
}

/// What holds for a unit, over random values and tolerances.
fn check<U: Unit>() {
    run(&values(), exact_is_kept::<U>);
    run(&(values(), values()), range_is_kept::<U>);
    run(&(values(), values(), values()), computed_is_kept::<U>);
    run(&(values(), sides(), sides()), written_is_kept::<U>);
}

/// Each run needs its own runner: a runner stops once it has counted its cases, over all its runs.
fn run<S: Strategy>(values: &S, holds: impl Fn(S::Value) -> Result<(), TestCaseError>) {
    let config = Config {
        failure_persistence: None,
        ..Config::default()
    };
    if let Err(error) = TestRunner::new(config).run(values, holds) {
        panic!("{error}");
    }
}

fn exact_is_kept<U: Unit>(value: f64) -> Result<(), TestCaseError> {
    let quantity = Quantity::<U>::exact(value);
    let read = again(&quantity)?;
    prop_assert_eq!(read.form, Form::Exact);
    same_bits(&quantity, &read)
}

fn range_is_kept<U: Unit>((one, other): (f64, f64)) -> Result<(), TestCaseError> {
    let (low, high) = (one.min(other), one.max(other));
    let quantity = Quantity::<U>::within(low, low.midpoint(high), high, Form::Range);
    let read = again(&quantity)?;
    prop_assert_eq!(read.form, Form::Range);
    same_bits(&quantity, &read)
}

/// Any three values in order, in every form: the values are kept, whatever becomes of the form.
fn computed_is_kept<U: Unit>((a, b, c): (f64, f64, f64)) -> Result<(), TestCaseError> {
    let mut limits = [a, b, c];
    limits.sort_by(f64::total_cmp);
    let [low, nominal, high] = limits;
    for form in [
        Form::Exact,
        Form::Percent,
        Form::Absolute,
        Form::Range,
        Form::RangeAround,
    ] {
        let quantity = Quantity::<U>::within(low, nominal, high, form);
        let read = again(&quantity)?;
        same_bits(&quantity, &read)?;
        prop_assert!(
            read.form == form || read.form == Form::RangeAround,
            "{}",
            quantity
        );
    }
    Ok(())
}

/// A tolerance as someone would write it: form and values are kept.
fn written_is_kept<U: Unit>((nominal, below, above): (f64, f64, f64)) -> Result<(), TestCaseError> {
    let nominal_text = Quantity::<U>::exact(nominal).to_string();
    let mut texts = vec![
        format!(
            "{nominal_text} -{}/+{}",
            Quantity::<U>::exact(below),
            Quantity::<U>::exact(above)
        ),
        format!("{nominal_text} \u{b1}{}", Quantity::<U>::exact(above)),
    ];
    if U::KIND.has_zero() {
        texts.push(format!("{nominal_text} -{below}/+{above} %"));
        texts.push(format!("{nominal_text} \u{b1}{above} %"));
    }
    for text in texts {
        let quantity = Quantity::<U>::parse(&text)
            .map_err(|error| TestCaseError::fail(format!("{text}: {error}")))?;
        let read = again(&quantity)?;
        prop_assert_eq!(read.form, quantity.form, "{}", text);
        same_bits(&quantity, &read)?;
    }
    Ok(())
}

#[test]
fn every_unit_and_form() {
    check::<Volts>();
    check::<Amperes>();
    check::<Ohms>();
    check::<Siemens>();
    check::<Farads>();
    check::<Henries>();
    check::<Hertz>();
    check::<Seconds>();
    check::<Hours>();
    check::<Watts>();
    check::<VoltAmperes>();
    check::<Joules>();
    check::<Celsius>();
    check::<Kelvins>();
    check::<KelvinsPerWatt>();
    check::<Metres>();
    check::<SquareMetres>();
    check::<Ratio>();
    check::<Decibels>();
    check::<DecibelMilliwatts>();
    check::<Degrees>();
    check::<VoltsPerRootHertz>();
    check::<HertzPerVolt>();
    check::<PerVolt>();
    check::<AmpereSquaredSeconds>();
}

fn prints<U: Unit>(text: &str, expected: &str) {
    let quantity = Quantity::<U>::parse(text).unwrap_or_else(|e| panic!("{text}: {e}"));
    assert_eq!(quantity.to_string().replace('\u{a0}', " "), expected);
}

#[test]
fn prints_in_full() {
    prints::<Ohms>("4k7 \u{b1}1%", "4.7 k\u{3a9} \u{b1}1 %");
    prints::<Farads>("4700u -20/+50%", "4700 \u{b5}F -20/+50 %");
    prints::<Volts>("15.6 V \u{b1}100 mV", "15.6 V \u{b1}0.1 V");
    prints::<Volts>("15 V -0.5/+1 V", "15 V -0.5 V/+1 V");
    prints::<Volts>("between 18 and 20 V", "18 V .. 20 V");
    prints::<Volts>("230 V (207 .. 244)", "230 V (207 V .. 244 V)");
    prints::<Hertz>("10 Hz .. 100 kHz", "10 Hz .. 100 kHz");
    prints::<Hertz>("10 MHz \u{b1}2 ppm", "10 MHz \u{b1}0.0002 %");
    prints::<SquareMetres>("0.75mm2", "0.75 mm\u{b2}");
    prints::<Celsius>("25 \u{b0}C \u{b1}2 K", "25 \u{b0}C \u{b1}2 K");
    prints::<DecibelMilliwatts>("7 dBm \u{b1}2 dB", "7 dBm \u{b1}2 dB");
    prints::<Celsius>("77 \u{b0}F", "25 \u{b0}C");
    prints::<Ratio>("80 %", "0.8");
    prints::<Degrees>("30 deg", "30\u{b0}");
    prints::<Farads>("1 F", "1 F");
    prints::<Amperes>("14 nA", "14 nA");
    prints::<Volts>("1e-20 V", "1e-20 V");
    prints::<Volts>("-0 V", "0 V");
}

#[test]
fn only_no_break_spaces_before_units() {
    let quantity = Quantity::<Ohms>::parse("4k7 \u{b1}1%").expect("a resistance");
    assert_eq!(quantity.to_string(), "4.7\u{a0}k\u{3a9} \u{b1}1\u{a0}%");
}
