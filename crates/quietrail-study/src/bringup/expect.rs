//! What the points of a step read: its circuit solved with parts as marked, and the band that tolerances leave around it.
//!
//! Exact derivatives point to the corner that moves each point furthest, up and down; these corners are solved, and the band
//! of a point runs over all of them. It is the widest found, not proven widest.

use super::derive::{Kind, Planned, Point, Where};
use super::{Observed, lowered_step};
use crate::finding::WhyNot;
use crate::heat::Temperatures;
use crate::lower::{Lowered, MeterInput, STEP_LAMP, Step, lower};
use crate::question::{Ask, Question, current_of, nodes_of, voltage_of};
use crate::reading::OutputTable;
use crate::search::parameters;
use crate::slopes::gradients;
use crate::solve::{Plan, Setting, Trouble, answers, solve, solve_all, together};
use quietrail_engine::{Options, Output, Signal};
use quietrail_job::model::{Instrument, Job, Subject, What};
use quietrail_job::{Change, Parameter};
use quietrail_units::{Quantity, Volts};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Mutex;

/// The band of a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Band {
    /// Lowest found.
    pub(super) low: f64,
    /// Parts as marked.
    pub(super) nominal: f64,
    /// Highest found.
    pub(super) high: f64,
    /// Part that the input of the instrument takes off the nominal value; 0 where that is not known, or too little to see.
    pub(super) loaded: f64,
}

/// What is known of the moment of reading.
#[derive(Clone, Copy, Debug, Default)]
pub struct Reading<'a> {
    /// Mains voltage that was read.
    pub mains: Option<f64>,
    /// Name of the instrument; the first of the bench that reads the point where it is not known.
    pub instrument: Option<&'a str>,
    /// An ammeter that stays in series with a part: its ohms.
    pub ammeter: Option<(&'a str, f64)>,
    /// An amplifier in front: its input is what the point feels.
    pub through: Option<&'a str>,
}

/// Bands of the steps of one job over its whole mains range, each step computed once.
#[derive(Debug, Default)]
pub struct Book {
    steps: Mutex<BTreeMap<String, Bands>>,
    /// Bands at a mains that was read: of a step, and the bits of the voltage. All points of a step are mostly read at one mains, and
    /// share what is solved.
    at: Mutex<BTreeMap<(String, u64), Bands>>,
}

/// A band for each point; `None` where a point has no value.
type Bands = Vec<Option<Band>>;

impl Book {
    pub(super) fn bands(
        &self,
        job: &Job,
        planned: &Planned,
        options: &Options,
    ) -> Result<Bands, Trouble> {
        let known = |book: &BTreeMap<String, Bands>| book.get(&planned.name).cloned();
        if let Some(found) = self.steps.lock().ok().and_then(|book| known(&book)) {
            return Ok(found);
        }
        let found = bands(job, planned, None, Reading::default(), options)?;
        if let Ok(mut book) = self.steps.lock() {
            book.insert(planned.name.clone(), found.clone());
        }
        Ok(found)
    }

    /// The band of a point at a mains voltage that was read; `None` where it has none.
    pub(super) fn band_at(
        &self,
        job: &Job,
        planned: &Planned,
        index: usize,
        volts: f64,
        options: &Options,
    ) -> Option<Band> {
        let key = (planned.name.clone(), volts.to_bits());
        let of = |known: &Bands| known.get(index).copied().flatten();
        if let Some(known) = self.at.lock().ok().and_then(|book| book.get(&key).map(of)) {
            return known;
        }
        let reading = Reading {
            mains: Some(volts),
            ..Reading::default()
        };
        let found = bands(job, planned, None, reading, options).unwrap_or_default();
        let own = of(&found);
        if let Ok(mut book) = self.at.lock() {
            book.insert(key, found);
        }
        own
    }
}

/// An input that takes off less than this part of a value is left out: no instrument of a bench shows it.
const FELT: f64 = 2e-5;

