//! What is known of a job with some changes: a proof, how far it can be relied on, and what its corners reach.

use quietrail_job::model::{Job, Subject, What};
use quietrail_job::{Address, Change};
use quietrail_study::descent::{self, Figures, Ranges, Section};
use quietrail_study::finding::{LimitFinding, Predicted, Proof};
use quietrail_study::prove::{Last, again};
use quietrail_study::ready::{Ready, Shares, changes_of, shares_of};
use quietrail_study::solve::{Solved, Trouble};
use quietrail_study::waves;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How far an answer can be relied on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Standing {
    /// The corners that another job was worst at, solved again.
    Provisional,
    /// Where the slopes at nominal point.
    FirstLook,
    /// What the search had found when it was stopped by hand.
    Stopped,
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
    /// Its worst corners solved, each with its state; while the hand moves, those of the state in hand that are looked at.
    pub(crate) corners: Arc<Vec<(usize, Arc<Solved>)>>,
    /// Parts as marked at both ends of the mains and between, each with its state. Limits from above alone have no corner at low mains, and what
    /// is lowest of their corners is not as low as that.
    pub(crate) marked: Arc<Vec<(usize, Arc<Solved>)>>,
}

/// A job of which questions can be answered.
pub(crate) struct Base {
    /// Its nominal solutions.
    pub(crate) ready: Ready,
    /// Its sections.
    pub(crate) sections: Vec<Section>,
    trail: Mutex<Trail>,
}

/// Where the hand has been: what was solved last, from which the next is not far.
#[derive(Default)]
struct Trail {
    /// The corner in hand, by state.
    here: BTreeMap<usize, Arc<Solved>>,
    /// The worst corners of the limits that are looked at, with their states.
    worst: Vec<(usize, Arc<Solved>)>,
    /// What moves, and the state that is looked at.
    of: (usize, Vec<String>),
    /// Counts the movements of the hand.
    turn: usize,
}

impl Base {
    pub(crate) fn of(job: &Job) -> Result<Self, String> {
        let mut plan = descent::plan(job).map_err(|error| error.to_string())?;
        waves::draw_too(&mut plan, job).map_err(|error| error.to_string())?;
        Ok(Self {
            ready: Ready::of(job.clone(), plan, &quietrail_study::options()),
            sections: descent::sections(job),
            trail: Mutex::default(),
        })
    }

    /// Solves the corner in hand while the hand moves: from where it was before.
    pub(crate) fn follow(&self, state: usize, changes: &[Change]) -> Result<Arc<Solved>, Trouble> {
        let last = self.trail().here.get(&state).cloned();
        let solved = self.ready.solve_on(state, changes, last.as_deref())?;
        let solved = Arc::new(solved);
        self.trail().here.insert(state, solved.clone());
        Ok(solved)
    }

    /// The hand rests: what it passed is no start for where it goes next.
    pub(crate) fn rests(&self) {
        self.trail().worst.clear();
    }

    fn trail(&self) -> MutexGuard<'_, Trail> {
        self.trail.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What nodes reach over solutions.
    fn ranges<'a>(
        &self,
        job: &Job,
        all: impl Iterator<Item = &'a (usize, Arc<Solved>)>,
    ) -> Option<Ranges> {
        let figures: Vec<Figures> = all
            .map(|(_, solved)| descent::figures(&self.sections, &self.ready.plan, solved))
            .collect();
        Ranges::over(&figures, job, &self.sections)
    }

    /// The job as marked at both ends of its mains and between, in every state.
    fn marked(&self, job: &Job, changes: &[Change]) -> Vec<(usize, Arc<Solved>)> {
        let mains = &job.mains.voltage.value;
        let ends = [mains.low, mains.nominal, mains.high];
        let states = 0..self.ready.job.states.len();
        let all = states.flat_map(|state| ends.map(|volts| (state, volts)));
        all.filter_map(|(state, volts)| {
            let at = Change::Set {
                address: Address("mains.voltage".to_owned()),
                value: volts,
            };
            let changes: Vec<Change> = changes.iter().cloned().chain([at]).collect();
            let solved = self.ready.solve_one(state, &changes).ok()?;
            Some((state, Arc::new(solved)))
        })
        .collect()
    }

    /// What is known by a proof of this job with changes: its corners solved, and what nodes reach in them.
    pub(crate) fn proved(
        &self,
        proof: Proof,
        job: &Job,
        changes: &[Change],
        standing: Standing,
    ) -> Known {
        let again = again(&self.ready, &proof, job, changes, &|_| true, None).ok();
        let marked = self.marked(job, changes);
        let ranges = again
            .as_ref()
            .and_then(|again| self.ranges(job, again.solved.iter().chain(&marked)));
        Known {
            job: Arc::new(job.clone()),
            proof: Arc::new(proof),
            standing,
            ranges: ranges.map(Arc::new),
            corners: Arc::new(again.map_or_else(Vec::new, |again| again.solved)),
            marked: Arc::new(marked),
        }
    }

    /// All limits at their last worst corners, or, while the hand moves, the few that are looked at: besides headrooms and
    /// what fails, those on a node that is drawn.
    pub(crate) fn provisional(
        &self,
        known: &Known,
        changes: &[Change],
        moving_in: Option<(usize, Option<&str>)>,
    ) -> Option<Known> {
        let states = &self.ready.job.states;
        let near = |finding: &LimitFinding| match moving_in {
            Some((state, node)) => {
                let is_looked_at =
                    is_near(finding) || node.is_some_and(|node| is_on(finding, node));
                finding.state == states[state].name && is_looked_at
            }
            None => true,
        };
        let trail = moving_in.map(|(state, _)| {
            let mut trail = self.trail();
            let of = (state, changes.iter().map(name_of).collect());
            if trail.of != of {
                trail.of = of;
                trail.worst.clear();
            }
            trail.turn += 1;
            (trail.worst.clone(), trail.turn)
        });
        let last = match &trail {
            Some((solved, turn)) => Last {
                solved,
                turn: Some(*turn),
            },
            None => Last {
                solved: &known.corners,
                turn: None,
            },
        };
        let again = again(
            &self.ready,
            &known.proof,
            &known.job,
            changes,
            &near,
            Some(&last),
        )
        .ok()?;
        if moving_in.is_some() {
            self.trail().worst.clone_from(&again.solved);
        }
        let job = self.ready.job.with(changes).ok()?;
        let marked = match moving_in {
            Some(_) => known.marked.clone(),
            None => Arc::new(self.marked(&job, changes)),
        };
        let of_mains = marked.iter().filter(|_| moving_in.is_none());
        let own = self.ranges(&job, again.solved.iter().chain(of_mains));
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
            corners: Arc::new(again.solved),
            marked,
        })
    }
}

