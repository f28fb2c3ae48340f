//! Steps kept from a march, and values read from them.

use crate::step::{Stages, Start, Stepper, lagrange};
use crate::system::{Probe, System};
use std::cell::RefCell;

/// A value and when it occurs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extreme {
    /// The value.
    pub value: f64,
    /// Cycles.
    pub at: f64,
}

/// How far an extreme is chased: passes of a parabola through the best three points.
const REFINEMENTS: usize = 8;

/// How often the bracket around a crossing is narrowed; by halves it would take 43 from a whole cycle.
const BRACKETINGS: usize = 90;

/// All steps of a march, in order.
pub(crate) struct Record<'s> {
    pub(crate) system: &'s System,
    pub(crate) steps: Vec<Stages>,
    /// Whether the last step leads into the first.
    is_cycle: bool,
    stepper: RefCell<Stepper<'s>>,
}

impl<'s> Record<'s> {
    pub(crate) fn new(
        system: &'s System,
        steps: Vec<Stages>,
        is_cycle: bool,
        newton_tolerance: f64,
    ) -> Self {
        let mut stepper = Stepper::new(system);
        stepper.newton_tolerance = newton_tolerance;
        Self {
            system,
            steps,
            is_cycle,
            stepper: RefCell::new(stepper),
        }
    }

    /// The stepper, positioned on the step made last.
    pub(crate) fn stepper(&self) -> std::cell::RefMut<'_, Stepper<'s>> {
        self.stepper.borrow_mut()
    }

    /// A probe at a stage of a step.
    pub(crate) fn sample(&self, probe: &Probe, step: usize, stage: usize) -> f64 {
        value_at(self.system, probe, &self.steps[step], stage)
    }

    /// Integral over all steps, by the quadrature of the method itself.
    pub(crate) fn integral(&self, value: impl Fn(usize, usize) -> f64) -> f64 {
        let weights = self.stepper.borrow().tableau.weights;
        let mut sum = 0.0;
        for (m, step) in self.steps.iter().enumerate() {
            let mut part = 0.0;
            for (i, weight) in weights.iter().enumerate() {
                part += weight * value(m, i);
            }
            sum += step.h * part;
        }
        sum
    }

    /// All computed points, for a cycle its start included.
    pub(crate) fn points(&self, probe: &Probe) -> Vec<(f64, f64)> {
        let nodes = self.stepper.borrow().tableau.nodes;
        let mut points = Vec::with_capacity(3 * self.steps.len() + 1);
        if self.is_cycle {
            points.push((self.steps[0].t, self.sample(probe, self.steps.len() - 1, 2)));
        }
        for (m, step) in self.steps.iter().enumerate() {
            for (i, node) in nodes.iter().enumerate() {
                points.push((step.t + node * step.h, self.sample(probe, m, i)));
            }
        }
        points
    }

    /// Value at a time, by the polynomial of the step that covers it.
    pub(crate) fn value(&self, probe: &Probe, t: f64) -> f64 {
        let (m, theta) = self.locate(self.wrapped(t));
        let w = lagrange(theta, self.stepper.borrow().tableau);
        (0..3).map(|i| w[i] * self.sample(probe, m, i)).sum()
    }

    /// Value at a time by a step of the method that ends there: as exact as the solution itself.
    pub(crate) fn exact(&self, probe: &Probe, t: f64) -> f64 {
        let (m, theta) = self.locate(self.wrapped(t));
        match self.step_to(m, theta) {
            Some(found) => value_at(self.system, probe, &found, 2),
            None => self.value(probe, t),
        }
    }

    /// A step from the start of step `m` to a share `theta` of its length.
    pub(crate) fn step_to(&self, m: usize, theta: f64) -> Option<Stages> {
        let step = &self.steps[m];
        let h = theta * step.h;
        if h < 1e-14 {
            return None;
        }
        let last = match m {
            0 if self.is_cycle => self.steps.last(),
            0 => None,
            _ => Some(&self.steps[m - 1]),
        };
        let start = Start {
            t: step.t,
            z: &step.z_start,
            last,
        };
        self.stepper.borrow_mut().step(&start, h).ok()
    }

