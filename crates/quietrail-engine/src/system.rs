//! The equations of a circuit, as numbers.
//!
//! Time is counted in mains cycles, so the frequency is a value among others. With unknowns `x`
//! (node voltages and branch currents), stores `z` (capacitor voltages, inductor currents, loop states)
//! and sources `s(t)`:
//!
//! ```text
//! f Σ_k a_k dz_k/dt  +  K x  +  S s(t)  +  Σ_d e_d ρ_d(P_d x + …)  =  0,      z_k = b_k x + …
//! ```
//!
//! Each nonlinear device owns one row: its own current is an unknown and `ρ_d` ties it to the device's
//! curve. All other rows are linear, and those without a store can be eliminated once and for all
//! ([`System::reduced`]); the reduced system has the same form and the same solutions.

use crate::circuit::{ElementId, GROUND, Node};
use crate::diode::DiodeLaw;
use crate::load::LoadLaw;
use crate::regulator::RegulatorLaw;
use crate::signal::{Output, Signal};
use crate::wave::Basis;
use smallvec::{SmallVec, smallvec};
use std::sync::Arc;

mod assemble;
mod rebase;
mod reduce;

/// A linear function of unknowns, sources, and rates of stores.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Probe {
    /// (unknown, factor)
    pub(crate) x: Few,
    /// (source, factor)
    pub(crate) s: Few,
    /// (store, factor) of dz/dt in seconds
    pub(crate) rate: Few,
}

/// Terms of a sum, mostly so few that a list of their own would cost more than they do.
pub(crate) type Few = SmallVec<[(usize, f64); 3]>;

/// A nonlinear device: one row `ρ(inputs) = 0`.
#[derive(Clone, Debug)]
pub(crate) struct Device {
    pub(crate) row: usize,
    pub(crate) law: Law,
    pub(crate) inputs: Vec<Probe>,
}

/// The curves that devices follow, by what their inputs mean.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Law {
    /// (junction voltage, current)
    Diode(DiodeLaw),
    /// (voltage, current)
    Load(LoadLaw),
    /// (asked current, headroom, current)
    Pass(Arc<RegulatorLaw>),
}

/// A store: row pattern `a` (with its capacitance or inductance), and what it stores as a probe `b`.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Store {
    pub(crate) charge: Few,
    pub(crate) value: Probe,
    pub(crate) kind: Kind,
    pub(crate) of: ElementId,
}

/// What kind of number an unknown or a store is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Volts,
    Amperes,
}

/// What a solution can name when something goes wrong there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// A node.
    Node(Node),
    /// An element.
    Element(ElementId),
}

/// The equations of a circuit.
#[derive(Clone, Debug)]
pub struct System {
    pub(crate) frequency: f64,
    pub(crate) n: usize,
    /// `K`, row-major n × n.
    pub(crate) linear: Vec<f64>,
    /// `S`, row-major n × sources.
    pub(crate) drive: Vec<f64>,
    pub(crate) sources: Vec<Basis>,
    pub(crate) stores: Vec<Store>,
    pub(crate) devices: Vec<Device>,
    pub(crate) kinds: Vec<Kind>,
    /// Where each row belongs, for naming.
    pub(crate) places: Vec<Place>,
    /// How many unknowns the unreduced system has.
    count: usize,
    /// Each of them as a probe of this one; none where this is it.
    unreduced: Option<Vec<Probe>>,
    /// Unknown of a node's voltage; `None` for the reference of its island.
    node_voltage: Vec<Option<usize>>,
    /// Currents (and whatever else can be asked) of elements, as probes of the unreduced system.
    flows: Arc<[Flow]>,
    /// Row and unknown of each elimination, in order; empty for an unreduced system.
    pivots: Vec<(usize, usize)>,
    /// Largest source voltage: the scale of volts.
    pub(crate) volts_scale: f64,
}

/// What can be asked of an element.
#[derive(Clone, Debug)]
struct Flow {
    /// From the first node through the element to the second; one per winding of a transformer.
    currents: SmallVec<[Probe; 1]>,
    ends: SmallVec<[(Node, Node); 1]>,
    /// Headroom, set point asked for: regulators only.
    headroom: Option<Probe>,
}

