//! Each regulator as a careful engineer would look at it: set point, limit against the load, start from nothing, least load,
//! output capacitor, and what stands behind it.

mod pass;

pub use pass::{InState, Pass, passes};

use crate::lower::{Step, sense_ohms};
use crate::setpoint;
use crate::solve::{Plan, Setting, Trouble, assemble, solve};
use quietrail_engine::{Options, Output, Signal, transient};
use quietrail_job::model::{Job, LoadDraw, PartKind, Regulator, Subject, What};

/// One regulator.
#[derive(Clone, Debug)]
pub struct Card {
    /// Its name.
    pub part: String,
    /// Its set point.
    pub set: setpoint::Finding,
    /// Its current limit against what hangs on it, state by state.
    pub limits: Vec<LimitCheck>,
    /// How it comes up from nothing in each state.
    pub starts: Vec<Start>,
    /// Least load, A, and what it has in the state that draws least; `None` where none is given.
    pub least: Option<Least>,
    /// Its output capacitor against the window of the data sheet.
    pub capacitor: Capacitor,
    /// Resistors that sense its current: each with its share of the power at the highest limit, W.
    pub sense: Vec<(f64, f64)>,
    /// Whether a diode from output to input is wanted.
    pub diode: Diode,
}

/// A current limit in a state.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitCheck {
    /// The state.
    pub state: String,
    /// Most that the loads on its output ask for, A.
    pub asked: f64,
    /// Lowest that the limit may be, A.
    pub limit: f64,
}

impl LimitCheck {
    /// Whether the load may ask for more than the limit gives.
    pub fn is_short(&self) -> bool {
        self.asked > self.limit
    }
}

/// A start from zero volts, at the lowest mains, parts as marked.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// The state.
    pub state: String,
    /// Seconds until it stays near its set point; `None` where it does not within what was integrated.
    pub after: Option<f64>,
    /// Mean over the last cycle, V.
    pub ends: f64,
    /// Share by which it still rises over the last tenth.
    pub rises: f64,
}

/// Least load.
#[derive(Clone, Debug, PartialEq)]
pub struct Least {
    /// At which it regulates for sure, A.
    pub needs: f64,
    /// What divider, bleeders and loads draw in the state that draws least, A.
    pub has: f64,
    /// Bleeder that would make it up, Ω.
    pub bleeder: Option<f64>,
}

/// An output capacitor against its window.
#[derive(Clone, Debug, PartialEq)]
pub enum Capacitor {
    /// The data sheet's window is not in the job.
    NoWindow,
    /// None is drawn from output to return.
    NoneDrawn,
    /// It is inside one window over its whole tolerance.
    Inside,
    /// It is outside, or may be.
    Outside {
        /// Lowest capacitance of all side by side, F.
        farads: f64,
        /// Range of the series resistance, Ω.
        esr: (f64, f64),
        /// Least capacitance of the nearest window, F.
        least: f64,
        /// Range of its series resistance, Ω.
        window: Option<(f64, f64)>,
        /// Series resistance to add, Ω, where that would do.
        add: Option<f64>,
    },
}

/// A diode from output to input, for when the input is shorted or falls first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Diode {
    /// Capacitance at the output, F.
    pub farads: f64,
    /// Energy in it at the set point, J.
    pub joules: f64,
    /// Whether common practice asks for it.
    pub wanted: bool,
}

/// Output capacitance above which a discharge backwards through a regulator is caught by a diode, F (common practice,
/// no source: 20 µF and more at a few volts).
const CATCH: f64 = 20e-6;
/// Mains cycles of a start that are integrated.
const CYCLES: f64 = 60.0;
/// Points per cycle at which a start is read.
const POINTS: f64 = 20.0;
/// Distance from the set point within which it has started, as a share.
const NEAR: f64 = 0.05;

/// The card of each regulator.
///
/// # Errors
/// Why not even the first circuit could be made.
pub fn cards(job: &Job, options: &Options) -> Result<Vec<Card>, Trouble> {
    let mut all = Vec::new();
    for part in &job.parts {
        let PartKind::Regulator(regulator) = &part.kind else {
            continue;
        };
        all.push(Card {
            part: part.name.clone(),
            set: setpoint::of(regulator, wanted(job, regulator)),
            limits: limits(job, regulator),
            starts: starts(job, regulator, options)?,
            least: least(job, regulator),
            capacitor: capacitor(job, regulator),
            sense: sense(regulator),
            diode: diode(job, regulator),
        });
    }
    Ok(all)
}

/// Middle of the window that limits ask of its output, if they ask for both ends.
fn wanted(job: &Job, regulator: &Regulator) -> Option<f64> {
    let of_output = job.limits.iter().filter(|limit| {
        let at = match &limit.of {
            Subject::Node(node) => node,
            Subject::Pair(plus, _) => plus,
            Subject::Part(_) => return false,
        };
        *at == regulator.into && matches!(limit.what, What::Mean | What::Valley | What::Peak)
    });
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for limit in of_output {
        low = low.max(limit.min.unwrap_or(f64::NEG_INFINITY));
        high = high.min(limit.max.unwrap_or(f64::INFINITY));
    }
    (low.is_finite() && high.is_finite()).then_some(0.5 * (low + high))
}

