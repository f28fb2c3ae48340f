//! One step of eight circuits: three-stage Radau IIA, as in [`crate::step`], each lane at its own length.
//!
//! The three stages are one sparse system of equations; its order of elimination keeps what couples them, the
//! few stores, for last. Lanes iterate together and stop each for itself, so that none depends on another.

#![expect(
    clippy::needless_range_loop,
    reason = "lanes, stages and stores index several arrays at once"
)]

use super::between::{Between, let_go_together};
use super::elimination::Elimination;
use super::equations::{Bent, Equations, Inputs, Instant, Shape, Swings};
use super::instructions::in_widest;
use super::lanes::{Lanes, Mask, WIDTH};
use crate::step::{ITERATIONS, LAST_RESORT, LOOSEST, Tableau};
use crate::system::{Kind, System};

pub(crate) const STAGES: usize = 3;
/// Newton iterations of a step, and from which one on swinging devices are held.
const MOST_ITERATIONS: usize = 40;
const SWINGS_FROM: usize = 6;
/// Iterations in which no pass element goes from nothing to all that it can give, or back, without a look at its middle. Not in
/// the first, which says little, nor for ever: what it is driven by may truly lead past it.
const LOOKS: std::ops::Range<usize> = 1..9;
/// The same of their headroom, which mostly comes to rest by itself.
const LOOKS_AT_HEADROOM: std::ops::Range<usize> = 5..9;
/// Move of a swinging device's input, as a share of it and of a volt, below which it rests: a pass element makes an
/// ampere of a millivolt.
const RESTS: f64 = 1e-6;
/// From which iteration on ideal diodes change over one after the other, and how many are made then.
const WALKS_FROM: usize = 12;
const MOST_WALKED: usize = 160;
/// From which iteration on it is asked whether anything is lacking but rounding: by then an iteration should long be done.
const ROUNDED_FROM: usize = 5;
/// Updates smaller than this are followed by ones that keep the linearisation of before,
const KEEPS_BELOW: f64 = 3e-3;
/// unless those shrink by less than this.
const KEEPS_SHRINKING: f64 = 0.2;
/// What an update leaves to be done is at most so many times its square: curves bend over milliamperes and millivolts.
const CURVED: f64 = 1e3;
/// The same as two updates one after the other show it, times so much.
const CURVED_AS_SHOWN: f64 = 10.0;

/// A step under way, and what the next one begins from.
pub(crate) struct Step {
    tableau: &'static Tableau,
    /// Unknowns at the stages, the last of which is the end.
    pub(crate) x: [Vec<Lanes>; STAGES],
    /// Sources at the stages.
    pub(crate) sources: [Instant; STAGES],
    /// Stores at the stages.
    pub(crate) z: [Vec<Lanes>; STAGES],
    inputs: [Inputs; STAGES],
    /// Where inputs that swing are looked for.
    between: [Vec<Between>; STAGES],
    /// The last step accepted: unknowns, length, devices' inputs at its end, rates of the stores there.
    last_x: [Vec<Lanes>; STAGES],
    last_h: Lanes,
    has_last: Mask,
    last_inputs: Inputs,
    last_rate: Vec<Lanes>,
    right: Vec<Lanes>,
    update: Vec<Lanes>,
    linear: Linear,
    at: [Bent; STAGES],
    /// Devices' inputs at the unknowns as they stand.
    proposed: [Inputs; STAGES],
    rates: [Vec<Lanes>; STAGES],
    /// Largest size of each unknown so far, to judge updates by.
    largest_current: Lanes,
    is_current: Vec<bool>,
    is_volts: Vec<bool>,
    volts_scale: Lanes,
    /// Largest charge pattern entry of each store, for the rounding that it makes.
    charge: Vec<Lanes>,
    frequency: Lanes,
    pub(crate) newton_tolerance: f64,
    /// Whether the linearisation that a step ends with is wanted too, for derivatives.
    pub(crate) wants_derivative: bool,
    /// Share of the sources that is on.
    pub(crate) strength: Lanes,
    /// Newton iterations made.
    pub(crate) iterations: u64,
}

