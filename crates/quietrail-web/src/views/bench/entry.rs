//! The row in hand: what is expected, the field for its reading, and how it was read.

use super::band::band;
use super::{Refusal, after, capture, expected, href, is_live, point, points};
use crate::parts;
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, html};
use quietrail_bench::log::{Log, Observed, Row};
use quietrail_job::model::Job;
use quietrail_report::words::bringup as said;
use quietrail_study::bringup::{
    BringUp, Expectation, Step, function_of, is_apt_range, is_of_alternating_part, offered, suited,
    suits,
};
use quietrail_study::finding::Overall;

pub(super) fn entry(
    sheet: &Sheet<'_>,
    (job, log): (&Job, &Log),
    (found, at): (&BringUp, usize),
    refusal: Option<&Refusal>,
) -> Markup {
    let step = &found.steps[at];
    let Some((index, one)) = point(sheet, step) else {
        return all_read(sheet, found, at);
    };
    let later =
        html! { a class="btn" href=(after(sheet, &step.name, index)) { (words::bench::NOT_NOW) } };
    let wave = capture::in_hand(sheet, log, one);
    html! {
        section class="now" id="now" tabindex="-1" aria-live="polite" {
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
            @match wave {
                Some(wave) => { (capture::shown(sheet, (job, log), step, (index, one), &wave, refusal)) },
                None => {
                    (field(sheet, (job, log), step, (index, one), refusal, &later))
                    (capture::form(step, index, one))
                },
            }
        }
    }
}

/// The field of a row, or its yes and no.
fn field(
    sheet: &Sheet<'_>,
    (job, log): (&Job, &Log),
    step: &Step,
    (index, one): (usize, &Expectation),
    refusal: Option<&Refusal>,
    later: &Markup,
) -> Markup {
    let is_read = !offered(&job.instruments, one).is_empty();
    // A safety row is typed with its unit: a tester may show another than the band has.
    let is_bare_taken = one.safety.is_none();
    html! {
        form method="post" action="bench" {
            input type="hidden" name="step" value=(step.name);
            input type="hidden" name="point" value=(index);
            @if one.what == Observed::Check {
                div class="yesno" id="typed" tabindex="-1" autofocus {
                    button class="btn main" name="typed" value="1" { (words::YES) }
                    button class="btn" name="typed" value="0" { (words::NO) }
                    (later)
                }
            } @else if !is_read {
                p { (words::bench::nobody_reads(said::observed(one.what))) }
                div class="keep" { (later) }
            } @else {
                div class={ "entry" @if refusal.is_some() { " bad" } } {
                    input id="typed" type="text" name="typed" inputmode=(if is_bare_taken { "decimal" } else { "text" }) autocomplete="off" required autofocus
                        aria-label={ (one.of) ", " (said::observed(one.what)) } value=(refusal.map_or("", |one| one.typed.as_str()));
                    span class="unit" { (if is_bare_taken { said::typed_unit(one) } else { words::bench::WITH_UNIT.to_owned() }) }
                }
                (refused(refusal))
                (set_up(sheet, (job, log), step, one, refusal.is_some()))
                div class="keep" { button class="btn main" { (words::KEEP_NEXT) } (later) }
            }
        }
    }
}

/// Why what was sent is not kept, with the way to keep it as it is.
pub(super) fn refused(refusal: Option<&Refusal>) -> Markup {
    html! {
        @if let Some(refusal) = refusal {
            p class="fault" role="alert" { (parts::sign(Overall::Fails)) (refusal.said) }
            @if refusal.may_keep { p { button class="btn" name="as_typed" value="1" { (words::bench::AS_TYPED) } } }
        }
    }
}

