//! The fast way against the patient one: every figure of every reference problem, alone and eight together.

#[allow(
    dead_code,
    reason = "shared with reference_cases.rs, which uses all of it"
)]
mod reference {
    pub(crate) mod cases;
    pub(crate) mod compare;
    pub(crate) mod problems;
}

use quietrail_engine::batch::{Figures, Kind, Look, Near};
use quietrail_engine::{Options, Orbit, Output, Signal, System};
use reference::{cases, problems};
use std::cell::RefCell;

/// Largest difference of a figure, as a share of its signal's rms; of a power, of the largest power.
const ALLOWED: f64 = 1e-5;
/// The same of a ripple, as a share of itself. The voltage at a winding with leakage inductance jumps as diodes take
/// over: that one is furthest off.
const ALLOWED_RIPPLE: f64 = 3e-5;
/// The same of an extreme: read from the polynomial of a step, where an orbit makes a step that ends there.
const ALLOWED_EXTREME: f64 = 5e-5;

#[test]
fn figures_are_those_of_the_orbit() {
    let exact = Options {
        tolerance: 1e-9,
        ..Options::default()
    };
    let working = Options {
        tolerance: 1e-6,
        ..Options::default()
    };
    let seen = RefCell::new(0);
    let folded = RefCell::new(0);
    for case in cases::load() {
        let compare = |system: &System, orbit: &Orbit<'_>| {
            let outputs = system.every_output();
            let kind = Kind::of(system, &outputs, &[]).expect("a shape");
            let alone = kind.solve(system, None, &working).expect("it settles");
            assert!(alone.ended.is_settled());
            let both =
                kind.solve_near(&[(system, Near::Stores(&alone.start)); 2], &alone, &working);
            check(&case.id, "alone", (system, orbit), &outputs, &alone.values);
            for found in &both {
                if kind.stands_alone() {
                    assert!(found.is_none());
                    continue;
                }
                let Some(found) = found else {
                    panic!("{} does not settle beside others", case.id)
                };
                check(&case.id, "beside", (system, orbit), &outputs, &found.values);
            }
            *seen.borrow_mut() += 1;
            *folded.borrow_mut() += usize::from(kind.folds(system));
        };
        problems::solve_and(&case, &exact, &compare);
    }
    assert!(*seen.borrow() >= 29, "{} systems seen", seen.borrow());
    // Of both sorts enough that either way is held against the orbits.
    let (folded, seen) = (*folded.borrow(), *seen.borrow());
    assert!(
        folded >= 20 && seen - folded >= 4,
        "{folded} of {seen} by halves"
    );
}

/// Where no more is asked than a look can tell, looks alone settle a circuit near a solved one. Few figures are off by more
/// than those of finer steps may be; furthest is the level of a node that keeps what the cycles' errors add up to.
#[test]
fn looks_settle_what_is_only_looked_at() {
    let [exact, finer, looked_at] = [1e-9, 1e-6, 1e-4].map(|tolerance| Options {
        tolerance,
        ..Options::default()
    });
    let settled = RefCell::new(0);
    let (seen, off) = (RefCell::new(0), RefCell::new(0));
    for case in cases::load() {
        let compare = |system: &System, orbit: &Orbit<'_>| {
            let outputs = system.every_output();
            let kind = Kind::of(system, &outputs, &[]).expect("a shape");
            if kind.stands_alone() {
                return;
            }
            let alone = kind.solve(system, None, &finer).expect("it settles");
            let away: Vec<f64> = alone.start.iter().map(|store| 0.98 * store).collect();
            let begin = (system, Near::Stores(&away));
            for look in kind.look_near(&[begin], &alone, &finer) {
                let is_near = matches!(look, Some(Look::Near(_)));
                assert!(is_near, "{}: a look is not that exact", case.id);
            }
            let Some(found) = looked_at_until_settled(&kind, begin, &alone, &looked_at) else {
                return;
            };
            *settled.borrow_mut() += 1;
            for (apart, allowed) in apart((system, orbit), &outputs, &found.values) {
                assert!(apart < 2e-3, "{}: {apart:.1e} off", case.id);
                *seen.borrow_mut() += 1;
                *off.borrow_mut() += usize::from(apart > allowed);
            }
        };
        problems::solve_and(&case, &exact, &compare);
    }
    let (seen, off) = (*seen.borrow(), *off.borrow());
    assert!(*settled.borrow() >= 24, "{} settled", settled.borrow());
    assert!(10 * off < seen, "{off} of {seen} figures");
}

