//! When a search ends although its cycles do not close: they only meet the errors of their own steps.

use super::closing::Mapped;

/// Drift of a cycle below which a rough search may meet the errors of its own steps, and cycles that show it; where
/// stores are held in their fall, more of them.
const NOISY: f64 = 0.03;
const PATIENT: usize = 4;
const PATIENT_IN_FALL: usize = 12;
/// Fine cycles that show that what is left is the errors of their steps.
const FEW: usize = 4;

/// What a rough search does once its cycles close as nearly as the errors of their steps let them.
#[derive(Debug, Default)]
pub(super) struct Noise {
    /// The cycle that closed best so far, and by how much it did not.
    quietest: Option<Mapped>,
    least: f64,
    /// Cycles since.
    since: usize,
}

impl Noise {
    /// The cycle that closed best.
    pub(super) fn quietest(self) -> Option<Mapped> {
        self.quietest
    }

    /// Whether cycles that nearly close no longer close better.
    pub(super) fn meets(&mut self, drift: f64, here: &Mapped, is_held: bool) -> bool {
        if drift > NOISY {
            return false;
        }
        if self.quietest.is_none() || drift < 0.7 * self.least {
            *self = Self {
                quietest: Some(here.clone()),
                least: drift,
                since: 0,
            };
        }
        self.since += 1;
        self.since > if is_held { PATIENT_IN_FALL } else { PATIENT }
    }
}

/// The least leap that was left, and how many cycles ago that was.
#[derive(Debug)]
pub(super) struct Least {
    left: f64,
    since: usize,
}

impl Default for Least {
    fn default() -> Self {
        Self {
            left: f64::INFINITY,
            since: 0,
        }
    }
}

impl Least {
    /// Whether what is left no longer becomes less, and is about the least that it was.
    pub(super) fn meets(&mut self, left: f64) -> bool {
        if left < 0.7 * self.left {
            (self.left, self.since) = (left, 0);
        }
        self.since += 1;
        self.since > FEW && left < 2.0 * self.left
    }
}
