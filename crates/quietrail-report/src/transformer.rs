//! An unmarked transformer as text, as data, and as the table that goes into the job.

use quietrail_study::transformer::{
    Doubt, Known, Narrows, Next, Ranged, ReadingKind, Widest, WindingKnown,
};
use serde_json::{Value, json};

use crate::json::FORMAT;
use crate::lines::{indented, table};
use crate::verdicts::{printable, wrapped};
use crate::words::transformer as words;
use crate::{Style, number};

/// The answer for a terminal; `text` is the job's, for line numbers.
pub fn text(known: &Known, job: &str, style: Style) -> String {
    let columns = style.columns();
    let mut out = vec![words::heading(&known.name, known.mains.0, known.mains.1)];
    let ((from, to), links) = (&known.driven.0, &known.driven.1);
    let links: Vec<String> = links.iter().map(|(a, b)| format!("{a} and {b}")).collect();
    let driven = words::driven(
        &format!("{from} - {to}"),
        &links.join(", "),
        known.copper,
        !known.primary_because.is_empty(),
    );
    out.extend(wrapped(&driven, columns));
    let primaries: Vec<&str> = known
        .windings
        .iter()
        .filter(|winding| winding.is_primary)
        .map(|winding| winding.name.as_str())
        .collect();
    if !known.primary_because.is_empty() {
        let said = words::primary(&primaries.join(", "), &known.primary_because);
        out.extend(wrapped(&printable(&said), columns));
    }
    out.push(String::new());
    out.push(words::WINDINGS.to_owned());
    out.extend(windings(known));
    out.extend(wrapped(&turns(known), columns));
    out.extend(warm(known).iter().flat_map(|said| wrapped(said, columns)));
    out.push(String::new());
    if let Some(amps) = &known.no_load {
        let watts = known.no_load_watts.as_ref().map(|watts| ranged(watts, "W"));
        out.extend(wrapped(
            &words::no_load(&ranged(amps, "A"), watts.as_deref()),
            columns,
        ));
    }
    for ((a, b), amps) in &known.existing {
        out.extend(wrapped(
            &words::existing(&format!("{a} - {b}"), &ranged(amps, "A")),
            columns,
        ));
    }
    for said in iron(known) {
        out.extend(wrapped(&said, columns));
    }
    for rule in &known.core_rules {
        let volt_amperes = number::si(rule.volt_amperes, "VA", 2);
        out.extend(wrapped(
            &words::rule(rule.by, &volt_amperes, rule.hertz),
            columns,
        ));
    }
    match &known.hot {
        None => out.push(words::NO_HOT_RUN.to_owned()),
        Some(hot) => {
            out.push(words::HOT.to_owned());
            let mut say = |line: &str| out.extend(indented(line, columns));
            say(&words::rise(
                &ranged(&hot.rise, "K"),
                hot.copper,
                hot.is_led_back,
            ));
            if let Some(seconds) = hot.cooling {
                say(&words::cooling(seconds));
            }
            if let Some(to_air) = &hot.to_air {
                say(&words::to_air(&ranged(to_air, "K/W")));
            }
            match (&hot.volt_amperes, hot.limits) {
                (Some(range), Some((most, air))) => {
                    say(&words::volt_amperes(&ranged(range, "VA"), most, air));
                }
                _ => say(words::NO_VOLT_AMPERES),
            }
            if let Some(in_box) = &hot.in_box {
                say(&words::in_box(in_box));
            }
            if hot.is_aluminium {
                say(words::ALUMINIUM);
            }
        }
    }
    for said in regulation(known) {
        out.extend(wrapped(&said, columns));
    }
    out.push(String::new());
    if !known.narrowed.is_empty() {
        out.push(words::READ.to_owned());
        for step in &known.narrowed {
            out.push(words::narrowed(
                words::kind(step.kind),
                step.count,
                &words::share(&step.open),
                &words::share(&step.source),
                &words::share(&step.leakage),
            ));
        }
        out.push(String::new());
    }
    if !known.doubts.is_empty() {
        out.push(words::DOUBTS.to_owned());
        for doubt in &known.doubts {
            let said = words::doubt(doubt, &|at| line_of(job, at));
            out.extend(indented(&printable(&said), columns));
        }
        out.push(String::new());
    }
    match &known.next {
        Some(next) => {
            out.push(words::NEXT.to_owned());
            out.extend(indented(&next_words(next), columns));
        }
        None => match first_unread(known) {
            Some(how) => {
                out.push(words::NEXT.to_owned());
                out.extend(indented(&printable(&how), columns));
            }
            None => out.push(words::NO_NEXT.to_owned()),
        },
    }
    let still = still(known);
    if !still.is_empty() {
        out.push(words::STILL.to_owned());
        for how in still {
            out.extend(indented(how, columns));
        }
    }
    out.push(String::new());
    if !known.defaults.is_empty() {
        out.push(words::ASSUMED.to_owned());
        for why in &known.defaults {
            out.extend(indented(why, columns));
        }
        out.push(String::new());
    }
    out.extend(wrapped(words::CAUTION, columns));
    out.push(String::new());
    number::spaced(&out.join("\n"))
}

