//! A level in every unit, as text and as data.

use quietrail_study::level::{Shape, time_outside};
use quietrail_study::translate::{Given, Level, Need, Sensitivity, Translation, Unit, Without};
use serde_json::{Map, Value, json};

use crate::json::FORMAT;
use crate::lines::joined;
use crate::number::{self, NO_BREAK};
use crate::verdicts::{printable, wrapped};
use crate::words::translate as words;
use crate::{Style, words as all_words};

/// Digits of a value.
const DIGITS: usize = 4;

/// A translation for a terminal; `of` names the limit that was translated.
pub fn text(of: Option<&str>, translation: &Translation, style: Style) -> String {
    let given = &translation.given;
    let level = level(translation.level);
    let mut out = vec![match of {
        Some(limit) => format!("{limit}: {level}"),
        None => level,
    }];
    let beside = beside(given);
    if !beside.is_empty() {
        out.extend(wrapped(&beside.join("; "), style.columns()));
    }
    out.push(String::new());
    for row in &translation.rows {
        let value = match &row.value {
            Ok(value) => told(row.unit, *value, given),
            Err(Without::Meaningless) => words::MEANINGLESS.to_owned(),
            Err(Without::Missing(_)) => continue,
        };
        if row.value.is_err() && is_aside(row.unit, translation) {
            continue;
        }
        out.push(format!("  {:<22}{value}", words::unit(row.unit)));
    }
    let missing = missing(translation);
    if !missing.is_empty() {
        out.push(String::new());
        out.push(words::MISSING.to_owned());
        for line in missing {
            let lines = wrapped(&line, style.columns().saturating_sub(4));
            for (index, line) in lines.iter().enumerate() {
                let indent = if index == 0 { "  " } else { "    " };
                out.push(format!("{indent}{line}"));
            }
        }
    }
    let mut notes = Vec::new();
    if let Some(Shape::Noise { crest }) = given.shape {
        notes.push(words::outside(time_outside(crest)));
    }
    if given.shifts.is_some() || given.amplitude.is_some() {
        notes.push(words::FLAT.to_owned());
    }
    if !notes.is_empty() {
        out.push(String::new());
        for note in notes {
            out.extend(wrapped(&note, style.columns()));
        }
    }
    joined(out)
}

/// Units that can be told, each with its value.
pub fn units(translation: &Translation) -> Vec<(&'static str, String)> {
    let rows = translation.rows.iter();
    rows.filter_map(|row| {
        let value = row.value.as_ref().ok()?;
        Some((
            words::unit(row.unit),
            told(row.unit, *value, &translation.given),
        ))
    })
    .collect()
}

/// Units of an oscillator are not spoken of one by one where none is, neither beside the level nor in it.
fn is_aside(unit: Unit, translation: &Translation) -> bool {
    let given = &translation.given;
    let is_its_own = matches!(
        translation.level,
        Level::Dbc(_) | Level::DbcPerHertz(_) | Level::Fraction(_)
    );
    let of_oscillator = matches!(
        unit,
        Unit::Pull | Unit::ThroughFrequency | Unit::ThroughAmplitude | Unit::PhaseNoise
    );
    of_oscillator && !is_its_own && given.shifts.is_none() && given.amplitude.is_none()
}

