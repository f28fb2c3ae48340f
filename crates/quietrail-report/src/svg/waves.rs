//! Two mains cycles of a node: its voltage as a level over what the regulators need, the current that
//! fills it, and the rails that it feeds.
//!
//! 1. `head.rs`: title, conditions and a row of figures.
//! 2. `node.rs`: the level, the sills, the lowest curve with its shortfall, limits.
//! 3. `strip.rs`: rectifier current and rails, each on a scale of its own.
//! 4. Here: the sheet, conduction behind everything, the time axis below.

mod head;
mod node;
mod strip;

use quietrail_study::wave::Waves;

use super::axis::{Scale, ticks};
use super::face::{fitted, text_width};
use super::labels::{Wish, spread};
use super::scene::{Align, Frame, Ink, Mark, Point, Scene, Weight, at};
use super::trace::simplified;
use super::writer;
use crate::{number, words};

/// Margin around everything.
const MARGIN: f64 = 24.0;

/// Where things stand across the sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Layout {
    /// Width of the sheet.
    width: f64,
    /// Where time zero is.
    left: f64,
    /// Where the second cycle ends.
    right: f64,
    /// Where labels of curves start, with leaders up to there; without, they are rows under their panel.
    labels: Option<f64>,
}

/// For a desk or a file.
const WIDE: Layout = Layout {
    width: 1360.0,
    left: 88.0,
    right: 1116.0,
    labels: Some(1144.0),
};

/// For an upright page, on which no text is smaller than 8 pt.
const PAPER: Layout = Layout {
    width: 830.0,
    left: 60.0,
    right: 582.0,
    labels: Some(606.0),
};

/// For a tablet: the labels under their panels, in the room of what stands beside them on a desk.
const MIDDLE: Layout = Layout {
    width: 700.0,
    left: 60.0,
    right: 680.0,
    labels: None,
};

/// For a phone: nothing smaller than on a desk, nothing to push sideways.
const NARROW: Layout = Layout {
    width: 340.0,
    left: 60.0,
    right: 332.0,
    labels: None,
};
/// Where the node's panel starts.
const NODE_TOP: f64 = 152.0;
/// The same where there is no head above it.
const PANELS_TOP: f64 = 48.0;
/// Space between panels, with the heading of the next one in it.
const BETWEEN: f64 = 44.0;
/// Curves may leave their true place by this many pixels, to be short to write.
const TOLERANCE: f64 = 0.08;

/// The drawing as SVG that stands alone or inside a page.
pub fn waves(data: &Waves) -> String {
    writer::write(&waves_scene(data))
}

/// The drawing as marks.
pub fn waves_scene(data: &Waves) -> Scene {
    scene(data, WIDE, true)
}

/// The same without title and figures, for a page that says them itself.
pub fn waves_panels(data: &Waves) -> Scene {
    scene(data, WIDE, false)
}

/// The same for a screen that is neither wide nor narrow.
pub fn waves_middle(data: &Waves) -> Scene {
    scene(data, MIDDLE, false)
}

/// The same for an upright page.
pub fn waves_paper(data: &Waves) -> Scene {
    scene(data, PAPER, false)
}

/// The same for a narrow screen.
pub fn waves_narrow(data: &Waves) -> Scene {
    scene(data, NARROW, false)
}

fn scene(data: &Waves, layout: Layout, has_head: bool) -> Scene {
    let Some(seconds) = drawable(data) else {
        return not_shown(data, layout);
    };

    let mut front = Canvas::new(data, layout, seconds);
    let node_top = if has_head { NODE_TOP } else { PANELS_TOP };
    if has_head {
        head::draw(&mut front);
    }
    if !has_head {
        // Over the bracket: both may want the same place on a narrow sheet.
        let room = layout.right - layout.left;
        let name = fitted(&data.node, strip::HEADING, Weight::Bold, room);
        let place = at(layout.left, node_top - 34.0);
        front.text(
            place,
            &name,
            strip::HEADING,
            Weight::Bold,
            Align::Start,
            Ink::TextInk,
        );
    }
    let node_bottom = node::draw(&mut front, node_top);
    let mut bottom = node_bottom;
    if let Some(current) = &data.current
        && front.fits(&current.amps)
    {
        bottom = strip::current(&mut front, current, bottom + BETWEEN);
    }
    for rail in data.rails.iter().filter(|rail| fits(data, &rail.volts)) {
        bottom = strip::rail(&mut front, rail, bottom + BETWEEN);
    }
    let axis = bottom + 12.0;
    front.time_axis(axis);
    let height = axis + 44.0;

    let mut marks = vec![Mark::Rect {
        area: whole(layout, height),
        ink: Ink::Sheet,
    }];
    // Where labels stand under panels, neither shading nor an upright crosses them.
    let behind = match layout.labels {
        Some(_) => vec![(node_top, axis)],
        None => front.panels.clone(),
    };
    for stretch in &behind {
        marks.extend(front.conduction(*stretch));
    }
    let mut panels = behind;
    if layout.labels.is_none() {
        panels.push((axis, axis + 7.0));
    }
    marks.extend(front.bracket(node_top));
    marks.append(&mut front.marks);
    Scene {
        width: layout.width,
        height,
        title: words::waves::title(&data.node, &data.state),
        description: description(data),
        time_axis: Some((layout.left, layout.right, seconds)),
        panels,
        marks,
    }
}