/// Turns of all windings, those of the first of the mains side being 1.
pub fn turns(known: &Known) -> String {
    let all: Vec<String> = known
        .windings
        .iter()
        .filter(|winding| winding.turns.is_told)
        .map(|winding| {
            let half = 0.5 * (winding.turns.high - winding.turns.low);
            if half < 1e-9 {
                return format!("{} {:.0}", winding.name, winding.turns.value);
            }
            let decimals = (1.0 - half.log10().floor()).clamp(0.0, 8.0) as usize;
            let value = winding.turns.value;
            format!("{} {value:.decimals$} ±{half:.decimals$}", winding.name)
        })
        .collect();
    words::turns(&all.join(", "))
}

/// How much more all copper has at its class, where that is known.
pub fn warm(known: &Known) -> Option<String> {
    let (most, _) = known.hot.as_ref()?.limits?;
    let factor = quietrail_study::lower::copper_resistance(most)
        / quietrail_study::lower::copper_resistance(known.copper);
    Some(words::warm(most, factor))
}

/// What is known of the core, the mains over a day and the insulation, a sentence each.
pub fn iron(known: &Known) -> Vec<String> {
    let iron = &known.iron;
    let mut all = Vec::new();
    all.extend(iron.curve.as_ref().map(words::curve));
    all.extend(
        iron.flux
            .as_ref()
            .map(|flux| words::flux(flux, known.mains.1)),
    );
    all.extend(iron.day.as_ref().map(words::day));
    all.extend(
        iron.insulation
            .iter()
            .map(|one| words::insulation(one, &number::si(one.ohms, "Ω", 3))),
    );
    if iron.is_ring_unweighed {
        all.push(words::RING_UNWEIGHED.to_owned());
    }
    all
}

/// How far each secondary falls under the volt-amperes that are known.
pub fn regulation(known: &Known) -> Vec<String> {
    let secondaries = known.windings.iter().filter(|winding| !winding.is_primary);
    let is_alone = secondaries.count() == 1;
    known
        .regulation
        .iter()
        .map(|one| {
            let percent = Ranged {
                value: 100.0 * one.share.value,
                low: 100.0 * one.share.low,
                high: 100.0 * one.share.high,
                is_told: true,
            };
            words::regulation(
                &one.winding,
                &number::si(one.volt_amperes, "VA", 2),
                one.by,
                &number::si(one.amps, "A", 2),
                &ranged(&one.volts, "V"),
                &ranged(&percent, "%"),
                is_alone,
            )
        })
        .collect()
}

fn still(known: &Known) -> Vec<&'static str> {
    let is_read = |kind: ReadingKind| known.reads.contains(&kind);
    words::ORDER
        .iter()
        .filter(|(kind, _)| !is_read(*kind))
        .map(|(_, how)| *how)
        .collect()
}

