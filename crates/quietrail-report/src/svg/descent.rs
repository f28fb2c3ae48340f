//! The long section: the volts from the wall to the load as a line, the rectified node as a level over sills, each rail on
//! a stretch of its own.
//!
//! 1. [`sheets`] cuts a section into sheets: the first begins at the wall, further ones at the rectified node, or at the rail
//!    that feeds theirs (`origin.rs`).
//! 2. `path.rs`: from the wall to the rectified node.
//! 3. `rail.rs`: sill, headroom, what comes after.
//! 4. `circuit.rs`: the same parts in register below, in the symbols of IEC 60617 (`symbols.rs`).
//! 5. `ledger.rs`: the table of levels under the stations.

mod circuit;
mod ledger;
mod origin;
mod path;
mod rail;
mod symbols;

use quietrail_job::model::Job;
use quietrail_study::descent::{Figures, Ranges, Section, SectionFigures};
use quietrail_study::descent::{RailFigures, RailRanges, SectionRanges};

use origin::Origin;

use super::axis::{Scale, ticks};
use super::face::{fitted, text_width};
use super::scene::{Align, Ink, Mark, Point, Scene, Weight, at};
use crate::{number, words};
use words::descent as said;

/// All that a Descent is drawn from.
#[derive(Clone, Copy)]
pub struct Descent<'a> {
    /// The job that has them.
    pub job: &'a Job,
    /// The sections of the job.
    pub sections: &'a [Section],
    /// The corner in hand.
    pub here: &'a Figures,
    /// All corners, where they are known.
    pub all: Option<&'a Ranges>,
    /// One mains cycle of each section's rectified node.
    pub surfaces: &'a [Vec<f64>],
    /// Names of the states.
    pub states: &'a [String],
    /// The part whose card is open.
    pub open: Option<&'a str>,
    /// Where a part leads.
    pub link: &'a dyn Fn(&str) -> Option<String>,
    /// Where a figure leads.
    pub sum: &'a dyn Fn(Sum<'_>) -> Option<String>,
}

/// A figure of the drawing that may lead to its sum.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sum<'a> {
    /// What is left over a regulator in the corner in hand.
    Headroom(&'a str),
    /// The same at the worst corner found.
    Worst(&'a str),
    /// The lowest instant of a node against another in the corner in hand.
    Valley(&'a str, &'a str),
    /// Its highest.
    Peak(&'a str, &'a str),
    /// What lies between the two.
    Ripple(&'a str, &'a str),
}

/// How wide a sheet is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Width {
    /// Two rails beside each other, or one with the room of both; circuit and table under them.
    Wide,
    /// One rail, for a column or a hand-held screen.
    Narrow,
    /// One rail with circuit and table, for an upright page: no text is smaller there than 8 pt.
    Paper,
}

impl Width {
    /// Part of the chart's height that the words under a sill take.
    fn under_sill(self) -> f64 {
        match self {
            Self::Wide => 0.2,
            Self::Paper => 0.28,
            Self::Narrow => 0.13,
        }
    }
}

/// A sheet with what it shows.
pub struct Sheet {
    /// Which section.
    pub section: usize,
    /// Which of its rails.
    pub rails: Vec<usize>,
    /// The drawing.
    pub scene: Scene,
}

/// All sheets of a job.
pub fn sheets(descent: &Descent<'_>, width: Width) -> Vec<Sheet> {
    let mut all = Vec::new();
    for (index, section) in descent.sections.iter().enumerate() {
        let at_once = if width == Width::Wide { 2 } else { 1 };
        for (number, rails) in origin::chunks(section, at_once).into_iter().enumerate() {
            let is_first = number == 0 || width == Width::Narrow;
            let begins = is_first && origin::feeder(section, &rails).is_none();
            let scene = Canvas::new(descent, index, &rails, width, begins).drawn();
            all.push(Sheet {
                section: index,
                rails,
                scene,
            });
        }
    }
    all
}

/// Font size on axes and in tables.
const SMALL: f64 = 13.0;
/// Font size of figures at stations.
const PLAIN: f64 = 14.0;
/// Where the chart begins, below the heads.
const TOP: f64 = 36.0;

