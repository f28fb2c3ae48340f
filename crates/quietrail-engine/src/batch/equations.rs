//! The equations of eight like systems, in the places that they share.
//!
//! Places, and the order of elimination, come from one system, so that what a
//! sample comes to does not depend on those next to it.

mod rounding;

use super::between::Between;
use super::elimination::{Elimination, Number};
use super::instructions::in_widest;
use super::lanes::{Lanes, Mask, WIDTH};
use super::law::LaneLaw;
use super::states;
use super::terms::{Factors, Terms};
use crate::load::LoadLaw;
use crate::system::System;
use crate::wave::Basis;

/// By how much of the way left a corner is passed.
const BEYOND: f64 = 1e-9;

/// Row, column, place in the matrix.
type Entry = (usize, usize, usize);

/// Where a circuit's equations have entries.
#[derive(Clone, Debug)]
pub(crate) struct Shape {
    pub(crate) n: usize,
    pub(crate) sources: Vec<Basis>,
    pub(super) linear: Vec<Entry>,
    mass: Vec<Entry>,
    pub(super) drive: Vec<(usize, usize)>,
    /// Where each row's entries end in the lists of `drive` and of `linear`.
    row_ends: Vec<(usize, usize)>,
    pub(crate) stores: Vec<Terms>,
    pub(super) charges: Vec<Vec<usize>>,
    pub(super) devices: Vec<DeviceShape>,
    /// Order for one instant.
    pub(crate) elimination: Elimination,
    /// Order and places for the three stages of a step at once.
    pub(crate) stages: Stages,
}

/// The matrix of three stages: the places of the entries of [`Shape`]'s lists in it.
#[derive(Clone, Debug)]
pub(crate) struct Stages {
    pub(crate) elimination: Elimination,
    /// By stage.
    linear: [Vec<usize>; 3],
    /// By stage of the row and stage of the column.
    mass: [[Vec<usize>; 3]; 3],
    /// By stage, device and input.
    devices: [Vec<Vec<Vec<usize>>>; 3],
}

#[derive(Clone, Debug)]
pub(super) struct DeviceShape {
    pub(super) row: usize,
    pub(super) inputs: Vec<Terms>,
    /// Place in the matrix of each term of each input.
    places: Vec<Vec<usize>>,
}

/// The numbers.
#[derive(Clone, Debug)]
pub(crate) struct Equations<'p> {
    pub(crate) shape: &'p Shape,
    pub(crate) frequency: Lanes,
    pub(super) linear: Vec<Lanes>,
    mass: Vec<Lanes>,
    pub(super) drive: Vec<Lanes>,
    pub(crate) stores: Vec<Factors>,
    pub(super) charges: Vec<Vec<Lanes>>,
    pub(super) devices: Vec<(LaneLaw, Vec<Factors>)>,
}

/// Sources at an instant of each lane.
#[derive(Clone, Debug, Default)]
pub(crate) struct Instant {
    pub(crate) s: Vec<Lanes>,
}

impl Shape {
    /// The shape of a system, if its sources repeat every cycle and an order of elimination is found.
    pub(crate) fn of(system: &System) -> Option<Self> {
        let n = system.n;
        let repeats = |basis: &Basis| matches!(basis, Basis::One | Basis::Sine(_));
        if n == 0 || !system.sources.iter().all(repeats) {
            return None;
        }
        let elimination =
            Elimination::serving(&states::of_instants(system), n, &states::nature(system, 1))?;
        let stages_elimination = Elimination::serving_from(
            (&states::of_stages(system), &states::of_first_steps(system)),
            3 * n,
            &states::nature(system, 3),
        )?;
        let sources = system.sources.len();
        let entries = |values: &[f64], width: usize| -> Vec<(usize, usize)> {
            (0..values.len())
                .filter(|&k| values[k] != 0.0)
                .map(|k| (k / width, k % width))
                .collect()
        };
        let placed = |(row, column): (usize, usize)| {
            elimination
                .find(row, column)
                .map(|place| (row, column, place))
        };
        let linear: Vec<Entry> = entries(&system.linear, n)
            .into_iter()
            .map(placed)
            .collect::<Option<_>>()?;
        let mass: Vec<Entry> = entries(&mass(system), n)
            .into_iter()
            .map(placed)
            .collect::<Option<_>>()?;
        let devices: Vec<DeviceShape> = system
            .devices
            .iter()
            .map(|device| {
                let inputs: Vec<Terms> = device.inputs.iter().map(Terms::of).collect();
                let places = inputs
                    .iter()
                    .map(|terms| {
                        let place = |&column: &usize| elimination.find(device.row, column);
                        terms.x.iter().map(place).collect::<Option<Vec<_>>>()
                    })
                    .collect::<Option<Vec<_>>>()?;
                Some(DeviceShape {
                    row: device.row,
                    inputs,
                    places,
                })
            })
            .collect::<Option<_>>()?;
        let stages = Stages::of(stages_elimination, n, (&linear, &mass), &devices)?;
        let drive = if sources == 0 {
            Vec::new()
        } else {
            entries(&system.drive, sources)
        };
        let row_ends = (0..n).map(|row| {
            (
                drive.partition_point(|entry| entry.0 <= row),
                linear.partition_point(|entry| entry.0 <= row),
            )
        });
        Some(Self {
            n,
            sources: system.sources.clone(),
            row_ends: row_ends.collect(),
            linear,
            mass,
            drive,
            stores: system.stores.iter().map(|s| Terms::of(&s.value)).collect(),
            charges: system
                .stores
                .iter()
                .map(|s| s.charge.iter().map(|term| term.0).collect())
                .collect(),
            devices,
            elimination,
            stages,
        })
    }

