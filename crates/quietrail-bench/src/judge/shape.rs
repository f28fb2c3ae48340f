//! How far a detector may be off the rms, by the shape of what it meets.

use super::{Asked, Judgement, Path, Taken, Why};
use crate::log::Row;
use crate::meter::{self, Wave};
use quietrail_job::model::{Detector, Function, InstrumentKind, What};

/// How far a detector may be off for the shape that it meets.
#[derive(Clone, Copy)]
pub(super) struct Shape {
    /// Most that is there for what it shows, as a ratio.
    pub(super) most: f64,
    /// Least.
    pub(super) least: f64,
}

/// Factor on what a detector shows of a predicted wave: a prediction of its shape is not a reading.
const WAVE_IN_HAND: f64 = 0.9;

/// Factor on the direct part of a current as predicted: a prediction is not a reading.
const IN_HAND: f64 = 2.0;
/// Direct parts below this share of the rms are rounding, and nothing to speak of.
const TOLD: f64 = 1e-3;

impl Shape {
    /// Of a detector for what is asked.
    pub(super) fn of(asked: &Asked, detector: Option<Detector>, taken: &mut Vec<Taken>) -> Self {
        let plain = Self {
            most: 1.0,
            least: 1.0,
        };
        match detector {
            Some(Detector::TrueRms | Detector::Sample) => plain,
            // Peaks themselves are what it reads.
            Some(Detector::Peak) if asked.what == What::RipplePeakToPeak => plain,
            Some(Detector::Peak) => {
                taken.push(Taken::PeakForRms);
                // Scaled for a sine, it shows the peak over √2, and no wave has an rms above its peak; noise goes beyond √2 of its
                // rms in ten samples already (MEAS-SCOPE-03). However high the peak, the rms may be next to nothing.
                let most = match asked.what {
                    What::Noise => 1.0,
                    _ => std::f64::consts::SQRT_2,
                };
                Self { most, least: 0.0 }
            }
            Some(Detector::LogAverage) => {
                taken.push(Taken::NoiseForLogAverage);
                let low = libm::pow(10.0, meter::LOG_AVERAGE_LOW_DB / 20.0);
                Self {
                    most: low,
                    least: 1.0,
                }
            }
            Some(Detector::Average) | None => {
                let noise = meter::average_shows(Wave::Noise);
                // Short dips and pulses have far less average than rms.
                let wave = asked
                    .averaged
                    .map(|shows| WAVE_IN_HAND * shows)
                    .filter(|shows| *shows < noise);
                taken.push(wave.map_or(Taken::ShapeForAverage, Taken::WaveForAverage));
                Self {
                    most: 1.0 / wave.unwrap_or(noise),
                    // No wave has more average for its rms than a square one.
                    least: 1.0 / meter::average_shows(Wave::Square),
                }
            }
        }
    }
}

/// Of a detector for the rms of a current whose pulses nobody has seen; `None` for one that answers to the rms.
pub(super) fn pulses(detector: Option<Detector>) -> Option<Shape> {
    match detector {
        Some(Detector::TrueRms | Detector::Sample) => None,
        // No wave has an rms above its peak, and it is scaled for a sine.
        Some(Detector::Peak) => Some(Shape {
            most: std::f64::consts::SQRT_2,
            least: 0.0,
        }),
        // No wave has more average for its rms than a square one, and pulses have as little as one likes.
        Some(Detector::Average | Detector::LogAverage) | None => Some(Shape {
            most: f64::INFINITY,
            least: 1.0 / meter::average_shows(Wave::Square),
        }),
    }
}

/// From what a detector shows of a current to its rms: a rectifier takes pulses, whose average may be any small part of that.
pub(super) fn of_pulses(asked: &Asked, function: &Function, judgement: &mut Judgement) {
    // Coupled through a capacitor or a transformer it shows the alternating part alone.
    if function.is_ac_coupled != Some(false) && asked.direct > TOLD * judgement.high {
        judgement.high = libm::hypot(judgement.high, IN_HAND * asked.direct);
        judgement.taken.push(Taken::DirectLeftOut(asked.direct));
    }
    let Some(shape) = pulses(function.detector) else {
        return;
    };
    judgement.low *= shape.least;
    judgement.high *= shape.most;
    if judgement.high.is_infinite() {
        judgement.why = Why::PulsesUnknown;
    }
}

/// Averages of waves where noise was asked for: they hide it.
pub(super) fn averaged_away(asked: &Asked, path: &Path<'_>, row: &Row) -> Option<u32> {
    let asks_noise = matches!(asked.what, What::Noise | What::RippleAndNoise);
    let is_of_waves = path.instrument.kind == InstrumentKind::Oscilloscope;
    row.averages
        .filter(|count| asks_noise && is_of_waves && *count > 1)
}