/// Currents of loads and bleeders on an output in a state: lowest and highest, A.
fn drawn(job: &Job, regulator: &Regulator, state: usize) -> (f64, f64) {
    let volts = regulator.set.volts();
    let nodes = behind(job, regulator);
    let (mut low, mut high) = (0.0, 0.0);
    for part in &job.parts {
        let Some(share) = part.kind.between().and_then(|between| {
            let at = |node: &String| nodes.iter().find(|(name, _)| name == node);
            at(&between.plus).or_else(|| at(&between.minus))
        }) else {
            continue;
        };
        let share = share.1;
        match &part.kind {
            PartKind::Load(load) => {
                let (least, most) = match &load.draws[state] {
                    LoadDraw::Current(amps) => (amps.value.low, amps.value.high),
                    LoadDraw::Resistance(ohms) => (volts / ohms.value.high, volts / ohms.value.low),
                    LoadDraw::Power(watts) => (watts.value.low / volts, watts.value.high / volts),
                };
                low += share * least;
                high += share * most;
            }
            PartKind::Resistor(resistor) => {
                let to_return = part.kind.between().is_some_and(|between| {
                    between.plus == regulator.ret || between.minus == regulator.ret
                });
                if to_return {
                    low += share * volts / resistor.value.value.high;
                    high += share * volts / resistor.value.value.low;
                }
            }
            _ => {}
        }
    }
    (low, high)
}

/// Nodes that a regulator's output feeds through leads, resistors, chokes and fuses, with the share of their current that it
/// gives itself: behind a transistor that it drives, one over the lowest gain and one.
fn behind(job: &Job, regulator: &Regulator) -> Vec<(String, f64)> {
    let mut nodes = vec![(regulator.into.clone(), 1.0)];
    let mut next = 0;
    while next < nodes.len() {
        let (here, share) = nodes[next].clone();
        next += 1;
        for part in &job.parts {
            let (there, share) = match &part.kind {
                PartKind::Wire(_)
                | PartKind::Resistor(_)
                | PartKind::Inductor(_)
                | PartKind::Fuse(_) => {
                    let Some(between) = part.kind.between() else {
                        continue;
                    };
                    if between.plus == here {
                        (between.minus.clone(), share)
                    } else if between.minus == here {
                        (between.plus.clone(), share)
                    } else {
                        continue;
                    }
                }
                PartKind::Transistor(transistor) if transistor.base == here => {
                    let gain = transistor.gain.value.low;
                    (transistor.emitter.clone(), share / (gain + 1.0))
                }
                _ => continue,
            };
            let is_end = there == regulator.ret || there == regulator.from || there == "common";
            if !is_end && nodes.iter().all(|(known, _)| *known != there) {
                nodes.push((there, share));
            }
        }
    }
    nodes
}

fn limits(job: &Job, regulator: &Regulator) -> Vec<LimitCheck> {
    (0..job.states.len())
        .map(|state| LimitCheck {
            state: job.states[state].name.clone(),
            asked: drawn(job, regulator, state).1,
            limit: regulator.limit.value.low,
        })
        .collect()
}

fn least(job: &Job, regulator: &Regulator) -> Option<Least> {
    let needs = regulator.minimum_load.value.high;
    if needs <= 0.0 {
        return None;
    }
    let loads = (0..job.states.len())
        .map(|state| drawn(job, regulator, state).0)
        .fold(f64::INFINITY, f64::min);
    let has = loads + setpoint::of(regulator, None).divider.unwrap_or(0.0);
    let bleeder = (has < needs).then(|| regulator.set.volts() / (needs - has));
    Some(Least {
        needs,
        has,
        bleeder,
    })
}

/// Capacitors from output to return: lowest sum, and the ends of their series resistance side by side.
fn at_output(job: &Job, regulator: &Regulator) -> Option<(f64, f64, (f64, f64))> {
    let (mut low, mut nominal) = (0.0, 0.0);
    let mut siemens = (0.0, 0.0);
    for part in &job.parts {
        let PartKind::Capacitor(capacitor) = &part.kind else {
            continue;
        };
        let ends = [&capacitor.between.plus, &capacitor.between.minus];
        if ends.contains(&&regulator.into) && ends.contains(&&regulator.ret) {
            low += capacitor.value.value.low;
            nominal += capacitor.value.nominal();
            siemens.0 += 1.0 / capacitor.esr.value.low.max(1e-6);
            siemens.1 += 1.0 / capacitor.esr.value.high.max(1e-6);
        }
    }
    (nominal > 0.0).then(|| (low, nominal, (1.0 / siemens.0, 1.0 / siemens.1)))
}

