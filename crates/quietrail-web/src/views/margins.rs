//! Margins: every limit and rating in its worst state, tightest first, on one shared upright.

use crate::parts;
use crate::sheet::Sheet;
use crate::views::{Answer, View};
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_bench::decide::Shown;
use quietrail_job::model::What;
use quietrail_report::{corner, number, verdicts};
use quietrail_study::finding::{Help, LimitFinding, Overall, Predicted};
use quietrail_study::measured::Judged;
use std::fmt::Write;

pub(crate) const VIEW: View = View {
    slug: "margins",
    name: "Margins",
    show,
    file: Some(file),
    act: None,
};

/// The strip runs from this share of the limit …
const FROM: f64 = -0.2;
/// … to this one.
const TO: f64 = 0.4;

fn show(sheet: &Sheet<'_>) -> Markup {
    html! {
        h1 class="unseen" { "Margins" }
        div class="marginhead" {
            div id="tally" data-live { (parts::tally(sheet, "large")) }
            div id="next" data-live class="next" { (next(sheet)) }
            (filter(sheet))
        }
        details class="corner" open[sheet.asked.state.is_some() || sheet.asked.mains.is_some()] {
            summary { (words::CORNER_HERE) }
            (parts::corner_form(sheet, "margins", None))
        }
        section id="card" data-live {
            @if let Some(limit) = sheet.asked.get("why") { (super::why::panel(sheet, limit, "margins")) }
        }
        div id="misfits" data-live { (misfits(sheet)) }
        div id="beside" data-live { (crate::beside::fails(sheet)) }
        section id="rows" data-live { (table(sheet)) }
    }
}

/// What was read on the way and is not in order, gone on with or not.
fn misfits(sheet: &Sheet<'_>) -> Markup {
    html! {
        @if !sheet.misfits.is_empty() {
            section class="verdictbox fails" {
                p { b { (parts::sign(Overall::Fails)) (quietrail_report::words::readings::MISFITS.trim_end_matches(':')) } }
                ul class="locks" { @for lock in sheet.misfits.iter() { li { (quietrail_report::words::bringup::lock(lock)) } } }
                p { a href="bench" { (words::bench::TO_BENCH) } }
            }
        }
    }
}

fn rows<'a>(sheet: &'a Sheet<'_>) -> Vec<&'a LimitFinding> {
    let Some(known) = &sheet.known else {
        return Vec::new();
    };
    let only = sheet.asked.get("only");
    let rows = verdicts::folded(&known.proof.limits);
    let wanted = |row: &&LimitFinding| match only {
        None => true,
        Some("open") => matches!(row.overall, Overall::Fails | Overall::NotShown),
        Some(class) => parts::class_of(row.overall) == class,
    };
    rows.into_iter().filter(wanted).collect()
}

fn filter(sheet: &Sheet<'_>) -> Markup {
    let Some(known) = &sheet.known else {
        return html! {};
    };
    let all = verdicts::folded(&known.proof.limits);
    let open = all
        .iter()
        .filter(|row| matches!(row.overall, Overall::Fails | Overall::NotShown))
        .count();
    let only = sheet.asked.get("only").unwrap_or("");
    let href = |only: &str| {
        let asked = sheet.asked.with(|asked| {
            asked.more.remove("only");
            if !only.is_empty() {
                asked.more.insert("only".to_owned(), only.to_owned());
            }
        });
        asked.href("margins")
    };
    html! {
        div class="keys filter" role="group" aria-label=(words::ROWS) id="filter" data-live {
            a href=(href("")) aria-current=[only.is_empty().then_some("true")] { (words::all_rows(all.len())) }
            a href=(href("open")) aria-current=[(only == "open").then_some("true")] { (words::open_rows(open)) }
        }
    }
}

