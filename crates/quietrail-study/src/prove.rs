//! The main job: every limit and rating, in every state, at the worst corner found.

use crate::finding::{
    Assumption, Effort, Ending, Gets, LimitFinding, Measured, Mostly, NodeFinding, Overall,
    PartFinding, Predicted, Proof, WhyNot,
};
use crate::looking;
use crate::lower::{CoreLoss, Leak, Lowered, StandIn, Step, core_losses, leaks, stand_ins};
use crate::noise;
use crate::question::{Ask, Given, Question, View, supplied};
use crate::search::{Corner, Known, StateFindings, Watch, Worst, search_watched, terms};
use crate::solve::{Plan, Setting, Trouble};
use helps::{Found, Helper};
use quietrail_engine::{Options, Signal, System, steady_state_from};
use quietrail_job::model::{Job, Origin, PartKind, What};
use quietrail_job::{Address, Parameter};
use quietrail_units::format_si;
use std::sync::{Mutex, PoisonError};

mod again;
mod helps;
mod loop_time;
mod remarks;
mod states;
mod stress;
mod verdicts;

pub use again::{Again, Last, again};
pub use verdicts::verdicts;

/// How far a proof has come, told while it runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress<'a> {
    /// Corners of a state are being solved.
    Searching {
        /// Name of the state.
        state: &'a str,
    },
    /// They are solved; what would help is looked for.
    Searched {
        /// Name of the state.
        state: &'a str,
        /// Corners solved in it.
        corners: u64,
    },
}

/// Proves a job: finds for each limit and rating in each state the worst corner it can.
///
/// # Errors
/// Why not even the first figures could be had (a value that cannot be computed with).
pub fn prove(job: &Job, options: &Options) -> Result<Proof, Trouble> {
    prove_telling(job, options, &mut |_| {})
}

