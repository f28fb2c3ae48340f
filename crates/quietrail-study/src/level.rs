//! One level in every unit that a bench meets: volts by statistic, density, decibels, and sidebands.
//!
//! Closed forms only. Each says which shape, band or reference it needs, and has no way of going without.

pub mod analyser;
pub mod sideband;

use quietrail_engine::math::{exp, ln};

/// Boltzmann's constant, J/K (exact in the SI since 2019).
pub const BOLTZMANN: f64 = 1.380_649e-23;
/// Charge of an electron, C (exact in the SI of 2019).
pub(crate) const CHARGE: f64 = 1.602_176_634e-19;
/// Peak-to-peak over rms of Gaussian noise that is usual on the bench: exceeded 0.097 % of the time (common practice, no
/// source).
pub const USUAL_CREST: f64 = 6.6;

/// How a voltage that moves is told in one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names are the trade's words")]
pub enum Statistic {
    PeakToPeak,
    Peak,
    Rms,
}

/// What a voltage that moves looks like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// A sine.
    Sine,
    /// A triangle: straight between its ends, as fast up as down.
    Triangle,
    /// A sawtooth: straight between its ends, one way in no time.
    Sawtooth,
    /// A square wave.
    Square,
    /// Gaussian noise; peak-to-peak is so many times rms.
    Noise {
        /// Peak-to-peak over rms.
        crest: f64,
    },
}

impl Shape {
    /// Peak-to-peak over rms.
    pub fn peak_to_peak_over_rms(self) -> f64 {
        match self {
            Shape::Sine => 2.0 * 2.0_f64.sqrt(),
            Shape::Triangle | Shape::Sawtooth => 2.0 * 3.0_f64.sqrt(),
            Shape::Square => 2.0,
            Shape::Noise { crest } => crest,
        }
    }

    /// What a statistic of one volt is in rms.
    pub fn rms_of(self, statistic: Statistic) -> f64 {
        match statistic {
            Statistic::Rms => 1.0,
            Statistic::PeakToPeak => 1.0 / self.peak_to_peak_over_rms(),
            Statistic::Peak => 2.0 / self.peak_to_peak_over_rms(),
        }
    }

    /// Peak of its fundamental over its peak-to-peak; `None` for noise, which has none.
    pub fn fundamental_over_peak_to_peak(self) -> Option<f64> {
        let pi = std::f64::consts::PI;
        match self {
            Shape::Sine => Some(0.5),
            Shape::Triangle => Some(4.0 / (pi * pi)),
            Shape::Sawtooth => Some(1.0 / pi),
            Shape::Square => Some(2.0 / pi),
            Shape::Noise { .. } => None,
        }
    }

    /// What a meter shows that averages and is marked in rms of a sine, over the true rms.
    pub fn averaging_meter(self) -> f64 {
        let pi = std::f64::consts::PI;
        let mean_over_rms = match self {
            Shape::Sine => return 1.0,
            Shape::Triangle | Shape::Sawtooth => 3.0_f64.sqrt() / 2.0,
            Shape::Square => 1.0,
            Shape::Noise { .. } => (2.0 / pi).sqrt(),
        };
        pi / (2.0 * 2.0_f64.sqrt()) * mean_over_rms
    }
}

/// Share of the time that Gaussian noise is outside a window of `crest` times its rms, the window in the middle.
pub fn time_outside(crest: f64) -> f64 {
    statrs::function::erf::erfc(crest / 2.0 / 2.0_f64.sqrt())
}

/// rms of a flat density over a band.
pub fn flat_rms(density: f64, low: f64, high: f64) -> f64 {
    density * (high - low).sqrt()
}

/// rms over a band of a density that is flat above a corner and rises as one over the frequency (in power) below.
pub fn flicker_rms(density: f64, corner: f64, low: f64, high: f64) -> f64 {
    density * ((high - low) + corner * ln(high / low)).sqrt()
}

/// Thermal density of a resistance, V/√Hz.
pub fn thermal(ohms: f64, kelvins: f64) -> f64 {
    (4.0 * BOLTZMANN * kelvins * ohms).sqrt()
}

/// `10^(x/20)`
pub fn from_decibels(decibels: f64) -> f64 {
    exp(decibels * ln(10.0) / 20.0)
}

/// `20 log10 x`
pub fn decibels(ratio: f64) -> f64 {
    20.0 * ln(ratio) / ln(10.0)
}

/// Volts rms of a power in dBm into a resistance.
pub fn volts_of_dbm(dbm: f64, ohms: f64) -> f64 {
    (1e-3 * ohms).sqrt() * from_decibels(dbm)
}

/// Power in dBm of volts rms across a resistance.
pub fn dbm_of_volts(rms: f64, ohms: f64) -> f64 {
    decibels(rms / (1e-3 * ohms).sqrt())
}

/// Sum of levels that have nothing to do with each other, dB of power.
pub fn power_sum(levels: &[f64]) -> f64 {
    let sum: f64 = levels.iter().map(|level| power(*level)).sum();
    10.0 * ln(sum) / ln(10.0)
}

/// What is left of a level when another that has nothing to do with it is taken off; `None` where nothing is left.
pub fn power_difference(level: f64, floor: f64) -> Option<f64> {
    let left = power(level) - power(floor);
    (left > 0.0).then(|| 10.0 * ln(left) / ln(10.0))
}

/// rms of all harmonics over the fundamental's, from their levels in dBc.
pub fn total_harmonics(levels: &[f64]) -> f64 {
    levels.iter().map(|level| power(*level)).sum::<f64>().sqrt()
}

fn power(level: f64) -> f64 {
    exp(level * ln(10.0) / 10.0)
}