/// Linear systems: of all stages, and of one for the estimate.
enum Linear {
    /// Of eight circuits.
    Eight {
        matrix: Vec<Lanes>,
        /// The devices that it was made with, each lane's as it was linearised last.
        devices: [Bent; STAGES],
        without_devices: Vec<Lanes>,
        single: Vec<Lanes>,
    },
    /// Of one that all lanes repeat: most of the work is done once for all of them, and to the same bits.
    One {
        matrix: Vec<f64>,
        without_devices: Vec<f64>,
        single: Vec<f64>,
        right: Vec<f64>,
        update: Vec<f64>,
    },
}

impl Linear {
    fn new(shape: &Shape, is_one: bool) -> Self {
        let (stages, single) = (shape.stages.elimination.len(), shape.elimination.len());
        if is_one {
            return Self::One {
                matrix: vec![0.0; stages],
                without_devices: vec![0.0; stages],
                single: vec![0.0; single],
                right: vec![0.0; STAGES * shape.n],
                update: vec![0.0; STAGES * shape.n],
            };
        }
        Self::Eight {
            matrix: vec![Lanes::ZERO; stages],
            devices: std::array::from_fn(|_| Bent::new(shape)),
            without_devices: vec![Lanes::ZERO; stages],
            single: vec![Lanes::ZERO; single],
        }
    }

    /// The matrix of all stages but for the devices.
    #[inline(always)]
    fn without_devices(&mut self, equations: &Equations<'_>, inverse: [[Lanes; STAGES]; STAGES]) {
        match self {
            Self::Eight {
                without_devices, ..
            } => equations.without_devices(inverse, without_devices),
            Self::One {
                without_devices, ..
            } => equations.without_devices(inverse, without_devices),
        }
    }

    /// Factors the matrix of all stages, with devices as they were evaluated, for the lanes that want it anew.
    #[inline(always)]
    fn linearise(&mut self, equations: &Equations<'_>, at: &[Bent; STAGES], wanted: Mask) {
        let elimination = &equations.shape.stages.elimination;
        match self {
            Self::Eight {
                matrix,
                devices,
                without_devices,
                ..
            } => {
                matrix.copy_from_slice(without_devices);
                for (i, (own, at)) in devices.iter_mut().zip(at).enumerate() {
                    // Lanes that keep their linearisation come to the same matrix again, bit by bit.
                    own.take_slopes(at, wanted);
                    equations.add_devices(i, own, matrix);
                }
                elimination.factor(matrix);
            }
            Self::One {
                matrix,
                without_devices,
                ..
            } => {
                matrix.copy_from_slice(without_devices);
                for (i, at) in at.iter().enumerate() {
                    equations.add_devices(i, at, matrix);
                }
                elimination.factor(matrix);
            }
        }
    }

    /// Solves for the circuits' own right-hand sides, which are used up.
    #[inline(always)]
    fn solve(&mut self, elimination: &Elimination, right: &mut [Lanes], x: &mut [Lanes]) {
        match self {
            Self::Eight { matrix, .. } => elimination.solve(matrix, right, x),
            Self::One {
                matrix,
                right: of_one,
                update,
                ..
            } => solve_one(elimination, matrix, (right, of_one), (x, update)),
        }
    }

    /// The same for right-hand sides that differ from lane to lane even where one circuit is repeated.
    #[inline(always)]
    fn solve_each(&self, elimination: &Elimination, right: &mut [Lanes], x: &mut [Lanes]) {
        match self {
            Self::Eight { matrix, .. } => elimination.solve(matrix, right, x),
            Self::One { matrix, .. } => elimination.solve_by_one(matrix, right, x),
        }
    }

