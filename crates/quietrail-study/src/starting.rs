//! Whether a regulator comes up: its current limit against what hangs on it, and its start from nothing.

use crate::lower::Step;
use crate::setpoint;
use crate::solve::{At, Plan, Setting, Trouble, solve, traces, whole};
use quietrail_engine::batch::TRACE;
use quietrail_engine::{Options, Output, Signal, System};
use quietrail_job::model::{Figure, Job, LoadDraw, Part, PartKind, Regulator};
use quietrail_job::{Address, Change};
use quietrail_units::Unit;

/// A current limit in a state.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitCheck {
    /// The state.
    pub state: String,
    /// Most that the loads on its output and its own divider ask for, A.
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

/// Where a start is integrated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Parts as marked.
    Marked,
    /// What makes it hardest: see [`hardest`].
    Hardest,
}

/// A start from zero volts.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// The state.
    pub state: String,
    /// At which corner.
    pub place: Place,
    /// Mains voltage at which it is switched on, V.
    pub mains: f64,
    /// Seconds until it stays near its set point; `None` where it does not within what was integrated.
    pub after: Option<f64>,
    /// Mean over the last cycle, V, counted towards the set point; `None` where it could not be followed so far, and nothing is known of it.
    pub ends: Option<f64>,
    /// Share by which it still rises over the last tenth.
    pub rises: f64,
    /// Its set point, V, as an amount.
    pub set: f64,
}

impl Start {
    /// Whether it is held down, and no longer rising.
    pub fn stays_down(&self) -> bool {
        self.ends.is_some_and(|ends| ends < UP * self.set)
            && self.after.is_none()
            && self.rises <= RISING
    }

    /// Whether it is up, and still below its set point: for want of headroom, which is judged by itself.
    pub fn lacks_headroom(&self) -> bool {
        self.ends.is_some_and(|ends| ends >= UP * self.set) && self.after.is_none()
    }
}

/// Share of the set point from which on an output is up.
const UP: f64 = 0.8;

/// Share over the last tenth above which a start still rises.
const RISING: f64 = 0.01;
/// Mains cycles of a start that are integrated.
const CYCLES: u64 = 60;
/// Distance from the set point within which it has started, as a share.
const NEAR: f64 = 0.05;

/// The current limit of a regulator at its lowest against the most that hangs on it, state by state.
pub fn limits(job: &Job, regulator: &Regulator) -> Vec<LimitCheck> {
    let (_, divider) = setpoint::divider_range(regulator);
    (0..job.states.len())
        .map(|state| LimitCheck {
            state: job.states[state].name.clone(),
            asked: drawn(job, regulator, state).1 + divider,
            limit: regulator.limit.value.low,
        })
        .collect()
}

/// Currents of loads and bleeders on an output in a state, as far as the regulator gives them itself: lowest and highest, A.
pub fn drawn(job: &Job, regulator: &Regulator, state: usize) -> (f64, f64) {
    let (low, high) = drawn_from(job, regulator, state, (&regulator.into, &[]));
    match beside(job, regulator) {
        None => (low, high),
        Some(boost) => (low.min(boost.least), high.min(boost.most(high))),
    }
}

/// A transistor that carries current past a regulator.
struct Boost {
    /// Current of the regulator at which it surely does not conduct yet, A.
    least: f64,
    /// Current of the resistor from its base to its emitter where it conducts most, A.
    held: f64,
    /// Its lowest gain.
    gain: f64,
}

impl Boost {
    /// Most that the regulator gives of a current: what turns the transistor on, and its base current.
    fn most(&self, amps: f64) -> f64 {
        self.held + amps / (self.gain + 1.0)
    }
}

