//! What can be read from a circuit, independent of how its equations are reduced.

use crate::circuit::{ElementId, Node};
use crate::system::{Probe, System};

/// Something that can be read at any instant.
#[derive(Clone, Debug, PartialEq)]
pub enum Signal {
    /// First node against the second, V.
    Voltage(Node, Node),
    /// Current through an element, first node to second; of a transformer through the numbered winding,
    /// A.
    Current(ElementId, usize),
    /// Input minus output of a regulator, V.
    Headroom(ElementId),
    /// Signals with factors.
    Sum(Vec<(Signal, f64)>),
}

/// A figure of a cycle.
#[derive(Clone, Debug, PartialEq)]
pub enum Output {
    /// Mean of a signal.
    Mean(Signal),
    /// Root mean square.
    Rms(Signal),
    /// Root mean square of the alternating part.
    RippleRms(Signal),
    /// Highest instant.
    Peak(Signal),
    /// Lowest instant.
    Valley(Signal),
    /// Mean power into an element, W.
    Power(ElementId),
}

impl Signal {
    /// The signal as a probe of a system.
    pub fn probe(&self, system: &System) -> Probe {
        match self {
            Signal::Voltage(plus, minus) => system.voltage(*plus, *minus),
            Signal::Current(element, winding) => system.winding_current(*element, *winding),
            Signal::Headroom(element) => system.headroom(*element).unwrap_or_default(),
            Signal::Sum(terms) => {
                let probes: Vec<(Probe, f64)> = terms
                    .iter()
                    .map(|(signal, factor)| (signal.probe(system), *factor))
                    .collect();
                let terms: Vec<(&Probe, f64)> = probes.iter().map(|(p, f)| (p, *f)).collect();
                Probe::sum(&terms)
            }
        }
    }
}
