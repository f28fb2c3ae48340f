//! Whether a refusal is one of physics, checked by a computation of its own.
//!
//! Three refusals count as right, and nothing else does:
//!
//! - **Heat runs away.** Temperatures are followed once more, round by round and upward from the room, by the patient way
//!   where that comes through and with shares of the way of its own. None of the rounds begins hotter than the melting
//!   point of copper; where they come to rest at it and would lead past it, whatever would be settled is no supply.
//! - **It swings on its own.** Integrated cycle by cycle, from a cycle that would not last or from rest, the circuit goes on
//!   swinging at another
//!   beat than the mains, and does not calm down. It has no cycle of the mains' length that it would keep to.
//!   Loads of constant power behind a choke can do that: their resistance is negative.
//! - **A load turns its regulator round.** At the voltage that the regulator is set to, its loads of constant power ask for more
//!   current at less voltage, by more than the series resistances of the capacitors across them and its loads of resistance
//!   make up for. The curve of the load is written down here once more, and its slope is that of a chord.
//!
//! An overload, a short, a dead rail or a regulator that starves is no reason to refuse: every load of the job
//! file tapers off, so that there is a steady state however overloaded. Neither are windings that fight one
//! another, which the reading of the job refuses.

mod choke;

use crate::compare::{bounded, products};
use quietrail_engine::batch::{Kind, Near};
use quietrail_engine::{Ended, Options, System, steady_state, steady_state_from, transient};
use quietrail_job::model::{Between, LoadDraw, PartKind};
use quietrail_study::heat::{Temperatures, temperatures};
use quietrail_study::lower::{Lowered, lower};
use quietrail_study::solve::{Plan, Setting, Trouble, assemble};

/// Why there is nothing to find.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Refusal {
    /// Heat makes more heat until something melts.
    HeatRunsAway,
    /// It swings on its own, at another beat than the mains.
    SwingsOnItsOwn,
    /// What a regulator feeds asks for more the less it gets, by more than holds it.
    LoadTurnsRegulatorRound,
}

/// Melting point of copper, °C: a fixed point of the International Temperature Scale of 1990.
const COPPER_MELTS: f64 = 1084.62;
/// Rounds in which temperatures of what swings are followed, and of what runs away: a gain of 1.1 a round makes 20 K of the first
/// round into that in 45, and one of -30 takes many small ones.
const ROUNDS: usize = 60;
const ROUNDS_OF_HEAT: usize = 240;
/// Rounds that go all the way to where powers lead. Hotter copper may swing round its rest: where a later round leads nearly as
/// far as the one before, those after it go half as much of the way, down to a least part.
const WHOLE: usize = 8;
const NEARLY: f64 = 0.9;
const LEAST_SHARE: f64 = 1.0 / 64.0;
/// Distance of two rounds that counts as rest, K.
const AT_REST: f64 = 1.0;

/// Products that judging may take in all: what takes more is not judged, and counts as not found.
const PRODUCTS: u64 = 100_000_000_000;

/// What following a circuit from rest by the fast way may take of them, the same.
const FOLLOWING_SHARE: u64 = 3;

/// What one round may take of them by the fast way: one part in so many.
const FAST_SHARE: u64 = 100;

/// Cycles from rest that a swing must outlast.
const CYCLES: usize = 400;
/// Cycles at the end of these whose swing is compared with the same number before.
const WINDOW: usize = 100;
/// Least swing of a store, from cycle to cycle, as a share of its largest value.
const SWING: f64 = 1e-3;
/// Level of a store, as a share of what half of them have, below which its swing may be the errors of steps. (Not of the highest:
/// the loop of a regulator that asks in vain stands at tens of thousands.)
const HOLDS: f64 = 1e-3;
/// Share of the swing before that must be left: less, and it calms down.
const LASTS: f64 = 0.9;
/// Least turns in the window: a store that only creeps does not turn.
const TURNS: usize = 10;
/// Tolerance and effort of one such cycle; a circuit that takes more is not judged.
const CYCLE: Options = Options {
    tolerance: 1e-5,
    cycles: 1,
    steps: 1_500,
};

/// How many times the steps of most cycles those are that a cycle may take.
const OFTEN: u64 = 10;

