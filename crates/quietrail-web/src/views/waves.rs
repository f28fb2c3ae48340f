//! Waves: a node over two mains cycles, the lowest corner found beside it, what charges it and what it feeds.

mod captured;

use crate::parts;
use crate::sheet::{MAINS, Sheet};
use crate::views::{Answer, View};
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_job::Parameter;
use quietrail_job::model::{Subject, What};
use quietrail_report::{number, svg};
use quietrail_study::finding::{LimitFinding, Overall};
use quietrail_study::solve::Solved;
use quietrail_study::wave::Waves;
use quietrail_study::waves::{NoWaves, between};
use std::fmt::Write;

pub(crate) const VIEW: View = View {
    slug: "waves",
    name: "Waves",
    show,
    file: Some(file),
    act: None,
};

/// Samples of the read-out: every so many of the drawing's.
const EVERY: usize = 4;

fn show(sheet: &Sheet<'_>) -> Markup {
    let nodes = nodes(sheet);
    let node = node_of(sheet, &nodes);
    let captures = captured::rows(sheet, &node);
    let mut drawing = drawn(sheet, &node);
    let (odd, not_laid) = match drawing
        .as_mut()
        .map(|own| captured::lay(sheet, &captures, own))
    {
        Ok(Ok(odd)) => (odd, None),
        Ok(Err(why)) => (None, Some(why)),
        Err(_) => (None, None),
    };
    html! {
        h1 { (words::waves::WAVES_TITLE) }
        div class="wavehead" {
            form class="pick-node" method="get" action="waves" data-follow {
                (parts::hidden(&sheet.asked, &["node"]))
                label for="node" { (words::waves::NODE) }
                select id="node" name="node" {
                    @for one in &nodes { option value=(one) selected[*one == node] { (one) } }
                }
                noscript { button class="btn" { (words::SHOW) } }
            }
            (captured::choice(sheet, &node, &captures))
            (parts::corner_form(sheet, "waves", None))
        }
        section id="waves" data-live {
            @match &drawing {
                Ok(drawing) => {
                    @if let Some(why) = &not_laid { p class="fault" role="alert" { (why) } }
                    @if let Some(odd) = &odd { p class="fault" role="alert" { (parts::sign(Overall::NotShown)) (odd) } }
                    div class="following" {
                    (readout(drawing))
                    div class="sheetwrap wavewrap" {
                        div class="desk" {
                            @if !sheet.asked.is_unseen("wide") { (PreEscaped(svg::bare(&svg::waves_panels(drawing)))) }
                        }
                        div class="middle" {
                            @if !sheet.asked.is_unseen("middle") { (PreEscaped(svg::bare(&svg::waves_middle(drawing)))) }
                        }
                        div class="onpaper" {
                            @if !sheet.asked.is_unseen("paper") { (PreEscaped(svg::bare(&svg::waves_paper(drawing)))) }
                        }
                        div class="phone" {
                            @if !sheet.asked.is_unseen("narrow") { (PreEscaped(svg::bare(&svg::waves_narrow(drawing)))) }
                        }
                    }
                    }
                    (figures(sheet, drawing))
                    (said(sheet, drawing))
                    (table(sheet, drawing))
                },
                Err(why) => {
                    div class="sheetwrap empty" { p { (parts::verdict(Overall::NotShown)) } p { (words::did_not_settle(why)) } }
                },
            }
        }
    }
}

/// Nodes that have a voltage against common.
fn nodes(sheet: &Sheet<'_>) -> Vec<String> {
    let Some(lowered) = sheet
        .base
        .ready
        .nominal
        .iter()
        .find_map(|nominal| Some(&nominal.as_ref().ok()?.lowered))
    else {
        return Vec::new();
    };
    let reached = lowered.reached_from_common();
    let named = lowered
        .named_nodes()
        .filter(|(_, node)| reached.contains(node));
    named.map(|(name, _)| name.to_owned()).collect()
}

/// The node asked for, else the first rectified one.
fn node_of(sheet: &Sheet<'_>, nodes: &[String]) -> String {
    let asked = sheet
        .asked
        .get("node")
        .filter(|node| nodes.iter().any(|known| known == node));
    let first = sheet
        .base
        .sections
        .first()
        .map(|section| section.node.as_str());
    let first = first.filter(|node| nodes.iter().any(|known| known == node));
    asked
        .or(first)
        .or(nodes.first().map(String::as_str))
        .unwrap_or_default()
        .to_owned()
}