    /// Factors the matrix of one instant and solves for a right-hand side, which is used up.
    #[inline(always)]
    fn solve_instant(
        &mut self,
        equations: &Equations<'_>,
        (inverse, at): (Lanes, &Bent),
        right: &mut [Lanes],
        x: &mut [Lanes],
    ) {
        let elimination = &equations.shape.elimination;
        match self {
            Self::Eight { single, .. } => {
                equations.single(inverse, at, single);
                elimination.factor(single);
                elimination.solve(single, right, x);
            }
            Self::One {
                single,
                right: of_one,
                update,
                ..
            } => {
                equations.single(inverse, at, single);
                elimination.factor(single);
                solve_one(elimination, single, (right, of_one), (x, update));
            }
        }
    }
}

/// Solves for what all lanes repeat.
fn solve_one(
    elimination: &Elimination,
    matrix: &[f64],
    (right, of_one): (&[Lanes], &mut [f64]),
    (x, update): (&mut [Lanes], &mut [f64]),
) {
    debug_assert!(right.iter().all(Lanes::repeats), "lanes differ");
    let n = right.len();
    for (own, lanes) in of_one.iter_mut().zip(right) {
        *own = lanes.0[0];
    }
    elimination.solve_one(matrix, &mut of_one[..n], &mut update[..n]);
    for (lanes, own) in x.iter_mut().zip(&*update) {
        *lanes = Lanes::all(*own);
    }
}

impl Step {
    /// Of eight circuits, or of one that is given eight times, which must then go the same way in all lanes.
    pub(crate) fn new(equations: &Equations<'_>, systems: [&System; WIDTH]) -> Self {
        let shape = equations.shape;
        let zero = || vec![Lanes::ZERO; shape.n];
        let stores = || vec![Lanes::ZERO; shape.stores.len()];
        // What is the same in all.
        let system = systems[0];
        let largest = |lane: usize, store: usize| {
            let charge = &systems[lane].stores[store].charge;
            charge
                .iter()
                .fold(0.0, |most: f64, (_, c)| most.max(c.abs()))
        };
        let charge = (0..system.stores.len())
            .map(|store| Lanes(std::array::from_fn(|lane| largest(lane, store))));
        Self {
            tableau: Tableau::get(),
            x: std::array::from_fn(|_| zero()),
            sources: std::array::from_fn(|_| shape.new_instant()),
            z: std::array::from_fn(|_| stores()),
            inputs: std::array::from_fn(|_| shape.new_inputs()),
            between: std::array::from_fn(|_| shape.new_between()),
            last_x: std::array::from_fn(|_| zero()),
            last_h: Lanes::ONE,
            has_last: Mask::NONE,
            last_inputs: shape.new_inputs(),
            last_rate: stores(),
            right: vec![Lanes::ZERO; STAGES * shape.n],
            update: vec![Lanes::ZERO; STAGES * shape.n],
            linear: Linear::new(shape, systems.iter().all(|own| std::ptr::eq(*own, system))),
            at: std::array::from_fn(|_| Bent::new(shape)),
            proposed: std::array::from_fn(|_| shape.new_inputs()),
            rates: std::array::from_fn(|_| stores()),
            largest_current: Lanes::all(1e-3),
            is_current: system.kinds.iter().map(|k| *k == Kind::Amperes).collect(),
            is_volts: system
                .stores
                .iter()
                .map(|s| s.kind == Kind::Volts)
                .collect(),
            volts_scale: Lanes(systems.map(|system| system.volts_scale)),
            charge: charge.collect(),
            frequency: equations.frequency,
            newton_tolerance: 1e-6,
            wants_derivative: false,
            strength: Lanes::ONE,
            iterations: 0,
        }
    }

    /// Forgets the last step: the next one begins from unknowns `x`, a guess.
    pub(crate) fn begin(&mut self, x: &[Lanes]) {
        for last in &mut self.last_x {
            last.copy_from_slice(x);
        }
        self.has_last = Mask::NONE;
        self.last_inputs.fill(Lanes::ZERO);
    }

    /// Takes the end of the step just made as where the next one begins, without having moved.
    pub(crate) fn stand(&mut self) {
        for last in &mut self.last_x {
            last.copy_from_slice(&self.x[2]);
        }
        self.last_inputs.take(&self.inputs[2], Mask::ALL);
        self.has_last = Mask::NONE;
    }

