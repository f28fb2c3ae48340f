//! `[transformer.T1]`: windings, selector and joins.

use super::derived::{default_exact, default_range};
use super::fields::Fields;
use super::mains::or_default;
use crate::fault::{Entry as Missing, Fault, Faults};
use crate::join;
use crate::model::{
    Existing, Figure, Join, JoinTerm, Plate, Primary, Secondary, Selector, Tap, Transformer,
};
use crate::nearest::nearest;
use crate::plate;
use crate::written::{Entry, Value};
use quietrail_units::{Amperes, Quantity, Ratio, Volts};

/// How far the name of a selector position may be from the region's voltage and still mean it.
/// Covers 220 V, 230 V and 240 V of one another; common practice, no source.
const SAME_MAINS: f64 = 0.1;

/// Apparent power of a small mains transformer off load, in volt-amperes: lowest, nominal, highest.
/// Common practice, no source.
const NO_LOAD: (f64, f64, f64) = (2.0, 5.0, 10.0);

/// `[transformer.T1]`; `region_volts` picks the selector position and the default of the no-load current.
pub(crate) fn transformer(
    fields: &Fields<'_>,
    region_volts: Option<f64>,
    faults: &mut Faults,
) -> Option<Transformer> {
    let primaries = fields.tables("primary");
    let names: Vec<&str> = primaries
        .iter()
        .filter_map(|winding| winding.text("name"))
        .collect();
    let selector = selector(fields, &names, region_volts, faults);
    let secondary_names: Vec<String> = fields
        .tables("secondary")
        .iter()
        .map(|winding| winding.words("name"))
        .collect();
    let joins = joins(fields, "joins", &secondary_names, faults);
    let existing = existing(fields, &secondary_names, faults);

    let secondaries = fields.tables("secondary");
    let has_plates =
        !secondaries.is_empty() && secondaries.iter().all(|winding| winding.has("plate"));
    let primary: Option<Vec<Primary>> = primaries
        .iter()
        .map(|winding| primary(winding, has_plates, faults))
        .collect::<Vec<_>>()
        .into_iter()
        .collect();
    let (selector, primary) = (selector?, primary?);
    let at_primary = rated_volts(&selector, &primary)?;
    let secondary: Option<Vec<Secondary>> = secondaries
        .iter()
        .map(|winding| secondary(winding, at_primary, faults))
        .collect::<Vec<_>>()
        .into_iter()
        .collect();

    let mut transformer = Transformer {
        primary,
        selector,
        secondary: secondary?,
        joins: joins?,
        no_load: no_load(fields, region_volts.unwrap_or(at_primary))?,
        existing: existing?,
        read_at: or_default(
            fields,
            "read_at",
            default_exact(
                20.0,
                "temperature of the copper at the readings not given; 20 °C stands in",
            ),
        )?,
        to_air: fields.figure("to_air"),
        rise: or_default(
            fields,
            "rise",
            default_range(
                0.0,
                30.0,
                60.0,
                "rise of the copper not given; 0 K .. 60 K, common practice, no source",
            ),
        )?,
        copper_max: super::derived::copper_max(fields),
        watts_max: fields.figure("watts_max"),
        weight: fields.figure("weight"),
        secondary_share: or_default(fields, "secondary_share", plate::secondary_share())?,
    };
    transformer.follow_plates();
    Some(transformer)
}

fn no_load(fields: &Fields<'_>, volts: f64) -> Option<(Figure<Amperes>, Figure<Volts>)> {
    if fields.has("no_load") {
        return fields.figure_at("no_load");
    }
    let why = "no-load current not given; 2 VA .. 10 VA, common practice, no source";
    let (low, nominal, high) = NO_LOAD;
    let amperes = default_range(low / volts, nominal / volts, high / volts, why);
    Some((amperes, default_exact(volts, why)))
}

fn primary(winding: &Fields<'_>, has_plates: bool, faults: &mut Faults) -> Option<Primary> {
    let is_measured = winding.has("resistance");
    let resistance = if is_measured {
        winding.figure("resistance")
    } else if has_plates {
        Some(plate::to_follow())
    } else {
        missing(
            winding,
            "resistance",
            "Copper resistance of this winding; it may be left out where every secondary has its `plate`.",
            faults,
        );
        None
    };
    Some(Primary {
        name: winding.text("name")?.to_owned(),
        volts: winding.figure("volts")?,
        resistance: resistance?,
        is_of_plates: !is_measured,
        reversed: false,
    })
}

