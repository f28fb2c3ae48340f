//! Two mains cycles of a node, for the Waves drawing.

mod alone;
mod overlay;

pub use alone::alone;
pub use overlay::{NoOverlay, overlay};

use crate::course::{Course, with_course};
use crate::lower::{Lowered, Step, lower};
use crate::question::{Ask, Question, View, headroom, unit_of};
use crate::reading::{OutputTable, four};
use crate::ready::Ready;
use crate::search::{Corner, Position, StateFindings, at, changes_at, search};
use crate::solve::{Plan, Setting, Solved, Trouble, solve};
use crate::wave::{Current, Need, Rail, Waves};
use quietrail_engine::{GROUND, Options, Output, Signal};
use quietrail_job::model::{Job, PartKind, RectifierForm, Regulator, Subject, What};
use quietrail_job::{Change, ChangeError};

/// Points per mains cycle in a drawing.
const POINTS: usize = 400;
/// Share of its peak above which a rectifier's current counts as conduction.
const CONDUCTS: f64 = 0.01;

/// Why there is nothing to draw.
#[derive(Clone, Debug, PartialEq)]
pub enum NoWaves {
    /// The job has no such node; the nodes it has.
    UnknownNode {
        /// The nodes it has.
        known: Vec<String>,
    },
    /// No steady state.
    Trouble(Trouble),
}

/// Two cycles of a node in a state, with what a step of the bring-up connects: parts as marked, and the corner in which
/// a regulator that it feeds has least headroom, or in which it is lowest itself.
///
/// # Errors
/// [`NoWaves`].
pub fn waves(
    job: &Job,
    node: &str,
    (state, step): (usize, &Step),
    changes: &[Change],
    options: &Options,
) -> Result<Waves, NoWaves> {
    let setting = Setting {
        job,
        state,
        step,
        options,
    };
    let plan = plan(setting, node)?;
    let found = search(&plan, setting).map_err(NoWaves::Trouble)?;
    let in_hand =
        solve(&plan, setting, changes, Some(&found.nominal.solution)).map_err(NoWaves::Trouble)?;
    let mut drawing = begun(&in_hand, node);

    let signal = signal(&in_hand.lowered, node);
    let reading = plan.table.with(&in_hand.solution.values);
    [
        drawing.mean,
        drawing.valley,
        drawing.peak,
        drawing.ripple_rms,
    ] = four(&signal).map(|output| reading.get(&output));
    let rails: Vec<String> = fed_from(job, node)
        .filter(|(part, _)| is_in(step, part))
        .map(|(_, regulator)| regulator.into.clone())
        .collect();
    let own = std::slice::from_ref(&signal);
    sampled(&plan, &in_hand, setting, own, |course| {
        drawing.volts = curve(course, &signal);
        rectifier(job, &in_hand.lowered, node, course, &mut drawing);
        drawing.rails = rails_of(course, &in_hand.lowered, &rails);
    })
    .map_err(NoWaves::Trouble)?;

    let telling = telling(&plan, &found);
    if let Some((_, corner)) = &found.worst[telling].worst {
        let corner_changes = changes_at(&found.parameters, corner);
        if let Ok(lowest) = solve(
            &plan,
            setting,
            &corner_changes,
            Some(&found.nominal.solution),
        ) {
            sampled(&plan, &lowest, setting, own, |course| {
                drawing.lowest = curve(course, &signal);
                lower_rails(course, &lowest.lowered, &mut drawing.rails);
            })
            .map_err(NoWaves::Trouble)?;
            drawing.lowest_corner = told(&found, telling, corner);
            drawing.worst_for = (telling > 0).then(|| plan.questions[telling].name.clone());
        }
    }
    needs(setting, node, &plan, &in_hand, &found, &mut drawing);
    drawing.limits = limits(job, node, state);
    Ok(drawing)
}

