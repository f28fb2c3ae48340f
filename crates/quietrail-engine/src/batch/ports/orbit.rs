//! The steps of a plan made by eight circuits, and kept, so that the next time each begins where it ended.

use super::super::gauge::Tally;
use super::super::instructions::in_widest;
use super::super::lanes::{Lanes, Mask};
use super::super::law::LaneLaw;
use super::super::mirror::Mirror;
use super::operator::{Operator, STAGES};
use super::plan::{Arrangement, Leg, MOST_PORTS, Plan};
use crate::step::{ITERATIONS, Tableau};
use std::ops::Range;

/// What an update leaves to be done is at most so many times its square.
const CURVED: f64 = 1e3;
/// The same as [`Orbit::enough`] in a cycle that will be gone through again from elsewhere.
const ROUGHLY: f64 = 1e-3;
/// Iterations in which laws are asked nowhere out of the way.
const FIRST: usize = 4;
/// Least current, as a share of the largest, that updates are shares of.
const LEAST_CURRENT: f64 = 1e-3;

/// Eight circuits on the steps of a plan.
pub(super) struct Orbit<'a> {
    plan: &'a Plan,
    operators: Vec<Operator>,
    /// What quiet devices of each arrangement must stay beyond, and on which side.
    bounds: Vec<Vec<(Lanes, Lanes)>>,
    laws: &'a [(LaneLaw, usize)],
    stores: usize,
    tableau: Tableau,
    /// Share of a coordinate below which an update is the last.
    enough: Lanes,
    largest_current: Lanes,
    kept: Kept,
    scratch: Scratch,
    pub(super) steps: u64,
    pub(super) iterations: u64,
}

/// Steps made, one after the other: coordinates at their stages, stores at their starts, and the derivatives of both against
/// those at the start of the cycle, row-major.
struct Kept {
    /// First coordinate of each step; at last, how many there are.
    firsts: Vec<usize>,
    coordinates: Vec<Lanes>,
    moved: Vec<Lanes>,
    stores: Vec<Lanes>,
    map: Vec<Lanes>,
}

impl Kept {
    fn new(plan: &Plan, operators: &[Operator], stores: usize) -> Self {
        let mut firsts = vec![0];
        let mut count = 0;
        for leg in &plan.legs {
            count += STAGES * operators[leg.operator].sizes.ports;
            firsts.push(count);
        }
        let legs = plan.legs.len();
        Self {
            firsts,
            coordinates: vec![Lanes::ZERO; count],
            moved: vec![Lanes::ZERO; count * stores],
            stores: vec![Lanes::ZERO; legs * stores],
            map: vec![Lanes::ZERO; legs * stores * stores],
        }
    }

    /// Places of a step's coordinates.
    fn coordinates_of(&self, at: usize) -> Range<usize> {
        self.firsts[at]..self.firsts[at + 1]
    }
}

#[derive(Default)]
struct Scratch {
    /// Inputs of ports, stage by stage: what of them is known beforehand, as they stand, and where laws are asked.
    known: Vec<Lanes>,
    inputs: Vec<Lanes>,
    at: Vec<Lanes>,
    slopes: Vec<Lanes>,
    matrix: Vec<Lanes>,
    /// Slopes and factored matrix with which each lane was last moved.
    last_slopes: Vec<Lanes>,
    last_matrix: Vec<Lanes>,
    right: Vec<Lanes>,
    coordinates: Vec<Lanes>,
    /// Derivatives of the coordinates of a step against the stores at its start; and where a step ends.
    moved: Vec<Lanes>,
    row: Vec<Lanes>,
    next_stores: Vec<Lanes>,
    next_map: Vec<Lanes>,
    /// Inputs of each device where the last step ended, if it was a port there.
    held: Vec<Option<[Lanes; 3]>>,
}

/// A cycle gone through.
pub(super) struct Passed {
    pub(super) end: Vec<Lanes>,
    pub(super) low: Vec<Lanes>,
    pub(super) high: Vec<Lanes>,
    /// Derivative of the end against the start, row-major.
    pub(super) map: Vec<Lanes>,
    pub(super) ok: Mask,
}

/// What reading a closed cycle shows.
pub(super) struct Read {
    /// Largest error of a step, as a share of that allowed.
    pub(super) error: Lanes,
    /// Lanes in which all stayed quiet that was taken to.
    pub(super) quiet: Mask,
}