/// The transistor whose base is the input of a regulator and whose collector is its output.
fn beside(job: &Job, regulator: &Regulator) -> Option<Boost> {
    let transistor = job.parts().find_map(|part| match &part.kind {
        PartKind::Transistor(one)
            if one.base == regulator.from && one.collector == regulator.into =>
        {
            Some(one)
        }
        _ => None,
    })?;
    let across = |kind: &PartKind| match kind {
        PartKind::Resistor(one) => {
            let ends = [&one.between.plus, &one.between.minus];
            let is_own = ends.contains(&&transistor.base) && ends.contains(&&transistor.emitter);
            is_own.then_some((1.0 / one.value.value.high, 1.0 / one.value.value.low))
        }
        _ => None,
    };
    let all = job.parts().filter_map(|part| across(&part.kind));
    let (least, most) = all.fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let volts = transistor
        .base_emitter
        .iter()
        .map(|(volts, _)| &volts.value);
    let lowest = volts
        .clone()
        .map(|volts| volts.low)
        .fold(f64::INFINITY, f64::min);
    let highest = volts.map(|volts| volts.high).fold(0.0, f64::max);
    Some(Boost {
        least: least * lowest,
        held: most * highest,
        gain: transistor.gain.value.low,
    })
}

/// The same of what hangs on a node behind an output, and does not go through the parts that lead there.
pub(crate) fn drawn_from(
    job: &Job,
    regulator: &Regulator,
    state: usize,
    (node, leading): (&str, &[&str]),
) -> (f64, f64) {
    let (size, lift) = (
        setpoint::size_range(regulator),
        setpoint::lift(job, regulator),
    );
    let nodes = behind(job, regulator, node, leading);
    let (mut low, mut high) = (0.0, 0.0);
    for (next, share) in in_series(job, regulator, &nodes) {
        let (least, most) = drawn(job, next, state);
        let divider = setpoint::divider_range(next);
        low += share * (least + divider.0 + next.quiescent.value.low);
        high += share * (most + divider.1 + next.quiescent.value.high);
    }
    for part in &job.parts {
        if leading.contains(&part.name.as_str()) {
            continue;
        }
        let Some(share) = part.kind.between().and_then(|between| {
            let at = |node: &String| nodes.iter().find(|(name, _)| name == node);
            at(&between.plus).or_else(|| at(&between.minus))
        }) else {
            continue;
        };
        let share = share.1;
        let to_common = part
            .kind
            .between()
            .is_some_and(|between| between.plus == "common" || between.minus == "common");
        let lift = if to_common { lift } else { 0.0 };
        let (lowest, highest) = (size.0 + lift, size.1 + lift);
        match &part.kind {
            PartKind::Load(load) => {
                let (least, most) = match &load.draws[state] {
                    LoadDraw::Current(amps) => (amps.value.low, amps.value.high),
                    LoadDraw::Resistance(ohms) => {
                        (lowest / ohms.value.high, highest / ohms.value.low)
                    }
                    LoadDraw::Power(watts) => {
                        (watts.value.low / highest, watts.value.high / lowest)
                    }
                };
                low += share * least;
                high += share * most;
            }
            PartKind::Resistor(resistor) => {
                let to_return = part.kind.between().is_some_and(|between| {
                    between.plus == regulator.ret || between.minus == regulator.ret
                });
                if to_return || to_common {
                    low += share * lowest / resistor.value.value.high;
                    high += share * highest / resistor.value.value.low;
                }
            }
            _ => {}
        }
    }
    (low, high)
}

/// Regulators fed from one of these nodes, with the share of their current that the one before gives itself. Those that lead back to it are
/// left out: no circuit is fed by itself.
fn in_series<'j>(
    job: &'j Job,
    regulator: &Regulator,
    nodes: &[(String, f64)],
) -> Vec<(&'j Regulator, f64)> {
    let fed = |part: &'j Part| {
        let PartKind::Regulator(one) = &part.kind else {
            return None;
        };
        let share = nodes.iter().find(|(node, _)| *node == one.from)?.1;
        let is_next = one.ret == regulator.ret && !leads_to(job, &one.into, &regulator.from);
        is_next.then_some((&**one, share))
    };
    job.parts().filter_map(fed).collect()
}

