//! Single changes that would help a limit that fails or is tight, and what each costs elsewhere.
//!
//! 1. [`candidates`] says what a builder would try.
//! 2. The exact slopes at the limit's worst corner say which changes of a figure move it the right way, and by about how
//!    much. The most promising, and every swap of a part, are solved at that corner of the changed job.
//! 3. What a change does to the other limits at that corner, and with parts as marked (at the corner a regulator may
//!    have given up, and hide it), says where it could hurt; there it is solved at the other limit's own worst corner.
//!
//! A change is judged at the corners that were worst without it. With it, another corner may be worse: the margin is
//! what to expect, and the job changed and proved again is what counts.

mod candidates;

use crate::finding::{Cost, Help};
use crate::search::{Corner, Position, StateFindings, at, parameters};
use crate::slopes::gradients;
use crate::solve::{Plan, Seeds, Setting, Solved, Wanted, answers, solve};
use candidates::Candidate;
use quietrail_job::model::Job;
use quietrail_job::{Address, Change, Parameter};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Margins below this share of their limit are tight.
const TIGHT: f64 = 0.02;
/// Changes solved for one limit.
const SOLVED: usize = 10;
/// How many helps are kept.
const KEPT: usize = 3;
/// How many changes that help are looked at for what they cost, until enough are kept.
const COSTED: usize = 5;
/// Other limits that one help is solved for.
const CHECKED: usize = 2;
/// A margin that moves by less than this share of itself is neither helped nor hurt.
const TELLING: f64 = 0.05;
/// A cost below this share of its limit is not told, unless the limit then fails.
const COSTLY: f64 = 0.01;

/// A change, none for the job as it stands, and a corner.
type Place = (Option<usize>, Corner);
/// Value of each question of the job, where it has one.
type Values = Vec<Option<f64>>;

/// The helps of one state, with what was solved for one limit kept for the next.
pub(super) struct Helper<'a> {
    plan: &'a Plan,
    setting: Setting<'a>,
    found: &'a StateFindings,
    figures: Vec<Candidate>,
    swaps: Vec<Candidate>,
    /// Where each was solved; none where it did not settle.
    known: BTreeMap<Place, Option<Values>>,
    /// Steady states solved.
    pub(super) solutions: u64,
}

impl<'a> Helper<'a> {
    pub(super) fn new(plan: &'a Plan, setting: Setting<'a>, found: &'a StateFindings) -> Self {
        Self {
            plan,
            setting,
            found,
            figures: candidates::figures(setting.job),
            swaps: candidates::swaps(setting.job),
            known: BTreeMap::new(),
            solutions: 0,
        }
    }

    /// The changes that help a question most, best first; none for a limit that is not tight.
    pub(super) fn of(&mut self, q: usize, value: f64, corner: &Corner) -> Vec<Help> {
        let question = &self.plan.questions[q];
        let margin = question.margin(value);
        let is_tight = margin < 0.0
            || question
                .margin_share(value)
                .is_some_and(|share| share < TIGHT);
        if !is_tight {
            return Vec::new();
        }
        let tried = self.promising(q, corner);
        let mut wanted: Vec<Place> = tried.iter().map(|&c| (Some(c), corner.clone())).collect();
        wanted.push((None, corner.clone()));
        self.solve_all(&wanted);
        let mut better: Vec<(usize, f64)> = tried
            .into_iter()
            .filter_map(|c| {
                let with = question.margin(self.value(Some(c), corner, q)?);
                (with - margin > TELLING * margin.abs()).then_some((c, with))
            })
            .collect();
        better.sort_by(|a, b| b.1.total_cmp(&a.1));
        self.one_of_each_kind(&mut better);

        let mut helps: Vec<Help> = Vec::new();
        for (c, with) in better.into_iter().take(COSTED) {
            let costs = self.costs(c, q, corner);
            let candidate = self.candidate(c);
            // What breaks another limit is no help where this one holds; a set point has to be within all limits.
            let breaks = costs.iter().any(Cost::fails);
            let is_off = candidate.is_set_point && costs.iter().any(|cost| cost.after < 0.0);
            if is_off || (breaks && margin >= 0.0) {
                continue;
            }
            helps.push(Help {
                change: candidate.change.clone(),
                before: candidate.before,
                unit: candidate.unit,
                with: candidate.with.clone(),
                margin: with,
                costs,
            });
            if helps.len() == KEPT {
                break;
            }
        }
        // What mends and breaks nothing is enough to be told; else what mends, before what comes closest.
        let is_clean = |help: &Help| help.mends() && !help.costs.iter().any(Cost::fails);
        if helps.iter().any(is_clean) {
            helps.retain(is_clean);
        }
        helps.sort_by_key(|help| !help.mends());
        helps
    }

    fn candidate(&self, c: usize) -> &Candidate {
        self.figures
            .get(c)
            .unwrap_or_else(|| &self.swaps[c - self.figures.len()])
    }

