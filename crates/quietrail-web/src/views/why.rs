//! The sum behind a limit's figure: terms with signs, what was assumed, what moves it.

use crate::known::tightest_headroom;
use crate::parts;
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, html};
use quietrail_job::Address;
use quietrail_job::model::{Job, Limit, Span, Subject, What};
use quietrail_report::explain as told;
use quietrail_report::words::{explain as said, readings};
use quietrail_report::{corner, number};
use quietrail_study::explain::{Account, NoAccount, explain_finding};
use quietrail_study::finding::{CornerTerm, LimitFinding, Measured, Overall, Predicted};
use quietrail_study::question::unit_of;
use std::borrow::Cow;

/// Asks for the sum in the corner in hand rather than at the worst one.
pub(crate) const HERE: &str = "here";

/// The address that opens the sum of a limit in the corner in hand.
pub(crate) fn href_here(sheet: &Sheet<'_>, limit: &str, view: &str) -> String {
    let asked = sheet.asked.with(|asked| {
        asked.part = None;
        for (key, value) in [("why", limit), ("in", sheet.state_name()), ("at", HERE)] {
            asked.more.insert(key.to_owned(), value.to_owned());
        }
    });
    format!("{}#card", asked.href(view))
}

/// A figure that no limit asks for, as a limit without bounds: `raw valley`, `plus,minus mean`, `D1 power`. With it the job
/// that asks it, so that its sum is made as every other.
fn asked_besides(sheet: &Sheet<'_>, name: &str) -> Option<(Job, LimitFinding)> {
    let words = What::ALL.iter().filter_map(|what| {
        let of = name.strip_suffix(what.word())?.strip_suffix(' ')?;
        Some((of.trim(), *what))
    });
    // `ripple p-p` ends a longer name than `p-p` would.
    let (of, what) = words.min_by_key(|(of, _)| of.len())?;
    let lowered = sheet.here().ok().map(|here| &here.lowered)?;
    // A load may be called as its node is: levels are the node's, all else is the part's.
    let is_level = matches!(
        what,
        What::Mean | What::Valley | What::Peak | What::Ripple | What::RipplePeakToPeak
    );
    let is_node = is_level && lowered.node(of).is_some();
    let of = match of.split_once(',') {
        Some((plus, minus)) => Subject::Pair(plus.trim().to_owned(), minus.trim().to_owned()),
        None if sheet.job.part(of).is_some() && !is_node => Subject::Part(of.to_owned()),
        None => Subject::Node(of.to_owned()),
    };
    let nodes = match &of {
        Subject::Part(_) => Vec::new(),
        Subject::Node(node) => vec![node],
        Subject::Pair(plus, minus) => vec![plus, minus],
    };
    let is_known = |node: &&String| *node == "common" || lowered.node(node).is_some();
    if !nodes.iter().all(is_known) {
        return None;
    }
    let mut job = (*sheet.job).clone();
    let asked = Limit {
        name: name.to_owned(),
        of: of.clone(),
        what,
        band: None,
        down_to: None,
        min: None,
        max: None,
        states: vec![sheet.state],
        from: String::new(),
        span: Span::default(),
    };
    job.limits = job.limits.iter().cloned().chain([asked]).collect();
    let finding = LimitFinding {
        name: name.to_owned(),
        of,
        what,
        state: sheet.state_name().to_owned(),
        min: None,
        max: None,
        unit: unit_of(what),
        from: String::new(),
        is_rating: false,
        nominal: None,
        // Its account solves for it.
        worst: Some(f64::NAN),
        margin: None,
        margin_share: None,
        corner: Vec::new(),
        predicted: Predicted::Holds,
        measured: Measured::None,
        overall: Overall::Predicted,
        help: Vec::new(),
        gets: None,
        mostly: None,
        read: None,
    };
    Some((job, in_hand(sheet, &finding)))
}