/// What to read next where no margin says so: leads that were read to nothing, else the first kind in order that is missing.
/// `None` where every kind was read.
pub fn first_unread(known: &Known) -> Option<String> {
    let alone: Vec<&str> = known
        .doubts
        .iter()
        .filter_map(|doubt| match doubt {
            Doubt::Alone {
                lead,
                is_open: false,
            } => Some(lead.as_str()),
            _ => None,
        })
        .collect();
    if !alone.is_empty() {
        return Some(words::read_alone(&alone.join(", ")));
    }
    Some(words::in_order(still(known).first()?))
}

/// The next reading, and what it narrows.
pub fn next_words(next: &Next) -> String {
    let pair = |(a, b): &(String, String)| format!("{a} - {b}");
    let expect = number::si(next.expect.0, next.expect.1, 3);
    let first = words::next(
        next.kind,
        &pair(&next.leads),
        &pair(&next.driven),
        next.volts,
        &expect,
    );
    let what = match &next.narrows {
        Narrows::UnderLoad { winding, amperes } => {
            words::under_load(winding, &number::si(*amperes, "A", 2))
        }
        Narrows::Margin { limit, state, .. } => words::margin_of(limit, state),
    };
    let unit = match &next.narrows {
        Narrows::UnderLoad { .. } => "V",
        Narrows::Margin { unit, .. } => unit,
    };
    let narrows = words::narrows(
        &what,
        &number::si(next.before, unit, 2),
        &number::si(next.after, unit, 2),
    );
    format!("{first} {narrows}")
}

/// Number of the line of a place, counted from 1.
pub fn line_of(job: &str, at: usize) -> usize {
    job.as_bytes()
        .iter()
        .take(at)
        .filter(|byte| **byte == b'\n')
        .count()
        + 1
}

fn windings(known: &Known) -> Vec<String> {
    let mut rows = vec![words::HEAD.map(str::to_owned)];
    for winding in &known.windings {
        let mut leads = winding.leads[0].clone();
        for (lead, share) in &winding.taps {
            leads.push_str(&format!(" - {lead} ({:.1} %)", 100.0 * share.value));
        }
        leads.push_str(&format!(" - {}", winding.leads[winding.leads.len() - 1]));
        let told = |range: Option<&Ranged>, unit: &str| match range {
            Some(range) => ranged(range, unit),
            None => String::new(),
        };
        rows.push([
            words::winding(&winding.name, known.is_mains(winding)),
            printable(&leads),
            told(Some(&winding.ohms), "Ω"),
            told(Some(&winding.open), "V"),
            told(winding.source.as_ref(), "Ω"),
            told(winding.leakage.as_ref(), "H"),
        ]);
    }
    table(&rows)
}

/// `8.291 V ±22 mV`, or both ends where they are not as far: as many digits as the range leaves.
pub fn ranged(range: &Ranged, unit: &str) -> String {
    if !range.is_told {
        return words::NOT_SHOWN.to_owned();
    }
    if range.low == range.high {
        return number::si(range.value, unit, 4);
    }
    let digits = digits(range);
    let (down, up) = (range.value - range.low, range.high - range.value);
    if (up - down).abs() < 0.1 * (up + down) {
        return with_half(range.value, 0.5 * (up + down), unit, digits);
    }
    format!(
        "{} ({} .. {})",
        number::si(range.value, unit, digits),
        number::si(range.low, unit, digits),
        number::si(range.high, unit, digits)
    )
}

/// `21.30 ±0.12 Ω`: both under one prefix.
fn with_half(value: f64, half: f64, unit: &str, digits: usize) -> String {
    let text = number::si(value, unit, digits);
    let Some((mantissa, symbol)) = text.split_once(number::NO_BREAK) else {
        return text;
    };
    let plain = mantissa.replace(number::MINUS, "-");
    let decimals = plain.split_once('.').map_or(0, |(_, after)| after.len());
    match plain.parse::<f64>() {
        Ok(of) if of != 0.0 => {
            let half = (half * of / value).abs();
            format!("{mantissa} ±{half:.decimals$} {symbol}")
        }
        _ => text,
    }
}