    /// Changes worth solving for a question: all swaps, and those of figures whose slope at the corner promises most.
    fn promising(&mut self, q: usize, corner: &Corner) -> Vec<usize> {
        let first_swap = self.figures.len();
        let mut tried: Vec<usize> = (first_swap..first_swap + self.swaps.len()).collect();
        tried.truncate(SOLVED / 2);
        let gains = self.gains(q, corner);
        let mut figures: Vec<usize> = (0..first_swap).filter(|&c| gains[c] > 0.0).collect();
        figures.sort_by(|&a, &b| gains[b].total_cmp(&gains[a]));
        figures.truncate(SOLVED - tried.len());
        tried.extend(figures);
        tried
    }

    /// What each change of a figure brings, by the slope at the corner; all alike where slopes cannot be had.
    fn gains(&mut self, q: usize, corner: &Corner) -> Vec<f64> {
        let job = self.setting.job;
        let all = job.parameters();
        let moved: Vec<Option<&Parameter>> = self
            .figures
            .iter()
            .map(|candidate| match &candidate.change {
                Change::Set { address, .. } => all.iter().find(|known| known.address == *address),
                _ => None,
            })
            .collect();
        let mut columns: Vec<Parameter> = moved.iter().flatten().copied().cloned().collect();
        columns.dedup_by(|a, b| a.address == b.address);
        let changes = at_corner(&self.found.parameters, corner, job, self.setting.state);
        let seed = Some(&self.found.nominal.solution);
        let slopes = solve(self.plan, self.setting, &changes, seed).and_then(|solved| {
            self.solutions += solved.solution.rounds + 1;
            gradients(self.plan, self.setting, &changes, &solved, &columns)
        });
        let Ok(slopes) = slopes else {
            return vec![1.0; self.figures.len()];
        };
        let question = &self.plan.questions[q];
        let value = self.found.worst[q]
            .worst
            .as_ref()
            .map_or(0.0, |(value, _)| *value);
        let nearer_the_top = question.max.map_or(f64::INFINITY, |max| max - value)
            < question.min.map_or(f64::INFINITY, |min| value - min);
        let sign = if nearer_the_top { -1.0 } else { 1.0 };
        self.figures
            .iter()
            .map(|candidate| {
                let Change::Set { address, value } = &candidate.change else {
                    return 0.0;
                };
                let column = columns.iter().position(|known| known.address == *address);
                column.map_or(0.0, |column| {
                    sign * slopes[q][column] * (value - candidate.before)
                })
            })
            .collect()
    }

    /// Of several changes to one figure only those that are needed: the smallest that mends, or else the one that comes
    /// closest.
    fn one_of_each_kind(&self, better: &mut Vec<(usize, f64)>) {
        let of = |c: usize| match &self.candidate(c).change {
            Change::Set { address, .. } => Some(address.clone()),
            _ => None,
        };
        let step = |c: usize| match &self.candidate(c).change {
            Change::Set { value, .. } => (value / self.candidate(c).before).ln().abs(),
            _ => 0.0,
        };
        let all = better.clone();
        better.retain(|&(c, margin)| {
            let Some(own) = of(c) else { return true };
            let beats = |other: &(usize, f64)| {
                let (mends, own_mends) = (other.1 >= 0.0, margin >= 0.0);
                other.0 != c
                    && of(other.0).as_ref() == Some(&own)
                    && match (mends, own_mends) {
                        (true, true) => step(other.0) < step(c),
                        (mends, own_mends) if mends != own_mends => mends,
                        _ => other.1 > margin,
                    }
            };
            !all.iter().any(beats)
        });
    }

    /// Other limits of the state that a change makes telling worse, worst first.
    fn costs(&mut self, c: usize, q: usize, corner: &Corner) -> Vec<Cost> {
        let as_marked: Corner = vec![Position::NOMINAL; corner.len()];
        let places = [corner, &as_marked];
        self.solve_all(&[(Some(c), as_marked.clone()), (None, as_marked.clone())]);
        let mut hurt: Vec<(f64, usize)> = Vec::new();
        for (other, question) in self.plan.questions.iter().enumerate() {
            let Some((worst, _)) = &self.found.worst[other].worst else {
                continue;
            };
            if other == q || !question.states.contains(&self.setting.state) {
                continue;
            }
            let loss_at = |place: &&Corner| {
                let before = self.value(None, place, other)?;
                let after = self.value(Some(c), place, other)?;
                Some(question.margin(before) - question.margin(after))
            };
            let loss = places.iter().filter_map(loss_at).fold(0.0, f64::max);
            let size = size(question.min, question.max, *worst);
            let left = question.margin(*worst) - loss;
            let is_telling = loss > COSTLY * size || (left < 0.0 && question.margin(*worst) >= 0.0);
            if loss > 0.0 && is_telling {
                hurt.push((left / size, other));
            }
        }
        hurt.sort_by(|a, b| a.0.total_cmp(&b.0));
        hurt.truncate(CHECKED);
        let own: Vec<(usize, Corner)> = hurt
            .into_iter()
            .filter_map(|(_, other)| {
                let (_, corner) = self.found.worst[other].worst.as_ref()?;
                Some((other, corner.clone()))
            })
            .collect();
        let wanted: Vec<Place> = own
            .iter()
            .map(|(_, corner)| (Some(c), corner.clone()))
            .collect();
        self.solve_all(&wanted);
        own.iter()
            .filter_map(|(other, corner)| {
                let question = &self.plan.questions[*other];
                let (worst, _) = self.found.worst[*other].worst.as_ref()?;
                let before = question.margin(*worst);
                let after = question.margin(self.value(Some(c), corner, *other)?);
                let size = size(question.min, question.max, *worst);
                let cost = Cost {
                    limit: question.name.clone(),
                    what: question.what,
                    unit: question.unit,
                    before,
                    after,
                };
                (before - after > COSTLY * size || cost.fails()).then_some(cost)
            })
            .collect()
    }