fn next(sheet: &Sheet<'_>) -> Markup {
    let Some(known) = &sheet.known else {
        return html! { p { (words::LOOKING) } };
    };
    let rows = verdicts::folded(&known.proof.limits);
    let worst = rows.iter().find(|row| row.overall == Overall::Fails);
    let help = worst.and_then(|row| row.help.first().map(|help| (row, help)));
    html! {
        @match help {
            Some((row, help)) if help.mends() => {
                p { b { (words::NEXT) } " " (words::try_for(&quietrail_report::help::change(help), &row.name)) }
            },
            Some((row, help)) => {
                p { b { (words::NEXT) } " " (words::closest_for(&quietrail_report::help::change(help), &row.name)) }
            },
            None if worst.is_some() && sheet.is_provisional() => { p { (words::no_help(true, false)) } },
            None if worst.is_some() => { p { (words::NOTHING_HELPS) } },
            None if crate::beside::failing(sheet) > 0 => { p { (words::beside::MEND_FIRST) } },
            None => { p { (words::NOTHING_FAILS) } },
        }
    }
}

fn table(sheet: &Sheet<'_>) -> Markup {
    let rows = rows(sheet);
    if sheet.known.is_none() {
        return html! { div class="sheetwrap empty" { p { (words::LOOKING) } } };
    }
    html! {
        p class="key" {
            @for (class, text) in words::MARGIN_KEYS { span { i class=(class) {} (text) } }
        }
        table class="margins" {
            caption class="unseen" { (words::LIMITS) }
            thead { tr {
                th scope="col" { (words::HEAD_VERDICT) }
                th scope="col" { (words::HEAD_LIMIT) }
                th scope="col" class="g" { (words::HEAD_STRIP) (axis()) }
                th scope="col" class="right" { (words::HEAD_MARGIN) }
                th scope="col" { (words::HEAD_CORNER) }
                th scope="col" { (words::WHAT_HELPS) }
            } }
            tbody { @for row in &rows { (one(sheet, row)) } }
        }
        p class="foot soft" {
            (words::MARGIN_MEANS) " " (words::WORST_FOUND_MEANS) " "
            a href=(csv_href(sheet)) download { (words::AS_CSV) }
        }
        (crate::beside::noted(sheet))
    }
}

fn csv_href(sheet: &Sheet<'_>) -> String {
    let asked = sheet.asked.with(|asked| {
        asked.more.insert("as".to_owned(), "csv".to_owned());
    });
    asked.href("margins")
}

fn one(sheet: &Sheet<'_>, row: &LimitFinding) -> Markup {
    let class = parts::class_of(row.overall);
    let margin = match row.margin {
        Some(margin) if margin.is_finite() => number::margin(row.what, margin, row.unit, row.worst),
        _ => quietrail_report::words::ABSENT.to_owned(),
    };
    let href = sheet.asked.with(|asked| {
        asked.more.insert("why".to_owned(), row.name.clone());
        asked.more.insert("in".to_owned(), row.state.clone());
    });
    let here = sheet.value_here(&row.name);
    let read = crate::readings::of_row(sheet, row);
    html! {
        tr class=(class) {
            td class="vd" { (parts::verdict(row.overall)) @if !sheet.judged.is_empty() { br; span class="soft small" { (words::decided_by(row)) } } }
            th scope="row" class="wh" {
                span class="what" { (row.name) }
                span class="soft" {
                    (row.state) ": " @if !read.is_empty() { (words::COMPUTED_WORST) " " } span class="num" { @if row.worst.is_some() { a class="plain-link" href={ (href.href("margins")) "#card" } { (worst_value(row)) } } @else { (worst_value(row)) } ", " (quietrail_report::words::allowed(row.what, row.min, row.max, row.unit)) }
                }
                @for one in &read { br; a class="reading" href={ (href.href("margins")) "#card" } { (reading(one)) } }
            }
            td class="g" { (strip(row, here, &read)) }
            td class="mar num" {
                @if row.worst.is_some() { a href={ (href.href("margins")) "#card" } aria-label={ (words::why(&margin)) " " (row.name) } { (margin) } }
                @else { (margin) }
                @if !read.is_empty() && row.worst.is_some() { br; span class="soft small" { (words::COMPUTED) } }
            }
            td class="co" {
                @match &row.predicted {
                    Predicted::NotShown(why) => (quietrail_report::words::why_not(why, row.unit)),
                    Predicted::Holds | Predicted::Fails => {
                        @let (corner, rest) = corner::corner_parts(&row.corner);
                        @if corner.is_empty() { (quietrail_report::words::AS_MARKED) } @else { (corner) }
                        @if !rest.is_empty() {
                            details class="rest" {
                                summary { (quietrail_report::words::and_more(rest.len())) }
                                (rest.join(", "))
                            }
                        }
                    },
                }
            }
            td class="he" {
                @if let Some((first, others)) = row.help.split_first() {
                    (parts::try_row(sheet, row, first, "margins"))
                    @if !others.is_empty() {
                        details class="rest" {
                            summary { (words::other_helps(others.len(), row.help.iter().all(Help::mends))) }
                            @for help in others { (parts::try_row(sheet, row, help, "margins")) }
                        }
                    }
                }
            }
        }
    }
}

