//! The one bridge between names and numbers: a job, a state, a step and changes become a circuit.
//!
//! 1. Changes are made to a copy of the job.
//! 2. Names become nodes; points of a transformer that a join ties together become one node.
//! 3. Each part adds its elements, with values at the temperatures given.
//!
//! What comes back knows every name's node and every part's elements, so that findings can be named.

mod core_loss;
mod diode;
mod leak;
mod meter;
mod nodes;
mod rectifier;
mod regulator;
mod rejection;
mod stand_in;
pub(crate) mod transformer;
mod transistor;

pub use transformer::resistance_factor as copper_resistance;
pub use transformer::segment_leads;

pub use core_loss::{CoreLoss, core_losses};
pub(crate) use core_loss::{cut_off, name_of as core_of};
pub use diode::law_at;
pub use leak::{Leak, leaks};
pub use regulator::{dropout_at, noise_gain, output_gain, sense_ohms, set_volts, whole_rejection};
pub use rejection::fit as fit_rejection;
pub use stand_in::{StandIn, stand_ins};
pub use transistor::{saturation, shunt_ohms};

use crate::heat::Temperatures;
use leak::Floating;
use nodes::Nodes;
use quietrail_engine::{Circuit, Element, ElementId, LoadLaw, Node, Wave, Winding};
use quietrail_job::model::{Between, BoxRise, Capacitor, Job, LoadDraw, PartKind};
use quietrail_job::{Change, ChangeError};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A job in one state as a circuit.
pub struct Lowered {
    /// The job with all changes made.
    pub job: Arc<Job>,
    /// Index into [`Job::states`].
    pub state: usize,
    /// Elements between nodes.
    pub circuit: Circuit,
    /// Which elements each part became.
    pub parts: BTreeMap<String, Elements>,
    nodes: Nodes,
}

/// The elements that a part became.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Elements {
    /// The part's own elements; of a rectifier its diodes, those into the positive output first.
    pub own: Vec<ElementId>,
    /// Of a transformer: the numbers of its windings by name (several where taps divide one).
    pub windings: BTreeMap<String, Vec<usize>>,
    /// Of a rectifier: how many of its diodes feed the positive output.
    pub into: usize,
}

/// What is connected during a step of the bring-up.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Step {
    /// A series lamp in the live wire: rated watts and volts.
    pub lamp: Option<(f64, f64)>,
    /// A variable transformer in front: its setting as a share of the mains, and the ohms in its output.
    pub variable: Option<(f64, f64)>,
    /// Parts that are not fitted yet.
    pub out: Vec<String>,
    /// Parts that are bridged.
    pub short: Vec<String>,
    /// Dummy loads.
    pub dummy: Vec<DummyLoad>,
    /// Ammeters in series with a part, by its name, with the ohms that they put in.
    pub ammeters: Vec<(String, f64)>,
    /// Inputs of voltmeters and probes across what they read.
    pub inputs: Vec<MeterInput>,
}

/// What an instrument puts across the two points that it reads.
#[derive(Clone, Debug, PartialEq)]
pub struct MeterInput {
    /// Its ends.
    pub plus: String,
    /// Its ends.
    pub minus: String,
    /// Resistance, Ω.
    pub ohms: f64,
    /// Capacitance, F.
    pub farads: f64,
}

/// A resistor in place of a load.
#[derive(Clone, Debug, PartialEq)]
pub struct DummyLoad {
    /// Its ends.
    pub plus: String,
    /// Its ends.
    pub minus: String,
    /// Its resistance.
    pub ohms: f64,
}

/// Name under which the outlet appears among the parts.
pub const OUTLET: &str = "outlet";
/// Name under which a step's series lamp appears among the parts.
pub const STEP_LAMP: &str = "series lamp";

/// Series resistance that no capacitor goes below, Ω.
const SMALLEST_ESR: f64 = 1e-6;

