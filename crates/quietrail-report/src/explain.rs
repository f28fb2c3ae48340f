//! Where a limit's figure comes from, and what a diagnostic means, as text and as data.

use quietrail_job::Explanation;
use quietrail_job::model::{Origin, What};
use quietrail_study::explain::{Account, Formula, Input, Mover, Role, Term};
use serde_json::{Value, json};

use crate::corner::{corner_whole, corner_words};
use crate::lines::{Said, accounts};
use crate::verdicts::{printable, wrapped};
use crate::words::{self, explain as said};
use crate::{Style, json::FORMAT, number};

/// Digits of a term: a sum must be seen to come out.
const DIGITS: usize = 4;
/// Last digit of volts that stand in a sum, unless what they come to is too small for it.
const MILLIVOLTS: i32 = -3;
/// Last digit of temperatures that stand in a sum.
const TENTHS: i32 = -1;

/// The account of a figure for a terminal.
pub fn text(account: &Account, style: Style) -> String {
    let columns = style.columns();
    let question = &account.question;
    let margin = question.margin(account.value);
    let statistic =
        |value: f64| number::statistic(question.what, value, question.unit, Some(margin));
    let value = statistic(account.value);
    let allowed = words::allowed(question.what, question.min, question.max, question.unit);
    let headline = said::headline(
        &format!("{}, {}", question.name, account.state),
        &value,
        &allowed,
        &number::margin(question.what, margin, question.unit, Some(account.value)),
    );
    let mut out = wrapped(&words::heading(&account.title, &account.region), columns);
    out.push(String::new());
    out.extend(wrapped(&headline, columns));
    if !question.from.is_empty() {
        out.extend(wrapped(&said::asked_by(&question.from), columns));
    }
    out.push(String::new());
    out.extend(wrapped(said::formula(account.formula), columns));
    out.push(String::new());
    out.extend(sum(account, &value, columns));
    out.push(String::new());
    if !account.cycle.harmonics.is_empty() {
        out.push(said::HARMONICS.to_owned());
        let unit = account.terms.first().map_or("V", |term| term.unit);
        for (hertz, rms) in &account.cycle.harmonics {
            out.push(format!(
                "  {:>8}  {}",
                number::written(*hertz, "Hz"),
                number::si(*rms, unit, 3)
            ));
        }
        out.push(String::new());
    }
    let corner = match corner_whole(&account.corner) {
        corner if corner.is_empty() => words::AS_MARKED.to_owned(),
        corner => corner,
    };
    out.extend(wrapped(&format!("{}{corner}", said::CORNER), columns));
    if let Some(nominal) = account.nominal {
        out.push(format!("{}{}", said::AS_MARKED, statistic(nominal)));
    }
    out.push(String::new());
    if !account.movers.is_empty() {
        out.push(said::MOVERS.to_owned());
        out.extend(movers(account, columns));
        out.push(String::new());
    }
    if !account.inputs.is_empty() {
        out.push(said::INPUTS.to_owned());
        out.extend(inputs(&account.inputs, columns));
        out.push(String::new());
    }
    let cycle = &account.cycle;
    let solved = said::solved(
        &number::written(cycle.mains, "V"),
        &number::written(cycle.hertz, "Hz"),
        cycle.charge_balance,
        cycle.energy_balance,
        cycle.residual,
        cycle.floquet,
    );
    out.extend(wrapped(&solved, columns));
    let effort = said::effort(account.effort.solutions, account.effort.corners);
    out.extend(wrapped(&effort, columns));
    let lines = out.iter().map(|line| printable(line.trim_end()) + "\n");
    number::spaced(&lines.collect::<String>())
}