impl Passed {
    /// Of half a cycle, as if the other half began where it began and went the same way.
    pub(super) fn folded(mut self, mirror: &Mirror) -> Self {
        let signed = |lanes: Lanes, sign: f64| Lanes::all(sign) * lanes;
        let stores = self.end.len();
        self.end = mirror.exchanged(&self.end, signed);
        for column in 0..stores {
            let of: Vec<Lanes> = (0..stores)
                .map(|row| self.map[row * stores + column])
                .collect();
            for (row, value) in mirror.exchanged(&of, signed).into_iter().enumerate() {
                self.map[row * stores + column] = value;
            }
        }
        (self.low, self.high) = mirror.ranges((self.low, self.high));
        self
    }
}

impl<'a> Orbit<'a> {
    pub(super) fn new(
        plan: &'a Plan,
        operators: Vec<Operator>,
        bounds: Vec<Vec<(Lanes, Lanes)>>,
        laws: &'a [(LaneLaw, usize)],
        tolerance: f64,
    ) -> Self {
        let stores = operators.first().map_or(0, |one| one.sizes.stores);
        Self {
            kept: Kept::new(plan, &operators, stores),
            plan,
            operators,
            bounds,
            laws,
            stores,
            tableau: Tableau::new(),
            enough: Lanes::all((0.003 * tolerance.sqrt()).max(1e-9)),
            largest_current: Lanes::all(1e-3),
            scratch: Scratch::default(),
            steps: 0,
            iterations: 0,
        }
    }

    /// Goes through the cycle from stores, `moved` from where it began the last time, in the lanes wanted. Lanes `near` are
    /// taken to do as they did, moved as their derivatives have it.
    pub(super) fn pass(
        &mut self,
        z: &[Lanes],
        moved: &[Lanes],
        near: Mask,
        wanted: Mask,
    ) -> Passed {
        pass(self, z, moved, near, wanted)
    }

    /// Reads the cycle gone through last, as it is when it begins a little further on.
    pub(super) fn read(
        &self,
        further: &[Lanes],
        allowed: &[Lanes],
        wanted: Mask,
        tally: &mut Tally<'_>,
    ) -> Read {
        read(self, further, allowed, wanted, tally)
    }

    fn arrangement(&self, leg: &Leg) -> (usize, f64, &'a Arrangement) {
        let (place, h) = self.plan.operators[leg.operator];
        (place, h, &self.plan.arrangements[place])
    }
}

/// Sum of products.
#[inline(always)]
fn dot(row: &[Lanes], with: &[Lanes]) -> Lanes {
    let mut sum = Lanes::ZERO;
    for (a, b) in row.iter().zip(with) {
        sum += *a * *b;
    }
    sum
}

/// The part of a row that sources make.
#[inline(always)]
fn driven(row: &[Lanes], sources: &[f64]) -> Lanes {
    let mut sum = Lanes::ZERO;
    for (factor, source) in row.iter().zip(sources) {
        sum += *factor * Lanes::all(*source);
    }
    sum
}

in_widest!(
    fn pass(
        orbit: &mut Orbit<'_>,
        z: &[Lanes],
        moved: &[Lanes],
        near: Mask,
        wanted: Mask,
    ) -> Passed = pass_lanes
);

#[inline(always)]
fn pass_lanes(
    orbit: &mut Orbit<'_>,
    z: &[Lanes],
    moved: &[Lanes],
    near: Mask,
    wanted: Mask,
) -> Passed {
    let m = orbit.stores;
    let plan = orbit.plan;
    let mut scratch = std::mem::take(&mut orbit.scratch);
    scratch.held.clear();
    scratch.held.resize(orbit.laws.len(), None);
    let mut z = z.to_vec();
    let (mut low, mut high) = (z.clone(), z.clone());
    let mut map = vec![Lanes::ZERO; m * m];
    for k in 0..m {
        map[k * m + k] = Lanes::ONE;
    }
    let mut ok = wanted;
    let mut last: Option<usize> = None;
    for at in 0..plan.legs.len() {
        let leg = &plan.legs[at];
        guess(orbit, &mut scratch, (at, last), moved, near);
        let made = solve_ports(orbit, &mut scratch, leg, &z, (near, ok));
        ok = ok.and(made);
        if !ok.any() {
            break;
        }
        orbit.steps += 1;
        carry(orbit, &mut scratch, at, (&mut z, &mut map), ok);
        for k in 0..m {
            low[k] = low[k].min(z[k]);
            high[k] = high[k].max(z[k]);
        }
        last = Some(at);
    }
    orbit.scratch = scratch;
    Passed {
        end: z,
        low,
        high,
        map,
        ok,
    }
}

