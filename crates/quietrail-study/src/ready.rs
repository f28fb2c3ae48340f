//! A job made ready for quick answers: its nominal solution in every state, from which others are solved warm.

use crate::looking;
use crate::lower::Step;
use crate::search::{Position, at, position_of};
use crate::solve::{
    Beginning, Plan, Seeds, Setting, Solved, Trouble, Wanted, solve, solve_all, together,
};
use quietrail_engine::Options;
use quietrail_job::model::Job;
use quietrail_job::{Address, Change, Parameter};
use rayon::prelude::*;

/// A job with what is asked of it, and its nominal solutions.
pub struct Ready {
    /// The job.
    pub job: Job,
    /// What is asked.
    pub plan: Plan,
    /// The nominal solution of each state, or why there is none.
    pub nominal: Vec<Result<Solved, Trouble>>,
    options: Options,
    /// Of what is solved beside what was solved before it.
    looking: Options,
    step: Step,
}

/// A corner as shares of tolerances, so that it can be put to a job whose figures have moved: address, and −1 at the low
/// end of its tolerance to 1 at the high end.
pub type Shares = Vec<(Address, f64)>;

/// A list of changes in a state, near what is solved.
#[derive(Clone, Copy)]
pub struct Beside<'a> {
    /// The state.
    pub state: usize,
    /// The changes.
    pub changes: &'a [Change],
    /// What is solved near them.
    pub last: &'a Solved,
}

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
            looking: looking(options),
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

    /// The same in several states, each near one solved before, and only as exactly as what is looked at ([`crate::looking`]):
    /// states whose circuits are of one kind go together.
    pub fn solve_beside(&self, many: &[Beside<'_>]) -> Vec<Result<Solved, Trouble>> {
        let begin: Vec<Beginning<'_>> = many
            .iter()
            .map(|one| Beginning::at(&one.last.solution))
            .collect();
        let mut done: Vec<Option<Result<Solved, Trouble>>> = many.iter().map(|_| None).collect();
        let mut left: Vec<usize> = (0..many.len()).collect();
        while let Some(&first) = left.first() {
            let seed = &many[first].last.solution;
            let (group, others) = left.into_iter().partition::<Vec<usize>, _>(|&k| {
                k == first || seed.is_like(&many[k].last.solution)
            });
            left = others;
            let wanted: Vec<Wanted<'_>> = group
                .iter()
                .map(|&k| Wanted {
                    plan: &self.plan,
                    setting: Setting {
                        options: &self.looking,
                        ..self.setting(many[k].state)
                    },
                    changes: many[k].changes,
                    begin: Some(&begin[k]),
                })
                .collect();
            for (k, solved) in group.into_iter().zip(Seeds::of(seed).solve(&wanted)) {
                done[k] = Some(solved);
            }
        }
        done.into_iter().flatten().collect()
    }

    /// Solves one list of changes in a state that is near one solved before, as it is while a hand moves. The same as
    /// [`Ready::solve_one`] comes to, to a few parts in a hundred thousand, in less time.
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
        let beside = Beside {
            state,
            changes,
            last,
        };
        let mut solved = self.solve_beside(&[beside]);
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

/// Values at a corner as shares of the tolerances ([`Job::reaches`]) of the job that they were found in.
pub fn shares_of<'a>(
    parameters: &[Parameter],
    values: impl Iterator<Item = (&'a Address, f64)>,
) -> Shares {
    let share = |(address, value): (&Address, f64)| {
        let parameter = parameters
            .iter()
            .find(|parameter| parameter.address == *address)?;
        let share = position_of(parameter, value).share();
        Some((address.clone(), share))
    };
    values.filter_map(share).collect()
}

/// A corner put to a job whose figures may have moved, by its tolerances now, after the changes that moved them. Figures that
/// it no longer has stand as marked.
pub fn changes_of(
    parameters: &[Parameter],
    changes: &[Change],
    corner: &[(Address, f64)],
) -> Vec<Change> {
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
