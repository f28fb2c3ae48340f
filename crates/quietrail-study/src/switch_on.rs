//! What fuse, diodes and reservoir see in the first cycles and in a fault, through the circuit of the job.
//!
//! 1. The first cycle: peak and I²t by where in the cycle it is switched on, and by what charge is left;
//! 2. what the primary and each secondary carry, and the fuse link that follows from both;
//! 3. faults: what flows, and which links clear it in what time;
//! 4. how long reservoirs keep their charge.

mod charge;
pub mod discharge;
mod faults;
pub mod fuse;

use crate::heat::Temperatures;
use crate::lower::{Lowered, OUTLET, Step, lower};
use crate::solve::{Setting, Trouble, figures};
use discharge::Discharge;
use fuse::{Choice, Clears, Sheet};
use quietrail_engine::{ElementId, Options, Output, Probe, Signal, System, Transient, transient};
use quietrail_job::model::{Job, LoadDraw, Part, PartKind, Rectifier, RectifierForm, Transformer};
use quietrail_job::{Address, Change};
use std::f64::consts::SQRT_2;

/// Switch-on angles that are tried, degrees of the mains cycle from its rising zero.
pub const ANGLES: [f64; 7] = [0.0, 30.0, 45.0, 60.0, 90.0, 120.0, 150.0];
/// Charge left in the reservoir at switching on, as shares of its crest.
pub const CHARGES: [f64; 3] = [0.0, 0.5, 0.9];
/// Resistance of a short, Ω.
const SHORT: f64 = 1e-3;
/// Peak from which a single diode conducts in the first cycle, A: what blocks passes microamperes.
const CONDUCTS: f64 = 1e-3;
/// Intervals of a cycle in which I²t and rms are summed.
const INTERVALS: usize = 4000;

/// What happens at switching on, and in faults.
#[derive(Clone, Debug)]
pub struct SwitchOn {
    /// The state in which it is switched on: the heaviest.
    pub state: String,
    /// Mains at switching on, its highest, V.
    pub mains: f64,
    /// First cycles of each rectifier.
    pub first: Vec<FirstCycle>,
    /// Worst first cycle against the surge rating of each rectifier's diodes.
    pub surges: Vec<Surge>,
    /// What core inrush can at most come to: V over copper for half a cycle. No figure below it is shown.
    pub core: Option<CoreBound>,
    /// What each place carries, and the link for it.
    pub places: Vec<Place>,
    /// Faults.
    pub faults: Vec<Fault>,
    /// Reservoirs after switching off.
    pub discharges: Vec<Discharge>,
}

/// One first cycle.
#[derive(Clone, Debug, PartialEq)]
pub struct FirstCycle {
    /// The rectifier.
    pub part: String,
    /// Switch-on angle, degrees.
    pub angle: f64,
    /// Charge left, share of the crest.
    pub charge: f64,
    /// Highest current into the reservoir, A.
    pub peak: f64,
    /// ∫i² dt over the first cycle, A²s.
    pub i2t: f64,
    /// ∫i² dt on the primary, A²s, core inrush not in it.
    pub primary_i2t: f64,
}

/// A rectifier's worst first cycle against its rating.
#[derive(Clone, Debug, PartialEq)]
pub struct Surge {
    /// The rectifier.
    pub part: String,
    /// Highest current found, A, and the angle.
    pub peak: f64,
    /// Angle, degrees.
    pub angle: f64,
    /// Most I²t of any first cycle tried, A²s.
    pub i2t: f64,
    /// Rated surge, A, and the half sine's length, s.
    pub rated: Option<(f64, f64)>,
    /// I²t of that half sine, A²s.
    pub rated_i2t: Option<f64>,
}

impl Surge {
    /// Whether both the peak and the I²t of the worst cycle stay within what it is rated for; `None` where nothing is rated.
    pub fn holds(&self) -> Option<bool> {
        let (amps, _) = self.rated?;
        Some(self.peak <= amps && self.rated_i2t.is_none_or(|rated| self.i2t <= rated))
    }
}

/// An upper bound of the core's inrush.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoreBound {
    /// How many transformers there are.
    pub cores: usize,
    /// Crest of the mains over the copper of their primaries, A.
    pub peak: f64,
    /// That for half a cycle, A²s.
    pub i2t: f64,
}

