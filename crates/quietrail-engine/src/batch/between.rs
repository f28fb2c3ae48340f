//! Where a device whose linearisations swing is looked for.

use super::lanes::{Lanes, Mask, WIDTH};

/// Share of what lies between two inputs that were moved towards each other; nearer than that to the other one is as good as
/// beyond it.
const SHORT: f64 = 0.05;

/// Between which inputs a device was asked to move towards each other: what it is looked for lies between.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Between {
    low: Lanes,
    high: Lanes,
    /// Lanes in which it was let go, as a load that can stay no longer is.
    pub(crate) lets_go: Mask,
}

impl Between {
    pub(crate) const ANYWHERE: Self = Self {
        low: Lanes([f64::NEG_INFINITY; WIDTH]),
        high: Lanes([f64::INFINITY; WIDTH]),
        lets_go: Mask::NONE,
    };

    /// Anywhere, and let go in some lanes.
    pub(crate) fn let_go_in(lanes: Mask) -> Self {
        Self {
            lets_go: lanes,
            ..Self::ANYWHERE
        }
    }

    /// What is let go at one stage of a step is at all.
    pub(crate) fn let_go_together(stages: [&mut Self; 3]) {
        let all = stages.iter().map(|stage| stage.lets_go);
        let all = all.fold(Mask::NONE, Mask::or);
        for stage in stages {
            stage.lets_go = all;
        }
    }

    /// Where to linearise next, and the lanes that have not come to rest. Newton's method may swing across a bend for
    /// ever; what is asked for beyond where it was asked back from before is looked for half way.
    #[inline(always)]
    pub(crate) fn next(
        &mut self,
        at: Lanes,
        proposed: Lanes,
        (enough, may): (Lanes, Mask),
    ) -> (Lanes, Mask) {
        let scale = enough * proposed.abs().max(Lanes::ONE);
        let moves = scale.below((proposed - at).abs()).and(may);
        let (up, down) = (at.below(proposed), proposed.below(at));
        self.low = moves.and(up).select(self.low.max(at), self.low);
        self.high = moves.and(down).select(self.high.min(at), self.high);
        // Two that swing across each other may have led astray.
        let is_spent = (self.high - self.low).below(scale).and(moves);
        self.low = is_spent.select(Self::ANYWHERE.low, self.low);
        self.high = is_spent.select(Self::ANYWHERE.high, self.high);
        // From one end just short of the other is as bad: two tangents may lead to each other for ever.
        let short = Lanes::all(SHORT) * (self.high - self.low);
        let beyond = up.and((self.high - short).below(proposed));
        let beyond = beyond.or(down.and(proposed.below(self.low + short)));
        let beyond = beyond.or(proposed.below(self.low).or(self.high.below(proposed)));
        let middle = Lanes::all(0.5) * (self.low + self.high);
        let halves = moves.and(beyond).and(middle.is_finite());
        (halves.select(middle, proposed), moves)
    }
}

/// A load that was let go at one stage of a step is at all.
pub(crate) fn let_go_together(between: &mut [Vec<Between>; 3]) {
    let [first, second, third] = between;
    for ((first, second), third) in first.iter_mut().zip(second).zip(third) {
        Between::let_go_together([first, second, third]);
    }
}

#[cfg(test)]
mod tests {
    use super::{Between, Lanes, Mask};

    /// Tangents on either side of a bend lead exactly to each other's ends, as those of a pass element behind the series
    /// resistance of its capacitor did.
    #[test]
    fn tangents_that_lead_to_each_other_end_at_the_bend() {
        const BEND: f64 = 1.2816;
        let mut between = Between::ANYWHERE;
        let mut at = 1.0;
        for _ in 0..60 {
            let proposed = if at < BEND { 2.0 } else { 1.0 };
            let enough = (Lanes::all(1e-9), Mask::ALL);
            let (next, _) = between.next(Lanes::all(at), Lanes::all(proposed), enough);
            at = next.0[0];
            if (at - BEND).abs() < 1e-6 {
                return;
            }
        }
        panic!("still at {at}");
    }
}
