//! The filters that are drawn behind a regulator: a tree of series parts from its output on.

use super::{Drop, Filter, Ladder, Stage};
use crate::level::decibels;
use crate::starting::drawn_from;
use quietrail_job::model::{Job, PartKind, Regulator};

/// Gain from which a peak is spoken of, dB.
const PEAK: f64 = 0.5;

/// The filters drawn behind a regulator, those nearest to it first.
pub fn of(job: &Job, regulator: &Regulator) -> Vec<Filter> {
    let mut seen = vec![regulator.into.as_str()];
    let tree = branches(job, regulator, &regulator.into, &mut seen);
    let mut found = Vec::new();
    for branch in &tree {
        gather(job, regulator, &[branch], &mut found);
    }
    found
}

/// A series part with all that hangs behind it.
struct Branch<'a> {
    /// It, and resistors across it.
    parts: Vec<&'a str>,
    /// Node behind it.
    node: &'a str,
    /// What it is, without what leads on.
    own: Stage,
    /// Whether it is there to connect: a wire, a fuse, a switch.
    is_lead: bool,
    /// Whether anything but capacitors is fed from there, or further on.
    feeds: bool,
    /// What leads on.
    further: Vec<Branch<'a>>,
}

impl Branch<'_> {
    /// As a stage, with all that leads on from it but what is on the way.
    fn stage(&self, on_the_way: Option<&Self>) -> Stage {
        let beside = self
            .further
            .iter()
            .filter(|one| on_the_way.is_none_or(|way| !std::ptr::eq(*one, way)));
        Stage {
            beside: beside.map(|one| one.stage(None)).collect(),
            ..self.own.clone()
        }
    }

    fn is_filter(&self) -> bool {
        let has_series = self.own.ohms > 0.0 || self.own.henries > 0.0;
        !self.is_lead && has_series && self.feeds && !self.own.shunts.is_empty()
    }
}

/// The filters of a way from the output on, and of all ways that go on from it.
fn gather(job: &Job, regulator: &Regulator, way: &[&Branch<'_>], found: &mut Vec<Filter>) {
    let Some(last) = way.last() else { return };
    if last.is_filter() {
        found.push(filter(job, regulator, way));
    }
    for next in &last.further {
        let longer: Vec<&Branch<'_>> = way.iter().copied().chain([next]).collect();
        gather(job, regulator, &longer, found);
    }
}

fn filter(job: &Job, regulator: &Regulator, way: &[&Branch<'_>]) -> Filter {
    let stages = way
        .iter()
        .enumerate()
        .map(|(k, branch)| branch.stage(way.get(k + 1).copied()));
    let ladder = Ladder(stages.collect());
    let last = way[way.len() - 1];
    let (peak, at) = ladder.peak();
    let has_choke = way.iter().any(|branch| branch.own.henries > 0.0);
    let peak = (has_choke && peak > PEAK).then_some((peak, at));
    let drops = (0..job.states.len()).map(|state| {
        let each: Vec<(f64, f64)> = way
            .iter()
            .map(|branch| {
                let amps = drawn_from(job, regulator, state, (branch.node, &branch.parts)).1;
                (amps, amps * branch.own.direct())
            })
            .collect();
        let (amps, volts) = each[each.len() - 1];
        Drop {
            state: job.states[state].name.clone(),
            amps,
            volts,
            in_all: each.iter().map(|(_, volts)| volts).sum(),
        }
    });
    Filter {
        part: last.parts[0].to_owned(),
        node: last.node.to_owned(),
        after: way[..way.len() - 1]
            .iter()
            .filter(|branch| branch.is_filter())
            .map(|branch| branch.parts[0].to_owned())
            .collect(),
        corner: ladder.corner(),
        peak,
        impedance: ladder.impedance(),
        at_ripple: decibels(ladder.at(2.0 * job.mains.frequency.nominal()).0),
        drops: drops.collect(),
        damper: peak.and_then(|_| ladder.damper()),
        ladder,
    }
}

/// Series parts that lead on from a node to nodes that were not seen yet.
fn branches<'a>(
    job: &'a Job,
    regulator: &'a Regulator,
    node: &'a str,
    seen: &mut Vec<&'a str>,
) -> Vec<Branch<'a>> {
    let mut all: Vec<Branch<'a>> = Vec::new();
    for part in &job.parts {
        let Some((ohms, henries, is_lead)) = series(&part.kind) else {
            continue;
        };
        let Some(there) = other_end(&part.kind, node) else {
            continue;
        };
        if there == regulator.ret || there == regulator.from || there == "common" {
            continue;
        }
        // Side by side with one that leads there: the choke counts as the way, resistors stand across it.
        if let Some(same) = all.iter_mut().find(|one| one.node == there) {
            if henries == 0.0 && ohms > 0.0 {
                same.own.across.push(ohms);
                same.parts.push(&part.name);
            } else if henries > 0.0 && same.own.henries == 0.0 {
                let before = std::mem::replace(&mut same.own.ohms, ohms);
                same.own.across.extend((before > 0.0).then_some(before));
                same.own.henries = henries;
                same.is_lead = false;
                same.parts.insert(0, &part.name);
            }
            continue;
        }
        if seen.contains(&there) {
            continue;
        }
        seen.push(there);
        all.push(Branch {
            parts: vec![&part.name],
            node: there,
            own: Stage {
                ohms,
                henries,
                ..Stage::default()
            },
            is_lead,
            feeds: false,
            further: Vec::new(),
        });
    }
    for branch in &mut all {
        branch.own.shunts = shunts(job, branch.node, &regulator.ret);
        branch.own.bleeders = bleeders(job, branch.node, &regulator.ret);
        branch.further = branches(job, regulator, branch.node, seen);
        branch.feeds = is_fed(job, branch.node)
            || !branch.own.bleeders.is_empty()
            || branch.further.iter().any(|one| one.feeds);
    }
    all
}

