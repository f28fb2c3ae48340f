//! `[job]`, `[mains]`, `[box]`, and the parts on the mains side.

use super::derived::{default_exact, default_range, from, quotient, range};
use super::fields::Fields;
use crate::fault::{Entry as Missing, Fault, Faults};
use crate::model::{Air, BoxRise, Figure, Fuse, Lamp, Mains, Region, Switch, VariableTransformer};
use quietrail_units::{Hertz, KelvinsPerWatt, Ohms, Ratio, Volts};

/// The region: as written, else that of the mains.
pub(crate) fn region(
    job: Option<&Fields<'_>>,
    mains: &Fields<'_>,
    faults: &mut Faults,
) -> Option<Region> {
    if let Some(job) = job.filter(|job| job.has("region")) {
        let (volts, hertz) = job.pair::<Volts, Hertz>("region")?;
        return Some(Region {
            name: job.words("region"),
            volts: volts.nominal(),
            hertz: hertz.nominal(),
        });
    }
    if !mains.has("frequency") {
        let fault = Fault::MissingFigure {
            owner: mains.owner.clone(),
            key: "frequency",
            says: "The region, which would give it, is left out too.",
            entry: Missing::None,
        };
        faults.at(mains.place.clone(), &fault);
        return None;
    }
    let volts = mains.figure::<Volts>("voltage")?.nominal();
    let hertz = mains.figure::<Hertz>("frequency")?.nominal();
    Some(Region {
        name: format!("{volts} V {hertz} Hz"),
        volts,
        hertz,
    })
}

/// How far outside the range of the mains the volts of its region may be, as a part of the range's end (common practice, no source).
const SAME_REGION: f64 = 0.15;
/// How far outside the range of the mains the hertz of its region may be.
const SAME_HERTZ: f64 = 2.0;

/// The wall socket.
pub(crate) fn mains(
    fields: &Fields<'_>,
    region: Option<&Region>,
    faults: &mut Faults,
) -> Option<Mains> {
    let mains = socket(fields, region)?;
    let (volts, hertz) = (&mains.voltage.value, &mains.frequency.value);
    let own = (1.0 - SAME_REGION) * volts.low..=(1.0 + SAME_REGION) * volts.high;
    let own_hertz = hertz.low - SAME_HERTZ..=hertz.high + SAME_HERTZ;
    if let Some(region) = region
        && !(own.contains(&region.volts) && own_hertz.contains(&region.hertz))
    {
        let fault = Fault::OtherMains {
            mains: format!("{} V {} Hz", volts.nominal, hertz.nominal),
            region: region.name.clone(),
        };
        faults.at(fields.place_of("voltage"), &fault);
    }
    Some(mains)
}

fn socket(fields: &Fields<'_>, region: Option<&Region>) -> Option<Mains> {
    let frequency = match region {
        Some(region) if !fields.has("frequency") => {
            default_exact(region.hertz, "frequency not given; that of the region")
        }
        _ => fields.figure("frequency")?,
    };
    Some(Mains {
        voltage: fields.figure("voltage")?,
        frequency,
        flatness: flatness(fields)?,
    })
}

fn flatness(fields: &Fields<'_>) -> Option<Figure<Ratio>> {
    if fields.has("flatness") {
        return fields.figure("flatness");
    }
    if fields.has("crest") {
        let crest = fields.figure::<Ratio>("crest")?;
        let share = range(
            share_of_crest(crest.value.high),
            share_of_crest(crest.value.nominal),
            share_of_crest(crest.value.low),
        );
        return Some(from(&crest, share));
    }
    let why = "flatness of the mains wave not given; up to 5 % third harmonic, common practice, no source";
    Some(default_range(0.0, 0.025, 0.05, why))
}

/// Crest factor of a sine, as it is written with four digits.
const SINE: f64 = 1.414;

/// Third-harmonic share `a` of `sin θ + a sin 3θ` from its crest factor `c = √2 (1 − a) / √(1 + a²)`:
/// the root of `k a² − 4 a + k = 0`, `k = 2 − c²`, that lies in 0 .. 1/9.
fn share_of_crest(crest: f64) -> f64 {
    if crest >= SINE {
        return 0.0;
    }
    let k = 2.0 - crest * crest;
    let root = k / (2.0 + (4.0 - k * k).max(0.0).sqrt());
    root.clamp(0.0, 1.0 / 9.0)
}