/// A finding moved to the corner in hand.
fn in_hand(sheet: &Sheet<'_>, finding: &LimitFinding) -> LimitFinding {
    let worst = sheet
        .known
        .as_ref()
        .filter(|_| sheet.asked.worst_parts)
        .and_then(|known| tightest_headroom(&known.proof, Some(sheet.state_name())));
    let mut corner = worst.map_or_else(Vec::new, |worst| worst.corner.clone());
    corner.retain(|term| term.address.0 != MAINS);
    corner.push(CornerTerm {
        address: Address(MAINS.to_owned()),
        value: sheet.mains,
        unit: "V",
        nominal: sheet.job.mains.voltage.nominal(),
        weight: 1.0,
    });
    LimitFinding {
        corner,
        ..finding.clone()
    }
}

/// Address of the mains voltage.
const MAINS: &str = "mains.voltage";

/// The panel that opens where a number was asked for.
pub(crate) fn panel(sheet: &Sheet<'_>, limit: &str, view: &str) -> Markup {
    let close = sheet.asked.with(|asked| {
        asked.more.remove("why");
        asked.more.remove("in");
        asked.more.remove("at");
    });
    let close = close.href(view);
    let finding = found(sheet, limit).map(|finding| {
        if sheet.asked.get("at") == Some(HERE) {
            Cow::Owned(in_hand(sheet, finding))
        } else {
            Cow::Borrowed(finding)
        }
    });
    let besides = finding
        .is_none()
        .then(|| asked_besides(sheet, limit))
        .flatten();
    let own_job = besides.as_ref().map(|(job, _)| job);
    let finding = finding
        .as_deref()
        .or(besides.as_ref().map(|(_, finding)| finding));
    html! {
        article class="why" aria-label=(words::why_title(limit)) {
            @match finding {
                None => { h2 { (words::why_title(limit)) } p { (words::no_such_limit(limit)) } },
                Some(finding) => {
                    @match account(sheet, own_job, finding) {
                        Ok(account) => (sum(&account, show_href(sheet, finding))),
                        Err(why) => {
                            h2 { (words::why_title(limit)) }
                            p { (parts::verdict(Overall::NotShown)) " " (why) }
                        },
                    }
                },
            }
            @if let Some(finding) = finding { (read(sheet, finding)) }
            p class="close" { a class="btn" href=(close) { (words::CLOSE) } }
        }
    }
}

/// What readings say of the limit, in every state in which it was read.
fn read(sheet: &Sheet<'_>, finding: &LimitFinding) -> Markup {
    let all = crate::readings::of_row(sheet, finding);
    html! {
        @if !all.is_empty() {
            h3 { (words::READINGS) }
            @for one in all { p { (readings::judged(one)) } }
        }
    }
}

/// The limit in the state asked for, else in its worst.
fn found<'a>(sheet: &'a Sheet<'_>, limit: &str) -> Option<&'a LimitFinding> {
    let known = sheet.known.as_ref()?;
    let state = sheet.asked.get("in");
    let mut own = known
        .proof
        .limits
        .iter()
        .filter(|finding| finding.name == limit);
    let exact = own
        .clone()
        .find(|finding| Some(finding.state.as_str()) == state);
    exact.or_else(|| {
        let first = own.next()?;
        let margin = |finding: &LimitFinding| finding.margin.unwrap_or(f64::NEG_INFINITY);
        Some(own.fold(first, |a, b| if margin(b) < margin(a) { b } else { a }))
    })
}

fn account(
    sheet: &Sheet<'_>,
    own_job: Option<&Job>,
    finding: &LimitFinding,
) -> Result<Account, String> {
    let known = sheet
        .known
        .as_ref()
        .ok_or_else(|| words::LOOKING.to_owned())?;
    let account = explain_finding(
        own_job.unwrap_or(&known.job),
        finding,
        known.proof.effort,
        &quietrail_study::options(),
    );
    account.map_err(|why| match why {
        NoAccount::NotShown { unit, why } => quietrail_report::words::why_not(&why, unit),
        NoAccount::Trouble(trouble) => trouble.to_string(),
        NoAccount::UnknownLimit { .. } | NoAccount::NotInState { .. } => {
            words::no_such_limit(&finding.name)
        }
    })
}