/// Resistance and inductance of what may stand in series, and whether it is there to connect.
fn series(kind: &PartKind) -> Option<(f64, f64, bool)> {
    match kind {
        PartKind::Resistor(part) => Some((part.value.nominal(), 0.0, false)),
        PartKind::Inductor(part) => Some((part.resistance.nominal(), part.value.nominal(), false)),
        PartKind::Wire(part) => Some((part.resistance.nominal(), 0.0, true)),
        PartKind::Fuse(part) => Some((part.resistance.nominal(), 0.0, true)),
        PartKind::Switch(part) if part.closed => Some((0.0, 0.0, true)),
        _ => None,
    }
}

fn other_end<'a>(kind: &'a PartKind, node: &str) -> Option<&'a str> {
    let between = kind.between()?;
    if between.plus == node {
        Some(&between.minus)
    } else if between.minus == node {
        Some(&between.plus)
    } else {
        None
    }
}

/// Capacitors from a node to a return, with their series resistance.
fn shunts(job: &Job, node: &str, ret: &str) -> Vec<(f64, f64)> {
    let at = |kind: &PartKind| match kind {
        PartKind::Capacitor(capacitor) if other_end(kind, node) == Some(ret) => {
            Some((capacitor.value.nominal(), capacitor.esr.nominal()))
        }
        _ => None,
    };
    job.parts.iter().filter_map(|part| at(&part.kind)).collect()
}

/// Resistors from a node to a return.
fn bleeders(job: &Job, node: &str, ret: &str) -> Vec<f64> {
    let at = |kind: &PartKind| match kind {
        PartKind::Resistor(resistor) if other_end(kind, node) == Some(ret) => {
            Some(resistor.value.nominal())
        }
        _ => None,
    };
    job.parts.iter().filter_map(|part| at(&part.kind)).collect()
}

/// Whether something takes a direct current at a node: not capacitors, nor what only leads on.
fn is_fed(job: &Job, node: &str) -> bool {
    job.parts.iter().any(|part| match &part.kind {
        PartKind::Capacitor(_) => false,
        PartKind::Regulator(one) => one.from == node || one.ret == node,
        PartKind::Transistor(one) => [&one.collector, &one.base, &one.emitter]
            .into_iter()
            .any(|at| at == node),
        kind if series(kind).is_some() => false,
        kind => other_end(kind, node).is_some(),
    })
}
