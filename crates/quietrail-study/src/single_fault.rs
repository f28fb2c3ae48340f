//! Single faults of parts, and what each does to the circuit. What breaks keeps its place: open is a gigohm, short a milliohm.

use crate::lower::{Lowered, core_of};
use quietrail_engine::{DiodeLaw, Element, ElementId, Node};
use quietrail_job::model::{Job, Part, PartKind, SetPoint};

/// A single fault.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// The part.
    pub part: String,
    /// What is wrong with it.
    pub kind: Kind,
}

/// What can be wrong with a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Its ends are open.
    Open,
    /// Its ends are joined.
    Short,
    /// One of its diodes is open.
    DiodeOpen,
    /// One of its diodes is a short.
    DiodeShort,
    /// Nothing flows through a regulator.
    PassOpen,
    /// Input and output of a regulator are joined.
    PassShort,
    /// Collector and emitter of a transistor are joined.
    CollectorShort,
    /// The base of a transistor is open.
    BaseOpen,
    /// Its base and emitter are joined.
    BaseShort,
    /// The upper sense lead of a regulator is open.
    SenseOpen,
    /// The wiper of the trimmer lifts off.
    WiperOpen,
    /// The resistor from the output is open.
    UpperOpen,
    /// It is a short.
    UpperShort,
    /// The resistor to the return is open.
    LowerOpen,
    /// It is a short.
    LowerShort,
    /// The reference is lost upwards: the loop asks for all there is.
    ReferenceOpen,
}

/// Resistance of what is open, Ω, and of what is short.
const OPEN: f64 = 1e9;
const SHORT: f64 = 1e-3;
/// What a pin that nothing feeds leaks to its other end, Ω (common practice, no source).
const LEAKS: f64 = 1e5;
/// What stays across an open capacitor, F (common practice, no source).
const STRAY: f64 = 1e-8;
/// A set point that no supply reaches: the pass element is driven as far as it goes, V.
const ALL: f64 = 1e3;

/// Every single fault of a job.
pub(crate) fn every_fault(job: &Job) -> Vec<Fault> {
    let mut all = Vec::new();
    for part in &job.parts {
        let kinds: &[Kind] = match &part.kind {
            PartKind::Capacitor(_)
            | PartKind::Resistor(_)
            | PartKind::Inductor(_)
            | PartKind::Shunt(_)
            | PartKind::Diode(_) => &[Kind::Open, Kind::Short],
            PartKind::Transistor(_) => &[
                Kind::PassOpen,
                Kind::CollectorShort,
                Kind::BaseOpen,
                Kind::BaseShort,
            ],
            // A wire that is a short is a good wire.
            PartKind::Wire(_) => &[Kind::Open],
            PartKind::Rectifier(_) => &[Kind::DiodeOpen, Kind::DiodeShort],
            PartKind::Regulator(regulator) => match &regulator.set {
                SetPoint::Fixed(_) => &[Kind::PassOpen, Kind::PassShort, Kind::ReferenceOpen],
                SetPoint::Trimmed { .. } => &[
                    Kind::PassOpen,
                    Kind::PassShort,
                    Kind::WiperOpen,
                    Kind::ReferenceOpen,
                ],
                SetPoint::AcrossUpper { .. }
                | SetPoint::AcrossLower { .. }
                | SetPoint::AcrossBoth { .. } => &[
                    Kind::PassOpen,
                    Kind::PassShort,
                    Kind::UpperOpen,
                    Kind::UpperShort,
                    Kind::LowerOpen,
                    Kind::LowerShort,
                    Kind::ReferenceOpen,
                ],
            },
            // Their faults are mains faults, or none that raises a pin.
            PartKind::Fuse(_)
            | PartKind::Switch(_)
            | PartKind::Lamp(_)
            | PartKind::VariableTransformer(_)
            | PartKind::Transformer(_)
            | PartKind::Sink(_)
            | PartKind::Load(_) => &[],
        };
        let leads: &[Kind] = match &part.kind {
            PartKind::Regulator(regulator) if regulator.sense.is_some() => &[Kind::SenseOpen],
            _ => &[],
        };
        all.extend(kinds.iter().chain(leads).map(|kind| Fault {
            part: part.name.clone(),
            kind: *kind,
        }));
    }
    all
}

