//! The worst corner found for each question in one state.
//!
//! 1. The nominal solution, and the exact slope of every question against every toleranced figure.
//! 2. For each question the corner that its slopes point to.
//! 3. At the corners of questions that come near their limit, slopes again; corners they point to.
//! 4. Around those corners, the most telling figures flipped one by one.
//!
//! Every question looks at every corner that was solved, whoever asked for it. The result is the worst
//! *found*: nothing here proves that no worse exists.

use crate::finding::WhyNot;
use crate::solve::{Plan, Setting, Solution, Solved, Trouble, answers, gradients, solve};
use quietrail_job::model::Job;
use quietrail_job::{Change, Parameter};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Where each parameter stands, in the order of the parameters.
pub type Corner = Vec<Position>;

/// End of a tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Position {
    /// At the low end.
    Low,
    /// As marked.
    Nominal,
    /// At the high end.
    High,
}

/// What was found for one question in one state.
#[derive(Clone, Debug)]
pub struct Worst {
    /// With all parts as marked.
    pub nominal: Option<f64>,
    /// Worst value found and its corner.
    pub worst: Option<(f64, Corner)>,
    /// Share of the way from nominal to worst that each parameter makes, by its slope.
    pub weights: Vec<f64>,
    /// Why there is no value, or why none can be trusted.
    pub why_not: Option<WhyNot>,
}

/// What was found in one state.
pub struct StateFindings {
    /// Toleranced figures that can matter in this state.
    pub parameters: Vec<Parameter>,
    /// One per question of the plan (those not asked in this state are looked at all the same).
    pub worst: Vec<Worst>,
    /// The nominal solution.
    pub nominal: Solved,
    /// Solutions of the corners tried.
    pub solutions: u64,
    /// Corners tried.
    pub corners: u64,
}

/// Questions whose margin is below this share of their limit get a closer look.
const NEAR: f64 = 0.25;
/// Figures flipped around a near question's worst corner.
const FLIPS: usize = 4;

/// Searches one state.
///
/// # Errors
/// Why the nominal solution did not settle.
pub fn search(plan: &Plan, setting: Setting<'_>) -> Result<StateFindings, Trouble> {
    let parameters = parameters(setting.job, setting.state);
    let nominal = solve(plan, setting, &[], None)?;
    let slopes = gradients(plan, setting, &[], &nominal, &parameters)?;
    let at_nominal = answers(plan, &nominal);
    let worst = plan
        .questions
        .iter()
        .enumerate()
        .map(|(q, question)| {
            let nowhere: Corner = vec![Position::Nominal; parameters.len()];
            let value = at_nominal[q].as_ref().ok().copied();
            Worst {
                nominal: value,
                worst: value.map(|value| (value, nowhere)),
                weights: weights(&slopes[q], &parameters),
                why_not: at_nominal[q].as_ref().err().cloned(),
            }
            .guarded(question.min.is_some() || question.max.is_some())
        })
        .collect();
    let solutions = nominal.solution.rounds;
    let mut state = Tried {
        plan,
        setting,
        parameters,
        worst,
        seen: BTreeMap::new(),
        solutions,
        seed: nominal.solution.clone(),
    };

    let pointed: Vec<(usize, Corner)> = (0..plan.questions.len())
        .filter(|&q| state.is_asked(q))
        .flat_map(|q| {
            let parameters = &state.parameters;
            plan.questions[q]
                .signs()
                .map(move |sign| (q, sign))
                .map(|(q, sign)| (q, corner(&slopes[q], sign, parameters)))
                .collect::<Vec<_>>()
        })
        .collect();
    state.try_all(&pointed);
    state.look_closer();
    state.flip();

    let Tried {
        parameters,
        worst,
        seen,
        solutions,
        ..
    } = state;
    Ok(StateFindings {
        parameters,
        worst,
        nominal,
        solutions,
        corners: seen.len() as u64,
    })
}

/// Toleranced figures that can matter in a state.
pub fn parameters(job: &Job, state: usize) -> Vec<Parameter> {
    let own = format!(".{}", job.states[state].name);
    let of_other_state = |parameter: &Parameter| {
        let address = &parameter.address.0;
        address.starts_with("load.")
            && !address.ends_with(&own)
            && job
                .states
                .iter()
                .any(|other| address.ends_with(&format!(".{}", other.name)))
    };
    let mut all = job.parameters();
    all.retain(|parameter| parameter.high > parameter.low && !of_other_state(parameter));
    all
}

/// The changes that put a job at a corner.
pub fn changes_at(parameters: &[Parameter], corner: &[Position]) -> Vec<Change> {
    parameters
        .iter()
        .zip(corner)
        .filter(|(_, position)| **position != Position::Nominal)
        .map(|(parameter, position)| Change::Set {
            address: parameter.address.clone(),
            value: at(parameter, *position),
        })
        .collect()
}

