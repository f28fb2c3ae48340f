//! What is found beside the limits: of regulators whether they start, are stable, can be set; of transformers what stays in the core.

use crate::backwards;
use crate::catching;
use crate::core_current;
use crate::finding::{About, NodeFinding, Remark};
use crate::ringing;
use crate::setpoint;
use crate::stability::{self, Capacitor};
use crate::starting::{self, Place, Start};
use quietrail_engine::Options;
use quietrail_job::model::{Job, PartKind, Regulator};

/// Everything found beside the limits of a job. Cores and which way round capacitors stand are looked at, and starts integrated, only
/// with `starts`, the nodes of a whole proof; and starts only of regulators with a foldback: without one the current rises until the
/// load has what it asks for, or the limit is below it, which is told.
pub(super) fn of(job: &Job, options: &Options, starts: Option<&[NodeFinding]>) -> Vec<Remark> {
    let mut all = Vec::new();
    for (part, found) in starts.map_or(Vec::new(), |nodes| backwards::of(job, nodes, options)) {
        let about = About::Backwards(found);
        all.push(Remark { part, about });
    }
    let starts = starts.is_some();
    for part in &job.parts {
        if starts && let Some(core) = core_current::of(job, part, options) {
            all.push(Remark {
                part: part.name.clone(),
                about: About::CoreCurrent(core),
            });
        }
        let PartKind::Regulator(regulator) = &part.kind else {
            continue;
        };
        let found = [
            limit(job, regulator),
            starts
                .then(|| never_starts(job, &part.name, regulator, options))
                .flatten(),
            capacitor(job, regulator),
            rang(regulator),
            reach(regulator),
            diode(job, regulator),
            catching::adjust(regulator)
                .filter(|diode| diode.wanted)
                .map(About::AdjustDiode),
        ];
        all.extend(found.into_iter().flatten().map(|about| Remark {
            part: part.name.clone(),
            about,
        }));
    }
    all
}

fn limit(job: &Job, regulator: &Regulator) -> Option<About> {
    let short = starting::limits(job, regulator)
        .into_iter()
        .filter(starting::LimitCheck::is_short);
    let most = short.max_by(|a, b| a.asked.total_cmp(&b.asked))?;
    Some(About::LimitBelowLoad {
        state: most.state,
        asked: most.asked,
        limit: most.limit,
    })
}

fn never_starts(job: &Job, name: &str, regulator: &Regulator, options: &Options) -> Option<About> {
    if regulator.foldback.is_empty() {
        return None;
    }
    let stuck = |place| {
        starting::mains_of(job, name).into_iter().find_map(|mains| {
            let starts = starting::starts_at(job, name, (place, mains), options).ok()?;
            let stays = starts.into_iter().find(Start::stays_down)?;
            Some(About::NeverStarts {
                state: stays.state,
                mains,
                ends: stays.ends?,
                is_corner: place == Place::Hardest,
            })
        })
    };
    stuck(Place::Marked).or_else(|| stuck(Place::Hardest))
}

fn capacitor(job: &Job, regulator: &Regulator) -> Option<About> {
    let found = stability::capacitor(job, regulator);
    let is_wrong = matches!(found, Capacitor::NoneDrawn | Capacitor::Outside { .. });
    is_wrong.then_some(About::OutputCapacitor(found))
}

fn rang(regulator: &Regulator) -> Option<About> {
    let found = stability::rang(regulator)?;
    let is_well = found
        .as_ref()
        .is_ok_and(|ring| ring.margin >= ringing::WELL);
    (!is_well).then_some(About::Rang(found))
}

fn diode(job: &Job, regulator: &Regulator) -> Option<About> {
    let diode = catching::output(job, regulator);
    (diode.wanted && diode.drawn.is_none()).then_some(About::Diode(diode))
}

fn reach(regulator: &Regulator) -> Option<About> {
    let found = setpoint::of(regulator, None);
    let sure = found.reach?.sure;
    let is_sure = found.nominal >= sure.0 && found.nominal <= sure.1;
    (!is_sure).then_some(About::MayNotReach {
        to: found.nominal,
        sure,
    })
}
