//! What the points of a step read: its circuit solved with parts as marked, and the band that tolerances leave around it.
//!
//! Beside the points, at the same corners, what nobody reads there and fingers find: temperatures, and what capacitors hold.

use super::derive::{Kind, Planned, Point, Where};
use super::{Observed, lowered_step, plates};
use crate::band::{self, bands};
use crate::case::{Outside, outside};
use crate::finding::WhyNot;
use crate::heat::Temperatures;
use crate::lower::{Lowered, MeterInput, STEP_LAMP, Step, lower};
use crate::question::{Ask, Question, current_of, nodes_of, through, voltage_of};
use crate::reading::OutputTable;
use crate::search::parameters;
use crate::solve::{Plan, Setting, Trouble, answers, solve};
use quietrail_engine::{Options, Output, Signal};
use quietrail_job::Parameter;
use quietrail_job::model::{Instrument, Job, PartKind, Subject, What};
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

/// Bands of the points of one job's steps, over the whole range of its mains and at voltages that were read; each computed once.
#[derive(Debug, Default)]
pub struct Book {
    /// By the name of the step, and the bits of the voltage that was read.
    known: Mutex<BTreeMap<Key, Known>>,
}

/// A band for each point; `None` where a point has no value.
type Bands = Vec<Option<Band>>;

/// What nobody reads in a step and fingers find.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Watch {
    /// Temperature inside a part, or of a sink, °C.
    Heat(String),
    /// Temperature of a part's case, °C.
    Case(String),
    /// Volts that a capacitor holds at most, either way round.
    Volts(String),
}

/// What was found of it: lowest and highest.
pub(super) type Found = BTreeMap<Watch, (f64, f64)>;

impl Watch {
    /// All that is watched in a step: of parts that are connected.
    fn of(job: &Job, planned: &Planned) -> Vec<Self> {
        let mut all = Vec::new();
        for part in job.parts().filter(|part| !planned.out.contains(&part.name)) {
            match &part.kind {
                PartKind::Capacitor(_) => all.push(Self::Volts(part.name.clone())),
                PartKind::Sink(_)
                | PartKind::Regulator(_)
                | PartKind::Transistor(_)
                | PartKind::Shunt(_)
                | PartKind::Rectifier(_)
                | PartKind::Diode(_) => all.push(Self::Heat(part.name.clone())),
                // Without its way to the air it is as warm in every step as the job says it ever gets.
                PartKind::Transformer(one) if one.to_air.is_some() => {
                    all.push(Self::Heat(part.name.clone()));
                }
                _ => {}
            }
            if outside(part) == Outside::Case {
                all.push(Self::Case(part.name.clone()));
            }
        }
        all
    }

    fn question(&self, lowered: &Lowered, state: usize) -> Question {
        let (part, what, ask) = match self {
            Self::Heat(part) => (part, What::Temperature, Ask::Temperature(part.clone())),
            Self::Case(part) => (part, What::Temperature, Ask::Case(part.clone())),
            Self::Volts(part) => {
                let across = voltage_of(lowered, &Subject::Part(part.clone()));
                let either = |signal: Signal| {
                    Ask::EitherWay(Output::Peak(signal.clone()), Output::Valley(signal))
                };
                let ask = across.map_or(Ask::Not(WhyNot::NotComputed), either);
                (part, What::Peak, ask)
            }
        };
        asked(part, Subject::Part(part.clone()), what, state, ask)
    }
}

/// What is known of a step at a mains.
#[derive(Clone, Debug, Default)]
struct Known {
    /// What nobody reads, once `plain` is known.
    watched: Found,
    /// Bands of all points that nothing is put in series with, as no instrument feels them.
    plain: Option<Bands>,
    /// Bands of points as their instruments read them.
    read: BTreeMap<usize, Option<Band>>,
}

