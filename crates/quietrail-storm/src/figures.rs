//! What is read from each solution: all that `prove` asks, and more.

use quietrail_engine::{GROUND, Node, Output, Signal};
use quietrail_job::ChangeError;
use quietrail_job::model::{Job, LoadDraw, PartKind};
use quietrail_study::heat::Temperatures;
use quietrail_study::lower::{Lowered, Step, dropout_at, lower};
use quietrail_study::reading::Reading;
use quietrail_study::solve::Plan;

/// Share of what a load asks for below which it counts as starved.
const STARVED: f64 = 0.95;

/// All limits and ratings of a job; besides, mean, valley, peak and ripple of every node and of every
/// rectifier's output, and the power of every part.
///
/// # Errors
/// As [`lower`].
pub fn plan(job: &Job) -> Result<Plan, ChangeError> {
    let mut plan = Plan::of(job)?;
    let lowered = lower(job, 0, &Step::default(), &[], &Temperatures::at_rest(job))?;
    let reached = lowered.reached_from_common();
    for (_, node) in lowered.named_nodes() {
        if reached.contains(&node) {
            add_four(&mut plan, node, GROUND);
        }
    }
    for part in &job.parts {
        let ends = match &part.kind {
            PartKind::Rectifier(rectifier) => Some((&rectifier.into, &rectifier.ret)),
            PartKind::Regulator(regulator) => Some((&regulator.from, &regulator.ret)),
            _ => None,
        };
        if let Some((plus, minus)) = ends
            && let (Some(plus), Some(minus)) = (lowered.node(plus), lowered.node(minus))
        {
            add_four(&mut plan, plus, minus);
        }
        let takes_current = matches!(part.kind, PartKind::Load(_) | PartKind::Regulator(_));
        if let Some(element) = lowered.element(&part.name).filter(|_| takes_current) {
            plan.table.add(Output::Mean(Signal::Current(element, 0)));
        }
    }
    for elements in lowered.parts.values() {
        for &element in &elements.own {
            plan.table.add(Output::Power(element));
        }
    }
    Ok(plan)
}

fn add_four(plan: &mut Plan, plus: Node, minus: Node) {
    let signal = Signal::Voltage(plus, minus);
    plan.table.add(Output::Mean(signal.clone()));
    plan.table.add(Output::Valley(signal.clone()));
    plan.table.add(Output::Peak(signal.clone()));
    plan.table.add(Output::RippleRms(signal));
}

/// Whether some regulator's input is too low for its output for a part of the cycle only.
pub fn drops_out_partly(lowered: &Lowered, reading: &Reading<'_>) -> bool {
    lowered.job.parts.iter().any(|part| {
        let PartKind::Regulator(regulator) = &part.kind else {
            return false;
        };
        let ends = (lowered.node(&regulator.from), lowered.node(&regulator.ret));
        let (Some(input), Some(ret)) = ends else {
            return false;
        };
        let Some(element) = lowered.element(&part.name) else {
            return false;
        };
        let amps = reading.get(&Output::Mean(Signal::Current(element, 0)));
        let needed = regulator.set.size() + dropout_at(regulator, amps);
        let signal = Signal::Voltage(input, ret);
        let (valley, peak) = (Output::Valley(signal.clone()), Output::Peak(signal));
        reading.get(&valley) < needed && reading.get(&peak) > needed
    })
}

/// Whether some load of a current or a power gets too little of it.
pub fn is_starved(lowered: &Lowered, reading: &Reading<'_>) -> bool {
    lowered.job.parts.iter().any(|part| {
        let PartKind::Load(load) = &part.kind else {
            return false;
        };
        let Some(element) = lowered.element(&part.name) else {
            return false;
        };
        match &load.draws[lowered.state] {
            LoadDraw::Current(amps) => {
                let gets = reading.get(&Output::Mean(Signal::Current(element, 0)));
                gets < STARVED * amps.nominal()
            }
            LoadDraw::Power(watts) => {
                reading.get(&Output::Power(element)) < STARVED * watts.nominal()
            }
            LoadDraw::Resistance(_) => false,
        }
    })
}
