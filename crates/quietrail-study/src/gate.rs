//! Which readings may decide a limit or open a step: those of the whole job, taken once the rows before their step were read.
//!
//! One rule, for readings that name their step and for those that do not: a reading counts by what stood in the log before it. While
//! its step is locked it is kept and decides nothing, and it does not come to count by what is written later; it is taken again. So
//! nothing that was typed is lost, and nothing that was read behind a lock becomes one more reason to go on. What fails, fails:
//! a lock never hides a failure.
//!
//! A reading that names no step and needs power is of the first step in which the job is whole and draws what the reading's
//! state says.

use quietrail_bench::log::{Observed, Row};
use std::collections::BTreeMap;

/// Readings this close to an end of the mains range count as taken there, as a share: what a meter errs by, and a mains that
/// stands as well as a hand sets it.
pub(crate) const NEAR_END: f64 = 0.01;

/// The steps of a bring-up as far as readings of limits care, in their order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gate {
    /// Each step.
    pub steps: Vec<Gated>,
    /// The rows of the steps, with what was read of them.
    pub heeded: Vec<Heeded>,
    /// Rows that correct others, each with the number under which the reading was first written.
    pub first_written: BTreeMap<u64, u64>,
}

/// A row of a step that later steps heed.
#[derive(Clone, Debug, PartialEq)]
pub struct Heeded {
    /// Index of the step that it is of.
    pub step: usize,
    /// Name of that step.
    pub of_step: String,
    /// The point.
    pub of: String,
    /// What is read.
    pub what: Observed,
    /// Whether later steps wait for a reading of it.
    pub is_awaited: bool,
    /// What was read, in the order in which it was first written.
    pub readings: Vec<Seen>,
}

/// A reading as later steps see it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// Row of the log.
    pub row: u64,
    /// The number under which it was first written.
    pub at: u64,
    /// What it says against going on.
    pub against: Option<Why>,
    /// Whether it was taken while its own step was locked, or short of the mains that its step is for: it opens nothing.
    pub is_held: bool,
}

/// A step as the gate sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Gated {
    /// Its name.
    pub name: String,
    /// State of the loads; empty where none draws.
    pub state: String,
    /// Whether rows before it can lock it: all but the step with the power off.
    pub is_gated: bool,
    /// Whether mains is on.
    pub is_powered: bool,
    /// Whether the job is whole in it, so that its readings count for limits.
    pub is_whole: bool,
    /// Whether it may be done.
    pub is_open: bool,
    /// What keeps it locked.
    pub locks: Vec<Lock>,
    /// Rows of the log that say why it is done regardless.
    pub gone_on: Vec<u64>,
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
    /// Row of the log that does not fit; none where nothing was read.
    pub row: Option<u64>,
}

/// Why a row keeps others locked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// Nothing was read.
    NotRead,
    /// What was read decides nothing: its step was locked, or the mains was not at the end that the step is for.
    ReadAgain,
    /// What was read does not fit.
    DoesNotFit,
    /// A safety row was read outside its limit, by less than the instrument may err: that shows nothing.
    NotShown,
    /// A safety row has a figure that nothing may be compared with.
    NotCompared,
}

/// A reading that decides nothing, as its step is locked, or was when it was taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// The step that it is of.
    pub step: String,
    /// Whether the reading names that step itself.
    pub is_named: bool,
    /// Whether it was locked when the reading was taken; else it has come to be locked since.
    pub was_locked: bool,
    /// What keeps it locked, or did.
    pub locks: Vec<Lock>,
}

/// A reading that was taken while its step was locked, and counts because going on regardless was logged before it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Regardless {
    /// The step.
    pub step: String,
    /// Row of the log that says why.
    pub by: u64,
}

/// How a step stood when something was read in it.
enum Stood {
    /// Nothing kept it locked.
    Open,
    /// It was locked, and this row of the log goes on regardless.
    GonePast(u64),
    /// It was locked.
    Locked(Vec<Lock>),
}

impl Gate {
    /// What was read before the last step and is not in order.
    pub fn misfits(&self) -> Vec<Lock> {
        let last = self.steps.last().map_or(&[][..], |step| &step.locks);
        let wrong = last.iter().filter(|lock| !lock.why.is_missing());
        wrong.cloned().collect()
    }

    /// Whether a reading is one of the whole job, not of a step in which parts are missing or something stands before it.
    pub fn is_whole(&self, row: &Row) -> bool {
        let own = self.steps.iter().find(|step| step.name == row.step);
        row.step.is_empty() || own.is_none_or(|step| step.is_whole)
    }

    /// The step that a reading is of: the one that it names; else, where it needs power, the first in which the job is whole
    /// and in the reading's state.
    pub fn step_of<'a>(&'a self, row: &'a Row) -> Option<&'a str> {
        if !row.step.is_empty() {
            return Some(&row.step);
        }
        self.candidates(row).first().map(|step| step.name.as_str())
    }

