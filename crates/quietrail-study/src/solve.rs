//! One steady state of a job, with the temperatures that it leads to.

use crate::heat::{Temperatures, temperatures};
use crate::lower::{Lowered, Step, lower};
use crate::question::{Ask, Question, View, questions};
use crate::reading::OutputTable;
use crate::spectrum::Spectrum;
use quietrail_engine::batch::{Figures, Kind};
use quietrail_engine::{
    Ended, Options, Output, Place, Signal, System, steady_state, steady_state_from, transient,
};
use quietrail_job::model::Job;
use quietrail_job::{Change, ChangeError};
use std::sync::Arc;

/// What is asked, and which figures of a steady state that takes.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Limits and ratings.
    pub questions: Vec<Question>,
    /// Figures to read.
    pub table: OutputTable,
}

/// A steady state that settled.
#[derive(Clone, Debug)]
pub struct Solution {
    /// Figures in the order of [`Plan::table`].
    pub values: Vec<f64>,
    /// Per question, the share of its signal's rms that its band or rating keeps.
    pub shares: Vec<f64>,
    /// Temperatures that its powers lead to.
    pub temperatures: Temperatures,
    /// Temperatures that its equations were made at: the same within half a kelvin.
    pub made_at: Temperatures,
    /// Stores at the start of the cycle: where a like circuit's search may begin.
    pub start: Vec<f64>,
    /// How it ended.
    pub ended: Ended,
    /// Largest Floquet multiplier.
    pub floquet: f64,
    /// Steady states solved for it, one per round of heat.
    pub rounds: u64,
    /// Ratio of the last two changes of temperature: the gain of the loop through heat.
    pub heat_gain: f64,
    /// Its kind of circuit and its figures, where the fast way led to it: others like it begin there.
    pub(crate) like: Option<Like>,
}

/// What circuits like a solved one are solved with.
#[derive(Clone, Debug)]
pub(crate) struct Like {
    pub(crate) kind: Arc<Kind>,
    pub(crate) figures: Figures,
}

impl Solution {
    /// What circuits like it are solved with, if that reads what a plan asks for.
    pub(crate) fn like_for(&self, plan: &Plan) -> Option<&Like> {
        let like = self.like.as_ref()?;
        like.kind
            .reads(plan.table.outputs(), &plan.traced())
            .then_some(like)
    }
}

/// A solution with the names that belong to it.
pub struct Solved {
    /// Names and values.
    pub lowered: Lowered,
    /// Numbers.
    pub solution: Solution,
}

/// Why there is no steady state to read.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// A change cannot be made.
    Change(ChangeError),
    /// The engine refuses a value.
    Value {
        /// The part.
        part: String,
        /// Which value.
        what: &'static str,
        /// The value.
        value: f64,
    },
    /// The search did not settle; the part or node where it resisted.
    Ended {
        /// How it ended.
        ended: Ended,
        /// Name of the part or node.
        place: String,
    },
    /// Heat makes more heat without end.
    Runaway {
        /// The hottest part.
        part: String,
    },
}

/// How many lists of changes are best given to [`solve_all`] at a time: enough that circuits can go together, and few
/// enough that all cores have some.
pub const AT_ONCE: usize = 16;
/// Time after switching on that is looked at, s.
const START_SECONDS: f64 = 2.0;
/// Points per mains cycle at which a start is looked at.
const START_POINTS: f64 = 40.0;
/// Distance from the settled mean within which a level has started, as a share of it.
const START_NEAR: f64 = 0.05;
/// Steps of the patient way, times the square of the unknowns, by which it has not led anywhere: about a second.
const PATIENCE: u64 = 8_000_000;
/// Temperatures that change less between rounds are settled, K.
const STEADY_HEAT: f64 = 0.5;
/// Rounds of heat before it counts as running away.
const ROUNDS: u64 = 24;