/// A term of a sum as it is said: sign, name, value, where it comes from.
pub type TermRow = (&'static str, String, String, String);

/// The terms with their signs, and last what they come to: as the sum has it, and as it is said elsewhere.
pub fn sum_rows(account: &Account, value: &str) -> Vec<TermRow> {
    let (figures, total) = figures(account, value);
    let as_said = if total == value {
        String::new()
    } else {
        said::said_as(value)
    };
    account
        .terms
        .iter()
        .zip(figures)
        .enumerate()
        .map(|(index, (term, figure))| {
            (
                sign(term.role, index == 0),
                said::label(&term.label),
                figure,
                said::how(&term.label),
            )
        })
        .chain([("=", account.question.name.clone(), total, as_said)])
        .collect()
}

/// Each term and what they come to, so that what is printed comes out.
fn figures(account: &Account, value: &str) -> (Vec<String>, String) {
    let question = &account.question;
    let terms = &account.terms;
    if let [term] = terms.as_slice()
        && term.unit == question.unit
    {
        return (vec![value.to_owned()], value.to_owned());
    }
    if account.formula == Formula::Largest {
        let margin = question.margin(account.value);
        let said =
            |term: &Term| number::statistic(question.what, term.value, question.unit, Some(margin));
        return (terms.iter().map(said).collect(), value.to_owned());
    }
    let suffix = number::of_statistic(question.what);
    let is_sum = terms
        .iter()
        .all(|term| matches!(term.role, Role::Plus | Role::Minus));
    if !is_sum {
        let total = number::si(account.value, question.unit, DIGITS);
        let said = |term: &Term| number::si(term.value, term.unit, DIGITS);
        let of_heat = |term: &Term| match term.unit {
            "K" | "°C" => number::at(term.value, term.unit, TENTHS),
            _ => said(term),
        };
        return (
            terms.iter().map(of_heat).collect(),
            format!("{total}{suffix}"),
        );
    }
    let is_of_heat = question.unit == "°C";
    let quantum = if is_of_heat {
        TENTHS
    } else {
        number::quantum_of(account.value, 3).min(MILLIVOLTS)
    };
    let signed: Vec<f64> = terms
        .iter()
        .map(|term| match term.role {
            Role::Minus => -term.value,
            _ => term.value,
        })
        .collect();
    let said = number::adding_up(&signed, account.value, quantum);
    let print = |value: f64, unit| number::unprefixed(value, unit, quantum);
    let figures = terms.iter().zip(said).map(|(term, said)| {
        let said = if term.role == Role::Minus {
            -said
        } else {
            said
        };
        print(said, term.unit)
    });
    let total = print(account.value, question.unit);
    (figures.collect(), format!("{total}{suffix}"))
}

/// The figure that an account is about, as statistics are said, and its margin.
pub fn value_and_margin(account: &Account) -> (String, String) {
    let question = &account.question;
    let margin = question.margin(account.value);
    let is_level = matches!(
        question.what,
        What::Mean | What::Valley | What::Peak | What::RipplePeakToPeak
    );
    // A level that no limit is about has the digits of where it was asked for.
    let value = if is_level && question.min.is_none() && question.max.is_none() {
        let suffix = number::of_statistic(question.what);
        format!("{}{suffix}", number::in_hand(account.value, question.unit))
    } else {
        number::statistic(question.what, account.value, question.unit, Some(margin))
    };
    (
        value,
        number::margin(question.what, margin, question.unit, Some(account.value)),
    )
}

/// What figures move it most: their names, and what it would come to with them as marked.
pub fn mover_rows(account: &Account) -> Vec<(String, String)> {
    let question = &account.question;
    let said = |value: f64| {
        number::statistic(
            question.what,
            value,
            question.unit,
            Some(question.margin(value)),
        )
    };
    let movers = account.movers.iter();
    movers
        .map(|mover| (corner_words(&mover.figures), said(mover.without)))
        .collect()
}

/// The figures that went in: address, value, where it comes from.
pub fn input_rows(account: &Account) -> Vec<(String, String, String)> {
    let inputs = account.inputs.iter();
    inputs
        .map(|input| {
            let value = number::written(input.value, input.unit);
            (input.address.clone(), value, origin(&input.origin))
        })
        .collect()
}

/// The terms with their signs as lines, and what they come to.
fn sum(account: &Account, value: &str, columns: usize) -> Vec<String> {
    let rows = sum_rows(account, value).into_iter();
    let rows: Vec<Said> = rows
        .map(|(sign, label, value, how)| (format!("{sign} "), label, value, how))
        .collect();
    accounts(&rows, columns)
}

fn sign(role: Role, is_first: bool) -> &'static str {
    match role {
        Role::Plus if is_first => " ",
        Role::Plus => "+",
        Role::Minus => "−",
        Role::Times => "×",
        Role::Over => "/",
        Role::Square => "²",
        Role::OneOf | Role::Given => " ",
    }
}

fn movers(account: &Account, columns: usize) -> Vec<String> {
    let question = &account.question;
    let row = |mover: &Mover| {
        let figures = corner_words(&told_whole(mover));
        let change = number::margin(
            question.what,
            mover.makes,
            question.unit,
            Some(account.value),
        );
        let margin = question.margin(account.value);
        let without = number::statistic(question.what, mover.without, question.unit, Some(margin));
        ("  ".to_owned(), figures, change, said::without(&without))
    };
    let rows: Vec<Said> = account.movers.iter().map(row).collect();
    accounts(&rows, columns)
}

/// The figures of a mover, none left out for its small share of the whole.
fn told_whole(mover: &Mover) -> Vec<quietrail_study::finding::CornerTerm> {
    let mut figures = mover.figures.clone();
    for figure in &mut figures {
        figure.weight = 1.0;
    }
    figures
}

