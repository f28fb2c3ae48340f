//! The circuit as its small signals see it, at one frequency: every curve replaced by its slope.
//!
//! One island at a time: what a transformer isolates is left out, and a winding is its own copper and leakage. A rectifier's
//! slope is the mean over the cycle; of an exponential diode that is its mean current over `nVt`. Regulators follow their
//! set point at once: a data sheet's noise is that of the closed loop, so the loop does not shape it a second time.

use crate::circuit::{Circuit, Element, ElementId, Node, Sense};
use crate::complex::{Complex, solve};
use crate::diode::DiodeLaw;
use crate::regulator::{RegulatorLaw, Transfer};
use crate::transistor::TransistorLaw;
use std::collections::BTreeMap;

/// Means over the cycle at which a curve is replaced by its slope.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Operating {
    /// Mean current, A: of a diode forward, of a regulator its pass element's.
    pub amps: f64,
    /// Mean voltage, V: of a load across it, of a regulator input minus output.
    pub volts: f64,
    /// Mean current of a transistor's base, A.
    pub base: f64,
}

/// Small signals of an island.
pub struct Network {
    /// Unknown of each node of the circuit; `None` for the reference and all outside the island.
    unknown: Vec<Option<usize>>,
    inside: Vec<bool>,
    size: usize,
    branches: Vec<Branch>,
}

struct Branch {
    id: ElementId,
    ends: (Node, Node),
    kind: Kind,
}

enum Kind {
    Conductance(f64),
    Capacitor { farads: f64, esr: f64, leakage: f64 },
    Inductor { henries: f64, ohms: f64 },
    Follower(Box<Follower>),
    Transistor(Transistor),
}

/// Ends of its branch are collector and emitter.
struct Transistor {
    base: Node,
    /// Slopes of its junctions, S.
    emitter: f64,
    collector: f64,
    forward: f64,
    reverse: f64,
    feedback: f64,
}

struct Follower {
    reference: Node,
    sense: Sense,
    /// Output current against the set point, S.
    set: f64,
    /// Output current against input minus output, S.
    through: f64,
    rejection: Transfer,
}

/// What reaches the observed pair of nodes at one frequency, from anywhere.
pub struct Reach<'n> {
    network: &'n Network,
    omega: f64,
    /// Volts observed for an ampere into each unknown.
    volts: Vec<Complex>,
}

/// Conductance that ties every node, S: what no path reaches stays at the reference.
const TIE: f64 = 1e-15;
/// Largest conductance of a slope, S.
const STEEPEST: f64 = 1e6;

impl Network {
    /// The island of a node, which is the reference of its voltages.
    pub fn of(
        circuit: &Circuit,
        reference: Node,
        operating: &BTreeMap<ElementId, Operating>,
    ) -> Self {
        let island = circuit.island_of(reference);
        let mut inside = vec![false; circuit.node_count()];
        for node in &island {
            inside[node.0] = true;
        }
        let joined = joined(circuit, &inside);
        let mut unknown = vec![None; circuit.node_count()];
        let mut size = 0;
        for node in &island {
            let root = joined[node.0];
            if root == joined[reference.0] {
                continue;
            }
            if unknown[root].is_none() {
                unknown[root] = Some(size);
                size += 1;
            }
            unknown[node.0] = unknown[root];
        }
        let mut branches = Vec::new();
        for id in circuit.ids() {
            let at = operating.get(&id).copied().unwrap_or_default();
            for (ends, kind) in branches_of(circuit.element(id), at) {
                if inside[ends.0.0] {
                    branches.push(Branch { id, ends, kind });
                }
            }
        }
        Self {
            unknown,
            inside,
            size,
            branches,
        }
    }

    /// Whether a node belongs to the island.
    pub fn holds(&self, node: Node) -> bool {
        self.inside[node.0]
    }

