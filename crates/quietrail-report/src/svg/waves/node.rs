//! The node's panel: a level standing on the sill of what must be met.

use super::head::tightest;
use super::{Canvas, EndLabel, LABEL_SIZE, LINE, MARGIN, headroom, range};
use crate::svg::axis::{Scale, roomy};
use crate::svg::face::{line_box, text_width};
use crate::svg::labels::clearest;
use crate::svg::scene::{Align, Frame, Ink, Mark, Point, Weight, at};
use crate::{corner, number, words};
use quietrail_study::wave::Measured;

/// Height of the panel, where its labels do not need more.
const HEIGHT: f64 = 320.0;

/// A limit or a second need may stretch the scale to this multiple before it is named at the edge
/// instead.
const STRETCH: f64 = 1.7;

/// A line across the panel: a limit, or what a part needs.
struct Across {
    volts: f64,
    words: String,
    weight: Weight,
    ink: Ink,
}

/// Draws the panel from `top` and says where it ends.
pub(super) fn draw(canvas: &mut Canvas<'_>, top: f64) -> f64 {
    let data = canvas.data;
    let has_lowest = canvas.fits(&data.lowest);
    // A negative supply is short when it is too high: its sill is over the level.
    let down = if data.mean < 0.0 { -1.0 } else { 1.0 };

    let across = lines_across(canvas);
    let (low, high) = domain(canvas, has_lowest, &across);
    let (within, outside): (Vec<&Across>, Vec<&Across>) = across
        .iter()
        .partition(|line| (low..=high).contains(&line.volts));

    let lines = 2
        + 5 * usize::from(has_lowest)
        + 4 * usize::from(data.measured.is_some())
        + within.len()
        + outside.len();
    let height = HEIGHT.max((lines + 2) as f64 * LINE);
    let bottom = top + height;
    let scale = Scale::new(low, high, bottom, top);

    canvas.grid(low, high, &scale, "V", 5);
    let level = canvas.curve(&data.volts, &scale);
    let lowest = if has_lowest {
        canvas.curve(&data.lowest, &scale)
    } else {
        Vec::new()
    };
    let sill = tightest(&data.needs)
        .map(|need| need.volts)
        .or_else(|| floor(&data.limits, down));
    let base = sill.filter(|volts| scale.holds(*volts)).map_or_else(
        || {
            if low < 0.0 && high > 0.0 {
                scale.at(0.0)
            } else if down > 0.0 {
                bottom
            } else {
                top
            }
        },
        |volts| scale.at(volts),
    );
    canvas.marks.push(Mark::Area {
        points: standing(&level, base, down),
        ink: Ink::Pale,
    });

    let mut here = Vec::new();
    let mut at_worst = Vec::new();
    for need in &data.needs {
        let in_hand = shortfalls(&level, scale.at(need.volts), down);
        // One hatching a need: two over each other could not be told apart.
        if in_hand.is_empty() {
            at_worst.extend(shortfalls(&lowest, scale.at(need.worst_volts), down));
        }
        here.extend(in_hand);
    }
    for outline in at_worst.iter().chain(&here) {
        canvas.marks.push(Mark::Hatch {
            outline: outline.clone(),
        });
    }
    for line in &within {
        canvas.level_line(scale.at(line.volts), line.ink);
    }
    if has_lowest {
        canvas.marks.push(Mark::Polyline {
            points: lowest.clone(),
            ink: Ink::Lowest,
        });
    }
    canvas.marks.push(Mark::Polyline {
        points: level.clone(),
        ink: Ink::Level,
    });
    let measured = measured(canvas, &scale);

    let mut taken = Vec::new();
    let short = data.needs.iter();
    let short_here = short
        .clone()
        .map(|need| need.headroom)
        .fold(f64::INFINITY, f64::min);
    let short_at_worst = short
        .map(|need| need.worst_headroom)
        .fold(f64::INFINITY, f64::min);
    let rules: Vec<[Point; 2]> = within
        .iter()
        .map(|line| {
            [
                at(canvas.layout.left, scale.at(line.volts)),
                at(canvas.layout.right, scale.at(line.volts)),
            ]
        })
        .collect();
    let mut curves: Vec<&[Point]> = vec![&level, &lowest, &measured];
    curves.extend(rules.iter().map(|rule| rule.as_slice()));
    taken.extend(at_worst.iter().chain(&here).map(|outline| bounds(outline)));
    let panel = Frame {
        x: canvas.layout.left,
        y: top,
        width: canvas.layout.right - canvas.layout.left,
        height,
    };
    if short_here < 0.0 {
        shortfall(canvas, short_here, 38.0, &here, &curves, &mut taken, &panel);
    }
    // Where this corner fails already, the worst stands in the row of figures.
    if short_at_worst < 0.0 && !at_worst.is_empty() {
        let size = if short_here < 0.0 { 21.0 } else { 28.0 };
        shortfall(
            canvas,
            short_at_worst,
            size,
            &at_worst,
            &curves,
            &mut taken,
            &panel,
        );
    }

    let mut labels = curve_labels(canvas, &scale, has_lowest);
    for line in within {
        let y = scale.at(line.volts);
        labels.push(EndLabel::one(
            y,
            line.ink,
            line.words.clone(),
            line.weight,
            Ink::TextInk,
        ));
    }
    for line in outside
        .into_iter()
        .filter(|line| line.ink != Ink::NeedAtWorst)
    {
        let above = line.volts > high;
        let y = if above { top } else { bottom };
        let words = words::waves::outside(above, &line.words);
        labels.push(EndLabel::one(
            y,
            line.ink,
            words,
            Weight::Regular,
            Ink::TextSoft,
        ));
    }
    canvas.end_labels(&labels, (top - LINE, bottom + 30.0), bottom)
}

