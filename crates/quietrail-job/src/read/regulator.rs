//! `[regulator.U1]`

use super::derived::{default_exact, default_range, quotient};
use super::fields::Fields;
use super::mains::or_default;
use super::part::rising;
use crate::fault::{Entry as Missing, Fault, Faults};
use crate::model::{Figure, Regulator, RegulatorRatings, SetPoint};
use quietrail_units::{Amperes, Decibels, Hertz, Ohms, Ratio, Volts};

/// Time constant that stands in for the loop of a regulator, in seconds. Common practice, no source: data
/// sheets give none, so studies move it tenfold to see whether it matters.
const LOOP_TIME: f64 = 20e-6;

/// `[regulator.U1]`
pub(crate) fn regulator(fields: &Fields<'_>, faults: &mut Faults) -> Option<Regulator> {
    let set = fields.inner("set").and_then(|set| set_point(&set, faults));
    let rated = ratings(fields);
    let limit = limit(fields, &rated, faults);
    let dropout = dropout(fields, faults);
    let rejection = rejection(fields, faults);
    let set = set?;
    let none = "not given; none assumed";
    Some(Regulator {
        from: fields.text("from")?.to_owned(),
        into: fields.text("into")?.to_owned(),
        ret: fields.text("return").unwrap_or("common").to_owned(),
        output_resistance: output_resistance(fields, &set)?,
        set,
        dropout: dropout?,
        rejection: rejection?,
        quiescent: or_default(
            fields,
            "quiescent",
            default_range(
                0.0,
                0.005,
                0.01,
                "quiescent current not given; 0 A .. 10 mA, common practice, no source",
            ),
        )?,
        minimum_load: or_default(fields, "minimum_load", default_exact(0.0, none))?,
        limit: limit?,
        loop_time: or_default(
            fields,
            "loop_time",
            default_exact(
                LOOP_TIME,
                "data sheets give no loop dynamics; 20 µs stands in",
            ),
        )?,
        junction_to_case: fields.figure("junction_to_case"),
        case_to_sink: or_default(
            fields,
            "case_to_sink",
            default_range(
                0.0,
                0.5,
                1.5,
                "pad or grease not given; 0 K/W .. 1.5 K/W, common practice, no source",
            ),
        )?,
        junction_to_air: fields.figure("junction_to_air"),
        sink: fields.text("sink").map(str::to_owned),
        rated,
        span: fields.job_span("from"),
    })
}

fn set_point(set: &Fields<'_>, faults: &mut Faults) -> Option<SetPoint> {
    if set.has("fixed") {
        return Some(SetPoint::Fixed(set.figure("fixed")?));
    }
    if set.has("trimmer") {
        require(set, &["to"], faults);
        return Some(SetPoint::Trimmed {
            to: set.figure("to")?,
            trimmer: set.figure("trimmer")?,
        });
    }
    if !set.has("upper") && !set.has("lower") {
        let keys = vec!["fixed", "upper", "trimmer"];
        faults.at(
            set.place.clone(),
            &Fault::MissingOneOf {
                owner: set.owner.clone(),
                keys,
            },
        );
        return None;
    }
    require(set, &["upper", "lower", "reference", "across"], faults);
    let reference = set.figure("reference");
    let (upper, lower) = (set.figure("upper"), set.figure("lower"));
    match set.text("across")? {
        "upper" => Some(SetPoint::AcrossUpper {
            reference: reference?,
            upper: upper?,
            lower: lower?,
            adjust: or_default(
                set,
                "adjust",
                default_exact(0.0, "adjust current not given; none assumed"),
            )?,
        }),
        "lower" => Some(SetPoint::AcrossLower {
            reference: reference?,
            upper: upper?,
            lower: lower?,
        }),
        _ => None,
    }
}

/// Reports those of the keys that are not there.
fn require(set: &Fields<'_>, keys: &[&'static str], faults: &mut Faults) {
    for &key in keys {
        if set.has(key) {
            continue;
        }
        let says = set.keys.key(key).map_or("", |key| key.says);
        let fault = Fault::MissingFigure {
            owner: set.owner.clone(),
            key,
            says,
            entry: Missing::None,
        };
        faults.at(set.place.clone(), &fault);
    }
}

