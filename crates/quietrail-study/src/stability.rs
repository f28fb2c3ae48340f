//! Whether a regulator is stable with its output capacitor: by the window of its data sheet, over tolerance and temperature, or by
//! how it rang when its load was stepped.

use crate::ringing::{self, NoRing, Ring};
use quietrail_job::model::{self, BoxRise, Job, PartKind, Regulator, along};
use std::f64::consts::PI;

/// An output capacitor against its window.
#[derive(Clone, Debug, PartialEq)]
pub enum Capacitor {
    /// The data sheet's window is not in the job.
    NoWindow,
    /// None is drawn from output to return.
    NoneDrawn,
    /// It is inside one window over its whole range.
    Inside(Seen),
    /// It is outside, or may be.
    Outside {
        /// What stands at the output.
        seen: Seen,
        /// Least capacitance of the nearest window, F.
        least: f64,
        /// Range of its series resistance, Ω.
        window: Option<(f64, f64)>,
        /// Series resistance to add, Ω: the least that would do, and the most; where any does.
        add: Option<(f64, f64)>,
    },
}

/// What a regulator sees from its output to its return.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// Lowest capacitance of all side by side, F.
    pub farads: f64,
    /// Range of the series resistance at 100 kHz, Ω.
    pub esr: (f64, f64),
    /// Coldest and hottest that the capacitors get, °C.
    pub celsius: (f64, f64),
    /// Whether the job says of each how it changes with temperature.
    pub is_followed: bool,
}

/// Frequency at which data sheets state series resistance, Hz. Capacitors side by side count as they stand there: a small film
/// capacitor beside an electrolytic hardly takes its resistance away.
const STATED_AT: f64 = 100e3;
/// Smallest series resistance that is computed with, Ω.
const SMALLEST: f64 = 1e-6;

/// A branch from output to return: a capacitor, and what stands in series with it.
struct Branch {
    /// Lowest, nominal and highest capacitance over tolerance and temperature, F.
    farads: [f64; 3],
    /// The same of the resistance, Ω.
    ohms: [f64; 3],
    /// Whether the job says how it changes with temperature.
    is_followed: bool,
}

/// Nominal capacitance from output to return, F.
pub fn at_output(job: &Job, regulator: &Regulator) -> f64 {
    branches(job, regulator)
        .iter()
        .map(|branch| branch.farads[1])
        .sum()
}

/// The output capacitor of a regulator against the windows of its data sheet.
pub fn capacitor(job: &Job, regulator: &Regulator) -> Capacitor {
    if regulator.stable_with.is_empty() {
        return Capacitor::NoWindow;
    }
    let branches = branches(job, regulator);
    if branches.is_empty() {
        return Capacitor::NoneDrawn;
    }
    let seen = seen(job, &branches);
    let mut nearest = None;
    for (least, window) in &regulator.stable_with {
        let least = least.nominal();
        let window = window
            .as_ref()
            .map(|ohms| (ohms.value.low, ohms.value.high));
        let is_large = seen.farads >= least * (1.0 - 1e-9);
        let fits = window.is_none_or(|(low, high)| seen.esr.0 >= low && seen.esr.1 <= high);
        if is_large && fits {
            return Capacitor::Inside(seen);
        }
        // A resistor in series brings the low end up; the high end must still fit.
        let add = window
            .map(|(low, high)| (low - seen.esr.0, high - seen.esr.1))
            .filter(|(needs, room)| is_large && *needs > 0.0 && needs <= room);
        let found = Capacitor::Outside {
            seen: seen.clone(),
            least,
            window,
            add,
        };
        if nearest.is_none() || add.is_some() {
            nearest = Some(found);
        }
    }
    nearest.unwrap_or(Capacitor::NoWindow)
}

/// How it rang when its load was stepped, where the job has it.
pub fn rang(regulator: &Regulator) -> Option<Result<Ring, NoRing>> {
    let swings: Vec<f64> = regulator.rang.iter().map(model::Figure::nominal).collect();
    (!swings.is_empty()).then(|| ringing::ring(&swings))
}

/// Frequency above which a capacitor is a resistance, Hz: the zero of its series resistance.
pub fn esr_zero(farads: f64, ohms: f64) -> f64 {
    1.0 / (2.0 * PI * farads * ohms)
}

/// Coldest and hottest that the air in the box gets, °C: the room by itself when the supply was off, and its highest rise.
/// What the heat of the box itself adds where it leaves through a resistance is not known here.
fn air(job: &Job) -> (f64, f64) {
    let rise = match &job.air.rise {
        BoxRise::Given(kelvins) => kelvins.value.high.max(0.0),
        BoxRise::Through(_) => 0.0,
    };
    (job.air.room.value.low, job.air.room.value.high + rise)
}

fn seen(job: &Job, branches: &[Branch]) -> Seen {
    let farads = branches.iter().map(|branch| branch.farads[0]).sum();
    let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
    for ohms in [0, 2] {
        for farads in 0..3 {
            let together = resistance(branches, farads, ohms);
            low = low.min(together);
            high = high.max(together);
        }
    }
    Seen {
        farads,
        esr: (low, high),
        celsius: air(job),
        is_followed: branches.iter().all(|branch| branch.is_followed),
    }
}

