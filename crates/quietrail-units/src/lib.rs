//! Quantities as the bench writes them: a number, its unit and its tolerance.
//!
//! A [`Quantity<U>`] is read from text such as `4700 µF ±20 %`, `4k7`, `230 V (207 V .. 244 V)` and
//! holds SI values (temperatures: degrees Celsius). Printing a quantity and reading it back gives the
//! same quantity.

mod quantity;
mod unit;

pub use quantity::{Form, Quantity, QuantityError};
pub use unit::{
    Amperes, AmpereSquaredSeconds, Celsius, Decibels, Degrees, Farads, Henries, Hertz, Hours, Joules,
    Kelvins, KelvinsPerWatt, Metres, Ohms, Ratio, Seconds, Siemens, SquareMetres, Unit, Volts,
    VoltAmperes, VoltsPerRootHertz, Watts,
};