/// The address at which the drawing stands in a finding's corner: that is to be had for the tightest headroom of a state.
fn show_href(sheet: &Sheet<'_>, finding: &LimitFinding) -> Option<String> {
    let known = sheet.known.as_ref()?;
    let tightest = tightest_headroom(&known.proof, Some(&finding.state))?;
    if tightest.name != finding.name || sheet.asked.get("at") == Some(HERE) {
        return None;
    }
    let mains = finding.corner.iter().find(|term| term.address.0 == MAINS);
    let volts = mains.map_or(sheet.job.mains.voltage.nominal(), |term| term.value);
    let asked = sheet.asked.with(|asked| {
        asked.state = Some(finding.state.clone());
        asked.mains = Some(number::spaced(&number::written(volts, "V")));
        asked.worst_parts = true;
    });
    Some(asked.href("descent"))
}

fn sum(account: &Account, show: Option<String>) -> Markup {
    let question = &account.question;
    let (value, margin) = told::value_and_margin(account);
    let allowed =
        quietrail_report::words::allowed(question.what, question.min, question.max, question.unit);
    let rows = told::sum_rows(account, &value);
    let corner = corner::corner_whole(&account.corner);
    html! {
        h2 { (words::why_value(&question.name, &account.state, &value)) }
        @if question.min.is_some() || question.max.is_some() {
            p class="soft" { (words::asked(&allowed, &margin)) " " (question.from) }
        } @else { p class="soft" { (words::NO_LIMIT_ON_IT) } }
        p { (said::formula(account.formula)) }
        table class="sum" {
            tbody {
                @for (sign, label, value, how) in &rows {
                    tr class=[(*sign == "=").then_some("total")] {
                        td class="sign" { (sign) }
                        td class="num value" { (value) }
                        td { (label) @if !how.is_empty() { ": " span class="soft" { (how) } } }
                    }
                }
            }
        }
        @if !account.cycle.harmonics.is_empty() {
            p class="soft" {
                (said::HARMONICS) " "
                @for (index, (hertz, rms)) in account.cycle.harmonics.iter().enumerate() {
                    @if index > 0 { ", " }
                    (number::written(*hertz, "Hz")) " " (number::si(*rms, account.terms.first().map_or("V", |term| term.unit), 3))
                }
            }
        }
        p {
            b { (words::AT_CORNER) } " " @if corner.is_empty() { (quietrail_report::words::AS_MARKED) } @else { (corner) }
            @if let Some(href) = show { ". " a href=(href) { (words::SHOW_CORNER) } }
        }
        div class="twocol" {
            @if !account.movers.is_empty() {
                div {
                    h3 { (words::MOVERS) }
                    (parts::wide(words::MOVERS, &html! { table class="plain" {
                        thead { tr { td {} th scope="col" { (words::IF_ALONE) } } }
                        tbody { @for (name, without) in told::mover_rows(account) {
                            tr { th scope="row" { (name) } td class="num" { (without) } }
                        } }
                    } }))
                }
            }
            @if !account.inputs.is_empty() {
                details {
                    summary { (words::INPUTS) }
                    (parts::wide(words::INPUTS, &html! { table class="plain" { tbody { @for (address, value, origin) in told::input_rows(account) {
                        tr { th scope="row" { (address) } td class="num" { (value) } td class="soft" { (origin) } }
                    } } } }))
                }
            }
        }
        details {
            summary class="soft" { (words::HOW_SOLVED) }
            p class="soft small" {
                (said::solved(
                    &number::written(account.cycle.mains, "V"), &number::written(account.cycle.hertz, "Hz"),
                    account.cycle.charge_balance, account.cycle.energy_balance, account.cycle.residual, account.cycle.floquet,
                ))
            }
        }
    }
}