impl Refusal {
    /// In words, as the storm's line of JSON has them.
    pub fn words(self) -> &'static str {
        match self {
            Refusal::HeatRunsAway => "heat runs away",
            Refusal::SwingsOnItsOwn => "swings on its own",
            Refusal::LoadTurnsRegulatorRound => "a load turns its regulator round",
        }
    }
}

/// The reason of physics for a trouble, if there is one.
pub fn judged(plan: &Plan, setting: Setting<'_>, trouble: &Trouble) -> Option<Refusal> {
    match trouble {
        Trouble::Runaway { .. } => runs_away(plan, setting).then_some(Refusal::HeatRunsAway),
        Trouble::Ended { ended, .. } => match ended {
            Ended::Swings { .. } if choke::swings(setting) => Some(Refusal::SwingsOnItsOwn),
            Ended::Unstable { .. }
            | Ended::Swings { .. }
            | Ended::CyclesSpent { .. }
            | Ended::StepsSpent => swings(plan, setting).then_some(Refusal::SwingsOnItsOwn),
            Ended::NoStep { .. } | Ended::Singular { .. } | Ended::Settled { .. } => None,
        },
        Trouble::TurnedRound(found) => {
            let is_so = is_turned_round(setting, &found.part);
            is_so.then_some(Refusal::LoadTurnsRegulatorRound)
        }
        Trouble::Change(_) | Trouble::Value { .. } => None,
    }
}

/// Half the length of the chord by which a load's slope is told, as a share of its voltage.
const CHORD: f64 = 1e-4;

/// Whether the loads of a regulator ask for more current at less voltage than what is across them makes up for.
fn is_turned_round(setting: Setting<'_>, regulator: &str) -> bool {
    let parts = &setting.job.parts;
    let found = parts.iter().find_map(|part| match &part.kind {
        PartKind::Regulator(found) if part.name == regulator => Some(found),
        _ => None,
    });
    let Some(regulator) = found else {
        return false;
    };
    let volts = regulator.set.volts().abs();
    let is_across = |between: &Between| {
        let ends = [between.plus.as_str(), between.minus.as_str()];
        ends.contains(&regulator.into.as_str()) && ends.contains(&regulator.ret.as_str())
    };
    let siemens: f64 = parts
        .iter()
        .map(|part| match &part.kind {
            PartKind::Capacitor(part) if is_across(&part.between) => 1.0 / part.esr.nominal(),
            PartKind::Load(load) if is_across(&load.between) => {
                let (draw, below) = (&load.draws[setting.state], load.below.nominal());
                let amps = |volts| drawn(draw, below, volts);
                let (low, high) = (volts * (1.0 - CHORD), volts * (1.0 + CHORD));
                (amps(high) - amps(low)) / (high - low)
            }
            _ => 0.0,
        })
        .sum();
    siemens < 0.0
}

/// What a load draws at a voltage, as the guide states it: it fades below one of its own.
fn drawn(draw: &LoadDraw, below: f64, volts: f64) -> f64 {
    let u = (volts / below).clamp(0.0, 1.0);
    let share = u.powi(4) * (35.0 - 84.0 * u + 70.0 * u * u - 20.0 * u.powi(3));
    match draw {
        LoadDraw::Current(amps) => share * amps.nominal(),
        LoadDraw::Resistance(ohms) => volts / ohms.nominal(),
        LoadDraw::Power(watts) => share * watts.nominal() / volts,
    }
}

/// Whether rounds of heat, none of which may begin hotter than the melting point of copper, come to rest where they would
/// lead past it.
fn runs_away(plan: &Plan, setting: Setting<'_>) -> bool {
    let mut warmth = Temperatures::at_rest(setting.job);
    let mut start: Option<Vec<f64>> = None;
    let mut left = PRODUCTS;
    let (mut share, mut last) = (1.0, f64::INFINITY);
    for number in 0..ROUNDS_OF_HEAT {
        let Some((next, stores)) = round(plan, setting, (&warmth, start.as_deref()), &mut left)
        else {
            return false;
        };
        let held = next.held();
        let distance = held.distance(&warmth);
        if distance < AT_REST {
            return hottest(setting, &next) > COPPER_MELTS;
        }
        start = Some(stores);
        if number >= WHOLE && distance > NEARLY * last {
            share = f64::max(0.5 * share, LEAST_SHARE);
        }
        last = distance;
        warmth = warmth.towards(&held, share);
    }
    false
}

