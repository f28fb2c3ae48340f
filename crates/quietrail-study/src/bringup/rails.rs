//! Where the rails of a board are read, and what each is set to: across the pins of their loads.

use super::alternating;
use super::derive::{Point, loads, of_pair, regulators};
use super::raws::raw_rails;
use crate::lower::set_volts;
use quietrail_job::model::{Between, Job, Part, PartKind, Regulator, Subject, What};

/// Rails of the board: outputs of regulators, each read where its loads will be, which is where limits are; and what loads have
/// behind transistors and shunts. One point has one name: a load's return may have a wire of its own, and then the rail is read
/// across the pins, not against common.
pub(super) fn rail_points(job: &Job, ripple: bool, what: What) -> Vec<Point> {
    let mut ends: Vec<(&str, &str)> = Vec::new();
    for regulator in regulators(job) {
        for own in pins_of(job, regulator) {
            if !ends.contains(&own) {
                ends.push(own);
            }
        }
    }
    let raws = raw_rails(job);
    for own in loads(job).into_iter().filter_map(|(_, part)| pins(part)) {
        let is_raw = raws
            .iter()
            .any(|raw| (raw.plus, raw.minus) == own || (raw.plus == own.0 && own.0 != "common"));
        // Under common it is read at the regulator's own output.
        let is_below = regulators(job).any(|regulator| regulator.into == own.1);
        if !is_raw && !is_below && !ends.contains(&own) {
            ends.push(own);
        }
    }
    let mut all: Vec<Point> = Vec::new();
    for (plus, minus) in ends {
        if let Some(own) = alternating::point(job, plus, minus) {
            if all.iter().all(|known| known.of != own.of) {
                all.push(own);
            }
            continue;
        }
        // Under common a rail has its node's name, as limits and reservoirs have, unless a limit asks for the pair.
        let is_of_node = plus == "common" && !is_limited_as_pair(job, plus, minus);
        let (plus, minus) = if is_of_node {
            (minus, plus)
        } else {
            (plus, minus)
        };
        all.push(of_pair(plus, minus, what, true));
        if ripple {
            all.push(of_pair(plus, minus, What::Ripple, false));
        }
    }
    all
}

fn is_limited_as_pair(job: &Job, plus: &str, minus: &str) -> bool {
    let mut subjects = job.limits.iter().map(|limit| &limit.of);
    subjects.any(|of| matches!(of, Subject::Pair(one, other) if one == plus && other == minus))
}

/// The pins of a load.
fn pins(part: &Part) -> Option<(&str, &str)> {
    match &part.kind {
        PartKind::Load(load) => Some((&load.between.plus, &load.between.minus)),
        _ => None,
    }
}

/// The pins at which a rail is read: of each load at it once; its own ends where none is.
fn pins_of<'a>(job: &'a Job, regulator: &'a Regulator) -> Vec<(&'a str, &'a str)> {
    let mut all: Vec<(&str, &str)> = Vec::new();
    for ends in loads(job).into_iter().filter_map(|(_, part)| pins(part)) {
        if ends.0 == regulator.into && !all.contains(&ends) {
            all.push(ends);
        }
    }
    if all.is_empty() {
        all.push((regulator.into.as_str(), regulator.ret.as_str()));
    }
    all
}

/// What stands between two points, roughly and away from zero: to choose a dummy, not to expect a reading. What a regulator or a
/// shunt is set to, what a transistor passes on; else the raw voltage. Of the ends of a winding its volts, rms.
pub(super) fn rail_volts(job: &Job, plus: &str, minus: &str) -> f64 {
    if let Some(volts) = alternating::volts(job, plus, minus) {
        return volts;
    }
    let at = |node: &str| volts_at(job, node, &mut Vec::new()).unwrap_or(0.0);
    (at(plus) - at(minus)).abs()
}

/// From base to emitter, roughly.
const BASE: f64 = 0.7;

/// What stands at a node against common, roughly; `asked` are the nodes on the way to it.
fn volts_at<'a>(job: &'a Job, node: &'a str, asked: &mut Vec<&'a str>) -> Option<f64> {
    if node == "common" {
        return Some(0.0);
    }
    if asked.contains(&node) {
        return None;
    }
    asked.push(node);
    if let Some(own) = regulators(job).find(|regulator| regulator.into == node) {
        let ret = volts_at(job, &own.ret, asked).unwrap_or(0.0);
        return Some(ret + set_volts(&own.set));
    }
    for raw in raw_rails(job) {
        if raw.node() == node {
            let ret = volts_at(job, raw.ret(), asked).unwrap_or(0.0);
            return Some(ret + raw.volts(job));
        }
    }
    for part in &job.parts {
        let found = match &part.kind {
            PartKind::Shunt(shunt) if shunt.between.plus == node => {
                let ret = volts_at(job, &shunt.between.minus, asked).unwrap_or(0.0);
                Some(ret + shunt.set.volts())
            }
            // Below common its lower end is the rail.
            PartKind::Shunt(shunt)
                if shunt.between.minus == node && shunt.between.plus == "common" =>
            {
                Some(-shunt.set.volts())
            }
            PartKind::Transistor(one) if one.ends().1 == node && !one.is_pnp => {
                volts_at(job, &one.base, asked).map(|base| base - BASE)
            }
            // Under common a PNP follows its base.
            PartKind::Transistor(one) if one.is_pnp && one.emitter == node => {
                let base = volts_at(job, &one.base, asked).filter(|base| *base < 0.0);
                base.map(|base| base + BASE)
            }
            PartKind::Transistor(one) if one.ends().1 == node => volts_at(job, one.ends().0, asked),
            _ => None,
        };
        if found.is_some() {
            return found;
        }
    }
    // Through what drops little, or nobody knows how much.
    let passes = |ends: &'a Between| match (ends.plus.as_str(), ends.minus.as_str()) {
        (one, other) if one == node && other != "common" => Some(other),
        (one, other) if other == node && one != "common" => Some(one),
        _ => None,
    };
    for part in &job.parts {
        let other = match &part.kind {
            PartKind::Resistor(one) => passes(&one.between),
            PartKind::Inductor(one) => passes(&one.between),
            PartKind::Wire(one) => passes(&one.between),
            PartKind::Diode(one) => passes(&one.between),
            _ => None,
        };
        let found = other.and_then(|other| volts_at(job, other, asked));
        if found.is_some() {
            return found;
        }
    }
    None
}