/// A parameter's value at a position.
pub fn at(parameter: &Parameter, position: Position) -> f64 {
    match position {
        Position::Low => parameter.low,
        Position::Nominal => parameter.nominal,
        Position::High => parameter.high,
    }
}

struct Tried<'a> {
    plan: &'a Plan,
    setting: Setting<'a>,
    parameters: Vec<Parameter>,
    worst: Vec<Worst>,
    /// Corners solved, and whether they settled.
    seen: BTreeMap<Corner, bool>,
    solutions: u64,
    seed: Solution,
}

impl Tried<'_> {
    fn is_asked(&self, q: usize) -> bool {
        self.plan.questions[q].states.contains(&self.setting.state)
            && self.worst[q].nominal.is_some()
    }

    /// Solves corners not seen yet, all cores at once, and lets every question look at each.
    fn try_all(&mut self, wanted: &[(usize, Corner)]) {
        let mut fresh: Vec<Corner> = wanted.iter().map(|(_, corner)| corner.clone()).collect();
        fresh.sort();
        fresh.dedup();
        fresh.retain(|corner| !self.seen.contains_key(corner));
        let results: Vec<Result<Solved, Trouble>> = fresh
            .par_iter()
            .map(|corner| {
                let changes = changes_at(&self.parameters, corner);
                solve(self.plan, self.setting, &changes, Some(&self.seed))
            })
            .collect();
        let mut troubles: BTreeMap<&Corner, String> = BTreeMap::new();
        for (corner, result) in fresh.iter().zip(results) {
            self.seen.insert(corner.clone(), result.is_ok());
            match result {
                Ok(solved) => {
                    self.solutions += solved.solution.rounds;
                    self.take(corner, &solved);
                }
                Err(trouble) => {
                    troubles.insert(corner, trouble.to_string());
                }
            }
        }
        for (q, corner) in wanted {
            if let Some(trouble) = troubles.get(corner) {
                self.worst[*q]
                    .why_not
                    .get_or_insert_with(|| WhyNot::NotSettled(trouble.clone()));
            }
        }
    }

    fn take(&mut self, corner: &Corner, solved: &Solved) {
        for (q, answer) in answers(self.plan, solved).into_iter().enumerate() {
            let Ok(value) = answer else { continue };
            let question = &self.plan.questions[q];
            let worst = &mut self.worst[q].worst;
            let is_worse = worst
                .as_ref()
                .is_none_or(|(known, _)| question.margin(value) < question.margin(*known));
            if is_worse {
                *worst = Some((value, corner.clone()));
            }
        }
    }

    /// Questions near their limit, with their worst corners.
    fn near(&self) -> Vec<(usize, Corner)> {
        (0..self.worst.len())
            .filter(|&q| self.is_asked(q))
            .filter_map(|q| {
                let (value, corner) = self.worst[q].worst.as_ref()?;
                let share = self.plan.questions[q].margin_share(*value);
                share
                    .is_none_or(|share| share < NEAR)
                    .then(|| (q, corner.clone()))
            })
            .collect()
    }

    /// Slopes again where it is tight: what pointed one way at nominal may point another here.
    fn look_closer(&mut self) {
        let near = self.near();
        let mut corners: Vec<Corner> = near.iter().map(|(_, corner)| corner.clone()).collect();
        corners.sort();
        corners.dedup();
        let slopes: Vec<(Corner, Vec<Vec<f64>>)> = corners
            .into_par_iter()
            .filter_map(|corner| {
                let changes = changes_at(&self.parameters, &corner);
                let solved = solve(self.plan, self.setting, &changes, Some(&self.seed)).ok()?;
                let slopes =
                    gradients(self.plan, self.setting, &changes, &solved, &self.parameters).ok()?;
                Some((corner, slopes))
            })
            .collect();
        self.solutions += slopes.len() as u64;
        let mut pointed = Vec::new();
        for (q, own) in near {
            let Some((_, slopes)) = slopes.iter().find(|(corner, _)| *corner == own) else {
                continue;
            };
            for sign in self.plan.questions[q].signs() {
                pointed.push((q, corner_from(&own, &slopes[q], sign, &self.parameters)));
            }
            self.worst[q].weights = weights(&slopes[q], &self.parameters);
        }
        self.try_all(&pointed);
    }

    /// The most telling figures of tight questions, flipped one by one.
    fn flip(&mut self) {
        let groups = groups(&self.parameters);
        let mut flipped = Vec::new();
        for (q, corner) in self.near() {
            let mut order: Vec<usize> = (0..corner.len()).collect();
            let weights = &self.worst[q].weights;
            order.sort_by(|&a, &b| weights[b].total_cmp(&weights[a]));
            for &index in order.iter().take(FLIPS) {
                let mut other = corner.clone();
                let flipped_to = match corner[index] {
                    Position::Low | Position::Nominal => Position::High,
                    Position::High => Position::Low,
                };
                for (position, group) in other.iter_mut().zip(&groups) {
                    if *group == groups[index] {
                        *position = flipped_to;
                    }
                }
                flipped.push((q, other));
            }
        }
        self.try_all(&flipped);
    }
}

