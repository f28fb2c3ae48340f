//! Loads that swing with the choke they draw through.
//!
//! A constant power takes more current where its voltage falls: it is a negative resistance (Middlebrook, *IEEE Industry
//! Applications Society Annual Meeting*, 1976). A choke and the capacitors across the load swing with each other, the choke's
//! resistance takes from the swing and the load gives to it. Where it gives more, nothing comes to rest: the load swings at a beat
//! of its own.

use crate::lower::Lowered;
use quietrail_engine::batch::Kind;
use quietrail_engine::{
    Circuit, Element, ElementId, GROUND, Node, Options, Output, Signal, System,
};

/// Resistance up to which what it leads to counts as one place with a load, Ω: what leads have.
const LEADS: f64 = 1.0;
/// Capacitance across the loads, F, and inductance of the choke, H, with which the voltage is looked for at which they would
/// rest: the mean is about the same, and nothing swings.
const STEADY: (f64, f64) = (1e-3, 1e-6);
/// By how many times the capacitance before a choke must be more than that behind it to count as a source that stands still.
const STANDS_STILL: f64 = 100.0;

/// Loads behind a choke that damps less than they undamp.
#[derive(Clone, Debug, PartialEq)]
pub struct Undamped {
    /// All loads there, the first that draws a constant power before the others.
    pub loads: Vec<String>,
    /// Voltage across them at which they would rest, V.
    pub volts: f64,
    /// The choke's inductance, H, and all resistance in series with it, Ω.
    pub choke: (f64, f64),
    /// Capacitance across the loads, F, and its series resistance, Ω.
    pub across: (f64, f64),
    /// Conductance of resistors across them, A/V.
    pub siemens: f64,
}

/// What hangs between a choke and the return, where nothing else does.
struct Behind<'a> {
    lowered: &'a Lowered,
    id: ElementId,
    choke: (f64, f64),
    near: Node,
    ret: Node,
    loads: Vec<ElementId>,
    capacitors: Vec<ElementId>,
    siemens: f64,
}

/// The first loads that swing with their choke at the voltage at which they would rest.
pub fn undamped(lowered: &Lowered, options: &Options) -> Option<Undamped> {
    let circuit = &lowered.circuit;
    circuit
        .ids()
        .flat_map(|id| match circuit.element(id) {
            Element::Inductor { a, b, .. } => vec![(id, *a, *b), (id, *b, *a)],
            _ => Vec::new(),
        })
        .filter_map(|(id, far, near)| Behind::of(lowered, id, (far, near)))
        .find_map(|behind| behind.undamped(options))
}

impl<'a> Behind<'a> {
    fn of(lowered: &'a Lowered, choke: ElementId, (far, near): (Node, Node)) -> Option<Self> {
        let circuit = &lowered.circuit;
        let Element::Inductor { henries, ohms, .. } = circuit.element(choke) else {
            return None;
        };
        let place = place_of(circuit, near);
        let (before, esr_before) = before(circuit, far);
        let mut found = Self {
            lowered,
            id: choke,
            choke: (*henries, ohms + esr_before),
            near,
            ret: GROUND,
            loads: Vec::new(),
            capacitors: Vec::new(),
            siemens: 0.0,
        };
        let mut rets = Vec::new();
        for id in circuit.ids().filter(|id| *id != choke) {
            let element = circuit.element(id);
            let ends = element.nodes();
            let held: Vec<&Node> = ends.iter().filter(|node| place.contains(node)).collect();
            if held.is_empty() {
                continue;
            }
            if held.len() == ends.len() {
                continue;
            }
            match element {
                Element::Load { .. } => found.loads.push(id),
                Element::Capacitor { .. } => found.capacitors.push(id),
                Element::Resistor { ohms, .. } => found.siemens += 1.0 / ohms,
                _ => return None,
            }
            rets.extend(ends.iter().filter(|node| !place.contains(node)).copied());
        }
        found.ret = *rets.first()?;
        let is_one_place = rets.iter().all(|ret| *ret == found.ret);
        let stands_still = before > STANDS_STILL * found.across().0;
        (is_one_place && stands_still && !found.capacitors.is_empty()).then_some(found)
    }