/// The temperatures that given ones lead to, and the stores at the cycle's start.
fn round(
    plan: &Plan,
    setting: Setting<'_>,
    (warmth, start): (&Temperatures, Option<&[f64]>),
    left: &mut u64,
) -> Option<(Temperatures, Vec<f64>)> {
    let lowered = lower(setting.job, setting.state, setting.step, &[], warmth).ok()?;
    let system = assemble(&lowered).ok()?;
    if is_large(&system) {
        let (values, stores) = by_the_fast_way(plan, setting, &lowered, start)?;
        return Some((temperatures(&lowered, &plan.table.with(&values)), stores));
    }
    let options = bounded(setting.options, &system, *left);
    let outcome = match start {
        Some(start) => steady_state_from(&system, start, &options),
        None => steady_state(&system, &options),
    };
    let steps = outcome.effort.steps + outcome.effort.rejected;
    *left = left.saturating_sub(steps * products(&system));
    let (values, stores) = match outcome.orbit.filter(|_| outcome.ended.is_settled()) {
        Some(orbit) => (plan.table.read(&orbit), orbit.start().to_vec()),
        None => by_the_fast_way(plan, setting, &lowered, start)?,
    };
    let next = temperatures(&lowered, &plan.table.with(&values));
    Some((next, stores))
}

/// The same for circuits that are too large for the patient way: their figures, and the stores at the cycle's start.
fn by_the_fast_way(
    plan: &Plan,
    setting: Setting<'_>,
    lowered: &Lowered,
    start: Option<&[f64]>,
) -> Option<(Vec<f64>, Vec<f64>)> {
    let whole = System::assemble(&lowered.circuit).ok()?;
    let kind = Kind::of(&whole, plan.table.outputs(), &[])?;
    let options = one_round(setting, &kind);
    let figures = kind.solve(&whole, start.map(Near::Stores), &options)?;
    let is_settled = figures.ended.is_settled();
    is_settled.then_some((figures.values, figures.start))
}

/// What one round may take by the fast way.
fn one_round(setting: Setting<'_>, kind: &Kind) -> Options {
    Options {
        steps: PRODUCTS / FAST_SHARE / kind.products().max(1),
        ..*setting.options
    }
}

/// Hottest of the air and all parts, °C. What is no number is hotter than anything.
fn hottest(setting: Setting<'_>, warmth: &Temperatures) -> f64 {
    let parts = setting.job.parts.iter().filter(|part| {
        matches!(
            part.kind,
            PartKind::Rectifier(_)
                | PartKind::Diode(_)
                | PartKind::Transistor(_)
                | PartKind::Transformer(_)
        )
    });
    let all = parts.map(|part| warmth.junction(&part.name));
    all.chain([warmth.air])
        .fold(f64::NEG_INFINITY, |most, celsius| {
            if celsius.is_nan() {
                f64::INFINITY
            } else {
                most.max(celsius)
            }
        })
}

/// Whether the circuit, started from rest, goes on swinging at another beat than the mains. Temperatures are
/// followed as far as its cycles can be found.
fn swings(plan: &Plan, setting: Setting<'_>) -> bool {
    let mut warmth = Temperatures::at_rest(setting.job);
    let mut start: Option<Vec<f64>> = None;
    let mut left = PRODUCTS;
    for _ in 0..ROUNDS {
        let Some((next, stores)) = round(plan, setting, (&warmth, start.as_deref()), &mut left)
        else {
            break;
        };
        start = Some(stores);
        warmth = warmth.towards(&next, 1.0);
    }
    let Ok(lowered) = lower(setting.job, setting.state, setting.step, &[], &warmth) else {
        return false;
    };
    let Ok(system) = assemble(&lowered) else {
        return false;
    };
    // The patient way takes minutes for four hundred cycles, and gives up one of many steps.
    let patiently = || (!is_large(&system)).then(|| followed(&system)).flatten();
    let all = followed_fast(plan, setting, &lowered).or_else(patiently);
    all.is_some_and(|all| {
        if all.len() <= CYCLES {
            return false;
        }
        let mut levels: Vec<f64> = of_stores(&all).map(|values| level(&values)).collect();
        levels.sort_by(f64::total_cmp);
        let usual = levels.get(levels.len() / 2).copied().unwrap_or(0.0);
        of_stores(&all).any(|values| level(&values) > HOLDS * usual && goes_on_swinging(&values))
    })
}