impl Plan {
    /// All limits and ratings of a job.
    ///
    /// # Errors
    /// As [`lower`].
    pub fn of(job: &Job) -> Result<Self, ChangeError> {
        let lowered = lower(job, 0, &Step::default(), &[], &Temperatures::at_rest(job))?;
        let questions = questions(&lowered);
        let mut table = OutputTable::of(&lowered);
        for question in &questions {
            question.register(&lowered, &mut table);
        }
        Ok(Self { questions, table })
    }

    /// Signals of which harmonics are asked, question by question.
    pub(crate) fn traced(&self) -> Vec<Signal> {
        let signals = self
            .questions
            .iter()
            .filter_map(|question| match &question.ask {
                Ask::InBand(signal, _) | Ask::Equivalent(signal, _) => Some(signal.clone()),
                Ask::RippleAndNoise((plus, minus), _) => Some(Signal::Voltage(*plus, *minus)),
                _ => None,
            });
        signals.collect()
    }

    /// No questions, only some figures.
    pub fn reading(table: OutputTable) -> Self {
        Self {
            questions: Vec::new(),
            table,
        }
    }
}

/// Where and how a steady state is looked for.
#[derive(Clone, Copy)]
pub struct Setting<'a> {
    /// The job as it stands.
    pub job: &'a Job,
    /// Index into its states.
    pub state: usize,
    /// What is connected.
    pub step: &'a Step,
    /// Tolerance and effort.
    pub options: &'a Options,
}

/// Solves a job with changes, warm from a seed if there is one.
///
/// # Errors
/// Why it did not settle.
pub fn solve(
    plan: &Plan,
    setting: Setting<'_>,
    changes: &[Change],
    seed: Option<&Solution>,
) -> Result<Solved, Trouble> {
    if let Some(seed) = seed
        && seed.like_for(plan).is_some()
    {
        // As one of many, so that it comes to the same to the last bit.
        let one = solve_all(plan, setting, &[changes.to_vec()], seed).pop();
        return one.expect("one result for one list of changes");
    }
    solve_alone(plan, setting, changes, seed)
}

/// Some figures of a job with changes, by themselves: what each reads in the steady state, in their order. Outputs are of
/// the job as it is lowered with the same changes at rest.
///
/// # Errors
/// As [`solve`].
pub fn figures(
    setting: Setting<'_>,
    changes: &[Change],
    lowered: &Lowered,
    outputs: &[Output],
) -> Result<Vec<f64>, Trouble> {
    let mut table = OutputTable::of(lowered);
    outputs.iter().for_each(|output| table.add(output.clone()));
    let plan = Plan::reading(table);
    let solved = solve(&plan, setting, changes, None)?;
    let reading = plan.table.with(&solved.solution.values);
    Ok(outputs.iter().map(|output| reading.get(output)).collect())
}

/// Solves a job with changes by itself.
fn solve_alone(
    plan: &Plan,
    setting: Setting<'_>,
    changes: &[Change],
    seed: Option<&Solution>,
) -> Result<Solved, Trouble> {
    let mut warming = Warming::of(setting.job, seed);
    let mut kind = seed.and_then(|seed| Some(seed.like_for(plan)?.kind.clone()));
    loop {
        let lowered = warming.lower(setting, changes)?;
        let system = whole(&lowered)?;
        let cycle = settle(plan, setting, &lowered, &system, &mut kind, warming.start())?;
        if let Some(solved) = warming.take(plan, lowered, cycle)? {
            return Ok(solved);
        }
    }
}

