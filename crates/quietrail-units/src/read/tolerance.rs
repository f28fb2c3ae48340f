//! Tolerances behind a value: `±10 %`, `-20/+50 %`, `±0.1 V`, and the letters of marks.

use super::{
    Reading, ambiguity,
    cursor::Cursor,
    number::{self, Number},
    scale::{self, Scale},
    term::Term,
};
use crate::{
    Form, Kind, QuantityError, QuantityFault, code::ToleranceLetter, spelling::Conversion,
};

/// What one side of a tolerance is counted in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Measure {
    /// A part of the value: the power of ten of percent, ppm, ppb.
    Part(i32),
    /// The unit of the value.
    Unit(Scale),
}

/// One side as written, without its sign.
struct Side {
    number: Number,
    /// `None` where the side names no unit.
    measure: Option<Measure>,
}

/// Reads the tolerance behind `term`, if one follows.
pub(super) fn tolerance(
    cursor: &mut Cursor<'_>,
    term: &Term,
) -> Result<Option<Reading>, QuantityError> {
    let before = cursor.at;
    cursor.skip_space();
    let start = cursor.at;
    if ["\u{b1}", "+/-", "+/\u{2212}", "+-"]
        .iter()
        .any(|mark| cursor.take(mark))
    {
        return symmetric(cursor, term, start).map(Some);
    }
    match cursor.peek() {
        Some('+' | '-' | '\u{2212}' | '\u{2013}') => two_sided(cursor, term, start).map(Some),
        Some(c) if c.is_ascii_digit() => {
            refuse_unsigned(cursor)?;
            cursor.at = before;
            Ok(None)
        }
        _ => {
            cursor.at = before;
            Ok(None)
        }
    }
}

/// The tolerance of a mark, `4K7J`.
pub(super) fn marked(
    cursor: &Cursor<'_>,
    term: &Term,
    letter: ToleranceLetter,
) -> Result<Reading, QuantityError> {
    let value = term.value(cursor)?;
    let mut written = Cursor {
        text: letter.written(value),
        at: 0,
        wanted: cursor.wanted,
    };
    let reading = tolerance(&mut written, term)?;
    Ok(reading.expect("a tolerance letter stands for a tolerance"))
}

fn symmetric(cursor: &mut Cursor<'_>, term: &Term, start: usize) -> Result<Reading, QuantityError> {
    cursor.skip_space();
    let signed = number::take_sign(cursor).is_some();
    let both = side(cursor)?;
    if signed {
        return Err(signs(cursor, start));
    }
    let measure = settle(cursor, term, start, &both)?;
    limits(
        cursor,
        term,
        start,
        [(&both.number, measure), (&both.number, measure)],
    )
}

/// `-20/+50 %`, `+50 % -20 %`, `-0.1/+0.2 V`: either order, one unit for both or one each.
fn two_sided(cursor: &mut Cursor<'_>, term: &Term, start: usize) -> Result<Reading, QuantityError> {
    let first_is_below = number::take_sign(cursor).unwrap_or(false);
    let mut first = side(cursor)?;
    let after_first = cursor.at;
    cursor.skip_space();
    cursor.take("/");
    cursor.skip_space();
    let Some(second_is_below) = number::take_sign(cursor) else {
        cursor.at = after_first;
        let measure = settle(cursor, term, start, &first)?;
        term.value_in(cursor, measure.scale())?;
        return Err(ambiguity::one_sided(cursor, term, start, first_is_below));
    };
    let mut second = side(cursor)?;
    if first_is_below == second_is_below {
        return Err(signs(cursor, start));
    }
    first.measure = first.measure.or(second.measure);
    second.measure = second.measure.or(first.measure);
    let first = (&first.number, settle(cursor, term, start, &first)?);
    let second = (&second.number, settle(cursor, term, start, &second)?);
    if first.1.is_part() != second.1.is_part() {
        return Err(signs(cursor, start));
    }
    let below_and_above = if first_is_below {
        [first, second]
    } else {
        [second, first]
    };
    limits(cursor, term, start, below_and_above)
}

impl Measure {
    fn is_part(self) -> bool {
        matches!(self, Self::Part(_))
    }

    fn scale(self) -> Option<Scale> {
        match self {
            Self::Part(_) => None,
            Self::Unit(scale) => Some(scale),
        }
    }
}

