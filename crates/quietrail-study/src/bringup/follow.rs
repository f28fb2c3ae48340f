//! Where what stands in the lead passes current on.

use super::derive::regulators;
use super::raws::raw_rails;
use quietrail_job::model::{Between, Job, PartKind};

/// Nodes that are fed from a node: through transistors, and through chokes, resistors, wires, fuses, switches and diodes on the way to somewhere that
/// nothing else feeds.
pub(super) fn nodes<'j>(job: &'j Job, node: &'j str) -> Vec<&'j str> {
    let through = |part: &'j PartKind| match part {
        PartKind::Transistor(one) => {
            let (plus, minus) = one.ends();
            (plus == node).then_some(minus)
        }
        PartKind::Inductor(one) => other_end(&one.between, node),
        PartKind::Resistor(one) => other_end(&one.between, node),
        PartKind::Wire(one) => other_end(&one.between, node),
        PartKind::Fuse(one) => other_end(&one.between, node),
        PartKind::Switch(one) => other_end(&one.between, node),
        PartKind::Diode(one) => other_end(&one.between, node),
        _ => None,
    };
    let found = job.parts.iter().filter_map(|part| through(&part.kind));
    found.filter(|next| !is_fed(job, next)).collect()
}

/// Nodes that the mains is on: what fuses, switches and the like lead to from the inlet, up to the transformers. A fuse behind a
/// rectifier is none of them.
pub(super) fn mains_nodes(job: &Job) -> Vec<&str> {
    let mut all = vec!["inlet.live", "inlet.neutral"];
    let mut next = 0;
    while next < all.len() {
        let here = all[next];
        next += 1;
        for part in job.parts() {
            let there = match &part.kind {
                PartKind::VariableTransformer(one) => {
                    (one.from == here).then_some(one.into.as_str())
                }
                kind => kind.between().and_then(|ends| other_end(ends, here)),
            };
            if let Some(there) = there.filter(|node| !all.contains(node)) {
                all.push(there);
            }
        }
    }
    all
}

fn other_end<'j>(between: &'j Between, node: &str) -> Option<&'j str> {
    match (between.plus.as_str(), between.minus.as_str()) {
        (one, other) if one == node => Some(other),
        (one, other) if other == node => Some(one),
        _ => None,
    }
}

/// Whether a node has its volts from elsewhere: common, a reservoir, the output of a regulator.
fn is_fed(job: &Job, node: &str) -> bool {
    let is_reservoir = || raw_rails(job).iter().any(|raw| raw.node() == node);
    let is_output = || regulators(job).any(|regulator| regulator.into == node);
    node == "common" || is_reservoir() || is_output()
}
