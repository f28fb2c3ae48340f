//! `[regulator.U1]`

use super::derived::{default_exact, default_range, from, quotient, range};
use super::fields::{Fields, figure};
use super::mains::{case_to_sink, or_default};
use super::noise::noise;
use super::part::rising;
use crate::fault::{Entry as Missing, Fault, Faults};
use crate::model::{Across, Divider, Drift, Figure, Regulator, RegulatorRatings, SetPoint};
use quietrail_units::{Amperes, Decibels, Farads, Hertz, Ohms, Ratio, Volts, format_si};

/// Time constant that stands in for the loop of a regulator, in seconds. Common practice, no source: data
/// sheets give none, so studies move it tenfold to see whether it matters.
const LOOP_TIME: f64 = 20e-6;

const NO_ADJUST: &str = "adjust current not given; none assumed";

/// `[regulator.U1]`
pub(crate) fn regulator(fields: &Fields<'_>, faults: &mut Faults) -> Option<Regulator> {
    let set = fields.inner("set").and_then(|set| set_point(&set, faults));
    let rated = ratings(fields);
    let resistors = limit_resistors(fields);
    let limit = limit(fields, &rated, &resistors, faults);
    let foldback = foldback(fields, faults);
    let noises = (
        noise(fields, "noise", faults),
        noise(fields, "reference_noise", faults),
    );
    let dropout = dropout(fields, faults);
    let rejection = rejection(fields, faults);
    let set = set?;
    let none = "not given; none assumed";
    Some(Regulator {
        from: fields.text("from")?.to_owned(),
        into: fields.text("into")?.to_owned(),
        ret: fields.text("return").unwrap_or("common").to_owned(),
        sense: sense(fields),
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
        foldback: foldback?,
        limit_resistors: resistors,
        loop_time: or_default(
            fields,
            "loop_time",
            default_exact(
                LOOP_TIME,
                "how fast it answers a change of its load; data sheets do not say, 20 µs stands in",
            ),
        )?,
        noise: noises.0?,
        reference_noise: noises.1?,
        drift: drift(fields),
        stable_with: stable_with(fields),
        rang: rang(fields, faults),
        junction_to_case: fields.figure("junction_to_case"),
        case_to_sink: case_to_sink(fields)?,
        junction_to_air: fields.figure("junction_to_air"),
        sink: fields.text("sink").map(str::to_owned),
        rated,
        span: fields.job_span("from"),
    })
}

/// Upper and lower sense lead; a single node stands against the return.
fn sense(fields: &Fields<'_>) -> Option<(String, String)> {
    let ret = fields.text("return").unwrap_or("common");
    if let Some(plus) = fields.text("sense") {
        return Some((plus.to_owned(), ret.to_owned()));
    }
    let [plus, minus] = fields.items("sense")? else {
        return None;
    };
    Some((plus.text()?.to_owned(), minus.text()?.to_owned()))
}

fn set_point(set: &Fields<'_>, faults: &mut Faults) -> Option<SetPoint> {
    if set.has("bypass") && (set.has("fixed") || set.text("across").is_some_and(|at| at != "upper"))
    {
        let fault = Fault::LimitForm {
            key: "bypass",
            found: set.words("bypass"),
            wanted: "an adjust pin to put it on, `across = \"upper\"`,",
        };
        faults.at(set.place_of("bypass"), &fault);
    }
    if set.has("fixed") {
        return Some(SetPoint::Fixed(set.figure("fixed")?));
    }
    if set.has("trimmer") {
        require(set, &["to"], faults);
        return Some(SetPoint::Trimmed {
            to: set.figure("to")?,
            trimmer: set.figure("trimmer")?,
            divider: divider(set, faults)?,
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
            adjust: or_default(set, "adjust", default_exact(0.0, NO_ADJUST))?,
            bypass: set.figure("bypass"),
        }),
        "lower" => Some(SetPoint::AcrossLower {
            reference: reference?,
            upper: upper?,
            lower: lower?,
        }),
        "both" => Some(SetPoint::AcrossBoth {
            reference: reference?,
            upper: upper?,
            lower: lower?,
        }),
        _ => None,
    }
}

