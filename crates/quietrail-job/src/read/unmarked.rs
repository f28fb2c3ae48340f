//! `[unmarked.T1]`: the readings of a transformer that is not known yet, and what cannot be in them.

use super::derived::{copper_max, default_exact, default_range};
use super::fields::Fields;
use super::mains::or_default;
use super::quantity;
use crate::fault::{Fault, Faults};
use crate::model::Figure;
use crate::model::unmarked::{
    Core, DirectLoad, Drive, ExistingReading, HotRun, InsulationReading, Leads, LoadedReading,
    MeterErrors, NoLoadReading, OhmsReading, Reading, ShortTest, TestBridge, TestLoad, Unmarked,
    VoltsReading,
};
use crate::nearest::nearest;
use crate::written::{Shape, Value};
use quietrail_units::{
    Amperes, Celsius, Farads, Kind, Ohms, Ratio, Unit, VoltAmperes, Volts, Watts,
};

/// Iron and screen take part in insulation readings like leads.
const NOT_LEADS: [&str; 2] = ["core", "screen"];
/// Digits by which a reading may differ from the next one where the job does not say.
const DIGITS: f64 = 2.0;
/// The same as a share, where the last digit cannot be told.
const SHARE: f64 = 0.005;
/// Off-load volts over volts on the driven leads beyond which something was misread: small mains transformers
/// go from a heater winding of a volt to a few kilovolts. Common practice, no source.
const MOST_RATIO: f64 = 50.0;
/// The least.
const LEAST_RATIO: f64 = 0.002;

/// `[unmarked.T1]`
pub(crate) fn unmarked(name: &str, fields: &Fields<'_>, faults: &mut Faults) -> Option<Unmarked> {
    let leads: Vec<String> = fields
        .names("leads")
        .iter()
        .map(|(lead, _)| (*lead).to_owned())
        .collect();
    check_names(fields, &leads, faults);
    let primary: Vec<String> = fields
        .names("primary")
        .iter()
        .map(|(lead, _)| (*lead).to_owned())
        .collect();
    if !primary.is_empty() && !fields.has("primary_because") {
        let fault = Fault::MissingKey {
            owner: fields.owner.clone(),
            key: "primary_because",
            says: "Ohms alone do not tell a primary; write what does.",
        };
        faults.at(fields.place_of("primary"), &fault);
    }
    let null: Figure<Ohms> = or_default(
        fields,
        "null",
        default_range(
            0.0,
            0.15,
            0.3,
            "resistance of the test leads not given; 0 Ω .. 0.3 Ω, common practice, no source",
        ),
    )?;
    // All lists are read before any `?`: one run reports everything.
    let core = fields.inner("core").map(|core| core_of(&core, faults));
    let ohms = list(fields, "ohms", |item| ohms(item, null.value.low, faults));
    let volts = list(fields, "volts", |item| volts(item, faults));
    let loaded = list(fields, "loaded", |item| loaded(item, faults));
    let existing = list(fields, "existing", |item| existing(item, faults));
    let hot = fields.inner("hot").map(|hot| hot_run(&hot, faults));
    if let (Some(volts), Some(loaded)) = (&volts, &loaded) {
        check_above_off_load(volts, loaded, faults);
    }
    let whole = |of: Option<Option<_>>| match of {
        Some(None) => None,
        Some(read) => Some(read),
        None => Some(None),
    };
    Some(Unmarked {
        name: name.to_owned(),
        span: fields.place.span.clone(),
        primary,
        primary_because: fields.words("primary_because"),
        marked: match fields.has("marked") {
            true => Some(fields.pair("marked")?),
            false => None,
        },
        core: match core {
            Some(core) => core?,
            None => None,
        },
        copper_max: copper_max(fields),
        is_aluminium: fields.text("metal") == Some("aluminium"),
        copper: or_default(
            fields,
            "copper",
            default_range(
                15.0,
                20.0,
                25.0,
                "temperature of the copper at the readings not given; 15 °C .. 25 °C stands in",
            ),
        )?,
        frequency: fields.figure("frequency"),
        errors: errors(fields)?,
        ohms: ohms?,
        volts: volts?,
        shorted: list(fields, "shorted", |item| {
            Some(ShortTest {
                drive: drive(item)?,
                short: ends(item, "short")?,
                amps: reading::<Amperes>(item, "amps")?,
                watts: optional::<Watts>(item, "watts")?,
            })
        })?,
        no_load: list(fields, "no_load", |item| {
            Some(NoLoadReading {
                drive: drive(item)?,
                amps: reading::<Amperes>(item, "amps")?,
                watts: optional::<Watts>(item, "watts")?,
            })
        })?,
        loaded: loaded?,
        existing: existing?,
        hot: whole(hot)?,
        insulation: list(fields, "insulation", |item| {
            Some(InsulationReading {
                between: ends(item, "between")?,
                reads: reading::<Ohms>(item, "reads")?,
                at: item.figure("at")?,
                damp: item.text("air").map(|air| air == "damp"),
            })
        })?,
        day: match fields.items("day") {
            Some(items) => items
                .iter()
                .map(super::fields::figure)
                .collect::<Option<_>>()?,
            None => Vec::new(),
        },
        leads,
        null,
    })
}