impl Book {
    /// Bands of some points of a step, by their place in it: over the whole range of the mains, or at a voltage that was read.
    ///
    /// What instruments do to their points is computed for these points alone; the rest is the same for whichever points are asked.
    pub(super) fn bands(
        &self,
        job: &Job,
        planned: &Planned,
        points: &[usize],
        volts: Option<f64>,
        options: &Options,
    ) -> Result<BTreeMap<usize, Option<Band>>, Trouble> {
        let key = (planned.name.clone(), volts.map(f64::to_bits));
        let mut known = self.known_of(&key);
        let missing = points.iter().copied();
        let missing: Vec<usize> = missing
            .filter(|index| !known.read.contains_key(index))
            .collect();
        if missing.is_empty() {
            return Ok(known.read);
        }
        let reading = Reading {
            mains: volts,
            ..Reading::default()
        };
        let bench = Bench::of(job, planned, reading, options);
        let all: Vec<usize> = (0..planned.points.len()).collect();
        let plain = match known.plain.take() {
            Some(plain) => plain,
            None => {
                let (plain, watched) = bench.plain_and_watched(&all)?;
                known.watched = watched;
                plain
            }
        };
        let found = bench.read(&plain, &missing)?;
        known.plain = Some(plain);
        known.read.extend(found);
        self.write_in(key, &known);
        Ok(known.read)
    }

    /// What nobody reads in a step, over the whole range of the mains, as far as its points have been asked for.
    pub(super) fn watched(&self, planned: &Planned) -> Found {
        self.known_of(&(planned.name.clone(), None)).watched
    }

    /// The band of one point as it is read, `None` where it has no value there: with a mains voltage that was read at that voltage,
    /// else over the whole range of the mains. A current is what its ammeter reads, with the ammeter's resistance in the circuit.
    ///
    /// By itself where the step does not list it or something else stands in the circuit, else as among the others.
    pub(super) fn band_of(
        &self,
        job: &Job,
        planned: &Planned,
        (index, is_listed): (usize, bool),
        reading: Reading<'_>,
        options: &Options,
    ) -> Result<Option<Band>, Trouble> {
        let bench = Bench::of(job, planned, reading, options);
        let mut plain = Vec::new();
        if is_listed && reading.ammeter.is_none() {
            let key = (planned.name.clone(), reading.mains.map(f64::to_bits));
            let mut known = self.known_of(&key);
            if known.plain.is_none() {
                let usual = Reading {
                    mains: reading.mains,
                    ..Reading::default()
                };
                let all: Vec<usize> = (0..planned.points.len()).collect();
                let (plain, watched) =
                    Bench::of(job, planned, usual, options).plain_and_watched(&all)?;
                (known.plain, known.watched) = (Some(plain), watched);
                self.write_in(key, &known);
            }
            plain = known.plain.unwrap_or_default();
        }
        // An ammeter whose resistance nobody knows is read as if it had none.
        if plain.get(index).copied().flatten().is_none() {
            plain = bench.plain(&[index])?;
        }
        let found = bench.read(&plain, &[index])?;
        Ok(found.into_iter().find_map(|(_, band)| band))
    }

    fn known_of(&self, key: &Key) -> Known {
        let book = self.known.lock().ok();
        book.and_then(|book| book.get(key).cloned())
            .unwrap_or_default()
    }

    fn write_in(&self, key: Key, known: &Known) {
        if let Ok(mut book) = self.known.lock() {
            let own = book.entry(key).or_default();
            own.plain.clone_from(&known.plain);
            own.watched.clone_from(&known.watched);
            let read = known.read.iter();
            own.read.extend(read.map(|(at, band)| (*at, *band)));
        }
    }
}

/// Name of a step, and the bits of a mains voltage that was read.
type Key = (String, Option<u64>);

/// An input that takes off less than this part of a value is left out: no instrument of a bench shows it.
const FELT: f64 = 2e-5;

/// A step as it stands on the bench while it is read.
struct Bench<'a> {
    /// The job on the mains of the step.
    job: Job,
    planned: &'a Planned,
    step: Step,
    reading: Reading<'a>,
    options: &'a Options,
}

impl<'a> Bench<'a> {
    fn of(job: &Job, planned: &'a Planned, reading: Reading<'a>, options: &'a Options) -> Self {
        let mut step = lowered_step(planned);
        step.ammeters
            .extend(reading.ammeter.map(|(part, ohms)| (part.to_owned(), ohms)));
        Self {
            job: at_mains(job, planned, reading.mains),
            planned,
            step,
            reading,
            options,
        }
    }

    /// The part that an ammeter is put in series with to read a point, and its ohms.
    fn burdened(&self, index: usize) -> Option<(String, f64)> {
        let point = &self.planned.points[index];
        let ohms = burden(&self.job, point, self.reading.instrument)?;
        match &point.subject {
            Where::Subject(Subject::Part(part)) => Some((part.clone(), ohms)),
            _ => None,
        }
    }

