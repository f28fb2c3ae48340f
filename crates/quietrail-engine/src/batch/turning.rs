//! How low and how high a signal goes between the points at which it is known: the stages of all steps of a cycle, in a row.
//!
//! One cubic does not do: where a diode begins to conduct within a step, the signal has a corner, and a cubic across that
//! swings beyond it (a winding clamped to -1.4 mV was read as -40 mV). So each stretch between two points waits for the two
//! after it, and its cubic is that of the side on which the signal is smoother; where both sides are smooth and do not fit
//! together, the corner is where they meet. (Essentially non-oscillatory interpolation, and its subcell resolution: Harten,
//! *J. Comput. Phys.* 83 (1989) 148.)

use super::collocation::STAGES;
use super::lanes::{Lanes, Mask};

/// Stretches on either side of one that tell how the signal goes there.
const BESIDE: usize = 2;
/// Of a row of stretches, those seen when three more are known: the last one of the step before last, and the two last steps'.
const SEEN: usize = 2 * STAGES + 1;
/// How much the slope changes outside a stretch, as a share of what it changes across it, below which that is a corner. (Of a
/// parabola it is 2.)
const CORNER: f64 = 0.2;

/// What is known of a signal's way through the last steps. Slopes that nothing is known of are no number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Way {
    /// Slopes over the last stretch of the step before last, and those of the last one, per cycle.
    slopes: [Lanes; STAGES + 1],
    /// Values at the starts of the last two stretches of the last step, and at its end.
    points: [Lanes; STAGES],
}

/// Lengths of a row of stretches, in cycles.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lengths([Lanes; SEEN]);

/// Lowest and highest value.
pub(super) type Range = (Lanes, Lanes);

impl Way {
    /// Of which nothing is known yet.
    pub(super) fn unknown() -> Self {
        Self {
            slopes: [Lanes::all(f64::NAN); STAGES + 1],
            points: [Lanes::all(f64::NAN); STAGES],
        }
    }

    /// Goes on through a step in the lanes that accepted it; the range is widened by the points of it, and by how far the signal
    /// went beyond the points of the three stretches of which enough is known now.
    #[inline(always)]
    pub(super) fn take(
        &mut self,
        course: [Lanes; STAGES],
        lengths: &Lengths,
        accepted: Mask,
        range: &mut Range,
    ) {
        let next = self.after(course, lengths);
        let (low, high) = *range;
        let least = course[0].min(course[1]).min(course[2]);
        let most = course[0].max(course[1]).max(course[2]);
        let within = (low.min(least), high.max(most));
        let (low_beyond, high_beyond) = self.beyond(course, &next, lengths, within);
        range.0 = accepted.select(low_beyond, low);
        range.1 = accepted.select(high_beyond, high);
        for (kept, slope) in self.slopes.iter_mut().zip(next.slopes) {
            *kept = accepted.select(slope, *kept);
        }
        for (kept, point) in self.points.iter_mut().zip(next.points) {
            *kept = accepted.select(point, *kept);
        }
    }

    /// How far it went beyond its points where the last step leads into the cycle's first, of which the stages are known.
    pub(super) fn around(&self, first: [Lanes; STAGES], lengths: &Lengths, within: Range) -> Range {
        self.beyond(first, &self.after(first, lengths), lengths, within)
    }

    #[inline(always)]
    fn after(&self, course: [Lanes; STAGES], lengths: &Lengths) -> Self {
        let rise = |k: usize| {
            let before = if k == 0 {
                self.points[STAGES - 1]
            } else {
                course[k - 1]
            };
            (course[k] - before) / lengths.0[STAGES + 1 + k]
        };
        Self {
            slopes: [self.slopes[STAGES], rise(0), rise(1), rise(2)],
            points: course,
        }
    }

