//! Exact derivatives against differences of whole solutions, at random points.

use proptest::prelude::*;
use quietrail_engine::batch::{Kind, Near};
use quietrail_engine::{
    Circuit, DiodeLaw, Direction, Dropout, Element, ElementId, GROUND, LoadLaw, Node, Options,
    Orbit, Output, RegulatorLaw, Signal, System, Transfer, Wave, Winding, sensitivities,
    steady_state,
};

/// Everything that a supply of one rail can be turned by.
#[derive(Clone, Debug)]
struct Values([f64; 12]);

const NAMES: [&str; 12] = [
    "mains",
    "flatness",
    "frequency",
    "primary ohms",
    "secondary ohms",
    "reservoir",
    "esr",
    "saturation",
    "load",
    "set point",
    "dropout ohms",
    "rejection",
];

const NOMINAL: [f64; 12] = [
    230.0, 0.04, 50.0, 40.0, 0.5, 4.7e-3, 0.04, 1.4e-8, 0.5, 12.0, 0.8, 1e-3,
];

struct Built {
    circuit: Circuit,
    raw: Node,
    rail: Node,
    transformer: ElementId,
    diode: ElementId,
    regulator: ElementId,
}

fn build(Values(v): &Values) -> Built {
    let mut c = Circuit::new(v[2]);
    let (live, neutral, a, b, raw, rail) =
        (c.node(), c.node(), c.node(), c.node(), c.node(), c.node());
    c.add(Element::Source {
        plus: live,
        minus: neutral,
        wave: Wave::mains(v[0], v[1]),
        ohms: 0.5,
    });
    let winding = |start, finish, turns, ohms| Winding {
        start,
        finish,
        turns,
        ohms,
        leakage: 0.0,
    };
    let transformer = c.add(Element::Transformer {
        windings: vec![
            winding(live, neutral, 1.0, v[3]),
            winding(a, b, 14.0 / 230.0, v[4]),
        ],
        magnetising: Some(15.0),
    });
    let law = DiodeLaw::Exponential {
        saturation: v[7],
        slope_voltage: 0.05,
        series: 0.03,
        leakage: 1e-9,
    };
    let diode = c.add(Element::Diode {
        anode: a,
        cathode: raw,
        law,
    });
    c.add(Element::Diode {
        anode: b,
        cathode: raw,
        law,
    });
    c.add(Element::Diode {
        anode: GROUND,
        cathode: a,
        law,
    });
    c.add(Element::Diode {
        anode: GROUND,
        cathode: b,
        law,
    });
    c.add(Element::Capacitor {
        a: raw,
        b: GROUND,
        farads: v[5],
        esr: v[6],
        leakage: 0.0,
    });
    let law = RegulatorLaw {
        set: v[9],
        line: 15.0,
        rejection: Transfer {
            direct: v[11],
            sections: vec![(v[11] * 500.0, 3000.0)],
        },
        transconductance: 20.0,
        loop_time: 2e-5,
        dropout: Dropout::line(0.6, v[10]),
        limit: 1.5,
        softness: 2e-3,
        exponent: 6,
        quiescent: 5e-3,
        is_negative: false,
    };
    let regulator = c.add(Element::Regulator {
        input: raw,
        output: rail,
        reference: GROUND,
        sense: None,
        law,
    });
    c.add(Element::Capacitor {
        a: rail,
        b: GROUND,
        farads: 1e-4,
        esr: 0.1,
        leakage: 0.0,
    });
    c.add(Element::Load {
        plus: rail,
        minus: GROUND,
        law: LoadLaw::Current {
            amps: v[8],
            below: 1.0,
        },
    });
    Built {
        circuit: c,
        raw,
        rail,
        transformer,
        diode,
        regulator,
    }
}

fn outputs(built: &Built) -> Vec<Output> {
    let raw = Signal::Voltage(built.raw, GROUND);
    let rail = Signal::Voltage(built.rail, GROUND);
    vec![
        Output::Mean(raw.clone()),
        Output::Valley(raw.clone()),
        Output::Peak(raw.clone()),
        Output::RippleRms(raw),
        Output::Valley(rail.clone()),
        Output::RippleRms(rail),
        Output::Valley(Signal::Headroom(built.regulator)),
        Output::Rms(Signal::Current(built.transformer, 1)),
        Output::Peak(Signal::Current(built.diode, 0)),
        Output::Power(built.diode),
        Output::Power(built.regulator),
    ]
}

