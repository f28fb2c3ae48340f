//! Ranges: `207 V .. 253 V`, `between 18 and 20 V`, `230 V (207 V .. 244 V)`.

use super::{
    Reading, ambiguity,
    cursor::Cursor,
    middle,
    scale::Scale,
    term::{Term, term},
};
use crate::{Form, Kind, QuantityError, QuantityFault, print};

/// Marks that can only mean a range. A dash may be a minus, see [`dashed`].
const MARKS: &[&str] = &["...", "..", "\u{2026}"];

/// The two ends of a range.
struct Ends {
    low: Term,
    high: Term,
}

/// `between 18 and 20 V`.
pub(super) fn between(cursor: &mut Cursor<'_>) -> Result<Option<Reading>, QuantityError> {
    match between_ends(cursor)? {
        Some(ends) => ends.reading(cursor, None).map(Some),
        None => Ok(None),
    }
}

/// `207 V .. 253 V`, once the first end is read.
pub(super) fn to(cursor: &mut Cursor<'_>, first: &Term) -> Result<Option<Reading>, QuantityError> {
    match marked(cursor, first)? {
        Some(ends) => ends.reading(cursor, None).map(Some),
        None => dashed(cursor, first),
    }
}

/// `230 V (207 V .. 244 V)`, once the nominal is read.
pub(super) fn around(
    cursor: &mut Cursor<'_>,
    nominal: &Term,
) -> Result<Option<Reading>, QuantityError> {
    let mut ahead = cursor.clone();
    ahead.skip_space();
    let open = ahead.at;
    if !ahead.take("(") {
        return Ok(None);
    }
    let found = cursor.text[open..].trim_end();
    let fault = QuantityFault::Parenthesis {
        found: found.to_owned(),
    };
    let fault = cursor.error(open..open + found.len(), fault);
    let ends = match between_ends(&mut ahead)? {
        Some(ends) => ends,
        None => {
            let low = term(&mut ahead)?;
            let Some(ends) = marked(&mut ahead, &low)? else {
                return Err(fault);
            };
            ends
        }
    };
    let inside = cursor.text[open + 1..ahead.at].trim().to_owned();
    ahead.skip_space();
    if !ahead.take(")") {
        return Err(fault);
    }
    let range = ends.reading(&ahead, nominal.scale)?;
    let value = nominal.value_in(cursor, ends.scale())?;
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

fn between_ends(cursor: &mut Cursor<'_>) -> Result<Option<Ends>, QuantityError> {
    cursor.skip_space();
    if !(cursor.take_word("between") || cursor.take_word("Between")) {
        return Ok(None);
    }
    let low = term(cursor)?;
    cursor.skip_space();
    if !cursor.take_word("and") {
        let found = cursor.word().to_owned();
        let at = cursor.at..cursor.at + found.len();
        return Err(cursor.error(at, QuantityFault::NoRangeEnd { found }));
    }
    let high = term(cursor)?;
    Ok(Some(Ends { low, high }))
}

fn marked(cursor: &mut Cursor<'_>, low: &Term) -> Result<Option<Ends>, QuantityError> {
    let mut ahead = cursor.clone();
    ahead.skip_space();
    if !MARKS.iter().any(|mark| ahead.take(mark)) && !ahead.take_word("to") {
        return Ok(None);
    }
    cursor.at = ahead.at;
    let high = term(cursor)?;
    Ok(Some(Ends {
        low: low.clone(),
        high,
    }))
}

/// `18–20 V`. An en dash counts where it stands as a range's dash does, with space on both sides or on
/// none; a hyphen, or a dash with space on one side, is a question.
fn dashed(cursor: &mut Cursor<'_>, low: &Term) -> Result<Option<Reading>, QuantityError> {
    let mut ahead = cursor.clone();
    let spaced = ahead.skip_space();
    let Some(dash) = ahead
        .peek()
        .filter(|c| "-\u{2212}\u{2013}\u{2014}".contains(*c))
    else {
        return Ok(None);
    };
    ahead.at += dash.len_utf8();
    let spaced_behind = ahead.skip_space();
    // What follows may be the lower side of a tolerance: `-20/+50 %`, `-10 %`. Then it is no range, and
    // whatever is wrong with it is said there.
    let Ok(high) = term(&mut ahead) else {
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
    let ends = Ends {
        low: low.clone(),
        high,
    };
    let is_range_dash = "\u{2013}\u{2014}".contains(dash) && spaced == spaced_behind;
    if is_range_dash {
        cursor.at = ahead.at;
        return ends.reading(&ahead, None).map(Some);
    }
    let Ok(reading) = ends.reading(&ahead, None) else {
        return Ok(None);
    };
    let text = |value| print::value(value, cursor.wanted);
    let (low, high) = (text(reading.low), text(reading.high));
    let choices = [
        format!("{low} .. {high}"),
        format!("{low} -{high}/+{}", text(0.0)),
    ];
    Err(ambiguity::question(&ahead, ends.low.number.start, choices))
}

impl Ends {
    /// The unit of a range that is written on one side only.
    fn scale(&self) -> Option<Scale> {
        self.low.scale.or(self.high.scale)
    }

    /// The limits; an end without unit takes the other end's, or that of the value around which they are.
    fn reading(
        &self,
        cursor: &Cursor<'_>,
        nominal: Option<Scale>,
    ) -> Result<Reading, QuantityError> {
        let shared = self.scale().or(nominal);
        let low = self.low.value_in(cursor, shared)?;
        let high = self.high.value_in(cursor, shared)?;
        self.refuse_two_prefixes(cursor, (low, high))?;
        if low <= high {
            return Ok(Reading {
                low,
                nominal: middle(low, high),
                high,
                form: Form::Range,
            });
        }
        let [first, second] = [low, high].map(|value| print::value(value, cursor.wanted));
        let start = self.low.number.start;
        Err(cursor.error(
            cursor.span(start),
            QuantityFault::UpsideDown { first, second },
        ))
    }

    /// `10 .. 100 kHz` may start at 10 Hz or at 10 kHz. No question where one of them is no range.
    fn refuse_two_prefixes(
        &self,
        cursor: &Cursor<'_>,
        (low, high): (f64, f64),
    ) -> Result<(), QuantityError> {
        let prefixed = match (self.low.scale, self.high.scale) {
            (None, Some(scale)) | (Some(scale), None) => scale.prefix != 0,
            _ => false,
        };
        let may_be_a_fraction = cursor.wanted == Kind::Ratio && self.low.scale != self.high.scale;
        if !prefixed && !may_be_a_fraction {
            return Ok(());
        }
        let plain_low = self.low.value_in(cursor, Some(Scale::ONE))?;
        let plain_high = self.high.value_in(cursor, Some(Scale::ONE))?;
        let same = (plain_low, plain_high) == (low, high);
        if same || plain_low > plain_high || low > high {
            return Ok(());
        }
        let text = |value| print::value(value, cursor.wanted);
        let choices = [(low, high), (plain_low, plain_high)]
            .map(|(a, b)| format!("{} .. {}", text(a), text(b)));
        Err(ambiguity::question(cursor, self.low.number.start, choices))
    }
}