/// The output capacitor of a regulator against the windows of its data sheet.
pub fn capacitor(job: &Job, regulator: &Regulator) -> Capacitor {
    if regulator.stable_with.is_empty() {
        return Capacitor::NoWindow;
    }
    let Some((farads, _, esr)) = at_output(job, regulator) else {
        return Capacitor::NoneDrawn;
    };
    let mut nearest = None;
    for (least, window) in &regulator.stable_with {
        let least = least.nominal();
        let window = window
            .as_ref()
            .map(|ohms| (ohms.value.low, ohms.value.high));
        let is_large = farads >= least;
        let fits = window.is_none_or(|(low, high)| esr.0 >= low && esr.1 <= high);
        if is_large && fits {
            return Capacitor::Inside;
        }
        // A resistor in series brings the low end up; the high end must still fit.
        let add = window
            .map(|(low, high)| (low - esr.0, high - esr.1))
            .filter(|(needs, room)| is_large && *needs > 0.0 && needs <= room)
            .map(|(needs, _)| needs);
        let found = Capacitor::Outside {
            farads,
            esr,
            least,
            window,
            add,
        };
        if nearest.is_none() || add.is_some() {
            nearest = Some(found);
        }
    }
    nearest.unwrap_or(Capacitor::NoWindow)
}

/// Frequency above which a capacitor is a resistance, Hz: the zero of its series resistance.
pub fn esr_zero(farads: f64, ohms: f64) -> f64 {
    1.0 / (2.0 * std::f64::consts::PI * farads * ohms)
}

/// Each resistor with its power where the limit acts at its highest.
fn sense(regulator: &Regulator) -> Vec<(f64, f64)> {
    let volts = regulator.limit.value.high * sense_ohms(regulator);
    regulator
        .limit_resistors
        .iter()
        .map(|one| (one.nominal(), volts * volts / one.nominal()))
        .collect()
}

fn diode(job: &Job, regulator: &Regulator) -> Diode {
    let farads = at_output(job, regulator).map_or(0.0, |(_, nominal, _)| nominal);
    let volts = regulator.set.volts();
    Diode {
        farads,
        joules: 0.5 * farads * volts * volts,
        wanted: farads > CATCH,
    }
}

fn starts(job: &Job, regulator: &Regulator, options: &Options) -> Result<Vec<Start>, Trouble> {
    use quietrail_job::{Address, Change};
    let step = Step::default();
    let changes = [Change::Set {
        address: Address("mains.voltage".to_owned()),
        value: job.mains.voltage.value.low,
    }];
    let mut all = Vec::new();
    for (state, declared) in job.states.iter().enumerate() {
        let setting = Setting {
            job,
            state,
            step: &step,
            options,
        };
        let warmth = crate::heat::Temperatures::at_rest(job);
        let lowered =
            crate::lower::lower(job, state, &step, &changes, &warmth).map_err(Trouble::Change)?;
        let (Some(plus), Some(minus)) =
            (lowered.node(&regulator.into), lowered.node(&regulator.ret))
        else {
            continue;
        };
        let signal = Signal::Voltage(plus, minus);
        let mut table = crate::reading::OutputTable::of(&lowered);
        table.add(Output::Mean(signal.clone()));
        let settled = solve(&Plan::reading(table.clone()), setting, &changes, None)
            .ok()
            .map(|solved| {
                table
                    .with(&solved.solution.values)
                    .get(&Output::Mean(signal.clone()))
            });
        let system = assemble(&lowered)?;
        let rest = vec![0.0; system.store_count()];
        let options = Options {
            tolerance: 1e-3,
            ..Options::default()
        };
        let Ok(run) = transient(&system, &rest, 0.0, CYCLES, &options) else {
            continue;
        };
        let probe = signal.probe(&system);
        let count = (CYCLES * POINTS) as usize;
        let volts: Vec<f64> = (0..count)
            .map(|k| run.value(&probe, k as f64 / POINTS))
            .collect();
        let mean =
            |from: usize, to: usize| volts[from..to].iter().sum::<f64>() / (to - from) as f64;
        let cycle = POINTS as usize;
        let ends = mean(count - cycle, count);
        let before = mean(count - count / 10 - cycle, count - count / 10);
        // The set point is what counts; what it settles to may already be latched.
        let target = regulator.set.volts();
        let off = (0..count)
            .rev()
            .find(|&k| (volts[k] - target).abs() > NEAR * target);
        let hertz = job.mains.frequency.nominal();
        let after = match off {
            Some(last) if last + cycle >= count => None,
            Some(last) => Some((last + 1) as f64 / POINTS / hertz),
            None => Some(0.0),
        };
        let reached = settled.is_none_or(|mean| (mean - target).abs() < 2.0 * NEAR * target);
        all.push(Start {
            state: declared.name.clone(),
            after: after.filter(|_| reached),
            ends,
            rises: if ends.abs() > 0.0 {
                (ends - before) / ends
            } else {
                0.0
            },
        });
    }
    Ok(all)
}