/// A place for a fuse.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// `primary`, or the winding or join.
    pub name: String,
    /// True rms, worst over states and mains, magnetising current in it, A.
    pub rms: f64,
    /// State of that.
    pub state: String,
    /// Highest current of its steady cycle, magnetising current in it, A.
    pub peak: f64,
    /// I²t of the worst first cycle there, A²s.
    pub pulse: f64,
    /// The link.
    pub choice: Option<Choice>,
    /// A fuse that the job has there: name and rated current.
    pub fitted: Option<(String, f64)>,
}

/// A fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// What is shorted.
    pub what: Shorted,
    /// Which rectifier or winding.
    pub of: String,
    /// The ends of the reservoir, where a rectifier fills several.
    pub between: Option<(String, String)>,
    /// rms on the primary and in the winding, A; absent where it could not be computed.
    pub amps: Option<(f64, f64)>,
    /// What links do: the place, its rated current, sheet, and when it clears.
    pub clears: Vec<(String, f64, Sheet, Clears)>,
}

/// What is shorted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shorted {
    /// A winding or join, end to end.
    Winding,
    /// One diode of a rectifier.
    Diode,
    /// The reservoir.
    Reservoir,
    /// Half of a winding with a centre.
    HalfWinding,
}

/// Why nothing can be said.
#[derive(Clone, Debug, PartialEq)]
pub enum NoSwitchOn {
    /// The job has no rectifier on a transformer.
    NoRectifier,
    /// The circuit cannot be made or solved.
    Trouble(Trouble),
}

/// A rectifier on a transformer.
struct Fed<'a> {
    name: &'a str,
    part: &'a Rectifier,
    transformer: &'a Transformer,
    transformer_name: &'a str,
    /// Winding or join, without the transformer's name.
    winding: &'a str,
}

impl Fed<'_> {
    /// The ends of what it charges, upper end first: of a split rectifier the reservoir above the return and the one below it, of a
    /// doubler its two halves.
    fn reservoirs(&self) -> Vec<(&str, &str)> {
        let (into, ret) = (self.part.into.as_str(), self.part.ret.as_str());
        match &self.part.form {
            RectifierForm::Split { negative } => vec![(into, ret), (ret, negative)],
            RectifierForm::Doubler { middle } => vec![(into, middle), (middle, ret)],
            RectifierForm::Bridge
            | RectifierForm::CentreTap
            | RectifierForm::HalfWave
            | RectifierForm::CascadeDoubler { .. } => vec![(into, ret)],
        }
    }
}

/// Looks at a job.
///
/// # Errors
/// [`NoSwitchOn`].
pub fn switch_on(job: &Job, options: &Options) -> Result<SwitchOn, NoSwitchOn> {
    let fed = fed(job);
    let state = heaviest(job);
    let mains = job.mains.voltage.value.high;
    let high = set_mains(mains);
    let lowered = lower(
        job,
        state,
        &Step::default(),
        &high,
        &Temperatures::at_rest(job),
    )
    .map_err(|error| NoSwitchOn::Trouble(Trouble::Change(error)))?;
    let held = charge::held(job, &high, options).map_err(NoSwitchOn::Trouble)?;
    let discharges = discharge::of(job, &held);
    if fed.is_empty() && discharges.is_empty() {
        return Err(NoSwitchOn::NoRectifier);
    }
    let charges = charge::behind_rectifiers(job, &held);
    let surging = surging(job, &lowered);
    let first = first_cycles(&lowered, &surging, &charges, options);
    let surges = surging
        .iter()
        .filter_map(|one| surge(one, &first))
        .collect();
    let core = core_bound(job, mains);
    let places = places(job, &fed, &first, options)?;
    let faults = faults::faults(&lowered, &fed, &places, options);
    Ok(SwitchOn {
        state: job.states[state].name.clone(),
        mains,
        first,
        surges,
        core,
        places,
        faults,
        discharges,
    })
}

fn set_mains(value: f64) -> Vec<Change> {
    vec![Change::Set {
        address: Address("mains.voltage".to_owned()),
        value,
    }]
}

