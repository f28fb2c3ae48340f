//! Lines of the spectrum: level, harmonics, spurs, and what the analyser adds of its own.

use super::{Accepted, Line, Why, guard_with};
use crate::decide::Shown;
use crate::gum::{self, Component};
use crate::log::{Observed, Row};
use crate::meter;
use libm::{log10, pow, sqrt};
use quietrail_job::model::{Detector, Function, Instrument, Oscillator, Range, Reads, Spectrum};

/// A reading this far below the analyser's noise was not taken at the setting that it names, dB.
const SLACK: f64 = 3.0;

/// The level: the latest reading that tells one, with its repeats, of an analyser in dBm or of a voltage across a known resistance.
pub(super) fn level(
    (min, max): (Option<f64>, Option<f64>),
    own: &Oscillator,
    rows: &[&Row],
    instruments: &[Instrument],
) -> Accepted {
    let mut found = Accepted::of(Line::Level, min, max);
    let Some(last) = latest_level(rows) else {
        return found;
    };
    let repeats: Vec<&Row> = rows
        .iter()
        .copied()
        .filter(|row| is_repeat(row, last))
        .collect();
    found.rows = repeats.iter().map(|row| row.row).collect();
    let values: Result<Vec<f64>, Why> = repeats.iter().map(|row| level_of(row)).collect();
    let (value, scatter) = match values {
        Ok(values) => gum::mean(&values),
        Err(why) => return found.because(why),
    };
    found.value = Some(value);
    if last.what == Observed::RmsVoltage {
        return match volts_off(own, last, instruments) {
            Ok((bound, loaded)) => {
                let guard = guard_with(bound, scatter);
                found.within(value - guard, value + guard + loaded)
            }
            Err(why) => found.because(why),
        };
    }
    let spectrum = match spectrum(last, instruments) {
        Ok(spectrum) => spectrum,
        Err(why) => return found.because(why),
    };
    let (low, high) = spectrum.band;
    let carrier = own.frequency.nominal();
    if carrier < low || carrier > high {
        return found.because(Why::OutsideBand { low, high });
    }
    // What the display shows, whatever it was read into.
    if let Some(reference) = last.setup.reference.filter(|top| last.value > *top) {
        return found.because(Why::AboveReference { reference });
    }
    match spectrum.level {
        Some(error) => {
            let guard = guard_with(error, scatter);
            found.within(value - guard, value + guard)
        }
        None => found.because(no_figure(last, "spectrum.level")),
    }
}

fn is_level(row: &Row) -> bool {
    matches!(row.what, Observed::Level | Observed::RmsVoltage)
}

/// Whether two rows read the same line the same way.
fn is_repeat(row: &Row, other: &Row) -> bool {
    let (one, two) = (&row.setup, &other.setup);
    row.is_like(other)
        && one.at == two.at
        && one.resolution == two.resolution
        && one.attenuation == two.attenuation
        && one.reference == two.reference
        && one.into == two.into
}

/// The level of the carrier, dBm: the latest that was read.
pub(super) fn carrier_level(rows: &[&Row]) -> Result<f64, Why> {
    level_of(latest_level(rows).ok_or(Why::NoCarrier)?)
}

/// The latest reading of the level that tells one; else the latest. A voltage that lacks what it was read into takes nothing from the
/// readings before it.
fn latest_level<'a>(rows: &[&'a Row]) -> Option<&'a Row> {
    let own = || rows.iter().rev().copied().filter(|row| is_level(row));
    own()
        .find(|row| level_of(row).is_ok())
        .or_else(|| own().next())
}

/// Level into 50 Ω that a row of the level reads, dBm.
fn level_of(row: &Row) -> Result<f64, Why> {
    let (volts, into) = match (row.what, row.setup.into) {
        // An analyser's dBm are those into its input, 50 Ω where nobody says another.
        (Observed::Level, None) => return Ok(row.value),
        (Observed::Level, Some(into)) => (sqrt(into * 1e-3 * pow(10.0, 0.1 * row.value)), into),
        (_, into) => (row.value, into.ok_or(Why::NoSetting("into"))?),
    };
    // A source of 50 Ω gives so much into 50 Ω if it gives that into another resistance.
    let matched = volts * (into + INTO) / (2.0 * into);
    Ok(10.0 * log10(matched * matched / INTO / 1e-3))
}

