//! Jobs as text, such as a builder could write, and some that no builder would.
//!
//! Figures are chosen by rough sums, so that most rails work and the rest fail in ways that benches know. All
//! bounds of the choices are ours: they decide which jobs come up, not what is computed for them.

mod load;
mod mains;
mod pass;
mod rail;
mod regulator;
mod winding;

use crate::chance::Chance;
use std::collections::BTreeSet;
use std::fmt::Write;
use winding::{Core, Fed};

/// A job made up.
#[derive(Clone, Debug)]
pub struct Made {
    /// The text of `job.toml`.
    pub text: String,
    /// What it is meant to suffer from.
    pub aims: BTreeSet<Aim>,
}

/// A trouble that a job is made to have. Rough sums aim at it; only solving tells whether it was hit, and the
/// storm counts that too.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Aim {
    /// A regulator whose input is too low for a part of each cycle.
    PartialDropout,
    /// A load of many times what the winding can feed, a short, mains turned down, an open switch.
    OverloadOrDeadRail,
}

/// Least share of the jobs of a storm that must have each aim.
pub const AIMS: [(Aim, f64); 2] = [(Aim::PartialDropout, 0.20), (Aim::OverloadOrDeadRail, 0.10)];

/// Fewest and most nodes aimed at, and how often: the bands of [`crate::census::QUOTAS`], with room for what
/// a rail adds beyond its budget.
const SIZES: [(u64, u64, f64); 4] = [
    (7, 12, 0.32),
    (16, 27, 0.28),
    (31, 42, 0.20),
    (47, 57, 0.20),
];

/// The numbered job of a storm.
pub fn job(seed: u64, number: u64) -> Made {
    let mut draft = Draft::new(Chance::of(seed, number));
    draft.mains();
    draft.rails();
    draft.finish()
}

/// A job under way.
struct Draft {
    chance: Chance,
    aims: BTreeSet<Aim>,
    states: &'static [&'static str],
    /// Text ahead of the transformers.
    head: String,
    cores: Vec<Core>,
    /// Text after them.
    tail: String,
    /// Nodes named so far; those of windings are counted apart.
    nodes: BTreeSet<String>,
    /// Nodes aimed at.
    size: usize,
    mains_volts: f64,
    hertz: f64,
    parts: usize,
    /// Return wires that rails may share.
    returns: Vec<String>,
    /// Windings that another rectifier may be put on.
    windings: Vec<Fed>,
    has_sink: bool,
    is_esr_none: bool,
    is_dropping: bool,
    overload: Option<Overload>,
    diode: DiodeChoice,
}

/// How a job is overloaded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Overload {
    /// Loads of many times what is meant.
    Loads,
    /// A low resistance across a raw node.
    Short,
    /// Mains turned down.
    LowMains,
    /// A switch that is open.
    Open,
}

/// Which diodes a job uses: mostly of one kind, as one drawer holds them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum DiodeChoice {
    Points,
    Law,
    Catalogue,
    Ideal,
    WithoutSlope,
    Mixed,
}

const STATES: [&[&str]; 3] = [&["on"], &["idle", "on"], &["idle", "cold", "warm"]];

impl Draft {
    fn new(mut chance: Chance) -> Self {
        let states = chance.one_of(&STATES);
        let size = size(&mut chance);
        let is_esr_none = chance.happens(0.14);
        let is_dropping = chance.happens(0.42);
        // An overload hides a dropout: a job is made to have one or the other.
        let is_overloaded = !is_dropping && chance.happens(0.32);
        let overload = chance.one_of(&[
            Overload::Loads,
            Overload::Loads,
            Overload::Short,
            Overload::LowMains,
            Overload::Open,
            Overload::Open,
        ]);
        let diode = chance.one_of(&[
            DiodeChoice::Points,
            DiodeChoice::Law,
            DiodeChoice::Catalogue,
            DiodeChoice::Catalogue,
            DiodeChoice::Ideal,
            DiodeChoice::WithoutSlope,
            DiodeChoice::Mixed,
        ]);
        Self {
            chance,
            aims: BTreeSet::new(),
            states,
            head: String::from("format = 1\n"),
            cores: Vec::new(),
            tail: String::new(),
            nodes: ["common", "inlet.live", "inlet.neutral"]
                .map(str::to_owned)
                .into(),
            size,
            mains_volts: 230.0,
            hertz: 50.0,
            parts: 0,
            returns: Vec::new(),
            windings: Vec::new(),
            has_sink: false,
            is_esr_none,
            is_dropping,
            overload: is_overloaded.then_some(overload),
            diode,
        }
    }

