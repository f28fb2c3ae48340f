//! Noise figures of a regulator.

use super::fields::Fields;
use super::part::rising;
use super::quantity;
use crate::fault::{Entry as Missing, Fault, Faults};
use crate::model::{Density, Noise};
use crate::written::Value;
use quietrail_units::{Form, Hertz, Quantity, Ratio, Volts, VoltsPerRootHertz};

/// The table under `noise` or `reference_noise`; `None` inside where there is none.
pub(super) fn noise(fields: &Fields<'_>, key: &str, faults: &mut Faults) -> Option<Option<Noise>> {
    let Some(inner) = fields.inner(key) else {
        return Some(None);
    };
    let density = density(&inner, faults)?;
    Some(Some(Noise {
        density,
        at: inner.figure("at"),
    }))
}

fn density(inner: &Fields<'_>, faults: &mut Faults) -> Option<Density> {
    if inner.has("density") {
        return Some(Density::Flat {
            level: inner.figure("density")?,
            corner: inner.figure("corner"),
        });
    }
    if inner.has("points") {
        let points = inner.points::<VoltsPerRootHertz, Hertz>("points")?;
        if points.is_empty() {
            missing(inner, "points", faults);
            return None;
        }
        rising(
            "points",
            points.iter().map(|(_, hertz, at)| (hertz.nominal(), *at)),
            faults,
        );
        let turned = points.into_iter().map(|(level, hertz, _)| (hertz, level));
        return Some(Density::Points(turned.collect()));
    }
    if !inner.has("total") {
        return None;
    }
    if !inner.has("band") {
        missing(inner, "band", faults);
        return None;
    }
    let (low, high) = band(inner.value("band")?, faults)?;
    let text = inner
        .text("total")
        .or_else(|| inner.value("total")?.table()?.get("value")?.text())?;
    if quantity::interval(quietrail_units::Kind::Volts, text).is_ok() {
        return Some(Density::Total {
            volts: inner.figure::<Volts>("total")?,
            low,
            high,
        });
    }
    Some(Density::Share {
        share: inner.figure::<Ratio>("total")?,
        low,
        high,
    })
}

fn missing(inner: &Fields<'_>, key: &'static str, faults: &mut Faults) {
    let says = inner.keys.key(key).map_or("", |key| key.says);
    let fault = Fault::MissingFigure {
        owner: inner.owner.clone(),
        key,
        says,
        entry: Missing::None,
    };
    faults.at(inner.place.clone(), &fault);
}

/// A band with two ends.
fn band(value: &Value, faults: &mut Faults) -> Option<(f64, f64)> {
    let words = value
        .text()
        .or_else(|| value.table()?.get("value")?.text())?;
    let range = Quantity::<Hertz>::parse(words).ok()?;
    if range.form == Form::Range && range.high > range.low {
        return Some((range.low, range.high));
    }
    let fault = Fault::LimitForm {
        key: "band",
        found: words.to_owned(),
        wanted: "a range such as 10 Hz .. 100 kHz",
    };
    faults.of(value, &fault);
    None
}