/// Makes the fault in a circuit; the stores stay.
pub(crate) fn make(lowered: &mut Lowered, fault: &Fault) {
    let Some(elements) = lowered.parts.get(&fault.part).cloned() else {
        return;
    };
    let Some(&first) = elements.own.first() else {
        return;
    };
    match fault.kind {
        Kind::Open | Kind::DiodeOpen => {
            open(lowered, first);
            // A choke's core couples nothing any more.
            if let Some(core) = lowered.element(&core_of(&fault.part)) {
                open(lowered, core);
            }
        }
        Kind::Short | Kind::DiodeShort | Kind::PassShort | Kind::CollectorShort => {
            if let Some((a, b)) = ends(lowered, first) {
                lowered.circuit.add(Element::Resistor { a, b, ohms: SHORT });
            }
        }
        Kind::BaseOpen => {
            let new = lowered.circuit.node();
            if let Element::Transistor { base, emitter, .. } = lowered.circuit.element_mut(first) {
                let (old, emitter) = (*base, *emitter);
                *base = new;
                // What leaks across a junction that nothing drives.
                for (a, b, ohms) in [(new, emitter, LEAKS), (new, old, OPEN)] {
                    lowered.circuit.add(Element::Resistor { a, b, ohms });
                }
            }
        }
        Kind::BaseShort => {
            if let Element::Transistor { base, emitter, .. } = *lowered.circuit.element(first) {
                let (a, b) = (base, emitter);
                lowered.circuit.add(Element::Resistor { a, b, ohms: SHORT });
            }
        }
        Kind::SenseOpen => {
            let new = lowered.circuit.node();
            if let Element::Regulator {
                sense: Some(sense), ..
            } = lowered.circuit.element_mut(first)
            {
                let (a, b) = (new, sense.minus);
                sense.plus = new;
                // The divider stays on its pin, which nothing feeds any more.
                lowered.circuit.add(Element::Resistor { a, b, ohms: LEAKS });
            }
        }
        Kind::PassOpen => {
            if let Element::Transistor { law, .. } = lowered.circuit.element_mut(first) {
                (law.forward, law.reverse, law.feedback) = (1e-9, 0.0, 0.0);
            }
            if let Element::Regulator { law, .. } = lowered.circuit.element_mut(first) {
                law.limit = 1e-9;
                law.softness = 1e-12;
            }
        }
        Kind::WiperOpen
        | Kind::UpperOpen
        | Kind::UpperShort
        | Kind::LowerOpen
        | Kind::LowerShort
        | Kind::ReferenceOpen => {
            let Some(volts) = lowered
                .job
                .part(&fault.part)
                .and_then(|part| asks(part, fault.kind))
            else {
                return;
            };
            if let Element::Regulator { law, .. } = lowered.circuit.element_mut(first) {
                let line = law.line - law.set;
                law.set = volts;
                law.line = volts + line;
                // A loop that is driven to its end no longer rejects its input.
                if volts >= ALL {
                    law.rejection.direct = 0.0;
                    for section in &mut law.rejection.sections {
                        section.0 = 0.0;
                    }
                }
            }
        }
    }
}

/// What a regulator's set point then asks for, as an amount.
fn asks(part: &Part, kind: Kind) -> Option<f64> {
    let PartKind::Regulator(regulator) = &part.kind else {
        return None;
    };
    let reference = regulator
        .set
        .reference()
        .map_or(0.0, |figure| figure.nominal().abs());
    let volts = match (&regulator.set, kind) {
        (SetPoint::AcrossUpper { lower, adjust, .. }, Kind::UpperOpen) => {
            reference + adjust.nominal() * lower.nominal()
        }
        // An open wiper takes the trimmer out of the divider: an adjust pin floats up, a feedback pin sees nothing.
        (_, Kind::ReferenceOpen)
        | (SetPoint::Trimmed { .. }, Kind::WiperOpen)
        | (SetPoint::AcrossUpper { .. }, Kind::UpperShort | Kind::LowerOpen)
        | (SetPoint::AcrossLower { .. }, Kind::UpperOpen | Kind::LowerShort) => ALL,
        (SetPoint::AcrossUpper { .. }, Kind::LowerShort)
        | (SetPoint::AcrossLower { .. }, Kind::UpperShort | Kind::LowerOpen)
        // The input of a follower then hangs on its reference.
        | (SetPoint::AcrossBoth { .. }, Kind::LowerOpen | Kind::UpperShort) => reference,
        (SetPoint::AcrossBoth { .. }, Kind::LowerShort | Kind::UpperOpen) => 0.0,
        _ => return None,
    };
    Some(volts)
}

fn open(lowered: &mut Lowered, id: ElementId) {
    match lowered.circuit.element_mut(id) {
        Element::Resistor { ohms, .. } | Element::Inductor { ohms, .. } => *ohms = OPEN,
        // Wiring and the load have some capacitance of their own, which stays.
        Element::Capacitor {
            farads,
            esr,
            leakage,
            ..
        } => {
            *farads = STRAY.min(*farads);
            *esr = esr.max(1.0);
            *leakage = 0.0;
        }
        Element::Diode { law, .. } => match law {
            DiodeLaw::Exponential {
                saturation,
                leakage,
                series,
                ..
            } => {
                *saturation = 1e-30;
                *leakage = 0.0;
                *series = OPEN;
            }
            DiodeLaw::Ideal { slope, .. } => *slope = OPEN,
        },
        _ => {}
    }
}

fn ends(lowered: &Lowered, id: ElementId) -> Option<(Node, Node)> {
    match lowered.circuit.element(id) {
        Element::Resistor { a, b, .. }
        | Element::Inductor { a, b, .. }
        | Element::Capacitor { a, b, .. } => Some((*a, *b)),
        Element::Diode { anode, cathode, .. } => Some((*anode, *cathode)),
        Element::Regulator { input, output, .. } => Some((*input, *output)),
        Element::Transistor {
            collector, emitter, ..
        } => Some((*collector, *emitter)),
        _ => None,
    }
}
