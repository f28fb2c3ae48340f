//! The ordered steps for a job: which parts are in, what stands in front, which dummies draw, which points are read.

use super::alternating;
use super::dummy::{self, Dummy};
use super::rails::{rail_points, rail_volts};
use super::raws::{raw_points, raw_rails_of, raw_steps};
use super::{Caution, Observed};
use quietrail_bench::log::words_of;
use quietrail_job::model::{
    InsteadOf, Job, Limit, LoadDraw, OnHand, Part, PartKind, Regulator, Subject, What,
};

/// The kinds of step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Plug out: ohms and insulation.
    PowerOff,
    /// An electrolytic that lay for years, by itself on a bench supply, mains off.
    Forming,
    /// Only transformers, through a lamp or a variable transformer.
    TransformerSoftly,
    /// Only transformers, on full mains.
    Transformer,
    /// Rectifiers and reservoirs, through the lamp or the variable transformer.
    RectifierSoftly,
    /// Rectifiers and reservoirs on full mains, a dummy load across.
    RawOnDummy,
    /// Regulators, no load.
    NoLoad,
    /// Dummies in place of the loads, drawing what a state says.
    DummyLoad,
    /// Dummies of the state that draws most, at the lowest mains: where headroom is tightest.
    LowestMains,
    /// A clamp across the pins of a load, fed from a bench supply with the mains off.
    ClampProof,
    /// Highest mains, nothing drawn: what the load would see at most.
    OverVoltage,
    /// Until temperatures stand still.
    Soak,
    /// The loads themselves.
    Load,
    /// The builder's own.
    Own,
}

impl Kind {
    /// Whether mains is on in it.
    pub fn is_powered(self) -> bool {
        !matches!(self, Self::PowerOff | Self::Forming | Self::ClampProof)
    }
}

/// What stands between outlet and job.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Through {
    /// A tungsten lamp in series.
    Lamp {
        /// Rated watts.
        watts: f64,
        /// Rated volts.
        volts: f64,
        /// Whether none is on hand and this one is only proposed.
        is_proposed: bool,
    },
    /// A variable transformer.
    Variable {
        /// Its output as a share of the mains.
        setting: f64,
        /// Ohms in its output.
        ohms: f64,
    },
}

/// A step before it is computed.
#[derive(Clone, Debug, PartialEq)]
pub struct Planned {
    /// Its name, unique in the job.
    pub name: String,
    /// What kind of step it is.
    pub kind: Kind,
    /// State in which loads or dummies draw, if any do.
    pub state: Option<usize>,
    /// What stands in front.
    pub through: Option<Through>,
    /// Parts that are not connected.
    pub out: Vec<String>,
    /// Parts that are bridged.
    pub short: Vec<String>,
    /// Dummy loads.
    pub dummies: Vec<Dummy>,
    /// What is read.
    pub points: Vec<Point>,
    /// Whether the mains is at the highest that the job allows, by a variable transformer.
    pub is_at_highest_mains: bool,
    /// Cautions that need no computation.
    pub cautions: Vec<Caution>,
}

/// A point that is read.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// As in the log.
    pub of: String,
    /// What it is about, for the circuit.
    pub subject: Where,
    /// What is read.
    pub what: Observed,
    /// Whether later steps wait for it.
    pub is_awaited: bool,
}

/// Where a point is in the circuit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Where {
    /// A node, a pair, a part.
    Subject(Subject),
    /// A winding or a join: from start to finish.
    Winding(String),
    /// The lamp in front.
    SeriesLamp,
}

/// Lamp that is proposed where none is on hand, W. It keeps a shorted primary of a small transformer below half an ampere
/// (common practice, no source).
const LAMP_WATTS: f64 = 60.0;
/// Setting of a variable transformer for a first power-up (common practice, no source).
const FIRST_SETTING: f64 = 0.2;

/// All steps of a job, in order.
pub fn planned(job: &Job) -> Vec<Planned> {
    let through = softly(job);
    let mut all = vec![blank("power off", Kind::PowerOff)];
    all[0].cautions.push(Caution::PlugOut);
    all.extend(super::forming::steps(job));
    all.extend(transformer_steps(job, through));
    all.extend(raw_steps(job, through));
    all.extend(board_steps(job));
    let mut last = Vec::new();
    let loads = loads(job);
    if !loads.is_empty() {
        last.push(load_step(job, &loads));
    }
    own_steps(job, &mut all, &mut last);
    all.extend(last);
    all
}

