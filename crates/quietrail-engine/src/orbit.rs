//! One mains cycle of the steady state, and what can be read from it.

use crate::circuit::ElementId;
use crate::march::Effort;
use crate::record::{Extreme, Record};
use crate::system::{Probe, System};

/// A periodic steady state: all steps of one cycle. Times are in cycles, 0 at the rising zero of the mains.
pub struct Orbit<'s> {
    record: Record<'s>,
    /// Derivative of the stores after a cycle against those before, row-major.
    pub(crate) map: Vec<f64>,
    /// Largest Floquet multiplier: what share of a disturbance is left after a cycle.
    pub floquet: f64,
    /// Work that the solution took.
    pub effort: Effort,
}

impl<'s> Orbit<'s> {
    pub(crate) fn new(record: Record<'s>, map: Vec<f64>, floquet: f64, effort: Effort) -> Self {
        Self {
            record,
            map,
            floquet,
            effort,
        }
    }

    /// The stores at the start of the cycle.
    pub fn start(&self) -> &[f64] {
        &self.record.steps[0].z_start
    }

    /// The system whose cycle this is.
    pub fn system(&self) -> &'s System {
        self.record.system
    }

    pub(crate) fn record(&self) -> &Record<'s> {
        &self.record
    }

    /// Mean over the cycle.
    pub fn mean(&self, probe: &Probe) -> f64 {
        let base = self.record.sample(probe, 0, 0);
        base + self
            .record
            .integral(|m, i| self.record.sample(probe, m, i) - base)
    }

    /// Mean of the product of two probes: power, when they are a voltage and its current.
    pub fn mean_product(&self, a: &Probe, b: &Probe) -> f64 {
        self.record
            .integral(|m, i| self.record.sample(a, m, i) * self.record.sample(b, m, i))
    }

    /// Root mean square.
    pub fn rms(&self, probe: &Probe) -> f64 {
        self.mean_product(probe, probe).sqrt()
    }

    /// Root mean square of the alternating part.
    pub fn ripple_rms(&self, probe: &Probe) -> f64 {
        let mean = self.mean(probe);
        self.record
            .integral(|m, i| {
                let ac = self.record.sample(probe, m, i) - mean;
                ac * ac
            })
            .sqrt()
    }

    /// Highest instant.
    pub fn peak(&self, probe: &Probe) -> Extreme {
        self.extreme(probe, 1.0)
    }

    /// Lowest instant.
    pub fn valley(&self, probe: &Probe) -> Extreme {
        self.extreme(probe, -1.0)
    }

    /// Mean power that goes into an element, W.
    pub fn power(&self, element: ElementId) -> f64 {
        let ports = self.system().ports(element);
        ports
            .iter()
            .map(|(voltage, current)| self.mean_product(voltage, current))
            .sum()
    }

    /// Value at a time, by the polynomial of the step that covers it.
    pub fn value(&self, probe: &Probe, cycles: f64) -> f64 {
        self.record.value(probe, cycles)
    }

    /// Share of the cycle during which the probe is above a level.
    pub fn share_above(&self, probe: &Probe, level: f64) -> f64 {
        self.spans_above(probe, level)
            .iter()
            .map(|(from, to)| to - from)
            .sum()
    }

    /// Stretches of the cycle during which the probe is above a level; one may begin before the end of
    /// the cycle and go on past 1.
    pub fn spans_above(&self, probe: &Probe, level: f64) -> Vec<(f64, f64)> {
        let points = self.record.points(probe);
        let mut crossings = Vec::new();
        for pair in points.windows(2) {
            let ((a, va), (b, vb)) = (pair[0], pair[1]);
            if (va > level) != (vb > level) {
                crossings.push((
                    self.record.crossing(probe, level, (a, va), (b, vb)),
                    vb > level,
                ));
            }
        }
        if crossings.is_empty() {
            let all = points.first().is_some_and(|(_, v)| *v > level);
            return if all { vec![(0.0, 1.0)] } else { Vec::new() };
        }
        let ups: Vec<f64> = crossings.iter().filter(|c| c.1).map(|c| c.0).collect();
        let downs: Vec<f64> = crossings.iter().filter(|c| !c.1).map(|c| c.0).collect();
        ups.iter()
            .map(|&up| {
                let down = downs.iter().copied().find(|&down| down > up);
                (up, down.unwrap_or_else(|| downs[0] + 1.0))
            })
            .collect()
    }

    /// What the circuit's elements take less what its sources give, as a share of the latter.
    pub fn energy_balance(&self) -> f64 {
        let (mut sum, mut given) = (0.0, 0.0);
        for element in (0..self.system().element_count()).map(ElementId) {
            let power = self.power(element);
            sum += power;
            if power < 0.0 {
                given -= power;
            }
        }
        if given > 0.0 {
            sum.abs() / given
        } else {
            sum.abs()
        }
    }

    /// Largest mean current of a capacitor as a share of its rms current: zero, were all exact.
    pub fn charge_balance(&self) -> f64 {
        let mut worst: f64 = 0.0;
        for k in 0..self.system().stores.len() {
            let Some(current) = self.system().charging_current(k) else {
                continue;
            };
            let rms = self.rms(&current);
            if rms > 1e-12 {
                worst = worst.max(self.mean(&current).abs() / rms);
            }
        }
        worst
    }

    fn extreme(&self, probe: &Probe, sign: f64) -> Extreme {
        let points = self.record.points(probe);
        let count = points.len() - 1; // the last point is the first again
        let best = most(&points[..count], sign);
        let before = if best == 0 {
            (points[count - 1].0 - 1.0, points[count - 1].1)
        } else {
            points[best - 1]
        };
        self.record
            .chase(probe, [before, points[best], points[best + 1]], sign)
    }
}

/// Index of the highest (`sign` 1) or lowest (−1) of some points; the first of equals.
pub(crate) fn most(points: &[(f64, f64)], sign: f64) -> usize {
    let mut best = 0;
    for (k, point) in points.iter().enumerate() {
        if sign * point.1 > sign * points[best].1 {
            best = k;
        }
    }
    best
}
