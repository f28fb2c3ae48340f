//! Electrolytics and zener diodes that stand the wrong way round.

use crate::finding::NodeFinding;
use crate::heat::Temperatures;
use crate::lower::{Step, lower};
use crate::question::voltage_of;
use crate::solve::{Setting, figures};
use quietrail_engine::{Options, Output};
use quietrail_job::model::{Between, Job, Part, PartKind, Subject};
use quietrail_job::{Address, Change};

/// What stands the wrong way round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Polar {
    /// An aluminium electrolytic.
    Electrolytic,
    /// A zener diode or a shunt reference, which then conducts as any diode does: that is not in its curve here.
    Shunt,
}

impl Polar {
    /// Volts that it bears, or blocks, backwards.
    ///
    /// Source, of an electrolytic: 1 V, and that not all the time, in the application notes of Chemi-Con; the oxide of the other foil
    /// stands for about 2 V, for short periods, in the KEMET data sheet A4020 (ALC10), page 13. A silicon junction passes next to
    /// nothing below half a volt (from memory).
    pub fn borne(self) -> f64 {
        match self {
            Polar::Electrolytic => 1.0,
            Polar::Shunt => 0.5,
        }
    }
}

/// A part that sees more than it bears backwards.
#[derive(Clone, Debug, PartialEq)]
pub struct Backwards {
    /// What it is.
    pub polar: Polar,
    /// The state in which it is most.
    pub state: String,
    /// Volts by which its second end is above its first, at the worst instant.
    pub volts: f64,
    /// Both ends as the job has them.
    pub ends: (String, String),
}

/// A part with a first end that is to be the upper one.
#[derive(Clone, Copy)]
struct Upright<'a> {
    name: &'a str,
    polar: Polar,
    between: &'a Between,
}

impl<'a> Upright<'a> {
    fn of(part: &'a Part) -> Option<Self> {
        let (polar, between) = match &part.kind {
            PartKind::Capacitor(one) if one.is_polar => (Polar::Electrolytic, &one.between),
            PartKind::Shunt(one) => (Polar::Shunt, &one.between),
            _ => return None,
        };
        Some(Self {
            name: &part.name,
            polar,
            between,
        })
    }

    /// Whether what is known of both its ends in every state and at every mains leaves no room for more than it bears.
    fn is_known(&self, job: &Job, nodes: &[NodeFinding]) -> bool {
        job.states.iter().all(|state| {
            let plus = ends(&self.between.plus, &state.name, nodes);
            let minus = ends(&self.between.minus, &state.name, nodes);
            let apart = plus.zip(minus).map(|(plus, minus)| minus.1 - plus.0);
            apart.is_some_and(|apart| apart <= self.polar.borne())
        })
    }
}

/// Every part that stands the wrong way round, with its name: parts as marked, at the highest mains. What the nodes are known to see
/// spares the circuit where it shows that none does.
pub fn of(job: &Job, nodes: &[NodeFinding], options: &Options) -> Vec<(String, Backwards)> {
    let all = job.parts().filter_map(Upright::of);
    let all: Vec<Upright<'_>> = all.filter(|one| !one.is_known(job, nodes)).collect();
    let mut worst: Vec<Option<Backwards>> = vec![None; all.len()];
    let states = if all.is_empty() { 0 } else { job.states.len() };
    for state in 0..states {
        let found = in_state(job, state, &all, options);
        for ((worst, volts), one) in worst.iter_mut().zip(found).zip(&all) {
            let borne = one.polar.borne();
            if volts > worst.as_ref().map_or(borne, |known| known.volts) {
                *worst = Some(Backwards {
                    polar: one.polar,
                    state: job.states[state].name.clone(),
                    volts,
                    ends: (one.between.plus.clone(), one.between.minus.clone()),
                });
            }
        }
    }
    let names = all.iter().map(|one| one.name.to_owned());
    let found = names.zip(worst);
    found.filter_map(|(name, one)| Some((name, one?))).collect()
}

/// The lowest and the highest that a node is known to see in a state; `common` sees nothing.
fn ends(name: &str, state: &str, nodes: &[NodeFinding]) -> Option<(f64, f64)> {
    if name == "common" {
        return Some((0.0, 0.0));
    }
    let own = nodes
        .iter()
        .filter(|node| node.node == name && node.state == state);
    own.map(|node| (node.valley, node.peak))
        .reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)))
}

/// How far each goes backwards in a state; nothing where it does not settle.
fn in_state(job: &Job, state: usize, all: &[Upright<'_>], options: &Options) -> Vec<f64> {
    let step = Step::default();
    let Ok(lowered) = lower(job, state, &step, &[], &Temperatures::at_rest(job)) else {
        return Vec::new();
    };
    let valley = |one: &Upright<'_>| {
        let signal = voltage_of(&lowered, &Subject::Part(one.name.to_owned()))?;
        Some(Output::Valley(signal))
    };
    let Some(valleys) = all.iter().map(valley).collect::<Option<Vec<_>>>() else {
        return Vec::new();
    };
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let mains = Change::Set {
        address: Address("mains.voltage".to_owned()),
        value: job.mains.voltage.value.high,
    };
    let found = figures(setting, &[mains], &lowered, &valleys).unwrap_or_default();
    found.into_iter().map(|volts| -volts).collect()
}
