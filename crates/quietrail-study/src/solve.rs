//! One steady state of a job, with the temperatures that it leads to.

use crate::heat::{Temperatures, temperatures};
use crate::lower::{Lowered, Step, lower};
use crate::question::{Ask, Question, View, questions};
use crate::reading::OutputTable;
use crate::spectrum::Spectrum;
use quietrail_engine::{
    Direction, Ended, Options, Orbit, Place, Signal, System, sensitivities, steady_state,
    steady_state_from, transient,
};
use quietrail_job::model::Job;
use quietrail_job::{Change, ChangeError, Parameter};

/// What is asked, and which figures of a steady state that takes.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Limits and ratings.
    pub questions: Vec<Question>,
    /// Figures to read.
    pub table: OutputTable,
}

/// A steady state that settled.
#[derive(Clone, Debug)]
pub struct Solution {
    /// Figures in the order of [`Plan::table`].
    pub values: Vec<f64>,
    /// Per question, the share of its signal's rms that its band or rating keeps.
    pub shares: Vec<f64>,
    /// Temperatures that its powers lead to.
    pub temperatures: Temperatures,
    /// Temperatures that its equations were made at: the same within half a kelvin.
    pub made_at: Temperatures,
    /// Stores at the start of the cycle: where a like circuit's search may begin.
    pub start: Vec<f64>,
    /// How it ended.
    pub ended: Ended,
    /// Largest Floquet multiplier.
    pub floquet: f64,
    /// Steady states solved for it, one per round of heat.
    pub rounds: u64,
    /// Ratio of the last two changes of temperature: the gain of the loop through heat.
    pub heat_gain: f64,
}

/// A solution with the names that belong to it.
pub struct Solved {
    /// Names and values.
    pub lowered: Lowered,
    /// Numbers.
    pub solution: Solution,
}

/// Why there is no steady state to read.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// A change cannot be made.
    Change(ChangeError),
    /// The engine refuses a value.
    Value {
        /// The part.
        part: String,
        /// Which value.
        what: &'static str,
        /// The value.
        value: f64,
    },
    /// The search did not settle; the part or node where it resisted.
    Ended {
        /// How it ended.
        ended: Ended,
        /// Name of the part or node.
        place: String,
    },
    /// Heat makes more heat without end.
    Runaway {
        /// The hottest part.
        part: String,
    },
}

/// Time after switching on that is looked at, s.
const START_SECONDS: f64 = 2.0;
/// Points per mains cycle at which a start is looked at.
const START_POINTS: f64 = 40.0;
/// Distance from the settled mean within which a level has started, as a share of it.
const START_NEAR: f64 = 0.05;
/// Temperatures that change less between rounds are settled, K.
const STEADY_HEAT: f64 = 0.5;
/// Rounds of heat before it counts as running away.
const ROUNDS: u64 = 24;
/// Span of a parameter's difference, as a share of its value or its tolerance.
const SPAN: f64 = 1e-4;

impl Plan {
    /// All limits and ratings of a job.
    ///
    /// # Errors
    /// As [`lower`].
    pub fn of(job: &Job) -> Result<Self, ChangeError> {
        let lowered = lower(job, 0, &Step::default(), &[], &Temperatures::at_rest(job))?;
        let questions = questions(&lowered);
        let mut table = OutputTable::of(&lowered);
        for question in &questions {
            question.register(&lowered, &mut table);
        }
        Ok(Self { questions, table })
    }

    /// No questions, only some figures.
    pub fn reading(table: OutputTable) -> Self {
        Self {
            questions: Vec::new(),
            table,
        }
    }
}

/// Where and how a steady state is looked for.
#[derive(Clone, Copy)]
pub struct Setting<'a> {
    /// The job as it stands.
    pub job: &'a Job,
    /// Index into its states.
    pub state: usize,
    /// What is connected.
    pub step: &'a Step,
    /// Tolerance and effort.
    pub options: &'a Options,
}