/// The first of these: those that read of one half cycle what they read of the other.
fn of_both_halves(built: &Built) -> Vec<Output> {
    let mut outputs = outputs(built);
    let is_of_diode = |output: &Output| match output {
        Output::Power(of) | Output::Peak(Signal::Current(of, _)) => *of == built.diode,
        _ => false,
    };
    outputs.truncate(outputs.iter().position(is_of_diode).expect("one is"));
    outputs
}

/// All values moved a little, each by another share.
fn mixed(values: &Values) -> Values {
    let mut mixed = values.clone();
    for (k, value) in mixed.0.iter_mut().enumerate() {
        *value *= 1.0 + 1e-4 * (0.5 + 0.5 * ((k + 1) as f64 * 0.618_034).fract());
    }
    mixed
}

fn value(orbit: &Orbit<'_>, output: &Output) -> f64 {
    let system = orbit.system();
    match output {
        Output::Mean(s) => orbit.mean(&s.probe(system)),
        Output::Rms(s) => orbit.rms(&s.probe(system)),
        Output::RippleRms(s) => orbit.ripple_rms(&s.probe(system)),
        Output::Peak(s) => orbit.peak(&s.probe(system)).value,
        Output::Valley(s) => orbit.valley(&s.probe(system)).value,
        Output::Power(e) => orbit.power(*e),
    }
}

fn moved(values: &Values, parameter: usize, by: f64) -> Values {
    let mut moved = values.clone();
    moved.0[parameter] += by;
    moved
}

/// How far derivatives of the fast way may be from the patient one's, as a share of themselves and of the output: its
/// steps are those of a working tolerance, and an extreme lies on the polynomial of a step.
const FAST: (f64, f64) = (1e-3, 1e-4);
/// The same of where the cycle starts, beside cycles whose parameter is a little to either side: of the way, and of the level.
const START: (f64, f64) = (0.02, 1e-6);
/// How far derivatives by half a cycle may be from those by the whole, as a share of themselves and of the largest of a row:
/// the steps of both err by as much, but not by the same.
const HALF: (f64, f64) = (2e-4, 2e-5);

/// Half the span of a difference, as a share of the nominal value. Where a regulator has just begun to drop out, the valley of
/// its output bends within a thousandth of the mains: over that, even two spans extrapolated to none are 8e-4 off.
const SPAN: f64 = 1e-4;

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 6,
        failure_persistence: None,
        // Fixed, for a failure to be the same for everybody: a search takes derivatives for where to look, and solves what
        // it finds there.
        rng_seed: proptest::test_runner::RngSeed::Fixed(4),
        ..ProptestConfig::default()
    })]

    #[test]
    fn exact_derivatives_are_the_limit_of_differences(shift in prop::array::uniform12(0.93..1.07_f64)) {
        compare(shift)?;
    }
}

/// A direction in which the halves of a cycle are no longer alike is followed through both.
#[test]
fn a_direction_that_breaks_the_mirror_is_followed_through_the_whole_cycle() {
    let of_ohms = |ohms: [f64; 2]| {
        let mut c = Circuit::new(50.0);
        let raw = c.node();
        for (crest, ohms) in [20.0, -20.0].into_iter().zip(ohms) {
            let end = c.node();
            c.add(Element::Source {
                plus: end,
                minus: GROUND,
                wave: Wave::sine(crest),
                ohms,
            });
            c.add(Element::Diode {
                anode: end,
                cathode: raw,
                law: DiodeLaw::Exponential {
                    saturation: 1e-9,
                    slope_voltage: 0.05,
                    series: 0.03,
                    leakage: 1e-9,
                },
            });
        }
        c.add(Element::Capacitor {
            a: raw,
            b: GROUND,
            farads: 1e-3,
            esr: 0.05,
            leakage: 0.0,
        });
        c.add(Element::Load {
            plus: raw,
            minus: GROUND,
            law: LoadLaw::Current {
                amps: 0.3,
                below: 1.0,
            },
        });
        let raw = Signal::Voltage(raw, GROUND);
        let outputs = [Output::Mean(raw.clone()), Output::Peak(raw)];
        (System::assemble(&c).expect("physical"), outputs)
    };
    let options = Options::default();
    let (solved, outputs) = of_ohms([0.5, 0.5]);
    let kind = Kind::of(&solved, &outputs, &[]).expect("a shape");
    let figures = kind.solve(&solved, None, &options).expect("it settles");
    let slope = |[plus, minus, mixed]: [[f64; 2]; 3], is_told: bool| {
        let [plus, minus, mixed] = [plus, minus, mixed].map(|ohms| of_ohms(ohms).0);
        let direction = Direction {
            plus: &plus,
            minus: &minus,
            span: 2e-4,
        };
        let mixed = is_told.then_some(&mixed);
        let slopes = kind.slopes(&solved, &figures, (&[direction], mixed), &options);
        slopes.expect("a stable cycle").figures
    };
    let one = [[0.5001, 0.5], [0.4999, 0.5], [0.5001, 0.5]];
    let both = [[0.5001, 0.5001], [0.4999, 0.4999], [0.5001, 0.5001]];
    assert_eq!(slope(one, true), slope(one, false));
    let (half, whole) = (slope(both, true), slope(both, false));
    assert_ne!(half, whole, "half a cycle is gone through");
    let twice = 2.0 * slope(one, true)[0][0];
    for other in [half[0][0], whole[0][0]] {
        assert!(
            (other - twice).abs() < 1e-4 * twice.abs(),
            "{other} {twice}"
        );
    }
}

