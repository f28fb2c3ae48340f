//! Phase noise as an analyser displays it beside the carrier, and what of it can be the analyser's.

use super::lines::{
    carrier_level, difference, no_figure, noise_under, repeats, spectrum, together,
};
use super::{Accepted, Line, Why, guard_with};
use crate::gum;
use crate::log::{Observed, Row};
use crate::meter;
use libm::log10;
use quietrail_job::model::{Detector, Instrument, Oscillator, Spectrum};

/// Noise bandwidth of an analyser's filter over its bandwidth 3 dB down, least and most (a maker's guide to spectrum analysis:
/// near-Gaussian filters, 1.05 to 1.13 times; MEAS-SPEC-07).
const NOISE_BANDWIDTH: (f64, f64) = (1.05, 1.13);
/// A reading stands for a distance from the carrier where it was taken this close to it, as a part.
const NEAR: f64 = 0.01;

/// Phase noise in a hertz at a distance from the carrier, against the data sheet's.
pub(super) fn phase_noise(
    (most, distance): (f64, f64),
    own: &Oscillator,
    rows: &[&Row],
    instruments: &[Instrument],
) -> Accepted {
    let line = Line::PhaseNoise { distance };
    let carrier = own.frequency.nominal();
    let is_there = |row: &Row| {
        let at = row.setup.at.map(|at| (at - carrier).abs());
        at.is_some_and(|at| (at - distance).abs() <= NEAR * distance)
    };
    let judged = repeats(rows, Observed::PhaseNoise)
        .into_iter()
        .filter(|all| is_there(all[0]))
        .map(|all| {
            let mut found = Accepted::of(line, None, Some(most));
            found.rows = all.iter().map(|row| row.row).collect();
            found.at = all[0].setup.at;
            match per_hertz(&all, rows, instruments) {
                Ok((value, low, high)) => {
                    found.value = Some(value);
                    let found = found.within(low, high);
                    // Its oscillators have phase noise of their own, which no figure of the job bounds.
                    match found.shown {
                        crate::decide::Shown::Fails => found.because(Why::OwnPhaseNoise),
                        _ => found,
                    }
                }
                Err(why) => found.because(why),
            }
        });
    together(judged.collect()).unwrap_or_else(|| Accepted::of(line, None, Some(most)))
}

/// Level in a hertz under the carrier: estimate, least and most, dBc.
fn per_hertz(
    repeats: &[&Row],
    rows: &[&Row],
    instruments: &[Instrument],
) -> Result<(f64, f64, f64), Why> {
    let row = repeats[0];
    let analyser = spectrum(row, instruments)?;
    let level = carrier_level(rows)?;
    let resolution = row.setup.resolution.ok_or(Why::NoSetting("rbw"))?;
    let ratio = analyser
        .ratio
        .ok_or_else(|| no_figure(row, "spectrum.ratio"))?;
    let values: Vec<f64> = repeats.iter().map(|row| row.value).collect();
    let (displayed, scatter) = gum::mean(&values);
    let guard = guard_with(ratio, scatter);
    let low_by = reads_low(analyser, row)?;
    let noise = noise_under(analyser, row, level)?;
    let in_a_hertz =
        |displayed: f64, filter: f64| displayed + low_by - 10.0 * log10(resolution * filter);
    let (narrow, wide) = NOISE_BANDWIDTH;
    let without = difference(displayed, noise, 10.0);
    Ok((
        in_a_hertz(displayed, (narrow * wide).sqrt()),
        in_a_hertz(without, wide) - guard,
        in_a_hertz(displayed, narrow) + guard,
    ))
}

/// By how much the detector reads noise low, dB.
fn reads_low(analyser: &Spectrum, row: &Row) -> Result<f64, Why> {
    match analyser.detector {
        Some(Detector::TrueRms) => Ok(0.0),
        // Averaged in decibels, samples are the same.
        Some(Detector::LogAverage | Detector::Sample) => Ok(meter::LOG_AVERAGE_LOW_DB),
        Some(Detector::Average) => Ok(-20.0 * log10(meter::average_shows(meter::Wave::Noise))),
        // How far peaks of noise stand above its rms depends on how long was looked.
        Some(Detector::Peak) => Err(Why::PeakOfNoise),
        None => Err(no_figure(row, "spectrum.detector")),
    }
}
