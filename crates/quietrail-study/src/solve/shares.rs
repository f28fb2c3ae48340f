//! What bands, ratings and starts make of a steady state's figures: shares of a signal's rms, or seconds.

use super::{Plan, Setting, assemble};
use crate::lower::Lowered;
use crate::question::Ask;
use crate::spectrum::Spectrum;
use quietrail_engine::{Options, Output, Signal, transient};

/// Time after switching on that is looked at, s.
const START_SECONDS: f64 = 2.0;
/// Points per mains cycle at which a start is looked at.
const START_POINTS: f64 = 40.0;
/// Distance from the settled mean within which a level has started, as a share of it.
const START_NEAR: f64 = 0.05;

/// Where the harmonics of signals are read.
pub(super) enum Spectra<'a> {
    /// In traces, in the order of [`Plan::traced`].
    Traced(&'a [Vec<f64>]),
    /// In the orbit itself.
    Orbit(&'a quietrail_engine::Orbit<'a>),
}

/// What bands and ratings keep of their signals' rms.
pub(super) fn shares(
    plan: &Plan,
    setting: Setting<'_>,
    lowered: &Lowered,
    values: &[f64],
    spectra: &Spectra<'_>,
) -> Vec<f64> {
    let frequency = lowered.job.mains.frequency.nominal();
    let mut traces = 0..;
    plan.questions
        .iter()
        .map(|question| {
            let both;
            let (signal, kept): (_, &dyn Fn(&Spectrum) -> f64) = match &question.ask {
                Ask::InBand(signal, band) => (signal, &|spectrum| spectrum.in_band(band)),
                Ask::RippleAndNoise((plus, minus), band) => {
                    both = Signal::Voltage(*plus, *minus);
                    (&both, &|spectrum| spectrum.in_band(band))
                }
                Ask::Equivalent(signal, rating) => {
                    (signal, &|spectrum| spectrum.equivalent(&rating.multipliers))
                }
                Ask::Start(signal) => {
                    let settled = plan.table.with(values).get(&Output::Mean(signal.clone()));
                    return seconds_to_start(setting, lowered, signal, settled);
                }
                _ => return 1.0,
            };
            let trace = traces.next().expect("unending");
            let total = plan
                .table
                .with(values)
                .get(&Output::RippleRms(signal.clone()));
            if total <= 0.0 {
                return 1.0;
            }
            let spectrum = match spectra {
                Spectra::Traced(all) => Spectrum::of_samples(&all[trace], total, frequency),
                Spectra::Orbit(orbit) => {
                    Spectrum::of(orbit, &signal.probe(orbit.system()), frequency)
                }
            };
            kept(&spectrum) / total
        })
        .collect()
}

/// Seconds from switching on, all capacitors empty, until a signal stays near its settled mean; infinite
/// where it does not within the time looked at.
fn seconds_to_start(setting: Setting<'_>, lowered: &Lowered, signal: &Signal, settled: f64) -> f64 {
    let frequency = setting.job.mains.frequency.nominal();
    let Ok(system) = assemble(lowered) else {
        return f64::INFINITY;
    };
    let probe = signal.probe(&system);
    let rest = vec![0.0; system.store_count()];
    let cycles = START_SECONDS * frequency;
    let options = Options {
        tolerance: 1e-4,
        ..Options::default()
    };
    let Ok(run) = transient(&system, &rest, 0.0, cycles, &options) else {
        return f64::INFINITY;
    };
    let points = (cycles * START_POINTS) as usize;
    let is_off = |k: &usize| {
        let value = run.value(&probe, *k as f64 / START_POINTS);
        (value - settled).abs() > START_NEAR * settled.abs()
    };
    match (0..points).rev().find(is_off) {
        // Still off in the last cycle: it does not settle in this time.
        Some(last) if last as f64 > (cycles - 1.0) * START_POINTS => f64::INFINITY,
        Some(last) => (last + 1) as f64 / START_POINTS / frequency,
        None => 0.0,
    }
}
