//! The worst corner found for each question in one state.
//!
//! 1. The nominal solution and one at each end of the mains; at each the exact slope of every question against
//!    every toleranced figure. For each question the corners that these slopes point to, put together into as few as will
//!    serve all of them (see `together`).
//! 2. From the winner of each question, until nothing worse turns up: slopes again where those known do not tell what was
//!    found there, the corner that they point to, and a scan along the inside of every figure that may turn there: its slope
//!    was seen pointing both ways, or it stands at an end from which the slope points away.
//! 3. Around the winners of questions that come near their limit, for figures whose slopes differ so much from place to place
//!    that they may turn: the worst along the ridge on which a winner stands (see `ridge`), flips one by one, random
//!    vertices, and flips for which a turning figure is scanned anew (see `line`).
//! 4. Each winner with the figures that others had put where they wanted them, as far as that promises anything.
//! 5. Corners are only looked at ([`crate::looking`]); last, the winners are solved as exactly as they are told (see `tell`).
//!
//! Every question looks at every corner that was solved, whoever asked for it. The result is the worst
//! *found*: nothing here proves that no worse exists.
//!
//! A wider tolerance must not come out better, for the narrower corners are among its own. [`search_from`] holds to
//! that by construction: it looks at the winners of the narrower run too. Where there was no narrower run, it
//! rests on the search being thorough; tests widen the tolerances of made-up jobs and hold it against that.
//!
//! Figures are taken as free of each other, save for the points of one curve of one part, which move together, and
//! those that the job says are the same.

mod aim;
mod begin;
mod corner;
mod integrated;
mod line;
mod ridge;
mod tell;
mod together;
mod watch;

pub use corner::{Corner, Position, at, changes_at, groups, position_of};
pub use watch::Watch;

use crate::finding::WhyNot;
use crate::looking;
use crate::lower::lower;
use crate::slopes::{Gradients, gradients};
use crate::solve::{
    Beginning, Plan, Seeds, Setting, Solution, Solved, Trouble, TurnedRound, Wanted, answers, solve,
};
use aim::{Aim, Random};
use begin::beginning;
use corner::corner_at;
pub(crate) use corner::terms;
use quietrail_job::model::Job;
use quietrail_job::{Address, Change, Parameter};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use together::{Pointed, Shared, together};

/// What was found for one question in one state.
#[derive(Clone, Debug)]
pub struct Worst {
    /// With all parts as marked.
    pub nominal: Option<f64>,
    /// Worst value found and its corner.
    pub worst: Option<(f64, Corner)>,
    /// Share of the way from nominal to worst that each parameter makes, by its slopes at both.
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
    /// Every corner tried, the nominal one among them; `None` where it did not settle.
    pub(crate) tried: BTreeMap<Corner, Option<Tried>>,
    /// Solutions of the corners tried.
    pub solutions: u64,
    /// Corners tried.
    pub corners: u64,
}

/// Questions whose margin is below this share of their limit get a closer look.
const NEAR: f64 = 0.25;
/// How often it is looked around a winner that gave way to a worse one.
const ROUNDS: usize = 8;
/// Corners solved between two looks at whether the search goes on.
const LOT: usize = 128;
/// Seed of the random vertices: any number will do, as long as it is the same each time.
const SEED: u64 = 0x5eed;

/// A place in the tolerances that is known to be bad in a state: worth a look, whatever the slopes say.
#[derive(Clone, Debug, PartialEq)]
pub struct Known {
    /// Name of the state.
    pub state: String,
    /// Values of figures; others stand as marked.
    pub values: Vec<(Address, f64)>,
}

/// Searches one state.
///
/// # Errors
/// Why the nominal solution did not settle.
pub fn search(plan: &Plan, setting: Setting<'_>) -> Result<StateFindings, Trouble> {
    search_watched(plan, setting, &[], &Watch::default())
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
    search_watched(plan, setting, known, &Watch::default())
}

