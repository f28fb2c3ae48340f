//! The same circuit written down another way has the same solution.

use crate::properties::random::{agree, allowed, figures_of, supply};
use crate::supplies::{Built, settle};
use proptest::prelude::{ProptestConfig, Strategy, any, prop_assert_eq, proptest};
use proptest::test_runner::RngSeed;
use quietrail_engine::{Circuit, Element, ElementId, GROUND, Node, Options, System};

/// Two solutions of the same equations, each good to 1e-9, usually agree far better; what is left is rounding
/// that moves the lengths of steps.
const ALLOWED: f64 = 1e-9;

/// Element order and node names of a rewritten circuit, by random keys.
fn keys() -> impl Strategy<Value = ([u32; 16], [u32; 16])> {
    (any::<[u32; 16]>(), any::<[u32; 16]>())
}

/// Indices below `count` in the order of their keys.
fn order(count: usize, keys: &[u32; 16]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by_key(|&index| keys[index]);
    order
}

fn nodes_of(element: &mut Element) -> Vec<&mut Node> {
    match element {
        Element::Source { plus, minus, .. } | Element::Load { plus, minus, .. } => {
            vec![plus, minus]
        }
        Element::Resistor { a, b, .. }
        | Element::Capacitor { a, b, .. }
        | Element::Inductor { a, b, .. } => vec![a, b],
        Element::Diode { anode, cathode, .. } => vec![anode, cathode],
        other => panic!("these supplies have no {other:?}"),
    }
}

/// The same circuit with its elements in another order and its nodes under other numbers.
fn rewritten(built: &Built, keys: &([u32; 16], [u32; 16])) -> Built {
    let old = &built.circuit;
    let mut circuit = Circuit::new(old.frequency);
    // Ground stays; node k of the old circuit becomes the new one's node at its rank.
    let fresh: Vec<Node> = (1..old.node_count()).map(|_| circuit.node()).collect();
    let mut known: Vec<Node> = old
        .elements()
        .iter()
        .cloned()
        .flat_map(|mut element| {
            nodes_of(&mut element)
                .into_iter()
                .map(|n| *n)
                .collect::<Vec<_>>()
        })
        .filter(|node| *node != GROUND)
        .collect();
    known.sort_unstable();
    known.dedup();
    assert_eq!(known.len(), fresh.len(), "every node has an element");
    let places = order(fresh.len(), &keys.1);
    let renamed = |node: Node| match known.binary_search(&node) {
        Ok(index) => fresh[places[index]],
        Err(_) => GROUND,
    };
    let ids: Vec<ElementId> = old.ids().collect();
    let mut moved = Vec::new();
    for index in order(ids.len(), &keys.0) {
        let mut element = old.element(ids[index]).clone();
        for node in nodes_of(&mut element) {
            *node = renamed(*node);
        }
        moved.push((ids[index], circuit.add(element)));
    }
    let now = |id: ElementId| {
        let found = moved.iter().find(|(before, _)| *before == id);
        found
            .map(|(_, after)| *after)
            .expect("every element was moved")
    };
    Built {
        plus: renamed(built.plus),
        minus: renamed(built.minus),
        source: now(built.source),
        diode: now(built.diode),
        reservoir: now(built.reservoir),
        circuit,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 20, failure_persistence: None, rng_seed: RngSeed::Fixed(1943), ..ProptestConfig::default() })]

    #[test]
    fn order_and_numbering_do_not_matter(supply in supply(), keys in keys()) {
        let built = supply.build();
        let other = rewritten(&built, &keys);
        let (first, second) = (
            figures_of(&built, &built.system()),
            figures_of(&other, &other.system()),
        );
        agree(&first, &second, [1.0; 7], allowed(&supply, ALLOWED))?;
    }

    #[test]
    fn reduction_does_not_matter(supply in supply()) {
        let built = supply.build();
        let full = System::assemble(&built.circuit).expect("the values are physical");
        let (first, second) = (figures_of(&built, &full.reduced()), figures_of(&built, &full));
        agree(&first, &second, [1.0; 7], allowed(&supply, ALLOWED))?;
    }

    #[test]
    fn twice_gives_the_same_bits(supply in supply()) {
        let bits = || {
            let built = supply.build();
            let system = built.system();
            let orbit = settle(&system, &Options::default());
            let output = built.output(&system);
            let samples = (0..97_u32).map(|k| orbit.value(&output, f64::from(k) / 97.0).to_bits());
            (samples.collect::<Vec<u64>>(), orbit.floquet.to_bits(), orbit.effort)
        };
        prop_assert_eq!(bits(), bits());
    }
}