    /// What reaches the voltage of `plus` against `minus` at a frequency; `None` where the equations leave it open.
    pub fn reach(&self, plus: Node, minus: Node, hertz: f64) -> Option<Reach<'_>> {
        let n = self.size;
        let omega = 2.0 * std::f64::consts::PI * hertz;
        // Transposed, so that one solution tells what an ampere anywhere does to the observed pair.
        let mut matrix = vec![Complex::ZERO; n * n];
        let mut add = |row: Option<usize>, column: Option<usize>, value: Complex| {
            if let (Some(row), Some(column)) = (row, column) {
                matrix[column * n + row] += value;
            }
        };
        for k in 0..n {
            add(Some(k), Some(k), Complex::real(TIE));
        }
        for branch in &self.branches {
            let (a, b) = (self.unknown[branch.ends.0.0], self.unknown[branch.ends.1.0]);
            let mut across =
                |from: Option<usize>, to: Option<usize>, of: &[(Option<usize>, Complex)]| {
                    for &(node, value) in of {
                        add(from, node, value);
                        add(to, node, -value);
                    }
                };
            match &branch.kind {
                Kind::Follower(follower) => {
                    // Current from input to output: set (e + H (v_in − v_ref) − seen) + through (v_in − v_out)
                    let common = self.unknown[follower.reference.0];
                    let h = transfer(&follower.rejection, omega) * follower.set;
                    let set = Complex::real(follower.set);
                    let through = Complex::real(follower.through);
                    let local = follower.sense.local;
                    let (plus, minus) = (
                        self.unknown[follower.sense.plus.0],
                        self.unknown[follower.sense.minus.0],
                    );
                    let of = [
                        (a, h + through),
                        (b, -(set * local + through)),
                        (plus, set * (local - 1.0)),
                        (minus, set),
                        (common, -h),
                    ];
                    across(a, b, &of);
                }
                Kind::Transistor(t) => {
                    let base = self.unknown[t.base.0];
                    let real = Complex::real;
                    let forward = [
                        (base, real(t.emitter * (1.0 - t.feedback))),
                        (a, real(t.emitter * t.feedback)),
                        (b, real(-t.emitter)),
                    ];
                    let reverse = [(base, real(t.collector)), (a, real(-t.collector))];
                    across(base, b, &forward);
                    across(a, base, &forward.map(|(k, y)| (k, y * t.forward)));
                    across(base, a, &reverse);
                    across(b, base, &reverse.map(|(k, y)| (k, y * t.reverse)));
                }
                kind => {
                    let y = admittance(kind, omega);
                    across(a, b, &[(a, y), (b, -y)]);
                }
            }
        }
        let mut volts = vec![Complex::ZERO; n];
        if let Some(k) = self.unknown[plus.0] {
            volts[k] += Complex::ONE;
        }
        if let Some(k) = self.unknown[minus.0] {
            volts[k] -= Complex::ONE;
        }
        solve(&mut matrix, &mut volts)?;
        Some(Reach {
            network: self,
            omega,
            volts,
        })
    }
}

impl Reach<'_> {
    /// Volts observed for an ampere into `a` and out of `b`.
    pub fn of_current(&self, a: Node, b: Node) -> Complex {
        let at = |node: Node| self.network.unknown[node.0].map_or(Complex::ZERO, |k| self.volts[k]);
        at(a) - at(b)
    }

    /// Volts observed for a volt in series with an element of two ends; of a regulator with its set point, of a transistor with
    /// its base.
    pub fn of_series(&self, id: ElementId) -> Complex {
        let mut sum = Complex::ZERO;
        for branch in self
            .network
            .branches
            .iter()
            .filter(|branch| branch.id == id)
        {
            let (a, b) = branch.ends;
            sum += match &branch.kind {
                Kind::Follower(follower) => self.of_current(b, a) * follower.set,
                // In its base lead.
                Kind::Transistor(t) => {
                    let forward = Complex::real(t.emitter * (1.0 - t.feedback));
                    let reverse = Complex::real(t.collector);
                    (self.of_current(b, t.base) + self.of_current(t.base, a) * t.forward) * forward
                        + (self.of_current(a, t.base) + self.of_current(t.base, b) * t.reverse)
                            * reverse
                }
                kind => self.of_current(a, b) * admittance(kind, self.omega),
            };
        }
        sum
    }
}

fn admittance(kind: &Kind, omega: f64) -> Complex {
    match *kind {
        Kind::Conductance(siemens) => Complex::real(siemens),
        Kind::Capacitor {
            farads,
            esr,
            leakage,
        } => {
            // jωC/(1 + jωC esr) + leakage
            let jwc = Complex::new(0.0, omega * farads);
            jwc / (Complex::ONE + jwc * esr) + Complex::real(leakage)
        }
        Kind::Inductor { henries, ohms } => {
            let z = Complex::new(ohms, omega * henries);
            let least = 1.0 / STEEPEST;
            if z.size() < least {
                return Complex::real(STEEPEST);
            }
            Complex::ONE / z
        }
        Kind::Follower(_) | Kind::Transistor(_) => Complex::ZERO,
    }
}

