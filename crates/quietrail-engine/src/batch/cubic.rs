//! The cubic through the start and the stages of a step: what a signal does in it, and where it is lowest and highest.

use super::collocation::STAGES;
use super::lanes::{Lanes, Mask};

/// Weights of the cubic through the start of a step and its stages.
pub(super) fn through(nodes: [f64; STAGES], theta: f64) -> [f64; 4] {
    let at = [0.0, nodes[0], nodes[1], nodes[2]];
    std::array::from_fn(|i| {
        let others = (0..4).filter(|&j| j != i);
        others.map(|j| (theta - at[j]) / (at[i] - at[j])).product()
    })
}

/// Where in a step the cubic through its start and stages is lowest, or highest, a share of its length; and its value there.
pub(super) fn where_extreme(
    nodes: [f64; STAGES],
    start: f64,
    values: [f64; STAGES],
    is_high: bool,
) -> (f64, f64) {
    let cubic = Cubic::through(nodes, Lanes::all(start), values.map(Lanes::all));
    let sign = if is_high { 1.0 } else { -1.0 };
    let height = |theta: f64| sign * cubic.at(Lanes::all(theta)).0[0];
    let (turns, there) = cubic.turns();
    let mut best = if height(1.0) > height(0.0) { 1.0 } else { 0.0 };
    for (turn, is_there) in turns.into_iter().zip(there) {
        let theta = turn.0[0];
        if is_there.at(0) && height(theta) > height(best) {
            best = theta;
        }
    }
    (best, sign * height(best))
}

/// The cubic through the start of a step and its stages, over the share of its length.
struct Cubic {
    start: Lanes,
    a: Lanes,
    b: Lanes,
    c: Lanes,
}

impl Cubic {
    #[inline(always)]
    fn through(nodes: [f64; STAGES], start: Lanes, values: [Lanes; STAGES]) -> Self {
        let c = Lanes::all;
        // Newton's divided differences at 0 and the nodes, then powers of θ.
        let [p, q, r] = nodes;
        let [first, second, third] = rises(nodes, start, values);
        let bend = (second - first) * c(1.0 / q);
        let next_bend = (third - second) * c(1.0 / (r - p));
        let cubic = (next_bend - bend) * c(1.0 / r);
        Self {
            start,
            a: first - bend * c(p) + cubic * c(p * q),
            b: bend - cubic * c(p + q),
            c: cubic,
        }
    }

    #[inline(always)]
    fn at(&self, theta: Lanes) -> Lanes {
        self.start + theta * (self.a + theta * (self.b + theta * self.c))
    }

    /// Where it turns, and whether that is within the step.
    #[inline(always)]
    fn turns(&self) -> ([Lanes; 2], [Mask; 2]) {
        let Self { a, b, c, .. } = *self;
        let three = Lanes::all(3.0);
        // 3 c θ² + 2 b θ + a = 0, each root by the form that loses no digits.
        let inside = b * b - three * c * a;
        let root = inside.max(Lanes::ZERO).sqrt();
        let sum = -(b + b.below(Lanes::ZERO).select(-root, root));
        let turns = [sum / (three * c), a / sum];
        let is_there = |theta: Lanes| {
            Lanes::ZERO
                .below(theta)
                .and(theta.below(Lanes::ONE))
                .and(Lanes::ZERO.below(inside))
        };
        (turns, [is_there(turns[0]), is_there(turns[1])])
    }
}

/// How steeply values rise from the start of a step to its first stage, and from stage to stage.
#[inline(always)]
fn rises([p, q, r]: [f64; STAGES], start: Lanes, values: [Lanes; STAGES]) -> [Lanes; STAGES] {
    [
        (values[0] - start) * Lanes::all(1.0 / p),
        (values[1] - values[0]) * Lanes::all(1.0 / (q - p)),
        (values[2] - values[1]) * Lanes::all(1.0 / (r - q)),
    ]
}

#[cfg(test)]
mod tests {
    use super::where_extreme;

    /// Wherever in a step it is, also close to either end.
    #[test]
    fn an_extreme_is_where_it_is() {
        let nodes = [0.155_051, 0.644_949, 1.0];
        for top in [-0.2, 0.0, 0.01, 0.03, 0.5, 0.97, 0.99, 1.0, 1.2] {
            for sign in [1.0, -1.0] {
                let hill = |theta: f64| sign * (5.0 - (theta - top) * (theta - top));
                let (found, value) = where_extreme(nodes, hill(0.0), nodes.map(hill), sign > 0.0);
                let wanted = top.clamp(0.0, 1.0);
                assert!((found - wanted).abs() < 1e-9, "{found} for {top}");
                assert!((value - hill(wanted)).abs() < 1e-9, "{value} for {top}");
            }
        }
    }
}
