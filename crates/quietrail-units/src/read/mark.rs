//! Codes with a letter for the decimal point: `4k7`, `R47`, `6V3`, `4K7J` (IEC 60062).

use super::{
    ambiguity,
    cursor::Cursor,
    number::Number,
    scale::{self, Scale},
    term::Term,
};
use crate::{
    Kind, QuantityError, QuantityFault,
    code::{self, LetterCode, ToleranceLetter},
    prefix::{self, MEGA, MILLI},
    print,
    spelling::Conversion,
};

/// Reads a code if one stands here; the sign before it is already taken.
pub(super) fn term(
    cursor: &mut Cursor<'_>,
    start: usize,
    negative: bool,
) -> Result<Option<Term>, QuantityError> {
    let code = LetterCode::split(cursor.rest()).filter(|code| !code.fraction.is_empty());
    let Some(code) = code else { return Ok(None) };
    let sign = if negative { "-" } else { "" };
    let whole = if code.whole.is_empty() {
        "0"
    } else {
        code.whole
    };
    let digits = format!("{sign}{whole}.{}", code.fraction);
    let number = Number {
        digits,
        power: 0,
        start,
        end: cursor.at + code.length,
    };
    if code.letter == 'E' && cursor.wanted == Kind::Ohms && !code.whole.is_empty() {
        // On old European parts E stands for the point (from memory); elsewhere it is an exponent.
        return Err(exponent_or_point(cursor, &number, &code));
    }
    let Some(power) = code::letter_power(code.letter, cursor.wanted) else {
        return Ok(None);
    };
    cursor.at = number.end;
    if is_question(code.letter, power, cursor.wanted) {
        return Err(ambiguity::milli_or_mega(cursor, &number));
    }
    let scale = Scale {
        conversion: Conversion::Power(0),
        prefix: power,
    };
    let letter = tolerance_letter(cursor, &number, power)?;
    if letter.is_none() {
        unit_behind(cursor, &number)?;
    }
    Ok(Some(Term {
        number,
        scale: Some(scale),
        letter,
        end: cursor.at,
    }))
}

/// `4m7` of resistance may be meant as `4M7`; the standard's letter for milliohms is L. `m` of
/// capacitance may be micro. `M` where millions make no sense may be meant as `m`.
fn is_question(letter: char, power: i32, kind: Kind) -> bool {
    match power {
        MILLI if letter == 'm' => {
            prefix::mega_makes_sense(kind) || !prefix::milli_makes_sense(kind)
        }
        MEGA => !prefix::mega_makes_sense(kind),
        _ => false,
    }
}

/// Takes the tolerance letter of a mark. `4n7F` is a question: a farad, or ±1 %.
fn tolerance_letter(
    cursor: &mut Cursor<'_>,
    number: &Number,
    power: i32,
) -> Result<Option<ToleranceLetter>, QuantityError> {
    let Some(c) = cursor.peek() else {
        return Ok(None);
    };
    let Some(letter) = ToleranceLetter::of(c, cursor.wanted) else {
        return Ok(None);
    };
    let mut ahead = cursor.clone();
    ahead.at += c.len_utf8();
    if ahead.peek().is_some_and(char::is_alphanumeric) {
        return Ok(None);
    }
    *cursor = ahead;
    let value = number.times_ten_to(power);
    if cursor.wanted == Kind::Farads && c == 'F' {
        return Err(ambiguity::unit_or_letter(cursor, number, value, letter));
    }
    if letter.is_question(value) {
        return Err(ambiguity::letter(cursor, number, value, letter));
    }
    Ok(Some(letter))
}

/// The unit may follow its code, without prefix: `4k7 Ω`.
fn unit_behind(cursor: &mut Cursor<'_>, number: &Number) -> Result<(), QuantityError> {
    let before = cursor.at;
    match scale::scale(cursor, number)? {
        None => Ok(()),
        Some(found) if found.scale == Scale::ONE && found.letter.is_none() => Ok(()),
        Some(_) => {
            let unit = cursor.text[before..cursor.at].trim().to_owned();
            let at = cursor.at - unit.len()..cursor.at;
            let number = cursor.text[number.start..number.end].to_owned();
            Err(cursor.error(at, QuantityFault::UnknownUnit { number, unit }))
        }
    }
}

fn exponent_or_point(cursor: &Cursor<'_>, number: &Number, code: &LetterCode<'_>) -> QuantityError {
    let whole = Number {
        digits: code.whole.to_owned(),
        ..number.clone()
    };
    let power = code.fraction.parse().unwrap_or(i32::MAX / 2);
    let values = [number.times_ten_to(0), whole.times_ten_to(power)];
    let mut here = cursor.clone();
    here.at = number.end;
    let choices = values.map(|value| print::value(value, cursor.wanted));
    ambiguity::question(&here, number.start, choices)
}
