//! What has to hold a reading before mains comes on: each row with its standard, edition and region.
//!
//! A figure that was read in a document that quotes the standard is compared with the reading. One that is known from memory
//! only is shown and never compared. Local codes and licensed practice come before all of these.

use crate::log::Observed;

/// One row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SafetyRow {
    /// Its name in the log, under `of`.
    pub id: &'static str,
    /// What is done.
    pub act: &'static str,
    /// What is read.
    pub what: Observed,
    /// The limit, if there is one.
    pub limit: Option<SafetyLimit>,
}

/// A figure of a standard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SafetyLimit {
    /// Lowest allowed, SI.
    pub min: Option<f64>,
    /// Highest allowed, SI.
    pub max: Option<f64>,
    /// The standard.
    pub standard: &'static str,
    /// Its edition, as far as the source says.
    pub edition: &'static str,
    /// Where it applies.
    pub region: &'static str,
    /// Where the figure was read.
    pub source: Source,
}

/// Where a figure was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// In this document, which quotes the standard.
    Quoted(&'static str),
    /// From memory: shown, never compared.
    Memory,
}

impl SafetyLimit {
    /// Whether a reading may be compared with it.
    pub fn is_compared(&self) -> bool {
        matches!(self.source, Source::Quoted(_))
    }
}

/// Insulation of equipment of protection class I after repair, 500 V d.c.
const fn insulation(ohms: f64, document: &'static str) -> Option<SafetyLimit> {
    Some(SafetyLimit {
        min: Some(ohms),
        max: None,
        standard: "DIN VDE 0701-0702, 5.4, after repair, class I, at 500 V d.c.",
        edition: "2008-06, since followed by EN 50678 and EN 50699",
        region: "Germany, used here everywhere; other countries have figures of their own",
        source: Source::Quoted(document),
    })
}

static BOND: SafetyRow = SafetyRow {
    id: "earth bond",
    act: "Earth pin of the inlet to the chassis, four leads or lead resistance taken off, without the cord.",
    what: Observed::Resistance,
    limit: Some(SafetyLimit {
        min: None,
        max: Some(0.1),
        standard: "IEC 61010-1, laboratory equipment",
        edition: "limits of IEC 1010-1:2001",
        region: "any; portable-appliance practice in some countries differs",
        source: Source::Quoted("manual of a safety tester, named in guide/cautions.md"),
    }),
};

static TO_CHASSIS: SafetyRow = SafetyRow {
    id: "insulation, mains to chassis",
    act: "Live and neutral together against the chassis, switch on, plug out. New or dry insulation reads tens of megohms and more.",
    what: Observed::Insulation,
    limit: insulation(
        1e6,
        "manuals of two appliance testers, named in guide/cautions.md",
    ),
};

static TO_SECONDARY: SafetyRow = SafetyRow {
    id: "insulation, mains to secondaries",
    act: "Live and neutral together against all secondaries together, switch on, plug out, what the secondaries feed not connected.",
    what: Observed::Insulation,
    limit: insulation(
        2e6,
        "manual of an appliance tester, named in guide/cautions.md: where the isolation of a low-voltage side is proven",
    ),
};

static POLARITY: SafetyRow = SafetyRow {
    id: "fuse and switch in live",
    act: "By ohmmeter from the live pin of the inlet: through fuse and switch, and nothing with the fuse out.",
    what: Observed::Check,
    limit: None,
};

static FUSE: SafetyRow = SafetyRow {
    id: "fuse as drawn",
    act: "Rating and characteristic on the cap of the fuse fitted, against the drawing.",
    what: Observed::Check,
    limit: None,
};

static CORD: SafetyRow = SafetyRow {
    id: "cord and cover",
    act: "Cord held against pull and twist, no bare mains metal that a finger reaches, no loose end.",
    what: Observed::Check,
    limit: None,
};

static PHASE: SafetyRow = SafetyRow {
    id: "phase of the primaries",
    act: "One primary driven with a few volts, one end of each joined: the free ends show twice the voltage in series, none in parallel.",
    what: Observed::Check,
    limit: None,
};

/// What a job has that rows depend on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mains {
    /// A fuse is drawn.
    pub has_fuse: bool,
    /// More than one primary winding is joined.
    pub joins_primaries: bool,
}

/// The rows of a job, in the order in which they are done.
pub fn rows(mains: Mains) -> Vec<&'static SafetyRow> {
    let mut all = vec![&BOND, &TO_CHASSIS, &TO_SECONDARY, &POLARITY];
    if mains.has_fuse {
        all.push(&FUSE);
    }
    if mains.joins_primaries {
        all.push(&PHASE);
    }
    all.push(&CORD);
    all
}

#[cfg(test)]
mod tests {
    use super::{Mains, SafetyRow, rows};
    use crate::log::Observed;

    fn all() -> Vec<&'static SafetyRow> {
        rows(Mains {
            has_fuse: true,
            joins_primaries: true,
        })
    }

    /// Every row is compared with something: with a figure that was read in a document, or with yes.
    #[test]
    fn no_row_takes_whatever_is_read() {
        assert_eq!(all().len(), 7);
        for row in all() {
            match (row.what, row.limit) {
                (Observed::Check, None) => {}
                (_, Some(limit)) => {
                    assert!(limit.is_compared(), "{}", row.id);
                    assert!(limit.min.is_some() || limit.max.is_some());
                    let told = [limit.standard, limit.edition, limit.region];
                    assert!(told.iter().all(|words| !words.is_empty()));
                }
                (what, None) => panic!("{} reads {what:?} and compares it with nothing", row.id),
            }
        }
    }

    /// DIN VDE 0701-0702:2008-06, 5.4: 1.0 MΩ in general, 2.0 MΩ for proving safe isolation (overview in the operating manual of
    /// the Benning ST 755, page 26). IEC 1010-1:2001: 0.1 Ω (manual of the Fluke 601PRO, pages 8 to 11).
    #[test]
    fn figures_are_those_of_the_documents() {
        let ends: Vec<_> = all()
            .iter()
            .filter_map(|row| row.limit.map(|limit| (row.id, limit.min, limit.max)))
            .collect();
        assert_eq!(
            ends,
            [
                ("earth bond", None, Some(0.1)),
                ("insulation, mains to chassis", Some(1e6), None),
                ("insulation, mains to secondaries", Some(2e6), None),
            ]
        );
    }
}
