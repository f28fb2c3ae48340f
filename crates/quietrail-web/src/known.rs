//! What is known of a job with some changes: a proof, how far it can be relied on, and what its corners reach.

use quietrail_job::Change;
use quietrail_job::model::Job;
use quietrail_study::descent::{self, Figures, Ranges, Section};
use quietrail_study::finding::{LimitFinding, Predicted, Proof};
use quietrail_study::prove::{Again, again};
use quietrail_study::ready::{Ready, Shares, changes_of, shares_of};
use std::sync::Arc;

/// How far an answer can be relied on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Standing {
    /// The corners that another job was worst at, solved again.
    Provisional,
    /// Where the slopes at nominal point.
    FirstLook,
    /// The whole search.
    Whole,
}

/// What is known.
#[derive(Clone)]
pub(crate) struct Known {
    /// The job that the proof is about.
    pub(crate) job: Arc<Job>,
    /// The proof.
    pub(crate) proof: Arc<Proof>,
    /// How far it can be relied on.
    pub(crate) standing: Standing,
    /// What nodes reach over all its corners.
    pub(crate) ranges: Option<Arc<Ranges>>,
}

/// A job of which questions can be answered.
pub(crate) struct Base {
    /// Its nominal solutions.
    pub(crate) ready: Ready,
    /// Its sections.
    pub(crate) sections: Vec<Section>,
}

impl Base {
    pub(crate) fn of(job: &Job) -> Result<Self, String> {
        let plan = descent::plan(job).map_err(|error| error.to_string())?;
        Ok(Self {
            ready: Ready::of(job.clone(), plan, &quietrail_study::options()),
            sections: descent::sections(job),
        })
    }

    /// Figures of solutions over all states.
    fn figures(&self, again: &Again) -> Vec<Figures> {
        let solved = again.solved.iter();
        solved
            .map(|(_, solved)| descent::figures(&self.sections, &self.ready.plan, solved))
            .collect()
    }

    /// What nodes reach over the corners of a proof of this job with changes.
    pub(crate) fn ranges(&self, proof: &Proof, job: &Job, changes: &[Change]) -> Option<Ranges> {
        let again = again(&self.ready, proof, job, changes, &|_| true).ok()?;
        Ranges::over(&self.figures(&again))
    }

    /// All limits at their last worst corners, or, while the hand moves, the few that are looked at.
    pub(crate) fn provisional(
        &self,
        known: &Known,
        changes: &[Change],
        moving_in: Option<&str>,
    ) -> Option<Known> {
        let near = |finding: &LimitFinding| match moving_in {
            Some(state) => finding.state == state && is_near(finding),
            None => true,
        };
        let again = again(&self.ready, &known.proof, &known.job, changes, &near).ok()?;
        let own = Ranges::over(&self.figures(&again));
        let job = self.ready.job.with(changes).ok()?;
        // While the hand moves, what was not solved again keeps its last range.
        let ranges = match moving_in {
            Some(_) => known.ranges.as_ref().map(|old| merged(old, own.as_ref())),
            None => own,
        };
        Some(Known {
            job: Arc::new(job),
            proof: Arc::new(again.proof),
            standing: Standing::Provisional,
            ranges: ranges.map(Arc::new),
        })
    }
}

/// Limits that are worth solving again between two movements of the hand.
fn is_near(finding: &LimitFinding) -> bool {
    let is_headroom = finding.what == quietrail_job::model::What::Headroom;
    is_headroom || finding.predicted == Predicted::Fails
}

/// Old ranges with the worst headroom that is known now.
fn merged(old: &Ranges, new: Option<&Ranges>) -> Ranges {
    let mut ranges = old.clone();
    let Some(new) = new else { return ranges };
    for (old, new) in ranges.sections.iter_mut().zip(&new.sections) {
        for (old, new) in old.rails.iter_mut().zip(&new.rails) {
            let same = match (old.worst, new.worst) {
                (Some(old), Some(new)) => old.state == new.state,
                _ => false,
            };
            let worse = match (old.worst, new.worst) {
                (Some(old), Some(new)) => new.headroom < old.headroom,
                _ => false,
            };
            if same || worse {
                old.worst = new.worst;
            }
        }
    }
    ranges
}

/// The limit with the least headroom, in one state or in all.
pub(crate) fn tightest_headroom<'a>(
    proof: &'a Proof,
    state: Option<&str>,
) -> Option<&'a LimitFinding> {
    let headrooms = proof.limits.iter().filter(|finding| {
        finding.what == quietrail_job::model::What::Headroom
            && finding.margin.is_some()
            && state.is_none_or(|state| finding.state == state)
    });
    headrooms.min_by(|a, b| {
        let margin = |finding: &LimitFinding| finding.margin.unwrap_or(f64::INFINITY);
        margin(a).total_cmp(&margin(b))
    })
}

/// The corner of a limit as shares of tolerances.
pub(crate) fn corner_of(known: &Known, finding: &LimitFinding) -> Shares {
    let values = finding
        .corner
        .iter()
        .map(|term| (&term.address, term.value));
    shares_of(&known.job, values)
}

/// Changes that put a job at a limit's worst corner, mains apart.
pub(crate) fn parts_at_worst(
    known: &Known,
    finding: &LimitFinding,
    changes: &[Change],
) -> Vec<Change> {
    let mut corner = corner_of(known, finding);
    corner.retain(|(address, _)| address.0 != "mains.voltage");
    changes_of(&known.job, changes, &corner)
}

/// Changes that put a job at a limit's worst corner.
pub(crate) fn changes_of_finding(
    known: &Known,
    finding: &LimitFinding,
    changes: &[Change],
) -> Vec<Change> {
    changes_of(&known.job, changes, &corner_of(known, finding))
}
