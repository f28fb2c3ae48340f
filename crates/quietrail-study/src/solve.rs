//! One steady state of a job, with the temperatures that it leads to.

mod follow;
mod hold_up;
mod many;
mod shares;
mod start_up;
mod turned;
mod undamped;
mod warming;

pub(crate) use follow::{At, traces};
pub(crate) use hold_up::MOST as MOST_LOOKED_AT;
pub(crate) use many::{Beginning, Seeds, Wanted, solve_each};
pub use many::{solve_all, together};
pub use turned::TurnedRound;
pub use undamped::{Undamped, undamped};

use crate::finding::WhyNot;
use crate::heat::Temperatures;
use crate::lower::{Lowered, Step, lower};
use crate::question::{Ask, Question, View, questions};
use crate::reading::OutputTable;
use quietrail_engine::batch::{Beat, Figures, Glance, Kind, Near};
use quietrail_engine::{
    Effort, Ended, Options, Output, Place, Signal, System, steady_state, steady_state_from,
};
use quietrail_job::model::{Job, LoadDraw, Part, PartKind};
use quietrail_job::{Change, ChangeError};
pub use shares::Share;
use shares::{Spectra, shares};
use std::sync::Arc;
use turned::turned_round;
use warming::Warming;

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
    pub shares: Vec<Share>,
    /// Temperatures that its powers lead to.
    pub temperatures: Temperatures,
    /// Temperatures that its equations were made at: the same within a hundredth of a kelvin.
    pub made_at: Temperatures,
    /// Stores at the start of the cycle: where a like circuit's search may begin.
    pub start: Vec<f64>,
    /// How it ended.
    pub ended: Ended,
    /// Largest Floquet multiplier.
    pub floquet: f64,
    /// Steady states solved for it, one per round of heat.
    pub rounds: u64,
    /// Its kind of circuit and its figures, where the fast way led to it: others like it begin there.
    pub(crate) like: Option<Like>,
}

/// What circuits like a solved one are solved with.
#[derive(Clone, Debug)]
pub(crate) struct Like {
    pub(crate) kind: Arc<Kind>,
    pub(crate) figures: Figures,
}

impl Like {
    /// The kind that reads what a plan asks for.
    fn kind_for(&self, plan: &Plan) -> Option<Arc<Kind>> {
        let (outputs, traced) = (plan.table.outputs(), plan.traced());
        if self.kind.reads(outputs, &traced) {
            return Some(self.kind.clone());
        }
        self.kind.reading(outputs, &traced).map(Arc::new)
    }
}

impl Solution {
    /// A signal of [`OutputTable::drawn`] at even points of the cycle, from its start. `None` where it was solved the
    /// patient way, or with another plan.
    pub fn course(&self, plan: &Plan, signal: &Signal) -> Option<&[f64]> {
        let at = plan.table.drawn().iter().position(|own| own == signal)?;
        let like = self.like_for(plan)?;
        let traces = like.figures.traces.iter();
        traces
            .skip(plan.of_harmonics().len())
            .nth(at)
            .map(Vec::as_slice)
    }

    /// Whether another is one of the same kind of circuit, so that both may be solved together.
    pub(crate) fn is_like(&self, other: &Self) -> bool {
        let kinds = self.like.as_ref().zip(other.like.as_ref());
        kinds.is_some_and(|(own, other)| own.kind.is_like(&other.kind))
    }

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

impl Solved {
    /// With what takes an integration.
    fn integrated(mut self, plan: &Plan) -> Self {
        integrate(plan, &mut [&mut self]);
        self
    }

    pub(crate) fn cycled(&self) -> Cycled<'_> {
        Cycled {
            lowered: &self.lowered,
            kind: self.solution.like.as_ref().map(|like| &*like.kind),
            values: &self.solution.values,
            start: &self.solution.start,
        }
    }
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
    /// The search did not settle, and what a regulator feeds turns its loop round.
    TurnedRound(TurnedRound),
    /// Heat makes more heat without end.
    Runaway {
        /// The hottest part.
        part: String,
    },
}

