//! Every state of one job, and how each ended.

use crate::compare::{Disagreement, disagreement};
use quietrail_engine::{Ended, steady_state};
use quietrail_job::model::{Job, LoadDraw, PartKind};
use quietrail_study::heat::{Temperatures, temperatures};
use quietrail_study::lower::{Step, lower};
use quietrail_study::solve::{Plan, Setting, Trouble, assemble, solve};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

/// One solution in so many is found again another way.
const COMPARED: u64 = 50;
/// Rounds of heat that are followed before a rise counts as going on for ever.
const ROUNDS: usize = 24;

/// How a state of a job ended.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// Settled; its figures.
    Settled(Vec<f64>),
    /// There is nothing to find, for a reason of physics.
    RefusedRightly(Reason),
    /// There should be a steady state, and none was found: why, in the words of the code.
    NotFound(String),
}

/// Reasons of physics for which no steady state can be reported.
///
/// Kept narrow: whatever is not shown here by a computation of its own counts as not found. An overload is no
/// reason, since every load of the job file tapers off and has a steady state however overloaded; nor is a
/// singular circuit, since no job of a storm has a loop without resistance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reason {
    /// Heat makes more heat: rounds of temperature followed here grow to the last.
    Runaway,
    /// The cycle was found and a disturbance of it grows, in a job with a load of constant power, whose
    /// negative resistance can make it do so.
    UnstableWithPowerLoad,
}

/// What one state came to.
#[derive(Clone, Debug)]
pub struct Solved {
    /// How it ended.
    pub outcome: Outcome,
    /// Time it took, the comparison not included.
    pub took: Duration,
    /// Where another way led to something else.
    pub disagreement: Option<Disagreement>,
    /// Whether another way was gone.
    pub compared: bool,
}

/// What a job came to.
#[derive(Clone, Debug)]
pub enum Fate {
    /// It could not be read: the first diagnostic.
    Unread(String),
    /// Something panicked: its words.
    Panicked(String),
    /// Its states, in the order of the job.
    Solved(Vec<Solved>),
}

/// Solves every state of a job; panics are caught.
pub fn states(text: &str, number: u64) -> Fate {
    catch_unwind(AssertUnwindSafe(|| read_and_solve(text, number))).unwrap_or_else(|panic| {
        let words = panic.downcast_ref::<String>().cloned().or_else(|| {
            panic
                .downcast_ref::<&str>()
                .map(|words| (*words).to_owned())
        });
        Fate::Panicked(words.unwrap_or_default())
    })
}

fn read_and_solve(text: &str, number: u64) -> Fate {
    let reading = quietrail_job::read(text, None);
    let Some(job) = reading.job else {
        return Fate::Unread(format!("{:?}", reading.diagnostics.first()));
    };
    let plan = match Plan::of(&job) {
        Ok(plan) => plan,
        Err(error) => return Fate::Unread(format!("{error:?}")),
    };
    let solved = (0..job.states.len())
        .map(|state| one(&job, &plan, state, number))
        .collect();
    Fate::Solved(solved)
}

fn one(job: &Job, plan: &Plan, state: usize, number: u64) -> Solved {
    let options = quietrail_study::options();
    let setting = Setting {
        job,
        state,
        step: &Step::default(),
        options: &options,
    };
    let begun = Instant::now();
    let result = solve(plan, setting, &[], None);
    let took = begun.elapsed();
    // Spread over jobs and states: the first state alone would never show a seldom one.
    let compared = (number + 17 * state as u64).is_multiple_of(COMPARED) && result.is_ok();
    let (outcome, disagreement) = match result {
        Ok(solved) => {
            let disagreement = if compared {
                disagreement(&solved.lowered)
            } else {
                None
            };
            (Outcome::Settled(solved.solution.values), disagreement)
        }
        Err(trouble) => (judged(job, plan, state, &trouble), None),
    };
    Solved {
        outcome,
        took,
        disagreement,
        compared,
    }
}

fn judged(job: &Job, plan: &Plan, state: usize, trouble: &Trouble) -> Outcome {
    match trouble {
        Trouble::Runaway { .. } if runs_away(job, plan, state) => {
            Outcome::RefusedRightly(Reason::Runaway)
        }
        Trouble::Ended {
            ended: Ended::Unstable { .. },
            ..
        } if has_power_load(job, state) => Outcome::RefusedRightly(Reason::UnstableWithPowerLoad),
        other => Outcome::NotFound(format!("{other:?}")),
    }
}

fn has_power_load(job: &Job, state: usize) -> bool {
    job.parts.iter().any(|part| {
        matches!(&part.kind, PartKind::Load(load)
            if matches!(load.draws.get(state), Some(LoadDraw::Power(_))))
    })
}

/// Follows the rounds of heat: whether the changes grow from the middle of them to the end.
fn runs_away(job: &Job, plan: &Plan, state: usize) -> bool {
    let options = quietrail_study::options();
    let mut warmth = Temperatures::at_rest(job);
    let mut changes = Vec::new();
    for _ in 0..ROUNDS {
        let Ok(lowered) = lower(job, state, &Step::default(), &[], &warmth) else {
            return false;
        };
        let Ok(system) = assemble(&lowered) else {
            return false;
        };
        let Some(orbit) = steady_state(&system, &options).orbit else {
            return false;
        };
        let values = plan.table.read(&orbit);
        let next = temperatures(&lowered, &plan.table.with(&values));
        let change = next.distance(&warmth);
        if !change.is_finite() || next.air > 1e4 {
            return true;
        }
        changes.push(change);
        warmth = warmth.towards(&next);
    }
    let last = changes.len() - 1;
    changes[last] > changes[last / 2]
}