/// Solves a job with many lists of changes, all warm from one solution; those alike go together.
pub fn solve_all(
    plan: &Plan,
    setting: Setting<'_>,
    many: &[Vec<Change>],
    seed: &Solution,
) -> Vec<Result<Solved, Trouble>> {
    let alone = |changes: &Vec<Change>| solve_alone(plan, setting, changes, Some(seed));
    let Some(like) = seed.like_for(plan) else {
        return many.iter().map(alone).collect();
    };
    let mut done: Vec<Option<Result<Solved, Trouble>>> = many.iter().map(|_| None).collect();
    let mut warming: Vec<Warming> = many
        .iter()
        .map(|_| Warming::of(setting.job, Some(seed)))
        .collect();
    loop {
        let mut round: Vec<(usize, Lowered, System)> = Vec::new();
        for (k, changes) in many.iter().enumerate() {
            if done[k].is_some() {
                continue;
            }
            let made = warming[k]
                .lower(setting, changes)
                .and_then(|lowered| Ok((whole(&lowered)?, lowered)));
            match made {
                Ok((system, lowered)) => round.push((k, lowered, system)),
                Err(trouble) => done[k] = Some(Err(trouble)),
            }
        }
        if round.is_empty() {
            break;
        }
        let circuits: Vec<(&System, &[f64])> = round
            .iter()
            .map(|(k, _, system)| (system, warming[*k].start().unwrap_or(&[])))
            .collect();
        let found = like
            .kind
            .solve_near(&circuits, &like.figures, setting.options);
        for ((k, lowered, _), figures) in round.into_iter().zip(found) {
            let Some(figures) = figures else {
                done[k] = Some(alone(&many[k]));
                continue;
            };
            let cycle = Cycle::of(plan, setting, &lowered, like.kind.clone(), figures);
            match warming[k].take(plan, lowered, cycle) {
                Ok(None) => {}
                Ok(Some(solved)) => done[k] = Some(Ok(solved)),
                Err(trouble) => done[k] = Some(Err(trouble)),
            }
        }
    }
    done.into_iter()
        .map(|done| {
            done.unwrap_or(Err(Trouble::Runaway {
                part: String::new(),
            }))
        })
        .collect()
}

/// A cycle and what was read from it.
struct Cycle {
    values: Vec<f64>,
    shares: Vec<f64>,
    start: Vec<f64>,
    ended: Ended,
    floquet: f64,
    like: Option<Like>,
}

impl Cycle {
    fn of(
        plan: &Plan,
        setting: Setting<'_>,
        lowered: &Lowered,
        kind: Arc<Kind>,
        figures: Figures,
    ) -> Self {
        let spectra = Spectra::Traced(&figures.traces);
        Self {
            shares: shares(plan, setting, lowered, &figures.values, &spectra),
            values: figures.values.clone(),
            start: figures.start.clone(),
            ended: figures.ended,
            floquet: figures.floquet,
            like: Some(Like { kind, figures }),
        }
    }
}

/// The steady state of one circuit: fast, or patiently where that does not lead to one.
fn settle(
    plan: &Plan,
    setting: Setting<'_>,
    lowered: &Lowered,
    system: &System,
    kind: &mut Option<Arc<Kind>>,
    start: Option<&[f64]>,
) -> Result<Cycle, Trouble> {
    let fast = |kind: &Arc<Kind>| {
        let figures = kind.solve(system, start, setting.options)?;
        let settled = figures.ended.is_settled();
        settled.then(|| Cycle::of(plan, setting, lowered, kind.clone(), figures))
    };
    if let Some(cycle) = kind.as_ref().and_then(fast) {
        return Ok(cycle);
    }
    // Changes may have made another circuit of it.
    *kind = Kind::of(system, plan.table.outputs(), &plan.traced()).map(Arc::new);
    if let Some(cycle) = kind.as_ref().and_then(fast) {
        return Ok(cycle);
    }
    let system = system.reduced();
    let unknowns = system.unknowns() as u64;
    let patient = Options {
        steps: setting
            .options
            .steps
            .min(PATIENCE / (unknowns * unknowns).max(1)),
        ..*setting.options
    };
    let outcome = match start {
        Some(start) => steady_state_from(&system, start, &patient),
        None => steady_state(&system, &patient),
    };
    let orbit = match outcome.orbit {
        Some(orbit) if outcome.ended.is_settled() => orbit,
        _ => return Err(ended(outcome.ended, lowered)),
    };
    let values = plan.table.read(&orbit);
    Ok(Cycle {
        shares: shares(plan, setting, lowered, &values, &Spectra::Orbit(&orbit)),
        values,
        start: orbit.start().to_vec(),
        ended: outcome.ended,
        floquet: orbit.floquet,
        like: None,
    })
}

