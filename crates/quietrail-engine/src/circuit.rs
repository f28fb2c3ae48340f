//! A circuit as elements between nodes. Ids, no names; SI units.

use crate::diode::DiodeLaw;
use crate::load::LoadLaw;
use crate::regulator::RegulatorLaw;
use crate::transistor::TransistorLaw;
use crate::wave::Wave;
use smallvec::{SmallVec, smallvec};

/// A node of a [`Circuit`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Node(pub(crate) usize);

/// The node that all others are measured against.
pub const GROUND: Node = Node(0);

/// An element of a [`Circuit`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ElementId(pub(crate) usize);

/// Elements between nodes, all driven at one mains frequency.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// Mains frequency in hertz.
    pub frequency: f64,
    nodes: usize,
    elements: Vec<Element>,
}

/// What a circuit is made of. Currents flow from the first node through the element to the second.
#[derive(Clone, Debug)]
pub enum Element {
    /// Voltage source with internal resistance (0 allowed): `v(plus) − v(minus) = wave + resistance · i`
    /// where `i` flows from `plus` through the source to `minus`.
    Source {
        /// Positive end.
        plus: Node,
        /// Negative end.
        minus: Node,
        /// Open-circuit voltage.
        wave: Wave,
        /// Internal resistance.
        ohms: f64,
    },
    /// Current drawn at `from` and returned at `to`, whatever the voltage.
    Drain {
        /// Where the current leaves the circuit.
        from: Node,
        /// Where it returns.
        to: Node,
        /// The current.
        wave: Wave,
    },
    /// Resistor, wire, fuse, closed switch. 0 Ω allowed.
    Resistor {
        /// First end.
        a: Node,
        /// Second end.
        b: Node,
        /// Resistance.
        ohms: f64,
    },
    /// Capacitor with series resistance and parallel leakage.
    Capacitor {
        /// First end.
        a: Node,
        /// Second end.
        b: Node,
        /// Capacitance, above 0.
        farads: f64,
        /// Series resistance, 0 allowed.
        esr: f64,
        /// Parallel conductance, 0 allowed.
        leakage: f64,
    },
    /// Inductor with winding resistance.
    Inductor {
        /// First end.
        a: Node,
        /// Second end.
        b: Node,
        /// Inductance, above 0.
        henries: f64,
        /// Winding resistance, 0 allowed.
        ohms: f64,
    },
    /// Ideally coupled windings with resistances and leakage, and a linear magnetising inductance.
    Transformer {
        /// The windings; the dots are at `start`.
        windings: Vec<Winding>,
        /// Magnetising inductance seen by a winding of one turn unit; `None` is infinite (and then DC
        /// would cross, so it serves only circuits whose symmetry forbids that).
        magnetising: Option<f64>,
    },
    /// Diode.
    Diode {
        /// Anode.
        anode: Node,
        /// Cathode.
        cathode: Node,
        /// Its curve.
        law: DiodeLaw,
    },
    /// Load whose current depends on its voltage.
    Load {
        /// Positive end.
        plus: Node,
        /// Negative end.
        minus: Node,
        /// Its curve.
        law: LoadLaw,
    },
    /// Series regulator.
    Regulator {
        /// Unregulated side.
        input: Node,
        /// Regulated side.
        output: Node,
        /// What the set point refers to, and where the quiescent current goes.
        reference: Node,
        /// Where the loop looks at its output, if not at the output and the reference themselves.
        sense: Option<Sense>,
        /// Set point, loop, pass element.
        law: RegulatorLaw,
    },
    /// Bipolar transistor. Its currents: collector, base; of a PNP out of them.
    Transistor {
        /// Collector.
        collector: Node,
        /// Base.
        base: Node,
        /// Emitter.
        emitter: Node,
        /// Junctions and gain.
        law: TransistorLaw,
    },
}

/// Where a regulator's loop looks: `local (v_out − v_minus) + (1 − local)(v_plus − v_minus)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sense {
    /// Upper lead.
    pub plus: Node,
    /// Lower lead.
    pub minus: Node,
    /// Share of the output pin itself. 0 where a divider at the leads feeds the loop; output over reference where the
    /// reference stands on the output pin and its resistor at the upper lead.
    pub local: f64,
}