/// Solves a job with changes, warm from a seed if there is one.
///
/// # Errors
/// Why it did not settle.
pub fn solve(
    plan: &Plan,
    setting: Setting<'_>,
    changes: &[Change],
    seed: Option<&Solution>,
) -> Result<Solved, Trouble> {
    let mut warmth = seed.map_or_else(
        || Temperatures::at_rest(setting.job),
        |seed| seed.temperatures.clone(),
    );
    let mut start = seed.map(|seed| seed.start.clone());
    let mut last_change = f64::INFINITY;
    for round in 1..=ROUNDS {
        let lowered = lower(setting.job, setting.state, setting.step, changes, &warmth)
            .map_err(Trouble::Change)?;
        let system = assemble(&lowered)?;
        let outcome = match &start {
            Some(start) => steady_state_from(&system, start, setting.options),
            None => steady_state(&system, setting.options),
        };
        let orbit = match outcome.orbit {
            Some(orbit) if outcome.ended.is_settled() => orbit,
            _ => return Err(ended(outcome.ended, &lowered)),
        };
        let values = plan.table.read(&orbit);
        let next = temperatures(&lowered, &plan.table.with(&values));
        let change = next.distance(&warmth);
        let heat_gain = if last_change.is_finite() {
            change / last_change
        } else {
            0.0
        };
        start = Some(orbit.start().to_vec());
        if change < STEADY_HEAT {
            let shares = shares(plan, &lowered, &orbit);
            let solution = Solution {
                values,
                shares,
                temperatures: next,
                made_at: warmth,
                start: orbit.start().to_vec(),
                ended: outcome.ended,
                floquet: orbit.floquet,
                rounds: round,
                heat_gain,
            };
            return Ok(Solved { lowered, solution });
        }
        if !change.is_finite() || next.air > 1e4 {
            break;
        }
        last_change = change;
        warmth = warmth.towards(&next);
    }
    Err(Trouble::Runaway {
        part: String::new(),
    })
}

/// The equations of a lowered job, reduced.
///
/// # Errors
/// [`Trouble::Value`].
pub fn assemble(lowered: &Lowered) -> Result<System, Trouble> {
    System::assemble(&lowered.circuit)
        .map(|system| system.reduced())
        .map_err(|error| refused(lowered, &error))
}

fn refused(lowered: &Lowered, error: &quietrail_engine::AssembleError) -> Trouble {
    let quietrail_engine::AssembleError::Value {
        element,
        what,
        value,
    } = error;
    let part = lowered.part_of(*element).unwrap_or("mains").to_owned();
    Trouble::Value {
        part,
        what,
        value: *value,
    }
}

fn ended(ended: Ended, lowered: &Lowered) -> Trouble {
    let place = match ended {
        Ended::NoStep { place, .. } | Ended::Singular { place, .. } => match place {
            Place::Node(node) => format!("node {}", lowered.name_of(node)),
            Place::Element(element) => lowered.part_of(element).unwrap_or("the circuit").to_owned(),
        },
        _ => String::new(),
    };
    Trouble::Ended { ended, place }
}

/// What bands and ratings keep of their signals' rms.
fn shares(plan: &Plan, lowered: &Lowered, orbit: &Orbit<'_>) -> Vec<f64> {
    let frequency = lowered.job.mains.frequency.nominal();
    plan.questions
        .iter()
        .map(|question| {
            let (signal, kept): (_, &dyn Fn(&Spectrum) -> f64) = match &question.ask {
                Ask::InBand(signal, band) => (signal, &|spectrum| spectrum.in_band(band)),
                Ask::Equivalent(signal, rating) => {
                    (signal, &|spectrum| spectrum.equivalent(&rating.multipliers))
                }
                Ask::Start(signal) => return seconds_to_start(lowered, orbit, signal),
                _ => return 1.0,
            };
            let probe = signal.probe(orbit.system());
            let total = orbit.ripple_rms(&probe);
            if total > 0.0 {
                kept(&Spectrum::of(orbit, &probe, frequency)) / total
            } else {
                1.0
            }
        })
        .collect()
}

/// Seconds from switching on, all capacitors empty, until a signal stays near its settled mean; infinite
/// where it does not within the time looked at.
fn seconds_to_start(lowered: &Lowered, orbit: &Orbit<'_>, signal: &Signal) -> f64 {
    let system = orbit.system();
    let frequency = lowered.job.mains.frequency.nominal();
    let probe = signal.probe(system);
    let settled = orbit.mean(&probe);
    let rest = vec![0.0; orbit.start().len()];
    let cycles = START_SECONDS * frequency;
    let options = Options {
        tolerance: 1e-4,
        ..Options::default()
    };
    let Ok(run) = transient(system, &rest, 0.0, cycles, &options) else {
        return f64::INFINITY;
    };
    let points = (cycles * START_POINTS) as usize;
    let is_off = |k: &usize| {
        let value = run.value(&probe, *k as f64 / START_POINTS);
        (value - settled).abs() > START_NEAR * settled.abs()
    };
    match (0..points).rev().find(is_off) {
        // Still off in the last cycle: it does not settle in this time.
        Some(last) if last as f64 > (cycles - 1.0) * START_POINTS => f64::INFINITY,
        Some(last) => (last + 1) as f64 / START_POINTS / frequency,
        None => 0.0,
    }
}

/// The value of each question in a solution.
pub fn answers(plan: &Plan, solved: &Solved) -> Vec<Result<f64, crate::finding::WhyNot>> {
    let solution = &solved.solution;
    let air = solution.temperatures.air;
    plan.questions
        .iter()
        .zip(&solution.shares)
        .map(|(question, &share)| {
            let reading = plan.table.with(&solution.values);
            question.value(&View {
                lowered: &solved.lowered,
                reading,
                air,
                share,
            })
        })
        .collect()
}

