//! What the readings say of each limit, merged into what was predicted; and, before anything is read, whether the
//! instruments of the job could show it at all.

mod direct;
mod loading;
mod warmth;

use crate::finding::{LimitFinding, Measured, Overall, Proof, Read};
use crate::gate::{Gate, Held, NEAR_END, Regardless};
use crate::lower::Step;
use crate::question::{Ask, Question};
use crate::reading::OutputTable;
use crate::solve::{Plan, Setting, assemble, solve};
use crate::spectrum::Spectrum;
use quietrail_bench::decide::Shown;
use quietrail_bench::judge::{
    Asked, Content, Judgement, Prospect, Way, Why, judge, prospect, ways,
};
use quietrail_bench::log::{Log, Observed, Row, words_of};
use quietrail_bench::meter::average_of;
use quietrail_engine::{Options, Output, Signal, steady_state_from};
use quietrail_job::model::{Job, LoadDraw, PartKind, Subject, What};

/// A limit in a state with what its readings come to.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// Name of the limit.
    pub limit: String,
    /// The statistic.
    pub what: What,
    /// Name of the state.
    pub state: String,
    /// Unit symbol.
    pub unit: &'static str,
    /// Lowest and highest allowed.
    pub min: Option<f64>,
    /// Highest allowed.
    pub max: Option<f64>,
    /// What the readings come to.
    pub judgement: Judgement,
    /// Where they show nothing: the easiest way that would, and how close the best comes where none would.
    pub easier: Option<Prospect>,
    /// The mains range that the limit has to hold over, where the readings do not reach its ends.
    pub mains_left: Option<(f64, f64)>,
    /// What keeps the readings from showing it: their step is locked.
    pub held: Option<Held>,
    /// Rows that were taken while their step was locked, and count because going on regardless is logged.
    pub regardless: Vec<(u64, Regardless)>,
}

impl Judged {
    /// What was read, as a finding holds it.
    pub fn read(&self) -> Read {
        Read {
            value: self.judgement.value,
            low: self.judgement.low,
            high: self.judgement.high,
            mains: self.mains_read(),
            mains_left: self.mains_left,
            locked_step: self.held.as_ref().map(|held| held.step.clone()),
            was_locked: self.held.as_ref().is_some_and(|held| held.was_locked),
            regardless: !self.regardless.is_empty(),
        }
    }

    /// Mains voltages at which it was read, each once, rising.
    pub fn mains_read(&self) -> Vec<f64> {
        let mut volts = self.judgement.mains.clone();
        volts.sort_by(f64::total_cmp);
        volts.dedup();
        volts
    }
}

/// A limit in a state, and whether the bench can show it.
#[derive(Clone, Debug, PartialEq)]
pub struct Showable {
    /// Name of the limit.
    pub limit: String,
    /// The statistic.
    pub what: What,
    /// Name of the state.
    pub state: String,
    /// Unit symbol.
    pub unit: &'static str,
    /// What is expected there, parts as marked.
    pub expected: f64,
    /// Whether, and how.
    pub prospect: Prospect,
}

/// What is asked of the readings of one limit in one state.
#[derive(Clone, Debug, PartialEq)]
pub struct Limited {
    /// Name of the limit.
    pub name: String,
    /// What it is about.
    pub of: Subject,
    /// The statistic.
    pub what: What,
    /// Name of the state.
    pub state: String,
    /// Lowest allowed, SI.
    pub min: Option<f64>,
    /// Highest allowed, SI.
    pub max: Option<f64>,
    /// Unit symbol.
    pub unit: &'static str,
    /// Predicted value, parts as marked, if there is one.
    pub nominal: Option<f64>,
    /// Whether it is a rating of a part.
    pub is_rating: bool,
}

impl Limited {
    /// Of the limits that a proof has found.
    pub fn of_findings(limits: &[LimitFinding]) -> Vec<Self> {
        limits.iter().map(Self::of_finding).collect()
    }

    fn of_finding(limit: &LimitFinding) -> Self {
        Self {
            name: limit.name.clone(),
            of: limit.of.clone(),
            what: limit.what,
            state: limit.state.clone(),
            min: limit.min,
            max: limit.max,
            unit: limit.unit,
            nominal: limit.nominal,
            is_rating: limit.is_rating,
        }
    }

