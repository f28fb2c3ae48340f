//! The bring-up in a terminal, on paper with empty boxes, and as data.

use crate::verdicts::{printable, wrapped};
use crate::words::bringup as words;
use crate::{Style, number};
use quietrail_bench::log::Observed;
use quietrail_job::model::What;
use quietrail_study::bringup::{
    BringUp, Expectation, Fit, Kind, Reading, Settled, Settling, Step, highest_across,
};
use quietrail_study::finding::{LimitFinding, Overall};
use quietrail_study::gate::{Lock, Why};
use quietrail_study::measured::Judged;
use serde_json::{Value, json};
use unicode_width::UnicodeWidthStr;

/// What of a bring-up is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    /// Readings beside what is expected.
    Screen,
    /// Empty boxes where nothing was read, for a pencil.
    Paper,
}

/// Where the lines of a step begin.
const INSET: usize = 4;

/// What is said of limits beside the steps.
#[derive(Clone, Copy, Debug)]
pub struct Said<'a> {
    /// The limits as they are proved; those that fail head the sheet.
    pub limits: &'a [LimitFinding],
    /// What the readings come to, each with the step that it was read in.
    pub judged: &'a [(String, Judged)],
    /// Whether not all states were searched.
    pub is_partial: bool,
}

/// All steps, or the one that is named.
pub fn text(
    found: &BringUp,
    said: &Said<'_>,
    only: Option<&str>,
    sheet: Sheet,
    style: Style,
) -> String {
    let columns = style.columns();
    let mut out = wrapped(
        &printable(&crate::words::heading(&found.title, &found.region)),
        columns,
    );
    out.extend(wrapped(words::FIRST, columns));
    let fails = failing(said.limits);
    if !fails.is_empty() {
        out.push(String::new());
        out.extend(wrapped(&printable(&words::proof_fails(&fails)), columns));
    }
    if said.is_partial {
        out.extend(wrapped(words::NOT_ALL_SEARCHED, columns));
    }
    for (index, step) in found.steps.iter().enumerate() {
        if only.is_some_and(|name| name != step.name) {
            continue;
        }
        out.push(String::new());
        out.extend(of_step(step, index + 1, found.steps.len(), sheet, columns));
        let own = said.judged.iter().filter(|(name, _)| *name == step.name);
        let mut own = own.map(|(_, one)| one).peekable();
        if own.peek().is_some() {
            out.push(format!("{:INSET$}{}", "", crate::words::readings::SHOW));
        }
        for one in own {
            let text = crate::words::readings::judged(one);
            let lines = wrapped(&printable(&text), columns.saturating_sub(2 * INSET));
            out.extend(
                lines
                    .iter()
                    .map(|line| format!("{:1$}{line}", "", 2 * INSET)),
            );
        }
    }
    number::spaced(&out.join("\n")) + "\n"
}

/// The limits of a proof that fail, each in its worst state.
fn failing(proof: &[LimitFinding]) -> Vec<&LimitFinding> {
    let worst = crate::verdicts::folded(proof).into_iter();
    worst.filter(|row| row.overall == Overall::Fails).collect()
}

fn of_step(step: &Step, number: usize, all: usize, sheet: Sheet, columns: usize) -> Vec<String> {
    let tick = match sheet {
        Sheet::Paper => format!("{} ", words::TICK),
        Sheet::Screen => String::new(),
    };
    let head = format!("{tick}{}", words::step_of(number, all, &step.name));
    let mut lines = vec![printable(&head)];
    let mut say = |text: &str| {
        for line in wrapped(&printable(text), columns.saturating_sub(INSET)) {
            lines.push(format!("{:INSET$}{line}", ""));
        }
    };
    for caution in &step.cautions {
        say(&format!("! {}", words::caution(caution)));
    }
    say(words::connected(step.kind));
    if let Some(through) = step.through {
        say(&words::through(through));
    }
    if !step.out.is_empty()
        && step.kind != Kind::Transformer
        && step.kind != Kind::TransformerSoftly
    {
        say(&words::out(&step.out));
    }
    if !step.short.is_empty() {
        say(&words::bridged(&step.short));
    }
    for dummy in dummies(step) {
        say(&dummy);
    }
    for settling in &step.settling {
        say(&words::settling(settling));
    }
    say(&stop(step));
    if let Some(why) = &step.trouble {
        say(&words::no_figures(why));
    }
    if let Some(reason) = &step.overridden {
        say(&words::regardless(reason));
    }
    if step.overridden.is_none() && sheet == Sheet::Paper && step.kind != Kind::PowerOff {
        say(words::AFTER);
    } else if !step.locked_by.is_empty() {
        // Gone past or not: what is not in order is named.
        say(&if step.is_open() {
            words::gone_past(&step.locked_by)
        } else {
            words::locked(&step.locked_by)
        });
    }
    lines.extend(table(step, sheet, columns));
    lines
}

/// When to stop in a step, with the figures to keep an eye on.
pub fn stop(step: &Step) -> String {
    words::stop(step.kind, &watched(step))
}

