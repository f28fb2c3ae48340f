//! Loads whose current depends on their voltage.

/// How current and voltage of a load belong together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LoadLaw {
    /// Constant current, tapering to nothing below a voltage (a load does not pull a dead rail negative).
    Current {
        /// A
        amps: f64,
        /// V
        below: f64,
    },
    /// Constant power, tapering likewise.
    Power {
        /// W
        watts: f64,
        /// V
        below: f64,
    },
}

impl LoadLaw {
    /// Current at a voltage, and its slope.
    pub(crate) fn current(&self, voltage: f64) -> (f64, f64) {
        match *self {
            LoadLaw::Current { amps, below } => {
                let (t, dt) = taper(voltage, below);
                (amps * t, amps * dt)
            }
            LoadLaw::Power { watts, below } => {
                if voltage <= 0.0 {
                    return (0.0, 0.0);
                }
                if voltage >= below {
                    return (watts / voltage, -watts / (voltage * voltage));
                }
                // The taper over the voltage, without the division that fails where both vanish.
                let u = voltage / below;
                let t = 35.0 + u * (-84.0 + u * (70.0 - 20.0 * u));
                let dt = -84.0 + u * (140.0 - 60.0 * u);
                let amps = watts / below;
                (
                    amps * u * u * u * t,
                    amps / below * u * u * (3.0 * t + u * dt),
                )
            }
        }
    }
}

/// 0 at and below 0 V, exactly 1 at and above `below`, three times differentiable between.
fn taper(voltage: f64, below: f64) -> (f64, f64) {
    if below <= 0.0 || voltage >= below {
        return (1.0, 0.0);
    }
    if voltage <= 0.0 {
        return (0.0, 0.0);
    }
    let u = voltage / below;
    let u2 = u * u;
    let u4 = u2 * u2;
    // 35 u⁴ − 84 u⁵ + 70 u⁶ − 20 u⁷: slope, curvature and its slope vanish at both ends.
    let t = u4 * (35.0 + u * (-84.0 + u * (70.0 - 20.0 * u)));
    let dt = u2 * u * (140.0 + u * (-420.0 + u * (420.0 - 140.0 * u)));
    (t, dt / below)
}

#[cfg(test)]
mod tests {
    use super::LoadLaw;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn slopes_are_those_of_the_curve(voltage in -1.0..20.0_f64, below in 0.1..5.0_f64) {
            for law in [LoadLaw::Current { amps: 0.5, below }, LoadLaw::Power { watts: 3.0, below }] {
                let d = 1e-6;
                let (high, low) = (law.current(voltage + d).0, law.current(voltage - d).0);
                let (current, slope) = law.current(voltage);
                prop_assert!((slope - (high - low) / (2.0 * d)).abs() < 1e-4 * (1.0 + slope.abs()));
                prop_assert!(current >= 0.0);
            }
        }
    }

    #[test]
    fn a_power_is_whole_above_its_voltage_and_nothing_at_none() {
        let law = LoadLaw::Power {
            watts: 6.0,
            below: 2.0,
        };
        assert_eq!(law.current(12.0).0, 0.5);
        for voltage in [0.0, 1e-300, 1e-160, -3.0] {
            let (current, slope) = law.current(voltage);
            assert!(current.is_finite() && slope.is_finite() && current < 1e-9);
        }
    }
}
