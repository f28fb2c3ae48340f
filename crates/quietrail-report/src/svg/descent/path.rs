//! From the wall to the rectified node: stations with all corners pale and the corner in hand strong, and the drops between.

use super::{Canvas, PLAIN, SMALL, Sum, Width, said, volts2};
use crate::number;
use crate::svg::face::text_width;
use crate::svg::labels::{Wish, spread};
use crate::svg::scene::{Align, Ink, Mark, Point, Weight, at};
use quietrail_study::descent::Range;

/// Half the width of a station's pale bar.
const PALE: f64 = 8.0;
/// Half the width of the strong one inside.
const STRONG: f64 = 5.0;
/// How high letters stand over their line.
const LETTERS: f64 = 11.0;
/// Pixels that one mains cycle takes on the water's surface.
const CYCLE: f64 = 128.0;

impl Canvas<'_> {
    /// The rectified node's level over its stretch: ripple on top, its valley as a line.
    pub(super) fn water(&mut self) {
        let from = self.layout.node;
        let to = self.water_end();
        let surface = &self.descent.surfaces[self.section_index()];
        if self.origin.is_rectified && surface.len() > 2 {
            let cycle = if self.width == Width::Wide {
                CYCLE
            } else {
                100.0
            };
            let steps = ((to - from) / 2.0).ceil() as usize;
            let mut points = Vec::with_capacity(steps + 1);
            for step in 0..=steps {
                let x = (from + 2.0 * step as f64).min(to);
                let phase = ((x - from) / cycle).rem_euclid(1.0) * surface.len() as f64;
                let low = phase.floor() as usize % surface.len();
                let high = (low + 1) % surface.len();
                let volts = surface[low] + (surface[high] - surface[low]) * phase.fract();
                points.push(at(x, self.y(volts)));
            }
            let valley = self.y(self.origin.level.0);
            let mut area = points.clone();
            area.extend([at(to, valley), at(from, valley)]);
            self.marks.push(Mark::Area {
                points: area,
                ink: Ink::Mid,
            });
            self.marks.push(Mark::Polyline {
                points,
                ink: Ink::Surface,
            });
        }
        let y = self.y(self.origin.level.0);
        self.line(at(from, y), at(to, y), Ink::Level);
        if let Some(range) = self.origin.range {
            let y = self.y(range.low);
            self.line(at(from, y), at(to, y), Ink::Lowest);
        }
    }

    /// Where the level ends: with the sill of the last rail that it feeds.
    fn water_end(&self) -> f64 {
        let fed = |rail: usize| !self.is_fed_here(rail);
        let last = self.rails.iter().rposition(|&rail| fed(rail)).unwrap_or(0);
        let spots = super::rail::Spots::of(self, last);
        // Without a regulator it is the level that the load gets.
        let is_bare = self.rails.get(last).is_some_and(|&rail| {
            let own = &self.section.rails[rail];
            !own.has_own_node() && !own.loads.is_empty()
        });
        if is_bare { spots.load } else { spots.sill.1 }
    }

    pub(super) fn section_index(&self) -> usize {
        let same =
            |section: &quietrail_study::descent::Section| std::ptr::eq(section, self.section);
        self.descent.sections.iter().position(same).unwrap_or(0)
    }

    pub(super) fn path(&mut self) {
        let (wall, winding, node) = (self.layout.wall, self.layout.winding, self.layout.node);
        let here = self.here;
        let all = self.all;
        let has_winding = here.winding.is_finite();
        let wide = self.width == Width::Wide;
        self.bar(node, self.origin.level, self.origin.range);
        if self.begins {
            self.bar(wall, (here.wall, here.wall), all.map(|all| all.wall));
            if wide && has_winding {
                self.bar(
                    winding,
                    (here.winding, here.winding),
                    all.map(|all| all.winding),
                );
                let transformer = self.section.transformer.clone();
                self.drop((wall, here.wall), (winding, here.winding), &[said::COPPER]);
                self.lead_to_part(transformer.as_deref());
                self.drop((winding, here.winding), (node, here.peak), &[said::DIODES]);
                self.lead_to_part(Some(&self.section.rectifier));
            } else {
                self.drop((wall, here.wall), (node, here.peak), &["copper,", "diodes"]);
            }
        }
        if wide {
            self.stations();
        }
        self.levels();
        let ripple = said::ripple(&number::in_hand(here.peak - here.valley, "V"));
        let text = if self.begins {
            ripple
        } else {
            self.origin.the_same()
        };
        let place = at(node + 17.0, self.y(self.origin.level.1) - 9.0);
        let first = self.marks.len();
        self.text(
            place,
            &text,
            PLAIN,
            Weight::Bold,
            Align::Start,
            Ink::TextInk,
        );
        if self.begins {
            let (of, ret) = (&self.section.node, &self.section.ret);
            self.lead_to_sum(first, Sum::Ripple(of, ret), &text);
        }
        if let Some(all) = all
            && all.node.is_known()
            && self.begins
        {
            let (state, mains) = all.highest_at;
            let state = self.descent.states.get(state).map_or("", String::as_str);
            let mains = number::written(mains, "V");
            let text = said::highest(&volts2(all.node.high), state, &mains);
            // Over the number of a thin block; beside the node's name where that is as high.
            let beside = self.y(all.node.high) + 11.0;
            let top = self.top_of_number().unwrap_or(f64::INFINITY);
            let y = beside.min(top - 6.0);
            let name = text_width(self.section.name(), SMALL, Weight::Bold) / 2.0;
            let away = if y < beside {
                (name + 7.0).max(PALE + 6.0)
            } else {
                PALE + 6.0
            };
            let place = at(node + away, y);
            self.text(
                place,
                &text,
                SMALL,
                Weight::Regular,
                Align::Start,
                Ink::TextSoft,
            );
        }
    }

    /// The stations by name, over what is drawn of them.
    fn stations(&mut self) {
        for (place, name) in self.names_of_stations() {
            self.text(
                place,
                &name,
                SMALL,
                Weight::Bold,
                Align::Middle,
                Ink::TextInk,
            );
        }
    }

    /// What is written over the stations, and where.
    fn names_of_stations(&self) -> Vec<(Point, String)> {
        let (wall, out) = self.station_names();
        let here = self.here;
        let all = self.all;
        let mut named = vec![(
            self.layout.node,
            self.origin.name.to_owned(),
            self.origin.level.1,
            self.origin.range,
        )];
        if self.begins {
            named.push((self.layout.wall, wall, here.wall, all.map(|all| all.wall)));
            if here.winding.is_finite() {
                let range = all.map(|all| all.winding);
                named.push((self.layout.winding, out, here.winding, range));
            }
        }
        named.sort_by(|a, b| a.0.total_cmp(&b.0));
        let stations: Vec<(f64, &str)> = named.iter().map(|one| (one.0, one.1.as_str())).collect();
        let names = super::abreast(&stations, SMALL, self.layout.sheet);
        let placed = named.into_iter().zip(names);
        placed
            .filter_map(|((x, _, volts, range), name)| {
                let highest = range
                    .filter(Range::is_known)
                    .map_or(volts, |all| all.high.max(volts));
                let place = at(x, self.y(highest) - 6.0);
                // Beside the level it is named too.
                let is_told = !self.begins
                    && x == self.layout.node
                    && (self.y(highest) - self.y(volts)).abs() < 16.0;
                (highest.is_finite() && !is_told).then_some((place, name))
            })
            .collect()
    }

    /// Peak, valley and the lowest of all, to the left of the node.
    fn levels(&mut self) {
        let (lowest, highest) = self.origin.level;
        let wide = self.width == Width::Wide;
        let mut labels = Vec::new();
        let is_apart = self.y(lowest) - self.y(highest) > 16.0;
        if wide && is_apart {
            let peak = said::peak(&volts2(highest));
            labels.push((highest, peak, Weight::Regular, Ink::TextInk, SMALL, 9.0));
        }
        let valley = volts2(lowest);
        let valley = if wide { said::valley(&valley) } else { valley };
        labels.push((lowest, valley, Weight::Bold, Ink::TextInk, PLAIN, 0.0));
        if let Some(range) = self.origin.range
            && lowest - range.low > 0.004
        {
            let low = volts2(range.low);
            let low = if wide { said::lowest(&low) } else { low };
            labels.push((range.low, low, Weight::Regular, Ink::TextLevel, SMALL, 0.0));
        }
        let wishes: Vec<Wish> = labels
            .iter()
            .map(|label| Wish {
                middle: self.y(label.0) + label.5,
                height: 17.0,
            })
            .collect();
        let middles = spread(&wishes, super::TOP, self.layout.bottom - 4.0);
        let x = self.layout.node - PALE - 7.0;
        let (node, ret) = self.origin.ends;
        for ((volts, text, weight, ink, size, _), middle) in labels.into_iter().zip(middles) {
            let first = self.marks.len();
            self.text(at(x, middle + 4.5), &text, size, weight, Align::End, ink);
            if volts == highest {
                self.lead_to_sum(first, Sum::Peak(node, ret), &text);
            } else if volts == lowest {
                self.lead_to_sum(first, Sum::Valley(node, ret), &text);
            }
        }
    }

    /// A station: all corners pale, the corner in hand strong, at least a visible tick.
    pub(super) fn bar(&mut self, x: f64, here: (f64, f64), all: Option<Range>) {
        if let Some(all) = all.filter(Range::is_known) {
            let (top, bottom) = thick(self.y(all.high), self.y(all.low));
            self.rect((x - PALE, x + PALE), (top, bottom), Ink::Pale);
        }
        if here.0.is_finite() && here.1.is_finite() {
            let (top, bottom) = thick(self.y(here.1), self.y(here.0));
            self.rect((x - STRONG, x + STRONG), (top, bottom), Ink::Hand);
        }
    }

    /// A drop between two stations, its name and its volts over the line.
    fn drop(&mut self, (x1, v1): (f64, f64), (x2, v2): (f64, f64), name: &[&str]) {
        if !(v1.is_finite() && v2.is_finite()) {
            return;
        }
        let (from, to) = (at(x1 + PALE, self.y(v1)), at(x2 - PALE, self.y(v2)));
        self.line(from, to, Ink::Path);
        let mut lines: Vec<(String, Ink)> = name
            .iter()
            .map(|name| ((*name).to_owned(), Ink::TextSoft))
            .collect();
        lines.push((number::in_hand(v1 - v2, "V"), Ink::TextInk));
        let width = lines
            .iter()
            .map(|(text, _)| text_width(text, SMALL, Weight::Regular))
            .fold(0.0, f64::max);
        // Over the line, before the next station and what is written over that.
        let slope = (to.y - from.y) / (to.x - from.x);
        let height = 15.5 * (lines.len() as f64 - 1.0);
        let ends_at = |right: f64| {
            let over = from.y + slope * (right - width - from.x).max(0.0);
            (right, over - 8.0 - height)
        };
        let (mut right, mut y) = ends_at(x2 - PALE - 5.0);
        if let Some(before) = self.name_in_the_way((x2, right), (y - LETTERS, y + height)) {
            (right, y) = ends_at(before);
            if before - width < from.x + 2.0 {
                // No room over the line.
                right = x2 - PALE - 5.0;
                y = from.y.max(to.y) + 8.0 + LETTERS;
            }
        }
        for (text, ink) in lines {
            self.text(at(right, y), &text, SMALL, Weight::Regular, Align::End, ink);
            y += 15.5;
        }
    }

    /// Where a text has to end that would run into the name over a station, from one height to another.
    fn name_in_the_way(
        &self,
        (station, right): (f64, f64),
        (top, bottom): (f64, f64),
    ) -> Option<f64> {
        if self.width != Width::Wide {
            return None;
        }
        let mut names = self.names_of_stations().into_iter();
        let (place, name) = names.find(|(place, _)| (place.x - station).abs() < 0.5)?;
        let begins = place.x - text_width(&name, SMALL, Weight::Bold) / 2.0 - 4.0;
        let meets = right > begins && bottom > place.y - LETTERS && top < place.y + 2.0;
        meets.then_some(begins)
    }
}

/// A bar that is never thinner than a tick.
fn thick(top: f64, bottom: f64) -> (f64, f64) {
    if bottom - top >= 4.0 {
        return (top, bottom);
    }
    let middle = f64::midpoint(top, bottom);
    (middle - 2.0, middle + 2.0)
}
