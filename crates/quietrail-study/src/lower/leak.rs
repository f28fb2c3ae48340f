//! What leaks where nothing else draws.
//!
//! Behind a follower whose load is unplugged a capacitor hangs on junctions alone. They say what fills it and not what
//! empties it: any voltage above what they give keeps for months, so that each would pass for a steady state. No capacitor keeps its charge so
//! long, and what leaks through it decides where the output comes to rest.

use super::Step;
use quietrail_job::model::{Between, Capacitor, Job, LoadDraw, PartKind, Rectifier, RectifierForm};
use std::collections::BTreeSet;

/// Seconds in which a capacitor that nothing else empties would lose its charge at the current that it leaks at first: a tenth of
/// what data sheets of electrolytics allow (0.01 C V after two minutes: Lelon RGA series, specifications), as that is their worst.
const KEEPS: f64 = 1000.0;

/// Nodes that junctions alone join to all else.
pub(super) struct Floating<'j> {
    nodes: BTreeSet<&'j str>,
}

/// A capacitor from which nothing but its own leakage draws, in some state.
#[derive(Clone, Debug, PartialEq)]
pub struct Leak {
    /// Its name.
    pub part: String,
    /// What it is taken to leak, S.
    pub siemens: f64,
}

/// The capacitors of a job that leak because nothing else draws from them.
pub fn leaks(job: &Job) -> Vec<Leak> {
    let step = Step::default();
    let floating = Floating::of(job, &step, &|_| false);
    let of_part = |(name, capacitor): (&str, &Capacitor)| {
        let siemens = floating.leakage(ends(&capacitor.between), capacitor.value.nominal());
        (siemens > capacitor.leakage.nominal()).then(|| Leak {
            part: name.to_owned(),
            siemens,
        })
    };
    let all = job.parts().filter_map(|part| match &part.kind {
        PartKind::Capacitor(capacitor) => Some((part.name.as_str(), capacitor)),
        _ => None,
    });
    all.filter_map(of_part).collect()
}

impl<'j> Floating<'j> {
    /// Those of a job in a step, parts that are `out` aside: the same in each state, so that a circuit keeps its shape.
    pub(super) fn of(job: &'j Job, step: &Step, is_out: &dyn Fn(&str) -> bool) -> Self {
        let mut nodes = BTreeSet::new();
        for start in job.parts().flat_map(|part| behind_junctions(&part.kind)) {
            if start != "common" && !nodes.contains(start) {
                nodes.extend(alone(job, step, is_out, start).unwrap_or_default());
            }
        }
        Self { nodes }
    }

    /// What a capacitor there leaks, S.
    pub(super) fn leakage(&self, (plus, minus): (&str, &str), farads: f64) -> f64 {
        if self.nodes.contains(plus) == self.nodes.contains(minus) {
            return 0.0;
        }
        farads / KEEPS
    }
}

/// The names of a part's two ends.
pub(super) fn ends(between: &Between) -> (&str, &str) {
    (&between.plus, &between.minus)
}

/// Nodes that a transistor or a single diode may leave alone.
fn behind_junctions(kind: &PartKind) -> Vec<&str> {
    match kind {
        PartKind::Transistor(one) => vec![&one.emitter, &one.collector],
        PartKind::Diode(one) => vec![&one.between.plus, &one.between.minus],
        _ => Vec::new(),
    }
}

/// A node with all that resistances and chokes join to it; `None` where something draws from them or feeds them.
fn alone<'j>(
    job: &'j Job,
    step: &Step,
    is_out: &dyn Fn(&str) -> bool,
    start: &'j str,
) -> Option<BTreeSet<&'j str>> {
    let mut joined = BTreeSet::from([start]);
    loop {
        let before = joined.len();
        for part in job.parts().filter(|part| !is_out(&part.name)) {
            match way(&part.kind, &joined) {
                Way::Nowhere => {}
                Way::Away => return None,
                Way::To(node) if node == "common" || node.contains('.') => return None,
                Way::To(node) => {
                    joined.insert(node);
                }
            }
        }
        let has = |node: &String| joined.contains(node.as_str());
        if step
            .dummy
            .iter()
            .any(|one| has(&one.plus) != has(&one.minus))
        {
            return None;
        }
        if joined.len() == before {
            return Some(joined);
        }
    }
}

/// Where a part leads from some nodes.
enum Way<'j> {
    Nowhere,
    /// To another node, through what is linear.
    To(&'j str),
    /// It draws from them or feeds them.
    Away,
}

fn way<'j>(kind: &'j PartKind, from: &BTreeSet<&'j str>) -> Way<'j> {
    let away = |nodes: &[&str]| {
        if nodes.iter().any(|node| from.contains(node)) {
            Way::Away
        } else {
            Way::Nowhere
        }
    };
    match kind {
        PartKind::Capacitor(_)
        | PartKind::Diode(_)
        | PartKind::Transistor(_)
        | PartKind::Shunt(_)
        | PartKind::Sink(_)
        | PartKind::Transformer(_) => Way::Nowhere,
        PartKind::Switch(switch) if !switch.closed => Way::Nowhere,
        PartKind::Load(load) if !load.draws.iter().all(draws) => Way::Nowhere,
        PartKind::Load(load) => away(&[&load.between.plus, &load.between.minus]),
        PartKind::Fuse(_)
        | PartKind::Switch(_)
        | PartKind::Lamp(_)
        | PartKind::Resistor(_)
        | PartKind::Inductor(_)
        | PartKind::Wire(_) => kind
            .between()
            .map_or(Way::Nowhere, |between| across(between, from)),
        PartKind::Regulator(one) => away(&[&one.from, &one.into, &one.ret]),
        PartKind::VariableTransformer(one) => away(&[&one.from, &one.into, &one.ret]),
        PartKind::Rectifier(one) => away(&nodes_of(one)),
    }
}

/// Whether a load draws something whatever its tolerance.
fn draws(draw: &LoadDraw) -> bool {
    match draw {
        LoadDraw::Current(amps) => amps.value.low > 0.0,
        LoadDraw::Power(watts) => watts.value.low > 0.0,
        LoadDraw::Resistance(_) => true,
    }
}

fn across<'j>(between: &'j Between, from: &BTreeSet<&'j str>) -> Way<'j> {
    let (plus, minus) = ends(between);
    match (from.contains(plus), from.contains(minus)) {
        (true, false) => Way::To(minus),
        (false, true) => Way::To(plus),
        _ => Way::Nowhere,
    }
}

fn nodes_of(rectifier: &Rectifier) -> Vec<&str> {
    let further = match &rectifier.form {
        RectifierForm::Split { negative } => Some(negative),
        RectifierForm::Doubler { middle } => Some(middle),
        RectifierForm::CascadeDoubler { pump } => Some(pump),
        _ => None,
    };
    let ends = [&rectifier.into, &rectifier.ret].into_iter();
    ends.chain(further).map(String::as_str).collect()
}
