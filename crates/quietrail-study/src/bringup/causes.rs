//! What could be wrong where readings of a step do not fit.
//!
//! Each single fault is put into the circuit of the step, parts as marked and as warm as without it, and what every point
//! would then read is held against what was read there. A cause has to explain the readings that fit too.

use super::derive::{Planned, Point};
use super::expect::{at_mains, plan_of};
use super::{Expectation, Observed, Reading, Step, lowered_step};
use crate::heat::Temperatures;
use crate::lower::{Lowered, Step as Connected, lower};
use crate::question::{Ask, Question};
use crate::single_fault::{Fault, every_fault, make};
use crate::solve::{Plan, Setting, Solved, Trouble, answers, as_it_stands, solve};
use quietrail_engine::{Element, Options};
use quietrail_job::model::{Band, Job, PartKind, What};
use rayon::prelude::*;

/// What single causes would make of a step's readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Causes {
    /// Name of the step.
    pub step: String,
    /// The readings that causes were held against: those at the mains of the last that does not fit.
    pub evidence: Vec<Evidence>,
    /// That mains, V; `None` where it was not read, so that any of the range may have been there.
    pub mains: Option<f64>,
    /// Causes that explain all of them, the best first.
    pub fitting: Vec<Cause>,
    /// Where none does, those that come nearest.
    pub nearest: Vec<Cause>,
    /// How many were tried.
    pub tried: usize,
    /// For how many of these no steady cycle was found.
    pub unsolved: usize,
    /// What to read next.
    pub next: Option<Next>,
    /// A ripple whose frequency tells some of the fitting causes from others.
    pub hum: Option<Hum>,
}

/// A ripple that is at another frequency with one cause than with another.
#[derive(Clone, Debug, PartialEq)]
pub struct Hum {
    /// The point.
    pub of: String,
    /// Its frequency with each of the fitting causes, in their order, Hz.
    pub hertz: Vec<Option<f64>>,
}

/// A reading that a cause has to explain.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// The point.
    pub of: String,
    /// What was read there.
    pub what: Observed,
    /// Unit symbol.
    pub unit: &'static str,
    /// Value, SI.
    pub value: f64,
    /// Whether it is outside its band.
    pub is_outside: bool,
}

/// A single cause.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// What would be wrong.
    pub suspect: Suspect,
    /// What each reading would be, in the order of the evidence; `None` where that has no value.
    pub reads: Vec<Option<f64>>,
    /// Largest distance from what was read, as a share of what tolerances and the meter allow.
    pub off: f64,
}

/// What may be wrong.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Suspect {
    /// A part is open or short, or part of it.
    Fault(Fault),
    /// An electrolytic has so many hundredths left of its capacitance.
    Dried {
        /// The capacitor.
        part: String,
        /// Hundredths.
        left: u32,
    },
    /// A dummy load is not connected: its ends.
    NoDummy(String, String),
}

/// A point at which causes that explain everything read so far would read differently.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// The point.
    pub of: String,
    /// What to read.
    pub what: Observed,
    /// Unit symbol.
    pub unit: &'static str,
    /// What each of the fitting causes would read there, in their order.
    pub reads: Vec<Option<f64>>,
}

/// What an electrolytic that dried out has left, in hundredths (common practice, no source: half counts as worn out).
const LEFT: [u32; 3] = [50, 20, 5];
/// Causes that are named where none explains everything.
const NEAREST: usize = 3;
/// Share of a reading that a fault's own figures are off by at least: temperatures, and what an open or a short really is.
const ROUGH: f64 = 0.02;
/// A fault may widen the band of a healthy build in proportion to what it makes of the value; within these ends.
const WIDENS: (f64, f64) = (0.2, 3.0);