/// First looks before a circuit is settled whether or not its temperatures have come to rest.
const LOOKS: usize = 24;
/// Usual steps of the fast way, times the products of an iteration, by which it has not led anywhere: some four seconds. And
/// steps that it may make however many products they take: what leads somewhere takes as many in large circuits as in small.
const HASTE: u64 = 400_000_000;
const HASTY_STEPS: u64 = 50_000;
/// Steps of the patient way, times the square of the unknowns, by which it has not led anywhere: about a second.
const PATIENCE: u64 = 8_000_000;
/// Rounds of heat that may take so long.
const PATIENT_ROUNDS: u64 = 3;

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

    /// The same without what takes an integration for each answer, where it asks for any.
    pub(crate) fn without_integrations(&self) -> Option<Self> {
        let mut plan = self.clone();
        let integrated = plan.questions.iter_mut().filter(|one| one.is_integrated());
        let put_off = integrated.map(|one| one.ask = Ask::Not(WhyNot::NotComputed));
        (put_off.count() > 0).then_some(plan)
    }

    /// One question by itself.
    pub(crate) fn one(lowered: &Lowered, question: &Question) -> Self {
        let mut table = OutputTable::of(lowered);
        question.register(lowered, &mut table);
        Self {
            questions: vec![question.clone()],
            table,
        }
    }

    /// What is read of a steady cycle for one question that takes an integration besides.
    pub(crate) fn cycle_of(lowered: &Lowered, question: &Question) -> Self {
        let one = Self::one(lowered, question);
        one.without_integrations().unwrap_or(one)
    }

    /// Whether another asks for the same figures.
    fn asks_as(&self, other: &Self) -> bool {
        std::ptr::eq(self, other)
            || (self.table.outputs() == other.table.outputs() && self.traced() == other.traced())
    }

    /// Signals of which harmonics are asked, question by question, then those that are drawn.
    pub(crate) fn traced(&self) -> Vec<Signal> {
        let mut all = self.of_harmonics();
        all.extend(self.table.drawn().iter().cloned());
        all
    }

    fn of_harmonics(&self) -> Vec<Signal> {
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
        && seed.like.is_some()
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
    // Of another circuit, what settled before is no start.
    let seed = seed.filter(|seed| {
        let lowered = Warming::of(setting.job, Some(seed)).lower(setting, changes);
        let system = lowered.ok().and_then(|lowered| whole(&lowered).ok());
        let like = seed.like.as_ref();
        like.is_none_or(|like| system.is_some_and(|system| like.kind.is_of(&system)))
    });
    let mut warming = Warming::of(setting.job, seed);
    let mut way = Fast::of(seed.and_then(|seed| seed.like.as_ref()?.kind_for(plan)));
    let mut known = Known::Nothing;
    let mut left = Left::of(setting.options);
    for _ in 0..LOOKS {
        let lowered = warming.lower(setting, changes)?;
        let system = whole(&lowered)?;
        let near = known.near(warming.start());
        let look = |kind: &Kind| kind.glance(&system, near, &left.fast(kind));
        let Some((kind, found)) = way.go(plan, &system, look) else {
            break;
        };
        left.spend_fast(&kind, found.effort);
        let is_enough = warming.look(plan, &lowered, &found.values);
        known = Known::Glanced(Box::new(found));
        if is_enough {
            break;
        }
    }
    loop {
        let lowered = warming.lower(setting, changes)?;
        let system = whole(&lowered)?;
        let near = known.near(warming.start());
        let cycle = settle(
            plan,
            setting,
            (&lowered, &system),
            (&mut way, &mut left),
            near,
        )?;
        if let Some(next) = warming.take(
            (plan, setting.options),
            &lowered,
            (&cycle.values, &cycle.start),
        )? {
            let solution = cycle.solution(plan, &lowered, (next, &warming));
            return Ok(Solved { lowered, solution }.integrated(plan));
        }
        known = match cycle.from {
            From::Fast(like) => Known::Settled(Box::new(like.figures)),
            From::Patient(_) => Known::Nothing,
        };
    }
}

