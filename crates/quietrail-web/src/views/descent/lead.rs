//! The loud figure: the worst headroom, its corner, and what the corner in hand comes to.

use super::{headroom, limit_of, why_href};
use crate::asked::Asked;
use crate::parts;
use crate::sheet::{MAINS, Sheet};
use crate::words;
use maud::{Markup, html};
use quietrail_job::model::{PartKind, Subject};
use quietrail_report::{corner, number, verdicts};
use quietrail_study::finding::{LimitFinding, Overall, Predicted};

/// The worst figure, where it is, and what the corner in hand comes to.
pub(super) fn lead(sheet: &Sheet<'_>) -> Markup {
    let here = tightest_here(sheet);
    let has_rails = here.is_some() || sheet.tightest().is_some();
    html! {
        @match (sheet.tightest(), tightest_limit(sheet)) {
            (Some(worst), _) => (worst_headroom(sheet, worst)),
            (None, Some(worst)) if !has_rails => (worst_limit(sheet, worst)),
            _ => {
                p class="cap" { (words::HEADROOM_HERE) }
                @if let Some(here) = &here {
                    (shout(&headroom(here.volts), here.is_short(), if here.is_short() { Overall::Fails } else { Overall::NotShown }))
                    p class="where" { b { (words::headroom_of(&here.part)) } (nothing_worst(sheet)) }
                } @else { p class="where" { (nothing_worst(sheet)) } }
            },
        }
        @if let Some(here) = &here {
            div class="second" {
                span { b { (here.part) } " " (words::in_corner(sheet.state_name(), &number::written(sheet.mains, "V"), sheet.asked.worst_parts)) }
                span class="right" {
                    span class={ "fig num" @if here.is_short() { " v-fails" } @else { " v-level" } } {
                        @match limit_of(sheet, &here.part) {
                            Some(limit) => { a class="plain-link" href=(crate::views::why::href_here(sheet, &limit.name, "descent")) aria-label=(words::why(&headroom(here.volts))) { (headroom(here.volts)) } },
                            None => (headroom(here.volts)),
                        }
                    }
                    br;
                    @if here.is_short() { (parts::verdict_saying(Overall::Fails, words::SHORT_HERE)) }
                    @else { (parts::verdict_saying(Overall::Predicted, words::ABOVE_HERE)) }
                }
            }
        }
        (parts::tally(sheet, "small"))
    }
}