    fn undamped(&self, options: &Options) -> Option<Undamped> {
        let volts = self.volts_at_rest(options)?;
        let circuit = &self.lowered.circuit;
        let slope_of = |id: &ElementId| match circuit.element(*id) {
            Element::Load { law, .. } => law.slope(volts),
            _ => 0.0,
        };
        let slope = self.siemens + self.loads.iter().map(slope_of).sum::<f64>();
        let ((henries, ohms), (farads, esr)) = (self.choke, self.across());
        // Of `L i' = -R i - v` and `C u' = i - g v` with `v = u + r (i - g v)`: the sum of both rates of growth.
        let share = 1.0 / (1.0 + esr * slope);
        let growth = -(ohms + esr * share) / henries - slope * share / farads;
        let name = |id: &ElementId| self.lowered.part_of(*id).map(str::to_owned);
        let mut loads = self.loads.clone();
        loads.sort_by(|a, b| slope_of(a).total_cmp(&slope_of(b)));
        (growth > 0.0).then(|| Undamped {
            loads: loads.iter().filter_map(name).collect(),
            volts,
            choke: self.choke,
            across: self.across(),
            siemens: self.siemens,
        })
    }

    /// Capacitance across the loads, and its series resistance.
    fn across(&self) -> (f64, f64) {
        let (mut farads, mut siemens) = (0.0, 0.0);
        for id in &self.capacitors {
            if let Element::Capacitor {
                farads: own, esr, ..
            } = self.lowered.circuit.element(*id)
            {
                farads += own;
                siemens += 1.0 / esr;
            }
        }
        (farads, 1.0 / siemens)
    }

    /// Mean voltage across the loads where nothing swings.
    fn volts_at_rest(&self, options: &Options) -> Option<f64> {
        let mut circuit = self.lowered.circuit.clone();
        for id in &self.capacitors {
            if let Element::Capacitor { farads, esr, .. } = circuit.element_mut(*id) {
                (*farads, *esr) = (STEADY.0, 0.0);
            }
        }
        if let Element::Inductor { henries, .. } = circuit.element_mut(self.id) {
            *henries = STEADY.1;
        }
        let system = System::assemble(&circuit).ok()?;
        let mean = Output::Mean(Signal::Voltage(self.near, self.ret));
        let kind = Kind::of(&system, &[mean], &[])?;
        let glance = kind.glance(&system, None, options)?;
        Some(glance.values[0].abs())
    }
}

/// Nodes that leads alone part from one.
fn place_of(circuit: &Circuit, node: Node) -> Vec<Node> {
    let mut place = vec![node];
    let mut next = 0;
    while next < place.len() {
        for element in circuit.elements() {
            let Element::Resistor { a, b, ohms } = element else {
                continue;
            };
            for (from, to) in [(a, b), (b, a)] {
                let is_new = *ohms <= LEADS && *from == place[next] && !place.contains(to);
                if is_new && *to != GROUND {
                    place.push(*to);
                }
            }
        }
        next += 1;
    }
    place
}

/// Least capacitance that holds a node through capacitors alone, and their resistances one after the other.
fn before(circuit: &Circuit, far: Node) -> (f64, f64) {
    let (mut least, mut ohms) = (f64::INFINITY, 0.0);
    let mut reached = vec![far];
    let mut next = 0;
    while next < reached.len() {
        for element in circuit.elements() {
            let Element::Capacitor {
                a, b, farads, esr, ..
            } = element
            else {
                continue;
            };
            for (from, to) in [(a, b), (b, a)] {
                if *from == reached[next] && *from != GROUND && !reached.contains(to) {
                    reached.push(*to);
                    least = least.min(*farads);
                    ohms += esr;
                }
            }
        }
        next += 1;
    }
    (if least.is_finite() { least } else { 0.0 }, ohms)
}
