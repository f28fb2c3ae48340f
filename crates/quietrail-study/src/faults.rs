//! Single faults: every part open or short, wipers and references open, and what each puts on the pins of the loads.
//!
//! The supply runs in its steady cycle with parts as marked at the highest mains; then the fault is there, and what
//! follows is integrated. What breaks keeps its place in the circuit: open is a gigohm, short a milliohm.

mod clamp;

pub use crate::single_fault::{Fault, Kind};
pub use clamp::Clamp;

use crate::lower::{Lowered, Step, lower};
use crate::single_fault;
use crate::solve::{Plan, Setting, Solved, Trouble, solve};
use quietrail_engine::{Circuit, Options, Probe, Signal, System, steady_state, transient};
use quietrail_job::model::{Job, PartKind};
use quietrail_job::{Address, Change};
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Everything that was found.
#[derive(Clone, Debug)]
pub struct Faults {
    /// Title of the job.
    pub title: String,
    /// `230 V 50 Hz`
    pub region: String,
    /// Highest mains, rms, at which all was looked at.
    pub mains: f64,
    /// Each load, with the faults that reach it; the highest first.
    pub pins: Vec<PinFaults>,
    /// Faults whose consequence could not be integrated, in some state or in all.
    pub unsolved: Vec<Unsolved>,
    /// States without a steady cycle to begin from, each with why: no fault is looked at there.
    pub unbegun: Vec<(String, String)>,
    /// Faults that were tried, times states.
    pub tried: usize,
}

impl Faults {
    /// How many faults put more on a pin than it bears.
    pub fn exceeding(&self) -> usize {
        let pins = self.pins.iter();
        pins.map(|pin| {
            let beyond = |one: &&Consequence| pin.bears.is_some_and(|bears| one.peak > bears);
            pin.faults.iter().filter(beyond).count()
        })
        .sum()
    }
}

/// What reaches the pins of a load.
#[derive(Clone, Debug)]
pub struct PinFaults {
    /// The load.
    pub load: String,
    /// Highest voltage that it bears; `None` where the job does not say.
    pub bears: Option<f64>,
    /// Highest voltage without a fault in any state.
    pub without: f64,
    /// Worst state of each fault, highest voltage first.
    pub faults: Vec<Consequence>,
    /// What would hold the worst of them.
    pub clamps: Vec<Clamp>,
}

/// A fault whose consequence could not be integrated.
#[derive(Clone, Debug, PartialEq)]
pub struct Unsolved {
    /// The fault.
    pub fault: Fault,
    /// States in which it could not; empty where it could in none. In the others it is among the faults of the pins.
    pub states: Vec<String>,
    /// Why not, in the first of them.
    pub why: String,
}

/// What a fault does to a load.
#[derive(Clone, Debug, PartialEq)]
pub struct Consequence {
    /// The fault.
    pub fault: Fault,
    /// State in which it is worst.
    pub state: usize,
    /// Highest instant, V.
    pub peak: f64,
    /// Mean over the last cycle that was integrated, V.
    pub settles: f64,
    /// Energy that the pins take while above what they bear (above the highest without a fault where that is not
    /// said), J.
    pub joules: f64,
    /// How long they are above it within what was integrated, s.
    pub above: f64,
    /// What the mains fuses make of it.
    pub clears: Clears,
}

/// When a fault ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Clears {
    /// A fuse opens, at the latest after so many seconds.
    After(f64),
    /// No fuse sees enough current: it stays.
    Never,
    /// A fuse sees more than one and a half times its rating, and its characteristic is not known.
    NotTold,
}

/// Mains cycles that are integrated after a fault.
const CYCLES: f64 = 12.0;
/// Points per cycle at which it is read.
const POINTS: f64 = 100.0;

/// Points of the last cycles, by which it is said how a fault goes on.
const TAIL: usize = (5.0 * POINTS) as usize;

/// Looks at every single fault.
///
/// # Errors
/// Why not even the first state settled.
pub fn faults(job: &Job, options: &Options) -> Result<Faults, Trouble> {
    faults_telling(job, options, &|_, _| {})
}

