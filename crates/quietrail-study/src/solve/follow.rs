//! What circuits do from given stores on, cycle by cycle: together where that comes through, else patiently.

use quietrail_engine::batch::{Kind, Passage, TRACE};
use quietrail_engine::{Options, Signal, System, transient};

/// A circuit, as the job gives its equations, at some stores.
pub(crate) type At<'a> = (&'a System, &'a [f64]);

/// The kind of circuits, with signals to trace: that known of others, if they are of it.
fn kind(known: Option<&Kind>, circuits: &[At<'_>], signals: &[Signal]) -> Option<Kind> {
    let (system, _) = circuits.first()?;
    let known = known.filter(|kind| kind.is_of(system));
    known
        .and_then(|kind| kind.reading(&[], signals))
        .or_else(|| Kind::of(system, &[], signals))
}

/// Follows like circuits, of a kind that may be known, each for as many cycles as `goes_on` wants, which is told what happened, and at most for those of the
/// options; what it has made of a state of each. `None` for those that cannot be followed so long.
pub(super) fn follow<S: Clone>(
    known: Option<&Kind>,
    circuits: &[At<'_>],
    signals: &[Signal],
    options: &Options,
    states: &[S],
    goes_on: impl Fn(&mut S, &Passage) -> bool,
) -> Vec<Option<S>> {
    let mut found = states.to_vec();
    let kind = kind(known, circuits, signals);
    let came = kind.map(|kind| {
        kind.accompany(circuits, options, |of, passage| {
            goes_on(&mut found[of], passage)
        })
    });
    let came = came.unwrap_or_else(|| vec![false; circuits.len()]);
    let each = circuits.iter().zip(states).zip(found.into_iter().zip(came));
    each.map(|((at, state), (found, came))| {
        if came {
            return Some(found);
        }
        patiently(*at, signals, options, state, &goes_on)
    })
    .collect()
}

/// What signals of like circuits do in the cycles of the options, at [`TRACE`] even points of each; `None` for those that cannot be followed
/// so long.
pub(crate) fn traces(
    circuits: &[At<'_>],
    signals: &[Signal],
    options: &Options,
) -> Vec<Option<Vec<Vec<f64>>>> {
    let nothing = vec![vec![Vec::new(); signals.len()]; circuits.len()];
    follow(
        None,
        circuits,
        signals,
        options,
        &nothing,
        |all, passage| {
            for (all, trace) in all.iter_mut().zip(&passage.traces) {
                all.extend_from_slice(trace);
            }
            true
        },
    )
}

/// Follows one by itself.
fn patiently<S: Clone>(
    (system, start): At<'_>,
    signals: &[Signal],
    options: &Options,
    state: &S,
    goes_on: impl Fn(&mut S, &Passage) -> bool,
) -> Option<S> {
    let system = system.reduced();
    let (mut state, mut stores) = (state.clone(), start.to_vec());
    for cycle in 0..options.cycles {
        let from = cycle as f64;
        let run = transient(&system, &stores, from, from + 1.0, options).ok()?;
        let trace = |signal: &Signal| {
            let probe = signal.probe(&system);
            let at = |point: usize| run.value(&probe, from + point as f64 / TRACE as f64);
            (0..TRACE).map(at).collect()
        };
        let passage = Passage {
            traces: signals.iter().map(trace).collect(),
            end: run.end.clone(),
        };
        if !goes_on(&mut state, &passage) {
            break;
        }
        stores = passage.end;
    }
    Some(state)
}

/// Stores of like circuits, each after a share of the cycle that begins with some.
pub(super) fn stores_at(
    known: Option<&Kind>,
    circuits: &[At<'_>],
    shares: &[f64],
    options: &Options,
) -> Vec<Option<Vec<f64>>> {
    let kind = kind(known, circuits, &[]);
    let found = kind.map(|kind| kind.stores_at(circuits, shares, options));
    let found = found.unwrap_or_else(|| vec![None; circuits.len()]);
    let patiently = |(system, start): At<'_>, share: f64| {
        if share <= 0.0 {
            return Some(start.to_vec());
        }
        let system = system.reduced();
        let run = transient(&system, start, 0.0, share, options).ok()?;
        Some(run.end)
    };
    let each = circuits.iter().zip(shares).zip(found);
    each.map(|((at, share), found)| found.or_else(|| patiently(*at, *share)))
        .collect()
}
