//! What is in a job, read from the job itself: the maker of jobs has no say in it. And how many jobs of a storm have it.

use crate::make::{AIMS, Aim};
use quietrail_job::model::{
    DiodeCurve, Inductor, Job, JoinTerm, LoadDraw, Origin, PartKind, Rectifier, RectifierForm,
    Regulator, SetPoint, ShuntSet, Transformer,
};
use quietrail_study::heat::Temperatures;
use quietrail_study::lower::{Step, lower};
use std::collections::{BTreeMap, BTreeSet};

/// What a job may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the names are the trade's")]
pub enum Feature {
    Bridge,
    CentreTap,
    HalfWave,
    Split,
    Doubler,
    CascadeDoubler,
    TwoOrMoreRails,
    RectifiersOnOneWinding,
    RectifiersIntoOneNode,
    SeveralTransformers,
    PrimariesInSeries,
    PrimariesInParallel,
    WindingTap,
    WindingsInSeries,
    WindingsInParallel,
    Leakage,
    ExistingLoad,
    Fuse,
    ClosedSwitch,
    OpenSwitch,
    Lamp,
    VariableTransformer,
    ReturnWire,
    SharedReturn,
    FloatingRail,
    SupplyWire,
    FilterResistor,
    FilterChoke,
    ChokeInput,
    ChokeIntoLoad,
    DiodeByPoints,
    DiodeByLaw,
    DiodeFromCatalogue,
    IdealDiode,
    IdealDiodeWithoutSlope,
    SingleDiode,
    FixedRegulator,
    ReferenceAcrossUpper,
    ReferenceAcrossLower,
    TrimmedRegulator,
    RegulatorFromCatalogue,
    RegulatorBehindRegulator,
    RegulatorWithoutLoad,
    SenseLead,
    NpnTransistor,
    PnpTransistor,
    TransistorFromCatalogue,
    FixedShunt,
    DividedShunt,
    CurrentLoad,
    ResistanceLoad,
    PowerLoad,
    SharedSink,
    BoxHeatedFromInside,
    NoEsr,
    LargeCapacitorWithoutLoad,
    /// 5 to 14 nodes.
    FewNodes,
    /// 15 to 29 nodes.
    SomeNodes,
    /// 30 to 44 nodes.
    ManyNodes,
    /// 45 to 60 nodes.
    MostNodes,
}

/// Least share of the jobs of a storm that must have each feature.
pub const QUOTAS: &[(Feature, f64)] = &[
    (Feature::Bridge, 0.03),
    (Feature::CentreTap, 0.03),
    (Feature::HalfWave, 0.03),
    (Feature::Split, 0.03),
    (Feature::Doubler, 0.03),
    (Feature::CascadeDoubler, 0.03),
    (Feature::TwoOrMoreRails, 0.30),
    (Feature::RectifiersOnOneWinding, 0.03),
    (Feature::RectifiersIntoOneNode, 0.03),
    (Feature::SeveralTransformers, 0.03),
    (Feature::PrimariesInSeries, 0.03),
    (Feature::PrimariesInParallel, 0.03),
    (Feature::WindingTap, 0.03),
    (Feature::WindingsInSeries, 0.03),
    (Feature::WindingsInParallel, 0.03),
    (Feature::Leakage, 0.03),
    (Feature::ExistingLoad, 0.03),
    (Feature::Fuse, 0.03),
    (Feature::ClosedSwitch, 0.03),
    (Feature::OpenSwitch, 0.03),
    (Feature::Lamp, 0.03),
    (Feature::VariableTransformer, 0.03),
    (Feature::ReturnWire, 0.03),
    (Feature::SharedReturn, 0.03),
    (Feature::FloatingRail, 0.03),
    (Feature::SupplyWire, 0.03),
    (Feature::FilterResistor, 0.03),
    (Feature::FilterChoke, 0.03),
    (Feature::ChokeInput, 0.03),
    (Feature::ChokeIntoLoad, 0.03),
    (Feature::DiodeByPoints, 0.03),
    (Feature::DiodeByLaw, 0.03),
    (Feature::DiodeFromCatalogue, 0.03),
    (Feature::IdealDiode, 0.03),
    (Feature::IdealDiodeWithoutSlope, 0.03),
    (Feature::SingleDiode, 0.03),
    (Feature::FixedRegulator, 0.03),
    (Feature::ReferenceAcrossUpper, 0.03),
    (Feature::ReferenceAcrossLower, 0.03),
    (Feature::TrimmedRegulator, 0.03),
    (Feature::RegulatorFromCatalogue, 0.03),
    (Feature::RegulatorBehindRegulator, 0.03),
    (Feature::RegulatorWithoutLoad, 0.03),
    (Feature::SenseLead, 0.03),
    (Feature::NpnTransistor, 0.03),
    (Feature::PnpTransistor, 0.03),
    (Feature::TransistorFromCatalogue, 0.03),
    (Feature::FixedShunt, 0.03),
    (Feature::DividedShunt, 0.03),
    (Feature::CurrentLoad, 0.03),
    (Feature::ResistanceLoad, 0.03),
    (Feature::PowerLoad, 0.03),
    (Feature::SharedSink, 0.03),
    (Feature::BoxHeatedFromInside, 0.03),
    (Feature::NoEsr, 0.10),
    (Feature::LargeCapacitorWithoutLoad, 0.03),
    (Feature::FewNodes, 0.15),
    (Feature::SomeNodes, 0.15),
    (Feature::ManyNodes, 0.10),
    (Feature::MostNodes, 0.10),
];