    /// A range, widened by the stretches that lie in the middle of this way and the next step's.
    #[inline(always)]
    fn beyond(
        &self,
        course: [Lanes; STAGES],
        next: &Self,
        lengths: &Lengths,
        within: Range,
    ) -> Range {
        let [a, b, c, d] = self.slopes;
        let slopes = [a, b, c, d, next.slopes[1], next.slopes[2], next.slopes[3]];
        let [p, q, r] = self.points;
        let values = [p, q, r, course[0]];
        let mut range = within;
        for k in 0..STAGES {
            let middle = k + BESIDE;
            let (left, right) = (slopes[middle - 1], slopes[middle + 1]);
            let length = lengths.0[middle];
            let (start, end) = (values[k], values[k + 1]);
            // How far it could go at most: as far as the lines on either side meet.
            let down = (-left).min(right) * length;
            let up = left.min(-right) * length;
            let falls = Lanes::ZERO
                .below(down)
                .and((start.min(end) - down).below(range.0));
            let rises = Lanes::ZERO
                .below(up)
                .and(range.1.below(start.max(end) + up));
            if !falls.or(rises).any() {
                continue;
            }
            let stretch = Stretch {
                start,
                end,
                slopes: std::array::from_fn(|i| slopes[k + i]),
                lengths: std::array::from_fn(|i| lengths.0[k + i]),
            };
            let (low, high) = stretch.extremes();
            range.0 = falls.select(range.0.min(low.max(start.min(end) - down)), range.0);
            range.1 = rises.select(range.1.max(high.min(start.max(end) + up)), range.1);
        }
        range
    }
}

impl Lengths {
    /// Of the last stretch of a step before last, of those of the last one, and of those of a third, from their lengths.
    pub(super) fn of(nodes: [f64; STAGES], [before_last, last, this]: [Lanes; 3]) -> Self {
        let [p, q, r] = nodes;
        let parts = [p, q - p, r - q];
        Self(std::array::from_fn(|k| match k {
            0 => Lanes::all(parts[STAGES - 1]) * before_last,
            _ if k <= STAGES => Lanes::all(parts[k - 1]) * last,
            _ => Lanes::all(parts[k - 1 - STAGES]) * this,
        }))
    }
}

/// A stretch between two points, and two on either side of it.
struct Stretch {
    start: Lanes,
    end: Lanes,
    slopes: [Lanes; 2 * BESIDE + 1],
    lengths: [Lanes; 2 * BESIDE + 1],
}

impl Stretch {
    /// Lowest and highest value in it.
    #[inline(never)]
    fn extremes(&self) -> Range {
        // Divided differences of second order, of each two stretches that meet.
        let bend = |k: usize| {
            (self.slopes[k + 1] - self.slopes[k]) / (self.lengths[k] + self.lengths[k + 1])
        };
        let bends = [bend(0), bend(1), bend(2), bend(3)];
        let (mut low, mut high) = (self.start.min(self.end), self.start.max(self.end));
        for (value, is_there) in self.turns(bends) {
            low = is_there.select(low.min(value), low);
            high = is_there.select(high.max(value), high);
        }
        let (corner, is_corner) = self.corner(bends);
        let with_corner = (
            self.start.min(self.end).min(corner),
            self.start.max(self.end).max(corner),
        );
        (
            is_corner.select(with_corner.0, low),
            is_corner.select(with_corner.1, high),
        )
    }

    /// Where the cubic of the smoother side turns, and whether that is within the stretch.
    fn turns(&self, bends: [Lanes; 4]) -> [(Lanes, Mask); 2] {
        let c = Lanes::all;
        let [far_left, left, length, right, far_right] = self.lengths;
        // Differences of third order, by which side they lean to.
        let twist_left = (bends[1] - bends[0]) / (far_left + left + length);
        let twist = (bends[2] - bends[1]) / (left + length + right);
        let twist_right = (bends[3] - bends[2]) / (length + right + far_right);
        let leans_left = bends[1].abs().below(bends[2].abs());
        let bend = leans_left.select(bends[1], bends[2]);
        let of_side = leans_left.select(twist_left, twist_right);
        let twist = of_side.abs().below(twist.abs()).select(of_side, twist);
        let far = leans_left.select(-left, length + right);
        // start + m x + x (x - L)(bend + twist (x - far)), and its derivative 3 a x² + 2 b x + s.
        let slope = self.slopes[BESIDE];
        let a = twist;
        let b = bend - twist * (length + far);
        let s = slope - bend * length + twist * length * far;
        let three = c(3.0);
        let inside = b * b - three * a * s;
        let root = inside.max(Lanes::ZERO).sqrt();
        // Each root by the form that loses no digits.
        let sum = -(b + b.below(Lanes::ZERO).select(-root, root));
        [sum / (three * a), s / sum].map(|x| {
            let value = self.start + x * slope + x * (x - length) * (bend + twist * (x - far));
            let is_there = Lanes::ZERO.below(x).and(x.below(length));
            (value, is_there.and(Lanes::ZERO.below(inside)))
        })
    }