pub(super) fn blank(name: &str, kind: Kind) -> Planned {
    Planned {
        name: name.to_owned(),
        kind,
        state: None,
        through: None,
        out: Vec::new(),
        short: Vec::new(),
        dummies: Vec::new(),
        points: Vec::new(),
        is_at_highest_mains: false,
        cautions: Vec::new(),
    }
}

/// What stands in front at first: a lamp on hand, else a variable transformer on hand, else a lamp that is proposed.
fn softly(job: &Job) -> Through {
    let lamp = |watts: f64, volts: f64, is_proposed| Through::Lamp {
        watts,
        volts,
        is_proposed,
    };
    let own = job
        .on_hand
        .lamps
        .iter()
        .map(|(watts, volts)| (watts.nominal(), volts.nominal()))
        .filter(|(_, volts)| *volts >= 0.9 * job.mains.voltage.nominal())
        .min_by(|a, b| {
            (a.0 - LAMP_WATTS)
                .abs()
                .total_cmp(&(b.0 - LAMP_WATTS).abs())
        });
    match (own, &job.on_hand.variable_transformer) {
        (Some((watts, volts)), _) => lamp(watts, volts, false),
        (None, Some(ohms)) => Through::Variable {
            setting: FIRST_SETTING,
            ohms: ohms.nominal(),
        },
        (None, None) => lamp(LAMP_WATTS, job.region.volts, true),
    }
}

/// Parts that are there from the first power-up on: those of the mains side.
fn is_of_mains_side(part: &Part) -> bool {
    matches!(
        part.kind,
        PartKind::Fuse(_)
            | PartKind::Switch(_)
            | PartKind::Lamp(_)
            | PartKind::VariableTransformer(_)
            | PartKind::Transformer(_)
            | PartKind::Sink(_)
    )
}

pub(super) fn names(job: &Job, keep: impl Fn(&Part) -> bool) -> Vec<String> {
    let kept = job.parts.iter().filter(|part| keep(part));
    kept.map(|part| part.name.clone()).collect()
}

pub(super) fn is_beyond_raw(part: &Part) -> bool {
    matches!(
        part.kind,
        PartKind::Regulator(_) | PartKind::Transistor(_) | PartKind::Shunt(_) | PartKind::Load(_)
    )
}

fn is_load(part: &Part) -> bool {
    matches!(part.kind, PartKind::Load(_))
}

pub(super) fn point(of: &str, what: Observed, is_awaited: bool) -> Point {
    Point {
        of: of.to_owned(),
        subject: Where::Subject(Subject::Node(of.to_owned())),
        what,
        is_awaited,
    }
}

/// A transformer's primary current, a winding's voltage, the lamp's.
fn mains_points(job: &Job, is_awaited: bool, through: Option<Through>) -> Vec<Point> {
    let mut all = Vec::new();
    for part in &job.parts {
        let PartKind::Transformer(transformer) = &part.kind else {
            continue;
        };
        let joined = transformer.joins.iter().map(|join| &join.name);
        for winding in transformer
            .secondary
            .iter()
            .map(|one| &one.name)
            .chain(joined)
        {
            let of = format!("{}.{winding}", part.name);
            all.push(Point {
                subject: Where::Winding(of.clone()),
                of,
                what: Observed::RmsVoltage,
                is_awaited,
            });
        }
        all.extend(super::taps::points(&part.name, transformer, is_awaited));
    }
    all.extend(primary_currents(job));
    if matches!(through, Some(Through::Lamp { .. })) {
        all.push(Point {
            of: "series lamp".to_owned(),
            subject: Where::SeriesLamp,
            what: Observed::RmsVoltage,
            is_awaited: false,
        });
    }
    all
}

pub(super) fn primary_currents(job: &Job) -> Vec<Point> {
    let transformers = names(job, |part| matches!(part.kind, PartKind::Transformer(_)));
    transformers
        .into_iter()
        .map(|name| Point {
            subject: Where::Subject(Subject::Part(name.clone())),
            of: name,
            what: Observed::Statistic(What::RmsCurrent),
            is_awaited: false,
        })
        .collect()
}

