//! One number with its unit, as it stands in a quantity.

use super::{
    ambiguity,
    cursor::Cursor,
    mark,
    number::{self, Number},
    scale::{self, Scale},
};
use crate::{
    Kind, QuantityError, QuantityFault, code::ToleranceLetter, print, spelling::Conversion,
};

/// A number, and its unit if it has one of its own.
#[derive(Clone, Debug)]
pub(super) struct Term {
    pub(super) number: Number,
    pub(super) scale: Option<Scale>,
    /// The tolerance letter of a part's mark.
    pub(super) letter: Option<ToleranceLetter>,
    /// Where the term ends.
    pub(super) end: usize,
}

/// Reads a number with its unit: `4700 µF`, `4k7`, `-12 V`, `AWG 18`, or a number alone.
pub(super) fn term(cursor: &mut Cursor<'_>) -> Result<Term, QuantityError> {
    cursor.skip_space();
    if let Some(gauge) = gauge_first(cursor)? {
        return Ok(gauge);
    }
    let start = cursor.at;
    let negative = number::take_sign(cursor).unwrap_or(false);
    cursor.skip_space();
    if let Some(marked) = mark::term(cursor, start, negative)? {
        return Ok(marked);
    }
    let number = number::unsigned(cursor, start, negative)?;
    let found = scale::scale(cursor, &number)?;
    Ok(Term {
        scale: found.map(|f| f.scale),
        letter: found.and_then(|f| f.letter),
        end: cursor.at,
        number,
    })
}

/// `AWG 18`: the only unit written before its number.
fn gauge_first(cursor: &mut Cursor<'_>) -> Result<Option<Term>, QuantityError> {
    if cursor.wanted != Kind::SquareMetres || !(cursor.take("AWG") || cursor.take("awg")) {
        return Ok(None);
    }
    let number = number::number(cursor)?;
    let scale = Scale {
        conversion: Conversion::WireGauge,
        prefix: 0,
    };
    Ok(Some(Term {
        number,
        scale: Some(scale),
        letter: None,
        end: cursor.at,
    }))
}

impl Term {
    /// The term as written.
    pub(super) fn text<'t>(&self, cursor: &Cursor<'t>) -> &'t str {
        cursor.text[self.number.start..self.end].trim_end()
    }

    /// The stored value.
    pub(super) fn value(&self, cursor: &Cursor<'_>) -> Result<f64, QuantityError> {
        self.value_in(cursor, None)
    }

    /// The stored value, where a number alone takes the unit of its neighbour.
    pub(super) fn value_in(
        &self,
        cursor: &Cursor<'_>,
        neighbour: Option<Scale>,
    ) -> Result<f64, QuantityError> {
        let scale = match self.scale.or(neighbour) {
            Some(scale) => scale,
            None if cursor.wanted == Kind::Ratio => Scale::ONE,
            None => return Err(self.no_unit(cursor)),
        };
        let value = scale.value(&self.number);
        let vanished = value == 0.0 && !self.number.is_zero() && scale.keeps_zero();
        if value.is_finite() && !vanished {
            return Ok(value);
        }
        let text = self.text(cursor).to_owned();
        let at = self.number.start..self.number.start + text.len();
        let fault = match scale.conversion {
            Conversion::WireGauge => QuantityFault::NoSuchGauge { gauge: text },
            _ => QuantityFault::OutOfReach { number: text },
        };
        Err(cursor.error(at, fault))
    }

    fn no_unit(&self, cursor: &Cursor<'_>) -> QuantityError {
        let text = self.text(cursor);
        let at = self.number.start..self.number.start + text.len();
        let picofarads = crate::code::three_digits(text).filter(|_| cursor.wanted == Kind::Farads);
        if let Some(marked) = picofarads {
            let as_written = self.number.times_ten_to(-12);
            let choices = [marked, as_written].map(|value| print::value(value, Kind::Farads));
            let mut here = cursor.clone();
            here.at = at.end;
            return ambiguity::question(&here, at.start, choices);
        }
        cursor.error(
            at,
            QuantityFault::NoUnit {
                number: text.to_owned(),
            },
        )
    }
}
