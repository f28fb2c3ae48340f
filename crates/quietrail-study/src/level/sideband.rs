//! What a voltage on a pin does to an oscillator's spectrum and frequency.
//!
//! A voltage `v` that swings at `f` moves the frequency by `K v` and the amplitude by `A v`. Narrow-band theory: a phase
//! swing `β = K v / f` puts `β/2` into each sideband, an amplitude swing `m` puts `m/2` there.

use super::{decibels, from_decibels};

/// Phase swings above this are told by Bessel functions: below, half the swing is right to 0.006 dB.
const SMALL: f64 = 0.1;

/// Each sideband of a frequency swing, dBc: `hertz_per_volt` times a peak voltage, at a frequency.
pub fn of_frequency(hertz_per_volt: f64, peak_volts: f64, hertz: f64) -> f64 {
    of_phase(hertz_per_volt * peak_volts / hertz)
}

/// First sideband of a phase swing (radians, peak) over the carrier that is left, dBc.
pub fn of_phase(swing: f64) -> f64 {
    if swing < SMALL {
        return decibels(swing / 2.0);
    }
    bessel_over_carrier(swing, 1)
}

/// Sideband of an order over the carrier that is left, dBc: `J_n(β)/J_0(β)`.
pub fn bessel_over_carrier(swing: f64, order: u32) -> f64 {
    decibels((bessel(order, swing) / bessel(0, swing)).abs())
}

/// `J_n(x)` by its power series (Abramowitz and Stegun 9.1.10): for the small and middling swings met here.
fn bessel(order: u32, x: f64) -> f64 {
    let half = 0.5 * x;
    let mut term = (1..=order).fold(1.0, |term, k| term * half / f64::from(k));
    let mut sum = term;
    for k in 1..200_u32 {
        term *= -half * half / (f64::from(k) * f64::from(k + order));
        sum += term;
        if term.abs() < 1e-17 * sum.abs() {
            break;
        }
    }
    sum
}

/// Each sideband of an amplitude swing of depth `m`, dBc.
pub fn of_depth(depth: f64) -> f64 {
    decibels(depth / 2.0)
}

/// Peak voltage that puts a sideband there through the frequency, V.
pub fn volts_through_frequency(level: f64, hertz_per_volt: f64, hertz: f64) -> f64 {
    2.0 * hertz * from_decibels(level) / hertz_per_volt
}

/// Peak voltage that puts a sideband there through the amplitude, V.
pub fn volts_through_amplitude(level: f64, per_volt: f64) -> f64 {
    2.0 * from_decibels(level) / per_volt
}

/// Upper and lower sideband where both are there, dBc: `quadrature` is the angle between them, in parts of a quarter
/// turn (0: the upper adds).
pub fn of_both(phase_swing: f64, depth: f64, quadrature: f64) -> [f64; 2] {
    let angle = quadrature * std::f64::consts::FRAC_PI_2;
    let cosine = quietrail_engine::math::cos(angle);
    [1.0, -1.0].map(|side| {
        let square =
            phase_swing * phase_swing + depth * depth + 2.0 * side * phase_swing * depth * cosine;
        decibels(0.5 * square.max(0.0).sqrt())
    })
}

/// Phase noise from a density on a pin, dBc/Hz at a distance from the carrier: `K e / (√2 f)`.
pub fn phase_noise(hertz_per_volt: f64, density: f64, hertz: f64) -> f64 {
    decibels(hertz_per_volt * density / (2.0_f64.sqrt() * hertz))
}

/// Density on a pin that makes so much phase noise, V/√Hz.
pub fn density_for(level: f64, hertz_per_volt: f64, hertz: f64) -> f64 {
    2.0_f64.sqrt() * hertz * from_decibels(level) / hertz_per_volt
}

/// Allan deviation at `tau` seconds from a flat density on a pin: white noise of frequency.
pub fn allan_deviation(hertz_per_volt: f64, density: f64, carrier: f64, tau: f64) -> f64 {
    hertz_per_volt * density / (carrier * (2.0 * tau).sqrt())
}
