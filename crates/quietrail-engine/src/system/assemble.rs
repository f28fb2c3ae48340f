//! From a circuit to its unreduced equations.

use super::{AssembleError, Device, Few, Flow, Kind, Law, Place, Probe, Store, System};
use crate::circuit::{Circuit, Element, ElementId, GROUND, Node, Sense};
use crate::load::LoadLaw;
use crate::regulator::RegulatorLaw;
use crate::wave::{Basis, Wave};
use smallvec::{SmallVec, smallvec};
use std::sync::Arc;

mod transistor;

use transistor::junction_values;

/// Conductance that ties an island without any direct-current path to the rest, so that its voltage is
/// defined. 1 GΩ: at bench voltages it carries nanoamperes.
const TIE: f64 = 1e-9;

/// Voltage below which a regulator's quiescent current fades, V.
const QUIESCENT_BELOW: f64 = 0.5;

impl System {
    /// The unreduced equations of a circuit.
    ///
    /// # Errors
    /// Names the element whose value physics forbids.
    pub fn assemble(circuit: &Circuit) -> Result<Self, AssembleError> {
        check(circuit)?;
        let mut draft = Draft::new(circuit);
        for (index, element) in circuit.elements().iter().enumerate() {
            draft.element(ElementId(index), element);
        }
        draft.tie_floating(circuit);
        Ok(draft.finish(circuit))
    }
}

/// Equations as they grow: rows and unknowns are added in pairs.
struct Draft {
    node_voltage: Vec<Option<usize>>,
    /// First node of the island that each is of.
    islands: Vec<usize>,
    /// Row, unknown or source, and what is added there.
    terms: Vec<(usize, usize, f64)>,
    drives: Vec<(usize, usize, f64)>,
    sources: Vec<Basis>,
    stores: Vec<Store>,
    devices: Vec<Device>,
    kinds: Vec<Kind>,
    places: Vec<Place>,
    flows: Vec<Flow>,
    volts_scale: f64,
}

impl Draft {
    fn new(circuit: &Circuit) -> Self {
        let most = 4 * circuit.elements().len();
        let mut draft = Self {
            node_voltage: vec![None; circuit.node_count()],
            islands: islands(circuit, |_| true),
            terms: Vec::with_capacity(2 * most),
            drives: Vec::new(),
            sources: Vec::new(),
            stores: Vec::with_capacity(circuit.elements().len()),
            devices: Vec::with_capacity(circuit.elements().len()),
            kinds: Vec::with_capacity(most),
            places: Vec::with_capacity(most),
            flows: Vec::with_capacity(circuit.elements().len()),
            volts_scale: 0.0,
        };
        for index in 0..circuit.node_count() {
            // The first node of an island is its reference; ground, being first of all, of its own.
            if draft.islands[index] != index {
                draft.node_voltage[index] =
                    Some(draft.unknown(Kind::Volts, Place::Node(Node(index))));
            }
        }
        draft
    }

    /// A new unknown with its own row.
    fn unknown(&mut self, kind: Kind, place: Place) -> usize {
        self.kinds.push(kind);
        self.places.push(place);
        self.kinds.len() - 1
    }

    /// A node that no circuit node stands for: between a capacitance and its series resistance.
    fn inner_node(&mut self, of: ElementId) -> usize {
        self.unknown(Kind::Volts, Place::Element(of))
    }

    fn source(&mut self, basis: Basis) -> usize {
        if let Some(index) = self.sources.iter().position(|known| *known == basis) {
            return index;
        }
        self.sources.push(basis);
        self.sources.len() - 1
    }

    fn drive(&mut self, row: usize, wave: &Wave, factor: f64) {
        for &(basis, amplitude) in &wave.0 {
            let source = self.source(basis);
            self.drives.push((row, source, factor * amplitude));
        }
    }

    fn voltage(&self, node: Node) -> Option<usize> {
        self.node_voltage[node.0]
    }

    fn across(&self, plus: Option<usize>, minus: Option<usize>) -> Probe {
        let x = [(plus, 1.0), (minus, -1.0)];
        let mut probe = Probe::default();
        for (index, factor) in x {
            if let Some(index) = index {
                probe.add(
                    &Probe {
                        x: smallvec![(index, 1.0)],
                        ..Probe::default()
                    },
                    factor,
                );
            }
        }
        probe
    }

