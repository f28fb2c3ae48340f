//! What a storm came to.

use crate::compare::{APART, Comparison, INEXACT};
use crate::digest::Digest;
use crate::judge::Refusal;
use crate::solve::{Fate, Outcome, Settled, State};
use quietrail_engine::Ended;
use quietrail_study::solve::Trouble;
use std::collections::BTreeMap;
use std::time::Duration;

/// Solutions of which one may be missed.
const MISSED: u64 = 10_000;
/// Time that no solution should take. It is told, and judged by people: it is the machine's.
const SLOW: Duration = Duration::from_secs(2);

/// Counts over all jobs.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    jobs: u64,
    unread: u64,
    solutions: u64,
    settled: u64,
    refused: BTreeMap<Refusal, u64>,
    not_found: BTreeMap<&'static str, u64>,
    panics: u64,
    slowest: Duration,
    slowest_job: String,
    slow: u64,
    /// Jobs with a regulator that drops out for a part of the cycle, in some state.
    dropping: u64,
    /// Jobs with a load that gets too little, in some state.
    starved: u64,
    compared: u64,
    not_compared: u64,
    /// States that count as such.
    unjudged: Vec<String>,
    disagreed: u64,
    inexact: u64,
    furthest_reduced: f64,
    furthest_working: f64,
    digest: Digest,
}

/// Something wrong with a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Offence {
    /// A word or two for its kind, fit for a file name.
    pub kind: &'static str,
    /// Details.
    pub says: String,
}

impl Tally {
    /// Counts the next job in; returns what is wrong with it.
    pub fn add(&mut self, name: &str, fate: &Fate) -> Vec<Offence> {
        self.jobs += 1;
        self.digest.add(fate);
        let states = match fate {
            Fate::Unread(says) => {
                self.unread += 1;
                return vec![offence("unread", says.clone())];
            }
            Fate::Solved(states) => states,
        };
        let mut offences = Vec::new();
        for (index, state) in states.iter().enumerate() {
            if state.is_unjudged() {
                self.unjudged.push(format!("{name} state {}", index + 1));
            }
            for mut found in self.state(name, state) {
                found.says = format!("state {}: {}", index + 1, found.says);
                offences.push(found);
            }
        }
        let any = |is: &dyn Fn(&Settled) -> bool| {
            u64::from(states.iter().any(|state| match &state.outcome {
                Outcome::Settled(settled) => is(settled),
                _ => false,
            }))
        };
        self.dropping += any(&|settled| settled.drops_out_partly);
        self.starved += any(&|settled| settled.is_starved);
        offences
    }

    fn state(&mut self, name: &str, state: &State) -> Vec<Offence> {
        let mut offences = Vec::new();
        self.solutions += 1;
        if state.took > self.slowest {
            self.slowest = state.took;
            name.clone_into(&mut self.slowest_job);
        }
        if state.took > SLOW {
            self.slow += 1;
            let says = format!("{:.2} s", state.took.as_secs_f64());
            offences.push(offence("slow", says));
        }
        match &state.outcome {
            Outcome::Settled(settled) => {
                self.settled += 1;
                if let Some(comparison) = &settled.comparison {
                    offences.extend(self.comparison(comparison));
                }
            }
            Outcome::RefusedRightly(refusal) => *self.refused.entry(*refusal).or_default() += 1,
            Outcome::NotFound(trouble) => {
                let kind = kind(trouble);
                *self.not_found.entry(kind).or_default() += 1;
                let says = format!("{trouble}, {trouble:?}");
                offences.push(offence(kind, says));
            }
            Outcome::Panicked(words) => {
                self.panics += 1;
                offences.push(offence("panic", words.clone()));
            }
        }
        offences
    }

    fn comparison(&mut self, comparison: &Comparison) -> Option<Offence> {
        let (reduced, working) = match comparison {
            Comparison::Found { reduced, working } => (reduced, working),
            Comparison::Unsettled { whole, reduced } => {
                self.not_compared += 1;
                let says = format!("whole {whole}, reduced {reduced}");
                return Some(offence("unjudged", says));
            }
        };
        self.compared += 1;
        self.furthest_reduced = self.furthest_reduced.max(reduced.apart);
        self.furthest_working = self.furthest_working.max(working.apart);
        if reduced.apart > APART {
            self.disagreed += 1;
            return Some(offence("disagreed", format!("{reduced:?}")));
        }
        if working.apart > INEXACT {
            self.inexact += 1;
            return Some(offence("inexact", format!("{working:?}")));
        }
        None
    }

    /// Jobs counted so far.
    pub fn jobs(&self) -> u64 {
        self.jobs
    }

    /// The one line: numbers, and a digest of all figures.
    pub fn json(&self) -> serde_json::Value {
        let refused: BTreeMap<&str, u64> = self
            .refused
            .iter()
            .map(|(refusal, count)| (refusal.words(), *count))
            .collect();
        serde_json::json!({
            "jobs": self.jobs,
            "solutions": self.solutions,
            "settled": self.settled,
            "refused_rightly": refused.values().sum::<u64>(),
            "not_found": self.missed(),
            "panics": self.panics,
            "slowest_s": self.slowest.as_secs_f64(),
            "slowest_job": self.slowest_job,
            "over_2_s": self.slow,
            "refused_because": refused,
            "not_found_because": self.not_found,
            "unread": self.unread,
            "with_partial_dropout": self.dropping,
            "with_starved_load": self.starved,
            "compared": self.compared,
            "not_compared": self.not_compared,
            "unjudged": self.unjudged,
            "disagreed": self.disagreed,
            "inexact": self.inexact,
            "furthest_reduced": self.furthest_reduced,
            "furthest_working": self.furthest_working,
            "digest": self.digest.text(),
        })
    }

