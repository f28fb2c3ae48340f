//! The card of a part: its limits with the corner in hand against all corners, what would help, its figures to try. Or the
//! sum behind a limit, where that was asked for.

use crate::parts;
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_job::model::{DiodeCurve, Origin, PartKind, Subject};
use quietrail_job::{Change, Parameter};
use quietrail_study::finding::{Help, LimitFinding, Overall};

/// The part whose card is open: the one asked for, else one with a value that was refused, else the one with the tightest
/// headroom.
pub(super) fn open_part(sheet: &Sheet<'_>) -> Option<String> {
    if let Some(part) = &sheet.asked.part {
        return sheet.job.part(part).map(|part| part.name.clone());
    }
    let refused = |name: &str| {
        let mut faults = sheet.faults.iter();
        faults.any(|fault| is_of(name, &fault.address))
    };
    if let Some(part) = sheet.job.parts.iter().find(|part| refused(&part.name)) {
        return Some(part.name.clone());
    }
    match &sheet.tightest()?.of {
        Subject::Part(part) => Some(part.clone()),
        Subject::Node(_) | Subject::Pair(..) => None,
    }
}

pub(super) fn card(sheet: &Sheet<'_>) -> Markup {
    if let Some(limit) = sheet.asked.get("why") {
        return crate::views::why::panel(sheet, limit, "descent");
    }
    let Some(name) = open_part(sheet) else {
        let asked = sheet.asked.part.as_deref();
        return html! { @if let Some(typed) = asked { p class="fault" role="alert" { (words::no_such_part(typed)) } } };
    };
    let limits = limits_of(sheet, &name);
    let kind = sheet.job.part(&name).map(|part| &part.kind);
    html! {
        article class="card" aria-label=(name) {
            div class="who" {
                h2 { span class="tag" { (name) } " " (words::where_of(kind)) }
                @if let Some(entry) = entry(kind) { p { (entry) ", " span class="soft" { (words::CATALOGUE) } } }
                p class="tally small" { (count(&limits)) }
            }
            (stresses(sheet, &limits))
            (helps(sheet, &name, &limits))
            (figures(sheet, &name))
        }
    }
}

/// The limits and ratings of a part, each in its worst state; of a load, those on its ends.
fn limits_of<'a>(sheet: &'a Sheet<'_>, name: &str) -> Vec<&'a LimitFinding> {
    let Some(known) = &sheet.known else {
        return Vec::new();
    };
    let rows = quietrail_report::verdicts::folded(&known.proof.limits);
    let ends = match sheet.job.part(name).map(|part| &part.kind) {
        Some(PartKind::Load(load)) => Some(&load.between),
        _ => None,
    };
    let own = |row: &&LimitFinding| match &row.of {
        Subject::Part(part) => part == name,
        Subject::Node(node) => {
            ends.is_some_and(|ends| ends.plus == *node && ends.minus == "common")
        }
        Subject::Pair(plus, minus) => {
            ends.is_some_and(|ends| ends.plus == *plus && ends.minus == *minus)
        }
    };
    rows.into_iter().filter(own).collect()
}

fn count(limits: &[&LimitFinding]) -> Markup {
    let of = |overall: Overall| {
        limits
            .iter()
            .filter(|limit| limit.overall == overall)
            .count()
    };
    let all = [
        (Overall::Fails, words::fails(of(Overall::Fails))),
        (Overall::NotShown, words::not_shown(of(Overall::NotShown))),
        (
            Overall::Holds,
            words::hold(of(Overall::Holds), parts::hold_in_part(limits)),
        ),
        (Overall::Predicted, words::predicted(of(Overall::Predicted))),
    ];
    html! {
        @for (overall, text) in &all {
            @if of(*overall) > 0 { (parts::verdict_saying(*overall, text)) " " }
        }
    }
}

/// The catalogue entry that a part comes from.
fn entry(kind: Option<&PartKind>) -> Option<String> {
    let origin = match kind? {
        PartKind::Regulator(regulator) => &regulator.limit.origin,
        PartKind::Rectifier(rectifier) => match &rectifier.curve {
            DiodeCurve::Law { saturation, .. } => &saturation.origin,
            DiodeCurve::Points { points, .. } => &points.first()?.0.origin,
            DiodeCurve::Ideal { drop, .. } => &drop.origin,
        },
        PartKind::Capacitor(capacitor) => &capacitor.rated.volts.as_ref()?.origin,
        PartKind::Fuse(fuse) => &fuse.rated.origin,
        _ => return None,
    };
    match origin {
        Origin::Catalogue { part, .. } => Some(part.clone()),
        _ => None,
    }
}

