//! The steps of a bring-up as the gate before limits sees them.

use super::{BringUp, Expectation, Kind, Step, bring_up, counts_for_limits, first_of, keeps};
use crate::gate::{Gate, Gated, Heeded, Seen, is_held, locks_now};
use crate::solve::Trouble;
use quietrail_bench::log::{Log, Observed, Row};
use quietrail_engine::Options;
use quietrail_job::model::Job;
use std::collections::BTreeMap;

/// Which readings of a log may decide a limit.
///
/// # Errors
/// As [`bring_up`].
pub fn gate(job: &Job, log: &Log, options: &Options) -> Result<Gate, Trouble> {
    bring_up(job, log, Some(super::LOCKS_ALONE), options).map(|found| Gate::from(&found))
}

impl From<&BringUp> for Gate {
    fn from(found: &BringUp) -> Self {
        let gated = |step: &Step| Gated {
            name: step.name.clone(),
            state: step.state.clone(),
            is_gated: is_gated(step),
            is_powered: step.kind.is_powered(),
            is_whole: counts_for_limits(step.kind),
            is_open: step.is_open(),
            locks: step.locked_by.clone(),
            gone_on: step.gone_on.clone(),
        };
        let first = &found.first_written;
        let steps = found.steps.iter().enumerate();
        Self {
            steps: found.steps.iter().map(gated).collect(),
            heeded: steps
                .flat_map(|(index, step)| heeded(index, step, first))
                .collect(),
            first_written: first.clone(),
        }
    }
}

fn is_gated(step: &Step) -> bool {
    step.kind != Kind::PowerOff
}

/// The rows of a step as later steps heed them.
fn heeded(index: usize, step: &Step, first: &BTreeMap<u64, u64>) -> Vec<Heeded> {
    let of = |one: &Expectation| Heeded {
        step: index,
        of_step: step.name.clone(),
        of: one.of.clone(),
        what: one.what,
        is_awaited: one.is_awaited,
        readings: one
            .readings
            .iter()
            .map(|reading| Seen {
                row: reading.row,
                at: first_of(first, reading.row),
                against: keeps(one, Some(reading)),
                is_held: !reading.stands_for_row(),
            })
            .collect(),
    };
    step.expect.iter().map(of).collect()
}

/// Locks every step behind what was read, or was not, in the steps before it, and marks what was read behind a lock.
pub(super) fn lock(steps: &mut [Step], log: &[&Row], first: &BTreeMap<u64, u64>) {
    let mut before: Vec<Heeded> = Vec::new();
    for (index, step) in steps.iter_mut().enumerate() {
        let own = log
            .iter()
            .filter(|row| row.what == Observed::Override && row.step == step.name);
        let reasons: Vec<&Row> = own.copied().collect();
        step.gone_on = reasons.iter().map(|row| row.row).collect();
        step.overridden = reasons.last().map(|row| row.note.clone());
        if is_gated(step) {
            let all = step.expect.iter_mut().flat_map(|one| &mut one.readings);
            for reading in all {
                let at = first_of(first, reading.row);
                reading.is_held = is_held(&before, index, at, &step.gone_on);
            }
            (step.locked_by, step.is_gone_past) = locks_now(&before, index, &step.gone_on);
        }
        before.extend(heeded(index, step, first));
    }
}