    /// Adds `factor · probe` to a row.
    fn add(&mut self, row: usize, probe: &Probe, factor: f64) {
        let scaled = |&(index, value): &(usize, f64)| (row, index, factor * value);
        self.terms.extend(probe.x.iter().map(scaled));
        self.drives.extend(probe.s.iter().map(scaled));
    }

    /// A current that leaves one voltage unknown's node and enters another's.
    fn flow(&mut self, from: Option<usize>, to: Option<usize>, current: &Probe) {
        if let Some(row) = from {
            self.add(row, current, 1.0);
        }
        if let Some(row) = to {
            self.add(row, current, -1.0);
        }
    }

    /// A new current unknown between two voltage unknowns; its row is left for the caller.
    fn branch(&mut self, from: Option<usize>, to: Option<usize>, of: ElementId) -> (usize, Probe) {
        let index = self.unknown(Kind::Amperes, Place::Element(of));
        let current = Probe {
            x: smallvec![(index, 1.0)],
            ..Probe::default()
        };
        self.flow(from, to, &current);
        (index, current)
    }

    fn element(&mut self, id: ElementId, element: &Element) {
        let flow = match element {
            Element::Source {
                plus,
                minus,
                wave,
                ohms,
            } => {
                self.volts_scale = self.volts_scale.max(wave.bound());
                let (row, current) = self.series(*plus, *minus, *ohms, id);
                self.drive(row, wave, -1.0);
                Flow {
                    currents: smallvec![current],
                    ends: smallvec![(*plus, *minus)],
                    headroom: None,
                }
            }
            Element::Resistor { a, b, ohms } => {
                let (_, current) = self.series(*a, *b, *ohms, id);
                Flow {
                    currents: smallvec![current],
                    ends: smallvec![(*a, *b)],
                    headroom: None,
                }
            }
            Element::Drain { from, to, wave } => {
                let mut current = Probe::default();
                for &(basis, amplitude) in &wave.0 {
                    let source = self.source(basis);
                    current.add(
                        &Probe {
                            s: smallvec![(source, 1.0)],
                            ..Probe::default()
                        },
                        amplitude,
                    );
                }
                self.flow(self.voltage(*from), self.voltage(*to), &current);
                Flow {
                    currents: smallvec![current],
                    ends: smallvec![(*from, *to)],
                    headroom: None,
                }
            }
            Element::Capacitor {
                a,
                b,
                farads,
                esr,
                leakage,
            } => self.capacitor(id, (*a, *b), *farads, *esr, *leakage),
            Element::Inductor {
                a,
                b,
                henries,
                ohms,
            } => {
                let (row, current) = self.series(*a, *b, *ohms, id);
                self.store(
                    id,
                    smallvec![(row, -henries)],
                    current.clone(),
                    Kind::Amperes,
                );
                Flow {
                    currents: smallvec![current],
                    ends: smallvec![(*a, *b)],
                    headroom: None,
                }
            }
            Element::Transformer {
                windings,
                magnetising,
            } => self.transformer(id, windings, *magnetising),
            Element::Diode {
                anode,
                cathode,
                law,
            } => {
                let (plus, minus) = (self.voltage(*anode), self.voltage(*cathode));
                let (row, current) = self.branch(plus, minus, id);
                let mut junction = self.across(plus, minus);
                junction.add(&current, -law.series());
                let inputs = vec![junction, current.clone()];
                self.devices.push(Device {
                    row,
                    law: Law::Diode(*law),
                    inputs,
                });
                Flow {
                    currents: smallvec![current],
                    ends: smallvec![(*anode, *cathode)],
                    headroom: None,
                }
            }
            Element::Load { plus, minus, law } => {
                let current = self.load(id, *plus, *minus, *law);
                Flow {
                    currents: smallvec![current],
                    ends: smallvec![(*plus, *minus)],
                    headroom: None,
                }
            }
            Element::Regulator {
                input,
                output,
                reference,
                sense,
                law,
            } => self.regulator(id, (*input, *output, *reference), *sense, law),
            Element::Transistor {
                collector,
                base,
                emitter,
                law,
            } => self.transistor(id, (*collector, *base, *emitter), law),
        };
        self.flows.push(flow);
    }

    /// `v(a) − v(b) − ohms · i = 0`, open for more terms.
    fn series(&mut self, a: Node, b: Node, ohms: f64, id: ElementId) -> (usize, Probe) {
        let (plus, minus) = (self.voltage(a), self.voltage(b));
        let (row, current) = self.branch(plus, minus, id);
        let across = self.across(plus, minus);
        self.add(row, &across, 1.0);
        self.add(row, &current, -ohms);
        (row, current)
    }

