//! Old capacitors: whether one found in a drawer is fit for its position, with the ripple and heat that it would have there,
//! and how to bring one up that lay for years.

use crate::forming::IDLE;
use crate::heat::Temperatures;
use crate::life::{life_at, life_over, temperature_for};
use crate::lower::{Step, lower};
use crate::question::SELF_HEATING;
use crate::solve::{Setting, figures};
use quietrail_engine::{Options, Output, Signal};
use quietrail_job::model::{Capacitor, Job, Origin, PartKind, RectifierForm};
use quietrail_job::{Address, Change};

pub use crate::forming::{FormingStep, Reforming, leakage_limit, reforming};

/// Change of capacitance at the end of an endurance test, and at the end of useful life (Vishay 021 ASM and PSM-SI, table 5).
pub const ENDURANCE: f64 = 0.20;
/// At the end of useful life.
pub const END_OF_LIFE: f64 = 0.45;
/// Times by which series resistance has risen at the end of an endurance test, and at the end of useful life (the same table).
pub const ENDURANCE_ESR: f64 = 1.3;
/// At the end of useful life.
pub const END_OF_LIFE_ESR: f64 = 3.0;

/// One capacitor at its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Vetted {
    /// `C1`
    pub part: String,
    /// Capacitance, F, and whether it was measured.
    pub farads: f64,
    /// Capacitance that the drawing asks for, F, where both stand in the job.
    pub drawn: Option<f64>,
    /// Series resistance, Ω.
    pub esr: f64,
    /// Whether value and series resistance were measured on this very part.
    pub is_measured: (bool, bool),
    /// The state in which its ripple current is largest.
    pub state: String,
    /// rms of its current there, A, at the highest mains.
    pub rms: f64,
    /// Heat by that, W: I² times the series resistance.
    pub heat: f64,
    /// Life that the ten-degree rule gives it at its place, where the job rates it.
    pub life: Option<Life>,
    /// Ripple across it, peak to peak, V, and the same with no series resistance at all.
    pub ripple: (f64, f64),
    /// Highest volts across it, V, and its rating.
    pub volts: (f64, Option<f64>),
    /// Ripple rating, A, as printed.
    pub rated_ripple: Option<f64>,
    /// Leakage at its highest volts there, A, and what one in order may have.
    pub leakage: Option<(f64, f64)>,
    /// Hours that it lay unused, where the job says.
    pub unused: Option<f64>,
    /// What speaks against it, the gravest first. Empty: nothing found against it.
    pub against: Vec<Against>,
    /// How to bring it up.
    pub plan: Option<Reforming>,
}

/// Life of a capacitor by the ten-degree rule: `L0 2^((T0 − T)/10)`.
#[derive(Clone, Debug, PartialEq)]
pub struct Life {
    /// Temperature of the can in its hottest state, °C, and that state: hottest air of the box, and what its ripple current adds.
    pub hottest: (f64, String),
    /// Hours there.
    pub hours: f64,
    /// Hours with every state lasting as long as the others.
    pub equally: f64,
    /// The one temperature at which it would last so long, °C: above the mean of the states.
    pub as_at: f64,
}

/// Heat of a ripple current in a series resistance, W.
pub fn heat_of(rms: f64, esr: f64) -> f64 {
    rms * rms * esr
}

/// What speaks against a capacitor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Against {
    /// More volts than its rating.
    Volts,
    /// More ripple current than its rating as printed.
    Ripple,
    /// Leaks more than one in order.
    Leakage,
    /// Has lost, or gained, more than parts at the end of their life.
    EndOfLife {
        /// Change of capacitance, a share.
        change: f64,
    },
    /// Beyond what an endurance test leaves; watch it.
    Worn {
        /// Change of capacitance, a share.
        change: f64,
    },
    /// Series resistance has risen beyond that of parts at the end of their life.
    EndOfLifeEsr {
        /// Times the drawn one.
        times: f64,
    },
    /// Beyond what an endurance test leaves; watch it.
    WornEsr {
        /// Times the drawn one.
        times: f64,
    },
    /// Series resistance makes as much ripple as the capacitance does.
    SeriesResistance,
    /// Value or series resistance not measured: the marking is believed.
    NotMeasured,
}

impl Against {
    /// Whether it is not fit with that.
    pub fn rejects(self) -> bool {
        !matches!(
            self,
            Self::Worn { .. } | Self::WornEsr { .. } | Self::NotMeasured | Self::SeriesResistance
        )
    }
}

/// Vets every electrolytic that a rectifier charges, and every one of which something was measured.
pub fn vet(job: &Job, options: &Options) -> Vec<Vetted> {
    let behind: Vec<(&str, &str)> = job
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            PartKind::Rectifier(of) => Some(of),
            _ => None,
        })
        .flat_map(|of| {
            let under = match &of.form {
                RectifierForm::Split { negative } => Some((of.ret.as_str(), negative.as_str())),
                _ => None,
            };
            std::iter::once((of.into.as_str(), of.ret.as_str())).chain(under)
        })
        .collect();
    job.parts
        .iter()
        .filter_map(|part| {
            let PartKind::Capacitor(capacitor) = &part.kind else {
                return None;
            };
            let is_reservoir = behind.contains(&(
                capacitor.between.plus.as_str(),
                capacitor.between.minus.as_str(),
            ));
            let is_found = is_measured(&capacitor.value.origin)
                || is_measured(&capacitor.esr.origin)
                || capacitor.unused.is_some();
            (is_reservoir || is_found)
                .then(|| one(job, &part.name, capacitor, options))
                .flatten()
        })
        .collect()
}

fn is_measured(origin: &Origin) -> bool {
    matches!(origin, Origin::Measured { .. })
}

