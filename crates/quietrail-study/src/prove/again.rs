//! Each limit's last worst corner solved again under changes: quick, provisional, and never better than what a search
//! would find there.

use crate::finding::{About, LimitFinding, Overall, Predicted, Proof, WhyNot};
use crate::question::Question;
use crate::ready::{Ready, Shares, changes_of, shares_of};
use crate::solve::{Solved, Trouble, answers};
use quietrail_job::model::Job;
use quietrail_job::{Address, Change, ChangeError};
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
    let mut remarks = super::remarks::of(&moved, &quietrail_engine::Options::default(), false);
    let starts = known.remarks.iter();
    remarks.extend(
        starts
            .filter(|remark| matches!(remark.about, About::NeverStarts { .. }))
            .cloned(),
    );
    proof.remarks = remarks;
    let mut all = Vec::new();
    for (state, own) in ready.job.states.iter().enumerate() {
        let rows: Vec<usize> = (0..proof.limits.len())
            .filter(|&row| proof.limits[row].state == own.name && wanted(&proof.limits[row]))
            .collect();
        let mut corners: Vec<Shares> = Vec::new();
        // Which of them has the least margin.
        let (mut lead, mut least) = (0, f64::INFINITY);
        for &row in &rows {
            let corner = corner_of(&proof.limits[row], known_job);
            let place = corners.iter().position(|known| *known == corner);
            let place = place.unwrap_or_else(|| {
                corners.push(corner);
                corners.len() - 1
            });
            let margin = proof.limits[row].margin.unwrap_or(f64::INFINITY);
            if margin < least {
                (lead, least) = (place, margin);
            }
        }
        let lists: Vec<Vec<Change>> = corners
            .iter()
            .map(|corner| changes_of(&moved, changes, corner))
            .collect();
        let own = last.iter().flat_map(|last| last.solved);
        let own: Vec<Arc<Solved>> = own
            .filter(|(of, _)| *of == state)
            .map(|(_, solved)| solved.clone())
            .collect();
        let turn = last.and_then(|last| last.turn);
        let results: Vec<Result<Arc<Solved>, Trouble>> = if own.len() != lists.len() {
            let solved = ready.solve(state, &lists).into_iter();
            solved.map(|one| one.map(Arc::new)).collect()
        } else if let Some(turn) = turn {
            let one = in_turn(turn, lead, lists.len());
            let each = lists.iter().zip(own).enumerate();
            each.map(|(index, (changes, last))| {
                if index == one {
                    let solved = ready.solve_on(state, changes, Some(&last));
                    solved.map(Arc::new)
                } else {
                    Ok(last)
                }
            })
            .collect()
        } else {
            let solved = ready.solve_beside(state, &lists, &own).into_iter();
            solved.map(|one| one.map(Arc::new)).collect()
        };
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
        for &row in &rows {
            renew(
                &mut proof.limits[row],
                &ready.plan.questions,
                &values,
                &corners,
                &moved,
            );
        }
        let solved = results.into_iter().flatten();
        all.extend(solved.map(|solved| (state, solved)));
    }
    Ok(Again { proof, solved: all })
}

/// Which of `count` corners is solved in a turn.
fn in_turn(turn: usize, lead: usize, count: usize) -> usize {
    if turn.is_multiple_of(2) || count < 2 {
        return lead;
    }
    let other = turn / 2 % (count - 1);
    if other < lead { other } else { other + 1 }
}

fn corner_of(finding: &LimitFinding, job: &Job) -> Shares {
    let mut corner = shares_of(
        job,
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
    moved: &Job,
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
    move_terms(finding, &corners[at], moved);
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
fn move_terms(finding: &mut LimitFinding, corner: &[(Address, f64)], moved: &Job) {
    let own: Vec<Address> = finding
        .corner
        .iter()
        .map(|term| term.address.clone())
        .collect();
    let same = own.len() == corner.len() && corner.iter().all(|(address, _)| own.contains(address));
    let parameters = moved.reaches();
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
