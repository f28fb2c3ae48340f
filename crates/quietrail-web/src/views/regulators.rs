//! Regulators: the card of each, noise over frequency with what makes it, and a level in every unit.

use crate::parts;
use crate::sheet::Sheet;
use crate::views::View;
use crate::views::margins::worst_value;
use crate::words::regulators as words;
use maud::{Markup, PreEscaped, html};
use quietrail_job::model::{Band, Job, Limit, PartKind, Subject, What};
use quietrail_report::words::regulators as told_words;
use quietrail_report::{number, regulators as told, svg, words as all_words};
use quietrail_study::finding::{LimitFinding, Overall, Remark, WhyNot};
use quietrail_study::noise::Source;
use quietrail_study::regulators::{self, Card, Pass, Picture, picture, quick_cards};
use std::sync::Arc;

mod units;

pub(crate) const VIEW: View = View {
    slug: "regulators",
    name: "Regulators",
    show,
    file: None,
    act: None,
};

fn show(sheet: &Sheet<'_>) -> Markup {
    let (sum, tried) = sheet.key();
    let key = (sum.clone(), format!("cards {tried}"));
    let quick = sheet.desk.remembered(&key, || quick_cards(&sheet.job));
    // Starts and transistors take their time: behind the page, and not while a hand moves.
    let whole = (!sheet.is_provisional()).then(|| {
        let job = sheet.job.clone();
        let key = (sum, format!("whole cards {tried}"));
        sheet.desk.later(&key, move || whole(&job))
    });
    let whole = whole.flatten();
    let (cards, passes) = match whole.as_deref() {
        Some(Ok((cards, passes))) => (cards.as_slice(), passes.as_slice()),
        _ => (quick.as_slice(), &[][..]),
    };
    let transistors = transistors(&sheet.job);
    html! {
        div class="needs regs" {
            h1 { (words::TITLE) }
            div id="cards" data-live {
                @if cards.is_empty() && transistors.is_empty() { p { (words::NONE) } }
                ul class="cards" {
                    @for card in cards { (of(sheet, card)) }
                    @for name in transistors {
                        (of_transistor(sheet, name, passes.iter().find(|pass| pass.part == name)))
                    }
                }
                @if let Some(Err(why)) = whole.as_deref() { p { (parts::verdict(Overall::NotShown)) " " (why) } }
            }
            (noise(sheet))
            (units::translator(sheet))
        }
    }
}

/// Every regulator with its starts, and every transistor; or why not.
type Whole = Result<(Vec<Card>, Vec<Pass>), String>;

fn whole(job: &Job) -> Whole {
    let options = quietrail_study::options();
    let cards = regulators::cards(job, &options).map_err(|trouble| trouble.to_string())?;
    let passes = regulators::passes(job, &options).map_err(|trouble| trouble.to_string())?;
    Ok((cards, passes))
}

fn transistors(job: &Job) -> Vec<&str> {
    let all = job.parts.iter();
    all.filter(|part| matches!(part.kind, PartKind::Transistor(_)))
        .map(|part| part.name.as_str())
        .collect()
}

/// The card of a transistor; while it is being made, what the proof says of it.
fn of_transistor(sheet: &Sheet<'_>, name: &str, pass: Option<&Pass>) -> Markup {
    let ends = sheet.job.part(name).and_then(|part| match &part.kind {
        PartKind::Transistor(transistor) => Some(transistor.ends()),
        _ => None,
    });
    html! {
        li class="need reg" {
            h2 { (name) }
            p class="soft" {
                (words::TRANSISTOR)
                @if let Some((from, into)) = ends { ", " (words::ends(from, into)) }
            }
            (judged(sheet, name))
            @match pass {
                None => { p class="soft" { (words::BEING_MADE) } },
                Some(pass) => {
                    table class="plain passes" {
                        caption class="unseen" { (words::passes(name)) }
                        thead { tr {
                            th scope="col" { span class="unseen" { (words::FIGURE) } }
                            @for state in &pass.states { th scope="col" class="right" { (state.state) } }
                        } }
                        tbody { @for (what, values) in told::pass_rows(pass) {
                            tr { th scope="row" { (what) } @for value in values { td class="num right" { (value) } } }
                        } }
                    }
                    @for (state, why) in &pass.unsettled { p class="fault" { (quietrail_report::words::regulators::unsettled(state, why)) } }
                    p class="soft small" { (told::pass_at(pass)) }
                },
            }
        }
    }
}

/// What the proof says of a part, as rows.
fn judged(sheet: &Sheet<'_>, name: &str) -> Markup {
    html! {
        table class="plain judged" {
            caption class="unseen" { (words::judged(name)) }
            tbody { @for finding in findings(sheet, name) {
                tr {
                    td { (parts::verdict(finding.overall)) }
                    th scope="row" { (finding.name.trim_start_matches(name).trim_start()) br; span class="soft" { (finding.state) } }
                    @let href = why_href(sheet, finding);
                    td class="num" { a href=(href) { (worst_value(finding)) } }
                    td class="num soft" { @if let Some(margin) = finding.margin {
                        a href=(href) { (number::margin(finding.what, margin, finding.unit, finding.worst)) }
                    } }
                }
            } }
        }
        @if let Some(asked) = sheet.asked.get("why").filter(|asked| findings(sheet, name).iter().any(|own| own.name == *asked)) {
            div id="card" { (super::why::panel(sheet, asked, "regulators")) }
        }
    }
}

