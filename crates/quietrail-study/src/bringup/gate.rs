//! The steps of a bring-up as the gate before limits sees them.

use super::{BringUp, Kind, bring_up, counts_for_limits, keeps};
use crate::gate::{Awaited, Gate, Gated};
use crate::solve::Trouble;
use quietrail_bench::log::Log;
use quietrail_engine::Options;
use quietrail_job::model::Job;

/// Which readings of a log may decide a limit.
///
/// # Errors
/// As [`bring_up`].
pub fn gate(job: &Job, log: &Log, options: &Options) -> Result<Gate, Trouble> {
    bring_up(job, log, Some(super::LOCKS_ALONE), options).map(|found| Gate::from(&found))
}

impl From<&BringUp> for Gate {
    fn from(found: &BringUp) -> Self {
        let gated = |step: &super::Step| Gated {
            name: step.name.clone(),
            state: step.state.clone(),
            is_powered: !matches!(step.kind, Kind::PowerOff | Kind::ClampProof),
            is_whole: counts_for_limits(step.kind),
            is_open: step.is_open(),
            locks: step.locked_by.clone(),
            regardless: step.overridden_by,
        };
        let awaited = found.steps.iter().enumerate().flat_map(|(step, own)| {
            let own = own.expect.iter().filter(|one| one.is_awaited);
            own.map(move |one| Awaited {
                step,
                readings: one
                    .readings
                    .iter()
                    .map(|reading| (reading.row, keeps(one, Some(reading)).is_none()))
                    .collect(),
            })
        });
        Self {
            steps: found.steps.iter().map(gated).collect(),
            awaited: awaited.collect(),
        }
    }
}
