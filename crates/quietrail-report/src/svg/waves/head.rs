//! Title, conditions, and the figures of the corner in hand.

use quietrail_study::wave::{Need, Waves};

use super::{Canvas, MARGIN, headroom};
use crate::svg::face::{fitted, text_width};
use crate::svg::scene::{Align, Ink, Mark, Weight, at};
use crate::{number, words};

/// A figure with its name over it.
struct Figure {
    name: String,
    value: String,
    ink: Ink,
}

/// More than this between figures and they no longer read as a row.
const GAP_MOST: f64 = 120.0;

pub(super) fn draw(canvas: &mut Canvas<'_>) {
    let data = canvas.data;
    let title = words::waves::title(&data.node, &data.state);
    let title = fitted(&title, 21.0, Weight::Bold, canvas.layout.width / 2.0);
    let title_end = MARGIN + text_width(&title, 21.0, Weight::Bold);
    canvas.text(
        at(MARGIN, 36.0),
        &title,
        21.0,
        Weight::Bold,
        Align::Start,
        Ink::TextInk,
    );

    let mains = number::written(data.mains, "V");
    let conditions = words::waves::conditions(&mains, &number::written(data.frequency, "Hz"));
    let left = title_end + 20.0;
    let conditions = fitted(
        &conditions,
        13.0,
        Weight::Regular,
        canvas.layout.width - MARGIN - left,
    );
    canvas.text(
        at(left, 36.0),
        &conditions,
        13.0,
        Weight::Regular,
        Align::Start,
        Ink::TextSoft,
    );

    figures(canvas, 64.0);
    let (from, to) = (at(MARGIN, 104.0), at(canvas.layout.width - MARGIN, 104.0));
    canvas.marks.push(Mark::Line {
        from,
        to,
        ink: Ink::Rule,
    });
}

fn figures(canvas: &mut Canvas<'_>, y: f64) {
    let figures = list(canvas.data);
    let widths: Vec<f64> = figures
        .iter()
        .map(|figure| {
            let name = text_width(&figure.name, 13.0, Weight::Regular);
            name.max(text_width(&figure.value, 21.0, Weight::Bold))
        })
        .collect();
    let free = canvas.layout.width - 2.0 * MARGIN - widths.iter().sum::<f64>();
    let gap = (free / (figures.len() as f64 - 1.0).max(1.0)).clamp(12.0, GAP_MOST);
    let mut x = MARGIN;
    for (figure, width) in figures.iter().zip(widths) {
        canvas.text(
            at(x, y),
            &figure.name,
            13.0,
            Weight::Regular,
            Align::Start,
            Ink::TextSoft,
        );
        canvas.text(
            at(x, y + 26.0),
            &figure.value,
            21.0,
            Weight::Bold,
            Align::Start,
            figure.ink,
        );
        x += width + gap;
    }
}

fn list(data: &Waves) -> Vec<Figure> {
    let fact = |name: &str, value: String| Figure {
        name: name.to_owned(),
        value,
        ink: Ink::TextInk,
    };
    let mut figures = vec![
        fact(words::waves::VALLEY, number::in_hand(data.valley, "V")),
        fact(words::waves::MEAN, number::in_hand(data.mean, "V")),
        fact(words::waves::PEAK, number::in_hand(data.peak, "V")),
        fact(words::waves::RIPPLE, number::si(data.ripple_rms, "V", 2)),
    ];
    if let Some(measured) = &data.measured {
        let apart = number::si(measured.apart_rms, "V", 2);
        figures.push(fact(words::waves::APART, apart));
    }
    if let Some(need) = tightest(&data.needs) {
        figures.push(margin(
            words::waves::headroom_here(&need.part),
            need.headroom,
        ));
        if need.worst_headroom.is_finite() {
            figures.push(margin(
                words::waves::AT_WORST.to_owned(),
                need.worst_headroom,
            ));
        }
    }
    figures
}

fn margin(name: String, volts: f64) -> Figure {
    let ink = if volts < 0.0 {
        Ink::TextShort
    } else {
        Ink::TextInk
    };
    Figure {
        name,
        value: headroom(volts),
        ink,
    }
}

/// The need with the least headroom at its worst corner.
pub(super) fn tightest(needs: &[Need]) -> Option<&Need> {
    needs
        .iter()
        .min_by(|a, b| a.worst_headroom.total_cmp(&b.worst_headroom))
}
