//! Single changes that would help a limit that fails or is tight.

use crate::finding::Help;
use crate::search::{Corner, StateFindings, changes_at, parameters};
use crate::solve::{Plan, Setting, answers, solve};
use quietrail_job::model::{Job, PartKind};
use quietrail_job::{Address, Change};
use quietrail_units::series::Series;
use rayon::prelude::*;

/// Margins below this share of their limit are tight.
const TIGHT: f64 = 0.02;
/// How many helps are kept.
const KEPT: usize = 3;

/// The changes that help most, best first; none for a limit that is not tight.
pub(super) fn of(
    plan: &Plan,
    setting: Setting<'_>,
    found: &StateFindings,
    q: usize,
    value: f64,
    corner: &Corner,
) -> Vec<Help> {
    let question = &plan.questions[q];
    let margin = question.margin(value);
    let is_tight = margin < 0.0
        || question
            .margin_share(value)
            .is_some_and(|share| share < TIGHT);
    if !is_tight {
        return Vec::new();
    }
    let mut helps: Vec<Help> = candidates(setting.job)
        .into_par_iter()
        .filter_map(|(change, before, unit)| {
            // The same corner of the changed job: ends of its tolerances, not the old values.
            let job = setting.job.with(std::slice::from_ref(&change)).ok()?;
            let changed = Setting {
                job: &job,
                ..setting
            };
            let corner = changes_at(&parameters(&job, setting.state), corner);
            let solved = solve(plan, changed, &corner, Some(&found.nominal.solution)).ok()?;
            let answer = answers(plan, &solved).into_iter().nth(q)?.ok()?;
            let gain = question.margin(answer) - margin;
            (gain > 0.05 * margin.abs()).then(|| Help {
                change,
                before,
                unit,
                margin: question.margin(answer),
            })
        })
        .collect();
    helps.sort_by(|a, b| b.margin.total_cmp(&a.margin));
    helps.truncate(KEPT);
    helps
}

/// What a builder would try: the next larger reservoirs, larger sinks, shorter wires.
fn candidates(job: &Job) -> Vec<(Change, f64, &'static str)> {
    let mut all = Vec::new();
    let mut add = |part: &str, key: &str, before: f64, after: f64, unit| {
        let address = Address(format!("{part}.{key}"));
        all.push((
            Change::Set {
                address,
                value: after,
            },
            before,
            unit,
        ));
    };
    for part in &job.parts {
        match &part.kind {
            PartKind::Capacitor(capacitor) => {
                let before = capacitor.value.nominal();
                let mut next = before;
                for _ in 0..2 {
                    let Some(larger) = Series::E6.next_up(next) else {
                        break;
                    };
                    next = larger;
                    add(&part.name, "value", before, next, "F");
                }
                let esr = capacitor.esr.nominal();
                add(&part.name, "esr", esr, 0.5 * esr, "Ω");
            }
            PartKind::Sink(sink) => {
                let before = sink.to_air.nominal();
                add(&part.name, "to_air", before, 0.7 * before, "K/W");
            }
            PartKind::Wire(wire) => {
                let before = wire.resistance.nominal();
                add(&part.name, "resistance", before, 0.5 * before, "Ω");
            }
            _ => {}
        }
    }
    all
}
