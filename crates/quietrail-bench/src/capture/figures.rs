//! What a captured wave comes to: its ends, its alternating part, what of it is locked to the mains.

use crate::log::Observed;
use quietrail_job::model::What;
use std::f64::consts::PI;

/// Figures of a capture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// Mean over whole cycles.
    pub mean: f64,
    /// Lowest sample.
    pub valley: f64,
    /// Highest sample.
    pub peak: f64,
    /// rms of the alternating part.
    pub ac_rms: f64,
    /// rms of what repeats with the mains.
    pub ripple: f64,
    /// rms of the rest.
    pub noise: f64,
    /// rms at the mains frequency.
    pub at_line: f64,
    /// rms at twice the mains frequency.
    pub at_twice: f64,
    /// Mains frequency that fits best, near the one that was given.
    pub hertz: f64,
    /// Whole cycles in the record; none where it is shorter than one, and then `ripple`, `noise` and what is at the line are
    /// not known.
    pub cycles: u32,
    /// The highest jump of the wave, straight lines on either side of it laid to its place: where a reservoir begins to charge,
    /// that is its ESR times the current.
    pub step: f64,
}

impl Figures {
    /// What a row reads, taken out of a wave; `None` where the wave does not tell it.
    pub fn of(&self, what: Observed) -> Option<f64> {
        let is_long = self.cycles > 0;
        match what {
            Observed::Statistic(what) => match what {
                What::Mean | What::Current => Some(self.mean),
                What::Valley => Some(self.valley),
                What::Peak | What::PeakCurrent => Some(self.peak),
                What::RipplePeakToPeak => Some(self.peak - self.valley),
                What::Ripple => is_long.then_some(self.ripple),
                What::Noise => is_long.then_some(self.noise),
                What::RippleAndNoise => Some(self.ac_rms),
                What::RmsCurrent => Some(libm::hypot(self.mean, self.ac_rms)),
                _ => None,
            },
            Observed::RmsVoltage => Some(libm::hypot(self.mean, self.ac_rms)),
            Observed::Frequency => is_long.then_some(self.hertz),
            _ => None,
        }
    }

    /// Series resistance, where so many amperes were switched on or off: the sharpest step over them; `None` where that is no
    /// resistance.
    pub fn esr(&self, amps: f64) -> Option<f64> {
        let ohms = self.step.abs() / amps.abs();
        (ohms.is_finite() && ohms > 0.0).then_some(ohms)
    }
}

/// Whether a wave tells what a row reads.
pub fn tells(what: Observed) -> bool {
    match what {
        Observed::Statistic(what) => matches!(
            what,
            What::Mean
                | What::Current
                | What::Valley
                | What::Peak
                | What::PeakCurrent
                | What::RipplePeakToPeak
                | What::Ripple
                | What::Noise
                | What::RippleAndNoise
                | What::RmsCurrent
        ),
        Observed::RmsVoltage | Observed::Frequency => true,
        _ => false,
    }
}

/// Parts of a cycle that are told apart.
const BINS: usize = 128;
/// How far the mains may be off its frequency, as a share.
const OFF: f64 = 0.004;
/// Frequencies that are tried on the way.
const TRIED: i32 = 40;
/// A frequency is known well enough once it is off by no more than this part of a cycle over the whole record.
const FINE: f64 = 1e-4;

/// Figures of samples in the order of time, with the mains near a frequency.
pub fn figures(samples: &[(f64, f64)], hertz: f64) -> Figures {
    let (from, to) = (samples[0].0, samples[samples.len() - 1].0);
    let hertz = best_frequency(samples, hertz);
    let cycles = libm::floor((to - from) * hertz + 0.02).clamp(0.0, 1e6) as u32;
    let whole: Vec<(f64, f64)> = if cycles > 0 {
        let end = from + f64::from(cycles) / hertz;
        samples.iter().copied().filter(|(t, _)| *t < end).collect()
    } else {
        samples.to_vec()
    };
    let mean = average(whole.iter().map(|(_, v)| *v));
    let ac_square = average(whole.iter().map(|(_, v)| (v - mean) * (v - mean)));
    let ripple_square = if cycles > 0 {
        folded(&whole, hertz, mean)
    } else {
        0.0
    };
    let at = |n: f64| {
        if cycles > 0 {
            line(&whole, n * hertz, mean)
        } else {
            0.0
        }
    };
    let valley = samples
        .iter()
        .map(|(_, v)| *v)
        .fold(f64::INFINITY, f64::min);
    let peak = samples
        .iter()
        .map(|(_, v)| *v)
        .fold(f64::NEG_INFINITY, f64::max);
    Figures {
        mean,
        valley,
        peak,
        ac_rms: libm::sqrt(ac_square),
        ripple: libm::sqrt(ripple_square.min(ac_square)),
        noise: libm::sqrt((ac_square - ripple_square).max(0.0)),
        at_line: at(1.0),
        at_twice: at(2.0),
        hertz,
        cycles,
        step: step(samples, hertz),
    }
}

