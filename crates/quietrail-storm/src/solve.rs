//! Every state of one job, and how each ended.

use crate::compare::{Comparison, compare};
use crate::figures::{drops_out_partly, is_starved, plan};
use crate::judge::{Refusal, judged};
use crate::spent::Spent;
use quietrail_job::Severity;
use quietrail_job::model::Job;
use quietrail_study::lower::Step;
use quietrail_study::solve::{Plan, Setting, Solved, Trouble, answers, solve};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::Duration;

/// One solution in so many is found again another way.
const COMPARED: u64 = 50;

/// How a state of a job ended.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// Settled.
    Settled(Settled),
    /// There is nothing to find, for a reason of physics that was checked here.
    RefusedRightly(Refusal),
    /// There should be a steady state, and none was found.
    NotFound(Trouble),
    /// Something panicked: its words.
    Panicked(String),
}

/// What a settled state came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled {
    /// All figures.
    pub figures: Vec<f64>,
    /// Whether some regulator drops out for a part of the cycle.
    pub drops_out_partly: bool,
    /// Whether some load gets too little.
    pub is_starved: bool,
    /// What the other way found, where it was gone.
    pub comparison: Option<Comparison>,
}

/// What one state came to.
#[derive(Clone, Debug)]
pub struct State {
    /// How it ended.
    pub outcome: Outcome,
    /// Time of the solution alone: no judging, no comparison. That of the core where the system tells it: what
    /// others do on the machine meanwhile is no fault of the solution.
    pub took: Duration,
}

impl State {
    /// Whether it was to be found another way too, which did not come to an end.
    pub(crate) fn is_unjudged(&self) -> bool {
        let Outcome::Settled(settled) = &self.outcome else {
            return false;
        };
        matches!(settled.comparison, Some(Comparison::Unsettled { .. }))
    }
}

/// What a job came to.
#[derive(Clone, Debug)]
pub enum Fate {
    /// It could not be read: the first error.
    Unread(String),
    /// Its states, in the order of the job.
    Solved(Vec<State>),
}

/// Solves every state of a job, at nominal. The number decides which solutions are compared.
pub fn states(text: &str, number: u64) -> Fate {
    caught(|| all_states(text, number)).unwrap_or_else(|words| {
        let outcome = Outcome::Panicked(words);
        let took = Duration::ZERO;
        Fate::Solved(vec![State { outcome, took }])
    })
}

fn all_states(text: &str, number: u64) -> Fate {
    let reading = quietrail_job::read(text, None);
    let Some(job) = reading.job else {
        let error = reading
            .diagnostics
            .into_iter()
            .find(|said| said.severity == Severity::Error);
        return Fate::Unread(error.map_or_else(String::new, |said| said.message));
    };
    match plan(&job) {
        Ok(plan) => Fate::Solved(
            (0..job.states.len())
                .map(|state| one(&job, &plan, state, number))
                .collect(),
        ),
        Err(error) => Fate::Unread(error.to_string()),
    }
}

fn one(job: &Job, plan: &Plan, state: usize, number: u64) -> State {
    let options = quietrail_study::options();
    let step = Step::default();
    let setting = Setting {
        job,
        state,
        step: &step,
        options: &options,
    };
    let begun = Spent::now();
    let result = caught(|| {
        let solved = solve(plan, setting, &[], None)?;
        // Questions are answered too: they may trip over a figure.
        let _ = answers(plan, &solved);
        Ok(solved)
    });
    let took = begun.since();
    // Spread over jobs and states: the first state alone would never show a seldom one.
    let is_compared = (number + 17 * state as u64).is_multiple_of(COMPARED);
    let outcome = match result {
        Err(words) => Outcome::Panicked(words),
        Ok(Ok(solved)) => caught(|| settled(plan, &solved, is_compared))
            .map_or_else(Outcome::Panicked, Outcome::Settled),
        Ok(Err(trouble)) => caught(|| judged(plan, setting, &trouble))
            .map_or_else(Outcome::Panicked, |refusal| {
                refusal.map_or(Outcome::NotFound(trouble), Outcome::RefusedRightly)
            }),
    };
    State { outcome, took }
}

fn settled(plan: &Plan, solved: &Solved, is_compared: bool) -> Settled {
    let figures = solved.solution.values.clone();
    let reading = plan.table.with(&figures);
    let (drops_out_partly, is_starved) = (
        drops_out_partly(&solved.lowered, &reading),
        is_starved(&solved.lowered, &reading),
    );
    Settled {
        drops_out_partly,
        is_starved,
        comparison: is_compared.then(|| compare(plan, solved)),
        figures,
    }
}

/// What a computation returns, or the words of its panic.
fn caught<T>(compute: impl FnOnce() -> T) -> Result<T, String> {
    catch_unwind(AssertUnwindSafe(compute)).map_err(|panic| {
        let words = panic.downcast_ref::<String>().cloned();
        let still = || {
            panic
                .downcast_ref::<&str>()
                .map(|words| (*words).to_owned())
        };
        words.or_else(still).unwrap_or_default()
    })
}
