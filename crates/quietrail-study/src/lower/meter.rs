//! Meters in the circuit while they read: ammeters in series with a part, inputs across what they read.

use super::{Draft, MeterInput, SMALLEST_ESR};
use quietrail_engine::Element;
use quietrail_job::model::PartKind;

/// The point of a part between its ammeter and itself.
pub(super) fn point(name: &str) -> String {
    format!("{name}.ammeter")
}

/// A part with an ammeter in its first lead: the plus end, a regulator's input, a transistor's collector, a rectifier's output, a
/// transformer's primary. `None` for a part that has no lead of its own, and for a transformer, whose ends are named apart.
pub(super) fn behind_ammeter(
    draft: &mut Draft,
    name: &str,
    kind: &PartKind,
    ohms: f64,
) -> Option<PartKind> {
    let mut moved = kind.clone();
    let lead = match &mut moved {
        PartKind::Fuse(part) => &mut part.between.plus,
        PartKind::Switch(part) => &mut part.between.plus,
        PartKind::Lamp(part) => &mut part.between.plus,
        PartKind::Capacitor(part) => &mut part.between.plus,
        PartKind::Resistor(part) => &mut part.between.plus,
        PartKind::Inductor(part) => &mut part.between.plus,
        PartKind::Wire(part) => &mut part.between.plus,
        PartKind::Diode(part) => &mut part.between.plus,
        PartKind::Shunt(part) => &mut part.between.plus,
        PartKind::Load(part) => &mut part.between.plus,
        PartKind::Regulator(part) => &mut part.from,
        PartKind::Transistor(part) => &mut part.collector,
        PartKind::Rectifier(part) => &mut part.into,
        PartKind::VariableTransformer(part) => &mut part.from,
        PartKind::Transformer(_) => {
            let (a, b) = (
                draft.node(&format!("{name}.primary.in")),
                draft.node(&point(name)),
            );
            draft.circuit.add(Element::Resistor { a, b, ohms });
            return None;
        }
        PartKind::Sink(_) => return None,
    };
    let (a, b) = (draft.node(lead), draft.node(&point(name)));
    // What a part delivers comes out of it, what it takes goes in: the resistor is the same either way.
    draft.circuit.add(Element::Resistor { a, b, ohms });
    *lead = point(name);
    Some(moved)
}

/// Resistance and capacitance of an instrument across what it reads.
pub(super) fn across(draft: &mut Draft, input: &MeterInput) {
    let (a, b) = (draft.node(&input.plus), draft.node(&input.minus));
    let ohms = input.ohms;
    draft.circuit.add(Element::Resistor { a, b, ohms });
    if input.farads > 0.0 {
        draft.circuit.add(Element::Capacitor {
            a,
            b,
            farads: input.farads,
            esr: SMALLEST_ESR,
            leakage: 0.0,
        });
    }
}
