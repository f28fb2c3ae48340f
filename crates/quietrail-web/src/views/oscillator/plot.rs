//! The Allan deviation over its limits: both axes logarithmic, readings as diamonds with their range, limits as sills.

use maud::{Markup, PreEscaped, html};
use quietrail_bench::accept::{Accepted, Line};
use quietrail_bench::counter::{Counted, Stable};
use quietrail_report::number;
use quietrail_report::svg::{Weight, text_width};
use quietrail_report::words::acceptance as said;
use std::fmt::Write;

/// Half the length of a sill.
const SILL: f64 = 18.0;
/// Size of the texts.
const SIZE: f64 = 13.0;

/// How near two averaging times are the same, as a share.
const SAME: f64 = 0.01;

/// The frame of a drawing, in CSS pixels.
#[derive(Clone, Copy)]
struct Frame {
    width: f64,
    height: f64,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

/// For a desk.
const BROAD: Frame = Frame {
    width: 880.0,
    height: 340.0,
    left: 92.0,
    right: 856.0,
    top: 18.0,
    bottom: 300.0,
};

/// For a hand-held screen.
const NARROW: Frame = Frame {
    width: 340.0,
    height: 280.0,
    left: 86.0,
    right: 328.0,
    top: 14.0,
    bottom: 244.0,
};

/// Both axes: decades from and to.
#[derive(Clone, Copy)]
struct Axes {
    frame: Frame,
    times: (f64, f64),
    deviations: (f64, f64),
}

impl Axes {
    /// Room for a sill stands before the first time and behind the last.
    fn x(&self, tau: f64) -> f64 {
        let (from, to) = (self.frame.left + SILL + 6.0, self.frame.right - SILL - 6.0);
        from + (to - from) * (tau.log10() - self.times.0) / (self.times.1 - self.times.0)
    }