    fn store(&mut self, of: ElementId, charge: Few, value: Probe, kind: Kind) -> usize {
        self.stores.push(Store {
            charge,
            value,
            kind,
            of,
        });
        self.stores.len() - 1
    }

    fn capacitor(
        &mut self,
        id: ElementId,
        ends: (Node, Node),
        farads: f64,
        esr: f64,
        leakage: f64,
    ) -> Flow {
        let (plus, minus) = (self.voltage(ends.0), self.voltage(ends.1));
        let inner = if esr > 0.0 {
            Some(self.inner_node(id))
        } else {
            plus
        };
        let value = self.across(inner, minus);
        let charge = value
            .x
            .iter()
            .map(|&(row, sign)| (row, sign * farads))
            .collect();
        let store = self.store(id, charge, value, Kind::Volts);
        let mut current = Probe {
            rate: smallvec![(store, farads)],
            ..Probe::default()
        };
        if esr > 0.0 {
            let (row, through) = self.branch(plus, inner, id);
            let across = self.across(plus, inner);
            self.add(row, &across, 1.0);
            self.add(row, &through, -esr);
            current = through;
        }
        if leakage > 0.0 {
            let across = self.across(plus, minus);
            let leak = Probe::sum(&[(&across, leakage)]);
            self.flow(plus, minus, &leak);
            current.add(&leak, 1.0);
        }
        Flow {
            currents: smallvec![current],
            ends: smallvec![ends],
            headroom: None,
        }
    }

    fn transformer(
        &mut self,
        id: ElementId,
        windings: &[crate::circuit::Winding],
        magnetising: Option<f64>,
    ) -> Flow {
        // Its row is the balance of ampere-turns; it is the voltage of one turn unit.
        let per_turn = self.unknown(Kind::Volts, Place::Element(id));
        let per_turn_probe = Probe {
            x: smallvec![(per_turn, 1.0)],
            ..Probe::default()
        };
        let (mut currents, mut ends) = (SmallVec::new(), SmallVec::new());
        for winding in windings {
            let (row, current) = self.series(winding.start, winding.finish, winding.ohms, id);
            self.add(row, &per_turn_probe, -winding.turns);
            self.add(per_turn, &current, winding.turns);
            if winding.leakage > 0.0 {
                self.store(
                    id,
                    smallvec![(row, -winding.leakage)],
                    current.clone(),
                    Kind::Amperes,
                );
            }
            currents.push(current);
            ends.push((winding.start, winding.finish));
        }
        if let Some(henries) = magnetising {
            // `Σ n i − i_m = 0` and `L di_m/dt − v = 0`
            let row = self.unknown(Kind::Amperes, Place::Element(id));
            let current = Probe {
                x: smallvec![(row, 1.0)],
                ..Probe::default()
            };
            self.add(per_turn, &current, -1.0);
            self.add(row, &per_turn_probe, -1.0);
            self.store(id, smallvec![(row, henries)], current, Kind::Amperes);
        }
        Flow {
            currents,
            ends,
            headroom: None,
        }
    }

    fn load(&mut self, id: ElementId, plus: Node, minus: Node, law: LoadLaw) -> Probe {
        let (plus, minus) = (self.voltage(plus), self.voltage(minus));
        let (row, current) = self.branch(plus, minus, id);
        let inputs = vec![self.across(plus, minus), current.clone()];
        self.devices.push(Device {
            row,
            law: Law::Load(law),
            inputs,
        });
        current
    }