    /// A name that no other part has.
    fn name(&mut self, letter: &str) -> String {
        self.parts += 1;
        format!("{letter}{}", self.parts)
    }

    /// Takes a node into the count.
    fn node(&mut self, name: &str) {
        self.nodes.insert(name.to_owned());
    }

    /// Nodes that may still be added.
    fn room(&self) -> usize {
        let windings: usize = self.cores.iter().map(Core::nodes).sum();
        self.size.saturating_sub(self.nodes.len() + windings)
    }

    /// Rails until the job is as large as it should be.
    fn rails(&mut self) {
        let mut number = 1;
        while number == 1 || self.room() >= 4 {
            self.rail(number);
            number += 1;
        }
        if self.overload == Some(Overload::Short) {
            self.aims.insert(Aim::OverloadOrDeadRail);
            let name = self.name("R");
            let ohms = self.chance.octaves(0.02, 1.0);
            let _ = writeln!(
                self.tail,
                "[resistor.{name}]\nbetween = [\"raw1\", \"{}\"]\nvalue = \"{ohms:.3} Ω\"",
                self.windings[0].ret
            );
        }
    }

    fn finish(mut self) -> Made {
        let mut text = self.head;
        for core in &self.cores {
            text.push_str(&core.text());
        }
        text.push_str(&self.tail);
        if self.has_sink {
            let kelvins = self.chance.within(1.5, 9.0);
            let _ = writeln!(text, "[sink.SK1]\nto_air = \"{kelvins:.1} K/W\"");
        }
        Made {
            text,
            aims: self.aims,
        }
    }
}

fn size(chance: &mut Chance) -> usize {
    let mut share = chance.share();
    for (least, most, part) in SIZES {
        if share < part {
            return chance.count(least, most) as usize;
        }
        share -= part;
    }
    SIZES[0].0 as usize
}

#[cfg(test)]
mod tests {
    use super::job;
    use crate::census::{Census, NODES, features, nodes};

    /// Every job is read as any other, and what is counted is what was read, not what was meant.
    #[test]
    fn three_thousand_jobs_can_be_read_and_keep_the_quotas() {
        let mut census = Census::default();
        for number in 0..3000 {
            let made = job(1, number);
            let reading = quietrail_job::read(&made.text, None);
            let read = reading.job.unwrap_or_else(|| {
                panic!("job {number}: {:#?}\n{}", reading.diagnostics, made.text)
            });
            let nodes = nodes(&read);
            assert!(NODES.contains(&nodes), "job {number}: {nodes} nodes");
            census.add(&features(&read), &made.aims);
        }
        let quotas = census.quotas();
        assert!(quotas.len() > 60 && quotas.iter().all(|quota| quota.least >= 0.03));
        let missed = quotas.iter().filter(|quota| quota.share < quota.least);
        let missed: Vec<_> = missed.collect();
        assert!(missed.is_empty(), "{missed:#?}");
    }

    #[test]
    fn a_seed_settles_the_text() {
        assert_eq!(job(3, 5).text, job(3, 5).text);
        assert_ne!(job(3, 5).text, job(4, 5).text);
        assert_ne!(job(3, 5).text, job(3, 6).text);
    }
}
