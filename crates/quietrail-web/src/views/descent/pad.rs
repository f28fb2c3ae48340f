//! The mains slider's own scale: the tightest headroom of every state against the mains, as marked and at the worst.

use crate::known::tightest_headroom;
use crate::parts::ends_of_mains;
use crate::sheet::Sheet;
use crate::timing;
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_job::model::What;
use quietrail_report::number;
use quietrail_report::svg::{self, Weight};
use quietrail_study::descent;
use std::fmt::Write;

/// Mains voltages at which it is solved.
const POINTS: usize = 5;
const WIDTH: f64 = 328.0;
const LEFT: f64 = 8.0;
/// Where it ends at most: names of states stand beyond.
const RIGHT: f64 = 282.0;
/// Room that names may take at most.
const NAMES: f64 = 120.0;
/// Size of the chart's texts.
const SIZE: f64 = 13.0;
/// What headrooms and shortfalls of a row may take together, in height.
const SPAN: f64 = 42.0;
/// What a row takes besides: its figure, and space.
const BESIDE: f64 = 26.0;
/// How thick a shortfall is drawn at least.
const LEAST: f64 = 9.0;
const TOP: f64 = 14.0;

/// Headrooms of a state against the mains: as marked, and with the worst parts.
#[derive(Clone, Debug)]
struct Curve {
    state: String,
    marked: Vec<(f64, f64)>,
    worst: Vec<(f64, f64)>,
}

/// Scales of the chart.
struct Scales {
    low: f64,
    high: f64,
    right: f64,
    per_volt: f64,
    /// Height of a row above its zero.
    up: f64,
    /// Height of a row.
    row: f64,
}

impl Scales {
    fn x(&self, mains: f64) -> f64 {
        LEFT + (mains - self.low) / (self.high - self.low) * (self.right - LEFT)
    }

    fn zero(&self, row: usize) -> f64 {
        TOP + self.row * row as f64 + self.up
    }

    fn path(&self, points: &[(f64, f64)], zero: f64) -> String {
        let mut path = String::new();
        for (index, (mains, volts)) in points.iter().enumerate() {
            let letter = if index == 0 { 'M' } else { 'L' };
            let y = zero - volts * self.per_volt;
            let _ = write!(path, "{letter}{:.1} {y:.1}", self.x(*mains));
        }
        path
    }
}

/// The chart; nothing where the job has no regulator.
pub(super) fn chart(sheet: &Sheet<'_>) -> Markup {
    let curves = curves(sheet);
    if curves.iter().all(|curve| curve.marked.is_empty()) {
        return html! {};
    }
    let mains = &sheet.job.mains.voltage.value;
    let (low, high) = ends_of_mains(mains.low, mains.nominal, mains.high);
    let all = curves
        .iter()
        .flat_map(|curve| curve.marked.iter().chain(&curve.worst));
    let (least, most) = all.fold((0.0, 0.5), |(least, most): (f64, f64), point| {
        (least.min(point.1), most.max(point.1))
    });
    let per_volt = SPAN / (most - least);
    let down = if least < 0.0 {
        (-least * per_volt).max(LEAST)
    } else {
        0.0
    };
    let name = |curve: &Curve| svg::text_width(&curve.state, SIZE, Weight::Bold);
    let names = curves.iter().map(name).fold(0.0, f64::max).min(NAMES);
    let right = (WIDTH - names - 10.0).min(RIGHT);
    let scales = Scales {
        low,
        high,
        right,
        per_volt,
        up: most * per_volt,
        row: most * per_volt + down + BESIDE,
    };
    let height = TOP + scales.row * curves.len() as f64 + 36.0;
    // Numbers stand over the hand's upright, so that it never strikes one through.
    let (mut out, mut texts) = (String::new(), String::new());
    for (row, curve) in curves.iter().enumerate() {
        let worst = sheet.known.as_ref();
        let worst = worst.and_then(|known| tightest_headroom(&known.proof, Some(&curve.state)));
        let sum = worst.map(|worst| super::why_href(sheet, worst));
        state_row(
            (&mut out, &mut texts),
            (curve, sum.as_deref()),
            scales.zero(row),
            &scales,
            curve.state == sheet.state_name(),
        );
    }
    let foot = height - 34.0;
    let hand = scales.x(sheet.mains.clamp(low, high));
    let knob = knob(&curves, sheet, &scales);
    let _ = write!(
        out,
        "<path d=\"M{hand:.1} {TOP}V{foot:.1}\" class=\"level\"/>\
         <circle cx=\"{hand:.1}\" cy=\"{knob:.1}\" r=\"7\" class=\"knob\"/><path d=\"M{LEFT} {foot:.1}H{right:.1}\" class=\"rule\"/>"
    );
    out.push_str(&texts);
    for volts in [low, mains.nominal, high] {
        let at = scales.x(volts);
        let (unit, class) = if volts == high {
            ("\u{a0}V", "m t2")
        } else {
            ("", "m t2")
        };
        let place = at.max(LEFT + 4.0);
        let (tick, text) = (foot + 5.0, foot + 21.0);
        let _ = write!(
            out,
            "<path d=\"M{at:.1} {foot:.1}V{tick:.1}\" class=\"axis\"/>\
             <text x=\"{place:.1}\" y=\"{text:.1}\" font-size=\"13\" class=\"{class}\">{volts:.0}{unit}</text>"
        );
    }
    let title = words::PAD_TITLE;
    let told = html! { (description(&curves)) }.into_string();
    html! {
        p class="soft small" { (words::PAD_KEY) }
        (PreEscaped(format!(
            "<svg class=\"qr\" viewBox=\"0 0 {WIDTH} {height:.0}\" role=\"group\" aria-label=\"{title}\">\
             <title>{title}</title><desc>{told}</desc>{out}</svg>"
        )))
    }
}