    fn regulator(
        &mut self,
        id: ElementId,
        (input, output, reference): (Node, Node, Node),
        sense: Option<Sense>,
        law: &RegulatorLaw,
    ) -> Flow {
        let (v_in, v_out, common) = (
            self.voltage(input),
            self.voltage(output),
            self.voltage(reference),
        );
        // Under its reference a regulator is the same one with every pair of nodes turned round.
        let turned = law.is_negative;
        let quiescent = LoadLaw::Current {
            amps: law.quiescent,
            below: QUIESCENT_BELOW,
        };
        let idle_ends = in_order(turned, input, reference);
        let idle = self.load(id, idle_ends.0, idle_ends.1, quiescent);

        // Set point: the stated volts plus what the rejection lets through.
        let above_line = |draft: &mut Self| {
            let (upper, lower) = in_order(turned, v_in, common);
            let mut probe = draft.across(upper, lower);
            let one = draft.source(Basis::One);
            probe.add(
                &Probe {
                    s: smallvec![(one, -law.line)],
                    ..Probe::default()
                },
                1.0,
            );
            probe
        };
        let ripple = above_line(self);
        let one = self.source(Basis::One);
        let mut set = Probe {
            s: smallvec![(one, law.set)],
            ..Probe::default()
        };
        set.add(&ripple, law.rejection.direct);
        for &(gain, pole) in &law.rejection.sections {
            // h' = input − pole h
            let row = self.unknown(Kind::Volts, Place::Element(id));
            let value = Probe {
                x: smallvec![(row, 1.0)],
                ..Probe::default()
            };
            self.add(row, &value, pole);
            self.add(row, &ripple, -1.0);
            self.store(id, smallvec![(row, 1.0)], value.clone(), Kind::Volts);
            set.add(&value, gain);
        }

        // Loop: tau x' + x − G (set − v_out) = 0
        let asked = self.unknown(Kind::Amperes, Place::Element(id));
        let asked_probe = Probe {
            x: smallvec![(asked, 1.0)],
            ..Probe::default()
        };
        self.add(asked, &asked_probe, 1.0);
        self.add(asked, &set, -law.transconductance);
        let seen = match sense {
            None => vec![(v_out, common, 1.0)],
            Some(Sense { plus, minus, local }) => {
                let (plus, minus) = (self.voltage(plus), self.voltage(minus));
                vec![(v_out, minus, local), (plus, minus, 1.0 - local)]
            }
        };
        for (plus, minus, share) in seen {
            let (upper, lower) = in_order(turned, plus, minus);
            let across = self.across(upper, lower);
            self.add(asked, &across, share * law.transconductance);
        }
        self.store(
            id,
            smallvec![(asked, law.loop_time)],
            asked_probe.clone(),
            Kind::Amperes,
        );

        let (upper, lower) = in_order(turned, v_in, v_out);
        let (row, pass) = self.branch(upper, lower, id);
        let headroom = self.across(upper, lower);
        let inputs = vec![asked_probe, headroom.clone(), pass.clone()];
        self.devices.push(Device {
            row,
            law: Law::Pass(Arc::new(law.clone())),
            inputs,
        });
        Flow {
            currents: smallvec![pass, idle],
            ends: smallvec![in_order(turned, input, output), idle_ends],
            headroom: Some(headroom),
        }
    }

    /// Ties every island that no direct current reaches to its reference.
    fn tie_floating(&mut self, circuit: &Circuit) {
        let by_dc = islands(circuit, Element::passes_dc);
        for (index, &first) in by_dc.iter().enumerate() {
            let is_first_of_its_dc_island = first == index;
            if is_first_of_its_dc_island && self.islands[index] != index {
                let node = self.node_voltage[index];
                let across = self.across(node, None);
                let leak = Probe::sum(&[(&across, TIE)]);
                self.flow(node, None, &leak);
            }
        }
    }

    fn finish(self, circuit: &Circuit) -> System {
        let n = self.kinds.len();
        let sources = self.sources.len();
        let mut linear = vec![0.0; n * n];
        let mut drive = vec![0.0; n * sources];
        for &(row, index, value) in &self.terms {
            linear[row * n + index] += value;
        }
        for &(row, index, value) in &self.drives {
            drive[row * sources + index] += value;
        }
        System {
            frequency: circuit.frequency,
            n,
            linear,
            drive,
            sources: self.sources,
            stores: self.stores,
            devices: self.devices,
            kinds: self.kinds,
            places: self.places,
            count: n,
            unreduced: None,
            node_voltage: self.node_voltage,
            flows: self.flows.into(),
            pivots: Vec::new(),
            volts_scale: self.volts_scale.max(1.0),
        }
    }
}

/// Two ends as they stand, or turned round.
fn in_order<T>(turned: bool, upper: T, lower: T) -> (T, T) {
    if turned {
        (lower, upper)
    } else {
        (upper, lower)
    }
}

