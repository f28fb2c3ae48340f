//! Lines of the spectrum: level, harmonics, spurs, and what the analyser adds of its own.

use super::{Accepted, Line, Why, guard};
use crate::decide::Shown;
use crate::log::{Observed, Row};
use libm::{log10, pow};
use quietrail_job::model::{Instrument, Oscillator, Spectrum};

/// A reading this far below the analyser's noise was not taken at the setting that it names, dB.
const SLACK: f64 = 3.0;

/// The level: the latest reading.
pub(super) fn level(
    (min, max): (Option<f64>, Option<f64>),
    rows: &[&Row],
    instruments: &[Instrument],
) -> Accepted {
    let mut found = Accepted::of(Line::Level, min, max);
    let Some(row) = latest(rows, Observed::Level) else {
        return found;
    };
    found.value = Some(row.value);
    found.rows = vec![row.row];
    let spectrum = match spectrum(row, instruments) {
        Ok(spectrum) => spectrum,
        Err(why) => return found.because(why),
    };
    if let Some(reference) = row.setup.reference.filter(|top| row.value > *top) {
        return found.because(Why::AboveReference { reference });
    }
    match spectrum.level {
        Some(error) => found.within(row.value - guard(error), row.value + guard(error)),
        None => found.because(no_figure(row, "spectrum.level")),
    }
}

/// Other lines: the one that shows least well, a failing one before all.
pub(super) fn spurs(most: f64, rows: &[&Row], instruments: &[Instrument]) -> Accepted {
    let judged: Vec<Accepted> = rows
        .iter()
        .filter(|row| row.what == Observed::Spur)
        .map(|row| line(Line::Spurs, most, row, rows, instruments, None))
        .collect();
    together(judged).unwrap_or_else(|| Accepted::of(Line::Spurs, None, Some(most)))
}

/// Harmonics: second and third at least.
pub(super) fn harmonics(
    own: &Oscillator,
    most: f64,
    rows: &[&Row],
    instruments: &[Instrument],
) -> Accepted {
    let carrier = own.frequency.nominal();
    let read: Vec<&&Row> = rows
        .iter()
        .filter(|row| row.what == Observed::Harmonic)
        .collect();
    let judged: Vec<Accepted> = read
        .iter()
        .map(|row| line(Line::Harmonics, most, row, rows, instruments, Some(carrier)))
        .collect();
    let number = |row: &&Row| row.setup.at.map(|at| libm::round(at / carrier));
    let has = |n: f64| read.iter().any(|row| number(row) == Some(n));
    let are_both = has(2.0) && has(3.0);
    match together(judged) {
        Some(found) if found.shown == Shown::Holds && !are_both => {
            found.because(Why::SecondAndThird)
        }
        Some(found) => found,
        None => Accepted::of(Line::Harmonics, None, Some(most)),
    }
}

/// Several lines under one limit: the worst verdict stands, the highest reading is told, and all rows are named.
fn together(mut judged: Vec<Accepted>) -> Option<Accepted> {
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

/// One line under the carrier. With `carrier` it is a harmonic of that frequency.
fn line(
    what: Line,
    most: f64,
    row: &Row,
    rows: &[&Row],
    instruments: &[Instrument],
    carrier: Option<f64>,
) -> Accepted {
    let mut found = Accepted::of(what, None, Some(most));
    found.value = Some(row.value);
    found.rows = vec![row.row];
    found.at = row.setup.at;
    match bounds(most, row, rows, instruments, carrier) {
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
    row: &Row,
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
    let level = latest(rows, Observed::Level).ok_or(Why::NoCarrier)?.value;
    if let Some(reference) = row.setup.reference {
        if level > reference {
            return Err(Why::AboveReference { reference });
        }
        let bottom = spectrum.display.map(|display| reference - display - level);
        if let Some(bottom) = bottom.filter(|bottom| row.value < *bottom) {
            return Err(Why::BelowDisplay { bottom });
        }
    } else if spectrum.display.is_some() {
        return Err(Why::NoSetting("reference"));
    }
    let guard = guard(
        spectrum
            .ratio
            .ok_or_else(|| no_figure(row, "spectrum.ratio"))?,
    );
    let noise = noise_under(spectrum, row, level)?;
    if row.value < noise - SLACK {
        return Err(Why::BelowNoise { noise });
    }
    // Noise only adds to the power that is displayed.
    let mut least = difference(row.value, noise, 10.0) - guard;
    let mut highest = row.value + guard;
    let resolution = row.setup.resolution.unwrap_or_default();
    let mut near = (noise + guard > most).then(|| Why::Noise {
        noise,
        resolution: resolution * pow(10.0, 0.1 * (most - guard - noise)),
    });
    if let Some(carrier) = carrier {
        let own = own_harmonic(spectrum, row, level, libm::round(at / carrier))?;
        // Two harmonics of one carrier add or cancel as their phases are.
        highest = sum(row.value, own) + guard;
        least = least.min(difference(row.value, own, 20.0) - guard);
        let room = difference(most - guard, row.value, 20.0);
        if near.is_none() && own > room && row.value + guard < most {
            let more = own - room;
            near = Some(Why::OwnHarmonics { own, more });
        }
    }
    Ok((least, highest, near))
}

/// The analyser's noise as displayed, under a carrier, dBc.
fn noise_under(spectrum: &Spectrum, row: &Row, level: f64) -> Result<f64, Why> {
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
fn difference(one: f64, other: f64, per: f64) -> f64 {
    let left = pow(10.0, one / per) - pow(10.0, other / per);
    if left > 0.0 {
        per * log10(left)
    } else {
        f64::NEG_INFINITY
    }
}

fn latest<'a>(rows: &[&'a Row], what: Observed) -> Option<&'a Row> {
    rows.iter().rev().find(|row| row.what == what).copied()
}

fn spectrum<'a>(row: &Row, instruments: &'a [Instrument]) -> Result<&'a Spectrum, Why> {
    let instrument = instruments
        .iter()
        .find(|one| one.name == row.instrument)
        .ok_or_else(|| Why::UnknownInstrument(row.instrument.clone()))?;
    instrument
        .spectrum
        .as_ref()
        .ok_or_else(|| no_figure(row, "spectrum"))
}

fn no_figure(row: &Row, key: &'static str) -> Why {
    Why::NoFigure {
        instrument: row.instrument.clone(),
        key,
    }
}
