//! Ranges: `207 V .. 253 V`, `between 18 and 20 V`, `230 V (207 V .. 244 V)`.

use super::{
    Reading, ambiguity,
    cursor::Cursor,
    middle,
    term::{Term, term},
};
use crate::{Form, QuantityError, QuantityFault, print};

/// Marks that can only mean a range. A dash may be a minus, see [`to`].
const MARKS: &[&str] = &["...", "..", "\u{2026}"];

/// `between 18 and 20 V`.
pub(super) fn between(cursor: &mut Cursor<'_>) -> Result<Option<Reading>, QuantityError> {
    if !(cursor.take_word("between") || cursor.take_word("Between")) {
        return Ok(None);
    }
    let first = term(cursor)?;
    cursor.skip_space();
    if !cursor.take_word("and") {
        let found = cursor.word().to_owned();
        let at = cursor.at..cursor.at + found.len();
        return Err(cursor.error(at, QuantityFault::NoRangeEnd { found }));
    }
    let second = term(cursor)?;
    ends(cursor, &first, &second).map(Some)
}

/// `207 V .. 253 V`, once the first end is read. An en dash counts where it stands as a range's dash
/// does, with space on both sides or on none; a hyphen, or a dash with space on one side, is a question.
pub(super) fn to(cursor: &mut Cursor<'_>, first: &Term) -> Result<Option<Reading>, QuantityError> {
    let mut ahead = cursor.clone();
    let spaced = ahead.skip_space();
    if MARKS.iter().any(|mark| ahead.take(mark)) || ahead.take_word("to") {
        *cursor = ahead;
        let second = term(cursor)?;
        return ends(cursor, first, &second).map(Some);
    }
    dashed(cursor, first, ahead, spaced)
}

fn dashed(
    cursor: &mut Cursor<'_>,
    first: &Term,
    mut ahead: Cursor<'_>,
    spaced: bool,
) -> Result<Option<Reading>, QuantityError> {
    let Some(dash) = ahead
        .peek()
        .filter(|c| "-\u{2212}\u{2013}\u{2014}".contains(*c))
    else {
        return Ok(None);
    };
    ahead.at += dash.len_utf8();
    let spaced_behind = ahead.skip_space();
    if !ahead
        .peek()
        .is_some_and(|c| c.is_ascii_digit() || "+-\u{2212}.".contains(c))
    {
        return Ok(None);
    }
    // What follows may be the lower side of a tolerance: `-20/+50 %`, `-10 %`. Then it is no range, and
    // whatever is wrong with it is said there.
    let Ok(second) = term(&mut ahead) else {
        return Ok(None);
    };
    let mut behind = ahead.clone();
    behind.skip_space();
    let is_tolerance = behind
        .peek()
        .is_some_and(|c| "/+-\u{2212}\u{2013}%\u{b1}".contains(c));
    if is_tolerance {
        return Ok(None);
    }
    let reading = ends(&ahead, first, &second)?;
    let is_range_dash = "\u{2013}\u{2014}".contains(dash) && spaced == spaced_behind;
    if is_range_dash {
        cursor.at = ahead.at;
        return Ok(Some(reading));
    }
    let [low, high] = [reading.low, reading.high].map(|x| print::value(x, cursor.wanted));
    let one_sided = format!("{low} -{high}/+{}", print::value(0.0, cursor.wanted));
    let choices = [format!("{low} .. {high}"), one_sided];
    Err(ambiguity::question(&ahead, first.number.start, choices))
}

/// `230 V (207 V .. 244 V)`, once the nominal is read.
pub(super) fn around(
    cursor: &mut Cursor<'_>,
    nominal: &Term,
) -> Result<Option<Reading>, QuantityError> {
    let mut ahead = cursor.clone();
    ahead.skip_space();
    if !ahead.take("(") {
        return Ok(None);
    }
    let open = ahead.at - 1;
    let fault = |cursor: &Cursor<'_>| {
        let found = cursor.text[open..].trim_end().to_owned();
        cursor.error(
            open..open + found.len(),
            QuantityFault::Parenthesis { found },
        )
    };
    let range = match between(&mut ahead)? {
        Some(range) => range,
        None => {
            let mut low = term(&mut ahead)?;
            // `230 V (207 .. 244)`: the ends may lean on the nominal's unit.
            let before = low.scale;
            let mut inner = ahead.clone();
            let own = second_scale(&mut inner);
            low.scale = before.or(own).or(nominal.scale);
            to(&mut ahead, &low)?.ok_or_else(|| fault(cursor))?
        }
    };
    let inside = cursor.text[open + 1..ahead.at].trim().to_owned();
    ahead.skip_space();
    if !ahead.take(")") {
        return Err(fault(cursor));
    }
    let value = nominal.value(cursor)?;
    cursor.at = ahead.at;
    if range.low <= value && value <= range.high {
        return Ok(Some(Reading {
            nominal: value,
            form: Form::RangeAround,
            ..range
        }));
    }
    let nominal_text = nominal.text(cursor).to_owned();
    let at = nominal.number.start..nominal.number.start + nominal_text.len();
    let fault = QuantityFault::Outside {
        nominal: nominal_text,
        range: inside,
    };
    Err(cursor.error(at, fault))
}

/// The unit of the second end, if it has its own.
fn second_scale(cursor: &mut Cursor<'_>) -> Option<super::scale::Scale> {
    cursor.skip_space();
    let marked = MARKS.iter().any(|mark| cursor.take(mark)) || cursor.take_word("to");
    if !marked {
        return None;
    }
    term(cursor).ok()?.scale
}

/// A range from its two ends; a unit written on one side counts for both.
fn ends(cursor: &Cursor<'_>, first: &Term, second: &Term) -> Result<Reading, QuantityError> {
    let low = first.value_in(cursor, second.scale)?;
    let high = second.value_in(cursor, first.scale)?;
    if low <= high {
        return Ok(Reading {
            low,
            nominal: middle(low, high),
            high,
            form: Form::Range,
        });
    }
    let fault = QuantityFault::UpsideDown {
        first: first.text(cursor).to_owned(),
        second: second.text(cursor).to_owned(),
    };
    let start = first.number.start;
    Err(cursor.error(cursor.span(start), fault))
}
