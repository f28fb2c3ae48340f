//! A measured wave laid over the predicted one.
//!
//! Nobody knows when in its cycle the mains was as a record began, so the mean cycle of the record is moved to where it fits
//! the predicted cycle best. It is never stretched, and its size is never changed.

use super::POINTS;
use crate::wave::{Measured, Waves};
use quietrail_bench::capture::{figures, mean_cycle};

/// A mean this much smaller than the predicted one, in peak-to-peaks of the record, is no mean: the DC was taken off before.
const NO_DC: f64 = 1.0;
/// The predicted mean is then at least this many peak-to-peaks.
const HAD_DC: f64 = 3.0;
/// How far from ten or a hundred a ratio may be to look like a probe.
const LIKE_A_PROBE: f64 = 1.35;

/// Why a record cannot be laid over a drawing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoOverlay {
    /// It holds less than one cycle of the mains.
    LessThanACycle,
    /// It has parts of the cycle without any sample.
    Gaps,
}

/// Lays samples, in the order of time, over a drawing.
///
/// # Errors
/// [`NoOverlay`].
pub fn overlay(drawing: &mut Waves, name: &str, samples: &[(f64, f64)]) -> Result<(), NoOverlay> {
    let found = figures(samples, drawing.frequency);
    if found.cycles == 0 {
        return Err(NoOverlay::LessThanACycle);
    }
    let cycle = mean_cycle(samples, found.hertz, found.cycles, POINTS).ok_or(NoOverlay::Gaps)?;
    let predicted = &drawing.volts[..POINTS];
    let (mean, drawn_mean) = (average(&cycle), average(predicted));
    let peak_to_peak = found.peak - found.valley;
    let is_without_dc =
        mean.abs() < NO_DC * peak_to_peak && drawn_mean.abs() > HAD_DC * peak_to_peak;
    let shift = best_shift(predicted, drawn_mean, &cycle, mean);
    let lift = if is_without_dc {
        drawn_mean - mean
    } else {
        0.0
    };
    let moved = |k: usize| cycle[(k + shift) % POINTS];
    let apart: f64 = (0..POINTS)
        .map(|k| (moved(k) - mean) - (predicted[k] - drawn_mean))
        .map(|difference| difference * difference)
        .sum();
    drawing.measured = Some(Measured {
        name: name.to_owned(),
        volts: (0..=2 * POINTS).map(|k| moved(k % POINTS) + lift).collect(),
        cycles: found.cycles,
        mean: found.mean,
        peak_to_peak,
        ripple_rms: found.ripple,
        rest_rms: found.noise,
        is_without_dc,
        apart_rms: (apart / POINTS as f64).sqrt(),
        probe: probe(found.ripple, rms_about(predicted, drawn_mean)),
    });
    Ok(())
}

/// By how many points the measured cycle has to be moved to look most like the predicted one.
fn best_shift(predicted: &[f64], drawn_mean: f64, cycle: &[f64], mean: f64) -> usize {
    let likeness = |shift: usize| -> f64 {
        (0..POINTS)
            .map(|k| (predicted[k] - drawn_mean) * (cycle[(k + shift) % POINTS] - mean))
            .sum()
    };
    (0..POINTS)
        .map(|shift| (likeness(shift), shift))
        .reduce(|best, next| if next.0 > best.0 { next } else { best })
        .map_or(0, |(_, shift)| shift)
}

/// The factor of a probe that would explain the size.
fn probe(measured: f64, predicted: f64) -> Option<f64> {
    let ratio = measured / predicted;
    [10.0, 0.1, 100.0, 0.01].into_iter().find(|factor| {
        let off = ratio / factor;
        (1.0 / LIKE_A_PROBE..=LIKE_A_PROBE).contains(&off)
    })
}

fn average(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn rms_about(values: &[f64], mean: f64) -> f64 {
    let square: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
    (square / values.len() as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::{NoOverlay, POINTS, overlay};
    use crate::wave::Waves;

    /// A sawtooth-like ripple on a mean, over two cycles of 50 Hz.
    fn drawing(mean: f64, size: f64) -> Waves {
        let time: Vec<f64> = (0..=2 * POINTS)
            .map(|k| k as f64 / POINTS as f64 / 50.0)
            .collect();
        let volts = time.iter().map(|t| mean + size * tooth(*t)).collect();
        Waves {
            frequency: 50.0,
            time,
            volts,
            ..Waves::default()
        }
    }

    /// Falls for most of a half-cycle and rises in the rest; the second half-cycle is a tenth larger.
    fn tooth(t: f64) -> f64 {
        let turn = (t * 50.0).rem_euclid(1.0);
        let size = if turn < 0.5 { 1.0 } else { 1.1 };
        let half = (2.0 * turn).rem_euclid(1.0);
        let shape = if half < 0.8 {
            0.5 - half / 0.8
        } else {
            (half - 0.8) / 0.2 - 0.5
        };
        size * shape
    }

    fn record(late: f64, f: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        (0..8000)
            .map(|k| f64::from(k) * 2e-5)
            .map(|t| (t - 0.03, f(t + late)))
            .collect()
    }

    #[test]
    fn a_record_that_began_at_any_time_lies_on_the_prediction() {
        for late in [0.0, 0.0031, 0.0137] {
            let mut drawn = drawing(21.0, 0.9);
            let samples = record(late, |t| 21.0 + 0.9 * tooth(t));
            overlay(&mut drawn, "raw.csv", &samples).expect("laid over");
            let measured = drawn.measured.clone().expect("there");
            assert!(measured.apart_rms < 0.02, "{late}: {}", measured.apart_rms);
            assert!(!measured.is_without_dc && measured.probe.is_none());
            assert_eq!((measured.cycles, measured.volts.len()), (8, 2 * POINTS + 1));
        }
    }

    #[test]
    fn size_is_told_and_never_changed() {
        let mut drawn = drawing(21.0, 0.9);
        overlay(
            &mut drawn,
            "raw.csv",
            &record(0.004, |t| 20.7 + 1.2 * tooth(t)),
        )
        .expect("laid");
        let measured = drawn.measured.expect("there");
        // By hand: 1.2 less 0.9 times the rms of the same shape.
        let rms = super::rms_about(&drawing(0.0, 1.0).volts[..POINTS], 0.0);
        assert!(
            (measured.apart_rms - 0.3 * rms).abs() < 0.02 * rms,
            "{}",
            measured.apart_rms
        );
        assert!((measured.mean - 20.7).abs() < 0.02);
    }

    #[test]
    fn without_its_dc_it_lies_at_the_predicted_mean_and_a_wrong_probe_is_named() {
        let mut drawn = drawing(21.0, 0.9);
        overlay(&mut drawn, "raw.csv", &record(0.001, |t| 0.09 * tooth(t))).expect("laid");
        let measured = drawn.measured.expect("there");
        assert!(measured.is_without_dc);
        assert_eq!(measured.probe, Some(0.1));
        let mean = super::average(&measured.volts[..POINTS]);
        assert!((mean - super::average(&drawn.volts[..POINTS])).abs() < 1e-9);
    }

    #[test]
    fn less_than_a_cycle_is_refused() {
        let mut drawn = drawing(21.0, 0.9);
        let short: Vec<(f64, f64)> = record(0.0, |t| 21.0 + tooth(t))
            .into_iter()
            .take(700)
            .collect();
        assert_eq!(
            overlay(&mut drawn, "x", &short),
            Err(NoOverlay::LessThanACycle)
        );
        assert!(drawn.measured.is_none());
    }
}
