//! Bench: the steps of the bring-up in order; what every point should read; a reading typed here is kept and judged at once.

mod awaited;
mod band;
mod capture;
mod entry;
mod keep;
mod points;
mod strip;
mod why;

use crate::parts;
use crate::sheet::Sheet;
use crate::views::{Answer, View};
use crate::words;
use awaited::{Computed, Wait, coming, computed};
use entry::entry;
use maud::{Markup, html};
use quietrail_bench::decide::Shown;
use quietrail_bench::log::{Log, Observed};
use quietrail_job::model::Job;
use quietrail_report::words::{bringup as said, readings};
use quietrail_study::bringup::{
    BringUp, Caution, Expectation, Fit, Kind, Step, counts_for_limits, offered,
};
use quietrail_study::finding::Overall;
use quietrail_study::gate::{Gate, Lock, Why};
use quietrail_study::measured::{Limited, judged};
use strip::{Standing, standing, strip, top};

pub(crate) const VIEW: View = View {
    slug: "bench",
    name: "Bench",
    show,
    file: Some(file),
    act: Some(keep::act),
};

fn show(sheet: &Sheet<'_>) -> Markup {
    page(sheet, None)
}

/// The step in hand as CSV.
fn file(sheet: &Sheet<'_>, _kind: &str) -> Answer {
    let found = sheet.version.job.as_deref().and_then(|job| {
        let log = sheet.desk.folder.log().ok()?;
        match computed(sheet, job, &log, Wait::ToTheEnd) {
            Computed::Whole(found) => Some(found),
            Computed::Coming(_) | Computed::No => None,
        }
    });
    let step = found.as_ref().and_then(|found| {
        let index = current(sheet, found)?;
        found.steps.get(index)
    });
    step.map_or(Answer::Nowhere, points::csv)
}

/// What could not be kept, and what was typed.
struct Refusal {
    said: String,
    typed: String,
    /// Whether the person may keep it as it is, having been asked.
    may_keep: bool,
}

fn page(sheet: &Sheet<'_>, refusal: Option<&Refusal>) -> Markup {
    let Some(job) = sheet.version.job.as_deref() else {
        return html! {};
    };
    let log = match sheet.desk.folder.log() {
        Ok(log) => log,
        Err(why) => return html! { p class="fault" role="alert" { (why.to_string()) } },
    };
    let found = match computed(sheet, job, &log, Wait::AMoment) {
        Computed::No => return html! { p { (words::NO_BENCH) } },
        Computed::Coming(found) => return coming(sheet, &found),
        Computed::Whole(found) => found,
    };
    let Some(index) = current(sheet, &found) else {
        return html! {};
    };
    let step = &found.steps[index];
    html! {
        (top(sheet, step))
        div class="benchview" id="bench" data-live data-whole {
            @if is_live(step.kind) { (live(step)) }
            (strip(sheet, &found, index))
            div class="st" {
                h1 { (said::step_of(index + 1, found.steps.len(), &step.name)) }
                ul class="cautions" {
                    @for caution in step.cautions.iter().filter(|one| !matches!(one, Caution::Mains { .. })) {
                        li { (parts::prose(&said::caution(caution))) }
                    }
                }
                p { (said::connected(step.kind)) @if let Some(through) = step.through { " " (said::through(through)) } }
                @for dummy in quietrail_report::bringup::dummies(step) { p { (dummy) } }
                @for settling in &step.settling { p { (said::settling(settling)) } }
                p class="stop" { (quietrail_report::bringup::stop(step)) }
            }
            @if let Some(why) = &step.trouble { p class="fault" { (said::no_figures(why)) } }
            @if let Some(reason) = &step.overridden { p { b { (said::regardless(reason)) } @if step.is_open() && !step.locked_by.is_empty() { " " (said::gone_past(&step.locked_by)) } } }
            div class="two" {
                @if step.is_open() { (entry(sheet, (job, &log), (&found, index), refusal)) } @else { (locked(sheet, step, refusal)) }
                (list(sheet, &log, step))
            }
            (why::why(sheet, (job, &log), step))
            (shown(job, &log, &found, step))
            (points::details(sheet, step))
        }
    }
}

