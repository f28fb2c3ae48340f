//! Resistors or chokes with capacitors behind a regulator, one or several in a row: what they drop, where they begin to work,
//! where they peak, what would damp them.

mod drawn;
mod ladder;

pub use drawn::of;
pub use ladder::{Damper, Ladder, Stage, best_resistor};

use crate::starting::drawn;
use quietrail_job::model::{Job, Regulator};
use quietrail_units::series::Series;
use std::f64::consts::PI;

/// A filter behind a regulator.
#[derive(Clone, Debug, PartialEq)]
pub struct Filter {
    /// The series part.
    pub part: String,
    /// Node behind it.
    pub node: String,
    /// Filters before it, from the regulator on.
    pub after: Vec<String>,
    /// What it is, from the regulator's output to the node.
    pub ladder: Ladder,
    /// Frequency from which it works, Hz: of the resistance, or of the resonance; of several in a row, where 3 dB are gone.
    pub corner: f64,
    /// Highest gain above one, dB, and where, Hz; `None` where it has none to speak of.
    pub peak: Option<(f64, f64)>,
    /// Highest impedance that the load sees, Ω, and where, Hz.
    pub impedance: (f64, f64),
    /// What is left of a swing at twice the mains frequency, dB.
    pub at_ripple: f64,
    /// Most current in each state, A, and what it drops.
    pub drops: Vec<Drop>,
    /// What would damp the peak.
    pub damper: Option<Damper>,
}

/// What a filter drops in a state.
#[derive(Clone, Debug, PartialEq)]
pub struct Drop {
    /// The state.
    pub state: String,
    /// Most current through it, A.
    pub amps: f64,
    /// Direct voltage across its series part with it, V.
    pub volts: f64,
    /// That and what the filters before it drop, V.
    pub in_all: f64,
}

/// A filter that a rail could bear.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// Series resistor, Ω.
    pub ohms: f64,
    /// Capacitor behind it, F.
    pub farads: f64,
    /// Frequency from which it works, Hz.
    pub corner: f64,
    /// What it drops, state by state.
    pub drops: Vec<Drop>,
}

/// Share of a window that a proposal uses up.
const SHARE: f64 = 0.5;
/// How far below twice the mains frequency the corner of a proposal stands.
const BELOW: f64 = 10.0;

/// Largest capacitor that is proposed, F: of the usual working voltages larger ones are rare and do not fit (common practice, no
/// source).
const LARGEST: f64 = 10e-3;

/// What a rail has room for.
#[derive(Clone, Debug, PartialEq)]
pub enum Room {
    /// This.
    For(Proposal),
    /// Nothing that can be bought: the resistor that it bears, Ω, and the capacitor that would go with it, F.
    ForNone {
        /// Ω
        ohms: f64,
        /// F
        farads: f64,
        /// Largest that is proposed, F.
        largest: f64,
    },
}

/// A resistor and a capacitor that a rail could bear: half of what its window leaves under the lowest set point goes to the
/// resistor where most is drawn, and the corner stands a decade below the ripple.
pub fn proposal(job: &Job, regulator: &Regulator, room: f64) -> Option<Room> {
    let amps: Vec<f64> = (0..job.states.len())
        .map(|state| drawn(job, regulator, state).1)
        .collect();
    let most = amps.iter().copied().fold(0.0, f64::max);
    if room <= 0.0 || most <= 0.0 {
        return None;
    }
    let bears = SHARE * room / most;
    // The nearest value may be above what it bears: then one lower.
    let near = Series::E12.nearest(bears)?;
    let ohms = if near <= bears {
        near
    } else {
        Series::E12.nearest(near / 1.2)?
    };
    let hertz = 2.0 * job.mains.frequency.nominal() / BELOW;
    let farads = Series::E6.nearest(1.0 / (2.0 * PI * hertz * ohms))?;
    if farads > LARGEST * (1.0 + 1e-9) {
        return Some(Room::ForNone {
            ohms,
            farads,
            largest: LARGEST,
        });
    }
    let drops = job.states.iter().zip(amps).map(|(state, amps)| Drop {
        state: state.name.clone(),
        amps,
        volts: amps * ohms,
        in_all: amps * ohms,
    });
    Some(Room::For(Proposal {
        ohms,
        farads,
        corner: 1.0 / (2.0 * PI * ohms * farads),
        drops: drops.collect(),
    }))
}
