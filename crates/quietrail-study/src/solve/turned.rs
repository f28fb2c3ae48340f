//! Regulators that what they feed turns round.
//!
//! A regulator gives more where its voltage is too low. A constant power takes more where its voltage is low: it is a negative
//! resistance (Middlebrook, *IEEE Industry Applications Society Annual Meeting*, 1976). What is stored does not change at
//! once, so at first capacitors across the output take back their change of voltage over their series resistance. Where that
//! is less than the load asks for more, more current makes less voltage: the loop goes away from what it is set to, and
//! jumps to and fro between too much and too little.

use crate::lower::Lowered;
use quietrail_engine::{Element, ElementId, Node};

/// A regulator whose output falls as it gives more.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnedRound {
    /// Its name.
    pub part: String,
    /// What it is set to, V.
    pub volts: f64,
    /// What its loads ask for more for each volt less, A/V.
    pub asks: f64,
    /// What the resistances across it give back, A/V.
    pub gives_back: f64,
}

/// The first regulator that what it feeds turns round at the voltage to which it is set.
pub(super) fn turned_round(lowered: &Lowered) -> Option<TurnedRound> {
    let circuit = &lowered.circuit;
    circuit
        .ids()
        .filter_map(|id| of_regulator(lowered, id))
        .find(|found| found.asks > found.gives_back)
}

/// What hangs on a regulator's output; `None` where something does of which nobody knows how it answers at once.
fn of_regulator(lowered: &Lowered, id: ElementId) -> Option<TurnedRound> {
    let Element::Regulator {
        output,
        reference,
        law,
        ..
    } = lowered.circuit.element(id)
    else {
        return None;
    };
    let volts = if law.is_negative { -law.set } else { law.set };
    let mut found = TurnedRound {
        part: lowered.part_of(id)?.to_owned(),
        volts,
        asks: 0.0,
        gives_back: 0.0,
    };
    for other in lowered.circuit.elements() {
        match answer(other, (*output, *reference), volts)? {
            slope if slope < 0.0 => found.asks -= slope,
            slope => found.gives_back += slope,
        }
    }
    Some(found)
}

/// By how much more current an element draws from a node at a volt more, before what is stored changes.
fn answer(element: &Element, (output, reference): (Node, Node), volts: f64) -> Option<f64> {
    let touches = |nodes: &[Node]| nodes.contains(&output);
    match element {
        Element::Load { plus, minus, law } if touches(&[*plus, *minus]) => {
            if (*plus, *minus) == (output, reference) {
                Some(law.slope(volts))
            } else if (*minus, *plus) == (output, reference) {
                Some(law.slope(-volts))
            } else {
                None
            }
        }
        Element::Resistor { a, b, ohms } if touches(&[*a, *b]) => Some(1.0 / ohms),
        Element::Capacitor { a, b, esr, .. } if touches(&[*a, *b]) => Some(1.0 / esr),
        Element::Diode { anode, cathode, .. } if touches(&[*anode, *cathode]) => None,
        Element::Transistor {
            collector,
            base,
            emitter,
            ..
        } if touches(&[*collector, *base, *emitter]) => None,
        _ => Some(0.0),
    }
}
