//! Direct current that half-wave rectifiers and unequal halves leave in a transformer's core.
//!
//! No mean current crosses to the primary, so what the windings carry of it magnetises the core one way. The core is taken as linear
//! here: by how much it then draws more, hums and warms is not computed, and that it does is said.

use crate::heat::Temperatures;
use crate::lower::{Step, lower};
use crate::solve::{Setting, figures};
use quietrail_engine::{Element, Options, Output, Signal};
use quietrail_job::model::{Job, Part, PartKind, RectifierForm, Transformer};
use std::f64::consts::SQRT_2;

/// Direct current over the crest of the least no-load current from which it is told: less only shifts where the core works anyway
/// (common practice, no source).
const TOLD: f64 = 0.25;

/// Direct current in a core.
#[derive(Clone, Debug, PartialEq)]
pub struct CoreCurrent {
    /// The state in which it is most.
    pub state: String,
    /// As a current through the primary in use would magnetise, A.
    pub amps: f64,
    /// Least no-load current at nominal mains, rms, A.
    pub no_load: f64,
}

/// The most that a transformer's core carries in any state, parts as marked; `None` where that is little, or nothing settled.
pub fn of(job: &Job, part: &Part, options: &Options) -> Option<CoreCurrent> {
    let PartKind::Transformer(transformer) = &part.kind else {
        return None;
    };
    if !job.parts().any(may_leave_some) {
        return None;
    }
    let states = 0..job.states.len();
    let found = states.filter_map(|state| {
        let amps = in_state(job, (&part.name, transformer), state, options)?;
        Some((state, amps))
    });
    let (state, amps) = found.max_by(|one, other| one.1.total_cmp(&other.1))?;
    let no_load = transformer.no_load.0.value.low;
    (amps >= TOLD * SQRT_2 * no_load).then(|| CoreCurrent {
        state: job.states[state].name.clone(),
        amps,
        no_load,
    })
}

/// Whether a part may take more of one half cycle than of the other. A bridge does not, nor a doubler.
fn may_leave_some(part: &Part) -> bool {
    match &part.kind {
        PartKind::Rectifier(one) => matches!(
            one.form,
            RectifierForm::HalfWave | RectifierForm::CentreTap | RectifierForm::Split { .. }
        ),
        PartKind::Diode(_) => true,
        _ => false,
    }
}

fn in_state(
    job: &Job,
    (name, transformer): (&str, &Transformer),
    state: usize,
    options: &Options,
) -> Option<f64> {
    let step = Step::default();
    let lowered = lower(job, state, &step, &[], &Temperatures::at_rest(job)).ok()?;
    let element = lowered.element(name)?;
    let Element::Transformer { windings, .. } = lowered.circuit.element(element) else {
        return None;
    };
    let turns: Vec<f64> = windings.iter().map(|winding| winding.turns).collect();
    let means: Vec<Output> = (0..turns.len())
        .map(|winding| Output::Mean(Signal::Current(element, winding)))
        .collect();
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let found = figures(setting, &[], &lowered, &means).ok()?;
    let ampere_turns: f64 = found
        .iter()
        .zip(&turns)
        .map(|(amps, turns)| amps * turns)
        .sum();
    let primary = crate::lower::transformer::primary_turns(transformer);
    let amps = (ampere_turns / primary).abs();
    amps.is_finite().then_some(amps)
}
