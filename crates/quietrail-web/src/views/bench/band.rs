//! The band of a row as a bar, with its last reading on it.

use super::expected;
use maud::{Markup, PreEscaped, html};
use quietrail_report::number;
use quietrail_study::bringup::Expectation;

/// The band as a bar, the last reading on it as a diamond with the meter's error.
pub(super) fn band(one: &Expectation) -> Markup {
    let (Some(low), Some(high)) = (one.low, one.high) else {
        return html! {};
    };
    let width = (high - low).max(0.02 * high.abs()).max(1e-12);
    let reading = one.readings.last();
    let (mut from, mut to) = (low - width, high + width);
    if let Some(reading) = reading {
        let past = |end: f64| (reading.value - end).abs() < 3.0 * width;
        if reading.value < from && past(from) {
            from = reading.value - 0.5 * width;
        }
        if reading.value > to && past(to) {
            to = reading.value + 0.5 * width;
        }
    }
    let x = |value: f64| 20.0 + 560.0 * ((value - from) / (to - from)).clamp(0.0, 1.0);
    let mut svg = format!(
        "<rect x=\"{:.1}\" y=\"14\" width=\"{:.1}\" height=\"26\" class=\"palebox\"/><path d=\"M20 44H580\" class=\"axis\"/>",
        x(low),
        (x(high) - x(low)).max(2.0)
    );
    for (value, anchor) in [(low, "end"), (high, "start")] {
        svg.push_str(&format!(
            "<text x=\"{:.1}\" y=\"62\" text-anchor=\"{anchor}\">{}</text>",
            x(value),
            number::si(value, one.unit, 3)
        ));
    }
    if let Some(reading) = reading {
        let at = x(reading.value);
        if let Some(error) = reading.error {
            let (a, b) = (x(reading.value - error), x(reading.value + error));
            svg.push_str(&format!(
                "<path d=\"M{a:.1} 21V33M{a:.1} 27H{b:.1}M{b:.1} 21V33\" class=\"axis\"/>"
            ));
        }
        let is_past = reading.value < from || reading.value > to;
        let shape = if is_past && reading.value < from {
            format!("M{:.1} 17L{:.1} 27L{:.1} 37", at + 12.0, at, at + 12.0)
        } else if is_past {
            format!("M{:.1} 17L{:.1} 27L{:.1} 37", at - 12.0, at, at - 12.0)
        } else {
            format!("M{at:.1} 15l8 12l-8 12l-8 -12z")
        };
        let class = if is_past { "past" } else { "rd" };
        svg.push_str(&format!("<path d=\"{shape}\" class=\"{class}\"/>"));
    }
    let title = format!("{}: {}", one.of, expected(one));
    html! {
        svg class="bandsvg" viewBox="0 0 600 66" role="img" aria-label=(title) { (PreEscaped(svg)) }
    }
}