/// The address that opens the sum of a limit under its card.
fn why_href(sheet: &Sheet<'_>, finding: &LimitFinding) -> String {
    let asked = sheet.asked.with(|asked| {
        asked.more.remove("at");
        asked.more.insert("why".to_owned(), finding.name.clone());
        asked.more.insert("in".to_owned(), finding.state.clone());
    });
    format!("{}#card", asked.href("regulators"))
}

/// The card of one.
fn of(sheet: &Sheet<'_>, card: &Card) -> Markup {
    let ends = sheet
        .job
        .part(&card.part)
        .and_then(|part| match &part.kind {
            PartKind::Regulator(regulator) => Some(words::ends(&regulator.from, &regulator.into)),
            _ => None,
        });
    let volts = |volts: f64| number::in_hand(volts, "V");
    html! {
        li class="need reg" {
            h2 { (card.part) }
            @if let Some(ends) = ends { p class="soft" { (ends) } }
            p class="asks" {
                b class="num" { (volts(card.set.nominal)) } ", "
                (words::over(&volts(card.set.worst.0), &volts(card.set.worst.1)))
            }
            @for remark in remarks_of(sheet, &card.part) {
                (crate::beside::one(sheet, remark))
            }
            (judged(sheet, &card.part))
            details {
                summary { (words::MORE) }
                ul { @for line in told::lines(card) { li { (parts::prose(&line)) } } }
                p class="soft small" { (if card.starts.is_empty() { words::BEING_MADE } else { told_words::HONEST }) }
            }
        }
    }
}

fn remarks_of<'s>(sheet: &'s Sheet<'_>, part: &str) -> Vec<&'s Remark> {
    let known = sheet.known.as_ref();
    let all = known.map_or(&[][..], |known| &known.proof.remarks);
    all.iter().filter(|remark| remark.part == part).collect()
}

/// What the proof says of a part, each limit in its worst state.
fn findings<'s>(sheet: &'s Sheet<'_>, part: &str) -> Vec<&'s LimitFinding> {
    let Some(known) = sheet.known.as_ref() else {
        return Vec::new();
    };
    quietrail_report::verdicts::folded(&known.proof.limits)
        .into_iter()
        .filter(|row| matches!(&row.of, Subject::Part(name) if name == part))
        .collect()
}

/// Limits that name a band, at nodes.
fn in_band<'s>(sheet: &'s Sheet<'_>) -> Vec<(&'s Limit, Band)> {
    let of_noise = |limit: &Limit| matches!(limit.what, What::Noise | What::RippleAndNoise);
    let mut all: Vec<(&Limit, Band)> = sheet
        .job
        .limits
        .iter()
        .filter(|limit| !matches!(limit.of, Subject::Part(_)))
        .filter_map(|limit| Some((limit, limit.band?)))
        .collect();
    // A limit on noise first; one on ripple shows at least what noise stands beside it.
    all.sort_by_key(|(limit, _)| !of_noise(limit));
    all
}

fn noise(sheet: &Sheet<'_>) -> Markup {
    let limits = in_band(sheet);
    let wanted = sheet.asked.get("noise");
    let chosen = limits
        .iter()
        .find(|(limit, _)| Some(limit.name.as_str()) == wanted)
        .or_else(|| {
            let mut all = limits.iter();
            all.find(|(limit, band)| found(sheet, limit, band).is_ok())
        })
        .or(limits.first());
    html! {
        section class="noise" {
            h2 { (words::NOISE) }
            @if let Some((limit, band)) = chosen {
                div class="wavehead" {
                    form class="pick-node" method="get" action="regulators" data-follow {
                        (parts::hidden(&sheet.asked, &["noise"]))
                        label for="noise-of" { (words::IN_BAND_OF) }
                        select id="noise-of" name="noise" {
                            @for (one, _) in &limits { option value=(one.name) selected[one.name == limit.name] { (one.name) } }
                        }
                        noscript { button class="btn" { (words::SHOW) } }
                    }
                    (parts::corner_form_in(sheet, state_of(sheet, limit), "regulators", None))
                }
                div id="noise" data-live { (drawn(sheet, limit, band)) }
            } @else { p { (words::NO_BAND) } }
        }
    }
}

/// The state in which a limit's noise is shown: the one asked for, else the one in which that limit is worst.
fn state_of(sheet: &Sheet<'_>, limit: &Limit) -> usize {
    if sheet.asked.state.is_some() {
        return sheet.state;
    }
    let known = sheet.known.as_ref();
    let rows = known.map_or(&[][..], |known| &known.proof.limits);
    let worst = rows
        .iter()
        .filter(|row| row.name == limit.name && row.margin.is_some())
        .min_by(|a, b| a.margin.unwrap_or(0.0).total_cmp(&b.margin.unwrap_or(0.0)));
    let named = worst.and_then(|row| {
        let mut states = sheet.job.states.iter();
        states.position(|state| state.name == row.state)
    });
    // Nowhere known: in a state of its own.
    let own = limit.states.contains(&sheet.state).then_some(sheet.state);
    let own = own.or_else(|| limit.states.first().copied());
    named.or(own).unwrap_or(sheet.state)
}

