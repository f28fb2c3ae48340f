//! A rail on its stretch: the sill, the headroom that stands on it or hangs under it, the output and the load's window.

use super::{Canvas, PLAIN, SMALL, Sum, Width, fits, headroom, said, volts2};
use crate::svg::face::{fitted, text_width};
use crate::svg::scene::{Align, Ink, Mark, Weight, at};
use crate::{number, words};

/// Size of the number of the corner in hand at most.
const MOST: f64 = 24.0;

/// Where the things of a rail stand.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spots {
    /// The sill.
    pub(super) sill: (f64, f64),
    /// Headroom of the corner in hand.
    pub(super) here: (f64, f64),
    /// Headroom of all corners.
    pub(super) all: (f64, f64),
    /// Output.
    pub(super) node: f64,
    /// Load.
    pub(super) load: f64,
    /// End of the stretch.
    pub(super) end: f64,
}

impl Spots {
    pub(super) fn of(canvas: &Canvas<'_>, place: usize) -> Self {
        let x = canvas.stretch(place);
        let start = if place == 0 { x } else { x + 14.0 };
        match canvas.width {
            Width::Wide | Width::Paper => {
                let part = canvas.layout.rail / super::WIDE.rail;
                Self {
                    sill: (start, x + 218.0 * part),
                    here: (x + 16.0, x + 122.0 * part),
                    all: (x + 122.0 * part + 8.0, x + 214.0 * part),
                    node: x + 245.0 * part,
                    load: x + 288.0 * part,
                    end: x + canvas.layout.rail,
                }
            }
            Width::Narrow => Self {
                sill: (start, x + 148.0),
                here: (x + 14.0, x + 82.0),
                all: (x + 88.0, x + 144.0),
                node: x + 172.0,
                load: x + 172.0,
                end: x + canvas.layout.rail,
            },
        }
    }
}