/// The rounds in which powers and temperatures come to agree.
struct Warming {
    warmth: Temperatures,
    /// Those of the round before.
    before: Option<Temperatures>,
    start: Option<Vec<f64>>,
    last_change: f64,
    rounds: u64,
}

impl Warming {
    fn of(job: &Job, seed: Option<&Solution>) -> Self {
        Self {
            warmth: seed.map_or_else(
                || Temperatures::at_rest(job),
                |seed| seed.temperatures.clone(),
            ),
            before: None,
            start: seed.map(|seed| seed.start.clone()),
            last_change: f64::INFINITY,
            rounds: 0,
        }
    }

    fn start(&self) -> Option<&[f64]> {
        self.start.as_deref()
    }

    fn lower(&self, setting: Setting<'_>, changes: &[Change]) -> Result<Lowered, Trouble> {
        let Setting {
            job, state, step, ..
        } = setting;
        lower(job, state, step, changes, &self.warmth).map_err(Trouble::Change)
    }

    /// Takes the cycle of a round: a solution, if it leads to the temperatures that it was made at.
    fn take(
        &mut self,
        plan: &Plan,
        lowered: Lowered,
        cycle: Cycle,
    ) -> Result<Option<Solved>, Trouble> {
        self.rounds += 1;
        let next = temperatures(&lowered, &plan.table.with(&cycle.values));
        let change = next.distance(&self.warmth);
        let heat_gain = if self.last_change.is_finite() {
            change / self.last_change
        } else {
            0.0
        };
        if change < STEADY_HEAT && !next.melts() {
            let solution = Solution {
                values: cycle.values,
                shares: cycle.shares,
                temperatures: next,
                made_at: self.warmth.clone(),
                start: cycle.start,
                ended: cycle.ended,
                floquet: cycle.floquet,
                rounds: self.rounds,
                heat_gain,
                like: cycle.like,
            };
            return Ok(Some(Solved { lowered, solution }));
        }
        let is_over = change < STEADY_HEAT || next.air > 1e4 || self.rounds == ROUNDS;
        if is_over || !change.is_finite() {
            return Err(Trouble::Runaway {
                part: String::new(),
            });
        }
        self.start = Some(cycle.start);
        self.last_change = change;
        let swings = self
            .before
            .as_ref()
            .is_some_and(|before| self.warmth.turns(before, &next));
        let further = if swings {
            self.warmth.halfway(&next)
        } else {
            self.warmth.towards(&next)
        };
        self.before = Some(std::mem::replace(&mut self.warmth, further));
        Ok(None)
    }
}

/// The equations of a lowered job, reduced.
///
/// # Errors
/// [`Trouble::Value`].
pub fn assemble(lowered: &Lowered) -> Result<System, Trouble> {
    whole(lowered).map(|system| system.reduced())
}

/// The equations of a lowered job as the circuit gives them.
pub(crate) fn whole(lowered: &Lowered) -> Result<System, Trouble> {
    System::assemble(&lowered.circuit).map_err(|error| refused(lowered, &error))
}

pub(crate) fn refused(lowered: &Lowered, error: &quietrail_engine::AssembleError) -> Trouble {
    let quietrail_engine::AssembleError::Value {
        element,
        what,
        value,
    } = error;
    let part = lowered.part_of(*element).unwrap_or("mains").to_owned();
    Trouble::Value {
        part,
        what,
        value: *value,
    }
}

pub(crate) fn ended(ended: Ended, lowered: &Lowered) -> Trouble {
    let place = match ended {
        Ended::NoStep { place, .. } | Ended::Singular { place, .. } => match place {
            Place::Node(node) => format!("node {}", lowered.name_of(node)),
            Place::Element(element) => lowered.part_of(element).unwrap_or("the circuit").to_owned(),
        },
        _ => String::new(),
    };
    Trouble::Ended { ended, place }
}