/// The same, telling after each fault how many of how many are tried, in no order.
///
/// # Errors
/// As [`faults`].
pub fn faults_telling(
    job: &Job,
    options: &Options,
    tell: &(dyn Fn(usize, usize) + Sync),
) -> Result<Faults, Trouble> {
    let step = Step::default();
    let mains = job.mains.voltage.value.high;
    let changes = [Change::Set {
        address: Address("mains.voltage".to_owned()),
        value: mains,
    }];
    let plan = Plan::of(job).map_err(Trouble::Change)?;
    let all = single_fault::every_fault(job);
    let loads: Vec<(String, Option<f64>)> = job
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            PartKind::Load(load) => {
                let bears = load.volts.as_ref().map(|volts| volts.value.low);
                Some((part.name.clone(), bears))
            }
            _ => None,
        })
        .collect();
    let mut pins: Vec<PinFaults> = loads
        .iter()
        .map(|(load, bears)| PinFaults {
            load: load.clone(),
            bears: *bears,
            without: f64::NEG_INFINITY,
            faults: Vec::new(),
            clamps: Vec::new(),
        })
        .collect();
    let mut unsolved = Vec::new();
    let mut settled = Vec::new();
    let mut unbegun = Vec::new();
    for state in 0..job.states.len() {
        let setting = Setting {
            job,
            state,
            step: &step,
            options,
        };
        let solved = match solve(&plan, setting, &changes, None) {
            Ok(solved) => solved,
            Err(Trouble::Change(error)) => return Err(Trouble::Change(error)),
            Err(why) => {
                unbegun.push((job.states[state].name.clone(), why.to_string()));
                continue;
            }
        };
        for pin in &mut pins {
            pin.without = pin.without.max(highest(&solved, options, &pin.load));
        }
        settled.push((state, solved));
    }
    let tasks: Vec<(usize, &Fault)> = (0..settled.len())
        .flat_map(|index| all.iter().map(move |fault| (index, fault)))
        .collect();
    let done = AtomicUsize::new(0);
    let runs: Vec<Outcome<'_>> = tasks
        .par_iter()
        .map(|&(index, fault)| {
            let (state, solved) = &settled[index];
            let run = Run {
                job,
                state: *state,
                solved,
                changes: &changes,
            };
            let outcome = run.consequences(fault, &pins).map_err(|why| (*state, why));
            tell(1 + done.fetch_add(1, Ordering::Relaxed), tasks.len());
            (fault, outcome)
        })
        .collect();
    let tried = runs.len();
    for (fault, outcome) in runs {
        match outcome {
            Ok(consequences) => {
                for (pin, consequence) in pins.iter_mut().zip(consequences) {
                    take(&mut pin.faults, consequence);
                }
            }
            Err((state, why)) => leave(&mut unsolved, fault, &job.states[state].name, why),
        }
    }
    for one in &mut unsolved {
        if one.states.len() == settled.len() {
            one.states.clear();
        }
    }
    for pin in &mut pins {
        pin.faults.sort_by(|a, b| b.peak.total_cmp(&a.peak));
        let of_worst = pin.faults.first().and_then(|worst| {
            let mut all = settled.iter();
            all.find(|(state, _)| *state == worst.state)
        });
        if let Some((state, solved)) = of_worst {
            let run = Run {
                job,
                state: *state,
                solved,
                changes: &changes,
            };
            pin.clamps = clamp::of(&run, pin);
        }
    }
    Ok(Faults {
        title: job.title.clone(),
        region: job.region.name.clone(),
        mains,
        pins,
        unsolved,
        unbegun,
        tried,
    })
}

/// A fault with what it does to each load, or the state in which that is not known, and why.
type Outcome<'f> = (&'f Fault, Result<Vec<Consequence>, (usize, String)>);

/// Reads a probe at one of the even times.
type Read<'r> = Box<dyn Fn(&Probe, usize) -> f64 + 'r>;

/// Keeps the worst state of each fault: highest voltage, and most energy, which may be in another state.
fn take(all: &mut Vec<Consequence>, new: Consequence) {
    let Some(known) = all.iter_mut().find(|known| known.fault == new.fault) else {
        all.push(new);
        return;
    };
    let (joules, above) = if new.joules > known.joules {
        (new.joules, new.above)
    } else {
        (known.joules, known.above)
    };
    if known.peak < new.peak {
        *known = new;
    }
    (known.joules, known.above) = (joules, above);
}

