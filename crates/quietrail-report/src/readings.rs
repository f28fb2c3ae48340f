//! What readings prove, in a terminal and as data.

use crate::lines::indented;
use crate::verdicts::printable;
use crate::words::{bringup, readings as words};
use crate::{Style, number};
use quietrail_bench::judge::{Prospect, Way};
use quietrail_study::gate::Lock;
use quietrail_study::measured::{Judged, Showable};
use serde_json::{Value, json};

/// One paragraph for each limit that has readings: verdict, value with its bounds, why, and what would show it.
pub fn lines(judged: &[Judged], style: Style) -> Vec<String> {
    if judged.is_empty() {
        return Vec::new();
    }
    let mut out = vec![words::HEAD.to_owned()];
    for one in judged {
        out.extend(inset(&words::judged(one), style.columns()));
    }
    out
}

/// What was read in the steps of the bring-up and is not in order, if anything.
pub fn misfits(locks: &[Lock], style: Style) -> Vec<String> {
    if locks.is_empty() {
        return Vec::new();
    }
    let mut out = vec![words::MISFITS.to_owned()];
    out.extend(inset(&bringup::locked(locks), style.columns()));
    out
}

/// One paragraph for each limit: whether the bench can show it.
pub fn prospects(all: &[Showable], style: Style) -> Vec<String> {
    let mut out = vec![words::CAN_HEAD.to_owned()];
    for one in all {
        out.extend(inset(&words::showable(one), style.columns()));
    }
    out
}

/// The same for one reading that was just kept.
pub fn one(judged: &Judged) -> String {
    number::spaced(&printable(&words::judged(judged)))
}

fn inset(text: &str, columns: usize) -> Vec<String> {
    indented(&number::spaced(&printable(text)), columns)
}

/// Readings as data: a list for the JSON of `prove`.
pub fn json(judged: &[Judged]) -> Value {
    judged.iter().map(judged_json).collect()
}

/// What was read in the steps of the bring-up and is not in order, as data.
pub fn misfits_json(locks: &[Lock]) -> Value {
    locks.iter().map(crate::bringup::lock_json).collect()
}

pub(crate) fn judged_json(one: &Judged) -> Value {
    let judgement = &one.judgement;
    json!({
        "limit": one.limit,
        "state": one.state,
        "measured": words::shown(judgement.shown),
        "value": judgement.value,
        "low": finite(judgement.low),
        "high": finite(judgement.high),
        "unit": one.unit,
        "why": number::spaced(&words::why(&judgement.why, one)),
        "rows": judgement.rows,
        "mains": judgement.mains,
        "mains_left": one.mains_left.map(|(low, high)| [low, high]),
        "locked_step": one.held.as_ref().map(|held| &held.step),
        "was_locked": one.held.as_ref().is_some_and(|held| held.was_locked),
        "regardless": one.regardless.iter().map(|(row, _)| row).collect::<Vec<_>>(),
        "taken": judgement.taken.iter().map(|taken| number::spaced(&words::taken(*taken, one.unit))).collect::<Vec<_>>(),
        "would_show": one.easier.as_ref().map(prospect_json),
    })
}

/// Prospects as data.
pub fn prospects_json(all: &[Showable]) -> Value {
    all.iter()
        .map(|one| {
            json!({
                "limit": one.limit,
                "state": one.state,
                "expected": one.expected,
                "unit": one.unit,
                "prospect": prospect_json(&one.prospect),
            })
        })
        .collect()
}

fn prospect_json(prospect: &Prospect) -> Value {
    match prospect {
        Prospect::Can(way) => json!({ "can": true, "way": way_json(way) }),
        Prospect::Cannot { closest, needs } => json!({
            "can": false,
            "closest": closest.as_ref().map(way_json),
            "needs": finite(*needs),
        }),
        Prospect::NotMet => json!({ "can": false, "not_met": true }),
        Prospect::NoInstrument => json!({ "can": false, "no_instrument": true }),
    }
}

fn way_json(way: &Way) -> Value {
    json!({
        "instrument": way.instrument,
        "range": way.range,
        "through": way.through,
        "band": way.narrowed.map(|(low, high)| [low, high]),
        "averages": way.averages,
        "repeats": way.repeats,
        "floor": way.floor,
        "bound": finite(way.bound),
    })
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