/// As [`search_from`], counted and ended by a watch.
///
/// # Errors
/// Why the nominal solution did not settle.
pub fn search_watched(
    whole: &Plan,
    setting: Setting<'_>,
    known: &[Vec<(Address, f64)>],
    watch: &Watch,
) -> Result<StateFindings, Trouble> {
    let parameters = parameters(setting.job, setting.state);
    let put_off = whole.without_integrations();
    let plan = put_off.as_ref().unwrap_or(whole);
    let nominal = solve(plan, setting, &[], None)?;
    let slopes = gradients(plan, setting, &[], &nominal, &parameters)?;
    let known: Vec<Corner> = known
        .iter()
        .map(|values| corner_at(&parameters, values))
        .collect();
    let options = looking(setting.options);
    let looked_at = Setting {
        options: &options,
        ..setting
    };
    let mut search = Search::new(plan, looked_at, parameters, &nominal, slopes, watch);
    let mut places = vec![search.as_marked()];
    if !watch.is_first_look() {
        places.extend(search.ends_of_mains());
    }
    search.point_from(&places);
    search.look_at(&known);
    if !watch.is_first_look() {
        search.look_around();
        search.finish();
        search.tell(setting);
    }
    let found = search.found();
    // The nominal solution is no corner.
    let corners = found.tried.len() as u64 - 1;
    let mut found = StateFindings {
        parameters: found.parameters,
        worst: found.worst,
        tried: found.tried,
        solutions: found.solutions,
        corners,
        nominal,
    };
    integrated::look(whole, setting, &mut found, &known, watch);
    Ok(found)
}

/// Toleranced figures that can matter in a state, each between the ends that its values reach.
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
    let mut all = job.reaches();
    all.retain(|parameter| parameter.high > parameter.low && !of_other_state(parameter));
    all
}

/// A corner that settled.
pub(crate) struct Tried {
    /// Value of each question, where it has one there.
    pub(crate) values: Vec<Option<f64>>,
    solution: Solution,
}

impl StateFindings {
    /// What a corner that was tried came to, if it settled.
    pub(crate) fn solution(&self, corner: &Corner) -> Option<&Solution> {
        Some(&self.tried.get(corner)?.as_ref()?.solution)
    }

    /// The solution at a corner that was tried and settled.
    pub(crate) fn solved(&self, setting: Setting<'_>, corner: &Corner) -> Option<Solved> {
        let tried = self.tried.get(corner)?.as_ref()?;
        tried.solved(setting, &self.parameters, corner)
    }
}

impl Tried {
    /// The solution with the circuit that it is of.
    fn solved(
        &self,
        setting: Setting<'_>,
        parameters: &[Parameter],
        corner: &Corner,
    ) -> Option<Solved> {
        let Setting {
            job, state, step, ..
        } = setting;
        let changes = changes_at(parameters, corner);
        let solution = self.solution.clone();
        let lowered = lower(job, state, step, &changes, &solution.made_at).ok()?;
        Some(Solved { lowered, solution })
    }
}

/// What a search comes to.
struct Found {
    parameters: Vec<Parameter>,
    worst: Vec<Worst>,
    tried: BTreeMap<Corner, Option<Tried>>,
    solutions: u64,
}

struct Search<'a> {
    plan: &'a Plan,
    setting: Setting<'a>,
    parameters: Vec<Parameter>,
    groups: Vec<usize>,
    worst: Vec<Worst>,
    aims: Vec<Aim>,
    /// Corners solved; `None` where it did not settle.
    seen: BTreeMap<Corner, Option<Tried>>,
    /// What is said of those that did not.
    troubles: BTreeMap<Corner, String>,
    /// Slopes at some of them.
    slopes: BTreeMap<Corner, Gradients>,
    /// Corners beside a ridge, whose slopes were taken by fine steps.
    crossed: BTreeSet<Corner>,
    solutions: u64,
    seeds: Seeds,
    watch: &'a Watch,
}

