//! Scales and their ticks.

/// A linear map from a quantity to pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    low: f64,
    high: f64,
    at_low: f64,
    at_high: f64,
}

impl Scale {
    /// Maps `low` to pixel `at_low` and `high` to pixel `at_high`; `low < high`.
    pub(super) fn new(low: f64, high: f64, at_low: f64, at_high: f64) -> Self {
        Scale {
            low,
            high,
            at_low,
            at_high,
        }
    }

    /// The pixel of a value, also outside the ends.
    pub(super) fn at(&self, value: f64) -> f64 {
        self.at_low + (value - self.low) / (self.high - self.low) * (self.at_high - self.at_low)
    }

    /// Whether a value is between the ends.
    pub(super) fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}

/// Round values within a range, about `wanted` of them, and the digits after the point that tell them
/// apart.
pub(super) fn ticks(low: f64, high: f64, wanted: usize) -> (Vec<f64>, usize) {
    let span = high - low;
    if !(span > 0.0 && span.is_finite()) {
        return (Vec::new(), 0);
    }
    let rough = span / wanted.max(1) as f64;
    let power = rough.log10().floor();
    let decade = 10f64.powi(power as i32);
    let factor = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .min_by(|a, b| {
            (a * decade / rough)
                .ln()
                .abs()
                .total_cmp(&(b * decade / rough).ln().abs())
        })
        .unwrap_or(1.0);
    let step = factor * decade;
    let decimals = (-(step.log10() + 1e-9).floor()).max(0.0) as usize;
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    // Adding zero makes a negative zero positive: an axis never reads "−0".
    (
        (first..=last).map(|i| i as f64 * step + 0.0).collect(),
        decimals,
    )
}

/// A range widened to at least `least`, then by `share` of itself at both ends.
pub(super) fn roomy(low: f64, high: f64, least: f64, share: f64) -> (f64, f64) {
    let lacking = (least - (high - low)).max(0.0) / 2.0;
    let (low, high) = (low - lacking, high + lacking);
    let room = (high - low) * share;
    (low - room, high + room)
}

#[cfg(test)]
mod tests {
    use super::{Scale, roomy, ticks};

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks(12.6, 16.9, 5), (vec![13.0, 14.0, 15.0, 16.0], 0));
        let (around_zero, decimals) = ticks(-0.35, 0.41, 4);
        assert_eq!(decimals, 1);
        assert_eq!(around_zero.len(), 4);
        assert!(
            around_zero
                .iter()
                .any(|tick| *tick == 0.0 && tick.is_sign_positive())
        );
        for (low, high) in [
            (0.0, 3.7),
            (-18.2, -12.1),
            (11.998, 12.003),
            (0.0, 1e-6),
            (-40.0, 40.0),
        ] {
            let (found, _) = ticks(low, high, 5);
            assert!((2..=9).contains(&found.len()), "{low} .. {high}: {found:?}");
            assert!(
                found.iter().all(|tick| (low..=high).contains(tick)),
                "{found:?}"
            );
        }
    }

    #[test]
    fn nothing_to_scale_has_no_ticks() {
        assert!(ticks(1.0, 1.0, 5).0.is_empty());
        assert!(ticks(f64::NAN, 1.0, 5).0.is_empty());
    }

    #[test]
    fn a_flat_range_gets_room() {
        let (low, high) = roomy(12.0, 12.0, 0.4, 0.1);
        assert!(low < 11.8 && high > 12.2);
        let scale = Scale::new(low, high, 100.0, 0.0);
        assert!((scale.at(12.0) - 50.0).abs() < 1e-9);
        assert!(scale.holds(12.0) && !scale.holds(13.0));
    }
}