/// Digits in which the ends of a range differ, and one more.
fn digits(range: &Ranged) -> usize {
    let share = 0.5 * (range.high - range.low) / range.value.abs().max(1e-300);
    let mut digits = 2;
    let mut worth = 0.1;
    while digits < 6 && worth > 1.5 * share {
        worth /= 10.0;
        digits += 1;
    }
    digits
}

/// The answer as data: SI units, temperatures in °C.
pub fn to_json(title: &str, known: &[Known], job: &str) -> Value {
    json!({
        "format": FORMAT,
        "job": title,
        "transformers": known.iter().map(|one| one_json(one, job)).collect::<Vec<_>>(),
    })
}

fn widest(of: &Widest) -> Value {
    json!({ "half_range": of.half_share, "told": of.told, "of": of.of })
}

fn range_json(range: &Ranged) -> Value {
    if !range.is_told {
        return Value::Null;
    }
    json!({ "value": range.value, "low": range.low, "high": range.high })
}

fn one_json(known: &Known, job: &str) -> Value {
    let range = |of: &Option<Ranged>| of.as_ref().map_or(Value::Null, range_json);
    let winding = |winding: &WindingKnown| {
        json!({
            "name": winding.name,
            "leads": winding.leads,
            "primary": known.is_mains(winding),
            "reference": winding.is_primary,
            "sense_read": winding.is_sense_told,
            "resistance": range_json(&winding.ohms),
            "open": range_json(&winding.open),
            "turns": range_json(&winding.turns),
            "source_resistance": range(&winding.source),
            "leakage": range(&winding.leakage),
            "taps": winding.taps.iter().map(|(lead, share)| json!({ "lead": lead, "share": range_json(share) }))
                .collect::<Vec<_>>(),
        })
    };
    let doubt = |doubt: &Doubt| {
        json!({
            "what": words::doubt_key(doubt),
            "words": number::spaced(&words::doubt(doubt, &|at| line_of(job, at))),
        })
    };
    json!({
        "name": known.name,
        "mains": known.mains.0,
        "frequency": known.mains.1,
        "driven": [known.driven.0.0, known.driven.0.1],
        "joined": known.driven.1.iter().map(|(a, b)| json!([a, b])).collect::<Vec<_>>(),
        "copper": known.copper,
        "primary_because": known.primary_because,
        "windings": known.windings.iter().map(winding).collect::<Vec<_>>(),
        "no_load": range(&known.no_load),
        "no_load_watts": range(&known.no_load_watts),
        "existing": known.existing.iter().map(|((a, b), amps)| json!({ "leads": [a, b], "draws": range_json(amps) }))
            .collect::<Vec<_>>(),
        "core_rules": known.core_rules.iter().map(|rule| json!({ "volt_amperes": rule.volt_amperes, "frequency": rule.hertz }))
            .collect::<Vec<_>>(),
        "hot": known.hot.as_ref().map_or(Value::Null, |hot| json!({
            "rise": range_json(&hot.rise),
            "copper": hot.copper,
            "led_back": hot.is_led_back,
            "time_constant": hot.cooling,
            "to_air": range(&hot.to_air),
            "volt_amperes": range(&hot.volt_amperes),
            "copper_heat_at_most": hot.copper_most.map(|(watts, _)| watts),
            "class": hot.limits.map(|(most, _)| most),
            "in_box": hot.in_box.map(|in_box| json!({
                "copper": in_box.copper, "below_class": in_box.below,
                "life_by_8_k": in_box.life.0, "life_by_10_k": in_box.life.1,
            })),
            "metal": if hot.is_aluminium { "aluminium" } else { "copper" },
        })),
        "regulation": known.regulation.iter().map(|one| json!({
            "winding": one.winding, "volt_amperes": one.volt_amperes, "amps": one.amps,
            "by": words::by_key(one.by), "loaded": range_json(&one.volts), "regulation": range_json(&one.share),
        })).collect::<Vec<_>>(),
        "flux": known.iron.flux.map(|flux| json!({
            "nominal": flux.nominal, "highest": flux.highest, "permitted": flux.permitted,
        })),
        "day": known.iron.day.map(|day| json!({
            "low": day.low, "high": day.high, "count": day.count, "low_share": day.shares.0, "high_share": day.shares.1,
            "flux": day.flux,
        })),
        "no_load_curve": known.iron.curve.map(|curve| json!({
            "points": curve.points, "power": curve.power, "volts": curve.volts, "volt_amperes": curve.volt_amperes,
            "share_of_core": curve.share, "power_factor": curve.power_factor, "pattern": words::pattern_key(curve.pattern),
        })),
        "insulation": known.iron.insulation.iter().map(|one| json!({
            "between": [one.between.0, one.between.1], "ohms": one.ohms, "volts": one.volts,
            "advice": one.advice.map(words::advice_key),
        })).collect::<Vec<_>>(),
        "narrowed": known.narrowed.iter().map(|step| json!({
            "reading": words::key(step.kind),
            "count": step.count,
            "open": widest(&step.open),
            "source_resistance": widest(&step.source),
            "leakage": widest(&step.leakage),
        })).collect::<Vec<_>>(),
        "doubts": known.doubts.iter().map(doubt).collect::<Vec<_>>(),
        "next": known.next.as_ref().map_or(Value::Null, |next| json!({
            "reading": words::key(next.kind),
            "leads": [next.leads.0, next.leads.1],
            "driven": [next.driven.0, next.driven.1],
            "volts": next.volts,
            "expect": next.expect.0,
            "unit": next.expect.1,
            "before": next.before,
            "after": next.after,
            "words": number::spaced(&next_words(next)),
        })),
        "assumptions": known.defaults,
    })
}

