//! The circuit in register under the section: single line, symbols of IEC 60617 in an arrangement of our own.
//!
//! The supply's own rail runs on straight; each further rail branches off the rectified node and runs below.

use super::rail::Spots;
use super::symbols::{Pens, Sign, across, in_line};
use super::{Canvas, SMALL, said};
use crate::svg::face::{fitted, text_width};
use crate::svg::scene::{Align, Frame, Ink, Mark, Point, Weight, at};
use quietrail_job::model::RectifierForm;
use quietrail_study::descent::LoadEnd;

/// Between the line of one rail and the next.
const STEP: f64 = 42.0;

impl Canvas<'_> {
    /// Draws it from `y` on; the height that it reaches.
    pub(super) fn circuit(&mut self, y: f64) -> f64 {
        let node = self.layout.node;
        let mut dots = vec![node];
        if self.begins {
            self.way_in(y);
            dots.extend([self.layout.wall, self.layout.winding]);
        } else {
            self.line(at(node - 34.0, y), at(node, y), Ink::Axis);
        }
        let mut rows = 0;
        let mut row_of: Vec<(usize, f64)> = Vec::new();
        for (place, &rail) in self.rails.iter().enumerate() {
            let own = &self.section.rails[rail];
            let feeder = own
                .fed_by
                .and_then(|fed| row_of.iter().find(|(rail, _)| *rail == fed));
            let (line, from) = match feeder {
                // In series with the rail that feeds it.
                Some(&(fed, line)) => {
                    let place = self.rails.iter().position(|&rail| rail == fed).unwrap_or(0);
                    (line, Spots::of(self, place).node)
                }
                None => {
                    let line = y + f64::from(rows) * STEP;
                    rows += 1;
                    (line, node)
                }
            };
            row_of.push((rail, line));
            self.branch(place, rail, from, line);
            let spots = Spots::of(self, place);
            dots.extend([spots.node, spots.load]);
        }
        let last = y + f64::from((rows - 1).max(0)) * STEP;
        if last > y {
            self.line(at(node, y), at(node, last), Ink::Axis);
        }
        let foot = self.reservoir(node, last);
        if !self.origin.bleeders.is_empty() && rows > 0 {
            let names = self.origin.bleeders.to_vec();
            self.shunt(at(node + 42.0, last), &names, (20.0, 120.0));
        }
        self.joint(at(node, y));
        if last > y {
            self.joint(at(node, last));
        }
        for x in dots {
            self.line(at(x, self.layout.bottom), at(x, y), Ink::Drop);
        }
        foot.max(last + 36.0)
    }

    fn way_in(&mut self, y: f64) {
        let (wall, node) = (self.layout.wall, self.layout.node);
        self.line(at(wall, y), at(node, y), Ink::Axis);
        let has_winding = self.here.winding.is_finite();
        if let Some(first) = self.section.fuses.first().cloned() {
            let names = named(&self.section.fuses, 34.0);
            let middle = at(wall + 18.0, y);
            let mut marks = in_line(self.sign(&first), middle, self.pens(&first));
            marks.push(self.label(at(middle.x, y + 27.0), &names));
            self.linked(&first, marks);
        }
        let transformer = self.section.transformer.clone();
        if let Some(transformer) = transformer.filter(|_| has_winding) {
            let x = f64::midpoint(wall, self.layout.winding);
            let ink = self.symbol_ink(&transformer);
            let circle = |x: f64, ink: Ink| Mark::Circle {
                at: at(x, y),
                radius: 9.5,
                ink,
            };
            // Two circles that overlap: a transformer.
            let marks = vec![
                circle(x - 6.0, ink),
                circle(x + 6.0, ink),
                circle(x - 6.0, Ink::SymbolLine),
                self.label(at(x, y + 27.0), &transformer),
            ];
            self.linked(&transformer, marks);
        }
        let rectifier = self.section.rectifier.clone();
        let x = f64::midpoint(self.layout.winding, node);
        let ink = self.symbol_ink(&rectifier);
        let line = self.line_ink(&rectifier);
        let mut marks = vec![Mark::Rect {
            area: Frame {
                x: x - 13.0,
                y: y - 12.0,
                width: 26.0,
                height: 24.0,
            },
            ink,
        }];
        marks.extend(diode(at(x, y), line));
        marks.push(self.label(at(x, y + 29.0), &self.rectifier_name()));
        self.linked(&rectifier, marks);
    }

    /// The name of the rectifier, as far as the reservoir leaves room for it.
    fn rectifier_name(&self) -> String {
        let room = self.layout.node - self.layout.winding - 28.0;
        fitted(&self.section.rectifier, SMALL, Weight::Bold, room)
    }

    /// Where the name of a reservoir stands: beside it, or under the rectifier's where it would run into that.
    fn beside_reservoir(&self, top: f64, names: &[String]) -> f64 {
        let width = |text: &str| text_width(text, SMALL, Weight::Bold);
        let middle = f64::midpoint(self.layout.winding, self.layout.node);
        let taken = middle + 0.5 * width(&self.rectifier_name());
        let begins = self.layout.node - 16.0 - width(&named(names, 110.0));
        let is_clear = !self.begins || begins > taken;
        top + if is_clear { 8.0 } else { 32.0 }
    }

    fn branch(&mut self, place: usize, rail: usize, from: f64, y: f64) {
        let spots = Spots::of(self, place);
        let own = &self.section.rails[rail];
        let parts = match &own.regulator {
            Some(part) => std::slice::from_ref(part),
            None => own.through.as_slice(),
        };
        if parts.is_empty() {
            self.line(at(from, y), at(spots.load, y), Ink::Axis);
            self.load(at(spots.load, y), &own.loads);
            return;
        }
        let end = if own.loads.is_empty() {
            spots.node
        } else {
            spots.load
        };
        self.line(at(from, y), at(end, y), Ink::Axis);
        let reach = self.in_a_row(parts, spots, y);
        self.joint(at(spots.node, y));
        if !own.capacitors.is_empty() {
            let before = if own.bleeders.is_empty() {
                reach
            } else {
                f64::midpoint(reach, spots.node) + 10.0
            };
            let room = (spots.node - before - 20.0, 0.0);
            self.shunt(at(spots.node, y), &own.capacitors, room);
        }
        if !own.bleeders.is_empty() {
            let middle = f64::midpoint(reach, spots.node);
            let room = (middle - reach - 8.0, 0.0);
            self.shunt(at(middle, y), &own.bleeders, room);
        }
        self.load(at(spots.load, y), &own.loads);
    }

    /// The parts of a rail one behind the other over its sill; how far to the right they reach.
    fn in_a_row(&mut self, parts: &[String], spots: Spots, y: f64) -> f64 {
        let (left, right) = spots.sill;
        let share = (right - left) / parts.len() as f64;
        let mut reach = left;
        for (place, part) in parts.iter().enumerate() {
            let x = left + share * (place as f64 + 0.5);
            let room = if parts.len() > 1 {
                share - 10.0
            } else {
                share - 120.0
            };
            let name = fitted(part, SMALL, Weight::Bold, room);
            let wide = text_width(&name, SMALL, Weight::Bold) / 2.0;
            let sign = self.sign(part);
            let (half, marks) = if sign == Sign::Block {
                (wide + 10.0, self.block(at(x, y), wide + 10.0, part, name))
            } else {
                let (half, depth) = sign.reach();
                let mut marks = in_line(sign, at(x, y), self.pens(part));
                marks.push(self.label(at(x, y + depth + 14.0), &name));
                (half.max(wide), marks)
            };
            self.linked(part, marks);
            reach = x + half;
        }
        reach
    }

    /// A regulator: a box with its name.
    fn block(&self, Point { x, y }: Point, half: f64, part: &str, name: String) -> Vec<Mark> {
        let open = self.is_open(part);
        vec![
            Mark::Rect {
                area: Frame {
                    x: x - half,
                    y: y - 14.0,
                    width: 2.0 * half,
                    height: 28.0,
                },
                ink: self.symbol_ink(part),
            },
            Mark::Text {
                at: at(x, y + 4.7),
                text: name,
                size: SMALL,
                weight: Weight::Bold,
                align: Align::Middle,
                ink: if open { Ink::TextOnInk } else { Ink::TextInk },
                halo: false,
            },
        ]
    }

    /// A load: a box to the return.
    /// What hangs at the end of a rail: one symbol, with the names of all.
    fn load(&mut self, end: Point, loads: &[LoadEnd]) {
        let names: Vec<&str> = loads.iter().map(|load| load.part.as_str()).collect();
        let Some(&part) = names.first() else { return };
        let ink = self.symbol_ink(part);
        let lines = beside_load(&names, self.after(end.x) - end.x - 11.0);
        let mut marks = vec![
            Mark::Rect {
                area: Frame {
                    x: end.x - 5.0,
                    y: end.y + 5.0,
                    width: 10.0,
                    height: 22.0,
                },
                ink,
            },
            Mark::Polyline {
                points: vec![end, at(end.x, end.y + 5.0)],
                ink: Ink::Axis,
            },
            Mark::Polyline {
                points: vec![at(end.x, end.y + 27.0), at(end.x, end.y + 32.0)],
                ink: Ink::Axis,
            },
            Mark::Line {
                from: at(end.x - 6.0, end.y + 32.0),
                to: at(end.x + 6.0, end.y + 32.0),
                ink: Ink::Axis,
            },
        ];
        let first = [21.0, 15.0, 9.0][lines.len().min(LINES) - 1];
        for (text, y) in lines.into_iter().zip([first, first + 14.0, first + 28.0]) {
            marks.push(Mark::Text {
                at: at(end.x + 11.0, end.y + y),
                text,
                size: SMALL,
                weight: Weight::Bold,
                align: Align::Start,
                ink: Ink::TextInk,
                halo: true,
            });
        }
        self.linked(part, marks);
    }

    /// Where the next stretch begins, or the sheet ends.
    fn after(&self, x: f64) -> f64 {
        let mut begins = (0..self.rails.len()).map(|place| self.stretch(place));
        let next = begins.find(|begin| *begin > x);
        next.unwrap_or(self.layout.sheet)
    }

    /// What stands across an output, from the line to the return; its names to the left, several of them to the right where
    /// there is more room.
    fn shunt(&mut self, end: Point, names: &[String], (left, right): (f64, f64)) {
        let Some(first) = names.first() else { return };
        let Point { x, y } = end;
        let mut marks = across(self.sign(first), end, self.pens(first));
        let (align, room) = if names.len() > 1 && right > left {
            (Align::Start, right)
        } else {
            (Align::End, left)
        };
        let away = if align == Align::Start { 12.0 } else { -12.0 };
        marks.push(Mark::Text {
            at: at(x + away, y + 20.5),
            text: named(names, room),
            size: SMALL,
            weight: Weight::Bold,
            align,
            ink: Ink::TextInk,
            halo: true,
        });
        self.linked(first, marks);
        self.joint(end);
    }

    /// The reservoirs, from the rectified node to the return.
    fn reservoir(&mut self, x: f64, y: f64) -> f64 {
        let names = self.origin.reservoirs.to_vec();
        let Some(first) = names.first() else {
            return y;
        };
        let top = y + 11.0;
        let line = |from: Point, to: Point, ink: Ink| Mark::Line { from, to, ink };
        let own = self.line_ink(first);
        let mut marks = Vec::new();
        if self.is_open(first) {
            let area = Frame {
                x: x - 13.0,
                y: y + 6.0,
                width: 26.0,
                height: 16.0,
            };
            let ink = Ink::SymbolOpen;
            marks.push(Mark::Rect { area, ink });
        }
        let plates = |top: f64, own: Ink| {
            [
                line(at(x - 10.0, top), at(x + 10.0, top), own),
                line(at(x - 10.0, top + 5.5), at(x + 10.0, top + 5.5), own),
                line(at(x, top + 5.5), at(x, top + 11.0), own),
            ]
        };
        marks.extend([
            line(at(x, y), at(x, y + 6.0), Ink::Axis),
            line(at(x, y + 6.0), at(x, top), own),
        ]);
        marks.extend(plates(top, own));
        let named_at = |y: f64, names: &[String]| Mark::Text {
            at: at(x - 16.0, y),
            text: named(names, 110.0),
            size: SMALL,
            weight: Weight::Bold,
            align: Align::End,
            ink: Ink::TextInk,
            halo: true,
        };
        let form = Some(&self.section.form).filter(|_| self.origin.is_rectified);
        let top = match (form, names.as_slice()) {
            // The halves of a doubler stand on each other.
            (Some(RectifierForm::Doubler { .. }), [_, lower]) => {
                marks.push(named_at(top + 6.0, &names[..1]));
                let own = self.line_ink(lower);
                marks.extend(plates(top + 11.0, own));
                marks.push(named_at(top + 20.0, &names[1..]));
                top + 11.0
            }
            _ => {
                marks.push(named_at(self.beside_reservoir(top, &names), &names));
                top
            }
        };
        marks.extend([
            line(at(x, top + 11.0), at(x, top + 15.0), Ink::Axis),
            line(at(x - 6.0, top + 15.0), at(x + 6.0, top + 15.0), Ink::Axis),
        ]);
        let foot = self.beside_reservoir(top, &names) + 3.0;
        self.linked(first, marks);
        foot.max(top + 18.0)
    }

    fn joint(&mut self, at: Point) {
        self.marks.push(Mark::Circle {
            at,
            radius: 3.0,
            ink: Ink::Joint,
        });
    }

    fn label(&self, at: Point, text: &str) -> Mark {
        Mark::Text {
            at,
            text: text.to_owned(),
            size: SMALL,
            weight: Weight::Bold,
            align: Align::Middle,
            ink: Ink::TextInk,
            halo: true,
        }
    }

    fn sign(&self, part: &str) -> Sign {
        Sign::of(self.descent.job.part(part).map(|part| &part.kind))
    }

    fn pens(&self, part: &str) -> Pens {
        let is_open = self.is_open(part);
        Pens { is_open }
    }

    fn is_open(&self, part: &str) -> bool {
        self.descent.open == Some(part)
    }

    fn symbol_ink(&self, part: &str) -> Ink {
        if self.is_open(part) {
            Ink::SymbolOpen
        } else {
            Ink::Symbol
        }
    }

    fn line_ink(&self, part: &str) -> Ink {
        if self.is_open(part) {
            Ink::OnInk
        } else {
            Ink::Axis
        }
    }

    pub(super) fn station_names(&self) -> (String, String) {
        let out = match &self.section.transformer {
            Some(transformer) => said::out(transformer),
            None => self.section.feeds.clone(),
        };
        (said::WALL.to_owned(), out)
    }
}

