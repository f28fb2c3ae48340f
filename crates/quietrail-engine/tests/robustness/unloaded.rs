//! A reservoir that nothing empties, begun from above the crest of what feeds it: it must come down to the crest.

use crate::supplies::{Feeds, Form, IDEAL, Supply};
use quietrail_engine::batch::{Figures, Kind, Look, Near};
use quietrail_engine::{Options, Output, Signal, System};

const OPTIONS: Options = Options {
    tolerance: 1e-6,
    cycles: 300,
    steps: 60_000,
};

fn unloaded(peak: f64) -> (System, Output) {
    let supply = Supply {
        peak,
        farads: 2e-3,
        source_ohms: 5.0,
        diode: IDEAL,
        feeds: Feeds::Nothing,
        ..Supply::normalised(Form::HalfWave, 10.0, 0.05)
    };
    let built = supply.build();
    let mean = Output::Mean(Signal::Voltage(built.plus, built.minus));
    let system = System::assemble(&built.circuit).expect("values that make sense");
    (system, mean)
}

/// With no drop, no load and no more leakage than a blocking diode has, the reservoir stands at the crest.
#[test]
fn reservoir_comes_down_to_a_lower_crest() {
    let (high, mean) = unloaded(10.0);
    let kind = Kind::of(&high, std::slice::from_ref(&mean), &[]).expect("a shape");
    let from = kind.solve(&high, None, &OPTIONS).expect("it settles");
    assert!((from.values[0] - 10.0).abs() < 1e-4, "{:?}", from.values);
    for peak in [9.99, 9.5, 7.0] {
        let (low, _) = unloaded(peak);
        let alone = |near| {
            let found = kind.solve(&low, Some(near), &OPTIONS).expect("it settles");
            assert!(found.ended.is_settled());
            let stands = found.values[0];
            assert!((stands - peak).abs() < 1e-5 * peak, "{peak}: {stands}");
            found
        };
        // Beside others it is found there or not at all.
        let beside = |near| {
            let all = kind.solve_near(&[(&low, near); 2], &from, &OPTIONS);
            for found in all.into_iter().flatten() {
                let stands = found.values[0];
                assert!((stands - peak).abs() < 1e-4 * peak, "{peak}: {stands}");
            }
        };
        let near = Near::Stores(&from.start);
        assert!(alone(near).effort.cycles < 60, "{peak}");
        beside(near);
        // Nor is it led astray by how the charged one answers to moves.
        alone(Near::Settled(&from));
        beside(Near::Settled(&from));
        let looks = kind.look_near(&[(&low, near)], &from, &OPTIONS);
        for look in looks.iter().flatten() {
            match look {
                Look::Settled(figures) => panic!("{figures:?} of a look"),
                Look::Near(glance) => beside(Near::Glanced(glance)),
            }
        }
        looked_at(&kind, &low, near, &from, peak);
    }
}

/// Where looks alone may settle it, it is found at the crest or not at all.
fn looked_at(kind: &Kind, low: &System, near: Near<'_>, from: &Figures, peak: f64) {
    let options = Options {
        tolerance: 1e-4,
        ..OPTIONS
    };
    let look = |near: Near<'_>| kind.look_near(&[(low, near)], from, &options).remove(0);
    let mut seen = look(near);
    for _ in 0..10 {
        match seen {
            Some(Look::Near(glance)) => seen = look(Near::Glanced(&glance)),
            Some(Look::Settled(figures)) => {
                let stands = figures.values[0];
                assert!((stands - peak).abs() < 1e-3 * peak, "{peak}: {stands}");
                return;
            }
            None => return,
        }
    }
}
