//! A value as its shortest decimal digits, so that powers of ten cost no rounding.

use std::ops::RangeInclusive;

/// Places of the decimal point at which a number is still read without counting zeros.
const PLAIN: RangeInclusive<i32> = -4..=9;

/// The shortest digits of a value: `0.d₁d₂… × 10^point`.
pub(crate) struct Digits {
    pub(crate) negative: bool,
    pub(crate) digits: String,
    pub(crate) point: i32,
}

impl Digits {
    /// The shortest digits that read back to `value`, times a power of ten.
    pub(crate) fn of(value: f64, shift: i32) -> Self {
        let text = format!("{:e}", value.abs());
        let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
        let exponent: i32 = exponent.parse().unwrap_or(0);
        let shift = if value == 0.0 { 0 } else { shift };
        Self {
            negative: value < 0.0,
            digits: mantissa.replace('.', ""),
            point: exponent + 1 + shift,
        }
    }

    fn sign(&self) -> &'static str {
        if self.negative { "-" } else { "" }
    }

    /// Without exponent, divided by a power of ten; `None` where that takes too many zeros to be read.
    pub(crate) fn plain(&self, power: i32) -> Option<String> {
        let point = self.point - power;
        let sign = self.sign();
        let digits = &self.digits;
        let length = i32::try_from(digits.len()).ok()?;
        if !PLAIN.contains(&point) {
            return None;
        }
        if point <= 0 {
            return Some(format!(
                "{sign}0.{}{digits}",
                "0".repeat(point.unsigned_abs() as usize)
            ));
        }
        if point >= length {
            let zeros = "0".repeat((point - length).unsigned_abs() as usize);
            return Some(format!("{sign}{digits}{zeros}"));
        }
        let (whole, fraction) = digits.split_at(point.unsigned_abs() as usize);
        Some(format!("{sign}{whole}.{fraction}"))
    }

    /// With its exponent: `1e-20`.
    pub(crate) fn scientific(&self) -> String {
        let (first, rest) = self.digits.split_at(1);
        let dot = if rest.is_empty() { "" } else { "." };
        format!("{}{first}{dot}{rest}e{}", self.sign(), self.point - 1)
    }
}
