//! Captures that can be read and look like no reading: a question before anything is kept.

use super::figures::{figures, locked_share};
use super::{Assumed, Capture};
use crate::judge::is_alternating;
use crate::log::Observed;
use quietrail_job::model::What;

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
    /// Many samples stand at one end, where hardly any come near it otherwise: the trace went off the screen.
    Clipped {
        /// That end.
        at: f64,
        /// So many samples.
        count: usize,
        /// Of so many.
        of: usize,
    },
    /// Too few samples in a cycle of the mains to show what changes within it.
    Sparse {
        /// So many.
        each: f64,
    },
    /// Less than a cycle of the mains, of which not all was seen that changes within it.
    Short {
        /// Which part of one.
        part: f64,
    },
    /// Its mean is next to nothing beside what changes, where the row is about a level: coupled over a capacitor an input shows none.
    NoLevel {
        /// The mean.
        mean: f64,
        /// Highest less lowest.
        swing: f64,
    },
    /// It repeats with another mains frequency than the job's.
    OtherMains {
        /// The one that it repeats with, Hz.
        hertz: f64,
        /// The job's, Hz.
        own: f64,
    },
}

/// Part of the lines that may be no numbers before somebody is asked: a header repeated or a line cut is less (common practice, no
/// source).
const HOLES: f64 = 0.02;

/// Samples in a cycle of the mains below which somebody is asked: a reservoir that fills in a fifth of half a cycle reads up to a
/// seventh low with so many, and with two it reads anything.
const IN_A_CYCLE: f64 = 40.0;

/// Part of a cycle that may be wanting: the last sample stands an interval before its end.
const WANTING: f64 = 0.02;

/// What is odd about a capture, for what a row reads in it at a mains frequency.
pub fn doubt(capture: &Capture, what: Observed, mains_hertz: f64) -> Option<Doubt> {
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
    if is_flat && (is_of_change || value == 0.0) {
        return Some(Doubt::Flat { value });
    }
    if let Some(odd) = clipped(capture, what) {
        return Some(odd);
    }
    let is_of_mains = matches!(what, Observed::Statistic(_));
    if is_of_mains && let Some(part) = part_of_cycle(capture, mains_hertz) {
        return Some(Doubt::Short { part });
    }
    if is_of_change && let Some(hertz) = other_mains(capture, mains_hertz) {
        let own = mains_hertz;
        return Some(Doubt::OtherMains { hertz, own });
    }
    if let Some(odd) = no_level(capture, what, mains_hertz) {
        return Some(odd);
    }
    let is_of_instants = matches!(what, Observed::Statistic(What::Valley | What::Peak));
    let each = 1.0 / (typical_interval(capture) * mains_hertz);
    ((is_of_change || is_of_instants) && each < IN_A_CYCLE).then_some(Doubt::Sparse { each })
}

/// Part of a swing below which its mean is taken for none. A rail rests on its ripple: it stands above all of it, not in its middle.
const NO_MEAN: f64 = 0.05;

/// A level that the wave does not have.
fn no_level(capture: &Capture, what: Observed, mains_hertz: f64) -> Option<Doubt> {
    let is_of_level = matches!(
        what,
        Observed::Statistic(What::Mean | What::Valley | What::Peak)
    );
    if !is_of_level {
        return None;
    }
    let found = figures(&capture.samples, mains_hertz);
    let (mean, swing) = (found.mean, found.peak - found.valley);
    (mean.abs() < NO_MEAN * swing).then_some(Doubt::NoLevel { mean, swing })
}

/// Which part of a cycle of the mains a record shows, where that is not a whole one.
fn part_of_cycle(capture: &Capture, mains_hertz: f64) -> Option<f64> {
    Some(span(capture) * mains_hertz).filter(|part| *part < 1.0 - WANTING)
}

/// Seconds from the first sample to the last.
fn span(capture: &Capture) -> f64 {
    let samples = &capture.samples;
    samples[samples.len() - 1].0 - samples[0].0
}

/// Part of the samples at one end below which nobody is asked.
const AT_END: f64 = 0.02;
/// How many times as many stand there as in as much beside it. Of a sine that is drawn in steps √2 + 1 times as many stand in the last
/// step as in the one before, of a triangle as many.
const CROWDED: f64 = 3.0;
/// As much beside the end as this part of the whole wave, where its steps are finer.
const BESIDE: f64 = 0.02;

/// The end at which a trace was cut off, where what is read hangs on it. Waves of two levels stand at both ends and nowhere else, and
/// are let be.
fn clipped(capture: &Capture, what: Observed) -> Option<Doubt> {
    let all = || capture.samples.iter().map(|(_, value)| *value);
    let (low, high) = all().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    let of = capture.samples.len();
    let ends = match what {
        Observed::Statistic(What::Valley) => vec![low],
        Observed::Statistic(What::Peak) => vec![high],
        // Between its pulses a rectifier's current stands at zero.
        Observed::Statistic(What::PeakCurrent) => vec![if -low > high { low } else { high }],
        Observed::Statistic(what) if is_alternating(what) => vec![low, high],
        // A mains with flat tops stands there, and so does a step.
        _ => Vec::new(),
    };
    ends.into_iter().find_map(|at| {
        let count = all().filter(|value| *value == at).count();
        // One step of the converter is the distance of the nearest other sample.
        let away = |value: f64| (value - at).abs();
        let step = all()
            .map(away)
            .filter(|away| *away > 0.0)
            .fold(f64::INFINITY, f64::min);
        let reach = (1.5 * step).max(BESIDE * (high - low));
        let beside = all()
            .filter(|value| *value != at && away(*value) <= reach)
            .count();
        let between = all()
            .filter(|value| *value != low && *value != high)
            .count();
        let is_crowded = count as f64 > CROWDED * beside.max(1) as f64;
        let is_much = count as f64 > AT_END * of as f64 && 4 * between > count;
        (is_crowded && is_much).then_some(Doubt::Clipped { at, count, of })
    })
}

/// Frequencies of mains: land, land, aircraft and ships.
const MAINS: [f64; 3] = [50.0, 60.0, 400.0];
/// Part of the alternating power that has to repeat with a mains for the wave to be of it.
const OF_IT: f64 = 0.5;
/// Part of that which may seem to repeat with the other mains all the same: a record of few cycles tells the two apart badly.
const SEEMS: f64 = 0.5;
/// Cycles below which nothing is said of it.
const FEWEST: f64 = 2.5;

/// The mains frequency that a wave repeats with, where that is not the job's.
fn other_mains(capture: &Capture, own: f64) -> Option<f64> {
    let samples = &capture.samples;
    let span = span(capture);
    let share = |hertz: f64| locked_share(samples, hertz);
    let others = MAINS
        .into_iter()
        .filter(|hertz| (hertz / own - 1.0).abs() > 0.05);
    others
        .filter(|hertz| span * hertz.min(own) >= FEWEST - WANTING)
        .find(|hertz| {
            let of_other = share(*hertz);
            of_other > OF_IT && share(own) < SEEMS * of_other
        })
}

/// The middle one of all intervals, s.
fn typical_interval(capture: &Capture) -> f64 {
    let mut all: Vec<f64> = capture
        .samples
        .windows(2)
        .map(|pair| pair[1].0 - pair[0].0)
        .collect();
    all.sort_by(f64::total_cmp);
    all[all.len() / 2]
}