/// What a change is about.
fn name_of(change: &Change) -> String {
    match change {
        Change::Set { address, .. } => address.0.clone(),
        Change::Open(name) | Change::Short(name) | Change::Reverse(name) => name.clone(),
        Change::Swap { part, .. } => part.clone(),
        Change::Insert(part) => part.name.clone(),
    }
}

/// Limits that are worth solving again between two movements of the hand.
fn is_near(finding: &LimitFinding) -> bool {
    let is_headroom = finding.what == What::Headroom;
    is_headroom || finding.predicted == Predicted::Fails
}

/// Limits on the level of a node.
fn is_on(finding: &LimitFinding, node: &str) -> bool {
    let is_level = matches!(finding.what, What::Valley | What::Peak);
    is_level
        && match &finding.of {
            Subject::Node(own) => own == node,
            Subject::Pair(plus, minus) => plus == node || minus == node,
            Subject::Part(_) => false,
        }
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
                (Some(old), Some(new)) => new.spare < old.spare,
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
        finding.what == What::Headroom
            && finding.margin.is_some()
            && state.is_none_or(|state| finding.state == state)
    });
    headrooms.min_by(|a, b| {
        let margin = |finding: &LimitFinding| finding.margin.unwrap_or(f64::INFINITY);
        margin(a).total_cmp(&margin(b))
    })
}

/// The limit of a state with the least margin as a part of it.
pub(crate) fn tightest_limit<'a>(proof: &'a Proof, state: &str) -> Option<&'a LimitFinding> {
    let own = proof.limits.iter().filter(|limit| limit.state == state);
    let share = |limit: &LimitFinding| limit.margin_share.unwrap_or(f64::INFINITY);
    own.min_by(|a, b| share(a).total_cmp(&share(b)))
}

/// The corner of a limit as shares of tolerances.
pub(crate) fn corner_of(known: &Known, finding: &LimitFinding) -> Shares {
    let values = finding
        .corner
        .iter()
        .map(|term| (&term.address, term.value));
    shares_of(&known.job.reaches(), values)
}

/// Changes that put a job at a limit's worst corner, mains apart.
pub(crate) fn parts_at_worst(
    known: &Known,
    finding: &LimitFinding,
    changes: &[Change],
) -> Vec<Change> {
    let mut corner = corner_of(known, finding);
    corner.retain(|(address, _)| address.0 != "mains.voltage");
    changes_of(&known.job.reaches(), changes, &corner)
}

#[cfg(test)]
mod tests {
    use super::{Base, Standing};

    /// A job that limits its rail from above alone: its worst corner is at high mains. The lowest valley found is that at low mains all the
    /// same, and the least headroom is no more than that of the corner in hand.
    #[test]
    fn what_no_limit_asks_for_is_looked_at_over_the_mains() {
        let text = include_str!("../../quietrail-cli/demo/tide-gauge/job.toml");
        let mut job = quietrail_job::read(text, None).job.expect("a job");
        let limits = job.limits.iter().filter(|limit| limit.min.is_none());
        job.limits = limits.cloned().collect();
        let proof =
            quietrail_study::prove::prove(&job, &quietrail_study::options()).expect("a proof");
        let base = Base::of(&job).expect("a base");
        let known = base.proved(proof, &job, &[], Standing::Whole);
        let ranges = known.ranges.expect("ranges");
        let mains = &job.mains.voltage.value;
        assert_eq!(known.marked.len(), 3 * job.states.len());
        for (state, solved) in known.marked.iter() {
            let here = quietrail_study::descent::figures(&base.sections, &base.ready.plan, solved);
            assert!(
                here.mains >= mains.low && here.mains <= mains.high,
                "{state}"
            );
            for (own, all) in here.sections.iter().zip(&ranges.sections) {
                assert!(all.node.low <= own.valley && all.node.high >= own.peak);
                for (rail, all) in own.rails.iter().zip(&all.rails) {
                    assert!(all.input_low <= rail.input.0);
                    let worst = all.worst.expect("a worst");
                    assert!(
                        worst.spare <= rail.spare(),
                        "{worst:?} and {}",
                        rail.spare()
                    );
                }
            }
        }
    }
}
