//! Single faults: every part open or short, wipers and references open, and what each puts on the pins of the loads.
//!
//! The supply runs in its steady cycle with parts as marked at the highest mains; then the fault is there, and what
//! follows is integrated. What breaks keeps its place in the circuit: open is a gigohm, short a milliohm.

mod clamp;

pub use crate::single_fault::{Fault, Kind};
pub use clamp::Clamp;

use crate::lower::{Lowered, Step, lower};
use crate::single_fault;
use crate::solve::{At, Plan, Setting, Solved, Trouble, solve, traces, whole};
use quietrail_engine::batch::TRACE;
use quietrail_engine::{Element, ElementId, Options, Signal, System, steady_state};
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
const CYCLES: usize = 12;
/// Points of the last cycles, by which it is said how a fault goes on.
const TAIL: usize = 5 * TRACE;

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
    let begun: Vec<Run<'_>> = settled
        .iter()
        .map(|(state, solved)| Run {
            job,
            state: *state,
            solved,
            changes: &changes,
        })
        .collect();
    let done = AtomicUsize::new(0);
    let of_fault = |fault| {
        let outcomes = consequences(&begun, fault, &pins);
        let so_far = outcomes.len() + done.fetch_add(outcomes.len(), Ordering::Relaxed);
        tell(so_far, all.len() * begun.len());
        let named = begun.iter().zip(outcomes).map(move |(run, outcome)| {
            let outcome = outcome.map_err(|why| (run.state, why));
            (fault, outcome)
        });
        named.collect::<Vec<Outcome<'_>>>()
    };
    let runs: Vec<Outcome<'_>> = all.par_iter().flat_map_iter(of_fault).collect();
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
            let mut all = begun.iter();
            all.find(|run| run.state == worst.state)
        });
        if let Some(run) = of_worst {
            pin.clamps = clamp::of(run, pin);
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

impl Trace {
    /// What was read of the signals of [`signals`], in their order.
    fn of(lowered: &Lowered, pins: usize, read: Vec<Vec<f64>>) -> Self {
        let mut read = read.into_iter();
        let volts = read.by_ref().take(pins).collect();
        let amps = read.by_ref().take(pins).collect();
        let fuses = read.by_ref().take(fuses(lowered).count()).collect();
        Self {
            step: 1.0 / TRACE as f64 / lowered.job.mains.frequency.nominal(),
            volts,
            amps,
            fuses,
            added: read.next().zip(read.next()),
        }
    }
}

/// What is read after a fault: volts of each load, amperes of each, those of each fuse, and both of an element that was added.
fn signals(
    lowered: &Lowered,
    pins: &[PinFaults],
    added: Option<ElementId>,
) -> Result<Vec<Signal>, String> {
    let across = |pin: &PinFaults| across(lowered, &pin.load).ok_or("no such load");
    let through = |part: &str| {
        let element = lowered.element(part).ok_or("no such part")?;
        Ok(Signal::Current(element, 0))
    };
    let volts = pins.iter().map(across);
    let amps = pins.iter().map(|pin| through(&pin.load));
    let fuses = fuses(lowered).map(through);
    let mut all: Vec<Signal> = volts
        .chain(amps)
        .chain(fuses)
        .collect::<Result<_, &str>>()?;
    if let Some(element) = added {
        let Element::Diode { anode, cathode, .. } = *lowered.circuit.element(element) else {
            return Err("no diode".to_owned());
        };
        all.push(Signal::Voltage(anode, cathode));
        all.push(Signal::Current(element, 0));
    }
    Ok(all)
}

/// Names of the fuses.
fn fuses(lowered: &Lowered) -> impl Iterator<Item = &str> {
    let parts = lowered.job.parts();
    let of_fuses = parts.filter(|part| matches!(part.kind, PartKind::Fuse(_)));
    of_fuses.map(|part| part.name.as_str())
}

/// Steps that are close enough for what is told.
fn fast() -> Options {
    Options {
        tolerance: 1e-3,
        steps: 100_000,
        cycles: CYCLES as u64,
    }
}

/// A broken circuit with its equations, and what is read of it; or why there is none.
type Broken = Result<(Lowered, System, Vec<Signal>), String>;

/// Readings of the broken circuits of some states that there are.
fn read_together(begun: &[Run<'_>], broken: &[Broken]) -> Vec<Option<Vec<Vec<f64>>>> {
    let ready = begun.iter().zip(broken).filter_map(|(run, one)| {
        let (_, system, signals) = one.as_ref().ok()?;
        let circuit: At<'_> = (system, run.solved.solution.start.as_slice());
        Some((circuit, signals.as_slice()))
    });
    let (circuits, signals): (Vec<At<'_>>, Vec<&[Signal]>) = ready.unzip();
    match signals.first() {
        Some(first) if signals.iter().all(|own| own == first) => traces(&circuits, first, &fast()),
        _ => {
            let each = circuits.iter().zip(signals);
            each.flat_map(|(circuit, signals)| traces(&[*circuit], signals, &fast()))
                .collect()
        }
    }
}

/// What a fault does to each load in each state, or why that is not known. The states go together where they are read alike.
fn consequences(
    begun: &[Run<'_>],
    fault: &Fault,
    pins: &[PinFaults],
) -> Vec<Result<Vec<Consequence>, String>> {
    let broken = |run: &Run<'_>| {
        let mut lowered = run.lowered()?;
        single_fault::make(&mut lowered, fault);
        let (system, signals) = (run.assembled(&lowered)?, signals(&lowered, pins, None)?);
        Ok((lowered, system, signals))
    };
    let broken: Vec<Broken> = begun.iter().map(broken).collect();
    let mut read = read_together(begun, &broken).into_iter();
    let outcome = |(run, broken): (&Run<'_>, &Broken)| {
        let (lowered, system, signals) = broken.as_ref().map_err(Clone::clone)?;
        let read = read.next().flatten();
        let read = run.read_or_settled(system, signals, read)?;
        let trace = Trace::of(lowered, pins.len(), read);
        Ok(run.consequence_of(fault, pins, &trace))
    };
    begun.iter().zip(&broken).map(outcome).collect()
}

impl Run<'_> {
    fn lowered(&self) -> Result<Lowered, String> {
        let step = Step::default();
        let warmth = &self.solved.solution.made_at;
        lower(self.job, self.state, &step, self.changes, warmth).map_err(|error| error.to_string())
    }

    /// What a fault that was integrated does to each load.
    fn consequence_of(&self, fault: &Fault, pins: &[PinFaults], trace: &Trace) -> Vec<Consequence> {
        let clears = self.clears(trace);
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
                settles: volts[volts.len() - TRACE..].iter().sum::<f64>() / TRACE as f64,
                joules,
                above,
                clears,
            }
        };
        pins.iter().enumerate().map(consequence).collect()
    }

    /// Integrates a circuit from the steady cycle without a fault.
    fn integrate(
        &self,
        lowered: &Lowered,
        pins: &[PinFaults],
        added: Option<ElementId>,
    ) -> Result<Trace, String> {
        let system = self.assembled(lowered)?;
        let signals = signals(lowered, pins, added)?;
        let start = self.solved.solution.start.as_slice();
        let read = traces(&[(&system, start)], &signals, &fast()).remove(0);
        let read = self.read_or_settled(&system, &signals, read)?;
        Ok(Trace::of(lowered, pins.len(), read))
    }

    /// The equations of a circuit with a fault, if what it stores is what it stored.
    fn assembled(&self, lowered: &Lowered) -> Result<System, String> {
        let system = whole(lowered).map_err(|why| why.to_string())?;
        if system.store_count() != self.solved.solution.start.len() {
            return Err("what it stores is another".to_owned());
        }
        Ok(system)
    }

    /// What was read after a fault. What breaks may make a voltage jump that no small step can follow: then that of the cycle that it settles
    /// to.
    fn read_or_settled(
        &self,
        system: &System,
        signals: &[Signal],
        read: Option<Vec<Vec<f64>>>,
    ) -> Result<Vec<Vec<f64>>, String> {
        if let Some(read) = read {
            return Ok(read);
        }
        let system = system.reduced();
        let outcome = steady_state(&system, &crate::options());
        let orbit = outcome.orbit.ok_or("it does not settle")?;
        let cycle = |signal: &Signal| {
            let probe = signal.probe(&system);
            let at = |point: usize| orbit.value(&probe, point as f64 / TRACE as f64);
            (0..TRACE).map(at).collect::<Vec<f64>>().repeat(CYCLES)
        };
        Ok(signals.iter().map(cycle).collect())
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

#[cfg(test)]
mod tests;