fn fed(job: &Job) -> Vec<Fed<'_>> {
    job.parts
        .iter()
        .filter_map(|part| {
            let PartKind::Rectifier(rectifier) = &part.kind else {
                return None;
            };
            let (transformer_name, winding) = rectifier.from.split_once('.')?;
            let PartKind::Transformer(transformer) = &job.part(transformer_name)?.kind else {
                return None;
            };
            Some(Fed {
                name: &part.name,
                part: rectifier,
                transformer,
                transformer_name,
                winding,
            })
        })
        .collect()
}

/// The state in which the loads draw most; powers and resistances at a volt stand behind currents.
fn heaviest(job: &Job) -> usize {
    let weight = |state: usize| -> f64 {
        job.parts
            .iter()
            .filter_map(|part| match &part.kind {
                PartKind::Load(load) => Some(match &load.draws[state] {
                    LoadDraw::Current(amps) => amps.value.high,
                    LoadDraw::Resistance(ohms) => 10.0 / ohms.value.low.max(1e-3),
                    LoadDraw::Power(watts) => watts.value.high / 10.0,
                }),
                _ => None,
            })
            .sum()
    };
    (0..job.states.len())
        .max_by(|a, b| weight(*a).total_cmp(&weight(*b)))
        .unwrap_or(0)
}

/// A rectifier or a single diode that may be driven hard in the first cycle.
struct Surging<'a> {
    name: &'a str,
    surge: Option<(f64, f64)>,
    /// Its currents into what it charges.
    into: Vec<Signal>,
    /// Least peak that it must have to be told of, A.
    from: f64,
}

fn surging<'a>(job: &'a Job, lowered: &Lowered) -> Vec<Surging<'a>> {
    let one = |part: &'a Part| {
        let (rated, into, from) = match &part.kind {
            PartKind::Rectifier(own) => {
                (&own.rated, into_reservoirs(lowered, (&part.name, own)), 0.0)
            }
            PartKind::Diode(own) => {
                let current = Signal::Current(lowered.element(&part.name)?, 0);
                (&own.rated, vec![current], CONDUCTS)
            }
            _ => return None,
        };
        let surge = rated.surge.as_ref();
        Some(Surging {
            name: &part.name,
            surge: surge.map(|(amps, seconds)| (amps.nominal(), seconds.nominal())),
            into,
            from,
        })
    };
    job.parts().filter_map(one).collect()
}

/// First cycles of each, by charge and angle.
fn first_cycles(
    lowered: &Lowered,
    surging: &[Surging<'_>],
    charges: &[(String, f64)],
    options: &Options,
) -> Vec<FirstCycle> {
    let Ok(system) = System::assemble(&lowered.circuit).map(|system| system.reduced()) else {
        return Vec::new();
    };
    let Some(outlet) = lowered.element(OUTLET) else {
        return Vec::new();
    };
    let probes = |one: &Surging<'_>| {
        let each = one.into.iter().map(|signal| signal.probe(&system));
        each.collect::<Vec<Probe>>()
    };
    let currents: Vec<Vec<Probe>> = surging.iter().map(probes).collect();
    let source = system.current(outlet);
    let hertz = lowered.circuit.frequency;
    let mut all = vec![Vec::new(); surging.len()];
    for charge in CHARGES {
        let start = charge::left(lowered, &system, charges, charge);
        for angle in ANGLES {
            let (from, to) = (angle / 360.0, angle / 360.0 + 1.0);
            let Ok(run) = transient(&system, &start, from, to, options) else {
                continue;
            };
            let primary_i2t = square_time(&run, &source, (from, to), hertz);
            for ((one, currents), cycles) in surging.iter().zip(&currents).zip(&mut all) {
                let worst =
                    |of: &dyn Fn(&Probe) -> f64| currents.iter().map(of).fold(0.0, f64::max);
                cycles.push(FirstCycle {
                    part: one.name.to_owned(),
                    angle,
                    charge,
                    peak: worst(&|current| run.peak(current, from, to).value),
                    i2t: worst(&|current| square_time(&run, current, (from, to), hertz)),
                    primary_i2t,
                });
            }
        }
    }
    let told = surging
        .iter()
        .zip(all)
        .filter(|(one, cycles)| cycles.iter().any(|cycle| cycle.peak >= one.from));
    told.flat_map(|(_, cycles)| cycles).collect()
}