/// For each node the lowest-numbered node that elements of the wanted kind join it to.
fn islands(circuit: &Circuit, wanted: impl Fn(&Element) -> bool) -> Vec<usize> {
    let mut lower: Vec<usize> = (0..circuit.node_count()).collect();
    for element in circuit.elements().iter().filter(|e| wanted(e)) {
        for group in element.galvanic_groups() {
            let ends: SmallVec<[usize; 5]> =
                group.iter().map(|node| lowest(&lower, node.0)).collect();
            let low = ends.iter().copied().min().unwrap_or(GROUND.0);
            for end in ends {
                lower[end] = low;
            }
        }
    }
    // What a node points to comes before it, and is the lowest already.
    for node in 0..lower.len() {
        lower[node] = lower[lower[node]];
    }
    lower
}

/// The lowest node that one is known to be joined to, each pointing to one below.
fn lowest(lower: &[usize], mut node: usize) -> usize {
    while lower[node] != node {
        node = lower[node];
    }
    node
}

fn check(circuit: &Circuit) -> Result<(), AssembleError> {
    for (index, element) in circuit.elements().iter().enumerate() {
        let element_id = ElementId(index);
        let fail = |what, value| {
            Err(AssembleError::Value {
                element: element_id,
                what,
                value,
            })
        };
        for (what, value, lowest_is_zero) in values(element) {
            let allowed = value.is_finite() && (value > 0.0 || (lowest_is_zero && value == 0.0));
            if !allowed {
                return fail(what, value);
            }
        }
    }
    if !(circuit.frequency.is_finite() && circuit.frequency > 0.0) {
        return Err(AssembleError::Value {
            element: ElementId(0),
            what: "frequency",
            value: circuit.frequency,
        });
    }
    Ok(())
}

/// Names of values, the values, and whether each may be zero.
type Values = SmallVec<[(&'static str, f64, bool); 4]>;

/// Every value that must be positive, and whether zero is allowed.
fn values(element: &Element) -> Values {
    match element {
        Element::Source { wave, ohms, .. } => {
            smallvec![("voltage", wave.bound(), true), ("resistance", *ohms, true)]
        }
        Element::Drain { wave, .. } => smallvec![("current", wave.bound(), true)],
        Element::Resistor { ohms, .. } => smallvec![("resistance", *ohms, true)],
        Element::Capacitor {
            farads,
            esr,
            leakage,
            ..
        } => smallvec![
            ("capacitance", *farads, false),
            ("series resistance", *esr, true),
            ("leakage", *leakage, true),
        ],
        Element::Inductor { henries, ohms, .. } => {
            smallvec![("inductance", *henries, false), ("resistance", *ohms, true)]
        }
        Element::Transformer {
            windings,
            magnetising,
        } => {
            let mut all: Values = windings
                .iter()
                .flat_map(|w| {
                    [
                        ("turns", w.turns.abs(), false),
                        ("winding resistance", w.ohms, true),
                        ("leakage inductance", w.leakage, true),
                    ]
                })
                .collect();
            all.extend(magnetising.map(|henries| ("magnetising inductance", henries, false)));
            all
        }
        Element::Diode { law, .. } => junction_values(law),
        Element::Transistor { law, .. } => {
            let mut all = junction_values(&law.emitter);
            all.extend(junction_values(&law.collector));
            all.extend([
                ("forward share", law.forward, false),
                ("forward share short of one", 1.0 - law.forward, false),
                ("reverse share", law.reverse, true),
                ("reverse share short of one", 1.0 - law.reverse, false),
                ("feedback", law.feedback, true),
            ]);
            all
        }
        Element::Load { law, .. } => match *law {
            LoadLaw::Current { amps, below } => {
                smallvec![("current", amps, true), ("voltage", below, true)]
            }
            LoadLaw::Power { watts, below } => {
                smallvec![("power", watts, true), ("voltage", below, true)]
            }
        },
        Element::Regulator { law, .. } => {
            let mut all = smallvec![
                ("set point", law.set, true),
                ("loop transconductance", law.transconductance, false),
                ("loop time", law.loop_time, false),
                ("current limit", law.limit, false),
                ("softness", law.softness, false),
                ("exponent", f64::from(law.exponent), false),
                ("quiescent current", law.quiescent, true),
            ];
            // The first stretch rises; later ones may level off, and foldback falls.
            all.extend(law.dropout.bends.iter().enumerate().map(|(k, bend)| {
                (
                    "dropout slope",
                    if k == 0 { bend.1 } else { bend.1.abs() },
                    k > 0,
                )
            }));
            all.extend(
                law.rejection
                    .sections
                    .iter()
                    .map(|s| ("rejection pole", s.1, false)),
            );
            all
        }
    }
}
