//! Figures of any unit: read from a field, written back to the job file with their tolerance.

use quietrail_job::Parameter;
use quietrail_units::{
    Amperes, Celsius, Decibels, Farads, Henries, Hertz, Hours, Kelvins, KelvinsPerWatt, Ohms,
    Quantity, QuantityError, Ratio, Seconds, Siemens, Unit, Volts, Watts,
};

/// A figure as read: lowest, nominal, highest, and how it is written in full.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Read {
    pub(crate) low: f64,
    pub(crate) nominal: f64,
    pub(crate) high: f64,
    pub(crate) text: String,
}

/// Reads a text as a figure of a unit, by the unit's symbol.
pub(crate) fn read(text: &str, symbol: &str) -> Result<Read, QuantityError> {
    match symbol {
        "V" => of::<Volts>(text),
        "A" => of::<Amperes>(text),
        "Ω" => of::<Ohms>(text),
        "S" => of::<Siemens>(text),
        "F" => of::<Farads>(text),
        "H" => of::<Henries>(text),
        "Hz" => of::<Hertz>(text),
        "s" => of::<Seconds>(text),
        "h" => of::<Hours>(text),
        "W" => of::<Watts>(text),
        "°C" => of::<Celsius>(text),
        "K" => of::<Kelvins>(text),
        "K/W" => of::<KelvinsPerWatt>(text),
        "dB" => of::<Decibels>(text),
        _ => of::<Ratio>(text),
    }
}

fn of<U: Unit>(text: &str) -> Result<Read, QuantityError> {
    let quantity = Quantity::<U>::parse(text)?;
    Ok(Read {
        low: quantity.low,
        nominal: quantity.nominal,
        high: quantity.high,
        text: quantity.to_string(),
    })
}

/// How a figure is written into the job file: the nominal with the tolerance that it has.
pub(crate) fn written(parameter: &Parameter) -> String {
    let Parameter {
        low,
        nominal,
        high,
        unit,
        ..
    } = *parameter;
    let one = |value: f64| plain(value, unit);
    if low == high {
        return one(nominal);
    }
    let (down, up) = (
        (nominal - low) / nominal * 100.0,
        (high - nominal) / nominal * 100.0,
    );
    if is_round(down) && is_round(up) && nominal > 0.0 && !matches!(unit, "°C" | "") {
        let (down, up) = (trimmed(down), trimmed(up));
        if down == up {
            return format!("{} ±{up} %", one(nominal));
        }
        return format!("{} -{down}/+{up} %", one(nominal));
    }
    format!("{} ({} .. {})", one(nominal), one(low), one(high))
}

/// A value that reads back as itself: the fewest digits that do.
pub(crate) fn plain(value: f64, unit: &str) -> String {
    for digits in 1..=15 {
        let text = quietrail_units::format_si(value, unit, digits);
        let text = text.replace('\u{a0}', " ").replace('\u{2212}', "-");
        let back = read(&text, unit).map(|read| read.nominal);
        if back.is_ok_and(|back| (back - value).abs() <= 1e-9 * value.abs()) {
            return text;
        }
    }
    format!("{value} {unit}")
}

fn is_round(percent: f64) -> bool {
    (percent * 100.0 - (percent * 100.0).round()).abs() < 1e-5 && (0.0..1000.0).contains(&percent)
}

fn trimmed(percent: f64) -> String {
    let text = format!("{percent:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::{plain, read, written};
    use quietrail_job::{Address, Parameter, Shape};

    fn parameter(low: f64, nominal: f64, high: f64, unit: &'static str) -> Parameter {
        Parameter {
            address: Address("C1.value".to_owned()),
            low,
            nominal,
            high,
            shape: Shape::Even,
            unit,
            why_default: None,
        }
    }

    #[test]
    fn what_is_written_reads_back_as_it_was() {
        for (low, nominal, high, unit, expected) in [
            (3.76e-3, 4.7e-3, 5.64e-3, "F", "4700 µF ±20 %"),
            (207.0, 230.0, 243.8, "V", "230 V -10/+6 %"),
            (0.03, 0.05, 0.09, "Ω", "50 mΩ -40/+80 %"),
            (8.0, 12.0, 16.5, "K", "12 K -33.33/+37.5 %"),
            (12.0, 12.0, 12.0, "V", "12 V"),
            (15.0, 25.0, 35.0, "°C", "25 °C (15 °C .. 35 °C)"),
        ] {
            let text = written(&parameter(low, nominal, high, unit));
            if expected.contains("33.33") {
                // A third of a percent is not round: the ends are written.
                assert_eq!(text, "12 K (8 K .. 16.5 K)");
            } else {
                assert_eq!(text, expected);
            }
            let back = read(&text, unit).expect("reads back");
            assert!(
                (back.low - low).abs() < 1e-9 * low.abs().max(1e-9),
                "{text}"
            );
            assert!((back.high - high).abs() < 1e-9 * high.abs(), "{text}");
        }
    }

    #[test]
    fn plain_values_have_no_more_digits_than_they_need() {
        assert_eq!(plain(4.7e-3, "F"), "4700 µF");
        assert_eq!(plain(124.2, "Ω"), "124.2 Ω");
    }
}