/// Why a circuit has no equations.
#[derive(Clone, Debug, PartialEq)]
pub enum AssembleError {
    /// A value is not finite, or negative or zero where physics forbids it.
    Value {
        /// The element.
        element: ElementId,
        /// Which of its values.
        what: &'static str,
        /// The value.
        value: f64,
    },
}

impl System {
    /// Voltage of one node against another.
    pub fn voltage(&self, plus: Node, minus: Node) -> Probe {
        let mut full = Probe::default();
        if let Some(x) = self.node_voltage[plus.0] {
            full.x.push((x, 1.0));
        }
        if let Some(x) = self.node_voltage[minus.0] {
            full.x.push((x, -1.0));
        }
        self.of_this(&full)
    }

    /// Current through an element, first node to second. For a transformer: its first winding.
    pub fn current(&self, element: ElementId) -> Probe {
        self.winding_current(element, 0)
    }

    /// Current through one winding, start to finish (for other elements: [`System::current`]).
    pub fn winding_current(&self, element: ElementId, winding: usize) -> Probe {
        self.of_this(&self.flows[element.0].currents[winding])
    }

    /// Voltage across an element, first node against second, and across each winding of a transformer;
    /// each with its current. Their products sum to the power that goes into the element.
    pub fn ports(&self, element: ElementId) -> Vec<(Probe, Probe)> {
        let flow = &self.flows[element.0];
        flow.ends
            .iter()
            .zip(&flow.currents)
            .map(|(&(plus, minus), current)| (self.voltage(plus, minus), self.of_this(current)))
            .collect()
    }

    /// The same as signals.
    pub(crate) fn port_signals(&self, element: ElementId) -> Vec<(Signal, Signal)> {
        let ends = self.flows[element.0].ends.iter().enumerate();
        ends.map(|(k, &(plus, minus))| (Signal::Voltage(plus, minus), Signal::Current(element, k)))
            .collect()
    }

    /// `f Σ a_k rate_k + K x + S s`, into `residual`; rates per cycle.
    pub(crate) fn linear_residual(
        &self,
        x: &[f64],
        s: &[f64],
        rate: impl Fn(usize) -> f64,
        residual: &mut [f64],
    ) {
        let (n, sources) = (self.n, self.sources.len());
        for (row, sum) in residual.iter_mut().enumerate() {
            *sum = 0.0;
            for (value, x) in self.linear[row * n..(row + 1) * n].iter().zip(x) {
                *sum += value * x;
            }
            for (value, s) in self.drive[row * sources..(row + 1) * sources].iter().zip(s) {
                *sum += value * s;
            }
        }
        for (k, store) in self.stores.iter().enumerate() {
            let rate = self.frequency * rate(k);
            for &(row, charge) in &store.charge {
                residual[row] += charge * rate;
            }
        }
    }

    /// Input minus output of a regulator, as its pass element sees it.
    pub fn headroom(&self, regulator: ElementId) -> Option<Probe> {
        self.flows[regulator.0]
            .headroom
            .as_ref()
            .map(|probe| self.of_this(probe))
    }

    /// Every figure of every node and element, for comparing two ways of solving.
    pub fn every_output(&self) -> Vec<Output> {
        let mut signals: Vec<Signal> = Vec::new();
        for (index, unknown) in self.node_voltage.iter().enumerate() {
            if unknown.is_some() {
                signals.push(Signal::Voltage(Node(index), GROUND));
            }
        }
        let mut outputs = Vec::new();
        for (index, flow) in self.flows.iter().enumerate() {
            outputs.push(Output::Power(ElementId(index)));
            signals.extend((0..flow.currents.len()).map(|k| Signal::Current(ElementId(index), k)));
            if flow.headroom.is_some() {
                signals.push(Signal::Headroom(ElementId(index)));
            }
        }
        for signal in signals {
            outputs.extend([
                Output::Mean(signal.clone()),
                Output::Rms(signal.clone()),
                Output::RippleRms(signal.clone()),
                Output::Peak(signal.clone()),
                Output::Valley(signal),
            ]);
        }
        outputs
    }

    /// Magnetising current of a transformer, per turn unit; `None` where no inductance was given.
    pub fn magnetising_current(&self, transformer: ElementId) -> Option<Probe> {
        let store = self.magnetising_store(transformer)?;
        Some(self.stores[store].value.clone())
    }

