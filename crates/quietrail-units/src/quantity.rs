//! One value with its tolerance, read from text and printed back.

use crate::Unit;
use std::{fmt, marker::PhantomData};

/// A value with its range. `low <= nominal <= high`, all finite, in SI (see [`Unit`] for exceptions).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity<U: Unit> {
    /// Lowest value within tolerance.
    pub low: f64,
    /// The value as marked; the middle of a range that names none.
    pub nominal: f64,
    /// Highest value within tolerance.
    pub high: f64,
    /// How it was written, so that it prints the same way.
    pub form: Form,
    unit: PhantomData<U>,
}

/// How the tolerance of a quantity was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// No tolerance: `45 mΩ`.
    Exact,
    /// Relative: `±20 %`, `-20/+50 %`.
    Percent,
    /// In the unit: `15.6 V ±0.1 V`.
    Absolute,
    /// `207 V .. 253 V`; the nominal is the middle.
    Range,
    /// `230 V (207 V .. 244 V)`.
    RangeAround,
}

/// Why a text is not a quantity of the wanted unit.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct QuantityError {}

impl<U: Unit> Quantity<U> {
    /// A value without tolerance.
    pub const fn exact(value: f64) -> Self {
        Self { low: value, nominal: value, high: value, form: Form::Exact, unit: PhantomData }
    }

    /// A value with its limits; `low <= nominal <= high`.
    pub const fn within(low: f64, nominal: f64, high: f64, form: Form) -> Self {
        Self { low, nominal, high, form, unit: PhantomData }
    }

    /// Reads a quantity as people write it.
    ///
    /// # Errors
    /// Says what was read and what would be accepted.
    pub fn parse(_text: &str) -> Result<Self, QuantityError> {
        Err(QuantityError {})
    }
}

impl<U: Unit> fmt::Display for Quantity<U> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.nominal, U::SYMBOL)
    }
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("not a quantity")
    }
}

impl std::error::Error for QuantityError {}