/// As [`prove`], and tells how far it has come.
///
/// # Errors
/// As [`prove`].
pub fn prove_telling(
    job: &Job,
    options: &Options,
    tell: &mut (dyn FnMut(Progress<'_>) + Send),
) -> Result<Proof, Trouble> {
    prove_watched(job, options, &Watch::default(), tell)
}

/// As [`prove_telling`], counted and ended by a watch. After a first look, or where it was ended early, it says
/// what was found so far, and nothing of what would help.
///
/// # Errors
/// As [`prove`].
pub fn prove_watched(
    job: &Job,
    options: &Options,
    watch: &Watch,
    tell: &mut (dyn FnMut(Progress<'_>) + Send),
) -> Result<Proof, Trouble> {
    prove_from(job, options, &[], watch, tell)
}

/// As [`prove_watched`], and looks at places known to be bad as well: no limit comes out better than at any of them.
///
/// # Errors
/// As [`prove`].
pub fn prove_from(
    job: &Job,
    options: &Options,
    known: &[Known],
    watch: &Watch,
    tell: &mut (dyn FnMut(Progress<'_>) + Send),
) -> Result<Proof, Trouble> {
    let plan = Plan::of(job).map_err(Trouble::Change)?;
    let tell = Mutex::new(tell);
    let of_state = |state: usize| {
        let say = |progress: Progress<'_>| {
            let mut tell = tell.lock().unwrap_or_else(PoisonError::into_inner);
            (*tell)(progress);
        };
        of_state(&plan, (job, state), options, known, watch, &say)
    };
    let mut limits = Vec::new();
    let mut parts = Vec::new();
    let mut nodes = Vec::new();
    let mut endings = Vec::new();
    let mut effort = Effort::default();
    for own in states::each(job.states.len(), &of_state) {
        limits.extend(own.limits);
        parts.extend(own.parts);
        nodes.extend(own.nodes);
        endings.push(own.ending);
        effort.solutions += own.effort.solutions;
        effort.corners += own.effort.corners;
    }
    // Limits of the job first, then ratings; each in the order of the file, state by state.
    limits.sort_by_key(|(order, _)| *order);
    Ok(Proof {
        title: job.title.clone(),
        region: job.region.name.clone(),
        states: job.states.iter().map(|state| state.name.clone()).collect(),
        limits: limits.into_iter().map(|(_, finding)| finding).collect(),
        remarks: remarks::of(
            job,
            options,
            (!watch.is_brief()).then_some(nodes.as_slice()),
        ),
        nodes,
        parts,
        endings,
        assumptions: assumptions(job),
        unrated: crate::question::unrated::of(job),
        effort,
    })
}

type Ordered = ((usize, usize), LimitFinding);

/// What is found in one state.
struct OfState {
    limits: Vec<Ordered>,
    nodes: Vec<NodeFinding>,
    parts: Vec<PartFinding>,
    ending: Ending,
    effort: Effort,
}

fn of_state(
    plan: &Plan,
    (job, index): (&Job, usize),
    options: &Options,
    known: &[Known],
    watch: &Watch,
    tell: &dyn Fn(Progress<'_>),
) -> OfState {
    let state = &job.states[index];
    let step = Step::default();
    let setting = Setting {
        job,
        state: index,
        step: &step,
        options,
    };
    tell(Progress::Searching { state: &state.name });
    let known: Vec<Vec<(Address, f64)>> = known
        .iter()
        .filter(|known| known.state == state.name)
        .map(|known| known.values.clone())
        .collect();
    match search_watched(plan, setting, &known, watch) {
        Ok(found) => {
            tell(Progress::Searched {
                state: &state.name,
                corners: found.corners,
            });
            let (limits, solutions) = findings(plan, setting, &found, watch);
            let (nodes, parts) = if watch.is_for_verdicts() {
                (Vec::new(), Vec::new())
            } else {
                stress::of(setting, &found)
            };
            OfState {
                limits,
                nodes,
                parts,
                ending: ending(setting, &found),
                effort: Effort {
                    solutions: found.solutions + solutions,
                    corners: found.corners,
                },
            }
        }
        Err(trouble) => OfState {
            limits: unsettled(plan, job, index, &trouble),
            nodes: Vec::new(),
            parts: Vec::new(),
            ending: Ending {
                state: state.name.clone(),
                settled: false,
                reason: trouble.to_string(),
                residual: f64::NAN,
                charge_balance: f64::NAN,
                energy_balance: f64::NAN,
                floquet: f64::NAN,
            },
            effort: Effort::default(),
        },
    }
}

/// The rows of a state, and the steady states that it took to say what would help.
fn findings(
    plan: &Plan,
    setting: Setting<'_>,
    found: &StateFindings,
    watch: &Watch,
) -> (Vec<Ordered>, u64) {
    let asked: Vec<usize> = (0..plan.questions.len())
        .filter(|&q| plan.questions[q].states.contains(&setting.state))
        .collect();
    let worst: Vec<Found<'_>> = asked
        .iter()
        .filter_map(|&q| {
            let (value, corner) = found.worst[q].worst.as_ref()?;
            Some((q, *value, corner))
        })
        .collect();
    let options = looking(setting.options);
    let looked_at = Setting {
        options: &options,
        ..setting
    };
    let mut helper = Helper::new(plan, looked_at, found);
    let (mut leaning, mut helps) = (Vec::new(), Vec::new());
    if !watch.is_brief() {
        leaning = loop_time::leaning(plan, setting, found, &worst);
        helps = helper.of_all(&worst);
    }
    let mut all = Vec::new();
    for q in asked {
        let question = &plan.questions[q];
        let worst_of = &found.worst[q];
        let mut finding = blank(question, &setting.job.states[setting.state].name);
        finding.nominal = worst_of.nominal;
        finding.predicted = verdict(question, worst_of);
        if let Some(at) = worst.iter().position(|limit| limit.0 == q) {
            let (_, value, corner) = worst[at];
            finding.worst = Some(value);
            finding.margin = Some(question.margin(value));
            finding.margin_share = question.margin_share(value);
            finding.corner = terms(&found.parameters, corner, &worst_of.weights);
            if let Some(leaning) = leaning.get_mut(at).and_then(Option::take) {
                finding.predicted = Predicted::NotShown(leaning);
            }
            finding.help = helps.get_mut(at).map(std::mem::take).unwrap_or_default();
            finding.mostly = mostly(plan, setting, found, q, corner);
        }
        if let Ask::Supplied(load) = &question.ask {
            finding.gets = gets(plan, found, load);
        }
        finding.overall = Overall::of(&finding.predicted, finding.measured);
        if question.is_quiet && finding.predicted == Predicted::Holds {
            continue;
        }
        all.push(((q, setting.state), finding));
    }
    (all, helper.solutions)
}

/// What makes most of a noise at a corner.
fn mostly(
    plan: &Plan,
    setting: Setting<'_>,
    found: &StateFindings,
    q: usize,
    corner: &Corner,
) -> Option<Mostly> {
    let (Ask::Noise(nodes, band) | Ask::RippleAndNoise(nodes, band)) = &plan.questions[q].ask
    else {
        return None;
    };
    let solved = found.solved(setting, corner)?;
    let solution = &solved.solution;
    let view = View {
        lowered: &solved.lowered,
        reading: plan.table.with(&solution.values),
        air: solution.temperatures.air,
        share: solution.shares[q].here,
    };
    let budget = noise::budget(&view, *nodes, band).ok()?;
    let total = plan.questions[q].value(&view).ok()?;
    let (source, rms) = budget.terms.first()?;
    let ripple = (total * total - budget.total * budget.total)
        .max(0.0)
        .sqrt();
    let (source, rms) = if ripple > *rms {
        (None, ripple)
    } else {
        (Some(source.clone()), *rms)
    };
    let share = rms * rms / (total * total);
    share.is_finite().then_some(Mostly { source, rms, share })
}

/// What a load gets with parts as marked.
fn gets(plan: &Plan, found: &StateFindings, load: &str) -> Option<Gets> {
    let solution = &found.nominal.solution;
    let view = View {
        lowered: &found.nominal.lowered,
        reading: plan.table.with(&solution.values),
        air: solution.temperatures.air,
        share: 1.0,
    };
    let Given { asked, amps, volts } = supplied(&view, load)?;
    Some(Gets { asked, amps, volts })
}

fn verdict(question: &Question, worst: &Worst) -> Predicted {
    match (&worst.worst, &worst.why_not) {
        // A corner that fails is enough, whatever else did not settle.
        (Some((value, _)), _) if question.margin(*value) < 0.0 => Predicted::Fails,
        (_, Some(why)) => Predicted::NotShown(why.clone()),
        (Some(_), None) => Predicted::Holds,
        (None, None) => Predicted::NotShown(WhyNot::NotComputed),
    }
}

fn blank(question: &Question, state: &str) -> LimitFinding {
    LimitFinding {
        name: question.name.clone(),
        of: question.of.clone(),
        what: question.what,
        state: state.to_owned(),
        min: question.min,
        max: question.max,
        unit: question.unit,
        from: question.from.clone(),
        is_rating: question.is_rating,
        nominal: None,
        worst: None,
        margin: None,
        margin_share: None,
        corner: Vec::new(),
        predicted: Predicted::NotShown(WhyNot::NotComputed),
        measured: Measured::None,
        overall: Overall::NotShown,
        help: Vec::new(),
        gets: None,
        mostly: None,
        read: None,
    }
}

fn unsettled(plan: &Plan, job: &Job, state: usize, trouble: &Trouble) -> Vec<Ordered> {
    let asked = plan
        .questions
        .iter()
        .enumerate()
        .filter(|(_, q)| q.states.contains(&state));
    asked
        .map(|(q, question)| {
            let mut finding = blank(question, &job.states[state].name);
            let why = match &question.ask {
                Ask::Not(why) => why.clone(),
                _ => WhyNot::NotSettled(trouble.to_string()),
            };
            finding.predicted = Predicted::NotShown(why);
            ((q, state), finding)
        })
        .collect()
}

/// How the nominal solution of a state ended, with its balances.
fn ending(setting: Setting<'_>, found: &StateFindings) -> Ending {
    let solution = &found.nominal.solution;
    let state = setting.job.states[setting.state].name.clone();
    let mut ending = Ending {
        state,
        settled: true,
        reason: "settled".to_owned(),
        residual: match solution.ended {
            quietrail_engine::Ended::Settled { residual } => residual,
            _ => f64::NAN,
        },
        charge_balance: f64::NAN,
        energy_balance: f64::NAN,
        floquet: solution.floquet,
    };
    if let Ok(system) = System::assemble(&found.nominal.lowered.circuit) {
        let system = system.reduced();
        if let Some(orbit) = steady_state_from(&system, &solution.start, setting.options).orbit {
            ending.charge_balance = orbit.charge_balance();
            ending.energy_balance = orbit.energy_balance();
        }
    }
    ending
}

/// Figures that the job leaves out and that stand as defaults.
fn assumptions(job: &Job) -> Vec<Assumption> {
    let leaking = leaks(job);
    let leaks_more = |address: &str| {
        let mut all = leaking.iter();
        all.any(|leak| address.strip_suffix(".leakage") == Some(&leak.part))
    };
    job.parameters()
        .into_iter()
        .filter(|parameter| !leaks_more(&parameter.address.0))
        .filter_map(|parameter| {
            let why = parameter.why_default?;
            let why = if is_told_by_readings(job, &parameter.address.0) {
                LEAKAGE_READ
            } else {
                why
            };
            let value = printed(&parameter);
            Some(Assumption {
                address: parameter.address.0,
                value,
                why,
            })
        })
        .chain(capacitors_standing_in(job))
        .chain(leaking.iter().map(|leak| taken_to_leak(job, leak)))
        .chain(core_losses(job).iter().map(taken_to_lose))
        .collect()
}

/// A leakage that stands in where nothing else says what empties a capacitor.
fn taken_to_leak(job: &Job, leak: &Leak) -> Assumption {
    let own = job.part(&leak.part).map(|part| &part.kind);
    let is_written = matches!(own, Some(PartKind::Capacitor(one)) if !matches!(one.leakage.origin, Origin::Default { .. }));
    Assumption {
        address: format!("{}.leakage", leak.part),
        value: format_si(leak.siemens, "S", 3),
        why: if is_written { LEAKS_MORE } else { LEAKS },
    }
}

/// Why a capacitor leaks where the job says nothing of it.
const LEAKS: &str = "nothing else draws from it for sure, so what leaks decides where it comes to rest; a tenth of the 0.01 C V that sheets of electrolytics allow";

/// The same where the job gives less.
const LEAKS_MORE: &str = "the job gives less, and nothing else draws from it for sure: without any leakage each voltage would keep for ever; a tenth of the 0.01 C V that sheets of electrolytics allow";

/// A loss that stands in where diodes may cut a choke off.
fn taken_to_lose(loss: &CoreLoss) -> Assumption {
    Assumption {
        address: loss.what.clone(),
        value: format!("{} across it", format_si(loss.ohms, "Ω", 3)),
        why: "diodes may cut it off; what it loses, a hundredth of its current or less, then takes over. How it rings is left out, for no job gives its capacitance",
    }
}

/// A leakage that the transformer's table leaves out and its readings tell.
const LEAKAGE_READ: &str = "leakage inductance not given; none assumed, though the readings in [unmarked] tell it: `quietrail transformer JOB --keep` writes it in";

/// Whether a figure is the leakage of a winding whose transformer was found out by readings with an output shorted.
fn is_told_by_readings(job: &Job, address: &str) -> bool {
    let part = address.split('.').next().unwrap_or_default();
    let is_leakage = address.ends_with(".leakage");
    let own = job.unmarked.iter().find(|own| own.name == part);
    is_leakage && own.is_some_and(|own| !own.shorted.is_empty())
}

/// Capacitors that the job does not draw, each once.
fn capacitors_standing_in(job: &Job) -> Vec<Assumption> {
    let assumed = |stand_in: StandIn| {
        let (farads, ohms) = (stand_in.farads, stand_in.ohms);
        Assumption {
            address: stand_in.name,
            value: format!("{}, {}", format_si(farads, "F", 3), format_si(ohms, "Ω", 3)),
            why: "none is drawn near; a small one stands in",
        }
    };
    stand_ins(job).into_iter().map(assumed).collect()
}

/// A figure with its range.
fn printed(parameter: &Parameter) -> String {
    let print = |value: f64| format_si(value, parameter.unit, 3);
    if parameter.high > parameter.low {
        return format!("{} .. {}", print(parameter.low), print(parameter.high));
    }
    print(parameter.nominal)
}

/// The nodes of a lowered job that stand against common, by name.
pub(crate) fn nodes_against_common(lowered: &Lowered) -> Vec<(String, Signal)> {
    let reached = lowered.reached_from_common();
    lowered
        .named_nodes()
        .filter(|(_, node)| reached.contains(node))
        .map(|(name, node)| {
            (
                name.to_owned(),
                Signal::Voltage(node, quietrail_engine::GROUND),
            )
        })
        .collect()
}

/// Whether a question is about an instant, so that the regulating loop's speed may matter.
pub(crate) fn is_about_an_instant(question: &Question) -> bool {
    !question.is_rating
        && matches!(
            question.what,
            What::Valley | What::Peak | What::RipplePeakToPeak
        )
}