fn list<'a, T>(
    fields: &Fields<'a>,
    key: &str,
    mut one: impl FnMut(&Fields<'a>) -> Option<T>,
) -> Option<Vec<T>> {
    let all: Vec<Option<T>> = fields.tables(key).iter().map(&mut one).collect();
    all.into_iter().collect()
}

/// Every lead that is named anywhere is one of the leads.
fn check_names(fields: &Fields<'_>, leads: &[String], faults: &mut Faults) {
    for (index, (lead, value)) in fields.names("leads").into_iter().enumerate() {
        if leads[..index].iter().any(|other| other == lead) {
            let fault = Fault::DuplicateName {
                name: lead.to_owned(),
                first: "lead",
            };
            faults.of(value, &fault);
        }
    }
    let mut check = |value: &Value, extra: &[&str]| {
        let Some(lead) = value.text() else { return };
        if leads.iter().any(|known| known == lead) || extra.contains(&lead) {
            return;
        }
        let known = leads
            .iter()
            .map(String::as_str)
            .chain(extra.iter().copied());
        let fault = Fault::UnknownLead {
            name: lead.to_owned(),
            nearest: nearest(lead, known),
        };
        faults.of(value, &fault);
    };
    for (_, value) in fields.names("primary") {
        check(value, &[]);
    }
    let mut tables = Vec::new();
    for key in [
        "ohms",
        "volts",
        "shorted",
        "no_load",
        "loaded",
        "existing",
        "insulation",
    ] {
        let extra: &[&str] = if key == "insulation" { &NOT_LEADS } else { &[] };
        tables.extend(fields.tables(key).into_iter().map(|table| (table, extra)));
    }
    tables.extend(fields.inner("hot").map(|table| (table, &[][..])));
    for (table, extra) in tables {
        for key in ["between", "driven", "across", "short"] {
            let items = table.value(key).and_then(Value::list).unwrap_or_default();
            items.iter().for_each(|lead| check(lead, extra));
        }
        for pair in table
            .value("joined")
            .and_then(Value::list)
            .unwrap_or_default()
        {
            let items = pair.list().unwrap_or_default();
            items.iter().for_each(|lead| check(lead, extra));
        }
    }
}

fn errors(fields: &Fields<'_>) -> Option<MeterErrors> {
    let inner = fields.inner("errors");
    let of = |key: &str, share: f64, why: &'static str| match &inner {
        Some(inner) if inner.has(key) => inner.figure::<Ratio>(key),
        _ => Some(default_exact(share, why)),
    };
    Some(MeterErrors {
        ohms: of(
            "ohms",
            0.01,
            "error of the ohmmeter not given; 1 %, common practice, no source",
        )?,
        volts: of(
            "volts",
            0.015,
            "error of the AC voltmeter not given; 1.5 %, common practice, no source",
        )?,
        amps: of(
            "amps",
            0.02,
            "error of the AC ammeter not given; 2 %, common practice, no source",
        )?,
        watts: of(
            "watts",
            0.03,
            "error of the wattmeter not given; 3 %, common practice, no source",
        )?,
    })
}