/// Space between the dots of a measured curve, in pixels.
const DOTS: f64 = 22.0;

/// The measured curve: a fine line with dots, over everything that is calculated.
fn measured(canvas: &mut Canvas<'_>, scale: &Scale) -> Vec<Point> {
    let Some(measured) = laid_over(canvas) else {
        return Vec::new();
    };
    let points = canvas.curve(&measured.volts, scale);
    let times = &canvas.data.time;
    let every = (DOTS / (canvas.layout.right - canvas.layout.left) * times.len() as f64) as usize;
    let dots: Vec<Mark> = std::iter::zip(times, &measured.volts)
        .step_by(every.max(1))
        .map(|(time, volts)| Mark::Circle {
            at: at(canvas.time.at(*time), scale.at(*volts)),
            radius: 2.25,
            ink: Ink::Joint,
        })
        .collect();
    canvas.marks.push(Mark::Polyline {
        points: points.clone(),
        ink: Ink::Measured,
    });
    canvas.marks.extend(dots);
    points
}

/// The measured wave, where it can be drawn.
fn laid_over<'a>(canvas: &Canvas<'a>) -> Option<&'a Measured> {
    let data = canvas.data;
    data.measured
        .as_ref()
        .filter(|measured| canvas.fits(&measured.volts))
}

fn measured_label(measured: &Measured, scale: &Scale) -> EndLabel {
    EndLabel {
        y: scale.at(measured.volts[measured.volts.len() - 1]),
        line: Ink::Measured,
        lines: vec![
            (
                words::waves::MEASURED.to_owned(),
                Weight::Bold,
                Ink::TextInk,
            ),
            (measured.name.clone(), Weight::Regular, Ink::TextSoft),
            (
                words::waves::measured_size(measured),
                Weight::Regular,
                Ink::TextSoft,
            ),
            (
                words::waves::measured_of(measured),
                Weight::Regular,
                Ink::TextSoft,
            ),
        ],
    }
}

/// Needs and limits, in the order of painting.
fn lines_across(canvas: &Canvas<'_>) -> Vec<Across> {
    let data = canvas.data;
    let mut across = Vec::new();
    for (name, min, max) in &data.limits {
        for (volts, is_max) in [(*min, false), (*max, true)] {
            let Some(volts) = volts.filter(|volts| volts.is_finite()) else {
                continue;
            };
            let words = words::waves::limit(name, is_max, &number::written(volts, "V"));
            across.push(Across {
                volts,
                words,
                weight: Weight::Regular,
                ink: Ink::Limit,
            });
        }
    }
    for need in &data.needs {
        if need.volts.is_finite() {
            across.push(Across {
                volts: need.volts,
                words: words::waves::needs(&need.part, &number::in_hand(need.volts, "V")),
                weight: Weight::Bold,
                ink: Ink::Sill,
            });
        }
        let moved = (need.worst_volts - need.volts).abs() > 0.005;
        if need.worst_volts.is_finite() && moved {
            let volts = number::in_hand(need.worst_volts, "V");
            across.push(Across {
                volts: need.worst_volts,
                words: words::waves::needs_at_worst(&need.part, &volts),
                weight: Weight::Regular,
                ink: Ink::NeedAtWorst,
            });
        }
    }
    across
}

