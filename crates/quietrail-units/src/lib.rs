//! Quantities as the bench writes them: a number, its unit and its tolerance.
//!
//! A [`Quantity<U>`] is read from text such as `4700 µF ±20 %`, `4k7`, `230 V (207 V .. 244 V)` and
//! holds SI values (temperatures: degrees Celsius). Printing a quantity and reading it back gives the
//! same quantity.

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
    AmpereSquaredSeconds, Amperes, Celsius, Decibels, Degrees, Farads, Henries, Hertz, Hours,
    Joules, Kelvins, KelvinsPerWatt, Kind, Metres, Ohms, Ratio, Seconds, Siemens, SquareMetres,
    Unit, VoltAmperes, Volts, VoltsPerRootHertz, Watts,
};
