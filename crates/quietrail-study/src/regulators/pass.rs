//! Each transistor of a job as a pass element: what it drops, what is left at the valley, what its base takes, what it rejects.

use crate::noise;
use crate::question::{View, headroom, headroom_outputs};
use crate::reading::OutputTable;
use crate::solve::{Plan, Setting, Trouble, solve};
use quietrail_engine::{GROUND, Options, Output, Signal};
use quietrail_job::model::{Job, PartKind, Transistor};
use quietrail_job::{Address, Change};

/// A transistor in every state, at the lowest mains with either end of its gain; its power at the highest mains.
#[derive(Clone, Debug, PartialEq)]
pub struct Pass {
    /// Its name.
    pub part: String,
    /// Lowest and highest gain.
    pub gain: (f64, f64),
    /// State by state.
    pub states: Vec<InState>,
    /// States without a steady cycle, each with why.
    pub unsettled: Vec<(String, String)>,
}

impl Pass {
    /// Whether it saturates in some state.
    pub fn fails(&self) -> bool {
        self.states.iter().any(|state| state.headroom < 0.0)
    }
}

/// A transistor in a state, at the end of its gain that leaves it less above saturation; its base current is that of the lowest.
#[derive(Clone, Debug, PartialEq)]
pub struct InState {
    /// The state.
    pub state: String,
    /// The gain that leaves it less.
    pub gain: f64,
    /// Mean from collector to emitter, V.
    pub drop: f64,
    /// What it needs from collector to emitter at that current: its saturation, V.
    pub saturation: f64,
    /// Lowest from collector to emitter less its saturation, V.
    pub headroom: f64,
    /// Mean voltage behind it against common, V.
    pub behind: f64,
    /// Mean main current, A.
    pub amps: f64,
    /// Mean base current, A.
    pub base: f64,
    /// Mean power at the highest mains with the gain as marked, W, and that mains voltage.
    pub heat: (f64, f64),
    /// Ripple at twice the mains frequency behind it over that before it, by its slopes at these means; `None` where nothing
    /// reaches both.
    pub ripple_kept: Option<f64>,
    /// That frequency, Hz.
    pub hertz: f64,
}

/// Every transistor of a job.
///
/// # Errors
/// A change that cannot be made. A state without a steady cycle is named with why.
pub fn passes(job: &Job, options: &Options) -> Result<Vec<Pass>, Trouble> {
    let mut all = Vec::new();
    for part in &job.parts {
        let PartKind::Transistor(transistor) = &part.kind else {
            continue;
        };
        let (mut states, mut unsettled) = (Vec::new(), Vec::new());
        for (state, declared) in job.states.iter().enumerate() {
            match of(job, &part.name, transistor, state, options) {
                Ok(found) => states.push(found),
                Err(Trouble::Change(error)) => return Err(Trouble::Change(error)),
                Err(why) => unsettled.push((declared.name.clone(), why.to_string())),
            }
        }
        all.push(Pass {
            part: part.name.clone(),
            gain: (transistor.gain.value.low, transistor.gain.value.high),
            states,
            unsettled,
        });
    }
    Ok(all)
}

/// A small gain drops more at the base and leaves more above saturation, unless that takes the output down elsewhere: both are tried.
fn of(
    job: &Job,
    name: &str,
    transistor: &Transistor,
    state: usize,
    options: &Options,
) -> Result<InState, Trouble> {
    let gain = &transistor.gain.value;
    let low = at(job, (name, transistor), state, gain.low, options)?;
    if gain.high <= gain.low {
        return Ok(low);
    }
    let high = at(job, (name, transistor), state, gain.high, options)?;
    let base = low.base;
    let worse = if high.headroom < low.headroom {
        high
    } else {
        low
    };
    Ok(InState { base, ..worse })
}