/// A sheet being drawn.
struct Canvas<'a> {
    descent: &'a Descent<'a>,
    section: &'a Section,
    /// What its rails are fed from.
    origin: Origin<'a>,
    here: &'a SectionFigures,
    all: Option<&'a SectionRanges>,
    rails: &'a [usize],
    width: Width,
    /// Whether the way from the wall is on this sheet.
    begins: bool,
    layout: Layout,
    volts: Scale,
    datum: f64,
    marks: Vec<Mark>,
}

/// Where things stand, in CSS pixels.
#[derive(Clone, Copy, Debug)]
struct Layout {
    sheet: f64,
    axis: f64,
    wall: f64,
    winding: f64,
    node: f64,
    rail: f64,
    bottom: f64,
}

const WIDE: Layout = Layout {
    sheet: 990.0,
    axis: 44.0,
    wall: 68.0,
    winding: 166.0,
    node: 268.0,
    rail: 361.0,
    bottom: 416.0,
};

const WIDE_FURTHER: Layout = Layout {
    wall: 68.0,
    winding: 68.0,
    node: 160.0,
    // As far to the right as where the way from the wall is drawn.
    rail: 414.5,
    ..WIDE
};

const PAPER: Layout = Layout {
    sheet: 800.0,
    axis: 44.0,
    wall: 66.0,
    winding: 160.0,
    node: 258.0,
    rail: 542.0,
    bottom: 310.0,
};

const PAPER_FURTHER: Layout = Layout {
    wall: 66.0,
    winding: 66.0,
    node: 160.0,
    rail: 640.0,
    bottom: 270.0,
    ..PAPER
};

const NARROW: Layout = Layout {
    sheet: 358.0,
    axis: 34.0,
    wall: 52.0,
    winding: 52.0,
    node: 128.0,
    rail: 230.0,
    bottom: 388.0,
};

impl<'a> Canvas<'a> {
    fn new(
        descent: &'a Descent<'a>,
        section: usize,
        rails: &'a [usize],
        width: Width,
        begins: bool,
    ) -> Self {
        let mut layout = match (width, begins) {
            (Width::Wide, true) => WIDE,
            (Width::Wide, false) => WIDE_FURTHER,
            (Width::Narrow, _) => NARROW,
            (Width::Paper, true) => PAPER,
            (Width::Paper, false) => PAPER_FURTHER,
        };
        if width == Width::Wide && rails.len() == 1 {
            // Alone on its sheet, a rail has the room of two.
            layout.rail *= 2.0;
        }
        let here = &descent.here.sections[section];
        let all = descent.all.map(|all| &all.sections[section]);
        let origin = Origin::of(&descent.sections[section], rails, here, all);
        let (low, high) = extent(&descent.sections[section], rails, &origin, here, all);
        let needs = rails.iter().map(|rail| here.rails[*rail].need());
        let least = needs
            .filter(|need| need.is_finite())
            .reduce(f64::min)
            .map(|need| (need, width.under_sill()));
        let (datum, top) = datum(low, high, least);
        Self {
            descent,
            section: &descent.sections[section],
            origin,
            here,
            all,
            rails,
            // What stands on a sheet is the same on paper.
            width: if width == Width::Paper {
                Width::Wide
            } else {
                width
            },
            begins,
            layout,
            volts: Scale::new(datum, top, layout.bottom, TOP),
            datum,
            marks: Vec::new(),
        }
    }

    fn drawn(mut self) -> Scene {
        let settled = self.here.valley.is_finite() && self.here.peak.is_finite();
        if !settled {
            return self.nothing();
        }
        self.grid();
        for (place, &rail) in self.rails.iter().enumerate() {
            self.ground(place, rail);
        }
        self.water();
        self.path();
        for (place, &rail) in self.rails.iter().enumerate() {
            self.rail(place, rail);
        }
        self.datum_line();
        let mut height = self.layout.bottom + 22.0;
        if self.width == Width::Wide {
            height = self.circuit(self.layout.bottom + 40.0);
            height = self.ledger(height + 14.0);
        } else {
            self.names();
        }
        Scene {
            width: self.layout.sheet,
            height,
            title: self.title(),
            description: self.description(),
            time_axis: None,
            panels: Vec::new(),
            marks: self.marks,
        }
    }

