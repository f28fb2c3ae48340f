//! Addresses of everything adjustable, and changes to a job (contracts: one address each).

use crate::model::Job;
use std::fmt;

/// The address of one adjustable figure: `C1.value`, `T1.S1.resistance`, `mains.voltage`,
/// `load.oven.cold`, `room`.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Address(pub String);

/// One adjustable figure of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// Where it is.
    pub address: Address,
    /// Lowest value within tolerance, SI.
    pub low: f64,
    /// Value as marked, SI.
    pub nominal: f64,
    /// Highest value within tolerance, SI.
    pub high: f64,
    /// Unit symbol without prefix.
    pub unit: &'static str,
    /// Whether the job leaves it out, so that a default stands in.
    pub is_default: bool,
}

/// One change to a job.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Moves a figure; its tolerance moves along (percentages scale, absolute tolerances shift).
    Set {
        /// Which figure.
        address: Address,
        /// New nominal value, SI.
        value: f64,
    },
    /// Takes a part out, leaving its ends open.
    Open(String),
    /// Puts a dead short in place of a part.
    Short(String),
    /// Turns a winding round: `T1.S2`.
    Reverse(String),
}

/// Why a change cannot be made.
#[derive(Clone, Debug, PartialEq)]
pub enum ChangeError {
    /// No figure has this address.
    UnknownAddress {
        /// As asked.
        address: String,
        /// The nearest known one.
        nearest: Option<String>,
    },
    /// No part or winding has this name.
    UnknownPart {
        /// As asked.
        name: String,
        /// The nearest known one.
        nearest: Option<String>,
    },
    /// The value cannot be taken there (negative resistance, zero capacitance, not finite).
    Impossible {
        /// Which figure.
        address: String,
        /// The value asked for.
        value: f64,
    },
}

impl Job {
    /// Every adjustable figure, in the order of the file. Figures without tolerance have equal ends.
    pub fn parameters(&self) -> Vec<Parameter> {
        Vec::new()
    }

    /// A copy with all changes made in order.
    ///
    /// # Errors
    /// The first change that cannot be made.
    pub fn with(&self, _changes: &[Change]) -> Result<Job, ChangeError> {
        Ok(self.clone())
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}
