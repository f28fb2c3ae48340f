//! Pieces that several views show: signs, counts, the choice of the corner, cards.

use crate::asked::Asked;
use crate::figure;
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_job::{Change, Parameter};
use quietrail_report::help;
use quietrail_study::finding::{Help, LimitFinding, Overall, With};

/// The signs of the verdicts, once a page: a block on a line, hatched under it, dotted across it, outlined on it.
pub(crate) fn symbols() -> Markup {
    PreEscaped(
        "<svg class=\"symbols\" width=\"0\" height=\"0\" aria-hidden=\"true\"><defs>\
<pattern id=\"hatch\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
<path d=\"M0 3H6\" class=\"hatchline\"/></pattern>\
<symbol id=\"s-holds\" viewBox=\"0 0 20 20\"><path d=\"M1 15.5H19.5\" stroke=\"currentColor\" stroke-width=\"2.5\"/>\
<path d=\"M8.5 2.5h11v12h-11z\" fill=\"currentColor\"/></symbol>\
<symbol id=\"s-fails\" viewBox=\"0 0 20 20\"><path d=\"M1 4.5H19.5\" stroke=\"currentColor\" stroke-width=\"2.5\"/>\
<path d=\"M9.5 5v12h9V5M9.5 11 15 5M9.5 17 18.5 7.5M14 17l4.5-4.8\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\"/></symbol>\
<symbol id=\"s-not\" viewBox=\"0 0 20 20\"><path d=\"M1 10H6\" stroke=\"currentColor\" stroke-width=\"2.5\"/>\
<path d=\"M8.5 4.5h10v11h-10z\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2\" stroke-dasharray=\"2 2\"/></symbol>\
<symbol id=\"s-predicted\" viewBox=\"0 0 20 20\"><path d=\"M1 15.5H19.5\" stroke=\"currentColor\" stroke-width=\"2.5\"/>\
<path d=\"M9.25 3.25h9.5v11.5h-9.5z\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"/></symbol>\
</defs></svg>"
            .to_owned(),
    )
}

/// A sign alone.
pub(crate) fn sign(overall: Overall) -> Markup {
    let name = class_of(overall);
    PreEscaped(format!(
        "<svg aria-hidden=\"true\" focusable=\"false\"><use href=\"#s-{name}\"/></svg>"
    ))
}

/// The class of a verdict: `holds`, `fails`, `not`, `predicted`.
pub(crate) fn class_of(overall: Overall) -> &'static str {
    match overall {
        Overall::Fails => "fails",
        Overall::NotShown => "not",
        Overall::Predicted => "predicted",
        Overall::Holds => "holds",
    }
}

/// A verdict: sign and word.
pub(crate) fn verdict(overall: Overall) -> Markup {
    verdict_saying(overall, quietrail_report::words::overall(overall))
}

/// A verdict's sign with other words.
pub(crate) fn verdict_saying(overall: Overall, text: &str) -> Markup {
    html! { span class={ "v v-" (class_of(overall)) } { (sign(overall)) (text) } }
}

/// How many limits stand how; each leads to them.
pub(crate) fn tally(sheet: &Sheet<'_>, class: &str) -> Markup {
    let count = counted(sheet);
    let href = |only: &str| {
        let asked = sheet.asked.corner().with(|asked| {
            asked.more.insert("only".to_owned(), only.to_owned());
        });
        asked.href("margins")
    };
    html! {
        p class={ "tally " (class) } {
            @for (overall, count, text) in count {
                @if count > 0 {
                    a href=(href(class_of(overall))) { (verdict_saying(overall, &text)) }
                }
            }
            @let beside = crate::beside::failing(sheet);
            @if beside > 0 { a href=(href("")) { (verdict_saying(Overall::Fails, &words::beside::fail(beside))) } }
            @if sheet.known.is_some() && sheet.is_provisional() { em { (words::PROVISIONAL_SHORT) } }
        }
    }
}

/// How many of these rows hold by readings that do not reach both ends of the mains range.
pub(crate) fn hold_in_part(rows: &[&LimitFinding]) -> usize {
    let leaves_mains = |row: &LimitFinding| {
        row.read
            .as_ref()
            .is_some_and(|read| read.mains_left.is_some())
    };
    let holding = rows.iter().filter(|row| row.overall == Overall::Holds);
    holding.filter(|row| leaves_mains(row)).count()
}