    fn title(&self) -> String {
        let state = &self.descent.states[self.descent.here.state];
        let mains = number::written(self.descent.here.mains, "V");
        said::title(self.section.name(), state, &mains)
    }

    fn description(&self) -> String {
        let each = self.rails.iter().filter_map(|&rail| {
            let part = self.section.rails[rail].regulator.as_ref()?;
            let worst = self.rail_ranges(rail).and_then(|ranges| ranges.worst);
            let worst = worst.map(|worst| headroom(worst.spare));
            let here = headroom(self.here.rails[rail].spare());
            Some(said::has(part, &here, worst.as_deref()))
        });
        each.collect::<Vec<_>>().join(" ")
    }

    fn nothing(mut self) -> Scene {
        let height = 160.0;
        let area = super::Frame {
            x: 1.0,
            y: 1.0,
            width: self.layout.sheet - 2.0,
            height: height - 2.0,
        };
        self.marks.push(Mark::Rect {
            area,
            ink: Ink::Dotted,
        });
        let middle = at(self.layout.sheet / 2.0, height / 2.0 + 5.0);
        let size = if self.width == Width::Wide {
            17.0
        } else {
            SMALL
        };
        self.text(
            middle,
            said::NOTHING,
            size,
            Weight::Regular,
            Align::Middle,
            Ink::TextSoft,
        );
        Scene {
            width: self.layout.sheet,
            height,
            title: self.title(),
            description: said::NOTHING.to_owned(),
            time_axis: None,
            panels: Vec::new(),
            marks: self.marks,
        }
    }