    /// What devices of the first lane saw at the stages of the step just made.
    pub(crate) fn seen(&self) -> [Vec<[f64; 3]>; STAGES] {
        std::array::from_fn(|i| self.proposed[i].of_lane(0))
    }

    /// Unknowns where the last step accepted ended.
    pub(crate) fn end(&self) -> &[Lanes] {
        &self.last_x[2]
    }

    /// Nodes of the method, as shares of a step.
    pub(crate) fn nodes(&self) -> [f64; STAGES] {
        self.tableau.nodes
    }

    /// Weights by which stage values make an integral.
    pub(crate) fn weights(&self) -> [f64; STAGES] {
        self.tableau.weights
    }

    /// Makes a step of `h` cycles from stores `z` at `t` in the lanes wanted; those in which it was made.
    pub(crate) fn make(
        &mut self,
        equations: &Equations<'_>,
        z: &[Lanes],
        (t, h): (Lanes, Lanes),
        wanted: Mask,
    ) -> Mask {
        make(self, equations, z, (t, h), wanted)
    }

    /// Estimated error of each store as a share of `1/inverse_allowed`, the largest of them; none for a first step.
    pub(crate) fn error(
        &mut self,
        equations: &Equations<'_>,
        z: &[Lanes],
        h: Lanes,
        inverse_allowed: &[Lanes],
    ) -> Lanes {
        let worst = error(self, equations, z, h, inverse_allowed);
        self.has_last.select(worst, Lanes::ZERO)
    }

    /// Rows of the method's inverse.
    pub(crate) fn inverse(&self) -> [[f64; STAGES]; STAGES] {
        self.tableau.inverse
    }

    /// Solves the step's own linearised equations for a right-hand side, which is used up.
    pub(crate) fn answer(&mut self, equations: &Equations<'_>, right: &mut [Lanes]) {
        let elimination = &equations.shape.stages.elimination;
        self.linear.solve_each(elimination, right, &mut self.update);
    }

    /// What was answered: the unknowns at each stage, one after the other.
    pub(crate) fn answered(&self) -> &[Lanes] {
        &self.update
    }

    /// Carries derivatives of the stores over the step just made, the same in all lanes: eight directions a list, a
    /// lane for each.
    pub(crate) fn carry(
        &mut self,
        equations: &Equations<'_>,
        h: Lanes,
        directions: &mut [Vec<Lanes>],
    ) {
        carry(self, equations, h, directions);
    }

    /// Takes the step just made as the last one, in the lanes that accept it.
    #[inline(always)]
    pub(crate) fn accept(
        &mut self,
        equations: &Equations<'_>,
        z: &[Lanes],
        h: Lanes,
        accepted: Mask,
    ) {
        for (last, x) in self.last_x.iter_mut().zip(&self.x) {
            for (last, x) in last.iter_mut().zip(x) {
                *last = accepted.select(*x, *last);
            }
        }
        for (x, is_current) in self.x[2].iter().zip(&self.is_current) {
            if *is_current {
                let most = self.largest_current.max(x.abs());
                self.largest_current = accepted.select(most, self.largest_current);
            }
        }
        self.last_h = accepted.select(h, self.last_h);
        self.last_inputs.take(&self.inputs[2], accepted);
        let d = self.tableau.inverse[2];
        for k in 0..equations.shape.stores.len() {
            let rate = (Lanes::all(d[0]) * (self.z[0][k] - z[k])
                + Lanes::all(d[1]) * (self.z[1][k] - z[k])
                + Lanes::all(d[2]) * (self.z[2][k] - z[k]))
                / h;
            self.last_rate[k] = accepted.select(rate, self.last_rate[k]);
        }
        self.has_last = self.has_last.or(accepted);
    }