    fn missed(&self) -> u64 {
        self.not_found.values().sum()
    }

    /// Whether all is well: no panic, every job read, no disagreement, every working answer as exact as it
    /// should be, and at most one steady state in ten thousand not found.
    pub fn is_clean(&self) -> bool {
        let bad = self.panics + self.unread + self.disagreed + self.inexact;
        bad == 0 && self.missed() * MISSED <= self.solutions
    }
}

fn offence(kind: &'static str, says: String) -> Offence {
    Offence { kind, says }
}

/// A word for the way in which a steady state was not found.
fn kind(trouble: &Trouble) -> &'static str {
    match trouble {
        Trouble::Change(_) => "change",
        Trouble::Value { .. } => "value",
        Trouble::Runaway { .. } => "heat",
        Trouble::TurnedRound(_) => "turned-round",
        Trouble::Ended { ended, .. } => match ended {
            Ended::Settled { .. } => "settled",
            Ended::Unstable { .. } => "unstable",
            Ended::Swings { .. } => "swings",
            Ended::CyclesSpent { .. } => "cycles-spent",
            Ended::StepsSpent => "steps-spent",
            Ended::NoStep { .. } => "no-step",
            Ended::Singular { .. } => "singular",
        },
    }
}

#[cfg(test)]
mod tests {
    use super::Tally;
    use crate::compare::{Comparison, Distance};
    use crate::judge::Refusal;
    use crate::solve::{Fate, Outcome, Settled, State};
    use quietrail_engine::Ended;
    use quietrail_study::solve::Trouble;
    use std::time::Duration;

    fn state(outcome: Outcome) -> State {
        State {
            outcome,
            took: Duration::from_millis(20),
        }
    }

    fn settled(comparison: Option<Comparison>) -> State {
        state(Outcome::Settled(Settled {
            figures: vec![1.0],
            drops_out_partly: true,
            is_starved: false,
            comparison,
        }))
    }

    fn not_found() -> State {
        let ended = Ended::StepsSpent;
        let place = String::new();
        state(Outcome::NotFound(Trouble::Ended { ended, place }))
    }

    fn found(reduced: f64, working: f64) -> Option<Comparison> {
        let distance = |apart| Distance {
            apart,
            figure: String::new(),
            one: 0.0,
            other: 0.0,
        };
        Some(Comparison::Found {
            reduced: distance(reduced),
            working: distance(working),
        })
    }

    #[test]
    fn one_in_ten_thousand_may_be_missed_and_no_more() {
        let mut tally = Tally::default();
        for _ in 0..9_999 {
            tally.add("", &Fate::Solved(vec![settled(None)]));
        }
        tally.add("", &Fate::Solved(vec![not_found()]));
        assert!(tally.is_clean());
        let offences = tally.add("", &Fate::Solved(vec![settled(None), not_found()]));
        assert!(!tally.is_clean());
        assert_eq!(offences[0].kind, "steps-spent");
        assert!(offences[0].says.starts_with("state 2: "));
    }

    /// A solution that the other way does not find is neither right nor wrong; it must not be forgotten either.
    #[test]
    fn what_the_other_way_does_not_find_is_named() {
        let unsettled = Comparison::Unsettled {
            whole: "StepsSpent".to_owned(),
            reduced: String::new(),
        };
        let mut tally = Tally::default();
        let fate = Fate::Solved(vec![settled(None), settled(Some(unsettled))]);
        let offences = tally.add("7-3", &fate);
        assert_eq!(offences[0].kind, "unjudged");
        assert!(offences[0].says.contains("StepsSpent"), "{offences:?}");
        let json = tally.json();
        assert_eq!(json["not_compared"], 1);
        assert_eq!(json["unjudged"], serde_json::json!(["7-3 state 2"]));
        assert!(tally.is_clean());
    }

    #[test]
    fn each_fault_alone_is_enough() {
        let faults = [
            Fate::Unread(String::new()),
            Fate::Solved(vec![state(Outcome::Panicked(String::new()))]),
            Fate::Solved(vec![settled(found(2e-6, 2e-6))]),
            Fate::Solved(vec![settled(found(1e-7, 2e-5))]),
            Fate::Solved(vec![settled(found(f64::INFINITY, 0.0))]),
        ];
        for fault in faults {
            let mut tally = Tally::default();
            assert_eq!(tally.add("", &fault).len(), 1);
            assert!(!tally.is_clean(), "{fault:?}");
        }
        let mut tally = Tally::default();
        let refused = state(Outcome::RefusedRightly(Refusal::HeatRunsAway));
        tally.add("", &Fate::Solved(vec![settled(found(9e-7, 9e-6)), refused]));
        assert!(tally.is_clean());
        let json = tally.json();
        assert_eq!(json["solutions"], 2);
        assert_eq!(json["settled"], 1);
        assert_eq!(json["refused_rightly"], 1);
        assert_eq!(json["compared"], 1);
        assert_eq!(json["with_partial_dropout"], 1);
    }
}
