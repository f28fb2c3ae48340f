//! The comparison itself.

use super::jobs::{Choices, job};
use quietrail_checks::Section;
use quietrail_job::Parameter;
use quietrail_job::model::Job;
use quietrail_study::lower::Step;
use quietrail_study::search::{Corner, Position, changes_at, parameters, search};
use quietrail_study::solve::{Plan, Setting, answers, solve};
use quietrail_study::{Options, options};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// How far short of the brute-force worst the search may stop, as a share of the limit or of a volt.
const SHORT: f64 = 1e-3;
/// Figures with a tolerance in a job: every vertex of six is solved.
const MOST_FIGURES: usize = 6;
/// Figures that are scanned densely at every vertex of the others: effects of both turn round.
const TURNING: [&str; 2] = ["mains.voltage", "C1.esr"];

/// What came of one job.
#[derive(Debug, Default)]
struct Outcome {
    seed: u64,
    figures: usize,
    compared: usize,
    /// Limits of which the search says that a corner did not settle: it shows no worst for them, unless it found
    /// one that fails, and that is enough.
    unshown: usize,
    /// Furthest that the search stopped short, as a share.
    shortest: f64,
    /// The limit, what was found, what brute force found, and where.
    told: String,
    solved_by_search: u64,
    solved_by_force: usize,
}

#[test]
fn the_search_is_not_short_of_brute_force() {
    let outcomes = run(1..=6, 3);
    let mut section = Section::new("worst-found", "The worst found, against brute force");
    let compared: usize = outcomes.iter().map(|outcome| outcome.compared).sum();
    section
        .row(
            "WORST-VERTICES",
            &format!(
                "how far the search stops short of the worst of all vertices and of lines between them, \
                 in hundredths of a percent of the limit; {} random jobs, {compared} limits",
                outcomes.len()
            ),
            "own computation: brute force with the same solver, which checks the search and not the solver",
        )
        .between(0.0, 1e4 * SHORT, (1e4 * worst_of(&outcomes)).round());
    section.finish();
}

#[test]
#[ignore = "minutes: 50 jobs with a denser grid; run with --release"]
fn fifty_jobs_are_not_short_of_brute_force() {
    let outcomes = run(1..=50, 5);
    assert_eq!(outcomes.len(), 50);
    let worst = worst_of(&outcomes);
    let short: Vec<&Outcome> = outcomes
        .iter()
        .filter(|outcome| outcome.shortest > SHORT)
        .collect();
    assert!(short.is_empty(), "{worst:e}: {short:#?}");
    let sum = |of: fn(&Outcome) -> u64| outcomes.iter().map(of).sum::<u64>();
    let (compared, unshown) = (sum(|o| o.compared as u64), sum(|o| o.unshown as u64));
    assert!(
        20 * unshown <= compared,
        "{unshown} of {compared} not shown"
    );
    println!(
        "{compared} limits of 50 jobs, {unshown} not shown: at worst {worst:.2e} short; {} solutions by search, {} by force",
        sum(|o| o.solved_by_search),
        sum(|o| o.solved_by_force as u64),
    );
}

fn worst_of(outcomes: &[Outcome]) -> f64 {
    outcomes
        .iter()
        .map(|outcome| outcome.shortest)
        .fold(0.0, f64::max)
}

fn run(seeds: std::ops::RangeInclusive<u64>, points: usize) -> Vec<Outcome> {
    seeds
        .map(|seed| {
            let outcome = compare(seed, points);
            let asked = outcome.compared + outcome.unshown;
            assert!(asked >= 7, "job {seed} compares too little");
            println!(
                "job {}: {} figures, {} limits, {} solutions by search, {} by force, {:.2e} short; {}",
                outcome.seed,
                outcome.figures,
                outcome.compared,
                outcome.solved_by_search,
                outcome.solved_by_force,
                outcome.shortest,
                outcome.told
            );
            outcome
        })
        .collect()
}

/// A random job whose limits stand 15 % to either side of what they come to as marked.
pub(crate) fn with_limits(seed: u64, options: &Options) -> Job {
    let (_, mut job) = job(seed);
    let plan = Plan::of(&job).expect("no change");
    let step = Step::default();
    let setting = Setting {
        job: &job,
        state: 0,
        step: &step,
        options,
    };
    let nominal = solve(&plan, setting, &[], None)
        .unwrap_or_else(|trouble| panic!("job {seed} as marked: {trouble}"));
    let values = answers(&plan, &nominal);
    let mut choices = Choices::seeded(!seed);
    for (limit, value) in Arc::make_mut(&mut job.limits).iter_mut().zip(values) {
        let value = value.expect("a value as marked");
        let mut near = || value * choices.within(0.85, 1.15);
        // A headroom stays against zero, as jobs have it.
        limit.min = limit.min.map(|min| if min == 0.0 { min } else { near() });
        limit.max = limit.max.map(|_| near());
    }
    job
}