/// Part of the alternating power of samples that repeats with a mains near a frequency.
pub(super) fn locked_share(samples: &[(f64, f64)], hertz: f64) -> f64 {
    let mean = average(samples.iter().map(|(_, v)| *v));
    let power = average(samples.iter().map(|(_, v)| (v - mean) * (v - mean)));
    // With fewer samples in a cycle than parts of it, each part is filled at a time of its own, and what only wanders would seem to repeat.
    let each = samples.len() as f64 / ((samples[samples.len() - 1].0 - samples[0].0) * hertz);
    let bins = bins(samples).min((0.5 * each) as usize).max(4);
    if power > 0.0 {
        in_parts(samples, best_frequency(samples, hertz), mean, bins) / power
    } else {
        0.0
    }
}

fn average(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for value in values {
        sum += value;
        count += 1.0;
    }
    if count > 0.0 { sum / count } else { 0.0 }
}

/// The frequency near the given one under which most of the wave repeats. A short record tells nothing of it.
fn best_frequency(samples: &[(f64, f64)], hertz: f64) -> f64 {
    let span = samples[samples.len() - 1].0 - samples[0].0;
    if span * hertz < 4.0 {
        return hertz;
    }
    let mean = average(samples.iter().map(|(_, v)| *v));
    let tried = (-TRIED..=TRIED).map(|k| hertz * (1.0 + OFF * f64::from(k) / f64::from(TRIED)));
    let coarse = tried
        .map(|f| (folded(samples, f, mean), f))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(hertz, |(_, f)| f);
    // Over many cycles a small part of a step is a large part of a cycle: the top is closed in on.
    let mut half = hertz * OFF / f64::from(TRIED);
    let mut best = coarse;
    while half * span > FINE {
        let around = [-0.5, 0.0, 0.5].map(|part| best + part * half);
        best = around
            .into_iter()
            .map(|f| (folded(samples, f, mean), f))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map_or(best, |(_, f)| f);
        half *= 0.5;
    }
    best
}

/// Sums of the samples of a part of the cycle: x is the place in it, from −½ to ½.
#[derive(Clone, Copy, Debug, Default)]
struct Cell {
    n: f64,
    x: f64,
    v: f64,
    xx: f64,
    xv: f64,
    vv: f64,
}

impl Cell {
    fn add(&mut self, x: f64, v: f64) {
        self.n += 1.0;
        self.x += x;
        self.v += v;
        self.xx += x * x;
        self.xv += x * v;
        self.vv += v * v;
    }

    /// Sum of squares of the straight line through the samples, what scatter leaves in it by chance taken off.
    ///
    /// A wave climbs within a part of its cycle too; about a mean alone that would count as scatter.
    fn locked(&self) -> f64 {
        let mean = self.v / self.n;
        let spread = self.xx - self.x * self.x / self.n;
        let along = self.xv - self.x * self.v / self.n;
        let about = (self.vv - self.n * mean * mean).max(0.0);
        let (climb, taken) = if spread > 1e-9 && self.n > 2.0 {
            (along * along / spread, 2.0)
        } else {
            (0.0, 1.0)
        };
        let scatter = if self.n > taken {
            (about - climb).max(0.0) / (self.n - taken)
        } else {
            0.0
        };
        self.n * mean * mean + climb - taken * scatter
    }
}

/// Mean square of the mean cycle.
fn folded(samples: &[(f64, f64)], hertz: f64, mean: f64) -> f64 {
    in_parts(samples, hertz, mean, bins(samples))
}

fn bins(samples: &[(f64, f64)]) -> usize {
    BINS.min(samples.len() / 4).max(4)
}

/// The same with so many parts of the cycle told apart.
fn in_parts(samples: &[(f64, f64)], hertz: f64, mean: f64, bins: usize) -> f64 {
    let mut cells = vec![Cell::default(); bins];
    for (t, v) in samples {
        let phase = t * hertz;
        let place = (phase - libm::floor(phase)) * bins as f64;
        let bin = (place as usize).min(bins - 1);
        cells[bin].add(place - bin as f64 - 0.5, v - mean);
    }
    let full = cells.iter().filter(|cell| cell.n > 0.0);
    let (mut square, mut weight) = (0.0, 0.0);
    for cell in full {
        square += cell.locked();
        weight += cell.n;
    }
    (square / weight.max(1.0)).max(0.0)
}

