//! Cycles one after the other, as a circuit goes by itself: nothing is looked for and nothing leaps.

use super::Kind;
use super::closing::{Closing, Left, Pace};
use super::equations::Equations;
use super::lanes::WIDTH;
use crate::steady::Options;
use crate::system::System;

impl Kind {
    /// Follows a circuit (its equations as they were assembled) from rest: its stores before the first cycle and after each.
    /// It goes on as long as `goes_on` says of all so far, and within the options' cycles and steps.
    ///
    /// `None` where the circuit is of another kind, or a cycle cannot be followed to its end.
    pub fn follow(
        &self,
        system: &System,
        options: &Options,
        mut goes_on: impl FnMut(&[Vec<f64>]) -> bool,
    ) -> Option<Vec<Vec<f64>>> {
        let ready = self.ready(system, false)?;
        let equations = Equations::gather(&self.shape, [&ready.system; WIDTH])?;
        let left = Left {
            cycles: options.cycles,
            steps: options.steps,
        };
        let mut closing = Closing::new(&ready.system, &equations, None, (left, Pace::Followed));
        let mut all = vec![vec![0.0; system.store_count()]];
        for _ in 0..options.cycles {
            let next = closing.pass(&all[all.len() - 1], options.tolerance).ok()?;
            all.push(next);
            if !goes_on(&all) {
                break;
            }
        }
        Some(all)
    }
}