/// Counts of the folded rows by verdict, worst first.
pub(crate) fn counted(sheet: &Sheet<'_>) -> Vec<(Overall, usize, String)> {
    let Some(known) = &sheet.known else {
        return Vec::new();
    };
    let rows = quietrail_report::verdicts::folded(&known.proof.limits);
    let count = |wanted: Overall| rows.iter().filter(|row| row.overall == wanted).count();
    let in_part = hold_in_part(&rows);
    [
        Overall::Fails,
        Overall::NotShown,
        Overall::Holds,
        Overall::Predicted,
    ]
    .into_iter()
    .map(|overall| {
        let count = count(overall);
        let text = match overall {
            Overall::Fails => words::fails(count),
            Overall::NotShown => words::not_shown(count),
            Overall::Holds => words::hold(count, in_part),
            Overall::Predicted => words::predicted(count),
        };
        (overall, count, text)
    })
    .collect()
}

/// Hidden fields that carry what is asked through a form, some keys left out.
pub(crate) fn hidden(asked: &Asked, without: &[&str]) -> Markup {
    let pairs = asked.pairs();
    html! {
        @for (key, value) in pairs.iter().filter(|(key, _)| !without.contains(&key.as_str())) {
            input type="hidden" name=(key) value=(value);
        }
    }
}

/// A choice of one among few, as keys side by side.
pub(crate) fn keys(label: &str, name: &str, all: &[(String, String)], chosen: &str) -> Markup {
    html! {
        fieldset class="keys" {
            legend class="unseen" { (label) }
            @for (value, text) in all {
                label {
                    input type="radio" name=(name) value=(value) checked[value == chosen];
                    span { (text) }
                }
            }
        }
    }
}

/// State, parts and mains in one form; it follows the hand.
pub(crate) fn corner_form(sheet: &Sheet<'_>, view: &str, chart: Option<Markup>) -> Markup {
    corner_form_in(sheet, sheet.state, view, chart)
}

/// The same where a view shows another state than the one in hand.
pub(crate) fn corner_form_in(
    sheet: &Sheet<'_>,
    state: usize,
    view: &str,
    chart: Option<Markup>,
) -> Markup {
    let states: Vec<(String, String)> = sheet
        .job
        .states
        .iter()
        .map(|state| (state.name.clone(), state.name.clone()))
        .collect();
    let parts = [
        ("marked".to_owned(), words::AS_MARKED.to_owned()),
        ("worst".to_owned(), words::WORST_PARTS.to_owned()),
    ];
    let chosen = if sheet.asked.worst_parts {
        "worst"
    } else {
        "marked"
    };
    let mains = &sheet.job.mains.voltage.value;
    let (low, high) = ends_of_mains(mains.low, mains.nominal, mains.high);
    let now = format!("{:.0}", sheet.mains);
    let faults = sheet.faults.iter().filter(|fault| {
        [crate::sheet::MAINS, crate::sheet::STATE].contains(&fault.address.as_str())
    });
    html! {
        form class="pad" method="get" action=(view) data-follow {
            h2 { (words::CHOOSE) }
            div id="corner-faults" data-live { @for fault in faults { (field_fault(fault)) } }
            (hidden(&sheet.asked, &["state", "parts", "mains"]))
            (keys(words::STATE, "state", &states, &sheet.job.states[state].name))
            (keys(words::PARTS, "parts", &parts, chosen))
            @if let Some(chart) = chart { div class="padbox" id="pad" data-live { (chart) } }
            div class="mains" {
                label for="mains" { (words::MAINS) }
                input id="mains" type="range" name="mains" min=(format!("{low:.0}")) max=(format!("{high:.0}")) step="1"
                    value=(now) aria-describedby="mains-now";
                output id="mains-now" for="mains" class="num" data-live { (now) "\u{a0}V" }
            }
            noscript { button class="btn" { (words::SHOW) } }
        }
    }
}

/// Ends of the mains slider: the job's own range, or a tenth around a mains without one.
pub(crate) fn ends_of_mains(low: f64, nominal: f64, high: f64) -> (f64, f64) {
    if high > low {
        (low, high)
    } else {
        (0.9 * nominal, 1.1 * nominal)
    }
}

/// What is wrong with a field, and clear texts to choose from.
pub(crate) fn field_fault(fault: &crate::sheet::FieldFault) -> Markup {
    html! {
        p class="fault" role="alert" { (verdict_saying(Overall::Fails, "")) span { (fault.said) } }
    }
}