/// What the readings of a limit in a state come to, short.
pub(crate) fn reading(one: &Judged) -> Markup {
    let overall = match one.judgement.shown {
        Shown::Holds => Overall::Holds,
        Shown::Fails => Overall::Fails,
        Shown::NotShown => Overall::NotShown,
    };
    let value = quietrail_report::words::readings::value(&one.read(), one.unit);
    let mains = crate::readings::mains_of(one);
    let said = words::read_as(&value, &one.state, &mains);
    html! {
        (parts::verdict_saying(overall, &said))
        @if let Some(held) = &one.held { br; span class="soft" { (quietrail_report::words::readings::decides_nothing(&held.step, held.was_locked)) } }
    }
}

/// The worst value of a limit as it is said.
pub(crate) fn worst_value(row: &LimitFinding) -> String {
    match row.worst {
        Some(worst) => number::statistic(row.what, worst, row.unit, row.margin),
        None => words::UNKNOWN.to_owned(),
    }
}

/// A margin on the strip's scale: shares of the limit; of headroom, volts.
fn share(row: &LimitFinding, margin: f64) -> Option<f64> {
    if row.what == What::Headroom || row.margin_share.is_none() {
        return (row.what == What::Headroom).then_some(margin / verdicts::HEADROOM_V);
    }
    let own = row.margin.filter(|own| *own != 0.0)?;
    Some(row.margin_share? * margin / own)
}

const WIDTH: f64 = 320.0;

fn x(share: f64) -> f64 {
    8.0 + (share - FROM) / (TO - FROM) * (WIDTH - 24.0)
}

fn axis() -> Markup {
    let mut out = String::new();
    for (share, text) in [
        (-0.2, "−20\u{a0}%"),
        (0.0, "limit"),
        (0.2, ""),
        (0.4, "+40\u{a0}%"),
    ] {
        let at = x(share);
        let (line, class, place) = if share == 0.0 {
            ("axis", "b m t1", at)
        } else {
            ("rule", "m t2", at.clamp(28.0, WIDTH - 28.0))
        };
        let _ = write!(
            out,
            "<path d=\"M{at:.1} 22V30\" class=\"{line}\"/><text x=\"{place:.1}\" y=\"16\" font-size=\"18\" class=\"{class}\">{text}</text>"
        );
    }
    PreEscaped(format!(
        "<svg class=\"qr mg\" viewBox=\"0 0 {WIDTH} 30\" aria-hidden=\"true\">{out}</svg>"
    ))
}