/// Whether following it the patient way takes more than judging may.
fn is_large(system: &System) -> bool {
    CYCLES as u64 * CYCLE.steps * products(system) / OFTEN > PRODUCTS
}

/// Stores of a circuit from rest, cycle by cycle until they become calm; none where that cannot be told.
fn followed(system: &System) -> Option<Vec<Vec<f64>>> {
    let mut all = vec![vec![0.0; system.store_count()]];
    while all.len() <= CYCLES && !is_over(&all) {
        let run = transient(system, &all[all.len() - 1], 0.0, 1.0, &CYCLE).ok()?;
        all.push(run.end);
    }
    Some(all)
}

/// The same by the fast way: the same steps of the same equations; from a cycle that would not last if there is one, for some
/// circuits take thousands of cycles from rest until they swing.
fn followed_fast(plan: &Plan, setting: Setting<'_>, lowered: &Lowered) -> Option<Vec<Vec<f64>>> {
    let whole = System::assemble(&lowered.circuit).ok()?;
    let kind = Kind::of(&whole, plan.table.outputs(), &[])?;
    let options = Options {
        cycles: CYCLES as u64,
        steps: PRODUCTS / FOLLOWING_SHARE / kind.products().max(1),
        ..CYCLE
    };
    let cycle = kind.solve(&whole, None, &one_round(setting, &kind));
    let unstable = cycle.filter(|cycle| !cycle.ended.is_settled());
    let from = unstable.as_ref().map(|cycle| cycle.start.as_slice());
    kind.follow(&whole, from, &options, |all| !is_over(all))
}

/// Whether, at the end of a window, all stores are calm.
fn is_over(all: &[Vec<f64>]) -> bool {
    let cycles = all.len() - 1;
    cycles > WINDOW
        && cycles.is_multiple_of(WINDOW)
        && of_stores(all).all(|values| is_calm(&values))
}

/// Each store's values, cycle by cycle.
fn of_stores(all: &[Vec<f64>]) -> impl Iterator<Item = Vec<f64>> {
    (0..all[0].len()).map(|store| all.iter().map(|stores| stores[store]).collect())
}

/// Whether a store hardly moved from cycle to cycle in the last window.
fn is_calm(values: &[f64]) -> bool {
    let last = &values[values.len() - WINDOW..];
    swing(last) < SWING * level(values)
}

fn level(values: &[f64]) -> f64 {
    values
        .iter()
        .fold(0.0_f64, |most, value| most.max(value.abs()))
}

fn swing(values: &[f64]) -> f64 {
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    most - least
}

/// Whether a store's values at the starts of cycles swing as much in the last window as in the one before.
fn goes_on_swinging(values: &[f64]) -> bool {
    let (before, last) = values[values.len() - 2 * WINDOW..].split_at(WINDOW);
    let turns = last
        .windows(3)
        .filter(|three| (three[1] - three[0]) * (three[2] - three[1]) < 0.0)
        .count();
    swing(last) > SWING * level(values) && swing(last) > LASTS * swing(before) && turns >= TURNS
}

#[cfg(test)]
mod tests {
    use super::{CYCLES, goes_on_swinging};

    fn of(value: impl Fn(f64) -> f64) -> Vec<f64> {
        (0..=CYCLES).map(|k| value(k as f64)).collect()
    }

    #[test]
    fn what_creeps_or_calms_down_does_not_go_on_swinging() {
        assert!(goes_on_swinging(&of(|k| 10.0 + (1.3 * k).sin())));
        assert!(!goes_on_swinging(&of(|k| 10.0 + k)), "a slow climb");
        assert!(!goes_on_swinging(&of(
            |k| 10.0 + (-0.01 * k).exp() * (1.3 * k).sin()
        )));
        assert!(!goes_on_swinging(&of(|k| 10.0 + 1e-5 * (1.3 * k).sin())));
    }
}
