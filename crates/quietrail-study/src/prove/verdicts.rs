//! Limits by their verdicts alone: how each stands at its worst corner in the states that are asked for, and nothing of what
//! would help, of parts or of nodes.

use super::{Progress, blank, of_state, states};
use crate::finding::LimitFinding;
use crate::search::Watch;
use crate::solve::{Plan, Trouble};
use quietrail_engine::Options;
use quietrail_job::model::Job;
use std::sync::{Mutex, PoisonError};

/// The limits and ratings of all states, limits of the job first; those of the states that are wanted, by their index, searched as
/// [`super::prove`] does, the others not looked for.
///
/// # Errors
/// As [`super::prove`].
pub fn verdicts(
    job: &Job,
    wanted: &[usize],
    options: &Options,
    tell: &mut (dyn FnMut(Progress<'_>) + Send),
) -> Result<Vec<LimitFinding>, Trouble> {
    let plan = Plan::of(job).map_err(Trouble::Change)?;
    let tell = Mutex::new(tell);
    let watch = Watch::without_helps();
    let of_wanted = |at: usize| {
        let say = |progress: Progress<'_>| {
            let mut tell = tell.lock().unwrap_or_else(PoisonError::into_inner);
            (*tell)(progress);
        };
        of_state(&plan, (job, wanted[at]), options, &[], &watch, &say)
    };
    let found = states::each(wanted.len(), &of_wanted).into_iter();
    let mut limits: Vec<_> = found.flat_map(|own| own.limits).collect();
    for (index, state) in job.states.iter().enumerate() {
        if wanted.contains(&index) {
            continue;
        }
        let asked = plan.questions.iter().enumerate();
        let own = asked.filter(|(_, one)| one.states.contains(&index) && !one.is_quiet);
        limits.extend(own.map(|(at, one)| ((at, index), blank(one, &state.name))));
    }
    limits.sort_by_key(|(order, _)| *order);
    Ok(limits.into_iter().map(|(_, finding)| finding).collect())
}
