//! American wire gauge, by the formula of ASTM B258 (as printed with the HyperPhysics wire table).

use std::{f64::consts::FRAC_PI_4, ops::RangeInclusive};

/// Gauges that wire is made in. Those thicker than 0 are negative here: 0000 is -3.
pub const GAUGES: RangeInclusive<i32> = -3..=50;

/// Diameter of gauge 36 in metres, by definition.
const GAUGE_36: f64 = 0.127e-3;

/// Ratio of neighbouring diameters: the 39th root of 92. Multiplied out rather than raised to a power, so
/// that every machine finds the same bits.
const STEP: f64 = 1.122_932_196_532_281_4;

/// Diameter in metres of a round wire: `0.127 mm × 92^((36 − n)/39)`; `None` outside [`GAUGES`].
pub fn diameter(gauge: i32) -> Option<f64> {
    if !GAUGES.contains(&gauge) {
        return None;
    }
    let steps = 36 - gauge;
    let ratio = (0..steps.unsigned_abs()).fold(1.0, |ratio, _| ratio * STEP);
    Some(if steps >= 0 {
        GAUGE_36 * ratio
    } else {
        GAUGE_36 / ratio
    })
}

/// Cross-section in square metres of a round wire; `None` outside [`GAUGES`].
///
/// ```
/// let square_metres = quietrail_units::wire::cross_section(18).unwrap();
/// assert!((square_metres * 1e6 - 0.823).abs() < 0.001);
/// ```
pub fn cross_section(gauge: i32) -> Option<f64> {
    diameter(gauge).map(|diameter| FRAC_PI_4 * diameter * diameter)
}

#[cfg(test)]
mod tests {
    use super::{cross_section, diameter};

    /// PWR-SAFE-27: AWG diameters, from the formula; the HyperPhysics wire table agrees.
    #[test]
    fn diameters_of_the_wire_table() {
        let table = [
            (12, 2.052525),
            (18, 1.023687),
            (20, 0.8118210),
            (22, 0.6438033),
            (24, 0.5105592),
            (28, 0.3210939),
        ];
        for (gauge, millimetres) in table {
            let found = diameter(gauge).expect("a gauge of the table") * 1e3;
            assert!(
                (found / millimetres - 1.0).abs() < 1e-6,
                "AWG {gauge}: {found} mm"
            );
        }
    }

    /// PWR-SAFE-27: resistance of 1000 ft at 20 °C with 1.724e-8 Ω m.
    #[test]
    fn resistance_of_the_wire_table() {
        let table = [
            (12, 1.588127),
            (18, 6.384512),
            (20, 10.15177),
            (28, 64.89308),
        ];
        for (gauge, ohms) in table {
            let area = cross_section(gauge).expect("a gauge of the table");
            let found = 1.724e-8 * 304.8 / area;
            assert!((found / ohms - 1.0).abs() < 1e-6, "AWG {gauge}: {found} Ω");
        }
    }

    /// ASTM B258 defines 0000 as 0.46 in.
    #[test]
    fn thickest_gauge() {
        let found = diameter(-3).expect("0000 is made");
        assert!((found / (0.46 * 0.0254) - 1.0).abs() < 1e-12, "{found}");
        assert_eq!(diameter(-4), None);
        assert_eq!(diameter(51), None);
    }
}
