//! Noise over frequency: all together as a level, what makes most of it in ink, the rest fine, each named at its end.

use super::face::fitted;
use super::labels::{Wish, spread};
use super::scene::{Align, Frame, Ink, Mark, Point, Scene, Weight, at};
use crate::number;
use crate::words::{self, regulators as said};
use quietrail_study::regulators::Picture;

/// Sources that get a curve; the smaller ones stand in the table.
const CURVES: usize = 4;
/// Share of the whole below which a source gets none.
const LEAST: f64 = 0.02;
/// Decades below the lowest point of the whole that are drawn.
const BELOW: f64 = 1.0;
const SIZE: f64 = 13.0;

/// Where things stand.
struct Layout {
    width: f64,
    left: f64,
    right: f64,
    /// Whether labels stand beside the curves; else in rows under the panel.
    beside: bool,
}

/// For a desk.
pub fn noise(picture: &Picture, limit: Option<f64>) -> Scene {
    let layout = Layout {
        width: 1040.0,
        left: 84.0,
        right: 780.0,
        beside: true,
    };
    draw(picture, limit, &layout)
}

/// For a tablet, and for paper.
pub fn noise_middle(picture: &Picture, limit: Option<f64>) -> Scene {
    let layout = Layout {
        width: 700.0,
        left: 84.0,
        right: 664.0,
        beside: false,
    };
    draw(picture, limit, &layout)
}

/// For a phone.
pub fn noise_narrow(picture: &Picture, limit: Option<f64>) -> Scene {
    let layout = Layout {
        width: 340.0,
        left: 72.0,
        right: 304.0,
        beside: false,
    };
    draw(picture, limit, &layout)
}

/// One curve of the picture.
struct Curve<'p> {
    values: &'p [f64],
    name: String,
    ink: Ink,
    text: Ink,
    weight: Weight,
}

fn draw(picture: &Picture, limit: Option<f64>, layout: &Layout) -> Scene {
    let (top, bottom) = (28.0, 300.0);
    let ends = (
        picture.hertz.first().copied().unwrap_or(1.0),
        picture.hertz.last().copied().unwrap_or(10.0),
    );
    // The flat density that would be all of the limit.
    let flat = limit.map(|rms| rms / (ends.1 - ends.0).sqrt());
    let drawn = curves(picture);
    let whole = picture.total.iter().copied().filter(|value| *value > 0.0);
    let lowest = whole.clone().fold(f64::INFINITY, f64::min);
    let highest = whole.fold(0.0, f64::max).max(flat.unwrap_or(0.0));
    let floor = lowest.log10().floor() - BELOW;
    let ceiling = (highest.log10() + 0.15).ceil().max(floor + 1.0);
    let across = |hertz: f64| {
        layout.left + (hertz / ends.0).ln() / (ends.1 / ends.0).ln() * (layout.right - layout.left)
    };
    let up = |density: f64| {
        let share = (density.max(1e-30).log10() - floor) / (ceiling - floor);
        bottom - share.clamp(0.0, 1.0) * (bottom - top)
    };
    let mut marks = vec![Mark::Rect {
        area: Frame {
            x: 0.0,
            y: 0.0,
            width: layout.width,
            height: 400.0,
        },
        ink: Ink::Sheet,
    }];
    grid(
        &mut marks,
        layout,
        (top, bottom),
        (floor, ceiling),
        ends,
        &across,
        &up,
    );
    let points = |values: &[f64]| -> Vec<Point> {
        let pairs = picture.hertz.iter().zip(values);
        pairs
            .filter(|(_, value)| **value > 10.0_f64.powf(floor))
            .map(|(hertz, value)| at(across(*hertz), up(*value)))
            .collect()
    };
    let mut below = points(&picture.total);
    below.push(at(layout.right, bottom));
    below.push(at(layout.left, bottom));
    marks.push(Mark::Area {
        points: below,
        ink: Ink::Pale,
    });
    for curve in drawn.iter().rev() {
        marks.push(Mark::Polyline {
            points: points(curve.values),
            ink: curve.ink,
        });
    }
    if let Some(flat) = flat {
        marks.push(Mark::Line {
            from: at(layout.left, up(flat)),
            to: at(layout.right, up(flat)),
            ink: Ink::Limit,
        });
    }
    let height = labels(&mut marks, layout, (top, bottom), &drawn, flat, &up);
    if let Some(Mark::Rect { area, .. }) = marks.first_mut() {
        area.height = height;
    }
    let name = picture
        .budget
        .terms
        .first()
        .map_or_else(String::new, |(source, _)| words::noise_source(source));
    Scene {
        width: layout.width,
        height,
        title: said::PICTURE.to_owned(),
        description: said::picture(
            &number::si(picture.budget.total, "V", 3),
            &number::written(ends.0, "Hz"),
            &number::written(ends.1, "Hz"),
            &name,
        ),
        time_axis: None,
        panels: Vec::new(),
        marks,
    }
}

