//! The windings as they stand on the core: leads, dots, off-load volts, copper. Symbols are those of IEC 60617 (a winding as
//! half-circles, the dot at its first lead).

use crate::words::unmarked as words;
use maud::{Markup, PreEscaped, html};
use quietrail_report::number;
use quietrail_report::svg::{Weight, fitted};
use quietrail_report::words::transformer as said;
use quietrail_study::transformer::{Known, Ranged, WindingKnown};
use std::fmt::Write;

const WIDTH: f64 = 344.0;
/// Where the core stands.
const CORE: f64 = 172.0;
/// From the core to a coil, and on to its leads' ends.
const COIL: f64 = 18.0;
const ENDS: f64 = 54.0;
/// Height of a coil of four half-circles, and of a winding with its room.
const TALL: f64 = 64.0;
const ROOM: f64 = 96.0;
/// Room of a line for a tap.
const TAP: f64 = 16.0;
const SIZE: f64 = 13.0;

/// The mains side stands left, all others right; where nothing says which is which, all stand right.
pub(super) fn windings(known: &Known) -> Markup {
    let (left, right): (Vec<_>, Vec<_>) =
        known.windings.iter().partition(|one| known.is_mains(one));
    let room = |of: &[&WindingKnown]| of.iter().map(|one| height(one)).sum::<f64>();
    let tall = room(&left).max(room(&right));
    let mut out = String::new();
    for (side, all) in [(-1.0, &left), (1.0, &right)] {
        let mut y = 8.0 + 0.5 * (tall - room(all));
        for one in all {
            winding(&mut out, known, (one, side), y);
            y += height(one);
        }
    }
    let foot = tall - 12.0;
    let _ = write!(
        out,
        "<path d=\"M{:.1} 4V{foot:.1}M{:.1} 4V{foot:.1}\"/>",
        CORE - 2.5,
        CORE + 2.5
    );
    let title = words::windings_drawn(&known.name, left.len(), right.len());
    html! {
        figure class="wdg" {
            svg viewBox=(format!("0 0 {WIDTH} {tall:.0}")) role="img" aria-label=(title) { (PreEscaped(out)) }
        }
    }
}

fn height(one: &WindingKnown) -> f64 {
    ROOM + TAP * one.taps.len() as f64
}

/// One winding; `side` is −1 left of the core and 1 right of it.
fn winding(out: &mut String, known: &Known, (one, side): (&WindingKnown, f64), y: f64) {
    let (coil, ends) = (CORE + side * COIL, CORE + side * ENDS);
    // A half-circle bulges away from the core.
    let sweep = i32::from(side > 0.0);
    let bend = TALL / 4.0;
    let half = 0.5 * bend;
    let arcs: String = (0..4)
        .map(|_| format!("a{half:.1} {half:.1} 0 0 {sweep} 0 {bend:.1}"))
        .collect();
    let foot = y + TALL;
    let _ = write!(
        out,
        "<path d=\"M{ends:.1} {y:.1}H{coil:.1}{arcs}H{ends:.1}\"/>"
    );
    if one.is_sense_told {
        let _ = write!(
            out,
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"3\" class=\"dot\"/>",
            coil + side * 14.0,
            y + 7.0
        );
    }
    for (_, share) in &one.taps {
        let at = y + TALL * share.value.clamp(0.0, 1.0);
        let _ = write!(
            out,
            "<path d=\"M{:.1} {at:.1}H{ends:.1}\"/>",
            coil + side * half
        );
    }
    for at in [y, foot] {
        let _ = write!(
            out,
            "<circle cx=\"{:.1}\" cy=\"{at:.1}\" r=\"3.5\" class=\"end\"/>",
            ends + side * 3.5
        );
    }
    let x = ends + side * 14.0;
    let most = if side > 0.0 { WIDTH - x } else { x };
    let mut say = |y: f64, class: &str, text: &str| {
        let weight = match class {
            "soft" => Weight::Regular,
            _ => Weight::Bold,
        };
        let anchor = if side > 0.0 { "start" } else { "end" };
        let text = html! { (fitted(text, SIZE, weight, most)) }.into_string();
        let _ = write!(
            out,
            "<text x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\" class=\"{class}\">{text}</text>"
        );
    };
    let lead = |at: Option<&String>| at.cloned().unwrap_or_default();
    say(y + 5.0, "soft", &lead(one.leads.first()));
    say(foot + 5.0, "soft", &lead(one.leads.last()));
    let name = said::winding(&one.name, known.is_mains(one));
    say(y + 23.0, "b", &name);
    say(y + 39.0, "volts", &told(&one.open, "V"));
    say(y + 54.0, "soft", &told(&one.ohms, "Ω"));
    for (index, (lead, _)) in one.taps.iter().enumerate() {
        let at = foot + 5.0 + TAP * (index as f64 + 1.0);
        say(at, "soft", &words::tap_at(lead));
    }
}

fn told(range: &Ranged, unit: &str) -> String {
    if range.is_told {
        number::si(range.value, unit, 3)
    } else {
        said::NOT_SHOWN.to_owned()
    }
}
