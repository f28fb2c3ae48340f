//! Each regulator as a careful engineer would look at it: set point, limit against the load, start from nothing, least load,
//! output capacitor, and what stands behind it.

mod pass;
mod picture;
mod through;

pub use pass::{InState, Pass, passes};
pub use picture::{Cut, Picture, picture};
pub use through::{Filtered, Through};

use crate::filter::{self, Room};
use crate::lower::sense_ohms;
use crate::ringing::{NoRing, Ring};
use crate::setpoint;
use crate::solve::Trouble;
use crate::stability::{self, Capacitor};
use crate::starting::{self, LimitCheck, Start, drawn};
use quietrail_engine::Options;
use quietrail_job::model::{Job, PartKind, Regulator, Subject, What};

/// One regulator.
#[derive(Clone, Debug)]
pub struct Card {
    /// Its name.
    pub part: String,
    /// Its set point.
    pub set: setpoint::Finding,
    /// Its current limit against what hangs on it, state by state.
    pub limits: Vec<LimitCheck>,
    /// How it comes up from nothing in each state.
    pub starts: Vec<Start>,
    /// Least load, A, and what it has in the state that draws least; `None` where none is given.
    pub least: Option<Least>,
    /// Its output capacitor against the window of the data sheet.
    pub capacitor: Capacitor,
    /// How it rang when its load was stepped, where that was tried.
    pub rang: Option<Result<Ring, NoRing>>,
    /// Resistors that sense its current: each with its share of the power at the highest limit, W.
    pub sense: Vec<(f64, f64)>,
    /// Filters drawn right behind it.
    pub filters: Vec<Filtered>,
    /// What its rail has room for, where none is drawn and a limit asks for a least voltage.
    pub proposal: Option<Room>,
    /// Whether a diode from output to input is wanted.
    pub diode: Diode,
    /// Whether a diode from adjust pin to output is wanted, where a capacitor hangs on the pin.
    pub adjust_diode: Option<Diode>,
}

/// Least load.
#[derive(Clone, Debug, PartialEq)]
pub struct Least {
    /// At which it regulates for sure, A.
    pub needs: f64,
    /// What divider, bleeders and loads draw in the state that draws least, A.
    pub has: f64,
    /// Bleeder that would make it up, Ω.
    pub bleeder: Option<f64>,
}

/// A diode that catches what a capacitor would drive through a part: from output to input, for when the input is shorted or falls
/// first; from adjust pin to output, for when the output is shorted.
#[derive(Clone, Debug, PartialEq)]
pub struct Diode {
    /// The capacitance, F.
    pub farads: f64,
    /// Energy in it, J.
    pub joules: f64,
    /// Most that the part bears without, F.
    pub bears: f64,
    /// Whether the job gives that; else it is common practice.
    pub is_stated: bool,
    /// Whether the capacitance is more than that.
    pub wanted: bool,
    /// The diode that the job draws there.
    pub drawn: Option<String>,
}

/// Output capacitance above which a discharge backwards through a regulator is caught by a diode, F (common practice,
/// no source: 20 µF and more at a few volts).
const CATCH: f64 = 20e-6;
/// The same of a capacitor on the adjust pin, through it, F (common practice, no source).
const ADJUST_CATCH: f64 = 10e-6;

/// The card of each regulator.
///
/// # Errors
/// Why not even the first circuit could be made.
pub fn cards(job: &Job, options: &Options) -> Result<Vec<Card>, Trouble> {
    let mut all = Vec::new();
    for part in &job.parts {
        let PartKind::Regulator(regulator) = &part.kind else {
            continue;
        };
        let filters = filter::of(job, regulator)
            .into_iter()
            .map(|one| through::through(job, regulator, one, options))
            .collect();
        let starts = starting::starts(job, regulator, options)?;
        all.push(card(job, &part.name, regulator, filters, starts));
    }
    Ok(all)
}

fn card(
    job: &Job,
    name: &str,
    regulator: &Regulator,
    filters: Vec<Filtered>,
    starts: Vec<Start>,
) -> Card {
    Card {
        part: name.to_owned(),
        set: setpoint::of(regulator, wanted(job, regulator)),
        limits: starting::limits(job, regulator),
        starts,
        least: least(job, regulator),
        capacitor: stability::capacitor(job, regulator),
        rang: stability::rang(regulator),
        sense: sense(regulator),
        proposal: if filters.is_empty() {
            room(job, regulator).and_then(|room| filter::proposal(job, regulator, room))
        } else {
            None
        },
        filters,
        diode: diode(job, regulator),
        adjust_diode: adjust_diode(regulator),
    }
}