/// What is drawn so far, and the time scale that all panels share.
struct Canvas<'a> {
    data: &'a Waves,
    layout: Layout,
    time: Scale,
    seconds: f64,
    /// Upper and lower edges of the panels.
    panels: Vec<(f64, f64)>,
    marks: Vec<Mark>,
}

/// A label in the column beside the panels, or in the rows under one.
struct EndLabel {
    /// Where its curve ends.
    y: f64,
    /// How its curve is drawn.
    line: Ink,
    /// Its lines, first one first.
    lines: Vec<(String, Weight, Ink)>,
}

/// Height of a line in the label column.
const LINE: f64 = 17.0;
/// Length of the piece of line before a label that stands in a row.
const SAMPLE: f64 = 26.0;
/// Font size there; the first line of a label may be bold.
const LABEL_SIZE: f64 = 13.0;

impl<'a> Canvas<'a> {
    fn new(data: &'a Waves, layout: Layout, seconds: f64) -> Self {
        let time = Scale::new(0.0, seconds, layout.left, layout.right);
        Canvas {
            data,
            layout,
            time,
            seconds,
            panels: Vec::new(),
            marks: Vec::new(),
        }
    }

    /// Whether some values can be drawn over the time: as many, all finite.
    fn fits(&self, values: &[f64]) -> bool {
        fits(self.data, values)
    }

    /// Values over time as pixels, with no more points than the eye needs.
    fn curve(&self, values: &[f64], scale: &Scale) -> Vec<Point> {
        let points: Vec<Point> = std::iter::zip(&self.data.time, values)
            .map(|(time, value)| at(self.time.at(*time), scale.at(*value)))
            .collect();
        simplified(&points, TOLERANCE)
    }

    fn text(&mut self, at: Point, text: &str, size: f64, weight: Weight, align: Align, ink: Ink) {
        let text = text.to_owned();
        self.marks.push(Mark::Text {
            at,
            text,
            size,
            weight,
            align,
            ink,
            halo: false,
        });
    }

    fn level_line(&mut self, y: f64, ink: Ink) {
        self.marks.push(Mark::Line {
            from: at(self.layout.left, y),
            to: at(self.layout.right, y),
            ink,
        });
    }

    /// Grid lines with their figures, the unit on the topmost only.
    fn grid(&mut self, low: f64, high: f64, scale: &Scale, unit: &str, wanted: usize) {
        self.panels.push((scale.at(high), scale.at(low)));
        let (factor, unit) = axis_unit(low, high, unit);
        let (values, decimals) = ticks(low * factor, high * factor, wanted);
        let top = values.len().saturating_sub(1);
        for (i, value) in values.iter().enumerate() {
            let y = scale.at(value / factor);
            self.level_line(y, Ink::Hair);
            let mut text = figure(*value, decimals);
            if i == top {
                text = format!("{text}{}{unit}", number::NO_BREAK);
            }
            let place = at(self.layout.left - 8.0, y + 4.5);
            self.text(
                place,
                &text,
                13.0,
                Weight::Regular,
                Align::End,
                Ink::TextSoft,
            );
        }
    }

    /// Labels beside a panel, moved apart, with a leader where one had to move; or in rows under it. Returns where the panel
    /// ends with them.
    fn end_labels(&mut self, labels: &[EndLabel], (top, bottom): (f64, f64), ends: f64) -> f64 {
        let Some(column) = self.layout.labels else {
            return self.label_rows(labels, ends);
        };
        let wishes: Vec<Wish> = labels.iter().map(EndLabel::wish).collect();
        let middles = spread(&wishes, top, bottom);
        for (label, middle) in labels.iter().zip(middles) {
            let first_line = middle - (label.lines.len() as f64 - 1.0) * LINE / 2.0;
            self.leader(label.y, first_line, column);
            for (i, (text, weight, ink)) in label.lines.iter().enumerate() {
                let text = fitted(
                    text,
                    LABEL_SIZE,
                    *weight,
                    self.layout.width - MARGIN - column,
                );
                let place = at(column, first_line + i as f64 * LINE + 4.5);
                self.text(place, &text, LABEL_SIZE, *weight, Align::Start, *ink);
            }
        }
        ends
    }