fn transformer_steps(job: &Job, through: Through) -> Vec<Planned> {
    let out = names(job, |part| !is_of_mains_side(part));
    if !job
        .parts
        .iter()
        .any(|part| matches!(part.kind, PartKind::Transformer(_)))
    {
        return Vec::new();
    }
    let word = match through {
        Through::Lamp { .. } => "transformer through a lamp",
        Through::Variable { .. } => "transformer on low voltage",
    };
    let mut first = blank(word, Kind::TransformerSoftly);
    first.through = Some(through);
    first.out.clone_from(&out);
    first.points = mains_points(job, true, first.through);
    let mut second = blank("transformer on mains", Kind::Transformer);
    second.out = out;
    second.points = mains_points(job, true, None);
    vec![first, second]
}

pub(super) fn of_pair(plus: &str, minus: &str, what: What, is_awaited: bool) -> Point {
    if minus == "common" {
        return point(plus, Observed::Statistic(what), is_awaited);
    }
    Point {
        of: format!("{plus},{minus}"),
        subject: Where::Subject(Subject::Pair(plus.to_owned(), minus.to_owned())),
        what: Observed::Statistic(what),
        is_awaited,
    }
}

/// The state in which the loads draw most.
pub(super) fn heaviest_state(job: &Job) -> Option<usize> {
    let total = |state: usize| -> f64 {
        loads(job)
            .iter()
            .map(|(_, part)| draw_amps(job, part, state))
            .sum()
    };
    (0..job.states.len())
        .filter(|state| total(*state) > 0.0)
        .max_by(|a, b| total(*a).total_cmp(&total(*b)))
}

pub(super) fn loads(job: &Job) -> Vec<(&str, &Part)> {
    let all = job.parts().filter(|part| is_load(part));
    all.map(|part| (part.name.as_str(), part)).collect()
}

/// Mean current that a load draws in a state, as marked.
pub(super) fn draw_amps(job: &Job, part: &Part, state: usize) -> f64 {
    let PartKind::Load(load) = &part.kind else {
        return 0.0;
    };
    let volts = rail_volts(job, &load.between.plus, &load.between.minus);
    match &load.draws[state] {
        LoadDraw::Current(amps) => amps.nominal(),
        LoadDraw::Resistance(ohms) => volts / ohms.nominal(),
        LoadDraw::Power(watts) if volts > 0.0 => watts.nominal() / volts,
        LoadDraw::Power(_) => 0.0,
    }
}

pub(super) fn regulators(job: &Job) -> impl Iterator<Item = &Regulator> {
    job.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Regulator(regulator) => Some(regulator.as_ref()),
        _ => None,
    })
}

pub(super) fn dummy_for(
    on_hand: &mut OnHand,
    between: (&str, &str),
    volts: f64,
    amps: f64,
) -> Dummy {
    let wanted = volts / amps;
    let found = dummy::best(on_hand, wanted, volts);
    let (ohms, made_of, is_parallel, rated) = match found {
        Some((ohms, made_of, is_parallel, rated)) => (ohms, made_of, is_parallel, Some(rated)),
        None => (two_digits(wanted), Vec::new(), false, None),
    };
    dummy::take(on_hand, &made_of);
    Dummy {
        plus: between.0.to_owned(),
        minus: between.1.to_owned(),
        ohms,
        made_of,
        is_parallel,
        rated,
        stands_for: amps,
    }
}

/// The nearest preferred value of twelve in a decade.
fn two_digits(ohms: f64) -> f64 {
    quietrail_units::series::Series::E12
        .nearest(ohms)
        .unwrap_or(ohms)
}