/// Why no worst headroom is told: it is being looked for, or no limit asks for one.
fn nothing_worst(sheet: &Sheet<'_>) -> &'static str {
    if sheet.known.is_some() {
        words::descent::NO_HEADROOM_LIMIT
    } else {
        words::LOOKING_FOR_WORST
    }
}

/// The tightest limit of all, whatever it is about.
fn tightest_limit<'a>(sheet: &'a Sheet<'_>) -> Option<&'a LimitFinding> {
    let known = sheet.known.as_ref()?;
    let rows = verdicts::folded(&known.proof.limits);
    let has_margin = |row: &&LimitFinding| row.margin.is_some_and(f64::is_finite);
    rows.into_iter().find(has_margin)
}

fn worst_headroom(sheet: &Sheet<'_>, worst: &LimitFinding) -> Markup {
    let volts = worst.margin.unwrap_or(f64::NAN);
    let part = match &worst.of {
        Subject::Part(part) => part.clone(),
        _ => worst.name.clone(),
    };
    let node = rail_of(sheet, &part);
    let fails = worst.predicted == Predicted::Fails;
    let told = words::on_rail(&part, node.as_deref(), fails);
    let text = headroom(volts);
    // Where some headroom is asked for, what is missing of that is not the headroom itself.
    let head = if worst.min.unwrap_or(0.0) == 0.0 {
        words::WORST_HEADROOM
    } else {
        words::descent::WORST_HEADROOM_LIMIT
    };
    html! { (headline(sheet, worst, head, &text, &told)) }
}

fn worst_limit(sheet: &Sheet<'_>, worst: &LimitFinding) -> Markup {
    let margin = worst.margin.unwrap_or(f64::NAN);
    let text = number::margin(worst.what, margin, worst.unit, worst.worst);
    let told = words::descent::limit_stands(&worst.name, worst.predicted == Predicted::Fails);
    html! { (headline(sheet, worst, words::descent::WORST_LIMIT, &text, &told)) }
}

fn headline(sheet: &Sheet<'_>, worst: &LimitFinding, head: &str, text: &str, told: &str) -> Markup {
    let is_short = worst.margin.is_some_and(|margin| margin < 0.0);
    let mut corner = corner::corner_words(&worst.corner);
    if !corner.contains(&worst.state) {
        corner = format!("{}: {corner}", worst.state);
    }
    html! {
        p class="cap" { (head) @if sheet.is_provisional() { ", " em { (words::PROVISIONAL_SHORT) } } }
        (shout(text, is_short, worst.overall))
        p class="where" {
            b { (told) }
            (sentence(&corner)) ". "
            a href=(why_href(sheet, worst)) { (words::why(text)) }
        }
        p class="drawit" {
            @if is_drawn(sheet, worst) { (words::descent::IS_DRAWN) }
            @else { a href=(corner_of(sheet, worst).href("descent")) { (words::descent::DRAW_IT) } }
        }
    }
}

/// The corner that the headline is about, and whether the drawing shows it.
pub(super) fn worst_corner(sheet: &Sheet<'_>) -> Option<(Asked, bool)> {
    let worst = sheet.tightest().or_else(|| tightest_limit(sheet))?;
    Some((corner_of(sheet, worst), is_drawn(sheet, worst)))
}

/// What a page is asked to show so that it draws the corner of a finding.
fn corner_of(sheet: &Sheet<'_>, worst: &LimitFinding) -> Asked {
    sheet.asked.with(|asked| {
        asked.state = Some(worst.state.clone());
        asked.worst_parts = true;
        asked.mains = mains_of(worst).map(|volts| format!("{volts}"));
        for own in ["why", "in", "at"] {
            asked.more.remove(own);
        }
    })
}

fn is_drawn(sheet: &Sheet<'_>, worst: &LimitFinding) -> bool {
    let nominal = sheet.job.mains.voltage.nominal();
    let mains = mains_of(worst).unwrap_or(nominal);
    // The slider goes by whole volts.
    let is_near = (sheet.mains - mains).abs() <= 0.5;
    sheet.asked.worst_parts && sheet.state_name() == worst.state && is_near
}

fn mains_of(worst: &LimitFinding) -> Option<f64> {
    let term = worst.corner.iter().find(|term| term.address.0 == MAINS);
    term.map(|term| term.value)
}

fn shout(text: &str, is_short: bool, overall: Overall) -> Markup {
    let (figure, unit) = text.split_once(number::NO_BREAK).unwrap_or((text, ""));
    let class = if is_short { "v-fails" } else { "v-level" };
    // Ten volts in hand are a digit more than the column has room for.
    let long = if figure.chars().count() > 5 {
        " long"
    } else {
        ""
    };
    html! {
        p class={ "shout num " (class) (long) } { (parts::sign(overall)) span { (figure) small { "\u{a0}" (unit) } } }
    }
}

fn rail_of(sheet: &Sheet<'_>, part: &str) -> Option<String> {
    let rails = sheet
        .base
        .sections
        .iter()
        .flat_map(|section| &section.rails);
    let own = rails.filter(|rail| rail.regulator.as_deref() == Some(part));
    let own = own.map(|rail| rail.node.clone()).next();
    let into = || match &sheet.job.part(part)?.kind {
        PartKind::Transistor(transistor) => Some(transistor.ends().1.to_owned()),
        _ => None,
    };
    own.or_else(into)
}

/// The regulator with the least left above its need in the corner in hand.
fn tightest_here(sheet: &Sheet<'_>) -> Option<Here> {
    let figures = sheet.figures().ok()?;
    let mut all = Vec::new();
    for (section, figures) in sheet.base.sections.iter().zip(&figures.sections) {
        for (rail, figures) in section.rails.iter().zip(&figures.rails) {
            if let (Some(part), true) = (&rail.regulator, figures.spare().is_finite()) {
                all.push(Here {
                    part: part.clone(),
                    volts: figures.spare(),
                });
            }
        }
    }
    all.into_iter().min_by(|a, b| a.volts.total_cmp(&b.volts))
}

/// A regulator in the corner in hand, and what is left above its need.
struct Here {
    part: String,
    volts: f64,
}

impl Here {
    fn is_short(&self) -> bool {
        self.volts < 0.0
    }
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