/// Bands of the points of a step, in their order; `None` where a point has no value there.
///
/// With a mains voltage that was read the bands are those at that voltage; else over the whole range of the mains. A current
/// is what its ammeter reads: with the ammeter's resistance in the circuit, which for the other points is not there.
pub(super) fn bands(
    job: &Job,
    planned: &Planned,
    only: Option<usize>,
    reading: Reading<'_>,
    options: &Options,
) -> Result<Vec<Option<Band>>, Trouble> {
    let job = at_mains(job, planned, reading.mains);
    let mut step = lowered_step(planned);
    step.ammeters
        .extend(reading.ammeter.map(|(part, ohms)| (part.to_owned(), ohms)));
    let burdened = |index: usize| -> Option<(String, f64)> {
        let point = &planned.points[index];
        let ohms = burden(&job, point, reading.instrument)?;
        match &point.subject {
            Where::Subject(Subject::Part(part)) => Some((part.clone(), ohms)),
            _ => None,
        }
    };
    let wanted = |index: usize| only.is_none_or(|only| only == index);
    let all = 0..planned.points.len();
    let plain: Vec<usize> = all
        .clone()
        .filter(|index| wanted(*index) && burdened(*index).is_none())
        .collect();
    let mut bands = vec![None; planned.points.len()];
    let fill =
        |bands: &mut [Option<Band>], indices: &[usize], step: &Step| -> Result<(), Trouble> {
            let points: Vec<Point> = indices
                .iter()
                .map(|index| planned.points[*index].clone())
                .collect();
            let found = bands_in(&job, planned, step, &points, options)?;
            for (index, band) in indices.iter().zip(found) {
                bands[*index] = band;
            }
            Ok(())
        };
    if !plain.is_empty() {
        fill(&mut bands, &plain, &step)?;
    }
    for index in plain {
        let Some(input) = input_of(&job, &planned.points[index], reading) else {
            continue;
        };
        let Some(alone) = bands[index] else {
            continue;
        };
        let mut with = step.clone();
        with.inputs.push(input);
        let point = std::slice::from_ref(&planned.points[index]);
        let loaded = match nominal_in(&job, planned, &with, point, options)? {
            Some(value) if alone.nominal != 0.0 => 1.0 - value / alone.nominal,
            _ => continue,
        };
        if loaded.abs() < FELT {
            continue;
        }
        if let Some(mut band) = bands_in(&job, planned, &with, point, options)?[0] {
            band.loaded = loaded;
            bands[index] = Some(band);
        }
    }
    for index in all.filter(|index| wanted(*index)) {
        if let Some(ammeter) = burdened(index) {
            let mut with = step.clone();
            with.ammeters.retain(|(part, _)| *part != ammeter.0);
            with.ammeters.push(ammeter);
            fill(&mut bands, &[index], &with)?;
        }
    }
    Ok(bands)
}

/// Any point that a log may name.
pub(super) fn anywhere(job: &Job, of: &str, what: Observed) -> Point {
    let subject = match of.split_once(',') {
        _ if what == Observed::RmsVoltage => Where::Winding(of.to_owned()),
        Some((plus, minus)) => Where::Subject(Subject::Pair(plus.to_owned(), minus.to_owned())),
        None if job.part(of).is_some() => Where::Subject(Subject::Part(of.to_owned())),
        None => Where::Subject(Subject::Node(of.to_owned())),
    };
    Point {
        of: of.to_owned(),
        subject,
        what,
        is_awaited: false,
    }
}

/// Ohms that the instrument of a current puts into the circuit, where the job gives them.
pub(super) fn burden(job: &Job, point: &Point, instrument: Option<&str>) -> Option<f64> {
    let Observed::Statistic(what) = point.what else {
        return None;
    };
    super::ammeter_of(job, what, instrument).map(|(_, ohms)| ohms)
}

/// What the instrument of a voltage puts across its two points, where the job gives it.
pub(super) fn input_of(job: &Job, point: &Point, reading: Reading<'_>) -> Option<MeterInput> {
    let (plus, minus) = match &point.subject {
        Where::Subject(Subject::Node(node)) => (node.clone(), "common".to_owned()),
        Where::Subject(Subject::Pair(plus, minus)) => (plus.clone(), minus.clone()),
        Where::Winding(name) => (format!("{name}.start"), format!("{name}.finish")),
        Where::Subject(Subject::Part(_)) | Where::SeriesLamp => return None,
    };
    let named = |wanted: Option<&str>, one: &Instrument| wanted.is_none_or(|name| name == one.name);
    let (ohms, farads) = match reading.through {
        Some(name) => {
            let one = job.instruments.iter().find(|one| one.name == name)?;
            one.amplifier.as_ref()?.input.as_ref()?
        }
        None => job
            .instruments
            .iter()
            .filter(|one| named(reading.instrument, one))
            .find_map(|one| super::function_of(one, point.what))?
            .input
            .as_ref()?,
    };
    Some(MeterInput {
        plus,
        minus,
        ohms: ohms.nominal(),
        farads: farads.nominal(),
    })
}

