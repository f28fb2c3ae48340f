//! Transistors and shunt regulators.

use super::{Between, Figure, Noise, Span};
use quietrail_units::{Amperes, Celsius, KelvinsPerWatt, Ohms, Ratio, Volts, Watts};

/// A bipolar transistor.
#[derive(Clone, Debug, PartialEq)]
pub struct Transistor {
    /// Node of the collector.
    pub collector: String,
    /// Node of the base.
    pub base: String,
    /// Node of the emitter.
    pub emitter: String,
    /// All voltages and currents the other way round.
    pub is_pnp: bool,
    /// Collector current over base current.
    pub gain: Figure<Ratio>,
    /// Voltage from base to emitter at rising collector currents; one to three points.
    pub base_emitter: Vec<(Figure<Volts>, Figure<Amperes>)>,
    /// Voltage from collector to emitter in saturation, at a collector current.
    pub saturation: (Figure<Volts>, Figure<Amperes>),
    /// Early voltage.
    pub early: Figure<Volts>,
    /// Resistance of the base, as it makes noise; its drop is in `base_emitter`.
    pub base_resistance: Figure<Ohms>,
    /// Junction temperature of the figures.
    pub figures_at: Figure<Celsius>,
    /// Junction to case.
    pub junction_to_case: Option<Figure<KelvinsPerWatt>>,
    /// Case to sink: pad, grease.
    pub case_to_sink: Figure<KelvinsPerWatt>,
    /// Junction to air with no sink.
    pub junction_to_air: Option<Figure<KelvinsPerWatt>>,
    /// Sink it sits on, if any.
    pub sink: Option<String>,
    /// What it is rated for.
    pub rated: TransistorRatings,
    /// Where `collector` stands.
    pub span: Span,
}

impl Transistor {
    /// Where its main current enters and where it leaves: collector and emitter of an NPN.
    pub fn ends(&self) -> (&str, &str) {
        if self.is_pnp {
            (&self.emitter, &self.collector)
        } else {
            (&self.collector, &self.emitter)
        }
    }
}

/// What a transistor is rated for. Absent ratings are not judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TransistorRatings {
    /// From collector to emitter.
    pub volts: Option<Figure<Volts>>,
    /// From emitter to base, in reverse.
    pub reverse: Option<Figure<Volts>>,
    /// Collector current.
    pub current: Option<Figure<Amperes>>,
    /// Base current.
    pub base_current: Option<Figure<Amperes>>,
    /// Power.
    pub power: Option<Figure<Watts>>,
    /// Highest junction temperature.
    pub junction: Option<Figure<Celsius>>,
}

/// A shunt regulator between its two ends: upper end first.
#[derive(Clone, Debug, PartialEq)]
pub struct Shunt {
    /// Its two ends.
    pub between: Between,
    /// The voltage that it holds.
    pub set: ShuntSet,
    /// Rise of it per ampere.
    pub resistance: Figure<Ohms>,
    /// Smallest current at which it regulates.
    pub least: Option<Figure<Amperes>>,
    /// Noise across it.
    pub noise: Option<Noise>,
    /// Junction to air.
    pub junction_to_air: Option<Figure<KelvinsPerWatt>>,
    /// Highest current.
    pub amps: Option<Figure<Amperes>>,
    /// Highest power.
    pub watts: Option<Figure<Watts>>,
    /// Highest junction temperature.
    pub junction: Option<Figure<Celsius>>,
}

/// How a shunt regulator's voltage comes about.
#[derive(Clone, Debug, PartialEq)]
#[allow(
    clippy::large_enum_variant,
    reason = "a job has a handful of shunt regulators"
)]
pub enum ShuntSet {
    /// A zener diode.
    Fixed(Figure<Volts>),
    /// `reference (1 + upper/lower)`.
    Divided {
        /// Between feedback pin and lower end.
        reference: Figure<Volts>,
        /// From the upper end to the feedback pin.
        upper: Figure<Ohms>,
        /// From there to the lower end.
        lower: Figure<Ohms>,
    },
}

impl ShuntSet {
    /// Voltage with all figures at their nominal.
    pub fn volts(&self) -> f64 {
        match self {
            ShuntSet::Fixed(volts) => volts.nominal(),
            ShuntSet::Divided {
                reference,
                upper,
                lower,
            } => reference.nominal() * (1.0 + upper.nominal() / lower.nominal()),
        }
    }

    /// Gain from the reference to the whole.
    pub fn gain(&self) -> f64 {
        match self {
            ShuntSet::Fixed(_) => 1.0,
            ShuntSet::Divided { upper, lower, .. } => 1.0 + upper.nominal() / lower.nominal(),
        }
    }
}