/// A change that would help, with what it leaves and a key to try it.
pub(crate) fn try_row(sheet: &Sheet<'_>, limit: &LimitFinding, one: &Help, view: &str) -> Markup {
    let margin = help::left(one, limit);
    let change = help::change(one);
    html! {
        div class="try" {
            span {
                (change) " " span class="soft" { (words::LEAVES) } " "
                span class={ "num " @if one.mends() { "v-level" } @else { "v-fails" } } { (margin) } " "
                @if !one.mends() { span class="soft" { (words::CLOSEST) } }
                @for cost in help::costs(one) { br; span class="soft small" { (cost) } }
            }
            @if let Some(href) = try_href(sheet, one, view) {
                a class="btn" href=(href) aria-label={ (words::TRY) " " (change) } { (words::TRY) }
            }
        }
    }
}

/// The address at which a change that would help is tried.
pub(crate) fn try_href(sheet: &Sheet<'_>, one: &Help, view: &str) -> Option<String> {
    let (address, text) = match (&one.change, &one.with) {
        (Change::Set { address, value }, _) => (address.0.clone(), figure::plain(*value, one.unit)),
        (Change::Swap { part, .. }, Some(With::Entry(entry))) => (part.clone(), entry.clone()),
        _ => return None,
    };
    Some(
        sheet
            .asked
            .with(|asked| asked.put(&address, &text))
            .href(view),
    )
}

/// A figure to try: a slider, a field, what is wrong with what was typed.
pub(crate) fn field(sheet: &Sheet<'_>, one: &Parameter, view: &str) -> Markup {
    let address = &one.address.0;
    let id = format!("f-{}", address.replace('.', "-"));
    let fault = sheet.faults.iter().find(|fault| fault.address == *address);
    let typed = sheet.asked.tries.iter().find(|(known, _)| known == address);
    let shown = match (typed, fault) {
        (Some((_, text)), Some(_)) => text.clone(),
        _ => figure::plain(one.nominal, one.unit),
    };
    let others = sheet
        .asked
        .with(|asked| asked.tries.retain(|(known, _)| known != address));
    let label = words::figure_label(address);
    let slider = slider_of(sheet, one);
    html! {
        form class={ "field" @if fault.is_some() { " wrong" } } method="get" action=(view) data-follow {
            (hidden(&others, &[]))
            input type="hidden" name="figure" value=(address);
            label for=(id) { (label) @if one.why_default.is_some() { " " span class="soft" { (words::DEFAULT) } } }
            @if let Some(slider) = slider {
                input id={ "s" (id) } type="range" min=(slider.low) max=(slider.high) step=(slider.step) value=(slider.now)
                    data-to=(id) data-unit=(slider.unit) aria-label={ (label) ", " (words::SLIDER) };
            }
            input id=(id) class="num" type="text" name="value" value=(shown) autocomplete="off" aria-invalid=[fault.map(|_| "true")];
            button class="btn" { (words::TRY) }
            @if let Some(fault) = fault { (field_fault(fault)) }
        }
    }
}

/// Ends, step and place of a slider, in the unit of its field.
struct Slider {
    low: String,
    high: String,
    step: String,
    now: String,
    unit: String,
}

/// A slider around the value in the file: a quarter to four times it.
fn slider_of(sheet: &Sheet<'_>, one: &Parameter) -> Option<Slider> {
    let file = sheet.base.ready.job.parameters();
    let before = file
        .into_iter()
        .find(|known| known.address == one.address)?;
    let text = figure::plain(before.nominal, one.unit);
    let (number, unit) = text.split_once(' ')?;
    let number: f64 = number.parse().ok().filter(|number| *number > 0.0)?;
    let per = number / before.nominal;
    let step = 10f64.powi(number.log10().floor() as i32 - 2);
    let print = |value: f64| {
        let text = format!("{value:.6}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    let (low, high) = if one.unit == "°C" {
        (number - 30.0, number + 30.0)
    } else {
        (number / 4.0, number * 4.0)
    };
    let round = |value: f64| (value / step).round() * step;
    Some(Slider {
        low: print(round(low)),
        high: print(round(high)),
        step: print(step),
        now: print(one.nominal * per),
        unit: unit.to_owned(),
    })
}

/// A sentence in which names of the job file or commands stand between backticks.
pub(crate) fn prose(text: &str) -> Markup {
    html! {
        @for (index, piece) in text.split('`').enumerate() {
            @if index % 2 == 1 { code { (piece) } } @else { (piece) }
        }
    }
}

/// A table that may be wider than the screen: it scrolls by itself, by keyboard too.
pub(crate) fn wide(label: &str, table: &Markup) -> Markup {
    html! { div class="scroll" tabindex="0" role="region" aria-label=(label) { (table) } }
}