    /// Whether a store is the magnetising current of a transformer.
    pub fn is_magnetising(&self, store: usize) -> bool {
        let of = self.stores[store].of;
        let is_transformer = self.flows[of.0].ends.len() > 1 && self.flows[of.0].headroom.is_none();
        is_transformer && self.magnetising_store(of) == Some(store)
    }

    fn magnetising_store(&self, transformer: ElementId) -> Option<usize> {
        self.stores.iter().position(|store| {
            store.of == transformer && store.charge.len() == 1 && store.kind == Kind::Amperes
        })
    }

    /// Which store a capacitor is: its volts, from its first node to its second, behind its series resistance.
    pub fn capacitor_store(&self, capacitor: ElementId) -> Option<usize> {
        self.stores.iter().position(|store| {
            let is_regulator = self.flows[store.of.0].headroom.is_some();
            store.of == capacitor && store.kind == Kind::Volts && !is_regulator
        })
    }

    /// How many unknowns are left.
    pub fn unknowns(&self) -> usize {
        self.n
    }

    /// Whether another system has the same rows, stores and devices, whatever their values.
    pub fn is_like(&self, other: &System) -> bool {
        self.count == other.count
            && self.stores.len() == other.stores.len()
            && self.devices.len() == other.devices.len()
            && self.sources == other.sources
    }

    /// Whether another is like it and was reduced in the same order.
    pub(crate) fn is_thinned_as(&self, other: &System) -> bool {
        self.is_like(other) && self.pivots == other.pivots
    }

    /// How many stores (and so components of a period map).
    pub fn store_count(&self) -> usize {
        self.stores.len()
    }

    /// How many elements the circuit has.
    pub(crate) fn element_count(&self) -> usize {
        self.flows.len()
    }

    /// The current that charges a store, if that is a capacitor.
    pub(crate) fn charging_current(&self, store: usize) -> Option<Probe> {
        let kept = &self.stores[store];
        let farads = kept.charge.first().map(|(_, charge)| charge.abs())?;
        let is_capacitor = kept.kind == Kind::Volts && self.flows[kept.of.0].headroom.is_none();
        is_capacitor.then(|| Probe {
            rate: smallvec![(store, farads)],
            ..Probe::default()
        })
    }

    /// A probe without rates of stores: each rate replaced by what the rows that it stands in make of it.
    /// `None` where rows do not tell it.
    pub(crate) fn without_rates(&self, probe: &Probe) -> Option<Probe> {
        let mut without = Probe {
            x: probe.x.clone(),
            s: probe.s.clone(),
            rate: Few::new(),
        };
        for &(store, factor) in &probe.rate {
            for (row, share) in self.rows_of_rate(store)? {
                let (n, sources) = (self.n, self.sources.len());
                let terms = |values: &[f64]| -> Few {
                    let all = values.iter().copied().enumerate();
                    all.filter(|term| term.1 != 0.0).collect()
                };
                let of_row = Probe {
                    x: terms(&self.linear[row * n..(row + 1) * n]),
                    s: terms(&self.drive[row * sources..(row + 1) * sources]),
                    rate: Few::new(),
                };
                without.add(&of_row, -share * factor);
            }
        }
        Some(without)
    }

    /// Rows with factors whose sum holds the rate of one store and of no other.
    fn rows_of_rate(&self, store: usize) -> Option<Vec<(usize, f64)>> {
        let mut rows: Vec<usize> = self
            .stores
            .iter()
            .flat_map(|store| store.charge.iter().map(|term| term.0))
            .collect();
        rows.sort_unstable();
        rows.dedup();
        // One equation a store, one unknown a row: `Σ_row y_row a_row,k = δ_k,store`.
        let mut table: Vec<(Vec<f64>, f64)> = self
            .stores
            .iter()
            .enumerate()
            .map(|(k, of)| {
                let entry = |row: &usize| {
                    let own = of.charge.iter().filter(|term| term.0 == *row);
                    own.map(|term| term.1).sum::<f64>()
                };
                (
                    rows.iter().map(entry).collect(),
                    f64::from(u8::from(k == store)),
                )
            })
            .collect();
        let mut pivots = Vec::new();
        for k in 0..table.len() {
            let column = (0..rows.len()).find(|&c| table[k].0[c] != 0.0)?;
            pivots.push(column);
            let (pivot_row, pivot_right) = table[k].clone();
            for (other, (row, right)) in table.iter_mut().enumerate() {
                let factor = row[column] / pivot_row[column];
                if other == k || factor == 0.0 {
                    continue;
                }
                for (value, pivot) in row.iter_mut().zip(&pivot_row) {
                    *value -= factor * pivot;
                }
                row[column] = 0.0;
                *right -= factor * pivot_right;
            }
        }
        let solved = pivots
            .iter()
            .zip(&table)
            .map(|(&column, (row, right))| (rows[column], right / row[column]));
        Some(solved.filter(|term| term.1 != 0.0).collect())
    }

