//! The Descent: where the volts go, how much is left over each sill, and the corner in hand.

mod card;
mod pad;
mod table;

use crate::parts;
use crate::sheet::Sheet;
use crate::views::{Answer, View};
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_job::model::What;
use quietrail_report::svg::{self, descent as drawing};
use quietrail_report::{corner, number};
use quietrail_study::descent::{Figures, surfaces};
use quietrail_study::finding::{LimitFinding, Overall, Predicted};

pub(crate) const VIEW: View = View {
    slug: "descent",
    name: "Descent",
    show,
    file: Some(file),
    act: None,
};

/// Points of the water's surface in a mains cycle.
const POINTS: usize = 160;

fn show(sheet: &Sheet<'_>) -> Markup {
    let figures = sheet.figures();
    let chart = Some(pad::chart(sheet));
    html! {
        h1 class="unseen" { "Descent" }
        div class="descent" {
            section class="lead" id="lead" data-live { (lead(sheet)) }
            (parts::corner_form(sheet, "descent", chart))
            section class="draw" id="draw" data-live aria-label="The long section" {
                @if sheet.base.sections.is_empty() { (empty()) }
                @else {
                    @match &figures {
                        Ok(figures) => (drawn(sheet, figures)),
                        Err(why) => (unsettled(why)),
                    }
                }
            }
            section class="under" id="card" data-live { (card::card(sheet)) }
            section class="tables" id="tables" data-live {
                @if let Ok(figures) = &figures { (table::details(sheet, figures)) }
            }
        }
    }
}

fn file(sheet: &Sheet<'_>, _kind: &str) -> Answer {
    let text = sheet
        .figures()
        .map(|figures| table::csv(sheet, &figures))
        .unwrap_or_default();
    Answer::File {
        name: "descent.csv".to_owned(),
        kind: "text/csv; charset=utf-8",
        text,
    }
}

/// The worst figure, where it is, and what the corner in hand comes to.
fn lead(sheet: &Sheet<'_>) -> Markup {
    let here = tightest_here(sheet);
    html! {
        @match sheet.tightest() {
            Some(worst) => (worst_lead(sheet, worst)),
            None => {
                p class="cap" { (words::HEADROOM_HERE) }
                @if let Some((part, volts)) = &here {
                    (shout(*volts, if *volts < 0.0 { Overall::Fails } else { Overall::NotShown }))
                    p class="where" { b { (words::headroom_of(part)) } (words::LOOKING_FOR_WORST) }
                }
            },
        }
        @if let Some((part, volts)) = &here {
            div class="second" {
                span { b { (part) } " " (words::in_corner(sheet.state_name(), &number::si(sheet.mains, "V", 3), sheet.asked.worst_parts)) }
                span class="right" {
                    span class={ "fig num" @if *volts < 0.0 { " v-fails" } @else { " v-level" } } {
                        @match limit_of(sheet, part) {
                            Some(limit) => { a class="plain-link" href=(crate::views::why::href_here(sheet, limit, "descent")) aria-label=(words::why(&headroom(*volts))) { (headroom(*volts)) } },
                            None => (headroom(*volts)),
                        }
                    }
                    br;
                    @if *volts < 0.0 { (parts::verdict_saying(Overall::Fails, words::SHORT_HERE)) }
                    @else { (parts::verdict_saying(Overall::Predicted, words::ABOVE_HERE)) }
                }
            }
        }
        (parts::tally(sheet, "small"))
    }
}

fn worst_lead(sheet: &Sheet<'_>, worst: &LimitFinding) -> Markup {
    let volts = worst.margin.unwrap_or(f64::NAN);
    let part = match &worst.of {
        quietrail_job::model::Subject::Part(part) => part.clone(),
        _ => worst.name.clone(),
    };
    let node = rail_of(sheet, &part);
    let fails = worst.predicted == Predicted::Fails;
    let mut corner = corner::corner_words(&worst.corner);
    if !corner.contains(&worst.state) {
        corner = format!("{}: {corner}", worst.state);
    }
    html! {
        p class="cap" { (words::WORST_HEADROOM) @if sheet.is_provisional() { ", " em { (words::PROVISIONAL_SHORT) } } }
        (shout(volts, worst.overall))
        p class="where" {
            b { (words::on_rail(&part, &node, fails)) }
            (sentence(&corner)) ". "
            a href=(why_href(sheet, worst)) { (words::why(&headroom(volts))) }
        }
    }
}

