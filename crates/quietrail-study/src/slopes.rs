//! How questions answer to parameters: derivatives of a steady state, exact through it.

use crate::heat::{Temperatures, temperatures};
use crate::lower::{Lowered, lower};
use crate::question::View;
use crate::solve::{Beginning, Plan, Setting, Solution, Solved, Trouble, ended, refused, whole};
use quietrail_engine::batch::Slopes;
use quietrail_engine::{Direction, System, sensitivities, steady_state_from};
use quietrail_job::{Change, Parameter};

/// Span of a parameter's difference, as a share of its value or its tolerance.
const SPAN: f64 = 1e-4;

/// How a steady state answers to parameters.
#[derive(Clone, Debug, Default)]
pub struct Gradients {
    /// Derivative of each question (rows) against each parameter (columns), exact through the steady state. A question
    /// without a value has zeros.
    pub questions: Vec<Vec<f64>>,
    /// How its stores and temperatures move; none of one that was solved the patient way.
    pub(crate) moves: Option<Moves>,
}

/// How the stores at the start of a cycle, and temperatures, answer to parameters.
#[derive(Clone, Debug)]
pub(crate) struct Moves {
    /// Derivative of each store (rows) against each parameter (columns).
    start: Vec<Vec<f64>>,
    /// Temperatures with each parameter a little lower and a little higher, and by how much.
    warmth: Vec<(Temperatures, Temperatures, f64)>,
}

impl Moves {
    /// Where a solution's stores and temperatures go as parameters move by so much each.
    pub(crate) fn foretell<'a>(&self, from: &'a Solution, by: &[f64]) -> Beginning<'a> {
        let mut foretold = Beginning::at(from);
        for (store, row) in foretold.start.iter_mut().zip(&self.start) {
            *store += row
                .iter()
                .zip(by)
                .map(|(slope, by)| slope * by)
                .sum::<f64>();
        }
        for ((low, high, span), by) in self.warmth.iter().zip(by) {
            if *by != 0.0 {
                foretold.warmth = foretold.warmth.moved((low, high), by / span);
            }
        }
        foretold.warmth = foretold.warmth.held();
        foretold
    }
}

/// How questions, and the solution itself, answer to parameters.
///
/// # Errors
/// Why the steady state could not be had again.
pub fn gradients(
    plan: &Plan,
    setting: Setting<'_>,
    changes: &[Change],
    solved: &Solved,
    parameters: &[Parameter],
) -> Result<Gradients, Trouble> {
    let solution = &solved.solution;
    let system = whole(&solved.lowered)?;
    // All changes once; what is open or short stays so.
    let job = setting.job.with(changes).map_err(Trouble::Change)?;
    let base = Base {
        plan,
        setting: Setting {
            job: &job,
            ..setting
        },
        faults: faults(changes),
        solved,
        system: &system,
    };
    let sides: Vec<Sides> = parameters
        .iter()
        .map(|parameter| Sides::of(&base, current(changes, parameter), parameter))
        .collect::<Result<_, _>>()?;
    let mixed = base.mixed(parameters, changes);
    let moved = figures_moved(&base, &sides, mixed.as_ref())?;

    let mut rows = vec![vec![0.0; parameters.len()]; plan.questions.len()];
    let (figures, start) = match moved {
        Moved::Fast(slopes) => (slopes.figures, Some(slopes.start)),
        Moved::Patient(Some(figures)) => (figures, None),
        Moved::Patient(None) => {
            return Ok(Gradients {
                questions: rows,
                moves: None,
            });
        }
    };
    let mut warmth = Vec::new();
    for (column, side) in sides.iter().enumerate() {
        let shifted = |by: f64| -> Vec<f64> {
            solution
                .values
                .iter()
                .zip(&figures)
                .map(|(value, row)| value + by * row[column])
                .collect()
        };
        // Values at both sides: the steady state moves by its derivative, the question's own formula is
        // evaluated with the parameter where it is.
        let half = 0.5 * side.span;
        let (up, down) = (shifted(half), shifted(-half));
        let led_to =
            |lowered: &Lowered, values: &[f64]| temperatures(lowered, &plan.table.with(values));
        let warm = led_to(&side.plus.0, &up);
        let cool = led_to(&side.minus.0, &down);
        for (row, question) in plan.questions.iter().enumerate() {
            let value = |lowered: &Lowered, values: &[f64], air: f64| {
                let reading = plan.table.with(values);
                let hertz = |of: &Lowered| of.job.mains.frequency.nominal();
                let faster = hertz(lowered) - hertz(&solved.lowered);
                let share = solution.shares[row].at(faster);
                question.value(&View {
                    lowered,
                    reading,
                    air,
                    share,
                })
            };
            let high = value(&side.plus.0, &up, warm.air);
            let low = value(&side.minus.0, &down, cool.air);
            if let (Ok(high), Ok(low)) = (high, low) {
                let slope = (high - low) / side.span;
                if slope.is_finite() {
                    rows[row][column] = slope;
                }
            }
        }
        warmth.push((cool, warm, side.span));
    }
    Ok(Gradients {
        questions: rows,
        moves: start.map(|start| Moves { start, warmth }),
    })
}

