//! A resistor or a choke with a capacitor behind a regulator: what it drops, where it begins to work, where it peaks, what would
//! damp it.

use crate::level::decibels;
use crate::starting::drawn;
use quietrail_job::model::{Job, PartKind, Regulator};
use quietrail_units::series::Series;
use std::f64::consts::PI;

/// A series part with what stands behind it to the return.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// Series resistance, Ω.
    pub ohms: f64,
    /// Series inductance, H; none for a resistor.
    pub henries: f64,
    /// Capacitors with their series resistance, F and Ω.
    pub shunts: Vec<(f64, f64)>,
}

/// A filter behind a regulator.
#[derive(Clone, Debug, PartialEq)]
pub struct Filter {
    /// The series part.
    pub part: String,
    /// Node behind it.
    pub node: String,
    /// What it is.
    pub ladder: Ladder,
    /// Frequency from which it works, Hz: of the resistance, or of the resonance.
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
    /// Most current, A.
    pub amps: f64,
    /// Direct voltage across the series part with it, V.
    pub volts: f64,
}

/// A resistor and a capacitor in series, beside the capacitor of a filter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Damper {
    /// Its capacitor, F.
    pub farads: f64,
    /// Its resistor, Ω.
    pub ohms: f64,
    /// Highest gain with it, dB.
    pub peak: f64,
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

/// Gain from which a peak is spoken of, dB.
const PEAK: f64 = 0.5;
/// Points per decade at which peaks are looked for, before they are closed in on.
const POINTS: f64 = 60.0;
/// Decades to either side of the corner in which they are looked for.
const DECADES: f64 = 3.0;
/// Times the capacitor of a filter that a damper's is.
const DAMPER: f64 = 4.0;
/// Share of a window that a proposal uses up.
const SHARE: f64 = 0.5;
/// How far below twice the mains frequency the corner of a proposal stands.
const BELOW: f64 = 10.0;

impl Ladder {
    /// Output over input at a frequency, nothing drawn, as a ratio; and the impedance that a load sees, Ω.
    pub fn at(&self, hertz: f64) -> (f64, f64) {
        let turn = 2.0 * PI * hertz;
        // Admittance of all branches to the return.
        let (mut real, mut imaginary) = (0.0, 0.0);
        for (farads, ohms) in &self.shunts {
            let reactance = 1.0 / (turn * farads);
            let square = ohms * ohms + reactance * reactance;
            real += ohms / square;
            imaginary += reactance / square;
        }
        // H = 1/(1 + Z Y), Zout = Z/(1 + Z Y).
        let (r, x) = (self.ohms, turn * self.henries);
        let whole = (1.0 + r * real - x * imaginary).hypot(r * imaginary + x * real);
        (1.0 / whole, r.hypot(x) / whole)
    }

    /// All capacitance behind it, F.
    pub fn farads(&self) -> f64 {
        self.shunts.iter().map(|(farads, _)| farads).sum()
    }

    /// Frequency from which it works: `1/(2π√(LC))`, or `1/(2πRC)`.
    pub fn corner(&self) -> f64 {
        if self.henries > 0.0 {
            1.0 / (2.0 * PI * (self.henries * self.farads()).sqrt())
        } else {
            1.0 / (2.0 * PI * self.ohms * self.farads())
        }
    }

    /// Where a figure is highest, Hz, and the figure.
    fn highest(&self, figure: impl Fn(f64) -> f64) -> (f64, f64) {
        let middle = self.corner();
        let steps = (2.0 * DECADES * POINTS) as i32;
        let hertz = |step: f64| middle * 10.0_f64.powf(step / POINTS - DECADES);
        let best = (0..=steps)
            .map(f64::from)
            .max_by(|a, b| figure(hertz(*a)).total_cmp(&figure(hertz(*b))))
            .unwrap_or(0.0);
        let (mut low, mut high) = (best - 1.0, best + 1.0);
        for _ in 0..80 {
            let third = (high - low) / 3.0;
            if figure(hertz(low + third)) < figure(hertz(high - third)) {
                low += third;
            } else {
                high -= third;
            }
        }
        let at = hertz(0.5 * (low + high));
        (at, figure(at))
    }

    /// Highest gain, dB, and where, Hz.
    pub fn peak(&self) -> (f64, f64) {
        let (hertz, gain) = self.highest(|hertz| self.at(hertz).0);
        (decibels(gain), hertz)
    }

    /// Highest impedance that a load sees, Ω, and where, Hz.
    pub fn impedance(&self) -> (f64, f64) {
        let (hertz, ohms) = self.highest(|hertz| self.at(hertz).1);
        // A resistor is highest at no frequency at all.
        if ohms > self.ohms {
            (ohms, hertz)
        } else {
            (self.ohms, 0.0)
        }
    }

