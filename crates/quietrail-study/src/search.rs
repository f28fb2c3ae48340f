//! The worst corner found for each question in one state.
//!
//! 1. The nominal solution and one at each end of the mains; at each the exact slope of every question against
//!    every toleranced figure. For each question the corners that these slopes point to.
//! 2. Around the worst corner of each question that comes near its limit, until nothing worse turns up: slopes
//!    again and the corner they point to; figures flipped one by one; random vertices; and a scan along the
//!    inside of every figure whose slope was seen pointing both ways.
//!
//! Every question looks at every corner that was solved, whoever asked for it. The result is the worst
//! *found*: nothing here proves that no worse exists.
//!
//! Figures are taken as free of each other, save for the points of one curve of one part, which move together:
//! a job cannot declare yet that two parts come off the same reel.

mod aim;
mod corner;

pub use corner::{Corner, Position, at, changes_at, groups};

use crate::finding::WhyNot;
use crate::lower::lower;
use crate::solve::{Plan, Setting, Solution, Solved, Trouble, answers, gradients, solve};
use aim::{Aim, Random, extreme, line};
use corner::corner_at;
use quietrail_job::model::Job;
use quietrail_job::{Address, Parameter};
use rayon::prelude::*;
use std::collections::BTreeMap;

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
/// How often it is looked around a winner that gave way to a worse one.
const ROUNDS: usize = 4;
/// Points by which a line scan that is worst inside is refined.
const REFINED: usize = 3;
/// Seed of the random vertices: any number will do, as long as it is the same each time.
const SEED: u64 = 0x5eed;

/// Searches one state.
///
/// # Errors
/// Why the nominal solution did not settle.
pub fn search(plan: &Plan, setting: Setting<'_>) -> Result<StateFindings, Trouble> {
    search_from(plan, setting, &[])
}

