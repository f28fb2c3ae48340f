//! A computed value in a few digits, for tables and drawings: `13.3 V`, `−380 mV`, `118 µV`.

use crate::{Kind, prefix};

const MINUS: &str = "\u{2212}";
const NO_BREAK_SPACE: char = '\u{a0}';

/// Shown in place of a value that is infinite or not a number.
pub const UNKNOWN: &str = "unknown";

/// A value with its unit in a few significant digits: a true minus sign (U+2212), a no-break space
/// (U+00A0), and the prefix that keeps one to three digits before the point.
///
/// `value` is in `unit_symbol` (for `%` in percent, for `m²` in square metres, shown in mm²). °C, dB and
/// angles have no prefix and at most one decimal; K, h, % and plain numbers have no prefix. Farads skip
/// milli, as [`crate::Quantity`] does. A value that is not finite is [`UNKNOWN`].
///
/// For reading only: digits are dropped. [`crate::Quantity`] prints all of them.
///
/// ```
/// use quietrail_units::format_si;
/// assert_eq!(format_si(-0.38, "V", 3), "\u{2212}380\u{a0}mV");
/// assert_eq!(format_si(13.296, "V", 3), "13.3\u{a0}V");
/// assert_eq!(format_si(4.7e-3, "F", 3), "4700\u{a0}µF");
/// assert_eq!(format_si(41.25, "°C", 3), "41.2\u{a0}°C");
/// ```
pub fn format_si(value: f64, unit_symbol: &str, significant: usize) -> String {
    if !value.is_finite() {
        return UNKNOWN.to_owned();
    }
    let (value, unit) = match unit_symbol {
        "m\u{b2}" => (value * 1e6, "mm\u{b2}"),
        _ => (value, unit_symbol),
    };
    let rounded = Rounded::of(value, significant.max(1));
    let powers = printed_powers(unit);
    let power = powers
        .iter()
        .rev()
        .find(|power| **power <= rounded.exponent)
        .or(powers.first());
    let power = if value == 0.0 {
        0
    } else {
        power.copied().unwrap_or(0)
    };
    let (number, power) = match unit {
        "\u{b0}C" | "dB" | "\u{b0}" => (one_decimal_at_most(value, &rounded), 0),
        _ => match rounded.over_ten_to(power) {
            Some(number) => (number, power),
            None => (rounded.scientific(), 0),
        },
    };
    let prefix = prefix::symbol(power).unwrap_or_default();
    match unit {
        "" => number,
        "\u{b0}" => format!("{number}{unit}"),
        _ => format!("{number}{NO_BREAK_SPACE}{prefix}{unit}"),
    }
}

/// As [`format_si`], with a plus sign before what is above zero: for margins and differences.
///
/// ```
/// use quietrail_units::format_si_signed;
/// assert_eq!(format_si_signed(0.2, "V", 3), "+200\u{a0}mV");
/// assert_eq!(format_si_signed(-0.0, "V", 3), "0\u{a0}V");
/// ```
pub fn format_si_signed(value: f64, unit_symbol: &str, significant: usize) -> String {
    let text = format_si(value, unit_symbol, significant);
    let shows_more_than_zero =
        value.is_finite() && value > 0.0 && text.contains(|c: char| ('1'..='9').contains(&c));
    if shows_more_than_zero {
        format!("+{text}")
    } else {
        text
    }
}

/// Prefixes go with the symbols of kinds that have them, and with no others.
fn printed_powers(unit: &str) -> &'static [i32] {
    let kind = Kind::ALL
        .iter()
        .find(|kind| !unit.is_empty() && kind.symbol() == unit);
    kind.map_or(&[0], |kind| prefix::printed(*kind))
}

/// Temperatures, levels and angles: tenths are as fine as they are ever known.
fn one_decimal_at_most(value: f64, rounded: &Rounded) -> String {
    let tenths = rounded.decimals(0) > 0;
    let text = format!("{:.*}", usize::from(tenths), value.abs());
    let is_zero = !text.contains(|c: char| ('1'..='9').contains(&c));
    match (is_zero, value < 0.0) {
        (true, _) => "0".to_owned(),
        (false, true) => format!("{MINUS}{text}"),
        (false, false) => text,
    }
}

/// A value rounded to significant digits: `d.ddd × 10^exponent`.
struct Rounded {
    negative: bool,
    digits: String,
    exponent: i32,
}

impl Rounded {
    fn of(value: f64, significant: usize) -> Self {
        let text = format!("{:.*e}", significant - 1, value.abs());
        let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
        Self {
            negative: value < 0.0,
            digits: mantissa.replace('.', ""),
            exponent: exponent.parse().unwrap_or(0),
        }
    }

