//! Capacitors that only discharge, held in their fall.
//!
//! Above the crest of what feeds it a capacitor only discharges, and the derivative of its cycle knows nothing of the
//! charge that waits below: a leap goes to where leakage alone would lead. From below the way is straight. So a fall is
//! cut short, a little at first and more each time that it goes on, until the capacitor is charged again.
//!
//! What charges a capacitor that hardly anything empties vanishes with a power of what it lacks, and leaps then close a
//! fixed share of the way. Once that shows, they are made longer.

use super::closing::Mapped;
use super::spans::Spans;
use crate::system::{Kind, System};

/// First cut of a fall, as a share of the level; and where a fine search begins, which ends near by.
const FIRST_CUT: f64 = 0.02;
const FIRST_CUT_NEAR: f64 = 1e-4;
/// Least cut, the same.
const LEAST_CUT: f64 = 1e-7;
/// Cut after a rise that went too far, as a share of it.
const BACK: f64 = 0.5;
/// Growth of a cut after which the fall goes on.
const GROWTH: f64 = 3.0;
/// Share of what one loses that charges another by its fall.
const CHARGES: f64 = 1e-3;
/// A fall that takes fewer cycles than this by itself is let go.
const CYCLES: f64 = 10.0;
/// Level below which nothing is held, as a share of what a store may come to.
const LEAST_LEVEL: f64 = 1e-3;

/// Shares of the last rise that the next one comes to where a charge vanishes with a power of what is lacking.
const CREEPS: std::ops::Range<f64> = 0.25..0.45;
/// By how much such rises are made longer: from a third to a tenth of what is lacking.
const LONGER: f64 = 1.35;

/// Cuts of each store's fall.
#[derive(Clone, Debug)]
pub(super) struct Falling {
    /// As shares of levels.
    cuts: Vec<f64>,
    /// Last rise of each, and whether it was made longer.
    rises: Vec<(f64, bool)>,
}

impl Falling {
    /// Of so many stores, in a fine search or in one that is on its way.
    pub(super) fn of(stores: usize, is_fine: bool) -> Self {
        let first = if is_fine { FIRST_CUT_NEAR } else { FIRST_CUT };
        Self {
            cuts: vec![first; stores],
            rises: vec![(0.0, false); stores],
        }
    }

    /// Makes rises longer that only creep.
    pub(super) fn lengthen(&mut self, system: &System, here: &Mapped, next: &mut [f64]) {
        for (k, store) in system.stores.iter().enumerate() {
            let z = here.z[k];
            let rise = z.signum() * (next[k] - z);
            let (last, was_longer) = self.rises[k];
            let share = rise / last;
            let is_slow = rise > CYCLES * (here.end[k] - z).abs();
            let creeps =
                CREEPS.contains(&share) || (was_longer && (0.0..CREEPS.end).contains(&share));
            let is_longer = store.kind == Kind::Volts && is_slow && last > 0.0 && creeps;
            if is_longer {
                next[k] = z + LONGER * (next[k] - z);
            }
            self.rises[k] = (rise.max(0.0), is_longer);
        }
    }

    /// Leaves stores where they are that would fall far: for a move of which nobody sees where it leads.
    pub(super) fn leave(system: &System, here: &Mapped, next: &mut [f64]) {
        let mut falling = Self::of(next.len(), false);
        falling.cuts.fill(LEAST_CUT);
        falling.hold(system, here, next);
    }

    /// Finite spans, and which stores would fall too far by their own: how far these fall is settled by their cuts, not by how long
    /// that takes, which by a leak alone is thousands of millions of cycles.
    pub(super) fn spans(
        &self,
        system: &System,
        here: &Mapped,
        endless: Option<&[f64]>,
        spans: &Spans,
    ) -> (Vec<f64>, Vec<bool>) {
        let (mut within, mut falls) = (spans.finite(), vec![false; here.z.len()]);
        let to_cuts = |next: &[f64]| self.shorter(system, here, next, spans.each());
        if let Some(to_cuts) = endless.and_then(to_cuts) {
            for (k, &span) in spans.each().iter().enumerate() {
                if to_cuts[k] < span {
                    (within[k], falls[k]) = (to_cuts[k], true);
                }
            }
        }
        (within, falls)
    }

    /// Spans by which no store falls too far; `None` where none would. Whatever moves with a store, by a choke or as
    /// one of two in series, then falls as far as it does.
    pub(super) fn shorter(
        &self,
        system: &System,
        here: &Mapped,
        next: &[f64],
        spans: &[f64],
    ) -> Option<Vec<f64>> {
        let mut is_shorter = false;
        let shorter = spans.iter().enumerate().map(|(k, &span)| {
            if !self.would_fall(system, here, next, k) {
                return span;
            }
            let most = self.cuts[k] * here.level[k];
            let short = most / (here.z[k] - here.end[k]).abs();
            is_shorter |= short < span;
            span.min(short)
        });
        let shorter: Vec<f64> = shorter.collect();
        is_shorter.then_some(shorter)
    }

