//! Needs: what the load's data sheet asks, pin by pin, with what the supply gives beside it.

use crate::parts;
use crate::sheet::Sheet;
use crate::views::View;
use crate::words;
use maud::{Markup, html};
use quietrail_job::model::{Band, Limit, LoadDraw, PartKind, Subject};
use quietrail_report::number;
use quietrail_report::translate::units;
use quietrail_study::finding::LimitFinding;
use quietrail_study::level::{Shape, USUAL_CREST};
use quietrail_study::translate;

pub(crate) const VIEW: View = View {
    slug: "needs",
    name: "Needs",
    show,
    file: None,
    act: None,
};

fn show(sheet: &Sheet<'_>) -> Markup {
    html! {
        div class="needs" {
            h1 { (words::NEEDS_TITLE) }
            p class="lede" { (words::NEEDS_LEDE) }
            (draws(sheet))
            div id="needs" data-live {
                @let subjects = by_subject(sheet);
                @let told = subjects.iter().position(|(_, limits)| returns_of(sheet, limits).is_some());
                @for (index, (subject, limits)) in subjects.iter().enumerate() {
                    section class="pin" {
                        h2 { (subject) }
                        @if let Some(pin) = returns_of(sheet, limits).filter(|_| told == Some(index)) { p class="soft" { (pin) } }
                        ul class="cards" { @for limit in limits { (need(sheet, limit)) } }
                    }
                }
            }
            section id="card" data-live {
                @if let Some(limit) = sheet.asked.get("why") { (super::why::panel(sheet, limit, "needs")) }
            }
        }
    }
}

/// What the loads draw, state by state.
fn draws(sheet: &Sheet<'_>) -> Markup {
    let loads: Vec<_> = sheet
        .job
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            PartKind::Load(load) => Some((part, load)),
            _ => None,
        })
        .collect();
    parts::wide(
        words::DRAWS,
        &html! {
            table class="plain draws" {
                caption { (words::DRAWS) }
                thead { tr {
                    th scope="col" { (words::LOAD) }
                    @for state in &sheet.job.states { th scope="col" { (state.name) br; span class="soft" { (state.words) } } }
                } }
                tbody {
                    @for (part, load) in &loads {
                        tr {
                            th scope="row" { (part.name) br; span class="soft plainly" { (ends(&load.between.plus, &load.between.minus)) } }
                            @for (state, draw) in sheet.job.states.iter().zip(&load.draws) { td class="num" data-head=(state.name) { (draw_words(draw)) } }
                        }
                    }
                }
            }
        },
    )
}

fn draw_words(draw: &LoadDraw) -> String {
    match draw {
        LoadDraw::Current(figure) => figure.value.to_string(),
        LoadDraw::Resistance(figure) => figure.value.to_string(),
        LoadDraw::Power(figure) => figure.value.to_string(),
    }
}

fn ends(plus: &str, minus: &str) -> String {
    if minus == "common" {
        words::at(plus)
    } else {
        words::between(plus, minus)
    }
}

/// What the second node of a pair is, where loads end there: a name such as `pin` does not say it.
fn returns_of(sheet: &Sheet<'_>, limits: &[&Limit]) -> Option<String> {
    let (plus, minus) = limits.iter().find_map(|limit| match &limit.of {
        Subject::Pair(plus, minus) => Some((plus, minus)),
        _ => None,
    })?;
    let node = if minus == "common" { plus } else { minus };
    let loads = sheet.job.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Load(load) if load.between.minus == *node => Some(part.name.as_str()),
        _ => None,
    });
    let loads: Vec<&str> = loads.collect();
    (!loads.is_empty()).then(|| words::is_return_of(node, &loads))
}

/// Limits of the job under what they are about, in the order of the file.
fn by_subject<'a>(sheet: &'a Sheet<'_>) -> Vec<(String, Vec<&'a Limit>)> {
    let mut all: Vec<(String, Vec<&Limit>)> = Vec::new();
    for limit in sheet.job.limits.iter() {
        let name = match &limit.of {
            Subject::Node(node) => words::at(node),
            Subject::Pair(plus, minus) => words::between(plus, minus),
            Subject::Part(part) => part.clone(),
        };
        match all.iter_mut().find(|(known, _)| *known == name) {
            Some((_, limits)) => limits.push(limit),
            None => all.push((name, vec![limit])),
        }
    }
    all
}