/// What the level of an oscillator is stated into, and what it comes out of, Ω.
const INTO: f64 = 50.0;

/// How far a voltage may be off, dB, and what the instrument's own input takes off it there.
fn volts_off(own: &Oscillator, row: &Row, instruments: &[Instrument]) -> Result<(f64, f64), Why> {
    let instrument = named(row, instruments)?;
    let function = instrument
        .function(Reads::AcVolts)
        .ok_or_else(|| no_figure(row, "ac"))?;
    let (low, high) = function.band.ok_or_else(|| no_figure(row, "ac.band"))?;
    let carrier = own.frequency.nominal();
    if carrier < low || carrier > high {
        return Err(Why::OutsideBand { low, high });
    }
    let range = range_of(function, row, "ac.ranges")?;
    let share = range.error(row.value) / row.value;
    if share >= 1.0 {
        return Ok((f64::INFINITY, 0.0));
    }
    let into = row.setup.into.ok_or(Why::NoSetting("into"))?;
    let loaded = function.input.as_ref().map_or(0.0, |(_, farads)| {
        -meter::probe_level_db(into * INTO / (into + INTO), farads.nominal(), carrier)
    });
    Ok((-20.0 * log10(1.0 - share), loaded))
}

/// The range that a row was read on: the one that it names, else the smallest that holds it.
pub(super) fn range_of<'a>(
    function: &'a Function,
    row: &Row,
    key: &'static str,
) -> Result<&'a Range, Why> {
    let range = if row.range.is_empty() {
        let ends = function.ranges.iter().map(|range| range.full);
        let all = ends.reduce(f64::max);
        let beyond = || all.map_or_else(|| no_figure(row, key), |end| Why::BeyondRange { end });
        function.range_for(row.value).ok_or_else(beyond)?
    } else {
        let named = function.range_named(&row.range);
        named.ok_or_else(|| no_figure(row, key))?
    };
    if row.value > range.full {
        return Err(Why::BeyondRange { end: range.full });
    }
    Ok(range)
}

/// Other lines: the one that shows least well, a failing one before all.
pub(super) fn spurs(
    own: &Oscillator,
    most: f64,
    rows: &[&Row],
    instruments: &[Instrument],
) -> Accepted {
    let carrier = own.frequency.nominal();
    let read = repeats(rows, Observed::Spur);
    let judged: Vec<Accepted> = read
        .iter()
        .map(|all| {
            beside_carrier(
                line(Line::Spurs, most, all, rows, instruments, None),
                all[0],
                carrier,
            )
        })
        .collect();
    together(judged).unwrap_or_else(|| Accepted::of(Line::Spurs, None, Some(most)))
}

/// Resolution bandwidths from the carrier within which a filter may still show that (common practice, no source: swept filters are 10 to 15
/// times as wide 60 dB down as 3 dB down).
const SKIRT: f64 = 10.0;

/// A line that fails so near to the carrier may be the carrier itself, on the skirt of the analyser's filter.
fn beside_carrier(found: Accepted, row: &Row, carrier: f64) -> Accepted {
    let resolution = row.setup.resolution.unwrap_or_default();
    let away = row
        .setup
        .at
        .map_or(f64::INFINITY, |at| (at - carrier).abs());
    if found.shown == Shown::Fails && away < SKIRT * resolution {
        let resolution = away / SKIRT;
        return found.because(Why::Skirt { resolution });
    }
    found
}

/// Harmonics: second and third at least.
pub(super) fn harmonics(
    own: &Oscillator,
    most: f64,
    rows: &[&Row],
    instruments: &[Instrument],
) -> Accepted {
    let carrier = own.frequency.nominal();
    let read = repeats(rows, Observed::Harmonic);
    let judged: Vec<Accepted> = read
        .iter()
        .map(|all| line(Line::Harmonics, most, all, rows, instruments, Some(carrier)))
        .collect();
    let number = |all: &Vec<&Row>| all[0].setup.at.map(|at| libm::round(at / carrier));
    let has = |n: f64| read.iter().any(|all| number(all) == Some(n));
    let are_both = has(2.0) && has(3.0);
    match together(judged) {
        Some(found) if found.shown == Shown::Holds && !are_both => {
            found.because(Why::SecondAndThird)
        }
        Some(found) => found,
        None => Accepted::of(Line::Harmonics, None, Some(most)),
    }
}

