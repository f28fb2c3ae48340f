//! How far a counted share may be off.
//!
//! Points that fill space evenly are not independent trials, so no binomial formula speaks for them: their mean is
//! usually much nearer the truth than it says, and sometimes not. Independent scramblings are trials, and
//! their spread is what the interval comes from.

use statrs::distribution::{Beta, ContinuousCDF, StudentsT};

/// Confidence of every interval: two-sided, and one-sided where all or none were counted.
pub const CONFIDENCE: f64 = 0.95;

/// A share with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// How many were counted.
    pub count: u64,
    /// Of how many.
    pub of: u64,
    /// Lower end of the interval, 0 to 1.
    pub low: f64,
    /// Upper end, 0 to 1.
    pub high: f64,
    /// What the interval rests on.
    pub basis: Basis,
}

/// What an interval rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// The spread of independent scramblings.
    Spread,
    /// All were counted: nothing spreads, and the one end that is open is that of as many plain samples.
    All,
    /// None was counted: likewise.
    None,
}

impl Share {
    /// The share from counts in independent scramblings of `each` points.
    ///
    /// A count moves in whole steps, so scramblings may agree although the truth lies between two steps. The
    /// half-width therefore has a floor: what equally many trials without a single event leave open, of one step.
    pub fn of_scramblings(counts: &[u64], each: u64) -> Self {
        let scramblings = counts.len() as f64;
        let (count, of) = (counts.iter().sum(), each * counts.len() as u64);
        if count == of {
            let (low, high) = (lower_limit(of, of, CONFIDENCE), 1.0);
            let basis = Basis::All;
            return Self {
                count,
                of,
                low,
                high,
                basis,
            };
        }
        if count == 0 {
            let (low, high) = (0.0, upper_limit(0, of, CONFIDENCE));
            let basis = Basis::None;
            return Self {
                count,
                of,
                low,
                high,
                basis,
            };
        }
        let shares: Vec<f64> = counts.iter().map(|&c| c as f64 / each as f64).collect();
        let mean = shares.iter().sum::<f64>() / scramblings;
        let squares: f64 = shares.iter().map(|share| (share - mean).powi(2)).sum();
        let spread = student(counts.len()) * (squares / (scramblings - 1.0) / scramblings).sqrt();
        let step = upper_limit(0, counts.len() as u64, CONFIDENCE) / each as f64;
        let half = spread.hypot(step);
        Self {
            count,
            of,
            low: (mean - half).max(0.0),
            high: (mean + half).min(1.0),
            basis: Basis::Spread,
        }
    }

    /// The share itself.
    pub fn share(&self) -> f64 {
        self.count as f64 / self.of as f64
    }
}

/// Student's factor for a two-sided interval around the mean of some trials.
///
/// Infinite for fewer than two trials, which have no spread.
pub fn student(trials: usize) -> f64 {
    if trials < 2 {
        return f64::INFINITY;
    }
    StudentsT::new(0.0, 1.0, trials as f64 - 1.0)
        .map_or(f64::INFINITY, |t| t.inverse_cdf(0.5 + 0.5 * CONFIDENCE))
}

/// Exact one-sided lower limit of a share (Clopper and Pearson) from independent trials; no formula for points that
/// fill space evenly, except that with all counted it is the rule of three.
pub fn lower_limit(count: u64, of: u64, confidence: f64) -> f64 {
    if count == 0 {
        return 0.0;
    }
    beta(count, of - count + 1).map_or(0.0, |beta| beta.inverse_cdf(1.0 - confidence))
}

/// The upper limit, likewise.
pub fn upper_limit(count: u64, of: u64, confidence: f64) -> f64 {
    if count >= of {
        return 1.0;
    }
    beta(count + 1, of - count).map_or(1.0, |beta| beta.inverse_cdf(confidence))
}

fn beta(a: u64, b: u64) -> Option<Beta> {
    Beta::new(a as f64, b as f64).ok()
}
