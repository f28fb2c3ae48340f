//! What a counter's log of an oscillator comes to: warm-up, offset, drift, stability.

use crate::settle::{Approach, approach};
use crate::stability::{Slope, freedom, noise_power, overlapped, range, slope};

/// A log of a counter, worked out.
#[derive(Clone, Debug, PartialEq)]
pub struct Counted {
    /// Readings in the longest stretch without a gap.
    pub count: usize,
    /// Readings outside of it.
    pub left_out: usize,
    /// Readings of nothing, before the oscillator had power.
    pub before: usize,
    /// Seconds between readings.
    pub interval: f64,
    /// The warm-up, where the log holds one that ends.
    pub warm_up: Option<Approach>,
    /// Seconds from the first reading until the warm-up is lost in the scatter; what follows is from there on.
    pub settled: f64,
    /// Whether enough of the log lies behind that. Where it does not, drift and stability are not told.
    pub is_settled: bool,
    /// The stretch: seconds from the first reading of the log, which may lie before a gap, or from the last before the power, and the
    /// fractional offset.
    pub readings: Vec<(f64, f64)>,
    /// Mean fractional offset from the frequency that was asked for; while it warms up, that of the last tenth.
    pub offset: f64,
    /// Its change per second.
    pub drift: Option<Slope>,
    /// Allan deviation, overlapped, at rising times, the straight drift left in.
    pub stability: Vec<Stable>,
}

/// The deviation at one averaging time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stable {
    /// Averaging time, s.
    pub tau: f64,
    /// Allan deviation.
    pub deviation: f64,
    /// Its range, 95 %.
    pub range: (f64, f64),
    /// Which power of the frequency the noise goes with; taken from the time before where too few averages tell.
    pub power: i32,
}

/// Why a log cannot be worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotCounted {
    /// Fewer readings than tell anything.
    TooFew(usize),
    /// Many readings have the time of the one before.
    SameTimes,
    /// The readings are not near the frequency that was asked for: another unit, or another oscillator.
    FarOff,
}

/// Readings that a log has at least.
const LEAST: usize = 30;
/// Part of the readings that may have the time of the one before: more are not a slip of the logger, but its clock is too coarse.
const SAME: f64 = 0.02;
/// An interval longer than this many is a gap.
const GAP: f64 = 1.5;
/// Farther from its frequency no oven oscillator is.
const NEAR: f64 = 1e-3;
/// Points that the warm-up is fitted to: more tell nothing more.
const FITTED: usize = 300;
/// A warm-up is one where it begins this many short-term deviations away.
const SEEN: f64 = 20.0;
/// Differences at the longest averaging time (common practice, no source).
const DIFFERENCES: usize = 10;

/// Works out a log of times in s, rising, and frequencies in Hz.
///
/// # Errors
/// [`NotCounted`].
pub fn counted(log: &[(f64, f64)], frequency: f64) -> Result<Counted, NotCounted> {
    let is_near = |(_, hertz): &(f64, f64)| ((hertz - frequency) / frequency).abs() <= NEAR;
    let before = log.iter().position(is_near).ok_or(NotCounted::FarOff)?;
    // From the last of those before it: the power came after that. Else from the beginning of the log, also where the stretch begins
    // behind a gap.
    let begun = log[before.saturating_sub(1)].0;
    let log = &log[before..];
    if log.len() < LEAST {
        return Err(NotCounted::TooFew(log.len()));
    }
    let mut intervals: Vec<f64> = log.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    intervals.sort_by(f64::total_cmp);
    let same = intervals
        .iter()
        .filter(|interval| **interval <= 0.0)
        .count();
    if same as f64 > SAME * log.len() as f64 {
        return Err(NotCounted::SameTimes);
    }
    let interval = intervals[intervals.len() / 2];
    let stretch = longest(log, GAP * interval);
    if stretch.len() < LEAST {
        return Err(NotCounted::TooFew(stretch.len()));
    }
    let y: Vec<(f64, f64)> = stretch
        .iter()
        .map(|(t, hertz)| (t - begun, (hertz - frequency) / frequency))
        .collect();
    if y.iter().any(|(_, y)| y.abs() > NEAR) {
        return Err(NotCounted::FarOff);
    }
    let (warm_up, settled) = warm_up(&y);
    let mut rest: Vec<(f64, f64)> = y.iter().copied().filter(|(t, _)| *t >= settled).collect();
    let is_settled = rest.len() >= LEAST;
    if !is_settled {
        rest = y[y.len() - y.len().div_ceil(10)..].to_vec();
    }
    let values: Vec<f64> = rest.iter().map(|(_, y)| *y).collect();
    Ok(Counted {
        count: stretch.len(),
        left_out: log.len() - stretch.len(),
        before,
        interval,
        warm_up,
        settled,
        is_settled,
        offset: values.iter().sum::<f64>() / values.len() as f64,
        drift: slope(&rest).filter(|_| is_settled),
        stability: if is_settled {
            stability(&values, interval)
        } else {
            Vec::new()
        },
        readings: y,
    })
}

