//! How long a level holds after the mains has gone.

use super::follow::{At, follow, stores_at};
use super::{Cycled, whole};
use crate::lower::{Lowered, OUTLET};
use quietrail_engine::batch::{Kind, TRACE};
use quietrail_engine::{Element, Options, Signal, System, Wave};

/// Time after the mains has gone that is looked at, s; what holds longer is told as that.
pub(crate) const MOST: f64 = 2.0;
/// Share of all that capacitors hold from which one has an instant of its own.
const TELLING: f64 = 0.01;
/// Cycles of the mains that are gone through as one when it has gone: nothing pulses then, and steps may be as much longer.
const SLOWER: f64 = 16.0;

/// A circuit at the stores where its steady cycle begins, with mains and without.
struct Supply<'a> {
    lowered: &'a Lowered,
    /// Its kind of circuit, where that is known.
    kind: Option<&'a Kind>,
    start: &'a [f64],
    with_mains: System,
    without: System,
    /// Length of what is gone through as one cycle without mains, s.
    cycle: f64,
}

impl<'a> Supply<'a> {
    fn of(one: Cycled<'a>) -> Option<Self> {
        let Cycled {
            lowered,
            kind,
            start,
            ..
        } = one;
        let with_mains = whole(lowered).ok()?;
        let mut gone = lowered.circuit.clone();
        gone.frequency /= SLOWER;
        if let Element::Source { wave, .. } = gone.element_mut(lowered.element(OUTLET)?) {
            // Its harmonics stay, so that the circuit stays of its kind.
            *wave = Wave(wave.0.iter().map(|&(basis, _)| (basis, 0.0)).collect());
        }
        Some(Self {
            lowered,
            kind,
            start,
            with_mains,
            without: System::assemble(&gone).ok()?,
            cycle: 1.0 / gone.frequency,
        })
    }
}

