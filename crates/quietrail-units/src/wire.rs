//! American wire gauge.

use std::f64::consts::FRAC_PI_4;

/// Cross-section in square metres of a round wire of this gauge: diameter
/// `0.127 mm × 92^((36 − n)/39)` (ASTM B258, as printed with the HyperPhysics wire table). Gauges
/// thicker than 0 are negative: 00 is −1.
///
/// ```
/// let square_metres = quietrail_units::wire::cross_section(18.0);
/// assert!((square_metres * 1e6 - 0.823).abs() < 0.001);
/// ```
pub fn cross_section(gauge: f64) -> f64 {
    let diameter = diameter(gauge);
    FRAC_PI_4 * diameter * diameter
}

/// Diameter in metres of a round wire of this gauge.
pub fn diameter(gauge: f64) -> f64 {
    0.127e-3 * 92_f64.powf((36.0 - gauge) / 39.0)
}
