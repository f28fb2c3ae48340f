//! Figures computed from other figures: the whole range of each input goes into the range of the result.

use super::fields::Fields;
use crate::model::{Figure, Origin};
use quietrail_units::{Celsius, Form, Quantity, Unit};

/// A range with its nominal value; exact where the ends meet.
pub(crate) fn range<U: Unit>(low: f64, nominal: f64, high: f64) -> Quantity<U> {
    if low == high {
        return Quantity::exact(nominal);
    }
    Quantity::within(low, nominal, high, Form::RangeAround)
}

/// A default with its range.
pub(crate) fn default_range<U: Unit>(
    low: f64,
    nominal: f64,
    high: f64,
    why: &'static str,
) -> Figure<U> {
    Figure::default_of(range(low, nominal, high), why)
}

/// A default without a range.
pub(crate) fn default_exact<U: Unit>(value: f64, why: &'static str) -> Figure<U> {
    Figure::default_of(Quantity::exact(value), why)
}

/// A figure that rises with `top` and falls with `bottom`, both not negative: `scale top / bottom`.
pub(crate) fn quotient<U: Unit, T: Unit, B: Unit>(
    scale: f64,
    top: &Figure<T>,
    bottom: &Figure<B>,
) -> Figure<U> {
    let value = range(
        scale * top.value.low / bottom.value.high,
        scale * top.value.nominal / bottom.value.nominal,
        scale * top.value.high / bottom.value.low,
    );
    Figure {
        value,
        origin: top.origin.clone(),
        span: top.span.clone(),
    }
}

/// A figure computed from one whose origin it shares.
pub(crate) fn from<U: Unit, V: Unit>(of: &Figure<V>, value: Quantity<U>) -> Figure<U> {
    Figure {
        value,
        origin: of.origin.clone(),
        span: of.span.clone(),
    }
}

/// Highest temperature of insulation by its class, °C: the hot spot that IEC 60085 allows, as quoted in texts on motors.
const CLASS_CELSIUS: [(&str, f64); 7] = [
    ("A", 105.0),
    ("E", 120.0),
    ("B", 130.0),
    ("F", 155.0),
    ("H", 180.0),
    ("N", 200.0),
    ("R", 220.0),
];

/// Highest copper temperature of a transformer: given, or by the class of its insulation.
pub(crate) fn copper_max(fields: &Fields<'_>) -> Option<Figure<Celsius>> {
    let Some(class) = fields.text("class") else {
        return fields.figure("copper_max");
    };
    let (_, celsius) = CLASS_CELSIUS.iter().find(|(letter, _)| *letter == class)?;
    Some(Figure {
        value: Quantity::exact(*celsius),
        origin: Origin::Drawn,
        span: fields.job_span("class"),
    })
}