/// The noise in a limit's band, or why it is not to be had; computed once for a corner.
fn found(sheet: &Sheet<'_>, limit: &Limit, band: &Band) -> Arc<Result<Picture, WhyNot>> {
    let (sum, tried) = sheet.key();
    let standing = sheet.known.as_ref().map(|known| known.standing);
    let corner = (
        state_of(sheet, limit),
        sheet.mains,
        sheet.asked.worst_parts,
        standing,
    );
    let key = (sum, format!("noise {} {corner:?} {tried}", limit.name));
    sheet.desk.remembered(&key, || compute(sheet, limit, band))
}

fn compute(sheet: &Sheet<'_>, limit: &Limit, band: &Band) -> Result<Picture, WhyNot> {
    let nodes = match &limit.of {
        Subject::Node(node) => (node.as_str(), "common"),
        Subject::Pair(plus, minus) => (plus.as_str(), minus.as_str()),
        Subject::Part(_) => return Err(WhyNot::NotComputed),
    };
    let state = state_of(sheet, limit);
    picture(
        &sheet.base.ready.job,
        state,
        &sheet.changes_in(state, sheet.asked.worst_parts, sheet.mains),
        nodes,
        band,
        &quietrail_study::options(),
    )
}

fn drawn(sheet: &Sheet<'_>, limit: &Limit, band: &Band) -> Markup {
    let found = found(sheet, limit, band);
    let picture = match &*found {
        Ok(picture) => picture,
        Err(why) => {
            return html! { div class="sheetwrap empty" { p { (parts::verdict(Overall::NotShown)) } p { (words::no_picture(why)) } } };
        }
    };
    let max = limit
        .max
        .filter(|_| matches!(limit.what, What::Noise | What::RippleAndNoise))
        // Over a part of its band the limit is no density.
        .filter(|_| picture.cut.is_none());
    let total = picture.budget.total;
    let terms = &picture.budget.terms;
    let (large, rest) = terms.split_at(terms.partition_point(|(_, rms)| *rms >= TOLD * total));
    html! {
        p class="asks" {
            b class="num" { (number::si(total, "V", 3)) " rms" } " " (words::noise_at(&sheet.job.states[state_of(sheet, limit)].name))
            @if let Some((source, rms)) = picture.budget.terms.first() {
                "; " (words::most(&all_words::noise_source(source), &share(*rms, total)))
            }
        }
        @if matches!(limit.what, What::Ripple | What::RipplePeakToPeak) {
            @let allowed = limit.max.map(|_| all_words::allowed(limit.what, limit.min, limit.max, "V"));
            p role="note" class="apart" { (words::ripple_alone(&limit.name, allowed.as_deref())) }
        }
        @if let Some(cut) = &picture.cut {
            p role="note" { (parts::verdict(Overall::NotShown)) " " span { (words::cut(cut)) } }
        }
        div class="sheetwrap wavewrap" {
            div class="desk" { (PreEscaped(svg::bare(&svg::noise(picture, max)))) }
            div class="middle" { (PreEscaped(svg::bare(&svg::noise_middle(picture, max)))) }
            div class="phone" { (PreEscaped(svg::bare(&svg::noise_narrow(picture, max)))) }
        }
        (parts::wide(words::TERMS, &html! {
            table class="plain" {
                caption { (words::TERMS) }
                thead { tr { th scope="col" { (words::SOURCE) } th scope="col" class="right" { "rms" } th scope="col" class="right" { (words::SHARE) } } }
                tbody {
                    @for (source, rms) in large {
                        tr {
                            th scope="row" { (all_words::noise_source(source)) }
                            td class="num right" { (number::si(*rms, "V", 3)) }
                            td class="num right" { (share(*rms, total)) }
                        }
                    }
                    @if !rest.is_empty() {
                        tr {
                            th scope="row" { (words::others(rest.len())) }
                            td class="num right" { (number::si(together(rest), "V", 3)) }
                            td class="num right" { (share(together(rest), total)) }
                        }
                    }
                }
            }
        }))
    }
}

/// Least share of the noise that a source of it is told by itself: below, it moves no figure shown.
const TOLD: f64 = 1e-2;

/// What sources make together, V rms.
fn together(terms: &[(Source, f64)]) -> f64 {
    terms.iter().map(|(_, rms)| rms * rms).sum::<f64>().sqrt()
}

/// Part of the power, in percent.
fn share(rms: f64, total: f64) -> String {
    let percent = 100.0 * (rms / total).powi(2);
    if percent < 0.5 {
        words::UNDER_ONE.to_owned()
    } else {
        format!("{percent:.0}\u{a0}%")
    }
}