impl Canvas<'_> {
    /// The ground under sill and output, down to the datum.
    pub(super) fn ground(&mut self, place: usize, rail: usize) {
        let spots = Spots::of(self, place);
        let figures = self.rail_figures(rail);
        let bottom = self.layout.bottom;
        let out = self.y(figures.node.0);
        let sill = self.y(figures.need());
        let right = spots.end
            - if place + 1 == self.rails.len() {
                0.0
            } else {
                4.0
            };
        let points = if sill.is_finite() {
            vec![
                at(spots.sill.0, sill),
                at(spots.sill.1, sill),
                at(spots.node, out),
                at(right, out),
                at(right, bottom),
                at(spots.sill.0, bottom),
            ]
        } else {
            return;
        };
        self.marks.push(Mark::Area {
            points,
            ink: Ink::Ground,
        });
    }

    pub(super) fn rail(&mut self, place: usize, rail: usize) {
        let spots = Spots::of(self, place);
        if self.width == Width::Wide {
            self.head(place, rail);
        }
        let own = &self.section.rails[rail];
        if self.is_fed_here(rail) {
            self.fed_level(spots, rail);
        }
        if own.regulator.is_some() {
            self.sill(spots, rail);
        }
        self.output(spots, rail);
        if own.regulator.is_some() {
            let worst_too = self.headrooms(spots, rail);
            self.need(spots, rail, worst_too);
        }
        self.ends(spots, rail);
    }

    fn head(&mut self, place: usize, rail: usize) {
        let own = &self.section.rails[rail];
        let is_straight = own.regulator.is_none() && own.node == self.section.node;
        let text = if is_straight {
            said::straight_on(&own.node)
        } else {
            said::rail(&own.node, own.is_negative)
        };
        let x = self.stretch(place) + 17.0;
        self.text(
            at(x, 20.0),
            &text,
            17.0,
            Weight::Bold,
            Align::Start,
            Ink::TextInk,
        );
        if place > 0 {
            let x = self.stretch(place) + 2.0;
            self.line(at(x, 8.0), at(x, self.layout.bottom), Ink::Drop);
        }
        let is_first = !self.is_fed_here(rail) && place > 0;
        if is_first && self.begins {
            let text = self.origin.the_same();
            let y = self.y(self.origin.level.1) - 9.0;
            self.text(
                at(x, y),
                &text,
                SMALL,
                Weight::Regular,
                Align::Start,
                Ink::TextInk,
            );
        }
    }

    /// The level of another rail, where that feeds this one.
    fn fed_level(&mut self, spots: Spots, rail: usize) {
        let level = self.rail_figures(rail).input.0;
        let y = self.y(level);
        if y.is_finite() {
            self.line(at(spots.sill.0, y), at(spots.sill.1, y), Ink::Level);
            let text = format!("{} {}", self.section.rails[rail].from, volts2(level));
            let place = at(spots.here.0, y - 8.0);
            self.text(
                place,
                &text,
                SMALL,
                Weight::Regular,
                Align::Start,
                Ink::TextInk,
            );
        }
    }

    fn sill(&mut self, spots: Spots, rail: usize) {
        let y = self.y(self.rail_figures(rail).need());
        if y.is_finite() {
            self.line(at(spots.sill.0, y), at(spots.sill.1, y), Ink::Sill);
        }
    }

    /// Both headrooms; whether that of all corners stands on its own.
    fn headrooms(&mut self, spots: Spots, rail: usize) -> bool {
        let figures = self.rail_figures(rail);
        if !figures.spare().is_finite() {
            return false;
        }
        let worst = self.rail_ranges(rail).and_then(|ranges| ranges.worst);
        let apart = worst.filter(|worst| (worst.spare - figures.spare()).abs() > 0.005);
        let (x, right) = match apart {
            Some(_) => spots.here,
            None => (spots.here.0, spots.all.1),
        };
        let (level, sill) = (self.y(figures.input.0), self.y(figures.need()));
        let text = headroom(figures.spare());
        let name = self.section.rails[rail].regulator.clone();
        let (first, told) = (self.marks.len(), text.clone());
        let caption = match (apart, worst) {
            (None, Some(_)) if self.width == Width::Wide => said::IS_WORST,
            _ if self.width == Width::Wide => said::THIS_CORNER,
            // With the unit where the number leaves it out.
            _ if self.says_unit(&text, (x, right), (level, sill), MOST) => said::THIS_SHORT,
            _ => said::THIS_MILLIVOLTS,
        };
        let foot = if figures.spare() >= 0.0 {
            self.rect((x, right), (level, sill), Ink::Hand);
            // A block too thin for its number has it above the waves, and above what is written on them.
            let over = self.over(rail);
            self.number(
                &text,
                (x, right),
                (level, sill),
                over,
                (MOST, Ink::TextOnHand, Ink::TextLevel),
            );
            sill
        } else {
            self.hatch((x, right), (sill, level));
            let room = right - x;
            let (text, size) = self.sized(&text, room, if apart.is_some() { 24.0 } else { 38.0 });
            let foot = level + size * 0.95;
            self.text(
                at(f64::midpoint(x, right), foot),
                &text,
                size,
                Weight::Bold,
                Align::Middle,
                Ink::TextShort,
            );
            foot
        };
        if let Some(name) = &name {
            self.lead_to_sum(first, Sum::Headroom(name), &told);
        }
        self.caption(f64::midpoint(x, right), foot, caption);
        let Some(worst) = apart else { return false };
        let (x, right) = spots.all;
        let (level, own_sill) = (self.y(worst.valley), self.y(worst.need));
        let text = headroom(worst.spare);
        let (first, told) = (self.marks.len(), text.clone());
        if worst.spare >= 0.0 {
            self.rect((x, right), (level, own_sill), Ink::PaleBox);
            self.number(
                &text,
                (x, right),
                (level, own_sill),
                level,
                (17.0, Ink::TextLevel, Ink::TextLevel),
            );
        } else {
            self.clear((x, right), (own_sill, level));
            self.hatch((x, right), (own_sill, level));
            let (text, size) = self.sized(&text, right - x + 8.0, 21.0);
            let place = at(f64::midpoint(x, right), own_sill.min(level) - 6.0);
            self.text(
                place,
                &text,
                size,
                Weight::Bold,
                Align::Middle,
                Ink::TextShort,
            );
        }
        if let Some(name) = &name {
            self.lead_to_sum(first, Sum::Worst(name), &told);
        }
        self.marks.push(Mark::Line {
            from: at(x, own_sill),
            to: at(right, own_sill),
            ink: Ink::SillThin,
        });
        let foot = sill.max(level).max(own_sill);
        let caption = if self.width == Width::Wide {
            said::WORST_FOUND
        } else if self.says_unit(&told, (x, right), (level, own_sill), 17.0) {
            said::WORST_ROW
        } else {
            said::WORST_MILLIVOLTS
        };
        self.caption(f64::midpoint(x, right), foot, caption);
        true
    }

    /// Above what a number stands that has no room in its block.
    fn over(&self, rail: usize) -> f64 {
        let level = self.y(self.rail_figures(rail).input.0);
        if self.is_fed_here(rail) {
            level
        } else {
            level.min(self.y(self.origin.level.1) - 22.0)
        }
    }

    /// Top of the number over the block of the first rail, if it stands there.
    pub(super) fn top_of_number(&self) -> Option<f64> {
        let rail = *self.rails.first()?;
        let figures = self.rail_figures(rail);
        let height = self.y(figures.need()) - self.y(figures.input.0);
        let is_over = figures.spare() >= 0.0 && height < MOST * 1.15;
        is_over.then(|| self.over(rail) - 6.0 - 0.75 * MOST)
    }

    fn clear(&mut self, x: (f64, f64), y: (f64, f64)) {
        self.rect(x, y, Ink::Sheet);
    }

    fn caption(&mut self, x: f64, foot: f64, text: &str) {
        self.text(
            at(x, foot + 17.0),
            text,
            SMALL,
            Weight::Regular,
            Align::Middle,
            Ink::TextInk,
        );
    }

    /// A text at the largest of some sizes that fits; without its unit where nothing else does.
    fn sized(&self, text: &str, room: f64, most: f64) -> (String, f64) {
        let sizes = [38.0, 28.0, 24.0, 21.0, 17.0, 15.0];
        for size in sizes.into_iter().filter(|size| *size <= most) {
            if fits(text, size, Weight::Bold, room) {
                return (text.to_owned(), size);
            }
        }
        let bare = text
            .split(number::NO_BREAK)
            .next()
            .unwrap_or(text)
            .to_owned();
        for size in sizes.into_iter().filter(|size| *size <= most) {
            if fits(&bare, size, Weight::Bold, room) {
                return (bare, size);
            }
        }
        (bare, SMALL)
    }

    /// Whether the unit of a headroom stands with its number, from its level down to its sill.
    fn says_unit(&self, text: &str, x: (f64, f64), y: (f64, f64), most: f64) -> bool {
        let height = y.1 - y.0;
        if height < 0.0 {
            return self.sized(text, x.1 - x.0 + 8.0, most.max(21.0)).0 == text;
        }
        let (one, size) = self.sized(text, x.1 - x.0 - 12.0, most);
        one == text || height > size + 24.0
    }

    /// A number inside a block, over two lines where it is narrow and high, above it where it is thin.
    fn number(
        &mut self,
        text: &str,
        x: (f64, f64),
        y: (f64, f64),
        over: f64,
        (most, inside, outside): (f64, Ink, Ink),
    ) {
        let (room, height) = (x.1 - x.0 - 12.0, y.1 - y.0);
        let middle = f64::midpoint(x.0, x.1);
        let (one, size) = self.sized(text, room, most);
        if height < size * 1.15 {
            let place = at(middle, over - 6.0);
            self.text(place, &one, size, Weight::Bold, Align::Middle, outside);
            return;
        }
        let centre = f64::midpoint(y.0, y.1);
        let place = |y: f64| at(middle, y);
        let mut put = |y: f64, text: &str, size: f64, weight: Weight| {
            self.marks.push(Mark::Text {
                at: place(y),
                text: text.to_owned(),
                size,
                weight,
                align: Align::Middle,
                ink: inside,
                halo: false,
            });
        };
        let unit = text.split_once(number::NO_BREAK);
        match unit {
            Some((figure, unit)) if one == figure && height > size + 24.0 => {
                put(centre - 1.0, figure, size, Weight::Bold);
                // Spaces to both sides: read or copied, figure and unit stay two words, and the unit stays in the middle.
                let unit = format!("{0}{unit}{0}", number::NO_BREAK);
                put(centre + 15.0, &unit, SMALL, Weight::Regular);
            }
            _ => put(centre + size * 0.36, &one, size, Weight::Bold),
        }
    }

    /// What the regulator needs, in words under the sill.
    fn need(&mut self, spots: Spots, rail: usize, worst_too: bool) {
        let own = &self.section.rails[rail];
        let figures = self.rail_figures(rail);
        let (Some(part), true) = (&own.regulator, figures.need().is_finite()) else {
            return;
        };
        let worst = self.rail_ranges(rail).and_then(|ranges| ranges.worst);
        let sill = self.y(figures.need());
        let level = self.y(figures.input.0);
        let mut foot = sill.max(level);
        if figures.spare() < 0.0 {
            foot += 38.0;
        }
        if let Some(worst) = worst.filter(|_| worst_too) {
            foot = foot
                .max(self.y(worst.valley))
                .max(self.y(worst.need))
                .max(foot);
        }
        let mut y = foot + 38.0;
        // Near the datum the words have no room under the captions.
        y = y.min(self.layout.bottom - if self.width == Width::Wide { 40.0 } else { 8.0 });
        let x = spots.here.0.max(spots.sill.0 + 8.0);
        // Up to what is written at the output.
        let room = spots.node
            - if self.width == Width::Wide {
                26.0
            } else {
                36.0
            }
            - x;
        let volts = number::in_hand(figures.need(), "V");
        let rest = text_width(&said::needs("", &volts), PLAIN, Weight::Bold);
        let part = fitted(part, PLAIN, Weight::Bold, room - rest);
        let text = said::needs(&part, &volts);
        let first = self.marks.len();
        self.text(
            at(x, y),
            &text,
            PLAIN,
            Weight::Bold,
            Align::Start,
            Ink::TextInk,
        );
        if let Some(part) = &own.regulator {
            self.lead_to_sum(first, Sum::Headroom(part), &text);
        }
        if self.width == Width::Narrow {
            return;
        }
        // What is printed adds up to what is printed above it.
        let all = [figures.output, figures.dropout, figures.asked];
        let added = number::adding_up(&all, figures.need(), -2);
        let [output, dropout, asked] = [0, 1, 2].map(|k| volts2(added[k]));
        let terms = if own.follows {
            let rest = text_width(
                &said::terms_behind("", &output, &dropout),
                SMALL,
                Weight::Regular,
            );
            let node = fitted(&own.node, SMALL, Weight::Regular, room - rest);
            said::terms_behind(&node, &output, &dropout)
        } else {
            said::terms(&output, &dropout)
        };
        let mut lines = vec![(terms, Ink::TextSoft)];
        if figures.asked > 0.0 {
            lines.push((said::to_keep(&asked), Ink::TextSoft));
        }
        if let Some(worst) = worst.filter(|_| worst_too) {
            lines.push((
                said::at_worst(&number::in_hand(worst.need, "V")),
                Ink::TextInk,
            ));
        }
        for (text, ink) in lines {
            y += 16.0;
            let first = self.marks.len();
            self.text(at(x, y), &text, SMALL, Weight::Regular, Align::Start, ink);
            if let (Ink::TextInk, Some(part)) = (ink, &own.regulator) {
                self.lead_to_sum(first, Sum::Worst(part), &text);
            }
        }
    }

    /// Output and load with all corners, and the way down to them.
    fn output(&mut self, spots: Spots, rail: usize) {
        let own = &self.section.rails[rail];
        let figures = self.rail_figures(rail);
        let ranges = self.rail_ranges(rail);
        let wide = self.width == Width::Wide;
        let top = self.y(figures.node.1);
        if own.has_own_node() {
            let level = if own.regulator.is_some() {
                figures.need()
            } else {
                figures.input.0
            };
            let from = at(spots.sill.1, self.y(level));
            let points = vec![from, at(spots.node - 5.0, top), at(spots.node, top)];
            self.marks.push(Mark::Polyline {
                points,
                ink: Ink::Path,
            });
            self.bar(spots.node, figures.node, ranges.map(|ranges| ranges.node));
            // Beside the window's bracket there is room to the left only.
            let under = self.y(figures.node.0) + 22.0;
            // The number of what falls short may stand there on a narrow sheet.
            let short = ranges.and_then(|ranges| ranges.worst);
            let short = short.filter(|worst| !wide && worst.spare < 0.0);
            let meets = short.is_some_and(|worst| {
                let foot = self.y(worst.need).min(self.y(worst.valley)) - 6.0;
                (under - foot).abs() < 20.0
            });
            // Over the way down, which begins at the sill.
            let over = top.min(self.y(figures.need())) - 10.0;
            let y = if meets && over.is_finite() {
                over
            } else {
                under
            };
            let (place, align) = if wide {
                (at(spots.node, y), Align::Middle)
            } else {
                (at(spots.node + 6.0, y), Align::End)
            };
            let text = volts2(f64::midpoint(figures.node.0, figures.node.1));
            let first = self.marks.len();
            self.text(place, &text, PLAIN, Weight::Bold, align, Ink::TextInk);
            let told = format!("{} {text}", own.node);
            let (upper, lower) = own.output();
            self.lead_to_sum(first, Sum::Valley(upper, lower), &told);
        }
        let has_load = wide || !own.has_own_node();
        if let (Some(load), true) = (figures.loads.first(), has_load) {
            let there = self.y(load.1);
            if own.has_own_node() {
                self.line(
                    at(spots.node + 5.0, top),
                    at(spots.load - 5.0, there),
                    Ink::Path,
                );
            }
            self.bar(spots.load, *load, ranges.map(|ranges| ranges.loads[0]));
        }
    }

    /// The window of the load as a bracket with both ends written.
    fn ends(&mut self, spots: Spots, rail: usize) {
        let Some(load) = self.section.rails[rail].loads.first() else {
            return;
        };
        let x = if self.width == Width::Wide {
            spots.load + 20.0
        } else {
            spots.load + 16.0
        };
        let (low, high) = load.window;
        let (top, bottom) = (high.map(|high| self.y(high)), low.map(|low| self.y(low)));
        let points = match (top, bottom) {
            (Some(top), Some(bottom)) => vec![
                at(x - 7.0, top),
                at(x, top),
                at(x, bottom),
                at(x - 7.0, bottom),
            ],
            (Some(y), None) | (None, Some(y)) => vec![at(x - 7.0, y), at(x, y)],
            (None, None) => return,
        };
        self.marks.push(Mark::Polyline {
            points,
            ink: Ink::Axis,
        });
        let mut labels = Vec::new();
        if let (Some(high), Some(y)) = (high, top) {
            labels.push((high, y));
        }
        if let (Some(low), Some(y)) = (low, bottom) {
            labels.push((low, y));
        }
        let wishes: Vec<_> = labels
            .iter()
            .map(|(_, y)| crate::svg::labels::Wish {
                middle: *y,
                height: 16.0,
            })
            .collect();
        let mut middles = crate::svg::labels::spread(&wishes, 0.0, self.layout.bottom);
        for ((volts, _), y) in labels.iter().zip(&mut middles) {
            let text = number::written(*volts, "V");
            // By itself it would not say which end it is.
            let end = match (low, high) {
                (Some(_), None) => "min ",
                (None, Some(_)) => "max ",
                _ => "",
            };
            let text = text.split(number::NO_BREAK).next().unwrap_or(words::ABSENT);
            let text = format!("{end}{text}");
            let wide = text_width(&text, SMALL, Weight::Regular);
            let (mut place, mut align) = (at(x + 5.0, *y + 4.5), Align::Start);
            if place.x + wide > spots.end {
                // Outside its end of the window, where it has the room of the bracket too.
                *y += if high == Some(*volts) { -13.0 } else { 13.0 };
                (place, align) = (at(spots.end - 1.0, *y + 4.5), Align::End);
            }
            self.text(place, &text, SMALL, Weight::Regular, align, Ink::TextInk);
        }
        // Under the window, where no level runs; over it where the datum is near.
        let under = middles.last().map(|y| y + 21.0);
        let over = middles.first().map(|y| y - 12.0);
        let free = under.filter(|y| *y < self.layout.bottom - 6.0).or(over);
        if let (Some(y), true) = (free, self.width == Width::Wide) {
            let place = at(x + 2.0, y);
            self.text(
                place,
                said::WINDOW,
                SMALL,
                Weight::Regular,
                Align::Middle,
                Ink::TextSoft,
            );
        }
    }
}