/// Two cycles of a node in corners that are solved already: the one in hand, and of the others the one in which a regulator
/// that it feeds has least headroom; of a node that feeds none, the one in which it is lowest. What each regulator needs at
/// worst is of its own worst corner.
///
/// # Errors
/// The node is not there, or a cycle could not be had again.
pub fn between(
    ready: &Ready,
    node: &str,
    here: &Solved,
    others: &[&Solved],
    told: &dyn Fn(&Solved) -> Vec<(String, String)>,
) -> Result<Waves, NoWaves> {
    let setting = ready.setting(here.lowered.state);
    let job = &here.lowered.job;
    if here.lowered.node(node).is_none() {
        let known = here.lowered.named_nodes();
        return Err(NoWaves::UnknownNode {
            known: known.map(|(name, _)| name.to_owned()).collect(),
        });
    }
    let mut drawing = begun(here, node);
    let signal = signal(&here.lowered, node);
    let plan = &ready.plan;
    let rails: Vec<String> = fed_from(job, node)
        .map(|(_, regulator)| regulator.into.clone())
        .collect();
    let all = drawn_with(&here.lowered, node);
    sampled(plan, here, setting, &all, |course| {
        drawing.volts = curve(course, &signal);
        [
            drawing.mean,
            drawing.valley,
            drawing.peak,
            drawing.ripple_rms,
        ] = four(&signal).map(|output| course.figure(&output));
        rectifier(job, &here.lowered, node, course, &mut drawing);
        drawing.rails = rails_of(course, &here.lowered, &rails);
    })
    .map_err(NoWaves::Trouble)?;
    let of = |solved: &Solved, part: &str| {
        let reading = plan.table.with(&solved.solution.values);
        let air = solved.solution.temperatures.air;
        let view = View {
            lowered: &solved.lowered,
            reading,
            air,
            share: 1.0,
        };
        headroom(&view, part).ok()
    };
    let mut tightest: Option<(f64, &Solved)> = None;
    for (part, regulator) in fed_from(job, node) {
        let Some(own) = of(here, part) else { continue };
        let each = others
            .iter()
            .filter_map(|solved| Some((of(solved, part)?, *solved)));
        let worst = each.min_by(|a, b| a.0.headroom.total_cmp(&b.0.headroom));
        if let Some((worst, solved)) = worst
            && tightest.is_none_or(|known| worst.headroom < known.0)
        {
            tightest = Some((worst.headroom, solved));
            drawing.worst_for = Some(part.to_owned());
        }
        let worst = worst.map_or(own, |worst| worst.0);
        drawing.needs.push(Need {
            part: part.to_owned(),
            volts: level(regulator, own.output + own.dropout),
            worst_volts: level(regulator, worst.output + worst.dropout),
            headroom: own.headroom,
            worst_headroom: worst.headroom,
        });
    }
    // Of a rail under common what matters is its highest instant.
    let valley = |solved: &Solved| {
        let reading = plan.table.with(&solved.solution.values);
        let [mean, valley, peak, _] =
            four(&self::signal(&solved.lowered, node)).map(|output| reading.get(&output));
        if mean < 0.0 { -peak } else { valley }
    };
    let lowest = others
        .iter()
        .copied()
        .min_by(|a, b| valley(a).total_cmp(&valley(b)));
    if let Some(solved) = tightest.map(|worst| worst.1).or(lowest) {
        sampled(plan, solved, setting, &all, |course| {
            drawing.lowest = curve(course, &signal);
            lower_rails(course, &solved.lowered, &mut drawing.rails);
        })
        .map_err(NoWaves::Trouble)?;
        drawing.lowest_corner = told(solved);
    }
    drawing.limits = limits(job, node, here.lowered.state);
    Ok(drawing)
}

/// Limits on instants and the mean of a node in a state.
fn limits(job: &Job, node: &str, state: usize) -> Vec<(String, Option<f64>, Option<f64>)> {
    job.limits
        .iter()
        .filter(|limit| limit.states.contains(&state) && limit.of == Subject::Node(node.to_owned()))
        .filter(|limit| matches!(limit.what, What::Valley | What::Peak | What::Mean))
        .map(|limit| (limit.name.clone(), limit.min, limit.max))
        .collect()
}

/// The valley of the node first, then the headroom of each regulator that it feeds.
fn plan(setting: Setting<'_>, node: &str) -> Result<Plan, NoWaves> {
    let job = setting.job;
    let warmth = crate::heat::Temperatures::at_rest(job);
    let lowered = lower(job, setting.state, setting.step, &[], &warmth)
        .map_err(|error| NoWaves::Trouble(Trouble::Change(error)))?;
    if lowered.node(node).is_none() {
        let known = lowered
            .named_nodes()
            .map(|(name, _)| name.to_owned())
            .collect();
        return Err(NoWaves::UnknownNode { known });
    }
    let signal = signal(&lowered, node);
    let question = |name: &str, what: What, ask: Ask| Question {
        name: name.to_owned(),
        of: Subject::Node(node.to_owned()),
        what,
        states: vec![setting.state],
        min: Some(0.0),
        max: None,
        unit: unit_of(what),
        from: String::new(),
        is_rating: false,
        is_quiet: false,
        ask,
    };
    let valley = Ask::Largest(vec![(Output::Valley(signal.clone()), 1.0)]);
    let mut questions = vec![question(node, What::Valley, valley)];
    for (part, _) in fed_from(job, node).filter(|(part, _)| is_in(setting.step, part)) {
        questions.push(question(
            part,
            What::Headroom,
            Ask::Headroom(part.to_owned()),
        ));
    }
    let mut table = OutputTable::of(&lowered);
    four(&signal)
        .into_iter()
        .for_each(|output| table.add(output));
    for question in &questions {
        question.register(&lowered, &mut table);
    }
    Ok(Plan { questions, table })
}

