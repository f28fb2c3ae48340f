//! Instruments and bring-up steps, as the builder states them.

use super::{Between, Figure, Span};
use quietrail_units::{Ohms, Ratio, Volts, Watts};

/// An instrument on the bench.
#[derive(Clone, Debug, PartialEq)]
pub struct Instrument {
    /// `meter`
    pub name: String,
    /// `multimeter`
    pub kind: String,
    /// What the job says about it, as written: `("ac.band", "20 Hz .. 20 kHz")`; a list gives one pair for
    /// each item, all under the same key.
    pub specs: Vec<(String, String)>,
    /// Where its table starts.
    pub span: Span,
}

/// A bring-up step that the builder adds or changes.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Unique in a job.
    pub name: String,
    /// What stands between the outlet and the job, if anything.
    pub through: Option<Through>,
    /// Parts that are left out or bridged.
    pub instead_of: Vec<(String, InsteadOf)>,
    /// A dummy load, if any.
    pub dummy: Option<Dummy>,
    /// Indices into [`super::Job::states`]; all where the step names none.
    pub states: Vec<usize>,
    /// Where its table starts.
    pub span: Span,
}

/// What stands between the outlet and the job.
#[derive(Clone, Debug, PartialEq)]
pub enum Through {
    /// A tungsten lamp in series.
    Lamp {
        /// Rated power.
        watts: Figure<Watts>,
        /// Rated voltage.
        volts: Figure<Volts>,
    },
    /// A variable transformer: output volts over input volts.
    VariableTransformer(Figure<Ratio>),
}

/// What is done to a part in a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InsteadOf {
    /// Left out, its ends open.
    Out,
    /// Bridged.
    Short,
}

/// A dummy load.
#[derive(Clone, Debug, PartialEq)]
pub struct Dummy {
    /// Its two ends.
    pub between: Between,
    /// Its resistance.
    pub ohms: Figure<Ohms>,
}