fn looked_at_until_settled(
    kind: &Kind,
    (system, begin): (&System, Near<'_>),
    from: &Figures,
    options: &Options,
) -> Option<Figures> {
    let mut look = kind
        .look_near(&[(system, begin)], from, options)
        .remove(0)?;
    for _ in 0..12 {
        let glance = match look {
            Look::Settled(figures) => return Some(figures),
            Look::Near(glance) => glance,
        };
        let near = Near::Glanced(&glance);
        look = kind.look_near(&[(system, near)], from, options).remove(0)?;
    }
    None
}

fn check(case: &str, how: &str, of: (&System, &Orbit<'_>), outputs: &[Output], values: &[f64]) {
    for (output, (apart, allowed)) in outputs.iter().zip(apart(of, outputs, values)) {
        assert!(
            apart < allowed,
            "{case} {how}: {output:?} is {apart:.1e} off"
        );
    }
}

/// By how much each figure differs from that of the orbit, as a share, and by how much it may.
fn apart(
    (system, orbit): (&System, &Orbit<'_>),
    outputs: &[Output],
    values: &[f64],
) -> Vec<(f64, f64)> {
    let wanted: Vec<f64> = outputs.iter().map(|output| read(orbit, output)).collect();
    let most_power = outputs
        .iter()
        .zip(&wanted)
        .filter(|(output, _)| matches!(output, Output::Power(_)))
        .fold(0.0, |most: f64, (_, power)| most.max(power.abs()));
    let rms = |signal: &Signal| orbit.rms(&signal.probe(system)).max(1e-6);
    let all = outputs.iter().zip(&wanted).zip(values);
    all.map(|((output, want), got)| {
        let (scale, allowed) = match output {
            Output::Power(_) => (most_power, ALLOWED),
            // What is smaller than a thousand millionth of the signal is the rounding of its level.
            Output::RippleRms(signal) => (want.max(1e-9 * rms(signal)), ALLOWED_RIPPLE),
            Output::Mean(signal) | Output::Rms(signal) => (rms(signal), ALLOWED),
            Output::Peak(signal) | Output::Valley(signal) => (rms(signal), ALLOWED_EXTREME),
        };
        ((got - want).abs() / scale.max(1e-12), allowed)
    })
    .collect()
}

fn read(orbit: &Orbit<'_>, output: &Output) -> f64 {
    let system = orbit.system();
    match output {
        Output::Mean(signal) => orbit.mean(&signal.probe(system)),
        Output::Rms(signal) => orbit.rms(&signal.probe(system)),
        Output::RippleRms(signal) => orbit.ripple_rms(&signal.probe(system)),
        Output::Peak(signal) => orbit.peak(&signal.probe(system)).value,
        Output::Valley(signal) => orbit.valley(&signal.probe(system)).value,
        Output::Power(element) => orbit.power(*element),
    }
}

/// What a lane comes to does not depend on its neighbours, nor on how many there are.
#[test]
fn a_circuit_does_not_know_its_neighbours() {
    let options = Options {
        tolerance: 1e-6,
        ..Options::default()
    };
    let case = cases::load().swap_remove(0);
    let seen = |system: &System, _: &Orbit<'_>| {
        let outputs = system.every_output();
        let kind = Kind::of(system, &outputs, &[]).expect("a shape");
        let alone = kind.solve(system, None, &options).expect("it settles");
        let away: Vec<Vec<f64>> = (0..11)
            .map(|k| {
                alone
                    .start
                    .iter()
                    .map(|z| z * (0.9 + 0.02 * f64::from(k)))
                    .collect()
            })
            .collect();
        let circuits: Vec<(&System, Near<'_>)> =
            away.iter().map(|z| (system, Near::Stores(z))).collect();
        let many = kind.solve_near(&circuits, &alone, &options);
        for (k, found) in many.iter().enumerate() {
            let by_itself = kind.solve_near(&circuits[k..=k], &alone, &options);
            let bits = |values: &[f64]| values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
            let one = by_itself[0].as_ref().expect("it settles");
            let other = found.as_ref().expect("it settles");
            assert_eq!(bits(&one.values), bits(&other.values), "circuit {k}");
        }
    };
    problems::solve_and(&case, &options, &seen);
}
