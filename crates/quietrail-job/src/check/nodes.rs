//! Every node is fed, and every part bridges something.

use crate::fault::{Fault, Faults};
use crate::wiring::{End, Role, Wiring};
use std::collections::BTreeSet;

/// Nodes that no part or winding has, that nothing feeds, or at which a part hangs alone.
pub(crate) fn check(wiring: &Wiring, faults: &mut Faults) {
    check_points(wiring, faults);
    check_bridges(wiring, faults);
    // With an end missing, any node might be fed by it.
    if wiring.incomplete {
        return;
    }
    let unfed = check_fed(wiring, faults);
    check_alone(wiring, &unfed, faults);
}

/// A dotted node is a point of a winding or of the inlet.
fn check_points(wiring: &Wiring, faults: &mut Faults) {
    for end in &wiring.ends {
        if end.node.contains('.') && !wiring.is_given(&end.node) {
            let near = wiring.nearest_node(&end.node);
            let fault = Fault::UnknownNode {
                name: end.node.clone(),
                nearest: near,
            };
            faults.at(end.place.clone(), &fault);
        }
    }
}

fn check_bridges(wiring: &Wiring, faults: &mut Faults) {
    for (index, end) in wiring.ends.iter().enumerate() {
        let rest = wiring.ends[index + 1..]
            .iter()
            .take_while(|other| other.part == end.part);
        // Input and return of a regulator may meet only by mistake; so may output and either.
        let same = rest.into_iter().find(|other| other.node == end.node);
        if let Some(other) = same {
            let fault = Fault::BridgesNothing {
                part: end.owner.clone(),
                node: end.node.clone(),
            };
            faults.at(other.place.clone(), &fault);
        }
    }
}

/// Reports each node that draws without being fed, once.
fn check_fed<'a>(wiring: &'a Wiring, faults: &mut Faults) -> BTreeSet<&'a str> {
    let fed = wiring.fed();
    let returning = wiring.returning();
    let mut unfed = BTreeSet::new();
    for end in &wiring.ends {
        let node = end.node.as_str();
        let well = match end.role {
            Role::Draws => fed.contains(node) || node == "common",
            Role::Drains => fed.contains(node) || returning.contains(node),
            Role::Rectified | Role::Regulated | Role::Delivered | Role::Return | Role::Through => {
                true
            }
        };
        if well || unknown_point(wiring, end) || !unfed.insert(node) {
            continue;
        }
        let near = wiring.nearest_node(node);
        faults.at(
            end.place.clone(),
            &Fault::Unfed {
                node: node.to_owned(),
                is_blind: false,
                nearest: near,
            },
        );
    }
    check_back(wiring, &mut unfed, faults);
    unfed
}

/// What users of other tools call the reference, in small letters.
const REFERENCES: &[&str] = &["0", "0v", "gnd", "ground", "agnd", "dgnd", "masse"];

/// Reports each node that a load drains into and that direct current does not get away from, once.
fn check_back<'a>(wiring: &'a Wiring, unfed: &mut BTreeSet<&'a str>, faults: &mut Faults) {
    let leading_on = wiring.leading_on();
    let ends = wiring.ends.iter();
    for end in ends.filter(|end| end.role == Role::Drains && !end.couples) {
        let node = end.node.as_str();
        if leading_on.contains(node) || unknown_point(wiring, end) || !unfed.insert(node) {
            continue;
        }
        let is_reference = REFERENCES.contains(&node.to_lowercase().as_str());
        let near = if is_reference {
            Some("common".to_owned())
        } else {
            wiring.nearest_node(node)
        };
        let fault = Fault::Unfed {
            node: node.to_owned(),
            is_blind: true,
            nearest: near,
        };
        faults.at(end.place.clone(), &fault);
    }
}

/// Reports each end that shares its node with no other.
fn check_alone(wiring: &Wiring, unfed: &BTreeSet<&str>, faults: &mut Faults) {
    let crowd = wiring.crowd();
    for end in &wiring.ends {
        let node = end.node.as_str();
        let alone = crowd.get(node) == Some(&1) && !wiring.is_given(node);
        let counts = end.role != Role::Return && !unknown_point(wiring, end);
        if alone && counts && !unfed.contains(node) {
            let fault = Fault::Dangling {
                part: end.owner.clone(),
                node: end.node.clone(),
                nearest: wiring.nearest_node(node),
            };
            faults.at(end.place.clone(), &fault);
        }
    }
}

fn unknown_point(wiring: &Wiring, end: &End) -> bool {
    end.node.contains('.') && !wiring.is_given(&end.node)
}
