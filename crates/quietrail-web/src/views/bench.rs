//! Bench: the steps of the bring-up in order; what every point should read; a reading typed here is kept and judged at once.

mod awaited;
mod keep;
mod points;
mod strip;

use crate::parts;
use crate::sheet::Sheet;
use crate::views::{Answer, View};
use crate::words;
use awaited::{Computed, Wait, coming, computed};
use maud::{Markup, PreEscaped, html};
use quietrail_bench::decide::Shown;
use quietrail_bench::log::{Log, Observed, Row};
use quietrail_job::model::{Instrument, Job};
use quietrail_report::number;
use quietrail_report::words::{bringup as said, readings};
use quietrail_study::bringup::{
    BringUp, Caution, Expectation, Fit, Kind, Step, counts_for_limits, function_of,
    is_of_alternating_part,
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
            @if step.kind != Kind::PowerOff { (live(step)) }
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
                @if step.is_open() { (entry(sheet, job, &log, step, refusal)) } @else { (locked(sheet, step, refusal)) }
                (list(sheet, step))
            }
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
    let asked = sheet.asked.with(|asked| {
        asked.more.insert("step".to_owned(), step.to_owned());
        asked.more.remove("point");
        asked.more.remove("after");
    });
    asked.href("bench")
}

/// The step with the next point in hand.
fn after(sheet: &Sheet<'_>, step: &str, index: usize) -> String {
    let asked = sheet.asked.with(|asked| {
        asked.more.insert("step".to_owned(), step.to_owned());
        asked.more.insert("after".to_owned(), index.to_string());
        asked.more.remove("point");
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
        one.readings.is_empty() && is_read(&sheet.job, one)
    };
    let unread = || (0..count).map(|k| (from + k) % count).find(is_next);
    let index = asked.or_else(unread)?;
    Some((index, &step.expect[index]))
}

/// Whether an instrument of the job reads a point, or none is needed.
fn is_read(job: &Job, one: &Expectation) -> bool {
    let mut all = job.instruments.iter();
    one.what == Observed::Check || all.any(|own| quietrail_study::bringup::reads(own, one.what))
}

/// A value below this part of a range was hardly read on it.
const SPAN: f64 = 300.0;

fn entry(
    sheet: &Sheet<'_>,
    job: &Job,
    log: &Log,
    step: &Step,
    refusal: Option<&Refusal>,
) -> Markup {
    let Some((index, one)) = point(sheet, step) else {
        return html! { section class="now" id="now" { p { (words::ALL_READ) } } };
    };
    let suits = |name: &str| {
        let known = job.instruments.iter().find(|known| known.name == name);
        known.is_some_and(|known| quietrail_study::bringup::reads(known, one.what))
    };
    let names: Vec<&str> = job
        .instruments
        .iter()
        .map(|instrument| instrument.name.as_str())
        .filter(|name| suits(name))
        .collect();
    // The last set-up of an instrument that reads this; another one's would be wrong here.
    let last = log.rows.iter().rev().find(|row| {
        !matches!(row.what, Observed::Check | Observed::Override) && suits(&row.instrument)
    });
    let chosen = last
        .map(|row| row.instrument.as_str())
        .or_else(|| own_tester(job, one));
    let words_of_setup = last.map_or_else(String::new, |row| {
        let items = row.setup.words.split(';').map(str::trim);
        let kept: Vec<&str> = items.filter(|item| *item != "shorted").collect();
        kept.join("; ")
    });
    // A range of another function, or one that is not for what is expected here, is chosen anew.
    let range = last.map_or("", |row| row.range.as_str());
    let is_apt = |row: &&Row| {
        let instrument = job
            .instruments
            .iter()
            .find(|own| own.name == row.instrument);
        let function = instrument.and_then(|own| function_of(own, one.what));
        let end = function.and_then(|own| own.end_of(range));
        let size = |end: Option<f64>| end.map_or(0.0, f64::abs);
        let most = size(one.high).max(size(one.low));
        end.is_some_and(|end| most <= end && most > end / SPAN)
    };
    let range = last.filter(is_apt).map_or("", |_| range);
    let is_check = one.what == Observed::Check;
    let later =
        html! { a class="btn" href=(after(sheet, &step.name, index)) { (words::bench::NOT_NOW) } };
    html! {
        section class="now" id="now" aria-live="polite" {
            div class="pt" {
                b { (words::bench::point(&one.of)) @if one.safety.is_none() { ", " (said::observed(one.what)) } }
                span class="soft num" { (index + 1) " / " (step.expect.len()) }
            }
            @if let Some(safety) = one.safety { p { (safety.act) } }
            p class="expect" {
                (words::EXPECT) " " b class="num" { (expected(one)) }
                @if let Some(href) = points::sum_href(sheet, step, one) { " " a class="small" href=(href) { (words::bench::WHERE_FROM) } }
            }
            @if let Some(limit) = one.safety.and_then(|row| row.limit) { p class="soft small" { (said::safety(&limit, one.unit)) } }
            @for beside in &one.beside { p class="soft small" { (said::beside(beside)) } }
            (band(one))
            form method="post" action="bench" {
                input type="hidden" name="step" value=(step.name);
                input type="hidden" name="point" value=(index);
                @if !is_check && names.is_empty() {
                    p { (words::bench::nobody_reads(said::observed(one.what))) }
                    div class="keep" { (later) }
                } @else if is_check {
                    div class="yesno" {
                        button class="btn main" name="typed" value="1" { (words::YES) }
                        button class="btn" name="typed" value="0" { (words::NO) }
                        (later)
                    }
                } @else {
                    div class={ "entry" @if refusal.is_some() { " bad" } } {
                        input id="typed" type="text" name="typed" inputmode="decimal" autocomplete="off" required autofocus
                            aria-label={ (one.of) ", " (said::observed(one.what)) } value=(refusal.map_or("", |one| one.typed.as_str()));
                        span class="unit" { (said::typed_unit(one)) }
                    }
                    @if let Some(refusal) = refusal {
                        p class="fault" role="alert" { (parts::sign(Overall::Fails)) (refusal.said) }
                        @if refusal.may_keep { p { button class="btn" name="as_typed" value="1" { (words::bench::AS_TYPED) } } }
                    }
                    div class="setup" {
                        label { (words::WITH) select name="with" { @for name in &names { option selected[Some(*name) == chosen] { (name) } } } }
                        (ranges(job, one, (chosen, range)))
                        @if is_live(step.kind) {
                            label { (words::MAINS_READ) input type="text" name="at" inputmode="decimal" value=(last.filter(|row| row.step == step.name).and_then(|row| row.mains_v).map_or(String::new(), |volts| volts.to_string())); }
                        }
                        @if is_of_alternating_part(one.what) {
                            label { (words::bench::AVERAGES) input type="text" name="averages" inputmode="numeric" value=(last.and_then(|row| row.averages).map_or(String::new(), |count| count.to_string())); }
                        }
                        label class="wide" { (words::SETUP) input type="text" name="setup" required value=(words_of_setup); }
                        @if is_of_alternating_part(one.what) {
                            label class="wide shorted" { input type="checkbox" name="floor" value="1"; span { (words::bench::IS_FLOOR) } }
                        }
                    }
                    div class="keep" { button class="btn main" { (words::KEEP_NEXT) } (later) }
                }
            }
        }
    }
}

/// For a safety row the instrument that errs least at its limit; insulation wants one that tests with a voltage.
fn own_tester<'a>(job: &'a Job, one: &Expectation) -> Option<&'a str> {
    let limit = one.safety?.limit?;
    let end = limit.max.or(limit.min)?;
    let error = |known: &&Instrument| {
        let ranges = function_of(known, one.what).map(|function| function.ranges.as_slice());
        let fit = ranges
            .into_iter()
            .flatten()
            .filter(|range| range.full >= end);
        fit.map(|range| range.share * end + range.offset)
            .fold(f64::INFINITY, f64::min)
    };
    let is_apt =
        |known: &&Instrument| one.what != Observed::Insulation || known.test_volts.is_some();
    let suits = job.instruments.iter().filter(is_apt);
    let best = suits.min_by(|a, b| error(a).total_cmp(&error(b)))?;
    error(&best).is_finite().then_some(best.name.as_str())
}

