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

/// What is said of causes, a paragraph each.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Told {
    /// What the causes explain.
    pub head: String,
    /// Each cause, and what would be read with it.
    pub causes: Vec<(String, String)>,
    /// What tells them apart, and what it would be with each.
    pub apart: Vec<(String, Vec<String>)>,
    /// What else is to be said.
    pub last: Vec<&'static str>,
}

/// What is said of causes.
pub fn told(found: &Causes) -> Told {
    let (tried, unsolved) = (found.tried, found.unsolved);
    let head = if found.fitting.is_empty() {
        words::nearest(&found.step, tried, unsolved)
    } else {
        words::fitting(&found.step, found.evidence.len(), tried, unsolved)
    };
    let all = found.fitting.iter().chain(&found.nearest);
    let causes = all.map(|cause| (words::suspect(&cause.suspect), reads(found, cause)));
    let with = |values: &[Option<f64>], written: &dyn Fn(f64) -> String| -> Vec<String> {
        let pairs = found.fitting.iter().zip(values);
        let told = pairs.filter_map(|(cause, value)| {
            let with = words::suspect(&cause.suspect);
            Some(words::would_be(&written((*value)?), &with))
        });
        told.collect()
    };
    let hum = found.hum.as_ref().map(|hum| {
        let written = |hertz: f64| number::written(hertz, "Hz");
        (words::hum(&hum.of), with(&hum.hertz, &written))
    });
    let next = found.next.as_ref().map(|next| {
        let written = |value: f64| number::si(value, next.unit, DIGITS);
        let head = words::next(&next.of, bringup::observed(next.what));
        (head, with(&next.reads, &written))
    });
    let apart: Vec<(String, Vec<String>)> = hum.into_iter().chain(next).collect();
    let is_alike = found.fitting.len() > 1 && apart.is_empty();
    let last = is_alike.then_some(words::ALIKE).into_iter();
    let last = last.chain(found.mains.is_none().then_some(words::NO_MAINS));
    Told {
        head,
        causes: causes.collect(),
        apart,
        last: last.chain([words::HONEST]).collect(),
    }
}

/// Causes beside each other: what heads the columns, and a row for each cause.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// The cause, each reading, then what tells causes apart.
    pub head: Vec<String>,
    /// As many cells; what has no value is empty.
    pub rows: Vec<Vec<String>>,
}

/// The same as a table.
pub fn table(found: &Causes) -> Table {
    let written = |value: Option<f64>, unit: &str| {
        value.map_or_else(String::new, |value| number::si(value, unit, DIGITS))
    };
    let of = |of: &str, what| format!("{of} {}", bringup::observed(what));
    let mut head = vec![words::CAUSE.to_owned()];
    let read = found.evidence.iter().map(|one| {
        let value = number::si(one.value, one.unit, DIGITS);
        words::was_read(&of(&one.of, one.what), &value)
    });
    head.extend(read);
    head.extend(found.hum.iter().map(|hum| words::hum_of(&hum.of)));
    let next = found.next.as_ref();
    head.extend(next.map(|next| words::next_of(&of(&next.of, next.what))));
    let row = |(k, cause): (usize, &Cause)| {
        let mut cells = vec![words::suspect(&cause.suspect)];
        let pairs = found.evidence.iter().zip(&cause.reads);
        cells.extend(pairs.map(|(one, value)| written(*value, one.unit)));
        let hertz = found
            .hum
            .iter()
            .map(|hum| hum.hertz.get(k).copied().flatten());
        let hertz = hertz.map(|hertz| hertz.map(|hertz| number::written(hertz, "Hz")));
        cells.extend(hertz.map(Option::unwrap_or_default));
        cells.extend(next.map(|next| written(next.reads.get(k).copied().flatten(), next.unit)));
        cells
    };
    let all = found.fitting.iter().chain(&found.nearest).enumerate();
    Table {
        rows: all.map(row).collect(),
        head,
    }
}

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
    let told = told(found);
    say(&told.head, 0);
    for (cause, reads) in &told.causes {
        say(cause, INSET);
        say(reads, FURTHER);
    }
    for (head, with) in &told.apart {
        say(head, 0);
        for one in with {
            say(one, INSET);
        }
    }
    for one in told.last {
        say(one, 0);
    }
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