    /// Share of the update at which the first ideal diode changes over, the walk of Katzenelson (*Bell System Tech. J.*
    /// 44 (1965) 1605): with monotone pieces it ends where Newton's method alone may turn in circles.
    #[inline(never)]
    fn share_to_corner(&mut self, equations: &Equations<'_>) -> Lanes {
        let n = equations.shape.n;
        let mut share = Lanes::ONE;
        let mut x = vec![Lanes::ZERO; n];
        for i in 0..STAGES {
            for (k, x) in x.iter_mut().enumerate() {
                *x = self.x[i][k] + self.update[i * n + k];
            }
            let proposed = &mut self.proposed[i];
            equations.inputs(&x, &self.sources[i], proposed);
            share = share.min(equations.share_to_corner(&self.inputs[i], proposed));
        }
        share
    }

    /// What rounding of the stores makes of currents and voltages in so short a step, as a share of them.
    #[inline(always)]
    fn rounding(&self, z: &[Lanes], h: Lanes) -> Lanes {
        let mut worst = Lanes::ZERO;
        for ((value, is_volts), charge) in z.iter().zip(&self.is_volts).zip(&self.charge) {
            let (size, scale) = if *is_volts {
                (value.abs().max(self.volts_scale), self.largest_current)
            } else {
                (value.abs().max(self.largest_current), Lanes::ONE)
            };
            worst = worst.max(size * (Lanes::all(f64::EPSILON) * *charge) / scale);
        }
        (self.frequency * worst / h).min(Lanes::all(LOOSEST))
    }
}

in_widest!(
    fn make(
        step: &mut Step,
        equations: &Equations<'_>,
        z: &[Lanes],
        at: (Lanes, Lanes),
        wanted: Mask,
    ) -> Mask = make_lanes
);