impl Counted {
    /// The readings after the warm-up.
    pub fn after_warm_up(&self) -> Vec<f64> {
        let settled = self.readings.iter().filter(|(t, _)| *t >= self.settled);
        settled.map(|(_, y)| *y).collect()
    }
}

/// The longest stretch without a gap.
fn longest(log: &[(f64, f64)], gap: f64) -> &[(f64, f64)] {
    let mut best = 0..0;
    let mut from = 0;
    for k in 1..=log.len() {
        let ends = k == log.len() || log[k].0 - log[k - 1].0 > gap || log[k].0 <= log[k - 1].0;
        if ends {
            if k - from > best.len() {
                best = from..k;
            }
            from = k;
        }
    }
    &log[best]
}

/// The warm-up and when it is lost in the scatter; none where there is none to see, or where it has no end yet.
///
/// The oven of a log of days warms within its first few hundredths: what the whole does not show is looked for in ever shorter
/// beginnings. The scatter is that of the later half, which no warm-up is in.
fn warm_up(y: &[(f64, f64)]) -> (Option<Approach>, f64) {
    let later: Vec<f64> = y[y.len() / 2..].iter().map(|(_, y)| *y).collect();
    let Some(scatter) = overlapped(&later, 1).filter(|scatter| *scatter > 0.0) else {
        return (None, 0.0);
    };
    let lengths = std::iter::successors(Some(y.len()), |length| Some(length / 2));
    let heads = lengths.take_while(|length| *length >= LEAST);
    let found = heads.into_iter().find_map(|length| {
        let head = &y[..length];
        let found = warm_up_in(head, scatter)?;
        // One that does not end in a beginning is a longer one's, and that showed none.
        let settled = found.time_until(scatter);
        let ends = length == y.len() || settled <= head[length - 1].0;
        ends.then_some((Some(found), settled))
    });
    found.unwrap_or((None, 0.0))
}

/// The exponential in some readings, where it is far above their scatter and slower than what it is fitted to.
fn warm_up_in(y: &[(f64, f64)], scatter: f64) -> Option<Approach> {
    let some = y.len().div_ceil(FITTED).max(1);
    let means: Vec<(f64, f64)> = y
        .chunks_exact(some)
        .map(|chunk| {
            let n = chunk.len() as f64;
            let sum = chunk
                .iter()
                .fold((0.0, 0.0), |sum, (t, y)| (sum.0 + t, sum.1 + y));
            (sum.0 / n, sum.1 / n)
        })
        .collect();
    // What is far off only before the first reading was never seen.
    approach(&means).ok().filter(|found| {
        found.left(means[0].0).abs() > SEEN * scatter && found.tau > means[1].0 - means[0].0
    })
}

fn stability(y: &[f64], interval: f64) -> Vec<Stable> {
    let mut all: Vec<Stable> = Vec::new();
    let mut m = 1;
    while y.len() + 1 >= 2 * m + DIFFERENCES * m {
        let Some(deviation) = overlapped(y, m) else {
            break;
        };
        let before = all.last().map_or(0, |last| last.power);
        let power = noise_power(y, m).unwrap_or(before);
        let nu = freedom(power, y.len() + 1, m).max(1.0);
        all.push(Stable {
            tau: m as f64 * interval,
            deviation,
            range: range(deviation, nu, 0.95),
            power,
        });
        m *= 2;
    }
    all
}
