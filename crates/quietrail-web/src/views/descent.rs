//! The Descent: where the volts go, how much is left over each sill, and the corner in hand.

mod card;
mod lead;
mod pad;
mod table;

use crate::parts;
use crate::sheet::Sheet;
use crate::views::{Answer, View};
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_job::model::What;
use quietrail_report::number;
use quietrail_report::svg::{self, descent as drawing};
use quietrail_study::descent::{Figures, surfaces};
use quietrail_study::finding::{LimitFinding, Overall};

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
    // While the hand moves, a table that is folded is not wanted.
    let has_table = !sheet.asked.is_unseen("table");
    html! {
        h1 class="unseen" { "Descent" }
        div class="descent" {
            section class="lead" id="lead" data-live { (lead::lead(sheet)) }
            (parts::corner_form(sheet, "descent", chart))
            section class="draw" id="draw" data-live aria-label="The long section" {
                @if sheet.base.sections.is_empty() { (empty()) }
                @else {
                    @match figures {
                        Ok(figures) => (drawn(sheet, figures)),
                        Err(why) => (unsettled(why)),
                    }
                }
            }
            section class="under" id="card" data-live { (card::card(sheet)) }
            section class="tables" id="tables" data-live {
                @if let (Ok(figures), true) = (figures, has_table) { (table::details(sheet, figures)) }
            }
        }
    }
}