#[inline(always)]
fn make_lanes(
    step: &mut Step,
    equations: &Equations<'_>,
    z: &[Lanes],
    (t, h): (Lanes, Lanes),
    wanted: Mask,
) -> Mask {
    let shape = equations.shape;
    let (n, stores) = (shape.n, shape.stores.len());
    let nodes = step.tableau.nodes;
    // A guess: the last step's polynomial a little further, or where it ended.
    let is_near = step
        .has_last
        .and((Lanes::all(2.0) * step.last_h).below(h).not());
    for i in 0..STAGES {
        let node = Lanes::all(nodes[i]) * h;
        shape.instant(t + node, &mut step.sources[i]);
        for source in &mut step.sources[i].s {
            *source = *source * step.strength;
        }
        let theta = Lanes::ONE + node / step.last_h;
        let w = step.tableau.lagrange_lanes(theta);
        for k in 0..n {
            let on = w[0] * step.last_x[0][k] + w[1] * step.last_x[1][k] + w[2] * step.last_x[2][k];
            step.x[i][k] = is_near.select(on, step.last_x[2][k]);
        }
        let proposed = &mut step.proposed[i];
        equations.inputs(&step.x[i], &step.sources[i], proposed);
        let (inputs, between) = (&mut step.inputs[i], &mut step.between[i]);
        equations.limited(&step.last_inputs, proposed, inputs, between);
        for k in 0..stores {
            step.z[i][k] = equations.store(k, &step.x[i], &step.sources[i].s);
        }
    }
    let enough = Lanes::all(step.newton_tolerance).max(step.rounding(z, h));
    let inverse_h = Lanes::ONE / h;
    let inverse = step.tableau.inverse;
    let over_h = inverse.map(|row| row.map(|d| Lanes::all(d) * inverse_h));
    step.linear.without_devices(equations, over_h);
    let mut made = wanted.not();
    let mut lost = Mask::NONE;
    let is_last_resort = h.below(Lanes::all(LAST_RESORT));
    let mut is_fresh = Mask::ALL;
    let mut was_fresh = Mask::NONE;
    let mut was_limited = Mask::ALL;
    let mut keeps_well = Mask::ALL;
    let mut last_size = Lanes::all(f64::INFINITY);
    let most = if is_last_resort.any() {
        MOST_WALKED
    } else {
        MOST_ITERATIONS
    };
    for iteration in 0..most {
        step.iterations += 1;
        for i in 0..STAGES {
            let d = step.tableau.inverse[i];
            for k in 0..stores {
                step.rates[i][k] = (Lanes::all(d[0]) * (step.z[0][k] - z[k])
                    + Lanes::all(d[1]) * (step.z[1][k] - z[k])
                    + Lanes::all(d[2]) * (step.z[2][k] - z[k]))
                    * inverse_h;
            }
            equations.evaluate(&step.inputs[i], &mut step.at[i]);
            if iteration > SWINGS_FROM && is_last_resort.any() {
                equations.on_their_way(&step.between[i], &mut step.at[i]);
            }
        }
        equations.lack(
            (&step.x, &step.sources, &step.rates),
            (&step.at, &step.inputs, &step.proposed),
            &mut step.right,
        );
        if iteration >= ROUNDED_FROM {
            let here = (&step.x, &step.sources, &step.at);
            let is_rounding = equations.lack_is_rounding(&step.right, here, (z, over_h));
            made = made.or(is_rounding.and(was_limited.not()));
        }
        if is_fresh.any() {
            step.linear.linearise(equations, &step.at, is_fresh);
        }
        step.linear
            .solve(&shape.stages.elimination, &mut step.right, &mut step.update);
        let mut size = Lanes::ZERO;
        let mut limited = Mask::NONE;
        // A corner passed is no curve: nothing is foretold across it.
        let mut turns = Mask::NONE;
        let mut part = Lanes::ONE;
        if iteration >= WALKS_FROM && is_last_resort.any() {
            part = is_last_resort.select(step.share_to_corner(equations), part);
            limited = part.below(Lanes::ONE);
        }
        for i in 0..STAGES {
            for k in 0..n {
                let update = step.update[i * n + k];
                let x = step.x[i][k] + update;
                let scale = if step.is_current[k] {
                    x.abs().max(Lanes::all(1e-3) * step.largest_current)
                } else {
                    x.abs().max(Lanes::ONE)
                };
                // NaN, too, is no small update.
                let share = update.abs() / scale;
                size = size.max(share.is_finite().select(share, Lanes::all(f64::INFINITY)));
                let x = step.x[i][k] + part * update;
                step.x[i][k] = made.select(step.x[i][k], x);
            }
            for k in 0..stores {
                step.z[i][k] = equations.store(k, &step.x[i], &step.sources[i].s);
            }
            let proposed = &mut step.proposed[i];
            equations.inputs(&step.x[i], &step.sources[i], proposed);
            let (inputs, between) = (&mut step.inputs[i], &mut step.between[i]);
            turns = turns.or(equations.changes_over(inputs, proposed));
            let swings = (iteration >= SWINGS_FROM && is_last_resort.any()).then_some(Swings {
                enough: Lanes::all(RESTS),
                lanes: is_last_resort,
                are_new: iteration == SWINGS_FROM,
            });
            let looks = [LOOKS, LOOKS_AT_HEADROOM].map(|looks| {
                if looks.contains(&iteration) {
                    is_last_resort.not()
                } else {
                    Mask::NONE
                }
            });
            limited = limited.or(equations.limit(inputs, proposed, between, (swings, looks)));
        }
        if iteration == SWINGS_FROM && is_last_resort.any() {
            let_go_together(&mut step.between);
        }
        let shrinking = size / last_size;
        // Two updates of Newton's method show how much its equations curve here.
        let curved = was_fresh
            .select(
                Lanes::all(CURVED_AS_SHOWN) * shrinking / last_size,
                Lanes::all(CURVED),
            )
            .min(Lanes::all(CURVED));
        let left = if step.wants_derivative {
            size
        } else {
            is_fresh.select(curved * size * size, shrinking * size)
        };
        let is_done = size.below(enough).or(left.below(enough).and(turns.not()));
        made = made.or(limited.not().and(is_done));
        let gives_up = if iteration + 1 < ITERATIONS {
            Mask::NONE
        } else {
            is_last_resort.not()
        };
        let is_lost = made.not().and(size.is_finite().not().or(gives_up));
        lost = lost.or(is_lost);
        if !lost.or(made).not().any() {
            break;
        }
        let may_keep = is_fresh
            .select(size, Lanes::ZERO)
            .below(Lanes::all(KEEPS_BELOW));
        let shrinks = is_fresh
            .select(Lanes::ZERO, shrinking)
            .below(Lanes::all(KEEPS_SHRINKING));
        keeps_well = keeps_well.and(shrinks);
        let keeps = limited.or(turns).not().and(may_keep).and(keeps_well);
        let last_fresh = is_fresh;
        is_fresh = if step.wants_derivative {
            Mask::ALL
        } else {
            keeps.not().and(made.not())
        };
        was_fresh = last_fresh.and(limited.or(turns).not());
        was_limited = limited;
        last_size = size;
    }
    made.and(wanted).and(lost.not())
}

