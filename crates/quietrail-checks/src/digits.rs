//! Numbers with a fixed count of significant digits, so that a table is the same text on every machine.

/// Digits of a figure.
const FIGURE: usize = 8;

/// A figure with eight significant digits; far from 1 with a power of ten.
pub(crate) fn figure(value: f64) -> String {
    significant(value, FIGURE)
}

/// A difference with one significant digit. Below 1e-12 it is rounding, and says so.
pub(crate) fn difference(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if value < 1e-12 {
        return "under 1e-12".to_owned();
    }
    format!("{value:.0e}")
}

fn significant(value: f64, digits: usize) -> String {
    let scientific = format!("{value:.*e}", digits - 1);
    let exponent = scientific
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse::<i32>().ok());
    let Some(exponent) = exponent.filter(|exponent| (-4..8).contains(exponent)) else {
        return scientific;
    };
    // Between 0.0001 and 99999999 a plain number reads better.
    let last = i32::try_from(digits).unwrap_or(i32::MAX) - 1;
    let decimals = usize::try_from(last - exponent).unwrap_or(0);
    let plain = format!("{value:.decimals$}");
    if plain.contains('.') {
        return plain.trim_end_matches('0').trim_end_matches('.').to_owned();
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::{difference, figure};

    #[test]
    fn figures_keep_eight_digits() {
        assert_eq!(figure(0.735_601_312_345), "0.73560131");
        assert_eq!(figure(2.0), "2");
        assert_eq!(figure(123_456_789.0), "1.2345679e8");
        assert_eq!(figure(9.999_999_99), "10");
        assert_eq!(figure(-1e-7), "-1.0000000e-7");
        assert_eq!(figure(0.0), "0");
    }

    #[test]
    fn differences_keep_one() {
        assert_eq!(difference(3.4e-7), "3e-7");
        assert_eq!(difference(0.0), "0");
        assert_eq!(difference(2e-16), "under 1e-12");
    }
}
