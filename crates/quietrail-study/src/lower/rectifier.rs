//! The diodes of a rectifier, form by form.

use super::{Draft, Elements, law_at};
use quietrail_engine::{Circuit, Element, Node};
use quietrail_job::model::{Job, PartKind, Rectifier, RectifierForm};

pub(super) fn add(draft: &mut Draft, job: &Job, part: &Rectifier, celsius: f64) -> Elements {
    let law = law_at(&part.curve, celsius);
    let a = draft.node(&format!("{}.start", part.from));
    let b = draft.node(&format!("{}.finish", part.from));
    let (into, ret) = (draft.node(&part.into), draft.node(&part.ret));
    // (anode, cathode); those that feed the positive output first.
    let mut tied: Option<(Node, Node)> = None;
    let (pairs, feeding): (Vec<(Node, Node)>, usize) = match &part.form {
        RectifierForm::Bridge => (vec![(a, into), (b, into), (ret, a), (ret, b)], 2),
        RectifierForm::CentreTap => {
            tied = Some((draft.node(&centre(job, &part.from)), ret));
            (vec![(a, into), (b, into)], 2)
        }
        RectifierForm::HalfWave => {
            tied = Some((b, ret));
            (vec![(a, into)], 1)
        }
        RectifierForm::Split { negative } => {
            let negative = draft.node(negative);
            tied = Some((draft.node(&centre(job, &part.from)), ret));
            (vec![(a, into), (b, into), (negative, a), (negative, b)], 2)
        }
        RectifierForm::Doubler { middle } => {
            tied = Some((b, draft.node(middle)));
            (vec![(a, into), (ret, a)], 1)
        }
        RectifierForm::CascadeDoubler { pump } => {
            let pump = draft.node(pump);
            tied = Some((b, ret));
            (vec![(pump, into), (ret, pump)], 1)
        }
    };
    let mut elements = Elements {
        into: feeding,
        ..Elements::default()
    };
    for (anode, cathode) in pairs {
        elements.own.push(draft.circuit.add(Element::Diode {
            anode,
            cathode,
            law,
        }));
    }
    // Two rectifiers on one winding tie the same points; a second link would leave open how the two share.
    if let Some((from, to)) = tied
        && !is_linked(&draft.circuit, from, to)
    {
        draft.circuit.add(Element::Resistor {
            a: from,
            b: to,
            ohms: 0.0,
        });
    }
    elements
}

/// Whether a resistor of no ohms joins two nodes already.
fn is_linked(circuit: &Circuit, one: Node, other: Node) -> bool {
    circuit.elements().iter().any(|element| {
        matches!(*element, Element::Resistor { a, b, ohms: 0.0 }
            if (a, b) == (one, other) || (a, b) == (other, one))
    })
}

/// The point that is the return: the centre of a join of two, or the tap of a single winding.
fn centre(job: &Job, from: &str) -> String {
    let tap = from.split_once('.').and_then(|(transformer, winding)| {
        let PartKind::Transformer(transformer) = &job.part(transformer)?.kind else {
            return None;
        };
        let winding = transformer
            .secondary
            .iter()
            .find(|known| known.name == winding)?;
        winding.taps.first().map(|tap| tap.name.as_str())
    });
    format!("{from}.{}", tap.unwrap_or("centre"))
}
