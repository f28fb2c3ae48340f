//! Quantities as the bench writes them: a number, its unit and its tolerance.
//!
//! A [`Quantity<U>`] is read from text such as `4700 µF ±20 %`, `4k7`, `230 V (207 V .. 244 V)` and
//! holds SI values (temperatures: degrees Celsius). Printing a quantity and reading it back gives the
//! same quantity. A text with two meanings is an error that holds both.
//!
//! ```
//! use quietrail_units::{Ohms, Quantity, QuantityFault};
//!
//! let upper = Quantity::<Ohms>::parse("1k05 ±1 %")?;
//! assert_eq!(upper.nominal, 1050.0);
//! assert_eq!(upper.to_string(), "1.05\u{a0}kΩ ±1\u{a0}%");
//!
//! let question = Quantity::<Ohms>::parse("1 M").unwrap_err();
//! assert!(matches!(question.fault, QuantityFault::Ambiguous { .. }));
//! assert_eq!(
//!     question.to_string(),
//!     "1 M can be read in more than one way: write 1\u{a0}mΩ or 1\u{a0}MΩ"
//! );
//! # Ok::<(), quietrail_units::QuantityError>(())
//! ```
//!
//! How a text is read: `read` (a number and its unit, then a tolerance or a range), with every spelling of
//! a unit in `spelling` and every prefix in `prefix`. How it is printed: `print` in full, [`format_si`] in
//! a few digits. Preferred values and marks on parts: [`series`] and [`code`].

pub mod code;
mod digits;
mod error;
mod prefix;
mod print;
mod quantity;
mod read;
pub mod series;
mod short;
mod spelling;
mod unit;
pub mod wire;

pub use error::{QuantityError, QuantityFault};
pub use quantity::{Form, Quantity};
pub use short::{UNKNOWN, format_si, format_si_signed};
pub use unit::{
    AmpereSquaredSeconds, Amperes, Celsius, DecibelMilliwatts, Decibels, Degrees, Farads, Henries,
    Hertz, HertzPerVolt, Hours, Joules, Kelvins, KelvinsPerWatt, Kilograms, Kind, Metres, Ohms,
    PerVolt, Ratio, Seconds, Siemens, SquareMetres, Unit, VoltAmperes, Volts, VoltsPerRootHertz,
    Watts,
};