/// Searches one state, and looks at places known to be bad as well: the winners of a run with narrower
/// tolerances, so that a run with wider ones cannot come out better. Values beyond a tolerance stand at its end.
///
/// # Errors
/// Why the nominal solution did not settle.
pub fn search_from(
    plan: &Plan,
    setting: Setting<'_>,
    known: &[Vec<(Address, f64)>],
) -> Result<StateFindings, Trouble> {
    let parameters = parameters(setting.job, setting.state);
    let nominal = solve(plan, setting, &[], None)?;
    let slopes = gradients(plan, setting, &[], &nominal, &parameters)?;
    let known: Vec<Corner> = known
        .iter()
        .map(|values| corner_at(&parameters, values))
        .collect();
    let mut search = Search::new(plan, setting, parameters, &nominal, &slopes);
    search.look_from_ends_of_mains();
    search.look_at(&known);
    search.look_around();
    let (parameters, worst, solutions, corners) = search.found();
    Ok(StateFindings {
        parameters,
        worst,
        nominal,
        solutions,
        corners,
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

/// A corner that settled.
struct Tried {
    /// Value of each question, where it has one there.
    values: Vec<Option<f64>>,
    solution: Solution,
}

/// Slopes of every question (rows) against every parameter.
type Slopes = Vec<Vec<f64>>;

struct Search<'a> {
    plan: &'a Plan,
    setting: Setting<'a>,
    parameters: Vec<Parameter>,
    groups: Vec<usize>,
    worst: Vec<Worst>,
    aims: Vec<Aim>,
    /// Corners solved; `None` where it did not settle.
    seen: BTreeMap<Corner, Option<Tried>>,
    solutions: u64,
    seed: &'a Solution,
}

impl<'a> Search<'a> {
    fn new(
        plan: &'a Plan,
        setting: Setting<'a>,
        parameters: Vec<Parameter>,
        nominal: &'a Solved,
        slopes: &Slopes,
    ) -> Self {
        let as_marked: Corner = vec![Position::NOMINAL; parameters.len()];
        let at_nominal = answers(plan, nominal);
        let mut aims = Vec::new();
        let mut worst = Vec::new();
        for (q, (question, answer)) in plan.questions.iter().zip(&at_nominal).enumerate() {
            let value = answer.as_ref().ok().copied();
            let start = value.map(|value| (value, as_marked.clone()));
            aims.extend(
                question
                    .signs()
                    .map(|sign| Aim::new(q, sign, start.clone())),
            );
            worst.push(Worst {
                nominal: value,
                worst: None,
                weights: weights(&slopes[q], &parameters),
                why_not: answer.as_ref().err().cloned(),
            });
        }
        let mut search = Self {
            plan,
            setting,
            groups: groups(&parameters),
            parameters,
            worst,
            aims,
            seen: BTreeMap::new(),
            solutions: nominal.solution.rounds,
            seed: &nominal.solution,
        };
        let pointed = search.pointed(&as_marked, slopes);
        let tried = Tried {
            values: at_nominal.into_iter().map(Result::ok).collect(),
            solution: nominal.solution.clone(),
        };
        search.seen.insert(as_marked, Some(tried));
        search.try_all(&pointed);
        search
    }

    /// Slopes at both ends of the mains, all else as marked: much turns round with the mains.
    fn look_from_ends_of_mains(&mut self) {
        let Some(mains) = self
            .parameters
            .iter()
            .position(|parameter| parameter.address.0 == "mains.voltage")
        else {
            return;
        };
        let ends = [Position::LOW, Position::HIGH].map(|end| {
            let mut corner = vec![Position::NOMINAL; self.parameters.len()];
            corner[mains] = end;
            corner
        });
        self.look_at(&ends);
        let slopes = self.slopes_at(&ends);
        let mut pointed = Vec::new();
        for (corner, slopes) in &slopes {
            pointed.extend(self.pointed(corner, slopes));
        }
        self.try_all(&pointed);
    }

    /// Solves corners on behalf of every question asked.
    fn look_at(&mut self, corners: &[Corner]) {
        let asked: Vec<usize> = (0..self.worst.len())
            .filter(|&q| self.is_asked(q))
            .collect();
        let wanted: Vec<(usize, Corner)> = corners
            .iter()
            .flat_map(|corner| asked.iter().map(|&q| (q, corner.clone())))
            .collect();
        self.try_all(&wanted);
    }

    /// Looks around the winners of near questions, until none of them changes.
    fn look_around(&mut self) {
        let mut random = Random::seeded(SEED);
        for _ in 0..ROUNDS {
            let near = self.near();
            if near.is_empty() {
                return;
            }
            self.point_again(&near);
            self.scan(&near);
            let mut around = Vec::new();
            for &a in &near {
                let aim = &self.aims[a];
                let corners = aim.around(&self.groups, &mut random);
                around.extend(corners.into_iter().map(|corner| (aim.q, corner)));
            }
            self.try_all(&around);
        }
    }

    /// Aims near their limit whose winner has not been looked around yet.
    fn near(&self) -> Vec<usize> {
        let is_near = |aim: &Aim| {
            let Some((value, corner)) = &aim.best else {
                return false;
            };
            self.is_asked(aim.q)
                && aim.looked_at.as_ref() != Some(corner)
                && self
                    .margin_share(aim, *value)
                    .is_none_or(|share| share < NEAR)
        };
        (0..self.aims.len())
            .filter(|&a| is_near(&self.aims[a]))
            .collect()
    }

    /// Margin to an aim's own side as a share of that limit; `None` for a limit of zero.
    fn margin_share(&self, aim: &Aim, value: f64) -> Option<f64> {
        let question = &self.plan.questions[aim.q];
        let limit = if aim.sign > 0.0 {
            question.max
        } else {
            question.min
        };
        limit
            .filter(|limit| *limit != 0.0)
            .map(|limit| aim.sign * (limit - value) / limit.abs())
    }

    /// Slopes at the winners: what pointed one way at nominal may point another there.
    fn point_again(&mut self, near: &[usize]) {
        let mut winners: Vec<Corner> = near
            .iter()
            .filter_map(|&a| Some(self.aims[a].best.as_ref()?.1.clone()))
            .collect();
        winners.sort();
        winners.dedup();
        let slopes = self.slopes_at(&winners);
        let mut pointed = Vec::new();
        for &a in near {
            let aim = &mut self.aims[a];
            let Some((_, winner)) = aim.best.clone() else {
                continue;
            };
            let of_winner = slopes.iter().find(|(corner, _)| *corner == winner);
            if let Some((_, slopes)) = of_winner {
                let slopes = &slopes[aim.q];
                let corner = aim.point(&winner, slopes, &self.parameters, &self.groups);
                pointed.push((aim.q, corner));
                self.worst[aim.q].weights = weights(slopes, &self.parameters);
            }
            aim.looked_at = Some(winner);
        }
        self.try_all(&pointed);
    }

    /// Scans figures whose slope turns, along lines through the winner, one figure after the other.
    fn scan(&mut self, near: &[usize]) {
        let turning: Vec<Vec<usize>> = near.iter().map(|&a| self.aims[a].turning()).collect();
        let longest = turning.iter().map(Vec::len).max().unwrap_or(0);
        for turn in 0..longest {
            let mut lines: Vec<(usize, usize, Vec<Corner>)> = near
                .iter()
                .zip(&turning)
                .filter_map(|(&a, turning)| {
                    let group = *turning.get(turn)?;
                    let (_, winner) = self.aims[a].best.as_ref()?;
                    Some((a, group, line(winner, &self.groups, group)))
                })
                .collect();
            let points: Vec<(usize, Corner)> = lines
                .iter()
                .flat_map(|(a, _, line)| {
                    line.iter().map(|corner| (self.aims[*a].q, corner.clone()))
                })
                .collect();
            self.try_all(&points);
            for _ in 0..REFINED {
                let mut refined = Vec::new();
                for (a, group, line) in &mut lines {
                    let aim = &self.aims[*a];
                    if let Some(corner) = self.refined(aim, *group, line) {
                        line.push(corner.clone());
                        refined.push((aim.q, corner));
                    }
                }
                self.try_all(&refined);
            }
        }
    }

    /// The point of a line at which the parabola through its worst point and the neighbours is worst.
    fn refined(&self, aim: &Aim, group: usize, line: &[Corner]) -> Option<Corner> {
        let point = |corner: &Corner| {
            let value = self.seen.get(corner)?.as_ref()?.values[aim.q]?;
            Some((corner[group].share(), aim.sign * value))
        };
        let mut points: Vec<(f64, f64)> = line.iter().filter_map(point).collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        points.dedup_by(|a, b| a.0 == b.0);
        let worst = (0..points.len()).max_by(|&a, &b| points[a].1.total_cmp(&points[b].1))?;
        if worst == 0 || worst + 1 == points.len() {
            return None;
        }
        let share = extreme([points[worst - 1], points[worst], points[worst + 1]])?;
        let to = Position::between(share);
        Some(corner::with_group(&line[0], &self.groups, group, to))
    }

    /// The corners that slopes somewhere point to, for every question asked.
    fn pointed(&mut self, from: &Corner, slopes: &Slopes) -> Vec<(usize, Corner)> {
        let mut pointed = Vec::new();
        for a in 0..self.aims.len() {
            let q = self.aims[a].q;
            if !self.is_asked(q) {
                continue;
            }
            let aim = &mut self.aims[a];
            let corner = aim.point(from, &slopes[q], &self.parameters, &self.groups);
            pointed.push((q, corner));
        }
        pointed
    }

    fn is_asked(&self, q: usize) -> bool {
        self.plan.questions[q].states.contains(&self.setting.state)
            && self.worst[q].nominal.is_some()
    }

    /// Slopes at corners that were solved; those that cannot be had are left out.
    fn slopes_at(&mut self, corners: &[Corner]) -> Vec<(Corner, Slopes)> {
        let slopes: Vec<(Corner, Slopes)> = corners
            .par_iter()
            .filter_map(|corner| {
                let solution = &self.seen.get(corner)?.as_ref()?.solution;
                let changes = changes_at(&self.parameters, corner);
                let Setting {
                    job, state, step, ..
                } = self.setting;
                let lowered = lower(job, state, step, &changes, &solution.made_at).ok()?;
                let solved = Solved {
                    lowered,
                    solution: solution.clone(),
                };
                let slopes =
                    gradients(self.plan, self.setting, &changes, &solved, &self.parameters);
                Some((corner.clone(), slopes.ok()?))
            })
            .collect();
        self.solutions += slopes.len() as u64;
        slopes
    }

    /// Solves corners that questions point to. What does not settle is held against the question that asked.
    fn try_all(&mut self, wanted: &[(usize, Corner)]) {
        let troubles = self.solve_all(wanted.iter().map(|(_, corner)| corner.clone()).collect());
        for (q, corner) in wanted {
            if let Some(trouble) = troubles.get(corner) {
                self.worst[*q]
                    .why_not
                    .get_or_insert_with(|| WhyNot::NotSettled(trouble.clone()));
            }
        }
    }

    /// Solves corners not seen yet, all cores at once, and lets every question look at each.
    fn solve_all(&mut self, mut fresh: Vec<Corner>) -> BTreeMap<Corner, String> {
        fresh.sort();
        fresh.dedup();
        fresh.retain(|corner| !self.seen.contains_key(corner));
        let results: Vec<Result<Solved, Trouble>> = fresh
            .par_iter()
            .map(|corner| {
                let changes = changes_at(&self.parameters, corner);
                solve(self.plan, self.setting, &changes, Some(self.seed))
            })
            .collect();
        let mut troubles = BTreeMap::new();
        for (corner, result) in fresh.into_iter().zip(results) {
            match result {
                Ok(solved) => {
                    self.solutions += solved.solution.rounds;
                    let values = self.take(&corner, &solved);
                    let tried = Tried {
                        values,
                        solution: solved.solution,
                    };
                    self.seen.insert(corner, Some(tried));
                }
                Err(trouble) => {
                    self.seen.insert(corner.clone(), None);
                    troubles.insert(corner, trouble.to_string());
                }
            }
        }
        troubles
    }

    fn take(&mut self, corner: &Corner, solved: &Solved) -> Vec<Option<f64>> {
        let answers = answers(self.plan, solved);
        for aim in &mut self.aims {
            match &answers[aim.q] {
                Ok(value) => aim.take(*value, corner),
                // A figure that is not there in this corner (a level that never settles) is as bad as a
                // corner that does not settle.
                Err(why) => {
                    self.worst[aim.q].why_not.get_or_insert_with(|| why.clone());
                }
            }
        }
        answers.into_iter().map(Result::ok).collect()
    }

    /// What was found, the solutions and the corners it took.
    fn found(mut self) -> (Vec<Parameter>, Vec<Worst>, u64, u64) {
        for aim in self.aims {
            let question = &self.plan.questions[aim.q];
            let Some((value, corner)) = aim.best else {
                continue;
            };
            let worst = &mut self.worst[aim.q].worst;
            let is_worse = worst
                .as_ref()
                .is_none_or(|(known, _)| question.margin(value) < question.margin(*known));
            if is_worse {
                *worst = Some((value, corner));
            }
        }
        // The nominal solution is no corner.
        let corners = self.seen.len() as u64 - 1;
        (self.parameters, self.worst, self.solutions, corners)
    }
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
