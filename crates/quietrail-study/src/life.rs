//! Life of aluminium electrolytics by the ten-degree rule of makers' notes.

use crate::question::HALVES_LIFE;
use quietrail_engine::math::{ln, pow};

/// Hours at a temperature, from those at another: `L0 2^((T0 − T)/10)`, the ten-degree rule of makers' notes.
pub fn life_at(hours: f64, rated_at: f64, celsius: f64) -> f64 {
    hours * pow(2.0, (rated_at - celsius) / HALVES_LIFE)
}

/// Hours that a part lasts whose time is shared between temperatures: `Σt / Σ(t/L)`. Pairs of share and °C.
pub fn life_over(hours: f64, rated_at: f64, shares: &[(f64, f64)]) -> f64 {
    let all: f64 = shares.iter().map(|(share, _)| share).sum();
    let worn: f64 = shares
        .iter()
        .map(|(share, celsius)| share / life_at(hours, rated_at, *celsius))
        .sum();
    all / worn
}

/// The one temperature at which a part would last so many hours, °C.
pub fn temperature_for(hours: f64, rated_at: f64, lasts: f64) -> f64 {
    rated_at - HALVES_LIFE * ln(lasts / hours) / ln(2.0)
}

#[cfg(test)]
mod tests {
    use super::{life_at, life_over, temperature_for};

    /// PWR-CAP-06 and -07: a third of the time at each of three temperatures lasts as at 57.2 °C, above their mean.
    #[test]
    fn the_hottest_part_of_the_day_counts_most() {
        assert!((life_at(1000.0, 105.0, 65.0) - 16_000.0).abs() < 1e-6);
        let thirds = life_over(1000.0, 105.0, &[(1.0, 45.0), (1.0, 55.0), (1.0, 65.0)]);
        assert!((temperature_for(1000.0, 105.0, thirds) - 57.223_92).abs() < 1e-4);
    }
}
