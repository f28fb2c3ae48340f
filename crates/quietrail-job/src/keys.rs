//! Which keys a table may hold, and what each holds: one description that reading, the schema for
//! editors and the guide all go by, so that they cannot drift apart.

mod bench;
mod common;
mod instrument;
mod mains;
mod oscillator;
mod part;
mod regulator;
mod root;
mod transformer;
mod transistor;
mod unmarked;

pub(crate) use bench::WHATS;
pub(crate) use common::FIGURE;
pub(crate) use instrument::{DETECTORS, FUNCTIONS, GATES, INSTRUMENTS, PROBES};
pub(crate) use part::{CURVE_KEYS, DIODE_KEYS};
pub(crate) use root::{PARTS, ROOT};

use quietrail_units::Kind;

/// The keys of one kind of table.
#[derive(Debug)]
pub(crate) struct Keys {
    /// What the table is: `capacitor`.
    pub(crate) of: &'static str,
    /// One sentence for the guide.
    pub(crate) says: &'static str,
    /// Its keys, in the order of the guide.
    pub(crate) keys: &'static [Key],
    /// Keys that stand for one another.
    pub(crate) alternatives: &'static [Alternatives],
}

/// One key.
#[derive(Debug)]
pub(crate) struct Key {
    /// As written.
    pub(crate) name: &'static str,
    /// What it holds.
    pub(crate) holds: Holds,
    /// Whether it must be there.
    pub(crate) need: Need,
    /// One sentence for editor and guide.
    pub(crate) says: &'static str,
}

/// Whether a key must be there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Need {
    /// In the job or in the catalogue entry that the part names.
    Always,
    /// Left out freely; what then holds is said at the key.
    May,
    /// Belongs to the circuit, not to the part: must be in the job, and cannot be in a catalogue.
    Circuit,
    /// Belongs to the circuit and may be left out.
    CircuitMay,
}

/// Keys that stand for one another: what the job writes takes the place of what the catalogue has.
#[derive(Debug)]
pub(crate) struct Alternatives {
    /// The keys.
    pub(crate) keys: &'static [&'static str],
    /// How many of them a table must and may hold.
    pub(crate) count: Count,
}

/// How many of several keys a table holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Count {
    /// One, no more.
    One,
    /// One or none.
    OneOrNone,
    /// Any; where several are given they are compared in reading.
    Any,
}

/// What a key holds.
#[derive(Debug)]
pub(crate) enum Holds {
    /// Free words.
    Text,
    /// The name of a node, a part, a winding.
    Name,
    /// `true` or `false`.
    Truth,
    /// A date.
    Date,
    /// The number of the form of the file.
    Number,
    /// One of a closed list of words.
    Choice(&'static [&'static str]),
    /// A quantity, or a table of drawn, fitted and measured.
    Figure(Kind, Bounds),
    /// A quantity at another: `62 dB at 120 Hz`.
    At(Kind, Bounds, Kind, Bounds),
    /// Two quantities side by side: `60 W 230 V`.
    Pair(Kind, Bounds, Kind, Bounds),
    /// A current and the characteristic of a fuse: `250 mA time-lag`.
    FuseRating,
    /// A quantity whose unit another key decides.
    AnyQuantity,
    /// One of several forms; the first is the usual one.
    AnyOf(&'static [Holds]),
    /// Any number of them.
    List(&'static Holds),
    /// Two node names.
    Ends,
    /// A table.
    Table(&'static Keys),
    /// A list of tables.
    Tables(&'static Keys),
    /// A table whose keys the builder chooses.
    Named(&'static Holds),
    /// Tables under names that the builder chooses: `[capacitor.C1]`.
    NamedTables(&'static Keys),
}

/// Which values a quantity can take, its whole tolerance included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Bounds {
    /// Zero or more.
    NotNegative,
    /// More than zero.
    Positive,
    /// Less than zero.
    Negative,
    /// More or less than zero, all of it on one side.
    NotZero,
    /// From one value to another, both included.
    Within(f64, f64),
}

/// Two quantities that stand side by side, as somebody would write them: a rating of a lamp, the mains of a region, an input.
pub(crate) fn pair_example(first: Kind, second: Kind) -> String {
    match (first, second) {
        (Kind::Watts, Kind::Volts) => "60 W 230 V".to_owned(),
        (Kind::Volts, Kind::Hertz) => "230 V 50 Hz".to_owned(),
        (Kind::Volts, Kind::Amperes) => "12 V 1.5 A".to_owned(),
        (Kind::Ohms, Kind::Farads) => "10 MΩ 100 pF".to_owned(),
        _ => format!("{} {}", first.example(), second.example()),
    }
}

impl Keys {
    /// The table of this one that holds a key: where it would belong, if it does not belong here.
    pub(crate) fn table_with(&self, name: &str) -> Option<&'static str> {
        let holds = |key: &&Key| match &key.holds {
            Holds::Table(inner) | Holds::Tables(inner) => inner.key(name).is_some(),
            _ => false,
        };
        self.keys.iter().find(holds).map(|key| key.name)
    }

    /// The key of that name.
    pub(crate) fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|key| key.name == name)
    }

    /// The names of all keys.
    pub(crate) fn names(&self) -> impl Iterator<Item = &'static str> {
        self.keys.iter().map(|key| key.name)
    }
}

