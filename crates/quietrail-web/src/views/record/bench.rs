//! The bench's part of the record: what readings prove, and every row of the log beside what was expected.

use crate::parts;
use crate::readings::bring_up_read;
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, html};
use quietrail_bench::decide::Shown;
use quietrail_bench::log::{Log, Observed, Row};
use quietrail_report::number;
use quietrail_report::words::{bringup as told, readings};
use quietrail_study::bringup::{BringUp, Expectation, Fit};
use quietrail_study::finding::Overall;
use quietrail_study::gate::Gate;
use quietrail_study::measured::Judged;

/// What the readings prove, limit by limit.
pub(super) fn proved(sheet: &Sheet<'_>) -> Markup {
    html! {
        @if !sheet.judged.is_empty() {
            section {
                h2 { (words::RECORD_PROVES) }
                ul class="proved" { @for one in sheet.judged.iter() {
                    li { (parts::verdict(overall_of(one))) " " (readings::judged(one)) }
                } }
            }
        }
    }
}

/// The verdict of readings in the signs of the page.
fn overall_of(one: &Judged) -> Overall {
    match one.judgement.shown {
        Shown::Holds => Overall::Holds,
        Shown::Fails => Overall::Fails,
        Shown::NotShown => Overall::NotShown,
    }
}

/// The steps of the bring-up with a box each to tick, and the log row by row.
pub(super) fn log(sheet: &Sheet<'_>, log: &Log) -> Markup {
    let made = bring_up_read(sheet, log);
    let found = made.as_deref().and_then(Option::as_ref);
    html! {
        @if made.is_none() {
            section class="keep coming" { h2 { (words::RECORD_STEPS) } p { (words::record::WORKING_OUT) } }
        }
        @if let Some(found) = found {
            section class="keep" {
                h2 { (words::RECORD_STEPS) }
                p { (parts::prose(words::record::STEPS_MEAN)) }
                ol class="ticks" { @for step in &found.steps { li { span class="tick" {} " " (step.name) } } }
            }
        }
        @let misfits = found.map(|found| Gate::from(found).misfits()).unwrap_or_default();
        @if !misfits.is_empty() {
            section class="keep misfits" {
                h2 { (readings::MISFITS.trim_end_matches(':')) }
                ul { @for lock in &misfits { li { (told::lock(lock)) } } }
            }
        }
        @if !log.rows.is_empty() || !log.damaged.is_empty() {
            section {
                h2 { (words::record_log(log.rows.len())) }
                table class="ledger log" {
                    thead { tr {
                        th scope="col" { (words::HEAD_ROW) }
                        th scope="col" { (words::HEAD_STEP) }
                        th scope="col" { (words::HEAD_POINT) }
                        th scope="col" class="right" { (words::HEAD_READING) }
                        th scope="col" class="right" { (words::HEAD_EXPECTED) }
                        th scope="col" { (words::HEAD_SETUP) }
                    } }
                    @let is_of_oscillator = |row: &Row| sheet.job.oscillators.iter().any(|own| own.name == row.of);
                    tbody { @for row in &log.rows { (logged(row, log, found, is_of_oscillator(row))) } }
                }
                @for damaged in &log.damaged {
                    p { (words::damaged(damaged.line, &readings::fault(&damaged.fault))) " " code { (damaged.text) } }
                }
            }
        }
    }
}