    /// Bands of points that no ammeter is put in for, in the order of the step's points, before an instrument feels them.
    fn plain(&self, points: &[usize]) -> Result<Bands, Trouble> {
        self.plain_beside(points, &[]).map(|(plain, _)| plain)
    }

    /// The same with what nobody reads.
    fn plain_and_watched(&self, points: &[usize]) -> Result<(Bands, Found), Trouble> {
        self.plain_beside(points, &Watch::of(&self.job, self.planned))
    }

    fn plain_beside(&self, points: &[usize], watched: &[Watch]) -> Result<(Bands, Found), Trouble> {
        let own = points.iter().copied();
        let own: Vec<usize> = own
            .filter(|index| self.burdened(*index).is_none())
            .collect();
        let mut all = vec![None; self.planned.points.len()];
        let mut beside = Found::new();
        if !own.is_empty() || !watched.is_empty() {
            let asked = (self.points(&own), watched);
            let found;
            (found, beside) = bands_in(
                &self.job,
                self.planned,
                &self.step,
                (&asked.0, asked.1),
                self.options,
            )?;
            for (index, band) in own.iter().zip(found) {
                all[*index] = band;
            }
        }
        Ok((all, beside))
    }

    fn points(&self, indices: &[usize]) -> Vec<Point> {
        let own = indices.iter();
        own.map(|index| self.planned.points[*index].clone())
            .collect()
    }

    fn bands_in(&self, step: &Step, points: &[Point]) -> Result<Bands, Trouble> {
        let asked = (points, &[][..]);
        bands_in(&self.job, self.planned, step, asked, self.options).map(|(bands, _)| bands)
    }

    fn nominal_in(&self, step: &Step, points: &[Point]) -> Result<Vec<Option<f64>>, Trouble> {
        nominal_in(&self.job, self.planned, step, points, self.options)
    }

    /// Bands of points as their instruments read them.
    fn read(&self, plain: &Bands, points: &[usize]) -> Result<Vec<(usize, Option<Band>)>, Trouble> {
        let is_felt = self.felt(plain, points)?;
        let of = |index: &usize| -> Result<(usize, Option<Band>), Trouble> {
            if let Some(ammeter) = self.burdened(*index) {
                let mut with = self.step.clone();
                with.ammeters.retain(|(part, _)| *part != ammeter.0);
                with.ammeters.push(ammeter);
                let band = self.bands_in(&with, &self.points(&[*index]))?[0];
                return Ok((*index, band));
            }
            let band = match plain[*index] {
                Some(alone) if is_felt.contains(index) => Some(self.loaded(*index, alone)?),
                alone => alone,
            };
            Ok((*index, band))
        };
        points.par_iter().map(of).collect()
    }

    /// Which of these points may feel their instruments: all inputs are put in at once, and what that moves by no more than is
    /// felt, its own input alone does not either.
    fn felt(&self, plain: &Bands, points: &[usize]) -> Result<Vec<usize>, Trouble> {
        let mut with = self.step.clone();
        let mut own = Vec::new();
        for index in points {
            let input = input_of(&self.job, &self.planned.points[*index], self.reading);
            if let (Some(input), Some(alone)) = (input, plain[*index])
                && alone.nominal != 0.0
            {
                with.inputs.push(input);
                own.push((*index, alone.nominal));
            }
        }
        if own.is_empty() {
            return Ok(Vec::new());
        }
        let indices: Vec<usize> = own.iter().map(|(index, _)| *index).collect();
        let values = self.nominal_in(&with, &self.points(&indices))?;
        let moved = own.iter().zip(values).filter(|((_, alone), value)| {
            value.is_none_or(|value| (1.0 - value / alone).abs() >= FELT)
        });
        Ok(moved.map(|((index, _), _)| *index).collect())
    }

    /// The band of a point with the input of its instrument across it, where that is felt.
    fn loaded(&self, index: usize, alone: Band) -> Result<Band, Trouble> {
        let Some(input) = input_of(&self.job, &self.planned.points[index], self.reading) else {
            return Ok(alone);
        };
        let mut with = self.step.clone();
        with.inputs.push(input);
        let point = self.points(&[index]);
        let Some(value) = self.nominal_in(&with, &point)?[0] else {
            return Ok(alone);
        };
        let loaded = 1.0 - value / alone.nominal;
        if loaded.abs() < FELT {
            return Ok(alone);
        }
        Ok(match self.bands_in(&with, &point)?[0] {
            Some(mut band) => {
                band.loaded = loaded;
                band
            }
            None => alone,
        })
    }
}

