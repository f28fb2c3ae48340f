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
use crate::question::Ask;
use crate::search::{Corner, Position, StateFindings, at, changes_at, parameters};
use crate::slopes::gradients;
use crate::solve::{Beginning, Plan, Seeds, Setting, Solved, Wanted, answers};
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
/// Other limits that one help is solved for, those that it leaves tightest: as many as are solved at a time, so that they cost
/// hardly more than one.
const CHECKED: usize = 8;
/// A margin that moves by less than this share of itself is neither helped nor hurt.
const TELLING: f64 = 0.05;
/// A cost below this share of its limit is not told, unless the limit then fails.
const COSTLY: f64 = 0.01;
/// Nor is one that takes less than this share of the margin that was there.
const NOTABLE: f64 = 0.1;
/// What takes more than this share of a limit from one that fails already is no help for another: a Schottky diode behind 570 V mends a zener's
/// junction, as no high tension is left.
const RUINOUS: f64 = 0.5;

/// The figure that windings are judged by.
const MAINS: &str = "mains.voltage";

/// A change, none for the job as it stands, and a corner.
type Place = (Option<usize>, Corner);
/// Value of each question of the job, where it has one.
type Values = Vec<Option<f64>>;

/// A limit as it was found: index of the question, its worst value, and the corner.
pub(super) type Found<'c> = (usize, f64, &'c Corner);

/// The helps of one state, with what was solved for one limit kept for the others.
pub(super) struct Helper<'a> {
    plan: &'a Plan,
    setting: Setting<'a>,
    found: &'a StateFindings,
    figures: Vec<Candidate>,
    swaps: Vec<Candidate>,
    /// The job with each change that was tried, and what is asked of it; none where it cannot be made.
    changed: BTreeMap<usize, Option<(Job, Plan)>>,
    /// Where each was solved; none where it did not settle.
    known: BTreeMap<Place, Option<Values>>,
    /// Steady states solved.
    pub(super) solutions: u64,
}

/// A change that was solved for a limit.
struct Tried {
    /// The change.
    c: usize,
    /// The margin that it leaves.
    margin: f64,
}

/// A limit that is tight, and the changes that leave it more.
struct Tight<'c> {
    /// Index among those asked for.
    of: usize,
    q: usize,
    margin: f64,
    corner: &'c Corner,
    better: Vec<Tried>,
}

impl<'a> Helper<'a> {
    pub(super) fn new(plan: &'a Plan, setting: Setting<'a>, found: &'a StateFindings) -> Self {
        let mut known = BTreeMap::new();
        for (corner, tried) in &found.tried {
            let values = tried.as_ref().map(|tried| tried.values.clone());
            known.insert((None, corner.clone()), values);
        }
        Self {
            plan,
            setting,
            found,
            figures: candidates::figures(setting.job),
            swaps: candidates::swaps(setting.job),
            changed: BTreeMap::new(),
            known,
            solutions: 0,
        }
    }