/// Fewest and most nodes of the circuit that a job of a storm becomes, that of `common` included. It is made for at most 60; windings that
/// leak before a choke that diodes may cut off have one more each, between them and their leakage.
pub const NODES: std::ops::RangeInclusive<usize> = 5..=70;

/// A capacitor that counts as large, F.
const LARGE: f64 = 10e-3;

/// How many jobs of a storm have what, beside how many should.
#[derive(Clone, Debug, Default)]
pub struct Census {
    jobs: u64,
    with: BTreeMap<Feature, u64>,
    aimed: BTreeMap<Aim, u64>,
}

/// Share of the jobs that have something, and the least that should.
#[derive(Clone, Debug, PartialEq)]
pub struct Quota {
    /// What they have.
    pub what: String,
    /// Share of them that has it.
    pub share: f64,
    /// Least share.
    pub least: f64,
}

impl Census {
    /// Counts the next job in: what it has, and what it was made to suffer from.
    pub fn add(&mut self, has: &BTreeSet<Feature>, aims: &BTreeSet<Aim>) {
        self.jobs += 1;
        for feature in has {
            *self.with.entry(*feature).or_default() += 1;
        }
        for aim in aims {
            *self.aimed.entry(*aim).or_default() += 1;
        }
    }

    /// Every quota, in the order of their lists.
    pub fn quotas(&self) -> Vec<Quota> {
        let share = |jobs: Option<&u64>| {
            let jobs = jobs.copied().unwrap_or_default();
            jobs as f64 / self.jobs.max(1) as f64
        };
        let of_features = QUOTAS.iter().map(|(feature, least)| Quota {
            what: format!("{feature:?}"),
            share: share(self.with.get(feature)),
            least: *least,
        });
        let of_aims = AIMS.iter().map(|(aim, least)| Quota {
            what: format!("{aim:?}"),
            share: share(self.aimed.get(aim)),
            least: *least,
        });
        of_features.chain(of_aims).collect()
    }
}

/// How many nodes the circuit of a job has in its first state; none where it cannot be lowered.
pub fn nodes(job: &Job) -> usize {
    let step = Step::default();
    lower(job, 0, &step, &[], &Temperatures::at_rest(job))
        .map_or(0, |lowered| lowered.circuit.node_count())
}

/// Everything of the list that a job has.
pub fn features(job: &Job) -> BTreeSet<Feature> {
    let mut has = BTreeSet::new();
    for part in &job.parts {
        of_part(job, &part.kind, &mut has);
    }
    of_rectifiers(job, &mut has);
    of_regulators(job, &mut has);
    if matches!(job.air.rise, quietrail_job::model::BoxRise::Through(_)) {
        has.insert(Feature::BoxHeatedFromInside);
    }
    let transformers = job
        .parts
        .iter()
        .filter(|part| matches!(part.kind, PartKind::Transformer(_)));
    if transformers.count() > 1 {
        has.insert(Feature::SeveralTransformers);
    }
    has.insert(match nodes(job) {
        0..=14 => Feature::FewNodes,
        15..=29 => Feature::SomeNodes,
        30..=44 => Feature::ManyNodes,
        _ => Feature::MostNodes,
    });
    has
}

