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

/// Share of an input within which a load counts as at rest.
const RESTS: f64 = 1e-3;
/// Voltage at which a load that lets go is looked at next, as a share of the last one: well past the point at which it can
/// neither stay nor come back.
const LETS_GO: f64 = 0.8;
/// Least share of its voltage to which a load that falls is sent at a time.
const FALLS_TO: f64 = 0.5;
/// Largest move at a time of one that fades, as a share of the voltage from which on it is whole.
const FADING: f64 = 0.1;

impl LoadLaw {
    /// Where to look for a load that is not at rest although a step is too short for anything to be stored in it.
    ///
    /// A constant power is a negative resistance. Behind a resistance `R` (the ESR of a capacitor) it holds down to `√(P R)`; there
    /// the branch of answers turns back, and no current near the last one meets the equations any more. What the load does
    /// then is told by the least capacitance across its pins: its voltage falls until it fades enough, and from there it rises
    /// again only where the faded current finds no answer either. So it is looked for on the other side of its steepest.
    pub(crate) fn let_go(&self, at: f64, proposed: f64) -> f64 {
        let LoadLaw::Power { below, .. } = *self else {
            return proposed;
        };
        if (proposed - at).abs() <= RESTS * at.abs().max(below) {
            return proposed;
        }
        if self.current(at).1 < 0.0 {
            LETS_GO * at
        } else {
            below.max(at / LETS_GO)
        }
    }

    /// The voltage at which to linearise after one, on the way of a load that was let go: as that of a small capacitance
    /// across its pins goes, never past where it comes to rest.
    pub(crate) fn on_its_way(&self, at: f64, proposed: f64) -> f64 {
        let LoadLaw::Power { below, .. } = *self else {
            return proposed;
        };
        if at <= 0.0 || proposed >= at.max(below) {
            return proposed;
        }
        if at > below {
            return proposed.max(FALLS_TO * at);
        }
        proposed.clamp(at - FADING * below, at + FADING * below)
    }

    /// As [`LoadLaw::let_go`], of all inputs of a device.
    pub(crate) fn let_go_from(&self, last: &[f64; 3], proposed: &[f64; 3]) -> [f64; 3] {
        [self.let_go(last[0], proposed[0]), proposed[1], proposed[2]]
    }

    /// As [`LoadLaw::on_its_way`], the same.
    pub(crate) fn on_from(&self, last: &[f64; 3], proposed: &[f64; 3]) -> [f64; 3] {
        [
            self.on_its_way(last[0], proposed[0]),
            proposed[1],
            proposed[2],
        ]
    }

    /// The slope along which it is looked for then: as good as a current where it is a negative resistance, so that each
    /// voltage leads on towards where it comes to rest.
    pub(crate) fn slope_on_its_way(slope: f64) -> f64 {
        slope.max(0.0)
    }

    /// By how much more current it draws at a volt more; below zero where a power takes less.
    pub fn slope(&self, voltage: f64) -> f64 {
        self.current(voltage).1
    }

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