/// Where a step's coordinates are looked for: where they were the last time and what has moved since, or where the solved
/// circuit's were, as far from these as the step before ended.
#[inline(always)]
fn guess(
    orbit: &Orbit<'_>,
    scratch: &mut Scratch,
    (at, last): (usize, Option<usize>),
    moved: &[Lanes],
    near: Mask,
) {
    let m = orbit.stores;
    let leg = &orbit.plan.legs[at];
    let kept = &orbit.kept;
    let first = kept.firsts[at];
    let count = kept.coordinates_of(at).len();
    let ports = count / STAGES;
    // The end of the step before is still in its place.
    let mut offset = [Lanes::ZERO; MOST_PORTS];
    if let Some(before) = last.map(|before| &orbit.plan.legs[before])
        && near.not().any()
        && orbit.arrangement(before).0 == orbit.arrangement(leg).0
    {
        for port in 0..ports {
            let place = (STAGES - 1) * ports + port;
            offset[port] = scratch.coordinates[place] - Lanes::all(before.guess[place]);
        }
    }
    scratch.coordinates.resize(count, Lanes::ZERO);
    for k in 0..count {
        scratch.coordinates[k] = near.select(
            kept.coordinates[first + k] + dot(&kept.moved[(first + k) * m..][..m], moved),
            Lanes::all(leg.guess[k]) + offset[k % ports],
        );
    }
}

/// Solves the ports of a step by Newton's method; lanes in which it was done.
#[inline(always)]
fn solve_ports(
    orbit: &mut Orbit<'_>,
    scratch: &mut Scratch,
    leg: &Leg,
    z: &[Lanes],
    (near, wanted): (Mask, Mask),
) -> Mask {
    let m = orbit.stores;
    let arrangement = orbit.arrangement(leg).2;
    let operator = &orbit.operators[leg.operator];
    let columns = operator.columns();
    let sizes = operator.sizes;
    let (p, per_stage) = (sizes.ports, sizes.inputs);
    let n = STAGES * p;
    if n == 0 {
        return wanted;
    }
    let count = STAGES * per_stage;
    for list in [
        &mut scratch.known,
        &mut scratch.inputs,
        &mut scratch.at,
        &mut scratch.slopes,
    ] {
        list.resize(count, Lanes::ZERO);
    }
    scratch.last_slopes.resize(count, Lanes::ZERO);
    scratch.matrix.resize(n * n, Lanes::ZERO);
    scratch.last_matrix.resize(n * n, Lanes::ZERO);
    scratch.right.resize(n, Lanes::ZERO);
    for (row, known) in operator
        .inputs
        .chunks_exact(columns)
        .zip(&mut scratch.known)
    {
        *known = dot(&row[..m], z) + driven(&row[m + n..], &leg.sources);
    }
    stand(operator, scratch, arrangement, orbit.laws, (m, n, columns));
    // Where laws are asked first.
    let mut place = 0;
    for _ in 0..STAGES {
        for port in &arrangement.ports {
            let law = &orbit.laws[port.device].0;
            let inputs = orbit.laws[port.device].1;
            scratch.at[place..place + inputs]
                .copy_from_slice(&scratch.inputs[place..place + inputs]);
            if near.not().any() {
                let last = scratch.held[port.device].map_or(Lanes::ZERO, |held| held[0]);
                let limited = law.limit(last, scratch.inputs[place]);
                scratch.at[place] = near.select(scratch.inputs[place], limited);
            }
            place += inputs;
        }
    }
    let mut made = wanted.not();
    let enough = near.select(orbit.enough, Lanes::all(ROUGHLY));
    for iteration in 0..ITERATIONS {
        orbit.iterations += 1;
        linearise(orbit, scratch, operator, arrangement, (m, n, columns));
        factor(&mut scratch.matrix, n);
        substitute(&scratch.matrix, n, &mut scratch.right);
        let moves = made.not();
        keep(&mut scratch.last_slopes, &scratch.slopes, moves);
        keep(&mut scratch.last_matrix, &scratch.matrix, moves);
        let mut is_done = Mask::ALL;
        for i in 0..STAGES {
            for (k, port) in arrangement.ports.iter().enumerate() {
                let update = scratch.right[i * p + k];
                let value = scratch.coordinates[i * p + k];
                let next = value + update;
                let least = if port.coordinate == 0 {
                    Lanes::ONE
                } else {
                    Lanes::all(LEAST_CURRENT) * orbit.largest_current
                };
                // As a share of its size: small enough, or so small that its square is. What is no number is neither.
                let scale = next.abs().max(least);
                let is_small = update.abs().below(enough * scale);
                let curves_little =
                    (Lanes::all(CURVED) * update * update).below(enough * scale * scale);
                is_done = is_done.and(is_small.or(curves_little));
                scratch.coordinates[i * p + k] = made.select(value, next);
            }
        }
        stand(operator, scratch, arrangement, orbit.laws, (m, n, columns));
        let mut limited = Mask::NONE;
        let mut place = 0;
        for _ in 0..STAGES {
            for port in &arrangement.ports {
                let (law, inputs) = &orbit.laws[port.device];
                let proposed = scratch.inputs[place];
                let held = if iteration < FIRST {
                    law.limit_at_first(scratch.at[place], proposed)
                } else {
                    law.limit(scratch.at[place], proposed)
                };
                limited = limited.or(held.differs(proposed));
                for k in 0..*inputs {
                    scratch.at[place + k] = scratch.inputs[place + k];
                }
                scratch.at[place] = held;
                place += *inputs;
            }
        }
        made = made.or(is_done.and(limited.not()));
        if !made.not().any() {
            break;
        }
    }
    let mut place = (STAGES - 1) * per_stage;
    for (k, port) in arrangement.ports.iter().enumerate() {
        let inputs = orbit.laws[port.device].1;
        let mut held = [Lanes::ZERO; 3];
        held[..inputs].copy_from_slice(&scratch.inputs[place..place + inputs]);
        scratch.held[port.device] = Some(held);
        place += inputs;
        if port.coordinate != 0 {
            let most = scratch.coordinates[(STAGES - 1) * p + k].abs();
            orbit.largest_current = orbit.largest_current.max(most);
        }
    }
    made.and(wanted)
}

