//! Chokes and windings with leakage whose current diodes cut off.

use crate::lower::Lowered;
use quietrail_job::model::{Part, PartKind};
use std::f64::consts::SQRT_2;

/// How many times the crests of all secondaries in series a diode bears at most: those of both halves and of both ends of a reservoir
/// are twice, and a little is left for what a core and a flat mains make of it.
const MOST: f64 = 2.2;

/// The choke, or else the transformer, that makes a voltage which no winding accounts for; `None` where windings do, or there is none.
///
/// An inductance that diodes cut off rings with what capacitance it finds, and no job gives that of windings and diodes. Without any the
/// circuit has no answer: what little current is left there goes through blocking diodes, at any voltage.
pub(super) fn of(lowered: &Lowered, volts: f64) -> Option<String> {
    let job = &lowered.job;
    let is_choke = |part: &&Part| matches!(part.kind, PartKind::Inductor(_));
    let choke = job.parts().find(is_choke);
    let part = choke.or_else(|| job.parts().find(|part| leaks(&part.kind)))?;
    let ratios = job.parts().filter_map(|part| match &part.kind {
        PartKind::Transformer(one) => Some(one),
        _ => None,
    });
    let ratios = ratios.flat_map(|one| &one.secondary);
    let ratio: f64 = ratios
        .map(|one| one.open.nominal() / one.at_primary.nominal())
        .sum();
    let crests = SQRT_2 * job.mains.voltage.value.high * ratio;
    (ratio > 0.0 && volts > MOST * crests).then(|| part.name.clone())
}

/// Whether a winding has leakage inductance.
fn leaks(kind: &PartKind) -> bool {
    let PartKind::Transformer(one) = kind else {
        return false;
    };
    let mut windings = one.secondary.iter();
    windings.any(|winding| winding.leakage.value.high > 0.0)
}
