//! What was found beside the limits, as text and as data.

use crate::diagnostics::place;
use crate::number;
use crate::regulators::{of_adjust_diode, of_capacitor, of_diode, of_ring};
use crate::words::remarks as words;
use quietrail_job::model::Span;
use quietrail_job::place_of;
use quietrail_study::finding::{About, Remark};
use serde_json::{Value, json};

/// The job file that remarks point into.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// As it is called.
    pub path: &'a str,
    /// What stands in it.
    pub text: &'a str,
}

impl Source<'_> {
    /// Where a remark points to: address and place of the nearest key that the text has.
    fn place(&self, remark: &Remark) -> Option<(String, Span)> {
        let mut all = remark.written_at().into_iter();
        all.find_map(|address| Some((address.clone(), place_of(self.text, &address)?)))
    }
}

/// The line that a remark is about, with a mark under the key; empty where the text has none.
pub fn marked(remark: &Remark, source: Source<'_>, columns: usize) -> Vec<String> {
    let Some((address, span)) = source.place(remark) else {
        return Vec::new();
    };
    let is_from_catalogue = address.ends_with(".part");
    let label = label(&remark.about, is_from_catalogue);
    crate::diagnostics::marked((source.path, source.text), &span, &label, columns)
}

/// What stands beside the mark.
fn label(about: &About, is_from_catalogue: bool) -> String {
    let amps = |amps: f64| number::in_hand(amps, "A");
    match about {
        About::LimitBelowLoad { limit, .. } => words::at_limit(&amps(*limit), is_from_catalogue),
        About::NeverStarts { .. } => words::at_foldback(is_from_catalogue).to_owned(),
        About::OutputCapacitor(_) => words::AT_WINDOW.to_owned(),
        About::Rang(_) => words::AT_SWINGS.to_owned(),
        About::MayNotReach { .. } => words::AT_TARGET.to_owned(),
        About::Diode(_) | About::AdjustDiode(_) => words::AT_BACKWARDS.to_owned(),
        About::CoreCurrent(_) => words::AT_CORE.to_owned(),
        About::Backwards(_) => words::AT_ENDS.to_owned(),
    }
}

/// A remark in a sentence.
pub fn told(remark: &Remark) -> String {
    let part = remark.part.as_str();
    let volts = |volts: f64| number::in_hand(volts, "V");
    let amps = |amps: f64| number::in_hand(amps, "A");
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
        About::CoreCurrent(core) => {
            words::core(part, &amps(core.amps), &core.state, &amps(core.no_load))
        }
        About::Backwards(found) => {
            let ends = (found.ends.0.as_str(), found.ends.1.as_str());
            words::backwards(part, (&volts(found.volts), &found.state), ends, found.polar)
        }
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
        About::CoreCurrent(_) => "core current",
        About::Backwards(_) => "backwards",
    }
}

/// As data.
pub(crate) fn to_json(remark: &Remark, source: Option<Source<'_>>) -> Value {
    let placed = source.and_then(|source| Some((source, source.place(remark)?)));
    let at = placed.as_ref().map(|(source, (address, span))| {
        json!({
            "file": source.path,
            "key": address,
            "span": [span.start, span.end],
            "at": place(Some(source.text), span),
        })
    });
    json!({
        "where": at,
        "part": remark.part,
        "kind": kind(&remark.about),
        "fails": remark.about.fails(),
        "said": number::spaced(&told(remark)),
    })
}