fn core_of(core: &Fields<'_>, faults: &mut Faults) -> Option<Option<Core>> {
    let mut needs = |key: &'static str, says: &'static str| {
        if !core.has(key) {
            let fault = Fault::MissingKey {
                owner: core.owner.clone(),
                key,
                says,
            };
            faults.at(core.place.clone(), &fault);
        }
    };
    if core.has("tongue") || core.has("stack") {
        needs("tongue", "Width of the middle limb.");
        needs("stack", "Thickness of the stack.");
        return Some(Some(Core::Laminations {
            tongue: core.figure("tongue")?,
            stack: core.figure("stack")?,
            weight: core.figure("weight"),
        }));
    }
    if !core.has("outer") {
        needs(
            "outer",
            "A toroid's outer diameter, or tongue and stack of laminations.",
        );
        return Some(None);
    }
    Some(Some(Core::Toroid {
        outer: core.figure("outer")?,
        inner: core.figure("inner"),
        height: core.figure("height"),
        weight: core.figure("weight"),
    }))
}

fn ohms(item: &Fields<'_>, null: f64, faults: &mut Faults) -> Option<OhmsReading> {
    let reads = match item.text("reads") {
        Some("open") => None,
        _ => Some(reading::<Ohms>(item, "reads")?),
    };
    if let Some(reads) = &reads
        && reads.value > 0.0
        && reads.value + reads.half <= null
    {
        let fault = Fault::NulledAway {
            found: reads.text.clone(),
            null: quietrail_units::format_si(null, "Ω", 3),
        };
        faults.at(item.place_of("reads"), &fault);
    }
    Some(OhmsReading {
        between: ends(item, "between")?,
        reads,
        span: item.place.span.clone(),
    })
}

fn drive(item: &Fields<'_>) -> Option<Drive> {
    let joined = match item.items("joined") {
        Some(items) => items.iter().map(pair_of).collect::<Option<_>>()?,
        None => Vec::new(),
    };
    Some(Drive {
        driven: ends(item, "driven")?,
        at: reading::<Volts>(item, "at")?,
        joined,
    })
}

fn volts(item: &Fields<'_>, faults: &mut Faults) -> Option<VoltsReading> {
    let found = VoltsReading {
        drive: drive(item)?,
        across: ends(item, "across")?,
        reads: reading::<Volts>(item, "reads")?,
    };
    let ratio = found.reads.value / found.drive.at.value;
    // Two windings that oppose each other read nothing, or nearly.
    let opposed = !found.drive.joined.is_empty() && ratio < LEAST_RATIO;
    if !opposed && !(LEAST_RATIO..=MOST_RATIO).contains(&ratio) {
        let fault = Fault::Ratio {
            reads: found.reads.text.clone(),
            at: found.drive.at.text.clone(),
        };
        faults.at(item.place_of("reads"), &fault);
    }
    Some(found)
}

