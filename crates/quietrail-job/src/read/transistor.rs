//! `[transistor.Q1]`, `[shunt.Z1]`

use super::derived::{default_exact, default_range};
use super::fields::Fields;
use super::mains::{case_to_sink, or_default};
use super::noise::noise;
use super::part::rising;
use crate::fault::{Entry as Missing, Fault, Faults};
use crate::model::{Shunt, ShuntSet, Transistor, TransistorRatings};
use quietrail_units::{Amperes, Volts};

/// `[transistor.Q1]`
pub(crate) fn transistor(fields: &Fields<'_>, faults: &mut Faults) -> Option<Transistor> {
    let points = fields.points::<Volts, Amperes>("base_emitter")?;
    if !(1..=3).contains(&points.len()) {
        let fault = Fault::JunctionPoints {
            found: points.len(),
        };
        faults.at(fields.place_of("base_emitter"), &fault);
        return None;
    }
    rising(
        "base_emitter",
        points.iter().map(|(_, amps, at)| (amps.nominal(), *at)),
        faults,
    );
    rising(
        "base_emitter",
        points.iter().map(|(volts, _, at)| (volts.nominal(), *at)),
        faults,
    );
    let (saturation, at) = fields.figure_at::<Volts, Amperes>("saturation")?;
    let highest = points.last().map_or(0.0, |(volts, ..)| volts.nominal());
    if saturation.nominal() >= highest {
        let fault = Fault::SaturatesAbove {
            saturation: saturation.value.to_string(),
            base_emitter: points
                .last()
                .map_or_else(String::new, |(volts, ..)| volts.value.to_string()),
        };
        faults.at(fields.place_of("saturation"), &fault);
        return None;
    }
    let rated = fields.inner("rated");
    let ratings = rated.map_or_else(TransistorRatings::default, |rated| TransistorRatings {
        volts: rated.figure("volts"),
        reverse: rated.figure("reverse"),
        current: rated.figure("current"),
        base_current: rated.figure("base_current"),
        power: rated.figure("power"),
        junction: rated.figure("junction"),
    });
    Some(Transistor {
        collector: fields.text("collector")?.to_owned(),
        base: fields.text("base")?.to_owned(),
        emitter: fields.text("emitter")?.to_owned(),
        is_pnp: fields.text("kind") == Some("pnp"),
        gain: fields.figure("gain")?,
        base_emitter: points
            .into_iter()
            .map(|(volts, amps, _)| (volts, amps))
            .collect(),
        saturation: (saturation, at),
        early: or_default(
            fields,
            "early",
            default_range(
                50.0,
                100.0,
                200.0,
                "Early voltage not given; 50 V .. 200 V, common practice, no source",
            ),
        )?,
        base_resistance: or_default(
            fields,
            "base_resistance",
            default_range(
                2.0,
                10.0,
                50.0,
                "noise resistance of the base not given; 2 Ω .. 50 Ω, common practice, no source",
            ),
        )?,
        figures_at: or_default(
            fields,
            "figures_at",
            default_exact(
                25.0,
                "junction temperature of the figures not given; data sheets mostly say 25 °C",
            ),
        )?,
        junction_to_case: fields.figure("junction_to_case"),
        case_to_sink: case_to_sink(fields)?,
        junction_to_air: fields.figure("junction_to_air"),
        sink: fields.text("sink").map(str::to_owned),
        rated: ratings,
        span: fields.job_span("collector"),
    })
}

/// `[shunt.Z1]`
pub(crate) fn shunt(fields: &Fields<'_>, faults: &mut Faults) -> Option<Shunt> {
    let noise = noise(fields, "noise", faults);
    let set = if fields.has("fixed") {
        ShuntSet::Fixed(fields.figure("fixed")?)
    } else {
        for key in ["upper", "lower"] {
            if !fields.has(key) {
                let fault = Fault::MissingFigure {
                    owner: fields.owner.clone(),
                    key,
                    says: fields.keys.key(key).map_or("", |key| key.says),
                    entry: Missing::None,
                };
                faults.at(fields.place.clone(), &fault);
            }
        }
        ShuntSet::Divided {
            reference: fields.figure("reference")?,
            upper: fields.figure("upper")?,
            lower: fields.figure("lower")?,
        }
    };
    let rated = fields.inner("rated");
    Some(Shunt {
        between: fields.ends()?,
        set,
        resistance: fields.figure("resistance")?,
        least: fields.figure("least"),
        noise: noise?,
        junction_to_air: fields.figure("junction_to_air"),
        amps: rated.as_ref().and_then(|rated| rated.figure("current")),
        watts: rated.as_ref().and_then(|rated| rated.figure("power")),
        junction: rated.as_ref().and_then(|rated| rated.figure("junction")),
    })
}
