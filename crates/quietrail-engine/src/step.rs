//! One implicit step in time: three-stage Radau IIA, order five, stiffly accurate.
//!
//! Hairer and Wanner, *Solving Ordinary Differential Equations II*, 2nd ed. 1996, section IV.8, for the
//! method and its error estimate. Every stage has its own exact Jacobian; the stages couple only through
//! the few stores, so a Newton iteration factors three matrices of the size of the circuit and one of
//! three times the number of stores.

use crate::batch::lanes::Lanes;
use crate::dense::Lu;
use crate::load::LoadLaw;
use crate::system::{Device, Kind, Law, Place, System};
use std::cmp::Ordering;
use std::sync::LazyLock;

/// Newton iterations before a step is given up and halved.
pub(crate) const ITERATIONS: usize = 14;

/// Length of step, in cycles, from which on making it shorter is no help.
pub(crate) const LAST_RESORT: f64 = 2e-9;
/// Iteration of so short a step in which loads that are not at rest are let go, and how many are made then.
const LETS_GO_AT: usize = 6;
const MOST_ON_THE_WAY: usize = 80;

/// Newton updates above this share of an unknown never end the iteration, however short the step.
pub(crate) const LOOSEST: f64 = 1e-3;

/// The point that a step starts from.
#[derive(Clone, Debug)]
pub(crate) struct Start<'a> {
    /// Cycles.
    pub(crate) t: f64,
    /// Stores.
    pub(crate) z: &'a [f64],
    /// The step that ended here, for a first guess.
    pub(crate) last: Option<&'a Stages>,
}

/// What a step found at its three stages (the last one is its end).
#[derive(Clone, Debug, Default)]
pub(crate) struct Stages {
    /// Cycles at the start.
    pub(crate) t: f64,
    /// Length in cycles.
    pub(crate) h: f64,
    /// Stores at the start.
    pub(crate) z_start: Vec<f64>,
    /// Unknowns at each stage.
    pub(crate) x: [Vec<f64>; 3],
    /// Stores at each stage.
    pub(crate) z: [Vec<f64>; 3],
    /// Rates of the stores, per cycle.
    pub(crate) rate: [Vec<f64>; 3],
    /// Sources.
    pub(crate) s: [Vec<f64>; 3],
    /// Linearisation points of the devices at the end.
    inputs: Vec<[f64; 3]>,
}

/// Why a step could not be made at this length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum StepFailure {
    Singular(Place),
    NoConvergence(Place),
    NotFinite(Place),
}

/// Coefficients of the method.
pub(crate) struct Tableau {
    pub(crate) nodes: [f64; 3],
    /// Weights of the quadrature, also the last row of the Runge–Kutta matrix.
    pub(crate) weights: [f64; 3],
    /// Inverse of the Runge–Kutta matrix.
    pub(crate) inverse: [[f64; 3]; 3],
    /// Real eigenvalue's reciprocal and the estimate's factors (Hairer and Wanner, eq. 8.17 to 8.19).
    pub(crate) gamma: f64,
    pub(crate) estimate: [f64; 3],
    /// The Runge–Kutta matrix.
    pub(crate) method: [[f64; 3]; 3],
}

/// The method's coefficients, worked out once.
static METHOD: LazyLock<Tableau> = LazyLock::new(Tableau::worked_out);

impl Tableau {
    /// Those of the method.
    pub(crate) fn get() -> &'static Self {
        &METHOD
    }

    fn worked_out() -> Self {
        let r = 6.0_f64.sqrt();
        let a = [
            [
                (88.0 - 7.0 * r) / 360.0,
                (296.0 - 169.0 * r) / 1800.0,
                (-2.0 + 3.0 * r) / 225.0,
            ],
            [
                (296.0 + 169.0 * r) / 1800.0,
                (88.0 + 7.0 * r) / 360.0,
                (-2.0 - 3.0 * r) / 225.0,
            ],
            [(16.0 - r) / 36.0, (16.0 + r) / 36.0, 1.0 / 9.0],
        ];
        let gamma = (6.0 + 81.0_f64.cbrt() - 9.0_f64.cbrt()) / 30.0;
        let third = gamma / 3.0;
        Self {
            nodes: [(4.0 - r) / 10.0, (4.0 + r) / 10.0, 1.0],
            weights: a[2],
            inverse: inverse(&a),
            gamma,
            estimate: [third * (-13.0 - 7.0 * r), third * (-13.0 + 7.0 * r), -third],
            method: a,
        }
    }

    /// Rate at stage `i` times the step length, from a store's values at the stages and the start.
    pub(crate) fn rate(&self, i: usize, z: [f64; 3], start: f64) -> f64 {
        let d = &self.inverse[i];
        d[0] * (z[0] - start) + d[1] * (z[1] - start) + d[2] * (z[2] - start)
    }
}

