//! What repeats of a reading scatter by, and what that leaves of their mean.

use crate::decide::PROBABILITY;
use crate::distribution::student_quantile;
use crate::gum;
use crate::log::Row;

pub(super) fn rms(values: &[f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let square: f64 = values.iter().map(|value| value * value).sum();
    libm::sqrt(square / values.len() as f64)
}

/// Whether floors were read both before and after the readings.
pub(super) fn is_around(rows: &[u64], floors: &[&Row]) -> bool {
    let (first, last) = (rows.first(), rows.last());
    first.is_some_and(|first| floors.iter().any(|floor| floor.row < *first))
        && last.is_some_and(|last| floors.iter().any(|floor| floor.row > *last))
}

/// Degrees of freedom of a mean square of repeats, from their scatter: 2K/v², v the relative scatter of the squares.
///
/// The scatter of few is itself uncertain; its upper 95 % bound is taken. Repeats that agree to the last digit scatter by
/// that digit.
pub(super) fn freedom(values: &[f64], resolution: f64) -> f64 {
    let count = values.len() as f64;
    let squares: Vec<f64> = values.iter().map(|value| value * value).collect();
    let (mean, of_mean) = gum::mean(&squares);
    if mean <= 0.0 {
        return 1.0;
    }
    let rounding = 2.0 * rms(values) * resolution / libm::sqrt(12.0);
    let scatter = libm::sqrt(count * of_mean.u * of_mean.u + rounding * rounding) / mean;
    let widened = if values.len() > 1 {
        scatter * libm::sqrt((count - 1.0) / crate::floor::squares_quantile(0.05, count - 1.0))
    } else {
        1.0
    };
    (2.0 * count / (widened * widened)).clamp(1.0, 1e6)
}

/// How far floors before and after differ, as a part of their mean: the repeatability that no averaging removes.
pub(super) fn spread_between(floors: &[f64]) -> f64 {
    let (mean, _) = gum::mean(floors);
    let half = floors
        .iter()
        .map(|floor| (floor - mean).abs())
        .fold(0.0, f64::max);
    if mean > 0.0 { half / mean } else { 0.0 }
}

/// What the mean of repeats is off by their scatter, one-sided, by Student (JCGM 100:2008, 4.2.3 and G.3): readings that differ by much are
/// none of them right.
pub(super) fn seen_scatter(values: &[f64]) -> f64 {
    let (_, scatter) = gum::mean(values);
    if scatter.u > 0.0 {
        scatter.u * student_quantile(PROBABILITY, scatter.nu)
    } else {
        0.0
    }
}
