//! Which readings may decide a limit: those of the whole job, once the rows before their step are read.
//!
//! A reading that names no step and needs power is of the first step in which the job is whole and draws what the reading's
//! state says. While that step is locked the reading is kept and shows nothing: a *holds* would be one more reason to go on.
//! What fails, fails: a lock never hides a failure.

use super::{BringUp, Kind, Lock, bring_up, counts_for_limits};
use crate::solve::Trouble;
use quietrail_bench::log::{Log, Observed, Row};
use quietrail_engine::Options;
use quietrail_job::model::Job;

/// The steps of a bring-up as far as readings of limits care.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gate {
    steps: Vec<Entry>,
}

#[derive(Clone, Debug, PartialEq)]
struct Entry {
    name: String,
    kind: Kind,
    state: String,
    is_open: bool,
    locks: Vec<Lock>,
}

/// A reading whose step is locked.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// The step that it is of.
    pub step: String,
    /// Whether the reading names that step itself.
    pub is_named: bool,
    /// What keeps it locked.
    pub locks: Vec<Lock>,
}

impl Gate {
    /// As the readings of a log leave it.
    ///
    /// # Errors
    /// As [`bring_up`].
    pub fn of(job: &Job, log: &Log, options: &Options) -> Result<Self, Trouble> {
        bring_up(job, log, Some(super::LOCKS_ALONE), options).map(|found| Self::from(&found))
    }

    /// Whether a reading is one of the whole job, not of a step in which parts are missing or something stands before it.
    pub fn is_whole(&self, row: &Row) -> bool {
        let own = self.steps.iter().find(|step| step.name == row.step);
        row.step.is_empty() || own.is_none_or(|step| counts_for_limits(step.kind))
    }

    /// The step that a reading is of: the one that it names; else, where it needs power, the first in which the job is whole
    /// and in the reading's state.
    pub fn step_of(&self, row: &Row) -> Option<&str> {
        self.candidates(row).first().map(|step| step.name.as_str())
    }

    /// What keeps a reading from deciding anything; `None` where nothing does.
    pub fn held(&self, row: &Row) -> Option<Held> {
        let all = self.candidates(row);
        let first = all.first()?;
        if all.iter().any(|step| step.is_open) {
            return None;
        }
        Some(Held {
            step: first.name.clone(),
            is_named: !row.step.is_empty(),
            locks: first.locks.clone(),
        })
    }

    /// The steps in which a reading may have been taken.
    fn candidates(&self, row: &Row) -> Vec<&Entry> {
        let steps = self.steps.iter();
        if !row.step.is_empty() {
            return steps.filter(|step| step.name == row.step).collect();
        }
        // A floor is the instrument's own.
        if !needs_power(row.what) || row.setup.is_shorted {
            return Vec::new();
        }
        let whole: Vec<&Entry> = steps.filter(|step| counts_for_limits(step.kind)).collect();
        let in_state = whole.iter().copied().filter(|step| step.state == row.state);
        let in_state: Vec<&Entry> = in_state.collect();
        if !in_state.is_empty() {
            return in_state;
        }
        if !whole.is_empty() {
            return whole;
        }
        let powered = |step: &&Entry| !matches!(step.kind, Kind::PowerOff | Kind::ClampProof);
        self.steps.iter().rev().find(powered).into_iter().collect()
    }
}

/// Whether something is read of the supply with its power on. Ohms are read with the plug out; an oscillator may run elsewhere.
pub fn needs_power(what: Observed) -> bool {
    matches!(what, Observed::Statistic(_) | Observed::RmsVoltage)
}

impl From<&BringUp> for Gate {
    fn from(found: &BringUp) -> Self {
        let entry = |step: &super::Step| Entry {
            name: step.name.clone(),
            kind: step.kind,
            state: step.state.clone(),
            is_open: step.is_open(),
            locks: step.locked_by.clone(),
        };
        Self {
            steps: found.steps.iter().map(entry).collect(),
        }
    }
}
