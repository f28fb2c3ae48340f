//! Transformer: the readings of an unmarked transformer in the order in which they are best taken, what each narrowed, and what it
//! is by them.

mod csv;
mod drawing;
mod form;
mod over;

use crate::desk::Key;
use crate::parts::wide;
use crate::sheet::Sheet;
use crate::views::{Answer, View};
use crate::words;
use form::Refusal;
use maud::{Markup, html};
use quietrail_job::model::unmarked::Unmarked;
use quietrail_report::transformer as facts;
use quietrail_report::transformer::{line_of, next_words, ranged};
use quietrail_report::words::transformer as said;
use quietrail_study::transformer::{Known, NoModel, WindingKnown, know};
use std::sync::Arc;

pub(crate) const VIEW: View = View {
    slug: "transformer",
    name: "Transformer",
    show,
    file: Some(csv::file),
    act: Some(act),
};

fn show(sheet: &Sheet<'_>) -> Markup {
    page(sheet, None)
}

/// Keeps a reading that was typed in; where it cannot, the page comes back with what was typed and why.
fn act(sheet: &Sheet<'_>, pairs: &[(String, String)]) -> Answer {
    match form::take(sheet, pairs) {
        Ok(answer) => answer,
        Err(refusal) => Answer::Page(422, page(sheet, Some(&refusal))),
    }
}

fn page(sheet: &Sheet<'_>, refusal: Option<&Refusal>) -> Markup {
    let names: Vec<&str> = sheet
        .job
        .unmarked
        .iter()
        .map(|one| one.name.as_str())
        .collect();
    let text = sheet.version.texts.job.as_deref().unwrap_or_default();
    html! {
        div class="readings" {
            h1 { (words::TRANSFORMER_TITLE) }
            p class="lede" { (words::TRANSFORMER_LEDE) }
            @if let Some(refusal) = refusal.filter(|one| one.is_of_none(&names) && !names.is_empty()) {
                p class="fault" role="alert" { (refusal.said()) }
            }
            @if names.is_empty() { p { (words::NO_READINGS_OF_IT) } (form::begin(sheet, refusal)) (order(None)) }
            @for (index, unmarked) in sheet.job.unmarked.iter().enumerate() {
                section class="pin" { (one(sheet, (index, unmarked), text, refusal)) }
            }
            p class="soft" { (said::CAUTION) }
        }
    }
}

/// One transformer. Its forms stand at once; what it is by its readings comes when that is worked out.
fn one(
    sheet: &Sheet<'_>,
    (index, unmarked): (usize, &Unmarked),
    text: &str,
    refusal: Option<&Refusal>,
) -> Markup {
    let found = known(sheet, unmarked);
    let known = match found.as_deref() {
        Some(Ok(known)) => Some(known),
        _ => None,
    };
    let heading = known.map_or_else(
        || unmarked.name.clone(),
        |known| said::heading(&known.name, known.mains.0, known.mains.1),
    );
    html! {
        div id={ "what" (index) } data-live {
            h2 { (heading) }
            @if let Some(Err(why)) = found.as_deref() { p { (said::no_model(why)) } }
            @if let Some(known) = known.filter(|known| !known.doubts.is_empty()) {
                h3 { (said::DOUBTS) }
                ul { @for doubt in &known.doubts { li { (said::doubt(doubt, &|at| line_of(text, at))) } } }
            }
        }
        div class="sides" {
            div {
                div id={ "next" (index) } data-live { @if let Some(known) = known { (next(known)) } }
                div id={ "take" (index) } data-live { (form::forms(sheet, unmarked, refusal)) }
            }
            div id={ "model" (index) } data-live aria-live="polite" {
                @if let Some(known) = known {
                    (model(known))
                    (form::trouble(refusal.filter(|one| one.is_of(&unmarked.name, over::KIND))))
                    (over::over(sheet, known))
                }
                @else if found.is_none() { div class="coming empty" { p role="status" { (words::unmarked::MODEL_COMING) } } }
            }
        }
    }
}

/// What an unmarked transformer is by its readings, worked out once for a version and what is tried; nothing while it is.
fn known(sheet: &Sheet<'_>, unmarked: &Unmarked) -> Option<Arc<Result<Known, NoModel>>> {
    let (own, job) = (unmarked.clone(), sheet.job.clone());
    let make = move || know(&own, &job);
    sheet.desk.later(&key(sheet, unmarked), make)
}