fn compare(seed: u64, points: usize) -> Outcome {
    let options = options();
    let job = with_limits(seed, &options);
    let plan = Plan::of(&job).expect("no change");
    let step = Step::default();
    let setting = Setting {
        job: &job,
        state: 0,
        step: &step,
        options: &options,
    };
    let parameters = parameters(&job, 0);
    assert!(parameters.len() <= MOST_FIGURES, "{parameters:#?}");
    let found = search(&plan, setting).expect("settles as marked");

    let mut force = Force {
        plan: &plan,
        setting,
        parameters: &parameters,
        worst: vec![None; plan.questions.len()],
        seen: BTreeSet::new(),
        seed: &found.nominal.solution,
    };
    force.vertices_and_lines(points);

    let mut outcome = Outcome {
        seed,
        figures: parameters.len(),
        solved_by_search: found.solutions,
        solved_by_force: force.seen.len(),
        ..Outcome::default()
    };
    for (q, question) in plan.questions.iter().enumerate() {
        let (Some((value, corner)), Some((forced, at))) = (&found.worst[q].worst, &force.worst[q])
        else {
            continue;
        };
        if found.worst[q].why_not.is_some() {
            outcome.unshown += 1;
            continue;
        }
        // A figure that nothing can be taken from: the limit is nominal headroom, in volts.
        let limit = question.max.or(question.min).filter(|limit| *limit != 0.0);
        let size = limit.map_or(1.0, f64::abs);
        let short = (question.margin(*value) - question.margin(*forced)) / size;
        outcome.compared += 1;
        if short > outcome.shortest {
            outcome.shortest = short;
            outcome.told = format!(
                "{}: {value:.6} at {}, by force {forced:.6} at {}",
                question.name,
                named(&parameters, corner),
                named(&parameters, at)
            );
        }
    }
    outcome
}

fn named(parameters: &[Parameter], corner: &Corner) -> String {
    let shares = parameters
        .iter()
        .zip(corner)
        .map(|(parameter, position)| format!("{} {:+.2}", parameter.address, position.share()));
    shares.collect::<Vec<_>>().join(", ")
}

struct Force<'a> {
    plan: &'a Plan,
    setting: Setting<'a>,
    parameters: &'a [Parameter],
    /// Worst value of each question, and where.
    worst: Vec<Option<(f64, Corner)>>,
    seen: BTreeSet<Corner>,
    seed: &'a quietrail_study::solve::Solution,
}

impl Force<'_> {
    /// Every vertex; from every vertex a line along each figure that may turn; and from the worst vertex of
    /// each question a line along every figure.
    fn vertices_and_lines(&mut self, points: usize) {
        let count = self.parameters.len();
        let vertices: Vec<Corner> = (0..1_u32 << count)
            .map(|vertex| {
                (0..count)
                    .map(|bit| {
                        if vertex >> bit & 1 == 1 {
                            Position::HIGH
                        } else {
                            Position::LOW
                        }
                    })
                    .collect()
            })
            .collect();
        self.solve_all(vertices.clone());
        let turning = (0..count)
            .filter(|&index| TURNING.contains(&self.parameters[index].address.0.as_str()));
        for index in turning.collect::<Vec<_>>() {
            let lines = vertices
                .iter()
                .flat_map(|vertex| line(vertex, index, points));
            self.solve_all(lines.collect());
        }
        let winners: BTreeSet<Corner> = self
            .worst
            .iter()
            .filter_map(|worst| Some(worst.as_ref()?.1.clone()))
            .collect();
        for index in 0..count {
            let lines = winners
                .iter()
                .flat_map(|winner| line(winner, index, points));
            self.solve_all(lines.collect());
        }
    }

    fn solve_all(&mut self, mut corners: Vec<Corner>) {
        corners.sort();
        corners.dedup();
        corners.retain(|corner| self.seen.insert(corner.clone()));
        let answers: Vec<BTreeMap<usize, f64>> = corners
            .par_iter()
            .map(|corner| {
                let changes = changes_at(self.parameters, corner);
                let solved = solve(self.plan, self.setting, &changes, Some(self.seed));
                // A corner that does not settle is no worst: the search then shows no verdict at all.
                let Ok(solved) = solved else {
                    return BTreeMap::new();
                };
                let answers = answers(self.plan, &solved);
                answers
                    .into_iter()
                    .enumerate()
                    .filter_map(|(q, answer)| Some((q, answer.ok()?)))
                    .collect()
            })
            .collect();
        for (corner, answers) in corners.iter().zip(answers) {
            for (q, value) in answers {
                let question = &self.plan.questions[q];
                let is_worse = self.worst[q]
                    .as_ref()
                    .is_none_or(|(known, _)| question.margin(value) < question.margin(*known));
                if is_worse {
                    self.worst[q] = Some((value, corner.clone()));
                }
            }
        }
    }
}

/// Points of a line through a corner along one figure, evenly between its ends.
fn line(corner: &Corner, index: usize, points: usize) -> impl Iterator<Item = Corner> {
    (1..=points).map(move |k| {
        let share = 2.0 * k as f64 / (points + 1) as f64 - 1.0;
        let mut point = corner.clone();
        point[index] = Position::between(share);
        point
    })
}