/// The mean of whole cycles of a record, at so many equal parts of the cycle. Parts without a sample get a straight line between
/// their neighbours; `None` where more than half of them are empty.
pub fn mean_cycle(
    samples: &[(f64, f64)],
    hertz: f64,
    cycles: u32,
    points: usize,
) -> Option<Vec<f64>> {
    let end = samples[0].0 + f64::from(cycles) / hertz;
    let mut sums = vec![(0.0, 0.0); points];
    for (t, v) in samples.iter().filter(|(t, _)| *t < end) {
        let phase = t * hertz;
        // A point stands in the middle of the samples that are nearest to it.
        let index = ((phase - libm::floor(phase)) * points as f64 + 0.5) as usize % points;
        sums[index].0 += v;
        sums[index].1 += 1.0;
    }
    let known: Vec<usize> = (0..points).filter(|k| sums[*k].1 > 0.0).collect();
    if 2 * known.len() < points.min(samples.len()) || known.len() < 8 {
        return None;
    }
    let value = |k: usize| sums[k].0 / sums[k].1;
    let mut cycle = vec![0.0; points];
    for (index, &from) in known.iter().enumerate() {
        let to = known[(index + 1) % known.len()];
        let apart = if to > from {
            to - from
        } else {
            to + points - from
        };
        for k in 0..apart {
            let share = k as f64 / apart as f64;
            cycle[(from + k) % points] = value(from) + share * (value(to) - value(from));
        }
    }
    Some(cycle)
}

/// rms of a sine of a frequency, fitted by least squares.
fn line(samples: &[(f64, f64)], hertz: f64, mean: f64) -> f64 {
    let (mut cc, mut ss, mut cs, mut vc, mut vs) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (t, v) in samples {
        let angle = 2.0 * PI * hertz * t;
        let (c, s) = (libm::cos(angle), libm::sin(angle));
        cc += c * c;
        ss += s * s;
        cs += c * s;
        vc += (v - mean) * c;
        vs += (v - mean) * s;
    }
    let determinant = cc * ss - cs * cs;
    if determinant <= 0.0 {
        return 0.0;
    }
    let a = (vc * ss - vs * cs) / determinant;
    let b = (vs * cc - vc * cs) / determinant;
    libm::sqrt(0.5 * (a * a + b * b))
}

/// The highest jump within a three-hundredth of a cycle, from straight lines over a fiftieth of a cycle on either side.
fn step(samples: &[(f64, f64)], hertz: f64) -> f64 {
    let span = samples[samples.len() - 1].0 - samples[0].0;
    let per_cycle = samples.len() as f64 / (span * hertz).max(1e-30);
    let gap = libm::ceil(per_cycle / 300.0).clamp(1.0, 1e6) as usize;
    let side = libm::ceil(per_cycle / 50.0).clamp(3.0, 1e6) as usize;
    if samples.len() < 2 * side + gap + 1 {
        return 0.0;
    }
    let middle = (side..samples.len() - side - gap)
        .max_by(|a, b| {
            let jump = |k: usize| (samples[k + gap].1 - samples[k].1).abs();
            jump(*a).total_cmp(&jump(*b))
        })
        .unwrap_or(side);
    // Within the window the jump is where neighbours are furthest apart.
    let sharpest = (middle..middle + gap)
        .max_by(|a, b| {
            let jump = |k: usize| (samples[k + 1].1 - samples[k].1).abs();
            jump(*a).total_cmp(&jump(*b))
        })
        .unwrap_or(middle);
    let at = 0.5 * (samples[sharpest].0 + samples[sharpest + 1].0);
    let before = straight(&samples[middle - side..=middle], at);
    let after = straight(&samples[middle + gap..=middle + gap + side], at);
    after - before
}

/// A straight line through samples, at a time.
fn straight(samples: &[(f64, f64)], at: f64) -> f64 {
    let (t0, v0) = (
        average(samples.iter().map(|(t, _)| *t)),
        average(samples.iter().map(|(_, v)| *v)),
    );
    let above: f64 = samples.iter().map(|(t, v)| (t - t0) * (v - v0)).sum();
    let below: f64 = samples.iter().map(|(t, _)| (t - t0) * (t - t0)).sum();
    if below > 0.0 {
        v0 + above / below * (at - t0)
    } else {
        v0
    }
}
