//! Parts that name other parts: sinks, and the windings that feed rectifiers.

use crate::fault::{Fault, Faults};
use crate::nearest::nearest;
use crate::read::PartTable;
use crate::read::fields::Fields;
use crate::wiring::has_centre;
use crate::written::Value;

/// Every sink and every winding that a part names is there, and fits its form.
pub(crate) fn check(parts: &[PartTable<'_>], faults: &mut Faults) {
    for part in parts {
        if let Some(value) = part.fields.value("sink") {
            check_sink(value, parts, faults);
        }
        if part.kind == "rectifier" {
            check_winding(&part.fields, parts, faults);
        }
    }
}

fn check_sink(value: &Value, parts: &[PartTable<'_>], faults: &mut Faults) {
    let Some(name) = value.text() else { return };
    let sinks = || {
        parts
            .iter()
            .filter(|part| part.kind == "sink")
            .map(|part| part.name)
    };
    if sinks().any(|sink| sink == name) {
        return;
    }
    let near = nearest(name, sinks());
    faults.of(
        value,
        &Fault::UnknownPart {
            name: name.to_owned(),
            wanted: "sink",
            nearest: near,
        },
    );
}

fn check_winding(rectifier: &Fields<'_>, parts: &[PartTable<'_>], faults: &mut Faults) {
    let Some(value) = rectifier.value("from") else {
        return;
    };
    let Some(name) = value.text() else { return };
    let (transformer_name, winding) = name.split_once('.').unwrap_or((name, ""));
    let transformers = || parts.iter().filter(|part| part.kind == "transformer");
    let Some(transformer) = transformers().find(|part| part.name == transformer_name) else {
        let near = nearest(transformer_name, transformers().map(|part| part.name));
        let fault = Fault::UnknownPart {
            name: transformer_name.to_owned(),
            wanted: "transformer",
            nearest: near,
        };
        faults.of(value, &fault);
        return;
    };
    let secondaries = transformer.fields.tables("secondary");
    let joins = transformer.fields.named("joins");
    let known: Vec<&str> = secondaries
        .iter()
        .filter_map(|secondary| secondary.text("name"))
        .chain(joins.iter().map(|join| join.key.as_str()))
        .collect();
    if !known.contains(&winding) {
        let fault = Fault::UnknownWinding {
            name: winding.to_owned(),
            transformer: transformer.fields.owner.clone(),
            nearest: nearest(winding, known),
        };
        faults.of(value, &fault);
        return;
    }
    let form = rectifier.text("form").unwrap_or_default();
    if !matches!(form, "centre-tap" | "split") {
        return;
    }
    let tapped = secondaries
        .iter()
        .filter(|secondary| secondary.text("name") == Some(winding))
        .any(|secondary| !secondary.named("taps").is_empty());
    let joined = joins
        .iter()
        .filter(|join| join.key == winding)
        // An unreadable join is reported as such.
        .any(|join| {
            join.value
                .text()
                .is_none_or(|text| has_centre(text) || crate::join::read(text).is_err())
        });
    if !tapped && !joined {
        faults.of(
            value,
            &Fault::NoCentre {
                form: form.to_owned(),
                from: name.to_owned(),
            },
        );
    }
}
