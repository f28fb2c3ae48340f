//! How much hotter a part is inside, where its limit is, than outside, where a thermometer reads it.

use super::Limited;
use crate::band::bands;
use crate::case::{self, Outside};
use crate::heat::Temperatures;
use crate::lower::{Step, lower};
use crate::question::{Ask, Question};
use crate::reading::OutputTable;
use crate::search::parameters;
use crate::solve::{Plan, Setting};
use quietrail_bench::judge::Inside;
use quietrail_engine::Options;
use quietrail_job::model::{Job, Subject, What};

/// Of a limit on a temperature; `None` where that is what a thermometer reads.
pub(super) fn inside(job: &Job, limit: &Limited, options: &Options) -> Option<Inside> {
    let Subject::Part(name) = &limit.of else {
        return None;
    };
    let part = job.part(name).filter(|_| limit.what == What::Temperature)?;
    let unknown = Inside {
        least: 0.0,
        most: None,
    };
    match case::outside(part) {
        Outside::Same => None,
        Outside::Cooler => Some(unknown),
        Outside::Case => Some(of_case(job, name, limit, options).unwrap_or(unknown)),
    }
}

/// Its watts times its way to the case, over what tolerances and the mains do to them.
fn of_case(job: &Job, name: &str, limit: &Limited, options: &Options) -> Option<Inside> {
    let mut states = job.states.iter();
    let state = states.position(|state| state.name == limit.state)?;
    let step = Step::default();
    let lowered = lower(job, state, &step, &[], &Temperatures::at_rest(job)).ok()?;
    let question = Question {
        name: limit.name.clone(),
        of: limit.of.clone(),
        what: limit.what,
        states: vec![state],
        min: None,
        max: None,
        unit: limit.unit,
        from: String::new(),
        is_rating: false,
        is_quiet: false,
        ask: Ask::Inside(name.to_owned()),
    };
    let mut table = OutputTable::of(&lowered);
    question.register(&lowered, &mut table);
    let plan = Plan {
        questions: vec![question],
        table,
    };
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let found = bands(&plan, setting, &parameters(job, state), 1).ok()?;
    let band = found.into_iter().next()??;
    Some(Inside {
        least: band.low,
        most: Some(band.high),
    })
}
