//! Extreme values and forbidden wiring, one by one.

use crate::robustness::verdict::ends;
use crate::supplies::{Built, Feeds, Form, IDEAL, Supply};
use quietrail_engine::{
    Circuit, DiodeLaw, Dropout, Element, ElementId, Ended, GROUND, LoadLaw, Place, RegulatorLaw,
    System, Transfer, Wave, Winding,
};

const SILICON: DiodeLaw = DiodeLaw::Exponential {
    saturation: 5e-9,
    slope_voltage: 0.045,
    series: 0.03,
    leakage: 0.0,
};

/// A plain 14 V winding with a bridge.
const BENCH: Supply = Supply {
    form: Form::Bridge,
    frequency: 50.0,
    peak: 20.0,
    source_ohms: 0.5,
    leakage_henries: 0.0,
    diode: SILICON,
    farads: 4700e-6,
    esr: 0.03,
    feeds: Feeds::Amps(0.5),
};

const FORMS: [Form; 5] = [
    Form::Bridge,
    Form::CentreTap,
    Form::HalfWave,
    Form::Delon,
    Form::Cascade,
];

fn settles(name: &str, circuit: &Circuit) {
    for ended in ends(name, circuit) {
        assert!(ended.is_settled(), "{name}: {ended:?}");
    }
}

/// The equations contradict each other, and the culprit is named.
fn is_singular_at(name: &str, circuit: &Circuit, culprit: ElementId) {
    for ended in ends(name, circuit) {
        assert!(
            matches!(ended, Ended::Singular { place, .. } if place == Place::Element(culprit)),
            "{name}: {ended:?}"
        );
    }
}

#[test]
fn every_form_at_every_load() {
    let loads = [
        ("nothing", Feeds::Nothing),
        ("0 A", Feeds::Amps(0.0)),
        ("1 µA", Feeds::Amps(1e-6)),
        ("far beyond the winding", Feeds::Amps(100.0)),
        ("a dead short", Feeds::Ohms(0.0)),
        ("1 mΩ", Feeds::Ohms(1e-3)),
    ];
    for form in FORMS {
        for (load, feeds) in loads {
            let supply = Supply {
                form,
                feeds,
                ..BENCH
            };
            settles(&format!("{form:?} into {load}"), &supply.build().circuit);
        }
    }
}

#[test]
fn extreme_values() {
    let cases = [
        (
            "no source resistance",
            Supply {
                source_ohms: 0.0,
                ..BENCH
            },
        ),
        (
            "no resistance but the diodes'",
            Supply {
                source_ohms: 0.0,
                esr: 0.0,
                ..BENCH
            },
        ),
        (
            "1 pF",
            Supply {
                farads: 1e-12,
                ..BENCH
            },
        ),
        (
            "1 pF and a resistor",
            Supply {
                farads: 1e-12,
                feeds: Feeds::Ohms(40.0),
                ..BENCH
            },
        ),
        (
            "1 F",
            Supply {
                farads: 1.0,
                ..BENCH
            },
        ),
        (
            "1 F without load",
            Supply {
                farads: 1.0,
                feeds: Feeds::Nothing,
                ..BENCH
            },
        ),
        (
            "1 Hz",
            Supply {
                frequency: 1.0,
                ..BENCH
            },
        ),
        (
            "400 Hz",
            Supply {
                frequency: 400.0,
                ..BENCH
            },
        ),
        (
            "leakage",
            Supply {
                leakage_henries: 1e-3,
                ..BENCH
            },
        ),
        (
            "leakage only",
            Supply {
                leakage_henries: 1e-3,
                source_ohms: 0.0,
                ..BENCH
            },
        ),
        (
            "millivolts",
            Supply {
                peak: 1e-3,
                ..BENCH
            },
        ),
        ("kilovolts", Supply { peak: 5e3, ..BENCH }),
    ];
    for (name, supply) in cases {
        settles(name, &supply.build().circuit);
    }
}

/// Ideal diodes without resistance, on an ideal source: what is determined is found.
#[test]
fn ideal_diodes_on_an_ideal_source() {
    for form in [Form::Bridge, Form::HalfWave, Form::Delon, Form::Cascade] {
        let supply = Supply {
            form,
            source_ohms: 0.0,
            esr: 0.0,
            diode: IDEAL,
            ..BENCH
        };
        settles(&format!("{form:?}, ideal"), &supply.build().circuit);
    }
}