/// The question whose worst corner is drawn: the tightest headroom, or the valley where nothing is fed.
fn telling(plan: &Plan, found: &StateFindings) -> usize {
    let worst = |index: usize| {
        found.worst[index]
            .worst
            .as_ref()
            .map_or(f64::INFINITY, |worst| worst.0)
    };
    (1..plan.questions.len())
        .filter(|&index| worst(index).is_finite())
        .min_by(|&a, &b| worst(a).total_cmp(&worst(b)))
        .unwrap_or(0)
}

/// A corner's figures with their values, most telling first.
fn told(found: &StateFindings, question: usize, corner: &Corner) -> Vec<(String, String)> {
    let weights = &found.worst[question].weights;
    let mut order: Vec<usize> = (0..corner.len())
        .filter(|&index| corner[index] != Position::NOMINAL)
        .collect();
    order.sort_by(|&a, &b| weights[b].total_cmp(&weights[a]));
    order
        .into_iter()
        .map(|index| {
            let parameter = &found.parameters[index];
            let value = quietrail_units::format_si(at(parameter, corner[index]), parameter.unit, 3);
            (parameter.address.0.clone(), value)
        })
        .collect()
}

fn signal(lowered: &Lowered, node: &str) -> Signal {
    Signal::Voltage(lowered.node(node).unwrap_or(GROUND), GROUND)
}

/// Whether a step of the bring-up has the part in the circuit.
fn is_in(step: &Step, part: &str) -> bool {
    !step.out.iter().any(|out| out == part)
}

/// Regulators whose input is the node.
fn fed_from<'a>(job: &'a Job, node: &'a str) -> impl Iterator<Item = (&'a str, &'a Regulator)> {
    job.parts.iter().filter_map(move |part| match &part.kind {
        PartKind::Regulator(regulator) if regulator.from == node => {
            Some((part.name.as_str(), &**regulator))
        }
        _ => None,
    })
}

/// What a regulator needs at its input as a level: below zero for one that holds a rail under its return. Twice it is the same again.
fn level(regulator: &Regulator, volts: f64) -> f64 {
    if regulator.is_negative() {
        -volts
    } else {
        volts
    }
}

/// A drawing of two cycles of a point, with nothing in it yet.
fn begun(solved: &Solved, of: &str) -> Waves {
    let job = &solved.lowered.job;
    let frequency = job.mains.frequency.nominal();
    Waves {
        title: job.title.clone(),
        region: job.region.name.clone(),
        node: of.to_owned(),
        state: job.states[solved.lowered.state].name.clone(),
        frequency,
        mains: job.mains.voltage.nominal(),
        time: (0..=2 * POINTS)
            .map(|k| k as f64 / POINTS as f64 / frequency)
            .collect(),
        ..Waves::default()
    }
}

fn sampled(
    plan: &Plan,
    solved: &Solved,
    setting: Setting<'_>,
    signals: &[Signal],
    draw: impl FnOnce(&Course<'_>),
) -> Result<(), Trouble> {
    with_course((plan, solved), signals, setting.options, draw)
}

/// Adds to a plan what [`between`] draws, so that it need not solve a second time: every node against common, and the
/// current of every rectifier.
///
/// # Errors
/// As [`lower`].
pub fn draw_too(plan: &mut Plan, job: &Job) -> Result<(), ChangeError> {
    let warmth = crate::heat::Temperatures::at_rest(job);
    let lowered = lower(job, 0, &Step::default(), &[], &warmth)?;
    for node in nodes_against_common(&lowered) {
        for signal in drawn_with(&lowered, &node) {
            let figures = match signal {
                Signal::Voltage(..) => four(&signal).to_vec(),
                _ => vec![Output::Peak(signal.clone()), Output::Rms(signal.clone())],
            };
            figures
                .into_iter()
                .for_each(|output| plan.table.add(output));
            plan.table.draw(signal);
        }
    }
    Ok(())
}

fn nodes_against_common(lowered: &Lowered) -> Vec<String> {
    let reached = lowered.reached_from_common();
    let named = lowered
        .named_nodes()
        .filter(|(_, node)| reached.contains(node));
    named.map(|(name, _)| name.to_owned()).collect()
}

/// What is drawn with a node: itself, the current that charges it, and the rails that it feeds.
fn drawn_with(lowered: &Lowered, node: &str) -> Vec<Signal> {
    let job = &lowered.job;
    let current = charger(job, node).and_then(|part| charging(lowered, part, node));
    let rails = fed_from(job, node).filter_map(|(_, regulator)| lowered.node(&regulator.into));
    let rails = rails.map(|output| Signal::Voltage(output, GROUND));
    let own = signal(lowered, node);
    std::iter::once(own).chain(current).chain(rails).collect()
}

fn curve(course: &Course<'_>, signal: &Signal) -> Vec<f64> {
    course.values(signal, POINTS, 2 * POINTS + 1)
}

fn rails_of(course: &Course<'_>, lowered: &Lowered, nodes: &[String]) -> Vec<Rail> {
    let rail = |node: &String| {
        let output = lowered.node(node)?;
        Some(Rail {
            node: node.clone(),
            volts: curve(course, &Signal::Voltage(output, GROUND)),
            lowest: Vec::new(),
        })
    };
    nodes.iter().filter_map(rail).collect()
}

fn lower_rails(course: &Course<'_>, lowered: &Lowered, rails: &mut [Rail]) {
    for rail in rails {
        if let Some(output) = lowered.node(&rail.node) {
            rail.lowest = curve(course, &Signal::Voltage(output, GROUND));
        }
    }
}

/// The rectifier that charges a node.
fn charger<'a>(job: &'a Job, node: &str) -> Option<&'a str> {
    let feeds = job.parts.iter().find(|part| match &part.kind {
        PartKind::Rectifier(rectifier) => {
            let lower = match &rectifier.form {
                RectifierForm::Split { negative } => negative,
                _ => &rectifier.ret,
            };
            node != "common" && (rectifier.into == node || lower == node)
        }
        _ => false,
    });
    feeds.map(|part| part.name.as_str())
}

