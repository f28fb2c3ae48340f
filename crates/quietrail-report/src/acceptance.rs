//! An oscillator's acceptance, for a terminal and as data.

use crate::json::FORMAT;
use crate::lines::{indented, joined};
use crate::verdicts::{printable, wrapped};
use crate::words::acceptance as words;
use crate::{Style, number};
use quietrail_bench::accept::{Accepted, worst};
use quietrail_bench::decide::Shown;
use quietrail_bench::log::Observed;
use quietrail_job::model::Instrument;
use quietrail_study::bringup::{function_of, reads};
use serde_json::{Value, json};

/// The oscillator and the bench that what is wanting is said for.
#[derive(Clone, Copy)]
pub struct Of<'a> {
    /// Name of the oscillator.
    pub name: &'a str,
    /// Its carrier, Hz.
    pub hertz: f64,
    /// Instruments of the job.
    pub instruments: &'a [Instrument],
}

impl Of<'_> {
    /// What was said with its placeholders filled: the oscillator by its name, an instrument that reads the line far enough.
    fn filled(&self, one: &Accepted, said: &str) -> String {
        let said = said.replace(words::NAME, &word(self.name));
        let said = match words::looked_at(one.line, self.hertz) {
            Some(hertz) => said.replace(words::FREQUENCY, &words::exactly(hertz)),
            None => said,
        };
        if !said.contains(words::INSTRUMENT) {
            return said;
        }
        let Some(what) = words::read_by_hand(one.line) else {
            return said;
        };
        // Levels and shares have no ranges; a current has to fit one.
        let most = one.max.filter(|_| what == Observed::WarmUpCurrent);
        let reaches = |instrument: &&Instrument| {
            let ranges = function_of(instrument, what).map(|function| function.ranges.as_slice());
            let far = |most: f64| ranges.is_some_and(|all| all.iter().any(|one| one.full >= most));
            reads(instrument, what) && most.is_none_or(far)
        };
        match self.instruments.iter().find(reaches) {
            Some(found) => said.replace(words::INSTRUMENT, &word(&found.name)),
            None => {
                let end = said.strip_suffix('.').unwrap_or(&said);
                format!("{end}.{}.", words::none_reads(what, most))
            }
        }
    }
}

/// What is said of a log, for a terminal: sentences wrapped, lines of the table as they are.
pub fn of_log(lines: &[String], style: Style) -> String {
    let folded = lines.iter().flat_map(|line| {
        if line.starts_with(' ') {
            return vec![line.clone()];
        }
        wrapped(line, style.columns())
    });
    folded.map(|line| line + "\n").collect()
}

/// A name as a word of a command line.
fn word(name: &str) -> String {
    if name.contains(' ') {
        format!("\"{name}\"")
    } else {
        name.to_owned()
    }
}

/// One paragraph for each line of the data sheet, and the count.
pub fn text(of: Of<'_>, all: &[Accepted], style: Style) -> String {
    let inset = |text: &str| indented(&number::spaced(&printable(text)), style.columns());
    let mut out = vec![words::HEAD.to_owned()];
    for one in all {
        out.extend(inset(&of.filled(one, &words::paragraph(one))));
    }
    out.extend(wrapped(words::HONEST, style.columns()));
    out.push(words::count(all));
    joined(out)
}

/// One line of the data sheet, as it stands.
pub fn one(of: Of<'_>, line: &Accepted) -> String {
    number::spaced(&printable(&of.filled(line, &words::paragraph(line))))
}

/// The same as data. SI and decibels; bounds that are not there are left out.
pub fn to_json(job: &str, of: Of<'_>, all: &[Accepted]) -> Value {
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
                "why": number::spaced(&of.filled(one, &words::why(one))),
                "rows": one.rows,
            })
        })
        .collect();
    json!({ "format": FORMAT, "job": job, "oscillator": of.name, "lines": lines })
}

/// 0 all held, 1 one failed, 3 something not shown.
pub fn exit_status(all: &[Accepted]) -> u8 {
    match worst(all) {
        Some(Shown::Fails) => 1,
        Some(Shown::NotShown) => 3,
        Some(Shown::Holds) | None => 0,
    }
}
