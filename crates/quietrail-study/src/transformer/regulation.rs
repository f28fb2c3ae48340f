//! How far a secondary falls under load.

use super::{Known, Ranged, RuleBy};
use std::f64::consts::PI;

/// A secondary that carries all the volt-amperes that are known, into a resistor.
#[derive(Clone, Debug, PartialEq)]
pub struct Regulation {
    /// The winding.
    pub winding: String,
    /// What it carries, VA, and what says so.
    pub volt_amperes: f64,
    /// What says so.
    pub by: VoltAmperesBy,
    /// Amperes: those volt-amperes over its off-load volts.
    pub amps: f64,
    /// Volts under that.
    pub volts: Ranged,
    /// `(off load − loaded) / loaded`, a share.
    pub share: Ranged,
}

/// What volt-amperes are known from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VoltAmperesBy {
    /// The hot run.
    HotRun,
    /// A rule for the core: a guide.
    Rule(RuleBy),
}

/// Volts of a winding across a resistor: `open R / |R + r + jx|`.
pub fn loaded_volts(open: f64, ohms: f64, reactance: f64, load: f64) -> f64 {
    open * load / (load + ohms).hypot(reactance)
}

/// Regulation: `(off load − loaded) / loaded`.
pub fn regulation_of(open: f64, loaded: f64) -> f64 {
    (open - loaded) / loaded
}

/// Room for errors of the readings, and rms over mean of what a rectifier takes: 1.3 in current.
const ROOM: (f64, f64) = (0.8, 1.3 * 1.3);

/// Heat in all copper at a temperature that some volt-amperes make: spread over the secondaries so that it is least, and all on
/// the one where it is most, W.
pub(super) fn heat_between(known: &Known, volt_amperes: f64, celsius: f64) -> Option<(f64, f64)> {
    let hot =
        crate::lower::copper_resistance(celsius) / crate::lower::copper_resistance(known.copper);
    let (mut siemens, mut most, mut primary) = (0.0, 0.0_f64, 0.0_f64);
    for winding in known.windings.iter().filter(|winding| !winding.is_primary) {
        let source = winding.source.as_ref().filter(|source| source.is_told)?;
        if !winding.open.is_told || !winding.ohms.is_told {
            return None;
        }
        let square = winding.open.value.powi(2);
        siemens += square / winding.ohms.value.max(1e-6);
        most = most.max(source.high / square);
        primary = primary.max((source.value - winding.ohms.value).max(0.0) / square);
    }
    (siemens > 0.0).then(|| {
        let square = volt_amperes * volt_amperes * hot;
        (
            ROOM.0 * square * (primary + 1.0 / siemens),
            ROOM.1 * square * most,
        )
    })
}

pub(super) fn of(known: &Known) -> Vec<Regulation> {
    let from_run = known.hot.as_ref().and_then(|hot| hot.volt_amperes.as_ref());
    let (volt_amperes, by) = match (from_run, known.core_rules.first()) {
        (Some(run), _) => (run.value, VoltAmperesBy::HotRun),
        (None, Some(rule)) => (rule.volt_amperes, VoltAmperesBy::Rule(rule.by)),
        (None, None) => return Vec::new(),
    };
    known
        .windings
        .iter()
        .filter_map(|winding| {
            let source = winding.source.as_ref().filter(|source| source.is_told)?;
            if !winding.open.is_told || winding.open.value <= 0.0 {
                return None;
            }
            let leakage = winding.leakage.as_ref().filter(|leakage| leakage.is_told);
            let open = winding.open.value;
            let amps = volt_amperes / open;
            let under = |ohms: f64, henries: f64| {
                let reactance = 2.0 * PI * known.mains.1 * henries;
                loaded_volts(open, ohms, reactance, open / amps)
            };
            let of = |pick: fn(&Ranged) -> f64| leakage.map_or(0.0, pick);
            let value = under(source.value, of(|leakage| leakage.value));
            let most = under(source.low, of(|leakage| leakage.low));
            let least = under(source.high, of(|leakage| leakage.high));
            let ranged = |value: f64, low: f64, high: f64| Ranged {
                value,
                low,
                high,
                is_told: true,
            };
            Some(Regulation {
                winding: winding.name.clone(),
                volt_amperes,
                by,
                amps,
                volts: ranged(value, least, most),
                share: ranged(
                    regulation_of(open, value),
                    regulation_of(open, most),
                    regulation_of(open, least),
                ),
            })
        })
        .collect()
}
