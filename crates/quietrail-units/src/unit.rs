//! The units that a job file can hold.

use std::fmt::Debug;

/// A unit of measure, known at compile time.
pub trait Unit: Copy + Clone + Debug + PartialEq + 'static {
    /// The symbol printed after the number, without prefix: `V`, `Ω`, `°C`, `K/W`.
    const SYMBOL: &'static str;
    /// What the unit measures, as said in errors: `voltage`.
    const MEASURES: &'static str;
}

macro_rules! unit {
    ($($(#[$doc:meta])* $name:ident, $symbol:literal, $measures:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Copy, Clone, Debug, PartialEq, Eq, Hash)]
        pub struct $name;
        impl Unit for $name {
            const SYMBOL: &'static str = $symbol;
            const MEASURES: &'static str = $measures;
        }
    )*};
}

unit! {
    /// Electric potential difference.
    Volts, "V", "voltage";
    /// Electric current.
    Amperes, "A", "current";
    /// Resistance.
    Ohms, "Ω", "resistance";
    /// Conductance.
    Siemens, "S", "conductance";
    /// Capacitance.
    Farads, "F", "capacitance";
    /// Inductance.
    Henries, "H", "inductance";
    /// Frequency.
    Hertz, "Hz", "frequency";
    /// Time at the bench.
    Seconds, "s", "time";
    /// Service life; stored in hours.
    Hours, "h", "life";
    /// Power.
    Watts, "W", "power";
    /// Apparent power.
    VoltAmperes, "VA", "apparent power";
    /// Energy.
    Joules, "J", "energy";
    /// Temperature; stored in degrees Celsius.
    Celsius, "°C", "temperature";
    /// Temperature difference.
    Kelvins, "K", "temperature difference";
    /// Thermal resistance.
    KelvinsPerWatt, "K/W", "thermal resistance";
    /// Length.
    Metres, "m", "length";
    /// Cross-section; stored in square metres, written in mm².
    SquareMetres, "m²", "cross-section";
    /// A plain number or a percentage (stored as a fraction).
    Ratio, "", "ratio";
    /// A level difference in decibels.
    Decibels, "dB", "level";
    /// Electrical angle of the mains cycle.
    Degrees, "°", "angle";
    /// Noise density.
    VoltsPerRootHertz, "V/√Hz", "noise density";
    /// Let-through of a fuse.
    AmpereSquaredSeconds, "A²s", "let-through";
}
