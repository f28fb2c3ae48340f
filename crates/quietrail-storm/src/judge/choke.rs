//! Whether loads behind a choke swing with it: followed for hundreds of swings, by themselves.
//!
//! What is before the choke is taken to stand still at the voltage at which the loads would rest. If they swing there, they are
//! not held by anything that ripples before it.

use super::drawn;
use quietrail_job::model::{LoadDraw, PartKind};
use quietrail_study::heat::Temperatures;
use quietrail_study::lower::lower;
use quietrail_study::solve::{Setting, Undamped, undamped};

/// Swings that are followed, in steps of so small a part of one; windows at their end that are compared.
const SWINGS: usize = 400;
const OF_A_SWING: usize = 100;
const WINDOW: usize = 100;
/// How far off its rest it begins, and how far a swing must go that counts, as shares of the voltage.
const BEGINS: f64 = 1e-2;
const COUNTS: f64 = 1e-2;
/// Share of the swing of the window before that must be left in the last.
const LASTS: f64 = 0.9;
/// Parts of the voltage in which the load's next one is looked for, how many at most, and how often the part in which it is gets
/// halved.
const LOOKED_FOR_IN: f64 = 64.0;
const HALVINGS: usize = 20;
const MOST_PARTS: usize = 1_000;

/// Whether loads that draw through a choke swing for good.
pub(super) fn swings(setting: Setting<'_>) -> bool {
    let warmth = Temperatures::at_rest(setting.job);
    let Ok(lowered) = lower(setting.job, setting.state, setting.step, &[], &warmth) else {
        return false;
    };
    undamped(&lowered, setting.options).is_some_and(|found| goes_on(&found, setting))
}

fn goes_on(found: &Undamped, setting: Setting<'_>) -> bool {
    let ((henries, ohms), (farads, esr)) = (found.choke, found.across);
    let loads: Vec<(&LoadDraw, f64)> = found
        .loads
        .iter()
        .filter_map(|name| match setting.job.part(name).map(|part| &part.kind) {
            Some(PartKind::Load(load)) => Some((&load.draws[setting.state], load.below.nominal())),
            _ => None,
        })
        .collect();
    let drawn = |volts: f64| {
        let by_loads: f64 = loads
            .iter()
            .map(|(draw, below)| drawn(draw, *below, volts))
            .sum();
        by_loads + found.siemens * volts
    };
    let rest = drawn(found.volts);
    let source = found.volts + ohms * rest;
    let step = std::f64::consts::TAU * (henries * farads).sqrt() / OF_A_SWING as f64;
    let (mut amps, mut stored) = (rest, found.volts * (1.0 + BEGINS));
    let mut volts = found.volts;
    let mut ranges = Vec::new();
    for _ in 0..SWINGS {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for _ in 0..OF_A_SWING {
            // The current by where the voltage stands, the voltage by where the current then is: neither gains nor loses of itself.
            // What loads draw counts where they come to: at low voltages they answer within nanoseconds.
            amps += step * (source - ohms * amps - volts) / henries;
            let by_amps = esr + step / farads;
            let flows = |v: f64| stored + by_amps * (amps - drawn(v)) - v;
            volts = across(volts, found.volts, flows);
            stored += step * (amps - drawn(volts)) / farads;
            (low, high) = (low.min(volts), high.max(volts));
        }
        ranges.push(high - low);
    }
    let most = |of: &[f64]| of.iter().copied().fold(0.0, f64::max);
    let (before, last) = ranges[SWINGS - 2 * WINDOW..].split_at(WINDOW);
    most(last) > COUNTS * found.volts && most(last) > LASTS * most(before)
}

/// The voltage to which the least capacitance across the loads leads on from one: up where more flows to it than away, else down.
fn across(from: f64, scale: f64, flows: impl Fn(f64) -> f64) -> f64 {
    let rises = flows(from) > 0.0;
    let part = scale / LOOKED_FOR_IN * if rises { 1.0 } else { -1.0 };
    let (mut near, mut far) = (from, from + part);
    for _ in 0..MOST_PARTS {
        if (flows(far) > 0.0) != rises {
            break;
        }
        (near, far) = (far, far + part);
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (near + far);
        if (flows(middle) > 0.0) == rises {
            near = middle;
        } else {
            far = middle;
        }
    }
    0.5 * (near + far)
}