/// Makes steps, keeping its storage from one to the next.
pub(crate) struct Stepper<'s> {
    pub(crate) system: &'s System,
    pub(crate) tableau: &'static Tableau,
    stages: [Stage; 3],
    coupled: Lu,
    coupled_matrix: Vec<f64>,
    /// Newton updates below this share of each unknown's size end the iteration.
    pub(crate) newton_tolerance: f64,
    /// Newton iterations so far.
    pub(crate) iterations: u64,
    residual: Vec<f64>,
    matrix: Vec<f64>,
    largest_current: f64,
    loads: Loads,
}

/// How loads are treated that no step is short enough for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Loads {
    /// As all devices.
    Held,
    /// Those that are not at rest are let go.
    LetGo,
    /// They have been.
    OnTheirWay,
}

#[derive(Default)]
struct Stage {
    inputs: Vec<[f64; 3]>,
    lu: Lu,
    /// `B⁻¹ [A, −r]`, row-major: a column per store, and the update last.
    response: Vec<f64>,
    /// `b B⁻¹ A`, stores × stores.
    store_response: Vec<f64>,
    /// `−B⁻¹ r`
    update: Vec<f64>,
}

impl<'s> Stepper<'s> {
    pub(crate) fn new(system: &'s System) -> Self {
        Self {
            system,
            tableau: Tableau::get(),
            stages: Default::default(),
            coupled: Lu::default(),
            coupled_matrix: Vec::new(),
            newton_tolerance: 1e-6,
            iterations: 0,
            residual: vec![0.0; system.n],
            matrix: vec![0.0; system.n * system.n],
            largest_current: 1e-3,
            loads: Loads::Held,
        }
    }

    /// One step of `h` cycles.
    pub(crate) fn step(&mut self, start: &Start<'_>, h: f64) -> Result<Stages, StepFailure> {
        let mut found = self.first_guess(start, h);
        self.seed_inputs(start, &found);
        let mut worst = Place::Node(crate::circuit::GROUND);
        let enough = self.newton_tolerance.max(self.rounding(start.z, h));
        let may_let_go = h < LAST_RESORT && self.system.devices.iter().any(Device::may_let_go);
        let most = if may_let_go {
            MOST_ON_THE_WAY
        } else {
            ITERATIONS
        };
        for iteration in 0..most {
            self.iterations += 1;
            self.loads = match iteration.cmp(&LETS_GO_AT) {
                Ordering::Equal if may_let_go => Loads::LetGo,
                Ordering::Greater if may_let_go => Loads::OnTheirWay,
                _ => Loads::Held,
            };
            self.linearise(&found, h)?;
            let limited = self.update(&mut found, h)?;
            let (size, place) = self.size_of_update(&found);
            if !size.is_finite() {
                return Err(StepFailure::NotFinite(place));
            }
            worst = place;
            if !limited && size < enough {
                self.finish(&mut found, h);
                return Ok(found);
            }
            if iteration > 4 && size > 1e6 {
                break;
            }
        }
        Err(StepFailure::NoConvergence(worst))
    }

    /// What rounding of the stores makes of currents and voltages in so short a step, as a share of them. No Newton
    /// iteration comes below it, and so short a step needs none that does.
    fn rounding(&self, stores: &[f64], h: f64) -> f64 {
        let mut worst: f64 = 0.0;
        for (store, value) in self.system.stores.iter().zip(stores) {
            let charge = store.charge.iter().map(|(_, charge)| charge.abs());
            let charge = charge.fold(0.0, f64::max);
            // A small store may be the difference of large ones.
            let (size, scale) = match store.kind {
                Kind::Volts => (
                    value.abs().max(self.system.volts_scale),
                    self.largest_current,
                ),
                Kind::Amperes => (value.abs().max(self.largest_current), 1.0),
            };
            let noise = f64::EPSILON * size * charge;
            worst = worst.max(self.system.frequency * noise / h / scale);
        }
        worst.min(LOOSEST)
    }