/// Rows of a kind, those together that read the same line the same way.
pub(super) fn repeats<'a>(rows: &[&'a Row], what: Observed) -> Vec<Vec<&'a Row>> {
    let mut all: Vec<Vec<&Row>> = Vec::new();
    for row in rows.iter().copied().filter(|row| row.what == what) {
        match all.iter_mut().find(|group| is_repeat(group[0], row)) {
            Some(group) => group.push(row),
            None => all.push(vec![row]),
        }
    }
    all
}

/// Several lines under one limit: the worst verdict stands, the highest reading is told, and all rows are named.
pub(super) fn together(mut judged: Vec<Accepted>) -> Option<Accepted> {
    let rows: Vec<u64> = judged.iter().flat_map(|one| one.rows.clone()).collect();
    let rank = |shown: Shown| match shown {
        Shown::Fails => 0,
        Shown::NotShown => 1,
        Shown::Holds => 2,
    };
    judged.sort_by(|a, b| {
        let by_verdict = rank(a.shown).cmp(&rank(b.shown));
        by_verdict.then(
            b.value
                .unwrap_or(f64::NEG_INFINITY)
                .total_cmp(&a.value.unwrap_or(f64::NEG_INFINITY)),
        )
    });
    let mut found = judged.into_iter().next()?;
    found.rows = rows;
    Some(found)
}

/// One line under the carrier, read once or several times. With `carrier` it is a harmonic of that frequency.
fn line(
    what: Line,
    most: f64,
    repeats: &[&Row],
    rows: &[&Row],
    instruments: &[Instrument],
    carrier: Option<f64>,
) -> Accepted {
    let mut found = Accepted::of(what, None, Some(most));
    let values: Vec<f64> = repeats.iter().map(|row| row.value).collect();
    let read = gum::mean(&values);
    found.value = Some(read.0);
    found.rows = repeats.iter().map(|row| row.row).collect();
    found.at = repeats[0].setup.at;
    match bounds(most, (repeats[0], read), rows, instruments, carrier) {
        Ok((low, high, near)) => {
            let found = found.within(low, high);
            match near {
                Some(near) if found.shown == Shown::NotShown => found.because(near),
                _ => found,
            }
        }
        Err(why) => found.because(why),
    }
}

/// Bounds of a line, dBc, and what of the analyser stands in the way of better ones.
fn bounds(
    most: f64,
    (row, (value, scatter)): (&Row, (f64, Component)),
    rows: &[&Row],
    instruments: &[Instrument],
    carrier: Option<f64>,
) -> Result<(f64, f64, Option<Why>), Why> {
    let spectrum = spectrum(row, instruments)?;
    let at = row.setup.at.ok_or(Why::NoSetting("at"))?;
    let (low, high) = spectrum.band;
    if at < low || at > high {
        return Err(Why::OutsideBand { low, high });
    }
    let level = carrier_level(rows)?;
    if let Some(reference) = row.setup.reference {
        if level > reference {
            return Err(Why::AboveReference { reference });
        }
        let bottom = spectrum.display.map(|display| reference - display - level);
        if let Some(bottom) = bottom.filter(|bottom| value < *bottom) {
            return Err(Why::BelowDisplay { bottom });
        }
    } else if spectrum.display.is_some() {
        return Err(Why::NoSetting("reference"));
    }
    let ratio = spectrum
        .ratio
        .ok_or_else(|| no_figure(row, "spectrum.ratio"))?;
    let guard = guard_with(ratio, scatter);
    let noise = noise_under(spectrum, row, level)?;
    if value < noise - SLACK {
        return Err(Why::BelowNoise { noise });
    }
    let (line_least, line_most) = without_noise(value, noise, spectrum.detector);
    let mut least = line_least - guard;
    let mut highest = line_most + guard;
    let resolution = row.setup.resolution.unwrap_or_default();
    let mut near = (noise + guard > most).then(|| Why::Noise {
        noise,
        resolution: resolution * pow(10.0, 0.1 * (most - guard - noise)),
    });
    if let Some(carrier) = carrier {
        let own = own_harmonic(spectrum, row, level, libm::round(at / carrier))?;
        // Two harmonics of one carrier add or cancel as their phases are.
        highest = sum(line_most, own) + guard;
        least = least.min(difference(value, own, 20.0) - guard);
        let room = difference(most - guard, value, 20.0);
        if near.is_none() && own > room && value + guard < most {
            let more = own - room;
            near = Some(Why::OwnHarmonics { own, more });
        }
    }
    Ok((least, highest, near))
}

