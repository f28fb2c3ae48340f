//! A regulator under its reference is the one above it with every pair of nodes turned round: a circuit and its mirror image have
//! the same figures. No source is needed: it is a symmetry of the equations.

use quietrail_engine::{
    Circuit, DiodeLaw, Dropout, Element, ElementId, GROUND, LoadLaw, Node, Options, RegulatorLaw,
    Sense, Signal, System, Transfer, Wave, steady_state,
};

struct Built {
    circuit: Circuit,
    raw: Node,
    rail: Node,
    regulator: ElementId,
}

/// A half-wave supply with a regulator that senses behind a wire. The source is turned too.
fn build(is_negative: bool, load: f64) -> Built {
    let ordered = |outer: Node, inner: Node| {
        if is_negative {
            (inner, outer)
        } else {
            (outer, inner)
        }
    };
    let mut c = Circuit::new(50.0);
    let (ac, raw, rail, far) = (c.node(), c.node(), c.node(), c.node());
    let (plus, minus) = ordered(ac, GROUND);
    c.add(Element::Source {
        plus,
        minus,
        wave: Wave::mains(14.0, 0.02),
        ohms: 0.7,
    });
    let (anode, cathode) = ordered(ac, raw);
    c.add(Element::Diode {
        anode,
        cathode,
        law: DiodeLaw::Exponential {
            saturation: 1.4e-8,
            slope_voltage: 0.05,
            series: 0.03,
            leakage: 1e-9,
        },
    });
    for (node, farads, esr) in [(raw, 2.2e-3, 0.05), (rail, 1e-4, 0.1)] {
        let (a, b) = ordered(node, GROUND);
        c.add(Element::Capacitor {
            a,
            b,
            farads,
            esr,
            leakage: 1e-6,
        });
    }
    c.add(Element::Resistor {
        a: rail,
        b: far,
        ohms: 0.2,
    });
    let law = RegulatorLaw {
        set: 12.0,
        line: 17.0,
        rejection: Transfer {
            direct: 1e-3,
            sections: vec![(0.5, 3000.0)],
        },
        transconductance: 20.0,
        loop_time: 2e-5,
        dropout: Dropout::line(0.6, 0.8),
        limit: 1.5,
        softness: 2e-3,
        exponent: 6,
        quiescent: 5e-3,
        is_negative,
    };
    let sense = Sense {
        plus: far,
        minus: GROUND,
        local: 0.3,
    };
    let regulator = c.add(Element::Regulator {
        input: raw,
        output: rail,
        reference: GROUND,
        sense: Some(sense),
        law,
    });
    let (plus, minus) = ordered(far, GROUND);
    c.add(Element::Load {
        plus,
        minus,
        law: LoadLaw::Current {
            amps: load,
            below: 1.0,
        },
    });
    Built {
        circuit: c,
        raw,
        rail,
        regulator,
    }
}

/// Levels above the reference, the headroom at its least, the ripple, and the heat.
fn figures(is_negative: bool, load: f64) -> Vec<f64> {
    let built = build(is_negative, load);
    let system = System::assemble(&built.circuit).expect("a circuit");
    let options = Options {
        tolerance: 1e-11,
        ..Options::default()
    };
    let orbit = steady_state(&system, &options).orbit.expect("it settles");
    let level = |node| {
        let (upper, lower) = if is_negative {
            (GROUND, node)
        } else {
            (node, GROUND)
        };
        Signal::Voltage(upper, lower).probe(&system)
    };
    let (raw, rail) = (level(built.raw), level(built.rail));
    let pass = Signal::Current(built.regulator, 0).probe(&system);
    let headroom = Signal::Headroom(built.regulator).probe(&system);
    vec![
        orbit.mean(&raw),
        orbit.valley(&raw).value,
        orbit.peak(&raw).value,
        orbit.mean(&rail),
        orbit.valley(&rail).value,
        orbit.ripple_rms(&rail),
        orbit.mean(&pass),
        orbit.valley(&headroom).value,
        orbit.power(built.regulator),
    ]
}

/// In regulation and where it drops out in every cycle.
#[test]
fn a_circuit_and_its_mirror_image_have_the_same_figures() {
    for load in [0.2, 0.7] {
        let (above, under) = (figures(false, load), figures(true, load));
        for (k, (a, b)) in above.iter().zip(&under).enumerate() {
            assert!((a - b).abs() <= 1e-9 * a.abs(), "{k} at {load} A: {a} {b}");
        }
    }
    let starved = figures(false, 0.7);
    assert!(starved[5] > 10.0 * figures(false, 0.2)[5], "{starved:?}");
}
