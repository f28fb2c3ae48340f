//! Peaks and valleys that lean on a loop time nobody measured.
//!
//! Data sheets give no loop dynamics. Where a verdict about an instant would turn when the assumed loop time
//! is ten times shorter or longer, it is not shown.

use super::helps::Found;
use super::is_about_an_instant;
use crate::finding::WhyNot;
use crate::search::{Corner, StateFindings, changes_at};
use crate::solve::{Beginning, Plan, Seeds, Setting, Wanted, answers};
use quietrail_job::Change;
use quietrail_job::model::{Job, Origin, PartKind};

/// For each of some limits (question, worst value, corner) why the verdict on it cannot be trusted, if it leans on an assumed
/// loop time.
pub(super) fn leaning(
    plan: &Plan,
    setting: Setting<'_>,
    found: &StateFindings,
    limits: &[Found<'_>],
) -> Vec<Option<WhyNot>> {
    let job = setting.job;
    let (Some(fast), Some(slow)) = (with_loop_times(job, 0.1), with_loop_times(job, 10.0)) else {
        return vec![None; limits.len()];
    };
    let may_lean = |(q, value, _): &&Found<'_>| {
        let question = &plan.questions[*q];
        is_about_an_instant(question) && question.margin(*value) >= 0.0
    };
    let mut corners: Vec<&Corner> = limits
        .iter()
        .filter(may_lean)
        .map(|limit| limit.2)
        .collect();
    corners.sort();
    corners.dedup();
    let changes: Vec<Vec<Change>> = corners
        .iter()
        .map(|corner| changes_at(&found.parameters, corner))
        .collect();
    let near: Vec<Option<Beginning<'_>>> = corners
        .iter()
        .map(|corner| found.solution(corner).map(Beginning::at))
        .collect();
    let mut wanted = Vec::new();
    for job in [&fast, &slow] {
        let setting = Setting { job, ..setting };
        let each = changes.iter().zip(&near);
        wanted.extend(each.map(|(changes, near)| Wanted {
            plan,
            setting,
            changes,
            begin: near.as_ref(),
        }));
    }
    let values: Vec<Option<Vec<Option<f64>>>> = Seeds::of(&found.nominal.solution)
        .solve(&wanted)
        .into_iter()
        .map(|solved| {
            let answers = answers(plan, &solved.ok()?);
            Some(answers.into_iter().map(Result::ok).collect())
        })
        .collect();
    let (fast, slow) = values.split_at(corners.len());
    let why = |limit: &Found<'_>| {
        let (q, _, corner) = limit;
        let at = corners.iter().position(|known| known == corner)?;
        let value = |of: &[Option<Vec<Option<f64>>>]| of[at].as_ref()?[*q];
        let (faster, slower) = (value(fast)?, value(slow)?);
        let question = &plan.questions[*q];
        let turns = question.margin(faster) < 0.0 || question.margin(slower) < 0.0;
        turns.then_some(WhyNot::LeansOnLoopTime { faster, slower })
    };
    let of = |limit: &Found<'_>| may_lean(&limit).then(|| why(limit)).flatten();
    limits.iter().map(of).collect()
}

/// A copy of the job with every assumed loop time multiplied; `None` where none is assumed.
fn with_loop_times(job: &Job, factor: f64) -> Option<Job> {
    let mut job = job.clone();
    let mut any = false;
    for part in job.parts_mut() {
        if let PartKind::Regulator(regulator) = &mut part.kind
            && matches!(regulator.loop_time.origin, Origin::Default { .. })
        {
            regulator.loop_time.value.nominal *= factor;
            any = true;
        }
    }
    any.then_some(job)
}