    /// Whether its orders of elimination serve every state to as many digits as it has.
    pub(crate) fn is_trusted(&self) -> bool {
        self.elimination.is_trusted() && self.stages.elimination.is_trusted()
    }

    /// What an iteration costs, with what it costs to be less exact.
    pub(crate) fn cost(&self) -> usize {
        self.stages.elimination.cost().max(self.elimination.cost())
    }

    /// Whether a system has no entries but in these places.
    pub(crate) fn takes(&self, system: &System) -> bool {
        let is_alike = system.n == self.n
            && system.sources == self.sources
            && system.stores.len() == self.stores.len()
            && system.devices.len() == self.devices.len();
        let places = |entries: &[Entry]| -> Vec<(usize, usize)> {
            entries.iter().map(|entry| (entry.0, entry.1)).collect()
        };
        let of_tables = || {
            are_all(&places(&self.linear), self.n, &system.linear)
                && are_all(&places(&self.mass), self.n, &mass(system))
                && are_all(&self.drive, self.sources.len(), &system.drive)
        };
        let of_stores = || {
            let mut all = system.stores.iter().zip(&self.stores).zip(&self.charges);
            all.all(|((store, terms), rows)| {
                let known = |term: &(usize, f64)| rows.contains(&term.0);
                terms.take(&store.value) && store.charge.iter().all(known)
            })
        };
        let of_devices = || {
            let mut all = system.devices.iter().zip(&self.devices);
            all.all(|(device, shape)| {
                let mut inputs = device.inputs.iter().zip(&shape.inputs);
                device.row == shape.row && inputs.all(|(probe, terms)| terms.take(probe))
            })
        };
        is_alike && of_tables() && of_stores() && of_devices()
    }

    /// The sources at an instant of each lane.
    #[inline(always)]
    pub(crate) fn instant(&self, t: Lanes, instant: &mut Instant) {
        let (sine, cosine) = t.turn();
        for (k, basis) in self.sources.iter().enumerate() {
            let Basis::Sine(order) = *basis else {
                instant.s[k] = Lanes::ONE;
                continue;
            };
            // Harmonics by turning on by the first.
            let (mut s, mut c) = (sine, cosine);
            for _ in 1..order {
                let next = s * cosine + c * sine;
                c = c * cosine - s * sine;
                s = next;
            }
            instant.s[k] = s;
        }
    }

    pub(crate) fn new_inputs(&self) -> Inputs {
        Inputs(vec![[Lanes::ZERO; 3]; self.devices.len()])
    }

    pub(crate) fn new_between(&self) -> Vec<Between> {
        vec![Between::ANYWHERE; self.devices.len()]
    }

    pub(crate) fn new_instant(&self) -> Instant {
        Instant {
            s: vec![Lanes::ZERO; self.sources.len()],
        }
    }
}

