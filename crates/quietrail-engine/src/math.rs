//! The only transcendental functions of the engine: the same bits on every machine.
//!
//! std calls the platform's library, whose last digit differs from system to system; a lint bans it here.

pub use libm::{cos, erfc, exp, expm1 as exp_m1, log as ln, log1p as ln_1p, pow, sin, tanh};

/// Thermal voltage k T / q in volts at a temperature in degrees Celsius.
///
/// Constants: Boltzmann 1.380649e-23 J/K and elementary charge 1.602176634e-19 C, exact (SI 2019).
pub fn thermal_voltage(celsius: f64) -> f64 {
    1.380_649e-23 * (celsius + 273.15) / 1.602_176_634e-19
}

/// `ln(1 + exp(x))` without overflow.
pub fn softplus(x: f64) -> f64 {
    if x > 36.0 { x + exp(-x) } else { ln_1p(exp(x)) }
}

/// Derivative of [`softplus`].
pub fn logistic(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + exp(-x))
    } else {
        let e = exp(x);
        e / (1.0 + e)
    }
}