    fn first_guess(&self, start: &Start<'_>, h: f64) -> Stages {
        let system = self.system;
        let mut found = Stages {
            t: start.t,
            h,
            z_start: start.z.to_vec(),
            ..Stages::default()
        };
        for i in 0..3 {
            let t = start.t + self.tableau.nodes[i] * h;
            found.s[i] = system.sources.iter().map(|basis| basis.at(t)).collect();
            found.x[i] = match start.last {
                Some(last) if h <= 2.0 * last.h => {
                    last.extrapolated(1.0 + self.tableau.nodes[i] * h / last.h, self.tableau)
                }
                Some(last) => last.x[2].clone(),
                None => vec![0.0; system.n],
            };
            found.z[i] = start.z.to_vec();
            found.rate[i] = vec![0.0; start.z.len()];
        }
        for i in 0..3 {
            self.stores_at(&mut found, i);
        }
        found
    }

    fn seed_inputs(&mut self, start: &Start<'_>, found: &Stages) {
        for (i, stage) in self.stages.iter_mut().enumerate() {
            stage.inputs.clear();
            for (d, device) in self.system.devices.iter().enumerate() {
                let last = start.last.map_or([0.0; 3], |last| last.inputs[d]);
                stage
                    .inputs
                    .push(device.limit(&last, &inputs_at(device, found, i)));
            }
        }
    }

    fn stores_at(&self, found: &mut Stages, i: usize) {
        for (k, store) in self.system.stores.iter().enumerate() {
            found.z[i][k] = store.value.at(&found.x[i], &found.s[i], &[]);
        }
    }

    fn linear_residual(&mut self, found: &Stages, i: usize, h: f64) {
        let rate = |k: usize| {
            let z = [found.z[0][k], found.z[1][k], found.z[2][k]];
            self.tableau.rate(i, z, found.z_start[k]) / h
        };
        self.system
            .linear_residual(&found.x[i], &found.s[i], rate, &mut self.residual);
    }

    /// Factors each stage's matrix and the coupling of the stages.
    fn linearise(&mut self, found: &Stages, h: f64) -> Result<(), StepFailure> {
        let system = self.system;
        let (n, stores) = (system.n, system.stores.len());
        for i in 0..3 {
            let own = system.frequency * self.tableau.inverse[i][i] / h;
            self.matrix.copy_from_slice(&system.linear);
            for store in &system.stores {
                for &(row, charge) in &store.charge {
                    for &(column, factor) in &store.value.x {
                        self.matrix[row * n + column] += own * charge * factor;
                    }
                }
            }
            self.linear_residual(found, i, h);
            for (d, device) in system.devices.iter().enumerate() {
                let at = self.stages[i].inputs[d];
                let now = inputs_at(device, found, i);
                let (rho, mut slopes) = device.residual(&at);
                if self.loads == Loads::OnTheirWay && device.may_let_go() {
                    slopes[0] = -LoadLaw::slope_on_its_way(-slopes[0]);
                }
                let mut value = rho;
                for (m, input) in device.inputs.iter().enumerate() {
                    value += slopes[m] * (now[m] - at[m]);
                    for &(column, factor) in &input.x {
                        self.matrix[device.row * n + column] += slopes[m] * factor;
                    }
                }
                self.residual[device.row] += value;
            }
            let stage = &mut self.stages[i];
            stage
                .lu
                .factor(&self.matrix, n)
                .map_err(|singular| StepFailure::Singular(system.places[singular.column]))?;
            // All right-hand sides at once: the stores' charges, and the residual last.
            let width = stores + 1;
            stage.response.clear();
            stage.response.resize(n * width, 0.0);
            for (row, residual) in self.residual.iter().enumerate() {
                stage.response[row * width + stores] = -residual;
            }
            for (k, store) in system.stores.iter().enumerate() {
                for &(row, charge) in &store.charge {
                    stage.response[row * width + k] = charge;
                }
            }
            stage.lu.solve_many(&mut stage.response, width);
            stage.update.clear();
            stage
                .update
                .extend(stage.response.chunks_exact(width).map(|row| row[stores]));
            stage.store_response.resize(stores * stores, 0.0);
            for (l, store) in system.stores.iter().enumerate() {
                for k in 0..stores {
                    let terms = &store.value.x;
                    stage.store_response[l * stores + k] = terms
                        .iter()
                        .map(|&(row, factor)| factor * stage.response[row * width + k])
                        .sum();
                }
            }
        }
        self.couple(h)
    }