fn of_part(job: &Job, kind: &PartKind, has: &mut BTreeSet<Feature>) {
    match kind {
        PartKind::Fuse(_) => {
            has.insert(Feature::Fuse);
        }
        PartKind::Switch(switch) => {
            has.insert(if switch.closed {
                Feature::ClosedSwitch
            } else {
                Feature::OpenSwitch
            });
        }
        PartKind::Lamp(_) => {
            has.insert(Feature::Lamp);
        }
        PartKind::VariableTransformer(_) => {
            has.insert(Feature::VariableTransformer);
        }
        PartKind::Transformer(transformer) => of_transformer(transformer, has),
        PartKind::Rectifier(rectifier) => of_curve(&rectifier.curve, has),
        PartKind::Capacitor(capacitor) => {
            if capacitor.esr.nominal() == 0.0 {
                has.insert(Feature::NoEsr);
            }
            let plus = &capacitor.between.plus;
            if capacitor.value.nominal() >= LARGE && !feeds_anything(job, plus) {
                has.insert(Feature::LargeCapacitorWithoutLoad);
            }
        }
        PartKind::Resistor(_) => {
            has.insert(Feature::FilterResistor);
        }
        PartKind::Inductor(inductor) => of_choke(job, inductor, has),
        PartKind::Wire(wire) => {
            has.insert(if wire.between.minus == "common" {
                Feature::ReturnWire
            } else {
                Feature::SupplyWire
            });
        }
        PartKind::Diode(diode) => {
            has.insert(Feature::SingleDiode);
            of_curve(&diode.curve, has);
        }
        PartKind::Transistor(transistor) => {
            has.insert(if transistor.is_pnp {
                Feature::PnpTransistor
            } else {
                Feature::NpnTransistor
            });
            if matches!(transistor.gain.origin, Origin::Catalogue { .. }) {
                has.insert(Feature::TransistorFromCatalogue);
            }
        }
        PartKind::Shunt(shunt) => {
            has.insert(match shunt.set {
                ShuntSet::Fixed(_) => Feature::FixedShunt,
                ShuntSet::Divided { .. } => Feature::DividedShunt,
            });
        }
        PartKind::Regulator(_) | PartKind::Sink(_) => {}
        PartKind::Load(load) => {
            for draw in &load.draws {
                has.insert(match draw {
                    LoadDraw::Current(_) => Feature::CurrentLoad,
                    LoadDraw::Resistance(_) => Feature::ResistanceLoad,
                    LoadDraw::Power(_) => Feature::PowerLoad,
                });
            }
        }
    }
}

fn of_transformer(transformer: &Transformer, has: &mut BTreeSet<Feature>) {
    let selector = &transformer.selector;
    let selected = selector.positions.iter().find(|(at, _)| *at == selector.at);
    match selected.map(|(_, join)| &join.term) {
        Some(JoinTerm::Series(_)) => {
            has.insert(Feature::PrimariesInSeries);
        }
        Some(JoinTerm::Parallel(_)) => {
            has.insert(Feature::PrimariesInParallel);
        }
        Some(JoinTerm::Winding { .. }) | None => {}
    }
    for join in &transformer.joins {
        match join.term {
            JoinTerm::Series(_) => {
                has.insert(Feature::WindingsInSeries);
            }
            JoinTerm::Parallel(_) => {
                has.insert(Feature::WindingsInParallel);
            }
            JoinTerm::Winding { .. } => {}
        }
    }
    for winding in &transformer.secondary {
        if !winding.taps.is_empty() {
            has.insert(Feature::WindingTap);
        }
        if winding.leakage.nominal() > 0.0 {
            has.insert(Feature::Leakage);
        }
    }
    if !transformer.existing.is_empty() {
        has.insert(Feature::ExistingLoad);
    }
}

fn of_curve(curve: &DiodeCurve, has: &mut BTreeSet<Feature>) {
    let origin = match curve {
        DiodeCurve::Law { saturation, .. } => {
            has.insert(Feature::DiodeByLaw);
            &saturation.origin
        }
        DiodeCurve::Points { points, .. } => {
            has.insert(Feature::DiodeByPoints);
            &points[0].0.origin
        }
        DiodeCurve::Ideal { drop, slope } => {
            has.insert(Feature::IdealDiode);
            if slope.nominal() == 0.0 {
                has.insert(Feature::IdealDiodeWithoutSlope);
            }
            &drop.origin
        }
    };
    if matches!(origin, Origin::Catalogue { .. }) {
        has.insert(Feature::DiodeFromCatalogue);
    }
}

