//! The direct part of a current, which an ammeter for alternating current leaves out: a fuse behind a reservoir carries hardly anything else.

use super::Limited;
use crate::heat::Temperatures;
use crate::lower::{Step, lower};
use crate::question::current_of;
use crate::reading::OutputTable;
use crate::solve::{Plan, Setting, solve};
use quietrail_engine::{Options, Output};
use quietrail_job::model::{Job, Subject, What};

/// As predicted with parts as marked, A; 0 where an rms current is not asked for, or none is predicted.
pub(super) fn of(job: &Job, limit: &Limited, options: &Options) -> f64 {
    let is_asked = limit.what == What::RmsCurrent;
    let found = is_asked.then(|| predicted(job, limit, options)).flatten();
    found.map_or(0.0, f64::abs)
}

fn predicted(job: &Job, limit: &Limited, options: &Options) -> Option<f64> {
    let Subject::Part(name) = &limit.of else {
        return None;
    };
    let mut states = job.states.iter();
    let state = states.position(|state| state.name == limit.state)?;
    let step = Step::default();
    let lowered = lower(job, state, &step, &[], &Temperatures::at_rest(job)).ok()?;
    let mean = Output::Mean(current_of(&lowered, name)?);
    let mut table = OutputTable::of(&lowered);
    table.add(mean.clone());
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let solved = solve(&Plan::reading(table.clone()), setting, &[], None).ok()?;
    Some(table.with(&solved.solution.values).get(&mean))
}