    /// Where the ways on both sides of it meet, and whether they are smooth and do not fit together.
    fn corner(&self, bends: [Lanes; 4]) -> (Lanes, Mask) {
        let c = Lanes::all;
        let [_, left, length, right, _] = self.lengths;
        let across = (self.slopes[3] - self.slopes[1]) / (left + c(2.0) * length + right);
        let outside = bends[0].abs() + bends[3].abs();
        let is_corner = outside.below(c(CORNER) * across.abs());
        // Slopes at the ends of the stretch.
        let before = self.slopes[1] + bends[0] * left;
        let after = self.slopes[3] - bends[3] * right;
        let way = (self.end - self.start - after * length) / (before - after);
        let way = way.max(Lanes::ZERO).min(length);
        (self.start + before * way, is_corner)
    }
}

#[cfg(test)]
mod tests {
    use super::{Lengths, Mask, Way};
    use crate::batch::lanes::Lanes;
    use crate::step::Tableau;

    /// Steps of unlike lengths, by which a cycle is followed.
    const STEPS: [f64; 12] = [
        0.01, 0.02, 0.02, 0.15, 0.1, 0.1, 0.15, 0.15, 0.1, 0.05, 0.1, 0.05,
    ];

    /// Lowest and highest value of a signal of the time, known at the stages of steps so many times shorter.
    fn range(signal: impl Fn(f64) -> f64, shorter: usize) -> (f64, f64) {
        let nodes = Tableau::get().nodes;
        let (mut way, mut range) = (
            Way::unknown(),
            (Lanes::all(f64::INFINITY), Lanes::all(f64::NEG_INFINITY)),
        );
        let (mut t, mut last) = (0.0, [Lanes::ZERO; 2]);
        let mut first = None;
        for h in STEPS.iter().flat_map(|h| vec![h / shorter as f64; shorter]) {
            let course = nodes.map(|node| Lanes::all(signal(t + node * h)));
            let lengths = Lengths::of(nodes, [last[0], last[1], Lanes::all(h)]);
            way.take(course, &lengths, Mask::ALL, &mut range);
            first.get_or_insert((h, course));
            t += h;
            last = [last[1], Lanes::all(h)];
        }
        let (h, course) = first.expect("a step");
        let lengths = Lengths::of(nodes, [last[0], last[1], Lanes::all(h)]);
        let (low, high) = way.around(course, &lengths, range);
        (low.0[0], high.0[0])
    }

    /// Wherever in a cycle it is, also where the cycle begins again.
    #[test]
    fn of_a_sine_it_is_as_high_as_it_goes() {
        for place in 0..200 {
            let phase = f64::from(place) / 200.0;
            let wave = |t: f64| 5.0 + crate::math::cos(std::f64::consts::TAU * (t - phase));
            let (low, high) = range(wave, 8);
            assert!((high - 6.0).abs() < 4e-6, "{high} at {phase}");
            assert!((low - 4.0).abs() < 4e-6, "{low} at {phase}");
        }
    }

    /// A reservoir that falls until its diode conducts: the valley lies below every point that is known, and is where both
    /// ways meet.
    #[test]
    fn a_corner_is_where_both_ways_meet() {
        for place in 0..200 {
            let at = 0.1 + 0.8 * f64::from(place) / 200.0;
            let wave = |t: f64| {
                if t < at {
                    2.0 * (at - t)
                } else {
                    5.0 * (t - at)
                }
            };
            let (low, _) = range(wave, 4);
            assert!(low.abs() < 1e-12, "{low} at {at}");
        }
    }

    /// What falls and is clamped goes no lower than its clamp.
    #[test]
    fn what_is_clamped_does_not_swing_beyond() {
        for place in 0..200 {
            let at = 0.1 + 0.8 * f64::from(place) / 200.0;
            let wave = |t: f64| f64::max(7.0 * (at - t), 0.0);
            let (low, _) = range(wave, 4);
            assert_eq!(low, 0.0, "at {at}");
        }
    }
}