/// The address that opens a limit's sum on this page.
pub(super) fn why_href(sheet: &Sheet<'_>, finding: &LimitFinding) -> String {
    let asked = sheet.asked.with(|asked| {
        asked.part = None;
        asked.more.remove("at");
        asked.more.insert("why".to_owned(), finding.name.clone());
        asked.more.insert("in".to_owned(), finding.state.clone());
    });
    format!("{}#card", asked.href("descent"))
}

fn shout(volts: f64, overall: Overall) -> Markup {
    let text = headroom(volts);
    let (figure, unit) = text
        .split_once(number::NO_BREAK)
        .unwrap_or((text.as_str(), ""));
    let class = if volts < 0.0 { "v-fails" } else { "v-level" };
    html! {
        p class={ "shout num " (class) } { (parts::sign(overall)) span { (figure) small { "\u{a0}" (unit) } } }
    }
}

/// The limit on the headroom of a regulator in the state in hand, if the job has one.
fn limit_of<'a>(sheet: &'a Sheet<'_>, part: &str) -> Option<&'a str> {
    let known = sheet.known.as_ref()?;
    let found = known
        .proof
        .limits
        .iter()
        .find(|limit| is_headroom_of(limit, part) && limit.state == sheet.state_name());
    found.map(|limit| limit.name.as_str())
}

fn headroom(volts: f64) -> String {
    number::margin(What::Headroom, volts, "V", Some(volts))
}

fn rail_of(sheet: &Sheet<'_>, part: &str) -> String {
    let rails = sheet
        .base
        .sections
        .iter()
        .flat_map(|section| &section.rails);
    let own = rails.filter(|rail| rail.regulator.as_deref() == Some(part));
    own.map(|rail| rail.node.clone()).next().unwrap_or_default()
}