/// Looks for single causes of what was read in a step; `None` where nothing in it is outside its band, or nothing of that can be
/// computed.
///
/// # Errors
/// Why the step itself could not be solved.
pub fn causes(
    job: &Job,
    planned: &Planned,
    step: &Step,
    mains_of: impl Fn(u64) -> Option<f64>,
    options: &Options,
) -> Result<Option<Causes>, Trouble> {
    let Some(last_outside) = outside(step).max_by_key(|reading| reading.row) else {
        return Ok(None);
    };
    if !planned.kind.is_powered() {
        return Ok(None);
    }
    let mains = mains_of(last_outside.row);
    let is_of_it = |reading: &&Reading| mains_of(reading.row) == mains;
    let read: Vec<(usize, &Expectation, &Reading)> = step
        .expect
        .iter()
        .enumerate()
        .filter(|(_, one)| is_told_by_faults(one.what))
        .filter_map(|(index, one)| Some((index, one, latest(one, is_of_it)?)))
        .filter(|(_, one, reading)| one.nominal.is_some() && !reading.is_more_than)
        .collect();
    if !read.iter().any(|(.., reading)| reading.fit.is_outside()) {
        return Ok(None);
    }
    let job = at_mains(job, planned, mains);
    let bench = Bench::of(&job, planned, options)?;
    let all = suspects(&job, planned);
    let values: Vec<Option<Reads>> = all.par_iter().map(|suspect| bench.reads(suspect)).collect();
    let mut unsolved = 0;
    let mut found = Vec::new();
    for (suspect, values) in all.iter().zip(values) {
        let Some(values) = values else {
            unsolved += 1;
            continue;
        };
        let off = read.iter().map(|(index, one, reading)| {
            let value = values.points[*index]?;
            let allowed = allowed(one, reading, value);
            Some((value - reading.value).abs() / allowed)
        });
        let off: Option<Vec<f64>> = off.collect();
        let off = off.map_or(f64::INFINITY, |all| all.into_iter().fold(0.0, f64::max));
        found.push((suspect.clone(), values, off));
    }
    found.sort_by(|a, b| a.2.total_cmp(&b.2));
    let (fitting, others): (Vec<_>, Vec<_>) = found.into_iter().partition(|one| one.2 <= 1.0);
    let next = next(step, &read, &fitting);
    let cause = |(suspect, values, off): &Held| Cause {
        suspect: suspect.clone(),
        reads: read
            .iter()
            .map(|(index, ..)| values.points[*index])
            .collect(),
        off: *off,
    };
    let is_near = |one: &&Held| one.2.is_finite();
    let nearest = others.iter().filter(is_near).take(NEAREST).map(cause);
    Ok(Some(Causes {
        step: step.name.clone(),
        mains,
        nearest: if fitting.is_empty() {
            nearest.collect()
        } else {
            Vec::new()
        },
        fitting: fitting.iter().map(cause).collect(),
        evidence: read
            .iter()
            .map(|(_, one, reading)| evidence(one, reading))
            .collect(),
        tried: all.len(),
        unsolved,
        next,
        hum: hum(&bench, &fitting),
    }))
}

/// What a cause makes of the points of a step, and of the frequency of each ripple among them.
#[derive(Clone, Debug)]
struct Reads {
    points: Vec<Option<f64>>,
    hertz: Vec<Option<f64>>,
}

/// A cause with what it makes of the step, and its distance from what was read.
type Held = (Suspect, Reads, f64);

/// The first ripple whose frequency differs from one cause to another.
fn hum(bench: &Bench<'_>, fitting: &[Held]) -> Option<Hum> {
    let at = (0..bench.ripples.len()).find(|&at| {
        let mut told = fitting.iter().filter_map(|cause| cause.1.hertz[at]);
        let first = told.next();
        told.any(|other| Some(other) != first)
    })?;
    Some(Hum {
        of: bench.ripples[at].clone(),
        hertz: fitting.iter().map(|cause| cause.1.hertz[at]).collect(),
    })
}

/// Readings of a step that do not fit, in the order of its points.
fn outside(step: &Step) -> impl Iterator<Item = &Reading> {
    let told = step.expect.iter().filter(|one| is_told_by_faults(one.what));
    let last = told.filter_map(|one| latest(one, |_| true));
    last.filter(|reading| reading.fit.is_outside())
}

/// The latest reading of a point that a cause has to explain, also one that was taken while the step was locked.
fn latest(one: &Expectation, counts: impl Fn(&&Reading) -> bool) -> Option<&Reading> {
    one.readings.iter().rev().find(counts)
}

/// Whether the circuit with a fault tells it: temperatures are taken as without one, and noise is not worked out.
pub fn is_told_by_faults(what: Observed) -> bool {
    match what {
        Observed::Statistic(what) => !matches!(what, What::Temperature | What::Noise),
        what => what == Observed::RmsVoltage,
    }
}