    /// Of the limits that a job has, nothing predicted.
    pub fn of_job(job: &Job) -> Vec<Self> {
        let limits = job.limits.iter();
        limits
            .flat_map(|limit| {
                limit.states.iter().map(|state| Self {
                    name: limit.name.clone(),
                    of: limit.of.clone(),
                    what: limit.what,
                    state: job.states[*state].name.clone(),
                    min: limit.min,
                    max: limit.max,
                    unit: crate::question::unit_of(limit.what),
                    nominal: None,
                    is_rating: false,
                })
            })
            .collect()
    }
}

/// Points of a cycle from which its average is taken.
const POINTS: usize = 2000;

/// Judges the readings of every limit in every state. The gate says which of them are readings of the whole job, and of
/// which the step is locked: those show nothing yet, unless they fail.
pub fn judged(
    job: &Job,
    limits: &[Limited],
    log: &Log,
    gate: &Gate,
    options: &Options,
) -> Vec<Judged> {
    let standing = log.standing();
    let counting: Vec<&Row> = standing
        .into_iter()
        .filter(|row| gate.is_whole(row))
        .collect();
    // Rows that name no step count with those that name the step which they are of.
    let placed: Vec<Row> = counting.iter().map(|row| placed(row, gate)).collect();
    let mut all = Vec::new();
    for limit in limits {
        let of = words_of(&limit.of);
        let rows: Vec<&Row> = placed
            .iter()
            .filter(|row| row.what == Observed::Statistic(limit.what))
            .filter(|row| row.state == limit.state)
            .filter(|row| row.of == of && (row.limit.is_empty() || row.limit == limit.name))
            .collect();
        if rows.is_empty() || (limit.is_rating && !is_read_of(job, limit)) {
            continue;
        }
        let mut asked = asked(job, limit, options);
        asked.loads = loading::of(job, limit, &rows, options);
        let is_held = |row: &Row| log.row(row.row).and_then(|row| gate.held(row));
        let Some((judgement, held)) = gated(&asked, &rows, &is_held, job) else {
            continue;
        };
        let is_asked = judgement.shown == Shown::NotShown && held.is_none();
        let easier = is_asked
            .then(|| easier(&asked, limit, &judgement, job))
            .flatten();
        let own = judgement
            .rows
            .iter()
            .filter_map(|row| Some((*row, gate.regardless(log.row(*row)?)?)));
        all.push(Judged {
            regardless: own.collect(),
            limit: limit.name.clone(),
            what: limit.what,
            state: limit.state.clone(),
            unit: limit.unit,
            min: limit.min,
            max: limit.max,
            mains_left: mains_left(job, &judgement),
            judgement,
            easier,
            held,
        });
    }
    all
}

/// Whether what the log calls by the part and the statistic of a rating is what that rating is about.
fn is_read_of(job: &Job, limit: &Limited) -> bool {
    let own = |known: &quietrail_job::model::State| known.name == limit.state;
    let state = job.states.iter().position(own);
    let warmth = crate::heat::Temperatures::at_rest(job);
    let step = Step::default();
    let lowered = state.map(|state| crate::lower::lower(job, state, &step, &[], &warmth));
    let lowered = lowered.and_then(Result::ok);
    lowered.is_some_and(|lowered| {
        crate::question::is_read_of(&lowered, &limit.name, (&limit.of, limit.what))
    })
}

/// A row with the step that it is of. A current counts whichever way round the ammeter was.
fn placed(row: &Row, gate: &Gate) -> Row {
    let mut row = row.clone();
    if matches!(
        row.what,
        Observed::Statistic(What::Current | What::PeakCurrent)
    ) {
        row.value = row.value.abs();
    }
    if row.step.is_empty() {
        row.step = gate.step_of(&row).unwrap_or_default().to_owned();
    }
    row
}