    /// Labels under a panel, each behind a piece of its line. Returns where they end.
    fn label_rows(&mut self, labels: &[EndLabel], ends: f64) -> f64 {
        let left = self.layout.left;
        let start = left + SAMPLE + 8.0;
        let room = self.layout.width - start;
        let mut y = ends + LINE + 3.0;
        for label in labels {
            self.marks.push(Mark::Line {
                from: at(left, y - 4.5),
                to: at(left + SAMPLE, y - 4.5),
                ink: label.line,
            });
            let mut x = start;
            let lines = label.lines.iter();
            let pieces = lines.flat_map(|(text, weight, ink)| {
                let pieces = in_pieces(text, *weight, room);
                pieces.into_iter().map(move |piece| (piece, weight, ink))
            });
            for (text, weight, ink) in pieces {
                let width = text_width(&text, LABEL_SIZE, *weight);
                if x > start && x + width > self.layout.width {
                    (x, y) = (start, y + LINE);
                }
                self.marks.push(Mark::Text {
                    at: at(x, y),
                    text,
                    size: LABEL_SIZE,
                    weight: *weight,
                    align: Align::Start,
                    ink: *ink,
                    halo: true,
                });
                x += width + 8.0;
            }
            y += LINE + 2.0;
        }
        y - LINE + 2.0
    }

    fn leader(&mut self, from: f64, to: f64, column: f64) {
        if (from - to).abs() < 6.0 {
            return;
        }
        let points = vec![
            at(self.layout.right + 4.0, from),
            at(self.layout.right + 9.0, from),
            at(column - 9.0, to),
            at(column - 5.0, to),
        ];
        self.marks.push(Mark::Polyline {
            points,
            ink: Ink::Leader,
        });
    }

    /// Where the rectifier conducts, and whether all of the stretch is on the sheet.
    fn conducting(&self) -> Vec<(f64, f64, bool)> {
        let spans = self.data.conduction.iter().map(|&(start, end)| {
            let left = self.time.at(start.clamp(0.0, self.seconds));
            let right = self.time.at(end.clamp(0.0, self.seconds));
            (left, right, start > 0.0 && end < self.seconds)
        });
        spans
            .filter(|(left, right, _)| right - left >= 0.5)
            .collect()
    }

    /// The same as shaded stretches.
    fn conduction(&self, (top, bottom): (f64, f64)) -> Vec<Mark> {
        let shaded = self.conducting().into_iter().map(|(left, right, _)| {
            let area = Frame {
                x: left,
                y: top,
                width: right - left,
                height: bottom - top,
            };
            Mark::Rect {
                area,
                ink: Ink::Ground,
            }
        });
        shaded.collect()
    }

    /// A bracket over one of them.
    fn bracket(&self, top: f64) -> Vec<Mark> {
        let whole: Vec<_> = self
            .conducting()
            .into_iter()
            .filter(|(_, _, is_whole)| *is_whole)
            .collect();
        // The second one, if there is: away from the corner where the eye starts on the curve.
        let Some(&(left, right, _)) = whole.get(1).or(whole.first()) else {
            return Vec::new();
        };
        let part = self
            .data
            .current
            .as_ref()
            .map_or("", |current| current.part.as_str());
        let degrees = format!("{:.0}°", self.data.conduction_degrees);
        let words = words::waves::conducts(part, &degrees);
        let half = text_width(&words, 13.0, Weight::Regular) / 2.0;
        let middle =
            f64::midpoint(left, right).clamp(self.layout.left + half, self.layout.right - half);
        vec![
            Mark::Bracket {
                left,
                right,
                top: top - 14.0,
                depth: 7.0,
            },
            Mark::Text {
                at: at(middle, top - 21.0),
                text: words,
                size: 13.0,
                weight: Weight::Regular,
                align: Align::Middle,
                ink: Ink::TextInk,
                halo: true,
            },
        ]
    }

    fn time_axis(&mut self, y: f64) {
        self.level_line(y, Ink::Axis);
        let milliseconds = self.seconds * 1e3;
        let (values, decimals) = ticks(0.0, milliseconds, 5);
        let last = values.len().saturating_sub(1);
        for (i, value) in values.iter().enumerate() {
            let x = self.time.at(value / 1e3);
            self.marks.push(Mark::Line {
                from: at(x, y),
                to: at(x, y + 7.0),
                ink: Ink::Axis,
            });
            let mut text = figure(*value, decimals);
            if i == last {
                text = format!("{text}{}ms", number::NO_BREAK);
            }
            let half = text_width(&text, 13.0, Weight::Regular) / 2.0;
            self.text(
                at(x.min(self.layout.width - half), y + 24.0),
                &text,
                13.0,
                Weight::Regular,
                Align::Middle,
                Ink::TextSoft,
            );
        }
    }
}

