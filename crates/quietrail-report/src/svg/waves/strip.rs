//! Narrow panels under the node: the current that fills it, the rails that it feeds.

use quietrail_study::wave::{Current, Rail};

use super::{Canvas, EndLabel, range};
use crate::svg::axis::{Scale, roomy};
use crate::svg::scene::{Align, Ink, Mark, Weight, at};
use crate::{number, words};

/// Height of the current's panel.
const CURRENT: f64 = 96.0;
/// Size of what heads a panel.
pub(super) const HEADING: f64 = 15.0;
/// Height of a rail's panel.
const RAIL: f64 = 64.0;

/// The rectifier's current as a shape over zero. Returns where the panel ends.
pub(super) fn current(canvas: &mut Canvas<'_>, current: &Current, top: f64) -> f64 {
    let bottom = top + CURRENT;
    let (least, most) = range(&current.amps);
    let (low, high) = (least.min(0.0), most.max(0.0));
    // No current at all still needs a scale: one milliampere.
    let high = if high - low > 0.0 { high } else { 1e-3 };
    let room = 0.06 * (high - low);
    let (low, high) = (if low < 0.0 { low - room } else { 0.0 }, high + room);
    let scale = Scale::new(low, high, bottom, top);

    heading(canvas, &words::waves::current(current), top);
    canvas.grid(low, high, &scale, "A", 3);
    let curve = canvas.curve(&current.amps, &scale);
    let mut shape = curve.clone();
    shape.push(at(canvas.layout.right, scale.at(0.0)));
    shape.push(at(canvas.layout.left, scale.at(0.0)));
    canvas.marks.push(Mark::Area {
        points: shape,
        ink: Ink::Mid,
    });
    canvas.marks.push(Mark::Polyline {
        points: curve,
        ink: Ink::Level,
    });

    let label = EndLabel {
        y: top + 14.0,
        line: Ink::Level,
        lines: vec![
            (
                words::waves::peak(&number::si(current.peak, "A", 3)),
                Weight::Bold,
                Ink::TextInk,
            ),
            (
                words::waves::rms(&number::si(current.rms, "A", 3)),
                Weight::Regular,
                Ink::TextSoft,
            ),
        ],
    };
    canvas.end_labels(&[label], (top - 8.0, bottom + 8.0), bottom)
}

/// A regulated rail on its own scale. Returns where the panel ends.
pub(super) fn rail(canvas: &mut Canvas<'_>, rail: &Rail, top: f64) -> f64 {
    let bottom = top + RAIL;
    let has_lowest = canvas.fits(&rail.lowest);
    let (mut low, mut high) = range(&rail.volts);
    let (lowest_low, lowest_high) = range(&rail.lowest);
    if has_lowest {
        (low, high) = (low.min(lowest_low), high.max(lowest_high));
    }
    // Two hundredths of the rail at least, or noise would look like trouble.
    let least = (0.02 * low.abs().max(high.abs())).max(1e-6);
    let (low, high) = roomy(low, high, least, 0.12);
    let scale = Scale::new(low, high, bottom, top);

    heading(canvas, &rail.node, top);
    canvas.grid(low, high, &scale, "V", 2);
    if has_lowest {
        let points = canvas.curve(&rail.lowest, &scale);
        canvas.marks.push(Mark::Polyline {
            points,
            ink: Ink::Lowest,
        });
    }
    let points = canvas.curve(&rail.volts, &scale);
    canvas.marks.push(Mark::Polyline {
        points,
        ink: Ink::Level,
    });

    let end = |values: &[f64]| scale.at(values[values.len() - 1]);
    let mean = rail.volts.iter().sum::<f64>() / rail.volts.len() as f64;
    let here = format!(
        "{} {}",
        words::waves::THIS_CORNER,
        number::in_hand(mean, "V")
    );
    let mut labels = vec![EndLabel::one(
        end(&rail.volts),
        Ink::Level,
        here,
        Weight::Bold,
        Ink::TextLevel,
    )];
    if has_lowest {
        let swing = lowest_high - lowest_low;
        let part = canvas.data.worst_for.as_deref();
        // A dip shows as a dip once it is a fifth of the panel.
        let words = if swing > least / 5.0 {
            words::waves::dips(part, &number::si(swing, "V", 2))
        } else {
            let extreme = if mean < 0.0 { lowest_high } else { lowest_low };
            words::waves::lowest(part, &number::in_hand(extreme, "V"))
        };
        labels.push(EndLabel::one(
            end(&rail.lowest),
            Ink::Lowest,
            words,
            Weight::Regular,
            Ink::TextLevel,
        ));
    }
    canvas.end_labels(&labels, (top - 12.0, bottom + 12.0), bottom)
}

fn heading(canvas: &mut Canvas<'_>, words: &str, top: f64) {
    canvas.text(
        at(canvas.layout.left, top - 12.0),
        words,
        HEADING,
        Weight::Bold,
        Align::Start,
        Ink::TextInk,
    );
}
