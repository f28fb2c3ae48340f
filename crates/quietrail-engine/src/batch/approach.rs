//! Unknowns that belong to given stores, reached from those of others by a path between the two.
//!
//! Diodes and pass elements leave Newton's method swinging round their corners where it begins far off. What the
//! unknowns come to follows the stores without a jump, so they are moved there bit by bit.

use super::collocation::Step;
use super::equations::Equations;
use super::lanes::{Lanes, Mask, spread};

/// Length of the step that finds unknowns, in cycles: so short that nothing is stored in it.
const INSTANT: f64 = 1e-9;
/// Least part of the way that is tried, and how many parts in all.
const LEAST_PART: f64 = 1e-6;
const MOST_PARTS: usize = 60;

/// Where a path begins.
#[derive(Clone, Debug)]
pub(crate) struct Anchor {
    pub(crate) stores: Vec<f64>,
    pub(crate) unknowns: Vec<f64>,
    /// Sources there, as a share: none of a circuit that is switched off.
    pub(crate) strength: f64,
}

impl Anchor {
    /// Nothing stored, nothing switched on.
    pub(crate) fn nothing(stores: usize, unknowns: usize) -> Self {
        Self {
            stores: vec![0.0; stores],
            unknowns: vec![0.0; unknowns],
            strength: 0.0,
        }
    }

    /// Its unknowns in every lane.
    pub(crate) fn spread_unknowns(&self) -> Vec<Lanes> {
        spread(&self.unknowns)
    }
}

/// Brings a step's beginning from an anchor to stores at the start of a cycle, the same in all lanes; whether it got there.
pub(crate) fn approach(
    step: &mut Step,
    equations: &Equations<'_>,
    from: &Anchor,
    to: &[Lanes],
) -> bool {
    step.begin(&from.spread_unknowns());
    let (mut done, mut part) = (0.0, 1.0_f64);
    for _ in 0..MOST_PARTS {
        let next = (done + part).min(1.0);
        let z: Vec<Lanes> = from
            .stores
            .iter()
            .zip(to)
            .map(|(from, to)| Lanes::all(from + next * (to.0[0] - from)))
            .collect();
        step.strength = Lanes::all(from.strength + next * (1.0 - from.strength));
        let made = step.make(equations, &z, (Lanes::ZERO, Lanes::all(INSTANT)), Mask::ALL);
        if made.not().any() {
            part *= 0.25;
            if part < LEAST_PART {
                break;
            }
            continue;
        }
        step.stand();
        if next >= 1.0 {
            step.strength = Lanes::ONE;
            return true;
        }
        done = next;
        part *= 3.0;
    }
    step.strength = Lanes::ONE;
    false
}