/// Inputs of the ports at the coordinates as they stand; one of each is its coordinate.
#[inline(always)]
fn stand(
    operator: &Operator,
    scratch: &mut Scratch,
    arrangement: &Arrangement,
    laws: &[(LaneLaw, usize)],
    (m, n, columns): (usize, usize, usize),
) {
    let (mut place, mut own) = (0, 0);
    for _ in 0..STAGES {
        for port in &arrangement.ports {
            for k in 0..laws[port.device].1 {
                scratch.inputs[place] = if k == port.coordinate {
                    scratch.coordinates[own]
                } else {
                    let first = place * columns + m;
                    let row = &operator.inputs[first..first + n];
                    scratch.known[place] + dot(row, &scratch.coordinates[..n])
                };
                place += 1;
            }
            own += 1;
        }
    }
}

/// The linearised equations of the ports: their matrix, and what they lack.
#[inline(always)]
fn linearise(
    orbit: &Orbit<'_>,
    scratch: &mut Scratch,
    operator: &Operator,
    arrangement: &Arrangement,
    (m, n, columns): (usize, usize, usize),
) {
    let (mut place, mut row) = (0, 0);
    for _ in 0..STAGES {
        for port in &arrangement.ports {
            let (law, inputs) = &orbit.laws[port.device];
            let inputs = *inputs;
            let mut at = [Lanes::ZERO; 3];
            at[..inputs].copy_from_slice(&scratch.at[place..place + inputs]);
            let (rho, slopes) = law.residual(&at);
            let mut lack = rho;
            let of_row = &mut scratch.matrix[row * n..(row + 1) * n];
            of_row.fill(Lanes::ZERO);
            for k in 0..inputs {
                let slope = slopes[k];
                scratch.slopes[place + k] = slope;
                lack += slope * (scratch.inputs[place + k] - at[k]);
                if k == port.coordinate {
                    of_row[row] += slope;
                    continue;
                }
                let first = (place + k) * columns + m;
                for (sum, factor) in of_row.iter_mut().zip(&operator.inputs[first..first + n]) {
                    *sum += slope * *factor;
                }
            }
            scratch.right[row] = -lack;
            place += inputs;
            row += 1;
        }
    }
}

