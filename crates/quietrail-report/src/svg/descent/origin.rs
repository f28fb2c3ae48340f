//! What the rails of a sheet are fed from: the rectified node, or a rail that stands on another sheet.

use super::{Canvas, said};
use quietrail_study::descent::{Range, Section, SectionFigures, SectionRanges};

/// Where a sheet begins, after the way from the wall if that is on it.
pub(super) struct Origin<'a> {
    /// Its name.
    pub(super) name: &'a str,
    /// The node, and what it is measured against, the upper one first.
    pub(super) ends: (&'a str, &'a str),
    /// Its lowest and highest instant in the corner in hand.
    pub(super) level: (f64, f64),
    /// The same over all corners, where they are known.
    pub(super) range: Option<Range>,
    /// Capacitors across it.
    pub(super) reservoirs: &'a [String],
    /// Resistors across it.
    pub(super) bleeders: &'a [String],
    /// Whether it is the rectified node.
    pub(super) is_rectified: bool,
}

impl<'a> Origin<'a> {
    pub(super) fn of(
        section: &'a Section,
        rails: &[usize],
        here: &SectionFigures,
        all: Option<&SectionRanges>,
    ) -> Self {
        let known = |range: Range| Some(range).filter(Range::is_known);
        let Some(feeder) = feeder(section, rails) else {
            return Self {
                name: section.name(),
                ends: (&section.node, &section.ret),
                level: (here.valley, here.peak),
                range: all.and_then(|all| known(all.node)),
                reservoirs: &section.reservoirs,
                bleeders: &section.bleeders,
                is_rectified: true,
            };
        };
        let rail = &section.rails[feeder];
        Self {
            name: &rail.node,
            ends: rail.output(),
            level: here.rails[feeder].node,
            range: all.and_then(|all| known(all.rails[feeder].node)),
            reservoirs: &rail.capacitors,
            bleeders: &rail.bleeders,
            is_rectified: false,
        }
    }

    /// `raw, the same C1`
    pub(super) fn the_same(&self) -> String {
        said::same(self.name, &self.reservoirs.join(", "))
    }
}

/// The rail that feeds the first of a sheet; none where the rectified node does.
pub(super) fn feeder(section: &Section, rails: &[usize]) -> Option<usize> {
    rails.first().and_then(|&rail| section.rails[rail].fed_by)
}

/// The rails of each sheet, at most so many: all of a sheet are fed from where it begins, or from one another.
pub(super) fn chunks(section: &Section, at_once: usize) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = vec![Vec::new()];
    for (rail, own) in section.rails.iter().enumerate() {
        let last = all.last().map_or(&[][..], Vec::as_slice);
        let is_fed = own.fed_by == feeder(section, last)
            || own.fed_by.is_some_and(|feeder| last.contains(&feeder));
        let fits = last.is_empty() || (last.len() < at_once && is_fed);
        match all.last_mut().filter(|_| fits) {
            Some(last) => last.push(rail),
            None => all.push(vec![rail]),
        }
    }
    all
}

impl Canvas<'_> {
    /// Whether a rail is fed by another on the same sheet.
    pub(super) fn is_fed_here(&self, rail: usize) -> bool {
        let feeder = self.section.rails[rail].fed_by;
        feeder.is_some_and(|feeder| self.rails.contains(&feeder))
    }
}