/// Where the harmonics of signals are read.
enum Spectra<'a> {
    /// In traces, in the order of [`Plan::traced`].
    Traced(&'a [Vec<f64>]),
    /// In the orbit itself.
    Orbit(&'a quietrail_engine::Orbit<'a>),
}

/// What bands and ratings keep of their signals' rms.
fn shares(
    plan: &Plan,
    setting: Setting<'_>,
    lowered: &Lowered,
    values: &[f64],
    spectra: &Spectra<'_>,
) -> Vec<f64> {
    let frequency = lowered.job.mains.frequency.nominal();
    let mut traces = 0..;
    plan.questions
        .iter()
        .map(|question| {
            let both;
            let (signal, kept): (_, &dyn Fn(&Spectrum) -> f64) = match &question.ask {
                Ask::InBand(signal, band) => (signal, &|spectrum| spectrum.in_band(band)),
                Ask::RippleAndNoise((plus, minus), band) => {
                    both = Signal::Voltage(*plus, *minus);
                    (&both, &|spectrum| spectrum.in_band(band))
                }
                Ask::Equivalent(signal, rating) => {
                    (signal, &|spectrum| spectrum.equivalent(&rating.multipliers))
                }
                Ask::Start(signal) => {
                    let settled = plan.table.with(values).get(&Output::Mean(signal.clone()));
                    return seconds_to_start(setting, lowered, signal, settled);
                }
                _ => return 1.0,
            };
            let trace = traces.next().expect("unending");
            let total = plan
                .table
                .with(values)
                .get(&Output::RippleRms(signal.clone()));
            if total <= 0.0 {
                return 1.0;
            }
            let spectrum = match spectra {
                Spectra::Traced(all) => Spectrum::of_samples(&all[trace], total, frequency),
                Spectra::Orbit(orbit) => {
                    Spectrum::of(orbit, &signal.probe(orbit.system()), frequency)
                }
            };
            kept(&spectrum) / total
        })
        .collect()
}

/// Seconds from switching on, all capacitors empty, until a signal stays near its settled mean; infinite
/// where it does not within the time looked at.
fn seconds_to_start(setting: Setting<'_>, lowered: &Lowered, signal: &Signal, settled: f64) -> f64 {
    let frequency = setting.job.mains.frequency.nominal();
    let Ok(system) = assemble(lowered) else {
        return f64::INFINITY;
    };
    let probe = signal.probe(&system);
    let rest = vec![0.0; system.store_count()];
    let cycles = START_SECONDS * frequency;
    let options = Options {
        tolerance: 1e-4,
        ..Options::default()
    };
    let Ok(run) = transient(&system, &rest, 0.0, cycles, &options) else {
        return f64::INFINITY;
    };
    let points = (cycles * START_POINTS) as usize;
    let is_off = |k: &usize| {
        let value = run.value(&probe, *k as f64 / START_POINTS);
        (value - settled).abs() > START_NEAR * settled.abs()
    };
    match (0..points).rev().find(is_off) {
        // Still off in the last cycle: it does not settle in this time.
        Some(last) if last as f64 > (cycles - 1.0) * START_POINTS => f64::INFINITY,
        Some(last) => (last + 1) as f64 / START_POINTS / frequency,
        None => 0.0,
    }
}

/// The value of each question in a solution.
pub fn answers(plan: &Plan, solved: &Solved) -> Vec<Result<f64, crate::finding::WhyNot>> {
    let solution = &solved.solution;
    let air = solution.temperatures.air;
    plan.questions
        .iter()
        .zip(&solution.shares)
        .map(|(question, &share)| {
            let reading = plan.table.with(&solution.values);
            question.value(&View {
                lowered: &solved.lowered,
                reading,
                air,
                share,
            })
        })
        .collect()
}
