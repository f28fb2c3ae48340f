//! The wall socket and the parts between it and the transformer.

use super::{Between, Figure};
use quietrail_units::{Amperes, Hertz, Ohms, Ratio, Volts, Watts};

/// Whose mains practice applies: the text as written, and what was recognised in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// `230 V 50 Hz`
    pub name: String,
    /// Nominal voltage read from the name.
    pub volts: f64,
    /// Nominal frequency read from the name.
    pub hertz: f64,
}

/// The outlet: a wave of fixed rms with a share of third harmonic in phase (flat top).
#[derive(Clone, Debug, PartialEq)]
pub struct Mains {
    /// Voltage, rms.
    pub voltage: Figure<Volts>,
    /// Frequency.
    pub frequency: Figure<Hertz>,
    /// Third-harmonic share `a` of the wave `sin θ + a sin 3θ`, 0 to 1/9.
    pub flatness: Figure<Ratio>,
}

/// A fuse. Electrically a small resistance.
#[derive(Clone, Debug, PartialEq)]
pub struct Fuse {
    /// Its two ends.
    pub between: Between,
    /// Rated current.
    pub rated: Figure<Amperes>,
    /// `time-lag`, `quick-acting`; empty where the job does not say.
    pub characteristic: String,
    /// Cold resistance.
    pub resistance: Figure<Ohms>,
}

/// A switch in the mains or on a DC rail.
#[derive(Clone, Debug, PartialEq)]
pub struct Switch {
    /// Its two ends.
    pub between: Between,
    /// Contact resistance while closed.
    pub resistance: Figure<Ohms>,
    /// Whether it is closed.
    pub closed: bool,
    /// Contact rating, if given.
    pub rated: Option<Figure<Amperes>>,
}

/// A tungsten lamp in series: its resistance follows its own rms voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Lamp {
    /// Its two ends.
    pub between: Between,
    /// Rated power.
    pub watts: Figure<Watts>,
    /// Rated voltage.
    pub volts: Figure<Volts>,
}

/// A variable transformer: an ideal ratio with a source resistance.
///
/// It stands between the outlet (`from`, default `inlet`) and its output node pair.
#[derive(Clone, Debug, PartialEq)]
pub struct VariableTransformer {
    /// Live side fed from.
    pub from: String,
    /// Live side delivered to.
    pub into: String,
    /// Common return of both sides.
    pub ret: String,
    /// Output volts over input volts.
    pub setting: Figure<Ratio>,
    /// Resistance seen at its output.
    pub resistance: Figure<Ohms>,
}
