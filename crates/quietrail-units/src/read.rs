//! Text to quantity. A quantity is a term (number and unit), then nothing, a tolerance or a range.

mod ambiguity;
mod cursor;
mod mark;
mod number;
mod range;
mod scale;
mod term;
mod tolerance;

use crate::{Form, Kind, QuantityError, QuantityFault};
use cursor::Cursor;
use term::Term;

/// The limits that a text gives, in stored units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reading {
    pub(crate) low: f64,
    pub(crate) nominal: f64,
    pub(crate) high: f64,
    pub(crate) form: Form,
}

/// Reads a whole text as a quantity of the wanted kind.
pub(crate) fn quantity(text: &str, wanted: Kind) -> Result<Reading, QuantityError> {
    let mut cursor = Cursor {
        text,
        at: 0,
        wanted,
    };
    cursor.skip_space();
    if cursor.rest().is_empty() {
        return Err(cursor.error(0..text.len(), QuantityFault::Empty));
    }
    let start = cursor.at;
    let reading = reading(&mut cursor)?;
    let read = cursor.since(start).to_owned();
    cursor.skip_space();
    if cursor.rest().is_empty() {
        return Ok(reading);
    }
    let rest = cursor.rest().trim_end().to_owned();
    let at = cursor.at..cursor.at + rest.len();
    Err(cursor.error(at, QuantityFault::Trailing { read, rest }))
}

/// The middle of a range that names no nominal value.
pub(crate) fn middle(low: f64, high: f64) -> f64 {
    low.midpoint(high)
}

fn reading(cursor: &mut Cursor<'_>) -> Result<Reading, QuantityError> {
    if let Some(range) = range::between(cursor)? {
        return Ok(range);
    }
    let first = term::term(cursor)?;
    if let Some(letter) = first.letter {
        return tolerance::marked(cursor, &first, letter);
    }
    if let Some(range) = range::to(cursor, &first)? {
        return Ok(range);
    }
    if let Some(around) = range::around(cursor, &first)? {
        return Ok(around);
    }
    if let Some(reading) = tolerance::tolerance(cursor, &first)? {
        return Ok(reading);
    }
    exact(cursor, &first)
}

fn exact(cursor: &Cursor<'_>, term: &Term) -> Result<Reading, QuantityError> {
    let value = term.value(cursor)?;
    Ok(Reading {
        low: value,
        nominal: value,
        high: value,
        form: Form::Exact,
    })
}

#[cfg(test)]
mod tests;