/// What would show a limit that its readings do not show.
///
/// Where the reading may be the instrument's own, or more than the limit is about, it says nothing of what is there: then only
/// what is predicted can be asked for, and where nothing is, the reason itself says what to do.
fn easier(asked: &Asked, limit: &Limited, judgement: &Judgement, job: &Job) -> Option<Prospect> {
    let there = judgement.value.abs().max(0.0);
    let is_untold = matches!(judgement.why, Why::FloorNotRead | Why::ReadsMore);
    let expected = match limit.nominal {
        Some(nominal) if is_untold => nominal.abs(),
        Some(nominal) => nominal.abs().min(there),
        None => there,
    };
    let found = prospect(
        asked,
        signed_like(judgement.value, expected),
        &job.instruments,
    );
    (!is_untold || found != Prospect::NotMet).then_some(found)
}

/// What readings come to, those aside that are held; where there are no others, or where they fail, they themselves.
fn gated(
    asked: &Asked,
    rows: &[&Row],
    is_held: &dyn Fn(&Row) -> Option<Held>,
    job: &Job,
) -> Option<(Judgement, Option<Held>)> {
    let of_rows = |rows: &[&Row]| judge(asked, rows, &job.instruments);
    let (held, free): (Vec<&Row>, Vec<&Row>) = rows.iter().partition(|row| is_held(row).is_some());
    let Some(last) = held.last() else {
        return of_rows(rows).map(|judgement| (judgement, None));
    };
    let (floors, free): (Vec<&Row>, Vec<&Row>) =
        free.into_iter().partition(|row| row.setup.is_shorted);
    let with_floors = |own: Vec<&Row>| -> Vec<&Row> {
        let with = |row: &&&Row| own.contains(row) || floors.contains(row);
        rows.iter().filter(with).copied().collect()
    };
    let of_held = of_rows(&with_floors(held.clone()));
    let fails = of_held
        .as_ref()
        .is_some_and(|judgement| judgement.shown == Shown::Fails);
    if !free.is_empty() && !fails {
        return of_rows(&with_floors(free)).map(|judgement| (judgement, None));
    }
    let mut judgement = of_held?;
    if fails {
        return Some((judgement, None));
    }
    judgement.shown = Shown::NotShown;
    Some((judgement, is_held(last)))
}

fn signed_like(value: f64, size: f64) -> f64 {
    if value < 0.0 { -size } else { size }
}

/// Puts what readings say into the verdicts of a proof.
pub fn merge(limits: &mut [LimitFinding], judged: &[Judged]) {
    for row in limits {
        let found = judged
            .iter()
            .find(|one| one.limit == row.name && one.state == row.state);
        row.measured = match found.map(|one| one.judgement.shown) {
            None => Measured::None,
            Some(Shown::Holds) => Measured::Holds,
            Some(Shown::Fails) => Measured::Fails,
            Some(Shown::NotShown) => Measured::NotShown,
        };
        row.overall = Overall::of(&row.predicted, row.measured);
        row.read = found.map(Judged::read);
    }
}

/// For each limit of the job in each state: whether the bench can show it, where what is there is as predicted with parts
/// as marked.
pub fn showable(job: &Job, proof: &Proof, options: &Options) -> Vec<Showable> {
    let own = proof.limits.iter().filter(|limit| !limit.is_rating);
    own.filter_map(|limit| {
        let expected = limit.nominal?;
        let asked = asked(job, &Limited::of_finding(limit), options);
        Some(Showable {
            limit: limit.name.clone(),
            what: limit.what,
            state: limit.state.clone(),
            unit: limit.unit,
            expected,
            prospect: prospect(&asked, expected, &job.instruments),
        })
    })
    .collect()
}

/// Every way to read a limit on the bench, the easiest first.
pub fn ways_of(job: &Job, limit: &Limited, options: &Options) -> Vec<Way> {
    let asked = asked(job, limit, options);
    ways(&asked, limit.nominal.unwrap_or(0.0), &job.instruments)
}

