//! What handbooks tabulate of a capacitor-input rectifier, read from a settled cycle.

use crate::published::table::Line;
use crate::supplies::{Built, Feeds, Supply, settle};
use quietrail_checks::Figure;
use quietrail_engine::{Options, Orbit, Probe, math};
use std::f64::consts::PI;

/// Current that counts as conduction, as a share of the peak. With leakage inductance the current starts
/// with its square: at 1e-9 the angle would already be off by 1e-3 degrees.
const CONDUCTS: f64 = 1e-12;

/// Points at which harmonics are sampled in a cycle.
const SAMPLES: u32 = 7200;

/// Readings of one supply, in volts, amperes and degrees.
#[derive(Clone, Debug)]
pub(crate) struct Readings {
    pub(crate) mean: f64,
    pub(crate) valley: f64,
    pub(crate) peak: f64,
    pub(crate) ripple_rms: f64,
    pub(crate) load_mean: f64,
    pub(crate) diode_mean: f64,
    pub(crate) diode_peak: f64,
    pub(crate) diode_rms: f64,
    pub(crate) source_rms: f64,
    pub(crate) capacitor_rms: f64,
    pub(crate) turn_on: f64,
    pub(crate) turn_off: f64,
}

impl Readings {
    /// Solves a supply and reads it.
    pub(crate) fn of(supply: &Supply) -> Self {
        let built = supply.build();
        let system = built.system();
        let orbit = settle(&system, &Options::default());
        Self::read(supply, &built, &orbit)
    }

    /// Reads a settled supply.
    pub(crate) fn read(supply: &Supply, built: &Built, orbit: &Orbit<'_>) -> Self {
        let system = orbit.system();
        let output = built.output(system);
        let diode = system.current(built.diode);
        let diode_peak = orbit.peak(&diode).value;
        let spans = orbit.spans_above(&diode, CONDUCTS * diode_peak);
        let &[(on, off)] = spans.as_slice() else {
            panic!("one pulse a cycle is expected, not {spans:?}");
        };
        let mean = orbit.mean(&output);
        Self {
            mean,
            valley: orbit.valley(&output).value,
            peak: orbit.peak(&output).value,
            ripple_rms: orbit.ripple_rms(&output),
            load_mean: match supply.feeds {
                Feeds::Ohms(ohms) => mean / ohms,
                Feeds::Amps(amps) => amps,
                Feeds::Nothing => 0.0,
            },
            diode_mean: orbit.mean(&diode),
            diode_peak,
            diode_rms: orbit.rms(&diode),
            source_rms: orbit.rms(&system.current(built.source)),
            capacitor_rms: orbit.rms(&system.current(built.reservoir)),
            turn_on: 360.0 * on,
            turn_off: 360.0 * off,
        }
    }

    pub(crate) fn peak_to_peak(&self) -> f64 {
        self.peak - self.valley
    }

    pub(crate) fn ripple_percent(&self) -> f64 {
        100.0 * self.ripple_rms / self.mean
    }

    pub(crate) fn conduction(&self) -> f64 {
        self.turn_off - self.turn_on
    }
}

/// Rms of the n-th harmonic of the mains in a probe.
pub(crate) fn harmonic_rms(orbit: &Orbit<'_>, probe: &Probe, n: u32) -> f64 {
    let (mut sine, mut cosine) = (0.0, 0.0);
    for k in 0..SAMPLES {
        let t = f64::from(k) / f64::from(SAMPLES);
        let angle = 2.0 * PI * f64::from(n) * t;
        let value = orbit.value(probe, t);
        sine += value * math::sin(angle);
        cosine += value * math::cos(angle);
    }
    let count = f64::from(SAMPLES);
    (2.0 * (sine * sine + cosine * cosine)).sqrt() / count
}

/// Figures of a row against ours, for those columns that the row fills.
pub(crate) fn figures(line: &Line<'_>, ours: &[(&str, f64)]) -> Vec<Figure> {
    ours.iter()
        .filter_map(|&(column, got)| {
            let printed = line.figure(column)?;
            let allowed = printed.allowed();
            Some(Figure::relative(column, printed.value, got, allowed))
        })
        .collect()
}