/// A block that stands on the upright, hangs before it, or lies across it; a tick where the corner in hand is.
fn strip(row: &LimitFinding, here: Option<f64>, read: &[&Judged]) -> Markup {
    let zero = x(0.0);
    let mut out = String::new();
    let known = row.margin.and_then(|margin| share(row, margin));
    match (row.overall, known) {
        (Overall::NotShown, Some(share)) => {
            let end = x(share.clamp(FROM, TO));
            let (left, right) = (zero.min(end) - 20.0, zero.max(end) + 20.0);
            let width = (right - left).max(40.0);
            let _ = write!(
                out,
                "<rect x=\"{left:.1}\" y=\"11\" width=\"{width:.1}\" height=\"18\" class=\"dots\"/>"
            );
        }
        (Overall::NotShown, None) | (_, None) => {
            let _ = write!(out, "<path d=\"M8 20H{}\" class=\"dots\"/>", WIDTH - 8.0);
        }
        (_, Some(share)) => {
            let end = x(share.clamp(FROM, TO));
            let (left, width) = (zero.min(end), (end - zero).abs().max(2.0));
            let class = match row.overall {
                Overall::Fails => "shortarea",
                Overall::Holds => "hand",
                Overall::Predicted | Overall::NotShown => "predictedbox",
            };
            let _ = write!(
                out,
                "<rect x=\"{left:.1}\" y=\"11\" width=\"{width:.1}\" height=\"18\" class=\"{class}\"/>"
            );
            if share > TO {
                let at = end + 6.0;
                let tip = at + 6.0;
                let _ = write!(
                    out,
                    "<path d=\"M{at:.1} 10L{tip:.1} 20L{at:.1} 30\" class=\"axis\"/>"
                );
            }
            if share < FROM {
                let at = end - 4.0;
                let tip = at - 4.0;
                let _ = write!(
                    out,
                    "<path d=\"M{at:.1} 10L{tip:.1} 20L{at:.1} 30\" class=\"edge\"/>"
                );
            }
        }
    }
    let _ = write!(out, "<path d=\"M{zero:.1} -2V42\" class=\"upright\"/>");
    if let Some(share) = here.and_then(|value| share(row, margin_at(row, value))) {
        let at = x(share.clamp(FROM, TO));
        let _ = write!(out, "<path d=\"M{at:.1} 5V35\" class=\"level\"/>");
    }
    for one in read {
        out.push_str(&diamond(row, one));
    }
    PreEscaped(format!(
        "<svg class=\"qr mg\" viewBox=\"0 0 {WIDTH} 40\" preserveAspectRatio=\"none\" aria-hidden=\"true\">{out}</svg>"
    ))
}

/// A reading as a diamond, with whiskers from bound to bound.
fn diamond(row: &LimitFinding, one: &Judged) -> String {
    let judgement = &one.judgement;
    let place = |value: f64| Some(x(share(row, margin_at(row, value))?.clamp(FROM, TO)));
    let Some(at) = place(judgement.value) else {
        return String::new();
    };
    let end = |bound: f64| place(bound).filter(|_| bound.is_finite()).unwrap_or(at);
    let (a, b) = (end(judgement.low), end(judgement.high));
    format!(
        "<path d=\"M{a:.1} 15V25M{a:.1} 20H{b:.1}M{b:.1} 15V25\" class=\"axis\"/>\
         <path d=\"M{at:.1} 11l6 9l-6 9l-6 -9z\" class=\"read\"/>"
    )
}

fn margin_at(row: &LimitFinding, value: f64) -> f64 {
    let below = row.max.map_or(f64::INFINITY, |max| max - value);
    let above = row.min.map_or(f64::INFINITY, |min| value - min);
    below.min(above)
}

fn file(sheet: &Sheet<'_>, _kind: &str) -> Answer {
    let mut text = String::from(
        "limit,state,verdict,decided,worst,min,max,margin,unit,read,read_low,read_high,read_at_mains,corner\r\n",
    );
    let quoted = |text: &str| format!("\"{}\"", number::spaced(text).replace('"', "\"\""));
    let figure = |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value}"));
    let bound = |value: Option<f64>| figure(value.filter(|value| value.is_finite()));
    for row in rows(sheet) {
        let read = crate::readings::of_row(sheet, row);
        let own = read.into_iter().find(|one| one.state == row.state);
        let judgement = own.map(|one| &one.judgement);
        let _ = write!(
            text,
            "{},{},{},{},{},{},{},{},{},{},{},{},{},{}\r\n",
            quoted(&row.name),
            quoted(&row.state),
            quietrail_report::words::overall(row.overall),
            quoted(&words::decided_by(row)),
            figure(row.worst),
            figure(row.min),
            figure(row.max),
            figure(row.margin),
            row.unit,
            figure(judgement.map(|one| one.value)),
            bound(judgement.map(|one| one.low)),
            bound(judgement.map(|one| one.high)),
            quoted(&own.map_or_else(String::new, crate::readings::mains_of)),
            quoted(&corner::corner_whole(&row.corner)),
        );
    }
    Answer::File {
        name: "margins.csv".to_owned(),
        kind: "text/csv; charset=utf-8",
        text,
    }
}