fn drawn(sheet: &Sheet<'_>, node: &str) -> Result<Waves, String> {
    let here = sheet.here()?;
    let known = sheet.known.iter();
    let own = known.flat_map(|known| known.corners.iter().chain(known.marked.iter()));
    let others: Vec<&Solved> = own
        .filter(|(state, _)| *state == sheet.state)
        .map(|(_, solved)| &**solved)
        .collect();
    let told = |solved: &Solved| told(sheet, solved);
    between(&sheet.base.ready, node, here, &others, &told).map_err(|why| match why {
        NoWaves::UnknownNode { known } => words::waves::no_such_node(node, &known),
        NoWaves::Trouble(trouble) => trouble.to_string(),
    })
}

/// The figures of a solved corner, by the limit that is worst there.
fn told(sheet: &Sheet<'_>, solved: &Solved) -> Vec<(String, String)> {
    let parameters = solved.lowered.job.parameters();
    let stands_at = |address: &str, value: f64| {
        let own = parameters.iter().find(|one| one.address.0 == address);
        own.is_some_and(|one| (one.nominal - value).abs() <= 1e-9 * value.abs())
    };
    let known = sheet.known.iter().flat_map(|known| &known.proof.limits);
    let own = known.filter(|finding| {
        let mut terms = finding.corner.iter();
        finding.state == sheet.state_name()
            && terms.all(|term| stands_at(&term.address.0, term.value))
    });
    let whole = own.max_by_key(|finding| finding.corner.len());
    if whole.is_none() {
        // Parts as marked: where the mains stands is all there is to say.
        let mains = parameters.iter().find(|one| one.address.0 == MAINS);
        let told = |one: &Parameter| {
            (
                one.address.0.clone(),
                number::written(one.nominal, one.unit),
            )
        };
        return mains.map(told).into_iter().collect();
    }
    let terms = whole.iter().flat_map(|finding| &finding.corner);
    terms
        .map(|term| {
            (
                term.address.0.clone(),
                number::written(term.value, term.unit),
            )
        })
        .collect()
}

/// A row of figures in fixed places that follows the pointer, the finger or the arrow keys.
fn readout(drawing: &Waves) -> Markup {
    let mut series: Vec<(String, &[f64], &str)> = vec![(drawing.node.clone(), &drawing.volts, "V")];
    if !drawing.lowest.is_empty() {
        series.push((words::waves::worse_of(drawing), &drawing.lowest, "V"));
    }
    if let Some(measured) = &drawing.measured {
        series.push((
            words::bench::measured_of(&drawing.node),
            &measured.volts,
            "V",
        ));
    }
    if let Some(current) = &drawing.current {
        series.push((
            quietrail_report::words::waves::current(current),
            &current.amps,
            "A",
        ));
    }
    for rail in &drawing.rails {
        series.push((rail.node.clone(), &rail.volts, "V"));
    }
    // What is left over the tightest need at each instant.
    let tightest = drawing
        .needs
        .iter()
        .min_by(|a, b| a.worst_headroom.total_cmp(&b.worst_headroom));
    let over = |values: &[f64], need: f64| values.iter().map(|volts| volts - need).collect();
    let (mut here, mut at_worst): (Vec<f64>, Vec<f64>) = Default::default();
    if let Some(need) = tightest.filter(|_| drawing.mean > 0.0) {
        here = over(&drawing.volts, need.volts);
        at_worst = over(&drawing.lowest, need.worst_volts);
    }
    if let Some(need) = tightest {
        if !here.is_empty() {
            series.insert(1, (words::waves::left_over(&need.part), &here, "V"));
        }
        if !at_worst.is_empty() {
            series.insert(3, (words::waves::LEFT_AT_WORST.to_owned(), &at_worst, "V"));
        }
    }
    let start = worst_point(drawing);
    let data = |values: &[f64]| {
        let some: Vec<String> = values
            .iter()
            .step_by(EVERY)
            .map(|value| match value.abs() {
                small if small < 0.1 => format!("{value:.6}"),
                _ => format!("{value:.4}"),
            })
            .collect();
        some.join(" ")
    };
    html! {
        div class="readout" data-readout data-start=(start / EVERY) data-half=(drawing.time.len() / 4 / EVERY)
            data-seconds=(drawing.time.last().copied().unwrap_or(0.0)) role="group" aria-label=(words::waves::READOUT) {
            div { span { (words::waves::TIME) } output class="num" data-time { (number::si(drawing.time[start], "s", 3)) } }
            @for (name, values, unit) in &series {
                div {
                    span { (name) }
                    output class="num" data-series=(data(values)) data-unit=(unit) { (number::in_hand(to_millionths(values[start]), unit)) }
                }
            }
        }
    }
}