    /// `δz_i + f Σ_{j≠i} D_ij (b B⁻¹ A)_i δz_j = …`
    fn couple(&mut self, h: f64) -> Result<(), StepFailure> {
        let stores = self.system.stores.len();
        let size = 3 * stores;
        self.coupled_matrix.clear();
        self.coupled_matrix.resize(size * size, 0.0);
        for i in 0..3 {
            for j in 0..3 {
                let factor = self.system.frequency * self.tableau.inverse[i][j] / h;
                for l in 0..stores {
                    let row = (i * stores + l) * size + j * stores;
                    if i == j {
                        self.coupled_matrix[row + l] = 1.0;
                        continue;
                    }
                    for k in 0..stores {
                        self.coupled_matrix[row + k] =
                            factor * self.stages[i].store_response[l * stores + k];
                    }
                }
            }
        }
        if size == 0 {
            return Ok(());
        }
        self.coupled
            .factor(&self.coupled_matrix, size)
            .map_err(|singular| {
                StepFailure::Singular(Place::Element(
                    self.system.stores[singular.column % stores].of,
                ))
            })
    }

    /// Moves all stages by the Newton update; whether a device limited its linearisation point.
    fn update(&mut self, found: &mut Stages, h: f64) -> Result<bool, StepFailure> {
        let system = self.system;
        let stores = system.stores.len();
        let mut right = vec![0.0; 3 * stores];
        for (i, stage) in self.stages.iter().enumerate() {
            for (l, store) in system.stores.iter().enumerate() {
                right[i * stores + l] = store.value.linear(&stage.update);
            }
        }
        let mut moved = vec![0.0; 3 * stores];
        if stores > 0 {
            self.coupled.solve(&right, &mut moved);
        }
        self.spread(&moved, h);
        let mut limited = false;
        for i in 0..3 {
            for (x, update) in found.x[i].iter_mut().zip(&self.stages[i].update) {
                *x += update;
            }
            self.stores_at(found, i);
            for (d, device) in system.devices.iter().enumerate() {
                let proposed = inputs_at(device, found, i);
                let last = &self.stages[i].inputs[d];
                let next = match (self.loads, &device.law) {
                    (Loads::LetGo, Law::Load(law)) => law.let_go_from(last, &proposed),
                    (Loads::OnTheirWay, Law::Load(law)) => law.on_from(last, &proposed),
                    _ => device.limit(last, &proposed),
                };
                limited |= next != proposed;
                self.stages[i].inputs[d] = next;
            }
        }
        Ok(limited)
    }

    /// Adds what the other stages' stores do to each stage's update.
    fn spread(&mut self, moved: &[f64], h: f64) {
        let stores = self.system.stores.len();
        for i in 0..3 {
            for k in 0..stores {
                let mut others = 0.0;
                for j in 0..3 {
                    if j != i {
                        others += self.tableau.inverse[i][j] * moved[j * stores + k];
                    }
                }
                let factor = self.system.frequency / h * others;
                let stage = &mut self.stages[i];
                let rows = stage.response.chunks_exact(stores + 1);
                for (update, row) in stage.update.iter_mut().zip(rows) {
                    *update -= factor * row[k];
                }
            }
        }
    }

