//! A level as people write it: `20 mV p-p`, `16 nV/√Hz`, `-120 dBc`.

use super::Level;
use crate::level::Statistic;
use quietrail_units::{Decibels, Quantity, Ratio, Unit, Volts, VoltsPerRootHertz};

/// 0 dBu is a milliwatt in 600 Ω, √0.6 V (from memory): in dBV ten times the logarithm of 0.6.
const DBU: f64 = -2.218_487_496_163_564;

/// Why a text is no level.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotALevel {
    /// A level in decibels that does not say against what.
    NoReference(String),
    /// It has a tolerance, and one value is wanted.
    Range(String),
    /// A number alone, too large to be meant as a share.
    NoUnit(String),
    /// Zero or less where only more makes sense.
    NotPositive(String),
    /// The sentence of the reader of quantities.
    Unreadable(String),
}

/// What may stand behind volts, and what it says.
const STATISTICS: [(&str, Statistic); 9] = [
    ("p-p", Statistic::PeakToPeak),
    ("pp", Statistic::PeakToPeak),
    ("pk-pk", Statistic::PeakToPeak),
    ("peak to peak", Statistic::PeakToPeak),
    ("peak-to-peak", Statistic::PeakToPeak),
    ("peak", Statistic::Peak),
    ("pk", Statistic::Peak),
    ("rms", Statistic::Rms),
    ("r.m.s.", Statistic::Rms),
];

/// Numbers without a unit from here on are no shares.
const LARGEST_BARE_SHARE: f64 = 1e-3;

/// Reads a level.
///
/// # Errors
/// What is wrong with the text.
pub fn read(text: &str) -> Result<Level, NotALevel> {
    let text = text.trim().replace('\u{2212}', "-");
    let lower = text.to_lowercase();
    for (suffix, statistic) in STATISTICS {
        if lower.ends_with(suffix) {
            // The suffixes are plain letters, so the cut is between characters.
            let volts = text.get(..text.len() - suffix.len()).unwrap_or_default();
            let volts = volts.trim_end().trim_end_matches(',');
            return Ok(Level::Volts(statistic, positive::<Volts>(volts)?));
        }
    }
    let ends = |suffix: &str| lower.ends_with(suffix);
    let decibels = |suffix: &str| {
        let number = text.get(..text.len() - suffix.len()).unwrap_or_default();
        exact::<Decibels>(&format!("{} dB", number.trim()))
    };
    if ends("dbc/hz") {
        return Ok(Level::DbcPerHertz(decibels("dbc/hz")?));
    }
    if ends("dbm") {
        return Ok(Level::Dbm(decibels("dbm")?));
    }
    if ends("dbv") {
        return Ok(Level::Dbv(decibels("dbv")?));
    }
    if ends("dbuv") || ends("db\u{b5}v") || ends("db\u{3bc}v") {
        let cut = if ends("dbuv") { "dbuv" } else { "db\u{b5}v" };
        return Ok(Level::Dbv(decibels(cut)? - 120.0));
    }
    if ends("dbmv") {
        return Ok(Level::Dbv(decibels("dbmv")? - 60.0));
    }
    if ends("dbu") {
        return Ok(Level::Dbv(decibels("dbu")? + DBU));
    }
    if ends("dbc") {
        return Ok(Level::Dbc(decibels("dbc")?));
    }
    if ends("db") {
        return Err(NotALevel::NoReference(text));
    }
    if lower.contains("hz") {
        return Ok(Level::Density(positive::<VoltsPerRootHertz>(&text)?));
    }
    let is_share = ["ppb", "ppm", "%"].iter().any(|unit| ends(unit));
    // `5e-10` is a share without a unit; of `20` the unit was forgotten.
    let bare = text.parse::<f64>().ok();
    if bare.is_some_and(|number| number.abs() >= LARGEST_BARE_SHARE) {
        return Err(NotALevel::NoUnit(text));
    }
    if is_share || bare.is_some() {
        return Ok(Level::Fraction(positive::<Ratio>(&text)?));
    }
    Ok(Level::Unsaid(positive::<Volts>(&text)?))
}

fn exact<U: Unit>(text: &str) -> Result<f64, NotALevel> {
    let quantity = Quantity::<U>::parse(text.trim())
        .map_err(|error| NotALevel::Unreadable(error.to_string()))?;
    if quantity.low < quantity.high {
        return Err(NotALevel::Range(text.to_owned()));
    }
    Ok(quantity.nominal)
}

fn positive<U: Unit>(text: &str) -> Result<f64, NotALevel> {
    let value = exact::<U>(text)?;
    if value > 0.0 {
        Ok(value)
    } else {
        Err(NotALevel::NotPositive(text.trim().to_owned()))
    }
}