impl Stages {
    fn of(
        elimination: Elimination,
        n: usize,
        (linear, mass): (&[Entry], &[Entry]),
        devices: &[DeviceShape],
    ) -> Option<Self> {
        let mut stages = Self {
            linear: Default::default(),
            mass: Default::default(),
            devices: Default::default(),
            elimination,
        };
        for i in 0..3 {
            let find = |row: usize, j: usize, column: usize| {
                stages.elimination.find(i * n + row, j * n + column)
            };
            let all = linear.iter().map(|e| find(e.0, i, e.1));
            let own = all.collect::<Option<Vec<_>>>()?;
            let mut of_masses: [Vec<usize>; 3] = Default::default();
            for (j, places) in of_masses.iter_mut().enumerate() {
                let all = mass.iter().map(|e| find(e.0, j, e.1));
                *places = all.collect::<Option<Vec<_>>>()?;
            }
            let mut of_devices = Vec::new();
            for device in devices {
                let mut of_inputs = Vec::new();
                for terms in &device.inputs {
                    let all = terms.x.iter().map(|&column| find(device.row, i, column));
                    of_inputs.push(all.collect::<Option<Vec<_>>>()?);
                }
                of_devices.push(of_inputs);
            }
            stages.linear[i] = own;
            stages.mass[i] = of_masses;
            stages.devices[i] = of_devices;
        }
        Some(stages)
    }
}

/// What holds devices that swing.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Swings {
    /// Move, as a share of an input and of one, that counts as none.
    pub(crate) enough: Lanes,
    /// Lanes in which they are held.
    pub(crate) lanes: Mask,
    /// Whether they have been going free until now.
    pub(crate) are_new: bool,
}

impl<'p> Equations<'p> {
    /// Of eight systems; `None` where one has another shape.
    pub(crate) fn gather(shape: &'p Shape, systems: [&System; WIDTH]) -> Option<Self> {
        let first = systems[0];
        let n = shape.n;
        let sources = shape.sources.len();
        for system in systems {
            let same = system.n == n
                && system.sources == shape.sources
                && system.stores.len() == shape.stores.len()
                && system.devices.len() == shape.devices.len();
            if !same {
                return None;
            }
        }
        let per_lane = |of: &dyn Fn(&System) -> f64| {
            let mut out = [0.0; WIDTH];
            for (out, system) in out.iter_mut().zip(systems) {
                *out = of(system);
            }
            Lanes(out)
        };
        let triples: Vec<(usize, usize)> = shape.linear.iter().map(|e| (e.0, e.1)).collect();
        let linear = placed(&triples, n, systems.map(|s| s.linear.as_slice()))?;
        let triples: Vec<(usize, usize)> = shape.mass.iter().map(|e| (e.0, e.1)).collect();
        let masses = systems.map(mass);
        let mass = placed(&triples, n, masses.each_ref().map(Vec::as_slice))?;
        let drive = placed(&shape.drive, sources, systems.map(|s| s.drive.as_slice()))?;
        let mut stores = Vec::new();
        let mut charges = Vec::new();
        for (k, (terms, rows)) in shape.stores.iter().zip(&shape.charges).enumerate() {
            stores.push(terms.gather(systems.map(|s| &s.stores[k].value))?);
            let mut of_rows = vec![Lanes::ZERO; rows.len()];
            for (lane, system) in systems.iter().enumerate() {
                for &(row, charge) in &system.stores[k].charge {
                    let at = rows.iter().position(|known| *known == row)?;
                    of_rows[at].0[lane] = charge;
                }
            }
            charges.push(of_rows);
        }
        let mut devices = Vec::new();
        for (d, device) in shape.devices.iter().enumerate() {
            if systems.iter().any(|s| s.devices[d].row != device.row) {
                return None;
            }
            let law = LaneLaw::gather(systems.map(|s| &s.devices[d].law))?;
            let inputs = device
                .inputs
                .iter()
                .enumerate()
                .map(|(m, terms)| terms.gather(systems.map(|s| &s.devices[d].inputs[m])))
                .collect::<Option<Vec<_>>>()?;
            devices.push((law, inputs));
        }
        debug_assert_eq!(first.n, n);
        Some(Self {
            shape,
            frequency: per_lane(&|s| s.frequency),
            linear,
            mass,
            drive,
            stores,
            charges,
            devices,
        })
    }

    /// The matrix of all stages but for the devices. `inverse` is the method's, over the step length.
    #[inline(always)]
    pub(crate) fn without_devices<N: Number>(&self, inverse: [[Lanes; 3]; 3], matrix: &mut [N]) {
        let places = &self.shape.stages;
        matrix.fill(N::ZERO);
        for (i, inverse) in inverse.iter().enumerate() {
            for (place, value) in places.linear[i].iter().zip(&self.linear) {
                matrix[*place] += N::of(*value);
            }
            for (d, places) in inverse.iter().zip(&places.mass[i]) {
                for (place, value) in places.iter().zip(&self.mass) {
                    matrix[*place] += N::of(*value) * N::of(*d);
                }
            }
        }
    }

