//! What bands, ratings and starts make of a steady state's figures: shares of a signal's rms, or seconds.

use super::{Plan, Setting, assemble, hold_up};
use crate::lower::Lowered;
use crate::question::Ask;
use crate::spectrum::Spectrum;
use quietrail_engine::{Options, Output, Signal, System, transient};

/// Time after switching on that is looked at, s.
const START_SECONDS: f64 = 2.0;
/// Points per mains cycle at which a start is looked at.
const START_POINTS: f64 = 40.0;
/// Mains cycles that are integrated at a time.
const START_CYCLES: f64 = 5.0;
/// Share of a store within which it is where the steady cycle begins; and of the largest, for stores that begin at nothing.
const AT_REST: f64 = 0.01;
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
    (values, start): (&[f64], &[f64]),
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
                    (signal, &|spectrum| spectrum.equivalent(rating))
                }
                Ask::Start(signal) => {
                    let reading = plan.table.with(values);
                    let settled = Settled {
                        mean: reading.get(&Output::Mean(signal.clone())),
                        valley: reading.get(&Output::Valley(signal.clone())),
                        peak: reading.get(&Output::Peak(signal.clone())),
                    };
                    return seconds_to_start(setting, lowered, signal, (settled, start));
                }
                Ask::HoldUp(signal, level) => {
                    return hold_up::seconds(lowered, signal, *level, start)
                        .unwrap_or(f64::INFINITY);
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

/// Where a signal comes to rest: it swings between two levels.
struct Settled {
    mean: f64,
    valley: f64,
    peak: f64,
}

impl Settled {
    /// How far a value is outside of what it swings between.
    fn off(&self, value: f64) -> f64 {
        (self.valley - value).max(value - self.peak)
    }
}

/// Seconds from switching on, all capacitors empty, until a signal stays near where it settles: between valley and peak, or
/// beyond them by no more than a share of its mean. Infinite where it does not within the time looked at.
fn seconds_to_start(
    setting: Setting<'_>,
    lowered: &Lowered,
    signal: &Signal,
    (settled, rest): (Settled, &[f64]),
) -> f64 {
    let frequency = setting.job.mains.frequency.nominal();
    let Ok(system) = assemble(lowered) else {
        return f64::INFINITY;
    };
    let probe = signal.probe(&system);
    let options = Options {
        tolerance: 1e-4,
        ..Options::default()
    };
    let mut stores = vec![0.0; system.store_count()];
    let mut last_off = None;
    let chunks = (START_SECONDS * frequency / START_CYCLES).ceil() as usize;
    for chunk in 0..chunks {
        let from = chunk as f64 * START_CYCLES;
        let Ok(run) = transient(&system, &stores, from, from + START_CYCLES, &options) else {
            return f64::INFINITY;
        };
        let points = (START_CYCLES * START_POINTS) as usize;
        let is_off = |k: &usize| {
            let value = run.value(&probe, from + *k as f64 / START_POINTS);
            settled.off(value) > START_NEAR * settled.mean.abs()
        };
        if let Some(last) = (0..points).rev().find(is_off) {
            last_off = Some(from + last as f64 / START_POINTS);
        }
        stores = run.end;
        // From there on it goes through its steady cycle.
        if is_at_rest(&system, &stores, rest) {
            return last_off.map_or(0.0, |last| (last + 1.0 / START_POINTS) / frequency);
        }
    }
    let end = chunks as f64 * START_CYCLES;
    match last_off {
        // Still off in the last cycle: it does not settle in this time.
        Some(last) if last > end - 1.0 => f64::INFINITY,
        Some(last) => (last + 1.0 / START_POINTS) / frequency,
        None => 0.0,
    }
}

/// Whether all stores are where the steady cycle begins, so nearly that nothing more comes of what is left.
///
/// But for the core's: switched on where the mains passes zero it keeps its offset for seconds and gives it up steadily. With
/// all capacitors and chokes at rest beside it, no level leaves its place by what is left of that.
fn is_at_rest(system: &System, stores: &[f64], rest: &[f64]) -> bool {
    let largest = rest
        .iter()
        .fold(0.0, |most: f64, store| most.max(store.abs()));
    let is_near = |store: usize| {
        let off = (stores[store] - rest[store]).abs();
        off <= AT_REST * rest[store].abs().max(AT_REST * largest)
    };
    stores.len() == rest.len()
        && (0..rest.len()).all(|store| system.is_magnetising(store) || is_near(store))
}