    /// Whether a store would fall further than it may.
    fn would_fall(&self, system: &System, here: &Mapped, next: &[f64], k: usize) -> bool {
        let z = here.z[k];
        let falls = -z.signum() * (next[k] - z);
        let drifts_down = z.signum() * (z - here.end[k]);
        let is_slow = drifts_down > 0.0 && falls > CYCLES * drifts_down;
        let is_dead = here.level[k] < LEAST_LEVEL * system.volts_scale;
        system.stores[k].kind == Kind::Volts
            && !is_dead
            && is_slow
            && falls > self.cuts[k] * here.level[k]
    }

    /// Holds stores that would fall too far; which ones.
    pub(super) fn hold(&self, system: &System, here: &Mapped, next: &mut [f64]) -> Vec<bool> {
        let held = (0..next.len()).map(|k| {
            if !self.would_fall(system, here, next, k) {
                return false;
            }
            let z = here.z[k];
            next[k] = z - z.signum() * self.cuts[k] * here.level[k];
            true
        });
        held.collect()
    }

    /// Takes in how stores went on from one cycle to another.
    pub(super) fn learn(&mut self, here: &Mapped, there: &Mapped, held: &[bool]) {
        let goes_on = |k: usize| (there.end[k] - there.z[k]) * there.z[k] < 0.0;
        let stores = held.len();
        // Of two behind each other the one charges the other as it falls: how far that is to fall shows when the first is at rest.
        let is_charged_by_a_fall = |k: usize| {
            let row = &there.map[k * stores..(k + 1) * stores];
            (0..stores).any(|j| j != k && held[j] && goes_on(j) && row[j].abs() > CHARGES)
        };
        for (k, cut) in self.cuts.iter_mut().enumerate() {
            let z = there.z[k];
            let goes_on = goes_on(k);
            if held[k] {
                *cut *= match goes_on {
                    true => GROWTH,
                    false if is_charged_by_a_fall(k) => 1.0,
                    false => BACK,
                };
            } else {
                let rises = z.signum() * (z - here.z[k]) / there.level[k];
                let was_charged = (here.end[k] - here.z[k]) * here.z[k] > 0.0;
                if rises > 0.0 && was_charged && goes_on {
                    *cut = cut.min(BACK * rises);
                }
            }
            *cut = cut.max(LEAST_CUT);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::approach::Anchor;
    use super::super::closing::Mapped;
    use super::super::spans::Spans;
    use super::{BACK, FIRST_CUT, Falling, GROWTH};
    use crate::{Circuit, Element, GROUND, System, Wave};

    /// Two capacitors, each behind some ohms.
    fn two_capacitors() -> System {
        let mut circuit = Circuit::new(50.0);
        for _ in 0..2 {
            let raw = circuit.node();
            circuit.add(Element::Source {
                plus: raw,
                minus: GROUND,
                wave: Wave::sine(20.0),
                ohms: 0.5,
            });
            circuit.add(Element::Capacitor {
                a: raw,
                b: GROUND,
                farads: 1e-2,
                esr: 0.05,
                leakage: 0.0,
            });
        }
        System::assemble(&circuit).expect("physical")
    }

    fn cycle(z: [f64; 2], end: [f64; 2], map: [f64; 4]) -> Mapped {
        Mapped {
            z: z.to_vec(),
            anchor: Anchor::nothing(2, 2),
            end: end.to_vec(),
            map: map.to_vec(),
            level: z.to_vec(),
            swing: vec![0.0, 1.0],
            scale: vec![22e-4, 1.0],
            steps: 100,
        }
    }

    /// Beside one that hardly leaps, one that leaks a million millionth of its level in a cycle falls as far as its cut, which takes
    /// ten thousand million of them.
    #[test]
    fn what_only_leaks_falls_as_far_as_its_cut_however_long_that_takes() {
        const LEAK: f64 = 4e-11;
        let system = two_capacitors();
        let here = cycle([22.0, 15.0], [22.0 - LEAK, 15.2], [1.0, 0.0, 0.0, 0.9]);
        let mut spans = Spans::new(2, false);
        spans.shorten(&[0.0, 9.0], &[1.0, 24.0]);
        let falling = Falling::of(2, false);
        let (within, falls) = falling.spans(&system, &here, Some(&[0.0, 15.4]), &spans);
        assert_eq!(falls, [true, false]);
        let wanted = FIRST_CUT * 22.0 / LEAK;
        assert!((within[0] / wanted - 1.0).abs() < 1e-3, "{within:?}");
        assert_eq!(within[1], 3.0);
    }

    /// Two that fall, of which the second is charged: by the mains it is below its rest, and is to fall by less; by the first, which
    /// still falls, nothing is told of that.
    #[test]
    fn what_another_charges_by_its_fall_is_not_at_rest() {
        let here = cycle([22.0, 44.0], [21.9, 43.9], [1.0, 0.0, 0.0, 1.0]);
        for (charges, cut) in [(0.3, FIRST_CUT), (1e-9, BACK * FIRST_CUT)] {
            let mut falling = Falling::of(2, false);
            let there = cycle([21.6, 43.2], [21.5, 43.3], [0.7, 0.0, charges, 1.0]);
            falling.learn(&here, &there, &[true, true]);
            assert_eq!(falling.cuts, [GROWTH * FIRST_CUT, cut]);
        }
    }
}
