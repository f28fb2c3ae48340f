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
                let (t, dt) = taper(voltage, below);
                (
                    watts * t / voltage,
                    watts * (dt / voltage - t / (voltage * voltage)),
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
