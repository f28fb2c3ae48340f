//! Captures that can be read and look like no reading: a question before anything is kept.

use super::{Assumed, Capture};
use crate::judge::is_alternating;
use crate::log::Observed;

/// What is odd about a capture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Doubt {
    /// Every sample is the same, and the row is about what changes, or they are all zero.
    Flat {
        /// What they are.
        value: f64,
    },
    /// Many lines among the data are no numbers: the instrument had none to write there.
    Holes {
        /// How many.
        lines: usize,
        /// Of so many.
        of: usize,
    },
}

/// Part of the lines that may be no numbers before somebody is asked: a header repeated or a line cut is less (common practice, no
/// source).
const HOLES: f64 = 0.02;

/// What is odd about a capture, for what a row reads in it.
pub fn doubt(capture: &Capture, what: Observed) -> Option<Doubt> {
    let lines = capture.assumed.iter().find_map(|one| match one {
        Assumed::Skipped(lines) => Some(*lines),
        _ => None,
    });
    let lines = lines.unwrap_or(0);
    let of = capture.samples.len() + lines;
    if lines as f64 > HOLES * of as f64 {
        return Some(Doubt::Holes { lines, of });
    }
    let value = capture.samples[0].1;
    let is_flat = capture.samples.iter().all(|(_, own)| *own == value);
    let is_of_change = match what {
        Observed::Statistic(what) => is_alternating(what),
        Observed::RmsVoltage | Observed::Frequency | Observed::Esr => true,
        _ => false,
    };
    (is_flat && (is_of_change || value == 0.0)).then_some(Doubt::Flat { value })
}