/// Lowers a job.
///
/// # Errors
/// The first change that cannot be made.
pub fn lower(
    job: &Job,
    state: usize,
    step: &Step,
    changes: &[Change],
    temperatures: &Temperatures,
) -> Result<Lowered, ChangeError> {
    let changed = Arc::new(job.with(changes)?);
    Ok(lower_changed(changed, state, step, changes, temperatures))
}

/// Lowers a job in which changes were made.
pub(crate) fn lower_changed(
    changed: Arc<Job>,
    state: usize,
    step: &Step,
    changes: &[Change],
    temperatures: &Temperatures,
) -> Lowered {
    let job = changed.as_ref();
    let mut circuit = Circuit::new(job.mains.frequency.nominal());
    let metered = |name: &str| step.ammeters.iter().any(|(part, _)| part == name);
    let nodes = Nodes::of(job, &metered, &mut circuit);
    let mut draft = Draft {
        circuit,
        nodes,
        parts: BTreeMap::new(),
    };
    let opened = |name: &str| {
        step.out.iter().any(|out| out == name)
            || changes
                .iter()
                .any(|change| matches!(change, Change::Open(part) if part == name))
    };
    let shorted = |name: &str| {
        step.short.iter().any(|short| short == name)
            || changes
                .iter()
                .any(|change| matches!(change, Change::Short(part) if part == name))
    };
    let floating = Floating::of(job, step, &opened);
    draft.outlet(job, step, temperatures);
    for part in &job.parts {
        if opened(&part.name) {
            continue;
        }
        let behind = step
            .ammeters
            .iter()
            .find(|(name, _)| *name == part.name)
            .and_then(|(_, ohms)| meter::behind_ammeter(&mut draft, &part.name, &part.kind, *ohms));
        let kind = behind.as_ref().unwrap_or(&part.kind);
        let elements = match kind {
            _ if shorted(&part.name) => draft.short(kind),
            PartKind::Capacitor(capacitor) => {
                draft.capacitor(capacitor, &floating, air_of(job, temperatures))
            }
            _ => draft.part(job, part.name.as_str(), kind, state, temperatures),
        };
        draft.parts.insert(part.name.clone(), elements);
    }
    stand_in::add(&mut draft, job, &floating);
    core_loss::add(&mut draft, job, &|name| opened(name) || shorted(name));
    for DummyLoad { plus, minus, ohms } in &step.dummy {
        let (a, b) = (draft.node(plus), draft.node(minus));
        draft.circuit.add(Element::Resistor { a, b, ohms: *ohms });
    }
    for input in &step.inputs {
        meter::across(&mut draft, input);
    }
    let Draft {
        circuit,
        nodes,
        parts,
    } = draft;
    Lowered {
        job: changed,
        state,
        circuit,
        parts,
        nodes,
    }
}

impl Lowered {
    /// The node of a name.
    pub fn node(&self, name: &str) -> Option<Node> {
        self.nodes.get(name)
    }

    /// The first element of a part.
    pub fn element(&self, part: &str) -> Option<ElementId> {
        self.parts.get(part)?.own.first().copied()
    }

    /// Name of a node, for messages: the first that was given to it.
    pub fn name_of(&self, node: Node) -> String {
        self.nodes.name(node).unwrap_or("common").to_owned()
    }

    /// Name of the part that an element belongs to.
    pub fn part_of(&self, element: ElementId) -> Option<&str> {
        self.parts
            .iter()
            .find(|(_, elements)| elements.own.contains(&element))
            .map(|(name, _)| name.as_str())
    }

    /// Every node that a galvanic path joins to common.
    pub fn reached_from_common(&self) -> std::collections::BTreeSet<Node> {
        self.circuit
            .island_of(quietrail_engine::GROUND)
            .into_iter()
            .collect()
    }

    /// The builder's own node names (points of transformers and of the inlet left out).
    pub fn named_nodes(&self) -> impl Iterator<Item = (&str, Node)> {
        self.nodes
            .all()
            .filter(|(name, _)| !name.contains('.') && *name != "common")
    }
}

