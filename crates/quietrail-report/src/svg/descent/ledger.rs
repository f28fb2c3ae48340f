//! The table of levels, each column under its station.

use super::rail::Spots;
use super::{Canvas, PLAIN, SMALL, Sum, said, volts2};
use crate::number;
use crate::svg::face::text_width;
use crate::svg::scene::{Align, Ink, Weight, at};
use quietrail_study::descent::Range;

/// A column: where, its head, the corner in hand, all corners.
struct Column {
    x: f64,
    head: String,
    here: String,
    all: String,
    /// What the corner in hand leads to.
    of: Of,
}

/// Room of what heads the rows.
const HEADS: f64 = 40.0;

/// What a figure of the table is of.
enum Of {
    Nothing,
    /// A node against its return.
    Node(String, String),
    /// What a regulator needs.
    Need(String),
    /// What a transformer gives.
    Part(String),
}

impl Of {
    /// One node against another.
    fn pair((upper, lower): (&str, &str)) -> Self {
        Self::Node(upper.to_owned(), lower.to_owned())
    }
}

impl Canvas<'_> {
    /// Draws it from `y` on; the height that it reaches.
    pub(super) fn ledger(&mut self, y: f64) -> f64 {
        let mut columns = self.columns();
        apart(&mut columns);
        let end = self.layout.sheet;
        self.line(at(0.0, y), at(end, y), Ink::Rule);
        let rows = [y + 19.0, y + 41.0, y + 62.0];
        // The first column's head would stand under the wall: it is said in two letters there.
        let heads = [said::NODE_VOLTS, said::THIS_SHORT, said::WORST_ROW];
        for (row, text) in rows.iter().zip(heads) {
            self.text(
                at(0.0, *row),
                text,
                SMALL,
                Weight::Regular,
                Align::Start,
                Ink::TextSoft,
            );
        }
        let stations: Vec<(f64, &str)> = columns
            .iter()
            .map(|column| (column.x, column.head.as_str()))
            .collect();
        let names = super::abreast(&stations, PLAIN, end);
        for (column, name) in columns.into_iter().zip(names) {
            let cells = [
                (name, PLAIN, Weight::Bold, Ink::TextInk),
                (column.here, PLAIN, Weight::Regular, Ink::TextInk),
                (column.all, SMALL, Weight::Regular, Ink::TextSoft),
            ];
            for (index, (row, (text, size, weight, ink))) in rows.iter().zip(cells).enumerate() {
                let first = self.marks.len();
                self.text(at(column.x, *row), &text, size, weight, Align::Middle, ink);
                match &column.of {
                    _ if index != 1 => {}
                    Of::Nothing => {}
                    Of::Node(node, ret) => {
                        self.lead_to_sum(first, Sum::Valley(node, ret), &format!("{node} {text}"));
                    }
                    Of::Need(part) => self.lead_to_sum(first, Sum::Headroom(part), &text),
                    Of::Part(part) => self.lead_to_part(Some(part)),
                }
            }
        }
        self.line(at(0.0, y + 74.0), at(end, y + 74.0), Ink::Rule);
        y + 76.0
    }

    fn columns(&self) -> Vec<Column> {
        let mut columns = Vec::new();
        let here = self.here;
        let all = self.all;
        let range = |range: Option<Range>| {
            let known = range.filter(Range::is_known);
            known.map_or_else(String::new, |range| of_all(range.low, range.high))
        };
        if self.begins {
            let (wall, out) = self.station_names();
            columns.push(Column {
                x: self.layout.wall + 6.0,
                head: wall,
                here: said::volts_peak(&number::in_hand(here.outlet, "V")),
                all: range(all.map(|all| all.outlet)),
                of: Of::Nothing,
            });
            if here.winding.is_finite() {
                columns.push(Column {
                    x: self.layout.winding,
                    head: out,
                    here: volts2(here.winding),
                    all: range(all.map(|all| all.winding)),
                    of: self
                        .section
                        .transformer
                        .clone()
                        .map_or(Of::Nothing, Of::Part),
                });
            }
        }
        columns.push(Column {
            x: self.layout.node,
            head: self.origin.name.to_owned(),
            here: of_here(self.origin.level.0, self.origin.level.1),
            all: range(self.origin.range),
            of: Of::pair(self.origin.ends),
        });
        for (place, &rail) in self.rails.iter().enumerate() {
            let spots = Spots::of(self, place);
            let own = &self.section.rails[rail];
            let figures = self.rail_figures(rail);
            let ranges = self.rail_ranges(rail);
            if let Some(part) = &own.regulator {
                columns.push(Column {
                    x: f64::midpoint(spots.here.0, spots.all.1) - 4.0,
                    head: said::needs_head(part),
                    here: volts2(figures.need()),
                    all: range(ranges.map(|ranges| ranges.need)),
                    of: Of::Need(part.clone()),
                });
            }
            if own.has_own_node() {
                columns.push(Column {
                    x: spots.node - 14.0,
                    head: own.node.clone(),
                    here: of_here(figures.node.0, figures.node.1),
                    all: range(ranges.map(|ranges| ranges.node)),
                    of: Of::pair(own.output()),
                });
            }
            if let (Some(load), Some(figures)) = (own.loads.first(), figures.loads.first()) {
                columns.push(Column {
                    x: spots.load + 14.0,
                    head: if load.part == own.node {
                        said::load(&load.part)
                    } else {
                        load.part.clone()
                    },
                    here: of_here(figures.0, figures.1),
                    all: range(ranges.map(|ranges| ranges.loads[0])),
                    of: Of::pair((&load.ends.0, &load.ends.1)),
                });
            }
        }
        columns
    }
}

/// Moves columns apart whose figures would meet, each by half of what is wanting.
fn apart(columns: &mut [Column]) {
    let width = |column: &Column| {
        let here = text_width(&column.here, PLAIN, Weight::Regular);
        here.max(text_width(&column.all, SMALL, Weight::Regular))
    };
    for k in 1..columns.len() {
        let needs = f64::midpoint(width(&columns[k - 1]), width(&columns[k])) + 10.0;
        let wanting = needs - (columns[k].x - columns[k - 1].x);
        if wanting > 0.0 {
            columns[k - 1].x -= 0.5 * wanting;
            columns[k].x += 0.5 * wanting;
        }
    }
    // The first stands clear of what heads the rows, and pushes on those after it.
    let mut least = HEADS;
    for column in columns {
        let half = 0.5 * width(column);
        column.x = column.x.max(least + half);
        least = column.x + half + 8.0;
    }
}

/// One value, or two where they differ.
fn of_here(low: f64, high: f64) -> String {
    if (high - low).abs() < 0.02 {
        return volts2(f64::midpoint(low, high));
    }
    said::range(&volts2(low), &volts2(high))
}

fn of_all(low: f64, high: f64) -> String {
    let (low, high) = (volts2(low), volts2(high));
    if low == high {
        low
    } else {
        said::range(&low, &high)
    }
}