    /// Adds the devices of a stage, as evaluated, to the matrix of all.
    #[inline(always)]
    pub(crate) fn add_devices<N: Number>(&self, i: usize, at: &Bent, matrix: &mut [N]) {
        let places = &self.shape.stages;
        for ((places, (_, inputs)), slopes) in
            places.devices[i].iter().zip(&self.devices).zip(&at.slopes)
        {
            for ((places, factors), slope) in places.iter().zip(inputs).zip(slopes) {
                for (place, factor) in places.iter().zip(&factors.x) {
                    matrix[*place] += N::of(*slope) * N::of(*factor);
                }
            }
        }
    }

    /// The rows of all stages, one after the other: minus the residual, devices linearised about inputs.
    #[inline(always)]
    pub(crate) fn lack(
        &self,
        (x, now, rates): (&[Vec<Lanes>; 3], &[Instant; 3], &[Vec<Lanes>; 3]),
        (at, about, here): (&[Bent; 3], &[Inputs; 3], &[Inputs; 3]),
        out: &mut [Lanes],
    ) {
        let shape = self.shape;
        let n = shape.n;
        // Three sums at a time: none waits for itself.
        let (mut driven, mut linear) = (0, 0);
        for (row, (drive_end, linear_end)) in shape.row_ends.iter().enumerate() {
            let mut sums = [Lanes::ZERO; 3];
            for at in driven..*drive_end {
                let (value, source) = (self.drive[at], shape.drive[at].1);
                for (sum, now) in sums.iter_mut().zip(now) {
                    *sum -= value * now.s[source];
                }
            }
            for at in linear..*linear_end {
                let (value, column) = (self.linear[at], shape.linear[at].1);
                for (sum, x) in sums.iter_mut().zip(x) {
                    *sum -= value * x[column];
                }
            }
            for (i, sum) in sums.into_iter().enumerate() {
                out[i * n + row] = sum;
            }
            (driven, linear) = (*drive_end, *linear_end);
        }
        for (i, rates) in rates.iter().enumerate() {
            for ((rows, charges), rate) in shape.charges.iter().zip(&self.charges).zip(rates) {
                let rate = self.frequency * *rate;
                for (&row, charge) in rows.iter().zip(charges) {
                    out[i * n + row] -= *charge * rate;
                }
            }
            for (k, (shape, (_, inputs))) in shape.devices.iter().zip(&self.devices).enumerate() {
                let mut lack = at[i].rho[k];
                for m in 0..inputs.len() {
                    lack += at[i].slopes[k][m] * (here[i].0[k][m] - about[i].0[k][m]);
                }
                out[i * n + shape.row] -= lack;
            }
        }
    }

    /// The matrix of one instant, stores weighed by `inverse` (one over a length of time), devices as evaluated.
    #[inline(always)]
    pub(crate) fn single<N: Number>(&self, inverse: Lanes, at: &Bent, matrix: &mut [N]) {
        for value in matrix.iter_mut() {
            *value = N::ZERO;
        }
        for (entry, value) in self.shape.linear.iter().zip(&self.linear) {
            matrix[entry.2] += N::of(*value);
        }
        for (entry, value) in self.shape.mass.iter().zip(&self.mass) {
            matrix[entry.2] += N::of(*value) * N::of(inverse);
        }
        for ((shape, (_, inputs)), slopes) in
            self.shape.devices.iter().zip(&self.devices).zip(&at.slopes)
        {
            for ((places, factors), slope) in shape.places.iter().zip(inputs).zip(slopes) {
                for (place, factor) in places.iter().zip(&factors.x) {
                    matrix[*place] += N::of(*slope) * N::of(*factor);
                }
            }
        }
    }

    /// Asks every device at inputs.
    #[inline(always)]
    pub(crate) fn evaluate(&self, inputs: &Inputs, at: &mut Bent) {
        evaluate(self, inputs, at);
    }

    /// Inputs of every device.
    #[inline(always)]
    pub(crate) fn inputs(&self, x: &[Lanes], now: &Instant, out: &mut Inputs) {
        for ((shape, (_, inputs)), out) in
            self.shape.devices.iter().zip(&self.devices).zip(&mut out.0)
        {
            for ((out, terms), factors) in out.iter_mut().zip(&shape.inputs).zip(inputs) {
                *out = factors.at(terms, x, &now.s);
            }
        }
    }