/// Random points at which this test once failed: where a regulator has just begun to drop out, and where the frequency hardly
/// moves the peak of a current.
#[test]
fn derivatives_hold_where_a_curve_bends_hard() {
    for shift in [
        [
            0.93, 0.93, 0.93, 0.93, 1.049_89, 0.93, 0.93, 1.029_144, 0.961_995, 1.062_418,
            1.036_367, 0.972_880,
        ],
        [
            1.003_631, 0.982_754, 1.039_082, 1.001_189, 0.931_618, 1.064_546, 1.026_508, 0.930_006,
            1.054_653, 1.004_360, 1.059_813, 1.017_494,
        ],
    ] {
        compare(shift).unwrap_or_else(|error| panic!("{shift:?}: {error}"));
    }
}

fn compare(shift: [f64; 12]) -> Result<(), TestCaseError> {
    let mut values = Values(NOMINAL);
    for (value, factor) in values.0.iter_mut().zip(shift) {
        *value *= factor;
    }
    let options = Options {
        tolerance: 1e-10,
        ..Options::default()
    };
    let built = build(&values);
    let outputs = outputs(&built);
    let full = System::assemble(&built.circuit).expect("physical");
    let system = full.reduced();
    let outcome = steady_state(&system, &options);
    let orbit = outcome.orbit.expect("settles");

    let beside: Vec<(System, System, f64)> = (0..NOMINAL.len())
        .map(|parameter| {
            let by = 1e-4 * NOMINAL[parameter];
            let reduce = |by| {
                let built = build(&moved(&values, parameter, by));
                System::assemble(&built.circuit)
                    .expect("physical")
                    .reduced_as(&system)
            };
            (reduce(by), reduce(-by), 2.0 * by)
        })
        .collect();
    let directions: Vec<Direction<'_>> = beside
        .iter()
        .map(|(plus, minus, span)| Direction {
            plus,
            minus,
            span: *span,
        })
        .collect();
    let exact = sensitivities(&orbit, &directions, &outputs).expect("a stable cycle");

    // The fast way, from the equations as they were assembled.
    let kind = Kind::of(&full, &outputs, &[]).expect("a shape");
    let figures = kind
        .solve(&full, None, &Options::default())
        .expect("it settles");
    let whole: Vec<(System, System, f64)> = (0..NOMINAL.len())
        .map(|parameter| {
            let by = 1e-4 * NOMINAL[parameter];
            let assemble = |by| {
                System::assemble(&build(&moved(&values, parameter, by)).circuit).expect("physical")
            };
            (assemble(by), assemble(-by), 2.0 * by)
        })
        .collect();
    let directions: Vec<Direction<'_>> = whole
        .iter()
        .map(|(plus, minus, span)| Direction {
            plus,
            minus,
            span: *span,
        })
        .collect();
    let along = (directions.as_slice(), None);
    let fast = kind
        .slopes(&full, &figures, along, &Options::default())
        .expect("a stable cycle");
    // The same over half a cycle: no value tells one half from the other.
    let kind = kind.reading(&of_both_halves(&built), &[]).expect("a shape");
    let half = kind
        .solve(&full, None, &Options::default())
        .expect("it settles");
    let mixed = System::assemble(&build(&mixed(&values)).circuit).expect("physical");
    assert!(kind.folds(&full) && kind.folds(&mixed), "it has a mirror");
    let along = (directions.as_slice(), Some(&mixed));
    let by_half = kind
        .slopes(&full, &half, along, &Options::default())
        .expect("a stable cycle");
    for (rows, all) in [
        (&by_half.start, &fast.start),
        (&by_half.figures, &fast.figures),
    ] {
        for (row, whole) in rows.iter().zip(all) {
            let size = whole.iter().zip(NOMINAL);
            let size = size.fold(0.0, |most: f64, (slope, value)| {
                most.max((slope * value).abs())
            });
            for (parameter, (own, whole)) in row.iter().zip(whole).enumerate() {
                let (own, whole) = (own * NOMINAL[parameter], whole * NOMINAL[parameter]);
                prop_assert!(
                    (own - whole).abs() < HALF.0 * whole.abs() + HALF.1 * size,
                    "{}: half a cycle {own:.8e}, the whole {whole:.8e}",
                    NAMES[parameter]
                );
            }
        }
    }
    // Where the cycle starts, beside cycles on either side of this one.
    let closely = Options {
        tolerance: 1e-9,
        ..Options::default()
    };
    for parameter in 0..NOMINAL.len() {
        let by = 2e-4 * NOMINAL[parameter];
        let start = |by: f64| {
            let beside = build(&moved(&values, parameter, by));
            let beside = System::assemble(&beside.circuit).expect("physical");
            let near = Some(Near::Settled(&figures));
            kind.solve(&beside, near, &closely)
                .expect("it settles")
                .start
        };
        let (high, low) = (start(by), start(-by));
        for (store, (high, low)) in high.iter().zip(&low).enumerate() {
            let (found, wanted) = (2.0 * by * fast.start[store][parameter], high - low);
            // What rejection stores are microvolts, read to nanovolts.
            let size = high.abs().max(low.abs()).max(1e-2);
            prop_assert!(
                (found - wanted).abs() < START.0 * wanted.abs() + START.1 * size,
                "{} on store {store}: foretold {found:.6e}, cycles beside it {wanted:.6e}",
                NAMES[parameter]
            );
        }
    }
    for (row, output) in outputs.iter().enumerate() {
        for parameter in 0..NOMINAL.len() {
            let (found, wanted) = (
                fast.figures[row][parameter] * NOMINAL[parameter],
                exact[row][parameter] * NOMINAL[parameter],
            );
            let size = value(&orbit, output).abs();
            prop_assert!(
                (found - wanted).abs() < FAST.0 * wanted.abs() + FAST.1 * size,
                "{} on {output:?}: fast {found:.8e}, patient {wanted:.8e}",
                NAMES[parameter]
            );
        }
    }

    for parameter in 0..NOMINAL.len() {
        let by = SPAN * NOMINAL[parameter];
        let solve = |by: f64| -> Vec<f64> {
            let built = build(&moved(&values, parameter, by));
            let system = System::assemble(&built.circuit)
                .expect("physical")
                .reduced();
            let orbit = steady_state(&system, &options).orbit.expect("settles");
            outputs.iter().map(|output| value(&orbit, output)).collect()
        };
        let (high, low) = (solve(by), solve(-by));
        let (half_high, half_low) = (solve(0.5 * by), solve(-0.5 * by));
        for (row, output) in outputs.iter().enumerate() {
            // As the change over the whole nominal value, beside the output itself. Two spans,
            // extrapolated to none (Richardson): near dropout the curves bend hard.
            let wide = (high[row] - low[row]) / (2.0 * by) * NOMINAL[parameter];
            let narrow = (half_high[row] - half_low[row]) / by * NOMINAL[parameter];
            let difference = (4.0 * narrow - wide) / 3.0;
            let found = exact[row][parameter] * NOMINAL[parameter];
            let size = value(&orbit, output).abs();
            prop_assert!(
                (found - difference).abs() < 1e-4 * difference.abs() + 3e-6 * size,
                "{} on {output:?}: exact {found:.8e}, difference {difference:.8e}",
                NAMES[parameter]
            );
        }
    }
    Ok(())
}
