//! Transformer: the readings of an unmarked transformer in the order in which they are best taken, what each narrowed, and what it
//! is by them.

use crate::parts::wide;
use crate::sheet::Sheet;
use crate::views::View;
use crate::words;
use maud::{Markup, html};
use quietrail_report::transformer::{line_of, next_words, ranged};
use quietrail_report::words::transformer as said;
use quietrail_study::transformer::{Known, WindingKnown, know};

pub(crate) const VIEW: View = View {
    slug: "transformer",
    name: "Transformer",
    show,
    file: None,
    act: None,
};

fn show(sheet: &Sheet<'_>) -> Markup {
    let text = sheet.version.texts.job.as_deref().unwrap_or_default();
    html! {
        div class="readings" {
            h1 { (words::TRANSFORMER_TITLE) }
            p class="lede" { (words::TRANSFORMER_LEDE) }
            @if sheet.job.unmarked.is_empty() { p { (words::NO_READINGS_OF_IT) } (order(None)) }
            @for unmarked in &sheet.job.unmarked {
                section class="pin" {
                    @match know(unmarked, &sheet.job) {
                        Ok(known) => (model(&known, text)),
                        Err(why) => { h2 { (unmarked.name) } p { (said::no_model(&why)) } (order(None)) },
                    }
                }
            }
            p class="soft" { (said::CAUTION) }
        }
    }
}

/// What the unmarked transformers of a job are by their readings, for the record.
pub(super) fn known_windings(sheet: &Sheet<'_>) -> Markup {
    let all = sheet.job.unmarked.iter();
    let known: Vec<Known> = all
        .filter_map(|unmarked| know(unmarked, &sheet.job).ok())
        .collect();
    html! {
        @for known in &known {
            section class="keep" {
                h2 { (said::heading(&known.name, known.mains.0, known.mains.1)) }
                (windings(known, "ledger"))
            }
        }
    }
}

fn windings(known: &Known, class: &str) -> Markup {
    html! {
        table class=(class) {
            caption { (said::WINDINGS) }
            thead { tr { @for head in said::HEAD {
                @if head.is_empty() { td {} } @else { th scope="col" { (head) } }
            } } }
            tbody { @for winding in &known.windings { (row(winding)) } }
        }
    }
}

fn model(known: &Known, text: &str) -> Markup {
    html! {
        h2 { (said::heading(&known.name, known.mains.0, known.mains.1)) }
        @if !known.doubts.is_empty() {
            h3 { (said::DOUBTS) }
            ul { @for doubt in &known.doubts { li { (said::doubt(doubt, &|at| line_of(text, at))) } } }
        }
        h3 { (said::NEXT) }
        p { @match &known.next { Some(next) => (next_words(next)), None => (said::NO_NEXT) } }
        (wide(said::WINDINGS, &windings(known, "plain")))
        (order(Some(known)))
    }
}

fn row(winding: &WindingKnown) -> Markup {
    let told = |range: Option<&quietrail_study::transformer::Ranged>, unit: &str| {
        range.map_or_else(String::new, |range| ranged(range, unit))
    };
    html! {
        tr {
            th scope="row" { (said::winding(&winding.name, winding.is_primary)) }
            td { (winding.leads.join(" - ")) }
            td class="num" { (told(Some(&winding.ohms), "Ω")) }
            td class="num" { (told(Some(&winding.open), "V")) }
            td class="num" { (told(winding.source.as_ref(), "Ω")) }
            td class="num" { (told(winding.leakage.as_ref(), "H")) }
        }
    }
}

/// The readings in their order: how each is taken, how many there are, and what was known after them.
fn order(known: Option<&Known>) -> Markup {
    html! {
        (wide(words::READINGS_IN_ORDER, &html! {
            table class="plain" {
                caption { (words::READINGS_IN_ORDER) }
                thead { tr { @for head in words::READING_HEADS { th scope="col" { (head) } } } }
                tbody {
                    @for (kind, how) in said::ORDER {
                        @let is_read = known.is_some_and(|known| known.reads.contains(&kind));
                        @let narrowed = known.and_then(|known| known.narrowed.iter().find(|step| step.kind == kind));
                        tr {
                            th scope="row" { (said::kind(kind)) br; span class="soft" { (how) } }
                            td { @if is_read { (words::IS_READ) } @else { (words::NOT_READ) } }
                            @if let Some(step) = narrowed {
                                td class="num" { (said::share(&step.open)) }
                                td class="num" { (said::share(&step.source)) }
                                td class="num" { (said::share(&step.leakage)) }
                            } @else { td {} td {} td {} }
                        }
                    }
                }
            }
        }))
    }
}