fn inputs(inputs: &[Input], columns: usize) -> Vec<String> {
    let row = |input: &Input| {
        let value = number::si(input.value, input.unit, DIGITS);
        let from = origin(&input.origin);
        ("  ".to_owned(), input.address.clone(), value, from)
    };
    let rows: Vec<Said> = inputs.iter().map(row).collect();
    accounts(&rows, columns)
}

fn origin(origin: &Origin) -> String {
    match origin {
        Origin::Drawn => "job file, as drawn".to_owned(),
        Origin::Fitted => "job file, as fitted".to_owned(),
        Origin::Measured { with, on } => {
            let with = with.as_ref().map(|with| format!(" with {with}"));
            let on = on.as_ref().map(|on| format!(" on {on}"));
            format!(
                "job file, measured{}{}",
                with.unwrap_or_default(),
                on.unwrap_or_default()
            )
        }
        Origin::Catalogue { part, source } => format!("catalogue, {part}: {source}"),
        Origin::Default { why } => format!("default: {why}"),
    }
}

/// The account of a figure as data.
pub fn account_json(account: &Account) -> Value {
    let question = &account.question;
    let term = |term: &Term| {
        json!({
            "term": number::spaced(&said::label(&term.label)),
            "sign": sign(term.role, false).trim(),
            "value": term.value,
            "unit": term.unit,
            "from": number::spaced(&said::how(&term.label)),
        })
    };
    let input = |input: &Input| {
        json!({
            "address": input.address,
            "value": input.value,
            "unit": input.unit,
            "from": origin(&input.origin),
        })
    };
    let mover = |mover: &Mover| {
        let figures = mover.figures.iter().map(|figure| {
            json!({
                "address": figure.address.0,
                "value": figure.value,
                "nominal": figure.nominal,
                "unit": figure.unit,
            })
        });
        json!({
            "figures": figures.collect::<Vec<_>>(),
            "without": mover.without,
            "makes": mover.makes,
        })
    };
    let corner = account
        .corner
        .iter()
        .map(|term| (term.address.0.clone(), json!(term.value)));
    let harmonics = account
        .cycle
        .harmonics
        .iter()
        .map(|(hertz, rms)| json!({ "hertz": hertz, "rms": rms }));
    json!({
        "format": FORMAT,
        "job": account.title,
        "limit": question.name,
        "state": account.state,
        "what": words::what(question.what),
        "min": question.min,
        "max": question.max,
        "unit": question.unit,
        "from": question.from,
        "nominal": account.nominal,
        "worst": account.value,
        "formula": said::formula_id(account.formula),
        "terms": account.terms.iter().map(term).collect::<Vec<_>>(),
        "inputs": account.inputs.iter().map(input).collect::<Vec<_>>(),
        "corner": corner.collect::<serde_json::Map<_, _>>(),
        "corner_words": number::spaced(&corner_whole(&account.corner)),
        "movers": account.movers.iter().map(mover).collect::<Vec<_>>(),
        "cycle": {
            "mains": account.cycle.mains,
            "hertz": account.cycle.hertz,
            "residual": account.cycle.residual,
            "charge_balance": account.cycle.charge_balance,
            "energy_balance": account.cycle.energy_balance,
            "floquet": account.cycle.floquet,
            "harmonics": harmonics.collect::<Vec<_>>(),
        },
        "effort": {
            "solutions": account.effort.solutions,
            "corners": account.effort.corners,
        },
    })
}

/// What a diagnostic checks, why, and both jobs.
pub fn diagnostic(explanation: &Explanation, style: Style) -> String {
    let columns = style.columns();
    let mut out = vec![
        format!("{}: {}", explanation.code, explanation.title),
        String::new(),
    ];
    out.extend(wrapped(
        &format!("{}{}", said::CHECKS, explanation.checks),
        columns,
    ));
    out.extend(wrapped(
        &format!("{}{}", said::WHY, explanation.why),
        columns,
    ));
    for (head, example) in [
        (said::FAILS, &explanation.fails),
        (said::MENDED, &explanation.mended),
    ] {
        out.push(String::new());
        out.push(head.to_owned());
        out.extend(example.text.trim().lines().map(|line| format!("  {line}")));
        if let Some(parts) = example.parts {
            out.push("  # parts.toml".to_owned());
            out.extend(parts.trim().lines().map(|line| format!("  {line}")));
        }
    }
    let lines = out.iter().map(|line| printable(line.trim_end()) + "\n");
    lines.collect()
}

/// The same as data; both jobs whole.
pub fn diagnostic_json(explanation: &Explanation) -> Value {
    json!({
        "format": FORMAT,
        "job": null,
        "code": explanation.code,
        "title": explanation.title,
        "checks": explanation.checks,
        "why": explanation.why,
        "fails": { "job": explanation.fails.job(), "parts": explanation.fails.parts },
        "mended": { "job": explanation.mended.job(), "parts": explanation.mended.parts },
    })
}

#[cfg(test)]
mod tests;
