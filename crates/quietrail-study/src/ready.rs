//! A job made ready for quick answers: its nominal solution in every state, from which others are solved warm.

use crate::lower::Step;
use crate::search::{Position, at, position_of};
use crate::solve::{
    Beginning, Plan, Seeds, Setting, Solved, Trouble, Wanted, solve, solve_all, together,
};
use quietrail_engine::Options;
use quietrail_job::model::Job;
use quietrail_job::{Address, Change};
use rayon::prelude::*;
use std::sync::Arc;

/// A job with what is asked of it, and its nominal solutions.
pub struct Ready {
    /// The job.
    pub job: Job,
    /// What is asked.
    pub plan: Plan,
    /// The nominal solution of each state, or why there is none.
    pub nominal: Vec<Result<Solved, Trouble>>,
    options: Options,
    step: Step,
}

/// A corner as shares of tolerances, so that it can be put to a job whose figures have moved: address, and −1 at the low
/// end of its tolerance to 1 at the high end.
pub type Shares = Vec<(Address, f64)>;

impl Ready {
    /// Solves every state of a job with parts as marked.
    pub fn of(job: Job, plan: Plan, options: &Options) -> Self {
        let step = Step::default();
        let nominal = (0..job.states.len())
            .into_par_iter()
            .map(|state| {
                let setting = Setting {
                    job: &job,
                    state,
                    step: &step,
                    options,
                };
                solve(&plan, setting, &[], None)
            })
            .collect();
        Self {
            job,
            plan,
            nominal,
            options: *options,
            step,
        }
    }

    /// Where a state is solved.
    pub fn setting(&self, state: usize) -> Setting<'_> {
        Setting {
            job: &self.job,
            state,
            step: &self.step,
            options: &self.options,
        }
    }

    /// Solves lists of changes in a state, eight at a time, on all cores.
    pub fn solve(&self, state: usize, many: &[Vec<Change>]) -> Vec<Result<Solved, Trouble>> {
        match &self.nominal[state] {
            Ok(nominal) if many.len() <= together(many.len()) => {
                solve_all(&self.plan, self.setting(state), many, &nominal.solution)
            }
            Ok(nominal) => many
                .par_chunks(together(many.len()))
                .flat_map_iter(|some| {
                    solve_all(&self.plan, self.setting(state), some, &nominal.solution)
                })
                .collect(),
            // A change may mend what keeps it from settling.
            Err(_) => many
                .par_iter()
                .map(|changes| solve(&self.plan, self.setting(state), changes, None))
                .collect(),
        }
    }

    /// The same, each near one solved before.
    pub fn solve_beside(
        &self,
        state: usize,
        many: &[Vec<Change>],
        last: &[Arc<Solved>],
    ) -> Vec<Result<Solved, Trouble>> {
        let Ok(nominal) = &self.nominal[state] else {
            return self.solve(state, many);
        };
        let begin = last.iter().map(|last| Beginning::at(&last.solution));
        let begin: Vec<Beginning<'_>> = begin.collect();
        let wanted: Vec<Wanted<'_>> = many
            .iter()
            .enumerate()
            .map(|(k, changes)| Wanted {
                plan: &self.plan,
                setting: self.setting(state),
                changes,
                begin: begin.get(k),
            })
            .collect();
        Seeds::of(&nominal.solution).solve(&wanted)
    }

    /// Solves one list of changes in a state that is near one solved before, as it is while a hand moves. The same as
    /// [`Ready::solve_one`] comes to, within the tolerance, in less time.
    ///
    /// # Errors
    /// Why it did not settle.
    pub fn solve_on(
        &self,
        state: usize,
        changes: &[Change],
        last: Option<&Solved>,
    ) -> Result<Solved, Trouble> {
        let nominal = self.nominal[state].as_ref().ok();
        let Some(last) = last.or(nominal) else {
            return self.solve_one(state, changes);
        };
        let begin = Beginning::at(&last.solution);
        let wanted = Wanted {
            plan: &self.plan,
            setting: self.setting(state),
            changes,
            begin: Some(&begin),
        };
        let mut solved = Seeds::of(&last.solution).solve(&[wanted]);
        solved.pop().expect("one result for one list of changes")
    }

    /// Solves one list of changes in a state.
    ///
    /// # Errors
    /// Why it did not settle.
    pub fn solve_one(&self, state: usize, changes: &[Change]) -> Result<Solved, Trouble> {
        let seed = self.nominal[state].as_ref().ok();
        let seed = seed.map(|nominal| &nominal.solution);
        solve(&self.plan, self.setting(state), changes, seed)
    }
}

/// Values at a corner as shares of the tolerances of the job that they were found in.
pub fn shares_of<'a>(job: &Job, values: impl Iterator<Item = (&'a Address, f64)>) -> Shares {
    let parameters = job.reaches();
    let share = |(address, value): (&Address, f64)| {
        let parameter = parameters
            .iter()
            .find(|parameter| parameter.address == *address)?;
        let share = position_of(parameter, value).share();
        Some((address.clone(), share))
    };
    values.filter_map(share).collect()
}

/// A corner put to a job whose figures may have moved, after the changes that moved them. Figures that it no longer has
/// stand as marked.
pub fn changes_of(moved: &Job, changes: &[Change], corner: &[(Address, f64)]) -> Vec<Change> {
    let parameters = moved.reaches();
    let mut all = changes.to_vec();
    for (address, share) in corner {
        let known = parameters
            .iter()
            .find(|parameter| parameter.address == *address);
        if let Some(parameter) = known {
            all.push(Change::Set {
                address: address.clone(),
                value: at(parameter, Position::between(*share)),
            });
        }
    }
    all
}
