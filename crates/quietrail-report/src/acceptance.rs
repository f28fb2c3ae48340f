//! An oscillator's acceptance, for a terminal and as data.

use crate::json::FORMAT;
use crate::lines::joined;
use crate::verdicts::{printable, wrapped};
use crate::words::acceptance as words;
use crate::{Style, number};
use quietrail_bench::accept::{Accepted, worst};
use quietrail_bench::decide::Shown;
use serde_json::{Value, json};

/// One paragraph for each line of the data sheet, and the count.
pub fn text(all: &[Accepted], style: Style) -> String {
    let inset = |text: &str| -> Vec<String> {
        let text = number::spaced(&printable(text));
        wrapped(&text, style.columns().saturating_sub(2))
            .into_iter()
            .enumerate()
            .map(|(index, line)| format!("{:1$}{line}", "", if index == 0 { 2 } else { 4 }))
            .collect()
    };
    let mut out = vec![words::HEAD.to_owned()];
    for one in all {
        out.extend(inset(&words::paragraph(one)));
    }
    out.extend(wrapped(words::HONEST, style.columns()));
    out.push(words::count(all));
    joined(out)
}

/// The same as data. SI and decibels; bounds that are not there are left out.
pub fn to_json(job: &str, oscillator: &str, all: &[Accepted]) -> Value {
    let finite = |value: f64| value.is_finite().then_some(value);
    let lines: Vec<Value> = all
        .iter()
        .map(|one| {
            json!({
                "line": number::spaced(&words::line(one.line)),
                "min": one.min,
                "max": one.max,
                "value": one.value.and_then(finite),
                "low": finite(one.low),
                "high": finite(one.high),
                "at_hz": one.at,
                "measured": crate::words::readings::shown(one.shown),
                "why": number::spaced(&words::why(one)),
                "rows": one.rows,
            })
        })
        .collect();
    json!({ "format": FORMAT, "job": job, "oscillator": oscillator, "lines": lines })
}

/// 0 all held, 1 one failed, 3 something not shown.
pub fn exit_status(all: &[Accepted]) -> u8 {
    match worst(all) {
        Some(Shown::Fails) => 1,
        Some(Shown::NotShown) => 3,
        Some(Shown::Holds) | None => 0,
    }
}
