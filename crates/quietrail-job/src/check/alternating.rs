//! What draws from an alternating voltage.

use crate::fault::{Fault, Faults};
use crate::model::{Figure, LoadDraw, Part, PartKind, Span};
use quietrail_units::Unit;
use std::collections::BTreeSet;

/// A current or a power is of a direct voltage: taken from a winding it would flow one way only, and fade as often as the voltage
/// passes nothing.
pub(crate) fn check(parts: &[Part], faults: &mut Faults) {
    let windings = on_windings(parts);
    for part in parts {
        let PartKind::Load(load) = &part.kind else {
            continue;
        };
        let ends = [load.between.plus.as_str(), load.between.minus.as_str()];
        if !ends.iter().all(|end| windings.contains(end)) {
            continue;
        }
        for draw in &load.draws {
            let drawn = match draw {
                LoadDraw::Current(amps) => drawn(amps),
                LoadDraw::Power(watts) => drawn(watts),
                LoadDraw::Resistance(_) => None,
            };
            if let Some((found, span)) = drawn {
                faults.job(span, &Fault::DrawsOneWay { found });
            }
        }
    }
}

/// Ends of windings and of the mains, and all that leads, links, fuses and closed switches join to them: `common` where a heater winding is
/// earthed.
fn on_windings(parts: &[Part]) -> BTreeSet<&str> {
    let transformers = parts
        .iter()
        .filter(|part| matches!(part.kind, PartKind::Transformer(_)));
    let owners: BTreeSet<&str> = transformers
        .map(|part| part.name.as_str())
        .chain(["inlet"])
        .collect();
    let is_end = |node: &str| {
        let owner = node.split_once('.').map(|(owner, _)| owner);
        owner.is_some_and(|owner| owners.contains(owner))
    };
    let loads = parts.iter().filter_map(|part| match &part.kind {
        PartKind::Load(load) => Some([load.between.plus.as_str(), load.between.minus.as_str()]),
        _ => None,
    });
    let joints: Vec<[&str; 2]> = parts.iter().filter_map(|part| joint(&part.kind)).collect();
    let named = loads.flatten().chain(joints.iter().flatten().copied());
    let mut joined: BTreeSet<&str> = named.filter(|node| is_end(node)).collect();
    loop {
        let before = joined.len();
        for ends in &joints {
            if ends.iter().any(|end| joined.contains(end)) {
                joined.extend(ends);
            }
        }
        if joined.len() == before {
            return joined;
        }
    }
}

/// The ends of a part that are one node but for a drop.
fn joint(kind: &PartKind) -> Option<[&str; 2]> {
    let is_metal = match kind {
        PartKind::Wire(_) | PartKind::Fuse(_) => true,
        PartKind::Switch(one) => one.closed,
        PartKind::Resistor(one) => one.value.value.high <= 0.0,
        _ => false,
    };
    let between = kind.between().filter(|_| is_metal)?;
    Some([between.plus.as_str(), between.minus.as_str()])
}

/// What is written of a draw, and where; none of one that draws nothing.
fn drawn<U: Unit>(figure: &Figure<U>) -> Option<(String, Span)> {
    let draws = figure.value.high > 0.0;
    draws.then(|| (figure.value.to_string(), figure.span.clone()))
}
