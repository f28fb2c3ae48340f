//! Figures of sections gathered over many corners: how low, how high, and where.
//!
//! The corners are those found for limits. A rail that no limit asks for has none in which its set point stands low, or high: the
//! ends of the set point are therefore laid on the figures of every corner, as far as its regulator can follow.

use super::{Figures, RailFigures, Section, find};
use crate::setpoint;
use quietrail_job::model::Job;

/// Lowest and highest value seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Lowest.
    pub low: f64,
    /// Highest.
    pub high: f64,
}

/// Ranges of all sections over the worst corner found for every limit, all states together.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranges {
    /// Per section.
    pub sections: Vec<SectionRanges>,
}

/// Ranges of a section, V.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionRanges {
    /// Peak at the outlet, in its own volts.
    pub outlet: Range,
    /// The same at the winding's ratio.
    pub wall: Range,
    /// Peak of the loaded winding.
    pub winding: Range,
    /// From the lowest valley to the highest peak of the rectified node.
    pub node: Range,
    /// State and mains at the highest peak.
    pub highest_at: (usize, f64),
    /// Per rail.
    pub rails: Vec<RailRanges>,
}

/// Ranges of a rail, V.
#[derive(Clone, Debug, PartialEq)]
pub struct RailRanges {
    /// What must stand at the input, with what is to be kept.
    pub need: Range,
    /// Lowest valley of the input.
    pub input_low: f64,
    /// Where the least is left above its need.
    pub worst: Option<WorstRail>,
    /// Output.
    pub node: Range,
    /// Each load.
    pub loads: Vec<Range>,
}

/// A rail where the least is left above its need.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WorstRail {
    /// What is left of its headroom beyond what is to be kept, V.
    pub spare: f64,
    /// What must stand at the input, with what is to be kept, V.
    pub need: f64,
    /// Lowest instant of the input, V.
    pub valley: f64,
    /// State of the load.
    pub state: usize,
}

/// Lowest and highest set point of a rail's regulator, V.
type Ends = Option<(f64, f64)>;

const NOTHING: Range = Range {
    low: f64::INFINITY,
    high: f64::NEG_INFINITY,
};

impl Range {
    fn take(&mut self, low: f64, high: f64) {
        // Comparisons with what is not a number leave the range as it was.
        if low < self.low {
            self.low = low;
        }
        if high > self.high {
            self.high = high;
        }
    }

    /// Whether anything was seen.
    pub fn is_known(&self) -> bool {
        self.low <= self.high
    }
}

impl Ranges {
    /// Over many solutions of a job, which says how far the set points of its regulators may stray; `None` over none.
    pub fn over<'a>(
        all: impl IntoIterator<Item = &'a Figures>,
        job: &Job,
        sections: &[Section],
    ) -> Option<Self> {
        let ends = |section: &Section| -> Vec<Ends> {
            let rails = section.rails.iter();
            rails
                .map(|rail| {
                    let set = find::set_point(job, rail.regulator.as_ref()?)?;
                    Some(amounts(setpoint::worst(set)))
                })
                .collect()
        };
        let ends: Vec<Vec<Ends>> = sections.iter().map(ends).collect();
        let mut ranges: Option<Self> = None;
        for figures in all {
            ranges
                .get_or_insert_with(|| Self::like(figures))
                .take(figures, &ends);
        }
        ranges
    }

    fn like(figures: &Figures) -> Self {
        let sections = figures.sections.iter().map(|section| SectionRanges {
            outlet: NOTHING,
            wall: NOTHING,
            winding: NOTHING,
            node: NOTHING,
            highest_at: (figures.state, figures.mains),
            rails: section
                .rails
                .iter()
                .map(|rail| RailRanges {
                    need: NOTHING,
                    input_low: f64::INFINITY,
                    worst: None,
                    node: NOTHING,
                    loads: vec![NOTHING; rail.loads.len()],
                })
                .collect(),
        });
        Self {
            sections: sections.collect(),
        }
    }

    fn take(&mut self, figures: &Figures, ends: &[Vec<Ends>]) {
        let sections = self.sections.iter_mut().zip(&figures.sections);
        for ((ranges, section), ends) in sections.zip(ends) {
            ranges.outlet.take(section.outlet, section.outlet);
            ranges.wall.take(section.wall, section.wall);
            ranges.winding.take(section.winding, section.winding);
            if section.peak > ranges.node.high {
                ranges.highest_at = (figures.state, figures.mains);
            }
            ranges.node.take(section.valley, section.peak);
            for ((ranges, rail), ends) in ranges.rails.iter_mut().zip(&section.rails).zip(ends) {
                let stray = ends.map_or((0.0, 0.0), |ends| (ends.0 - rail.set, ends.1 - rail.set));
                ranges
                    .need
                    .take(rail.need() + stray.0, rail.need() + stray.1);
                ranges.input_low = ranges.input_low.min(rail.input.0);
                let (down, up) = followed(rail, stray);
                ranges.node.take(rail.node.0 + down, rail.node.1 + up);
                for (range, load) in ranges.loads.iter_mut().zip(&rail.loads) {
                    // Of a load behind copper its part of it.
                    let part = |load: f64, node: f64| {
                        let is_known = node > 0.0 && load.is_finite();
                        if is_known {
                            (load / node).clamp(0.0, 1.0)
                        } else {
                            0.0
                        }
                    };
                    range.take(
                        load.0 + down * part(load.0, rail.node.0),
                        load.1 + up * part(load.1, rail.node.1),
                    );
                }
                let is_worse = ranges.worst.is_none_or(|worst| rail.spare() < worst.spare);
                if rail.spare().is_finite() && is_worse {
                    ranges.worst = Some(WorstRail {
                        spare: rail.spare(),
                        need: rail.need(),
                        valley: rail.input.0,
                        state: figures.state,
                    });
                }
            }
        }
    }
}