/// The air.
pub(crate) fn air(fields: Option<&Fields<'_>>) -> Option<Air> {
    let room = match fields.filter(|fields| fields.has("room")) {
        Some(fields) => fields.figure("room")?,
        None => default_range(
            15.0,
            25.0,
            35.0,
            "room temperature not given; 15 °C .. 35 °C stands in",
        ),
    };
    let rise = match fields {
        Some(fields) if fields.has("to_room") => BoxRise::Through(fields.figure("to_room")?),
        Some(fields) if fields.has("rise") => BoxRise::Given(fields.figure("rise")?),
        _ => BoxRise::Given(default_range(
            0.0,
            10.0,
            20.0,
            "rise of the air in the box not given; 0 K .. 20 K stands in, common practice, no source",
        )),
    };
    Some(Air { room, rise })
}

/// `[fuse.F1]`
pub(crate) fn fuse(fields: &Fields<'_>) -> Option<Fuse> {
    let (rated, characteristic) = fields.fuse_rating("rated")?;
    let resistance = if fields.has("resistance") {
        fields.figure("resistance")?
    } else {
        let drop = Figure::<Volts>::default_of(
            range(0.1, 0.3, 1.5),
            "cold resistance not given; 0.1 V .. 1.5 V at rated current, which covers the time-lag links of \
             the built-in catalogue (200 mA to 2.5 A)",
        );
        quotient::<Ohms, _, _>(1.0, &drop, &rated)
    };
    Some(Fuse {
        between: fields.ends()?,
        rated,
        characteristic: characteristic.to_owned(),
        resistance,
    })
}

/// `[switch.SW1]`
pub(crate) fn switch(fields: &Fields<'_>) -> Option<Switch> {
    let why = "contact resistance not given; 0 Ω .. 50 mΩ, common practice, no source";
    Some(Switch {
        between: fields.ends()?,
        resistance: or_default(fields, "resistance", default_range(0.0, 0.02, 0.05, why))?,
        closed: fields.truth("closed").unwrap_or(true),
        rated: fields.figure("rated"),
    })
}

/// `[lamp.LA1]`
pub(crate) fn lamp(fields: &Fields<'_>) -> Option<Lamp> {
    let (watts, volts) = fields.pair("rated")?;
    Some(Lamp {
        between: fields.ends()?,
        watts,
        volts,
    })
}

/// `[variable_transformer.VT1]`
pub(crate) fn variable_transformer(fields: &Fields<'_>) -> Option<VariableTransformer> {
    let why = "resistance of the variable transformer not given; 0.5 Ω .. 3 Ω, common practice, no source";
    Some(VariableTransformer {
        from: fields.text("from").unwrap_or("inlet.live").to_owned(),
        into: fields.text("into")?.to_owned(),
        ret: fields.text("return").unwrap_or("inlet.neutral").to_owned(),
        setting: fields.figure("setting")?,
        resistance: or_default(fields, "resistance", default_range(0.5, 1.5, 3.0, why))?,
    })
}

/// The figure of a key, or a default where the job leaves it out.
pub(crate) fn or_default<U: quietrail_units::Unit>(
    fields: &Fields<'_>,
    key: &str,
    default: Figure<U>,
) -> Option<Figure<U>> {
    if fields.has(key) {
        fields.figure(key)
    } else {
        Some(default)
    }
}

/// Pad and grease between a case and its sink.
pub(crate) fn case_to_sink(fields: &Fields<'_>) -> Option<Figure<KelvinsPerWatt>> {
    or_default(
        fields,
        "case_to_sink",
        default_range(
            0.0,
            0.5,
            1.5,
            "pad or grease not given; 0 K/W .. 1.5 K/W, common practice, no source",
        ),
    )
}

#[cfg(test)]
mod tests {
    use super::share_of_crest;

    #[test]
    fn crest_and_share_belong_together() {
        assert_eq!(share_of_crest(1.414), 0.0);
        for a in [0.0_f64, 0.01, 0.025, 0.05, 0.1, 1.0 / 9.0] {
            let crest = std::f64::consts::SQRT_2 * (1.0 - a) / (1.0 + a * a).sqrt();
            assert!((share_of_crest(crest) - a).abs() < 1e-12, "{a}");
        }
    }
}
