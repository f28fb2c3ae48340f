//! Cycles one after the other, as a circuit goes by itself: nothing is looked for and nothing leaps.

use super::Kind;
use super::closing::{Closing, Left, Pace};
use super::equations::Equations;
use super::lanes::WIDTH;
use crate::steady::Options;
use crate::system::System;

/// Cycles in which a cycle that would not last is left for good, and what comes of it is seen: a disturbance of a hundredth of a
/// thousandth that grows by a third each time takes 40.
const LEAVING: usize = 72;
/// Errors of their steps: they tell how it swings, not by how much.
const ABOUT: f64 = 1e-4;
/// Cycles over which a circuit is looked for to repeat.
const LONGEST_BEAT: usize = 16;
/// How far it may then be from where it was, as a share of how far it goes meanwhile: what swings seldom repeats exactly.
const REPEATS: f64 = 0.05;
/// Share of its level by which a store must move to count.
const MOVES: f64 = 1e-4;

/// Turns among twice as many cycles by which a store swings and does not creep.
const TURNS: usize = 8;

/// Where a circuit goes over to from a cycle that would not last.
#[derive(Clone, Debug, PartialEq)]
pub enum Beat {
    /// It comes to rest at another cycle, which begins with about these stores.
    Rests(Vec<f64>),
    /// It swings, and about repeats over so many cycles of the mains.
    Repeats(u64),
    /// It swings, and repeats over no few of them.
    Wanders,
}

impl Kind {
    /// Where a circuit goes over to from stores of a cycle that would not last.
    ///
    /// `None` where it is still on its way after some cycles, or cannot be followed so long.
    pub fn beat(&self, system: &System, from: &[f64], options: &Options) -> Option<Beat> {
        let options = Options {
            cycles: LEAVING as u64,
            tolerance: ABOUT,
            ..*options
        };
        let all = self.follow(system, Some(from), &options, |_| true)?;
        beat_of(&all)
    }

    /// Follows a circuit (its equations as they were assembled) from stores, or from rest: its stores before the first cycle and
    /// after each. It goes on as long as `goes_on` says of all so far, and within the options' cycles and steps.
    ///
    /// `None` where the circuit is of another kind, or a cycle cannot be followed to its end.
    pub fn follow(
        &self,
        system: &System,
        from: Option<&[f64]>,
        options: &Options,
        mut goes_on: impl FnMut(&[Vec<f64>]) -> bool,
    ) -> Option<Vec<Vec<f64>>> {
        let ready = self.ready(system, false)?;
        let equations = Equations::gather(&self.shape, [&ready.system; WIDTH])?;
        let left = Left {
            cycles: options.cycles,
            steps: options.steps,
            for_the_end: 0,
        };
        let mut closing = Closing::new(&ready.system, &equations, None, (left, Pace::Followed));
        let rest = || vec![0.0; system.store_count()];
        let mut all = vec![from.map_or_else(rest, <[f64]>::to_vec)];
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

/// What stores do at their end, followed cycle by cycle.
fn beat_of(all: &[Vec<f64>]) -> Option<Beat> {
    let end = all.last()?;
    // Beats are seen twice.
    let seen = &all[all.len().checked_sub(2 * LONGEST_BEAT + 1)?..];
    let level = |k: usize| all.iter().map(|z| z[k].abs()).fold(0.0, f64::max);
    let swing = |k: usize| {
        let of = |z: &Vec<f64>| (z[k] - end[k]).abs();
        seen.iter().map(of).fold(0.0, f64::max)
    };
    let moves: Vec<(usize, f64)> = (0..end.len())
        .map(|k| (k, swing(k)))
        .filter(|&(k, swing)| swing > MOVES * level(k))
        .collect();
    let repeats_over = |cycles: &usize| {
        let alike = |at: usize| {
            let (now, then) = (&seen[at], &seen[at - cycles]);
            let is_alike = |&(k, swing): &(usize, f64)| (now[k] - then[k]).abs() < REPEATS * swing;
            moves.iter().all(is_alike)
        };
        (LONGEST_BEAT..seen.len()).all(alike)
    };
    let turns = |k: usize| {
        let turns =
            |three: &&[Vec<f64>]| (three[1][k] - three[0][k]) * (three[2][k] - three[1][k]) < 0.0;
        seen.windows(3).filter(turns).count()
    };
    if moves.is_empty() {
        return Some(Beat::Rests(end.clone()));
    }
    match (2..=LONGEST_BEAT).find(repeats_over) {
        Some(cycles) => Some(Beat::Repeats(cycles as u64)),
        None => moves
            .iter()
            .any(|&(k, _)| turns(k) >= TURNS)
            .then_some(Beat::Wanders),
    }
}

#[cfg(test)]
mod tests {
    use super::{Beat, beat_of};

    #[test]
    fn what_repeats_over_some_cycles_is_told_from_what_creeps_and_what_never_repeats() {
        let of = |value: &dyn Fn(f64) -> f64| -> Vec<Vec<f64>> {
            (0..160).map(|k| vec![10.0, value(f64::from(k))]).collect()
        };
        let tau = std::f64::consts::TAU;
        let swings = |over: f64| move |k: f64| 10.0 + crate::math::sin(tau * k / over);
        for over in [2, 3, 4, 7] {
            let shifted = |k: f64| swings(f64::from(over))(k + 0.3);
            assert_eq!(beat_of(&of(&shifted)), Some(Beat::Repeats(over as u64)));
        }
        assert_eq!(beat_of(&of(&|_| 10.0)), Some(Beat::Rests(vec![10.0; 2])));
        assert_eq!(beat_of(&of(&|k| 10.0 + 0.01 * k)), None, "a slow climb");
        let never = swings(std::f64::consts::E);
        assert_eq!(beat_of(&of(&never)), Some(Beat::Wanders));
    }
}