    /// Inputs at which to linearise, given the last ones and those proposed.
    #[inline(always)]
    pub(crate) fn limited(
        &self,
        last: &Inputs,
        proposed: &Inputs,
        out: &mut Inputs,
        between: &mut [Between],
    ) {
        out.0.copy_from_slice(&last.0);
        between.fill(Between::ANYWHERE);
        self.limit(out, proposed, between, (None, [Mask::NONE; 2]));
    }

    /// Moves inputs on to those proposed, or as far as a linearisation can be trusted; lanes that fell short. In
    /// the lanes where devices may swing, their moves are held to what counts as none; in those where pass elements are to
    /// be looked at in their middle, they do not pass it by.
    #[inline(always)]
    pub(crate) fn limit(
        &self,
        inputs: &mut Inputs,
        proposed: &Inputs,
        between: &mut [Between],
        (swings, looks): (Option<Swings>, [Mask; 2]),
    ) -> Mask {
        let mut limited = Mask::NONE;
        let devices = self.devices.iter().zip(&mut inputs.0);
        for (((law, _), at), (proposed, between)) in devices.zip(proposed.0.iter().zip(between)) {
            let mut next = *proposed;
            if let Some(k) = law.swings_in() {
                let by_its_middle = law.by_its_middle(at, proposed);
                for ((next, middle), looks) in next.iter_mut().zip(by_its_middle).zip(looks) {
                    *next = looks.select(middle, *next);
                }
                let held = next[0].differs(proposed[0]);
                limited = limited.or(held).or(next[1].differs(proposed[1]));
                if let Some(swings) = swings {
                    let may = if swings.are_new {
                        Mask::ALL
                    } else {
                        between.lets_go
                    };
                    let on = law.on_its_way(at[k], proposed[k], &swings, may);
                    let goes = on.differs(proposed[k]);
                    limited = limited.or(goes);
                    let held_in = (swings.enough, swings.lanes);
                    let (held, short) = between.next(at[k], on, held_in);
                    next[k] = held;
                    limited = limited.or(short);
                    if swings.are_new && law.may_let_go() {
                        // Where it was says nothing of where it is to be looked for.
                        *between = Between::let_go_in(goes);
                    }
                }
            } else {
                next[0] = law.limit(at[0], proposed[0]);
                limited = limited.or(next[0].differs(proposed[0]));
            }
            *at = next;
        }
        limited
    }

    /// Loads that were let go, as their linearisation has them on their way.
    pub(crate) fn on_their_way(&self, between: &[Between], at: &mut Bent) {
        for (((law, _), slopes), between) in self.devices.iter().zip(&mut at.slopes).zip(between) {
            if law.may_let_go() {
                let slope = slopes[0].map(|slope| -LoadLaw::slope_on_its_way(-slope));
                slopes[0] = between.lets_go.select(slope, slopes[0]);
            }
        }
    }

    /// Lanes in which an ideal diode is on another of its pieces.
    #[inline(always)]
    pub(crate) fn changes_over(&self, from: &Inputs, to: &Inputs) -> Mask {
        let mut changes = Mask::NONE;
        for (((law, _), from), to) in self.devices.iter().zip(&from.0).zip(&to.0) {
            if let Some((before, after)) = law.conducts(from).zip(law.conducts(to)) {
                changes = changes
                    .or(before.and(after.not()))
                    .or(after.and(before.not()));
            }
        }
        changes
    }

    /// Share of the way from some inputs to others at which the first ideal diode changes over: a hair beyond, or all
    /// of it.
    pub(crate) fn share_to_corner(&self, from: &Inputs, to: &Inputs) -> Lanes {
        let mut share = Lanes::ONE;
        for (((law, _), from), to) in self.devices.iter().zip(&from.0).zip(&to.0) {
            if let Some((before, after)) = law.conducting(from).zip(law.conducting(to)) {
                let changes = Lanes::ZERO
                    .below(before)
                    .and(Lanes::ZERO.below(after).not());
                let changes = changes.or(Lanes::ZERO
                    .below(after)
                    .and(Lanes::ZERO.below(before).not()));
                let at = before / (before - after);
                let beyond = at + Lanes::all(BEYOND) * (Lanes::ONE - at);
                share = changes.select(share.min(beyond), share);
            }
        }
        share.max(Lanes::all(BEYOND))
    }

