//! How long a level takes from switching on until it stays where it settles.

use super::follow::{At, follow};
use super::{Cycled, Plan, whole};
use quietrail_engine::batch::{Passage, TRACE};
use quietrail_engine::{Options, Output, Signal, System};

/// Time after switching on that is looked at, s.
const MOST: f64 = 2.0;
/// Share of a store within which it is where the steady cycle begins; and of the largest, for stores that begin at nothing.
const AT_REST: f64 = 0.01;
/// Distance from the settled mean within which a level has started, as a share of it.
const NEAR: f64 = 0.05;

/// Seconds from switching on, all capacitors empty, until a signal stays near where it settles: between valley and peak, or
/// beyond them by no more than a share of its mean. Of like circuits in their steady states; infinite of one in which it does
/// not within the time looked at.
pub(super) fn seconds(plan: &Plan, all: &[Cycled<'_>], signal: &Signal) -> Vec<f64> {
    let mut seconds = vec![f64::INFINITY; all.len()];
    let made = |k: usize| Some((k, whole(all[k].lowered).ok()?));
    let (places, systems): (Vec<usize>, Vec<System>) = (0..all.len()).filter_map(made).unzip();
    let rises: Vec<Rise<'_>> = places
        .iter()
        .zip(&systems)
        .map(|(&k, system)| Rise::of(plan, &all[k], signal, system))
        .collect();
    let most = rises.iter().map(|rise| rise.cycles).max().unwrap_or(0);
    let options = Options {
        tolerance: 1e-4,
        cycles: most,
        ..Options::default()
    };
    let nothing = systems
        .first()
        .map_or(Vec::new(), |system| vec![0.0; system.store_count()]);
    let circuits: Vec<At<'_>> = systems
        .iter()
        .map(|system| (system, nothing.as_slice()))
        .collect();
    let signals = std::slice::from_ref(signal);
    let kind = all.first().and_then(|one| one.kind);
    let risen = follow(kind, &circuits, signals, &options, &rises, Rise::take);
    for (place, rise) in places.into_iter().zip(risen) {
        seconds[place] = rise.map_or(f64::INFINITY, |rise| rise.seconds());
    }
    seconds
}

/// A level on its way to where it settles.
#[derive(Clone, Debug)]
struct Rise<'a> {
    settled: Settled,
    system: &'a System,
    /// Stores where the steady cycle begins.
    rest: &'a [f64],
    hertz: f64,
    /// Cycles that it is looked at.
    cycles: u64,
    /// Points that were looked at, and how many had been when it was last off.
    points: usize,
    off_until: usize,
    /// Whether it goes through its steady cycle from here on.
    is_there: bool,
}

impl<'a> Rise<'a> {
    fn of(plan: &Plan, one: &Cycled<'a>, signal: &Signal, system: &'a System) -> Self {
        let reading = plan.table.with(one.values);
        let hertz = one.lowered.job.mains.frequency.nominal();
        Self {
            settled: Settled {
                mean: reading.get(&Output::Mean(signal.clone())),
                valley: reading.get(&Output::Valley(signal.clone())),
                peak: reading.get(&Output::Peak(signal.clone())),
            },
            system,
            rest: one.start,
            hertz,
            cycles: (MOST * hertz).ceil() as u64,
            points: 0,
            off_until: 0,
            is_there: false,
        }
    }

    /// Takes a cycle; whether there is more to see.
    fn take(&mut self, passage: &Passage) -> bool {
        for value in &passage.traces[0] {
            self.points += 1;
            if self.settled.is_off(*value) {
                self.off_until = self.points;
            }
        }
        self.is_there = is_at_rest(self.system, &passage.end, self.rest);
        !self.is_there && self.points < self.cycles as usize * TRACE
    }

    fn seconds(&self) -> f64 {
        // Still off in the last cycle: it does not settle in this time.
        if !self.is_there && self.points - self.off_until < TRACE {
            return f64::INFINITY;
        }
        self.off_until as f64 / TRACE as f64 / self.hertz
    }
}

/// Where a signal comes to rest: it swings between two levels.
#[derive(Clone, Copy, Debug)]
struct Settled {
    mean: f64,
    valley: f64,
    peak: f64,
}

impl Settled {
    /// Whether a value is further outside of what it swings between than counts as near.
    fn is_off(&self, value: f64) -> bool {
        let off = (self.valley - value).max(value - self.peak);
        off > NEAR * self.mean.abs()
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
