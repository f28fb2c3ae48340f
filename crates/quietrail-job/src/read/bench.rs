//! `[bench]` and `[[step]]`

use super::fields::Fields;
use crate::fault::{Fault, Faults};
use crate::model::{Dummy, InsteadOf, OnHand, State, Step, Through};
use crate::nearest::nearest;
use crate::wiring::Wiring;

/// `[bench]`
pub(crate) fn on_hand(fields: Option<&Fields<'_>>) -> Option<OnHand> {
    let Some(fields) = fields else {
        return Some(OnHand::default());
    };
    Some(OnHand {
        resistors: fields.pairs("resistors")?,
        lamps: fields.pairs("lamps")?,
        variable_transformer: match fields.has("variable_transformer") {
            true => Some(fields.figure("variable_transformer")?),
            false => None,
        },
    })
}

/// `[[step]]`
pub(crate) fn step(
    fields: &Fields<'_>,
    wiring: &Wiring,
    states: &[State],
    faults: &mut Faults,
) -> Option<Step> {
    let instead_of = instead_of(fields, wiring, faults);
    let dummy = fields.inner("dummy");
    if let Some(dummy) = &dummy {
        check_nodes(dummy, wiring, faults);
    }
    let states = super::states::named(fields, states, faults);
    Some(Step {
        name: fields.text("name")?.to_owned(),
        through: match fields.inner("through") {
            Some(through) => through_of(&through)?,
            None => None,
        },
        instead_of,
        dummy: match dummy {
            Some(dummy) => Some(Dummy {
                between: dummy.ends()?,
                ohms: dummy.figure("ohms")?,
            }),
            None => None,
        },
        states,
        span: fields.place.span.clone(),
    })
}

/// `None` outside where a figure cannot be read; `None` inside where the table is empty.
fn through_of(through: &Fields<'_>) -> Option<Option<Through>> {
    if through.has("lamp") {
        let (watts, volts) = through.pair("lamp")?;
        return Some(Some(Through::Lamp { watts, volts }));
    }
    if through.has("variable_transformer") {
        return Some(Some(Through::VariableTransformer(
            through.figure("variable_transformer")?,
        )));
    }
    Some(None)
}

fn instead_of(
    fields: &Fields<'_>,
    wiring: &Wiring,
    faults: &mut Faults,
) -> Vec<(String, InsteadOf)> {
    let mut found = Vec::new();
    for entry in fields.named("instead_of") {
        if !wiring.knows_part(&entry.key) {
            let near = nearest(&entry.key, wiring.part_names());
            let fault = Fault::UnknownPart {
                name: entry.key.clone(),
                wanted: "part",
                nearest: near,
            };
            faults.at(entry.key_place(), &fault);
            continue;
        }
        match entry.value.text() {
            Some("out") => found.push((entry.key.clone(), InsteadOf::Out)),
            Some("short") => found.push((entry.key.clone(), InsteadOf::Short)),
            _ => {}
        }
    }
    found
}

fn check_nodes(dummy: &Fields<'_>, wiring: &Wiring, faults: &mut Faults) {
    let value = dummy.value("between").or_else(|| dummy.value("at"));
    let Some(value) = value else { return };
    let nodes = match value.list() {
        Some(items) => items.iter().collect(),
        None => vec![value],
    };
    for node in nodes {
        let Some(name) = node.text() else { continue };
        if !wiring.knows_node(name) {
            let near = wiring.nearest_node(name);
            faults.of(
                node,
                &Fault::UnknownNode {
                    name: name.to_owned(),
                    nearest: near,
                },
            );
        }
    }
}