fn secondary(winding: &Fields<'_>, rated_primary: f64, faults: &mut Faults) -> Option<Secondary> {
    let (plate, open, at_primary) = if winding.has("plate") {
        let plate = plate_of(winding)?;
        let at_primary = default_exact(rated_primary, plate::AT_PRIMARY);
        let open = plate.open();
        (Some(plate), open, at_primary)
    } else {
        let (open, at_primary) = winding.figure_at("open")?;
        (None, open, at_primary)
    };
    let is_measured = winding.has("resistance");
    let resistance = if is_measured {
        winding.figure("resistance")
    } else if plate.is_some() {
        Some(plate::to_follow())
    } else {
        missing(
            winding,
            "resistance",
            "Copper resistance of this winding.",
            faults,
        );
        None
    };
    let none = "leakage inductance not given; none assumed";
    let rated = winding.figure("rated");
    Some(Secondary {
        name: winding.text("name")?.to_owned(),
        open,
        at_primary,
        resistance: resistance?,
        is_of_plates: !is_measured,
        leakage: or_default(winding, "leakage", default_exact(0.0, none))?,
        taps: taps(winding)?,
        rated: rated.or_else(|| plate.as_ref().map(|plate| plate.amperes.clone())),
        plate,
        reversed: false,
    })
}

/// The plate of a winding, if it can be read.
fn plate_of(winding: &Fields<'_>) -> Option<Plate> {
    let (volts, amperes) = winding.pair("plate")?;
    let why =
        "regulation not given; 8 % .. 25 % of small mains transformers, common practice, no source";
    Some(Plate {
        volts,
        amperes,
        regulation: or_default(winding, "regulation", default_range(0.08, 0.15, 0.25, why))?,
    })
}

/// The taps, from start to finish.
fn taps(winding: &Fields<'_>) -> Option<Vec<Tap>> {
    let tap = |entry: &Entry| {
        let share = super::fields::figure::<Ratio>(&entry.value)?;
        Some(Tap {
            name: entry.key.clone(),
            share,
        })
    };
    let mut taps = winding
        .named("taps")
        .iter()
        .map(tap)
        .collect::<Option<Vec<_>>>()?;
    taps.sort_by(|one, other| one.share.nominal().total_cmp(&other.share.nominal()));
    Some(taps)
}

fn missing(fields: &Fields<'_>, key: &'static str, says: &'static str, faults: &mut Faults) {
    let fault = Fault::MissingFigure {
        owner: fields.owner.clone(),
        key,
        says,
        entry: Missing::None,
    };
    faults.at(fields.place.clone(), &fault);
}

/// The selector. Where there is one primary and nothing to select, its one position bears its name.
fn selector(
    fields: &Fields<'_>,
    windings: &[&str],
    region_volts: Option<f64>,
    faults: &mut Faults,
) -> Option<Selector> {
    if !fields.has("selector") {
        let [only] = windings else {
            if windings.len() > 1 {
                let says = "With several primaries it says how they are joined: { \"230 V\" = \"P1 + P2\" }.";
                let fault = Fault::MissingKey {
                    owner: fields.owner.clone(),
                    key: "selector",
                    says,
                };
                faults.at(fields.place.clone(), &fault);
            }
            return None;
        };
        let term = JoinTerm::Winding {
            name: (*only).to_owned(),
            reversed: false,
        };
        let join = Join {
            name: "primary".to_owned(),
            term,
            span: fields.job_span("primary"),
        };
        return Some(Selector {
            at: (*only).to_owned(),
            positions: vec![((*only).to_owned(), join)],
        });
    }
    let windings: Vec<String> = windings.iter().map(|name| (*name).to_owned()).collect();
    let joins = joins(fields, "selector", &windings, faults)?;
    let positions: Vec<(String, Join)> = joins
        .into_iter()
        .map(|join| {
            (
                join.name.clone(),
                Join {
                    name: "primary".to_owned(),
                    ..join
                },
            )
        })
        .collect();
    let at = position(fields, &positions, region_volts, faults)?;
    Some(Selector { at, positions })
}

