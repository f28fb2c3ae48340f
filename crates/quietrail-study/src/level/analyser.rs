//! What an analyser's filter, window and detector make of noise and lines.

use super::{BOLTZMANN, decibels, from_decibels, power_sum};
use quietrail_bench::meter;
use quietrail_engine::math::{cos, exp, ln, pow};
use std::f64::consts::PI;

/// The filter that sets a resolution bandwidth, which is stated 3 dB down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Filter {
    /// Gaussian.
    Gaussian,
    /// So many equal poles, tuned alike.
    Poles(u32),
    /// Flat, with steep sides: the band is the noise bandwidth.
    Wall,
}

impl Filter {
    /// Noise bandwidth over the bandwidth 3 dB down.
    pub fn noise_bandwidth(self) -> f64 {
        match self {
            Filter::Wall => 1.0,
            Filter::Gaussian => 0.5 * (PI / ln(2.0)).sqrt(),
            Filter::Poles(count) => {
                // √π Γ(n − 1/2)/Γ(n) = π/1 · (1/2)(3/4)(5/6)… for n = 1, 2, 3, …
                let n = count.max(1);
                let gamma = (1..n).fold(PI, |g, k| g * (f64::from(k) - 0.5) / f64::from(k));
                gamma / (2.0 * (pow(2.0, 1.0 / f64::from(n)) - 1.0).sqrt())
            }
        }
    }
}

/// How a displayed noise level comes about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detector {
    /// True power.
    Rms,
    /// Mean of the level in decibels: reads noise low.
    LogAverage,
    /// Mean of the envelope's voltage: reads noise low.
    LinearAverage,
}

impl Detector {
    /// Decibels by which Gaussian noise reads low.
    pub fn reads_low(self) -> f64 {
        match self {
            Detector::Rms => 0.0,
            Detector::LogAverage => meter::LOG_AVERAGE_LOW_DB,
            Detector::LinearAverage => 10.0 * ln(4.0 / PI) / ln(10.0),
        }
    }

    /// Decibels by which a line reads high with noise beside it, at a ratio of their powers.
    pub fn line_reads_high(self, power_ratio: f64) -> Option<f64> {
        match self {
            Detector::Rms => Some(10.0 * ln(1.0 + 1.0 / power_ratio) / ln(10.0)),
            Detector::LogAverage => Some(meter::log_average_high_db(power_ratio)),
            Detector::LinearAverage => None,
        }
    }
}

/// Level per hertz of displayed noise: `P − 10 log(B k) + what the detector reads low`.
pub fn per_hertz(displayed: f64, bandwidth: f64, filter: Filter, detector: Detector) -> f64 {
    let hertz = bandwidth * filter.noise_bandwidth();
    displayed - 10.0 * ln(hertz) / ln(10.0) + detector.reads_low()
}

/// Noise in a resolution bandwidth from its level per hertz.
pub fn in_bandwidth(per_hertz: f64, bandwidth: f64, filter: Filter) -> f64 {
    per_hertz + 10.0 * ln(bandwidth * filter.noise_bandwidth()) / ln(10.0)
}

/// Widest resolution bandwidth in which a line stands so many decibels above the noise, Hz.
pub fn widest_for(line: f64, per_hertz: f64, above: f64, filter: Filter) -> f64 {
    let room = line - above - per_hertz;
    exp(room * ln(10.0) / 10.0) / filter.noise_bandwidth()
}

/// Thermal power per hertz, dBm.
pub fn thermal_dbm(kelvins: f64) -> f64 {
    10.0 * ln(BOLTZMANN * kelvins / 1e-3) / ln(10.0)
}

/// Volts that a source of given volts into a matched resistance shows at another one, and by how many decibels that is off
/// what a reader takes who believes in the match.
pub fn mismatched(matched_volts: f64, source: f64, load: f64) -> (f64, f64) {
    let volts = 2.0 * matched_volts * load / (load + source);
    (volts, decibels(volts / matched_volts))
}

/// Cosine terms of a window: `a0 − a1 cos + a2 cos 2 − …`.
pub fn window_noise_bandwidth(terms: &[f64], points: usize) -> f64 {
    let (mut sum, mut squares) = (0.0, 0.0);
    for n in 0..points {
        let angle = 2.0 * PI * n as f64 / points as f64;
        let mut value = 0.0;
        for (k, term) in terms.iter().enumerate() {
            let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
            value += sign * term * cos(k as f64 * angle);
        }
        sum += value;
        squares += value * value;
    }
    points as f64 * squares / (sum * sum)
}

/// A reading with the floor taken off in power, dB; `None` at or below the floor.
pub fn above_floor(reading: f64, floor: f64) -> Option<f64> {
    super::power_difference(reading, floor)
}

/// Two levels that swing together, at worst, dB.
pub fn coherent_sum(a: f64, b: f64) -> f64 {
    decibels(from_decibels(a) + from_decibels(b))
}

/// Levels that have nothing to do with each other, dB.
pub fn sum(levels: &[f64]) -> f64 {
    power_sum(levels)
}