    /// The damper of preferred values with four times the capacitance.
    ///
    /// The resistor is the best for its capacitor, `R₀ √((2+n)(4+3n)/(2n²(4+n)))` with `n` times the capacitance and
    /// `R₀ = √(L/C)` (R. W. Erickson, Optimal Single Resistor Damping of Input Filters, for parallel R and C).
    pub fn damper(&self) -> Option<Damper> {
        if self.henries <= 0.0 {
            return None;
        }
        let wanted = DAMPER * self.farads();
        let farads = Series::E6.nearest(wanted)?;
        let times = farads / self.farads();
        let ohms =
            Series::E12.nearest(best_resistor(times) * (self.henries / self.farads()).sqrt())?;
        let mut with = self.clone();
        with.shunts.push((farads, ohms));
        Some(Damper {
            farads,
            ohms,
            peak: with.peak().0.max(0.0),
        })
    }
}

/// The best resistor of a damper over √(L/C), for so many times the capacitance.
pub fn best_resistor(times: f64) -> f64 {
    let n = times;
    ((2.0 + n) * (4.0 + 3.0 * n) / (2.0 * n * n * (4.0 + n))).sqrt()
}

/// The filters drawn right behind a regulator.
pub fn of(job: &Job, regulator: &Regulator) -> Vec<Filter> {
    let mut all = Vec::new();
    for part in &job.parts {
        let Some(between) = part.kind.between() else {
            continue;
        };
        let node = match (&between.plus, &between.minus) {
            (plus, minus) if *plus == regulator.into && *minus != regulator.ret => minus,
            (plus, minus) if *minus == regulator.into && *plus != regulator.ret => plus,
            _ => continue,
        };
        let (ohms, henries) = match &part.kind {
            PartKind::Resistor(resistor) => (resistor.value.nominal(), 0.0),
            PartKind::Inductor(choke) => (choke.resistance.nominal(), choke.value.nominal()),
            _ => continue,
        };
        let shunts = shunts(job, node, &regulator.ret);
        // A capacitor with a resistor of its own is no filter: nothing is fed from between them.
        if shunts.is_empty() || (ohms <= 0.0 && henries <= 0.0) || !feeds(job, node, &part.name) {
            continue;
        }
        let ladder = Ladder {
            ohms,
            henries,
            shunts,
        };
        let (peak, at) = ladder.peak();
        let peak = (henries > 0.0 && peak > PEAK).then_some((peak, at));
        all.push(Filter {
            part: part.name.clone(),
            node: node.clone(),
            corner: ladder.corner(),
            peak,
            impedance: ladder.impedance(),
            at_ripple: decibels(ladder.at(2.0 * job.mains.frequency.nominal()).0),
            drops: drops(job, regulator, ohms),
            damper: peak.and_then(|_| ladder.damper()),
            ladder,
        });
    }
    all
}

/// Capacitors from a node to a return, with their series resistance.
fn shunts(job: &Job, node: &str, ret: &str) -> Vec<(f64, f64)> {
    job.parts
        .iter()
        .filter_map(|part| {
            let PartKind::Capacitor(capacitor) = &part.kind else {
                return None;
            };
            let (plus, minus) = (&capacitor.between.plus, &capacitor.between.minus);
            let is_there = (plus == node && minus == ret) || (minus == node && plus == ret);
            is_there.then(|| (capacitor.value.nominal(), capacitor.esr.nominal()))
        })
        .collect()
}

/// Whether anything but capacitors hangs on a node beside a part.
fn feeds(job: &Job, node: &str, beside: &str) -> bool {
    job.parts.iter().any(|part| {
        let on = match &part.kind {
            PartKind::Capacitor(_) => false,
            PartKind::Regulator(one) => one.from == node || one.ret == node,
            PartKind::Transistor(one) => [&one.collector, &one.base, &one.emitter]
                .into_iter()
                .any(|at| at == node),
            kind => kind
                .between()
                .is_some_and(|between| between.plus == node || between.minus == node),
        };
        on && part.name != beside
    })
}

/// What all that hangs on a regulator drops across a resistance, state by state.
fn drops(job: &Job, regulator: &Regulator, ohms: f64) -> Vec<Drop> {
    (0..job.states.len())
        .map(|state| {
            let amps = drawn(job, regulator, state).1;
            Drop {
                state: job.states[state].name.clone(),
                amps,
                volts: amps * ohms,
            }
        })
        .collect()
}

/// A resistor and a capacitor that a rail could bear: half of what its window leaves under the lowest set point goes to the
/// resistor where most is drawn, and the corner stands a decade below the ripple.
pub fn proposal(job: &Job, regulator: &Regulator, room: f64) -> Option<Proposal> {
    let most = (0..job.states.len())
        .map(|state| drawn(job, regulator, state).1)
        .fold(0.0, f64::max);
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
    Some(Proposal {
        ohms,
        farads,
        corner: 1.0 / (2.0 * PI * ohms * farads),
        drops: drops(job, regulator, ohms),
    })
}