/// The divider that a trimmer stands in, if the job gives it; `None` outside where it cannot reach what is asked.
fn divider(set: &Fields<'_>, faults: &mut Faults) -> Option<Option<Box<Divider>>> {
    // What a capacitor on the adjust pin does hangs on the divider.
    if !set.has("upper") && !set.has("lower") && !set.has("bypass") {
        return Some(None);
    }
    require(set, &["upper", "lower", "reference", "across"], faults);
    let across = match set.text("across")? {
        "upper" => Across::Upper,
        "lower" => Across::Lower,
        found => {
            // Any other word is no choice at all, and reported as such.
            if found == "both" {
                let fault = Fault::LimitForm {
                    key: "across",
                    found: found.to_owned(),
                    wanted: "upper or lower, beside a trimmer,",
                };
                faults.at(set.place_of("across"), &fault);
            }
            return None;
        }
    };
    let divider = Divider {
        reference: set.figure("reference")?,
        across,
        upper: set.figure("upper")?,
        lower: set.figure("lower")?,
        adjust: or_default(set, "adjust", default_exact(0.0, NO_ADJUST))?,
        turns: set.figure::<Ratio>("turns").map(|turns| turns.nominal()),
        bypass: set.figure("bypass"),
    };
    let (to, trimmer) = (
        set.figure::<Volts>("to")?.nominal(),
        set.figure::<Ohms>("trimmer")?.nominal(),
    );
    let (bottom, top) = (divider.volts(0.0), divider.volts(trimmer));
    let (low, high) = (bottom.min(top), bottom.max(top));
    if to < low || to > high {
        let fault = Fault::CannotReach {
            to: format_si(to, "V", 4),
            low: format_si(low, "V", 4),
            high: format_si(high, "V", 4),
        };
        faults.at(set.place_of("to"), &fault);
        return None;
    }
    Some(Some(Box::new(divider)))
}

fn drift(fields: &Fields<'_>) -> Drift {
    let Some(set) = fields.inner("set") else {
        return Drift::default();
    };
    Drift {
        reference: set.figure("reference_drift"),
        divider: set.figure("divider_drift"),
        trimmer: set.figure("trimmer_drift"),
    }
}

fn stable_with(fields: &Fields<'_>) -> Vec<(Figure<Farads>, Option<Figure<Ohms>>)> {
    let windows = fields.tables("stable_with");
    windows
        .iter()
        .filter_map(|window| Some((window.figure("least")?, window.figure("esr"))))
        .collect()
}

/// Swings after a step of the load; one alone tells nothing.
fn rang(fields: &Fields<'_>, faults: &mut Faults) -> Vec<Figure<Volts>> {
    let swings: Vec<_> = fields
        .items("rang")
        .unwrap_or_default()
        .iter()
        .filter_map(figure::<Volts>)
        .collect();
    if swings.len() == 1 {
        faults.at(fields.place_of("rang"), &Fault::OneSwing);
    }
    swings
}

/// Points of current over input minus output, rising volts.
fn foldback(
    fields: &Fields<'_>,
    faults: &mut Faults,
) -> Option<Vec<(Figure<Volts>, Figure<Amperes>)>> {
    if !fields.has("foldback") {
        return Some(Vec::new());
    }
    let points = fields.points::<Amperes, Volts>("foldback")?;
    rising(
        "foldback",
        points.iter().map(|(_, volts, at)| (volts.nominal(), *at)),
        faults,
    );
    let up = points.windows(2).find(|pair| {
        let is_in_order = pair[1].1.nominal() > pair[0].1.nominal();
        is_in_order && pair[1].0.nominal() > pair[0].0.nominal()
    });
    if let Some([_, (_, _, at)]) = up {
        faults.of(at, &Fault::FoldsUp);
    }
    Some(
        points
            .into_iter()
            .map(|(amps, volts, _)| (volts, amps))
            .collect(),
    )
}

/// The resistors that sense the current, side by side.
fn limit_resistors(fields: &Fields<'_>) -> Vec<Figure<Ohms>> {
    match fields.items("limit_resistor") {
        Some(items) => items.iter().filter_map(figure::<Ohms>).collect(),
        None => fields.figure("limit_resistor").into_iter().collect(),
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
    if let Some((_, most, at)) = points.last()
        && most.value.low <= 0.0
    {
        let fault = Fault::Bounds {
            key: "dropout".to_owned(),
            found: format_si(most.value.low, "A", 3),
            allowed: "more than zero at the last point: it passes current".to_owned(),
        };
        faults.of(at, &fault);
    }
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
    Some(quotient(set.size(), &share, &amperes))
}

/// Given, or 1 to 2 times the rated current; with neither it is missing.
fn limit(
    fields: &Fields<'_>,
    rated: &RegulatorRatings,
    resistors: &[Figure<Ohms>],
    faults: &mut Faults,
) -> Option<Figure<Amperes>> {
    if !resistors.is_empty() {
        let volts: Figure<Volts> = or_default(
            fields,
            "limit_volts",
            default_range(
                0.6,
                0.65,
                0.7,
                "drop at which the limit acts not given; a base-emitter voltage, common practice, no source",
            ),
        )?;
        return Some(side_by_side(&volts, resistors));
    }
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

/// Current at which a voltage stands across resistors side by side: their tolerances all one way at each end.
fn side_by_side(volts: &Figure<Volts>, resistors: &[Figure<Ohms>]) -> Figure<Amperes> {
    let siemens = |ohms: fn(&Figure<Ohms>) -> f64| -> f64 {
        resistors.iter().map(|one| 1.0 / ohms(one)).sum()
    };
    from(
        &resistors[0],
        range(
            volts.value.low * siemens(|one| one.value.high),
            volts.value.nominal * siemens(|one| one.value.nominal),
            volts.value.high * siemens(|one| one.value.low),
        ),
    )
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
        backwards: rated.figure("backwards"),
    }
}