/// The curves and the tightest need always; limits and other needs as long as the curves stay legible.
fn domain(canvas: &Canvas<'_>, has_lowest: bool, across: &[Across]) -> (f64, f64) {
    let data = canvas.data;
    let (mut low, mut high) = range(&data.volts);
    if has_lowest {
        let (least, most) = range(&data.lowest);
        (low, high) = (low.min(least), high.max(most));
    }
    if let Some(measured) = laid_over(canvas) {
        let (least, most) = range(&measured.volts);
        (low, high) = (low.min(least), high.max(most));
    }
    if let Some(need) = tightest(&data.needs) {
        for volts in [need.volts, need.worst_volts]
            .into_iter()
            .filter(|volts| volts.is_finite())
        {
            (low, high) = (low.min(volts), high.max(volts));
        }
    }
    // A hundredth of the voltage is the least that the panel spans: a quiet node looks quiet.
    let least = (0.01 * low.abs().max(high.abs())).max(1e-6);
    let allowed = (high - low).max(least) * STRETCH;
    let mut others: Vec<f64> = across.iter().map(|line| line.volts).collect();
    let middle = f64::midpoint(low, high);
    others.sort_by(|a, b| (a - middle).abs().total_cmp(&(b - middle).abs()));
    for volts in others {
        let (wider_low, wider_high) = (low.min(volts), high.max(volts));
        if wider_high - wider_low <= allowed {
            (low, high) = (wider_low, wider_high);
        }
    }
    roomy(low, high, least, 0.07)
}

/// Without a need, the level stands on the nearest limit under it.
fn floor(limits: &[(String, Option<f64>, Option<f64>)], down: f64) -> Option<f64> {
    if down > 0.0 {
        return limits
            .iter()
            .filter_map(|(_, min, _)| *min)
            .max_by(f64::total_cmp);
    }
    limits
        .iter()
        .filter_map(|(_, _, max)| *max)
        .min_by(f64::total_cmp)
}

fn curve_labels(canvas: &Canvas<'_>, scale: &Scale, has_lowest: bool) -> Vec<EndLabel> {
    let data = canvas.data;
    let end = |values: &[f64]| scale.at(values[values.len() - 1]);
    // What matters of a negative supply is its highest instant.
    let nearest = |low: f64, high: f64| {
        if data.mean < 0.0 {
            words::waves::peak(&number::in_hand(high, "V"))
        } else {
            words::waves::valley(&number::in_hand(low, "V"))
        }
    };
    let mut labels = vec![EndLabel {
        y: end(&data.volts),
        line: Ink::Level,
        lines: vec![
            (
                words::waves::THIS_CORNER.to_owned(),
                Weight::Bold,
                Ink::TextLevel,
            ),
            (
                nearest(data.valley, data.peak),
                Weight::Regular,
                Ink::TextSoft,
            ),
        ],
    }];
    if has_lowest {
        let (least, most) = range(&data.lowest);
        let mut lines = vec![
            (
                words::waves::worse(data.worst_for.as_deref()),
                Weight::Regular,
                Ink::TextLevel,
            ),
            (nearest(least, most), Weight::Regular, Ink::TextSoft),
        ];
        let corner = corner_lines(canvas);
        lines.extend(
            corner
                .into_iter()
                .map(|line| (line, Weight::Regular, Ink::TextSoft)),
        );
        labels.push(EndLabel {
            y: end(&data.lowest),
            line: Ink::Lowest,
            lines,
        });
    }
    labels.extend(laid_over(canvas).map(|measured| measured_label(measured, scale)));
    labels
}

/// The corner of the lowest curve in lines as wide as the labels' column.
fn corner_lines(canvas: &Canvas<'_>) -> Vec<String> {
    let layout = canvas.layout;
    let start = layout.labels.map_or(0.0, |column| column + MARGIN);
    let room = layout.width - start;
    let mut lines: Vec<String> = Vec::new();
    for term in corner::printed_terms(&canvas.data.lowest_corner) {
        let joined = lines.last().map(|line| format!("{line}, {term}"));
        let joined =
            joined.filter(|line| text_width(line, LABEL_SIZE, Weight::Regular) <= room - 4.0);
        match (joined, lines.last_mut()) {
            (Some(joined), Some(last)) if layout.labels.is_some() => *last = joined,
            _ => lines.push(term),
        }
    }
    lines
}