/// The steady state of a circuit as it stands, something in it changed, at the temperatures that another has come to.
///
/// # Errors
/// As [`solve`].
pub(crate) fn as_it_stands(
    plan: &Plan,
    setting: Setting<'_>,
    lowered: Lowered,
    warm_from: &Solution,
) -> Result<Solved, Trouble> {
    let system = whole(&lowered)?;
    let (mut way, mut left) = (Fast::of(None), Left::of(setting.options));
    let made = (&lowered, &system);
    let cycle = settle(plan, setting, made, (&mut way, &mut left), None)?;
    let warming = Warming::of(setting.job, Some(warm_from));
    let warm = (warm_from.temperatures.clone(), &warming);
    let solution = cycle.solution(plan, &lowered, warm);
    Ok(Solved { lowered, solution }.integrated(plan))
}

/// What is known of a circuit's cycle.
enum Known<'a> {
    Nothing,
    /// Stores that are foretold, and one like it beside it.
    Beside(&'a [f64], &'a Figures),
    Glanced(Box<Glance>),
    /// At temperatures near those of the next round.
    Settled(Box<Figures>),
}

impl Known<'_> {
    /// Where the next round begins: if nothing is known, at stores.
    fn near<'a>(&'a self, stores: Option<&'a [f64]>) -> Option<Near<'a>> {
        match self {
            Known::Nothing => stores.map(Near::Stores),
            Known::Beside(stores, figures) => Some(Near::Foretold(stores, figures)),
            Known::Glanced(glance) => Some(Near::Glanced(glance)),
            Known::Settled(figures) => Some(Near::Settled(figures)),
        }
    }
}

/// The fast way, as long as it leads somewhere.
struct Fast {
    kind: Option<Arc<Kind>>,
    is_lost: bool,
}

impl Fast {
    fn of(kind: Option<Arc<Kind>>) -> Self {
        Self {
            kind,
            is_lost: false,
        }
    }

    /// What the circuit's kind leads to, and the kind.
    fn go<T>(
        &mut self,
        plan: &Plan,
        system: &System,
        lead: impl FnOnce(&Kind) -> Option<T>,
    ) -> Option<(Arc<Kind>, T)> {
        if self.is_lost {
            return None;
        }
        // Changes may have made another circuit of it.
        if !self.kind.as_ref().is_some_and(|kind| kind.is_of(system)) {
            self.kind = Kind::of(system, plan.table.outputs(), &plan.traced()).map(Arc::new);
        }
        let kind = self.kind.clone();
        let led = kind.and_then(|kind| Some((kind.clone(), lead(&kind)?)));
        self.is_lost = led.is_none();
        led
    }
}

/// Effort that is left for a steady state, all its rounds of heat together. It is counted in steps, not by a clock: the
/// same on every machine.
struct Left {
    options: Options,
    /// Share of the fast way's work that was spent.
    spent: f64,
    /// Steps times the square of the unknowns.
    patient: u64,
}

impl Left {
    fn of(options: &Options) -> Self {
        Self {
            options: *options,
            spent: 0.0,
            patient: PATIENT_ROUNDS * PATIENCE,
        }
    }

    fn fast(&self, kind: &Kind) -> Options {
        let left = (1.0 - self.spent).max(0.0);
        Options {
            steps: (left * Self::hasty_steps(kind) as f64) as u64,
            ..self.options
        }
    }

    fn spend_fast(&mut self, kind: &Kind, effort: Effort) {
        self.spent += effort.usual_steps() as f64 / Self::hasty_steps(kind) as f64;
    }

    /// Usual steps that a circuit's fast way may take.
    fn hasty_steps(kind: &Kind) -> u64 {
        HASTY_STEPS.max(HASTE / kind.products().max(1))
    }

    fn patient(&self, unknowns: usize) -> Options {
        let each = (unknowns * unknowns).max(1) as u64;
        Options {
            steps: self.options.steps.min(PATIENCE.min(self.patient) / each),
            ..self.options
        }
    }

    fn spend_patient(&mut self, unknowns: usize, effort: Effort) {
        let spent = (effort.steps + effort.rejected) * (unknowns * unknowns) as u64;
        self.patient = self.patient.saturating_sub(spent);
    }
}