/// A point with parts as marked; `None` where it has no value.
fn nominal_in(
    job: &Job,
    planned: &Planned,
    step: &Step,
    points: &[Point],
    options: &Options,
) -> Result<Option<f64>, Trouble> {
    let state = planned.state.unwrap_or(0);
    let plan = plan_of(job, state, step, points)?;
    let setting = Setting {
        job,
        state,
        step,
        options,
    };
    let solved = solve(&plan, setting, &[], None)?;
    let value = answers(&plan, &solved).into_iter().next();
    Ok(value.and_then(Result::ok).filter(|value| value.is_finite()))
}

fn bands_in(
    job: &Job,
    planned: &Planned,
    step: &Step,
    points: &[Point],
    options: &Options,
) -> Result<Vec<Option<Band>>, Trouble> {
    let state = planned.state.unwrap_or(0);
    let plan = plan_of(job, state, step, points)?;
    let setting = Setting {
        job,
        state,
        step,
        options,
    };
    let nominal = solve(&plan, setting, &[], None)?;
    let tolerances: Vec<Parameter> = parameters(job, state)
        .into_iter()
        .filter(|parameter| !is_of_missing(parameter, planned))
        .collect();
    let slopes = gradients(&plan, setting, &[], &nominal, &tolerances)?;
    let corners = corners(&tolerances, &slopes);
    let solved: Vec<Vec<Result<f64, WhyNot>>> = corners
        .par_chunks(together(corners.len()))
        .flat_map_iter(|some| solve_all(&plan, setting, some, &nominal.solution))
        .filter_map(Result::ok)
        .map(|solved| answers(&plan, &solved))
        .collect();
    let at_nominal = answers(&plan, &nominal);
    let band = |index: usize| {
        let nominal = *at_nominal[index].as_ref().ok()?;
        let mut band = Band {
            low: nominal,
            nominal,
            high: nominal,
            loaded: 0.0,
        };
        for value in solved
            .iter()
            .filter_map(|values| values[index].as_ref().ok())
        {
            band.low = band.low.min(*value);
            band.high = band.high.max(*value);
        }
        nominal.is_finite().then_some(band)
    };
    Ok((0..points.len()).map(band).collect())
}

/// The job on the mains of the step.
fn at_mains(job: &Job, planned: &Planned, mains: Option<f64>) -> Job {
    let mut job = job.clone();
    let own = &job.mains.voltage.value;
    let end = match planned.kind {
        Kind::OverVoltage => Some(own.high),
        Kind::LowestMains => Some(own.low),
        _ => None,
    };
    let fixed = match planned.through {
        // It is set by the voltage behind it, so the outlet's range does not reach the job.
        Some(super::Through::Variable { setting, .. }) => {
            let before = mains.map(|volts| before_variable(volts, setting, own.nominal));
            Some(before.unwrap_or(own.nominal))
        }
        Some(super::Through::Lamp { .. }) | None => mains.or(end),
    };
    if let Some(volts) = fixed
        && let Ok(one) = Quantity::<Volts>::parse(&format!("{volts} V"))
    {
        job.mains.voltage.value = one;
    }
    job
}

/// The outlet's voltage from one that was read: behind the variable transformer, unless what was read can only be the outlet's.
fn before_variable(read: f64, setting: f64, nominal: f64) -> f64 {
    let is_outlet = (read - nominal).abs() < (read - setting * nominal).abs();
    if is_outlet && setting < SURELY_TURNED_DOWN {
        read
    } else {
        read / setting
    }
}

/// Below this setting nobody takes the voltage behind a variable transformer for the outlet's.
const SURELY_TURNED_DOWN: f64 = 0.7;

/// Tolerances of parts that are not there cannot matter; loads that are out draw nothing.
fn is_of_missing(parameter: &Parameter, planned: &Planned) -> bool {
    let address = &parameter.address.0;
    let bare = address.strip_prefix("load.").unwrap_or(address);
    let part = bare.split('.').next().unwrap_or_default();
    planned.out.iter().any(|out| out == part)
}