fn key(sheet: &Sheet<'_>, unmarked: &Unmarked) -> Key {
    let (sum, tried) = sheet.key();
    (sum, format!("transformer {} {tried}", unmarked.name))
}

/// What the unmarked transformers of a job are by their readings, for the record; a sentence where that is being worked out.
pub(super) fn known_windings(sheet: &Sheet<'_>) -> Markup {
    html! {
        @for unmarked in sheet.job.unmarked.iter() {
            @match known(sheet, unmarked).as_deref() {
                Some(Ok(known)) => {
                    section class="keep" {
                        h2 { (said::heading(&known.name, known.mains.0, known.mains.1)) }
                        (windings(known, "ledger"))
                    }
                },
                Some(Err(_)) => {},
                None => { section class="keep coming" { h2 { (unmarked.name) } p { (words::record::WORKING_OUT) } } },
            }
        }
    }
}

fn windings(known: &Known, class: &str) -> Markup {
    html! {
        table class=(class) {
            caption { (said::WINDINGS.trim_end_matches(':')) }
            thead { tr { @for head in said::HEAD {
                @if head.is_empty() { td {} } @else { th scope="col" { (head) } }
            } } }
            tbody { @for winding in &known.windings { (row(known, winding)) } }
        }
    }
}

/// The reading that narrows most.
fn next(known: &Known) -> Markup {
    html! {
        section class="nextread" {
            h3 { (said::NEXT.trim_end_matches(':')) }
            p { @match &known.next {
                Some(next) => (next_words(next)),
                None => (crate::parts::prose(&facts::first_unread(known).unwrap_or_else(|| said::NO_NEXT.to_owned()))),
            } }
        }
    }
}

fn model(known: &Known) -> Markup {
    html! {
        (drawing::windings(known))
        (wide(said::WINDINGS, &windings(known, "plain draws")))
        p { a href="transformer?as=csv" download { (words::AS_CSV) } }
        ul class="facts" {
            li { (facts::turns(known)) }
            @for fact in facts::warm(known).into_iter().chain(facts::iron(known)).chain(facts::regulation(known)) { li { (fact) } }
        }
        (order(Some(known)))
    }
}

fn row(known: &Known, winding: &WindingKnown) -> Markup {
    let told = |range: Option<&quietrail_study::transformer::Ranged>, unit: &str| {
        range.map_or_else(String::new, |range| ranged(range, unit))
    };
    html! {
        tr {
            th scope="row" { (said::winding(&winding.name, known.is_mains(winding))) }
            td data-head=(said::HEAD[1]) { (winding.leads.join(" - ")) }
            td class="num" data-head=(said::HEAD[2]) { (told(Some(&winding.ohms), "Ω")) }
            td class="num" data-head=(said::HEAD[3]) { (told(Some(&winding.open), "V")) }
            @for (head, text) in [(said::HEAD[4], told(winding.source.as_ref(), "Ω")), (said::HEAD[5], told(winding.leakage.as_ref(), "H"))] {
                @if text.is_empty() { td {} } @else { td class="num" data-head=(head) { (text) } }
            }
        }
    }
}

/// The readings in their order: how each is taken, how many there are, and what was known after them.
fn order(known: Option<&Known>) -> Markup {
    html! {
        (wide(words::READINGS_IN_ORDER, &html! {
            table class="plain draws" {
                caption { (words::READINGS_IN_ORDER) }
                thead { tr { @for head in words::READING_HEADS { th scope="col" { (head) } } } }
                tbody {
                    @for (kind, how) in said::ORDER {
                        @let is_read = known.is_some_and(|known| known.reads.contains(&kind));
                        @let narrowed = known.and_then(|known| known.narrowed.iter().find(|step| step.kind == kind));
                        tr {
                            th scope="row" { (said::kind(kind)) @if known.is_none() { br; span class="soft" { (crate::parts::prose(how)) } } }
                            td data-head=(words::READING_HEADS[1]) { @if is_read { (words::IS_READ) } @else { (words::NOT_READ) } }
                            @if let Some(step) = narrowed {
                                @for (head, share) in [(2, &step.open), (3, &step.source), (4, &step.leakage)] {
                                    td class="num" data-head=(words::READING_HEADS[head]) { (said::share(share)) }
                                }
                            } @else { td {} td {} td {} }
                        }
                    }
                }
            }
        }))
    }
}
