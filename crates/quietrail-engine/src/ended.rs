//! How a computation ended. Only [`Ended::Settled`] can support a verdict.

use crate::system::Place;

/// How the search for a periodic steady state ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ended {
    /// Found: the cycle closes.
    Settled {
        /// Largest change over the cycle, as a share of each store's swing.
        residual: f64,
    },
    /// Found, but a disturbance would grow: it is not what the circuit does.
    Unstable {
        /// Largest Floquet multiplier.
        multiplier: f64,
    },
    /// Found, but it would not last: the circuit swings.
    Swings {
        /// Over how many cycles of the mains it about repeats, two at least; none where it does not.
        cycles: Option<u64>,
    },
    /// The allowed number of cycles did not suffice.
    CyclesSpent {
        /// Largest change over the last cycle, as a share of each store's swing.
        drift: f64,
    },
    /// The allowed number of steps did not suffice.
    StepsSpent,
    /// The equations could not be solved at any step length.
    NoStep {
        /// When, in cycles.
        at: f64,
        /// Where they resisted most.
        place: Place,
    },
    /// The equations leave something undetermined, or contradict each other.
    Singular {
        /// When, in cycles.
        at: f64,
        /// Where.
        place: Place,
    },
}

impl Ended {
    /// Whether the solution can support a verdict.
    pub fn is_settled(&self) -> bool {
        matches!(self, Ended::Settled { .. })
    }
}