    fn y(&self, deviation: f64) -> f64 {
        let Frame { top, bottom, .. } = self.frame;
        let (low, high) = self.deviations;
        bottom - (bottom - top) * (deviation.log10() - low) / (high - low)
    }
}

/// Lowest and highest of some positive values, as powers of ten.
fn extent(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (low, high) = values.fold((f64::INFINITY, 0.0_f64), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    (low.log10(), high.log10())
}

/// The deviations of all logs at rising times: of a day's log those at long ones, of one that was read more often those at short ones.
/// Where two logs have the same time, that of the later one.
fn of_all(logs: &[(String, Counted)]) -> Vec<Stable> {
    let mut all: Vec<Stable> = Vec::new();
    for (_, log) in logs {
        for own in &log.stability {
            all.retain(|one| (one.tau / own.tau - 1.0).abs() > SAME);
            all.push(*own);
        }
    }
    all.sort_by(|a, b| a.tau.total_cmp(&b.tau));
    all
}

/// The drawing for a desk and for a hand-held screen; its figures stand beside it in the logs' own words.
pub(super) fn drawn(logs: &[(String, Counted)], lines: &[Accepted]) -> Markup {
    let limits: Vec<(f64, f64)> = lines
        .iter()
        .filter_map(|one| match one.line {
            Line::Stability { tau } => Some((tau, one.max?)),
            _ => None,
        })
        .collect();
    let points = &of_all(logs);
    if points.is_empty() {
        return html! {};
    }
    let title = crate::words::oscillator::plotted(points[0].tau, points[points.len() - 1].tau);
    html! {
        @for (class, frame) in [("desk", BROAD), ("phone", NARROW)] {
            svg class={ "qr adev " (class) } viewBox=(format!("0 0 {} {}", frame.width, frame.height)) role="img" aria-label=(title) {
                title { (title) }
                (PreEscaped(scene(frame, points, &limits)))
            }
        }
    }
}

fn scene(frame: Frame, points: &[Stable], limits: &[(f64, f64)]) -> String {
    let taus = points.iter().map(|one| one.tau);
    let times = extent(taus.chain(limits.iter().map(|(tau, _)| *tau)));
    let ends = points
        .iter()
        .flat_map(|one| [one.deviation, one.range.0, one.range.1])
        .filter(|end| *end > 0.0);
    let (low, high) = extent(ends.chain(limits.iter().map(|(_, most)| *most)));
    let axes = Axes {
        frame,
        times: (times.0, times.1.max(times.0 + 0.5)),
        deviations: (low - 0.12, high.max(low + 0.5) + 0.12),
    };
    let mut svg = String::new();
    grid(&mut svg, &axes);
    for (tau, most) in limits {
        sill(&mut svg, &axes, *tau, *most, points);
    }
    for one in points {
        let (cx, cy) = (axes.x(one.tau), axes.y(one.deviation));
        let floor = 10f64.powf(axes.deviations.0);
        let (top, foot) = (axes.y(one.range.1), axes.y(one.range.0.max(floor)));
        let _ = write!(
            svg,
            "<path d=\"M{:.1} {top:.1}h8m-4 0V{foot:.1}m-4 0h8\" class=\"axis\"/>\
             <path d=\"M{cx:.1} {:.1}l6 8l-6 8l-6 -8z\" class=\"rd\"/>",
            cx - 4.0,
            cy - 8.0
        );
    }
    svg
}

/// Decades, and between them twos and fives where there are few.
fn grid(svg: &mut String, axes: &Axes) {
    let Frame {
        left,
        right,
        top,
        bottom,
        ..
    } = axes.frame;
    for decade in axes.times.0.ceil() as i32..=axes.times.1.floor() as i32 {
        let at = axes.x(10f64.powi(decade));
        let label = number::si(10f64.powi(decade), "s", 1);
        let foot = bottom + 20.0;
        let _ = write!(
            svg,
            "<path d=\"M{at:.1} {top}V{bottom}\" class=\"grid\"/><text x=\"{at:.1}\" y=\"{foot}\" text-anchor=\"middle\">{label}</text>"
        );
    }
    let (low, high) = axes.deviations;
    let steps: &[f64] = if high - low < 1.5 {
        &[1.0, 2.0, 5.0]
    } else {
        &[1.0]
    };
    for decade in low.floor() as i32..=high.floor() as i32 {
        for step in steps {
            let value = step * 10f64.powi(decade);
            if !(low..=high).contains(&value.log10()) {
                continue;
            }
            let at = axes.y(value);
            let (x, y) = (left - 6.0, at + 4.5);
            let label = said::value(Line::Stability { tau: 1.0 }, value);
            let _ = write!(
                svg,
                "<path d=\"M{left} {at:.1}H{right}\" class=\"grid\"/><text x=\"{x}\" y=\"{y:.1}\" text-anchor=\"end\">{label}</text>"
            );
        }
    }
    let _ = write!(svg, "<path d=\"M{left} {bottom}H{right}\" class=\"axis\"/>");
}

/// A limit: what the readings have to stay under, its figure beside it, away from readings that stand near.
fn sill(svg: &mut String, axes: &Axes, tau: f64, most: f64, points: &[Stable]) {
    let (cx, cy) = (axes.x(tau), axes.y(most));
    let label = format!("≤ {}", said::value(Line::Stability { tau }, most));
    let width = text_width(&label, SIZE, Weight::Bold);
    let is_free = |x: f64, y: f64| {
        let stands_in = points.iter().any(|one| {
            let own = axes.x(one.tau);
            let (top, foot) = (axes.y(one.range.1) - 6.0, axes.y(one.range.0) + 6.0);
            (x - 8.0..=x + width + 8.0).contains(&own) && (top..=foot + 12.0).contains(&y)
        });
        let Frame { left, right, .. } = axes.frame;
        !stands_in && x >= left && x + width <= right
    };
    let places = [
        (cx + SILL + 6.0, cy + 4.5),
        (cx - SILL - 6.0 - width, cy + 4.5),
        (cx - SILL, cy - 9.0),
        (cx - SILL, cy + 18.0),
    ];
    let (x, y) = places
        .into_iter()
        .find(|(x, y)| is_free(*x, *y))
        .unwrap_or(places[2]);
    let (from, to) = (cx - SILL, cx + SILL);
    let _ = write!(
        svg,
        "<path d=\"M{from:.1} {cy:.1}H{to:.1}\" class=\"sill\"/><text x=\"{x:.1}\" y=\"{y:.1}\" class=\"strong\">{label}</text>"
    );
}