/// As fine as the read-out's own figures are: what leaks through a diode is none of its current.
fn to_millionths(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// Where the level is lowest over what is needed.
fn worst_point(drawing: &Waves) -> usize {
    let values = if drawing.lowest.is_empty() {
        &drawing.volts
    } else {
        &drawing.lowest
    };
    // Under common that is where it is nearest to common.
    let sign = if values.iter().all(|volts| *volts < 0.0) {
        -1.0
    } else {
        1.0
    };
    let lowest = values
        .iter()
        .enumerate()
        .min_by(|a, b| (sign * a.1).total_cmp(&(sign * b.1)));
    let at = lowest.map_or(0, |(index, _)| index);
    at / EVERY * EVERY
}

/// The node's figures in the corner in hand; each leads to its sum, which opens under them.
fn figures(sheet: &Sheet<'_>, drawing: &Waves) -> Markup {
    let volts = |value: f64| number::in_hand(value, "V");
    let named = |of: &str, what: What| format!("{of} {}", what.word());
    let node = &drawing.node;
    let mut all = vec![
        (named(node, What::Mean), volts(drawing.mean)),
        (named(node, What::Valley), volts(drawing.valley)),
        (named(node, What::Peak), volts(drawing.peak)),
        (
            named(node, What::Ripple),
            number::statistic(What::Ripple, drawing.ripple_rms, "V", None),
        ),
    ];
    // Sums are about what a rectifier gives to its output; of its lower half there is none.
    let mut plain = Vec::new();
    if let Some(current) = &drawing.current {
        let amps = |value: f64| number::si(value, "A", 3);
        let of = if current.is_lower {
            &mut plain
        } else {
            &mut all
        };
        of.push((named(&current.part, What::PeakCurrent), amps(current.peak)));
        of.push((named(&current.part, What::RmsCurrent), amps(current.rms)));
    }
    for rail in &drawing.rails {
        let mean = rail.volts.iter().sum::<f64>() / rail.volts.len() as f64;
        all.push((named(&rail.node, What::Mean), volts(mean)));
    }
    html! {
        dl class="figures-of" aria-label=(words::figures_of(&drawing.node)) {
            @for (name, value) in &all {
                div {
                    dt { (name) }
                    dd class="num" { a href=(super::why::href_here(sheet, name, "waves")) { (value) } }
                }
            }
            @for (name, value) in &plain { div { dt { (name) (quietrail_report::words::waves::LOWER) } dd class="num" { (value) } } }
        }
        @if let Some(name) = sheet.asked.get("why") {
            div id="card" { (super::why::panel(sheet, name, "waves")) }
        }
    }
}

fn said(sheet: &Sheet<'_>, drawing: &Waves) -> Markup {
    html! {
        div class="threecol" {
            @if let Some(measured) = &drawing.measured {
                div {
                    p { b { (words::bench::LAID_OVER) } }
                    p { (quietrail_report::words::waves::laid_over(drawing, measured)) }
                }
            }
            @for need in &drawing.needs {
                div {
                    @let fails = need.worst_headroom < 0.0;
                    @if drawing.lowest.is_empty() {
                        p { (parts::verdict(Overall::NotShown)) " " b { (words::waves::at_worst_corner(&need.part)) } }
                        p { (words::waves::NO_WORST_KNOWN) }
                    } @else {
                        @let verdict = if fails { Overall::Fails } else { Overall::Predicted };
                        p { (parts::verdict(verdict)) " " b { (words::waves::at_worst_corner(&need.part)) } }
                        p { (words::waves::wave_sentence(&drawing.node, need, below(drawing, need.worst_volts))) }
                        @if let Some(limit) = headroom_limit(sheet, &need.part) {
                            p { a href=(why_href(sheet, limit)) { (words::why(&number::margin(What::Headroom, need.worst_headroom, "V", Some(need.worst_headroom)))) } }
                        }
                    }
                }
            }
            div {
                p { b { (words::waves::SEE_YOURSELF) } }
                p { (words::waves::settings(drawing)) }
            }
        }
    }
}

/// The limit on a regulator's headroom in the state in hand.
fn headroom_limit<'a>(sheet: &'a Sheet<'_>, part: &str) -> Option<&'a LimitFinding> {
    let limits = &sheet.known.as_ref()?.proof.limits;
    limits.iter().find(|limit| {
        let is_own = matches!(&limit.of, Subject::Part(own) if own == part);
        is_own && limit.what == What::Headroom && limit.state == sheet.state_name()
    })
}

/// The address that opens a limit's sum at its worst corner on this page.
fn why_href(sheet: &Sheet<'_>, finding: &LimitFinding) -> String {
    let asked = sheet.asked.with(|asked| {
        asked.more.remove("at");
        asked.more.insert("why".to_owned(), finding.name.clone());
        asked.more.insert("in".to_owned(), finding.state.clone());
    });
    format!("{}#card", asked.href("waves"))
}

/// Milliseconds of a half-cycle in which the lowest curve is below a level.
fn below(drawing: &Waves, volts: f64) -> f64 {
    if drawing.lowest.is_empty() {
        return 0.0;
    }
    let count = drawing
        .lowest
        .iter()
        .filter(|value| {
            if volts < 0.0 {
                **value > volts
            } else {
                **value < volts
            }
        })
        .count();
    let share = count as f64 / drawing.lowest.len() as f64;
    share * 1e3 / (2.0 * drawing.frequency)
}

fn table(sheet: &Sheet<'_>, drawing: &Waves) -> Markup {
    let href = sheet.asked.with(|asked| {
        asked.more.insert("node".to_owned(), drawing.node.clone());
        asked.more.insert("as".to_owned(), "csv".to_owned());
    });
    // Folded while the hand moves, it is not wanted.
    let count = if sheet.asked.is_unseen("table") {
        0
    } else {
        drawing.time.len()
    };
    let rows: Vec<usize> = (0..count).step_by(20).collect();
    html! {
        details {
            summary { (words::AS_TABLE) }
            (parts::wide(words::AS_TABLE, &html! { table class="plain" {
                thead { tr {
                    th scope="col" { (words::waves::TIME) }
                    th scope="col" { (drawing.node) }
                    @if !drawing.lowest.is_empty() { th scope="col" { (words::waves::worse_of(drawing)) } }
                    @if let Some(current) = &drawing.current { th scope="col" { (quietrail_report::words::waves::current(current)) } }
                    @for rail in &drawing.rails { th scope="col" { (rail.node) } }
                } }
                tbody {
                    @for row in &rows {
                        tr {
                            th scope="row" class="num" { (number::si(drawing.time[*row], "s", 3)) }
                            td class="num" { (number::in_hand(drawing.volts[*row], "V")) }
                            @if !drawing.lowest.is_empty() { td class="num" { (number::in_hand(drawing.lowest[*row], "V")) } }
                            @if let Some(current) = &drawing.current { td class="num" { (number::in_hand(current.amps[*row], "A")) } }
                            @for rail in &drawing.rails { td class="num" { (number::in_hand(rail.volts[*row], "V")) } }
                        }
                    }
                }
            } }))
            p { a href=(href.href("waves")) download { (words::AS_CSV) } }
        }
    }
}

fn file(sheet: &Sheet<'_>, _kind: &str) -> Answer {
    let node = node_of(sheet, &nodes(sheet));
    let mut text = String::new();
    if let Ok(drawing) = drawn(sheet, &node) {
        text.push_str("time_s,volts_v,lowest_v,amps_a");
        for rail in &drawing.rails {
            let _ = write!(text, ",\"{}_v\"", rail.node.replace('"', "\"\""));
        }
        text.push_str("\r\n");
        for (row, time) in drawing.time.iter().enumerate() {
            let lowest = drawing
                .lowest
                .get(row)
                .map_or_else(String::new, |value| format!("{value:.6}"));
            let amps = drawing
                .current
                .as_ref()
                .map_or_else(String::new, |current| format!("{:.6}", current.amps[row]));
            let _ = write!(text, "{time:.6},{:.6},{lowest},{amps}", drawing.volts[row]);
            for rail in &drawing.rails {
                let _ = write!(text, ",{:.6}", rail.volts[row]);
            }
            text.push_str("\r\n");
        }
    }
    Answer::File {
        name: format!("waves-{node}.csv"),
        kind: "text/csv; charset=utf-8",
        text,
    }
}