/// Lines that there is room for beside the symbol of a load.
const LINES: usize = 3;

/// The names of loads, a line each: one by itself in as many as it takes, and of more than there are lines the last says how many.
fn beside_load(names: &[&str], room: f64) -> Vec<String> {
    if let [only] = names {
        return in_lines(only, room);
    }
    let mut lines: Vec<String> = names
        .iter()
        .take(LINES)
        .map(|name| fitted(name, SMALL, Weight::Bold, room))
        .collect();
    if let (Some(last), more @ 1..) = (lines.last_mut(), names.len() - LINES.min(names.len())) {
        let told = said::and_more_short(names[LINES - 1], more);
        *last = fitted(&told, SMALL, Weight::Bold, room);
    }
    lines
}

/// A name in as many lines as it takes, up to [`LINES`]: parted where words of it begin, or else where the room ends, so that no letter is
/// lost before the last.
fn in_lines(name: &str, room: f64) -> Vec<String> {
    let fits = |text: &str| text_width(text, SMALL, Weight::Bold) <= room;
    let mut lines = Vec::new();
    let mut rest = name;
    while lines.len() + 1 < LINES && !fits(rest) {
        let ends = rest.char_indices().map(|(index, _)| index).skip(1);
        let fitting: Vec<usize> = ends.take_while(|end| fits(&rest[..*end])).collect();
        let word = fitting.iter().rfind(|end| begins_word(rest, **end));
        let Some(end) = word.or(fitting.last()) else {
            break;
        };
        lines.push(rest[..*end].to_owned());
        rest = &rest[*end..];
    }
    lines.push(fitted(rest, SMALL, Weight::Bold, room));
    lines
}