/// The corners that move some point furthest, each once.
fn corners(tolerances: &[Parameter], slopes: &[Vec<f64>]) -> Vec<Vec<Change>> {
    let mut all: Vec<Vec<Change>> = Vec::new();
    for row in slopes {
        for up in [true, false] {
            let corner: Vec<Change> = tolerances
                .iter()
                .zip(row)
                .filter(|(_, slope)| **slope != 0.0)
                .map(|(parameter, slope)| Change::Set {
                    address: parameter.address.clone(),
                    value: if (*slope > 0.0) == up {
                        parameter.high
                    } else {
                        parameter.low
                    },
                })
                .collect();
            if !corner.is_empty() && !all.contains(&corner) {
                all.push(corner);
            }
        }
    }
    all
}

fn plan_of(job: &Job, state: usize, step: &Step, points: &[Point]) -> Result<Plan, Trouble> {
    let lowered =
        lower(job, state, step, &[], &Temperatures::at_rest(job)).map_err(Trouble::Change)?;
    let questions: Vec<Question> = points
        .iter()
        .map(|point| question(job, &lowered, state, point))
        .collect();
    let mut table = OutputTable::of(&lowered);
    for question in &questions {
        question.register(&lowered, &mut table);
    }
    Ok(Plan { questions, table })
}

fn question(job: &Job, lowered: &Lowered, state: usize, point: &Point) -> Question {
    let subject = match &point.subject {
        Where::Subject(subject) => subject.clone(),
        Where::Winding(name) => Subject::Part(name.clone()),
        Where::SeriesLamp => Subject::Part(STEP_LAMP.to_owned()),
    };
    let what = match point.what {
        Observed::Statistic(what) => what,
        _ => What::Mean,
    };
    let band = job
        .limits
        .iter()
        .find(|limit| limit.of == subject && limit.what == what)
        .and_then(|limit| limit.band);
    Question {
        name: point.of.clone(),
        of: subject,
        what,
        states: vec![state],
        min: None,
        max: Some(f64::INFINITY),
        unit: crate::question::unit_of(what),
        from: String::new(),
        is_rating: false,
        is_quiet: false,
        ask: ask(lowered, point, band).unwrap_or(Ask::Not(WhyNot::NotComputed)),
    }
}

fn ask(lowered: &Lowered, point: &Point, band: Option<quietrail_job::model::Band>) -> Option<Ask> {
    let one = |output: Output| Some(Ask::Largest(vec![(output, 1.0)]));
    let subject = match &point.subject {
        Where::Subject(subject) => subject,
        Where::Winding(name) => {
            let start = lowered.node(&format!("{name}.start"))?;
            let finish = lowered.node(&format!("{name}.finish"))?;
            return one(Output::Rms(Signal::Voltage(start, finish)));
        }
        Where::SeriesLamp => {
            let lamp = lowered.element(STEP_LAMP)?;
            let quietrail_engine::Element::Resistor { a, b, .. } = lowered.circuit.element(lamp)
            else {
                return None;
            };
            return one(Output::Rms(Signal::Voltage(*a, *b)));
        }
    };
    let part = || match subject {
        Subject::Part(name) => Some(name.clone()),
        Subject::Node(_) | Subject::Pair(..) => None,
    };
    let current = || current_of(lowered, &part()?);
    let Observed::Statistic(what) = point.what else {
        return None;
    };
    match what {
        What::Mean => one(Output::Mean(voltage_of(lowered, subject)?)),
        What::Valley => one(Output::Valley(voltage_of(lowered, subject)?)),
        What::Peak => one(Output::Peak(voltage_of(lowered, subject)?)),
        What::Ripple => {
            let signal = voltage_of(lowered, subject)?;
            match band {
                Some(band) => Some(Ask::InBand(signal, band)),
                None => one(Output::RippleRms(signal)),
            }
        }
        What::RipplePeakToPeak => Some(Ask::PeakToPeak(voltage_of(lowered, subject)?)),
        What::Current => one(Output::Mean(current()?)),
        What::RmsCurrent => one(Output::Rms(current()?)),
        What::PeakCurrent => one(Output::Peak(current()?)),
        What::Power => Some(Ask::Power(part()?)),
        What::Temperature => Some(Ask::Temperature(part()?)),
        What::Noise => Some(Ask::Noise(nodes_of(&voltage_of(lowered, subject)?)?, band?)),
        What::RippleAndNoise => Some(Ask::RippleAndNoise(
            nodes_of(&voltage_of(lowered, subject)?)?,
            band?,
        )),
        What::Headroom | What::ReverseVoltage | What::Life | What::Start | What::Drift => None,
    }
}
