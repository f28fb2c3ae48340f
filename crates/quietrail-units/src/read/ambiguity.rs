//! Texts that can be read in two ways: the question, with clear texts to choose from.

use super::{cursor::Cursor, number::Number, term::Term, tolerance::Measure};
use crate::{
    Form, Kind, Quantity, QuantityError, QuantityFault, Ratio,
    code::ToleranceLetter,
    prefix::{MEGA, MILLI},
    print,
};

const SIGNS: [char; 4] = ['+', '-', '\u{2212}', '\u{2013}'];

/// A question about the text from `start` to the cursor.
pub(super) fn question(
    cursor: &Cursor<'_>,
    start: usize,
    choices: impl Into<Vec<String>>,
) -> QuantityError {
    let read = cursor.since(start).to_owned();
    let choices = choices.into();
    cursor.error(
        cursor.span(start),
        QuantityFault::Ambiguous { read, choices },
    )
}

/// `1 M`, `1 m`, `10 mF`. Farads: `m` and `M` both meant micro on old parts (common practice, no source).
/// Seconds: `5 m` may be minutes.
pub(super) fn milli_or_mega(cursor: &Cursor<'_>, number: &Number) -> QuantityError {
    let kind = cursor.wanted;
    let values = match kind {
        Kind::Farads => [number.times_ten_to(-6), number.times_ten_to(MILLI)],
        Kind::Seconds => [number.times_ten_to(MILLI), 60.0 * number.times_ten_to(0)],
        _ => [number.times_ten_to(MILLI), number.times_ten_to(MEGA)],
    };
    question(
        cursor,
        number.start,
        values.map(|value| print::value(value, kind)),
    )
}

/// `1n0P`: the letter stands for different tolerances in different tables.
pub(super) fn letter(
    cursor: &Cursor<'_>,
    number: &Number,
    value: f64,
    letter: ToleranceLetter,
) -> QuantityError {
    let nominal = print::value(value, cursor.wanted);
    let choices = letter.choices(value).into_iter();
    let choices: Vec<_> = choices
        .map(|tolerance| format!("{nominal} {tolerance}"))
        .collect();
    question(cursor, number.start, choices)
}

/// `4n7F`: the letter may be the farad as well.
pub(super) fn unit_or_letter(
    cursor: &Cursor<'_>,
    number: &Number,
    value: f64,
    letter: ToleranceLetter,
) -> QuantityError {
    let nominal = print::value(value, cursor.wanted);
    let mut choices = vec![nominal.clone()];
    choices.extend(
        letter
            .choices(value)
            .iter()
            .map(|tolerance| format!("{nominal} {tolerance}")),
    );
    question(cursor, number.start, choices)
}

/// `15.6 V ±0.1`, `12 V -1/+2`: in the unit or in percent. A side alone becomes both.
pub(super) fn tolerance_unit(cursor: &Cursor<'_>, term: &Term, start: usize) -> QuantityError {
    let nominal = term.text(cursor);
    let written = cursor.since(start);
    let sides = written.matches(SIGNS).count();
    let tolerance = match sides {
        1 => format!("\u{b1}{}", written.trim_start_matches(SIGNS).trim_start()),
        _ => written.to_owned(),
    };
    let own_unit = cursor.text[term.number.end..term.end].trim();
    let unit = if own_unit.is_empty() {
        cursor.wanted.symbol()
    } else {
        own_unit
    };
    let choices = [unit, "%"].map(|unit| format!("{nominal} {tolerance}\u{a0}{unit}"));
    question(cursor, start, choices)
}

/// `230 V -10 %`: nothing on the other side, or forgotten.
pub(super) fn one_sided(
    cursor: &Cursor<'_>,
    term: &Term,
    start: usize,
    below: bool,
) -> QuantityError {
    let nominal = term.text(cursor);
    let signed = cursor.since(start);
    let size = signed
        .trim_start_matches(['+', '-', '\u{2212}', '\u{2013}'])
        .trim_start();
    let one_side = if below {
        format!("-{size}/+0")
    } else {
        format!("-0/+{size}")
    };
    let choices = [
        format!("{nominal} {one_side}"),
        format!("{nominal} \u{b1}{size}"),
    ];
    question(cursor, start, choices)
}

/// `80 % ±10 %`: a tenth of the value, or ten percentage points.
pub(super) fn percent_of_percent(
    cursor: &Cursor<'_>,
    term: &Term,
    below_and_above: [(&Number, Measure); 2],
) -> QuantityError {
    let nominal = term
        .scale
        .map_or(f64::NAN, |scale| scale.value(&term.number));
    let [below, above] = below_and_above.map(|(number, measure)| match measure {
        Measure::Part(power) => number.times_ten_to(power),
        Measure::Unit(scale) => scale.difference(number),
    });
    let around = |below: f64, above: f64, form| {
        Quantity::<Ratio>::within(nominal - below, nominal, nominal + above, form).to_string()
    };
    let choices = [
        around(nominal * below, nominal * above, Form::Percent),
        around(below, above, Form::Absolute),
    ];
    question(cursor, term.number.start, choices)
}