/// A text in pieces that each fit a width, parted at its plain spaces; a longer word is shortened.
fn in_pieces(text: &str, weight: Weight, room: f64) -> Vec<String> {
    let mut pieces: Vec<String> = Vec::new();
    for word in text.split(' ') {
        let longer = pieces.last().map(|last| format!("{last} {word}"));
        match longer.filter(|longer| text_width(longer, LABEL_SIZE, weight) <= room) {
            Some(longer) => *pieces.last_mut().expect("a piece to lengthen") = longer,
            None => pieces.push(fitted(word, LABEL_SIZE, weight, room)),
        }
    }
    pieces
}

impl EndLabel {
    fn one(y: f64, line: Ink, text: String, weight: Weight, ink: Ink) -> Self {
        EndLabel {
            y,
            line,
            lines: vec![(text, weight, ink)],
        }
    }

    /// The first line wants to stand at the curve; further lines hang below it.
    fn wish(&self) -> Wish {
        let further = self.lines.len() as f64 - 1.0;
        Wish {
            middle: self.y + further * LINE / 2.0,
            height: (further + 1.0) * LINE + 5.0,
        }
    }
}

/// How long the curves last; `None` where there is nothing to draw.
fn drawable(data: &Waves) -> Option<f64> {
    let seconds = *data.time.last()?;
    let rising = data.time.windows(2).all(|pair| pair[0] <= pair[1]);
    (seconds > 0.0 && seconds.is_finite() && rising && fits(data, &data.volts)).then_some(seconds)
}

fn fits(data: &Waves, values: &[f64]) -> bool {
    values.len() >= 2
        && values.len() == data.time.len()
        && values.iter().all(|value| value.is_finite())
}

/// A dotted outline with the reason, where there is no settled solution.
fn not_shown(data: &Waves, layout: Layout) -> Scene {
    let height = 240.0;
    let words = words::waves::not_shown(&data.node);
    let outline = Frame {
        x: MARGIN,
        y: MARGIN,
        width: layout.width - 2.0 * MARGIN,
        height: height - 2.0 * MARGIN,
    };
    let marks = vec![
        Mark::Rect {
            area: whole(layout, height),
            ink: Ink::Sheet,
        },
        Mark::Rect {
            area: outline,
            ink: Ink::Dotted,
        },
        Mark::Text {
            at: at(layout.width / 2.0, height / 2.0 + 6.0),
            text: fitted(&words, 17.0, Weight::Regular, outline.width - 2.0 * MARGIN),
            size: 17.0,
            weight: Weight::Regular,
            align: Align::Middle,
            ink: Ink::TextSoft,
            halo: false,
        },
    ];
    Scene {
        width: layout.width,
        height,
        title: words::waves::title(&data.node, &data.state),
        description: words,
        time_axis: None,
        panels: Vec::new(),
        marks,
    }
}

fn whole(layout: Layout, height: f64) -> Frame {
    Frame {
        x: 0.0,
        y: 0.0,
        width: layout.width,
        height,
    }
}

/// The verdict in a sentence or two.
fn description(data: &Waves) -> String {
    let mut sentences = vec![words::waves::description(
        &data.node,
        &data.state,
        &number::written(data.mains, "V"),
        &number::in_hand(data.valley, "V"),
        &number::in_hand(data.peak, "V"),
    )];
    sentences.extend(data.needs.iter().map(|need| {
        words::waves::description_need(
            &need.part,
            &number::in_hand(need.volts, "V"),
            &headroom(need.headroom),
            &headroom(need.worst_headroom),
        )
    }));
    sentences.extend(
        data.measured
            .as_ref()
            .map(|measured| words::waves::laid_over(data, measured)),
    );
    sentences.join(" ")
}

/// Headroom as margins say it: signed, in millivolts.
fn headroom(volts: f64) -> String {
    number::margin(
        quietrail_job::model::What::Headroom,
        volts,
        "V",
        Some(volts),
    )
}

/// The prefix that suits an axis: its factor and the unit with it.
fn axis_unit(low: f64, high: f64, unit: &str) -> (f64, String) {
    let most = low.abs().max(high.abs());
    let (factor, letter) = match most {
        most if most >= 0.995 => (1.0, ""),
        most if most >= 0.995e-3 => (1e3, "m"),
        _ => (1e6, "µ"),
    };
    (factor, format!("{letter}{unit}"))
}

/// A figure on an axis, with the true minus.
fn figure(value: f64, decimals: usize) -> String {
    format!("{value:.decimals$}").replace('-', &number::MINUS.to_string())
}

/// Least and greatest of some values.
fn range<'v>(values: impl IntoIterator<Item = &'v f64>) -> (f64, f64) {
    values
        .into_iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &value| {
            (low.min(value), high.max(value))
        })
}

#[cfg(test)]
mod tests;