fn position(
    fields: &Fields<'_>,
    positions: &[(String, Join)],
    region_volts: Option<f64>,
    faults: &mut Faults,
) -> Option<String> {
    let offered = || {
        positions
            .iter()
            .map(|(name, _)| name.clone())
            .collect::<Vec<_>>()
    };
    if fields.has("selected") {
        let asked = fields.text("selected")?;
        if positions.iter().any(|(name, _)| name == asked) {
            return Some(asked.to_owned());
        }
        let near = nearest(asked, positions.iter().map(|(name, _)| name.as_str()));
        let fault = Fault::Position {
            asked: Some(asked.to_owned()),
            offered: offered(),
            nearest: near,
        };
        faults.at(fields.place_of("selected"), &fault);
        return None;
    }
    if let [(only, _)] = positions {
        return Some(only.clone());
    }
    let distance = |name: &str| {
        let volts = Quantity::<Volts>::parse(name).ok()?.nominal;
        Some((volts / region_volts? - 1.0).abs())
    };
    let fitting = positions
        .iter()
        .filter_map(|(name, _)| distance(name).map(|distance| (distance, name)))
        .filter(|(distance, _)| *distance <= SAME_MAINS)
        .min_by(|(a, _), (b, _)| a.total_cmp(b));
    if let Some((_, name)) = fitting {
        return Some(name.clone());
    }
    if region_volts.is_some() {
        let fault = Fault::Position {
            asked: None,
            offered: offered(),
            nearest: None,
        };
        faults.at(fields.place_of("selector"), &fault);
    }
    None
}

/// The joins under a key, each winding checked against the known ones.
fn joins(
    fields: &Fields<'_>,
    key: &str,
    windings: &[String],
    faults: &mut Faults,
) -> Option<Vec<Join>> {
    let mut whole = true;
    let mut joins = Vec::new();
    for entry in fields.named(key) {
        match join_of(entry, fields, windings, faults) {
            Some(join) => joins.push(join),
            None => whole = false,
        }
    }
    whole.then_some(joins)
}

fn join_of(
    entry: &Entry,
    fields: &Fields<'_>,
    windings: &[String],
    faults: &mut Faults,
) -> Option<Join> {
    let value = &entry.value;
    let (term, named) = match join::read(value.text()?) {
        Ok(read) => read,
        Err(error) => {
            faults.at(
                value.place_inside(&error.at),
                &Fault::JoinText { said: error.said },
            );
            return None;
        }
    };
    let unknown: Vec<_> = named
        .iter()
        .filter(|(name, _)| !windings.contains(name))
        .collect();
    for (name, at) in &unknown {
        let fault = unknown_winding(name, fields, windings);
        faults.at(value.place_inside(at), &fault);
    }
    unknown.is_empty().then(|| Join {
        name: entry.key.clone(),
        term,
        span: value.job_span(),
    })
}

fn unknown_winding(name: &str, fields: &Fields<'_>, windings: &[String]) -> Fault {
    Fault::UnknownWinding {
        name: name.to_owned(),
        transformer: fields.owner.clone(),
        nearest: nearest(name, windings.iter().map(String::as_str)),
    }
}

fn existing(
    fields: &Fields<'_>,
    secondaries: &[String],
    faults: &mut Faults,
) -> Option<Vec<Existing>> {
    let mut known = secondaries.to_vec();
    known.extend(fields.named("joins").iter().map(|entry| entry.key.clone()));
    fields
        .tables("existing")
        .iter()
        .map(|load| {
            let of = load.text("of")?;
            if !known.iter().any(|name| name == of) {
                let at = load
                    .value("of")
                    .map_or_else(|| load.place.clone(), Value::place);
                faults.at(at, &unknown_winding(of, fields, &known));
                return None;
            }
            Some(Existing {
                of: of.to_owned(),
                draws: load.figure("draws")?,
            })
        })
        .collect::<Vec<_>>()
        .into_iter()
        .collect()
}

/// Voltage that the join in use was wound for: the sum in series, the mean side by side.
fn rated_volts(selector: &Selector, primary: &[Primary]) -> Option<f64> {
    let (_, join) = selector
        .positions
        .iter()
        .find(|(name, _)| *name == selector.at)?;
    Some(term_volts(&join.term, primary).abs())
}

fn term_volts(term: &JoinTerm, primary: &[Primary]) -> f64 {
    match term {
        JoinTerm::Winding { name, reversed } => {
            let volts = primary.iter().find(|winding| winding.name == *name);
            let volts = volts.map_or(0.0, |winding| winding.volts.nominal());
            if *reversed { -volts } else { volts }
        }
        JoinTerm::Series(terms) => terms.iter().map(|term| term_volts(term, primary)).sum(),
        JoinTerm::Parallel(terms) => {
            terms
                .iter()
                .map(|term| term_volts(term, primary))
                .sum::<f64>()
                / terms.len() as f64
        }
    }
}