/// `H(jω)` of a transfer.
pub fn transfer(transfer: &Transfer, omega: f64) -> Complex {
    let mut sum = Complex::real(transfer.direct);
    for &(gain, pole) in &transfer.sections {
        sum += Complex::real(gain) / Complex::new(pole, omega);
    }
    sum
}

/// Branches of an element at its operating means.
fn branches_of(element: &Element, at: Operating) -> Vec<((Node, Node), Kind)> {
    let resistor = |ohms: f64| Kind::Conductance(1.0 / ohms);
    match element {
        // A stiff source is a short to small signals: its ends are joined.
        Element::Source {
            plus, minus, ohms, ..
        } if *ohms > 0.0 => vec![((*plus, *minus), resistor(*ohms))],
        Element::Resistor { a, b, ohms } if *ohms > 0.0 => vec![((*a, *b), resistor(*ohms))],
        Element::Source { .. } | Element::Resistor { .. } | Element::Drain { .. } => Vec::new(),
        Element::Capacitor {
            a,
            b,
            farads,
            esr,
            leakage,
        } => vec![(
            (*a, *b),
            Kind::Capacitor {
                farads: *farads,
                esr: *esr,
                leakage: *leakage,
            },
        )],
        Element::Inductor {
            a,
            b,
            henries,
            ohms,
        } => vec![(
            (*a, *b),
            Kind::Inductor {
                henries: *henries,
                ohms: *ohms,
            },
        )],
        Element::Transformer { windings, .. } => windings
            .iter()
            .map(|winding| {
                let kind = Kind::Inductor {
                    henries: winding.leakage,
                    ohms: winding.ohms,
                };
                ((winding.start, winding.finish), kind)
            })
            .collect(),
        Element::Diode {
            anode,
            cathode,
            law,
        } => {
            let slope = diode_slope(law, at.amps);
            vec![((*anode, *cathode), Kind::Conductance(slope))]
        }
        Element::Load { plus, minus, law } => {
            let (_, slope) = law.current(at.volts);
            vec![((*plus, *minus), Kind::Conductance(slope))]
        }
        Element::Regulator {
            input,
            output,
            reference,
            sense,
            law,
        } => {
            let (set, through) = pass_slopes(law, at);
            let follower = Follower {
                reference: *reference,
                sense: sense.unwrap_or(Sense {
                    plus: *output,
                    minus: *reference,
                    local: 1.0,
                }),
                set,
                through,
                rejection: law.rejection.clone(),
            };
            vec![((*input, *output), Kind::Follower(Box::new(follower)))]
        }
        Element::Transistor {
            collector,
            base,
            emitter,
            law,
        } => {
            let kind = Kind::Transistor(transistor_slopes(law, *base, at));
            vec![((*collector, *emitter), kind)]
        }
    }
}

/// Slopes of a transistor at the mean currents of its collector and base. Small signals know no polarity.
fn transistor_slopes(law: &TransistorLaw, base: Node, at: Operating) -> Transistor {
    let (forward, reverse) = law.junctions(at.amps, at.base);
    Transistor {
        base,
        emitter: diode_slope(&law.emitter, forward),
        collector: diode_slope(&law.collector, reverse),
        forward: law.forward,
        reverse: law.reverse,
        feedback: law.feedback,
    }
}

/// Mean slope of a diode at its mean current.
fn diode_slope(law: &DiodeLaw, amps: f64) -> f64 {
    let slope = match *law {
        DiodeLaw::Exponential {
            saturation,
            slope_voltage,
            series,
            leakage,
        } => {
            let junction = ((amps + saturation) / slope_voltage).max(0.0) + leakage;
            junction / (1.0 + series * junction)
        }
        DiodeLaw::Ideal { slope, .. } if amps > 1e-9 => 1.0 / slope.max(1.0 / STEEPEST),
        DiodeLaw::Ideal { .. } => 0.0,
    };
    slope.min(STEEPEST)
}

/// Slopes of a regulator's output current, against the set point and against the headroom, where it delivers its mean
/// current at its mean headroom.
fn pass_slopes(law: &RegulatorLaw, at: Operating) -> (f64, f64) {
    let (mut low, mut high) = (-100.0 * law.softness, 10.0 * law.limit);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if law.pass(middle, at.volts).0 < at.amps {
            low = middle;
        } else {
            high = middle;
        }
    }
    let (_, [asked, headroom]) = law.pass(0.5 * (low + high), at.volts);
    (asked * law.transconductance, headroom)
}