/// Whether a word of a name begins there: `plus_supply`, `plusSupply`.
fn begins_word(name: &str, at: usize) -> bool {
    let before = name[..at].chars().next_back();
    let after = name[at..].chars().next();
    before.is_some_and(|before| {
        let is_hump = before.is_lowercase() && after.is_some_and(char::is_uppercase);
        before == '_' || before == '-' || is_hump
    })
}

/// Names beside a symbol that stands for all of them: as many as there is room for, else the first and how many more.
fn named(names: &[String], room: f64) -> String {
    let all = names.join(", ");
    let fits = |text: &str| text_width(text, SMALL, Weight::Bold) <= room;
    match names {
        [first, _, ..] if !fits(&all) => {
            let told = said::and_more(first, names.len() - 1);
            if fits(&told) {
                return told;
            }
            let short = said::and_more_short(first, names.len() - 1);
            fitted(&short, SMALL, Weight::Bold, room)
        }
        [only] => fitted(only, SMALL, Weight::Bold, room),
        _ => all,
    }
}

/// A diode: a triangle to a bar, with its leads.
fn diode(middle: Point, ink: Ink) -> Vec<Mark> {
    let Point { x, y } = middle;
    let line = |points: Vec<Point>| Mark::Polyline { points, ink };
    vec![
        line(vec![at(x - 9.0, y), at(x - 4.0, y)]),
        line(vec![
            at(x - 4.0, y - 5.5),
            at(x + 4.0, y),
            at(x - 4.0, y + 5.5),
            at(x - 4.0, y - 5.5),
        ]),
        line(vec![at(x + 4.0, y - 5.5), at(x + 4.0, y + 5.5)]),
        line(vec![at(x + 4.0, y), at(x + 9.0, y)]),
    ]
}

