//! What is left in the capacitors when it is switched on again.

use crate::heat::Temperatures;
use crate::lower::{Lowered, Step, lower};
use crate::solve::{Setting, Trouble, figures};
use quietrail_engine::{Element, Options, Output, Signal, System};
use quietrail_job::Change;
use quietrail_job::model::{Job, PartKind};

/// Mean over crest under which a capacitor has no charge to keep: it swings with a winding, or with a snubber.
const KEEPS: f64 = 0.1;

/// What each capacitor holds at most, V from its first end to its second: in the state that leaves most in it, the job changed so.
/// Those that hold nothing and those that swing are left out.
///
/// # Errors
/// A change that cannot be made.
pub(super) fn held(
    job: &Job,
    changes: &[Change],
    options: &Options,
) -> Result<Vec<(String, f64)>, Trouble> {
    let names: Vec<&str> = job
        .parts()
        .filter(|part| matches!(part.kind, PartKind::Capacitor(_)))
        .map(|part| part.name.as_str())
        .collect();
    let mut all: Vec<f64> = vec![0.0; names.len()];
    let step = Step::default();
    for state in 0..job.states.len() {
        let lowered = lower(job, state, &step, changes, &Temperatures::at_rest(job))
            .map_err(Trouble::Change)?;
        let across: Vec<Option<Signal>> = names.iter().map(|name| across(&lowered, name)).collect();
        let outputs: Vec<Output> = across
            .iter()
            .flatten()
            .flat_map(|signal| {
                [
                    Output::Mean(signal.clone()),
                    Output::Peak(signal.clone()),
                    Output::Valley(signal.clone()),
                ]
            })
            .collect();
        let setting = Setting {
            job,
            state,
            step: &step,
            options,
        };
        let Ok(found) = figures(setting, changes, &lowered, &outputs) else {
            continue;
        };
        let there = across.iter().enumerate().filter(|(_, own)| own.is_some());
        for ((index, _), figures) in there.zip(found.chunks_exact(3)) {
            let volts = crest((figures[0], figures[1], figures[2]));
            if volts.abs() > all[index].abs() {
                all[index] = volts;
            }
        }
    }
    let named = names.into_iter().map(str::to_owned).zip(all);
    Ok(named.filter(|(_, volts)| *volts != 0.0).collect())
}

/// Those that keep their charge until it is switched on again: what is at a winding (a doubler's pump) swings with it at once.
pub(super) fn behind_rectifiers(job: &Job, held: &[(String, f64)]) -> Vec<(String, f64)> {
    let is_behind = |name: &str| match job.part(name).map(|part| &part.kind) {
        Some(PartKind::Capacitor(own)) => {
            !own.between.plus.contains('.') && !own.between.minus.contains('.')
        }
        _ => false,
    };
    let kept = held.iter().filter(|(name, _)| is_behind(name));
    kept.cloned().collect()
}

/// The end of a swing that lies on the side of its mean; nothing of one that goes to both.
fn crest((mean, peak, valley): (f64, f64, f64)) -> f64 {
    let end = if mean > 0.0 { peak } else { valley };
    if mean.abs() > KEEPS * peak.abs().max(valley.abs()) {
        end
    } else {
        0.0
    }
}

fn across(lowered: &Lowered, name: &str) -> Option<Signal> {
    match lowered.circuit.element(lowered.element(name)?) {
        Element::Capacitor { a, b, .. } => Some(Signal::Voltage(*a, *b)),
        _ => None,
    }
}

/// Stores at which each capacitor has a share of what it holds at most; currents and all else begin at nothing.
pub(super) fn left(
    lowered: &Lowered,
    system: &System,
    held: &[(String, f64)],
    share: f64,
) -> Vec<f64> {
    let mut all = vec![0.0; system.store_count()];
    for (name, volts) in held {
        let store = lowered
            .element(name)
            .and_then(|id| system.capacitor_store(id));
        if let Some(store) = store {
            all[store] = share * volts;
        }
    }
    all
}
