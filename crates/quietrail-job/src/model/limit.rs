//! What the data sheets ask.

use super::Span;
use crate::keys::WHATS;
use quietrail_units::Kind;

/// One limit of a node, a pair of nodes or a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Unique in a job.
    pub name: String,
    /// A node, a pair of nodes (`plus`, `minus`) or a part.
    pub of: Subject,
    /// The statistic.
    pub what: What,
    /// Band in which it counts, for ripple and noise.
    pub band: Option<Band>,
    /// Level down to which a hold-up counts, V.
    pub down_to: Option<f64>,
    /// Lowest allowed value in SI.
    pub min: Option<f64>,
    /// Highest allowed value in SI.
    pub max: Option<f64>,
    /// Indices into [`super::Job::states`]; all where the job names none.
    pub states: Vec<usize>,
    /// The document that asks for it.
    pub from: String,
    /// Where its table starts.
    pub span: Span,
}

/// What a limit is about.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Subject {
    /// A node against `common`.
    Node(String),
    /// The first node against the second.
    Pair(String, String),
    /// A part.
    Part(String),
}

/// The statistics that a limit can ask for. The list is closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the names are the guide's terms")]
pub enum What {
    Mean,
    Valley,
    Peak,
    /// rms of the mains-locked part.
    Ripple,
    RipplePeakToPeak,
    /// rms of the rest.
    Noise,
    RippleAndNoise,
    Headroom,
    /// Mean current.
    Current,
    RmsCurrent,
    PeakCurrent,
    ReverseVoltage,
    Power,
    Temperature,
    Life,
    Drift,
    Start,
    /// Time from the mains going away until a level is passed.
    HoldUp,
}

/// A frequency band in hertz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Band {
    /// Flat between the corners, nothing outside.
    BrickWall {
        /// Lower corner.
        low: f64,
        /// Upper corner.
        high: f64,
    },
    /// First-order corners: one high-pass pole at `low` (0 for none), one low-pass pole at `high`.
    Poles {
        /// High-pass pole.
        low: f64,
        /// Low-pass pole.
        high: f64,
    },
}

impl What {
    /// Every statistic, in the order of the guide.
    pub const ALL: [What; 18] = [
        What::Mean,
        What::Valley,
        What::Peak,
        What::Ripple,
        What::RipplePeakToPeak,
        What::Noise,
        What::RippleAndNoise,
        What::Headroom,
        What::Current,
        What::RmsCurrent,
        What::PeakCurrent,
        What::ReverseVoltage,
        What::Power,
        What::Temperature,
        What::Life,
        What::Drift,
        What::Start,
        What::HoldUp,
    ];

    /// The statistic of a word.
    pub fn named(word: &str) -> Option<Self> {
        let index = WHATS.iter().position(|known| *known == word)?;
        Self::ALL.get(index).copied()
    }

    /// Its word in the job file.
    pub fn word(self) -> &'static str {
        let index = Self::ALL.iter().position(|known| *known == self);
        index.map_or("", |index| WHATS[index])
    }

    /// Its unit.
    pub fn kind(self) -> Kind {
        match self {
            What::Mean
            | What::Valley
            | What::Peak
            | What::Ripple
            | What::RipplePeakToPeak
            | What::Noise
            | What::RippleAndNoise
            | What::Headroom
            | What::ReverseVoltage
            | What::Drift => Kind::Volts,
            What::Current | What::RmsCurrent | What::PeakCurrent => Kind::Amperes,
            What::Power => Kind::Watts,
            What::Temperature => Kind::Celsius,
            What::Life => Kind::Hours,
            What::Start | What::HoldUp => Kind::Seconds,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{WHATS, What};

    #[test]
    fn words_and_statistics_stand_in_one_order() {
        assert_eq!(What::ALL.len(), WHATS.len());
        for pair in What::ALL.windows(2) {
            assert!(pair[0] < pair[1], "{:?} before {:?}", pair[0], pair[1]);
        }
        for word in WHATS {
            assert_eq!(What::named(word).map(What::word), Some(*word));
        }
    }
}
