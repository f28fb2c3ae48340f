//! Faults: what flows when something on a transformer's secondary side is shorted, and which links clear it.

use super::fuse::{self, Clears, Sheet};
use super::{Fault, Fed, Place, SHORT, Shorted, square_time, winding_current};
use crate::heat::Temperatures;
use crate::lower::{Lowered, OUTLET, Step, lower};
use quietrail_engine::{Circuit, Element, ElementId, Node, Options, Probe, System, transient};
use quietrail_job::model::{Figure, Job, Origin, PartKind, Tap};
use quietrail_units::Quantity;

/// Cycles after which what a fault draws has settled, all but what heat changes.
const FAULT_CYCLES: f64 = 5.0;

/// Name of the point that stands in the middle of a winding without a tap there.
const HALF: &str = "half";

/// A job with a point in the middle of a winding, for a short inside it.
fn halved(job: &Job, transformer: &str, winding: &str) -> Option<Job> {
    let mut job = job.clone();
    let part = job.parts_mut().find(|part| part.name == transformer)?;
    let PartKind::Transformer(of) = &mut part.kind else {
        return None;
    };
    let winding = of.secondary.iter_mut().find(|of| of.name == winding)?;
    winding.taps = vec![Tap {
        name: HALF.to_owned(),
        share: Figure {
            value: Quantity::exact(0.5),
            origin: Origin::Drawn,
            span: 0..0,
        },
    }];
    Some(job)
}

pub(super) fn faults(
    lowered: &Lowered,
    fed: &[Fed<'_>],
    places: &[Place],
    options: &Options,
) -> Vec<Fault> {
    let mut all = Vec::new();
    let mut add = |what: Shorted,
                   of: Of<'_>,
                   lowered: &Lowered,
                   ends: Option<(Node, Node)>,
                   one: &Fed<'_>| {
        let Some(ends) = ends else { return };
        let amps = short(lowered, ends, one, options);
        let owned = |(upper, lower): (&str, &str)| (upper.to_owned(), lower.to_owned());
        all.push(Fault {
            what,
            of: of.name.to_owned(),
            between: of.between.map(owned),
            amps,
            clears: amps.map_or_else(Vec::new, |amps| links(places, one, what, amps)),
        });
    };
    for one in fed {
        let node = |point: &str| lowered.node(&format!("{}.{point}", one.part.from));
        let both = |a: Option<Node>, b: Option<Node>| a.zip(b);
        let winding = Of::whole(&one.part.from);
        let ends = both(node("start"), node("finish"));
        add(Shorted::Winding, winding, lowered, ends, one);
        if let Some(centre) = node("centre") {
            let ends = both(node("start"), Some(centre));
            add(Shorted::HalfWinding, winding, lowered, ends, one);
        } else if let Some(halved) = halved(&lowered.job, one.transformer_name, one.winding)
            && let Ok(halved) = lower(
                &halved,
                lowered.state,
                &Step::default(),
                &[],
                &Temperatures::at_rest(&halved),
            )
        {
            let point = |point: &str| halved.node(&format!("{}.{point}", one.part.from));
            let ends = both(point("start"), point(HALF));
            add(Shorted::HalfWinding, winding, &halved, ends, one);
        }
        let diode = lowered
            .parts
            .get(one.name)
            .and_then(|elements| elements.own.first().copied());
        let ends = diode.and_then(|diode| across(&lowered.circuit, diode));
        add(Shorted::Diode, Of::whole(one.name), lowered, ends, one);
        let reservoirs = one.reservoirs();
        for (upper, lower) in &reservoirs {
            let of = Of {
                name: one.name,
                between: (reservoirs.len() > 1).then_some((upper, lower)),
            };
            let ends = both(lowered.node(upper), lowered.node(lower));
            add(Shorted::Reservoir, of, lowered, ends, one);
        }
    }
    all
}

/// What a fault is of: a part by its name, and which of several reservoirs behind it.
#[derive(Clone, Copy)]
struct Of<'a> {
    name: &'a str,
    between: Option<(&'a str, &'a str)>,
}

impl<'a> Of<'a> {
    fn whole(name: &'a str) -> Self {
        Self {
            name,
            between: None,
        }
    }
}

fn across(circuit: &Circuit, element: ElementId) -> Option<(Node, Node)> {
    match circuit.element(element) {
        Element::Diode { anode, cathode, .. } => Some((*anode, *cathode)),
        _ => None,
    }
}

/// rms on the primary and in the winding with two nodes shorted, in the last of some cycles from rest.
fn short(
    lowered: &Lowered,
    (a, b): (Node, Node),
    one: &Fed<'_>,
    options: &Options,
) -> Option<(f64, f64)> {
    let mut circuit = lowered.circuit.clone();
    circuit.add(Element::Resistor { a, b, ohms: SHORT });
    let system = System::assemble(&circuit).ok()?.reduced();
    let rest = vec![0.0; system.store_count()];
    let run = transient(&system, &rest, 0.25, 0.25 + FAULT_CYCLES, options).ok()?;
    let window = (0.25 + FAULT_CYCLES - 1.0, 0.25 + FAULT_CYCLES);
    let hertz = circuit.frequency;
    let rms = |probe: &Probe| (square_time(&run, probe, window, hertz) * hertz).sqrt();
    let outlet = system.current(lowered.element(OUTLET)?);
    let winding = winding_current(lowered, one)?.probe(&system);
    Some((rms(&outlet), rms(&winding)))
}

/// What the links of the primary and of the winding do. A short inside a winding is not in its leads, and so no link in
/// them sees it.
fn links(
    places: &[Place],
    one: &Fed<'_>,
    what: Shorted,
    (primary, winding): (f64, f64),
) -> Vec<(String, f64, Sheet, Clears)> {
    let mut all = Vec::new();
    for place in places {
        let amps = if place.name == "primary" {
            primary
        } else if place.name == one.part.from && what != Shorted::HalfWinding {
            winding
        } else {
            continue;
        };
        let rated = place
            .fitted
            .as_ref()
            .map(|(_, rated)| *rated)
            .or_else(|| place.choice.map(|choice| choice.rated));
        if let Some(rated) = rated {
            for sheet in Sheet::ALL {
                all.push((
                    place.name.clone(),
                    rated,
                    sheet,
                    fuse::clears(sheet, rated, amps),
                ));
            }
        }
    }
    all
}