/// Factors a dense matrix in place, pivots in order and inverted.
#[inline(always)]
fn factor(matrix: &mut [Lanes], n: usize) {
    for k in 0..n {
        let inverse = Lanes::ONE / matrix[k * n + k];
        matrix[k * n + k] = inverse;
        let (head, tail) = matrix.split_at_mut((k + 1) * n);
        let pivot = &head[k * n + k + 1..(k + 1) * n];
        for row in tail.chunks_exact_mut(n) {
            let factor = row[k] * inverse;
            row[k] = factor;
            for (value, pivot) in row[k + 1..].iter_mut().zip(pivot) {
                *value -= factor * *pivot;
            }
        }
    }
}

/// Solves for a right-hand side, in place.
#[inline(always)]
fn substitute(matrix: &[Lanes], n: usize, right: &mut [Lanes]) {
    for k in 1..n {
        let taken = dot(&matrix[k * n..k * n + k], &right[..k]);
        right[k] -= taken;
    }
    for k in (0..n).rev() {
        let taken = dot(&matrix[k * n + k + 1..(k + 1) * n], &right[k + 1..n]);
        right[k] = (right[k] - taken) * matrix[k * n + k];
    }
}

/// Keeps a step that was solved, and goes on to its end: stores, and their derivative against those at the start.
#[inline(always)]
fn carry(
    orbit: &mut Orbit<'_>,
    scratch: &mut Scratch,
    at: usize,
    (z, map): (&mut [Lanes], &mut [Lanes]),
    wanted: Mask,
) {
    let m = orbit.stores;
    let leg = &orbit.plan.legs[at];
    let operator = &orbit.operators[leg.operator];
    let columns = operator.columns();
    let n = STAGES * operator.sizes.ports;
    let kept = &mut orbit.kept;
    let first = kept.firsts[at];
    keep(&mut kept.stores[at * m..][..m], z, wanted);
    keep(&mut kept.map[at * m * m..][..m * m], map, wanted);
    keep(
        &mut kept.coordinates[first..][..n],
        &scratch.coordinates[..n],
        wanted,
    );
    // How coordinates move with the stores at the start of the step, then of the cycle.
    scratch.moved.resize(n * m, Lanes::ZERO);
    scratch.row.resize(m, Lanes::ZERO);
    scratch.next_stores.resize(m, Lanes::ZERO);
    scratch.next_map.resize(m * m, Lanes::ZERO);
    if n > 0 {
        scratch.right.resize(n, Lanes::ZERO);
        let arrangement = &orbit.plan.arrangements[orbit.plan.operators[leg.operator].0];
        for direction in 0..m {
            let (mut place, mut row) = (0, 0);
            for _ in 0..STAGES {
                for port in &arrangement.ports {
                    let inputs = orbit.laws[port.device].1;
                    let mut sum = Lanes::ZERO;
                    for k in 0..inputs {
                        let factor = operator.inputs[(place + k) * columns + direction];
                        sum -= scratch.last_slopes[place + k] * factor;
                    }
                    scratch.right[row] = sum;
                    place += inputs;
                    row += 1;
                }
            }
            substitute(&scratch.last_matrix, n, &mut scratch.right);
            for row in 0..n {
                scratch.moved[row * m + direction] = scratch.right[row];
            }
        }
    }
    for row in 0..n {
        times(
            &scratch.moved[row * m..(row + 1) * m],
            map,
            &mut scratch.row,
        );
        keep(
            &mut kept.moved[(first + row) * m..][..m],
            &scratch.row,
            wanted,
        );
    }
    let end = &operator.stores[(STAGES - 1) * m * columns..];
    for (k, row) in end.chunks_exact(columns).enumerate() {
        scratch.next_stores[k] = dot(&row[..m], z)
            + dot(&row[m..m + n], &scratch.coordinates)
            + driven(&row[m + n..], &leg.sources);
        scratch.row.copy_from_slice(&row[..m]);
        for (port, factor) in row[m..m + n].iter().enumerate() {
            for column in 0..m {
                scratch.row[column] += *factor * scratch.moved[port * m + column];
            }
        }
        times(&scratch.row, map, &mut scratch.next_map[k * m..(k + 1) * m]);
    }
    z.copy_from_slice(&scratch.next_stores);
    map.copy_from_slice(&scratch.next_map);
}

