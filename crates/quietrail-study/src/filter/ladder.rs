//! Stages in a row as their small signals: gain, impedance, peak, corner, damper.

use crate::level::decibels;
use quietrail_engine::complex::Complex;
use quietrail_units::series::Series;
use std::f64::consts::PI;

/// A series part with what stands behind it to the return.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stage {
    /// Series resistance, Ω.
    pub ohms: f64,
    /// Series inductance, H; none for a resistor.
    pub henries: f64,
    /// Resistors across both, Ω.
    pub across: Vec<f64>,
    /// Capacitors with their series resistance, F and Ω.
    pub shunts: Vec<(f64, f64)>,
    /// Resistors to the return, Ω.
    pub bleeders: Vec<f64>,
    /// What leads on from there and is not on the way.
    pub beside: Vec<Stage>,
}

/// Stages in a row behind a source without resistance.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder(
    /// From the source on; one at least.
    pub Vec<Stage>,
);

/// A resistor and a capacitor in series, beside the capacitor of a filter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Damper {
    /// Its capacitor, F.
    pub farads: f64,
    /// Its resistor, Ω.
    pub ohms: f64,
    /// Highest gain with it, dB.
    pub peak: f64,
}

/// Points per decade at which peaks are looked for, before they are closed in on.
const POINTS: f64 = 60.0;
/// Decades beyond the corners in which they are looked for.
const DECADES: f64 = 3.0;
/// Times the capacitor of a filter that a damper's is.
const DAMPER: f64 = 4.0;

impl Stage {
    /// Its series impedance, Ω.
    fn series(&self, turn: f64) -> Complex {
        let own = Complex::new(self.ohms, turn * self.henries);
        let across = self.siemens_across();
        // Z/(1 + Z G)
        own / (Complex::ONE + own * across)
    }

    /// What a direct current meets, Ω.
    pub fn direct(&self) -> f64 {
        self.ohms / (1.0 + self.ohms * self.siemens_across())
    }

    fn siemens_across(&self) -> f64 {
        self.across.iter().map(|ohms| 1.0 / ohms).sum()
    }

    /// Admittance to the return of all that hangs behind its series part, S.
    fn shunt(&self, turn: f64) -> Complex {
        let mut all = Complex::ZERO;
        for (farads, ohms) in &self.shunts {
            all += Complex::ONE / Complex::new(*ohms, -1.0 / (turn * farads));
        }
        for ohms in &self.bleeders {
            all += Complex::real(1.0 / ohms);
        }
        for stage in &self.beside {
            // Y/(1 + Z Y): nothing where nothing hangs behind it.
            let behind = stage.shunt(turn);
            all += behind / (Complex::ONE + stage.series(turn) * behind);
        }
        all
    }

    /// Its capacitance, F.
    fn farads(&self) -> f64 {
        self.shunts.iter().map(|(farads, _)| farads).sum()
    }

    /// `1/(2π√(LC))`, or `1/(2πRC)`.
    fn corner(&self) -> f64 {
        if self.henries > 0.0 {
            1.0 / (2.0 * PI * (self.henries * self.farads()).sqrt())
        } else {
            1.0 / (2.0 * PI * self.direct() * self.farads())
        }
    }
}

impl Ladder {
    /// Output over input at a frequency, nothing drawn, as a ratio; and the impedance that a load sees, Ω.
    pub fn at(&self, hertz: f64) -> (f64, f64) {
        let turn = 2.0 * PI * hertz;
        // Source and impedance as seen from each node on the way (Thévenin).
        let (mut gain, mut impedance) = (Complex::ONE, Complex::ZERO);
        for stage in &self.0 {
            let from = impedance + stage.series(turn);
            let whole = Complex::ONE + from * stage.shunt(turn);
            gain = gain / whole;
            impedance = from / whole;
        }
        (gain.size(), impedance.size())
    }

