//! What a clamp across the pins of a load has to show before the load goes in.

use super::derive::{Kind, Planned, Where, blank, loads, point};
use super::{Caution, Expectation, Observed};
use quietrail_job::model::{Job, PartKind, Subject, What};

/// The clamps that loads have across their pins, each raised until it draws; `None` where there are none.
pub(super) fn step(job: &Job) -> Option<Planned> {
    let mut step = blank("clamp", Kind::ClampProof);
    for (name, part) in loads(job) {
        let PartKind::Load(load) = &part.kind else {
            continue;
        };
        if load.clamp.is_some() {
            let of = format!("clamp at {name}");
            let mut row = point(&of, Observed::Statistic(What::Mean), true);
            row.subject = Where::Subject(Subject::Part(name.to_owned()));
            step.points.push(row);
        }
    }
    step.cautions.push(Caution::PlugOut);
    (!step.points.is_empty()).then_some(step)
}

/// Each clamp begins to draw within its range, and below what the pins bear.
pub(super) fn expectations(job: &Job, planned: &Planned) -> Vec<Expectation> {
    let loads = job.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Load(load) => Some((part.name.as_str(), load)),
        _ => None,
    });
    let clamps = loads.filter_map(|(name, load)| Some((name, load.clamp.as_ref()?, load)));
    let own = clamps.zip(&planned.points);
    own.map(|((_, clamp, load), point)| {
        let bears = load.volts.as_ref().map(|volts| volts.value.low);
        let high = clamp.value.high;
        Expectation {
            of: point.of.clone(),
            what: point.what,
            low: Some(clamp.value.low),
            nominal: Some(clamp.nominal()),
            high: Some(bears.map_or(high, |bears| bears.min(high))),
            unit: point.what.kind().symbol(),
            safety: None,
            is_awaited: point.is_awaited,
            beside: Vec::new(),
            readings: Vec::new(),
        }
    })
    .collect()
}