impl Bounds {
    /// Whether a value with that range may stand there.
    pub(crate) fn allow(self, low: f64, high: f64) -> bool {
        match self {
            Self::NotNegative => low >= 0.0,
            Self::Positive => low > 0.0,
            Self::Negative => high < 0.0,
            Self::NotZero => low > 0.0 || high < 0.0,
            Self::Within(least, most) => low >= least && high <= most,
        }
    }

    /// An example that may stand there: rejection is written positive, a level under the carrier negative.
    pub(crate) fn example(self, kind: Kind) -> &'static str {
        match (kind, self) {
            (Kind::Decibels, Self::NotNegative | Self::Positive) => "60 dB",
            (Kind::Decibels, Self::Within(..)) => "-80 dBc",
            _ => kind.example(),
        }
    }

    /// What may stand there, in words.
    pub(crate) fn words(self) -> String {
        match self {
            Self::NotNegative => "zero or more".to_owned(),
            Self::Positive => "more than zero".to_owned(),
            Self::Negative => "less than zero".to_owned(),
            Self::NotZero => "more than zero, or less all over its range".to_owned(),
            Self::Within(least, most) => {
                let plain = |value: f64| {
                    let fine = format!("{value:.4}");
                    fine.trim_end_matches('0').trim_end_matches('.').to_owned()
                };
                format!("from {} to {}", plain(least), plain(most))
            }
        }
    }
}

impl Holds {
    /// What it holds, in the words of the guide.
    pub(crate) fn words(&self) -> String {
        match self {
            Self::Text => "a text".to_owned(),
            Self::Name => "a name".to_owned(),
            Self::Truth => "true or false".to_owned(),
            Self::Date => "a date, for instance 2026-11-20".to_owned(),
            Self::Number => "a whole number".to_owned(),
            Self::Choice(words) => format!("one of {}", words.join(", ")),
            Self::Figure(kind, bounds) => {
                format!("a text such as \"{}\"", bounds.example(*kind))
            }
            Self::At(kind, bounds, at, _) => {
                let first = bounds.example(*kind);
                format!("a text such as \"{first} at {}\"", at.example())
            }
            Self::Pair(first, _, second, _) => {
                format!("a text such as \"{}\"", pair_example(*first, *second))
            }
            Self::FuseRating => "a text such as \"250 mA time-lag\"".to_owned(),
            Self::AnyQuantity => "a text such as \"20 mV\"".to_owned(),
            Self::AnyOf(forms) => forms
                .iter()
                .map(Self::words)
                .collect::<Vec<_>>()
                .join(", or "),
            Self::List(of) => format!("a list; each item is {}", of.words()),
            Self::Ends => "a list of two nodes, for instance [\"raw\", \"common\"]".to_owned(),
            Self::Table(keys) => format!("a table with {}", first_names(keys)),
            Self::Named(of) => format!("a table; each of its keys has {}", of.words()),
            Self::NamedTables(_) => "a table".to_owned(),
            Self::Tables(keys) => format!("a list of tables with {}", first_names(keys)),
        }
    }
}

/// The first keys of a table: `least, esr`.
fn first_names(keys: &Keys) -> String {
    const TOLD: usize = 5;
    let names: Vec<&str> = keys.names().collect();
    let more = if names.len() > TOLD { ", ..." } else { "" };
    let told = &names[..names.len().min(TOLD)];
    format!("`{}`{more}", told.join("`, `"))
}

/// A key that must be there.
const fn must(name: &'static str, holds: Holds, says: &'static str) -> Key {
    Key {
        name,
        holds,
        need: Need::Always,
        says,
    }
}

/// A key that may be left out.
const fn may(name: &'static str, holds: Holds, says: &'static str) -> Key {
    Key {
        name,
        holds,
        need: Need::May,
        says,
    }
}

/// A key of the circuit that must be there.
const fn circuit(name: &'static str, holds: Holds, says: &'static str) -> Key {
    Key {
        name,
        holds,
        need: Need::Circuit,
        says,
    }
}

/// A key of the circuit that may be left out.
const fn circuit_may(name: &'static str, holds: Holds, says: &'static str) -> Key {
    Key {
        name,
        holds,
        need: Need::CircuitMay,
        says,
    }
}

/// Exactly one of these keys.
const fn one(keys: &'static [&'static str]) -> Alternatives {
    Alternatives {
        keys,
        count: Count::One,
    }
}

/// At most one of these keys.
const fn one_or_none(keys: &'static [&'static str]) -> Alternatives {
    Alternatives {
        keys,
        count: Count::OneOrNone,
    }
}

/// Any of these keys; reading compares them.
const fn any(keys: &'static [&'static str]) -> Alternatives {
    Alternatives {
        keys,
        count: Count::Any,
    }
}