/// Instrument, range, mains, averages and set-up: as sent, where that was refused; else as last used, where that instrument suits
/// the row; else nothing is chosen, and the first that suits it is named.
pub(super) fn set_up(
    sheet: &Sheet<'_>,
    (job, log): (&Job, &Log),
    step: &Step,
    one: &Expectation,
    is_refused: bool,
) -> Markup {
    let named = |name: &str| job.instruments.iter().find(|known| known.name == name);
    let is_suited = |row: &&Row| {
        !matches!(row.what, Observed::Check | Observed::Override)
            && named(&row.instrument).is_some_and(|known| suits(known, one))
    };
    let last = log.rows.iter().rev().find(is_suited);
    let last = last.filter(|_| !is_refused);
    let sent = |name: &str| sheet.asked.get(name).filter(|_| is_refused);
    let chosen = sent("with").or(last.map(|row| row.instrument.as_str()));
    let words_of_setup = last.map_or_else(String::new, |row| {
        let items = row.setup.words.split(';').map(str::trim);
        let kept: Vec<&str> = items
            .filter(|item| *item != "shorted" && !item.starts_with("column "))
            .collect();
        kept.join("; ")
    });
    let words_of_setup = sent("setup").map_or(words_of_setup, str::to_owned);
    // A range of another function, or one that is not for what is expected here, is chosen anew.
    let is_apt =
        |row: &&Row| named(&row.instrument).is_some_and(|own| is_apt_range(own, one, &row.range));
    let range = sent("range").or(last.filter(is_apt).map(|row| row.range.as_str()));
    // The mains as it was read last in this step, with whichever instrument.
    let mains = log
        .rows
        .iter()
        .rev()
        .find(|row| row.step == step.name && row.mains_v.is_some());
    let mains = mains.and_then(|row| row.mains_v).filter(|_| !is_refused);
    let mains = mains.map_or(String::new(), |volts| volts.to_string());
    let mains = sent("at").map_or(mains, str::to_owned);
    let averages = last.and_then(|row| row.averages);
    let averages = averages.map_or(String::new(), |count| count.to_string());
    let averages = sent("averages").map_or(averages, str::to_owned);
    let names = offered(&job.instruments, one);
    let best = suited(&job.instruments, one).filter(|_| chosen.is_none());
    html! {
        div class="setup" {
            label {
                (words::WITH)
                select name="with" required aria-describedby=[chosen.is_none().then_some("suits")] {
                    @if chosen.is_none() { option value="" { (words::bench::CHOOSE) } }
                    @for known in &names { option selected[Some(known.name.as_str()) == chosen] { (known.name) } }
                }
                @if chosen.is_none() { span id="suits" { (words::bench::suits(best.map(|known| known.name.as_str()))) } }
            }
            (ranges(job, one, (chosen, range.unwrap_or_default())))
            @if is_live(step.kind) {
                label { (words::MAINS_READ) input type="text" name="at" inputmode="decimal" value=(mains); }
            }
            @if is_of_alternating_part(one.what) {
                label { (words::bench::AVERAGES) input type="text" name="averages" inputmode="numeric" value=(averages); }
            }
            label class="wide" { (words::SETUP) input type="text" name="setup" required value=(words_of_setup); }
            @if is_of_alternating_part(one.what) {
                label class="wide shorted" { input type="checkbox" name="floor" value="1" checked[sent("floor").is_some()]; span { (words::bench::IS_FLOOR) } }
            }
        }
    }
}

/// Ranges of the instruments that read the point, each under its instrument's name; with script those of the chosen one alone.
fn ranges(job: &Job, one: &Expectation, (own, chosen): (Option<&str>, &str)) -> Markup {
    let all: Vec<(&str, Vec<&str>)> = offered(&job.instruments, one)
        .into_iter()
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

/// In place of the field, where every row is read: on to the next step.
fn all_read(sheet: &Sheet<'_>, found: &BringUp, at: usize) -> Markup {
    let is_whole = found.steps[at]
        .expect
        .iter()
        .all(|one| !one.is_to_be_read());
    let next = found.steps.get(at + 1);
    html! {
        section class="now" id="now" {
            p { (if is_whole { words::ALL_READ } else { words::bench::READ_AS_FAR }) }
            @if let Some(next) = next {
                div class="keep" {
                    a class="btn main" id="typed" autofocus href=(href(sheet, &next.name)) { (words::bench::next_step(&next.name)) }
                }
            }
        }
    }
}
