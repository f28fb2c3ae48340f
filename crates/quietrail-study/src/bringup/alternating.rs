//! Points between which the bare winding stands: heaters, dial lamps, relays of an instrument. There is no mean to read there, no
//! ripple, and an ohmmeter finds the copper of the winding.

use super::derive::{Point, Where};
use super::raws::ratio;
use super::{Observed, copper};
use quietrail_job::model::{Job, Part, PartKind, Subject};

/// The winding or join whose ends stand at two points, whichever way round, and through leads, fuses and what drops a little.
/// `None` where anything rectifies on the way.
pub(super) fn winding(job: &Job, plus: &str, minus: &str) -> Option<String> {
    let (plus, minus) = (reached(job, plus), reached(job, minus));
    let is_across = |name: &String| {
        let (start, finish) = (format!("{name}.start"), format!("{name}.finish"));
        let has = |all: &[String], end: &String| all.contains(end);
        (has(&plus, &start) && has(&minus, &finish)) || (has(&plus, &finish) && has(&minus, &start))
    };
    windings(job).into_iter().find(is_across)
}

/// Volts of the winding across two points, rms, off load and at nominal mains; `None` where none is.
pub(super) fn volts(job: &Job, plus: &str, minus: &str) -> Option<f64> {
    let winding = winding(job, plus, minus)?;
    Some((ratio(job, &winding) * job.mains.voltage.nominal()).abs())
}

/// Where the volts of a winding at the pins of a load are read: at the winding where nothing is between, else at the pins.
pub(super) fn point(job: &Job, plus: &str, minus: &str) -> Option<Point> {
    let winding = winding(job, plus, minus)?;
    let ends = [format!("{winding}.start"), format!("{winding}.finish")];
    let is_bare = ends.iter().all(|end| end == plus || end == minus);
    let (of, subject) = if is_bare {
        (winding.clone(), Where::Winding(winding))
    } else {
        let pair = Subject::Pair(plus.to_owned(), minus.to_owned());
        (format!("{plus},{minus}"), Where::Subject(pair))
    };
    Some(Point {
        of,
        subject,
        what: Observed::RmsVoltage,
        is_awaited: true,
    })
}

/// Secondaries and joins, as `T1.S1`.
fn windings(job: &Job) -> Vec<String> {
    let mut all = Vec::new();
    for part in job.parts() {
        if let PartKind::Transformer(transformer) = &part.kind {
            let secondaries = transformer.secondary.iter().map(|one| &one.name);
            let joins = transformer.joins.iter().map(|join| &join.name);
            all.extend(
                secondaries
                    .chain(joins)
                    .map(|name| format!("{}.{name}", part.name)),
            );
        }
    }
    all
}

/// A node and those that it is joined to by what alternating current passes and direct current too.
fn reached(job: &Job, from: &str) -> Vec<String> {
    let mut all = vec![from.to_owned()];
    let mut next = 0;
    while next < all.len() {
        let here = all[next].clone();
        next += 1;
        // Whatever common is joined to, a rail on it is no winding's; and behind a junction nothing alternates.
        if (here == "common" && all.len() > 1) || job.parts().any(|part| bends_at(part, &here)) {
            continue;
        }
        for (one, other) in job.parts().flat_map(passes) {
            let there = if one == here {
                other
            } else if other == here {
                one
            } else {
                continue;
            };
            if !all.contains(&there) {
                all.push(there);
            }
        }
    }
    all
}

/// Pairs of points that a part joins.
fn passes(part: &Part) -> Vec<(String, String)> {
    match &part.kind {
        PartKind::Switch(switch) if !switch.closed => Vec::new(),
        PartKind::Wire(_)
        | PartKind::Fuse(_)
        | PartKind::Switch(_)
        | PartKind::Lamp(_)
        | PartKind::Inductor(_)
        | PartKind::Resistor(_) => {
            let ends = part.kind.between().into_iter();
            ends.map(|ends| (ends.plus.clone(), ends.minus.clone()))
                .collect()
        }
        PartKind::Transformer(transformer) => copper::ties(&part.name, transformer),
        _ => Vec::new(),
    }
}

/// Whether a part makes direct current of, or with, what stands at a node.
fn bends_at(part: &Part, node: &str) -> bool {
    let ends: Vec<&String> = match &part.kind {
        PartKind::Rectifier(one) if one.into == "common" => vec![&one.ret],
        PartKind::Rectifier(one) => vec![&one.into],
        PartKind::Diode(one) => vec![&one.between.plus, &one.between.minus],
        PartKind::Shunt(one) => vec![&one.between.plus, &one.between.minus],
        PartKind::Transistor(one) => vec![&one.collector, &one.base, &one.emitter],
        PartKind::Regulator(one) => vec![&one.from, &one.into],
        _ => Vec::new(),
    };
    node != "common" && ends.into_iter().any(|end| end == node)
}