/// One winding of a transformer.
#[derive(Clone, Copy, Debug)]
pub struct Winding {
    /// Dotted end.
    pub start: Node,
    /// Other end.
    pub finish: Node,
    /// Turns, in any unit common to all windings.
    pub turns: f64,
    /// Copper resistance, 0 allowed.
    pub ohms: f64,
    /// Leakage inductance, 0 allowed.
    pub leakage: f64,
}

/// Groups of nodes, mostly few.
pub(crate) type Groups = SmallVec<[SmallVec<[Node; 5]>; 2]>;

impl Circuit {
    /// An empty circuit at a mains frequency in hertz.
    pub fn new(frequency: f64) -> Self {
        Self {
            frequency,
            nodes: 1,
            elements: Vec::new(),
        }
    }

    /// A new node.
    pub fn node(&mut self) -> Node {
        self.nodes += 1;
        Node(self.nodes - 1)
    }

    /// Adds an element.
    pub fn add(&mut self, element: Element) -> ElementId {
        self.elements.push(element);
        ElementId(self.elements.len() - 1)
    }

    /// How many nodes there are, [`GROUND`] included.
    pub fn node_count(&self) -> usize {
        self.nodes
    }

    /// All elements, in the order of their ids.
    pub fn elements(&self) -> &[Element] {
        &self.elements
    }

    /// An element, to give it other values: what breaks keeps its place.
    pub fn element_mut(&mut self, id: ElementId) -> &mut Element {
        &mut self.elements[id.0]
    }

    /// All element ids.
    pub fn ids(&self) -> impl Iterator<Item = ElementId> + use<> {
        (0..self.elements.len()).map(ElementId)
    }

    /// All nodes that elements join galvanically to a node, itself included.
    pub fn island_of(&self, node: Node) -> Vec<Node> {
        let mut reached = vec![false; self.nodes];
        reached[node.0] = true;
        loop {
            let mut grew = false;
            for group in self.elements.iter().flat_map(Element::galvanic_groups) {
                if group.iter().any(|node| reached[node.0]) {
                    for node in group {
                        grew |= !reached[node.0];
                        reached[node.0] = true;
                    }
                }
            }
            if !grew {
                return (0..self.nodes).filter(|&k| reached[k]).map(Node).collect();
            }
        }
    }

    /// The element of an id of this circuit.
    pub fn element(&self, id: ElementId) -> &Element {
        &self.elements[id.0]
    }
}

impl Element {
    /// All nodes that it touches.
    pub fn nodes(&self) -> Vec<Node> {
        self.galvanic_groups().into_iter().flatten().collect()
    }

    /// The nodes that the element joins galvanically, group by group (a transformer isolates its windings).
    pub(crate) fn galvanic_groups(&self) -> Groups {
        match self {
            Element::Source { plus, minus, .. } | Element::Load { plus, minus, .. } => {
                smallvec![smallvec![*plus, *minus]]
            }
            Element::Drain { from, to, .. } => smallvec![smallvec![*from, *to]],
            Element::Resistor { a, b, .. }
            | Element::Capacitor { a, b, .. }
            | Element::Inductor { a, b, .. } => smallvec![smallvec![*a, *b]],
            Element::Transformer { windings, .. } => windings
                .iter()
                .map(|w| smallvec![w.start, w.finish])
                .collect(),
            Element::Diode { anode, cathode, .. } => smallvec![smallvec![*anode, *cathode]],
            Element::Regulator {
                input,
                output,
                reference,
                sense,
                ..
            } => {
                let mut all: SmallVec<[Node; 5]> = smallvec![*input, *output, *reference];
                all.extend(sense.iter().flat_map(|sense| [sense.plus, sense.minus]));
                smallvec![all]
            }
            Element::Transistor {
                collector,
                base,
                emitter,
                ..
            } => smallvec![smallvec![*collector, *base, *emitter]],
        }
    }

    /// Whether direct current can pass, so that the element fixes the voltage between its nodes.
    pub(crate) fn passes_dc(&self) -> bool {
        match self {
            Element::Capacitor { leakage, .. } => *leakage > 0.0,
            Element::Drain { .. } | Element::Load { .. } => false,
            _ => true,
        }
    }
}