/// Currents of a rectifier into what it charges: into its output, and of a split one out of the end under its return.
fn into_reservoirs(lowered: &Lowered, (name, part): (&str, &Rectifier)) -> Vec<Signal> {
    let Some(elements) = lowered.parts.get(name) else {
        return Vec::new();
    };
    let (feeding, draining) = elements.own.split_at(elements.into.min(elements.own.len()));
    let sum = |diodes: &[ElementId]| {
        let each = diodes.iter().map(|diode| (Signal::Current(*diode, 0), 1.0));
        Signal::Sum(each.collect())
    };
    let mut all = vec![sum(feeding)];
    if matches!(part.form, RectifierForm::Split { .. }) {
        all.push(sum(draining));
    }
    all
}

/// ∫ i² dt by Simpson's rule, A²s.
fn square_time(run: &Transient<'_>, current: &Probe, (from, to): (f64, f64), hertz: f64) -> f64 {
    let width = (to - from) / INTERVALS as f64;
    let mut sum = 0.0;
    for k in 0..=INTERVALS {
        let i = run.value(current, from + k as f64 * width);
        let weight = match k {
            0 | INTERVALS => 1.0,
            k if k % 2 == 1 => 4.0,
            _ => 2.0,
        };
        sum += weight * i * i;
    }
    sum * width / 3.0 / hertz
}

fn surge(one: &Surging<'_>, first: &[FirstCycle]) -> Option<Surge> {
    let worst = first
        .iter()
        .filter(|cycle| cycle.part == one.name)
        .max_by(|a, b| a.peak.total_cmp(&b.peak))?;
    let rated = one.surge;
    // The most I²t need not come with the highest peak.
    let most = first
        .iter()
        .filter(|cycle| cycle.part == one.name)
        .map(|cycle| cycle.i2t);
    Some(Surge {
        part: one.name.to_owned(),
        peak: worst.peak,
        angle: worst.angle,
        i2t: most.fold(0.0, f64::max),
        rated,
        rated_i2t: rated.map(|(peak, seconds)| fuse::Pulse::HalfSine { peak, seconds }.i2t()),
    })
}

/// Crest of the mains over the cold copper of the primaries in use: what cores that are wholly saturated would leave. Those of all
/// transformers add up, for what magnetised one the wrong way round did the same to the next.
fn core_bound(job: &Job, mains: f64) -> Option<CoreBound> {
    let primaries = job.parts().filter_map(|part| match &part.kind {
        PartKind::Transformer(transformer) => Some(in_use(transformer)),
        _ => None,
    });
    let ohms: Vec<f64> = primaries.collect::<Option<_>>()?;
    let siemens: f64 = ohms.iter().map(|ohms| 1.0 / ohms).sum();
    let peak = SQRT_2 * mains * siemens;
    (peak > 0.0).then(|| CoreBound {
        cores: ohms.len(),
        peak,
        i2t: peak * peak / 4.0 / job.mains.frequency.nominal(),
    })
}

/// Least copper of the primary as it is joined, Ω.
fn in_use(transformer: &Transformer) -> Option<f64> {
    let selector = &transformer.selector;
    let (_, join) = selector
        .positions
        .iter()
        .find(|(at, _)| *at == selector.at)?;
    ohms(&join.term, transformer)
}

fn ohms(term: &quietrail_job::model::JoinTerm, transformer: &Transformer) -> Option<f64> {
    use quietrail_job::model::JoinTerm;
    match term {
        JoinTerm::Winding { name, .. } => transformer
            .primary
            .iter()
            .find(|winding| winding.name == *name)
            .map(|winding| winding.resistance.value.low),
        JoinTerm::Series(terms) => terms.iter().map(|term| ohms(term, transformer)).sum(),
        JoinTerm::Parallel(terms) => {
            let all: Option<Vec<f64>> = terms.iter().map(|term| ohms(term, transformer)).collect();
            Some(1.0 / all?.iter().map(|ohms| 1.0 / ohms.max(1e-9)).sum::<f64>())
        }
    }
}