    fn size_of_update(&mut self, found: &Stages) -> (f64, Place) {
        let mut worst = (
            0.0,
            self.system
                .places
                .first()
                .copied()
                .unwrap_or(Place::Node(crate::circuit::GROUND)),
        );
        for i in 0..3 {
            for (index, update) in self.stages[i].update.iter().enumerate() {
                let x = found.x[i][index].abs();
                let scale = match self.system.kinds[index] {
                    Kind::Volts => x.max(1.0),
                    Kind::Amperes => x.max(1e-3 * self.largest_current),
                };
                let size = update.abs() / scale;
                if size.is_nan() || size > worst.0 {
                    worst = (size, self.system.places[index]);
                }
            }
        }
        worst
    }

    fn finish(&mut self, found: &mut Stages, h: f64) {
        for i in 0..3 {
            for k in 0..found.z_start.len() {
                let z = [found.z[0][k], found.z[1][k], found.z[2][k]];
                found.rate[i][k] = self.tableau.rate(i, z, found.z_start[k]) / h;
            }
        }
        found.inputs.clone_from(&self.stages[2].inputs);
        // Only of steps that were found: an iterate on its way may pass through any current.
        for (x, kind) in found.x[2].iter().zip(&self.system.kinds) {
            if *kind == Kind::Amperes {
                self.largest_current = self.largest_current.max(x.abs());
            }
        }
    }

    /// Puts the stepper on a step made earlier: its matrices are those of that step again.
    pub(crate) fn revisit(&mut self, step: &Stages) -> Result<(), StepFailure> {
        self.loads = Loads::Held;
        for (i, stage) in self.stages.iter_mut().enumerate() {
            stage.inputs.clear();
            stage.inputs.extend(
                self.system
                    .devices
                    .iter()
                    .map(|device| inputs_at(device, step, i)),
            );
        }
        self.linearise(step, step.h)
    }

    /// Residual of any like system's rows at the unknowns of a stage, without what devices add.
    pub(crate) fn residual_of_rows(&self, system: &System, step: &Stages, i: usize) -> Vec<f64> {
        let mut residual = vec![0.0; system.n];
        let stores = |i: usize, k: usize| system.stores[k].value.at(&step.x[i], &step.s[i], &[]);
        let rate = |k: usize| {
            let z = [stores(0, k), stores(1, k), stores(2, k)];
            self.tableau.rate(i, z, step.z_start[k]) / step.h
        };
        system.linear_residual(&step.x[i], &step.s[i], rate, &mut residual);
        residual
    }

    /// Estimated error of each store over the step just made, which began where `last` ended.
    pub(crate) fn error(&self, found: &Stages, last: &Stages) -> Vec<f64> {
        let rate = &last.rate[2];
        let stores = self.system.stores.len();
        let tableau = self.tableau;
        let raw: Vec<f64> = (0..stores)
            .map(|k| {
                let start = found.z_start[k];
                let mut sum = tableau.gamma * found.h * rate[k];
                for i in 0..3 {
                    sum += tableau.estimate[i] * (found.z[i][k] - start);
                }
                sum
            })
            .collect();
        // Where an ideal diode changes over, a filter taken on one side of the corner is blind to the other.
        if self.changes_over(last) {
            return raw;
        }
        // Filtered by the first stage's matrix, whose coefficient is within 13 % of the one of the theory:
        // stiff parts are damped, slow ones pass.
        let factor = self.system.frequency / (tableau.gamma * found.h);
        (0..stores)
            .map(|l| {
                let row = &self.stages[0].store_response[l * stores..(l + 1) * stores];
                factor * row.iter().zip(&raw).map(|(r, d)| r * d).sum::<f64>()
            })
            .collect()
    }

    /// Whether an ideal diode changes over between the end of `last` and the end of the step just made.
    fn changes_over(&self, last: &Stages) -> bool {
        self.system.devices.iter().enumerate().any(|(d, device)| {
            let before = &last.inputs[d];
            let mut stages = self.stages.iter();
            stages.any(|stage| device.is_on_another_piece(before, &stage.inputs[d]))
        })
    }

