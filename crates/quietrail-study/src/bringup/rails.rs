//! Where the rails of a board are read: across the pins of their loads.

use super::derive::{Point, loads, of_pair, regulators};
use quietrail_job::model::{Job, PartKind, Regulator, What};

/// Rails of the board: outputs of regulators, each read where its loads will be, which is where limits are. One point has one
/// name: a load's return may have a wire of its own, and then the rail is read across the pins, not against common.
pub(super) fn rail_points(job: &Job, ripple: bool, what: What) -> Vec<Point> {
    let mut all: Vec<Point> = Vec::new();
    for regulator in regulators(job) {
        for (plus, minus) in pins_of(job, regulator) {
            all.push(of_pair(plus, minus, what, true));
            if ripple {
                all.push(of_pair(plus, minus, What::Ripple, false));
            }
        }
    }
    all
}

/// The pins at which a rail is read: of each load at it once; its own ends where none is.
fn pins_of<'a>(job: &'a Job, regulator: &'a Regulator) -> Vec<(&'a str, &'a str)> {
    let mut all: Vec<(&str, &str)> = Vec::new();
    for (_, part) in loads(job) {
        let PartKind::Load(load) = &part.kind else {
            continue;
        };
        let ends = (load.between.plus.as_str(), load.between.minus.as_str());
        if ends.0 == regulator.into && !all.contains(&ends) {
            all.push(ends);
        }
    }
    if all.is_empty() {
        all.push((regulator.into.as_str(), regulator.ret.as_str()));
    }
    all
}
