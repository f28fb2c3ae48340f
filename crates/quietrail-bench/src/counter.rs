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
    /// Readings that are nowhere near its frequency, among the others or behind them: the counter did not count, or there was nothing.
    pub nowhere: usize,
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
    /// Allan deviation, overlapped, at rising times, the straight drift left in. None where the readings scatter by less than their steps.
    pub stability: Vec<Stable>,
    /// Steps that the readings come in, as a share of the frequency; 0 where nobody knows.
    pub step: f64,
    /// When single readings stood far apart from both of their neighbours, s, and what the log comes to with the middle of those in place
    /// of each.
    pub apart: Option<Apart>,
}

/// Single readings far apart from both neighbours.
#[derive(Clone, Debug, PartialEq)]
pub struct Apart {
    /// When, s.
    pub times: Vec<f64>,
    /// The log without them.
    pub without: Box<Counted>,
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
/// Part of the distances of a warm-up's readings from their mean, squared, that an exponential may leave: what it leaves more of has
/// another shape (our own figure).
const UNEXPLAINED: f64 = 0.5;
/// Differences at the longest averaging time (common practice, no source).
const DIFFERENCES: usize = 10;
/// Scatter below this part of a step is the step's, and not the oscillator's: a noise of half a step, which lets the mean of many readings
/// be right (B. Widrow, *IRE Trans. Circuit Theory* 3 (1956) 266), shows 0.58 of it together with the 1/√12 that rounding adds.
const COARSE: f64 = 0.58;
/// A reading is apart where it is this many standard deviations off the middle of its neighbours, by the median of all such distances.
/// For recognising outliers five are usual (NIST SP 1065, 10.11); with twice that, noise of no kind is taken for one.
const FAR: f64 = 10.0;
/// Median of the size of a normal quantity, in standard deviations.
const MEDIAN: f64 = 0.674_5;
/// Part of the readings that may stand apart: more are not slips, but what the oscillator does.
const SLIPS: f64 = 0.01;

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
    let after = log.iter().rposition(is_near).map_or(0, |last| last + 1);
    let near: Vec<(f64, f64)> = log[before..after].iter().copied().filter(is_near).collect();
    let slips = after - before - near.len();
    if near.len() < LEAST {
        return Err(NotCounted::TooFew(near.len()));
    }
    if slips as f64 > SAME * near.len() as f64 {
        return Err(NotCounted::FarOff);
    }
    let mut intervals: Vec<f64> = near.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    intervals.sort_by(f64::total_cmp);
    let same = intervals
        .iter()
        .filter(|interval| **interval <= 0.0)
        .count();
    if same as f64 > SAME * near.len() as f64 {
        return Err(NotCounted::SameTimes);
    }
    let interval = intervals[intervals.len() / 2];
    let stretch = longest(&near, GAP * interval);
    if stretch.len() < LEAST {
        return Err(NotCounted::TooFew(stretch.len()));
    }
    let y: Vec<(f64, f64)> = stretch
        .iter()
        .map(|(t, hertz)| (t - begun, (hertz - frequency) / frequency))
        .collect();
    let slipped = slipped(&y);
    let told = |y| Counted {
        left_out: near.len() - stretch.len(),
        before,
        nowhere: log.len() - before - near.len(),
        ..of_stretch(y, interval)
    };
    let without = (!slipped.is_empty()).then(|| told(put_right(&y, &slipped)));
    let apart = without.map(|without| Apart {
        times: slipped.iter().map(|index| y[*index].0).collect(),
        without: Box::new(without),
    });
    Ok(Counted { apart, ..told(y) })
}

/// What a stretch without a gap comes to, of times and fractional offsets.
fn of_stretch(y: Vec<(f64, f64)>, interval: f64) -> Counted {
    let (warm_up, settled) = warm_up(&y);
    let mut rest: Vec<(f64, f64)> = y.iter().copied().filter(|(t, _)| *t >= settled).collect();
    let is_settled = rest.len() >= LEAST;
    if !is_settled {
        rest = y[y.len() - y.len().div_ceil(10)..].to_vec();
    }
    let values: Vec<f64> = rest.iter().map(|(_, y)| *y).collect();
    Counted {
        count: y.len(),
        left_out: 0,
        before: 0,
        nowhere: 0,
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
        step: 0.0,
        apart: None,
        readings: y,
    }
}