    /// For each of some limits the changes that help it most, best first; none for a limit that is not tight.
    ///
    /// What is solved for all goes together.
    pub(super) fn of_all(&mut self, limits: &[Found<'_>]) -> Vec<Vec<Help>> {
        let mut all: Vec<Tight<'_>> = limits
            .iter()
            .enumerate()
            .filter(|(_, (q, value, _))| self.is_tight(*q, *value))
            .map(|(of, &(q, value, corner))| Tight {
                of,
                q,
                margin: self.plan.questions[q].margin(value),
                corner,
                better: Vec::new(),
            })
            .collect();
        self.try_promising(&mut all);
        let costs = self.costs(&all);
        let mut helps: Vec<Vec<Help>> = limits.iter().map(|_| Vec::new()).collect();
        for (limit, costs) in all.iter().zip(costs) {
            helps[limit.of] = self.worth_telling(limit, costs);
        }
        helps
    }

    fn is_tight(&self, q: usize, value: f64) -> bool {
        let question = &self.plan.questions[q];
        let share = question.margin_share(value);
        question.margin(value) < 0.0 || share.is_some_and(|share| share < TIGHT)
    }

    /// Solves the promising changes of all limits, and keeps for each those that leave it more.
    fn try_promising(&mut self, all: &mut [Tight<'_>]) {
        let columns = self.columns();
        let mut corners: Vec<&Corner> = all.iter().map(|limit| limit.corner).collect();
        corners.sort();
        corners.dedup();
        let this: &Self = self;
        let slopes: Vec<Option<Vec<Vec<f64>>>> = corners
            .par_iter()
            .map(|corner| this.slopes(corner, &columns))
            .collect();
        self.solutions += slopes.iter().flatten().count() as u64;
        let tried: Vec<Vec<usize>> = all
            .iter()
            .map(|limit| {
                let at = corners.iter().position(|corner| *corner == limit.corner);
                let slopes = at.and_then(|at| slopes[at].as_deref());
                self.promising(limit.q, slopes, &columns)
            })
            .collect();
        let mut wanted: Vec<Place> = Vec::new();
        for (limit, tried) in all.iter().zip(&tried) {
            wanted.extend(tried.iter().map(|&c| (Some(c), limit.corner.clone())));
        }
        self.solve_all(&wanted);
        for (limit, tried) in all.iter_mut().zip(tried) {
            let question = &self.plan.questions[limit.q];
            let leaves = |c: usize| {
                if self.starves(c, limit.corner) {
                    return None;
                }
                let margin = question.margin(self.value(Some(c), limit.corner, limit.q)?);
                let is_more = margin - limit.margin > TELLING * limit.margin.abs();
                is_more.then_some(Tried { c, margin })
            };
            limit.better = tried.into_iter().filter_map(leaves).collect();
            limit.better.sort_by(|a, b| b.margin.total_cmp(&a.margin));
            self.one_of_each_kind(&mut limit.better);
            limit.better.truncate(COSTED);
        }
    }

    /// Whether a change takes from a load at a corner what it has there without it: a rail that is down asks nothing of what feeds it,
    /// and that helps nobody.
    fn starves(&self, c: usize, corner: &Corner) -> bool {
        let questions = self.plan.questions.iter().enumerate();
        let mut supplied =
            questions.filter(|(_, question)| matches!(question.ask, Ask::Supplied(_)));
        supplied.any(|(q, question)| {
            let margin = |c: Option<usize>| self.value(c, corner, q).map(|at| question.margin(at));
            margin(None).is_some_and(|before| before >= 0.0)
                && margin(Some(c)).is_some_and(|after| after < 0.0)
        })
    }

    /// The best few of the changes that help a limit, with what each costs.
    fn worth_telling(&self, limit: &Tight<'_>, costs: Vec<Vec<Cost>>) -> Vec<Help> {
        let mut helps: Vec<Help> = Vec::new();
        for (Tried { c, margin: with }, costs) in limit.better.iter().zip(costs) {
            let candidate = self.candidate(*c);
            // What breaks another limit is no help where this one holds; a set point has to be within all limits.
            let breaks = costs.iter().any(Cost::fails);
            let is_off = candidate.is_set_point && costs.iter().any(|cost| cost.after < 0.0);
            let ruins = costs.iter().any(|cost| self.is_ruin(cost));
            if is_off || ruins || (breaks && limit.margin >= 0.0) {
                continue;
            }
            helps.push(Help {
                change: candidate.change.clone(),
                before: candidate.before,
                unit: candidate.unit,
                with: candidate.with.clone(),
                margin: *with,
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
    fn promising(
        &self,
        q: usize,
        slopes: Option<&[Vec<f64>]>,
        columns: &[Parameter],
    ) -> Vec<usize> {
        let first_swap = self.figures.len();
        // A winding is no help where the mains the same way up or down is none.
        let mains = columns.iter().position(|column| column.address.0 == MAINS);
        let by_mains = slopes.and_then(|slopes| Some(self.sign(q) * slopes[q][mains?]));
        let is_wrong_way = |c: usize| {
            let volts = self.candidate(c).volts.map(|volts| volts - 1.0);
            volts
                .zip(by_mains)
                .is_some_and(|(volts, by_mains)| volts * by_mains < 0.0)
        };
        let mut tried: Vec<usize> = (first_swap..first_swap + self.swaps.len())
            .filter(|&c| !is_wrong_way(c))
            .collect();
        tried.truncate(SOLVED / 2);
        // Where slopes cannot be had, all are alike.
        let gains = slopes.map_or_else(
            || vec![1.0; first_swap],
            |slopes| self.gains(q, &slopes[q], columns),
        );
        let mut figures: Vec<usize> = (0..first_swap).filter(|&c| gains[c] > 0.0).collect();
        figures.sort_by(|&a, &b| gains[b].total_cmp(&gains[a]));
        figures.truncate(SOLVED - tried.len());
        tried.extend(figures);
        tried
    }

    /// The figures that changes set.
    fn columns(&self) -> Vec<Parameter> {
        let all = self.setting.job.parameters();
        let mut columns: Vec<Parameter> = self
            .figures
            .iter()
            .filter_map(|candidate| match &candidate.change {
                Change::Set { address, .. } => all.iter().find(|known| known.address == *address),
                _ => None,
            })
            .chain(all.iter().filter(|known| known.address.0 == MAINS))
            .cloned()
            .collect();
        columns.dedup_by(|a, b| a.address == b.address);
        columns
    }

    /// Slopes of every question against those figures at a corner that was solved.
    fn slopes(&self, corner: &Corner, columns: &[Parameter]) -> Option<Vec<Vec<f64>>> {
        let changes = changes_at(&self.found.parameters, corner);
        let solved = self.found.solved(self.setting, corner)?;
        let slopes = gradients(self.plan, self.setting, &changes, &solved, columns);
        Some(slopes.ok()?.questions)
    }

    /// 1 where more is better for a question at its worst, −1 where less is.
    fn sign(&self, q: usize) -> f64 {
        let question = &self.plan.questions[q];
        let value = self.found.worst[q]
            .worst
            .as_ref()
            .map_or(0.0, |(value, _)| *value);
        let nearer_the_top = question.max.map_or(f64::INFINITY, |max| max - value)
            < question.min.map_or(f64::INFINITY, |min| value - min);
        if nearer_the_top { -1.0 } else { 1.0 }
    }

    /// What each change of a figure brings a question, by its slopes.
    fn gains(&self, q: usize, slopes: &[f64], columns: &[Parameter]) -> Vec<f64> {
        let sign = self.sign(q);
        self.figures
            .iter()
            .map(|candidate| {
                let Change::Set { address, value } = &candidate.change else {
                    return 0.0;
                };
                let column = columns.iter().position(|known| known.address == *address);
                column.map_or(0.0, |column| {
                    sign * slopes[column] * (value - candidate.before)
                })
            })
            .collect()
    }

    /// Of several changes to one figure only those that are needed: the smallest that mends, or else the one that comes
    /// closest.
    fn one_of_each_kind(&self, better: &mut Vec<Tried>) {
        let of = |c: usize| match &self.candidate(c).change {
            Change::Set { address, .. } => Some(address.clone()),
            _ => None,
        };
        let step = |c: usize| match &self.candidate(c).change {
            Change::Set { value, .. } => (value / self.candidate(c).before).ln().abs(),
            _ => 0.0,
        };
        let all: Vec<(usize, f64)> = better.iter().map(|tried| (tried.c, tried.margin)).collect();
        better.retain(|&Tried { c, margin }| {
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

    /// For each limit and each change that leaves it more: other limits of the state that the change makes telling worse,
    /// worst first.
    fn costs(&mut self, all: &[Tight<'_>]) -> Vec<Vec<Vec<Cost>>> {
        let as_marked: Corner = vec![Position::NOMINAL; self.found.parameters.len()];
        let wanted: Vec<Place> = all
            .iter()
            .flat_map(|limit| &limit.better)
            .map(|tried| (Some(tried.c), as_marked.clone()))
            .collect();
        self.solve_all(&wanted);
        let hurt: Vec<Vec<Vec<usize>>> = all
            .iter()
            .map(|limit| {
                let better = limit.better.iter();
                better
                    .map(|tried| self.hurt(tried.c, limit.q, [limit.corner, &as_marked]))
                    .collect()
            })
            .collect();
        let mut wanted: Vec<Place> = Vec::new();
        for (limit, hurt) in all.iter().zip(&hurt) {
            for (tried, others) in limit.better.iter().zip(hurt) {
                let own = others.iter().filter_map(|&other| self.worst_corner(other));
                wanted.extend(own.map(|corner| (Some(tried.c), corner.clone())));
            }
        }
        self.solve_all(&wanted);
        let costs = |tried: &Tried, others: &[usize]| {
            let of = others.iter();
            of.filter_map(|&other| self.cost(tried.c, other)).collect()
        };
        all.iter()
            .zip(&hurt)
            .map(|(limit, hurt)| {
                let each = limit.better.iter().zip(hurt);
                each.map(|(tried, others)| costs(tried, others)).collect()
            })
            .collect()
    }

    /// The limits that a change hurts most at some places, worst first.
    fn hurt(&self, c: usize, q: usize, places: [&Corner; 2]) -> Vec<usize> {
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
            if loss > 0.0 && is_telling(question.margin(*worst), left, size) {
                hurt.push((left / size, other));
            }
        }
        hurt.sort_by(|a, b| a.0.total_cmp(&b.0));
        hurt.truncate(CHECKED);
        hurt.into_iter().map(|(_, other)| other).collect()
    }

    /// What a change costs another limit at that limit's own worst corner; none where it is not worth telling.
    fn cost(&self, c: usize, other: usize) -> Option<Cost> {
        let question = &self.plan.questions[other];
        let (worst, corner) = self.found.worst[other].worst.as_ref()?;
        let before = question.margin(*worst);
        let after = question.margin(self.value(Some(c), corner, other)?);
        let size = size(question.min, question.max, *worst);
        let cost = Cost {
            limit: question.name.clone(),
            what: question.what,
            unit: question.unit,
            before,
            after,
        };
        is_telling(before, after, size).then_some(cost)
    }

    /// Whether a change takes from a limit that fails already as much again as would end what it is there for: half of the limit itself.
    fn is_ruin(&self, cost: &Cost) -> bool {
        let mut questions = self.plan.questions.iter();
        let Some(question) = questions.find(|question| question.name == cost.limit) else {
            return false;
        };
        let limit = question.max.or(question.min).map_or(0.0, f64::abs);
        limit > 0.0 && cost.before < 0.0 && cost.before - cost.after > RUINOUS * limit
    }

    fn worst_corner(&self, q: usize) -> Option<&'a Corner> {
        Some(&self.found.worst[q].worst.as_ref()?.1)
    }

    fn value(&self, c: Option<usize>, corner: &Corner, q: usize) -> Option<f64> {
        self.known.get(&(c, corner.clone()))?.as_ref()?[q]
    }

    /// Solves changed jobs at corners; what is known is not solved again.
    ///
    /// Changes of figures leave the circuit as it is and go together. A part that is swapped makes another of it, and eight of
    /// which one does not fit with the others would all have to go another way: so each swap goes by itself.
    fn solve_all(&mut self, wanted: &[Place]) {
        let mut fresh: Vec<(usize, &Corner)> = wanted
            .iter()
            .filter(|place| !self.known.contains_key(*place))
            .filter_map(|(c, corner)| Some(((*c)?, corner)))
            .collect();
        fresh.sort();
        fresh.dedup();
        let figures = self.figures.len();
        let circuit = |c: usize| c.max(figures.saturating_sub(1));
        for alike in fresh.chunk_by(|a, b| circuit(a.0) == circuit(b.0)) {
            self.solve_alike(alike);
        }
    }

    /// Solves changed jobs of one circuit at corners, all cores at once.
    fn solve_alike(&mut self, fresh: &[(usize, &Corner)]) {
        for &(c, _) in fresh {
            if !self.changed.contains_key(&c) {
                let changed = self.changed(c);
                self.changed.insert(c, changed);
            }
        }
        let state = self.setting.state;
        let mut ready: Vec<Ready<'_>> = Vec::new();
        for (index, &(c, corner)) in fresh.iter().enumerate() {
            let Some(Some((job, plan))) = self.changed.get(&c) else {
                continue;
            };
            // A part that is swapped makes another circuit of it.
            let near = self.found.solution(corner);
            let near = near.filter(|_| c < self.figures.len());
            let all = at_corner(&self.found.parameters, corner, job, state);
            ready.extend(all.into_iter().map(|changes| Ready {
                of: index,
                job,
                plan,
                changes,
                near: near.map(Beginning::at),
            }));
        }
        let wanted: Vec<Wanted<'_>> = ready
            .iter()
            .map(|ready| Wanted {
                plan: ready.plan,
                setting: Setting {
                    job: ready.job,
                    ..self.setting
                },
                changes: &ready.changes,
                begin: ready.near.as_ref(),
            })
            .collect();
        let solved = Seeds::of(&self.found.nominal.solution).solve(&wanted);
        let mut values: Vec<Option<Values>> = fresh.iter().map(|_| None).collect();
        let mut is_lost = vec![false; fresh.len()];
        let mut solutions = 0;
        for (ready, solved) in ready.iter().zip(solved) {
            let Ok(solved) = solved else {
                is_lost[ready.of] = true;
                continue;
            };
            solutions += solved.solution.rounds;
            let own = self.values(ready.plan, &solved);
            values[ready.of] = match (values[ready.of].take(), own) {
                (Some(known), Some(own)) => Some(self.worse(known, own)),
                (known, own) => known.or(own),
            };
        }
        let places = fresh
            .iter()
            .map(|(c, corner)| (Some(*c), (*corner).clone()));
        let settled = values.into_iter().zip(is_lost);
        let settled = settled.map(|(values, is_lost)| values.filter(|_| !is_lost));
        let mut known: BTreeMap<Place, Option<Values>> = places.zip(settled).collect();
        self.solutions += solutions;
        self.known.append(&mut known);
    }

    /// Question by question the worse of two values.
    fn worse(&self, one: Values, other: Values) -> Values {
        let questions = self.plan.questions.iter();
        let pairs = one.into_iter().zip(other);
        questions
            .zip(pairs)
            .map(|(question, (one, other))| {
                let (one, other) = (one?, other?);
                let is_worse = question.margin(other) < question.margin(one);
                Some(if is_worse { other } else { one })
            })
            .collect()
    }

    /// The job with a change. What is asked of a part that was swapped is what its own ratings ask.
    fn changed(&self, c: usize) -> Option<(Job, Plan)> {
        let change = std::slice::from_ref(&self.candidate(c).change);
        let job = self.setting.job.with(change).ok()?;
        let plan = Plan::of(&job).ok()?;
        Some((job, plan))
    }

    /// Values of the job's questions in a changed job, told as values that leave the same margins under the limits of the
    /// job as it stands.
    fn values(&self, own: &Plan, solved: &Solved) -> Option<Values> {
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

/// A changed job at a corner.
struct Ready<'h> {
    /// Index of the place that it is of.
    of: usize,
    job: &'h Job,
    plan: &'h Plan,
    changes: Vec<Change>,
    /// What the corner came to without the change.
    near: Option<Beginning<'h>>,
}

/// Whether a margin that becomes another is worth telling as a cost.
fn is_telling(before: f64, after: f64, size: f64) -> bool {
    let loss = before - after;
    let is_notable = loss > COSTLY * size && loss > NOTABLE * before.abs();
    is_notable || (before >= 0.0 && after < 0.0)
}

/// What a margin is measured by: the limit, or what the value comes to where the limit is zero.
fn size(min: Option<f64>, max: Option<f64>, worst: f64) -> f64 {
    let limit = max.or(min).filter(|limit| *limit != 0.0).unwrap_or(worst);
    limit.abs().max(f64::MIN_POSITIVE)
}

/// The same corner of a changed job: ends of its own tolerances, not the old values. Figures that were not there before stand
/// at their low ends, and then all at their high ones.
fn at_corner(own: &[Parameter], corner: &Corner, job: &Job, state: usize) -> Vec<Vec<Change>> {
    let place = |address: &Address| -> Option<Position> {
        let known = own.iter().position(|known| known.address == *address)?;
        Some(corner[known])
    };
    let own = parameters(job, state);
    let at_ends = |end: Position| -> Vec<Change> {
        own.iter()
            .filter_map(|parameter| {
                let position = place(&parameter.address).unwrap_or(end);
                (position != Position::NOMINAL).then(|| Change::Set {
                    value: at(parameter, position),
                    address: parameter.address.clone(),
                })
            })
            .collect()
    };
    let is_new = own
        .iter()
        .any(|parameter| place(&parameter.address).is_none());
    let ends = [Position::LOW, Position::HIGH];
    let ends = if is_new { &ends[..] } else { &ends[..1] };
    ends.iter().map(|&end| at_ends(end)).collect()
}