/// What is missing, units that lack the same together.
fn missing(translation: &Translation) -> Vec<String> {
    let mut groups: Vec<(Vec<Need>, Vec<&'static str>)> = Vec::new();
    for row in &translation.rows {
        let Err(Without::Missing(needs)) = &row.value else {
            continue;
        };
        if is_aside(row.unit, translation) {
            continue;
        }
        let name = words::unit(row.unit);
        match groups.iter_mut().find(|(known, _)| known == needs) {
            Some((_, units)) => units.push(name),
            None => groups.push((needs.clone(), vec![name])),
        }
    }
    let of_oscillator = translation
        .rows
        .iter()
        .any(|row| row.value.is_err() && is_aside(row.unit, translation));
    let mut lines: Vec<String> = groups
        .into_iter()
        .map(|(needs, units)| {
            let needs: Vec<&str> = needs.into_iter().map(words::need).collect();
            words::missing(&units.join(", "), &needs.join("; "))
        })
        .collect();
    if of_oscillator {
        lines.push(words::OSCILLATOR.to_owned());
    }
    lines
}

/// A level as it was given.
fn level(level: Level) -> String {
    let decibels = |value: f64, unit: &str| format!("{}{NO_BREAK}{unit}", signed(value));
    match level {
        Level::Volts(statistic, volts) => format!(
            "{} {}",
            number::written(volts, "V"),
            words::statistic(statistic)
        ),
        Level::Unsaid(volts) => number::written(volts, "V"),
        Level::Density(density) => number::written(density, "V/√Hz"),
        Level::Dbm(value) => decibels(value, "dBm"),
        Level::Dbv(value) => decibels(value, "dBV"),
        Level::Dbc(value) => decibels(value, "dBc"),
        Level::DbcPerHertz(value) => decibels(value, "dBc/Hz"),
        Level::Fraction(share) => ppb(share),
    }
}

/// What is known beside it, in words.
fn beside(given: &Given) -> Vec<String> {
    let mut all = Vec::new();
    if let Some(shape) = given.shape {
        all.push(words::shape(shape));
    }
    if let Some((low, high)) = given.band {
        all.push(words::band(low, high));
    }
    if let Some(ohms) = given.ohms {
        all.push(format!("into {}", number::written(ohms, "Ω")));
    }
    if let Some(hertz) = given.at {
        all.push(format!("at {}", number::written(hertz, "Hz")));
    }
    if let Some(hertz) = given.carrier {
        all.push(format!("carrier {}", number::written(hertz, "Hz")));
    }
    match given.shifts {
        Some(Sensitivity::HertzPerVolt(slope)) => all.push(number::written(slope, "Hz/V")),
        Some(Sensitivity::PerVolt(slope)) => all.push(format!("{}/V", ppb(slope))),
        None => {}
    }
    if let Some(slope) = given.amplitude {
        let percent = number::written(100.0 * slope, "%");
        all.push(format!("amplitude {percent}/V"));
    }
    all
}

fn told(unit: Unit, value: f64, given: &Given) -> String {
    match unit {
        Unit::PeakToPeak | Unit::Peak | Unit::Rms | Unit::AveragingMeter => {
            number::si(value, "V", DIGITS)
        }
        Unit::Density => number::si(value, "V/√Hz", DIGITS),
        Unit::Dbv => format!("{}{NO_BREAK}dBV", decibels(value)),
        Unit::Dbm => {
            let into = given.ohms.map_or_else(String::new, |ohms| {
                format!(" into {}", number::written(ohms, "Ω"))
            });
            format!("{}{NO_BREAK}dBm{into}", decibels(value))
        }
        Unit::Pull => ppb(value),
        Unit::ThroughFrequency | Unit::ThroughAmplitude => {
            format!("{}{NO_BREAK}dBc", decibels(value))
        }
        Unit::PhaseNoise => format!("{}{NO_BREAK}dBc/Hz", decibels(value)),
    }
}

/// A share in parts per billion, or per million where that reads better.
pub fn ppb(share: f64) -> String {
    let parts = share * 1e9;
    if parts.abs() >= 1e4 {
        return format!("{}{NO_BREAK}ppm", significant(parts / 1e3));
    }
    format!("{}{NO_BREAK}ppb", significant(parts))
}

/// Three digits without prefix; powers of ten where that would be long.
fn significant(value: f64) -> String {
    let size = value.abs();
    if size > 0.0 && size < 1e-3 {
        return format!("{value:.2e}").replace('-', "\u{2212}");
    }
    let digits = match size {
        size if size >= 99.95 => 0,
        size if size >= 9.995 => 1,
        size if size >= 0.9995 => 2,
        size if size >= 0.099_95 => 3,
        _ => 4,
    };
    format!("{value:.digits$}").replace('-', "\u{2212}")
}

/// A hundredth of a decibel, true minus.
pub fn decibels(value: f64) -> String {
    format!("{value:.2}").replace('-', "\u{2212}")
}

fn signed(value: f64) -> String {
    // As it was typed, without what a sum of it drags along behind.
    let digits = format!("{value:.4}");
    let text = digits
        .trim_end_matches('0')
        .trim_end_matches('.')
        .replace('-', "\u{2212}");
    if value > 0.0 {
        format!("+{text}")
    } else {
        text
    }
}

/// A translation as data.
pub fn to_json(of: Option<&str>, translation: &Translation) -> Value {
    let mut units = Map::new();
    let mut missing = Map::new();
    for row in &translation.rows {
        let key = words::key(row.unit);
        match &row.value {
            Ok(value) => {
                units.insert(key.to_owned(), json!(value));
            }
            Err(Without::Missing(needs)) => {
                let needs: Vec<&str> = needs.iter().map(|need| words::need_key(*need)).collect();
                missing.insert(key.to_owned(), json!(needs));
            }
            Err(Without::Meaningless) => {}
        }
    }
    let mut all = json!({
        "format": FORMAT,
        "level": number::spaced(&level(translation.level)),
        "known": beside(&translation.given).iter().map(|text| number::spaced(text)).collect::<Vec<_>>(),
        "units": units,
        "missing": missing,
    });
    if let Some(limit) = of {
        all["limit"] = json!(limit);
    }
    all
}

/// It for a terminal.
pub fn headed(heading: &str, style: Style) -> String {
    wrapped(heading, style.columns()).join("\n") + "\n"
}

/// The line that heads the limits of a job.
pub fn heading(title: &str, region: &str) -> String {
    number::spaced(&printable(&all_words::heading(title, region)))
}