fn evidence(one: &Expectation, reading: &Reading) -> Evidence {
    Evidence {
        of: one.of.clone(),
        what: one.what,
        unit: one.unit,
        value: reading.value,
        is_outside: reading.fit.is_outside(),
    }
}

/// How far a reading may be from what a cause makes of it: as far as tolerances make a healthy build's, in proportion, and what
/// the meter errs by.
fn allowed(one: &Expectation, reading: &Reading, value: f64) -> f64 {
    let (low, high) = reading.band.unwrap_or((one.low, one.high));
    band_around(one, (low, high), value) + reading.error.unwrap_or(0.0)
}

fn band_around(one: &Expectation, (low, high): (Option<f64>, Option<f64>), value: f64) -> f64 {
    let nominal = one.nominal.unwrap_or(0.0);
    let spread = [low, high].into_iter().flatten();
    let spread = spread.fold(0.0, |most: f64, end| most.max((end - nominal).abs()));
    let share = (value / nominal).abs();
    let by = if share.is_finite() { share } else { 1.0 };
    spread * by.clamp(WIDENS.0, WIDENS.1) + ROUGH * value.abs().max(nominal.abs())
}

/// The point at which most pairs of causes come to differ, one that was not read yet before others.
fn next(step: &Step, read: &[(usize, &Expectation, &Reading)], fitting: &[Held]) -> Option<Next> {
    let told = |index: usize, one: &Expectation| -> usize {
        let ends = (one.low, one.high);
        let of = |cause: &Held| {
            let value = cause.1.points[index]?;
            Some((value, band_around(one, ends, value)))
        };
        let all: Vec<Option<(f64, f64)>> = fitting.iter().map(of).collect();
        let pairs = (0..all.len()).flat_map(|a| (0..a).map(move |b| (a, b)));
        let differ = pairs.filter(|&(a, b)| match (all[a], all[b]) {
            (Some((a, a_by)), Some((b, b_by))) => (a - b).abs() > a_by + b_by,
            _ => false,
        });
        differ.count()
    };
    let is_read = |index: usize| read.iter().any(|(known, ..)| *known == index);
    let open = step.expect.iter().enumerate().filter(|(index, one)| {
        is_told_by_faults(one.what) && one.nominal.is_some() && !is_read(*index)
    });
    let (count, index, one) = open
        .map(|(index, one)| (told(index, one), index, one))
        .max_by(|a, b| a.0.cmp(&b.0).then(b.1.cmp(&a.1)))?;
    (count > 0).then(|| Next {
        of: one.of.clone(),
        what: one.what,
        unit: one.unit,
        reads: fitting.iter().map(|cause| cause.1.points[index]).collect(),
    })
}

/// All that may be wrong by itself with what is connected in a step.
fn suspects(job: &Job, planned: &Planned) -> Vec<Suspect> {
    let is_in = |part: &str| {
        let has = |all: &[String]| all.iter().any(|own| own == part);
        !has(&planned.out) && !has(&planned.short)
    };
    let faults = every_fault(job)
        .into_iter()
        .filter(|fault| is_in(&fault.part));
    let dries = job
        .parts
        .iter()
        .filter(|part| matches!(&part.kind, PartKind::Capacitor(_)) && is_in(&part.name));
    let dried = dries.flat_map(|part| {
        LEFT.map(|left| Suspect::Dried {
            part: part.name.clone(),
            left,
        })
    });
    let dummies = planned.dummies.iter();
    let without = dummies.map(|dummy| Suspect::NoDummy(dummy.plus.clone(), dummy.minus.clone()));
    faults
        .map(Suspect::Fault)
        .chain(dried)
        .chain(without)
        .collect()
}

/// The circuit of a step without a fault, solved.
struct Bench<'a> {
    job: &'a Job,
    state: usize,
    connected: Connected,
    plan: Plan,
    options: &'a Options,
    healthy: Solved,
    /// Points that are asked for their ripple.
    ripples: Vec<String>,
}