    fn rail_ranges(&self, rail: usize) -> Option<&'a RailRanges> {
        self.all.map(|all| &all.rails[rail])
    }

    fn rail_figures(&self, rail: usize) -> &'a RailFigures {
        &self.here.rails[rail]
    }

    /// Where the stretch of a rail begins; the place counts from the left.
    fn stretch(&self, place: usize) -> f64 {
        self.layout.node + place as f64 * self.layout.rail
    }

    fn y(&self, volts: f64) -> f64 {
        self.volts.at(volts)
    }

    fn grid(&mut self) {
        let top = self.volts_at_top();
        let (values, decimals) = ticks(self.datum, top, 8);
        let last = values.len().saturating_sub(1);
        for (index, value) in values.iter().enumerate() {
            let y = self.y(*value);
            if index > 0 {
                self.line(at(self.layout.axis, y), at(self.layout.sheet, y), Ink::Hair);
            }
            let mut text = format!("{value:.decimals$}").replace('-', &number::MINUS.to_string());
            let place = at(self.layout.axis - 7.0, y + 4.5);
            if index == last {
                let with_unit = format!("{text}\u{a0}V");
                if fits(&with_unit, SMALL, Weight::Regular, place.x) {
                    text = with_unit;
                } else {
                    let over = at(place.x, place.y - 15.0);
                    self.text(over, "V", SMALL, Weight::Regular, Align::End, Ink::TextSoft);
                }
            }
            self.text(
                place,
                &text,
                SMALL,
                Weight::Regular,
                Align::End,
                Ink::TextSoft,
            );
        }
    }

    fn volts_at_top(&self) -> f64 {
        // The scale is linear: the chart's top edge read back.
        let per_pixel = (self.y(self.datum) - self.y(self.datum + 1.0)).recip();
        self.datum + (self.layout.bottom - TOP) * per_pixel
    }

    fn datum_line(&mut self) {
        let y = self.layout.bottom;
        self.line(at(self.layout.axis, y), at(self.layout.sheet, y), Ink::Axis);
        if self.width == Width::Wide {
            let text = said::datum(&number::written(self.datum, "V"));
            self.text(
                at(0.0, y + 19.0),
                &text,
                SMALL,
                Weight::Regular,
                Align::Start,
                Ink::TextSoft,
            );
        }
    }

    fn names(&mut self) {
        let y = self.layout.bottom + 18.0;
        let mut all = vec![(self.layout.node, self.origin.name.to_owned())];
        if self.begins {
            all.insert(0, (self.layout.wall, said::WALL.to_owned()));
        }
        for (place, &rail) in self.rails.iter().enumerate() {
            let spots = rail::Spots::of(self, place);
            let own = &self.section.rails[rail];
            let middle = f64::midpoint(spots.sill.0, spots.sill.1);
            if let Some(part) = &own.regulator {
                all.push((middle, part.clone()));
            } else if !own.through.is_empty() {
                all.push((middle, own.through.join(", ")));
            }
            if own.has_own_node() {
                all.push((spots.node, own.node.clone()));
            } else if let Some(load) = own.loads.first() {
                all.push((spots.load, load.part.clone()));
            }
        }
        let stations: Vec<(f64, &str)> = all.iter().map(|(x, text)| (*x, text.as_str())).collect();
        let names = abreast(&stations, SMALL, self.layout.sheet);
        for ((x, _), text) in all.iter().zip(names) {
            let place = at(*x, y);
            self.text(
                place,
                &text,
                SMALL,
                Weight::Bold,
                Align::Middle,
                Ink::TextInk,
            );
        }
    }

    fn line(&mut self, from: Point, to: Point, ink: Ink) {
        self.marks.push(Mark::Line { from, to, ink });
    }

    fn text(&mut self, at: Point, text: &str, size: f64, weight: Weight, align: Align, ink: Ink) {
        self.marks.push(Mark::Text {
            at,
            text: text.to_owned(),
            size,
            weight,
            align,
            ink,
            halo: true,
        });
    }

    fn rect(&mut self, (x, right): (f64, f64), (top, bottom): (f64, f64), ink: Ink) {
        self.marks.push(Mark::Rect {
            area: super::Frame {
                x,
                y: top,
                width: right - x,
                height: bottom - top,
            },
            ink,
        });
    }

    fn hatch(&mut self, (x, right): (f64, f64), (top, bottom): (f64, f64)) {
        self.marks.push(Mark::Hatch {
            outline: vec![at(x, top), at(right, top), at(right, bottom), at(x, bottom)],
        });
    }

    /// Lets all marks from an index on lead to a figure's sum, if it has one.
    fn lead_to_sum(&mut self, from: usize, sum: Sum<'_>, label: &str) {
        if let Some(href) = (self.descent.sum)(sum) {
            let marks = self.marks.split_off(from);
            self.marks.push(Mark::Link {
                href,
                label: said::sum_of(label),
                marks,
            });
        }
    }

    /// Lets the figure that was written last lead to a part's card, if it has one.
    fn lead_to_part(&mut self, part: Option<&str>) {
        let Some(part) = part else { return };
        let Some(href) = (self.descent.link)(part) else {
            return;
        };
        let Some(Mark::Text { text, .. }) = self.marks.last() else {
            return;
        };
        let label = said::of_part(text, part);
        let marks = self.marks.split_off(self.marks.len() - 1);
        self.marks.push(Mark::Link { href, label, marks });
    }

    /// Marks that lead to a part's card, if it has one.
    fn linked(&mut self, part: &str, marks: Vec<Mark>) {
        match (self.descent.link)(part) {
            Some(href) => self.marks.push(Mark::Link {
                href,
                label: part.to_owned(),
                marks,
            }),
            None => self.marks.extend(marks),
        }
    }
}