    /// Adds `f a_k w` of each store to rows.
    #[inline(always)]
    pub(crate) fn add_charges(&self, w: &[Lanes], out: &mut [Lanes]) {
        for ((rows, charges), w) in self.shape.charges.iter().zip(&self.charges).zip(w) {
            for (&row, charge) in rows.iter().zip(charges) {
                out[row] += self.frequency * *charge * *w;
            }
        }
    }

    /// A store's value.
    #[inline(always)]
    pub(crate) fn store(&self, k: usize, x: &[Lanes], s: &[Lanes]) -> Lanes {
        self.stores[k].at(&self.shape.stores[k], x, s)
    }

    /// The part of a store's change that comes of the unknowns.
    #[inline(always)]
    pub(crate) fn store_change(&self, k: usize, u: &[Lanes]) -> Lanes {
        self.stores[k].linear(&self.shape.stores[k], u)
    }
}

/// What devices are asked at.
#[derive(Clone, Debug)]
pub(crate) struct Inputs(Vec<[Lanes; 3]>);

impl Inputs {
    /// Those of one lane.
    pub(crate) fn of_lane(&self, lane: usize) -> Vec<[f64; 3]> {
        let of = self.0.iter();
        of.map(|inputs| inputs.map(|input| input.0[lane])).collect()
    }

    pub(crate) fn fill(&mut self, value: Lanes) {
        self.0.fill([value; 3]);
    }

    /// Takes others in some lanes.
    #[inline(always)]
    pub(crate) fn take(&mut self, others: &Inputs, lanes: Mask) {
        for (own, other) in self.0.iter_mut().zip(&others.0) {
            for (own, other) in own.iter_mut().zip(other) {
                *own = lanes.select(*other, *own);
            }
        }
    }
}

/// What devices say somewhere.
#[derive(Clone, Debug)]
pub(crate) struct Bent {
    /// `ρ` of each.
    pub(crate) rho: Vec<Lanes>,
    slopes: Vec<[Lanes; 3]>,
}

impl Bent {
    pub(crate) fn new(shape: &Shape) -> Self {
        Self {
            rho: vec![Lanes::ZERO; shape.devices.len()],
            slopes: vec![[Lanes::ZERO; 3]; shape.devices.len()],
        }
    }

    /// Takes the slopes of others in some lanes.
    #[inline(always)]
    pub(crate) fn take_slopes(&mut self, others: &Bent, lanes: Mask) {
        for k in 0..self.slopes.len() {
            for m in 0..3 {
                self.slopes[k][m] = lanes.select(others.slopes[k][m], self.slopes[k][m]);
            }
        }
    }
}

in_widest!(
    /// Asks every device.
    fn evaluate(equations: &Equations<'_>, inputs: &Inputs, at: &mut Bent) = evaluate_lanes
);

#[inline(always)]
fn evaluate_lanes(equations: &Equations<'_>, inputs: &Inputs, at: &mut Bent) {
    for (k, (law, _)) in equations.devices.iter().enumerate() {
        (at.rho[k], at.slopes[k]) = law.residual(&inputs.0[k]);
    }
}

/// `f Σ a_k b_kᵀ`, row-major.
pub(super) fn mass(system: &System) -> Vec<f64> {
    let n = system.n;
    let mut mass = vec![0.0; n * n];
    for store in &system.stores {
        for &(row, charge) in &store.charge {
            for &(column, factor) in &store.value.x {
                mass[row * n + column] += system.frequency * charge * factor;
            }
        }
    }
    mass
}

/// Whether a dense table has no entries but in these places.
fn are_all(places: &[(usize, usize)], width: usize, table: &[f64]) -> bool {
    let at_places = places
        .iter()
        .map(|&(row, column)| &table[row * width + column]);
    let entries = |count: usize, entry: &f64| count + usize::from(*entry != 0.0);
    at_places.fold(0, entries) == table.iter().fold(0, entries)
}

/// Entries of eight dense tables by their places; `None` where a table has one elsewhere.
fn placed(places: &[(usize, usize)], width: usize, tables: [&[f64]; WIDTH]) -> Option<Vec<Lanes>> {
    let mut out = vec![Lanes::ZERO; places.len()];
    for (lane, table) in tables.into_iter().enumerate() {
        if !are_all(places, width, table) {
            return None;
        }
        for (value, &(row, column)) in out.iter_mut().zip(places) {
            value.0[lane] = table[row * width + column];
        }
    }
    Some(out)
}
