//! Two cycles of a point with parts as marked and nothing searched: what a measured wave is laid over at once.

use super::{NoWaves, begun, curve, rectifier, sampled};
use crate::lower::{Lowered, Step, lower};
use crate::reading::{OutputTable, four};
use crate::solve::{Plan, Setting, Trouble, solve};
use crate::wave::Waves;
use quietrail_engine::{GROUND, Options, Signal};
use quietrail_job::Change;
use quietrail_job::model::Job;

/// Two cycles of a node, of a pair of nodes with a comma between, or of a winding, in a state with what a step connects.
///
/// # Errors
/// [`NoWaves`].
pub fn alone(
    job: &Job,
    of: &str,
    (state, step): (usize, &Step),
    changes: &[Change],
    options: &Options,
) -> Result<Waves, NoWaves> {
    let setting = Setting {
        job,
        state,
        step,
        options,
    };
    let warmth = crate::heat::Temperatures::at_rest(job);
    let lowered = lower(job, state, step, &[], &warmth)
        .map_err(|error| NoWaves::Trouble(Trouble::Change(error)))?;
    let Some(signal) = between(&lowered, of) else {
        let known = lowered.named_nodes();
        return Err(NoWaves::UnknownNode {
            known: known.map(|(name, _)| name.to_owned()).collect(),
        });
    };
    let mut table = OutputTable::of(&lowered);
    four(&signal)
        .into_iter()
        .for_each(|output| table.add(output));
    if let Some(part) = super::charger(job, of)
        && let Some(current) = super::charging(&lowered, part, of)
    {
        table.add(quietrail_engine::Output::Peak(current.clone()));
        table.add(quietrail_engine::Output::Rms(current));
    }
    let plan = Plan::reading(table);
    let solved = solve(&plan, setting, changes, None).map_err(NoWaves::Trouble)?;
    let mut drawing = begun(&solved, of);
    let reading = plan.table.with(&solved.solution.values);
    [
        drawing.mean,
        drawing.valley,
        drawing.peak,
        drawing.ripple_rms,
    ] = four(&signal).map(|output| reading.get(&output));
    let drawn = std::slice::from_ref(&signal);
    sampled(&plan, &solved, setting, drawn, |course| {
        drawing.volts = curve(course, &signal);
        rectifier(job, &solved.lowered, of, course, &mut drawing);
    })
    .map_err(NoWaves::Trouble)?;
    Ok(drawing)
}

/// The voltage of a node against common, of one node against another, or of a winding from start to finish.
fn between(lowered: &Lowered, of: &str) -> Option<Signal> {
    if let Some((plus, minus)) = of.split_once(',') {
        return Some(Signal::Voltage(lowered.node(plus)?, lowered.node(minus)?));
    }
    if let Some(node) = lowered.node(of) {
        return Some(Signal::Voltage(node, GROUND));
    }
    let start = lowered.node(&format!("{of}.start"))?;
    Some(Signal::Voltage(
        start,
        lowered.node(&format!("{of}.finish"))?,
    ))
}