    /// Digits behind the point once divided by a power of ten; 0 where the last digit is before it.
    fn decimals(&self, power: i32) -> usize {
        let digits = i32::try_from(self.digits.len()).unwrap_or(i32::MAX);
        usize::try_from(digits - 1 - (self.exponent - power)).unwrap_or(0)
    }

    fn sign(&self) -> &'static str {
        if self.negative { MINUS } else { "" }
    }

    /// Without exponent, divided by a power of ten; `None` where that takes too many zeros to be read.
    fn over_ten_to(&self, power: i32) -> Option<String> {
        if self.digits.bytes().all(|digit| digit == b'0') {
            return Some("0".to_owned());
        }
        let sign = self.sign();
        let point = self.exponent - power + 1;
        if !(-3..=9).contains(&point) {
            return None;
        }
        let decimals = self.decimals(power);
        let leading = usize::try_from(1 - point).unwrap_or(0);
        let trailing = usize::try_from(point)
            .unwrap_or(0)
            .saturating_sub(self.digits.len());
        let all = format!(
            "{}{}{}",
            "0".repeat(leading),
            self.digits,
            "0".repeat(trailing)
        );
        let (whole, fraction) = all.split_at(all.len() - decimals);
        let dot = if fraction.is_empty() { "" } else { "." };
        Some(format!("{sign}{whole}{dot}{fraction}"))
    }

    fn scientific(&self) -> String {
        let (first, rest) = self.digits.split_at(1);
        let dot = if rest.is_empty() { "" } else { "." };
        format!("{}{first}{dot}{rest}e{}", self.sign(), self.exponent)
    }
}

#[cfg(test)]
mod tests {
    use super::{format_si, format_si_signed};

    fn check(value: f64, unit: &str, significant: usize, expected: &str) {
        let plain = format_si(value, unit, significant).replace('\u{a0}', " ");
        assert_eq!(plain, expected, "{value:e} {unit} in {significant} digits");
    }

    #[test]
    fn prefixes_keep_one_to_three_digits_before_the_point() {
        check(-0.380, "V", 3, "\u{2212}380 mV");
        check(13.3, "V", 3, "13.3 V");
        check(118e-6, "V", 3, "118 \u{b5}V");
        check(13.0, "V", 3, "13.0 V");
        check(4700.0, "\u{3a9}", 2, "4.7 k\u{3a9}");
        check(1e7, "Hz", 3, "10.0 MHz");
        check(0.45, "A", 2, "450 mA");
        check(20e-9, "V/\u{221a}Hz", 2, "20 nV/\u{221a}Hz");
    }

    #[test]
    fn rounding_may_reach_the_next_prefix() {
        check(0.9996, "V", 3, "1.00 V");
        check(0.9994, "V", 3, "999 mV");
        check(999.96e-6, "A", 4, "1.000 mA");
    }

    #[test]
    fn numbers_with_fewer_digits_than_their_size() {
        check(460.0, "V", 1, "500 V");
        check(12345.0, "h", 3, "12300 h");
        check(4.7e-3, "F", 2, "4700 \u{b5}F");
        check(1e-18, "V", 2, "1.0e-18 V");
        check(1e-13, "V", 2, "0.10 pV");
    }

    #[test]
    fn units_without_prefix() {
        check(25.0, "\u{b0}C", 3, "25.0 \u{b0}C");
        check(104.6, "\u{b0}C", 3, "105 \u{b0}C");
        check(41.26, "\u{b0}C", 5, "41.3 \u{b0}C");
        check(-0.04, "\u{b0}C", 3, "0 \u{b0}C");
        check(0.03, "K", 2, "0.030 K");
        check(1234.0, "K", 3, "1230 K");
        check(10.54, "%", 3, "10.5 %");
        check(-83.44, "dB", 3, "\u{2212}83.4 dB");
        check(29.97, "\u{b0}", 3, "30.0\u{b0}");
        check(0.75e-6, "m\u{b2}", 2, "0.75 mm\u{b2}");
        check(1.2, "A\u{b2}s", 2, "1.2 A\u{b2}s");
        check(0.8, "", 2, "0.80");
    }

    #[test]
    fn nothing_and_unknown() {
        check(0.0, "V", 3, "0 V");
        check(-0.0, "V", 3, "0 V");
        check(f64::NAN, "V", 3, "unknown");
        check(f64::NEG_INFINITY, "\u{b0}C", 3, "unknown");
    }

    #[test]
    fn margins_show_their_sign() {
        assert_eq!(format_si_signed(0.2, "V", 3), "+200\u{a0}mV");
        assert_eq!(format_si_signed(-0.2, "V", 3), "\u{2212}200\u{a0}mV");
        assert_eq!(format_si_signed(0.0, "V", 3), "0\u{a0}V");
        assert_eq!(format_si_signed(0.01, "\u{b0}C", 2), "0\u{a0}\u{b0}C");
        assert_eq!(format_si_signed(f64::INFINITY, "V", 3), "unknown");
    }
}
