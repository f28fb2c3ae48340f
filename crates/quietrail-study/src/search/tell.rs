//! Winners solved as exactly as they are told.
//!
//! Which corner is worst shows in figures that are right to a few parts in a hundred thousand, and most corners are solved only
//! to be left behind. What is told of the others is worth finer steps.

use super::corner::Corner;
use super::{Search, Tried, solve_corners};
use crate::solve::{Beginning, Setting, answers};

impl Search<'_> {
    /// Solves the winners in a finer setting, each from where it was found, and lets every question look at all of them. One
    /// that does not settle so is told as it was found.
    pub(super) fn tell(&mut self, setting: Setting<'_>) {
        if self.watch.is_stopped() {
            return;
        }
        let winners = self.winners();
        let begin: Vec<Option<Beginning<'_>>> = winners
            .iter()
            .map(|corner| {
                let tried = self.seen.get(corner)?.as_ref()?;
                Some(Beginning::again(&tried.solution))
            })
            .collect();
        let at = (self.plan, setting, self.parameters.as_slice());
        let results = solve_corners(at, &winners, &begin, &mut self.seeds);
        for (corner, result) in winners.iter().zip(results) {
            let Ok(solved) = result else { continue };
            self.solutions += solved.solution.rounds;
            let answers = answers(self.plan, &solved).into_iter();
            let tried = Tried {
                values: answers.map(Result::ok).collect(),
                solution: solved.solution,
            };
            self.seen.insert(corner.clone(), Some(tried));
        }
        let as_marked = self.as_marked();
        for a in 0..self.aims.len() {
            let q = self.aims[a].q;
            if !self.is_asked(q) {
                continue;
            }
            let told = winners.iter().chain([&as_marked]).filter_map(|corner| {
                let value = self.seen.get(corner)?.as_ref()?.values[q]?;
                Some((value, corner))
            });
            self.aims[a].take_anew(told);
        }
    }

    /// The corners at which questions are worst, but for the nominal one, which is no corner.
    fn winners(&self) -> Vec<Corner> {
        let as_marked = self.as_marked();
        let asked = self.aims.iter().filter(|aim| self.is_asked(aim.q));
        let mut winners: Vec<Corner> = asked
            .filter_map(|aim| Some(aim.best.as_ref()?.1.clone()))
            .filter(|corner| *corner != as_marked)
            .collect();
        winners.sort();
        winners.dedup();
        winners
    }
}
