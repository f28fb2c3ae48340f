//! A quantity in full: shortest digits that read back to the same bits.

use crate::{Form, Kind, Quantity, Unit, digits::Digits, prefix, read};
use std::fmt;

const NO_BREAK_SPACE: char = '\u{a0}';

/// One value with its unit, in the shortest digits that read back to the same bits.
pub(crate) fn value(value: f64, kind: Kind) -> String {
    in_prefix_of(value, value, kind)
}

/// The value with the prefix that another value of its kind is printed with: `15.6 V ±0.1 V`.
fn in_prefix_of(value: f64, leading: f64, kind: Kind) -> String {
    // Cross-sections are written in mm² whatever their size; the unit carries its own power of ten.
    let (powers, shift, unit): (&[i32], i32, &str) = match kind {
        Kind::SquareMetres => (&[0], 6, "mm\u{b2}"),
        _ => (prefix::printed(kind), 0, kind.symbol()),
    };
    let point = Digits::of(if leading == 0.0 { value } else { leading }, shift).point;
    let power = powers
        .iter()
        .rev()
        .find(|power| **power < point)
        .or(powers.first());
    let power = *power.expect("every kind prints with at least one power");
    let digits = Digits::of(value, shift);
    let (number, power) = match digits.plain(power) {
        Some(number) => (number, power),
        None if value == leading => (digits.scientific(), 0),
        None => return in_prefix_of(value, value, kind),
    };
    let prefix = prefix::symbol(power).expect("printed powers have a symbol");
    match unit {
        "" => number,
        "\u{b0}" => format!("{number}{unit}"),
        _ => format!("{number}{NO_BREAK_SPACE}{prefix}{unit}"),
    }
}

/// Prints in full, in the form in which it was written: `4.7 kΩ ±1 %`, with a no-break space (U+00A0)
/// before units. Reading the text gives a quantity that is the same to the last bit, because digits are
/// printed until they read back so and prefixes only move the decimal point.
///
/// Where no tolerance in the written form gives these very limits, which only happens to quantities that
/// were computed, the limits are printed as a range.
impl<U: Unit> fmt::Display for Quantity<U> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kind = U::KIND;
        let nominal = value(self.nominal, kind);
        let (low, high) = (value(self.low, kind), value(self.high, kind));
        let tolerance = match self.form {
            Form::Exact if self.low == self.high => return f.write_str(&nominal),
            Form::Range if read::middle(self.low, self.high) == self.nominal => {
                return write!(f, "{low} .. {high}");
            }
            Form::Percent if kind.has_zero() => percent(self),
            Form::Absolute => absolute(self),
            Form::Exact | Form::Range | Form::RangeAround | Form::Percent => None,
        };
        match tolerance {
            Some(tolerance) => write!(f, "{nominal} {tolerance}"),
            None => write!(f, "{nominal} ({low} .. {high})"),
        }
    }
}

/// `±20 %` or `-20/+50 %`, if it gives the limits to the last bit.
fn percent<U: Unit>(quantity: &Quantity<U>) -> Option<String> {
    let size = quantity.nominal.abs();
    let part = |difference: f64| {
        if difference == 0.0 {
            0.0
        } else {
            difference / size
        }
    };
    let below = part(quantity.nominal - quantity.low);
    let above = part(quantity.high - quantity.nominal);
    let gives_low = |part: f64| quantity.nominal - size * part == quantity.low;
    let gives_high = |part: f64| quantity.nominal + size * part == quantity.high;
    let text = |part: f64| {
        let digits = Digits::of(part, 2);
        digits.plain(0).unwrap_or_else(|| digits.scientific())
    };
    if let Some(both) = shortest(above, |part| gives_low(part) && gives_high(part)) {
        return Some(format!("\u{b1}{}{NO_BREAK_SPACE}%", text(both)));
    }
    let below = shortest(below, gives_low)?;
    let above = shortest(above, gives_high)?;
    Some(format!(
        "-{}/+{}{NO_BREAK_SPACE}%",
        text(below),
        text(above)
    ))
}

/// `±0.1 V` or `-0.1 V/+0.2 V`, of a temperature `±2 K`, if it gives the limits to the last bit.
fn absolute<U: Unit>(quantity: &Quantity<U>) -> Option<String> {
    let gives_low = |difference: f64| quantity.nominal - difference == quantity.low;
    let gives_high = |difference: f64| quantity.nominal + difference == quantity.high;
    let kind = U::KIND.of_difference();
    let text = |difference: f64| in_prefix_of(difference, quantity.nominal, kind);
    let below = quantity.nominal - quantity.low;
    let above = quantity.high - quantity.nominal;
    if let Some(both) = shortest(above, |part| gives_low(part) && gives_high(part)) {
        return Some(format!("\u{b1}{}", text(both)));
    }
    let below = shortest(below, gives_low)?;
    let above = shortest(above, gives_high)?;
    Some(format!("-{}/+{}", text(below), text(above)))
}

/// The number with the fewest digits near `about` that does what is asked. Neighbours are tried as well,
/// because `about` was rounded on its way here.
fn shortest(about: f64, fits: impl Fn(f64) -> bool) -> Option<f64> {
    if about == 0.0 {
        return fits(0.0).then_some(0.0);
    }
    let rounded = (0..17).filter_map(|decimals| format!("{about:.decimals$e}").parse().ok());
    let up = std::iter::successors(Some(about), |x| Some(x.next_up())).take(5);
    let down = std::iter::successors(Some(about), |x| Some(x.next_down())).take(5);
    rounded
        .chain(up)
        .chain(down)
        .find(|candidate| *candidate >= 0.0 && fits(*candidate))
}

#[cfg(test)]
mod tests;