fn state_row(
    (out, texts): (&mut String, &mut String),
    (curve, sum): (&Curve, Option<&str>),
    zero: f64,
    scales: &Scales,
    is_current: bool,
) {
    let right = scales.right;
    let worst = &curve.worst;
    if let (Some(first), Some(last)) = (worst.first(), worst.last()) {
        // Above the line pale, below it hatched.
        let above: Vec<_> = worst
            .iter()
            .map(|(mains, volts)| (*mains, volts.max(0.0)))
            .collect();
        let path = scales.path(&above, zero);
        let (end, left) = (scales.x(last.0), scales.x(first.0));
        let _ = write!(
            out,
            "<path d=\"{path}L{end:.1} {zero:.1}L{left:.1} {zero:.1}Z\" class=\"pale\"/>"
        );
        if let Some((from, to)) = short_stretch(worst) {
            // As deep as its shortfall, and never too thin to be seen.
            let least = worst.iter().map(|point| point.1).fold(0.0, f64::min);
            let depth = (-least * scales.per_volt).max(LEAST);
            let (left, right) = (scales.x(from), scales.x(to).max(scales.x(from) + 8.0));
            let width = right - left;
            let _ = write!(
                out,
                "<rect x=\"{left:.1}\" y=\"{zero:.1}\" width=\"{width:.1}\" height=\"{depth:.1}\" class=\"shortarea\"/>"
            );
        }
    }
    if curve.marked.is_empty() {
        let _ = write!(
            out,
            "<path d=\"M{LEFT} {zero:.1}H{right:.1}\" class=\"dots\"/>"
        );
    } else {
        let path = scales.path(&curve.marked, zero);
        let _ = write!(out, "<path d=\"{path}\" class=\"level\"/>");
    }
    let _ = write!(
        out,
        "<path d=\"M{LEFT} {zero:.1}H{right:.1}\" class=\"axis\"/>"
    );
    if let Some((mains, volts)) = lowest(curve) {
        let text = words::at_mains(&headroom(volts), &number::written(mains, "V"));
        // Under its own zero, so that it is read with no other row.
        let (y, class) = if volts < 0.0 {
            (
                zero + (-volts * scales.per_volt).max(LEAST) + 14.0,
                "b ts halo",
            )
        } else {
            (zero + 15.0, "b t1 halo")
        };
        let x = LEFT + 9.0;
        let written = format!(
            "<text x=\"{x:.1}\" y=\"{y:.1}\" font-size=\"13\" class=\"{class}\">{text}</text>"
        );
        match sum {
            Some(sum) => {
                let sum = html! { a href=(sum) { (PreEscaped(written)) } };
                texts.push_str(&sum.into_string());
            }
            None => texts.push_str(&written),
        }
    }
    let class = if is_current { "e b t1" } else { "e t2" };
    let name = svg::fitted(&curve.state, SIZE, Weight::Bold, NAMES);
    let name = html! { (name) }.into_string();
    let y = zero + 4.0;
    let _ = write!(
        out,
        "<text x=\"{WIDTH}\" y=\"{y:.1}\" font-size=\"13\" class=\"{class}\">{name}</text>"
    );
}

