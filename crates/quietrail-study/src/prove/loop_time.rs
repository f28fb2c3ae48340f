//! Peaks and valleys that lean on a loop time nobody measured.
//!
//! Data sheets give no loop dynamics. Where a verdict about an instant would turn when the assumed loop time
//! is ten times shorter or longer, it is not shown.

use super::is_about_an_instant;
use crate::finding::WhyNot;
use crate::search::{Corner, StateFindings, changes_at};
use crate::solve::{Plan, Setting, answers, solve};
use quietrail_job::model::{Job, Origin, PartKind};

/// Why the verdict on a question cannot be trusted, if it leans on an assumed loop time.
pub(super) fn leans(
    plan: &Plan,
    setting: Setting<'_>,
    found: &StateFindings,
    q: usize,
    value: f64,
    corner: &Corner,
) -> Option<WhyNot> {
    let question = &plan.questions[q];
    if !is_about_an_instant(question) || question.margin(value) < 0.0 {
        return None;
    }
    let with = |factor: f64| -> Option<f64> {
        let job = with_loop_times(setting.job, factor)?;
        let setting = Setting {
            job: &job,
            ..setting
        };
        let changes = changes_at(&found.parameters, corner);
        let solved = solve(plan, setting, &changes, Some(&found.nominal.solution)).ok()?;
        answers(plan, &solved).into_iter().nth(q)?.ok()
    };
    let (faster, slower) = (with(0.1)?, with(10.0)?);
    let turns = question.margin(faster) < 0.0 || question.margin(slower) < 0.0;
    turns.then_some(WhyNot::LeansOnLoopTime { faster, slower })
}

/// A copy of the job with every assumed loop time multiplied; `None` where none is assumed.
fn with_loop_times(job: &Job, factor: f64) -> Option<Job> {
    let mut job = job.clone();
    let mut any = false;
    for part in &mut job.parts {
        if let PartKind::Regulator(regulator) = &mut part.kind
            && matches!(regulator.loop_time.origin, Origin::Default { .. })
        {
            regulator.loop_time.value.nominal *= factor;
            any = true;
        }
    }
    any.then_some(job)
}
