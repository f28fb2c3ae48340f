//! Figures of sections gathered over many corners: how low, how high, and where.

use super::Figures;

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
    /// Over many solutions; `None` over none.
    pub fn over<'a>(all: impl IntoIterator<Item = &'a Figures>) -> Option<Self> {
        let mut ranges: Option<Self> = None;
        for figures in all {
            ranges
                .get_or_insert_with(|| Self::like(figures))
                .take(figures);
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

    fn take(&mut self, figures: &Figures) {
        for (ranges, section) in self.sections.iter_mut().zip(&figures.sections) {
            ranges.outlet.take(section.outlet, section.outlet);
            ranges.wall.take(section.wall, section.wall);
            ranges.winding.take(section.winding, section.winding);
            if section.peak > ranges.node.high {
                ranges.highest_at = (figures.state, figures.mains);
            }
            ranges.node.take(section.valley, section.peak);
            for (ranges, rail) in ranges.rails.iter_mut().zip(&section.rails) {
                ranges.need.take(rail.need(), rail.need());
                ranges.input_low = ranges.input_low.min(rail.input.0);
                ranges.node.take(rail.node.0, rail.node.1);
                for (range, load) in ranges.loads.iter_mut().zip(&rail.loads) {
                    range.take(load.0, load.1);
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
