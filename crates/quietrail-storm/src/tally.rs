//! What a storm came to.

use crate::solve::{Fate, Outcome, Reason};
use std::collections::BTreeMap;
use std::time::Duration;

/// Counts over all jobs.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Jobs.
    pub jobs: u64,
    /// States of jobs.
    pub solutions: u64,
    /// Of these, settled.
    pub settled: u64,
    /// Without a steady state to report, by reason.
    pub refused_rightly: BTreeMap<Reason, u64>,
    /// Without one although there should be.
    pub not_found: u64,
    /// Jobs that panicked.
    pub panics: u64,
    /// Jobs that could not be read.
    pub unread: u64,
    /// Longest time for one state.
    pub slowest: Duration,
    /// The job that it belongs to.
    pub slowest_job: u64,
    /// Solutions found again another way.
    pub compared: u64,
    /// Of these, those that came out otherwise.
    pub disagreements: u64,
}

/// Something wrong with a job.
#[derive(Clone, Debug)]
pub struct Offence {
    /// A word for its kind, for a file name.
    pub kind: &'static str,
    /// Details.
    pub says: String,
}

impl Tally {
    /// Counts a job in; what is wrong with it.
    pub fn add(&mut self, number: u64, fate: &Fate) -> Vec<Offence> {
        self.jobs += 1;
        let states = match fate {
            Fate::Unread(says) => {
                self.unread += 1;
                return vec![offence("unread", says.clone())];
            }
            Fate::Panicked(says) => {
                self.panics += 1;
                return vec![offence("panic", says.clone())];
            }
            Fate::Solved(states) => states,
        };
        let mut offences = Vec::new();
        for (index, state) in states.iter().enumerate() {
            self.solutions += 1;
            if state.took > self.slowest {
                self.slowest = state.took;
                self.slowest_job = number;
            }
            if state.took > SLOW {
                let says = format!("state {index}: {:.2} s", state.took.as_secs_f64());
                offences.push(offence("slow", says));
            }
            match &state.outcome {
                Outcome::Settled(_) => self.settled += 1,
                Outcome::RefusedRightly(reason) => {
                    *self.refused_rightly.entry(*reason).or_default() += 1;
                }
                Outcome::NotFound(says) => {
                    self.not_found += 1;
                    offences.push(offence("not-found", format!("state {index}: {says}")));
                }
            }
            self.compared += u64::from(state.compared);
            if let Some(found) = &state.disagreement {
                self.disagreements += 1;
                offences.push(offence("disagreement", format!("state {index}: {found:?}")));
            }
        }
        offences
    }

    /// The one line.
    pub fn json(&self) -> serde_json::Value {
        let refused: BTreeMap<&str, u64> = self
            .refused_rightly
            .iter()
            .map(|(reason, count)| (words(*reason), *count))
            .collect();
        serde_json::json!({
            "jobs": self.jobs,
            "solutions": self.solutions,
            "settled": self.settled,
            "refused_rightly": refused.values().sum::<u64>(),
            "refused_because": refused,
            "not_found": self.not_found,
            "panics": self.panics,
            "slowest_s": self.slowest.as_secs_f64(),
            "slowest_job": self.slowest_job,
            "compared": self.compared,
            "disagreements": self.disagreements,
            "unread": self.unread,
        })
    }

    /// Whether nothing is wrong: what continuous integration asks. Time is not judged, as it is the machine's.
    pub fn is_clean(&self) -> bool {
        // One in ten thousand may be missed.
        let missed = self.not_found * 10_000 <= self.solutions;
        missed && self.panics == 0 && self.disagreements == 0 && self.unread == 0
    }
}

/// Time that no solution should take.
const SLOW: Duration = Duration::from_secs(2);

fn offence(kind: &'static str, says: String) -> Offence {
    Offence { kind, says }
}

fn words(reason: Reason) -> &'static str {
    match reason {
        Reason::Runaway => "thermal runaway",
        Reason::UnstableWithPowerLoad => "unstable with a power load",
    }
}
