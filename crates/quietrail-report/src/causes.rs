//! What could be wrong where readings of a bring-up step do not fit, as text and as data.

use crate::verdicts::{printable, wrapped};
use crate::words::{bringup, causes as words, faults};
use crate::{Style, number};
use quietrail_study::bringup::{Cause, Causes, Suspect};
use serde_json::{Value, json};

/// Where causes begin, and what they would read.
const INSET: usize = 2;
const FURTHER: usize = 6;
/// Digits of what would be read: parts as marked are not known to more.
const DIGITS: usize = 3;

/// The answer to `bringup --why`; of a step without anything to look into, that.
pub fn text(step: &str, found: Option<&Causes>, style: Style) -> String {
    let columns = style.columns();
    let Some(found) = found else {
        return joined(&wrapped(&printable(&words::nothing_outside(step)), columns));
    };
    let mut out = Vec::new();
    let mut say = |text: &str, inset: usize| {
        let lines = wrapped(&printable(text), columns.saturating_sub(inset));
        out.extend(lines.into_iter().map(|line| format!("{:inset$}{line}", "")));
    };
    let (tried, unsolved) = (found.tried, found.unsolved);
    let head = if found.fitting.is_empty() {
        words::nearest(step, tried, unsolved)
    } else {
        words::fitting(step, found.evidence.len(), tried, unsolved)
    };
    say(&head, 0);
    for cause in found.fitting.iter().chain(&found.nearest) {
        say(&words::suspect(&cause.suspect), INSET);
        say(&reads(found, cause), FURTHER);
    }
    if let Some(hum) = &found.hum {
        say(&words::hum(&hum.of), 0);
        for (cause, hertz) in found.fitting.iter().zip(&hum.hertz) {
            if let Some(hertz) = hertz {
                let hertz = number::written(*hertz, "Hz");
                say(
                    &words::would_be(&hertz, &words::suspect(&cause.suspect)),
                    INSET,
                );
            }
        }
    }
    if let Some(next) = &found.next {
        say(&words::next(&next.of, bringup::observed(next.what)), 0);
        for (cause, value) in found.fitting.iter().zip(&next.reads) {
            if let Some(value) = value {
                let value = number::si(*value, next.unit, DIGITS);
                say(
                    &words::would_be(&value, &words::suspect(&cause.suspect)),
                    INSET,
                );
            }
        }
    } else if found.fitting.len() > 1 && found.hum.is_none() {
        say(words::ALIKE, 0);
    }
    if found.mains.is_none() {
        say(words::NO_MAINS, 0);
    }
    say(words::HONEST, 0);
    joined(&out)
}

fn joined(lines: &[String]) -> String {
    number::spaced(&lines.join("\n")) + "\n"
}

/// What each reading would be with a cause.
fn reads(found: &Causes, cause: &Cause) -> String {
    let pairs = found.evidence.iter().zip(&cause.reads);
    let told = pairs.filter_map(|(evidence, value)| {
        let written = |value: f64| number::si(value, evidence.unit, DIGITS);
        Some(words::reads(
            &evidence.of,
            bringup::observed(evidence.what),
            &written((*value)?),
            &written(evidence.value),
        ))
    });
    told.collect::<Vec<_>>().join(", ")
}

/// The same as data; `null` where there is nothing to look into.
pub fn json(found: Option<&Causes>) -> Value {
    let Some(found) = found else {
        return Value::Null;
    };
    json!({
        "step": found.step,
        "mains": found.mains,
        "readings": found.evidence.iter().map(|one| json!({
            "of": one.of,
            "what": bringup::observed(one.what),
            "value": one.value,
            "unit": one.unit,
            "outside": one.is_outside,
        })).collect::<Vec<_>>(),
        "fitting": found.fitting.iter().map(cause_json).collect::<Vec<_>>(),
        "nearest": found.nearest.iter().map(cause_json).collect::<Vec<_>>(),
        "tried": found.tried,
        "not_settled": found.unsolved,
        "hum": found.hum.as_ref().map(|hum| json!({
            "of": hum.of,
            "hertz": hum.hertz,
        })),
        "next": found.next.as_ref().map(|next| json!({
            "of": next.of,
            "what": bringup::observed(next.what),
            "unit": next.unit,
            "reads": next.reads,
        })),
    })
}

fn cause_json(cause: &Cause) -> Value {
    let (part, kind) = match &cause.suspect {
        Suspect::Fault(fault) => (Some(fault.part.as_str()), faults::key(fault.kind)),
        Suspect::Dried { part, .. } => (Some(part.as_str()), "dried"),
        Suspect::NoDummy(..) => (None, "no dummy"),
    };
    json!({
        "cause": number::spaced(&words::suspect(&cause.suspect)),
        "part": part,
        "kind": kind,
        "reads": cause.reads,
        "off": cause.off,
    })
}