/// Whether a node is the end of a split rectifier that lies under its return.
fn is_lower(job: &Job, part: &str, node: &str) -> bool {
    let form = job.part(part).and_then(|part| match &part.kind {
        PartKind::Rectifier(rectifier) => Some(&rectifier.form),
        _ => None,
    });
    matches!(form, Some(RectifierForm::Split { negative }) if negative == node)
}

/// The current of a rectifier that charges what hangs on a node: that of the diodes which lead there.
fn charging(lowered: &Lowered, part: &str, node: &str) -> Option<Signal> {
    if !is_lower(&lowered.job, part, node) {
        return crate::question::current_of(lowered, part);
    }
    let elements = lowered.parts.get(part)?;
    let draining = elements.own.get(elements.into..)?.iter();
    let each = draining.map(|&diode| (Signal::Current(diode, 0), 1.0));
    Some(Signal::Sum(each.collect()))
}

fn rectifier(job: &Job, lowered: &Lowered, node: &str, course: &Course<'_>, drawing: &mut Waves) {
    let Some(part) = charger(job, node) else {
        return;
    };
    let Some(signal) = charging(lowered, part, node) else {
        return;
    };
    let peak = course.figure(&Output::Peak(signal.clone()));
    let spans = course.spans_above(&signal, CONDUCTS * peak);
    drawing.conduction_degrees = spans
        .iter()
        .map(|(from, to)| 360.0 * (to - from))
        .fold(0.0, f64::max);
    let frequency = drawing.frequency;
    // Over both cycles drawn; a pulse that wraps shows its end at the start of the drawing.
    for cycle in [-1.0, 0.0, 1.0] {
        for (from, to) in &spans {
            let (from, to) = ((from + cycle).max(0.0), (to + cycle).min(2.0));
            if to > from {
                drawing.conduction.push((from / frequency, to / frequency));
            }
        }
    }
    drawing.current = Some(Current {
        part: part.to_owned(),
        is_lower: is_lower(job, part, node),
        amps: curve(course, &signal),
        peak,
        rms: course.figure(&Output::Rms(signal)),
    });
}

fn needs(
    setting: Setting<'_>,
    node: &str,
    plan: &Plan,
    in_hand: &Solved,
    found: &StateFindings,
    drawing: &mut Waves,
) {
    let fed = fed_from(setting.job, node).filter(|(part, _)| is_in(setting.step, part));
    for (index, (part, regulator)) in fed.enumerate() {
        let view = |solved: &Solved| {
            let reading = plan.table.with(&solved.solution.values);
            let air = solved.solution.temperatures.air;
            headroom(
                &View {
                    lowered: &solved.lowered,
                    reading,
                    air,
                    share: 1.0,
                },
                part,
            )
            .ok()
        };
        let Some(own) = view(in_hand) else { continue };
        let mut need = Need {
            part: part.to_owned(),
            volts: level(regulator, own.output + own.dropout),
            worst_volts: level(regulator, own.output + own.dropout),
            headroom: own.headroom,
            worst_headroom: own.headroom,
        };
        if let Some((value, _)) = &found.worst[index + 1].worst {
            need.worst_headroom = *value;
            let towards = |volts: f64| level(regulator, volts);
            let curve = drawing.lowest.iter().map(|volts| towards(*volts));
            if let Some(lowest) = curve.reduce(f64::min) {
                need.worst_volts = towards(lowest - value);
            }
        }
        drawing.needs.push(need);
    }
}