/// Which readings stand far apart from both neighbours, while those agree: a counter that was triggered once too often. What jumps and stays
/// is none of them, and neither is more than a few.
fn slipped(y: &[(f64, f64)]) -> Vec<usize> {
    let off = |k: usize| y[k].1 - 0.5 * (y[k - 1].1 + y[k + 1].1);
    let mut sizes: Vec<f64> = (1..y.len() - 1).map(|k| off(k).abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let deviation = sizes[sizes.len() / 2] / MEDIAN;
    let is_apart = |k: &usize| {
        let beside = (y[k + 1].1 - y[k - 1].1).abs();
        deviation > 0.0 && off(*k).abs() > FAR * deviation && beside < 0.5 * off(*k).abs()
    };
    let all: Vec<usize> = (1..y.len() - 1).filter(is_apart).collect();
    let few = all.len() as f64 <= (SLIPS * y.len() as f64).max(1.0);
    if few { all } else { Vec::new() }
}

/// The readings with the middle of its neighbours in place of each that slipped.
fn put_right(y: &[(f64, f64)], slipped: &[usize]) -> Vec<(f64, f64)> {
    let mut all = y.to_vec();
    for k in slipped {
        all[*k].1 = 0.5 * (y[k - 1].1 + y[k + 1].1);
    }
    all
}

impl Counted {
    /// The same of readings that were written in steps of so much, as a share of the frequency. Where they differ by no less than larger
    /// steps, it is those. A log that scatters by less than its steps shows no deviation.
    #[must_use]
    pub fn in_steps_of(mut self, written: f64) -> Self {
        let mut values: Vec<f64> = self.readings.iter().map(|(_, y)| *y).collect();
        values.sort_by(f64::total_cmp);
        let differences = values.windows(2).map(|pair| pair[1] - pair[0]);
        let least = differences
            .filter(|one| *one > 0.0)
            .fold(f64::INFINITY, f64::min);
        self.step = if least.is_finite() {
            least.max(written)
        } else {
            written
        };
        if self.is_coarse() {
            self.stability.clear();
        }
        self.apart = self.apart.map(|apart| Apart {
            without: Box::new(apart.without.in_steps_of(written)),
            ..apart
        });
        self
    }

    /// The mean frequency as it is kept among readings, Hz, of an oscillator of a frequency: to a part in a million million, for what is
    /// judged is the log and not this.
    pub fn kept_hertz(&self, frequency: f64) -> String {
        let hertz = frequency * (1.0 + self.offset);
        let decimals = (12.0 - libm::floor(libm::log10(frequency))).clamp(0.0, 12.0) as usize;
        let text = format!("{hertz:.decimals$}");
        if decimals == 0 {
            return text;
        }
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    }

    /// Whether what the readings scatter by may be nothing but their steps.
    pub fn is_coarse(&self) -> bool {
        self.is_settled
            && overlapped(&self.after_warm_up(), 1).is_some_and(|one| one < COARSE * self.step)
    }

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
    let middle = means.iter().map(|(_, y)| y).sum::<f64>() / means.len() as f64;
    let square = |off: &dyn Fn(&(f64, f64)) -> f64| -> f64 {
        means.iter().map(|one| off(one) * off(one)).sum()
    };
    // What is far off only before the first reading was never seen; and a single reading far off is no exponential.
    approach(&means).ok().filter(|found| {
        let left = square(&|(t, y)| y - found.at(*t));
        found.left(means[0].0).abs() > SEEN * scatter
            && found.tau > means[1].0 - means[0].0
            && left < UNEXPLAINED * square(&|(_, y)| y - middle)
    })
}

fn stability(y: &[f64], interval: f64) -> Vec<Stable> {
    let mut all: Vec<Stable> = Vec::new();
    let mut m = 1;
    while y.len() + 1 >= 2 * m + DIFFERENCES * m {
        let Some(deviation) = overlapped(y, m) else {
            break;
        };
        // As `prevailing_power` has it: each octave is looked at once.
        let before = all.last().map(|last| last.power);
        let told = [noise_power(y, m), before].into_iter().flatten();
        let power = told.min().unwrap_or(0);
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
