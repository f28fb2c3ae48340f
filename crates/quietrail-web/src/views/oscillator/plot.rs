//! The Allan deviation over its limits: both axes logarithmic, readings as diamonds with their range, limits as sills.

use maud::{Markup, PreEscaped, html};
use quietrail_bench::accept::{Accepted, Line};
use quietrail_bench::counter::Counted;
use quietrail_report::number;
use quietrail_report::words::acceptance as said;

const LEFT: f64 = 64.0;
const RIGHT: f64 = 700.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 280.0;

/// Decades that hold some values.
fn decades(values: impl Iterator<Item = f64>) -> (i32, i32) {
    let (low, high) = values.fold((f64::INFINITY, 0.0_f64), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    let (from, to) = (low.log10().floor() as i32, high.log10().ceil() as i32);
    (from, to.max(from + 1))
}

/// The drawing, with its table beside it in the log's own words.
pub(super) fn drawn(found: &Counted, lines: &[Accepted]) -> Markup {
    let limits: Vec<(f64, f64)> = lines
        .iter()
        .filter_map(|one| match one.line {
            Line::Stability { tau } => Some((tau, one.max?)),
            _ => None,
        })
        .collect();
    let points = &found.stability;
    if points.is_empty() {
        return html! {};
    }
    let taus = points.iter().map(|one| one.tau);
    let (t0, t1) = decades(taus.chain(limits.iter().map(|(tau, _)| *tau)));
    let ends = points
        .iter()
        .flat_map(|one| [one.range.0, one.range.1])
        .filter(|end| *end > 0.0);
    let (d0, d1) = decades(ends.chain(limits.iter().map(|(_, most)| *most)));
    let x = |tau: f64| LEFT + (RIGHT - LEFT) * (tau.log10() - f64::from(t0)) / f64::from(t1 - t0);
    let y = |deviation: f64| {
        BOTTOM - (BOTTOM - TOP) * (deviation.log10() - f64::from(d0)) / f64::from(d1 - d0)
    };
    let mut svg = String::new();
    for decade in t0..=t1 {
        let at = x(10f64.powi(decade));
        let label = number::si(10f64.powi(decade), "s", 1);
        svg.push_str(&format!(
            "<path d=\"M{at:.1} {TOP}V{BOTTOM}\" class=\"grid\"/><text x=\"{at:.1}\" y=\"300\" text-anchor=\"{}\">{label}</text>",
            if decade == t1 { "end" } else { "middle" }
        ));
    }
    for decade in d0..=d1 {
        let at = y(10f64.powi(decade));
        let label = format!("1e{decade}").replace('-', "−");
        svg.push_str(&format!(
            "<path d=\"M{LEFT} {at:.1}H{RIGHT}\" class=\"grid\"/><text x=\"56\" y=\"{:.1}\" text-anchor=\"end\">{label}</text>",
            at + 4.0
        ));
    }
    for (tau, most) in &limits {
        let (cx, cy) = (x(*tau), y(*most));
        let label = said::value(Line::Stability { tau: *tau }, *most);
        // Where nothing stands below it the label does, else above: readings that fail lie over their limit.
        let is_over = points
            .iter()
            .any(|one| (x(one.tau) - cx).abs() < 70.0 && one.deviation > *most);
        let ty = if is_over { cy + 18.0 } else { cy - 8.0 };
        let tx = cx.clamp(LEFT + 20.0, RIGHT - 40.0);
        svg.push_str(&format!(
            "<path d=\"M{:.1} {cy:.1}H{:.1}\" class=\"sill\"/><text x=\"{tx:.1}\" y=\"{ty:.1}\" text-anchor=\"middle\" class=\"strong\">≤ {label}</text>",
            cx - 20.0,
            cx + 20.0
        ));
    }
    for one in points {
        let (cx, cy) = (x(one.tau), y(one.deviation));
        let (a, b) = (y(one.range.1), y(one.range.0.max(10f64.powi(d0))));
        svg.push_str(&format!(
            "<path d=\"M{:.1} {a:.1}h8m-4 0V{b:.1}m-4 0h8\" class=\"axis\"/><path d=\"M{cx:.1} {:.1}l6 8l-6 8l-6 -8z\" class=\"rd\"/>",
            cx - 4.0,
            cy - 8.0
        ));
    }
    let title = format!(
        "Allan deviation, {} to {}",
        number::si(points[0].tau, "s", 3),
        number::si(points[points.len() - 1].tau, "s", 3)
    );
    html! {
        svg class="adev" viewBox="0 0 720 310" role="img" aria-label=(title) { title { (title) } (PreEscaped(svg)) }
    }
}