/// The corner at which a question moves furthest up (`sign` 1) or down (−1) by its slopes.
fn corner(slopes: &[f64], sign: f64, parameters: &[Parameter]) -> Corner {
    corner_from(
        &vec![Position::Nominal; parameters.len()],
        slopes,
        sign,
        parameters,
    )
}

/// The same from another corner: figures without a slope stay where they are.
fn corner_from(from: &Corner, slopes: &[f64], sign: f64, parameters: &[Parameter]) -> Corner {
    let groups = groups(parameters);
    let mut effects = vec![0.0; parameters.len()];
    for ((parameter, slope), &group) in parameters.iter().zip(slopes).zip(&groups) {
        effects[group] += sign * slope * (parameter.high - parameter.low);
    }
    let largest = effects
        .iter()
        .fold(0.0, |largest: f64, effect| largest.max(effect.abs()));
    groups
        .iter()
        .zip(from)
        .map(|(&group, from)| {
            let effect = effects[group];
            // Below a millionth of the strongest it is rounding, and not worth another corner.
            if effect.abs() <= 1e-6 * largest {
                *from
            } else if effect > 0.0 {
                Position::High
            } else {
                Position::Low
            }
        })
        .collect()
}

/// For each parameter the first of those that move with it: the points of one curve of one part
/// (`U1.dropout.1`, `U1.dropout.2`) come from the same piece of silicon and go up or down together.
fn groups(parameters: &[Parameter]) -> Vec<usize> {
    let curve = |parameter: &Parameter| {
        let (curve, point) = parameter.address.0.rsplit_once('.')?;
        point
            .chars()
            .all(|c| c.is_ascii_digit())
            .then(|| curve.to_owned())
    };
    let curves: Vec<Option<String>> = parameters.iter().map(curve).collect();
    curves
        .iter()
        .enumerate()
        .map(|(index, own)| match own {
            Some(_) => curves
                .iter()
                .position(|other| other == own)
                .unwrap_or(index),
            None => index,
        })
        .collect()
}

fn weights(slopes: &[f64], parameters: &[Parameter]) -> Vec<f64> {
    let effects: Vec<f64> = parameters
        .iter()
        .zip(slopes)
        .map(|(parameter, slope)| (slope * (parameter.high - parameter.low)).abs())
        .collect();
    let sum: f64 = effects.iter().sum();
    effects
        .iter()
        .map(|effect| if sum > 0.0 { effect / sum } else { 0.0 })
        .collect()
}

impl Worst {
    /// A question that limits nothing has no worst.
    fn guarded(mut self, has_limit: bool) -> Self {
        if !has_limit {
            self.worst = None;
        }
        self
    }
}

impl crate::question::Question {
    /// Which ways it can get worse: up where there is a maximum, down where there is a minimum.
    fn signs(&self) -> impl Iterator<Item = f64> + use<> {
        let up = self.max.map(|_| 1.0);
        let down = self.min.map(|_| -1.0);
        up.into_iter().chain(down)
    }
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        use quietrail_engine::Ended;
        match self {
            Trouble::Change(error) => write!(f, "{error}"),
            Trouble::Value { part, what, value } => {
                write!(f, "{part}: a {what} of {value} cannot be computed with")
            }
            Trouble::Runaway { part } if part.is_empty() => {
                f.write_str("heat makes more heat without end")
            }
            Trouble::Runaway { part } => write!(f, "{part}: heat makes more heat without end"),
            Trouble::Ended { ended, place } => match ended {
                Ended::Settled { .. } => f.write_str("settled"),
                Ended::Unstable { multiplier } => {
                    write!(
                        f,
                        "unstable: a disturbance grows {multiplier:.3} times each cycle"
                    )
                }
                Ended::CyclesSpent { drift } => {
                    write!(
                        f,
                        "no steady cycle found; the last one still drifts by {drift:.1e} of its swing"
                    )
                }
                Ended::StepsSpent => f.write_str("no steady cycle found within the allowed steps"),
                Ended::NoStep { .. } => write!(f, "the equations resist at {place}"),
                Ended::Singular { .. } => {
                    write!(
                        f,
                        "the equations at {place} leave something undetermined or contradict each other"
                    )
                }
            },
        }
    }
}