/// The ends of a set point as amounts.
fn amounts((low, high): (f64, f64)) -> (f64, f64) {
    if high < 0.0 {
        (-high, -low)
    } else {
        (low, high)
    }
}

/// How far an output follows its set point down and up, V: up no further than there is headroom, down not before the set point
/// is under what is left of the input.
fn followed(rail: &RailFigures, stray: (f64, f64)) -> (f64, f64) {
    if !rail.headroom.is_finite() {
        return (0.0, 0.0);
    }
    let down = (stray.0 - rail.headroom.min(0.0)).min(0.0);
    let up = stray.1.min(rail.headroom.max(0.0)).max(0.0);
    (down, up)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::descent::{figures, plan, sections};
    use quietrail_job::Change;

    /// A regulator of 12 V ±2 % may stand at 11.76 V and at 12.24 V whatever corner was looked for; one that has no headroom
    /// follows its set point nowhere.
    #[test]
    fn a_rail_that_no_limit_asks_for_strays_as_far_as_its_set_point() {
        let job = crate::tests::job(crate::tests::RAIL);
        let ready =
            crate::ready::Ready::of(job.clone(), plan(&job).expect("a plan"), &crate::options());
        let sections = sections(&job);
        let at = |volts: f64| {
            let changes = [Change::Set {
                address: quietrail_job::Address("mains.voltage".to_owned()),
                value: volts,
            }];
            let solved = ready.solve_one(0, &changes).expect("it settles");
            figures(&sections, &ready.plan, &solved)
        };
        let (low, high) = setpoint::worst(
            find::set_point(&job, sections[0].rails[0].regulator.as_ref().expect("one"))
                .expect("a set point"),
        );
        assert!((low - 11.76).abs() < 1e-9 && (high - 12.24).abs() < 1e-9);
        let fair = at(230.0);
        let rail = &fair.sections[0].rails[0];
        let ranges = Ranges::over([&fair], &job, &sections).expect("one");
        let own = &ranges.sections[0].rails[0];
        assert!((own.node.low - (rail.node.0 + low - rail.set)).abs() < 1e-9);
        assert!((own.node.high - (rail.node.1 + high - rail.set)).abs() < 1e-9);
        assert!((own.need.high - own.need.low - (high - low)).abs() < 1e-9);
        let starved = at(150.0);
        let rail = &starved.sections[0].rails[0];
        assert!(rail.headroom < low - rail.set, "{rail:?}");
        let ranges = Ranges::over([&starved], &job, &sections).expect("one");
        assert_eq!(ranges.sections[0].rails[0].node.low, rail.node.0);
        assert_eq!(ranges.sections[0].rails[0].node.high, rail.node.1);
    }
}
