//! Bring-up steps as the builder states them, and what is at hand for them.

use super::{Between, Figure, Span};
use quietrail_units::{Ohms, Ratio, Volts, Watts};

/// What is at hand for the bring-up.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OnHand {
    /// Power resistors: ohms and the watts that each may take.
    pub resistors: Vec<(Figure<Ohms>, Figure<Watts>)>,
    /// Tungsten lamps: rated watts and volts.
    pub lamps: Vec<(Figure<Watts>, Figure<Volts>)>,
    /// A variable transformer: the resistance in its output.
    pub variable_transformer: Option<Figure<Ohms>>,
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
