//! A load of constant power behind the series resistance of its capacitor, which comes to voltages at which it can stay no
//! longer: it lets go as the least capacitance across its pins would have it, on one way and on the other.

use quietrail_engine::batch::Kind;
use quietrail_engine::math;
use quietrail_engine::{
    Circuit, Element, Ended, GROUND, LoadLaw, Options, Output, Signal, System, Wave, steady_state,
};
use std::f64::consts::TAU;

const HERTZ: f64 = 50.0;
const PEAK: f64 = 20.0;
const SOURCE_OHMS: f64 = 1.0;
const ESR: f64 = 1.0;
const FARADS: f64 = 2e-4;
const WATTS: f64 = 10.0;
const BELOW: f64 = 1.0;

/// Resistance in front of the load, for what is quick.
const OHMS: f64 = SOURCE_OHMS * ESR / (SOURCE_OHMS + ESR);

/// Points of a cycle that the test's own way makes, and cycles from rest: the capacitor has a time constant of 0.4 ms.
const POINTS: usize = 40_000;
const CYCLES: usize = 3;

fn circuit() -> (Circuit, [Output; 3]) {
    let mut c = Circuit::new(HERTZ);
    let pin = c.node();
    c.add(Element::Source {
        plus: pin,
        minus: GROUND,
        wave: Wave::sine(PEAK),
        ohms: SOURCE_OHMS,
    });
    c.add(Element::Capacitor {
        a: pin,
        b: GROUND,
        farads: FARADS,
        esr: ESR,
        leakage: 0.0,
    });
    let load = c.add(Element::Load {
        plus: pin,
        minus: GROUND,
        law: LoadLaw::Power {
            watts: WATTS,
            below: BELOW,
        },
    });
    let voltage = Signal::Voltage(pin, GROUND);
    let outputs = [
        Output::Mean(voltage.clone()),
        Output::Rms(voltage),
        Output::Power(load),
    ];
    (c, outputs)
}

/// Current of the load: as the job file's guide has it.
fn current(volts: f64) -> f64 {
    let u = volts / BELOW;
    if u <= 0.0 {
        0.0
    } else if u >= 1.0 {
        WATTS / volts
    } else {
        let fades = u * u * u * u * (35.0 - 84.0 * u + 70.0 * u * u - 20.0 * u * u * u);
        WATTS / volts * fades
    }
}

/// Where the load's voltage comes to rest, from where it was, with `open` volts behind the resistance: the first place on the
/// way that a capacitance would take it. And whether it went further than a point makes it go.
fn comes_to_rest(was: f64, open: f64) -> (f64, bool) {
    let pull = |volts: f64| open - volts - OHMS * current(volts);
    let way = pull(was).signum();
    let mut step = 1e-4;
    let (mut from, mut to) = (was, was);
    while pull(to) * way > 0.0 {
        from = to;
        to += way * step;
        step = (2.0 * step).min(0.01);
    }
    for _ in 0..60 {
        let middle = 0.5 * (from + to);
        if pull(middle) * way > 0.0 {
            from = middle;
        } else {
            to = middle;
        }
    }
    (to, (to - was).abs() > 0.5)
}

/// Mean and rms of the load's voltage, and its mean power, found by small steps of the capacitor's charge; and how often it let
/// go in the last cycle.
fn by_small_steps() -> ([f64; 3], usize) {
    let dt = 1.0 / HERTZ / POINTS as f64;
    let (mut charged, mut volts) = (0.0, 0.0);
    let mut sums = [0.0; 3];
    let mut lets_go = 0;
    let open_at = |point: f64, charged: f64| {
        let source = PEAK * math::sin(TAU * point / POINTS as f64);
        (source * ESR + charged * SOURCE_OHMS) / (SOURCE_OHMS + ESR)
    };
    for cycle in 0..CYCLES {
        for point in 0..POINTS {
            let at = point as f64;
            let (first, jumped) = comes_to_rest(volts, open_at(at, charged));
            let half_way = charged + 0.5 * dt * (first - charged) / ESR / FARADS;
            let (middle, jumped_too) = comes_to_rest(first, open_at(at + 0.5, half_way));
            charged += dt * (middle - half_way) / ESR / FARADS;
            volts = middle;
            if cycle + 1 == CYCLES {
                lets_go += usize::from(jumped) + usize::from(jumped_too);
                let all = [middle, middle * middle, middle * current(middle)];
                for (sum, own) in sums.iter_mut().zip(all) {
                    *sum += own / POINTS as f64;
                }
            }
        }
    }
    ([sums[0], sums[1].sqrt(), sums[2]], lets_go)
}

#[test]
fn a_power_that_can_stay_no_longer_lets_go() {
    let (wanted, lets_go) = by_small_steps();
    // Once up from where it fades, once down from √(P R).
    assert_eq!(lets_go, 2);
    let (circuit, outputs) = circuit();
    let system = System::assemble(&circuit).expect("values that make sense");
    let options = Options {
        tolerance: 1e-7,
        ..Options::default()
    };
    let patient = steady_state(&system, &options);
    let settled = |ended: &Ended| matches!(ended, Ended::Settled { .. });
    assert!(settled(&patient.ended), "{:?}", patient.ended);
    let orbit = patient.orbit.expect("it settled");
    let kind = Kind::of(&system, &outputs, &[]).expect("a shape");
    let fast = kind.solve(&system, None, &options).expect("it settles");
    assert!(settled(&fast.ended), "{:?}", fast.ended);
    for (k, (wanted, output)) in wanted.iter().zip(&outputs).enumerate() {
        let patient = match output {
            Output::Mean(signal) => orbit.mean(&signal.probe(&system)),
            Output::Rms(signal) => orbit.rms(&signal.probe(&system)),
            Output::Power(load) => orbit.power(*load),
            _ => unreachable!("none other was asked for"),
        };
        for found in [patient, fast.values[k]] {
            // The test's own steps meet a jump within one of them, a twenty thousandth of half a cycle.
            let apart = (found - wanted).abs() / wanted.abs().max(1.0);
            assert!(apart < 2e-4, "{output:?}: {found} {wanted}");
        }
    }
}