/// The cards without what takes a steady state or a start: for a page that follows the hand.
pub fn quick_cards(job: &Job) -> Vec<Card> {
    let regulators = job.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Regulator(regulator) => Some((&part.name, regulator)),
        _ => None,
    });
    regulators
        .map(|(name, regulator)| {
            let filters = filter::of(job, regulator).into_iter();
            let filters = filters.map(through::without_noise).collect();
            card(job, name, regulator, filters, Vec::new())
        })
        .collect()
}

/// Middle of the window that limits ask of its output, if they ask for both ends.
fn wanted(job: &Job, regulator: &Regulator) -> Option<f64> {
    let of_output = job.limits.iter().filter(|limit| {
        let at = match &limit.of {
            Subject::Node(node) => node,
            Subject::Pair(plus, _) => plus,
            Subject::Part(_) => return false,
        };
        *at == regulator.into && matches!(limit.what, What::Mean | What::Valley | What::Peak)
    });
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for limit in of_output {
        low = low.max(limit.min.unwrap_or(f64::NEG_INFINITY));
        high = high.min(limit.max.unwrap_or(f64::INFINITY));
    }
    (low.is_finite() && high.is_finite()).then_some(0.5 * (low + high))
}

fn least(job: &Job, regulator: &Regulator) -> Option<Least> {
    let needs = regulator.minimum_load.value.high;
    if needs <= 0.0 {
        return None;
    }
    let loads = (0..job.states.len())
        .map(|state| drawn(job, regulator, state).0)
        .fold(f64::INFINITY, f64::min);
    let has = loads + setpoint::of(regulator, None).divider.unwrap_or(0.0);
    let bleeder = (has < needs).then(|| regulator.set.volts() / (needs - has));
    Some(Least {
        needs,
        has,
        bleeder,
    })
}

/// Each resistor with its power where the limit acts at its highest.
fn sense(regulator: &Regulator) -> Vec<(f64, f64)> {
    let volts = regulator.limit.value.high * sense_ohms(regulator);
    regulator
        .limit_resistors
        .iter()
        .map(|one| (one.nominal(), volts * volts / one.nominal()))
        .collect()
}

/// Whether a diode from output to input is wanted, and the one that is drawn.
pub(crate) fn diode(job: &Job, regulator: &Regulator) -> Diode {
    let farads = stability::at_output(job, regulator);
    let volts = regulator.set.volts();
    let bears = regulator
        .rated
        .backwards
        .as_ref()
        .map_or(CATCH, |farads| farads.value.low);
    Diode {
        farads,
        joules: 0.5 * farads * volts * volts,
        bears,
        is_stated: regulator.rated.backwards.is_some(),
        wanted: farads > bears,
        drawn: job.parts.iter().find_map(|part| match &part.kind {
            PartKind::Diode(diode)
                if diode.between.plus == regulator.into
                    && diode.between.minus == regulator.from =>
            {
                Some(part.name.clone())
            }
            _ => None,
        }),
    }
}

/// A capacitor on the adjust pin discharges through it when the output is shorted.
pub(crate) fn adjust_diode(regulator: &Regulator) -> Option<Diode> {
    let pin = regulator.set.adjust_pin()?;
    let farads = pin.bypass?;
    let volts = regulator.set.volts() - pin.reference;
    (farads > 0.0).then_some(Diode {
        farads,
        joules: 0.5 * farads * volts * volts,
        bears: ADJUST_CATCH,
        is_stated: false,
        wanted: farads > ADJUST_CATCH,
        drawn: None,
    })
}

/// What limits leave between the lowest set point and the least voltage that they ask of its output, V.
fn room(job: &Job, regulator: &Regulator) -> Option<f64> {
    let least = job
        .limits
        .iter()
        .filter(|limit| matches!(limit.what, What::Mean | What::Valley))
        .filter(|limit| match &limit.of {
            Subject::Node(node) | Subject::Pair(node, _) => *node == regulator.into,
            Subject::Part(_) => false,
        })
        .filter_map(|limit| limit.min)
        .fold(f64::NEG_INFINITY, f64::max);
    least
        .is_finite()
        .then_some(setpoint::of(regulator, None).worst.0 - least)
}
