//! What nears its end as a single exponential: where it ends, and when it is close enough. Warming iron and a warming oven alike.

use libm::{exp, log};

/// A value that nears its end: `end + off · exp(−t/τ)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Approach {
    /// Where it ends.
    pub end: f64,
    /// How far from the end it is at time 0.
    pub off: f64,
    /// Time constant, s.
    pub tau: f64,
    /// Largest distance of a reading from the curve.
    pub scatter: f64,
}

/// Why no end can be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoEnd {
    /// Fewer than three readings at different times.
    TooFew,
    /// It does not bend yet: a straight line fits as well.
    Straight,
}

/// A time constant beyond this many lengths of the record is a straight line.
const LONGEST: f64 = 3.0;
/// The shortest one, as a part of the longest gap between readings.
const SHORTEST: f64 = 0.05;
/// Time constants tried, evenly in their logarithm.
const TRIED: u32 = 240;

/// The exponential nearest to readings of time in s and value, in the order of time.
///
/// # Errors
/// [`NoEnd`].
pub fn approach(readings: &[(f64, f64)]) -> Result<Approach, NoEnd> {
    let mut times: Vec<f64> = readings.iter().map(|(t, _)| *t).collect();
    times.dedup();
    let [first, .., last] = times.as_slice() else {
        return Err(NoEnd::TooFew);
    };
    if times.len() < 3 {
        return Err(NoEnd::TooFew);
    }
    let gap = times
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(0.0, f64::max);
    let (low, high) = (log(SHORTEST * gap), log(LONGEST * (last - first)));
    let tried = |k: u32| exp(low + (high - low) * f64::from(k) / f64::from(TRIED));
    let best = (0..=TRIED)
        .map(|k| (square(readings, tried(k)), k))
        .reduce(|best, next| if next.0 < best.0 { next } else { best })
        .map_or(TRIED, |(_, k)| k);
    if best == TRIED {
        return Err(NoEnd::Straight);
    }
    // Between the neighbours of the best one, by thirds.
    let (mut low, mut high) = (tried(best.saturating_sub(1)), tried(best + 1));
    for _ in 0..80 {
        let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if square(readings, a) < square(readings, b) {
            high = b;
        } else {
            low = a;
        }
    }
    let tau = 0.5 * (low + high);
    let (end, off) = line(readings, tau);
    let away = |(t, value): &(f64, f64)| (value - end - off * exp(-t / tau)).abs();
    Ok(Approach {
        end,
        off,
        tau,
        scatter: readings.iter().map(away).fold(0.0, f64::max),
    })
}

/// End and distance at time 0 that fit best with a time constant.
fn line(readings: &[(f64, f64)], tau: f64) -> (f64, f64) {
    let n = readings.len() as f64;
    let mean = |f: &dyn Fn(&(f64, f64)) -> f64| readings.iter().map(f).sum::<f64>() / n;
    let (x0, y0) = (mean(&|(t, _)| exp(-t / tau)), mean(&|(_, y)| *y));
    let (mut xy, mut xx) = (0.0, 0.0);
    for (t, y) in readings {
        let x = exp(-t / tau) - x0;
        xy += x * (y - y0);
        xx += x * x;
    }
    let off = if xx > 0.0 { xy / xx } else { 0.0 };
    (y0 - off * x0, off)
}

fn square(readings: &[(f64, f64)], tau: f64) -> f64 {
    let (end, off) = line(readings, tau);
    let away = |(t, value): &(f64, f64)| value - end - off * exp(-t / tau);
    readings.iter().map(|one| away(one) * away(one)).sum()
}

impl Approach {
    /// The value at a time.
    pub fn at(&self, t: f64) -> f64 {
        self.end + self.left(t)
    }

    /// How far from its end it is at a time, with its sign.
    pub fn left(&self, t: f64) -> f64 {
        self.off * exp(-t / self.tau)
    }

    /// When it is within a distance of its end; 0 where it is from the start.
    pub fn time_until(&self, within: f64) -> f64 {
        (self.tau * log(self.off.abs() / within)).max(0.0)
    }
}