/// What the readings of a step prove of the limits: verdict, bounds, and what would show it.
///
/// A reading that names no step stands where it was taken, as far as that can be told.
fn shown(job: &Job, log: &Log, found: &BringUp, step: &Step) -> Markup {
    if !counts_for_limits(step.kind) {
        return html! {};
    }
    let gate = Gate::from(found);
    let options = quietrail_study::options();
    let mut all = judged(job, &Limited::of_job(job), log, &gate, &options);
    all.retain(|one| {
        let mut rows = one.judgement.rows.iter().filter_map(|row| log.row(*row));
        rows.any(|row| gate.step_of(row) == Some(step.name.as_str()))
    });
    if all.is_empty() {
        return html! {};
    }
    html! {
        section class="proves" {
            h2 { (words::PROVES) }
            ul {
                @for one in &all {
                    @let overall = match one.judgement.shown {
                        Shown::Holds => Overall::Holds,
                        Shown::Fails => Overall::Fails,
                        Shown::NotShown => Overall::NotShown,
                    };
                    li { (parts::verdict(overall)) " " (readings::judged(one)) }
                }
            }
        }
    }
}

/// The step that is asked for; else the first that is open and not done.
fn current(sheet: &Sheet<'_>, found: &BringUp) -> Option<usize> {
    let asked = sheet.asked.get("step");
    let by_name = asked.and_then(|name| found.steps.iter().position(|step| step.name == name));
    let next = found
        .steps
        .iter()
        .position(|step| standing(step) != Standing::Done);
    by_name.or(next).or(found.steps.len().checked_sub(1))
}

/// Mains is on in this step; while it is locked, that it will be.
fn live(step: &Step) -> Markup {
    let mains = step
        .cautions
        .iter()
        .find(|caution| matches!(caution, Caution::Mains { .. }));
    html! {
        @if step.is_open() {
            div class="live" {
                b { (words::LIVE) }
                @if let Some(mains) = mains { span { (said::caution(mains)) } }
            }
        } @else {
            div class="live waits" {
                b { (words::bench::WAITS) }
                span { (words::bench::WILL_BE_LIVE) " " @if let Some(mains) = mains { (said::caution(mains)) } }
            }
        }
    }
}

fn href(sheet: &Sheet<'_>, step: &str) -> String {
    // What a form brought is not carried on.
    let asked = sheet.asked.with(|asked| {
        asked.more.clear();
        asked.more.insert("step".to_owned(), step.to_owned());
    });
    asked.href("bench")
}

/// The step with the next point in hand.
fn after(sheet: &Sheet<'_>, step: &str, index: usize) -> String {
    let asked = sheet.asked.with(|asked| {
        asked.more.clear();
        asked.more.insert("step".to_owned(), step.to_owned());
        asked.more.insert("after".to_owned(), index.to_string());
    });
    asked.href("bench")
}

/// The point in hand: the one asked for, else the next without a reading after the one that was in hand, as far as an instrument of
/// the job reads it.
fn point<'a>(sheet: &Sheet<'_>, step: &'a Step) -> Option<(usize, &'a Expectation)> {
    let number = |name: &str| sheet.asked.get(name)?.parse::<usize>().ok();
    let count = step.expect.len();
    let asked = number("point").filter(|index| *index < count);
    let from = number("after").map_or(0, |index| index + 1);
    let is_next = |index: &usize| {
        let one = &step.expect[*index];
        one.is_to_be_read() && is_read(&sheet.job, one)
    };
    let unread = || (0..count).map(|k| (from + k) % count).find(is_next);
    let index = asked.or_else(unread)?;
    Some((index, &step.expect[index]))
}

/// Whether an instrument of the job reads a point, or none is needed.
fn is_read(job: &Job, one: &Expectation) -> bool {
    one.what == Observed::Check || !offered(&job.instruments, one).is_empty()
}

/// Whether mains is on in a step.
fn is_live(kind: Kind) -> bool {
    kind.is_powered()
}

fn expected(one: &Expectation) -> String {
    if one.what == Observed::Check {
        return said::DONE.to_owned();
    }
    match one.safety.and_then(|row| row.limit) {
        Some(limit) => said::band(limit.min, limit.max, one.unit),
        None => said::band(one.low, one.high, one.unit),
    }
}

