//! Each limit's last worst corner solved again under changes: quick, provisional, and never better than what a search
//! would find there.

use crate::finding::{About, LimitFinding, Overall, Predicted, Proof, WhyNot};
use crate::question::Question;
use crate::ready::{Beside, Ready, Shares, changes_of, shares_of};
use crate::solve::{Solved, Trouble, answers};
use quietrail_job::model::Job;
use quietrail_job::{Address, Change, ChangeError, Parameter};
use std::sync::Arc;

/// A proof brought up to date at the corners that it found.
pub struct Again {
    /// The proof with values as they are now. Nothing is said of what would help.
    pub proof: Proof,
    /// The corners solved, with the state of each.
    pub solved: Vec<(usize, Arc<Solved>)>,
}

/// What the corners came to the last time.
pub struct Last<'a> {
    /// Each with its state.
    pub solved: &'a [(usize, Arc<Solved>)],
    /// Counts the movements of a hand; none where it rests, and all of them are wanted.
    pub turn: Option<usize>,
}

/// Solves again the worst corners of the limits that `wanted` picks, and lets every limit look at all of them.
///
/// Corners move along with the figures: a capacitor at −20 % of its old value stands at −20 % of its new one. Each begins at what
/// it came to the last time, if that is known. While a hand moves, one of them is solved at a time: the one with the least margin
/// every other time, the rest in turn; meanwhile they stay at what they came to.
///
/// # Errors
/// The first change that cannot be made.
pub fn again(
    ready: &Ready,
    known: &Proof,
    known_job: &Job,
    changes: &[Change],
    wanted: &dyn Fn(&LimitFinding) -> bool,
    last: Option<&Last<'_>>,
) -> Result<Again, ChangeError> {
    let moved = ready.job.with(changes)?;
    let mut proof = known.clone();
    // Starts take their time: what the search found of them stands until it runs again.
    let mut remarks = super::remarks::of(&moved, &quietrail_engine::Options::default(), None);
    let starts = known.remarks.iter();
    remarks.extend(
        starts
            .filter(|remark| {
                matches!(
                    remark.about,
                    About::NeverStarts { .. } | About::CoreCurrent(_) | About::Backwards(_)
                )
            })
            .cloned(),
    );
    proof.remarks = remarks;
    let (known_reaches, reaches) = (known_job.reaches(), moved.reaches());
    let states = ready.job.states.iter().enumerate();
    let corners: Vec<OfState> = states
        .map(|(state, own)| {
            let rows = (0..proof.limits.len())
                .filter(|&row| proof.limits[row].state == own.name && wanted(&proof.limits[row]));
            let (corners, lead) =
                corners_of(rows.clone().map(|row| &proof.limits[row]), &known_reaches);
            OfState::of(
                (state, rows.collect()),
                (corners, lead),
                (&reaches, changes),
                last,
            )
        })
        .collect();
    let mut all = Vec::new();
    for (own, results) in corners.iter().zip(solved(ready, &corners)) {
        let values: Vec<Result<Vec<Option<f64>>, &Trouble>> = results
            .iter()
            .map(|result| {
                let solved = result.as_ref()?;
                Ok(answers(&ready.plan, solved)
                    .into_iter()
                    .map(Result::ok)
                    .collect())
            })
            .collect();
        for &row in &own.rows {
            renew(
                &mut proof.limits[row],
                &ready.plan.questions,
                &values,
                &own.corners,
                &reaches,
            );
        }
        let solved = results.into_iter().flatten();
        all.extend(solved.map(|solved| (own.state, solved)));
    }
    Ok(Again { proof, solved: all })
}

/// The worst corners of a state's limits.
struct OfState {
    state: usize,
    /// The limits, by their place in the proof.
    rows: Vec<usize>,
    corners: Vec<Shares>,
    /// The changes that make each.
    lists: Vec<Vec<Change>>,
    /// What each came to the last time; none where that is not known.
    last: Vec<Arc<Solved>>,
    /// Which of them is solved, if not all.
    only: Option<usize>,
}

impl OfState {
    fn of(
        (state, rows): (usize, Vec<usize>),
        (corners, lead): (Vec<Shares>, usize),
        (reaches, changes): (&[Parameter], &[Change]),
        last: Option<&Last<'_>>,
    ) -> Self {
        let lists: Vec<Vec<Change>> = corners
            .iter()
            .map(|corner| changes_of(reaches, changes, corner))
            .collect();
        let of_last = last.iter().flat_map(|last| last.solved);
        let own: Vec<Arc<Solved>> = of_last
            .filter(|(of, _)| *of == state)
            .map(|(_, solved)| solved.clone())
            .collect();
        let is_known = own.len() == lists.len();
        let turn = last.and_then(|last| last.turn).filter(|_| is_known);
        Self {
            only: turn.map(|turn| in_turn(turn, lead, lists.len())),
            last: if is_known { own } else { Vec::new() },
            state,
            rows,
            corners,
            lists,
        }
    }

    /// Its corners that are solved beside what they came to the last time.
    fn beside(&self) -> impl Iterator<Item = Beside<'_>> {
        let each = self.lists.iter().zip(&self.last).enumerate();
        let wanted = each.filter(|(k, _)| self.only.is_none_or(|only| only == *k));
        wanted.map(|(_, (changes, last))| Beside {
            state: self.state,
            changes,
            last,
        })
    }
}