fn loaded(item: &Fields<'_>, faults: &mut Faults) -> Option<LoadedReading> {
    let load = if item.has("rectified") {
        let mut missing = false;
        for (key, says) in [("reservoir", "The reservoir capacitor behind the rectifier.")] {
            if !item.has(key) {
                missing = true;
                let owner = item.owner.clone();
                faults.at(item.place.clone(), &Fault::MissingKey { owner, key, says });
            }
        }
        if !item.has("ohms") && !item.has("amps") {
            missing = true;
            let fault = Fault::MissingOneOf {
                owner: item.owner.clone(),
                keys: vec!["ohms", "amps"],
            };
            faults.at(item.place.clone(), &fault);
        }
        if missing {
            return None;
        }
        TestLoad::Bridge(Box::new(TestBridge {
            reservoir: item.figure::<Farads>("reservoir")?,
            drop: or_default(
                item,
                "drop",
                default_range(
                    0.75,
                    0.875,
                    1.0,
                    "drop of the diodes not given; 0.75 V .. 1 V each, common practice, no source",
                ),
            )?,
            load: if item.has("ohms") {
                DirectLoad::Ohms(reading::<Ohms>(item, "ohms")?)
            } else {
                DirectLoad::Amperes(reading::<Amperes>(item, "amps")?)
            },
        }))
    } else {
        if !item.has("ohms") {
            let fault = Fault::MissingKey {
                owner: item.owner.clone(),
                key: "ohms",
                says: "The load resistor.",
            };
            faults.at(item.place.clone(), &fault);
            return None;
        }
        TestLoad::Resistor(reading::<Ohms>(item, "ohms")?)
    };
    Some(LoadedReading {
        drive: drive(item)?,
        across: ends(item, "across")?,
        load,
        reads: reading::<Volts>(item, "reads")?,
        warmer: or_default(
            item,
            "warmer",
            default_range(
                0.0,
                10.0,
                20.0,
                "how much warmer the copper was under load not given; 0 K .. 20 K, common practice, no source",
            ),
        )?,
    })
}

fn existing(item: &Fields<'_>, faults: &mut Faults) -> Option<ExistingReading> {
    let found = ExistingReading {
        drive: drive(item)?,
        across: ends(item, "across")?,
        unplugged: reading::<Volts>(item, "unplugged")?,
        plugged: reading::<Volts>(item, "plugged")?,
    };
    let (off, on) = (&found.unplugged, &found.plugged);
    if on.value - on.half > off.value + off.half {
        let fault = Fault::AboveOffLoad {
            loaded: on.text.clone(),
            off_load: off.text.clone(),
        };
        faults.at(item.place_of("plugged"), &fault);
    }
    Some(found)
}

fn hot_run(hot: &Fields<'_>, faults: &mut Faults) -> Option<HotRun> {
    let cold = reading::<Ohms>(hot, "cold")?;
    let mut after: Vec<(Reading, f64)> = Vec::new();
    for item in hot.items("after")? {
        let words = item.text()?;
        let (ohms, seconds) = quantity::at(words)?;
        let (low, nominal, high) = quantity::interval(Kind::Ohms, ohms.text).ok()?;
        let time = quantity::interval(Kind::Seconds, seconds.text).ok()?.1;
        let read = Reading {
            text: ohms.text.to_owned(),
            ..read_of((low, nominal, high), ohms.text, item)
        };
        if after.last().is_some_and(|(_, before)| time <= *before) {
            faults.of(item, &Fault::NotRising { key: "after" });
        }
        if read.value + read.half < cold.value - cold.half {
            let fault = Fault::HotBelowCold {
                hot: read.text.clone(),
                cold: cold.text.clone(),
            };
            faults.of(item, &fault);
        }
        after.push((read, time));
    }
    let found = HotRun {
        between: ends(hot, "between")?,
        cold,
        cold_at: hot.figure::<Celsius>("cold_at")?,
        after,
        room: hot.figure::<Celsius>("room")?,
        copper_loss: optional::<Watts>(hot, "copper_loss")?,
        core_loss: optional::<Watts>(hot, "core_loss")?,
        carried: optional::<VoltAmperes>(hot, "carried")?,
        span: hot.place.span.clone(),
    };
    if found.after.is_empty() {
        let fault = Fault::MissingKey {
            owner: hot.owner.clone(),
            key: "after",
            says: "At least one resistance after switching off, with its time.",
        };
        faults.at(hot.place_of("after"), &fault);
        return None;
    }
    Some(found)
}