/// Any point that a log may name.
pub(super) fn anywhere(job: &Job, of: &str, what: Observed) -> Point {
    let subject = match of.split_once(',') {
        None if what == Observed::RmsVoltage => Where::Winding(of.to_owned()),
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

/// Points with parts as marked; `None` where one has no value.
fn nominal_in(
    job: &Job,
    planned: &Planned,
    step: &Step,
    points: &[Point],
    options: &Options,
) -> Result<Vec<Option<f64>>, Trouble> {
    let state = planned.state.unwrap_or(0);
    let plan = plan_of(job, state, step, points)?;
    let setting = Setting {
        job,
        state,
        step,
        options,
    };
    let solved = solve(&plan, setting, &[], None)?;
    let values = answers(&plan, &solved).into_iter();
    Ok(values
        .map(|value| value.ok().filter(|value| value.is_finite()))
        .collect())
}

fn bands_in(
    job: &Job,
    planned: &Planned,
    step: &Step,
    (points, watched): (&[Point], &[Watch]),
    options: &Options,
) -> Result<(Bands, Found), Trouble> {
    let state = planned.state.unwrap_or(0);
    let mut plan = plan_of(job, state, step, points)?;
    let lowered =
        lower(job, state, step, &[], &Temperatures::at_rest(job)).map_err(Trouble::Change)?;
    for watch in watched {
        let question = watch.question(&lowered, state);
        question.register(&lowered, &mut plan.table);
        plan.questions.push(question);
    }
    let setting = Setting {
        job,
        state,
        step,
        options,
    };
    let tolerances: Vec<Parameter> = parameters(job, state)
        .into_iter()
        .filter(|parameter| !is_of_missing(parameter, planned))
        .collect();
    let mut found = bands(&plan, setting, &tolerances, points.len())?;
    let beside = found.split_off(points.len());
    let beside = watched.iter().cloned().zip(beside);
    let with_load = |band: band::Band| Band {
        low: band.low,
        nominal: band.nominal,
        high: band.high,
        loaded: 0.0,
    };
    let found = found.into_iter().map(|band| band.map(with_load));
    Ok((
        found.collect(),
        beside
            .filter_map(|(watch, band)| Some((watch, (band?.low, band?.high))))
            .collect(),
    ))
}

/// The job on the mains of the step.
pub(super) fn at_mains(job: &Job, planned: &Planned, mains: Option<f64>) -> Job {
    let mut job = job.clone();
    plates::widen(&mut job);
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

pub(super) fn plan_of(
    job: &Job,
    state: usize,
    step: &Step,
    points: &[Point],
) -> Result<Plan, Trouble> {
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
    let ask = ask(lowered, point, band).unwrap_or(Ask::Not(WhyNot::NotComputed));
    asked(&point.of, subject, what, state, ask)
}

fn asked(name: &str, of: Subject, what: What, state: usize, ask: Ask) -> Question {
    Question {
        name: name.to_owned(),
        of,
        what,
        states: vec![state],
        min: None,
        max: Some(f64::INFINITY),
        unit: crate::question::unit_of(what),
        from: String::new(),
        is_rating: false,
        is_quiet: false,
        ask,
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
    if point.what == Observed::RmsVoltage {
        return one(Output::Rms(voltage_of(lowered, subject)?));
    }
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
        What::Current | What::RmsCurrent | What::PeakCurrent => {
            Some(through(lowered, &part()?, what, current()?))
        }
        What::Power => Some(Ask::Power(part()?)),
        // As a thermometer finds it, on the outside.
        What::Temperature => {
            let name = part()?;
            Some(match lowered.job.part(&name).map(outside) {
                Some(Outside::Case) => Ask::Case(name),
                _ => Ask::Temperature(name),
            })
        }
        What::Noise => Some(Ask::Noise(nodes_of(&voltage_of(lowered, subject)?)?, band?)),
        What::RippleAndNoise => Some(Ask::RippleAndNoise(
            nodes_of(&voltage_of(lowered, subject)?)?,
            band?,
        )),
        What::Headroom
        | What::ReverseVoltage
        | What::Life
        | What::Start
        | What::HoldUp
        | What::Drift => None,
    }
}