in_widest!(
    fn carry(
        step: &mut Step,
        equations: &Equations<'_>,
        h: Lanes,
        directions: &mut [Vec<Lanes>],
    ) = carry_lanes
);

#[inline(always)]
fn carry_lanes(
    step: &mut Step,
    equations: &Equations<'_>,
    h: Lanes,
    directions: &mut [Vec<Lanes>],
) {
    let shape = equations.shape;
    let n = shape.n;
    for direction in directions {
        for value in &mut step.right {
            *value = Lanes::ZERO;
        }
        for i in 0..STAGES {
            let sum: f64 = step.tableau.inverse[i].iter().sum();
            let by = Lanes::all(sum) / h;
            for (rate, moved) in step.rates[0].iter_mut().zip(&*direction) {
                *rate = by * *moved;
            }
            equations.add_charges(&step.rates[0], &mut step.right[i * n..(i + 1) * n]);
        }
        step.linear
            .solve_each(&shape.stages.elimination, &mut step.right, &mut step.update);
        for (k, moved) in direction.iter_mut().enumerate() {
            *moved = equations.store_change(k, &step.update[2 * n..]);
        }
    }
}

in_widest!(
    fn error(
        step: &mut Step,
        equations: &Equations<'_>,
        z: &[Lanes],
        h: Lanes,
        inverse_allowed: &[Lanes],
    ) -> Lanes = error_lanes
);

#[inline(always)]
fn error_lanes(
    step: &mut Step,
    equations: &Equations<'_>,
    z: &[Lanes],
    h: Lanes,
    inverse_allowed: &[Lanes],
) -> Lanes {
    let shape = equations.shape;
    let stores = shape.stores.len();
    let Tableau {
        gamma, estimate, ..
    } = *step.tableau;
    for k in 0..stores {
        let mut raw = Lanes::all(gamma) * h * step.last_rate[k];
        for i in 0..STAGES {
            raw += Lanes::all(estimate[i]) * (step.z[i][k] - z[k]);
        }
        step.rates[0][k] = raw;
    }
    // Where an ideal diode changes over, a filter taken on one side of the corner is blind to the other.
    let mut changes = Mask::NONE;
    for inputs in &step.inputs {
        changes = changes.or(equations.changes_over(&step.last_inputs, inputs));
    }
    let inverse = Lanes::ONE / (Lanes::all(gamma) * h);
    equations.evaluate(&step.inputs[0], &mut step.at[0]);
    let n = shape.n;
    for value in &mut step.right[..n] {
        *value = Lanes::ZERO;
    }
    for rate in &mut step.rates[0] {
        *rate = *rate * inverse;
    }
    equations.add_charges(&step.rates[0], &mut step.right[..n]);
    step.linear.solve_instant(
        equations,
        (inverse, &step.at[0]),
        &mut step.right[..n],
        &mut step.update[..n],
    );
    let mut worst = Lanes::ZERO;
    for k in 0..stores {
        let filtered = equations.store_change(k, &step.update);
        let raw = step.rates[0][k] * Lanes::all(gamma) * h;
        let error = changes.select(raw, filtered).abs() * inverse_allowed[k];
        worst = worst.max(error.is_finite().select(error, Lanes::all(1e12)));
    }
    worst
}