/// Notes a fault that could not be integrated in a state.
fn leave(all: &mut Vec<Unsolved>, fault: &Fault, state: &str, why: String) {
    if let Some(known) = all.iter_mut().find(|known| known.fault == *fault) {
        known.states.push(state.to_owned());
        return;
    }
    all.push(Unsolved {
        fault: fault.clone(),
        states: vec![state.to_owned()],
        why,
    });
}

/// Highest instant of a load's voltage without a fault.
fn highest(solved: &Solved, options: &Options, load: &str) -> f64 {
    let Some(signal) = across(&solved.lowered, load) else {
        return f64::NEG_INFINITY;
    };
    let Ok(system) = System::assemble(&solved.lowered.circuit) else {
        return f64::NEG_INFINITY;
    };
    let system = system.reduced();
    let start = &solved.solution.start;
    let outcome = quietrail_engine::steady_state_from(&system, start, options);
    outcome.orbit.map_or(f64::NEG_INFINITY, |orbit| {
        orbit.peak(&signal.probe(&system)).value
    })
}

fn across(lowered: &Lowered, load: &str) -> Option<Signal> {
    let Some(PartKind::Load(part)) = lowered.job.part(load).map(|part| &part.kind) else {
        return None;
    };
    let plus = lowered.node(&part.between.plus)?;
    let minus = lowered.node(&part.between.minus)?;
    Some(Signal::Voltage(plus, minus))
}

/// A state from which faults begin.
struct Run<'a> {
    job: &'a Job,
    state: usize,
    solved: &'a Solved,
    changes: &'a [Change],
}

/// What was read at even times after a fault.
struct Trace {
    /// Seconds between readings.
    step: f64,
    /// Volts of each load.
    volts: Vec<Vec<f64>>,
    /// Amperes of each load.
    amps: Vec<Vec<f64>>,
    /// Amperes of each fuse.
    fuses: Vec<Vec<f64>>,
    /// Volts and amperes of an element that was added.
    added: Option<(Vec<f64>, Vec<f64>)>,
}