fn board_steps(job: &Job) -> Vec<Planned> {
    if rail_points(job, false, What::Mean).is_empty() {
        return Vec::new();
    }
    let out = names(job, is_load);
    let mut all = Vec::new();
    let mut idle = blank("board without load", Kind::NoLoad);
    idle.out.clone_from(&out);
    idle.points = raw_points(job, false);
    idle.points.extend(rail_points(job, false, What::Mean));
    all.push(idle);

    let mut by_current: Vec<usize> = (0..job.states.len()).collect();
    let total = |state: &usize| -> f64 {
        loads(job)
            .iter()
            .map(|(_, part)| draw_amps(job, part, *state))
            .sum()
    };
    by_current.sort_by(|a, b| total(a).total_cmp(&total(b)));
    for state in by_current.into_iter().filter(|state| total(state) > 0.0) {
        let mut step = blank(
            &format!("dummy load, {}", job.states[state].name),
            Kind::DummyLoad,
        );
        step.state = Some(state);
        step.out.clone_from(&out);
        step.dummies = load_dummies(job, state);
        step.points = raw_points(job, true);
        step.points.extend(rail_points(job, true, What::Mean));
        let asked = limit_points(job, step.state, &|limit| before_the_load(job, limit));
        add_points(&mut step, asked);
        all.push(step);
    }

    let variable = |setting: f64| {
        let ohms = job.on_hand.variable_transformer.as_ref()?;
        Some(Through::Variable {
            setting,
            ohms: ohms.nominal(),
        })
    };
    let range = &job.mains.voltage.value;
    if let Some(state) = heaviest_state(job)
        && range.low < range.nominal
    {
        let mut low = blank("lowest mains", Kind::LowestMains);
        low.state = Some(state);
        low.out.clone_from(&out);
        low.dummies = load_dummies(job, state);
        low.points = raw_points(job, true);
        low.points.extend(rail_points(job, true, What::Mean));
        low.through = variable(range.low / range.nominal);
        all.push(low);
    }

    let mut high = blank("over-voltage", Kind::OverVoltage);
    high.out.clone_from(&out);
    high.points = raw_points(job, false);
    high.points.extend(rail_points(job, false, What::Mean));
    high.is_at_highest_mains = true;
    high.through = variable(range.high / range.nominal);
    if let Some(state) = heaviest_state(job) {
        let mut soak = blank("soak", Kind::Soak);
        soak.state = Some(state);
        soak.out = out;
        soak.dummies = load_dummies(job, state);
        soak.points = raw_points(job, false);
        soak.points.extend(warm_points(job));
        soak.points.extend(rail_points(job, false, What::Mean));
        let asked = limit_points(job, Some(state), &|limit| limit.what == What::Temperature);
        add_points(&mut soak, asked);
        all.push(soak);
    }
    all.push(high);
    all.extend(super::clamp::step(job));
    all
}

fn warm_points(job: &Job) -> Vec<Point> {
    let sinks = names(job, |part| matches!(part.kind, PartKind::Sink(_)));
    let transformers = names(
        job,
        |part| matches!(&part.kind, PartKind::Transformer(one) if one.to_air.is_some()),
    );
    sinks
        .into_iter()
        .chain(transformers)
        .map(|name| Point {
            subject: Where::Subject(Subject::Part(name.clone())),
            of: name,
            what: Observed::Statistic(What::Temperature),
            is_awaited: false,
        })
        .collect()
}

fn load_dummies(job: &Job, state: usize) -> Vec<Dummy> {
    let mut all = Vec::new();
    let mut on_hand = OnHand::clone(&job.on_hand);
    for (_, part) in loads(job) {
        let PartKind::Load(load) = &part.kind else {
            continue;
        };
        let amps = draw_amps(job, part, state);
        let volts = rail_volts(job, &load.between.plus, &load.between.minus);
        if amps > 0.0 && volts > 0.0 {
            let ends = (load.between.plus.as_str(), load.between.minus.as_str());
            all.push(dummy_for(&mut on_hand, ends, volts, amps));
        }
    }
    all
}

/// The load itself: every limit that an instrument reads is a point.
fn load_step(job: &Job, loads: &[(&str, &Part)]) -> Planned {
    let mut step = blank("load connected", Kind::Load);
    step.state = heaviest_state(job);
    step.cautions.push(Caution::Irreplaceable {
        loads: loads.iter().map(|(name, _)| (*name).to_owned()).collect(),
    });
    step.points = raw_points(job, false);
    let draws = loads.iter().filter(|(_, part)| {
        step.state
            .is_some_and(|state| draw_amps(job, part, state) > 0.0)
    });
    step.points.extend(draws.map(|(name, part)| Point {
        of: (*name).to_owned(),
        subject: Where::Subject(Subject::Part((*name).to_owned())),
        what: Observed::Statistic(current_of(job, part)),
        is_awaited: false,
    }));
    let asked = limit_points(job, step.state, &|_| true);
    add_points(&mut step, asked);
    step
}

/// The current of a load that tells: at a winding its mean is none.
fn current_of(job: &Job, part: &Part) -> What {
    let ends = part.kind.between();
    let across = ends.and_then(|ends| alternating::winding(job, &ends.plus, &ends.minus));
    across.map_or(What::Current, |_| What::RmsCurrent)
}

