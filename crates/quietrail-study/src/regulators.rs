//! Each regulator as a careful engineer would look at it: set point, limit against the load, start from nothing, least load,
//! output capacitor, and what stands behind it.

mod pass;
mod picture;
mod through;

pub use pass::{InState, Pass, passes};
pub use picture::{Cut, Picture, picture};
pub use through::{Filtered, Through};

use crate::catching::{self, Diode};
use crate::filter::{self, Room};
use crate::lower::sense_ohms;
use crate::ringing::{self, NoRing, Ring};
use crate::setpoint;
use crate::solve::Trouble;
use crate::stability::{self, Capacitor};
use crate::starting::{self, LimitCheck, Start, drawn};
use quietrail_engine::Options;
use quietrail_job::model::{Between, Job, PartKind, Regulator, Subject, What};
use std::collections::BTreeSet;

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

impl Card {
    /// Whether anything of it fails.
    pub fn fails(&self) -> bool {
        let volts = self.set.nominal;
        let cannot_be_set = self
            .set
            .reach
            .is_some_and(|reach| volts < reach.sure.0 || volts > reach.sure.1);
        let is_poor = |ring: &Ring| ring.margin < ringing::POOR;
        let rang = self.rang.as_ref();
        cannot_be_set
            || self.limits.iter().any(LimitCheck::is_short)
            || self.starts.iter().any(Start::stays_down)
            || self.least.as_ref().is_some_and(|one| one.bleeder.is_some())
            || matches!(
                self.capacitor,
                Capacitor::NoneDrawn | Capacitor::Outside { .. }
            )
            || rang.is_some_and(|rang| rang.as_ref().map_or(true, is_poor))
    }
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
        let starts = starting::starts(job, &part.name, options)?;
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
        diode: catching::output(job, regulator),
        adjust_diode: catching::adjust(regulator),
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
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for asked in asked_of_output(job, regulator) {
        low = low.max(asked.least.unwrap_or(f64::NEG_INFINITY));
        high = high.min(asked.most.unwrap_or(f64::INFINITY));
    }
    let middle = 0.5 * (low + high);
    let signed = if regulator.is_negative() {
        -middle
    } else {
        middle
    };
    (low.is_finite() && high.is_finite()).then_some(signed)
}

fn least(job: &Job, regulator: &Regulator) -> Option<Least> {
    let needs = regulator.minimum_load.value.high;
    if needs <= 0.0 {
        return None;
    }
    let loads = (0..job.states.len())
        .map(|state| drawn(job, regulator, state).0)
        .fold(f64::INFINITY, f64::min);
    let has = loads + setpoint::divider_range(regulator).0;
    let bleeder = (has < needs).then(|| setpoint::size_range(regulator).0 / (needs - has));
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

/// What limits leave between the lowest set point and the least voltage that they ask of its output, V.
fn room(job: &Job, regulator: &Regulator) -> Option<f64> {
    let least = asked_of_output(job, regulator)
        .filter(|asked| asked.what != What::Peak)
        .filter_map(|asked| asked.least)
        .fold(f64::NEG_INFINITY, f64::max);
    let (low, high) = setpoint::of(regulator, None).worst;
    least
        .is_finite()
        .then_some(low.abs().min(high.abs()) - least)
}

/// A resistor of no more than this is a lead, Ω.
const LEAD: f64 = 1.0;

/// Whether a node is the return that a set point refers to, or leads alone part them: of two rails the one is not the other's return, and
/// what stands between them is no regulator's to set.
fn is_return(job: &Job, regulator: &Regulator, node: &str) -> bool {
    let mut joined = BTreeSet::from([regulator.ret.as_str()]);
    loop {
        let before = joined.len();
        for between in job.parts().filter_map(|part| lead(&part.kind)) {
            let ends = [between.plus.as_str(), between.minus.as_str()];
            if ends.iter().any(|end| joined.contains(end)) {
                joined.extend(ends);
            }
        }
        if joined.len() == before {
            return joined.contains(node);
        }
    }
}

fn lead(kind: &PartKind) -> Option<&Between> {
    match kind {
        PartKind::Wire(_) | PartKind::Fuse(_) | PartKind::Inductor(_) => kind.between(),
        PartKind::Resistor(part) if part.value.nominal() <= LEAD => Some(&part.between),
        PartKind::Switch(part) if part.closed => Some(&part.between),
        _ => None,
    }
}

/// What a limit asks of an output, as amounts: how far from the return it has to be at least and at most.
struct Asked {
    /// The instant it is about: the valley is the one nearest to the return.
    what: What,
    least: Option<f64>,
    most: Option<f64>,
}

/// What limits on levels ask of a regulator's output. Under the return the highest instant is the one that comes nearest to it; a
/// pair named from the return to the output speaks of amounts already.
fn asked_of_output(job: &Job, regulator: &Regulator) -> impl Iterator<Item = Asked> {
    let is_level = |what| matches!(what, What::Mean | What::Valley | What::Peak);
    job.limits.iter().filter_map(move |limit| {
        let is_output_first = match &limit.of {
            Subject::Node(node) => *node == regulator.into && is_return(job, regulator, "common"),
            Subject::Pair(plus, minus) if regulator.is_negative() && *minus == regulator.into => {
                return is_level(limit.what)
                    .then_some(Asked {
                        what: limit.what,
                        least: limit.min,
                        most: limit.max,
                    })
                    .filter(|_| is_return(job, regulator, plus));
            }
            Subject::Pair(plus, minus) => {
                *plus == regulator.into && is_return(job, regulator, minus)
            }
            Subject::Part(_) => false,
        };
        if !is_output_first || !is_level(limit.what) {
            return None;
        }
        if !regulator.is_negative() {
            return Some(Asked {
                what: limit.what,
                least: limit.min,
                most: limit.max,
            });
        }
        Some(Asked {
            what: match limit.what {
                What::Valley => What::Peak,
                What::Peak => What::Valley,
                what => what,
            },
            least: limit.max.map(|volts| -volts),
            most: limit.min.map(|volts| -volts),
        })
    })
}