/// Bars: the corner in hand strong, all corners pale, the limit an upright at the right.
fn stresses(sheet: &Sheet<'_>, limits: &[&LimitFinding]) -> Markup {
    html! {
        table class="stress" {
            caption class="unseen" { (words::LIMITS) }
            tbody {
                @for limit in limits {
                    tr {
                        th scope="row" { (words::short_name(limit)) }
                        td class="g" {
                            @if limit.overall == Overall::Predicted || limit.overall == Overall::Holds {
                                (bar(limit, sheet.value_here(&limit.name)))
                            } @else { (parts::verdict(limit.overall)) }
                        }
                        td { a class="num value" href=(super::why_href(sheet, limit)) { (crate::views::margins::worst_value(limit)) } }
                        td class="soft num" { (quietrail_report::words::allowed(limit.what, limit.min, limit.max, limit.unit)) }
                    }
                }
            }
        }
    }
}

fn bar(limit: &LimitFinding, here: Option<f64>) -> Markup {
    let Some(max) = limit.max.filter(|max| *max > 0.0 && limit.min.is_none()) else {
        return html! { (parts::verdict(limit.overall)) };
    };
    let share =
        |value: Option<f64>| value.map_or(0.0, |value| (value / max).clamp(0.0, 1.0) * 98.0);
    let (all, own) = (share(limit.worst), share(here));
    PreEscaped(format!(
        "<svg class=\"qr bar\" viewBox=\"0 0 100 14\" preserveAspectRatio=\"none\" aria-hidden=\"true\">\
         <path d=\"M0 7H98\" class=\"hair\"/><rect width=\"{all:.1}\" height=\"14\" class=\"pale\"/>\
         <rect y=\"4\" width=\"{own:.1}\" height=\"6\" class=\"hand\"/><rect x=\"98.6\" width=\"1.4\" height=\"14\" class=\"joint\"/></svg>"
    ))
}

fn helps(sheet: &Sheet<'_>, name: &str, limits: &[&LimitFinding]) -> Markup {
    let helped: Vec<_> = limits
        .iter()
        .filter(|limit| !limit.help.is_empty())
        .collect();
    let elsewhere = helps_elsewhere(sheet, name, limits);
    let fails = limits.iter().any(|limit| limit.overall == Overall::Fails);
    html! {
        div class="help" {
            h3 { (words::WHAT_HELPS) }
            @if helped.is_empty() && elsewhere.is_empty() { p class="soft" { (words::no_help(sheet.is_provisional(), fails)) } }
            @for limit in helped {
                @for one in limit.help.iter().take(3) {
                    (parts::try_row(sheet, limit, one, "descent"))
                }
            }
            @for (limit, one) in elsewhere {
                p class="soft" { (words::for_limit(&limit.name)) }
                (parts::try_row(sheet, limit, one, "descent"))
            }
        }
    }
}

/// Changes to this part that would help a limit of another.
fn helps_elsewhere<'a>(
    sheet: &'a Sheet<'_>,
    name: &str,
    limits: &[&LimitFinding],
) -> Vec<(&'a LimitFinding, &'a Help)> {
    let known = sheet.known.iter();
    let rows = known.flat_map(|known| quietrail_report::verdicts::folded(&known.proof.limits));
    let others = rows.filter(|row| limits.iter().all(|own| own.name != row.name));
    let all = others.flat_map(|row| row.help.iter().map(move |one| (row, one)));
    all.filter(|(_, one)| match &one.change {
        Change::Set { address, .. } => {
            let part = address.0.split('.').next();
            part == Some(name)
        }
        Change::Swap { part, .. } => part == name,
        _ => false,
    })
    .collect()
}

/// Whether an address is of a figure of a part: `C1.value`, `load.oven.cold`.
fn is_of(part: &str, address: &str) -> bool {
    let rest = address.strip_prefix("load.").unwrap_or(address);
    rest.strip_prefix(part)
        .is_some_and(|rest| rest.starts_with('.'))
}

/// Every adjustable figure of the part: a slider and a field each.
fn figures(sheet: &Sheet<'_>, name: &str) -> Markup {
    let is_own = |address: &str| is_of(name, address);
    let all = sheet.job.parameters();
    let figures: Vec<&Parameter> = all.iter().filter(|one| is_own(&one.address.0)).collect();
    let has_figures = !figures.is_empty();
    // Folded while the hand moves, they are not wanted.
    let figures = if sheet.asked.is_unseen("figures") {
        Vec::new()
    } else {
        figures
    };
    let is_open = sheet.asked.tries.iter().any(|(address, _)| is_own(address));
    html! {
        @if has_figures {
            details class="figures" open[is_open] {
                summary { (words::FIGURES) }
                div class="fields" { @for one in figures { (parts::field(sheet, one, "descent")) } }
            }
        }
    }
}
