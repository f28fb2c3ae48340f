//! Whether diodes are in series with other ports, so that their currents are known once those are.
//!
//! Newton's method then leaves out what is not of the same stage: as good as nothing, by the solved circuit's figures, and
//! those near it have the same parts.

use super::super::law::LaneLaw;
use super::eight::Eight;
use super::linear::Linear;
use super::plan::{Arrangement, LONGEST, Port};

/// What may be left out of a row, as a share of the largest of what stays.
const ASIDE: f64 = 1e-6;
/// The same of what voltages of such diodes make of their currents, as a share of a diode's leakage: where it blocks, that
/// alone tells its voltage.
const LEAKS_ASIDE: f64 = 1e-3;

/// Whether the currents of the last so many ports are told by those before, and these see their voltages, at the same stage
/// of a step alone.
pub(super) fn is_told(of: (&Linear, &Eight), arrangement: &Arrangement, told: usize) -> bool {
    let ports = &arrangement.ports;
    let first = ports.len() - told;
    ports.iter().enumerate().all(|(k, port)| {
        let rows = others(of, port);
        rows.iter().all(|row| {
            let beside = Beside::of(of.0, row, ports.len());
            if k < first {
                (first..ports.len()).all(|other| beside.is_of_its_stage(other))
            } else {
                let may = LEAKS_ASIDE * leakage(of.1, port);
                (0..first).all(|other| beside.is_of_its_stage(other))
                    && (first..ports.len()).all(|other| beside.leaks(k, other) <= may)
            }
        })
    })
}

/// Rows of the inputs of a port that are not its coordinate.
fn others((linear, eight): (&Linear, &Eight), port: &Port) -> Vec<Vec<f64>> {
    let inputs = eight.devices[port.device].inputs.iter().enumerate();
    let others = inputs.filter(|(input, _)| *input != port.coordinate);
    let rows = others.map(|(_, input)| {
        let mut row = Vec::new();
        linear.read(eight, *input, &mut row);
        row.iter().map(|value| value.0[0]).collect()
    });
    rows.collect()
}

fn leakage(eight: &Eight, port: &Port) -> f64 {
    match &eight.devices[port.device].law {
        LaneLaw::Diode { leakage, .. } => leakage.0[0],
        _ => 0.0,
    }
}

/// What coordinates make of an input: at the same stage of a step, and by way of the stores at others.
struct Beside {
    here: Vec<f64>,
    /// In the longest step.
    elsewhere: Vec<f64>,
    largest: f64,
}

impl Beside {
    fn of(linear: &Linear, row: &[f64], ports: usize) -> Self {
        let (stores, columns) = (linear.sizes.stores, linear.sizes.columns());
        let here: Vec<f64> = row[stores..][..ports].iter().map(|v| v.abs()).collect();
        let by_stores = |port: usize| {
            let rate = |store: usize| linear.rates[store * columns + stores + port].0[0];
            let ways = (0..stores).map(|store| (row[store] * rate(store)).abs());
            LONGEST * ways.sum::<f64>()
        };
        Self {
            elsewhere: (0..ports).map(by_stores).collect(),
            largest: here.iter().copied().fold(0.0, f64::max),
            here,
        }
    }

    fn is_of_its_stage(&self, port: usize) -> bool {
        self.elsewhere[port] <= ASIDE * self.largest
    }

    /// What a voltage makes of the current of a diode in series with others; of its own at the same stage is kept.
    fn leaks(&self, own: usize, other: usize) -> f64 {
        let here = if other == own { 0.0 } else { self.here[other] };
        here + self.elsewhere[other]
    }
}
