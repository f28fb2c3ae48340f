//! Elements thrown together: no wiring panics or hangs, and what settles balances.

use crate::robustness::verdict::ends;
use proptest::collection::vec;
use proptest::prelude::{Just, ProptestConfig, Strategy, any, prop_oneof, proptest};
use proptest::test_runner::RngSeed;
use quietrail_engine::{Circuit, DiodeLaw, Element, GROUND, LoadLaw, Node, Wave, Winding};

const NODES: usize = 5;

/// An element by its kind, four node numbers, and a value.
#[derive(Clone, Debug)]
struct Thrown {
    kind: Kind,
    ends: [usize; 4],
    decade: i32,
}

#[derive(Clone, Copy, Debug)]
enum Kind {
    Source,
    SourceWithResistance,
    Wire,
    Resistor,
    Capacitor,
    CapacitorWithResistance,
    Inductor,
    Silicon,
    Ideal,
    Current,
    Power,
    Transformer,
}

fn thrown() -> impl Strategy<Value = Thrown> {
    let kind = prop_oneof![
        Just(Kind::Source),
        Just(Kind::SourceWithResistance),
        Just(Kind::Wire),
        Just(Kind::Resistor),
        Just(Kind::Capacitor),
        Just(Kind::CapacitorWithResistance),
        Just(Kind::Inductor),
        Just(Kind::Silicon),
        Just(Kind::Ideal),
        Just(Kind::Current),
        Just(Kind::Power),
        Just(Kind::Transformer),
    ];
    (kind, any::<[u8; 4]>(), -2..3_i32).prop_map(|(kind, ends, decade)| Thrown {
        kind,
        ends: ends.map(|end| usize::from(end) % NODES),
        decade,
    })
}

fn circuit(all: &[Thrown]) -> Circuit {
    let mut c = Circuit::new(50.0);
    let mut nodes = vec![GROUND];
    nodes.extend((1..NODES).map(|_| c.node()));
    for one in all {
        let element = element(one, &nodes);
        c.add(element);
    }
    c
}

fn element(one: &Thrown, nodes: &[Node]) -> Element {
    let [a, b, p, q] = one.ends.map(|end| nodes[end]);
    // Times 1 is an ordinary value: 10 V, 10 Ω, 100 µF, 10 mH, 0.1 A, 1 W.
    let size = (0..one.decade.abs()).fold(1.0, |size, _| {
        if one.decade > 0 {
            size * 10.0
        } else {
            size / 10.0
        }
    });
    let source = |ohms| Element::Source {
        plus: a,
        minus: b,
        wave: Wave::mains(10.0, 0.05),
        ohms,
    };
    let resistor = |ohms| Element::Resistor { a, b, ohms };
    let capacitor = |esr| Element::Capacitor {
        a,
        b,
        farads: 1e-4 * size,
        esr,
        leakage: 0.0,
    };
    let diode = |law| Element::Diode {
        anode: a,
        cathode: b,
        law,
    };
    let load = |law| Element::Load {
        plus: a,
        minus: b,
        law,
    };
    match one.kind {
        Kind::Source => source(0.0),
        Kind::SourceWithResistance => source(size),
        Kind::Wire => resistor(0.0),
        Kind::Resistor => resistor(10.0 * size),
        Kind::Capacitor => capacitor(0.0),
        Kind::CapacitorWithResistance => capacitor(0.1),
        Kind::Inductor => Element::Inductor {
            a,
            b,
            henries: 1e-2 * size,
            ohms: 0.5,
        },
        Kind::Silicon => diode(DiodeLaw::Exponential {
            saturation: 1e-9,
            slope_voltage: 0.045,
            series: 0.02,
            leakage: 1e-8,
        }),
        Kind::Ideal => diode(DiodeLaw::Ideal {
            drop: 0.7,
            slope: 0.01,
        }),
        Kind::Current => load(LoadLaw::Current {
            amps: 0.1 * size,
            below: 1.0,
        }),
        Kind::Power => load(LoadLaw::Power {
            watts: size,
            below: 4.0,
        }),
        Kind::Transformer => {
            let winding = |start, finish, turns| Winding {
                start,
                finish,
                turns,
                ohms: 0.5,
                leakage: 0.0,
            };
            Element::Transformer {
                windings: vec![winding(a, b, 1.0), winding(p, q, 0.5)],
                magnetising: Some(0.5),
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, rng_seed: RngSeed::Fixed(1943), ..ProptestConfig::default() })]

    #[test]
    fn any_wiring_ends(all in vec(thrown(), 1..10)) {
        ends(&format!("{all:?}"), &circuit(&all));
    }
}
