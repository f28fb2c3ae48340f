//! Draws from a normal distribution that is cut off at both ends.

use quietrail_engine::math::erfc;
use std::f64::consts::SQRT_2;

/// Halvings by which a deviate is found: to a part in 10¹³ of the range, finer than the draws.
const HALVINGS: usize = 44;

/// Below which share of the way from the middle to either end (−1 to 1) a value lies with a probability, where the ends are so
/// many standard deviations off and nothing lies beyond them.
pub(super) fn share_below(probability: f64, cut: f64) -> f64 {
    let below = |deviations: f64| 0.5 * erfc(-deviations / SQRT_2);
    let (least, most) = (below(-cut), below(cut));
    let wanted = least + probability * (most - least);
    let (mut low, mut high) = (-cut, cut);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if below(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high) / cut
}

#[cfg(test)]
mod tests {
    use super::share_below;

    /// Quantiles of the normal distribution as in every statistical table, e.g. NIST/SEMATECH e-Handbook 1.3.6.7.1: 84.134 %
    /// lie below one deviation, 97.5 % below 1.960. At a cut of 8 deviations nothing is missing that these could show.
    #[test]
    fn deviates_are_those_of_the_tables() {
        for (probability, deviations) in
            [(0.5, 0.0), (0.84134, 1.0), (0.97725, 2.0), (0.975, 1.960)]
        {
            let found = 8.0 * share_below(probability, 8.0);
            assert!((found - deviations).abs() < 1e-4, "{probability}: {found}");
            let mirrored = 8.0 * share_below(1.0 - probability, 8.0);
            assert!((mirrored + deviations).abs() < 1e-4, "{mirrored}");
        }
    }

    #[test]
    fn nothing_lies_beyond_the_cut() {
        for cut in [0.5, 1.0, 3.0, 8.0] {
            for probability in [1e-10, 1.0 - 1e-10] {
                let share = share_below(probability, cut);
                assert!(share.abs() <= 1.0, "{share}");
            }
            assert!(share_below(1e-10, cut) < -0.7, "the ends are reached");
        }
        // With the cut at one deviation, 68.27 % of the whole is all there is: a quarter of that lies below the deviate of
        // 0.5 − 0.25 × 0.6827 = 0.3293, which is −0.4418 in the same tables.
        assert!((share_below(0.25, 1.0) + 0.4418).abs() < 2e-4);
    }
}