/// The dummies of a step, each with what it takes at the highest voltage expected across it.
pub fn dummies(step: &Step) -> Vec<String> {
    let dummies = step.dummies.iter();
    let told = dummies.map(|dummy| {
        words::dummy(
            dummy,
            highest_across(&step.expect, &dummy.plus, &dummy.minus),
        )
    });
    told.collect()
}

/// The points to keep an eye on: the first raw rail, and the first one under common; or the first awaited one.
fn watched(step: &Step) -> Vec<words::Watched<'_>> {
    if !step.kind.is_powered() {
        return Vec::new();
    }
    let means = || {
        let is_mean = |one: &&Expectation| one.what == Observed::Statistic(What::Mean);
        step.expect.iter().filter(is_mean)
    };
    let lies_under = |one: &&Expectation| one.nominal.is_some_and(|nominal| nominal < 0.0);
    let both = [
        means().find(|one| !lies_under(one)),
        means().find(lies_under),
    ];
    let mut all: Vec<&Expectation> = both.into_iter().flatten().collect();
    if all.is_empty() {
        all.extend(step.expect.iter().find(|one| one.is_awaited));
    }
    let told = all.into_iter().filter_map(|one| {
        let is_under = lies_under(&one);
        Some(words::Watched {
            of: &one.of,
            what: words::observed(one.what),
            edge: if is_under { one.low? } else { one.high? },
            is_under,
            unit: one.unit,
        })
    });
    told.collect()
}

/// What a row expects, in words.
fn expected(one: &Expectation) -> String {
    if one.what == Observed::Check {
        return words::DONE.to_owned();
    }
    if let Some(limit) = one.safety.and_then(|row| row.limit) {
        return words::band(limit.min, limit.max, one.unit);
    }
    words::band(one.low, one.high, one.unit)
}

fn read_words(one: &Expectation, sheet: Sheet) -> String {
    let of = |reading: &Reading| {
        let (fit, error) = words::fit_and_error(reading.fit, reading.error, one.unit);
        let mut locked = String::new();
        if reading.is_held {
            locked.push_str(&format!(", {}", crate::words::readings::TAKEN_LOCKED));
        }
        if let Some(short) = reading.short_of_end {
            let said = words::short_of_end(short);
            locked.push_str(&format!(", {said}"));
        }
        if one.what == Observed::Check {
            return format!("{fit}{locked} (row {})", reading.row);
        }
        // What is said of a band is of the one at its mains, which may be far narrower than the row's.
        if let Some((low, high)) = reading.band.filter(|_| reading.fit != Fit::Fits) {
            let band = words::band(low, high, one.unit);
            locked.push_str(&format!(", {}", words::band_at_its_mains(&band)));
        }
        format!(
            "{}{}: {fit}{locked} (row {})",
            words::value_of(reading, one.unit),
            error.map_or_else(String::new, |error| format!(" ±{error}")),
            reading.row
        )
    };
    match one.last().or(one.readings.last()) {
        Some(reading) => of(reading),
        None if sheet == Sheet::Paper => words::BOX.to_owned(),
        None => String::new(),
    }
}

fn table(step: &Step, sheet: Sheet, columns: usize) -> Vec<String> {
    if step.expect.is_empty() {
        return Vec::new();
    }
    let head = [
        words::HEAD_POINT.to_owned(),
        words::HEAD_WHAT.to_owned(),
        words::HEAD_EXPECT.to_owned(),
        words::HEAD_READ.to_owned(),
    ];
    let rows: Vec<[String; 4]> = step
        .expect
        .iter()
        .map(|one| {
            [
                printable(&one.of),
                words::observed(one.what).to_owned(),
                expected(one),
                printable(&read_words(one, sheet)),
            ]
        })
        .collect();
    let width = |column: usize| {
        rows.iter()
            .chain([&head])
            .map(|row| row[column].width())
            .max()
            .unwrap_or(0)
    };
    let widths = [width(0), width(1), width(2)];
    let lead = INSET + widths.iter().sum::<usize>() + 6;
    let rest = columns.saturating_sub(lead).max(16);
    let mut lines = Vec::new();
    for (index, row) in std::iter::once(&head).chain(&rows).enumerate() {
        let read = wrapped(&row[3], rest);
        let start = format!(
            "{:INSET$}{}  {}  {}  {}",
            "",
            padded(&row[0], widths[0]),
            padded(&row[1], widths[1]),
            padded(&row[2], widths[2]),
            read[0]
        );
        lines.push(start.trim_end().to_owned());
        lines.extend(
            read.iter()
                .skip(1)
                .map(|line| format!("{:lead$}{line}", "")),
        );
        // The act and the standard of a safety row stand under it, and what else is in a reading.
        let one = index.checked_sub(1).map(|index| &step.expect[index]);
        for text in one.map(under).unwrap_or_default() {
            for line in wrapped(&printable(&text), columns.saturating_sub(2 * INSET)) {
                lines.push(format!("{:1$}{line}", "", 2 * INSET));
            }
        }
    }
    lines
}