/// Ideal diodes leave undetermined how parallel paths share a current: settled, or refused with a place.
#[test]
fn ideal_diodes_where_currents_are_undetermined() {
    for form in FORMS {
        for feeds in [Feeds::Nothing, Feeds::Amps(100.0), Feeds::Ohms(0.0)] {
            for source_ohms in [0.0, 0.5] {
                for leakage_henries in [0.0, 1e-3] {
                    let supply = Supply {
                        form,
                        feeds,
                        source_ohms,
                        leakage_henries,
                        diode: IDEAL,
                        ..BENCH
                    };
                    ends(&format!("{supply:?}"), &supply.build().circuit);
                }
            }
        }
    }
}

/// More capacitors on the reservoir of a supply.
fn with_capacitors(esr: f64, more: &[(bool, bool, f64)]) -> Circuit {
    let Built {
        mut circuit,
        plus,
        minus,
        ..
    } = Supply { esr, ..BENCH }.build();
    let middle = circuit.node();
    for &(from_plus, to_minus, farads) in more {
        circuit.add(Element::Capacitor {
            a: if from_plus { plus } else { middle },
            b: if to_minus { minus } else { middle },
            farads,
            esr: 0.0,
            leakage: 0.0,
        });
    }
    circuit
}

#[test]
fn capacitors_without_resistance_in_parallel_and_in_loops() {
    let across = (true, true, 1e-6);
    settles("beside one with ESR", &with_capacitors(0.03, &[across]));
    settles("beside one without", &with_capacitors(0.0, &[across]));
    settles("two alike", &with_capacitors(0.0, &[across, across]));
    let ring = [(true, false, 1e-6), (false, true, 2.2e-6)];
    settles("a ring of three", &with_capacitors(0.0, &ring));
}

#[test]
fn loose_ends() {
    let mut dangling = BENCH.build();
    let end = dangling.circuit.node();
    dangling.circuit.add(Element::Resistor {
        a: dangling.plus,
        b: end,
        ohms: 10.0,
    });
    settles("a resistor to nowhere", &dangling.circuit);
    let mut lone = BENCH.build();
    lone.circuit.node();
    settles("a node without elements", &lone.circuit);
    settles("nothing at all", &Circuit::new(50.0));
}

/// A transformer feeding a bridge, with one secondary that has nothing on it.
fn idle_secondary(primary_ohms: f64, magnetising: Option<f64>, diode: DiodeLaw) -> Circuit {
    let mut c = Circuit::new(50.0);
    let (live, neutral) = (c.node(), c.node());
    let (a, b, raw) = (c.node(), c.node(), c.node());
    let (idle_start, idle_finish) = (c.node(), c.node());
    c.add(Element::Source {
        plus: live,
        minus: neutral,
        wave: Wave::mains(230.0, 0.05),
        ohms: 0.0,
    });
    let winding = |start, finish, turns, ohms| Winding {
        start,
        finish,
        turns,
        ohms,
        leakage: 0.0,
    };
    c.add(Element::Transformer {
        windings: vec![
            winding(live, neutral, 1.0, primary_ohms),
            winding(a, b, 0.08, 0.2),
            winding(idle_start, idle_finish, 0.05, 0.2),
        ],
        magnetising,
    });
    for (anode, cathode) in [(a, raw), (b, raw), (GROUND, a), (GROUND, b)] {
        c.add(Element::Diode {
            anode,
            cathode,
            law: diode,
        });
    }
    c.add(Element::Capacitor {
        a: raw,
        b: GROUND,
        farads: 2200e-6,
        esr: 0.05,
        leakage: 1e-6,
    });
    c.add(Element::Load {
        plus: raw,
        minus: GROUND,
        law: LoadLaw::Power {
            watts: 5.0,
            below: 8.0,
        },
    });
    c
}

#[test]
fn a_secondary_with_nothing_on_it() {
    for diode in [SILICON, IDEAL] {
        settles("magnetised", &idle_secondary(20.0, Some(2.0), diode));
        settles("not magnetised", &idle_secondary(20.0, None, diode));
        settles("no primary resistance", &idle_secondary(0.0, None, diode));
    }
}

/// Without resistance in its loop the direct part of an inductor's current is whatever it began as.
#[test]
fn a_current_that_nothing_determines_is_not_settled() {
    let mut c = Circuit::new(50.0);
    let a = c.node();
    c.add(Element::Source {
        plus: a,
        minus: GROUND,
        wave: Wave::sine(10.0),
        ohms: 0.0,
    });
    c.add(Element::Inductor {
        a,
        b: GROUND,
        henries: 1.0,
        ohms: 0.0,
    });
    for ended in ends("a lossless inductor", &c) {
        assert!(!ended.is_settled(), "{ended:?}");
    }
}