fn of_choke(job: &Job, choke: &Inductor, has: &mut BTreeSet<Feature>) {
    let capacitor_at = |node: &str| {
        job.parts.iter().any(|part| {
            matches!(&part.kind, PartKind::Capacitor(capacitor)
                if capacitor.between.plus == node || capacitor.between.minus == node)
        })
    };
    has.insert(Feature::FilterChoke);
    if !capacitor_at(&choke.between.plus) {
        has.insert(Feature::ChokeInput);
    }
    if !capacitor_at(&choke.between.minus) && loaded(job, &choke.between.minus) {
        has.insert(Feature::ChokeIntoLoad);
    }
}

fn of_rectifiers(job: &Job, has: &mut BTreeSet<Feature>) {
    let rectifiers: Vec<&Rectifier> = job
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            PartKind::Rectifier(rectifier) => Some(rectifier),
            _ => None,
        })
        .collect();
    for (index, one) in rectifiers.iter().enumerate() {
        has.insert(match one.form {
            RectifierForm::Bridge => Feature::Bridge,
            RectifierForm::CentreTap => Feature::CentreTap,
            RectifierForm::HalfWave => Feature::HalfWave,
            RectifierForm::Split { .. } => Feature::Split,
            RectifierForm::Doubler { .. } => Feature::Doubler,
            RectifierForm::CascadeDoubler { .. } => Feature::CascadeDoubler,
        });
        if !reaches_common(job, &one.ret) {
            has.insert(Feature::FloatingRail);
        }
        for other in &rectifiers[..index] {
            if one.from == other.from {
                has.insert(Feature::RectifiersOnOneWinding);
            }
            if one.into == other.into {
                has.insert(Feature::RectifiersIntoOneNode);
            } else {
                has.insert(Feature::TwoOrMoreRails);
            }
            if one.ret == other.ret && one.ret != "common" {
                has.insert(Feature::SharedReturn);
            }
        }
    }
}

fn of_regulators(job: &Job, has: &mut BTreeSet<Feature>) {
    let regulators: Vec<&Regulator> = job
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            PartKind::Regulator(regulator) => Some(&**regulator),
            _ => None,
        })
        .collect();
    for (index, one) in regulators.iter().enumerate() {
        has.insert(match one.set {
            SetPoint::Fixed(_) => Feature::FixedRegulator,
            SetPoint::AcrossUpper { .. } => Feature::ReferenceAcrossUpper,
            SetPoint::AcrossLower { .. } | SetPoint::AcrossBoth { .. } => {
                Feature::ReferenceAcrossLower
            }
            SetPoint::Trimmed { .. } => Feature::TrimmedRegulator,
        });
        let dropout = one.dropout.first().map(|(_, volts)| &volts.origin);
        if matches!(dropout, Some(Origin::Catalogue { .. })) {
            has.insert(Feature::RegulatorFromCatalogue);
        }
        if regulators.iter().any(|other| other.into == one.from) {
            has.insert(Feature::RegulatorBehindRegulator);
        }
        if one.sense.is_some() {
            has.insert(Feature::SenseLead);
        }
        if !feeds_anything(job, &one.into) {
            has.insert(Feature::RegulatorWithoutLoad);
        }
        if one.sink.is_some() && regulators[..index].iter().any(|o| o.sink == one.sink) {
            has.insert(Feature::SharedSink);
        }
    }
}

/// Whether a load hangs on a node.
fn loaded(job: &Job, node: &str) -> bool {
    job.parts.iter().any(|part| {
        matches!(&part.kind, PartKind::Load(load)
            if load.between.plus == node || load.between.minus == node)
    })
}

/// Whether anything but capacitors and what feeds it hangs on a node.
fn feeds_anything(job: &Job, node: &str) -> bool {
    job.parts.iter().any(|part| match &part.kind {
        PartKind::Capacitor(_) | PartKind::Diode(_) => false,
        PartKind::Regulator(regulator) => regulator.from == node,
        PartKind::Transistor(transistor) => transistor.ends().0 == node,
        kind => kind
            .between()
            .is_some_and(|between| between.plus == node || between.minus == node),
    })
}

/// Whether parts with two ends lead from a node to common.
fn reaches_common(job: &Job, node: &str) -> bool {
    let mut reached = BTreeSet::from([node]);
    loop {
        let before = reached.len();
        for between in job.parts.iter().filter_map(|part| part.kind.between()) {
            let (plus, minus) = (between.plus.as_str(), between.minus.as_str());
            if plus != "common" && reached.contains(plus) {
                reached.insert(minus);
            }
            if minus != "common" && reached.contains(minus) {
                reached.insert(plus);
            }
        }
        if reached.contains("common") {
            return true;
        }
        if reached.len() == before {
            return false;
        }
    }
}