/// What primary and secondaries carry, worst over states and mains, and the links for that.
fn places(
    job: &Job,
    fed: &[Fed<'_>],
    first: &[FirstCycle],
    options: &Options,
) -> Result<Vec<Place>, NoSwitchOn> {
    let mut names: Vec<(String, String)> = vec![("primary".to_owned(), String::new())];
    for one in fed {
        names.push((one.part.from.clone(), one.name.to_owned()));
    }
    let mut worst = vec![(0.0_f64, String::new(), 0.0_f64); names.len()];
    for state in 0..job.states.len() {
        for volts in [job.mains.voltage.value.low, job.mains.voltage.value.high] {
            let change = set_mains(volts);
            let lowered = lower(
                job,
                state,
                &Step::default(),
                &change,
                &Temperatures::at_rest(job),
            )
            .map_err(|error| NoSwitchOn::Trouble(Trouble::Change(error)))?;
            let (at, signals): (Vec<usize>, Vec<Signal>) = names
                .iter()
                .enumerate()
                .filter_map(|(k, (_, rectifier))| {
                    let signal = if rectifier.is_empty() {
                        Signal::Current(lowered.element(OUTLET)?, 0)
                    } else {
                        winding_current(&lowered, fed.iter().find(|one| one.name == rectifier)?)?
                    };
                    Some((k, signal))
                })
                .unzip();
            let outputs: Vec<Output> = signals
                .iter()
                .flat_map(|signal| {
                    [
                        Output::Rms(signal.clone()),
                        Output::Peak(signal.clone()),
                        Output::Valley(signal.clone()),
                    ]
                })
                .collect();
            let step = Step::default();
            let setting = Setting {
                job,
                state,
                step: &step,
                options,
            };
            let found =
                figures(setting, &change, &lowered, &outputs).map_err(NoSwitchOn::Trouble)?;
            for (k, found) in at.into_iter().zip(found.chunks_exact(3)) {
                let crest = found[1].max(-found[2]);
                worst[k].2 = worst[k].2.max(crest);
                if found[0] > worst[k].0 {
                    worst[k].0 = found[0];
                    worst[k].1.clone_from(&job.states[state].name);
                }
            }
        }
    }
    let fuses: Vec<(&str, f64, &str, &str)> = job
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            PartKind::Fuse(fuse) => Some((
                part.name.as_str(),
                fuse.rated.nominal(),
                fuse.between.plus.as_str(),
                fuse.between.minus.as_str(),
            )),
            _ => None,
        })
        .collect();
    Ok(names
        .into_iter()
        .zip(worst)
        .map(|((name, rectifier), (rms, state, peak))| {
            let is_primary = rectifier.is_empty();
            let pulses = first
                .iter()
                .filter(|cycle| is_primary || cycle.part == rectifier)
                .map(|cycle| {
                    if is_primary {
                        cycle.primary_i2t
                    } else {
                        cycle.i2t
                    }
                });
            let pulse = pulses.fold(0.0, f64::max);
            let own = format!("{name}.");
            let fitted = fuses
                .iter()
                .find(|(_, _, plus, minus)| {
                    if is_primary {
                        plus.starts_with("inlet.") || minus.starts_with("inlet.")
                    } else {
                        plus.starts_with(&own) || minus.starts_with(&own)
                    }
                })
                .map(|(fuse, rated, ..)| ((*fuse).to_owned(), *rated));
            Place {
                choice: fuse::choose(rms, pulse),
                name,
                rms,
                state,
                peak,
                pulse,
                fitted,
            }
        })
        .collect())
}

/// Current of the winding, or of the first one of the join, that feeds a rectifier.
fn winding_current(lowered: &Lowered, one: &Fed<'_>) -> Option<Signal> {
    let elements = lowered.parts.get(one.transformer_name)?;
    let element = *elements.own.first()?;
    let name = elements
        .windings
        .contains_key(one.winding)
        .then_some(one.winding)
        .or_else(|| {
            let join = one
                .transformer
                .joins
                .iter()
                .find(|join| join.name == one.winding)?;
            first_winding(&join.term)
        })?;
    let number = *elements.windings.get(name)?.first()?;
    Some(Signal::Current(element, number))
}

fn first_winding(term: &quietrail_job::model::JoinTerm) -> Option<&str> {
    use quietrail_job::model::JoinTerm;
    match term {
        JoinTerm::Winding { name, .. } => Some(name),
        JoinTerm::Series(terms) | JoinTerm::Parallel(terms) => first_winding(terms.first()?),
    }
}