/// Lowest and highest volts that are drawn with some of the rails.
fn extent(
    section: &Section,
    rails: &[usize],
    origin: &Origin<'_>,
    here: &SectionFigures,
    all: Option<&SectionRanges>,
) -> (f64, f64) {
    let mut values = vec![origin.level.0, origin.level.1];
    if let Some(range) = origin.range {
        values.extend([range.low, range.high]);
    }
    if origin.is_rectified {
        values.extend([here.wall, here.winding]);
    }
    for &index in rails {
        let (rail, own) = (&here.rails[index], &section.rails[index]);
        values.extend([rail.input.0, rail.need(), rail.node.0, rail.node.1]);
        values.extend(rail.loads.iter().flat_map(|load| [load.0, load.1]));
        for load in &own.loads {
            values.extend(load.window.0);
            values.extend(load.window.1);
        }
    }
    if let Some(all) = all {
        if origin.is_rectified {
            values.extend([all.wall.high, all.winding.high]);
        }
        for &index in rails {
            let rail = &all.rails[index];
            values.extend([rail.need.low, rail.need.high, rail.node.low, rail.node.high]);
        }
    }
    let (low, high) = values
        .into_iter()
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
    if origin.is_rectified {
        return (low, high);
    }
    // Without the way from the wall nothing stands over the level, where its name is written.
    (low, high + 0.2 * span(low, high))
}

/// Volts between the lowest and the highest drawn; of a rail by itself a tenth of it, so that the axis counts in tenths of a volt.
fn span(low: f64, high: f64) -> f64 {
    (high - low).max(0.1 * high).max(0.5)
}

/// A round datum below everything, and the top of the chart. Under the least need there is room for its words: its share
/// of the height.
fn datum(low: f64, high: f64, least: Option<(f64, f64)>) -> (f64, f64) {
    if !(low.is_finite() && high.is_finite()) {
        return (0.0, 1.0);
    }
    let span = span(low, high);
    let (steps, _) = ticks(low - 0.25 * span, high + 0.1 * span, 8);
    let top = steps
        .iter()
        .copied()
        .find(|step| *step >= high)
        .unwrap_or(high + 0.05 * span);
    let room = least.map_or(f64::INFINITY, |(need, share)| {
        (need - share * top) / (1.0 - share)
    });
    let below = (low - 0.045 * span).min(room);
    let datum = match steps.as_slice() {
        [first, second, ..] => {
            first + ((below - first) / (second - first)).floor() * (second - first)
        }
        _ => below,
    };
    // Ground itself is the datum where it is near.
    let datum = if datum > 0.0 && datum < 0.2 * high {
        0.0
    } else {
        datum
    };
    (datum, top)
}

/// `+1650 mV`
fn headroom(volts: f64) -> String {
    number::margin(
        quietrail_job::model::What::Headroom,
        volts,
        "V",
        Some(volts),
    )
}

/// `14.65`: volts as [`number::in_hand`] has them, without their unit.
fn volts2(value: f64) -> String {
    if !value.is_finite() {
        return words::ABSENT.to_owned();
    }
    let decimals = if value.abs() < 99.995 { 2 } else { 1 };
    format!("{value:.decimals$}").replace('-', &number::MINUS.to_string())
}

/// Bold names in a row, each around its station: shortened where two would meet, or one would leave the sheet.
fn abreast(stations: &[(f64, &str)], size: f64, sheet: f64) -> Vec<String> {
    let gap = 8.0;
    let wide = |text: &str| text_width(text, size, Weight::Bold);
    let mut room: Vec<f64> = stations
        .iter()
        .map(|(x, text)| wide(text).min(2.0 * (sheet - x).min(*x)))
        .collect();
    for k in 1..stations.len() {
        let apart = 2.0 * (stations[k].0 - stations[k - 1].0 - gap);
        let over = room[k - 1] + room[k] - apart;
        if over <= 0.0 {
            continue;
        }
        // The longer one gives way, down to the half that is its own.
        let half = apart / 2.0;
        if room[k - 1] > room[k] {
            room[k - 1] = (room[k - 1] - over).max(half);
            room[k] = room[k].min(apart - room[k - 1]);
        } else {
            room[k] = (room[k] - over).max(half);
            room[k - 1] = room[k - 1].min(apart - room[k]);
        }
    }
    let all = stations.iter().zip(room);
    all.map(|((_, text), room)| fitted(text, size, Weight::Bold, room + 0.01))
        .collect()
}

/// Whether a text fits a width.
fn fits(text: &str, size: f64, weight: Weight, width: f64) -> bool {
    text_width(text, size, weight) <= width
}

#[cfg(test)]
mod tests;