impl<'a> Search<'a> {
    fn new(
        plan: &'a Plan,
        setting: Setting<'a>,
        parameters: Vec<Parameter>,
        nominal: &'a Solved,
        slopes: Gradients,
        watch: &'a Watch,
    ) -> Self {
        let as_marked: Corner = vec![Position::NOMINAL; parameters.len()];
        let at_nominal = answers(plan, nominal);
        let mut aims = Vec::new();
        let mut worst = Vec::new();
        for (q, (question, answer)) in plan.questions.iter().zip(&at_nominal).enumerate() {
            let value = answer.as_ref().ok().copied();
            let start = value.map(|value| (value, as_marked.clone()));
            let sides = question.sides();
            aims.extend(sides.map(|(sign, limit)| Aim::new(q, sign, limit, start.clone())));
            worst.push(Worst {
                nominal: value,
                worst: None,
                weights: Vec::new(),
                why_not: answer.as_ref().err().cloned(),
            });
        }
        let mut search = Self {
            plan,
            setting,
            groups: groups(&setting.job.same, &parameters),
            parameters,
            worst,
            aims,
            seen: BTreeMap::new(),
            troubles: BTreeMap::new(),
            slopes: BTreeMap::new(),
            crossed: BTreeSet::new(),
            solutions: nominal.solution.rounds,
            seeds: Seeds::of(&nominal.solution),
            watch,
        };
        let tried = Tried {
            values: at_nominal.into_iter().map(Result::ok).collect(),
            solution: nominal.solution.clone(),
        };
        search.seen.insert(as_marked.clone(), Some(tried));
        search.keep_slopes(as_marked, slopes);
        search
    }

    fn as_marked(&self) -> Corner {
        vec![Position::NOMINAL; self.parameters.len()]
    }

    /// Both ends of the mains, all else as marked, with slopes: much turns round with the mains.
    fn ends_of_mains(&mut self) -> Vec<Corner> {
        let Some(mains) = self
            .parameters
            .iter()
            .position(|parameter| parameter.address.0 == "mains.voltage")
        else {
            return Vec::new();
        };
        let ends = [Position::LOW, Position::HIGH].map(|end| {
            let mut corner = self.as_marked();
            corner[mains] = end;
            corner
        });
        self.look_at(&ends);
        self.learn_slopes(&ends);
        ends.to_vec()
    }

