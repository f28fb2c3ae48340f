//! Exact derivatives of a cycle's figures against anything the equations depend on.
//!
//! A parameter enters as two systems a little to either side of the one solved. Only their *residuals*
//! at the known solution are compared, which are plain formulas; the solution's own derivative then
//! follows exactly from the linearised steps, and from the condition that the cycle stays closed. Peaks
//! and valleys move along their time derivative, which is zero there, so the derivative at the instant
//! of the extreme is that of the extreme.

use crate::dense::Lu;
use crate::orbit::Orbit;
use crate::signal::{Output, Signal};
use crate::step::{Stages, Stepper, inputs_at};
use crate::system::{Probe, System};

/// A parameter: the system with it a little higher and a little lower.
pub struct Direction<'a> {
    /// With the parameter higher. Reduced as the system solved ([`System::reduced_as`]).
    pub plus: &'a System,
    /// With the parameter lower.
    pub minus: &'a System,
    /// Difference of the parameter between the two, above 0.
    pub span: f64,
}

/// Derivative of each output (rows) against each parameter (columns).
///
/// `None` when the cycle has no derivative (its period map has a multiplier of one).
pub fn sensitivities(
    orbit: &Orbit<'_>,
    directions: &[Direction<'_>],
    outputs: &[Output],
) -> Option<Vec<Vec<f64>>> {
    let stores = orbit.start().len();
    let mut sums: Vec<Sum> = outputs
        .iter()
        .map(|output| Sum::new(output, orbit, directions))
        .collect();
    let differences: Vec<Difference<'_>> = directions.iter().map(Difference::new).collect();
    let mut state = State::new(stores, directions.len());
    let record = orbit.record();
    let nodes = crate::step::Tableau::get();
    for (m, step) in record.steps.iter().enumerate() {
        // Extremes inside this step first: a step that ends there, from the same start.
        for sum in sums
            .iter_mut()
            .filter(|sum| sum.at.is_some_and(|at| at.0 == m))
        {
            let theta = sum.at.map_or(1.0, |at| at.1);
            let Some(part) = record.step_to(m, theta) else {
                continue;
            };
            let mut stepper = record.stepper();
            let moved = state.clone().advance(&mut stepper, &part, &differences);
            sum.take_instant(orbit.system(), &part, &moved);
        }
        let mut stepper = record.stepper();
        stepper.revisit(step).ok()?;
        let moved = state.advance(&mut stepper, step, &differences);
        for sum in &mut sums {
            sum.take_step(orbit.system(), step, &moved, &nodes.weights);
        }
    }
    let start = closing(&orbit.map, &state, stores)?;
    Some(sums.iter().map(|sum| sum.total(&start, stores)).collect())
}

/// Derivatives of the stores: against each store at the start of the cycle, then each parameter.
#[derive(Clone)]
struct State {
    stores: usize,
    moved: Vec<Vec<f64>>,
}

/// Derivatives of all unknowns, stores and rates at the stages of a step, one entry per direction.
struct Moved {
    x: Vec<[Vec<f64>; 3]>,
    rate: Vec<[Vec<f64>; 3]>,
}

impl State {
    fn new(stores: usize, parameters: usize) -> Self {
        let moved = (0..stores + parameters)
            .map(|index| {
                let mut unit = vec![0.0; stores];
                if index < stores {
                    unit[index] = 1.0;
                }
                unit
            })
            .collect();
        Self { stores, moved }
    }

    /// Carries all derivatives over a step that the stepper has just made.
    fn advance(
        &mut self,
        stepper: &mut Stepper<'_>,
        step: &Stages,
        differences: &[Difference<'_>],
    ) -> Moved {
        let system = stepper.system;
        let mut all = Moved {
            x: Vec::new(),
            rate: Vec::new(),
        };
        for index in 0..self.moved.len() {
            let direction = index
                .checked_sub(self.stores)
                .map(|parameter| &differences[parameter]);
            let residuals = direction.map(|d| d.residuals(stepper, step));
            let mut x: [Vec<f64>; 3] = Default::default();
            stepper.derivative(step.h, &self.moved[index], residuals.as_ref(), &mut x);
            // A store moves with the unknowns, and with the parameter's own part in it.
            let z: [Vec<f64>; 3] = std::array::from_fn(|i| {
                (0..self.stores)
                    .map(|k| {
                        let own = direction.map_or(0.0, |d| d.store(k, step, i));
                        system.stores[k].value.linear(&x[i]) + own
                    })
                    .collect()
            });
            let rate = std::array::from_fn(|i| {
                (0..self.stores)
                    .map(|k| {
                        stepper
                            .tableau
                            .rate(i, [z[0][k], z[1][k], z[2][k]], self.moved[index][k])
                            / step.h
                    })
                    .collect()
            });
            self.moved[index].clone_from(&z[2]);
            all.x.push(x);
            all.rate.push(rate);
        }
        all
    }
}

/// What differs between the two systems of a direction, found once.
struct Difference<'a> {
    direction: &'a Direction<'a>,
    /// (row, unknown, derivative) of the linear part.
    linear: Vec<(usize, usize, f64)>,
    /// (row, source, derivative).
    drive: Vec<(usize, usize, f64)>,
    /// Devices whose curve or inputs differ.
    devices: Vec<usize>,
    /// Whether stores or the frequency differ: then whole residuals are compared.
    stores: bool,
}

impl<'a> Difference<'a> {
    fn new(direction: &'a Direction<'a>) -> Self {
        let (plus, minus) = (direction.plus, direction.minus);
        let entries = |a: &[f64], b: &[f64], width: usize| -> Vec<(usize, usize, f64)> {
            let pairs = a.iter().zip(b).enumerate().filter(|(_, (a, b))| a != b);
            pairs
                .map(|(k, (a, b))| (k / width, k % width, (a - b) / direction.span))
                .collect()
        };
        let differs = |d: &usize| {
            let (p, m) = (&plus.devices[*d], &minus.devices[*d]);
            p.law != m.law || p.inputs != m.inputs
        };
        Self {
            direction,
            linear: entries(&plus.linear, &minus.linear, plus.n.max(1)),
            drive: entries(&plus.drive, &minus.drive, plus.sources.len().max(1)),
            devices: (0..plus.devices.len()).filter(differs).collect(),
            stores: plus.frequency != minus.frequency || plus.stores != minus.stores,
        }
    }

    /// Derivative of the residual at each stage, unknowns held.
    fn residuals(&self, stepper: &Stepper<'_>, step: &Stages) -> [Vec<f64>; 3] {
        let (plus, minus) = (self.direction.plus, self.direction.minus);
        std::array::from_fn(|i| {
            let span = self.direction.span;
            let mut residual = vec![0.0; plus.n];
            if self.stores {
                let above = stepper.residual_of_rows(plus, step, i);
                let below = stepper.residual_of_rows(minus, step, i);
                for ((residual, above), below) in residual.iter_mut().zip(&above).zip(&below) {
                    *residual = (above - below) / span;
                }
            } else {
                for &(row, unknown, slope) in &self.linear {
                    residual[row] += slope * step.x[i][unknown];
                }
                for &(row, source, slope) in &self.drive {
                    residual[row] += slope * step.s[i][source];
                }
            }
            for &d in &self.devices {
                // The law's own difference at the inputs between, and the law's slopes times that of the inputs: a
                // junction that moves by millivolts is no straight line.
                let (above, below) = (&plus.devices[d], &minus.devices[d]);
                let (high, low) = (inputs_at(above, step, i), inputs_at(below, step, i));
                let middle: [f64; 3] = std::array::from_fn(|m| 0.5 * (high[m] + low[m]));
                let ((rho_above, slopes_above), (rho_below, slopes_below)) =
                    (above.residual(&middle), below.residual(&middle));
                let mut slope = (rho_above - rho_below) / span;
                for m in 0..3 {
                    let between = 0.5 * (slopes_above[m] + slopes_below[m]);
                    slope += between * (high[m] - low[m]) / span;
                }
                residual[above.row] += slope;
            }
            residual
        })
    }

    /// Derivative of a store at a stage, unknowns held.
    fn store(&self, k: usize, step: &Stages, i: usize) -> f64 {
        if !self.stores {
            return 0.0;
        }
        let value = |system: &System| system.stores[k].value.at(&step.x[i], &step.s[i], &[]);
        (value(self.direction.plus) - value(self.direction.minus)) / self.direction.span
    }
}

/// One signal as a probe of the system solved, and how that probe itself moves with each parameter.
struct Read {
    probe: Probe,
    /// Rates per cycle, unlike those of `probe`: the frequency is one of the parameters.
    drift: Vec<Probe>,
}

impl Read {
    fn new(signal: &Signal, system: &System, directions: &[Direction<'_>]) -> Self {
        let drift = directions
            .iter()
            .map(|d| {
                let (plus, minus) = (signal.probe(d.plus), signal.probe(d.minus));
                Probe::sum(&[
                    (&plus.per_cycle(d.plus.frequency), 1.0 / d.span),
                    (&minus.per_cycle(d.minus.frequency), -1.0 / d.span),
                ])
            })
            .collect();
        Self {
            probe: signal.probe(system),
            drift,
        }
    }

    /// Its derivative at a stage.
    fn moved(&self, system: &System, step: &Stages, i: usize, moved: &Moved, index: usize) -> f64 {
        let rates: f64 = self
            .probe
            .rate
            .iter()
            .map(|&(k, f)| f * system.frequency * moved.rate[index][i][k])
            .sum();
        let own = index
            .checked_sub(moved.x.len() - self.drift.len())
            .map_or(0.0, |parameter| {
                self.drift[parameter].at(&step.x[i], &step.s[i], &step.rate[i])
            });
        self.probe.linear(&moved.x[index][i]) + rates + own
    }

    fn value(&self, system: &System, step: &Stages, i: usize) -> f64 {
        let rates: f64 = self
            .probe
            .rate
            .iter()
            .map(|&(k, f)| f * system.frequency * step.rate[i][k])
            .sum();
        self.probe.at(&step.x[i], &step.s[i], &[]) + rates
    }
}

/// An output's derivative as it adds up.
struct Sum {
    /// What is multiplied and integrated: `Σ a b`, or a single `a` with weight 1.
    terms: Vec<(Read, Option<Read>)>,
    /// Taken off before squaring (ripple), and divided by at the end (rms).
    offset: f64,
    divisor: f64,
    square: bool,
    /// Instant of an extreme: step and share of its length.
    at: Option<(usize, f64)>,
    parts: Vec<f64>,
}

impl Sum {
    fn new(output: &Output, orbit: &Orbit<'_>, directions: &[Direction<'_>]) -> Self {
        let system = orbit.system();
        let read = |signal: &Signal| Read::new(signal, system, directions);
        let count = orbit.start().len() + directions.len();
        let mut sum = Self {
            terms: Vec::new(),
            offset: 0.0,
            divisor: 1.0,
            square: false,
            at: None,
            parts: vec![0.0; count],
        };
        match output {
            Output::Mean(signal) => sum.terms.push((read(signal), None)),
            Output::Rms(signal) => {
                sum.square = true;
                sum.divisor = orbit.rms(&signal.probe(system));
                sum.terms.push((read(signal), None));
            }
            Output::RippleRms(signal) => {
                sum.square = true;
                sum.offset = orbit.mean(&signal.probe(system));
                sum.divisor = orbit.ripple_rms(&signal.probe(system));
                sum.terms.push((read(signal), None));
            }
            Output::Peak(signal) | Output::Valley(signal) => {
                let probe = signal.probe(system);
                let extreme = match output {
                    Output::Peak(_) => orbit.peak(&probe),
                    _ => orbit.valley(&probe),
                };
                sum.at = Some(ending_at(orbit, extreme.at));
                sum.terms.push((read(signal), None));
            }
            Output::Power(element) => {
                for (voltage, current) in system.port_signals(*element) {
                    sum.terms.push((read(&voltage), Some(read(&current))));
                }
            }
        }
        sum
    }

    fn take_instant(&mut self, system: &System, step: &Stages, moved: &Moved) {
        for index in 0..self.parts.len() {
            self.parts[index] = self.terms[0].0.moved(system, step, 2, moved, index);
        }
    }

    fn take_step(&mut self, system: &System, step: &Stages, moved: &Moved, weights: &[f64; 3]) {
        if self.at.is_some() {
            return;
        }
        for (a, b) in &self.terms {
            for (i, weight) in weights.iter().enumerate() {
                let value = a.value(system, step, i);
                let other = b.as_ref().map(|b| b.value(system, step, i));
                for index in 0..self.parts.len() {
                    let change = a.moved(system, step, i, moved, index);
                    let part = match (b, other) {
                        (Some(b), Some(other)) => {
                            change * other + value * b.moved(system, step, i, moved, index)
                        }
                        _ if self.square => (value - self.offset) * change,
                        _ => change,
                    };
                    self.parts[index] += step.h * weight * part;
                }
            }
        }
    }

    /// Derivatives against the parameters, the start of the cycle moving so that it stays closed.
    fn total(&self, start: &[Vec<f64>], stores: usize) -> Vec<f64> {
        start
            .iter()
            .enumerate()
            .map(|(parameter, moved)| {
                let through: f64 = (0..stores).map(|k| self.parts[k] * moved[k]).sum();
                (self.parts[stores + parameter] + through) / self.divisor
            })
            .collect()
    }
}

/// The step that an instant lies in and how far, never at its very start: there the step before ends.
fn ending_at(orbit: &Orbit<'_>, cycles: f64) -> (usize, f64) {
    let (m, theta) = orbit.record().locate(cycles);
    if theta > 1e-6 {
        return (m, theta);
    }
    let before = if m == 0 {
        orbit.record().steps.len() - 1
    } else {
        m - 1
    };
    (before, 1.0)
}

/// How the stores at the start must move with each parameter for the cycle to stay closed.
fn closing(map: &[f64], state: &State, stores: usize) -> Option<Vec<Vec<f64>>> {
    let parameters = &state.moved[stores..];
    if stores == 0 {
        return Some(vec![Vec::new(); parameters.len()]);
    }
    let mut matrix: Vec<f64> = map.iter().map(|v| -v).collect();
    for k in 0..stores {
        matrix[k * stores + k] += 1.0;
    }
    let mut lu = Lu::default();
    lu.factor(&matrix, stores).ok()?;
    Some(
        parameters
            .iter()
            .map(|drift| {
                let mut start = vec![0.0; stores];
                lu.solve(drift, &mut start);
                start
            })
            .collect(),
    )
}
