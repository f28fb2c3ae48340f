//! `[oscillator.X1]`

use super::derived::quotient;
use super::fields::Fields;
use super::part::rising;
use super::quantity;
use crate::fault::{Fault, Faults};
use crate::model::{Oscillator, Pin, Shifts};
use crate::wiring::Wiring;
use crate::written::Value;
use quietrail_units::{Decibels, Hertz, HertzPerVolt, Kind, PerVolt, Ratio, Volts};

pub(crate) fn oscillator(
    name: &str,
    fields: &Fields<'_>,
    wiring: &Wiring,
    faults: &mut Faults,
) -> Option<Oscillator> {
    if !fields.has("supply") && !fields.has("tuning") {
        let fault = Fault::MissingOneOf {
            owner: fields.owner.clone(),
            keys: vec!["supply", "tuning"],
        };
        faults.at(fields.place.clone(), &fault);
        return None;
    }
    let mut pins = Vec::new();
    for key in ["supply", "tuning"] {
        if let Some(inner) = fields.inner(key) {
            pins.push(pin(key, &inner, wiring, faults)?);
        }
    }
    let noise = if fields.has("noise") {
        let points = fields.points::<Decibels, Hertz>("noise")?;
        rising(
            "noise",
            points.iter().map(|(_, hertz, at)| (hertz.nominal(), *at)),
            faults,
        );
        points
            .into_iter()
            .map(|(level, hertz, _)| (hertz, level))
            .collect()
    } else {
        Vec::new()
    };
    against_carrier(fields, faults);
    Some(Oscillator {
        name: name.to_owned(),
        frequency: fields.figure("frequency")?,
        pins,
        spurs: fields.figure("spurs"),
        noise,
        acceptance: super::acceptance::acceptance(fields, faults)?,
        span: fields.place.span.clone(),
    })
}

/// Levels beside the carrier say so, and those of noise alone are in a hertz.
fn against_carrier(fields: &Fields<'_>, faults: &mut Faults) {
    let mut check = |value: &Value, in_hertz: bool| {
        let Some(words) = value.text() else { return };
        let level = quantity::at(words)
            .map_or(words, |(level, _)| level.text)
            .trim();
        let unit = level.trim_start_matches(|letter: char| !letter.is_alphabetic());
        let is_wanted = unit == "dBc" || (in_hertz && unit == "dBc/Hz");
        // What is no decibel at all is reported where it is read.
        if unit.starts_with("dB") && !is_wanted {
            let found = level.to_owned();
            faults.of(value, &Fault::DecibelsOfCarrier { found, in_hertz });
        }
    };
    for key in ["spurs", "harmonics"] {
        if let Some(value) = fields.value(key) {
            check(value, false);
        }
    }
    for point in fields.items("noise").unwrap_or_default() {
        check(point, true);
    }
}

fn pin(
    name: &'static str,
    inner: &Fields<'_>,
    wiring: &Wiring,
    faults: &mut Faults,
) -> Option<Pin> {
    let value = inner.value("at")?;
    let nodes = match value.list() {
        Some([plus, minus]) => (known(plus, wiring, faults)?, known(minus, wiring, faults)?),
        Some(_) => return None,
        None => (known(value, wiring, faults)?, "common".to_owned()),
    };
    Some(Pin {
        name,
        nodes,
        shifts: shifts(inner),
        amplitude: inner.figure("amplitude"),
        flat_to: inner.figure("flat_to"),
    })
}

fn known(value: &Value, wiring: &Wiring, faults: &mut Faults) -> Option<String> {
    let name = value.text()?;
    if wiring.knows_node(name) {
        return Some(name.to_owned());
    }
    let fault = Fault::UnknownNode {
        name: name.to_owned(),
        nearest: wiring.nearest_node(name),
    };
    faults.of(value, &fault);
    None
}

fn shifts(inner: &Fields<'_>) -> Option<Shifts> {
    if let Some((share, volts)) = inner.figure_at::<Ratio, Volts>("shifts") {
        return Some(Shifts::Share(quotient(1.0, &share, &volts)));
    }
    let text = inner.text("shifts")?;
    if quantity::interval(Kind::HertzPerVolt, text).is_ok() {
        return Some(Shifts::Hertz(inner.figure::<HertzPerVolt>("shifts")?));
    }
    Some(Shifts::Share(inner.figure::<PerVolt>("shifts")?))
}