/// A step that is waited for, and how many of its rows are not read, were read and decide nothing, do not fit.
#[derive(Default)]
struct Waited<'a> {
    step: &'a str,
    not_read: usize,
    read_again: usize,
    unfit: usize,
}

/// The steps that are waited for, in order.
fn waited_for(locks: &[Lock]) -> Vec<Waited<'_>> {
    let mut all: Vec<Waited<'_>> = Vec::new();
    for lock in locks {
        let known = all.iter().position(|known| known.step == lock.step);
        let at = known.unwrap_or_else(|| {
            all.push(Waited {
                step: &lock.step,
                ..Waited::default()
            });
            all.len() - 1
        });
        match lock.why {
            Why::NotRead => all[at].not_read += 1,
            Why::ReadAgain => all[at].read_again += 1,
            Why::DoesNotFit | Why::NotShown | Why::NotCompared => all[at].unfit += 1,
        }
    }
    all
}

/// A step that is locked: why, and the way past it.
fn locked(sheet: &Sheet<'_>, step: &Step, refusal: Option<&Refusal>) -> Markup {
    html! {
        section class="now" {
            h2 { (words::STEP_LOCKED) }
            ul class="locks" {
                @for one in waited_for(&step.locked_by) {
                    li { a href=(href(sheet, one.step)) { (one.step) } ": " (words::bench::waits_for(one.not_read, one.read_again, one.unfit)) }
                }
            }
            @if let Some(first) = step.locked_by.first() {
                p { a class="btn main" href=(href(sheet, &first.step)) { (words::bench::to_step(&first.step)) } }
            }
            details {
                summary { (words::GO_ON) }
                form method="post" action="bench" {
                    input type="hidden" name="step" value=(step.name);
                    label { (words::GO_ON_WHY) input type="text" name="because" required minlength="8"; }
                    button class="btn" { (words::GO_ON_LOGGED) }
                }
            }
            @if let Some(refusal) = refusal { p class="fault" role="alert" { (parts::sign(Overall::Fails)) (refusal.said) } }
        }
    }
}

fn list(sheet: &Sheet<'_>, log: &Log, step: &Step) -> Markup {
    let in_hand = point(sheet, step)
        .map(|(index, _)| index)
        .filter(|_| step.is_open());
    html! {
        ul class="list" {
            @for (index, one) in step.expect.iter().enumerate() {
                @let last = one.last().or(one.readings.last());
                @let overall = last.map(|reading| match reading.fit {
                    Fit::Fits => Overall::Holds,
                    Fit::Below(_) | Fit::Above(_) => Overall::Fails,
                    Fit::Unclear | Fit::MoreThan | Fit::NotCompared => Overall::NotShown,
                });
                li class=[(in_hand == Some(index)).then_some("hand")] {
                    a class="name" href={ (href(sheet, &step.name)) "&point=" (index) } { b { (words::bench::point(&one.of)) } " " (said::observed(one.what)) }
                    span class="r num" {
                        @match last {
                            Some(reading) if one.what != Observed::Check => { (said::value_of(reading, one.unit)) }
                            Some(reading) => { @if reading.value > 0.0 { (words::YES) } @else { (words::NO) } }
                            None => {}
                        }
                    }
                    span {
                        @match (overall, last) {
                            (Some(overall), Some(reading)) => {
                                (parts::verdict_saying(if !reading.stands_for_row() && overall == Overall::Holds { Overall::NotShown } else { overall }, &said::fit_and_error(reading.fit, reading.error, one.unit).0))
                                @if let Some(href) = capture::href(sheet, log, step, index, reading.row) { " " a class="small" href=(href) { (words::bench::ITS_WAVE) } }
                                @if reading.is_held { br; span class="soft" { (readings::TAKEN_LOCKED) } }
                                @if let Some(short) = reading.short_of_end { br; span class="soft" { (said::short_of_end(short)) } }
                            }
                            _ => { span class="soft unread" { @if is_read(&sheet.job, one) { (words::NOT_READ_YET) } @else { (words::bench::NOBODY_READS) } } }
                        }
                    }
                    span class="soft num right" { (expected(one)) }
                    @for text in quietrail_report::bringup::under(one) { p class="soft small onpaper" { (text) } }
                }
            }
        }
    }
}