/// A loaded reading above the off-load one of the same leads, per volt of the source.
fn check_above_off_load(volts: &[VoltsReading], loaded: &[LoadedReading], faults: &mut Faults) {
    for loaded in loaded {
        // A reservoir charges to the crest, not further.
        let most = match loaded.load {
            TestLoad::Resistor(_) => 1.0,
            TestLoad::Bridge(_) => std::f64::consts::SQRT_2,
        };
        let same = |open: &&VoltsReading| {
            open.across == loaded.across
                && open.drive.driven == loaded.drive.driven
                && open.drive.joined == loaded.drive.joined
        };
        let Some(open) = volts.iter().find(same) else {
            continue;
        };
        // The meter is the same, so that only chance separates the two.
        let low = (loaded.reads.value - loaded.reads.half)
            / (loaded.drive.at.value + loaded.drive.at.half);
        let high = most * (open.reads.value + open.reads.half)
            / (open.drive.at.value - open.drive.at.half);
        if low > high {
            let fault = Fault::AboveOffLoad {
                loaded: loaded.reads.text.clone(),
                off_load: open.reads.text.clone(),
            };
            faults.job_also(
                loaded.reads.span.clone(),
                &fault,
                vec![(open.reads.span.clone(), "off load".to_owned())],
            );
        }
    }
}

fn ends(item: &Fields<'_>, key: &str) -> Option<Leads> {
    pair_of(item.value(key)?)
}

fn pair_of(value: &Value) -> Option<Leads> {
    let [first, second] = value.list()? else {
        return None;
    };
    Some((first.text()?.to_owned(), second.text()?.to_owned()))
}

/// A reading that may be absent: `None` outside only where it cannot be read.
fn optional<U: Unit>(item: &Fields<'_>, key: &str) -> Option<Option<Reading>> {
    if item.has(key) {
        reading::<U>(item, key).map(Some)
    } else {
        Some(None)
    }
}

fn reading<U: Unit>(item: &Fields<'_>, key: &str) -> Option<Reading> {
    let value = item.value(key)?;
    let figure = item.figure::<U>(key)?;
    let words = match &value.shape {
        Shape::Text(words) | Shape::Number(words) => words.as_str(),
        _ => "",
    };
    let quantity = &figure.value;
    Some(read_of(
        (quantity.low, quantity.nominal, quantity.high),
        words,
        value,
    ))
}

fn read_of((low, nominal, high): (f64, f64, f64), words: &str, value: &Value) -> Reading {
    let is_given = high > low;
    let half = if is_given {
        0.5 * (high - low)
    } else {
        last_digit(words, nominal).map_or(SHARE * nominal.abs(), |digit| DIGITS * digit)
    };
    Reading {
        value: if is_given {
            0.5 * (low + high)
        } else {
            nominal
        },
        half,
        is_given,
        text: words.to_owned(),
        span: value.job_span(),
    }
}

/// What one of the last digit of a text such as `8.40 V` is worth: `nominal` is what the text reads as. `None` where the
/// number cannot be told from its text.
fn last_digit(words: &str, nominal: f64) -> Option<f64> {
    let number: String = words
        .trim_start()
        .chars()
        .take_while(|c| c.is_ascii_digit() || *c == '.' || *c == ',')
        .collect();
    let number = number.replace(',', ".");
    // 4k7, 0R47: the letter stands in the number.
    let rest = words.trim_start().get(number.len()..)?;
    if rest.chars().nth(1).is_some_and(|c| c.is_ascii_digit()) {
        return None;
    }
    let mantissa: f64 = number.parse().ok()?;
    let decimals = number.split_once('.').map_or(0, |(_, after)| after.len());
    if mantissa <= 0.0 {
        return None;
    }
    let scale = nominal / mantissa;
    Some(scale / 10_f64.powi(i32::try_from(decimals).ok()?))
}

#[cfg(test)]
mod tests {
    use super::last_digit;

    #[test]
    fn the_last_digit_is_worth_what_it_says() {
        for (words, nominal, worth) in [
            ("8.40 V", 8.4, 0.01),
            ("22 mA", 0.022, 0.001),
            ("43.5 Ω", 43.5, 0.1),
            ("1,5 V", 1.5, 0.1),
            ("230", 230.0, 1.0),
        ] {
            let found = last_digit(words, nominal).expect("a number");
            assert!((found / worth - 1.0).abs() < 1e-12, "{words}: {found}");
        }
        assert_eq!(last_digit("4k7", 4700.0), None);
    }
}
