//! How long a reservoir keeps its charge after switching off.

use net::Net;
use quietrail_engine::math::ln;
use quietrail_job::model::{Job, PartKind};

mod net;

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
    /// What empties it: the resistance between its ends, Ω; absent where there is none.
    pub bleeder: Option<f64>,
    /// Seconds to [`TOUCHABLE`] and to [`QUIET`] through that, with all that hangs on it.
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

/// Charge beyond which a pin counts as hazardous above [`TOUCHABLE`], C: IEC 61010-1, 6.3.1 c, as discussed on the IEEE product-safety
/// list.
const HAZARDOUS: f64 = 45e-6;
/// Energy that sparks, J: our own figure.
const SPARKS: f64 = 0.1;

/// Every capacitor of a job that keeps what is worth knowing of, by what each holds at most, V from its first end to its second:
/// nothing draws, and it empties through what resistors, chokes and wires lead its charge around, all capacitors at once.
pub(crate) fn of(job: &Job, held: &[(String, f64)]) -> Vec<Discharge> {
    let net = Net::of(job, held);
    let emptied = net.emptied();
    let stores = net.stores.iter().zip(emptied);
    stores
        .filter(|(store, _)| store.is_worth_knowing())
        .filter_map(|(store, with)| {
            let PartKind::Capacitor(part) = &job.part(&store.name)?.kind else {
                return None;
            };
            let volts = store.volts.abs();
            let leak = part.leakage.nominal();
            let by_leakage = || {
                let ohms = 1.0 / leak;
                let to = |level| seconds(store.farads, ohms, volts, level);
                (to(TOUCHABLE), to(QUIET))
            };
            let is_slow = volts > QUIET && with.is_none_or(|(_, quiet)| quiet > WAIT);
            let proposed = is_slow.then(|| {
                let ohms = bleeder(net.beside(store), volts, QUIET, WAIT);
                (ohms, volts * volts / ohms)
            });
            Some(Discharge {
                proposed,
                part: store.name.clone(),
                volts,
                joules: 0.5 * store.farads * volts * volts,
                bleeder: with.and_then(|_| net.ohms(store)),
                with,
                without: (leak > 0.0).then(by_leakage),
            })
        })
        .collect()
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