/// Seconds until a signal passes a level, towards zero, from the instant of a steady cycle at which the mains goes away worst:
/// the outlet is then at zero volts. Of like circuits, each with the stores where its cycle begins; infinite of one that cannot
/// be followed.
pub(super) fn seconds(all: &[Cycled<'_>], signal: &Signal, level: f64) -> Vec<f64> {
    let made = |k: usize| Some((k, Supply::of(all[k])?));
    let (places, supplies): (Vec<usize>, Vec<Supply<'_>>) = (0..all.len()).filter_map(made).unzip();
    let mut seconds = vec![f64::INFINITY; all.len()];
    for (place, least) in places.into_iter().zip(least(&supplies, signal, level)) {
        // A way that could not be followed might have been the worst.
        seconds[place] = least.unwrap_or(f64::INFINITY);
    }
    seconds
}

/// Least time of each supply, over all instants at which the mains may go.
fn least(supplies: &[Supply<'_>], signal: &Signal, level: f64) -> Vec<Option<f64>> {
    let Some(first) = supplies.first() else {
        return Vec::new();
    };
    let kind = first.kind;
    // In cycles, of which the fastest mains makes most.
    let cycles = supplies.iter().map(|one| MOST / one.cycle);
    let longest = cycles.fold(0.0, f64::max);
    let ways: Vec<(usize, f64)> = instants(supplies)
        .into_iter()
        .enumerate()
        .flat_map(|(k, instants)| instants.into_iter().map(move |at| (k, at)))
        .collect();
    let mut least = vec![Some(MOST); supplies.len()];
    // What has no instant could not even be followed through its cycle.
    for (k, least) in least.iter_mut().enumerate() {
        *least = least.filter(|_| ways.iter().any(|(of, _)| *of == k));
    }
    let shares: Vec<f64> = ways.iter().map(|(_, share)| *share).collect();
    let with_mains: Vec<At<'_>> = ways
        .iter()
        .map(|&(k, _)| (&supplies[k].with_mains, supplies[k].start))
        .collect();
    let stores = stores_at(kind, &with_mains, &shares, &options(1));
    let mut begun = Vec::new();
    for (&(k, _), stores) in ways.iter().zip(&stores) {
        match stores {
            Some(stores) => begun.push((k, stores)),
            None => least[k] = None,
        }
    }
    let without: Vec<At<'_>> = begun
        .iter()
        .map(|(k, stores)| (&supplies[*k].without, stores.as_slice()))
        .collect();
    let falls = follow(
        kind,
        &without,
        std::slice::from_ref(signal),
        &options(longest.ceil() as u64),
        &vec![Fall::to(level); without.len()],
        |fall, passage| fall.take(&passage.traces[0]),
    );
    for ((k, _), fall) in begun.into_iter().zip(falls) {
        let held = |fall: Fall| {
            fall.passed
                .map_or(MOST, |passed| passed * supplies[k].cycle)
        };
        let own = fall.map(held);
        least[k] = least[k].zip(own).map(|(least, own)| least.min(own));
    }
    least
}

/// Instants of steady cycles at which the capacitors hold least, each its own, in cycles: between two charges nothing but the
/// load takes from them, so the later the mains goes the less is left, until the next charge begins.
fn instants(supplies: &[Supply<'_>]) -> Vec<Vec<f64>> {
    let Some(first) = supplies.first() else {
        return Vec::new();
    };
    let signals: Vec<Signal> = capacitors(first.lowered)
        .map(|(across, _)| across)
        .collect();
    let circuits: Vec<At<'_>> = supplies
        .iter()
        .map(|one| (&one.with_mains, one.start))
        .collect();
    let nothing: Vec<Vec<Vec<f64>>> = vec![Vec::new(); supplies.len()];
    let cycles = follow(
        first.kind,
        &circuits,
        &signals,
        &options(1),
        &nothing,
        |traces, passage| {
            traces.clone_from(&passage.traces);
            false
        },
    );
    let of = |(one, volts): (&Supply<'_>, Option<Vec<Vec<f64>>>)| {
        let farads: Vec<f64> = capacitors(one.lowered).map(|(_, farads)| farads).collect();
        volts.map_or(Vec::new(), |volts| valleys(&farads, &volts))
    };
    supplies.iter().zip(cycles).map(of).collect()
}

/// Voltage across each capacitor, and its farads.
fn capacitors(lowered: &Lowered) -> impl Iterator<Item = (Signal, f64)> + '_ {
    let elements = lowered.circuit.elements().iter();
    elements.filter_map(|element| match element {
        Element::Capacitor { a, b, farads, .. } => Some((Signal::Voltage(*a, *b), *farads)),
        _ => None,
    })
}

/// Where capacitors of some farads hold least, by the volts of each over a cycle, in cycles; those that hold next to nothing aside.
fn valleys(farads: &[f64], volts: &[Vec<f64>]) -> Vec<f64> {
    let least_held = |(farads, volts): (&f64, &Vec<f64>)| {
        let joules = volts.iter().map(|volts| 0.5 * farads * volts * volts);
        let least = joules.enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
        least.expect("a trace has points")
    };
    let least: Vec<(usize, f64)> = farads.iter().zip(volts).map(least_held).collect();
    let all: f64 = least.iter().map(|(_, joules)| joules).sum();
    let telling = least.iter().filter(|(_, joules)| *joules >= TELLING * all);
    let mut points: Vec<usize> = telling.map(|(point, _)| *point).collect();
    points.sort_unstable();
    points.dedup();
    if points.is_empty() {
        points.push(0);
    }
    let share = |point: usize| point as f64 / TRACE as f64;
    points.into_iter().map(share).collect()
}

fn options(cycles: u64) -> Options {
    Options {
        tolerance: 1e-5,
        cycles,
        ..Options::default()
    }
}

/// A level on its way down to another.
#[derive(Clone, Debug)]
struct Fall {
    level: f64,
    /// Points that were looked at, and by how much the last was still above.
    points: usize,
    last: f64,
    /// Cycles after which it was passed.
    passed: Option<f64>,
}

impl Fall {
    fn to(level: f64) -> Self {
        Self {
            level,
            points: 0,
            last: 0.0,
            passed: None,
        }
    }

    /// Takes what it does in a cycle; whether it is still above. Between two points the way is taken as straight.
    fn take(&mut self, values: &[f64]) -> bool {
        for value in values {
            // Under common the level is passed upwards.
            let above = (value - self.level) * self.level.signum();
            if above <= 0.0 {
                let since_last = match self.points {
                    0 => 0.0,
                    points => points as f64 - 1.0 + self.last / (self.last - above),
                };
                self.passed = Some(since_last / TRACE as f64);
                return false;
            }
            self.last = above;
            self.points += 1;
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::{Fall, TRACE, valleys};

    #[test]
    fn a_level_is_passed_between_the_points_that_it_lies_between() {
        let cycle = |from: f64| -> Vec<f64> {
            let at = |point: usize| from - 2.0 * point as f64 / TRACE as f64;
            (0..TRACE).map(at).collect()
        };
        let mut fall = Fall::to(7.123);
        assert!(fall.take(&cycle(12.0)));
        assert!(fall.take(&cycle(10.0)));
        assert!(!fall.take(&cycle(8.0)), "from 8 to 6");
        let passed = fall.passed.expect("passed");
        assert!((passed - 0.5 * (12.0 - 7.123)).abs() < 1e-9, "{passed}");
        // Under common, upwards; and at once where it is passed already.
        let mut fall = Fall::to(-7.0);
        let risen: Vec<f64> = cycle(8.0).iter().map(|value| -value).collect();
        assert!(!fall.take(&risen));
        assert!((fall.passed.expect("passed") - 0.5).abs() < 1e-9);
        let mut fall = Fall::to(13.0);
        assert!(!fall.take(&cycle(12.0)));
        assert_eq!(fall.passed, Some(0.0));
    }

    #[test]
    fn what_holds_next_to_nothing_has_no_instant_of_its_own() {
        let lowest_at = |lowest: usize, level: f64| -> Vec<f64> {
            let at = |point: usize| level + 0.01 * point.abs_diff(lowest) as f64;
            (0..TRACE).map(at).collect()
        };
        let volts = [
            lowest_at(256, 10.0),
            lowest_at(512, 12.0),
            lowest_at(768, 1.0),
        ];
        assert_eq!(valleys(&[1e-3, 1e-3, 1e-6], &volts), [0.25, 0.5]);
        assert_eq!(valleys(&[], &[]), [0.0]);
    }
}