fn side(cursor: &mut Cursor<'_>) -> Result<Side, QuantityError> {
    cursor.skip_space();
    let start = cursor.at;
    let number = number::unsigned(cursor, start, false)?;
    let measure = match part(cursor) {
        Some(part) => Some(part),
        None if takes_difference(cursor) => Some(Measure::Unit(Scale::ONE)),
        None => scale::scale(cursor, &number)?.map(|found| Measure::Unit(found.scale)),
    };
    if let Some(Measure::Unit(scale)) = measure
        && scale.conversion == Conversion::WireGauge
    {
        // Gauges are not evenly spaced: a difference of gauges is no cross-section.
        let tolerance = cursor.since(start).to_owned();
        let fault = QuantityFault::ToleranceNotRelative { tolerance };
        return Err(cursor.error(cursor.span(start), fault));
    }
    Ok(Side { number, measure })
}

/// Takes `%`, `ppm` or `ppb`.
fn part(cursor: &mut Cursor<'_>) -> Option<Measure> {
    let mut ahead = cursor.clone();
    ahead.skip_space();
    let power = if ahead.take("%") || ahead.take_word("percent") {
        -2
    } else if ahead.take_word("ppm") {
        -6
    } else if ahead.take_word("ppb") {
        -9
    } else {
        return None;
    };
    cursor.at = ahead.at;
    Some(Measure::Part(power))
}

/// Takes the `K` of `25 °C ±2 K` and the `dB` of `7 dBm ±2 dB`: differences of values whose own unit has no zero to count from.
fn takes_difference(cursor: &mut Cursor<'_>) -> bool {
    let mut ahead = cursor.clone();
    ahead.skip_space();
    let taken = match cursor.wanted.of_difference() {
        Kind::Kelvins => ahead.take_word("K"),
        Kind::Decibels => ahead.take_word("dB"),
        _ => false,
    };
    if taken {
        cursor.at = ahead.at;
    }
    taken
}

/// What a side is counted in. Without a unit it may be percent or the value's own unit, which is a
/// question, except where only one of the two has a meaning.
fn settle(
    cursor: &Cursor<'_>,
    term: &Term,
    start: usize,
    side: &Side,
) -> Result<Measure, QuantityError> {
    if let Some(measure) = side.measure {
        return Ok(measure);
    }
    if cursor.wanted == Kind::Ratio {
        return Ok(Measure::Unit(Scale::ONE));
    }
    term.value(cursor)?; // where the value has no unit either, that is said first
    if cursor.wanted.has_zero() {
        return Err(ambiguity::tolerance_unit(cursor, term, start));
    }
    let scale = term.scale.unwrap_or(Scale::ONE);
    Ok(Measure::Unit(scale))
}

/// The limits from what goes below and above the value.
fn limits(
    cursor: &Cursor<'_>,
    term: &Term,
    start: usize,
    below_and_above: [(&Number, Measure); 2],
) -> Result<Reading, QuantityError> {
    let [(_, measure), (_, other)] = below_and_above;
    if measure.is_part() && !cursor.wanted.has_zero() {
        let tolerance = cursor.since(start).to_owned();
        let fault = QuantityFault::ToleranceNotRelative { tolerance };
        return Err(cursor.error(cursor.span(start), fault));
    }
    if cursor.wanted == Kind::Ratio && is_percentage(term) {
        // ±10 % of 80 %, or ten percentage points?
        return Err(ambiguity::percent_of_percent(cursor, term, below_and_above));
    }
    let nominal = term.value_in(cursor, measure.scale().or(other.scale()))?;
    let [below, above] = below_and_above.map(|(number, measure)| match measure {
        Measure::Part(power) => nominal.abs() * number.times_ten_to(power),
        Measure::Unit(scale) => scale.difference(number),
    });
    let (low, high) = (nominal - below, nominal + above);
    if !(low.is_finite() && high.is_finite()) {
        let number = cursor.since(start).to_owned();
        return Err(cursor.error(cursor.span(start), QuantityFault::OutOfReach { number }));
    }
    let form = if measure.is_part() {
        Form::Percent
    } else {
        Form::Absolute
    };
    Ok(Reading {
        low,
        nominal,
        high,
        form,
    })
}

fn is_percentage(term: &Term) -> bool {
    term.scale
        .is_some_and(|scale| scale.conversion != Conversion::Power(0))
}

fn signs(cursor: &Cursor<'_>, start: usize) -> QuantityError {
    let tolerance = cursor.since(start).to_owned();
    cursor.error(
        cursor.span(start),
        QuantityFault::ToleranceSigns { tolerance },
    )
}

/// `230 V 10 %` has a tolerance without a sign. Any other number here is something else, left over.
fn refuse_unsigned(cursor: &Cursor<'_>) -> Result<(), QuantityError> {
    let mut ahead = cursor.clone();
    let start = ahead.at;
    if number::number(&mut ahead).is_err() || part(&mut ahead).is_none() {
        return Ok(());
    }
    let tolerance = ahead.since(start).to_owned();
    Err(ahead.error(
        ahead.span(start),
        QuantityFault::ToleranceWithoutSign { tolerance },
    ))
}
