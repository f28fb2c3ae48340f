//! How questions answer to parameters: derivatives of a steady state, exact through it.

use crate::heat::{Temperatures, temperatures};
use crate::lower::{Lowered, lower};
use crate::question::View;
use crate::solve::{Plan, Setting, Solved, Trouble, ended, refused, whole};
use quietrail_engine::{Direction, System, sensitivities, steady_state_from};
use quietrail_job::{Change, Parameter};

/// Span of a parameter's difference, as a share of its value or its tolerance.
const SPAN: f64 = 1e-4;

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
    let moved = figures_moved(plan, setting, solved, &system, &sides)?;

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

/// Derivative of each figure (rows) against each side's parameter: fast where the steady state was found so, else
/// patiently. `None` for a cycle that has none.
fn figures_moved(
    plan: &Plan,
    setting: Setting<'_>,
    solved: &Solved,
    system: &System,
    sides: &[Sides],
) -> Result<Option<Vec<Vec<f64>>>, Trouble> {
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
    let options = setting.options;
    let fast = like.and_then(|like| {
        like.kind
            .slopes(system, &like.figures, &directions, options)
    });
    if fast.is_some() {
        return Ok(fast);
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
    Ok(sensitivities(&orbit, &directions, plan.table.outputs()))
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

impl Sides {
    fn of(base: &Base<'_>, here: f64, parameter: &Parameter) -> Result<Self, Trouble> {
        let by = SPAN * here.abs().max(parameter.high - parameter.low).max(1e-12);
        // A value may not go below an end that physics sets (none is below zero).
        let low = if parameter.low >= 0.0 {
            (here - by).max(0.0)
        } else {
            here - by
        };
        let Base { setting, .. } = *base;
        let side = |value: f64| -> Result<(Lowered, System), Trouble> {
            let change = Change::Set {
                address: parameter.address.clone(),
                value,
            };
            let moved = setting.job.with(&[change]).map_err(Trouble::Change)?;
            let lower_at = |warmth: &Temperatures| {
                lower(&moved, setting.state, setting.step, &base.faults, warmth)
                    .map_err(Trouble::Change)
            };
            // Temperatures follow what the parameter does to them at the same powers.
            let known = &base.solved.solution;
            let first = lower_at(&known.made_at)?;
            let led_to = temperatures(&first, &base.plan.table.with(&known.values));
            let warmth = known.made_at.moved(&known.temperatures, &led_to);
            let lowered = lower_at(&warmth)?;
            let system =
                System::assemble(&lowered.circuit).map_err(|error| refused(&lowered, &error))?;
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