/// What stands under a row: how it is done and by which standard, and what else is in the reading.
pub fn under(one: &Expectation) -> Vec<String> {
    let act = one.safety.map(|row| row.act.to_owned());
    let limit = one.safety.and_then(|row| row.limit);
    let by = limit.map(|limit| words::safety(&limit, one.unit));
    let beside: Vec<String> = one.beside.iter().map(words::beside).collect();
    let beside = (!beside.is_empty()).then(|| beside.join(" "));
    act.into_iter().chain(by).chain(beside).collect()
}

fn padded(text: &str, width: usize) -> String {
    format!("{text}{:1$}", "", width.saturating_sub(text.width()))
}

/// The bring-up as data, form 1.
pub fn json(found: &BringUp, proof: &[LimitFinding], judged: &[(String, Judged)]) -> Value {
    let fails = failing(proof).into_iter();
    json!({
        "format": crate::json::FORMAT,
        "job": found.title,
        "region": found.region,
        "fails": fails.map(|row| json!({
            "limit": row.name,
            "state": row.state,
            "margin": row.margin,
            "unit": row.unit,
        })).collect::<Vec<_>>(),
        "steps": found.steps.iter().map(|step| step_json(step, judged)).collect::<Vec<_>>(),
    })
}

fn step_json(step: &Step, judged: &[(String, Judged)]) -> Value {
    let own = judged.iter().filter(|(name, _)| *name == step.name);
    let own: Vec<Value> = own
        .map(|(_, one)| crate::readings::judged_json(one))
        .collect();
    let mut connected = vec![words::connected(step.kind).to_owned()];
    connected.extend(step.through.map(words::through));
    connected.extend(dummies(step));
    let said = |text: &str| number::spaced(text);
    json!({
        "name": step.name,
        "state": (!step.state.is_empty()).then_some(&step.state),
        "cautions": step.cautions.iter().map(|one| said(&words::caution(one))).collect::<Vec<_>>(),
        "connected": connected.iter().map(|one| said(one)).collect::<Vec<_>>(),
        "out": step.out,
        "short": step.short,
        "dummies": step.dummies.iter().map(|dummy| json!({
            "between": [dummy.plus, dummy.minus],
            "ohms": dummy.ohms,
            "made_of": dummy.made_of,
            "rated_watts": dummy.rated,
        })).collect::<Vec<_>>(),
        "stop": said(&stop(step)),
        "settling": step.settling.iter().map(settling_json).collect::<Vec<_>>(),
        "expect": step.expect.iter().map(expectation_json).collect::<Vec<_>>(),
        "trouble": step.trouble,
        "locked_by": step.locked_by.iter().map(lock_json).collect::<Vec<_>>(),
        "open": step.is_open(),
        "overridden": step.overridden,
        "overridden_by": step.gone_on.last(),
        "judged": own,
    })
}

/// What keeps a step locked.
pub(crate) fn lock_json(lock: &Lock) -> Value {
    json!({
        "step": lock.step,
        "of": lock.of,
        "what": lock.what.word(),
        "row": lock.row,
        "why": match lock.why {
            Why::NotRead => "not read",
            Why::ReadAgain => "read again",
            Why::DoesNotFit => "does not fit",
            Why::NotShown => "not shown",
            Why::NotCompared => "not compared",
        },
    })
}

fn settling_json(one: &Settling) -> Value {
    let ends = match one.read {
        Some(Settled::Ends {
            end,
            tau,
            left,
            wait,
        }) => json!({ "celsius": end, "time_constant_s": tau, "left_k": left, "wait_s": wait }),
        _ => Value::Null,
    };
    json!({
        "of": one.of,
        "by_weight_s": one.by_weight,
        "ends": ends,
        "said": number::spaced(&words::settling(one)),
    })
}

fn expectation_json(one: &Expectation) -> Value {
    let safety = one.safety.map(|row| {
        json!({
            "act": row.act,
            "standard": row.limit.map(|limit| limit.standard),
            "edition": row.limit.map(|limit| limit.edition),
            "region": row.limit.map(|limit| limit.region),
            "compared": row.limit.is_none_or(|limit| limit.is_compared()),
        })
    });
    json!({
        "of": one.of,
        "what": one.what.word(),
        "low": one.low,
        "nominal": one.nominal,
        "high": one.high,
        "unit": one.unit,
        "awaited": one.is_awaited,
        "safety": safety,
        "beside": one.beside.iter().map(|one| number::spaced(&words::beside(one))).collect::<Vec<_>>(),
        "readings": one.readings.iter().map(|reading| json!({
            "row": reading.row,
            "value": reading.value,
            "error": reading.error,
            "fit": number::spaced(&words::fit(reading.fit, one.unit)),
            "taken_locked": reading.is_held,
            "short_of_mains": reading.short_of_end.map(|short| short.end),
            "compared_with": reading.band.map(|(low, high)| [low, high]),
        })).collect::<Vec<_>>(),
    })
}
