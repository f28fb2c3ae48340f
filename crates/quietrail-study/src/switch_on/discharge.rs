//! How long a reservoir keeps its charge after switching off.

use quietrail_engine::math::ln;
use quietrail_job::model::{Between, Job, PartKind};

/// Direct voltage that is no longer counted as hazardous in the dry, V: IEC 61010-1:2010, from memory.
pub const TOUCHABLE: f64 = 60.0;
/// A voltage at which a slipping probe no longer makes sparks, V: common practice, no source.
pub const QUIET: f64 = 5.0;

/// A capacitor after switching off.
#[derive(Clone, Debug, PartialEq)]
pub struct Discharge {
    /// `C1`
    pub part: String,
    /// Volts at switching off: the crest at the highest mains, nothing drawing.
    pub volts: f64,
    /// Energy, J.
    pub joules: f64,
    /// What empties it: resistors across it, together, Ω; absent where there is none.
    pub bleeder: Option<f64>,
    /// Seconds to [`TOUCHABLE`] and to [`QUIET`], bleeder in place.
    pub with: Option<(f64, f64)>,
    /// The same by its own leakage alone, where that is given.
    pub without: Option<(f64, f64)>,
    /// A resistor that would bring it to [`QUIET`] in [`WAIT`], and its heat, Ω and W; where nothing that is there does.
    pub proposed: Option<(f64, f64)>,
}

/// As long as it takes to unscrew a lid, s: our own figure.
pub const WAIT: f64 = 60.0;

/// Seconds from one voltage to another through a resistance: `R C ln(V0/V)`.
pub fn seconds(farads: f64, ohms: f64, from: f64, to: f64) -> f64 {
    if from <= to {
        return 0.0;
    }
    farads * ohms * ln(from / to)
}

/// Resistance that empties a capacitor in time.
pub fn bleeder(farads: f64, from: f64, to: f64, seconds: f64) -> f64 {
    seconds / (farads * ln(from / to))
}

/// Every capacitor of a job across which a crest is known: `crests` gives it by name.
pub(crate) fn of(job: &Job, crests: &[(String, f64)]) -> Vec<Discharge> {
    crests
        .iter()
        .filter_map(|(name, volts)| {
            let PartKind::Capacitor(part) = &job.part(name)?.kind else {
                return None;
            };
            let farads = part.value.value.high;
            let siemens: f64 = job
                .parts
                .iter()
                .filter_map(|other| match &other.kind {
                    PartKind::Resistor(of)
                        if is_same(&of.between, &part.between) && of.value.nominal() > 0.0 =>
                    {
                        Some(1.0 / of.value.value.high)
                    }
                    _ => None,
                })
                .sum();
            let times = |ohms: f64| {
                (
                    seconds(farads, ohms, *volts, TOUCHABLE),
                    seconds(farads, ohms, *volts, QUIET),
                )
            };
            let leak = part.leakage.nominal();
            let with = (siemens > 0.0).then(|| times(1.0 / siemens));
            let is_slow = *volts > QUIET && with.is_none_or(|(_, quiet)| quiet > WAIT);
            let proposed = is_slow.then(|| {
                let ohms = bleeder(farads, *volts, QUIET, WAIT);
                (ohms, volts * volts / ohms)
            });
            Some(Discharge {
                proposed,
                part: name.clone(),
                volts: *volts,
                joules: 0.5 * farads * volts * volts,
                bleeder: (siemens > 0.0).then(|| 1.0 / siemens),
                with,
                without: (leak > 0.0).then(|| times(1.0 / leak)),
            })
        })
        .collect()
}

fn is_same(a: &Between, b: &Between) -> bool {
    (a.plus == b.plus && a.minus == b.minus) || (a.plus == b.minus && a.minus == b.plus)
}

#[cfg(test)]
mod tests {
    use super::{bleeder, seconds};

    /// PWR-CAP-16.
    #[test]
    fn a_reservoir_empties_as_the_logarithm_says() {
        assert!((seconds(10e-3, 1e3, 35.0, 5.0) - 19.459_10).abs() < 1e-5);
        assert!((bleeder(10e-3, 35.0, 2.0, 10.0) - 349.3815).abs() < 1e-3);
        assert_eq!(seconds(10e-3, 1e3, 4.0, 5.0), 0.0);
    }
}
