//! Circuits followed together against the patient way, from rest and from their steady cycles, of every reference problem.

#[allow(
    dead_code,
    reason = "shared with reference_cases.rs, which uses all of it"
)]
mod reference {
    pub(crate) mod cases;
    pub(crate) mod compare;
    pub(crate) mod problems;
}

use quietrail_engine::batch::{Kind, Passage, TRACE};
use quietrail_engine::{Options, Orbit, Output, Signal, System, transient};
use reference::{cases, problems};
use std::cell::RefCell;

/// Cycles that are followed.
const CYCLES: usize = 3;
/// Points of a cycle at which both ways are compared.
const EVERY: usize = TRACE / 64;
/// Largest difference, as a share of the highest voltage that a node comes to. Where a diode lets go a node without
/// capacitance jumps, and the polynomial of a step does not.
const ALLOWED: f64 = 1e-4;
/// Share of the points that may differ by more.
const JUMPS: f64 = 0.01;

fn within(tolerance: f64) -> Options {
    Options {
        tolerance,
        cycles: CYCLES as u64,
        ..Options::default()
    }
}

/// Voltages of all nodes.
fn voltages(system: &System) -> Vec<Signal> {
    let signal = |output| match output {
        Output::Mean(signal @ Signal::Voltage(..)) => Some(signal),
        _ => None,
    };
    system
        .every_output()
        .into_iter()
        .filter_map(signal)
        .collect()
}

/// What each of some circuits goes through.
fn passages(kind: &Kind, circuits: &[(&System, &[f64])]) -> Vec<Vec<Passage>> {
    let mut all: Vec<Vec<Passage>> = vec![Vec::new(); circuits.len()];
    let came = kind.accompany(circuits, &within(1e-6), |of, passage| {
        all[of].push(passage.clone());
        true
    });
    assert!(came.iter().all(|came| *came), "{came:?}");
    all
}

fn bits(passages: &[Passage]) -> Vec<u64> {
    let values = passages
        .iter()
        .flat_map(|one| one.traces.iter().flatten().chain(&one.end));
    values.map(|value| value.to_bits()).collect()
}

#[test]
fn a_circuit_goes_the_way_that_it_goes_by_itself() {
    let (points, jumps) = (RefCell::new(0), RefCell::new(0));
    let seen = RefCell::new(0);
    for case in cases::load() {
        let compare = |system: &System, orbit: &Orbit<'_>| {
            let signals = voltages(system);
            let kind = Kind::of(system, &[], &signals).expect("a shape");
            let rest = vec![0.0; system.store_count()];
            let circuits = [(system, rest.as_slice()), (system, orbit.start())];
            let both = passages(&kind, &circuits);
            // A lane does not know its neighbours.
            for (circuit, passages_beside) in circuits.iter().zip(&both) {
                let alone = passages(&kind, std::slice::from_ref(circuit));
                assert_eq!(bits(&alone[0]), bits(passages_beside), "{}", case.id);
            }
            for ((_, start), passages) in circuits.iter().zip(&both) {
                let run = transient(system, start, 0.0, CYCLES as f64, &within(1e-8))
                    .expect("the patient way comes through");
                for (k, signal) in signals.iter().enumerate() {
                    let probe = signal.probe(system);
                    let traced = passages.iter().flat_map(|one| &one.traces[k]);
                    let pairs: Vec<(f64, f64)> = traced
                        .enumerate()
                        .skip(1)
                        .step_by(EVERY)
                        .map(|(point, own)| (*own, run.value(&probe, point as f64 / TRACE as f64)))
                        .collect();
                    let most = pairs
                        .iter()
                        .fold(1e-3, |most: f64, (_, v)| most.max(v.abs()));
                    let off = pairs.iter().filter(|(a, b)| (a - b).abs() > ALLOWED * most);
                    *points.borrow_mut() += pairs.len();
                    *jumps.borrow_mut() += off.count();
                }
            }
            *seen.borrow_mut() += 1;
        };
        problems::solve_and(&case, &within_of_orbit(), &compare);
    }
    let (points, jumps) = (*points.borrow(), *jumps.borrow());
    assert!(*seen.borrow() >= 29, "{} systems seen", seen.borrow());
    let share = jumps as f64 / points as f64;
    assert!(share < JUMPS, "{jumps} of {points} points");
}

fn within_of_orbit() -> Options {
    Options {
        tolerance: 1e-7,
        ..Options::default()
    }
}

/// What is left of a cycle after a part of it is what a whole one has at that point.
#[test]
fn a_part_of_a_cycle_ends_where_the_whole_one_passes_by() {
    let case = cases::load().swap_remove(0);
    let seen = |system: &System, orbit: &Orbit<'_>| {
        let kind = Kind::of(system, &[], &[]).expect("a shape");
        let shares = [0.0, 0.1, 0.25, 0.3719, 0.5, 0.77, 0.9, 0.99, 1.0];
        let circuits = [(system, orbit.start()); 9];
        let found = kind.stores_at(&circuits, &shares, &within(1e-6));
        for (share, stores) in shares.iter().zip(found) {
            let stores = stores.expect("it comes through");
            let wanted = match *share {
                0.0 => orbit.start().to_vec(),
                share => {
                    transient(system, orbit.start(), 0.0, share, &within(1e-8))
                        .expect("the patient way comes through")
                        .end
                }
            };
            for (own, wanted) in stores.iter().zip(&wanted) {
                let off = (own - wanted).abs();
                assert!(
                    off < 1e-5 * wanted.abs().max(0.1),
                    "{share}: {own}, {wanted}"
                );
            }
        }
    };
    problems::solve_and(&case, &within_of_orbit(), &seen);
}

/// A circuit of another kind is not followed, and keeps none of the others from it.
#[test]
fn one_of_another_kind_is_left() {
    let cases = cases::load();
    let other = RefCell::new(None);
    problems::solve_and(
        &cases[0],
        &within_of_orbit(),
        &|system: &System, _: &Orbit<'_>| {
            *other.borrow_mut() = Some(system.clone());
        },
    );
    let other = other.into_inner().expect("solved");
    let differs = |system: &System, orbit: &Orbit<'_>| {
        let kind = Kind::of(system, &[], &voltages(system)).expect("a shape");
        if kind.is_of(&other) {
            return;
        }
        let zero = vec![0.0; other.store_count()];
        let circuits = [(&other, zero.as_slice()), (system, orbit.start())];
        let mut told = Vec::new();
        let came = kind.accompany(&circuits, &within(1e-6), |of, _| {
            told.push(of);
            told.len() < 2
        });
        assert_eq!(came, [false, true]);
        assert_eq!(told, [1, 1], "as often as it was wanted");
        let stores = kind.stores_at(&circuits, &[0.5, 0.5], &within(1e-6));
        assert!(stores[0].is_none() && stores[1].is_some());
    };
    let last = cases.last().expect("cases");
    problems::solve_and(last, &within_of_orbit(), &differs);
}
