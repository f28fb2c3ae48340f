//! Where what stands in the lead passes current on.

use super::derive::regulators;
use super::raws::raw_rails;
use quietrail_job::model::{Between, Job, PartKind};

/// Nodes that are fed from a node: through transistors, and through chokes, resistors, wires and diodes on the way to somewhere that
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
        PartKind::Diode(one) => other_end(&one.between, node),
        _ => None,
    };
    let found = job.parts.iter().filter_map(|part| through(&part.kind));
    found.filter(|next| !is_fed(job, next)).collect()
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