#[cfg(test)]
mod tests {
    use super::{LINES, SMALL, Weight, in_lines, text_width};

    /// Every letter of a name stands, as long as there are lines; words are parted first.
    #[test]
    fn loads_on_one_rail_are_all_named_or_counted() {
        let wide = 200.0;
        assert_eq!(
            super::beside_load(&["oven", "comparator"], wide),
            ["oven", "comparator"]
        );
        let five = ["a", "b", "c", "d", "e"];
        let lines = super::beside_load(&five, wide);
        assert_eq!(lines.len(), 3);
        assert!(
            lines[2].starts_with('c') && lines[2].contains('2'),
            "{lines:?}"
        );
        assert_eq!(
            super::beside_load(&["heater_supply"], wide),
            ["heater_supply"]
        );
    }

    #[test]
    fn a_long_name_of_a_load_loses_no_letter() {
        let room = text_width("amplifier_", SMALL, Weight::Bold) + 0.1;
        assert_eq!(in_lines("amplifier", room), ["amplifier"]);
        assert_eq!(in_lines("amplifier_minus", room), ["amplifier_", "minus"]);
        for name in [
            "amplifier_minustwelve",
            "comparatorOfTheClock",
            "amplifierminustwelve",
        ] {
            let lines = in_lines(name, room);
            assert_eq!(lines.concat(), name);
            let widest = lines
                .iter()
                .map(|line| text_width(line, SMALL, Weight::Bold));
            assert!(
                lines.len() <= LINES && widest.fold(0.0, f64::max) <= room,
                "{lines:?}"
            );
        }
        let lines = in_lines("a_name_as_long_as_nobody_would_write_it_twice", room);
        assert!(
            lines.len() == LINES && lines[LINES - 1].ends_with('…'),
            "{lines:?}"
        );
    }
}