/// A limit as the data sheet states it, and what the prediction says of it.
fn need(sheet: &Sheet<'_>, limit: &Limit) -> Markup {
    let finding = worst_of(sheet, &limit.name);
    let unit = quietrail_study::question::unit_of(limit.what);
    let all = limit.states.len() == sheet.job.states.len();
    let states: Vec<&str> = limit
        .states
        .iter()
        .map(|&state| sheet.job.states[state].name.as_str())
        .collect();
    html! {
        li class="need" id=(anchor(&limit.name)) {
            h3 { (limit.name) }
            p class="asks" {
                (words::asked_for(limit.what)) " "
                b class="num" { (quietrail_report::words::allowed(limit.what, limit.min, limit.max, unit)) }
                @if let Some(band) = &limit.band { ", " (band_words(band)) }
                @if all { ", " (words::ALL_STATES) } @else { ", " (states.join(", ")) }
            }
            @if !limit.from.is_empty() { p class="soft" { (limit.from) } }
            (in_other_units(sheet, limit))
            @if let Some(finding) = finding {
                @let href = sheet.asked.with(|asked| { asked.more.insert("why".to_owned(), limit.name.clone()); });
                @let read = crate::readings::of_row(sheet, finding);
                p class="has" {
                    (parts::verdict(finding.overall)) " "
                    @if !read.is_empty() { span class="soft" { (words::decided_by(finding)) } }
                }
                @for one in read { p class="has" { a class="reading" href={ (href.href("needs")) "#card" } { (crate::views::margins::reading(one)) } } }
                p class="has worst" {
                    span {
                        span class="soft small" { (words::COMPUTED_WORST) ", " (finding.state) } " "
                        a class="num value" href={ (href.href("needs")) "#card" } { (crate::views::margins::worst_value(finding)) }
                    }
                    @if let Some(margin) = finding.margin {
                        " " span { span class="soft small" { (words::MARGIN) } " " a class="num plain-link" href={ (href.href("needs")) "#card" } { (number::margin(finding.what, margin, finding.unit, finding.worst)) } }
                    }
                }
            }
        }
    }
}

/// A limit on ripple or noise in every unit that can be had from what is known, and from the shape that is assumed.
fn in_other_units(sheet: &Sheet<'_>, limit: &Limit) -> Markup {
    let Some((level, mut given)) = translate::of_limit_in(&sheet.job, limit) else {
        return html! {};
    };
    let shape = sheet.asked.get("shape").unwrap_or("");
    if given.shape.is_none() {
        given.shape = SHAPES
            .iter()
            .find(|(word, _)| *word == shape)
            .map(|(_, shape)| *shape);
    }
    let told = units(&translate::translate(level, given));
    html! {
        details class="units" open[!shape.is_empty()] {
            summary { (words::OTHER_UNITS) }
            dl { @for (unit, value) in &told { div { dt { (unit) } dd class="num" { (value) } } } }
            form method="get" action="needs" data-follow class="shape" {
                (parts::hidden(&sheet.asked, &["shape"]))
                label { (words::LOOKS_LIKE) " "
                    select name="shape" {
                        option value="" { (words::NOT_KNOWN) }
                        @for (word, _) in &SHAPES { option value=(word) selected[*word == shape] { (word) } }
                    }
                }
                noscript { button class="btn" { (words::SHOW) } }
            }
            p class="soft small" { (words::UNITS_MORE) }
        }
    }
}

/// What ripple may look like.
const SHAPES: [(&str, Shape); 5] = [
    ("sine", Shape::Sine),
    ("triangle", Shape::Triangle),
    ("sawtooth", Shape::Sawtooth),
    ("square", Shape::Square),
    ("noise", Shape::Noise { crest: USUAL_CREST }),
];

fn worst_of<'a>(sheet: &'a Sheet<'_>, name: &str) -> Option<&'a LimitFinding> {
    let known = sheet.known.as_ref()?;
    let rows = quietrail_report::verdicts::folded(&known.proof.limits);
    rows.into_iter().find(|row| row.name == name)
}

fn anchor(name: &str) -> String {
    let letters = name
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '-' });
    format!("need-{}", letters.collect::<String>())
}

fn band_words(band: &Band) -> String {
    let hertz = |value: f64| number::written(value, "Hz");
    match band {
        Band::BrickWall { low, high } => format!("{}\u{a0}..\u{a0}{}", hertz(*low), hertz(*high)),
        Band::Poles { low, high } => words::poles(&hertz(*low), &hertz(*high)),
    }
}