fn asked(job: &Job, limit: &Limited, options: &Options) -> Asked {
    let band = job
        .limits
        .iter()
        .find(|own| own.name == limit.name)
        .and_then(|own| own.band);
    let locked = matches!(limit.what, What::Ripple | What::RipplePeakToPeak);
    let (content, averaged) = locked
        .then(|| content(job, limit, options))
        .flatten()
        .unwrap_or_default();
    Asked {
        what: limit.what,
        band,
        min: limit.min,
        max: limit.max,
        mains_hertz: job.mains.frequency.nominal(),
        content,
        amps: amps(job, &limit.state),
        behind: behind(job, limit),
        averaged,
        direct: direct::of(job, limit, options),
        loads: Vec::new(),
        inside: warmth::inside(job, limit, options),
    }
}

/// The highest current that each load draws in a state.
fn amps(job: &Job, state: &str) -> Vec<(String, f64)> {
    let Some(state) = job.states.iter().position(|known| known.name == state) else {
        return Vec::new();
    };
    let draws = job.parts.iter().filter_map(|part| {
        let PartKind::Load(load) = &part.kind else {
            return None;
        };
        let volts = rail(job, &load.between.plus);
        let amps = match &load.draws[state] {
            LoadDraw::Current(amps) => amps.value.high,
            LoadDraw::Resistance(ohms) => volts? / ohms.value.low,
            LoadDraw::Power(watts) => watts.value.high / volts?,
        };
        Some((part.name.clone(), amps))
    });
    draws.collect()
}

/// What drives the current of a load: the rail that it is at.
fn behind(job: &Job, limit: &Limited) -> Option<f64> {
    let Subject::Part(name) = &limit.of else {
        return None;
    };
    match &job.part(name)?.kind {
        PartKind::Load(load) => {
            rail(job, &load.between.plus).or_else(|| rail(job, &load.between.minus))
        }
        _ => None,
    }
}

/// What a rail is set to, as an amount.
fn rail(job: &Job, node: &str) -> Option<f64> {
    job.parts.iter().find_map(|part| match &part.kind {
        PartKind::Regulator(one) if one.into == node => Some(one.set.size()),
        _ => None,
    })
}

/// Harmonics of what is predicted, parts as marked; and what an average-responding meter shows of the wave.
fn content(job: &Job, limit: &Limited, options: &Options) -> Option<(Content, Option<f64>)> {
    let state = job
        .states
        .iter()
        .position(|state| state.name == limit.state)?;
    let step = Step::default();
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let lowered = crate::lower::lower(
        job,
        state,
        &step,
        &[],
        &crate::heat::Temperatures::at_rest(job),
    )
    .ok()?;
    let signal: Signal = crate::question::voltage_of(&lowered, &limit.of)?;
    let mut table = OutputTable::of(&lowered);
    table.add(Output::RippleRms(signal.clone()));
    let plan = Plan {
        questions: vec![Question {
            name: String::new(),
            of: Subject::Node(String::new()),
            what: limit.what,
            states: vec![state],
            min: None,
            max: None,
            unit: limit.unit,
            from: String::new(),
            is_rating: false,
            is_quiet: false,
            ask: Ask::Largest(vec![(Output::RippleRms(signal.clone()), 1.0)]),
        }],
        table,
    };
    let solved = solve(&plan, setting, &[], None).ok()?;
    let system = assemble(&solved.lowered).ok()?;
    let orbit = steady_state_from(&system, &solved.solution.start, options).orbit?;
    let frequency = job.mains.frequency.nominal();
    let probe = signal.probe(&system);
    let wave: Vec<f64> = (0..POINTS)
        .map(|k| orbit.value(&probe, k as f64 / POINTS as f64))
        .collect();
    let spectrum = Spectrum::of(&orbit, &probe, frequency);
    let lines = spectrum
        .harmonics()
        .map(|(number, rms)| (number as f64 * frequency, rms));
    Some((Content(lines.collect()), average_of(&wave)))
}

/// The mains range, where the readings leave an end of it out or nobody looked at the mains.
fn mains_left(job: &Job, judgement: &Judgement) -> Option<(f64, f64)> {
    let mains = &job.mains.voltage.value;
    if mains.high <= mains.low {
        return None;
    }
    let reaches = |end: f64| {
        judgement
            .mains
            .iter()
            .any(|volts| (volts - end).abs() <= NEAR_END * end)
    };
    let is_whole = reaches(mains.low) && reaches(mains.high);
    (!is_whole).then_some((mains.low, mains.high))
}