    fn value(&self, c: Option<usize>, corner: &Corner, q: usize) -> Option<f64> {
        self.known.get(&(c, corner.clone()))?.as_ref()?[q]
    }

    /// Solves changed jobs at corners, all cores at once; what is known is not solved again.
    fn solve_all(&mut self, wanted: &[Place]) {
        let mut fresh: Vec<&Place> = wanted
            .iter()
            .filter(|place| !self.known.contains_key(*place))
            .collect();
        fresh.sort();
        fresh.dedup();
        let this: &Self = self;
        let changed: Vec<Option<Changed>> = fresh
            .par_iter()
            .map(|(c, corner)| this.changed(*c, corner))
            .collect();
        let ready: Vec<(&Place, &Changed)> = fresh
            .iter()
            .zip(&changed)
            .filter_map(|(place, changed)| Some((*place, changed.as_ref()?)))
            .collect();
        let wanted: Vec<Wanted<'_>> = ready
            .iter()
            .map(|(_, changed)| changed.wanted(this.setting))
            .collect();
        let mut seeds = Seeds::of(&this.found.nominal.solution);
        let solved = seeds.solve(&wanted);
        let mut known: Vec<(Place, Option<Values>)> =
            fresh.iter().map(|place| ((*place).clone(), None)).collect();
        let mut solutions = 0;
        for ((place, changed), solved) in ready.into_iter().zip(solved) {
            let Ok(solved) = solved else { continue };
            solutions += solved.solution.rounds;
            if let Some(known) = known.iter_mut().find(|known| known.0 == *place) {
                known.1 = this.values(changed, &solved);
            }
        }
        self.solutions += solutions;
        self.known.extend(known);
    }

    /// The job with a change, at a corner.
    fn changed(&self, c: Option<usize>, corner: &Corner) -> Option<Changed> {
        let job = match c {
            Some(c) => {
                let change = std::slice::from_ref(&self.candidate(c).change);
                self.setting.job.with(change).ok()?
            }
            None => self.setting.job.clone(),
        };
        // What is asked of a part that was swapped is what its own ratings ask.
        let plan = Plan::of(&job).ok()?;
        let changes = at_corner(&self.found.parameters, corner, &job, self.setting.state);
        Some(Changed { job, plan, changes })
    }

    /// Values of the job's questions in a changed job, told as values that leave the same margins under the limits of the
    /// job as it stands.
    fn values(&self, changed: &Changed, solved: &Solved) -> Option<Values> {
        let own = &changed.plan;
        let answers = answers(own, solved);
        let values = self.plan.questions.iter().map(|question| {
            let index = own
                .questions
                .iter()
                .position(|known| known.name == question.name)?;
            let value = answers[index].as_ref().ok().copied()?;
            let moved = own.questions[index].margin(value) - question.margin(value);
            Some(
                value
                    + if question.max.is_some() {
                        -moved
                    } else {
                        moved
                    },
            )
        });
        Some(values.collect())
    }
}

/// A job with a change, what is asked of it, and the corner.
struct Changed {
    job: Job,
    plan: Plan,
    changes: Vec<Change>,
}

impl Changed {
    fn wanted<'a>(&'a self, setting: Setting<'a>) -> Wanted<'a> {
        Wanted {
            plan: &self.plan,
            setting: Setting {
                job: &self.job,
                ..setting
            },
            changes: &self.changes,
        }
    }
}

/// What a margin is measured by: the limit, or what the value comes to where the limit is zero.
fn size(min: Option<f64>, max: Option<f64>, worst: f64) -> f64 {
    let limit = max.or(min).filter(|limit| *limit != 0.0).unwrap_or(worst);
    limit.abs().max(f64::MIN_POSITIVE)
}

/// The same corner of a changed job: ends of its own tolerances, not the old values. Figures that were not there
/// before stand as marked.
fn at_corner(own: &[Parameter], corner: &Corner, job: &Job, state: usize) -> Vec<Change> {
    let place = |address: &Address| -> Position {
        own.iter()
            .position(|known| known.address == *address)
            .map_or(Position::NOMINAL, |index| corner[index])
    };
    parameters(job, state)
        .into_iter()
        .filter_map(|parameter| {
            let position = place(&parameter.address);
            (position != Position::NOMINAL).then(|| Change::Set {
                value: at(&parameter, position),
                address: parameter.address,
            })
        })
        .collect()
}