/// Derivative of each question (rows) against each parameter (columns), exact through the steady state.
///
/// A figure without a derivative (a question without a value) has zeros.
///
/// # Errors
/// Why the steady state could not be had again.
pub fn gradients(
    plan: &Plan,
    setting: Setting<'_>,
    changes: &[Change],
    solved: &Solved,
    parameters: &[Parameter],
) -> Result<Vec<Vec<f64>>, Trouble> {
    let solution = &solved.solution;
    let system = assemble(&solved.lowered)?;
    let outcome = steady_state_from(&system, &solution.start, setting.options);
    let Some(orbit) = outcome.orbit else {
        return Err(ended(outcome.ended, &solved.lowered));
    };

    let sides: Vec<Sides> = parameters
        .iter()
        .map(|parameter| Sides::of(plan, setting, changes, solved, parameter, &system))
        .collect::<Result<_, _>>()?;
    let directions: Vec<Direction<'_>> = sides
        .iter()
        .map(|side| Direction {
            plus: &side.plus.1,
            minus: &side.minus.1,
            span: side.span,
        })
        .collect();
    let moved = sensitivities(&orbit, &directions, plan.table.outputs());

    let mut rows = vec![vec![0.0; parameters.len()]; plan.questions.len()];
    let Some(moved) = moved else { return Ok(rows) };
    for (column, side) in sides.iter().enumerate() {
        let shifted = |by: f64| -> Vec<f64> {
            solution
                .values
                .iter()
                .zip(&moved)
                .map(|(value, row)| value + by * row[column])
                .collect()
        };
        // Values at both sides: the steady state moves by its derivative, the question's own formula is
        // evaluated with the parameter where it is.
        let half = 0.5 * side.span;
        let (up, down) = (shifted(half), shifted(-half));
        for (row, question) in plan.questions.iter().enumerate() {
            let value = |lowered: &Lowered, values: &[f64]| {
                let reading = plan.table.with(values);
                let air = temperatures(lowered, &reading).air;
                let share = solution.shares[row];
                question.value(&View {
                    lowered,
                    reading,
                    air,
                    share,
                })
            };
            if let (Ok(high), Ok(low)) = (value(&side.plus.0, &up), value(&side.minus.0, &down)) {
                let slope = (high - low) / side.span;
                if slope.is_finite() {
                    rows[row][column] = slope;
                }
            }
        }
    }
    Ok(rows)
}

/// A parameter a little higher and a little lower.
struct Sides {
    plus: (Lowered, System),
    minus: (Lowered, System),
    span: f64,
}

impl Sides {
    fn of(
        plan: &Plan,
        setting: Setting<'_>,
        changes: &[Change],
        solved: &Solved,
        parameter: &Parameter,
        like: &System,
    ) -> Result<Self, Trouble> {
        let here = current(changes, parameter);
        let by = SPAN * here.abs().max(parameter.high - parameter.low).max(1e-12);
        // A value may not go below an end that physics sets (none is below zero).
        let low = if parameter.low >= 0.0 {
            (here - by).max(0.0)
        } else {
            here - by
        };
        let side = |value: f64| -> Result<(Lowered, System), Trouble> {
            let mut moved = changes.to_vec();
            moved.push(Change::Set {
                address: parameter.address.clone(),
                value,
            });
            let lower_at = |warmth: &Temperatures| {
                lower(setting.job, setting.state, setting.step, &moved, warmth)
                    .map_err(Trouble::Change)
            };
            // Temperatures follow what the parameter does to them at the same powers.
            let base = &solved.solution;
            let first = lower_at(&base.made_at)?;
            let led_to = temperatures(&first, &plan.table.with(&base.values));
            let warmth = base.made_at.moved(&base.temperatures, &led_to);
            let lowered = lower_at(&warmth)?;
            let system =
                System::assemble(&lowered.circuit).map_err(|error| refused(&lowered, &error))?;
            // Equations of another shape have no derivative towards these.
            let system = if system.is_like(like) {
                system.reduced_as(like)
            } else {
                like.clone()
            };
            Ok((lowered, system))
        };
        Ok(Self {
            plus: side(here + by)?,
            minus: side(low)?,
            span: here + by - low,
        })
    }
}

/// A parameter's value among changes.
fn current(changes: &[Change], parameter: &Parameter) -> f64 {
    changes
        .iter()
        .rev()
        .find_map(|change| match change {
            Change::Set { address, value } if *address == parameter.address => Some(*value),
            _ => None,
        })
        .unwrap_or(parameter.nominal)
}