fn logged(row: &Row, log: &Log, found: Option<&BringUp>, is_of_oscillator: bool) -> Markup {
    let replaced = log
        .rows
        .iter()
        .find(|later| later.corrects == Some(row.row) && later.row > row.row);
    let gate = found.map_or_else(Gate::default, Gate::from);
    let step = Some(row.step.as_str()).filter(|step| !step.is_empty());
    let day = row.time.get(..16).unwrap_or(&row.time).replace('T', " ");
    html! {
        tr {
            th scope="row" class="num" { (row.row) br; span class="soft" { (day) } }
            td {
                // An oscillator by itself is read in no step.
                @match (step, gate.step_of(row).filter(|_| !is_of_oscillator)) {
                    (Some(step), _) => (step),
                    (None, Some(step)) => { span class="soft" { (words::no_step(step)) } },
                    (None, None) => {},
                }
                @if !row.state.is_empty() && !row.step.ends_with(&format!(", {}", row.state)) { br; span class="soft" { (row.state) } }
                @if !is_of_oscillator && gate.held(row).is_some() { br; b { (words::DECIDES_NOTHING) } }
                @if let Some(one) = gate.regardless(row) { br; b { (readings::regardless_mark(&one)) } }
            }
            @if row.what == Observed::Override {
                td colspan="4" { b { (told::observed(row.what)) } ": " (row.note) }
            } @else {
                td { (row.of) br; span class="soft" { (told::observed(row.what)) } }
                td class="right num" {
                    @if replaced.is_some() { del { (read(row)) } } @else { b { (read(row)) } }
                    @if let Some(later) = replaced { br; (words::replaced_by(later.row)) }
                }
                td class="right" { (expected(row, found)) }
                td { (with(row)) @if !row.note.is_empty() { br; (row.note) } }
            }
        }
    }
}

/// The value as it was typed; of a wave to four digits.
fn read(row: &Row) -> String {
    if row.what == Observed::Check {
        return if row.value > 0.0 {
            words::YES
        } else {
            words::NO
        }
        .to_owned();
    }
    if !row.is_typed() && row.what != Observed::Frequency {
        return number::si(row.value, row.what.kind().symbol(), 4);
    }
    let typed = row.typed.replace('-', &number::MINUS.to_string());
    format!("{typed}{}{}", number::NO_BREAK, row.unit)
}

/// What was expected of a row and how it fits.
fn expected(row: &Row, found: Option<&BringUp>) -> Markup {
    let steps = found
        .map(|found| found.steps.as_slice())
        .unwrap_or_default();
    let step = steps.iter().find(|step| step.name == row.step);
    let all = step.map(|step| step.expect.as_slice()).unwrap_or_default();
    let own = |one: &&Expectation| one.readings.iter().any(|reading| reading.row == row.row);
    let Some(one) = all.iter().find(own) else {
        return html! {};
    };
    let mut readings = one.readings.iter();
    let reading = readings.find(|reading| reading.row == row.row);
    let fit = reading.map(|reading| reading.fit);
    // What it was compared with: at the mains that was read the band is narrower than over all of its range.
    let compared = reading.and_then(|reading| reading.band);
    html! {
        span class="num" { @match compared { Some((low, high)) => (told::band(low, high, one.unit)), None => (band(one)) } }
        @if let Some(fit) = fit {
            br;
            @let overall = match fit {
                Fit::Fits => Overall::Holds,
                Fit::Below(_) | Fit::Above(_) => Overall::Fails,
                Fit::Unclear | Fit::MoreThan | Fit::NotCompared => Overall::NotShown,
            };
            (parts::verdict_saying(overall, &told::fit(fit, one.unit)))
        }
    }
}

fn band(one: &Expectation) -> String {
    if one.what == Observed::Check {
        return told::DONE.to_owned();
    }
    match one.safety.and_then(|row| row.limit) {
        Some(limit) => told::band(limit.min, limit.max, one.unit),
        None => told::band(one.low, one.high, one.unit),
    }
}

/// Instrument, range, set-up and mains.
fn with(row: &Row) -> String {
    let mut parts = Vec::new();
    for part in [&row.instrument, &row.range, &row.setup.words, &row.capture] {
        if !part.is_empty() {
            parts.push(part.clone());
        }
    }
    if row.setup.is_shorted {
        parts.push(words::FLOOR_READ.to_owned());
    }
    if let Some(volts) = row.mains_v {
        parts.push(words::mains_at(&number::si(volts, "V", 4)));
    }
    parts.join("; ")
}
