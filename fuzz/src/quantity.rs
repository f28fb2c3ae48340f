//! The reader of quantities, of codes on parts, and what prints them.
//!
//! Input: one text, read as a quantity of every kind there is. Its first eight bytes are a value too.

use quietrail_units::series::Series;
use quietrail_units::{
    AmpereSquaredSeconds, Amperes, Celsius, Decibels, Degrees, Farads, Henries, Hertz,
    HertzPerVolt, Hours, Joules, Kelvins, KelvinsPerWatt, Kind, Metres, Ohms, PerVolt, Quantity,
    QuantityFault, Ratio, Seconds, Siemens, SquareMetres, Unit, VoltAmperes, Volts,
    VoltsPerRootHertz, Watts, code, format_si, format_si_signed, wire,
};

/// Reads the input as everything that it could be.
///
/// # Panics
/// A reader or printer keeps one of its promises not.
pub fn check(input: &[u8]) {
    if let Some(bytes) = input.first_chunk() {
        check_value(f64::from_le_bytes(*bytes));
    }
    if let Ok(text) = std::str::from_utf8(input) {
        check_text(text);
    }
}

fn check_text(text: &str) {
    check_quantity::<Volts>(text);
    check_quantity::<Amperes>(text);
    check_quantity::<Ohms>(text);
    check_quantity::<Siemens>(text);
    check_quantity::<Farads>(text);
    check_quantity::<Henries>(text);
    check_quantity::<Hertz>(text);
    check_quantity::<Seconds>(text);
    check_quantity::<Hours>(text);
    check_quantity::<Watts>(text);
    check_quantity::<VoltAmperes>(text);
    check_quantity::<Joules>(text);
    check_quantity::<Celsius>(text);
    check_quantity::<Kelvins>(text);
    check_quantity::<KelvinsPerWatt>(text);
    check_quantity::<Metres>(text);
    check_quantity::<SquareMetres>(text);
    check_quantity::<Ratio>(text);
    check_quantity::<Decibels>(text);
    check_quantity::<Degrees>(text);
    check_quantity::<VoltsPerRootHertz>(text);
    check_quantity::<HertzPerVolt>(text);
    check_quantity::<PerVolt>(text);
    check_quantity::<AmpereSquaredSeconds>(text);
    for kind in Kind::ALL {
        if let Some(value) = code::read(text, *kind) {
            assert!(value >= 0.0, "{text} as {kind:?}: {value}");
        }
    }
    if let Some(farads) = code::three_digits(text) {
        assert!(farads.is_finite() && farads > 0.0, "{text}: {farads}");
    }
}

fn check_quantity<U: Unit>(text: &str) {
    let quantity = match Quantity::<U>::parse(text) {
        Ok(quantity) => quantity,
        Err(error) => {
            assert!(
                text.get(error.at.clone()).is_some(),
                "{error:?} points outside `{text}`, or into a character"
            );
            assert!(!error.to_string().is_empty(), "{error:?}");
            if let QuantityFault::Ambiguous { choices, .. } = &error.fault {
                assert!(choices.len() > 1, "{error:?}: no question");
            }
            return;
        }
    };
    let range = [quantity.low, quantity.nominal, quantity.high];
    assert!(
        range.is_sorted() && range.iter().all(|value| value.is_finite()),
        "`{text}`: {quantity:?}"
    );
    let printed = quantity.to_string();
    let again = Quantity::<U>::parse(&printed)
        .unwrap_or_else(|error| panic!("`{text}` is printed `{printed}`, and that: {error}"));
    assert_eq!(quantity, again, "`{text}` is printed `{printed}`");
    assert_eq!(printed, again.to_string(), "`{text}`");
}

/// What takes a number rather than a text.
fn check_value(value: f64) {
    for kind in Kind::ALL {
        if let Some(printed) = code::print(value, *kind) {
            assert_eq!(
                code::read(&printed, *kind),
                Some(value),
                "{kind:?} {printed}"
            );
        }
        for significant in [1, 3, 17] {
            let plain = format_si(value, kind.symbol(), significant);
            let signed = format_si_signed(value, kind.symbol(), significant);
            assert!(
                signed.trim_start_matches('+') == plain,
                "{plain} and {signed}"
            );
        }
    }
    for series in Series::ALL {
        check_series(series, value);
    }
    let gauge = value.to_bits() as i32; // any bits will do
    if let Some(area) = wire::cross_section(gauge) {
        assert!(area > 0.0, "gauge {gauge}: {area} m²");
    }
}

fn check_series(series: Series, value: f64) {
    let below = series.at_or_below(value);
    let above = series.at_or_above(value);
    assert!(
        below.is_none_or(|below| below <= value),
        "{series:?} {value}"
    );
    assert!(
        above.is_none_or(|above| above >= value),
        "{series:?} {value}"
    );
    if let Some(nearest) = series.nearest(value) {
        assert!(
            below == Some(nearest) || above == Some(nearest),
            "{series:?} {value}: {nearest}"
        );
        assert!(series.holds(nearest), "{series:?} {value}: {nearest}");
    }
    if let Some(down) = series.next_down(value) {
        assert!(down < value && series.holds(down), "{series:?} {value}");
    }
    if let Some(up) = series.next_up(value) {
        assert!(up > value && series.holds(up), "{series:?} {value}");
    }
}