impl<'a> Bench<'a> {
    fn of(job: &'a Job, planned: &Planned, options: &'a Options) -> Result<Self, Trouble> {
        let state = planned.state.unwrap_or(0);
        let connected = lowered_step(planned);
        let points: &[Point] = &planned.points;
        let mut plan = plan_of(job, state, &connected, points)?;
        let ripples = ask_for_hum(&mut plan, job, state, &connected)?;
        let setting = Setting {
            job,
            state,
            step: &connected,
            options,
        };
        let healthy = solve(&plan, setting, &[], None)?;
        Ok(Self {
            job,
            state,
            plan,
            options,
            healthy,
            connected,
            ripples,
        })
    }

    /// What each point of the step would read; `None` where no steady cycle is found.
    fn reads(&self, suspect: &Suspect) -> Option<Reads> {
        let connected = self.without(suspect);
        let mut lowered = self.lowered(&connected).ok()?;
        match suspect {
            Suspect::Fault(fault) => make(&mut lowered, fault),
            Suspect::Dried { part, left } => dry(&mut lowered, part, f64::from(*left) / 100.0),
            Suspect::NoDummy(..) => {}
        }
        let setting = Setting {
            job: self.job,
            state: self.state,
            step: &connected,
            options: self.options,
        };
        let solved = as_it_stands(&self.plan, setting, lowered, &self.healthy.solution).ok()?;
        let values = answers(&self.plan, &solved).into_iter();
        let mut points: Vec<Option<f64>> = values
            .map(|value| value.ok().filter(|value| value.is_finite()))
            .collect();
        let hums = points.split_off(points.len() - 2 * self.ripples.len());
        let mains = self.job.mains.frequency.nominal();
        let hertz = hums.chunks_exact(2).map(|pair| {
            let (once, twice) = (pair[0]?, pair[1]?);
            Some(if once > twice { mains } else { 2.0 * mains })
        });
        Some(Reads {
            hertz: hertz.collect(),
            points,
        })
    }

    fn lowered(&self, connected: &Connected) -> Result<Lowered, Trouble> {
        let warmth = &self.healthy.solution.made_at;
        lower(self.job, self.state, connected, &[], warmth).map_err(Trouble::Change)
    }

    /// What is connected, but for a dummy that is not.
    fn without(&self, suspect: &Suspect) -> Connected {
        let mut connected = self.connected.clone();
        if let Suspect::NoDummy(plus, minus) = suspect {
            // Its place stays in the circuit, so that names and points stay what they are.
            let own = connected.dummy.iter_mut();
            for dummy in own.filter(|dummy| dummy.plus == *plus && dummy.minus == *minus) {
                dummy.ohms = NOT_CONNECTED;
            }
        }
        connected
    }
}

/// Asks of each ripple what of it is at the mains frequency, and what at twice that; the points that are asked.
fn ask_for_hum(
    plan: &mut Plan,
    job: &Job,
    state: usize,
    connected: &Connected,
) -> Result<Vec<String>, Trouble> {
    let at_rest = Temperatures::at_rest(job);
    let lowered = lower(job, state, connected, &[], &at_rest).map_err(Trouble::Change)?;
    let mains = job.mains.frequency.nominal();
    let mut asked = Vec::new();
    let mut ripples = Vec::new();
    for question in &plan.questions {
        if let Ask::PeakToPeak(signal) = &question.ask {
            ripples.push(question.name.clone());
            asked.extend([1.0, 2.0].map(|order| {
                let (low, high) = ((order - 0.5) * mains, (order + 0.5) * mains);
                Question {
                    ask: Ask::InBand(signal.clone(), Band::BrickWall { low, high }),
                    ..question.clone()
                }
            }));
        }
    }
    for question in asked {
        question.register(&lowered, &mut plan.table);
        plan.questions.push(question);
    }
    Ok(ripples)
}

/// What stands for a dummy that is not connected, Ω.
const NOT_CONNECTED: f64 = 1e8;

/// Leaves a capacitor a share of what it has.
fn dry(lowered: &mut Lowered, part: &str, left: f64) {
    let own = lowered
        .parts
        .get(part)
        .and_then(|elements| elements.own.first());
    if let Some(&element) = own
        && let Element::Capacitor { farads, esr, .. } = lowered.circuit.element_mut(element)
    {
        *farads *= left;
        *esr /= left;
    }
}