    /// Looks where the slopes at some places point every question to.
    fn point_from(&mut self, places: &[Corner]) {
        let mut pointed = Vec::new();
        for corner in places {
            for aim in self.aims.iter().filter(|aim| self.is_asked(aim.q)) {
                if let Some(place) = aim.place_at(corner) {
                    pointed.push(aim.point(place, corner, &self.groups));
                }
            }
        }
        self.try_together(&pointed);
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

    /// Looks from every winner, and around those of near questions, until none of them changes.
    fn look_around(&mut self) {
        let mut random = Random::seeded(SEED);
        for _ in 0..ROUNDS {
            let changed = self.changed();
            if changed.is_empty() {
                return;
            }
            for &a in &changed {
                self.aims[a].look();
            }
            self.point_again(&changed);
            self.scan(&changed);
            let near: Vec<usize> = changed.into_iter().filter(|&a| self.is_near(a)).collect();
            self.along_ridges(&near);
            self.follow(&near);
            let mut around = Vec::new();
            for &a in &near {
                let aim = &self.aims[a];
                let corners = aim.around(&self.groups, &mut random);
                around.extend(corners.into_iter().map(|corner| (aim.q, corner)));
            }
            self.try_all(&around);
        }
    }

    /// Aims whose winner has not been looked from yet.
    fn changed(&self) -> Vec<usize> {
        let is_changed = |aim: &Aim| self.is_asked(aim.q) && aim.is_changed();
        (0..self.aims.len())
            .filter(|&a| is_changed(&self.aims[a]))
            .collect()
    }

    /// Whether the worst of an aim comes near its limit.
    fn is_near(&self, a: usize) -> bool {
        let aim = &self.aims[a];
        aim.best.as_ref().is_some_and(|(value, _)| {
            self.margin_share(aim, *value)
                .is_none_or(|share| share < NEAR)
        })
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

    /// Looks where slopes point from winners. What pointed one way at nominal may point another there, so they are taken anew
    /// where those known do not tell what was found.
    fn point_again(&mut self, changed: &[usize]) {
        let mut winners: Vec<Corner> = changed
            .iter()
            .map(|&a| &self.aims[a])
            .filter(|aim| aim.is_in_doubt(&self.parameters))
            .filter_map(|aim| Some(aim.best.as_ref()?.1.clone()))
            .collect();
        winners.sort();
        winners.dedup();
        self.learn_slopes(&winners);
        let mut pointed = Vec::new();
        for &a in changed {
            let aim = &self.aims[a];
            let place = aim.nearest(&self.parameters);
            let (Some((place, _)), Some((_, winner))) = (place, &aim.best) else {
                continue;
            };
            let one = aim.point(place, winner, &self.groups);
            let is_new = (0..winner.len())
                .any(|index| one.tells[index] && one.corner[index] != winner[index]);
            if is_new {
                pointed.push(one);
            }
        }
        self.try_together(&pointed);
    }

    /// Each winner with all figures where its slopes want them, also those that another question had put elsewhere.
    fn finish(&mut self) {
        let mut wanted = Vec::new();
        for aim in self.aims.iter().filter(|aim| self.is_asked(aim.q)) {
            let place = aim.nearest(&self.parameters);
            let (Some((place, _)), Some((_, winner))) = (place, &aim.best) else {
                continue;
            };
            let own = aim.point(place, winner, &self.groups).corner;
            if aim.promise(place, &own, &self.parameters) > aim.slight() {
                wanted.push((aim.q, own));
            }
        }
        self.try_all(&wanted);
    }

    fn is_asked(&self, q: usize) -> bool {
        is_asked(self.plan, self.setting, &self.worst, q)
    }

    /// Takes slopes at corners that were solved; those that cannot be had are left out.
    fn learn_slopes(&mut self, corners: &[Corner]) {
        let slopes: Vec<(Corner, Gradients)> = corners
            .par_iter()
            .filter(|corner| !self.slopes.contains_key(*corner) && !self.watch.is_stopped())
            .filter_map(|corner| {
                let tried = self.seen.get(corner)?.as_ref()?;
                let solved = tried.solved(self.setting, &self.parameters, corner)?;
                let changes = changes_at(&self.parameters, corner);
                let slopes =
                    gradients(self.plan, self.setting, &changes, &solved, &self.parameters);
                Some((corner.clone(), slopes.ok()?))
            })
            .collect();
        self.solutions += slopes.len() as u64;
        for (corner, slopes) in slopes {
            self.keep_slopes(corner, slopes);
        }
    }

    /// Keeps slopes at a corner that was solved, and lets every question learn from them.
    fn keep_slopes(&mut self, corner: Corner, slopes: Gradients) {
        if let Some(Some(tried)) = self.seen.get(&corner) {
            for aim in &mut self.aims {
                if let Some(value) = tried.values[aim.q] {
                    let at = (&corner, value);
                    aim.learn(at, &slopes.questions[aim.q], &self.parameters, &self.groups);
                }
            }
        }
        self.slopes.insert(corner, slopes);
    }

    /// Solves corners that questions point to, as few as will serve them. Where one that is shared does not settle, each
    /// question has its own.
    fn try_together(&mut self, pointed: &[Pointed]) {
        let shared = together(pointed);
        self.solve_all(shared.iter().map(|shared| shared.corner.clone()).collect());
        let mut own = Vec::new();
        for Shared { corner, serves } in &shared {
            if self.troubles.contains_key(corner) {
                let asked = serves.iter().map(|&index| &pointed[index]);
                own.extend(asked.map(|one| (one.q, one.corner.clone())));
            }
        }
        self.try_all(&own);
    }

    /// Solves corners that questions point to. What does not settle is held against the question that asked.
    fn try_all(&mut self, wanted: &[(usize, Corner)]) {
        self.solve_all(wanted.iter().map(|(_, corner)| corner.clone()).collect());
        for (q, corner) in wanted {
            if let Some(trouble) = self.troubles.get(corner) {
                let why = || WhyNot::NotSettled(trouble.clone());
                self.worst[*q].why_not.get_or_insert_with(why);
            }
        }
    }

    /// Solves corners not seen yet, and lets every question look at each.
    fn solve_all(&mut self, mut fresh: Vec<Corner>) {
        fresh.sort();
        fresh.dedup();
        fresh.retain(|corner| !self.seen.contains_key(corner));
        for lot in fresh.chunks(LOT) {
            if self.watch.is_stopped() {
                break;
            }
            self.solve_lot(lot);
        }
    }

    /// Solves corners that are only looked at, all cores at once.
    fn solve_lot(&mut self, fresh: &[Corner]) {
        let begin: Vec<Option<Beginning<'_>>> = fresh
            .iter()
            .map(|corner| beginning(corner, &self.seen, &self.slopes, &self.parameters))
            .collect();
        let at = (self.plan, self.setting, self.parameters.as_slice());
        let results = solve_corners(at, fresh, &begin, &mut self.seeds);
        self.watch.solved(results.len());
        for (corner, result) in fresh.iter().zip(results) {
            match result {
                Ok(solved) => {
                    self.solutions += solved.solution.rounds;
                    let values = self.take(corner, &solved);
                    let tried = Tried {
                        values,
                        solution: solved.solution,
                    };
                    self.seen.insert(corner.clone(), Some(tried));
                }
                Err(trouble) => {
                    self.seen.insert(corner.clone(), None);
                    self.troubles.insert(corner.clone(), trouble.to_string());
                }
            }
        }
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

    /// What was found.
    fn found(mut self) -> Found {
        let as_marked = self.as_marked();
        let mut told_by: Vec<Vec<Corner>> = vec![vec![as_marked]; self.worst.len()];
        for aim in self.aims {
            let question = &self.plan.questions[aim.q];
            let nearest = aim.nearest_place(&self.parameters).cloned();
            let Some((value, corner)) = aim.best else {
                continue;
            };
            let worst = &mut self.worst[aim.q].worst;
            let is_worse = worst
                .as_ref()
                .is_none_or(|(known, _)| question.margin(value) < question.margin(*known));
            if is_worse {
                *worst = Some((value, corner));
                told_by[aim.q].truncate(1);
                told_by[aim.q].extend(nearest);
            }
        }
        for (q, worst) in self.worst.iter_mut().enumerate() {
            let slopes: Vec<&[f64]> = told_by[q]
                .iter()
                .filter_map(|place| Some(self.slopes.get(place)?.questions[q].as_slice()))
                .collect();
            worst.weights = weights(&slopes, &self.parameters);
        }
        Found {
            parameters: self.parameters,
            worst: self.worst,
            tried: self.seen,
            solutions: self.solutions,
        }
    }
}

/// Solves corners, each begun where that is known.
fn solve_corners(
    (plan, setting, parameters): (&Plan, Setting<'_>, &[Parameter]),
    corners: &[Corner],
    begin: &[Option<Beginning<'_>>],
    seeds: &mut Seeds,
) -> Vec<Result<Solved, Trouble>> {
    let changes: Vec<Vec<Change>> = corners
        .iter()
        .map(|corner| changes_at(parameters, corner))
        .collect();
    let wanted: Vec<Wanted<'_>> = changes
        .iter()
        .zip(begin)
        .map(|(changes, begin)| Wanted {
            plan,
            setting,
            changes,
            begin: begin.as_ref(),
        })
        .collect();
    seeds.solve(&wanted)
}

/// Whether a question counts in the state and has a value there.
fn is_asked(plan: &Plan, setting: Setting<'_>, worst: &[Worst], q: usize) -> bool {
    plan.questions[q].states.contains(&setting.state) && worst[q].nominal.is_some()
}

/// What share each parameter has in what all do from end to end, by slopes as marked and those that tell of the corner:
/// a corner at which all is dead (a variable transformer turned to nothing) no longer tells what led there.
fn weights(slopes: &[&[f64]], parameters: &[Parameter]) -> Vec<f64> {
    let effect = |(index, parameter): (usize, &Parameter)| -> f64 {
        let span = parameter.high - parameter.low;
        slopes
            .iter()
            .map(|slopes| (slopes[index] * span).abs())
            .sum()
    };
    let effects: Vec<f64> = parameters.iter().enumerate().map(effect).collect();
    let sum: f64 = effects.iter().sum();
    effects
        .iter()
        .map(|effect| if sum > 0.0 { effect / sum } else { 0.0 })
        .collect()
}

impl crate::question::Question {
    /// Which ways it can get worse, and towards which limit: up where there is a maximum, down where there is a
    /// minimum.
    fn sides(&self) -> impl Iterator<Item = (f64, f64)> + use<> {
        let up = self.max.map(|max| (1.0, max));
        let down = self.min.map(|min| (-1.0, min));
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
            Trouble::TurnedRound(TurnedRound {
                part,
                volts,
                asks,
                gives_back,
            }) => {
                write!(
                    f,
                    "{part} cannot hold {volts:.2} V: a volt less, and its loads ask for {asks:.3} A more, while resistances \
                     across it give back {gives_back:.3} A"
                )
            }
            Trouble::Runaway { part } if part.is_empty() => {
                f.write_str("heat makes more heat without end")
            }
            Trouble::Runaway { part } => write!(f, "{part}: heat makes more heat without end"),
            Trouble::Ended { ended, place } => {
                match ended {
                    Ended::NoStep { .. } => return write!(f, "the equations resist at {place}"),
                    Ended::Singular { .. } => {
                        return write!(
                            f,
                            "the equations at {place} leave something undetermined or contradict each other"
                        );
                    }
                    Ended::Settled { .. } => f.write_str("settled"),
                    Ended::Unstable { multiplier } => {
                        write!(
                            f,
                            "unstable: a disturbance grows {multiplier:.3} times each cycle"
                        )
                    }
                    Ended::Swings { cycles: None } => {
                        f.write_str("it swings: no two cycles of the mains are alike")
                    }
                    Ended::Swings {
                        cycles: Some(cycles),
                    } => {
                        write!(
                            f,
                            "it swings: cycles of the mains differ, and about repeat every {cycles}"
                        )
                    }
                    Ended::CyclesSpent { drift } => {
                        write!(
                            f,
                            "no steady cycle found; the last one still drifts by {drift:.1e} of its swing"
                        )
                    }
                    Ended::StepsSpent => {
                        f.write_str("no steady cycle found within the allowed steps")
                    }
                }?;
                if place.is_empty() {
                    return Ok(());
                }
                write!(
                    f,
                    "; {place} draws through a choke, which can make it swing"
                )
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::weights;
    use quietrail_job::{Address, Parameter, Shape};

    /// At a variable transformer turned to nothing, nothing but its own setting has a slope; what leads there from
    /// parts as marked still tells.
    #[test]
    fn a_dead_corner_does_not_hide_what_led_there() {
        let parameters = ["VT1.setting", "C1.value"].map(|address| Parameter {
            address: Address(address.to_owned()),
            low: 0.0,
            nominal: 0.5,
            high: 1.0,
            shape: Shape::Even,
            unit: "",
            why_default: None,
        });
        let shares = weights(&[&[6.0, 2.0], &[2.0, 0.0]], &parameters);
        assert_eq!(shares, [0.8, 0.2]);
        assert_eq!(weights(&[&[0.0, 0.0]], &parameters), [0.0, 0.0]);
    }
}
