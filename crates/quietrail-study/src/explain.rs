//! Where a limit's figure comes from: the sum behind it, term by term, at the worst corner found.
//!
//! 1. The state is searched as [`crate::prove`] searches it, so that the figure is the same one.
//! 2. The worst corner is solved, and the question's formula is taken apart into terms.
//! 3. The figures that move it most are put back as marked, one at a time, and it is solved again.

mod terms;
#[cfg(test)]
mod tests;

use crate::finding::{CornerTerm, Effort, LimitFinding, Predicted, WhyNot};
use crate::lower::Step;
use crate::noise::Source;
use crate::question::{Question, View};
use crate::search::{self, Corner, Position, StateFindings, Worst, at, changes_at, groups, search};
use crate::solve::{Plan, Setting, Solved, Trouble, assemble, solve};
use quietrail_engine::{Ended, Options, Orbit, steady_state_from};
use quietrail_job::Parameter;
use quietrail_job::model::{Band, Job, Origin};

/// A figure with all that it comes from.
#[derive(Clone, Debug)]
pub struct Account {
    /// Title of the job.
    pub title: String,
    /// `230 V 50 Hz`
    pub region: String,
    /// Name of the state.
    pub state: String,
    /// The limit, and who asks for it.
    pub question: Question,
    /// With all parts as marked at nominal mains.
    pub nominal: Option<f64>,
    /// The figure at the worst corner found.
    pub value: f64,
    /// Where the worst was found: every figure that is not at its nominal there.
    pub corner: Vec<CornerTerm>,
    /// How the terms make the figure.
    pub formula: Formula,
    /// The terms, in the order in which they are said.
    pub terms: Vec<Term>,
    /// Figures of the job that stand in the terms, with where each comes from.
    pub inputs: Vec<Input>,
    /// What moves the figure most, largest first.
    pub movers: Vec<Mover>,
    /// What was solved.
    pub cycle: Cycle,
    /// What the search spent in this state.
    pub effort: Effort,
}

/// How terms make a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Formula {
    /// Lowest input, less what the output should be, less the dropout at that current.
    Headroom,
    /// Of a transistor: lowest volts from collector to emitter, less its saturation at that current.
    CollectorToEmitter,
    /// Air, and power times each thermal resistance on the way.
    Temperature,
    /// `L0 2^((T0 − T)/10)`
    Life,
    /// rms of the whole ripple, times the share of it that the band keeps.
    InBand,
    /// rms of the whole current, times what the rating's frequency makes of it.
    Equivalent,
    /// Square root of the sum of squares of what has nothing to do with each other.
    Noise,
    /// Peak less valley.
    PeakToPeak,
    /// One figure, read straight from the cycle.
    Read,
    /// The largest of several figures read from the cycle.
    Largest,
    /// Sum of the powers of a part's elements, read from the cycle.
    Power,
    /// An integration from switching on.
    Start,
    /// Integrated from the worst instant of the cycle, the mains gone.
    HoldUp,
    /// What a load gets over what it asks for.
    Supplied,
}

/// One term of a formula.
#[derive(Clone, Debug, PartialEq)]
pub struct Term {
    /// What it is.
    pub label: Label,
    /// How it enters.
    pub role: Role,
    /// Its value, SI.
    pub value: f64,
    /// Unit symbol without prefix.
    pub unit: &'static str,
}

/// How a term enters its formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// It is added.
    Plus,
    /// It is taken off.
    Minus,
    /// All before is multiplied by it.
    Times,
    /// All before is divided by it.
    Over,
    /// One of several of which the largest counts.
    OneOf,
    /// Its square is added, and the root taken of all.
    Square,
    /// It enters as the formula says.
    Given,
}

