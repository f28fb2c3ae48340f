//! Deciding from a value with its uncertainty whether a limit is met (JCGM 106:2012, ISO 14253-1).

use crate::distribution::student;
use crate::gum::ReadingError;

/// Probability with which a reading has to show what it is taken to show.
pub const PROBABILITY: f64 = 0.95;

/// What a reading shows of a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shown {
    /// It is met, with the probability asked for.
    Holds,
    /// It is not met, with the probability asked for.
    Fails,
    /// Neither.
    NotShown,
}

/// Probability that a quantity lies within its limits, read as `y` with standard uncertainty `u` of `nu` degrees of freedom.
pub fn conformance(y: f64, u: f64, nu: f64, min: Option<f64>, max: Option<f64>) -> f64 {
    let below = |limit: f64| student((limit - y) / u, nu);
    max.map_or(1.0, below) - min.map_or(0.0, below)
}

/// Distance to be kept from a limit so that a false acceptance has at most the probability `1 − p`: `k u`.
pub fn guard(u: f64, p: f64) -> f64 {
    u * crate::distribution::normal_quantile(p)
}

/// Decides with a guard band on both sides of each limit.
///
/// *Holds* is said in at most 5 % of cases where the quantity is right at a limit, and so is *fails*.
pub fn decide(value: f64, error: &ReadingError, min: Option<f64>, max: Option<f64>) -> Shown {
    let guard = error.one_sided(PROBABILITY);
    within(value - guard, value + guard, min, max)
}

/// Decides from one-sided bounds: the quantity is above `low` and below `high`, each with the probability asked for.
pub fn within(low: f64, high: f64, min: Option<f64>, max: Option<f64>) -> Shown {
    let is_outside = max.is_some_and(|max| low > max) || min.is_some_and(|min| high < min);
    let is_inside = max.is_none_or(|max| high <= max) && min.is_none_or(|min| low >= min);
    if is_outside {
        Shown::Fails
    } else if is_inside && low.is_finite() | max.is_some() && high.is_finite() | min.is_some() {
        Shown::Holds
    } else {
        Shown::NotShown
    }
}