    /// Derivatives of the three stages' unknowns against a quantity on which the equations depend.
    ///
    /// `start` is the derivative of the stores at the start; `residuals` that of each stage's residual at
    /// fixed unknowns and start. Must follow the step it belongs to.
    pub(crate) fn derivative(
        &mut self,
        h: f64,
        start: &[f64],
        residuals: Option<&[Vec<f64>; 3]>,
        out: &mut [Vec<f64>; 3],
    ) {
        let system = self.system;
        let (n, stores) = (system.n, system.stores.len());
        let mut right = vec![0.0; 3 * stores];
        for i in 0..3 {
            let row_sum: f64 = self.tableau.inverse[i].iter().sum();
            let factor = system.frequency * row_sum / h;
            let stage = &self.stages[i];
            out[i].clear();
            out[i].resize(n, 0.0);
            if let Some(residuals) = residuals {
                self.residual.clear();
                self.residual.extend(residuals[i].iter().map(|r| -r));
                stage.lu.solve(&self.residual, &mut out[i]);
            }
            for (value, row) in out[i]
                .iter_mut()
                .zip(stage.response.chunks_exact(stores + 1))
            {
                let moved: f64 = row[..stores].iter().zip(start).map(|(r, z)| r * z).sum();
                *value += factor * moved;
            }
            for (l, store) in system.stores.iter().enumerate() {
                right[i * stores + l] = store.value.linear(&out[i]);
            }
        }
        let mut moved = vec![0.0; 3 * stores];
        if stores > 0 {
            self.coupled.solve(&right, &mut moved);
        }
        for (i, out) in out.iter_mut().enumerate() {
            for k in 0..stores {
                let mut others = 0.0;
                for j in 0..3 {
                    if j != i {
                        others += self.tableau.inverse[i][j] * moved[j * stores + k];
                    }
                }
                let factor = system.frequency / h * others;
                let rows = self.stages[i].response.chunks_exact(stores + 1);
                for (value, row) in out.iter_mut().zip(rows) {
                    *value -= factor * row[k];
                }
            }
        }
    }
}

impl Tableau {
    /// Weights of the three stages at each lane's `theta`.
    #[inline(always)]
    pub(crate) fn lagrange_lanes(&self, theta: Lanes) -> [Lanes; 3] {
        let [a, b, c] = self.nodes;
        let by = |p: f64, q: f64, own: f64| {
            (theta - Lanes::all(p))
                * (theta - Lanes::all(q))
                * Lanes::all(1.0 / ((own - p) * (own - q)))
        };
        [by(b, c, a), by(a, c, b), by(a, b, c)]
    }
}

impl Stages {
    /// Unknowns at `theta` step lengths after the start, by the polynomial through the three stages.
    pub(crate) fn extrapolated(&self, theta: f64, tableau: &Tableau) -> Vec<f64> {
        let w = lagrange(theta, tableau);
        (0..self.x[0].len())
            .map(|k| w[0] * self.x[0][k] + w[1] * self.x[1][k] + w[2] * self.x[2][k])
            .collect()
    }
}

/// Weights of the three stages at `theta`.
pub(crate) fn lagrange(theta: f64, tableau: &Tableau) -> [f64; 3] {
    let [a, b, c] = tableau.nodes;
    [
        (theta - b) * (theta - c) / ((a - b) * (a - c)),
        (theta - a) * (theta - c) / ((b - a) * (b - c)),
        (theta - a) * (theta - b) / ((c - a) * (c - b)),
    ]
}

/// Inputs of a device at a stage.
pub(crate) fn inputs_at(device: &crate::system::Device, found: &Stages, i: usize) -> [f64; 3] {
    let mut inputs = [0.0; 3];
    for (value, probe) in inputs.iter_mut().zip(&device.inputs) {
        *value = probe.at(&found.x[i], &found.s[i], &[]);
    }
    inputs
}

fn inverse(a: &[[f64; 3]; 3]) -> [[f64; 3]; 3] {
    let mut lu = Lu::default();
    let flat: Vec<f64> = a.iter().flatten().copied().collect();
    lu.factor(&flat, 3)
        .expect("the Runge-Kutta matrix has an inverse");
    let mut result = [[0.0; 3]; 3];
    for column in 0..3 {
        let mut unit = [0.0; 3];
        unit[column] = 1.0;
        let mut solution = [0.0; 3];
        lu.solve(&unit, &mut solution);
        for row in 0..3 {
            result[row][column] = solution[row];
        }
    }
    result
}