/// The worst corners of some limits, each once, and which of them has the least margin.
fn corners_of<'f>(
    limits: impl Iterator<Item = &'f LimitFinding>,
    known: &[Parameter],
) -> (Vec<Shares>, usize) {
    let mut corners: Vec<Shares> = Vec::new();
    let (mut lead, mut least) = (0, f64::INFINITY);
    for limit in limits {
        let corner = corner_of(limit, known);
        let place = corners.iter().position(|known| *known == corner);
        let place = place.unwrap_or_else(|| {
            corners.push(corner);
            corners.len() - 1
        });
        let margin = limit.margin.unwrap_or(f64::INFINITY);
        if margin < least {
            (lead, least) = (place, margin);
        }
    }
    (corners, lead)
}

/// Results of all corners, state by state.
fn solved(ready: &Ready, corners: &[OfState]) -> Vec<Vec<Result<Arc<Solved>, Trouble>>> {
    let beside: Vec<Beside<'_>> = corners.iter().flat_map(OfState::beside).collect();
    let mut beside = ready.solve_beside(&beside).into_iter();
    let mut of_state = |own: &OfState| {
        if own.last.len() != own.lists.len() {
            let solved = ready.solve(own.state, &own.lists).into_iter();
            return solved.map(|one| one.map(Arc::new)).collect();
        }
        let each = own.last.iter().enumerate();
        each.map(|(k, last)| match own.only {
            Some(only) if only != k => Ok(last.clone()),
            _ => {
                let solved = beside.next().expect("one result for each that is solved");
                solved.map(Arc::new)
            }
        })
        .collect()
    };
    corners.iter().map(&mut of_state).collect()
}

/// Which of `count` corners is solved in a turn.
fn in_turn(turn: usize, lead: usize, count: usize) -> usize {
    if turn.is_multiple_of(2) || count < 2 {
        return lead;
    }
    let other = turn / 2 % (count - 1);
    if other < lead { other } else { other + 1 }
}

fn corner_of(finding: &LimitFinding, parameters: &[Parameter]) -> Shares {
    let mut corner = shares_of(
        parameters,
        finding
            .corner
            .iter()
            .map(|term| (&term.address, term.value)),
    );
    corner.sort_by(|a, b| a.0.cmp(&b.0));
    corner
}

/// The worst of a limit over the corners solved.
fn renew(
    finding: &mut LimitFinding,
    questions: &[Question],
    values: &[Result<Vec<Option<f64>>, &Trouble>],
    corners: &[Shares],
    reaches: &[Parameter],
) {
    finding.help.clear();
    let Some(q) = questions
        .iter()
        .position(|question| question.name == finding.name)
    else {
        return;
    };
    let question = &questions[q];
    let mut worst: Option<(f64, usize)> = None;
    let mut trouble = None;
    for (index, values) in values.iter().enumerate() {
        match values {
            Ok(values) => {
                let Some(value) = values[q] else { continue };
                let is_worse =
                    worst.is_none_or(|(known, _)| question.margin(value) < question.margin(known));
                if is_worse {
                    worst = Some((value, index));
                }
            }
            Err(why) => trouble = Some(why.to_string()),
        }
    }
    let Some((value, at)) = worst else {
        if let (Some(trouble), Predicted::Holds | Predicted::Fails) = (trouble, &finding.predicted)
        {
            finding.predicted = Predicted::NotShown(WhyNot::NotSettled(trouble));
            finding.worst = None;
            finding.margin = None;
            finding.overall = Overall::of(&finding.predicted, finding.measured);
        }
        return;
    };
    finding.worst = Some(value);
    finding.margin = Some(question.margin(value));
    finding.margin_share = question.margin_share(value);
    move_terms(finding, &corners[at], reaches);
    // What was not shown for a reason of its own stays so.
    if !matches!(finding.predicted, Predicted::NotShown(_)) || question.margin(value) < 0.0 {
        let fails = question.margin(value) < 0.0;
        finding.predicted = if fails {
            Predicted::Fails
        } else {
            Predicted::Holds
        };
    }
    finding.overall = Overall::of(&finding.predicted, finding.measured);
}

/// Puts the corner's terms at the values that they have now; of another limit's corner, weights are not known.
fn move_terms(finding: &mut LimitFinding, corner: &[(Address, f64)], parameters: &[Parameter]) {
    let own: Vec<Address> = finding
        .corner
        .iter()
        .map(|term| term.address.clone())
        .collect();
    let same = own.len() == corner.len() && corner.iter().all(|(address, _)| own.contains(address));
    for term in &mut finding.corner {
        let known = parameters
            .iter()
            .find(|parameter| parameter.address == term.address);
        let share = corner.iter().find(|(address, _)| *address == term.address);
        let (Some(parameter), Some((_, share))) = (known, share.filter(|_| same)) else {
            continue;
        };
        term.nominal = parameter.nominal;
        term.value = crate::search::at(parameter, crate::search::Position::between(*share));
    }
}

#[cfg(test)]
mod tests {
    use super::in_turn;

    #[test]
    fn every_corner_has_its_turn_and_the_tightest_every_other() {
        for (lead, count) in [(0, 1), (0, 2), (1, 2), (2, 5)] {
            let turns: Vec<usize> = (0..4 * count)
                .map(|turn| in_turn(turn, lead, count))
                .collect();
            assert!(turns.iter().step_by(2).all(|one| *one == lead));
            assert!((0..count).all(|one| turns.contains(&one)), "{turns:?}");
            assert!(turns.iter().all(|one| *one < count));
        }
    }
}