fn on_a_source(element: impl FnOnce(quietrail_engine::Node) -> Element) -> (Circuit, ElementId) {
    let mut c = Circuit::new(50.0);
    let a = c.node();
    c.add(Element::Source {
        plus: a,
        minus: GROUND,
        wave: Wave::sine(10.0),
        ohms: 0.0,
    });
    let culprit = c.add(element(a));
    (c, culprit)
}

#[test]
fn contradictions_are_named() {
    let (c, culprit) = on_a_source(|a| Element::Source {
        plus: a,
        minus: GROUND,
        wave: Wave::sine(11.0),
        ohms: 0.0,
    });
    is_singular_at("two sources", &c, culprit);
    let (c, culprit) = on_a_source(|a| Element::Resistor {
        a,
        b: GROUND,
        ohms: 0.0,
    });
    is_singular_at("a shorted source", &c, culprit);
    let mut built = BENCH.build();
    let short = Element::Resistor {
        a: built.plus,
        b: built.minus,
        ohms: 0.0,
    };
    built.circuit.add(short.clone());
    let second = built.circuit.add(short);
    is_singular_at("two shorts side by side", &built.circuit, second);
}

#[test]
fn values_that_physics_forbids_are_named() {
    let cases = [
        (
            "capacitance",
            Supply {
                farads: 0.0,
                ..BENCH
            },
        ),
        (
            "capacitance",
            Supply {
                farads: f64::NAN,
                ..BENCH
            },
        ),
        (
            "capacitance",
            Supply {
                farads: f64::INFINITY,
                ..BENCH
            },
        ),
        (
            "resistance",
            Supply {
                source_ohms: -0.1,
                ..BENCH
            },
        ),
        (
            "voltage",
            Supply {
                peak: f64::NAN,
                ..BENCH
            },
        ),
        (
            "frequency",
            Supply {
                frequency: 0.0,
                ..BENCH
            },
        ),
        (
            "frequency",
            Supply {
                frequency: f64::NAN,
                ..BENCH
            },
        ),
    ];
    for (expected, supply) in cases {
        let refused = System::assemble(&supply.build().circuit);
        let Err(quietrail_engine::AssembleError::Value { what, .. }) = refused else {
            panic!("{supply:?} was accepted");
        };
        assert_eq!(what, expected, "{supply:?}");
    }
}

/// A 12 V regulator behind the plain supply.
fn regulated(volts_peak: f64, load: Element, output_farads: f64) -> Circuit {
    let Built {
        mut circuit,
        plus,
        minus,
        ..
    } = Supply {
        peak: volts_peak,
        feeds: Feeds::Nothing,
        ..BENCH
    }
    .build();
    // The load was made for the node that comes next.
    let output = circuit.node();
    circuit.add(Element::Regulator {
        input: plus,
        output,
        reference: minus,
        sense: None,
        law: RegulatorLaw {
            set: 12.0,
            line: 18.0,
            rejection: Transfer {
                direct: 1e-3,
                sections: vec![(-0.5, 600.0)],
            },
            transconductance: 50.0,
            loop_time: 2e-6,
            dropout: Dropout::line(1.0, 0.5),
            limit: 1.5,
            softness: 1e-3,
            exponent: 8,
            quiescent: 5e-3,
            is_negative: false,
        },
    });
    circuit.add(Element::Capacitor {
        a: output,
        b: minus,
        farads: output_farads,
        esr: 0.1,
        leakage: 0.0,
    });
    circuit.add(load);
    circuit
}

#[test]
fn a_regulator_with_and_without_headroom() {
    // Nodes of a supply are numbered in the order in which they are made: the output is its fifth.
    let output = {
        let mut like = BENCH.build().circuit;
        like.node()
    };
    let current = |amps| Element::Load {
        plus: output,
        minus: GROUND,
        law: LoadLaw::Current { amps, below: 0.5 },
    };
    let short = Element::Resistor {
        a: output,
        b: GROUND,
        ohms: 0.0,
    };
    let power = Element::Load {
        plus: output,
        minus: GROUND,
        law: LoadLaw::Power {
            watts: 60.0,
            below: 6.0,
        },
    };
    for volts in [0.0, 0.5, 8.0, 14.0, 20.0, 60.0] {
        let cases = [
            ("nothing", current(0.0)),
            ("half an ampere", current(0.5)),
            ("more than the limit", current(10.0)),
            ("a short", short.clone()),
            ("more power than there is", power.clone()),
        ];
        for (name, load) in cases {
            let name = format!("{volts} V, {name}");
            let circuit = regulated(volts, load, 10e-6);
            // Below the drop of the diodes only their leakage fills the reservoir: it may take more cycles
            // than a search has, and says so.
            if volts == 0.5 {
                ends(&name, &circuit);
            } else {
                settles(&name, &circuit);
            }
        }
    }
}
