//! Which readings may decide a limit: those of the whole job, once the rows before their step are read.
//!
//! A reading that names no step and needs power is of the first step in which the job is whole and draws what the reading's
//! state says. While that step is locked the reading is kept and shows nothing: a *holds* would be one more reason to go on.
//! What fails, fails: a lock never hides a failure.

use quietrail_bench::log::{Observed, Row};

/// The steps of a bring-up as far as readings of limits care, in their order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gate {
    /// Each step.
    pub steps: Vec<Gated>,
    /// The rows that later steps wait for.
    pub awaited: Vec<Awaited>,
}

/// A row that later steps wait for, with what was read of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Awaited {
    /// Index of the step that it is of.
    pub step: usize,
    /// Rows of the log that read it, in their order, and whether each lets later steps go on.
    pub readings: Vec<(u64, bool)>,
}

/// A step as the gate sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Gated {
    /// Its name.
    pub name: String,
    /// State of the loads; empty where none draws.
    pub state: String,
    /// Whether mains is on.
    pub is_powered: bool,
    /// Whether the job is whole in it, so that its readings count for limits.
    pub is_whole: bool,
    /// Whether it may be done.
    pub is_open: bool,
    /// What keeps it locked.
    pub locks: Vec<Lock>,
    /// Row of the log that says why it is done regardless.
    pub regardless: Option<u64>,
}

/// What keeps a step locked.
#[derive(Clone, Debug, PartialEq)]
pub struct Lock {
    /// The step that the row is of.
    pub step: String,
    /// The point.
    pub of: String,
    /// What is to be read.
    pub what: Observed,
    /// Whether it has no reading, or one that does not fit.
    pub why: Why,
}

/// Why a row keeps others locked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// Nothing was read.
    NotRead,
    /// What was read does not fit.
    DoesNotFit,
    /// A safety row was read outside its limit, by less than the instrument may err: that shows nothing.
    NotShown,
    /// A safety row has a figure that nothing may be compared with.
    NotCompared,
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

/// A reading that was taken while its step was locked, and counts because going on regardless is logged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Regardless {
    /// The step.
    pub step: String,
    /// Row of the log that says why.
    pub by: u64,
}

impl Gate {
    /// What was read before the last step and is not in order.
    pub fn misfits(&self) -> Vec<Lock> {
        let last = self.steps.last().map_or(&[][..], |step| &step.locks);
        let wrong = last.iter().filter(|lock| lock.why != Why::NotRead);
        wrong.cloned().collect()
    }

    /// Whether a reading is one of the whole job, not of a step in which parts are missing or something stands before it.
    pub fn is_whole(&self, row: &Row) -> bool {
        let own = self.steps.iter().find(|step| step.name == row.step);
        row.step.is_empty() || own.is_none_or(|step| step.is_whole)
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

    /// Whether a reading counts only because going on regardless is logged: when it was taken, rows before its step were not read,
    /// or did not fit. What is read of them later does not change that.
    pub fn regardless(&self, row: &Row) -> Option<Regardless> {
        let all = self.candidates(row);
        let was_locked = |step: &&&Gated| {
            let index = self.steps.iter().position(|own| own.name == step.name);
            let mut before = self
                .awaited
                .iter()
                .filter(|one| index.is_some_and(|index| one.step < index));
            step.is_powered
                && before.any(|one| {
                    let earlier = one.readings.iter().rev().find(|(own, _)| *own < row.row);
                    earlier.is_none_or(|(_, lets)| !lets)
                })
        };
        let open: Vec<&Gated> = all.into_iter().filter(|step| step.is_open).collect();
        if open.iter().find(|step| !was_locked(step)).is_some() {
            return None;
        }
        let first = open.iter().find(|step| step.regardless.is_some())?;
        Some(Regardless {
            step: first.name.clone(),
            by: first.regardless?,
        })
    }

    /// The steps in which a reading may have been taken.
    fn candidates(&self, row: &Row) -> Vec<&Gated> {
        let steps = self.steps.iter();
        if !row.step.is_empty() {
            return steps.filter(|step| step.name == row.step).collect();
        }
        // A floor is the instrument's own.
        if !needs_power(row.what) || row.setup.is_shorted {
            return Vec::new();
        }
        let whole: Vec<&Gated> = steps.filter(|step| step.is_whole).collect();
        let in_state = whole.iter().copied().filter(|step| step.state == row.state);
        let in_state: Vec<&Gated> = in_state.collect();
        if !in_state.is_empty() {
            return in_state;
        }
        if !whole.is_empty() {
            return whole;
        }
        let mut last = self.steps.iter().rev();
        last.find(|step| step.is_powered).into_iter().collect()
    }
}

/// Whether something is read of the supply with its power on. Ohms are read with the plug out; an oscillator may run elsewhere.
pub fn needs_power(what: Observed) -> bool {
    matches!(what, Observed::Statistic(_) | Observed::RmsVoltage)
}