/// A row times a square matrix.
#[inline(always)]
fn times(row: &[Lanes], matrix: &[Lanes], out: &mut [Lanes]) {
    let m = row.len();
    for (column, out) in out.iter_mut().enumerate() {
        let mut sum = Lanes::ZERO;
        for (k, factor) in row.iter().enumerate() {
            sum += *factor * matrix[k * m + column];
        }
        *out = sum;
    }
}

#[inline(always)]
fn keep(into: &mut [Lanes], from: &[Lanes], lanes: Mask) {
    for (into, from) in into.iter_mut().zip(from) {
        *into = lanes.select(*from, *into);
    }
}

in_widest!(
    fn read(
        orbit: &Orbit<'_>,
        further: &[Lanes],
        allowed: &[Lanes],
        wanted: Mask,
        tally: &mut Tally<'_>,
    ) -> Read = read_lanes
);

#[inline(always)]
fn read_lanes(
    orbit: &Orbit<'_>,
    further: &[Lanes],
    allowed: &[Lanes],
    wanted: Mask,
    tally: &mut Tally<'_>,
) -> Read {
    let m = orbit.stores;
    let Tableau {
        gamma,
        estimate,
        inverse,
        nodes,
        weights,
    } = orbit.tableau;
    let mut read = Read {
        error: Lanes::ZERO,
        quiet: Mask::ALL,
    };
    let mut t = 0.0;
    let mut rates: Vec<Lanes> = Vec::new();
    let mut z: Vec<Lanes> = Vec::new();
    let mut coordinates: Vec<Lanes> = Vec::new();
    let mut courses: Vec<[Lanes; STAGES]> = Vec::new();
    let kept = &orbit.kept;
    for (at, leg) in orbit.plan.legs.iter().enumerate() {
        let (place, h, _) = orbit.arrangement(leg);
        let operator = &orbit.operators[leg.operator];
        let columns = operator.columns();
        let n = STAGES * operator.sizes.ports;
        z.clear();
        for k in 0..m {
            let map = &kept.map[(at * m + k) * m..][..m];
            z.push(kept.stores[at * m + k] + dot(map, further));
        }
        coordinates.clear();
        for k in kept.coordinates_of(at) {
            coordinates.push(kept.coordinates[k] + dot(&kept.moved[k * m..][..m], further));
        }
        let value = |row: &[Lanes]| {
            dot(&row[..m], &z)
                + dot(&row[m..m + n], &coordinates)
                + driven(&row[m + n..], &leg.sources)
        };
        let row = |rows: &'_ [Lanes], k: usize| value(&rows[k * columns..(k + 1) * columns]);
        let quiet = operator.sizes.quiet;
        for k in 0..STAGES * quiet {
            let (bound, side) = orbit.bounds[place][k % quiet];
            let beyond = side * (row(&operator.quiet, k) - bound);
            read.quiet = read.quiet.and(Lanes::ZERO.below(beyond));
        }
        let is_first = at == 0;
        for k in 0..m {
            let over: [Lanes; STAGES] =
                std::array::from_fn(|i| row(&operator.stores, i * m + k) - z[k]);
            if !is_first {
                let mut error = Lanes::all(gamma * h) * rates[k];
                for i in 0..STAGES {
                    error += Lanes::all(estimate[i]) * over[i];
                }
                read.error = read.error.max(error.abs() / allowed[k]);
            }
            let d = inverse[STAGES - 1];
            let rise = Lanes::all(d[0]) * over[0]
                + Lanes::all(d[1]) * over[1]
                + Lanes::all(d[2]) * over[2];
            let rate = rise * Lanes::all(1.0 / h);
            if is_first {
                rates.push(rate);
            } else {
                rates[k] = rate;
            }
        }
        let signals = operator.sizes.signals;
        courses.clear();
        for k in 0..signals {
            courses.push(std::array::from_fn(|i| {
                row(&operator.signals, i * signals + k)
            }));
        }
        if is_first {
            tally.begin_at(courses.iter().map(|course| course[0]));
        }
        let (begun, length) = (Lanes::all(t), Lanes::all(h));
        tally.take_courses(&courses, (nodes, weights), (begun, length), wanted);
        t += h;
    }
    read
}
