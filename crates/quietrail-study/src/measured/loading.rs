//! What the inputs of instruments take off the point of a limit while they read it: the point's own impedance, as its small signals
//! see it, against the input's resistance and capacitance.

use super::Limited;
use crate::heat::Temperatures;
use crate::lower::{Step, lower};
use crate::noise;
use crate::question::{View, nodes_of, voltage_of};
use crate::reading::OutputTable;
use crate::solve::{Plan, Setting, solve};
use quietrail_bench::judge::{Load, function_for};
use quietrail_bench::log::Row;
use quietrail_engine::complex::Complex;
use quietrail_engine::network::Network;
use quietrail_engine::{Node, Options, Output, Signal};
use quietrail_job::model::{Band, Job, Subject, What};
use std::f64::consts::PI;

/// Where a mean is looked at, as a part of the mains frequency: far below all that swings with it.
const SLOW: f64 = 1e-4;
/// Frequencies of a band at which what swings is looked at.
const LOOKED_AT: i32 = 12;
/// Highest frequency of a band without an end, Hz.
const HIGHEST: f64 = 1e6;

/// The loading by each instrument that a limit was read with.
pub(super) fn of(job: &Job, limit: &Limited, rows: &[&Row], options: &Options) -> Vec<Load> {
    if matches!(limit.of, Subject::Part(_)) {
        return Vec::new();
    }
    let mut inputs: Vec<(String, f64, f64)> = Vec::new();
    for row in rows {
        let by = row.setup.through.as_ref().unwrap_or(&row.instrument);
        if inputs.iter().any(|(known, ..)| known == by) {
            continue;
        }
        if let Some((ohms, farads)) = input(job, limit.what, row) {
            inputs.push((by.clone(), ohms, farads));
        }
    }
    if inputs.is_empty() {
        return Vec::new();
    }
    shares(job, limit, &inputs, options).unwrap_or_default()
}

/// Resistance and capacitance that stand across the point while a row is read.
fn input(job: &Job, what: What, row: &Row) -> Option<(f64, f64)> {
    let named = |name: &str| job.instruments.iter().find(|one| one.name == name);
    let (ohms, farads) = match &row.setup.through {
        Some(name) => named(name)?.amplifier.as_ref()?.input.as_ref()?,
        None => function_for(what, named(&row.instrument)?)?
            .input
            .as_ref()?,
    };
    Some((ohms.nominal(), farads.nominal()))
}

fn shares(
    job: &Job,
    limit: &Limited,
    inputs: &[(String, f64, f64)],
    options: &Options,
) -> Option<Vec<Load>> {
    let state = job
        .states
        .iter()
        .position(|state| state.name == limit.state)?;
    let step = Step::default();
    let lowered = lower(job, state, &step, &[], &Temperatures::at_rest(job)).ok()?;
    let (plus, minus) = nodes_of(&voltage_of(&lowered, &limit.of)?)?;
    let mut table = OutputTable::of(&lowered);
    noise::register(&lowered, &mut table);
    table.add(Output::Mean(Signal::Voltage(plus, minus)));
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let solved = solve(&Plan::reading(table.clone()), setting, &[], None).ok()?;
    let view = View {
        lowered: &solved.lowered,
        reading: table.with(&solved.solution.values),
        air: solved.solution.temperatures.air,
        share: 1.0,
    };
    let network = noise::network(&view, minus);
    if !network.holds(plus) {
        return None;
    }
    let band = job.limits.iter().find(|own| own.name == limit.name)?.band;
    let hertz = frequencies(limit.what, band, job.mains.frequency.nominal());
    let loads = inputs.iter().map(|(by, ohms, farads)| Load {
        by: by.clone(),
        share: hertz
            .iter()
            .filter_map(|&at| share(&network, (plus, minus), at, (*ohms, *farads)))
            .fold(
                0.0,
                |most: f64, one| if one.abs() > most.abs() { one } else { most },
            ),
    });
    Some(loads.collect())
}

/// 1 − 1/|1 + Z Y|: what an admittance takes off a point behind its impedance.
fn share(
    network: &Network,
    (plus, minus): (Node, Node),
    hertz: f64,
    (ohms, farads): (f64, f64),
) -> Option<f64> {
    let own = network.reach(plus, minus, hertz)?.of_current(plus, minus);
    let across = Complex::new(1.0 / ohms, 2.0 * PI * hertz * farads);
    Some(1.0 - 1.0 / (Complex::ONE + own * across).size())
}

/// Where in the spectrum a statistic lies.
fn frequencies(what: What, band: Option<Band>, mains: f64) -> Vec<f64> {
    let swings = matches!(
        what,
        What::Ripple | What::RipplePeakToPeak | What::Noise | What::RippleAndNoise
    );
    if !swings {
        return vec![SLOW * mains];
    }
    let (low, high) = match band {
        Some(Band::BrickWall { low, high } | Band::Poles { low, high }) => (low, high),
        None => (mains, HIGHEST),
    };
    let low = low.max(if what == What::Noise { 1.0 } else { mains });
    let ratio = (high.max(low) / low).powf(1.0 / f64::from(LOOKED_AT));
    (0..=LOOKED_AT).map(|k| low * ratio.powi(k)).collect()
}