/// Ranges of the instruments that read the point, each under its instrument's name; with script those of the chosen one alone.
fn ranges(job: &Job, one: &Expectation, (own, chosen): (Option<&str>, &str)) -> Markup {
    let all: Vec<(&str, Vec<&str>)> = job
        .instruments
        .iter()
        .filter(|instrument| quietrail_study::bringup::reads(instrument, one.what))
        .filter_map(|instrument| {
            let function = function_of(instrument, one.what)?;
            let words = function.ranges.iter().map(|range| range.words.as_str());
            Some((instrument.name.as_str(), words.collect()))
        })
        .collect();
    if all.iter().all(|(_, ranges)| ranges.len() < 2) {
        return html! {};
    }
    html! {
        label { (words::bench::RANGE) select name="range" {
            option value="" { (words::bench::RANGE_BY_ITSELF) }
            @for (name, ranges) in &all {
                optgroup label=(name) {
                    @for range in ranges { option value=(range) selected[*range == chosen && own == Some(*name)] { (range) } }
                }
            }
        } }
    }
}

/// Whether mains is on in a step.
fn is_live(kind: Kind) -> bool {
    !matches!(kind, Kind::PowerOff | Kind::ClampProof)
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

/// The band as a bar, the last reading on it as a diamond with the meter's error.
fn band(one: &Expectation) -> Markup {
    let (Some(low), Some(high)) = (one.low, one.high) else {
        return html! {};
    };
    let width = (high - low).max(0.02 * high.abs()).max(1e-12);
    let reading = one.readings.last();
    let (mut from, mut to) = (low - width, high + width);
    if let Some(reading) = reading {
        let past = |end: f64| (reading.value - end).abs() < 3.0 * width;
        if reading.value < from && past(from) {
            from = reading.value - 0.5 * width;
        }
        if reading.value > to && past(to) {
            to = reading.value + 0.5 * width;
        }
    }
    let x = |value: f64| 20.0 + 560.0 * ((value - from) / (to - from)).clamp(0.0, 1.0);
    let mut svg = format!(
        "<rect x=\"{:.1}\" y=\"14\" width=\"{:.1}\" height=\"26\" class=\"palebox\"/><path d=\"M20 44H580\" class=\"axis\"/>",
        x(low),
        (x(high) - x(low)).max(2.0)
    );
    for (value, anchor) in [(low, "end"), (high, "start")] {
        svg.push_str(&format!(
            "<text x=\"{:.1}\" y=\"62\" text-anchor=\"{anchor}\">{}</text>",
            x(value),
            number::si(value, one.unit, 3)
        ));
    }
    if let Some(reading) = reading {
        let at = x(reading.value);
        if let Some(error) = reading.error {
            let (a, b) = (x(reading.value - error), x(reading.value + error));
            svg.push_str(&format!(
                "<path d=\"M{a:.1} 21V33M{a:.1} 27H{b:.1}M{b:.1} 21V33\" class=\"axis\"/>"
            ));
        }
        let is_past = reading.value < from || reading.value > to;
        let shape = if is_past && reading.value < from {
            format!("M{:.1} 17L{:.1} 27L{:.1} 37", at + 12.0, at, at + 12.0)
        } else if is_past {
            format!("M{:.1} 17L{:.1} 27L{:.1} 37", at - 12.0, at, at - 12.0)
        } else {
            format!("M{at:.1} 15l8 12l-8 12l-8 -12z")
        };
        let class = if is_past { "past" } else { "rd" };
        svg.push_str(&format!("<path d=\"{shape}\" class=\"{class}\"/>"));
    }
    let title = format!("{}: {}", one.of, expected(one));
    html! {
        svg class="bandsvg" viewBox="0 0 600 66" role="img" aria-label=(title) { (PreEscaped(svg)) }
    }
}

/// The steps that are waited for, in order: how many of their rows are not read, and how many do not fit.
fn waited_for(locks: &[Lock]) -> Vec<(&str, usize, usize)> {
    let mut all: Vec<(&str, usize, usize)> = Vec::new();
    for lock in locks {
        let known = all.iter().position(|known| known.0 == lock.step);
        let at = known.unwrap_or_else(|| {
            all.push((&lock.step, 0, 0));
            all.len() - 1
        });
        match lock.why {
            Why::NotRead => all[at].1 += 1,
            Why::DoesNotFit | Why::NotShown | Why::NotCompared => all[at].2 += 1,
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
                @for (name, not_read, unfit) in waited_for(&step.locked_by) {
                    li { a href=(href(sheet, name)) { (name) } ": " (words::bench::waits_for(not_read, unfit)) }
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

fn list(sheet: &Sheet<'_>, step: &Step) -> Markup {
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
                    Fit::Unclear | Fit::NotCompared => Overall::NotShown,
                });
                li class=[(in_hand == Some(index)).then_some("hand")] {
                    a class="name" href={ (href(sheet, &step.name)) "&point=" (index) } { b { (words::bench::point(&one.of)) } " " (said::observed(one.what)) }
                    span class="r num" {
                        @match last {
                            Some(reading) if one.what != Observed::Check => { (number::read(reading.value, reading.error.unwrap_or(f64::NAN), one.unit)) }
                            Some(reading) => { @if reading.value > 0.0 { (words::YES) } @else { (words::NO) } }
                            None => {}
                        }
                    }
                    span {
                        @match (overall, last) {
                            (Some(overall), Some(reading)) => {
                                (parts::verdict_saying(if reading.is_held && overall == Overall::Holds { Overall::NotShown } else { overall }, &said::fit(reading.fit, one.unit)))
                                @if reading.is_held { br; span class="soft" { (readings::TAKEN_LOCKED) } }
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
