//! What instruments do to what they read: detectors, bandwidth, quantisation, loading.

use libm::{log10, sqrt};
use std::f64::consts::PI;

/// Shapes for which an average-responding meter is known to read wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wave {
    /// What it is calibrated with.
    Sine,
    /// Triangle and sawtooth alike.
    Triangle,
    /// Square.
    Square,
    /// Gaussian noise.
    Noise,
}

/// What an average-responding meter, calibrated in rms of a sine, shows of one volt rms.
pub fn average_shows(wave: Wave) -> f64 {
    let sine = PI / (2.0 * sqrt(2.0));
    match wave {
        Wave::Sine => 1.0,
        Wave::Triangle => sine * sqrt(3.0) / 2.0,
        Wave::Square => sine,
        Wave::Noise => sine * sqrt(2.0 / PI),
    }
}

/// The same of any wave: of even samples of a whole cycle, the mean kept out. `None` where nothing swings.
pub fn average_of(samples: &[f64]) -> Option<f64> {
    let count = samples.len() as f64;
    let mean = samples.iter().sum::<f64>() / count;
    let swings = samples.iter().map(|sample| sample - mean);
    let square = swings.clone().map(|swing| swing * swing).sum::<f64>() / count;
    let size = swings.map(f64::abs).sum::<f64>() / count;
    (square > 0.0).then(|| PI / (2.0 * sqrt(2.0)) * size / sqrt(square))
}

/// Peak over rms.
pub fn crest(wave: Wave) -> f64 {
    match wave {
        Wave::Sine => sqrt(2.0),
        Wave::Triangle => sqrt(3.0),
        Wave::Square => 1.0,
        Wave::Noise => f64::INFINITY,
    }
}

/// How far a log-average detector reads noise low, dB: 10 lg e times Euler's constant.
pub const LOG_AVERAGE_LOW_DB: f64 = 2.506_815_784_290_4;

/// How far a log-average detector reads a line high with noise beside it, dB, at a ratio of their powers: the mean of the
/// logarithm of a Rician envelope, 10 lg e times `E1` of the ratio.
pub fn log_average_high_db(power_ratio: f64) -> f64 {
    10.0 / std::f64::consts::LN_10 * exponential_integral(power_ratio)
}

/// Euler's constant.
const EULER: f64 = 0.577_215_664_901_532_9;

/// `E1(x)`: series for small arguments, continued fraction for large ones (Abramowitz and Stegun 5.1.11, 5.1.22).
fn exponential_integral(x: f64) -> f64 {
    if x < 1.0 {
        let (mut term, mut sum) = (1.0, 0.0);
        for k in 1..100_u32 {
            term *= -x / f64::from(k);
            sum -= term / f64::from(k);
        }
        return sum - EULER - libm::log(x);
    }
    let mut fraction = 0.0;
    for k in (1..=200_u32).rev() {
        let k = f64::from(k);
        fraction = k / (1.0 + k / (x + fraction));
    }
    libm::exp(-x) / (x + fraction)
}

/// Share of a tone at `f` that a single-pole meter with its corner at `corner` shows.
pub fn single_pole_share(f: f64, corner: f64) -> f64 {
    1.0 / sqrt(1.0 + (f / corner) * (f / corner))
}

/// Noise bandwidth of a single pole.
pub fn single_pole_noise_bandwidth(corner: f64) -> f64 {
    0.5 * PI * corner
}

/// rms of white noise of a density in a bandwidth.
pub fn white(density: f64, bandwidth: f64) -> f64 {
    density * sqrt(bandwidth)
}

/// One step of a sampling instrument over its range.
pub fn quantum(full: f64, bits: u32) -> f64 {
    full / libm::ldexp(1.0, i32::try_from(bits).unwrap_or(0))
}

/// rms of the rounding to steps.
pub fn quantisation(step: f64) -> f64 {
    step / sqrt(12.0)
}

/// Sine at full range over rounding, dB.
pub fn ideal_signal_to_noise_db(bits: u32) -> f64 {
    20.0 * log10(libm::ldexp(1.0, i32::try_from(bits).unwrap_or(0)) * sqrt(1.5))
}

/// What a meter of resistance `meter` shows of a source behind `source`, as a share.
pub fn loading(source: f64, meter: f64) -> f64 {
    meter / (meter + source)
}

/// Current that an ammeter of resistance `burden` shows in a loop of `volts` and `ohms`.
pub fn through_burden(volts: f64, ohms: f64, burden: f64) -> f64 {
    volts / (ohms + burden)
}

/// Level that a probe capacitance leaves of a source resistance at a frequency, dB.
pub fn probe_level_db(source: f64, farads: f64, f: f64) -> f64 {
    let x = 2.0 * PI * f * farads * source;
    -10.0 * log10(1.0 + x * x)
}

/// Reactance of a capacitor, Ω.
pub fn reactance(farads: f64, f: f64) -> f64 {
    1.0 / (2.0 * PI * f * farads)
}

/// Resonance of a lead and a capacitance, Hz.
pub fn resonance(henries: f64, farads: f64) -> f64 {
    1.0 / (2.0 * PI * sqrt(henries * farads))
}

/// Peak-to-peak of `n` independent samples of Gaussian noise over its rms: grows with the record.
pub fn gaussian_range(n: f64) -> f64 {
    // The integral of 1 − Φⁿ − (1 − Φ)ⁿ, by Simpson's rule far into both tails.
    let steps = 4000;
    let (from, to) = (-10.0, 10.0);
    let h = (to - from) / f64::from(steps);
    let f = |x: f64| {
        let below = crate::distribution::normal(x);
        let above = crate::distribution::normal(-x);
        let all = |p: f64| libm::exp(n * libm::log(p.max(1e-300)));
        1.0 - all(below) - all(above)
    };
    let mut sum = f(from) + f(to);
    for k in 1..steps {
        let weight = if k % 2 == 1 { 4.0 } else { 2.0 };
        sum += weight * f(from + h * f64::from(k));
    }
    sum * h / 3.0
}