/// From which mains to which it falls short.
fn short_stretch(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let mut ends: Vec<f64> = Vec::new();
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        ends.extend((a.1 < 0.0).then_some(a.0));
        ends.extend((b.1 < 0.0).then_some(b.0));
        if (a.1 < 0.0) != (b.1 < 0.0) {
            ends.push(a.0 + a.1 / (a.1 - b.1) * (b.0 - a.0));
        }
    }
    let low = ends.iter().copied().reduce(f64::min)?;
    Some((low, ends.into_iter().fold(low, f64::max)))
}

/// Where the knob stands: on the line of the state in hand.
fn knob(curves: &[Curve], sheet: &Sheet<'_>, scales: &Scales) -> f64 {
    let row = curves
        .iter()
        .position(|curve| curve.state == sheet.state_name())
        .unwrap_or(0);
    let own = &curves[row];
    let line = if sheet.asked.worst_parts && !own.worst.is_empty() {
        &own.worst
    } else {
        &own.marked
    };
    let on = line
        .windows(2)
        .find(|pair| (pair[0].0..=pair[1].0).contains(&sheet.mains));
    let volts = on.map_or(0.0, |pair| {
        let share = (sheet.mains - pair[0].0) / (pair[1].0 - pair[0].0);
        pair[0].1 + share * (pair[1].1 - pair[0].1)
    });
    scales.zero(row) - volts * scales.per_volt
}

fn lowest(curve: &Curve) -> Option<(f64, f64)> {
    let all = curve.worst.iter().chain(&curve.marked).copied();
    all.reduce(|a, b| if b.1 < a.1 { b } else { a })
}

fn headroom(volts: f64) -> String {
    number::margin(What::Headroom, volts, "V", Some(volts))
}

fn description(curves: &[Curve]) -> String {
    let each = curves.iter().filter_map(|curve| {
        let (mains, volts) = lowest(curve)?;
        let text = words::at_mains(&headroom(volts), &number::written(mains, "V"));
        Some(format!("{}: {text}.", curve.state))
    });
    each.collect::<Vec<_>>().join(" ")
}

/// Solved once for what is known; while the hand moves, what was drawn last.
fn curves(sheet: &Sheet<'_>) -> std::sync::Arc<Vec<Curve>> {
    let (sum, tried) = sheet.key();
    let moving = sheet.asked.moving && !tried.is_empty();
    let tried = if moving { String::new() } else { tried };
    let standing = if moving {
        sheet
            .desk
            .known(&(sum.clone(), String::new()))
            .map(|known| known.standing)
    } else {
        sheet.known.as_ref().map(|known| known.standing)
    };
    let key = (sum, format!("pad {standing:?} {tried}"));
    sheet
        .desk
        .remembered(&key, || timing::solving(|| solved(sheet)))
}

fn solved(sheet: &Sheet<'_>) -> Vec<Curve> {
    let mains = &sheet.job.mains.voltage.value;
    let (low, high) = ends_of_mains(mains.low, mains.nominal, mains.high);
    let volts: Vec<f64> = (0..POINTS)
        .map(|k| low + (high - low) * k as f64 / (POINTS - 1) as f64)
        .collect();
    let of = |state: usize, worst: bool| -> Vec<(f64, f64)> {
        let lists: Vec<_> = volts
            .iter()
            .map(|volts| sheet.changes_in(state, worst, *volts))
            .collect();
        let results = sheet.base.ready.solve(state, &lists);
        let points = volts.iter().zip(results).filter_map(|(volts, solved)| {
            let figures =
                descent::figures(&sheet.base.sections, &sheet.base.ready.plan, &solved.ok()?);
            let rails = figures.sections.iter().flat_map(|section| &section.rails);
            let least = rails
                .map(descent::RailFigures::spare)
                .filter(|volts| volts.is_finite())
                .reduce(f64::min)?;
            Some((*volts, least))
        });
        points.collect()
    };
    let states = sheet.job.states.iter().enumerate();
    states
        .map(|(index, state)| Curve {
            state: state.name.clone(),
            marked: of(index, false),
            worst: if sheet.known.is_some() {
                of(index, true)
            } else {
                Vec::new()
            },
        })
        .collect()
}