/// The regulator with the least headroom in the corner in hand.
fn tightest_here(sheet: &Sheet<'_>) -> Option<(String, f64)> {
    let figures = sheet.figures().ok()?;
    let mut all = Vec::new();
    for (section, figures) in sheet.base.sections.iter().zip(&figures.sections) {
        for (rail, figures) in section.rails.iter().zip(&figures.rails) {
            if let (Some(part), true) = (&rail.regulator, figures.headroom.is_finite()) {
                all.push((part.clone(), figures.headroom));
            }
        }
    }
    all.into_iter().min_by(|a, b| a.1.total_cmp(&b.1))
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn drawn(sheet: &Sheet<'_>, figures: &Figures) -> Markup {
    let surfaces = sheet.here().map(|here| {
        surfaces(
            &sheet.base.sections,
            (&sheet.base.ready.plan, here),
            POINTS,
            &quietrail_study::options(),
        )
    });
    let surfaces = surfaces.unwrap_or_else(|_| vec![Vec::new(); sheet.base.sections.len()]);
    let states: Vec<String> = sheet
        .job
        .states
        .iter()
        .map(|state| state.name.clone())
        .collect();
    let link = |part: &str| {
        let asked = sheet.asked.with(|asked| {
            asked.part = Some(part.to_owned());
            asked.more.remove("why");
        });
        Some(format!("{}#card", asked.href("descent")))
    };
    let open = card::open_part(sheet);
    let all = sheet
        .known
        .as_ref()
        .and_then(|known| known.ranges.as_deref());
    let descent = drawing::Descent {
        sections: &sheet.base.sections,
        here: figures,
        all,
        surfaces: &surfaces,
        states: &states,
        open: open.as_deref(),
        link: &link,
        sum: &|sum| sum_href(sheet, sum),
    };
    let sheets = |name: &str, width| match sheet.asked.is_unseen(name) {
        true => Vec::new(),
        false => drawing::sheets(&descent, width),
    };
    let wide = sheets("wide", drawing::Width::Wide);
    let narrow = sheets("narrow", drawing::Width::Narrow);
    html! {
        div class="sheetwrap" {
            (key(sheet, figures))
            div class="wide" {
                @for one in &wide { (PreEscaped(svg::bare(&one.scene))) }
            }
            div class="tall" {
                @for one in &narrow {
                    figure {
                        figcaption { (rails_named(sheet, one.section, &one.rails)) }
                        (PreEscaped(svg::bare(&one.scene)))
                    }
                }
            }
            (all_parts(sheet, open.as_deref()))
            p class="soft small" { (words::ALL_CORNERS_MEAN) }
        }
    }
}

/// Every part of the job, those that the drawing leaves out too; each opens its card.
fn all_parts(sheet: &Sheet<'_>, open: Option<&str>) -> Markup {
    let href = |part: &str| {
        let asked = sheet.asked.with(|asked| {
            asked.part = Some(part.to_owned());
            for own in ["why", "in", "at"] {
                asked.more.remove(own);
            }
        });
        format!("{}#card", asked.href("descent"))
    };
    html! {
        nav class="allparts" aria-label=(words::ALL_PARTS) {
            span class="soft" { (words::ALL_PARTS) }
            @for part in &sheet.job.parts {
                @let current = open == Some(part.name.as_str());
                a href=(href(&part.name)) aria-current=[current.then_some("true")] { (part.name) }
            }
        }
    }
}

/// Where a figure of the drawing leads.
fn sum_href(sheet: &Sheet<'_>, sum: drawing::Sum<'_>) -> Option<String> {
    match sum {
        drawing::Sum::Headroom(part) => {
            let limit = limit_of(sheet, part)?;
            Some(super::why::href_here(sheet, limit, "descent"))
        }
        drawing::Sum::Worst(part) => {
            let limits = &sheet.known.as_ref()?.proof.limits;
            let own = limits.iter().filter(|limit| is_headroom_of(limit, part));
            let margin = |limit: &LimitFinding| limit.margin.unwrap_or(f64::INFINITY);
            let worst = own.min_by(|a, b| margin(a).total_cmp(&margin(b)))?;
            Some(why_href(sheet, worst))
        }
        drawing::Sum::Valley(node, ret) => Some(valley_href(sheet, node, ret)),
    }
}

/// The address that opens the sum of a node's lowest instant in the corner in hand.
fn valley_href(sheet: &Sheet<'_>, node: &str, ret: &str) -> String {
    super::why::href_here(sheet, &level_name((node, ret), What::Valley), "descent")
}

/// `raw valley`, `plus,minus valley`
fn level_name((node, ret): (&str, &str), what: What) -> String {
    let word = what.word();
    match ret {
        "common" => format!("{node} {word}"),
        _ => format!("{node},{ret} {word}"),
    }
}

fn is_headroom_of(limit: &LimitFinding, part: &str) -> bool {
    let is_own = matches!(&limit.of, quietrail_job::model::Subject::Part(own) if own == part);
    is_own && limit.what == What::Headroom
}

fn rails_named(sheet: &Sheet<'_>, section: usize, rails: &[usize]) -> String {
    let section = &sheet.base.sections[section];
    let named = rails.iter().map(|&rail| {
        let rail = &section.rails[rail];
        match &rail.regulator {
            Some(_) => quietrail_report::words::descent::rail(&rail.node),
            None => quietrail_report::words::descent::straight_on(&rail.node),
        }
    });
    named.collect::<Vec<_>>().join(", ")
}

fn key(sheet: &Sheet<'_>, figures: &Figures) -> Markup {
    use quietrail_report::words::descent as said;
    let ratio = sheet.base.sections.iter().find_map(|section| {
        let transformer = section.transformer.as_ref()?;
        let ratio = 1.0 / (section.ratio * section.share);
        Some(said::at_ratio(transformer, &format!("{ratio:.1}")))
    });
    let outlet = figures
        .sections
        .first()
        .map_or(f64::NAN, |section| section.outlet);
    let sine = sheet.mains * std::f64::consts::SQRT_2;
    let volts = |value: f64| number::si(value, "V", 3);
    html! {
        p class="key" {
            span { i class="k-hand" {} (said::THIS_CORNER) }
            span { i class="k-all" {} (said::ALL_CORNERS) }
            span { i class="k-low" {} (words::KEY_LOWEST) }
            span { i class="k-sill" {} (words::KEY_NEEDS) }
            span { i class="k-short" {} (words::KEY_SHORT) }
            @if let Some(ratio) = ratio { span { (ratio) } }
            @if (outlet - sine).abs() > 0.005 * sine { span { (words::flattened(&volts(outlet), &volts(sine))) } }
        }
    }
}

fn empty() -> Markup {
    html! {
        div class="sheetwrap empty" {
            h2 { (words::NO_SECTION) }
            p { (words::NO_SECTION_MORE) }
            p { a class="btn main" href="file" { (words::JOB_TEXT) } }
        }
    }
}

fn unsettled(why: &str) -> Markup {
    html! {
        div class="sheetwrap empty" {
            p { (parts::verdict(Overall::NotShown)) }
            p { (words::did_not_settle(why)) }
        }
    }
}
