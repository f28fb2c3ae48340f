//! How long the steps of a cycle are: in each lane as its own errors ask, or as those that it made the last time.

use super::lanes::{Lanes, Mask, WIDTH};
use crate::march::{FIRST_STEP, LONGEST_STEP, SHORTEST_STEP};
use crate::math::{ln, pow};

/// Error, as so many times the one allowed, up to which a step that is made again still serves.
const LENIENT: f64 = 1.5;
/// Errors grow with this power of a step's length where all is smooth.
const ORDER: f64 = 4.0;
/// The same at least: where a law has a corner.
const LEAST_ORDER: f64 = 1.0;
/// What a step is made shorter by than the one that would just do.
const MARGIN: f64 = 0.9;
/// How many times longer, or shorter, the next one may be.
const MOST_GROWTH: f64 = 8.0;
const LEAST_GROWTH: f64 = 0.2;
const MOST_CUT: f64 = 0.1;

/// Ends of steps for each lane to make again where they still serve, so that a cycle near the one that they were chosen for
/// errs as it did; none where steps are chosen anew.
pub(crate) type Grids<'a> = [&'a [f64]; WIDTH];

/// No steps to make again.
pub(crate) const CHOSEN_ANEW: Grids<'static> = [&[]; WIDTH];

/// Steps on their way through a cycle.
pub(super) struct Strides<'g> {
    grids: Grids<'g>,
    /// Time reached, and the one that is landed on next: of a grid the next point, else the next quarter of the cycle, for
    /// crests and zeros of the mains are always landed on.
    pub(super) t: Lanes,
    landmark: Lanes,
    /// Where each lane ends; landed on too.
    until: Lanes,
    /// Length wanted of the next step.
    h: Lanes,
    /// Lanes whose last step served, so that the next may be longer.
    may_grow: Mask,
    /// Lanes whose last step erred too much; its length and error.
    refused: Mask,
    last: (Lanes, Lanes),
    /// Length down to which steps are made as short as their errors ask.
    least: f64,
    /// Whether steps refused twice come down by what their errors did.
    comes_down: bool,
    lenient: Lanes,
}

/// A step to make.
#[derive(Clone, Copy)]
pub(super) struct Stride {
    pub(super) t: Lanes,
    pub(super) length: Lanes,
    /// Lanes in which it lands.
    lands: Mask,
}

impl<'g> Strides<'g> {
    pub(super) fn new(grids: Grids<'g>, until: Lanes, least: f64, comes_down: bool) -> Self {
        let lenient = |grid: &[f64]| if grid.is_empty() { 1.0 } else { LENIENT };
        let mut strides = Self {
            grids,
            t: Lanes::ZERO,
            landmark: Lanes::ZERO,
            until,
            h: Lanes::all(FIRST_STEP),
            may_grow: Mask::ALL,
            refused: Mask::NONE,
            last: (Lanes::ZERO, Lanes::ZERO),
            least,
            comes_down,
            lenient: Lanes(grids.map(lenient)),
        };
        strides.look_ahead();
        strides
    }

    /// The step to make next.
    #[inline(always)]
    pub(super) fn next(&self) -> Stride {
        let room = self.landmark - self.t;
        let lands = Mask::of(|k| self.h.0[k] >= 0.999 * room.0[k]);
        let half = Lanes::all(0.5) * room;
        let length = half.below(self.h).select(half, self.h);
        Stride {
            t: self.t,
            length: lands.select(room, length),
            lands,
        }
    }

    /// Lanes in which a step serves that erred by so many times what is allowed, or cannot well be shorter.
    #[inline(always)]
    pub(super) fn serves(&self, stride: Stride, error: Lanes) -> Mask {
        let least = self.least.max(16.0 * SHORTEST_STEP);
        let is_small = stride.length.below(Lanes::all(least));
        self.lenient.below(error).not().or(is_small)
    }

    /// Goes on from a step that was made in some lanes and accepted in some of these; `running` are those that made any.
    #[inline(always)]
    pub(super) fn take(
        &mut self,
        stride: Stride,
        error: Lanes,
        (made, accepted, running): (Mask, Mask, Mask),
    ) {
        let length = stride.length;
        // error^(-1/4), as the march of one circuit has it.
        let mut wish = Lanes::all(MARGIN) / error.max(Lanes::all(1e-8)).sqrt().sqrt();
        let refused = running.and(made).and(accepted.not());
        let refused_again = refused.and(self.refused);
        if self.comes_down && refused_again.any() {
            wish = self.by_what_errors_did(refused_again, (length, error), wish);
        }
        let most = self.may_grow.select(Lanes::all(MOST_GROWTH), Lanes::ONE);
        let grown = wish.max(Lanes::all(LEAST_GROWTH)).min(most);
        let cut = made.select(
            wish.max(Lanes::all(MOST_CUT)).min(Lanes::all(MARGIN)),
            Lanes::all(0.25),
        );
        let next = (length * accepted.select(grown, cut)).min(Lanes::all(LONGEST_STEP));
        let least = Lanes::all(0.999 * self.least);
        let next = accepted.select(next.max(least), next);
        self.h = running.select(next, self.h);
        self.may_grow = accepted;
        self.refused = refused;
        self.last = (length, error);
        let landed = stride.lands.select(self.landmark, stride.t + length);
        self.t = accepted.select(landed, self.t);
        if accepted.any() {
            self.look_ahead();
        }
        // As far as the next one to make again.
        for lane in 0..WIDTH {
            if accepted.at(lane) && !self.grids[lane].is_empty() {
                self.h.0[lane] = LONGEST_STEP;
            }
        }
    }