/// What a term is, with the figures that make it.
#[derive(Clone, Debug, PartialEq)]
pub enum Label {
    /// A figure read straight from the steady cycle.
    Read {
        /// Which statistic.
        statistic: Statistic,
        /// Of which nodes or part.
        of: String,
    },
    /// Output that a regulator's set point asks for.
    SetPoint {
        /// The regulator.
        part: String,
    },
    /// What the output falls by under load.
    OutputDrop {
        /// The regulator.
        part: String,
        /// Mean output current, A.
        amps: f64,
        /// Output resistance, Ω.
        ohms: f64,
    },
    /// Least voltage across the regulator, on the line through its data sheet's points.
    Dropout {
        /// The regulator.
        part: String,
        /// Mean output current, A.
        amps: f64,
    },
    /// What a transistor needs from collector to emitter at a current, A.
    Saturation {
        /// The regulator.
        part: String,
        /// Mean output current, A.
        amps: f64,
    },
    /// Room temperature.
    Room,
    /// Rise of the air in the box, as given.
    BoxRise,
    /// Rise of the air in the box by all heat made in it.
    BoxHeat(Warmth),
    /// Rise of a sink over the air.
    SinkRise {
        /// The sink.
        sink: String,
        /// All parts that sit on it.
        heats: Vec<String>,
        /// Their power, and the way to the air.
        warmth: Warmth,
    },
    /// Rise of a part over what it sits on.
    Rise {
        /// The part.
        part: String,
        /// Which way the heat takes.
        way: Way,
        /// Power and thermal resistance.
        warmth: Warmth,
    },
    /// Rise of the copper over the air, as given.
    CopperRise {
        /// The transformer.
        part: String,
    },
    /// Rise of a capacitor's core by its own current.
    SelfHeating {
        /// The capacitor.
        part: String,
        /// Its rms current, A.
        amps: f64,
        /// Its rating, A.
        rated: f64,
        /// Rise at the rating, K.
        at_rated: f64,
    },
    /// Life at the rated temperature.
    RatedLife,
    /// Temperature of the life rating.
    RatedTemperature,
    /// Temperature of the can.
    Can,
    /// `(T0 − T)/10`
    Doublings {
        /// Kelvins that halve the life.
        halves: f64,
    },
    /// What a band keeps of the whole.
    BandShare(Band),
    /// Noise of one source inside the band, where it is asked for.
    Noise(Source),
    /// That of so many more sources together.
    OtherNoise(usize),
    /// The mains-locked part inside the band.
    RippleInBand,
    /// What a rating's frequency makes of the whole.
    RatingShare {
        /// Frequency of the rating, Hz.
        hertz: f64,
        /// Whether the rating has multipliers by frequency.
        has_multipliers: bool,
    },
    /// Mean power into a part.
    Power {
        /// The part.
        part: String,
    },
    /// What a load asks for.
    Asked {
        /// The load.
        part: String,
    },
    /// Time until the level stays near its settled mean.
    Settles,
    /// Time from the mains going away until it passes its level.
    Holds,
}

/// Statistics that are read from a cycle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names are the trade's words")]
pub enum Statistic {
    Mean,
    Valley,
    Peak,
    Rms,
    RippleRms,
    /// Largest voltage backwards.
    Reverse,
    Power,
}

/// Heat on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Warmth {
    /// Power, W.
    pub watts: f64,
    /// Thermal resistance, K/W.
    pub resistance: f64,
}

/// The way that heat takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Way {
    CaseToSink,
    JunctionToCase,
    JunctionToAir,
    JunctionToSink,
    CopperToAir,
}

/// A figure of the job that stands in a term.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// Its address, or its key where it is not adjustable.
    pub address: String,
    /// Its value at the corner, SI.
    pub value: f64,
    /// Unit symbol without prefix.
    pub unit: &'static str,
    /// Where it comes from.
    pub origin: Origin,
}

/// What putting figures back as marked does.
#[derive(Clone, Debug, PartialEq)]
pub struct Mover {
    /// The figures: one, or the points of one curve.
    pub figures: Vec<CornerTerm>,
    /// The limit's figure with them as marked and all else at the corner.
    pub without: f64,
    /// What they make: the figure at the corner less that.
    pub makes: f64,
}

/// The cycle that was solved at the corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Cycle {
    /// Mains voltage, rms.
    pub mains: f64,
    /// Mains frequency, Hz.
    pub hertz: f64,
    /// Largest change over one more cycle, relative.
    pub residual: f64,
    /// Charge balance, relative.
    pub charge_balance: f64,
    /// Energy balance, relative.
    pub energy_balance: f64,
    /// Largest Floquet multiplier: below 1, a disturbance dies out.
    pub floquet: f64,
    /// Strongest harmonics in the figure, where it is about ripple: Hz and rms.
    pub harmonics: Vec<(f64, f64)>,
}

