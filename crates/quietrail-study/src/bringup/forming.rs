//! Electrolytics that lay for years: each is formed before the rectifier charges it, by itself and off the mains.
//!
//! What it draws is read as the volts across the resistor in front of it: every meter of a bench reads those.

use super::derive::{Kind, Planned, Point, Where, blank};
use super::rails::rail_volts;
use super::raws::raw_rails;
use super::{Beside, Caution, Expectation, Observed};
use crate::forming::{FormingStep, IDLE, Reforming, leakage_limit, reforming};
use quietrail_job::model::{Capacitor, Job, PartKind, Subject, What};

/// A step for each capacitor of which the job says that it lay for more than half a year.
pub(super) fn steps(job: &Job) -> Vec<Planned> {
    let all = job.parts().filter_map(|part| match &part.kind {
        PartKind::Capacitor(one) => Some((part.name.as_str(), one)),
        _ => None,
    });
    all.filter_map(|(name, capacitor)| {
        let plan = plan(job, capacitor)?;
        let mut step = blank(&format!("forming {name}"), Kind::Forming);
        step.cautions = vec![Caution::PlugOut, Caution::Electrolytics];
        step.points = plan.steps.iter().map(|one| point(name, one)).collect();
        Some(step)
    })
    .collect()
}

fn point(name: &str, step: &FormingStep) -> Point {
    Point {
        of: format!("resistor of {name} at {:.1} V", step.volts),
        subject: Where::Subject(Subject::Part(name.to_owned())),
        what: Observed::Statistic(What::Mean),
        is_awaited: true,
    }
}

/// How to form it, up to what it will have at its place.
fn plan(job: &Job, capacitor: &Capacitor) -> Option<Reforming> {
    let unused = capacitor.unused.as_ref()?.value.high;
    let volts = working_volts(job, capacitor);
    (unused > IDLE && volts > 0.0).then(|| reforming(capacitor.value.nominal(), volts, unused))
}

/// Roughly the most that it gets where it is, at the highest mains, and never more than its rating.
fn working_volts(job: &Job, capacitor: &Capacitor) -> f64 {
    let (plus, minus) = (&capacitor.between.plus, &capacitor.between.minus);
    let mains = &job.mains.voltage.value;
    let raws = raw_rails(job);
    let raw = raws
        .iter()
        .find(|raw| raw.plus == plus && raw.minus == minus)
        .map(|raw| raw.volts(job).abs() * mains.high / mains.nominal);
    let own = raw.unwrap_or_else(|| rail_volts(job, plus, minus));
    match &capacitor.rated.volts {
        Some(rated) if own <= 0.0 => rated.nominal(),
        Some(rated) => own.min(rated.nominal()),
        None => own,
    }
}

/// The volts across the resistor at the end of each stage: up to what stops it.
pub(super) fn expectations(job: &Job, planned: &Planned) -> Vec<Expectation> {
    let of = planned.points.first().map(|point| &point.subject);
    let Some(Where::Subject(Subject::Part(name))) = of else {
        return Vec::new();
    };
    let Some(PartKind::Capacitor(capacitor)) = job.part(name).map(|part| &part.kind) else {
        return Vec::new();
    };
    let Some(plan) = plan(job, capacitor) else {
        return Vec::new();
    };
    let farads = capacitor.value.nominal();
    let stages = planned.points.iter().zip(&plan.steps);
    stages
        .map(|(point, stage)| Expectation {
            of: point.of.clone(),
            what: point.what,
            low: None,
            nominal: Some(plan.ohms * leakage_limit(farads, stage.volts)),
            high: Some(plan.ohms * stage.abort),
            unit: point.what.kind().symbol(),
            safety: None,
            is_awaited: point.is_awaited,
            beside: vec![Beside::Forming {
                part: name.clone(),
                volts: stage.volts,
                ohms: plan.ohms,
                seconds: stage.seconds,
                settled: stage.expect.last().map_or(0.0, |(seconds, _)| *seconds),
                in_order: plan.ohms * leakage_limit(farads, stage.volts),
            }],
            readings: Vec::new(),
        })
        .collect()
}