/// Nodes that dead shorts make one: for each its lowest-numbered one.
fn joined(circuit: &Circuit, inside: &[bool]) -> Vec<usize> {
    let mut root: Vec<usize> = (0..circuit.node_count()).collect();
    loop {
        let mut changed = false;
        for element in circuit.elements() {
            let (a, b) = match element {
                Element::Resistor { a, b, ohms } if *ohms == 0.0 => (a, b),
                Element::Source {
                    plus, minus, ohms, ..
                } if *ohms == 0.0 => (plus, minus),
                _ => continue,
            };
            if !inside[a.0] {
                continue;
            }
            let low = root[a.0].min(root[b.0]);
            for node in [a, b] {
                changed |= root[node.0] != low;
                root[node.0] = low;
            }
        }
        if !changed {
            return root;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Network, Operating};
    use crate::circuit::{Circuit, Element, GROUND};
    use crate::regulator::{Dropout, RegulatorLaw, Transfer};
    use std::collections::BTreeMap;
    use std::f64::consts::PI;

    #[test]
    fn an_rc_is_an_rc() {
        let mut circuit = Circuit::new(50.0);
        let (a, b) = (circuit.node(), circuit.node());
        circuit.add(Element::Resistor {
            a,
            b: GROUND,
            ohms: 0.0,
        });
        let r = circuit.add(Element::Resistor { a, b, ohms: 1e3 });
        circuit.add(Element::Capacitor {
            a: b,
            b: GROUND,
            farads: 1e-6,
            esr: 0.0,
            leakage: 0.0,
        });
        let network = Network::of(&circuit, GROUND, &BTreeMap::new());
        let corner = 1.0 / (2.0 * PI * 1e-3);
        let reach = network.reach(b, GROUND, corner).expect("it is determined");
        assert!((reach.of_series(r).square() - 0.5).abs() < 1e-12);
        assert!((reach.of_current(b, GROUND).size() - 1e3 / 2.0_f64.sqrt()).abs() < 1e-8);
    }

    #[test]
    fn a_regulator_follows_its_set_point_and_rejects_its_input() {
        let mut circuit = Circuit::new(50.0);
        let (input, output) = (circuit.node(), circuit.node());
        let law = RegulatorLaw {
            set: 12.0,
            line: 17.0,
            rejection: Transfer {
                direct: 1e-3,
                sections: Vec::new(),
            },
            transconductance: 100.0,
            loop_time: 2e-5,
            dropout: Dropout::line(1.0, 0.5),
            limit: 2.0,
            softness: 2e-3,
            exponent: 8,
            quiescent: 0.0,
            is_negative: false,
        };
        let id = circuit.add(Element::Regulator {
            input,
            output,
            reference: GROUND,
            sense: None,
            law,
        });
        circuit.add(Element::Capacitor {
            a: input,
            b: GROUND,
            farads: 1e-3,
            esr: 0.0,
            leakage: 0.0,
        });
        circuit.add(Element::Resistor {
            a: output,
            b: GROUND,
            ohms: 100.0,
        });
        let at = |volts, amps| {
            let means = Operating {
                amps,
                volts,
                base: 0.0,
            };
            BTreeMap::from([(id, means)])
        };
        let network = Network::of(&circuit, GROUND, &at(5.0, 0.12));
        let reach = network
            .reach(output, GROUND, 1e3)
            .expect("it is determined");
        // 1/(1 + 1/(G R))
        let expected = 1.0 / (1.0 + 1.0 / (100.0 * 100.0));
        assert!(
            (reach.of_series(id).size() - expected).abs() < 1e-6,
            "{:?}",
            reach.of_series(id)
        );
        // An ampere into the input: what the reservoir makes of it, times the rejection.
        let raw = 1.0 / (2.0 * PI * 1e3 * 1e-3);
        let got = reach.of_current(input, GROUND).size();
        assert!((got / (raw * 1e-3 * expected) - 1.0).abs() < 1e-3, "{got}");
        // In dropout the input comes through, and the set point no longer does.
        let dropped = Network::of(&circuit, GROUND, &at(1.06, 0.12));
        let reach = dropped
            .reach(output, GROUND, 1e3)
            .expect("it is determined");
        assert!(reach.of_series(id).size() < 0.01);
        assert!(reach.of_current(input, GROUND).size() > 0.8 * raw);
    }
}