/// Resistance of branches side by side at 100 kHz, all at the same end of their ranges.
fn resistance(branches: &[Branch], farads: usize, ohms: usize) -> f64 {
    let (mut real, mut imaginary) = (0.0, 0.0);
    for branch in branches {
        let ohms = branch.ohms[ohms].max(SMALLEST);
        let reactance = 1.0 / (2.0 * PI * STATED_AT * branch.farads[farads]);
        let square = ohms * ohms + reactance * reactance;
        real += ohms / square;
        imaginary += reactance / square;
    }
    real / (real * real + imaginary * imaginary)
}

/// Capacitors from output to return, directly or through one resistor or wire of their own. Of a regulator that is lifted by a shunt those to
/// common are at its output as well.
fn branches(job: &Job, regulator: &Regulator) -> Vec<Branch> {
    let mut all = Vec::new();
    for part in &job.parts {
        let PartKind::Capacitor(capacitor) = &part.kind else {
            continue;
        };
        let ends = [
            capacitor.between.plus.as_str(),
            capacitor.between.minus.as_str(),
        ];
        let is_return = |node: &str| node == regulator.ret || node == "common";
        let other = match ends {
            [plus, minus] if is_return(minus) => plus,
            [plus, minus] if is_return(plus) => minus,
            _ => continue,
        };
        let series = if other == regulator.into {
            Some([0.0; 3])
        } else {
            alone_between(job, &regulator.into, other)
        };
        let Some(series) = series else { continue };
        let (value, esr) = (&capacitor.value.value, &capacitor.esr.value);
        let of_value = factors(&capacitor.value_at, air(job));
        let of_esr = factors(&capacitor.esr_at, air(job));
        all.push(Branch {
            farads: [
                value.low * of_value.0,
                value.nominal,
                value.high * of_value.1,
            ],
            ohms: [
                esr.low * of_esr.0 + series[0],
                esr.nominal + series[1],
                esr.high * of_esr.1 + series[2],
            ],
            is_followed: !capacitor.value_at.is_empty() && !capacitor.esr_at.is_empty(),
        });
    }
    all
}

/// The resistor or wire from one node to another that has nothing but it and a capacitor on it: lowest, nominal, highest, Ω.
fn alone_between(job: &Job, from: &str, to: &str) -> Option<[f64; 3]> {
    let on: Vec<_> = job
        .parts
        .iter()
        .filter(|part| touches(&part.kind, to))
        .collect();
    if to == from || on.len() != 2 {
        return None;
    }
    on.into_iter().find_map(|part| {
        let between = part.kind.between()?;
        if between.plus != from && between.minus != from {
            return None;
        }
        let ohms = match &part.kind {
            PartKind::Resistor(resistor) => &resistor.value.value,
            PartKind::Wire(wire) => &wire.resistance.value,
            _ => return None,
        };
        Some([ohms.low, ohms.nominal, ohms.high])
    })
}

fn touches(kind: &PartKind, node: &str) -> bool {
    match kind {
        PartKind::Regulator(one) => {
            let sense = one.sense.iter().flat_map(|(plus, minus)| [plus, minus]);
            [&one.from, &one.into, &one.ret]
                .into_iter()
                .chain(sense)
                .any(|at| at == node)
        }
        PartKind::Transistor(one) => [&one.collector, &one.base, &one.emitter]
            .into_iter()
            .any(|at| at == node),
        PartKind::Rectifier(one) => one.into == node || one.ret == node,
        kind => kind
            .between()
            .is_some_and(|between| between.plus == node || between.minus == node),
    }
}

/// Lowest and highest factor between two temperatures.
fn factors(points: &[(f64, f64)], (cold, hot): (f64, f64)) -> (f64, f64) {
    if points.is_empty() {
        return (1.0, 1.0);
    }
    let inside = points
        .iter()
        .filter(|(celsius, _)| (cold..=hot).contains(celsius))
        .map(|(_, factor)| *factor);
    inside
        .chain([along(points, cold), along(points, hot)])
        .fold((f64::INFINITY, 0.0), |(low, high), factor| {
            (low.min(factor), high.max(factor))
        })
}

#[cfg(test)]
mod tests {
    use super::factors;

    #[test]
    fn factors_are_read_between_their_points_and_flat_beyond() {
        let points = [(-25.0, 0.7), (20.0, 1.0), (85.0, 1.1)];
        let near = |got: (f64, f64), low: f64, high: f64| {
            assert!((got.0 - low).abs() < 1e-12, "{got:?}");
            assert!((got.1 - high).abs() < 1e-12, "{got:?}");
        };
        near(factors(&points, (-40.0, 120.0)), 0.7, 1.1);
        near(factors(&points, (-2.5, 20.0)), 0.85, 1.0);
        near(
            factors(&points, (30.0, 30.0)),
            1.0 + 1.0 / 65.0,
            1.0 + 1.0 / 65.0,
        );
        near(factors(&[], (0.0, 50.0)), 1.0, 1.0);
    }
}