/// What the circuit asks of it: rms, ripple and crest, worst over states at the highest mains.
struct Asked {
    /// Its rms in each state that could be computed.
    each: Vec<(String, f64)>,
    state: String,
    rms: f64,
    ripple: f64,
    crest: f64,
}

fn asked(job: &Job, name: &str, esr: Option<f64>, options: &Options) -> Option<Asked> {
    let mut worst: Option<Asked> = None;
    let mut changes = vec![Change::Set {
        address: Address("mains.voltage".to_owned()),
        value: job.mains.voltage.value.high,
    }];
    changes.extend(esr.map(|value| Change::Set {
        address: Address(format!("{name}.esr")),
        value,
    }));
    let mut crest = 0.0;
    let mut each = Vec::new();
    for state in 0..job.states.len() {
        let lowered = lower(
            job,
            state,
            &Step::default(),
            &changes,
            &Temperatures::at_rest(job),
        )
        .ok()?;
        let PartKind::Capacitor(capacitor) = &job.part(name)?.kind else {
            return None;
        };
        let volts = Signal::Voltage(
            lowered.node(&capacitor.between.plus)?,
            lowered.node(&capacitor.between.minus)?,
        );
        let current = Signal::Current(lowered.element(name)?, 0);
        let outputs = [
            Output::Rms(current),
            Output::Peak(volts.clone()),
            Output::Valley(volts),
        ];
        let step = Step::default();
        let setting = Setting {
            job,
            state,
            step: &step,
            options,
        };
        let Ok(found) = figures(setting, &changes, &lowered, &outputs) else {
            continue;
        };
        let (rms, peak, valley) = (found[0], found[1], found[2]);
        crest = f64::max(crest, peak);
        each.push((job.states[state].name.clone(), rms));
        if worst.as_ref().is_none_or(|of| rms > of.rms) {
            worst = Some(Asked {
                each: Vec::new(),
                state: job.states[state].name.clone(),
                rms,
                ripple: peak - valley,
                crest: peak,
            });
        }
    }
    worst.map(|of| Asked { crest, each, ..of })
}

/// Life at its place: in the hottest air of the box, warmed by its ripple current where that is rated.
fn life(job: &Job, part: &Capacitor, rated_ripple: Option<f64>, found: &Asked) -> Option<Life> {
    let (hours, rated_at) = part.rated.life.as_ref()?;
    let (hours, rated_at) = (hours.nominal(), rated_at.nominal());
    let air = crate::heat::hottest_air(job);
    let can =
        |rms: f64| air + rated_ripple.map_or(0.0, |rated| SELF_HEATING * (rms / rated).powi(2));
    let shares: Vec<(f64, f64)> = found.each.iter().map(|(_, rms)| (1.0, can(*rms))).collect();
    let equally = life_over(hours, rated_at, &shares);
    let hottest = can(found.rms);
    Some(Life {
        hottest: (hottest, found.state.clone()),
        hours: life_at(hours, rated_at, hottest),
        equally,
        as_at: temperature_for(hours, rated_at, equally),
    })
}

fn one(job: &Job, name: &str, part: &Capacitor, options: &Options) -> Option<Vetted> {
    let found = asked(job, name, None, options)?;
    let bare = asked(job, name, Some(1e-6), options)?;
    let (farads, esr) = (part.value.nominal(), part.esr.nominal());
    let rated_volts = part.rated.volts.as_ref().map(|volts| volts.nominal());
    let rated_ripple = part
        .rated
        .ripple
        .as_ref()
        .map(|rating| rating.amps.nominal());
    let leak = part.leakage.nominal();
    let leakage = (leak > 0.0).then(|| (leak * found.crest, leakage_limit(farads, found.crest)));
    let is_measured = (
        is_measured(&part.value.origin),
        is_measured(&part.esr.origin),
    );
    let mut against = Vec::new();
    if rated_volts.is_some_and(|rated| found.crest > rated) {
        against.push(Against::Volts);
    }
    if rated_ripple.is_some_and(|rated| found.rms > rated) {
        against.push(Against::Ripple);
    }
    if leakage.is_some_and(|(leaks, limit)| leaks > limit) {
        against.push(Against::Leakage);
    }
    if let Some(drawn) = part.drawn {
        let change = farads / drawn - 1.0;
        if change.abs() > END_OF_LIFE {
            against.push(Against::EndOfLife { change });
        } else if change.abs() > ENDURANCE {
            against.push(Against::Worn { change });
        }
    }
    if let Some(drawn) = part.drawn_esr.filter(|drawn| *drawn > 0.0) {
        let times = esr / drawn;
        if times > END_OF_LIFE_ESR {
            against.push(Against::EndOfLifeEsr { times });
        } else if times > ENDURANCE_ESR {
            against.push(Against::WornEsr { times });
        }
    }
    if found.ripple > 1.25 * bare.ripple {
        against.push(Against::SeriesResistance);
    }
    if !is_measured.0 || !is_measured.1 {
        against.push(Against::NotMeasured);
    }
    let unused = part.unused.as_ref().map(|hours| hours.value.high);
    let life = life(job, part, rated_ripple, &found);
    Some(Vetted {
        part: name.to_owned(),
        farads,
        drawn: part.drawn,
        esr,
        is_measured,
        state: found.state,
        rms: found.rms,
        heat: heat_of(found.rms, esr),
        life,
        ripple: (found.ripple, bare.ripple),
        volts: (found.crest, rated_volts),
        rated_ripple,
        leakage,
        plan: unused
            .filter(|hours| *hours > IDLE)
            .map(|hours| reforming(farads, found.crest, hours)),
        unused,
        against,
    })
}
