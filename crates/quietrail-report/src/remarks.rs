//! What was found about regulators beside the limits, as text and as data.

use crate::number;
use crate::regulators::{of_adjust_diode, of_capacitor, of_diode, of_ring};
use crate::words::remarks as words;
use quietrail_study::finding::{About, Remark};
use serde_json::{Value, json};

/// A remark in a sentence.
pub fn told(remark: &Remark) -> String {
    let part = remark.part.as_str();
    let volts = |volts: f64| number::si(volts, "V", 3);
    let amps = |amps: f64| number::si(amps, "A", 3);
    let plain = |said: String| said.trim_start_matches("FAILS: ").to_owned();
    match &remark.about {
        About::LimitBelowLoad {
            state,
            asked,
            limit,
        } => words::limit(part, &amps(*limit), &amps(*asked), state),
        About::NeverStarts {
            state,
            mains,
            ends,
            is_corner,
        } => {
            let mains = number::written(*mains, "V");
            words::never_starts(part, state, &mains, &volts(*ends), *is_corner)
        }
        About::OutputCapacitor(capacitor) => words::of(part, &plain(of_capacitor(capacitor))),
        About::Rang(rang) => words::of(part, &plain(of_ring(rang))),
        About::Diode(diode) => words::of(part, &of_diode(diode)),
        About::AdjustDiode(diode) => words::of(part, &of_adjust_diode(diode)),
        About::MayNotReach { to, sure } => {
            let sure = (sure.0 <= sure.1).then(|| (volts(sure.0), volts(sure.1)));
            let sure = sure
                .as_ref()
                .map(|(low, high)| (low.as_str(), high.as_str()));
            words::may_not_reach(part, &volts(*to), sure)
        }
    }
}

/// Its word for scripts.
fn kind(about: &About) -> &'static str {
    match about {
        About::LimitBelowLoad { .. } => "limit below load",
        About::NeverStarts { .. } => "never starts",
        About::OutputCapacitor(_) => "output capacitor",
        About::Rang(_) => "rang",
        About::MayNotReach { .. } => "may not reach",
        About::Diode(_) => "diode",
        About::AdjustDiode(_) => "adjust diode",
    }
}

/// As data.
pub(crate) fn to_json(remark: &Remark) -> Value {
    json!({
        "part": remark.part,
        "kind": kind(&remark.about),
        "fails": remark.about.fails(),
        "said": number::spaced(&told(remark)),
    })
}