struct Draft {
    circuit: Circuit,
    nodes: Nodes,
    parts: BTreeMap<String, Elements>,
}

/// Air around the parts, °C: by the job where it gives the rise, so that what follows from it moves with the room.
fn air_of(job: &Job, temperatures: &Temperatures) -> f64 {
    match &job.air.rise {
        BoxRise::Given(rise) => job.air.room.nominal() + rise.nominal(),
        BoxRise::Through(_) => temperatures.air,
    }
}

impl Draft {
    fn node(&mut self, name: &str) -> Node {
        self.nodes.of_name(name, &mut self.circuit)
    }

    fn ends(&mut self, between: &Between) -> (Node, Node) {
        (self.node(&between.plus), self.node(&between.minus))
    }

    fn resistor(&mut self, between: &Between, ohms: f64) -> Elements {
        let (a, b) = self.ends(between);
        one(self.circuit.add(Element::Resistor { a, b, ohms }))
    }

    fn outlet(&mut self, job: &Job, step: &Step, temperatures: &Temperatures) {
        let mains = &job.mains;
        let (setting, ohms) = step.variable.unwrap_or((1.0, 0.0));
        let wave = Wave::mains(setting * mains.voltage.nominal(), mains.flatness.nominal());
        let live = self.node("inlet.live");
        let minus = self.node("inlet.neutral");
        let plus = match step.lamp {
            None => live,
            Some((watts, volts)) => {
                let socket = self.circuit.node();
                let ohms = lamp_ohms(watts, volts, temperatures.lamp_volts(STEP_LAMP, volts));
                let lamp = self.circuit.add(Element::Resistor {
                    a: socket,
                    b: live,
                    ohms,
                });
                self.parts.insert(STEP_LAMP.to_owned(), one(lamp));
                socket
            }
        };
        let source = self.circuit.add(Element::Source {
            plus,
            minus,
            wave,
            ohms,
        });
        self.parts.insert(OUTLET.to_owned(), one(source));
    }

    fn part(
        &mut self,
        job: &Job,
        name: &str,
        kind: &PartKind,
        state: usize,
        temperatures: &Temperatures,
    ) -> Elements {
        match kind {
            PartKind::Fuse(fuse) => self.resistor(&fuse.between, fuse.resistance.nominal()),
            PartKind::Switch(switch) if !switch.closed => Elements::default(),
            PartKind::Switch(switch) => self.resistor(&switch.between, switch.resistance.nominal()),
            PartKind::Lamp(lamp) => {
                let (watts, volts) = (lamp.watts.nominal(), lamp.volts.nominal());
                let ohms = lamp_ohms(watts, volts, temperatures.lamp_volts(name, volts));
                self.resistor(&lamp.between, ohms)
            }
            PartKind::VariableTransformer(variable) => self.variable_transformer(variable),
            PartKind::Transformer(part) => transformer::add(
                self,
                name,
                part,
                job.region.hertz,
                temperatures.copper(name),
            ),
            PartKind::Rectifier(part) => {
                rectifier::add(self, job, part, temperatures.junction(name))
            }
            // By itself, for what leaks there depends on what else hangs on it.
            PartKind::Capacitor(_) | PartKind::Sink(_) => Elements::default(),
            PartKind::Resistor(part) => self.resistor(&part.between, part.value.nominal()),
            PartKind::Inductor(part) => {
                let (a, b) = self.ends(&part.between);
                let (henries, ohms) = (part.value.nominal(), part.resistance.nominal());
                one(self.circuit.add(Element::Inductor {
                    a,
                    b,
                    henries,
                    ohms,
                }))
            }
            PartKind::Wire(part) => self.resistor(&part.between, part.resistance.nominal()),
            PartKind::Diode(part) => {
                let (anode, cathode) = self.ends(&part.between);
                let law = law_at(&part.curve, temperatures.junction(name));
                one(self.circuit.add(Element::Diode {
                    anode,
                    cathode,
                    law,
                }))
            }
            PartKind::Regulator(part) => regulator::add(self, name, part),
            PartKind::Transistor(part) => transistor::add(self, part, temperatures.junction(name)),
            PartKind::Shunt(part) => transistor::add_shunt(self, name, part),
            PartKind::Load(load) => {
                self.load(&load.between, &load.draws[state], load.below.nominal())
            }
        }
    }

