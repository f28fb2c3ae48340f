//! Figures computed from other figures: the whole range of each input goes into the range of the result.

use crate::model::Figure;
use quietrail_units::{Form, Quantity, Unit};

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