    /// Step that covers a time, and how far into it.
    pub(crate) fn locate(&self, t: f64) -> (usize, f64) {
        let m = self
            .steps
            .partition_point(|step| step.t <= t)
            .saturating_sub(1);
        (m, (t - self.steps[m].t) / self.steps[m].h)
    }

    fn wrapped(&self, t: f64) -> f64 {
        if self.is_cycle { t - t.floor() } else { t }
    }

    /// Chases the extreme nearest to the middle one of three points; `sign` is 1 for a peak.
    pub(crate) fn chase(&self, probe: &Probe, points: [(f64, f64); 3], sign: f64) -> Extreme {
        let [mut left, mut middle, mut right] = points.map(|(t, value)| (t, sign * value));
        let scale = middle.1.abs().max(1e-9);
        for _ in 0..REFINEMENTS {
            let Some(t) = vertex(left, middle, right) else {
                break;
            };
            let value = sign * self.exact(probe, t);
            let gain = (value - middle.1).abs();
            if value > middle.1 {
                if t < middle.0 {
                    right = middle;
                } else {
                    left = middle;
                }
                middle = (t, value);
            } else if t < middle.0 {
                left = (t, value);
            } else {
                right = (t, value);
            }
            if gain < 1e-13 * scale {
                break;
            }
        }
        Extreme {
            value: sign * middle.1,
            at: self.wrapped(middle.0),
        }
    }

    /// Time at which a probe crosses a level between two points on either side.
    pub(crate) fn crossing(&self, probe: &Probe, level: f64, a: (f64, f64), b: (f64, f64)) -> f64 {
        let (mut low, mut high) = ((a.0, a.1 - level), (b.0, b.1 - level));
        let mut bisect = false;
        for _ in 0..BRACKETINGS {
            let width = high.0 - low.0;
            if width < 1e-13 {
                break;
            }
            // By the chord; by the middle after a chord that gained little, as at the corner where an
            // ideal diode begins to conduct.
            let mut t = (low.0 * high.1 - high.0 * low.1) / (high.1 - low.1);
            if bisect || !(t > low.0 && t < high.0) {
                t = low.0 + 0.5 * width;
            }
            let value = self.exact(probe, t) - level;
            if value.abs() < 1e-12 * level.abs().max(1e-12) {
                return t;
            }
            if (value > 0.0) == (high.1 > 0.0) {
                high = (t, value);
            } else {
                low = (t, value);
            }
            bisect = high.0 - low.0 > 0.5 * width;
        }
        (low.0 * high.1 - high.0 * low.1) / (high.1 - low.1)
    }
}

/// A probe at a stage of a step.
fn value_at(system: &System, probe: &Probe, step: &Stages, stage: usize) -> f64 {
    let rates: f64 = probe
        .rate
        .iter()
        .map(|&(k, factor)| factor * system.frequency * step.rate[stage][k])
        .sum();
    let linear: f64 = probe
        .x
        .iter()
        .map(|&(k, factor)| factor * step.x[stage][k])
        .sum();
    let driven: f64 = probe
        .s
        .iter()
        .map(|&(k, factor)| factor * step.s[stage][k])
        .sum();
    linear + driven + rates
}

/// Top of the parabola through three points, if it lies between the outer two and apart from the middle.
fn vertex(a: (f64, f64), b: (f64, f64), c: (f64, f64)) -> Option<f64> {
    let (p, q) = (b.0 - a.0, c.0 - b.0);
    let (r, s) = ((b.1 - a.1) / p, (c.1 - b.1) / q);
    let curvature = (s - r) / (p + q);
    if !(curvature < 0.0 && p > 0.0 && q > 0.0) {
        return None;
    }
    // Slope at b of the parabola is (r q + s p)/(p + q).
    let t = b.0 - 0.5 * (r * q + s * p) / (p + q) / curvature;
    let apart = 1e-4 * (c.0 - a.0);
    if t <= a.0 || t >= c.0 || c.0 - a.0 < 1e-12 {
        return None;
    }
    // Too near the best point it would tell nothing new: step a little to the wider side.
    if (t - b.0).abs() < apart {
        return Some(if q > p { b.0 + apart } else { b.0 - apart });
    }
    Some(t)
}