fn dropout(
    fields: &Fields<'_>,
    faults: &mut Faults,
) -> Option<Vec<(Figure<Amperes>, Figure<Volts>)>> {
    let points = fields.points::<Volts, Amperes>("dropout")?;
    one_at_least(fields, "dropout", points.len(), faults)?;
    rising(
        "dropout",
        points
            .iter()
            .map(|(_, amperes, at)| (amperes.nominal(), *at)),
        faults,
    );
    Some(
        points
            .into_iter()
            .map(|(volts, amperes, _)| (amperes, volts))
            .collect(),
    )
}

fn rejection(
    fields: &Fields<'_>,
    faults: &mut Faults,
) -> Option<Vec<(Figure<Hertz>, Figure<Decibels>)>> {
    let points = fields.points::<Decibels, Hertz>("rejection")?;
    one_at_least(fields, "rejection", points.len(), faults)?;
    rising(
        "rejection",
        points.iter().map(|(_, hertz, at)| (hertz.nominal(), *at)),
        faults,
    );
    Some(
        points
            .into_iter()
            .map(|(decibels, hertz, _)| (hertz, decibels))
            .collect(),
    )
}

fn one_at_least(
    fields: &Fields<'_>,
    key: &'static str,
    count: usize,
    faults: &mut Faults,
) -> Option<()> {
    if count > 0 {
        return Some(());
    }
    let says = fields.keys.key(key).map_or("", |key| key.says);
    let owner = fields.owner.clone();
    faults.at(
        fields.place_of(key),
        &Fault::MissingFigure {
            owner,
            key,
            says,
            entry: Missing::None,
        },
    );
    None
}

/// Given, or from the fall of the output over a change of load.
fn output_resistance(fields: &Fields<'_>, set: &SetPoint) -> Option<Figure<Ohms>> {
    if !fields.has("load_regulation") {
        let why = "output resistance not given; 0 Ω .. 50 mΩ, common practice, no source";
        return or_default(
            fields,
            "output_resistance",
            default_range(0.0, 0.02, 0.05, why),
        );
    }
    if let Some((volts, amperes)) = fields.figure_at::<Volts, Amperes>("load_regulation") {
        return Some(quotient(1.0, &volts, &amperes));
    }
    let (share, amperes) = fields.figure_at::<Ratio, Amperes>("load_regulation")?;
    Some(quotient(output_volts(set), &share, &amperes))
}

/// Nominal output voltage.
fn output_volts(set: &SetPoint) -> f64 {
    match set {
        SetPoint::Fixed(volts) | SetPoint::Trimmed { to: volts, .. } => volts.nominal(),
        SetPoint::AcrossUpper {
            reference,
            upper,
            lower,
            adjust,
        } => {
            reference.nominal() * (1.0 + lower.nominal() / upper.nominal())
                + adjust.nominal() * lower.nominal()
        }
        SetPoint::AcrossLower {
            reference,
            upper,
            lower,
        } => reference.nominal() * (1.0 + upper.nominal() / lower.nominal()),
    }
}

/// Given, or 1 to 2 times the rated current; with neither it is missing.
fn limit(
    fields: &Fields<'_>,
    rated: &RegulatorRatings,
    faults: &mut Faults,
) -> Option<Figure<Amperes>> {
    if fields.has("limit") {
        return fields.figure("limit");
    }
    if let Some(current) = &rated.current {
        let amperes = current.nominal();
        let why =
            "current limit not given; 1 to 2 times the rated current, common practice, no source";
        return Some(default_range(amperes, 1.5 * amperes, 2.0 * amperes, why));
    }
    let already_faulty = fields
        .inner("rated")
        .is_some_and(|rated| rated.has("current"));
    if !already_faulty {
        let fault = Fault::MissingFigure {
            owner: fields.owner.clone(),
            key: "limit",
            says: "Current limit; the rated current, which would give a range, is left out too.",
            entry: fields.entry(),
        };
        faults.at(fields.place.clone(), &fault);
    }
    None
}

fn ratings(fields: &Fields<'_>) -> RegulatorRatings {
    let Some(rated) = fields.inner("rated") else {
        return RegulatorRatings::default();
    };
    RegulatorRatings {
        input: rated.figure("input"),
        differential: rated.figure("differential"),
        current: rated.figure("current"),
        junction: rated.figure("junction"),
    }
}