impl Run<'_> {
    fn lowered(&self) -> Result<Lowered, String> {
        let step = Step::default();
        let warmth = &self.solved.solution.made_at;
        lower(self.job, self.state, &step, self.changes, warmth).map_err(|error| error.to_string())
    }

    fn consequences(&self, fault: &Fault, pins: &[PinFaults]) -> Result<Vec<Consequence>, String> {
        let mut lowered = self.lowered()?;
        single_fault::make(&mut lowered, fault);
        let trace = self.integrate(&lowered, pins, None)?;
        let clears = self.clears(&trace);
        let last = POINTS as usize;
        let consequence = |(k, pin): (usize, &PinFaults)| {
            let volts = &trace.volts[k];
            let over = pin.bears.unwrap_or(pin.without);
            let (mut joules, mut above) = (0.0, 0.0);
            for (v, i) in volts.iter().zip(&trace.amps[k]) {
                if *v > over {
                    joules += v * i * trace.step;
                    above += trace.step;
                }
            }
            Consequence {
                fault: fault.clone(),
                state: self.state,
                peak: volts.iter().copied().fold(f64::NEG_INFINITY, f64::max),
                settles: volts[volts.len() - last..].iter().sum::<f64>() / last as f64,
                joules,
                above,
                clears,
            }
        };
        Ok(pins.iter().enumerate().map(consequence).collect())
    }

    /// Integrates a circuit from the steady cycle without a fault.
    fn integrate(
        &self,
        lowered: &Lowered,
        pins: &[PinFaults],
        added: Option<quietrail_engine::ElementId>,
    ) -> Result<Trace, String> {
        let system = assembled(&lowered.circuit)?;
        let start = &self.solved.solution.start;
        if system.store_count() != start.len() {
            return Err("what it stores is another".to_owned());
        }
        let options = Options {
            tolerance: 1e-3,
            steps: 100_000,
            ..Options::default()
        };
        let frequency = lowered.job.mains.frequency.nominal();
        let count = (CYCLES * POINTS) as usize;
        let at = |k: usize| (k as f64 + 0.5) / POINTS;
        // What breaks may make a voltage jump that no small step can follow: then the cycle that it settles to is read.
        let value: Read<'_> = match transient(&system, start, 0.0, CYCLES, &options) {
            Ok(run) => Box::new(move |probe, k| run.value(probe, at(k))),
            Err(_) => {
                let outcome = steady_state(&system, &crate::options());
                let orbit = outcome.orbit.ok_or("it does not settle")?;
                Box::new(move |probe, k| orbit.value(probe, at(k).fract()))
            }
        };
        let read_probe =
            |probe: &Probe| -> Vec<f64> { (0..count).map(|k| value(probe, k)).collect() };
        let read = |signal: &Signal| -> Vec<f64> { read_probe(&signal.probe(&system)) };
        let mut trace = Trace {
            step: 1.0 / POINTS / frequency,
            volts: Vec::new(),
            amps: Vec::new(),
            fuses: Vec::new(),
            added: None,
        };
        for pin in pins {
            let signal = across(lowered, &pin.load).ok_or("no such load")?;
            trace.volts.push(read(&signal));
            let element = lowered.element(&pin.load).ok_or("no such load")?;
            trace.amps.push(read(&Signal::Current(element, 0)));
        }
        for part in &lowered.job.parts {
            if matches!(part.kind, PartKind::Fuse(_)) {
                let element = lowered.element(&part.name).ok_or("no such fuse")?;
                trace.fuses.push(read(&Signal::Current(element, 0)));
            }
        }
        if let Some(element) = added {
            let volts = system.ports(element);
            let (voltage, current) = volts.first().ok_or("no ports")?;
            trace.added = Some((read_probe(voltage), read_probe(current)));
        }
        Ok(trace)
    }

    /// What the fuses make of currents: by the rms of the last cycles that were integrated.
    fn clears(&self, trace: &Trace) -> Clears {
        let fuses = self.job.parts.iter().filter_map(|part| match &part.kind {
            PartKind::Fuse(fuse) => Some(fuse),
            _ => None,
        });
        let last = TAIL;
        let mut best = Clears::Never;
        for (fuse, amps) in fuses.zip(&trace.fuses) {
            let tail = &amps[amps.len() - last..];
            let square = tail.iter().map(|i| i * i).sum::<f64>() / last as f64;
            let times = square.sqrt() / fuse.rated.nominal();
            let clears = opens(times, &fuse.characteristic);
            best = match (best, clears) {
                (Clears::After(a), Clears::After(b)) => Clears::After(a.min(b)),
                (Clears::Never, other) | (other, Clears::Never) => other,
                (Clears::After(a), Clears::NotTold) | (Clears::NotTold, Clears::After(a)) => {
                    Clears::After(a)
                }
                (Clears::NotTold, Clears::NotTold) => Clears::NotTold,
            };
        }
        best
    }
}

/// Times of its rated current against the longest time in which a time-lag fuse opens, s (IEC 60127-2, sheet 3, as a
/// maker's data sheet prints its gates: Littelfuse 213 series).
const TIME_LAG: [(f64, f64); 4] = [(2.1, 120.0), (2.75, 10.0), (4.0, 3.0), (10.0, 0.3)];
/// Times of its rated current that a fuse bears for an hour at least, by the same sheet.
const BEARS: f64 = 1.5;

/// When a fuse opens at a multiple of its rated current: at the gate below it.
fn opens(times: f64, characteristic: &str) -> Clears {
    if times < BEARS {
        return Clears::Never;
    }
    if !characteristic.contains("lag") {
        return Clears::NotTold;
    }
    let gate = TIME_LAG.iter().rev().find(|gate| times >= gate.0);
    gate.map_or(Clears::NotTold, |gate| Clears::After(gate.1))
}

fn assembled(circuit: &Circuit) -> Result<System, String> {
    System::assemble(circuit)
        .map(|system| system.reduced())
        .map_err(|error| format!("{error:?}"))
}

#[cfg(test)]
mod tests;