    /// A probe of the unreduced system in terms of this one.
    fn of_this(&self, full: &Probe) -> Probe {
        let Some(unreduced) = &self.unreduced else {
            return full.clone();
        };
        let mut probe = Probe {
            x: Few::new(),
            s: full.s.clone(),
            rate: full.rate.clone(),
        };
        for &(unknown, factor) in &full.x {
            probe.add(&unreduced[unknown], factor);
        }
        probe
    }
}

impl Probe {
    /// The sum of probes with factors.
    pub fn sum(terms: &[(&Probe, f64)]) -> Self {
        let mut probe = Probe::default();
        for (term, factor) in terms {
            probe.add(term, *factor);
        }
        probe
    }

    pub(crate) fn add(&mut self, other: &Probe, factor: f64) {
        add_terms(&mut self.x, &other.x, factor);
        add_terms(&mut self.s, &other.s, factor);
        add_terms(&mut self.rate, &other.rate, factor);
    }

    /// Value at unknowns, sources and rates (in 1/s).
    pub(crate) fn at(&self, x: &[f64], s: &[f64], rate: &[f64]) -> f64 {
        dot(&self.x, x) + dot(&self.s, s) + dot(&self.rate, rate)
    }

    /// The same with its rates counted per cycle instead of per second.
    pub(crate) fn per_cycle(mut self, frequency: f64) -> Self {
        for (_, factor) in &mut self.rate {
            *factor *= frequency;
        }
        self
    }

    /// The part that depends on the unknowns.
    pub(crate) fn linear(&self, x: &[f64]) -> f64 {
        dot(&self.x, x)
    }
}

impl Device {
    /// `ρ` and its slopes at inputs.
    pub(crate) fn residual(&self, u: &[f64; 3]) -> (f64, [f64; 3]) {
        match &self.law {
            Law::Diode(law) => {
                let (rho, [dv, di]) = law.residual(u[0], u[1]);
                (rho, [dv, di, 0.0])
            }
            Law::Load(law) => {
                let (current, slope) = law.current(u[0]);
                (u[1] - current, [-slope, 1.0, 0.0])
            }
            Law::Pass(law) => {
                let (current, [da, dh]) = law.pass(u[0], u[1]);
                (u[2] - current, [-da, -dh, 1.0])
            }
        }
    }

    /// Whether a straight piece of the law holds at one of two inputs and another at the other.
    pub(crate) fn is_on_another_piece(&self, from: &[f64; 3], to: &[f64; 3]) -> bool {
        match &self.law {
            Law::Diode(law) => law.conducts(from[0], from[1]) != law.conducts(to[0], to[1]),
            Law::Load(_) | Law::Pass(_) => false,
        }
    }

    /// Whether it is a load that may let go, as [`LoadLaw::let_go`] has it.
    pub(crate) fn may_let_go(&self) -> bool {
        matches!(self.law, Law::Load(LoadLaw::Power { .. }))
    }

    /// Inputs at which to linearise next.
    pub(crate) fn limit(&self, last: &[f64; 3], proposed: &[f64; 3]) -> [f64; 3] {
        match &self.law {
            Law::Diode(law) => [law.limit(last[0], proposed[0]), proposed[1], 0.0],
            Law::Load(_) | Law::Pass(_) => *proposed,
        }
    }
}

fn dot(terms: &[(usize, f64)], values: &[f64]) -> f64 {
    terms
        .iter()
        .map(|&(index, factor)| factor * values[index])
        .sum()
}

fn add_terms(into: &mut Few, terms: &[(usize, f64)], factor: f64) {
    for &(index, value) in terms {
        match into.iter_mut().find(|(known, _)| *known == index) {
            Some((_, sum)) => *sum += factor * value,
            None => into.push((index, factor * value)),
        }
    }
    into.retain(|(_, value)| *value != 0.0);
    into.sort_unstable_by_key(|(index, _)| *index);
}