    /// What keeps a reading from deciding anything; `None` where nothing does.
    pub fn held(&self, row: &Row) -> Option<Held> {
        let all = self.candidates(row);
        let first = *all.first()?;
        let counts =
            |step: &&Gated| step.is_open && !matches!(self.stood(step, row), Stood::Locked(_));
        if all.iter().copied().any(|step| counts(&step)) {
            return None;
        }
        let (was_locked, locks) = match self.stood(first, row) {
            Stood::Locked(locks) if first.is_open => (true, locks),
            Stood::Locked(_) => (true, first.locks.clone()),
            Stood::Open | Stood::GonePast(_) => (false, first.locks.clone()),
        };
        Some(Held {
            step: first.name.clone(),
            is_named: !row.step.is_empty(),
            was_locked,
            locks,
        })
    }

    /// Whether a reading counts only because going on regardless was logged before it: when it was taken, rows before its step
    /// were not read, or did not fit. What is read of them later does not change that.
    pub fn regardless(&self, row: &Row) -> Option<Regardless> {
        let mut found = None;
        for step in self.candidates(row).into_iter().filter(|step| step.is_open) {
            match self.stood(step, row) {
                Stood::Open => return None,
                Stood::GonePast(by) => {
                    let step = step.name.clone();
                    found = found.or(Some(Regardless { step, by }));
                }
                Stood::Locked(_) => {}
            }
        }
        found
    }

    fn stood(&self, step: &Gated, row: &Row) -> Stood {
        let index = self.steps.iter().position(|own| own.name == step.name);
        let at = self.first_written.get(&row.row).copied();
        match index.filter(|_| step.is_gated) {
            Some(index) => stood(&self.heeded, index, at.unwrap_or(row.row), &step.gone_on),
            None => Stood::Open,
        }
    }

    /// The steps in which a reading may have been taken.
    fn candidates(&self, row: &Row) -> Vec<&Gated> {
        let steps = self.steps.iter();
        // A floor is the instrument's own.
        if !needs_power(row.what) || row.setup.is_shorted {
            return Vec::new();
        }
        if !row.step.is_empty() {
            return steps.filter(|step| step.name == row.step).collect();
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

/// Whether a reading in a step was taken while it was locked, and nothing had been logged that goes past that.
pub(crate) fn is_held(heeded: &[Heeded], step: usize, at: u64, gone_on: &[u64]) -> bool {
    matches!(stood(heeded, step, at, gone_on), Stood::Locked(_))
}

/// What keeps a step locked by all that is in the log, and whether going on regardless was logged after all of it was there.
pub(crate) fn locks_now(heeded: &[Heeded], step: usize, gone_on: &[u64]) -> (Vec<Lock>, bool) {
    let mut locks: Vec<Lock> = standing(heeded, step, u64::MAX)
        .into_iter()
        .map(|(lock, _)| lock)
        .collect();
    // What is wrong before what is missing.
    locks.sort_by_key(|lock| lock.why.is_missing());
    let newest = locks.iter().filter_map(|lock| lock.row).max();
    let is_past = gone_on
        .last()
        .is_some_and(|by| newest.is_none_or(|row| row < *by));
    (locks, is_past)
}

fn stood(heeded: &[Heeded], step: usize, at: u64, gone_on: &[u64]) -> Stood {
    let locks = standing(heeded, step, at);
    if locks.is_empty() {
        return Stood::Open;
    }
    let newest = locks.iter().map(|(_, since)| *since).max().unwrap_or(0);
    let past = gone_on.iter().rev().find(|by| **by < at && **by > newest);
    match past {
        Some(by) => Stood::GonePast(*by),
        None => Stood::Locked(locks.into_iter().map(|(lock, _)| lock).collect()),
    }
}

/// Why a row has no reading that counts.
fn unread(one: &Heeded, at: u64) -> Why {
    if one.readings.iter().any(|seen| seen.at < at) {
        Why::ReadAgain
    } else {
        Why::NotRead
    }
}

impl Why {
    /// Whether a reading is wanted, and none speaks against going on.
    pub fn is_missing(self) -> bool {
        matches!(self, Self::NotRead | Self::ReadAgain)
    }
}

/// What stood against a step before a row, each with the number under which that was first written; 0 for what was not read.
///
/// What is read outside its band stands against all later steps, waited for or not: every step's stop rule.
fn standing(heeded: &[Heeded], step: usize, at: u64) -> Vec<(Lock, u64)> {
    let before = heeded.iter().filter(|one| one.step < step);
    let found = before.filter_map(|one| {
        let counts =
            |seen: &&Seen| seen.at < at && (!seen.is_held || seen.against == Some(Why::DoesNotFit));
        let last = one.readings.iter().rev().find(counts);
        let why = match last {
            None => one.is_awaited.then_some(unread(one, at))?,
            Some(seen) => seen
                .against
                .filter(|why| one.is_awaited || *why == Why::DoesNotFit)?,
        };
        let lock = Lock {
            step: one.of_step.clone(),
            of: one.of.clone(),
            what: one.what,
            why,
            row: last.map(|seen| seen.row),
        };
        Some((lock, last.map_or(0, |seen| seen.at)))
    });
    found.collect()
}

/// Whether something is read of the supply with its power on. Ohms are read with the plug out; an oscillator may run elsewhere.
pub fn needs_power(what: Observed) -> bool {
    matches!(what, Observed::Statistic(_) | Observed::RmsVoltage)
}
