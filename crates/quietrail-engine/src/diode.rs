//! The curve of a diode.

use crate::math;

/// How current and voltage of a diode belong together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DiodeLaw {
    /// `i = Is (exp(vj/nVt) − 1) + G vj`, terminal voltage `vj + R i`.
    Exponential {
        /// Is, A.
        saturation: f64,
        /// n · Vt, V.
        slope_voltage: f64,
        /// R, Ω.
        series: f64,
        /// G, S.
        leakage: f64,
    },
    /// No current below `drop`, `(v − drop)/slope` above it.
    Ideal {
        /// V
        drop: f64,
        /// Ω, 0 allowed.
        slope: f64,
    },
}

/// Conductance of a blocking diode that is given none. It keeps the voltage of a winding between two
/// blocking diodes defined; 1 pA at a volt is far below any current that matters.
pub(crate) const BLOCKING: f64 = 1e-12;

/// Least slope of an ideal diode that conducts, Ω, where eight circuits are solved together. Its own row would have nothing else
/// to pivot on; at an ampere it costs a microvolt. (With a tenth of it, elimination loses so many digits that cycles were lost.)
pub const LEAST_SLOPE: f64 = 1e-6;

/// Largest argument given to exp. At exp(80)·1e-14 A every real diode has long been destroyed; beyond,
/// the curve goes on as a straight line.
pub(crate) const STEEPEST: f64 = 80.0;

impl DiodeLaw {
    /// `i − i(vj)` and its slopes against `(vj, i)`, where `vj` is the junction voltage of an exponential
    /// diode and the terminal voltage of an ideal one.
    pub(crate) fn residual(&self, voltage: f64, current: f64) -> (f64, [f64; 2]) {
        match *self {
            DiodeLaw::Exponential {
                saturation,
                slope_voltage,
                leakage,
                ..
            } => {
                let leakage = leakage.max(BLOCKING);
                let x = voltage / slope_voltage;
                let (law, slope) = if x > STEEPEST {
                    let e = math::exp(STEEPEST);
                    (
                        saturation * (e * (1.0 + x - STEEPEST) - 1.0),
                        saturation * e / slope_voltage,
                    )
                } else {
                    let e = math::exp(x);
                    // exp_m1 where the −1 would cost digits
                    let rise = if x.abs() < 0.5 {
                        math::exp_m1(x)
                    } else {
                        e - 1.0
                    };
                    (saturation * rise, saturation * e / slope_voltage)
                };
                (current - law - leakage * voltage, [-(slope + leakage), 1.0])
            }
            DiodeLaw::Ideal { drop, slope } => {
                let over = voltage - drop;
                if self.conducts(voltage, current) {
                    (over - slope * current, [1.0, -slope])
                } else {
                    (current - BLOCKING * over, [-BLOCKING, 1.0])
                }
            }
        }
    }

    /// Which of its straight lines an ideal diode follows; a curve has one piece, which counts as blocking.
    pub(crate) fn conducts(&self, voltage: f64, current: f64) -> bool {
        match *self {
            DiodeLaw::Exponential { .. } => false,
            // Conducting where voltage beyond the line and current together point forward; 1 Ω makes
            // them comparable and decides only which of two branches is tried first.
            DiodeLaw::Ideal { drop, slope } => voltage - drop - slope * current + current > 0.0,
        }
    }

    /// The junction voltage at which to linearise next, given the last one and the one proposed.
    ///
    /// A proposal far up the exponential is cut to a logarithmic advance; otherwise Newton's method would
    /// overflow or creep back by one `nVt` an iteration.
    pub(crate) fn limit(&self, last: f64, proposed: f64) -> f64 {
        let DiodeLaw::Exponential {
            saturation,
            slope_voltage,
            ..
        } = *self
        else {
            return proposed;
        };
        let critical =
            slope_voltage * math::ln(slope_voltage / (std::f64::consts::SQRT_2 * saturation));
        let advance = proposed - last;
        if proposed <= critical || advance.abs() <= 2.0 * slope_voltage {
            return proposed;
        }
        if last > 0.0 {
            if advance > 0.0 {
                return last + slope_voltage * math::ln_1p(advance / slope_voltage);
            }
            return proposed.max(last - 10.0 * slope_voltage);
        }
        slope_voltage * math::ln_1p(proposed / slope_voltage)
    }

    /// Whether the law has a junction behind a series resistance (so that junction and terminal differ).
    pub(crate) fn series(&self) -> f64 {
        match *self {
            DiodeLaw::Exponential { series, .. } => series,
            DiodeLaw::Ideal { .. } => 0.0,
        }
    }
}