/// The outline between a curve and its base, where the curve is on the good side.
fn standing(curve: &[Point], base: f64, down: f64) -> Vec<Point> {
    let mut outline: Vec<Point> = with_crossings(curve, base)
        .into_iter()
        .map(|point| {
            if (base - point.y) * down < 0.0 {
                at(point.x, base)
            } else {
                point
            }
        })
        .collect();
    if let (Some(first), Some(last)) = (curve.first(), curve.last()) {
        outline.push(at(last.x, base));
        outline.push(at(first.x, base));
    }
    outline
}

/// The outlines between a curve and a need, where the curve is on the wrong side.
fn shortfalls(curve: &[Point], need: f64, down: f64) -> Vec<Vec<Point>> {
    let mut found = Vec::new();
    let mut run: Vec<Point> = Vec::new();
    let mut close = |run: &mut Vec<Point>| {
        let deepest = run
            .iter()
            .map(|point| (point.y - need) * down)
            .fold(0.0, f64::max);
        // Less than half a pixel is a line, not a shape.
        if deepest > 0.5 {
            let (first, last) = (run[0].x, run[run.len() - 1].x);
            run.push(at(last, need));
            run.push(at(first, need));
            found.push(std::mem::take(run));
        }
        run.clear();
    };
    for point in with_crossings(curve, need) {
        if (point.y - need) * down >= 0.0 {
            run.push(point);
        } else {
            close(&mut run);
        }
    }
    close(&mut run);
    found
}

/// A curve with a point wherever it crosses a height.
fn with_crossings(curve: &[Point], y: f64) -> Vec<Point> {
    let mut points = Vec::with_capacity(curve.len() + 8);
    for (i, point) in curve.iter().enumerate() {
        if let Some(before) = i.checked_sub(1).map(|before| curve[before])
            && (before.y - y) * (point.y - y) < 0.0
        {
            let part = (y - before.y) / (point.y - before.y);
            points.push(at(before.x + part * (point.x - before.x), y));
        }
        points.push(*point);
    }
    points
}

/// Writes a shortfall as near to its hatching as there is room.
fn shortfall(
    canvas: &mut Canvas<'_>,
    volts: f64,
    size: f64,
    hatched: &[Vec<Point>],
    curves: &[&[Point]],
    taken: &mut Vec<Frame>,
    panel: &Frame,
) {
    let text = headroom(volts);
    let width = text_width(&text, size, Weight::Bold);
    let space = size * 0.2;
    let shape = line_box(0.0, 0.0, width, size);
    let (box_width, box_height) = (width + 2.0 * space, shape.height + space);

    let targets: Vec<Point> = hatched
        .iter()
        .map(|outline| middle(&bounds(outline)))
        .collect();
    let away = |area: &Frame| {
        let centre = middle(area);
        // Beside counts double against below: the number hangs under what it measures.
        let distance = |target: &Point| {
            // The first of equal places wins.
            (centre.x - target.x).abs() + 1.5 * (centre.y - target.y).abs() + 0.02 * centre.x
        };
        targets.iter().map(distance).fold(f64::INFINITY, f64::min)
    };
    let mut candidates = Vec::new();
    let mut y = panel.y + 2.0;
    while y + box_height < panel.bottom() {
        let mut x = panel.x + 6.0;
        while x + box_width < panel.right() - 6.0 {
            candidates.push(Frame {
                x,
                y,
                width: box_width,
                height: box_height,
            });
            x += 8.0;
        }
        y += 5.0;
    }
    candidates.sort_by(|a, b| away(a).total_cmp(&away(b)));
    let Some(place) = clearest(&candidates, curves, taken) else {
        return;
    };
    taken.push(place);
    canvas.marks.push(Mark::Text {
        at: at(place.x + space, place.y + space / 2.0 - shape.y),
        text,
        size,
        weight: Weight::Bold,
        align: Align::Start,
        ink: Ink::TextShort,
        halo: true,
    });
}

fn bounds(outline: &[Point]) -> Frame {
    let xs: Vec<f64> = outline.iter().map(|point| point.x).collect();
    let ys: Vec<f64> = outline.iter().map(|point| point.y).collect();
    let ((left, right), (top, bottom)) = (range(&xs), range(&ys));
    Frame {
        x: left,
        y: top,
        width: right - left,
        height: bottom - top,
    }
}

fn middle(area: &Frame) -> Point {
    at(area.x + area.width / 2.0, area.y + area.height / 2.0)
}