/// What goes into the job: the whole table where there is none yet, and each figure by its address where there is.
pub struct Kept {
    /// `[transformer.T1]` and its keys.
    pub table: String,
    /// Address and value of each figure.
    pub values: Vec<(String, String)>,
}

/// The model as a table of the job.
///
/// # Errors
/// What is lacking, in words.
pub fn kept(known: &Known) -> Result<Kept, String> {
    use words::not_kept;
    if known.primary_because.is_empty() {
        return Err(not_kept::NO_PRIMARY.to_owned());
    }
    if known
        .doubts
        .iter()
        .any(|doubt| matches!(doubt, Doubt::Contradiction { .. }))
    {
        return Err(not_kept::CONTRADICTION.to_owned());
    }
    let name = &known.name;
    let volts = number::written(known.mains.0, "V");
    let in_full = |range: &Ranged, unit: &str| {
        let digits = digits(range) + 1;
        let mut low = number::si(range.low, unit, digits);
        // A range that begins at nothing needs its unit all the same.
        if range.low <= 0.0 {
            low = format!("0 {unit}");
        }
        let text = format!(
            "{} ({low} .. {})",
            number::si(range.value, unit, digits),
            number::si(range.high, unit, digits)
        );
        number::spaced(&text)
    };
    let (mut primaries, mut secondaries, mut values) = (Vec::new(), Vec::new(), Vec::new());
    let mut names = Vec::new();
    for winding in &known.windings {
        if !winding.ohms.is_told {
            return Err(not_kept::untold(&winding.name, "the resistance"));
        }
        if !winding.open.is_told {
            return Err(not_kept::untold(&winding.name, "the off-load volts"));
        }
        let of = &winding.name;
        let ohms = in_full(&winding.ohms, "Ω");
        values.push((format!("{name}.{of}.resistance"), ohms.clone()));
        if winding.is_primary {
            names.push(of.clone());
            let own = number::spaced(&number::si(winding.open.value, "V", 4));
            primaries.push(format!(
                "{{ name = \"{of}\", volts = \"{own}\", resistance = \"{ohms}\" }}"
            ));
            continue;
        }
        let open = in_full(&winding.open, "V");
        let mut text =
            format!("{{ name = \"{of}\", open = \"{open} at {volts}\", resistance = \"{ohms}\"");
        values.push((format!("{name}.{of}.open"), open));
        values.push((format!("{name}.{of}.at_primary"), volts.clone()));
        if let Some(leakage) = winding
            .leakage
            .as_ref()
            .filter(|leakage| leakage.is_told && leakage.high > 0.0)
        {
            let leakage = in_full(leakage, "H");
            text.push_str(&format!(", leakage = \"{leakage}\""));
            values.push((format!("{name}.{of}.leakage"), leakage));
        }
        if !winding.taps.is_empty() {
            let taps: Vec<String> = winding
                .taps
                .iter()
                .map(|(lead, share)| format!("{} = \"{:.4}\"", key_of(lead), share.value))
                .collect();
            text.push_str(&format!(", taps = {{ {} }}", taps.join(", ")));
        }
        text.push_str(&format!(" }},   # {}", winding.leads.join(" - ")));
        secondaries.push(text);
    }
    let join = match (names.as_slice(), known.driven.1.len()) {
        ([only], 0) => only.clone(),
        ([one, other], links @ (1 | 2)) => {
            if let Some(open) = known
                .windings
                .iter()
                .find(|winding| winding.is_primary && !winding.is_sense_told)
            {
                return Err(not_kept::sense(&open.name));
            }
            format!("{one} {} {other}", if links == 1 { "+" } else { "|" })
        }
        _ => return Err(not_kept::JOIN.to_owned()),
    };
    let mut table = format!("\n# {}\n[transformer.{name}]\n", words::kept_comment(name));
    table.push_str(&format!(
        "read_at = \"{}\"\n",
        number::spaced(&number::written(known.copper, "°C"))
    ));
    table.push_str(&format!(
        "primary = [\n    {},\n]\n",
        primaries.join(",\n    ")
    ));
    if names.len() > 1 {
        table.push_str(&format!(
            "selector = {{ \"{}\" = \"{join}\" }}\n",
            number::spaced(&volts)
        ));
        table.push_str(&format!("selected = \"{}\"\n", number::spaced(&volts)));
    }
    table.push_str(&format!(
        "secondary = [\n    {}\n]\n",
        secondaries.join("\n    ")
    ));
    if let Some(amps) = known.no_load.as_ref().filter(|amps| amps.is_told) {
        let amps = in_full(amps, "A");
        table.push_str(&format!(
            "no_load = \"{amps} at {}\"\n",
            number::spaced(&volts)
        ));
        values.push((format!("{name}.no_load"), amps));
        values.push((format!("{name}.no_load_at"), volts));
    }
    let existing: Vec<String> = known
        .existing
        .iter()
        .filter(|(_, amps)| amps.is_told)
        .filter_map(|((a, b), amps)| {
            let winding = known
                .windings
                .iter()
                .find(|winding| winding.leads.contains(a) && winding.leads.contains(b))?;
            Some(format!(
                "{{ of = \"{}\", draws = \"{}\" }}",
                winding.name,
                in_full(amps, "A")
            ))
        })
        .collect();
    if !existing.is_empty() {
        table.push_str(&format!("existing = [{}]\n", existing.join(", ")));
    }
    if let Some(to_air) = known.hot.as_ref().and_then(|hot| hot.to_air.as_ref()) {
        let to_air = in_full(to_air, "K/W");
        table.push_str(&format!("to_air = \"{to_air}\"\n"));
        values.push((format!("{name}.to_air"), to_air));
    }
    Ok(Kept {
        table: number::spaced(&table),
        values: values
            .into_iter()
            .map(|(address, value)| (address, number::spaced(&value)))
            .collect(),
    })
}

/// A lead as a bare key where it can be one.
fn key_of(lead: &str) -> String {
    let is_bare = !lead.is_empty()
        && lead
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_');
    if is_bare {
        lead.to_owned()
    } else {
        format!("\"{}\"", lead.replace('\\', "\\\\").replace('"', "\\\""))
    }
}
