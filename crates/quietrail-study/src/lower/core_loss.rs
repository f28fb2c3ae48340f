//! What a choke loses in its core, where diodes may cut it off.
//!
//! A choke whose only way is through diodes has no answer when these block: its current is nothing then, and what it still had a moment ago
//! goes through blocking junctions at any voltage. Kilovolts were told of a node that sees 535 V. In a real choke that current goes on in
//! its core and its windings' capacitance, and the node goes over to where the choke's other end is.

use super::{Draft, one};
use quietrail_engine::{Circuit, Element, ElementId, Winding};
use quietrail_job::model::{Between, Inductor, Job, PartKind, Transformer};
use std::collections::BTreeSet;
use std::f64::consts::TAU;

/// Reactances at the mains frequency that its core comes to across a choke. Smoothing chokes of iron lose several
/// times more (common practice, no source); a hundredth part of its current changes no figure.
const TIMES: f64 = 100.0;

/// The same across a leakage inductance, whose current holds harmonics of some kilohertz. It is cut off a moment before or after the choke
/// that it feeds, and the choke's core would make kilovolts of that moment's amperes.
const TIMES_OF_LEAKAGE: f64 = 1000.0;

/// An inductance that is taken to lose something in its core.
#[derive(Clone, Debug, PartialEq)]
pub struct CoreLoss {
    /// What loses: `L1 core`, `T1 A leakage`.
    pub what: String,
    /// What that comes to across it, Ω.
    pub ohms: f64,
}

/// Cores of the chokes of a job that diodes may cut off, and what leaks in the transformers before them.
pub fn core_losses(job: &Job) -> Vec<CoreLoss> {
    let chokes: Vec<CoreLoss> = cut_off(job)
        .map(|(part, choke)| CoreLoss {
            what: name_of(part),
            ohms: across(job, TIMES, choke.value.nominal()),
        })
        .collect();
    if chokes.is_empty() {
        return chokes;
    }
    let leaking = job.parts().flat_map(|part| match &part.kind {
        PartKind::Transformer(one) => leaking(job, &part.name, one),
        _ => Vec::new(),
    });
    chokes.into_iter().chain(leaking).collect()
}

fn leaking(job: &Job, part: &str, transformer: &Transformer) -> Vec<CoreLoss> {
    let windings = transformer.secondary.iter();
    windings
        .filter(|winding| winding.leakage.value.high > 0.0)
        .map(|winding| CoreLoss {
            what: format!("{part} {} leakage", winding.name),
            ohms: across(job, TIMES_OF_LEAKAGE, winding.leakage.nominal()),
        })
        .collect()
}

/// The chokes of a job that diodes may cut off: the same in each state, so that an element is the same one in all of them.
pub(crate) fn cut_off(job: &Job) -> impl Iterator<Item = (&str, &Inductor)> {
    let may_be = |choke: &Inductor| {
        is_cut_off(job, &choke.between.plus) || is_cut_off(job, &choke.between.minus)
    };
    job.parts().filter_map(move |part| match &part.kind {
        PartKind::Inductor(choke) if may_be(choke) => Some((part.name.as_str(), choke)),
        _ => None,
    })
}

/// What a loss comes to across an inductance, Ω.
fn across(job: &Job, times: f64, henries: f64) -> f64 {
    times * TAU * job.region.hertz * henries
}

/// What the element is called among the parts.
pub(crate) fn name_of(part: &str) -> String {
    format!("{part} core")
}

pub(super) fn add(draft: &mut Draft, job: &Job, is_missing: &dyn Fn(&str) -> bool) {
    let chokes: Vec<(&str, &Inductor)> = cut_off(job).collect();
    for &(part, choke) in chokes.iter().filter(|(part, _)| !is_missing(part)) {
        let (a, b) = draft.ends(&choke.between);
        let ohms = across(job, TIMES, choke.value.nominal());
        let element = draft.circuit.add(Element::Resistor { a, b, ohms });
        draft.parts.insert(name_of(part), one(element));
    }
    if chokes.is_empty() {
        return;
    }
    for part in job.parts() {
        if let (PartKind::Transformer(_), Some(elements)) =
            (&part.kind, draft.parts.get(&part.name).cloned())
        {
            for element in elements.own {
                damp(&mut draft.circuit, element, job);
            }
        }
    }
}

/// Puts the leakage of each winding of a transformer in series with it, and its loss across that.
fn damp(circuit: &mut Circuit, transformer: ElementId, job: &Job) {
    let Element::Transformer { windings, .. } = circuit.element(transformer) else {
        return;
    };
    let leaks = |(number, winding): (usize, &Winding)| (winding.leakage > 0.0).then_some(number);
    let leaking: Vec<usize> = windings.iter().enumerate().filter_map(leaks).collect();
    for number in leaking {
        let inner = circuit.node();
        let Element::Transformer { windings, .. } = circuit.element_mut(transformer) else {
            continue;
        };
        let winding = &mut windings[number];
        let henries = std::mem::take(&mut winding.leakage);
        let (a, b) = (inner, std::mem::replace(&mut winding.finish, inner));
        circuit.add(Element::Inductor {
            a,
            b,
            henries,
            ohms: 0.0,
        });
        let ohms = across(job, TIMES_OF_LEAKAGE, henries);
        circuit.add(Element::Resistor { a, b, ohms });
    }
}

/// Whether nothing but junctions and chokes ends at a node, or at those that leads, fuses and resistors join to it.
fn is_cut_off(job: &Job, node: &str) -> bool {
    let mut joined = BTreeSet::from([node]);
    loop {
        if joined.contains("common") {
            return false;
        }
        let before = joined.len();
        for between in job.parts().filter_map(|part| resistive(&part.kind)) {
            let ends = [between.plus.as_str(), between.minus.as_str()];
            if ends.iter().any(|end| joined.contains(end)) {
                joined.extend(ends);
            }
        }
        if joined.len() == before {
            break;
        }
    }
    let is_at = |between: &Between| {
        joined.contains(between.plus.as_str()) != joined.contains(between.minus.as_str())
    };
    let holds = |kind: &PartKind| match kind {
        PartKind::Rectifier(_) | PartKind::Diode(_) | PartKind::Inductor(_) | PartKind::Sink(_) => {
            false
        }
        PartKind::Regulator(one) => [&one.from, &one.into, &one.ret]
            .into_iter()
            .any(|end| joined.contains(end.as_str())),
        PartKind::Transistor(one) => [&one.collector, &one.base, &one.emitter]
            .into_iter()
            .any(|end| joined.contains(end.as_str())),
        kind => kind.between().is_some_and(is_at),
    };
    // A winding holds what is at its ends.
    !joined.iter().any(|end| end.contains('.')) && !job.parts().any(|part| holds(&part.kind))
}

fn resistive(kind: &PartKind) -> Option<&Between> {
    match kind {
        PartKind::Resistor(_) | PartKind::Wire(_) | PartKind::Fuse(_) => kind.between(),
        PartKind::Switch(part) if part.closed => Some(&part.between),
        _ => None,
    }
}
