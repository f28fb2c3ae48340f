//! All steps of the bring-up in a row, how each stands, and what the proof says before any of them.

use super::href;
use crate::parts;
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_report::words::bringup as said;
use quietrail_study::bringup::{BringUp, Expectation, Kind, Step};
use quietrail_study::finding::{LimitFinding, Overall};

/// How a step stands.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    Done,
    Fails,
    Open,
    Locked,
}

pub(super) fn standing(step: &Step) -> Standing {
    let fit = |one: &Expectation| one.last().map(|reading| reading.fit);
    let mut awaited = step.expect.iter().filter(|one| one.is_awaited).peekable();
    let has_awaited = awaited.peek().is_some();
    // What is outside its band is looked into first, waited for or not.
    if step
        .expect
        .iter()
        .filter_map(fit)
        .any(|fit| fit.is_outside())
    {
        Standing::Fails
    } else if has_awaited && awaited.all(|one| fit(one).is_some()) {
        Standing::Done
    } else if step.is_open() {
        Standing::Open
    } else {
        Standing::Locked
    }
}

/// A ring for a step that is open, a padlock for one that is not: told apart without colour.
const RING: &str = "<svg viewBox=\"0 0 20 20\" aria-hidden=\"true\"><circle cx=\"10\" cy=\"10\" r=\"6\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\"/></svg>";
const PADLOCK: &str = "<svg viewBox=\"0 0 20 20\" aria-hidden=\"true\"><path d=\"M4 9h12v9H4z\" fill=\"currentColor\"/><path d=\"M6.5 9V6a3.5 3.5 0 0 1 7 0v3\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\"/></svg>";

/// All steps in a row; each leads to itself.
pub(super) fn strip(sheet: &Sheet<'_>, found: &BringUp, index: usize) -> Markup {
    html! {
        ol class="steps" {
            @for (number, step) in found.steps.iter().enumerate() {
                @let standing = standing(step);
                @let (sign, word, class) = match standing {
                    Standing::Done => (parts::sign(Overall::Holds), words::STEP_DONE, "v-holds"),
                    Standing::Fails => (parts::sign(Overall::Fails), words::STEP_FAILS, "v-fails"),
                    Standing::Open => (html! { (PreEscaped(RING)) }, words::STEP_OPEN, "open"),
                    Standing::Locked => (html! { (PreEscaped(PADLOCK)) }, words::STEP_LOCKED, "lock"),
                };
                li aria-current=[(number == index).then_some("step")] class=(class) {
                    a href=(href(sheet, &step.name)) {
                        (sign)
                        span { (number + 1) span class="name" { " " (step.name) } } span class="unseen" { ", " (word) }
                    }
                }
            }
        }
    }
}

/// Above the step: what the proof says. It is a region of its own, so that news of the search does not
/// take the field from under the hand.
pub(super) fn top(sheet: &Sheet<'_>, step: &Step) -> Markup {
    html! {
        div class="benchtop" id="fails" data-live {
            (proof(sheet, step.kind == Kind::Load))
        }
    }
}

/// What the proof says, before the steps: which limits fail, and before what cannot be replaced is connected also that none does.
fn proof(sheet: &Sheet<'_>, is_load: bool) -> Markup {
    let rows = sheet
        .known
        .as_ref()
        .map(|known| quietrail_report::verdicts::folded(&known.proof.limits))
        .unwrap_or_default();
    let failing: Vec<&LimitFinding> = rows
        .into_iter()
        .filter(|row| row.overall == Overall::Fails)
        .collect();
    if failing.is_empty() && !is_load {
        return html! {};
    }
    let margins = sheet.asked.corner().href("margins");
    html! {
        section class={ "verdictbox" @if !failing.is_empty() { " fails" } } {
            p { b { @if !failing.is_empty() { (parts::sign(Overall::Fails)) } (crate::views::record::connect(sheet)) } }
            @for row in failing {
                p { (words::bench::PROOF_FAILS) " " b class="num v-fails" { (said::failing(row)) } }
            }
            p { a href=(margins) { (words::bench::TO_MARGINS) } }
        }
    }
}