/// A cycle and what was read from it.
struct Cycle {
    values: Vec<f64>,
    start: Vec<f64>,
    ended: Ended,
    floquet: f64,
    from: From,
}

/// What a cycle's harmonics are read from.
enum From {
    /// Its traces, and what circuits like it are solved with.
    Fast(Box<Like>),
    /// The orbit itself, by question.
    Patient(Vec<Share>),
}

impl Cycle {
    fn of(kind: Arc<Kind>, figures: Figures) -> Self {
        Self {
            values: figures.values.clone(),
            start: figures.start.clone(),
            ended: figures.ended,
            floquet: figures.floquet,
            from: From::Fast(Box::new(Like { kind, figures })),
        }
    }

    /// The solution that it is, with the temperatures that it leads to.
    fn solution(
        self,
        plan: &Plan,
        lowered: &Lowered,
        (temperatures, warming): (Temperatures, &Warming),
    ) -> Solution {
        let (shares, like) = match self.from {
            From::Patient(shares) => (shares, None),
            From::Fast(like) => {
                let spectra = Spectra::Traced(&like.figures.traces);
                let cycled = Cycled {
                    lowered,
                    kind: Some(&like.kind),
                    values: &self.values,
                    start: &self.start,
                };
                let shares = shares(plan, cycled, &spectra);
                (shares, Some(*like))
            }
        };
        Solution {
            values: self.values,
            shares,
            temperatures,
            made_at: warming.warmth().clone(),
            start: self.start,
            ended: self.ended,
            floquet: self.floquet,
            rounds: warming.rounds(),
            like,
        }
    }
}

/// The steady state of one circuit: fast, or patiently where that does not lead to one.
fn settle(
    plan: &Plan,
    setting: Setting<'_>,
    (lowered, system): (&Lowered, &System),
    (way, left): (&mut Fast, &mut Left),
    near: Option<Near<'_>>,
) -> Result<Cycle, Trouble> {
    let mut unstable = None;
    let fast = way.go(plan, system, |kind| {
        let options = left.fast(kind);
        let figures = kind.solve(system, near, &options)?;
        if figures.ended.is_settled() {
            return Some(figures);
        }
        unstable = Some(figures.ended);
        // What has been spent tells nothing of how long it takes to leave a cycle.
        let anew = Left::of(setting.options).fast(kind);
        let cycles = match kind.beat(system, &figures.start, &anew)? {
            Beat::Rests(stores) => {
                let there = kind.solve(system, Some(Near::Stores(&stores)), &options)?;
                return there.ended.is_settled().then_some(there);
            }
            Beat::Repeats(cycles) => Some(cycles),
            Beat::Wanders => None,
        };
        unstable = Some(Ended::Swings { cycles });
        None
    });
    if let Some((kind, figures)) = fast {
        left.spend_fast(&kind, figures.effort);
        return Ok(Cycle::of(kind, figures));
    }
    // What the patient way would follow for seconds, and then not name.
    if unstable.is_none()
        && turned_round(lowered).is_none()
        && let Some(found) = undamped(lowered, setting.options)
        && let Some(place) = found.loads.into_iter().next()
    {
        let ended = Ended::Swings { cycles: None };
        return Err(Trouble::Ended { ended, place });
    }
    let system = system.reduced();
    let patient = left.patient(system.unknowns());
    let outcome = match near {
        Some(Near::Stores(start)) => steady_state_from(&system, start, &patient),
        _ => steady_state(&system, &patient),
    };
    left.spend_patient(system.unknowns(), outcome.effort);
    let orbit = match outcome.orbit {
        Some(orbit) if outcome.ended.is_settled() => orbit,
        // That a cycle would not last says more than that no other was found.
        _ => return Err(ended(unstable.unwrap_or(outcome.ended), lowered)),
    };
    let values = plan.table.read(&orbit);
    let cycled = Cycled {
        lowered,
        kind: None,
        values: &values,
        start: orbit.start(),
    };
    let shares = shares(plan, cycled, &Spectra::Orbit(&orbit));
    Ok(Cycle {
        values,
        start: orbit.start().to_vec(),
        ended: outcome.ended,
        floquet: orbit.floquet,
        from: From::Patient(shares),
    })
}