/// What limits ask for in a state (in any, where the step is of none), as far as an instrument reads it.
fn limit_points(job: &Job, state: Option<usize>, is_wanted: &dyn Fn(&Limit) -> bool) -> Vec<Point> {
    let is_read = |limit: &&Limit| {
        !matches!(
            limit.what,
            What::Headroom | What::Life | What::Start | What::HoldUp
        )
    };
    let in_state = |limit: &&Limit| state.is_none_or(|state| limit.states.contains(&state));
    let limits = job.limits.iter().filter(is_read).filter(in_state);
    limits
        .filter(|limit| is_wanted(limit))
        .map(|limit| Point {
            of: words_of(&limit.of),
            subject: Where::Subject(limit.of.clone()),
            what: Observed::Statistic(limit.what),
            is_awaited: false,
        })
        .collect()
}

/// What a limit asks for before the load is there: of rails and of parts of the board, not of the loads themselves, nor of what
/// takes until all is warm.
fn before_the_load(job: &Job, limit: &Limit) -> bool {
    let is_of_load = match &limit.of {
        Subject::Part(name) => job.part(name).is_some_and(is_load),
        Subject::Node(_) | Subject::Pair(..) => false,
    };
    let is_seen = !matches!(
        limit.what,
        What::Temperature | What::Drift | What::ReverseVoltage
    );
    is_seen && !is_of_load
}

/// Adds points that a step does not list yet.
fn add_points(step: &mut Planned, points: Vec<Point>) {
    for point in points {
        let mut known = step.points.iter();
        if !known.any(|own| own.of == point.of && own.what == point.what) {
            step.points.push(point);
        }
    }
}

/// The builder's steps: one of a derived name changes that step, another comes before the load is connected.
fn own_steps(job: &Job, all: &mut Vec<Planned>, last: &mut [Planned]) {
    for own in job.steps.iter() {
        let known = all
            .iter_mut()
            .chain(last.iter_mut())
            .find(|step| step.name == own.name);
        let mut made = blank(&own.name, Kind::Own);
        let is_new = known.is_none();
        let step = match known {
            Some(step) => step,
            None => {
                made.out = names(job, is_load);
                made.points = raw_points(job, true);
                &mut made
            }
        };
        match &own.through {
            Some(quietrail_job::model::Through::Lamp { watts, volts }) => {
                step.through = Some(Through::Lamp {
                    watts: watts.nominal(),
                    volts: volts.nominal(),
                    is_proposed: false,
                });
            }
            Some(quietrail_job::model::Through::VariableTransformer(setting)) => {
                step.through = Some(Through::Variable {
                    setting: setting.nominal(),
                    ohms: job
                        .on_hand
                        .variable_transformer
                        .as_ref()
                        .map_or(0.0, |ohms| ohms.nominal()),
                });
            }
            None => {}
        }
        for (part, instead) in &own.instead_of {
            let list = match instead {
                InsteadOf::Out => &mut step.out,
                InsteadOf::Short => &mut step.short,
            };
            if !list.contains(part) {
                list.push(part.clone());
            }
        }
        if let Some(dummy) = &own.dummy {
            step.dummies = vec![Dummy {
                plus: dummy.between.plus.clone(),
                minus: dummy.between.minus.clone(),
                ohms: dummy.ohms.nominal(),
                made_of: vec![dummy.ohms.nominal()],
                is_parallel: false,
                rated: None,
                stands_for: 0.0,
            }];
        }
        if own.states.len() < job.states.len() {
            step.state = own.states.first().copied();
        }
        let gone = step.out.clone();
        step.points
            .retain(|point| !is_of_missing_part(job, point, &gone));
        if is_new {
            all.push(made);
        }
    }
}

/// Whether nothing that is in the circuit makes the node of a point.
fn is_of_missing_part(job: &Job, point: &Point, out: &[String]) -> bool {
    let Where::Subject(subject) = &point.subject else {
        return false;
    };
    match subject {
        Subject::Part(name) => out.contains(name),
        Subject::Node(node) | Subject::Pair(node, _) => {
            let makers = job.parts.iter().filter(|part| match &part.kind {
                PartKind::Regulator(regulator) => regulator.into == *node,
                PartKind::Rectifier(_) => {
                    raw_rails_of(job, part).iter().any(|raw| raw.node() == node)
                }
                PartKind::Transistor(transistor) => transistor.ends().1 == node,
                _ => false,
            });
            let makers: Vec<&str> = makers.map(|part| part.name.as_str()).collect();
            !makers.is_empty()
                && makers
                    .iter()
                    .all(|name| out.iter().any(|gone| gone == name))
        }
    }
}