    /// Corners of its stages, lowest and highest, Hz; leads with nothing behind them have none.
    fn corners(&self) -> (f64, f64) {
        let own = self.0.iter().map(Stage::corner);
        let all = own.filter(|corner| corner.is_finite());
        all.fold((f64::INFINITY, 0.0), |(low, high), corner| {
            (low.min(corner), high.max(corner))
        })
    }

    /// Frequency from which it works: of a single stage `1/(2π√(LC))` or `1/(2πRC)`; of several, above which 3 dB are gone for
    /// good.
    pub fn corner(&self) -> f64 {
        if let [only] = self.0.as_slice() {
            return only.corner();
        }
        let (lowest, highest) = self.corners();
        let gone = |hertz: f64| self.at(hertz).0 < std::f64::consts::FRAC_1_SQRT_2;
        let (mut low, mut high) = (lowest * 1e-3, highest * 1e3);
        let step = 10.0_f64.powf(1.0 / POINTS);
        // Down from where all is gone: with series resistances in its capacitors it may come back further up.
        while !gone(high) && high > low {
            high /= step;
        }
        while gone(high / step) && high > low {
            high /= step;
        }
        low = low.max(high / step);
        for _ in 0..60 {
            let middle = (low * high).sqrt();
            if gone(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        high
    }

    /// Where a figure is highest, Hz, and the figure.
    fn highest(&self, figure: impl Fn(f64) -> f64) -> (f64, f64) {
        let (lowest, highest) = self.corners();
        let decades = 2.0 * DECADES + (highest / lowest).log10();
        let steps = (decades * POINTS).ceil() as i32;
        let hertz = |step: f64| lowest * 10.0_f64.powf(step / POINTS - DECADES);
        let best = (0..=steps)
            .map(f64::from)
            .max_by(|a, b| figure(hertz(*a)).total_cmp(&figure(hertz(*b))))
            .unwrap_or(0.0);
        let (mut low, mut high) = (best - 1.0, best + 1.0);
        for _ in 0..80 {
            let third = (high - low) / 3.0;
            if figure(hertz(low + third)) < figure(hertz(high - third)) {
                low += third;
            } else {
                high -= third;
            }
        }
        let at = hertz(0.5 * (low + high));
        (at, figure(at))
    }

    /// Highest gain, dB, and where, Hz.
    pub fn peak(&self) -> (f64, f64) {
        let (hertz, gain) = self.highest(|hertz| self.at(hertz).0);
        (decibels(gain), hertz)
    }

    /// Highest impedance that a load sees, Ω, and where, Hz.
    pub fn impedance(&self) -> (f64, f64) {
        let (hertz, ohms) = self.highest(|hertz| self.at(hertz).1);
        // Resistors are highest at no frequency at all.
        let direct: f64 = self.0.iter().map(Stage::direct).sum();
        if ohms > direct {
            (ohms, hertz)
        } else {
            (direct, 0.0)
        }
    }

    /// The damper of preferred values with four times the capacitance of the last stage, which is a choke's.
    ///
    /// The resistor is the best for its capacitor, `R₀ √((2+n)(4+3n)/(2n²(4+n)))` with `n` times the capacitance and
    /// `R₀ = √(L/C)` (R. W. Erickson, Optimal Single Resistor Damping of Input Filters, for parallel R and C).
    pub fn damper(&self) -> Option<Damper> {
        let last = self.0.last().filter(|stage| stage.henries > 0.0)?;
        let farads = Series::E6.nearest(DAMPER * last.farads())?;
        let times = farads / last.farads();
        let ohms =
            Series::E12.nearest(best_resistor(times) * (last.henries / last.farads()).sqrt())?;
        let mut with = self.clone();
        with.0.last_mut()?.shunts.push((farads, ohms));
        Some(Damper {
            farads,
            ohms,
            peak: with.peak().0.max(0.0),
        })
    }
}

/// The best resistor of a damper over √(L/C), for so many times the capacitance.
pub fn best_resistor(times: f64) -> f64 {
    let n = times;
    ((2.0 + n) * (4.0 + 3.0 * n) / (2.0 * n * n * (4.0 + n))).sqrt()
}