/// Least and most that a line may be whose level is displayed with noise, as the detector forms both: decibels all.
fn without_noise(displayed: f64, noise: f64, detector: Option<Detector>) -> (f64, f64) {
    match detector {
        // Powers add; of an envelope's mean the noise makes less than of its power.
        Some(Detector::TrueRms | Detector::Average) => {
            (difference(displayed, noise, 10.0), displayed)
        }
        Some(Detector::LogAverage) => (under_log_average(displayed, noise), displayed),
        // One sample has one phase of the noise, whose envelope is below √(ln 20) of its rms in 95 of 100.
        Some(Detector::Sample) => {
            let most = noise + ENVELOPE_DB;
            (difference(displayed, most, 20.0), sum(displayed, most))
        }
        // The highest of a sweep: noise as it is displayed was in step with the line. So for a detector that is not known.
        Some(Detector::Peak) | None => (difference(displayed, noise, 20.0), displayed),
    }
}

/// 10 lg ln 20, dB.
const ENVELOPE_DB: f64 = 4.765_1;

/// The line that a log-average detector displays so with noise that it displays by itself as given.
fn under_log_average(displayed: f64, noise: f64) -> f64 {
    if displayed <= noise {
        return f64::NEG_INFINITY;
    }
    let power = noise + meter::LOG_AVERAGE_LOW_DB;
    let shows = |line: f64| line + meter::log_average_high_db(pow(10.0, 0.1 * (line - power)));
    let (mut low, mut high) = (displayed - 100.0, displayed);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if shows(middle) > displayed {
            high = middle;
        } else {
            low = middle;
        }
    }
    low
}

/// The analyser's noise as displayed, under a carrier, dBc.
pub(super) fn noise_under(spectrum: &Spectrum, row: &Row, level: f64) -> Result<f64, Why> {
    let in_one = spectrum
        .noise
        .ok_or_else(|| no_figure(row, "spectrum.noise"))?;
    let resolution = row.setup.resolution.ok_or(Why::NoSetting("rbw"))?;
    let attenuation = row.setup.attenuation.ok_or(Why::NoSetting("attenuation"))?;
    Ok(in_one + 10.0 * log10(resolution) + attenuation - level)
}

/// The analyser's own harmonic of a number at the level at its mixer, dBc: it rises as that power of the level less one; below the
/// stated level it is taken to fall as the second does.
fn own_harmonic(spectrum: &Spectrum, row: &Row, level: f64, number: f64) -> Result<f64, Why> {
    let (own, at) = spectrum
        .harmonics
        .ok_or_else(|| no_figure(row, "spectrum.harmonics"))?;
    let attenuation = row.setup.attenuation.ok_or(Why::NoSetting("attenuation"))?;
    let above = level - attenuation - at;
    let rises = if above > 0.0 {
        (number - 1.0).max(1.0)
    } else {
        1.0
    };
    Ok(own + rises * above)
}

/// Two levels whose voltages add.
fn sum(one: f64, other: f64) -> f64 {
    20.0 * log10(pow(10.0, one / 20.0) + pow(10.0, other / 20.0))
}

/// What is left of a level when another is taken off: powers for 10, voltages for 20.
pub(super) fn difference(one: f64, other: f64, per: f64) -> f64 {
    let left = pow(10.0, one / per) - pow(10.0, other / per);
    if left > 0.0 {
        per * log10(left)
    } else {
        f64::NEG_INFINITY
    }
}

pub(super) fn spectrum<'a>(row: &Row, instruments: &'a [Instrument]) -> Result<&'a Spectrum, Why> {
    named(row, instruments)?
        .spectrum
        .as_ref()
        .ok_or_else(|| no_figure(row, "spectrum"))
}

fn named<'a>(row: &Row, instruments: &'a [Instrument]) -> Result<&'a Instrument, Why> {
    let mut all = instruments.iter();
    all.find(|one| one.name == row.instrument)
        .ok_or_else(|| Why::UnknownInstrument(row.instrument.clone()))
}

pub(super) fn no_figure(row: &Row, key: &'static str) -> Why {
    Why::NoFigure {
        instrument: row.instrument.clone(),
        key,
    }
}