    /// Lanes that get no further.
    #[inline(always)]
    pub(super) fn stuck(&self) -> Mask {
        self.h.below(Lanes::all(SHORTEST_STEP))
    }

    /// How many times longer a step should be that erred too much twice: by the power with which its error went down with its
    /// length. Over a corner of a law that is less than the order of the method. (Gustafsson, *ACM Trans. Math. Software* 20
    /// (1994) 496.)
    #[inline(never)]
    fn by_what_errors_did(
        &self,
        lanes: Mask,
        (length, error): (Lanes, Lanes),
        mut wish: Lanes,
    ) -> Lanes {
        for lane in 0..WIDTH {
            if lanes.at(lane) {
                let shorter = ln(self.last.0.0[lane] / length.0[lane]);
                let less = ln(self.last.1.0[lane] / error.0[lane]);
                let order = less / shorter;
                let order = if order > LEAST_ORDER {
                    order.min(ORDER)
                } else {
                    // Also where it is no number.
                    LEAST_ORDER
                };
                wish.0[lane] = MARGIN * pow(error.0[lane], -1.0 / order);
            }
        }
        wish
    }

    #[inline(always)]
    fn look_ahead(&mut self) {
        for lane in 0..WIDTH {
            let t = self.t.0[lane];
            let grid = self.grids[lane];
            self.landmark.0[lane] = if grid.is_empty() {
                ((t * 4.0).floor() + 1.0) / 4.0
            } else {
                let next = grid.partition_point(|point| *point <= t);
                grid.get(next).copied().unwrap_or(1.0)
            };
        }
        let ends = self.t.below(self.until);
        self.landmark = ends.select(self.landmark.min(self.until), self.landmark);
    }
}

#[cfg(test)]
mod tests {
    use super::{CHOSEN_ANEW, Strides};
    use crate::batch::lanes::{Lanes, Mask};

    /// Goes through half a cycle in which a step errs as given by where it begins and how long it is: where those end that
    /// served, in the first lane, and how many did not.
    fn gone_through(mut strides: Strides<'_>, errs: impl Fn(f64, f64) -> f64) -> (Vec<f64>, usize) {
        let (mut ends, mut refused) = (Vec::new(), 0);
        while strides.t.0[0] < 0.5 {
            let stride = strides.next();
            let error = Lanes(std::array::from_fn(|lane| {
                errs(stride.t.0[lane], stride.length.0[lane])
            }));
            let accepted = strides.serves(stride, error);
            strides.take(stride, error, (Mask::ALL, accepted, Mask::ALL));
            if accepted.at(0) {
                ends.push(strides.t.0[0]);
            } else {
                refused += 1;
            }
            assert!(ends.len() + refused < 1_000, "no end");
        }
        (ends, refused)
    }

    /// Over a corner an error is as its step is long, not as the fourth power of that: a step that takes the power for the
    /// fourth comes down to what serves by ten small cuts.
    #[test]
    fn a_corner_is_come_down_to_in_few_steps() {
        let corner = 0.1;
        let errs = |t: f64, length: f64| {
            if t < corner && t + length > corner {
                1e4 * length
            } else {
                0.1
            }
        };
        let (_, refused) = gone_through(Strides::new(CHOSEN_ANEW, Lanes::ONE, 0.0, true), errs);
        assert!((1..=6).contains(&refused), "{refused}");
    }

    /// Steps that served the last time are made again, also where they err a little more now; a lane beside it that has none
    /// chooses its own.
    #[test]
    fn steps_of_the_last_cycle_are_made_again() {
        let of_last = [1e-6, 0.015, 0.03, 0.031, 0.05, 0.07, 0.09, 0.11, 0.12];
        let of_last: Vec<f64> = of_last
            .into_iter()
            .chain((7..=25).map(|k| 0.02 * f64::from(k)))
            .collect();
        let mut grids = CHOSEN_ANEW;
        grids[0] = &of_last;
        let errs = |t: f64, _| if t == 0.0 { 0.0 } else { 1.4 };
        let (ends, refused) = gone_through(Strides::new(grids, Lanes::ONE, 0.0, true), errs);
        assert_eq!((ends, refused), (of_last.clone(), 0));
        grids.swap(0, 1);
        let smooth = |_, _| 0.5;
        let (ends, _) = gone_through(Strides::new(grids, Lanes::ONE, 0.0, true), smooth);
        assert_ne!(ends, of_last);
    }

    /// A lane that goes through a part of the cycle lands on its end; one beside it goes on.
    #[test]
    fn a_part_of_a_cycle_is_landed_on() {
        let mut until = Lanes::ONE;
        until.0[0] = 0.37;
        let mut strides = Strides::new(CHOSEN_ANEW, until, 0.0, false);
        let smooth = Lanes::all(0.1);
        let mut ends = Vec::new();
        while strides.t.below(until).any() {
            let running = strides.t.below(until);
            let stride = strides.next();
            let accepted = strides.serves(stride, smooth).and(running);
            strides.take(stride, smooth, (Mask::ALL, accepted, running));
            ends.push(strides.t.0[0]);
        }
        assert!(ends.contains(&0.25), "crests are landed on: {ends:?}");
        assert_eq!(strides.t.0[0].to_bits(), 0.37_f64.to_bits());
        assert_eq!(strides.t.0[1].to_bits(), 1.0_f64.to_bits());
    }
}
