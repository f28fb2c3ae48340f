//! One value with its tolerance.

use crate::{QuantityError, Unit, read};
use std::marker::PhantomData;

/// A value with its range. `low <= nominal <= high`, all finite, in SI (see [`Unit`] for exceptions).
///
/// ```
/// use quietrail_units::{Farads, Form, Quantity};
/// let reservoir = Quantity::<Farads>::parse("4700u -20/+50 %")?;
/// assert_eq!(reservoir.nominal, 4700e-6);
/// assert_eq!(reservoir.form, Form::Percent);
/// assert_eq!(reservoir.to_string(), "4700\u{a0}µF -20/+50\u{a0}%");
/// # Ok::<(), quietrail_units::QuantityError>(())
/// ```
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

impl<U: Unit> Quantity<U> {
    /// A value without tolerance.
    pub const fn exact(value: f64) -> Self {
        Self {
            low: value,
            nominal: value,
            high: value,
            form: Form::Exact,
            unit: PhantomData,
        }
    }

    /// A value with its limits; `low <= nominal <= high`.
    pub const fn within(low: f64, nominal: f64, high: f64, form: Form) -> Self {
        Self {
            low,
            nominal,
            high,
            form,
            unit: PhantomData,
        }
    }

    /// Reads a quantity as people write it.
    ///
    /// Read are, for instance, `4700 µF`, `4700u`, `4k7`, `0R47`, `6V3`, `1,5 V`, `450 mA ±10 %`,
    /// `4700 µF -20/+50 %`, `15.6 V ±0.1 V`, `207 V .. 253 V`, `between 18 and 20 V` and
    /// `230 V (207 V .. 244 V)`. Point and comma both mark decimals. A percentage of a negative value is
    /// taken of its size: -12 V ±5 % goes from -12.6 V to -11.4 V.
    ///
    /// # Errors
    /// Says what was read and what would be accepted. A text with two meanings is an error that holds
    /// both, never a guess: `1 M` of resistance, `mF`.
    pub fn parse(text: &str) -> Result<Self, QuantityError> {
        let read = read::quantity(text, U::KIND)?;
        Ok(Self::within(read.low, read.nominal, read.high, read.form))
    }
}