/// A circuit in its steady state.
#[derive(Clone, Copy)]
pub(crate) struct Cycled<'a> {
    pub(crate) lowered: &'a Lowered,
    /// Its kind of circuit, where that is known.
    pub(crate) kind: Option<&'a Kind>,
    /// Figures in the order of [`Plan::table`].
    pub(crate) values: &'a [f64],
    /// Stores at the start of its cycle.
    pub(crate) start: &'a [f64],
}

/// What a question that takes an integration comes to in like circuits, s: infinite where it comes to nothing.
pub(crate) fn seconds(plan: &Plan, ask: &Ask, all: &[Cycled<'_>]) -> Vec<f64> {
    match ask {
        Ask::Start(signal) => start_up::seconds(plan, all, signal),
        Ask::HoldUp(signal, level) => hold_up::seconds(all, signal, *level),
        _ => vec![f64::INFINITY; all.len()],
    }
}

/// Fills in what takes an integration from the steady cycles of like circuits, all of them together.
fn integrate(plan: &Plan, all: &mut [&mut Solved]) {
    for (k, question) in plan.questions.iter().enumerate() {
        if !question.is_integrated() || all.is_empty() {
            continue;
        }
        let cycles: Vec<Cycled<'_>> = all.iter().map(|one| one.cycled()).collect();
        let seconds = seconds(plan, &question.ask, &cycles);
        for (one, seconds) in all.iter_mut().zip(seconds) {
            one.solution.shares[k] = Share::fixed(seconds);
        }
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
    if let Some(found) = turned_round(lowered) {
        return Trouble::TurnedRound(found);
    }
    let place = match ended {
        Ended::NoStep { place, .. } | Ended::Singular { place, .. } => match place {
            Place::Node(node) => format!("node {}", lowered.name_of(node)),
            Place::Element(element) => lowered.part_of(element).unwrap_or("the circuit").to_owned(),
        },
        Ended::Unstable { .. }
        | Ended::Swings { .. }
        | Ended::CyclesSpent { .. }
        | Ended::StepsSpent => behind_a_choke(lowered).unwrap_or_default().to_owned(),
        Ended::Settled { .. } => String::new(),
    };
    Trouble::Ended { ended, place }
}

/// The first part that draws through a choke what does not fall with its voltage: a regulator, which damps nothing, or a load of
/// constant power, which feeds what swings (Middlebrook, *IEEE Industry Applications Society Annual Meeting*, 1976).
fn behind_a_choke(lowered: &Lowered) -> Option<&str> {
    let parts = &lowered.job.parts;
    let chokes = parts.iter().filter_map(|part| match &part.kind {
        PartKind::Inductor(choke) => Some(&choke.between),
        _ => None,
    });
    let ends: Vec<&str> = chokes
        .flat_map(|ends| [ends.plus.as_str(), ends.minus.as_str()])
        .collect();
    let draws_stiffly = |part: &Part| match &part.kind {
        PartKind::Regulator(regulator) => ends.contains(&regulator.from.as_str()),
        PartKind::Load(load) => {
            let is_power = matches!(load.draws[lowered.state], LoadDraw::Power(_));
            let between = &load.between;
            let is_there = |node: &String| ends.contains(&node.as_str());
            is_power && (is_there(&between.plus) || is_there(&between.minus))
        }
        _ => false,
    };
    let found = parts.iter().find(|part| draws_stiffly(part))?;
    Some(&found.name)
}

/// The value of each question in a solution.
pub fn answers(plan: &Plan, solved: &Solved) -> Vec<Result<f64, crate::finding::WhyNot>> {
    let solution = &solved.solution;
    let air = solution.temperatures.air;
    plan.questions
        .iter()
        .zip(&solution.shares)
        .map(|(question, share)| {
            let reading = plan.table.with(&solution.values);
            question.value(&View {
                lowered: &solved.lowered,
                reading,
                air,
                share: share.here,
            })
        })
        .collect()
}