/// The whole, then the largest sources.
fn curves(picture: &Picture) -> Vec<Curve<'_>> {
    let mut all = vec![Curve {
        values: &picture.total,
        name: said::TOGETHER.to_owned(),
        ink: Ink::Level,
        text: Ink::TextLevel,
        weight: Weight::Bold,
    }];
    for (k, (source, values)) in picture.terms.iter().take(CURVES).enumerate() {
        let rms = picture.budget.terms.get(k).map_or(0.0, |term| term.1);
        let share = (rms / picture.budget.total).powi(2);
        if k > 0 && share < LEAST {
            break;
        }
        all.push(Curve {
            values,
            name: words::noise_source(source),
            ink: if k == 0 { Ink::Axis } else { Ink::Rule },
            text: if k == 0 { Ink::TextInk } else { Ink::TextSoft },
            weight: Weight::Regular,
        });
    }
    all
}

fn text(place: Point, words: String, align: Align, ink: Ink, weight: Weight) -> Mark {
    Mark::Text {
        at: place,
        text: words,
        size: SIZE,
        weight,
        align,
        ink,
        halo: false,
    }
}

fn grid(
    marks: &mut Vec<Mark>,
    layout: &Layout,
    (top, bottom): (f64, f64),
    (floor, ceiling): (f64, f64),
    ends: (f64, f64),
    across: &dyn Fn(f64) -> f64,
    up: &dyn Fn(f64) -> f64,
) {
    for power in (floor as i32)..=(ceiling as i32) {
        let density = 10.0_f64.powi(power);
        let y = up(density);
        marks.push(Mark::Line {
            from: at(layout.left, y),
            to: at(layout.right, y),
            ink: Ink::Hair,
        });
        let words = number::written(density, "V/√Hz");
        marks.push(text(
            at(layout.left - 8.0, y + 4.5),
            words,
            Align::End,
            Ink::TextSoft,
            Weight::Regular,
        ));
    }
    let (first, last) = (ends.0.log10().ceil() as i32, ends.1.log10().floor() as i32);
    // As many as there is room for.
    let decade = (layout.right - layout.left) / (ends.1 / ends.0).log10().max(1.0);
    let step = if decade < 70.0 { 2 } else { 1 };
    for power in first..=last {
        let hertz = 10.0_f64.powi(power);
        let x = across(hertz);
        marks.push(Mark::Line {
            from: at(x, top),
            to: at(x, bottom),
            ink: Ink::Hair,
        });
        if (power - first) % step == 0 {
            marks.push(text(
                at(x, bottom + 20.0),
                number::written(hertz, "Hz"),
                Align::Middle,
                Ink::TextSoft,
                Weight::Regular,
            ));
        }
    }
    marks.push(Mark::Line {
        from: at(layout.left, bottom),
        to: at(layout.right, bottom),
        ink: Ink::Axis,
    });
}

/// Names of the curves; the height of the sheet.
fn labels(
    marks: &mut Vec<Mark>,
    layout: &Layout,
    (top, bottom): (f64, f64),
    curves: &[Curve<'_>],
    flat: Option<f64>,
    up: &dyn Fn(f64) -> f64,
) -> f64 {
    let limit = flat.map(|density| said::flat(&number::si(density, "V/√Hz", 2)));
    if layout.beside {
        let room = layout.width - layout.right - 40.0;
        let mut all: Vec<(f64, String, Ink, Weight)> = curves
            .iter()
            .map(|curve| {
                let last = curve.values.last().copied().unwrap_or(0.0);
                (up(last), curve.name.clone(), curve.text, curve.weight)
            })
            .collect();
        all.extend(
            flat.zip(limit)
                .map(|(density, words)| (up(density), words, Ink::TextInk, Weight::Regular)),
        );
        let wishes: Vec<Wish> = all
            .iter()
            .map(|(y, ..)| Wish {
                middle: *y,
                height: 20.0,
            })
            .collect();
        let middles = spread(&wishes, top - 10.0, bottom + 10.0);
        for ((y, words, ink, weight), middle) in all.into_iter().zip(middles) {
            marks.push(Mark::Line {
                from: at(layout.right + 4.0, y),
                to: at(layout.right + 22.0, middle),
                ink: Ink::Leader,
            });
            let words = fitted(&words, SIZE, weight, room);
            let place = at(layout.right + 28.0, middle + 4.5);
            marks.push(text(place, words, Align::Start, ink, weight));
        }
        return bottom + 36.0;
    }
    let mut y = bottom + 48.0;
    let rows = curves
        .iter()
        .map(|curve| (curve.ink, curve.name.clone(), curve.text, curve.weight))
        .chain(limit.map(|words| (Ink::Limit, words, Ink::TextInk, Weight::Regular)));
    for (ink, words, colour, weight) in rows {
        marks.push(Mark::Line {
            from: at(12.0, y - 4.5),
            to: at(44.0, y - 4.5),
            ink,
        });
        let room = layout.width - 60.0;
        let words = fitted(&words, SIZE, weight, room);
        marks.push(text(at(52.0, y), words, Align::Start, colour, weight));
        y += 22.0;
    }
    y
}