fn at(
    job: &Job,
    (name, transistor): (&str, &Transistor),
    state: usize,
    gain: f64,
    options: &Options,
) -> Result<InState, Trouble> {
    let step = crate::lower::Step::default();
    let set = |address: &str, value: f64| Change::Set {
        address: Address(address.to_owned()),
        value,
    };
    let changes = [
        set("mains.voltage", job.mains.voltage.value.low),
        set(&format!("{name}.gain"), gain),
    ];
    let warmth = crate::heat::Temperatures::at_rest(job);
    let lowered =
        crate::lower::lower(job, state, &step, &changes, &warmth).map_err(Trouble::Change)?;
    let mut table = OutputTable::of(&lowered);
    noise::register(&lowered, &mut table);
    for output in headroom_outputs(&lowered, name) {
        table.add(output);
    }
    let (plus, minus) = transistor.ends();
    let across = lowered
        .node(plus)
        .zip(lowered.node(minus))
        .map(|(plus, minus)| Output::Mean(Signal::Voltage(plus, minus)));
    let base = lowered
        .element(name)
        .map(|element| Output::Mean(Signal::Current(element, 1)));
    let behind = lowered
        .node(minus)
        .map(|node| Output::Mean(Signal::Voltage(node, GROUND)));
    for output in across.iter().chain(&base).chain(&behind) {
        table.add(output.clone());
    }
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let solved = solve(&Plan::reading(table.clone()), setting, &changes, None)?;
    let view = View {
        lowered: &solved.lowered,
        reading: table.with(&solved.solution.values),
        air: solved.solution.temperatures.air,
        share: 1.0,
    };
    let own = headroom(&view, name).ok();
    let read = |output: &Option<Output>| {
        let output = output.as_ref()?;
        view.reading.find(output)
    };
    let hertz = 2.0 * job.mains.frequency.nominal();
    let rest = read(&behind).unwrap_or(f64::NAN);
    // Under common the supply is at the lower end.
    let (before, after) = if rest < 0.0 {
        (minus, plus)
    } else {
        (plus, minus)
    };
    Ok(InState {
        state: job.states[state].name.clone(),
        gain,
        drop: read(&across).unwrap_or(f64::NAN),
        saturation: own.map_or(f64::NAN, |own| own.dropout),
        behind: rest,
        heat: heat(job, name, setting)?,
        headroom: own.map_or(f64::NAN, |own| own.headroom),
        amps: own.map_or(f64::NAN, |own| own.amps),
        base: read(&base).unwrap_or(f64::NAN),
        ripple_kept: ripple_kept(&view, before, after, hertz),
        hertz,
    })
}

/// Its mean power at the highest mains, and that mains voltage.
fn heat(job: &Job, name: &str, setting: Setting<'_>) -> Result<(f64, f64), Trouble> {
    let mains = job.mains.voltage.value.high;
    let changes = [Change::Set {
        address: Address("mains.voltage".to_owned()),
        value: mains,
    }];
    let warmth = crate::heat::Temperatures::at_rest(job);
    let lowered = crate::lower::lower(job, setting.state, setting.step, &changes, &warmth)
        .map_err(Trouble::Change)?;
    let mut table = OutputTable::of(&lowered);
    let own = lowered.parts.get(name);
    for &element in own.map_or(&[][..], |elements| &elements.own) {
        table.add(Output::Power(element));
    }
    let solved = solve(&Plan::reading(table.clone()), setting, &changes, None)?;
    let reading = table.with(&solved.solution.values);
    Ok((crate::heat::power(&solved.lowered, &reading, name), mains))
}

/// What an ampere into the supply's side does behind, over what it does before.
fn ripple_kept(view: &View<'_>, plus: &str, minus: &str, hertz: f64) -> Option<f64> {
    let (before, behind) = (view.lowered.node(plus)?, view.lowered.node(minus)?);
    let network = noise::network(view, GROUND);
    let at = |node| {
        Some(
            network
                .reach(node, GROUND, hertz)?
                .of_current(before, GROUND),
        )
    };
    let (raw, left) = (at(before)?.size(), at(behind)?.size());
    (raw > 0.0).then(|| left / raw)
}