/// Whether regulators lead from a node to another.
fn leads_to(job: &Job, node: &str, to: &str) -> bool {
    let mut reached = vec![node];
    let mut next = 0;
    while next < reached.len() {
        let here = reached[next];
        next += 1;
        for part in job.parts() {
            if let PartKind::Regulator(one) = &part.kind
                && one.from == here
                && !reached.contains(&one.into.as_str())
            {
                reached.push(&one.into);
            }
        }
    }
    reached.contains(&to)
}

/// Nodes that a node behind a regulator feeds through leads, resistors, chokes and fuses other than those that lead to it, with
/// the share of their current that the regulator gives itself: behind a transistor that it drives, one over the lowest gain and
/// one.
fn behind(job: &Job, regulator: &Regulator, node: &str, leading: &[&str]) -> Vec<(String, f64)> {
    let mut nodes = vec![(node.to_owned(), 1.0)];
    let mut next = 0;
    while next < nodes.len() {
        let (here, share) = nodes[next].clone();
        next += 1;
        let others = |part: &&Part| !leading.contains(&part.name.as_str());
        for part in job.parts().filter(others) {
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

/// How a regulator comes up from nothing in each state, with parts as marked and where that is hardest: at the lowest mains, and
/// where its limit folds back at the highest too.
///
/// # Errors
/// Why not even the first circuit could be made.
pub fn starts(job: &Job, name: &str, options: &Options) -> Result<Vec<Start>, Trouble> {
    let mut begun = Vec::new();
    for place in [Place::Marked, Place::Hardest] {
        for mains in mains_of(job, name) {
            begun.extend(begin(job, name, (place, mains), options)?);
        }
    }
    Ok(followed(&begun))
}

/// Mains voltages at which a start is looked at: the lowest, and the highest where a limit folds back, as it then meets more volts
/// across it.
pub fn mains_of(job: &Job, name: &str) -> Vec<f64> {
    let mains = &job.mains.voltage.value;
    let folds = matches!(job.part(name).map(|part| &part.kind), Some(PartKind::Regulator(regulator)) if !regulator.foldback.is_empty());
    if folds && mains.high > mains.low {
        return vec![mains.low, mains.high];
    }
    vec![mains.low]
}

/// A job as it is hardest for a regulator to start: its limit and all gains at their lowest, loads and capacitors at their
/// highest, windings at their lowest voltage and highest resistance, dropouts at their highest.
///
/// Each of these alone delays a start or keeps it down. It is one corner, named, and not one that was looked for.
pub fn hardest(job: &Job, name: &str) -> Job {
    let mut job = job.clone();
    for part in job.parts_mut() {
        match &mut part.kind {
            PartKind::Regulator(regulator) => {
                if part.name == name {
                    lower_end(&mut regulator.limit);
                    for (_, amps) in &mut regulator.foldback {
                        lower_end(amps);
                    }
                }
                for (_, volts) in &mut regulator.dropout {
                    upper_end(volts);
                }
            }
            PartKind::Load(load) => {
                for draw in &mut load.draws {
                    match draw {
                        LoadDraw::Current(amps) => upper_end(amps),
                        LoadDraw::Resistance(ohms) => lower_end(ohms),
                        LoadDraw::Power(watts) => upper_end(watts),
                    }
                }
            }
            PartKind::Transistor(transistor) => lower_end(&mut transistor.gain),
            PartKind::Capacitor(capacitor) => upper_end(&mut capacitor.value),
            PartKind::Transformer(transformer) => {
                for winding in &mut transformer.primary {
                    upper_end(&mut winding.resistance);
                }
                for winding in &mut transformer.secondary {
                    upper_end(&mut winding.resistance);
                    lower_end(&mut winding.open);
                    if let Some(plate) = &mut winding.plate {
                        lower_end(&mut plate.volts);
                        upper_end(&mut plate.regulation);
                    }
                }
                transformer.follow_plates();
            }
            _ => {}
        }
    }
    job
}

fn lower_end<U: Unit>(figure: &mut Figure<U>) {
    figure.value.nominal = figure.value.low;
}

fn upper_end<U: Unit>(figure: &mut Figure<U>) {
    figure.value.nominal = figure.value.high;
}

/// How a regulator starts at a corner and a mains voltage, in each state.
///
/// # Errors
/// As [`starts`].
pub fn starts_at(
    job: &Job,
    name: &str,
    (place, mains): (Place, f64),
    options: &Options,
) -> Result<Vec<Start>, Trouble> {
    Ok(followed(&begin(job, name, (place, mains), options)?))
}

/// A supply that is switched on.
struct Begun {
    state: String,
    place: Place,
    mains: f64,
    hertz: f64,
    system: System,
    /// The output of the regulator.
    output: Signal,
    /// What it is set to, V, as an amount.
    set: f64,
    /// Mean of the steady cycle, V, where there is one.
    settled: Option<f64>,
}

/// The supply at a corner and a mains voltage, in each state.
fn begin(
    job: &Job,
    name: &str,
    (place, mains): (Place, f64),
    options: &Options,
) -> Result<Vec<Begun>, Trouble> {
    let moved = match place {
        Place::Marked => None,
        Place::Hardest => Some(hardest(job, name)),
    };
    let job = moved.as_ref().unwrap_or(job);
    let Some(PartKind::Regulator(regulator)) = job.part(name).map(|part| &part.kind) else {
        return Ok(Vec::new());
    };
    let step = Step::default();
    let changes = [Change::Set {
        address: Address("mains.voltage".to_owned()),
        value: mains,
    }];
    let mut all = Vec::new();
    for (state, declared) in job.states.iter().enumerate() {
        let warmth = crate::heat::Temperatures::at_rest(job);
        let lowered =
            crate::lower::lower(job, state, &step, &changes, &warmth).map_err(Trouble::Change)?;
        let (upper, lower) = regulator.output();
        let (Some(plus), Some(minus)) = (lowered.node(upper), lowered.node(lower)) else {
            continue;
        };
        let output = Signal::Voltage(plus, minus);
        let mut table = crate::reading::OutputTable::of(&lowered);
        table.add(Output::Mean(output.clone()));
        let setting = Setting {
            job,
            state,
            step: &step,
            options,
        };
        let settled = solve(&Plan::reading(table.clone()), setting, &changes, None).ok();
        let mean = settled.map(|solved| {
            let reading = table.with(&solved.solution.values);
            reading.get(&Output::Mean(output.clone()))
        });
        all.push(Begun {
            state: declared.name.clone(),
            place,
            mains,
            hertz: job.mains.frequency.nominal(),
            system: whole(&lowered)?,
            output,
            set: regulator.set.size(),
            settled: mean,
        });
    }
    Ok(all)
}

/// How supplies come up from nothing.
fn followed(begun: &[Begun]) -> Vec<Start> {
    let options = Options {
        tolerance: 1e-3,
        cycles: CYCLES,
        ..Options::default()
    };
    let alike = begun.chunk_by(|one, next| one.output == next.output);
    let of_alike = |alike: &[Begun]| {
        let rest = vec![0.0; alike[0].system.store_count()];
        let circuits: Vec<At<'_>> = alike
            .iter()
            .map(|one| (&one.system, rest.as_slice()))
            .collect();
        let read = traces(&circuits, std::slice::from_ref(&alike[0].output), &options);
        let each = alike.iter().zip(read);
        each.map(|(one, read)| one.start(read.as_ref().map(|read| read[0].as_slice())))
            .collect::<Vec<Start>>()
    };
    alike.flat_map(of_alike).collect()
}

impl Begun {
    /// How it starts, by its output from switching on; without any it could not be followed.
    fn start(&self, volts: Option<&[f64]>) -> Start {
        let start = Start {
            state: self.state.clone(),
            place: self.place,
            mains: self.mains,
            after: None,
            ends: None,
            rises: 0.0,
            set: self.set,
        };
        let Some(volts) = volts else {
            return start;
        };
        let count = volts.len();
        let mean_until = |to: usize| volts[to - TRACE..to].iter().sum::<f64>() / TRACE as f64;
        let (ends, before) = (mean_until(count), mean_until(count - count / 10));
        // The set point is what counts; what it settles to may already be latched.
        let is_off = |volts: &f64| (volts - self.set).abs() > NEAR * self.set;
        let after = match volts.iter().rposition(is_off) {
            Some(last) if last + TRACE >= count => None,
            Some(last) => Some((last + 1) as f64 / TRACE as f64 / self.hertz),
            None => Some(0.0),
        };
        let is_near = |mean: f64| (mean - self.set).abs() < 2.0 * NEAR * self.set;
        Start {
            after: after.filter(|_| self.settled.is_none_or(is_near)),
            ends: Some(ends),
            rises: if ends.abs() > 0.0 {
                (ends - before) / ends
            } else {
                0.0
            },
            ..start
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Place, hardest, starts};
    use quietrail_job::model::{Job, LoadDraw, PartKind};

    fn job() -> Job {
        let text = r#"
format = 1
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
flatness = "0"
[states]
on = "working"
[box]
room = "25 °C"
rise = "0 K"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "30 Ω ±5 %" }]
secondary = [{ name = "S", open = "20 V ±2 % at 230 V", resistance = "0.5 Ω ±5 %" }]
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF ±20 %"
esr = "50 mΩ"
[regulator.U1]
from = "raw"
into = "out"
set = { fixed = "12 V" }
dropout = ["2 V at 1 A"]
rejection = ["60 dB at 100 Hz"]
limit = "1 A .. 1.4 A"
[capacitor.C2]
at = "out"
value = "1000 µF ±20 %"
esr = "0.1 Ω"
[load.oven]
at = "out"
draws = { on = "600 mA ±20 %" }
"#;
        let reading = quietrail_job::read(text, None);
        reading
            .job
            .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
    }

    #[test]
    fn where_it_is_hardest_every_figure_named_stands_at_its_end() {
        let moved = hardest(&job(), "U1");
        for part in &moved.parts {
            match &part.kind {
                PartKind::Regulator(one) => assert!((one.limit.nominal() - 1.0).abs() < 1e-9),
                PartKind::Capacitor(one) if part.name == "C2" => {
                    assert!((one.value.nominal() - 1.2e-3).abs() < 1e-9);
                }
                PartKind::Load(one) => {
                    let LoadDraw::Current(amps) = &one.draws[0] else {
                        panic!("a current");
                    };
                    assert!((amps.nominal() - 0.72).abs() < 1e-9);
                }
                PartKind::Transformer(one) => {
                    assert!((one.secondary[0].open.nominal() - 19.6).abs() < 1e-9);
                }
                _ => {}
            }
        }
    }

    /// 1000 µF to 12 V by what the limit leaves over the load: about 20 ms as marked, and several times that where it is hardest.
    #[test]
    fn a_start_takes_longer_where_it_is_hardest() {
        let all = starts(&job(), "U1", &crate::options()).expect("it is followed");
        let after = |place| {
            let start = all.iter().find(|start| start.place == place);
            start.and_then(|start| start.after).expect("it is up")
        };
        let (marked, hard) = (after(Place::Marked), after(Place::Hardest));
        // Charge over current: C V / (limit less load), the reservoir's own charging aside.
        let (least, most) = (1.0e-3 * 12.0 / (1.2 - 0.6), 1.2e-3 * 12.0 / (1.0 - 0.72));
        assert!(marked > 0.8 * least && hard > 0.8 * most, "{marked} {hard}");
        assert!(hard > 1.5 * marked, "{marked} {hard}");
    }
}
