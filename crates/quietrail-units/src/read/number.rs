//! The number in front of a unit.

use super::cursor::Cursor;
use crate::{QuantityError, QuantityFault};

/// A number kept as digits, so that a prefix moves the decimal point without rounding.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Number {
    /// Sign, digits and a decimal point: `-4.7`.
    pub(super) digits: String,
    /// Power of ten behind it.
    pub(super) power: i32,
    /// Where it starts in the text.
    pub(super) start: usize,
    /// Where it ends.
    pub(super) end: usize,
}

impl Number {
    /// Whether no digit but 0 is written.
    pub(super) fn is_zero(&self) -> bool {
        !self.digits.contains(|c: char| ('1'..='9').contains(&c))
    }

    /// The number times a power of ten, rounded once.
    pub(super) fn times_ten_to(&self, power: i32) -> f64 {
        let power = self.power.saturating_add(power);
        format!("{}e{power}", self.digits)
            .parse()
            .unwrap_or(f64::NAN)
    }
}

/// Takes a sign if one stands here; true for minus. `–` (en dash) is accepted, being typed for `−`.
pub(super) fn take_sign(cursor: &mut Cursor<'_>) -> Option<bool> {
    let negative = match cursor.peek()? {
        '+' => false,
        '-' | '\u{2212}' | '\u{2013}' => true,
        _ => return None,
    };
    cursor.at += cursor.peek().map_or(0, char::len_utf8);
    Some(negative)
}

/// Reads an optional sign, digits with one decimal point or comma, and an exponent.
pub(super) fn number(cursor: &mut Cursor<'_>) -> Result<Number, QuantityError> {
    cursor.skip_space();
    let start = cursor.at;
    let negative = take_sign(cursor).unwrap_or(false);
    cursor.skip_space();
    unsigned(cursor, start, negative)
}

/// Reads a number whose sign is already taken.
pub(super) fn unsigned(
    cursor: &mut Cursor<'_>,
    start: usize,
    negative: bool,
) -> Result<Number, QuantityError> {
    let mut digits = String::from(if negative { "-" } else { "" });
    let whole = take_digits(cursor);
    let fraction = take_fraction(cursor);
    if whole.is_empty() && fraction.is_none() {
        return Err(no_number(cursor, start));
    }
    if let Some(share) = take_share(cursor, whole).filter(|_| fraction.is_none()) {
        digits.push_str(&share);
        return Ok(Number {
            digits,
            power: 0,
            start,
            end: cursor.at,
        });
    }
    digits.push_str(if whole.is_empty() { "0" } else { whole });
    if let Some(fraction) = fraction {
        digits.push('.');
        digits.push_str(fraction);
    }
    refuse_groups(cursor, start)?;
    let power = take_exponent(cursor);
    Ok(Number {
        digits,
        power,
        start,
        end: cursor.at,
    })
}

fn take_digits<'t>(cursor: &mut Cursor<'t>) -> &'t str {
    let rest = cursor.rest();
    let length = rest
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(rest.len());
    cursor.at += length;
    &rest[..length]
}

/// Takes a decimal point or comma with the digits behind it. `1..5` holds no fraction.
fn take_fraction<'t>(cursor: &mut Cursor<'t>) -> Option<&'t str> {
    let after = cursor.rest().strip_prefix(['.', ','])?;
    if !after.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    cursor.at += 1;
    Some(take_digits(cursor))
}

/// `1/4 W`, `3/8 in`: halves to thirty-seconds, which end after a few decimals.
fn take_share(cursor: &mut Cursor<'_>, whole: &str) -> Option<String> {
    let mut ahead = cursor.clone();
    if whole.is_empty() || !ahead.take("/") {
        return None;
    }
    let divisor = take_digits(&mut ahead);
    if !["2", "4", "8", "16", "32"].contains(&divisor) {
        return None;
    }
    let share = whole.parse::<f64>().ok()? / divisor.parse::<f64>().ok()?;
    cursor.at = ahead.at;
    Some(share.to_string())
}

/// `1,234.5`, `1.234.567` and `10 000` group their digits.
fn refuse_groups(cursor: &Cursor<'_>, start: usize) -> Result<(), QuantityError> {
    let mut ahead = cursor.clone();
    let mut grouped = false;
    while take_fraction(&mut ahead).is_some() {
        grouped = true;
    }
    let mut group = ahead.clone();
    while group.skip_space() && take_digits(&mut group).len() == 3 {
        grouped = true;
        ahead = group.clone();
    }
    if !grouped {
        return Ok(());
    }
    while take_fraction(&mut ahead).is_some() {}
    let number = ahead.since(start).to_owned();
    Err(ahead.error(ahead.span(start), QuantityFault::Grouped { number }))
}

fn take_exponent(cursor: &mut Cursor<'_>) -> i32 {
    let mut ahead = cursor.clone();
    if !ahead.take("e") && !ahead.take("E") {
        return 0;
    }
    let negative = take_sign(&mut ahead).unwrap_or(false);
    let digits = take_digits(&mut ahead);
    if digits.is_empty() {
        return 0;
    }
    cursor.at = ahead.at;
    // An exponent beyond i32 is beyond f64 as well: the value becomes infinite, or zero.
    let size: i32 = digits.parse().unwrap_or(i32::MAX / 2);
    if negative { -size } else { size }
}

fn no_number(cursor: &Cursor<'_>, start: usize) -> QuantityError {
    let mut from_start = cursor.clone();
    from_start.at = start;
    let found = from_start.word().to_owned();
    let bare = found
        .trim_start_matches(['+', '-', '\u{2212}'])
        .to_ascii_lowercase();
    let at = start..start + found.len();
    let not_finite = ["inf", "infinity", "nan", "\u{221e}"].contains(&bare.as_str());
    if not_finite {
        return cursor.error(at, QuantityFault::NotFinite { number: found });
    }
    cursor.error(at, QuantityFault::NoNumber { found })
}