    fn capacitor(&mut self, part: &Capacitor, floating: &Floating<'_>, air: f64) -> Elements {
        let (a, b) = self.ends(&part.between);
        let (of_value, of_esr) = part.factors_at(air);
        let farads = of_value * part.value.nominal();
        one(self.circuit.add(Element::Capacitor {
            a,
            b,
            farads,
            // A floor of a microhm: the equations keep their shape where a range starts at none.
            esr: (of_esr * part.esr.nominal()).max(SMALLEST_ESR),
            leakage: part
                .leakage
                .nominal()
                .max(floating.leakage(leak::ends(&part.between), farads)),
        }))
    }

    fn load(&mut self, between: &Between, draw: &LoadDraw, below: f64) -> Elements {
        let (plus, minus) = self.ends(between);
        match draw {
            LoadDraw::Current(amps) => {
                let law = LoadLaw::Current {
                    amps: amps.nominal(),
                    below,
                };
                one(self.circuit.add(Element::Load { plus, minus, law }))
            }
            LoadDraw::Resistance(ohms) => one(self.circuit.add(Element::Resistor {
                a: plus,
                b: minus,
                ohms: ohms.nominal(),
            })),
            LoadDraw::Power(watts) => {
                let law = LoadLaw::Power {
                    watts: watts.nominal(),
                    below,
                };
                one(self.circuit.add(Element::Load { plus, minus, law }))
            }
        }
    }

    fn variable_transformer(
        &mut self,
        part: &quietrail_job::model::VariableTransformer,
    ) -> Elements {
        let (from, into, ret) = (
            self.node(&part.from),
            self.node(&part.into),
            self.node(&part.ret),
        );
        let setting = part.setting.nominal();
        if setting <= 0.0 {
            let ohms = part.resistance.nominal();
            return one(self.circuit.add(Element::Resistor {
                a: into,
                b: ret,
                ohms,
            }));
        }
        let winding = |start, turns, ohms| Winding {
            start,
            finish: ret,
            turns,
            ohms,
            leakage: 0.0,
        };
        let windings = vec![
            winding(from, 1.0, 0.0),
            winding(into, setting, part.resistance.nominal()),
        ];
        // Its own magnetising current stays in the outlet, which is stiff: any large value will do. With a
        // primary of no resistance the mean of that current is undetermined, so it is left out.
        one(self.circuit.add(Element::Transformer {
            windings,
            magnetising: None,
        }))
    }

    fn short(&mut self, kind: &PartKind) -> Elements {
        let ends = match kind {
            PartKind::Regulator(part) => Some((part.from.as_str(), part.into.as_str())),
            PartKind::Transistor(part) => Some((part.collector.as_str(), part.emitter.as_str())),
            kind => kind
                .between()
                .map(|between| (between.plus.as_str(), between.minus.as_str())),
        };
        let Some((plus, minus)) = ends else {
            return Elements::default();
        };
        let (a, b) = (self.node(plus), self.node(minus));
        one(self.circuit.add(Element::Resistor { a, b, ohms: 0.0 }))
    }
}

/// Resistance of a tungsten lamp at an rms voltage: it rises as the 0.45 power of the voltage, down to a
/// tenth of the rated one for a cold filament (common practice, no source).
fn lamp_ohms(watts: f64, rated_volts: f64, volts: f64) -> f64 {
    let rated = rated_volts * rated_volts / watts;
    rated * quietrail_engine::math::pow((volts / rated_volts).max(1e-6), 0.45).max(0.1)
}

fn one(element: ElementId) -> Elements {
    Elements {
        own: vec![element],
        ..Elements::default()
    }
}
