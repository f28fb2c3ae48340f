//! How long a level holds after the mains has gone.

use super::assemble;
use crate::lower::{Lowered, OUTLET};
use quietrail_engine::{Element, Options, Probe, Signal, System, Wave, transient};

/// Time after the mains has gone that is looked at, s; what holds longer is told as that.
pub(crate) const MOST: f64 = 2.0;
/// Points of a cycle at which the instants are looked for: a valley is found to a four-hundredth of it.
const INSTANTS: usize = 400;
/// Share of all that capacitors hold from which one has an instant of its own.
const TELLING: f64 = 0.01;
/// Points of a cycle at which the level is looked at; between two the way is taken as straight.
const POINTS: usize = 80;

/// Seconds until a signal passes a level, towards zero, from the instant of a steady cycle at which the mains goes away worst:
/// the outlet is then at zero volts. `None` where it cannot be integrated.
pub(super) fn seconds(
    lowered: &Lowered,
    signal: &Signal,
    level: f64,
    start: &[f64],
) -> Option<f64> {
    let with_mains = assemble(lowered).ok()?;
    let mut gone = lowered.circuit.clone();
    if let Element::Source { wave, .. } = gone.element_mut(lowered.element(OUTLET)?) {
        *wave = Wave::constant(0.0);
    }
    let without = System::assemble(&gone).ok()?.reduced();
    let probe = signal.probe(&without);
    let fall = Fall {
        system: &without,
        probe: &probe,
        level,
        hertz: lowered.job.mains.frequency.nominal(),
    };
    let mut least = f64::INFINITY;
    for at in instants(lowered, &with_mains, start)? {
        let stores = match at {
            0.0 => start.to_vec(),
            at => transient(&with_mains, start, 0.0, at, &options()).ok()?.end,
        };
        least = least.min(fall.seconds(&stores, at)?);
    }
    Some(least)
}

/// Instants of a steady cycle at which the capacitors hold least, each its own, in cycles: between two charges nothing but the
/// load takes from them, so the later the mains goes the less is left, until the next charge begins.
fn instants(lowered: &Lowered, system: &System, start: &[f64]) -> Option<Vec<f64>> {
    let cycle = transient(system, start, 0.0, 1.0, &options()).ok()?;
    let mut valleys = Vec::new();
    for element in lowered.circuit.elements() {
        let Element::Capacitor { a, b, farads, .. } = element else {
            continue;
        };
        let across = Signal::Voltage(*a, *b).probe(system);
        let held = |k: usize| {
            let volts = cycle.value(&across, k as f64 / INSTANTS as f64);
            (0.5 * farads * volts * volts, k)
        };
        let valley = (0..INSTANTS)
            .map(held)
            .min_by(|one, other| one.0.total_cmp(&other.0));
        valleys.extend(valley);
    }
    let all: f64 = valleys.iter().map(|(joules, _)| joules).sum();
    valleys.retain(|(joules, _)| *joules >= TELLING * all);
    let mut instants: Vec<usize> = valleys.into_iter().map(|(_, k)| k).collect();
    instants.sort_unstable();
    instants.dedup();
    if instants.is_empty() {
        instants.push(0);
    }
    Some(
        instants
            .into_iter()
            .map(|k| k as f64 / INSTANTS as f64)
            .collect(),
    )
}

fn options() -> Options {
    Options {
        tolerance: 1e-5,
        ..Options::default()
    }
}

/// What follows without mains.
struct Fall<'a> {
    system: &'a System,
    probe: &'a Probe,
    level: f64,
    hertz: f64,
}

impl Fall<'_> {
    /// Seconds until the level is passed, from stores at an instant; [`MOST`] where it holds longer.
    fn seconds(&self, stores: &[f64], at: f64) -> Option<f64> {
        // Under common the level is passed upwards.
        let above = |value: f64| (value - self.level) * self.level.signum();
        let mut stores = stores.to_vec();
        let mut before: Option<f64> = None;
        let cycles = (MOST * self.hertz).ceil() as usize;
        for cycle in 0..cycles {
            let from = at + cycle as f64;
            let run = transient(self.system, &stores, from, from + 1.0, &options()).ok()?;
            for point in 0..=POINTS {
                let share = point as f64 / POINTS as f64;
                let left = above(run.value(self.probe, from + share));
                if left <= 0.0 {
                    let back = before.map_or(0.0, |before| left / (left - before));
                    let passed = cycle as f64 + share - back / POINTS as f64;
                    return Some(passed.max(0.0) / self.hertz);
                }
                before = Some(left);
            }
            stores = run.end;
        }
        Some(MOST)
    }
}