/// Why there is nothing to explain.
#[derive(Clone, Debug)]
pub enum NoAccount {
    /// The job asks nothing of this name; the names that it has.
    UnknownLimit {
        /// What it asks.
        known: Vec<String>,
    },
    /// It is not asked in this state; the states in which it is.
    NotInState {
        /// Their names.
        states: Vec<String>,
    },
    /// The figure has no value.
    NotShown {
        /// The unit of the limit.
        unit: &'static str,
        /// Why.
        why: WhyNot,
    },
    /// No steady state.
    Trouble(Trouble),
}

/// Figures put back as marked, at most.
const MOVERS: usize = 6;
/// Groups whose slope makes less than this share of the way are not tried.
const SMALLEST_WEIGHT: f64 = 0.005;

/// Explains a limit or a rating in a state, or in the state where it is worst.
///
/// # Errors
/// [`NoAccount`].
pub fn explain(
    job: &Job,
    limit: &str,
    state: Option<usize>,
    options: &Options,
) -> Result<Account, NoAccount> {
    let plan = Plan::of(job).map_err(|error| NoAccount::Trouble(Trouble::Change(error)))?;
    let q = numbered(&plan, limit)?;
    let question = &plan.questions[q];
    let states = match state {
        Some(state) if question.states.contains(&state) => vec![state],
        Some(_) => {
            let names = question
                .states
                .iter()
                .map(|&of| job.states[of].name.clone());
            return Err(NoAccount::NotInState {
                states: names.collect(),
            });
        }
        None => question.states.clone(),
    };
    let step = Step::default();
    let mut worst: Option<(f64, Setting<'_>, StateFindings)> = None;
    let mut why_not = None;
    for state in states {
        let setting = Setting {
            job,
            state,
            step: &step,
            options,
        };
        let found = search(&plan, setting).map_err(NoAccount::Trouble)?;
        let own = &found.worst[q];
        let Some((value, _)) = &own.worst else {
            why_not = why_not.or_else(|| own.why_not.clone());
            continue;
        };
        let margin = question.margin(*value);
        if worst.as_ref().is_none_or(|(known, ..)| margin < *known) {
            worst = Some((margin, setting, found));
        }
    }
    let Some((_, setting, found)) = worst else {
        return Err(NoAccount::NotShown {
            unit: question.unit,
            why: why_not.unwrap_or(WhyNot::NotComputed),
        });
    };
    account(&plan, setting, &found, q)
}

/// Where the figure of a limit comes from, at the corner that a proof of the job found for it.
///
/// # Errors
/// [`NoAccount`].
pub fn explain_finding(
    job: &Job,
    finding: &LimitFinding,
    effort: Effort,
    options: &Options,
) -> Result<Account, NoAccount> {
    let plan = Plan::of(job).map_err(|error| NoAccount::Trouble(Trouble::Change(error)))?;
    let q = numbered(&plan, &finding.name)?;
    let named = |state: &quietrail_job::model::State| state.name == finding.state;
    let Some(state) = job.states.iter().position(named) else {
        return Err(NoAccount::NotInState { states: Vec::new() });
    };
    let Some(value) = finding.worst else {
        let why = match &finding.predicted {
            Predicted::NotShown(why) => why.clone(),
            Predicted::Holds | Predicted::Fails => WhyNot::NotComputed,
        };
        return Err(NoAccount::NotShown {
            unit: plan.questions[q].unit,
            why,
        });
    };
    let step = Step::default();
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let parameters = search::parameters(job, state);
    let term = |parameter: &Parameter| {
        let mut terms = finding.corner.iter();
        terms.find(|term| term.address == parameter.address)
    };
    let place = |parameter: &Parameter| {
        term(parameter).map_or(Position::NOMINAL, |term| {
            search::position_of(parameter, term.value)
        })
    };
    let corner: Corner = parameters.iter().map(place).collect();
    let weight = |parameter: &Parameter| term(parameter).map_or(0.0, |term| term.weight);
    let weights = parameters.iter().map(weight).collect();
    let unknown = Worst {
        nominal: None,
        worst: None,
        weights: Vec::new(),
        why_not: None,
    };
    let mut worst = vec![unknown; plan.questions.len()];
    worst[q] = Worst {
        nominal: finding.nominal,
        worst: Some((value, corner)),
        weights,
        why_not: None,
    };
    let found = StateFindings {
        parameters,
        worst,
        nominal: solve(&plan, setting, &[], None).map_err(NoAccount::Trouble)?,
        tried: std::collections::BTreeMap::new(),
        solutions: effort.solutions,
        corners: effort.corners,
    };
    account(&plan, setting, &found, q)
}

/// The number of a question by its name.
fn numbered(plan: &Plan, limit: &str) -> Result<usize, NoAccount> {
    let same = |question: &Question| question.name == limit;
    plan.questions.iter().position(same).ok_or_else(|| {
        let told = plan.questions.iter().filter(|question| !question.is_quiet);
        NoAccount::UnknownLimit {
            known: told.map(|question| question.name.clone()).collect(),
        }
    })
}

fn account(
    plan: &Plan,
    setting: Setting<'_>,
    found: &StateFindings,
    q: usize,
) -> Result<Account, NoAccount> {
    let question = &plan.questions[q];
    let worst = &found.worst[q];
    let not_shown = |why| NoAccount::NotShown {
        unit: question.unit,
        why,
    };
    let Some((_, corner)) = &worst.worst else {
        return Err(not_shown(WhyNot::NotComputed));
    };
    let mut plan = plan.clone();
    for output in terms::readings(question) {
        plan.table.add(output);
    }
    let solved = solved_at(&plan, setting, found, corner).map_err(NoAccount::Trouble)?;
    let value = answer(&plan, &solved, q).map_err(not_shown)?;
    let parts = terms::of(&view(&plan, &solved, q), question).map_err(not_shown)?;
    let system = assemble(&solved.lowered).map_err(NoAccount::Trouble)?;
    let outcome = steady_state_from(&system, &solved.solution.start, setting.options);
    let cycle = cycle(&solved, outcome.orbit.as_ref(), question);
    Ok(Account {
        title: setting.job.title.clone(),
        region: setting.job.region.name.clone(),
        state: setting.job.states[setting.state].name.clone(),
        question: question.clone(),
        nominal: worst.nominal,
        value,
        corner: moved(&found.parameters, corner, &worst.weights),
        formula: parts.formula,
        terms: parts.terms,
        inputs: parts.inputs,
        movers: movers(&plan, setting, found, q, value, corner),
        cycle,
        effort: Effort {
            solutions: found.solutions,
            corners: found.corners,
        },
    })
}

fn solved_at(
    plan: &Plan,
    setting: Setting<'_>,
    found: &StateFindings,
    corner: &Corner,
) -> Result<Solved, Trouble> {
    let changes = changes_at(&found.parameters, corner);
    solve(plan, setting, &changes, Some(&found.nominal.solution))
}

fn view<'a>(plan: &'a Plan, solved: &'a Solved, q: usize) -> View<'a> {
    View {
        lowered: &solved.lowered,
        reading: plan.table.with(&solved.solution.values),
        air: solved.solution.temperatures.air,
        share: solved.solution.shares[q].here,
    }
}

fn answer(plan: &Plan, solved: &Solved, q: usize) -> Result<f64, WhyNot> {
    plan.questions[q].value(&view(plan, solved, q))
}

/// Figures that are not as marked, most telling first.
fn moved(parameters: &[Parameter], corner: &Corner, weights: &[f64]) -> Vec<CornerTerm> {
    let mut all: Vec<CornerTerm> = parameters
        .iter()
        .zip(corner)
        .zip(weights)
        .filter(|((_, position), _)| **position != Position::NOMINAL)
        .map(|((parameter, position), &weight)| CornerTerm {
            address: parameter.address.clone(),
            value: at(parameter, *position),
            nominal: parameter.nominal,
            unit: parameter.unit,
            weight,
        })
        .collect();
    all.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    all
}

/// The groups of figures with the largest weights, put back as marked one group at a time.
fn movers(
    plan: &Plan,
    setting: Setting<'_>,
    found: &StateFindings,
    q: usize,
    value: f64,
    corner: &Corner,
) -> Vec<Mover> {
    let groups = groups(&setting.job.same, &found.parameters);
    let weights = &found.worst[q].weights;
    let weight_of = |group: usize| -> f64 {
        let members = groups.iter().zip(weights).filter(|(of, _)| **of == group);
        members.map(|(_, weight)| weight).sum()
    };
    let mut order: Vec<usize> = (0..corner.len())
        .filter(|&index| groups[index] == index && weight_of(index) >= SMALLEST_WEIGHT)
        .filter(|&index| {
            let mut members = groups.iter().zip(corner);
            members.any(|(of, position)| *of == index && *position != Position::NOMINAL)
        })
        .collect();
    order.sort_by(|&a, &b| weight_of(b).total_cmp(&weight_of(a)));
    let mut all: Vec<Mover> = order
        .into_iter()
        .take(MOVERS)
        .filter_map(|group| {
            let mut back = corner.clone();
            let mut only: Corner = vec![Position::NOMINAL; corner.len()];
            for (index, of) in groups.iter().enumerate() {
                if *of == group {
                    only[index] = back[index];
                    back[index] = Position::NOMINAL;
                }
            }
            let solved = solved_at(plan, setting, found, &back).ok()?;
            let without = answer(plan, &solved, q).ok()?;
            Some(Mover {
                figures: moved(&found.parameters, &only, weights),
                without,
                makes: value - without,
            })
        })
        .collect();
    all.sort_by(|a, b| b.makes.abs().total_cmp(&a.makes.abs()));
    all
}

fn cycle(solved: &Solved, orbit: Option<&Orbit<'_>>, question: &Question) -> Cycle {
    let job = &solved.lowered.job;
    let residual = match solved.solution.ended {
        Ended::Settled { residual } => residual,
        _ => f64::NAN,
    };
    Cycle {
        mains: job.mains.voltage.nominal(),
        hertz: job.mains.frequency.nominal(),
        residual,
        charge_balance: orbit.map_or(f64::NAN, Orbit::charge_balance),
        energy_balance: orbit.map_or(f64::NAN, Orbit::energy_balance),
        floquet: solved.solution.floquet,
        harmonics: orbit.map_or_else(Vec::new, |orbit| {
            terms::harmonics(orbit, question, job.mains.frequency.nominal())
        }),
    }
}

impl Account {
    /// The figure as its terms make it: for whoever checks the sum.
    pub fn recombined(&self) -> Option<f64> {
        let mut sum = 0.0;
        let mut largest = f64::NEG_INFINITY;
        let mut squares = 0.0;
        for term in &self.terms {
            match term.role {
                Role::Plus => sum += term.value,
                Role::Minus => sum -= term.value,
                Role::Times => sum *= term.value,
                Role::Over => sum /= term.value,
                Role::OneOf => largest = largest.max(term.value),
                Role::Square => squares += term.value * term.value,
                Role::Given => {}
            }
        }
        match self.formula {
            Formula::Largest => Some(largest),
            Formula::Noise => Some(f64::sqrt(squares)),
            Formula::Life => {
                let of = |wanted: fn(&Label) -> bool| {
                    let term = self.terms.iter().find(|term| wanted(&term.label))?;
                    Some(term.value)
                };
                let hours = of(|label| *label == Label::RatedLife)?;
                let doublings = of(|label| matches!(label, Label::Doublings { .. }))?;
                Some(hours * quietrail_engine::math::pow(2.0, doublings))
            }
            Formula::Headroom
            | Formula::CollectorToEmitter
            | Formula::Temperature
            | Formula::InBand
            | Formula::Equivalent
            | Formula::PeakToPeak
            | Formula::Read
            | Formula::Power
            | Formula::Start
            | Formula::HoldUp
            | Formula::Supplied => Some(sum),
        }
    }
}