/// How a steady state's own numbers answer to parameters.
enum Moved {
    /// Where it was found the fast way.
    Fast(Slopes),
    /// Derivative of each figure (rows) against each parameter (columns); `None` for a cycle that has none.
    Patient(Option<Vec<Vec<f64>>>),
}

/// The same, fast where the steady state was found so, else patiently.
fn figures_moved(
    base: &Base<'_>,
    sides: &[Sides],
    mixed: Option<&System>,
) -> Result<Moved, Trouble> {
    let Base {
        plan,
        setting,
        solved,
        system,
        ..
    } = *base;
    let solution = &solved.solution;
    let directions: Vec<Direction<'_>> = sides
        .iter()
        .map(|side| Direction {
            plus: &side.plus.1,
            minus: &side.minus.1,
            span: side.span,
        })
        .collect();
    let like = solution.like_for(plan);
    let fast = like.and_then(|like| {
        let along = (directions.as_slice(), mixed);
        like.kind
            .slopes(system, &like.figures, along, setting.options)
    });
    if let Some(slopes) = fast {
        return Ok(Moved::Fast(slopes));
    }
    let system = system.reduced();
    let outcome = steady_state_from(&system, &solution.start, setting.options);
    let Some(orbit) = outcome.orbit else {
        return Err(ended(outcome.ended, &solved.lowered));
    };
    let reduced: Vec<(System, System)> = sides
        .iter()
        .map(|side| {
            let (plus, minus) = (&side.plus.1, &side.minus.1);
            (plus.reduced_as(&system), minus.reduced_as(&system))
        })
        .collect();
    let directions: Vec<Direction<'_>> = reduced
        .iter()
        .zip(sides)
        .map(|((plus, minus), side)| Direction {
            plus,
            minus,
            span: side.span,
        })
        .collect();
    let figures = sensitivities(&orbit, &directions, plan.table.outputs());
    Ok(Moved::Patient(figures))
}

/// Changes that a job does not take in: parts that are open or short.
fn faults(changes: &[Change]) -> Vec<Change> {
    let is_fault = |change: &&Change| matches!(change, Change::Open(_) | Change::Short(_));
    changes.iter().filter(is_fault).cloned().collect()
}

/// What parameters are moved from: a solution, and the job with the changes that led to it.
struct Base<'a> {
    plan: &'a Plan,
    setting: Setting<'a>,
    faults: Vec<Change>,
    solved: &'a Solved,
    system: &'a System,
}

/// A parameter a little higher and a little lower, with the equations as they are assembled.
struct Sides {
    plus: (Lowered, System),
    minus: (Lowered, System),
    span: f64,
}

impl Base<'_> {
    /// The job with changes of figures, and the equations as they are assembled. Temperatures follow what the changes do to
    /// them at the same powers.
    fn moved(&self, changes: &[Change]) -> Result<(Lowered, System), Trouble> {
        let Setting {
            job, state, step, ..
        } = self.setting;
        let moved = job.with(changes).map_err(Trouble::Change)?;
        let lower_at = |warmth: &Temperatures| {
            lower(&moved, state, step, &self.faults, warmth).map_err(Trouble::Change)
        };
        let known = &self.solved.solution;
        let first = lower_at(&known.made_at)?;
        let led_to = temperatures(&first, &self.plan.table.with(&known.values));
        let warmth = known.made_at.moved((&known.temperatures, &led_to), 1.0);
        let lowered = if warmth == known.made_at {
            first
        } else {
            lower_at(&warmth)?
        };
        let system =
            System::assemble(&lowered.circuit).map_err(|error| refused(&lowered, &error))?;
        Ok((lowered, system))
    }

    /// The equations with all parameters moved at once, each by a share of its own that has nothing to do with the others';
    /// `None` where they are of another shape.
    fn mixed(&self, parameters: &[Parameter], changes: &[Change]) -> Option<System> {
        let moved = parameters.iter().enumerate().map(|(k, parameter)| {
            let here = current(changes, parameter);
            let share = 0.5 + 0.5 * ((k + 1) as f64 * 0.618_034).fract();
            Change::Set {
                address: parameter.address.clone(),
                value: here + share * span_by(here, parameter),
            }
        });
        let moved: Vec<Change> = moved.collect();
        let (_, system) = self.moved(&moved).ok()?;
        system.is_like(self.system).then_some(system)
    }
}

/// By how much a parameter is moved to see what follows.
fn span_by(here: f64, parameter: &Parameter) -> f64 {
    SPAN * here.abs().max(parameter.high - parameter.low).max(1e-12)
}

impl Sides {
    fn of(base: &Base<'_>, here: f64, parameter: &Parameter) -> Result<Self, Trouble> {
        let by = span_by(here, parameter);
        // A value may not go below an end that physics sets (none is below zero).
        let low = if parameter.low >= 0.0 {
            (here - by).max(0.0)
        } else {
            here - by
        };
        let side = |value: f64| -> Result<(Lowered, System), Trouble> {
            let address = parameter.address.clone();
            let (lowered, system) = base.moved(&[Change::Set { address, value }])?;
            // Equations of another shape have no derivative towards these.
            let system = if system.is_like(base.system) {
                system
            } else {
                base.system.clone()
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