fn file(sheet: &Sheet<'_>, _kind: &str) -> Answer {
    let text = sheet
        .figures()
        .map(|figures| table::csv(sheet, figures))
        .unwrap_or_default();
    Answer::File {
        name: "descent.csv".to_owned(),
        kind: "text/csv; charset=utf-8",
        text,
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

/// The limit on the headroom of a regulator in the state in hand, if the job has one.
fn limit_of<'a>(sheet: &'a Sheet<'_>, part: &str) -> Option<&'a LimitFinding> {
    let limits = &sheet.known.as_ref()?.proof.limits;
    let is_it =
        |limit: &&LimitFinding| is_headroom_of(limit, part) && limit.state == sheet.state_name();
    limits.iter().find(is_it)
}

fn headroom(volts: f64) -> String {
    number::margin(What::Headroom, volts, "V", Some(volts))
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
        job: &sheet.job,
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
    let chosen = chosen_rail(sheet, figures, &narrow);
    html! {
        div class="sheetwrap" {
            (drawn_corner(sheet))
            (key(sheet, figures))
            div class="wide" {
                @for one in &wide { (PreEscaped(svg::bare(&one.scene))) }
            }
            (rail_keys(sheet, &narrow, chosen))
            div class="tall" {
                @for (index, one) in narrow.iter().enumerate() {
                    figure class=[(index == chosen).then_some("chosen")] {
                        figcaption { (rails_named(sheet, one.section, &one.rails)) }
                        (PreEscaped(svg::bare(&one.scene)))
                    }
                }
            }
            (all_parts(sheet, open.as_deref()))
            p class="soft small" { (wall(sheet, figures)) @if sheet.base.sections.iter().any(|section| section.rails.iter().any(|rail| rail.regulator.is_some())) { (words::descent::GROUND) " " } (words::WORST_FOUND_MEANS) }
        }
    }
}

/// On a phone one rail is drawn at a time, and this chooses it.
fn rail_keys(sheet: &Sheet<'_>, all: &[drawing::Sheet], chosen: usize) -> Markup {
    let href = |index: usize| {
        let asked = sheet.asked.with(|asked| {
            asked.more.insert(RAIL.to_owned(), index.to_string());
        });
        asked.href("descent")
    };
    html! {
        @if all.len() > 1 {
            nav class="keys rails" aria-label=(words::descent::RAILS) {
                @for (index, one) in all.iter().enumerate() {
                    a href=(href(index)) aria-current=[(index == chosen).then_some("true")] { (rails_named(sheet, one.section, &one.rails)) }
                }
            }
        }
    }
}

/// Where the address says which rail a phone shows.
const RAIL: &str = "rail";

/// The rail that a phone shows: the one asked for, else the one that is tightest of all corners, else of this one.
fn chosen_rail(sheet: &Sheet<'_>, figures: &Figures, all: &[drawing::Sheet]) -> usize {
    let asked = sheet.asked.get(RAIL).and_then(|text| text.parse().ok());
    if let Some(asked) = asked.filter(|index| *index < all.len()) {
        return asked;
    }
    let ranges = sheet.known.as_ref().and_then(|known| known.ranges.as_ref());
    let headroom = |one: &drawing::Sheet| {
        let Some(&rail) = one.rails.first() else {
            return f64::INFINITY;
        };
        let worst = ranges.and_then(|all| all.sections.get(one.section)?.rails.get(rail)?.worst);
        let here = figures
            .sections
            .get(one.section)
            .and_then(|own| own.rails.get(rail));
        let here = here.map_or(f64::INFINITY, |own| own.spare());
        let least = worst.map_or(here, |worst| worst.spare);
        if least.is_finite() {
            least
        } else {
            f64::INFINITY
        }
    };
    let indices = 0..all.len();
    let tightest = indices.min_by(|&a, &b| headroom(&all[a]).total_cmp(&headroom(&all[b])));
    tightest.unwrap_or(0)
}

/// Which corner is drawn, and the way to the one of the headline.
fn drawn_corner(sheet: &Sheet<'_>) -> Markup {
    let parts = if sheet.asked.worst_parts {
        words::WORST_PARTS
    } else {
        words::AS_MARKED
    };
    let mains = number::written(sheet.mains, "V");
    html! {
        p class="drawn" {
            b { (words::descent::drawn(sheet.state_name(), &mains, parts)) }
            @match lead::worst_corner(sheet) {
                Some((_, true)) => { span class="soft" { (words::descent::IS_WORST) } },
                Some((asked, false)) => { a href=(asked.href("descent")) { (words::descent::DRAW_WORST) } },
                None => {},
            }
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
            Some(super::why::href_here(sheet, &limit.name, "descent"))
        }
        drawing::Sum::Worst(part) => {
            let limits = &sheet.known.as_ref()?.proof.limits;
            let own = limits.iter().filter(|limit| is_headroom_of(limit, part));
            let margin = |limit: &LimitFinding| limit.margin.unwrap_or(f64::INFINITY);
            let worst = own.min_by(|a, b| margin(a).total_cmp(&margin(b)))?;
            Some(why_href(sheet, worst))
        }
        drawing::Sum::Valley(node, ret) => Some(level_href(sheet, (node, ret), What::Valley)),
        drawing::Sum::Peak(node, ret) => Some(level_href(sheet, (node, ret), What::Peak)),
        drawing::Sum::Ripple(node, ret) => {
            Some(level_href(sheet, (node, ret), What::RipplePeakToPeak))
        }
    }
}

/// The address that opens the sum of a node's level in the corner in hand.
fn level_href(sheet: &Sheet<'_>, ends: (&str, &str), what: What) -> String {
    super::why::href_here(sheet, &level_name(ends, what), "descent")
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

/// What a sheet of the long section shows: `heater rail`.
pub(super) fn rails_named(sheet: &Sheet<'_>, section: usize, rails: &[usize]) -> String {
    let section = &sheet.base.sections[section];
    let straight = section.node.as_str();
    let named = rails.iter().map(|&rail| {
        let rail = &section.rails[rail];
        if rail.regulator.is_none() && rail.node == straight {
            quietrail_report::words::descent::straight_on(&rail.node)
        } else {
            quietrail_report::words::descent::rail(&rail.node, rail.is_negative)
        }
    });
    named.collect::<Vec<_>>().join(", ")
}

/// What fills and lines mean, as far as the drawing has them.
fn key(sheet: &Sheet<'_>, figures: &Figures) -> Markup {
    use quietrail_report::words::descent as said;
    let rails = || figures.sections.iter().flat_map(|section| &section.rails);
    let has_sills = rails().any(|rail| rail.headroom.is_finite());
    let ranges = sheet.known.as_ref().and_then(|known| known.ranges.as_ref());
    let worst = ranges.iter().flat_map(|all| &all.sections);
    let mut worst = worst.flat_map(|section| &section.rails);
    let is_short = rails().any(|rail| rail.spare() < 0.0)
        || worst.any(|rail| rail.worst.is_some_and(|worst| worst.spare < 0.0));
    html! {
        p class="key" {
            span { i class="k-hand" {} (said::THIS_CORNER) }
            span { i class="k-all" {} (said::WORST_FOUND) }
            span { i class="k-low" {} (words::KEY_LOWEST) }
            @if has_sills { span { i class="k-sill" {} (words::KEY_NEEDS) } }
            @if is_short { span { i class="k-short" {} (words::KEY_SHORT) } }
        }
    }
}

/// What stands at the wall: it is drawn at the transformer's ratio, of each section its own, and its peak is not always that of a sine.
fn wall(sheet: &Sheet<'_>, figures: &Figures) -> String {
    use quietrail_report::words::descent as said;
    let section = sheet.base.sections.first().zip(figures.sections.first());
    let Some((section, figures)) = section else {
        return String::new();
    };
    let Some(transformer) = &section.transformer else {
        return String::new();
    };
    let mut ratios: Vec<String> = Vec::new();
    for one in &sheet.base.sections {
        let ratio = 1.0 / (one.ratio * one.share);
        let places = if ratio < 1.0 { 2 } else { 1 };
        let told = format!("{ratio:.places$}");
        if one.transformer.as_ref() == Some(transformer) && !ratios.contains(&told) {
            ratios.push(told);
        }
    }
    let at_ratio = said::at_ratio(transformer, &ratios);
    let volts = |value: f64| number::in_hand(value, "V");
    let sine = sheet.mains * std::f64::consts::SQRT_2;
    let is_flat = (figures.outlet - sine).abs() > 0.005 * sine;
    let sine = is_flat.then(|| volts(sine));
    let told = words::descent::wall(&at_ratio, &volts(figures.outlet), sine.as_deref());
    format!("{told} ")
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
