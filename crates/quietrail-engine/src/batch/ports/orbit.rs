//! The steps of a plan made by eight circuits, and kept, so that the next time each begins where it ended.

use super::super::gauge::Tally;
use super::super::instructions::in_widest;
use super::super::lanes::{Lanes, Mask};
use super::super::mirror::Mirror;
use super::eight::Eight;
use super::kept::{Kept, Whence};
use super::linear::Linear;
use super::newton::{BRIDGE, Ports, REGULATED, Sorts, factor, substitute};
use super::operator::{Operator, Readings, Rows, STAGES};
use super::plan::{Arrangement, Course, Leg, MOST_PORTS, Part, Plan};
use super::rows::{dot, driven, keep, row_of, times};
use crate::step::{ITERATIONS, Tableau};
use std::borrow::Cow;

/// What an update leaves to be done is at most so many times its square.
const CURVED: f64 = 1e3;
/// The same as [`Orbit::enough`] in a cycle that will be gone through again from elsewhere.
const ROUGHLY: f64 = 5e-3;
/// Iterations in which laws are asked nowhere out of the way.
const FIRST: usize = 4;
/// Least current, as a share of the largest, that updates are shares of.
const LEAST_CURRENT: f64 = 1e-3;

/// Lanes that make two, four and eight of a step: those of one level are among those of the level before.
pub(super) type Parted = [Mask; LEVELS];
pub(super) const LEVELS: usize = 3;

/// Eight circuits on the steps of a plan.
pub(super) struct Orbit<'a> {
    arrangements: &'a [Arrangement],
    course: Cow<'a, Course>,
    /// Lanes that make each of its steps; others make longer or shorter ones there.
    lanes: Vec<Mask>,
    eight: &'a Eight,
    operators: &'a mut Vec<Operator>,
    /// What quiet devices of each arrangement must stay beyond, and on which side.
    bounds: Vec<Vec<(Lanes, f64)>>,
    stores: usize,
    tableau: &'static Tableau,
    /// Share of a coordinate below which an update is the last.
    enough: Lanes,
    largest_current: Lanes,
    kept: &'a mut Kept,
    /// Where steps were kept before these.
    before: &'a mut Kept,
    scratch: &'a mut Scratch,
    pub(super) steps: u64,
    pub(super) iterations: u64,
}

/// Room for the steps of eight circuits, to be used for others after them.
#[derive(Default)]
pub(super) struct Space {
    /// Of each arrangement and length of step.
    pub(super) operators: Vec<Operator>,
    kept: Kept,
    before: Kept,
    scratch: Scratch,
}

#[derive(Default)]
struct Scratch {
    /// Of inputs that are no coordinates, what is known beforehand.
    known: Vec<Lanes>,
    /// All inputs of each port as they stand, and where the first of them is put to its law.
    inputs: Vec<[Lanes; 3]>,
    at: Vec<Lanes>,
    slopes: Vec<[Lanes; 3]>,
    matrix: Vec<Lanes>,
    /// Slopes and factored matrix with which each lane was last moved.
    last_slopes: Vec<[Lanes; 3]>,
    last_matrix: Vec<Lanes>,
    right: Vec<Lanes>,
    coordinates: Vec<Lanes>,
    /// Derivatives of the coordinates of a step against the stores at its start; and where a step ends.
    moved: Vec<Lanes>,
    row: Vec<Lanes>,
    next_stores: Vec<Lanes>,
    next_map: Vec<Lanes>,
    /// First input of each device where it was last a port.
    held: Vec<Lanes>,
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
    /// Error of each step, as a share of that allowed; and the largest.
    pub(super) errors: Vec<Lanes>,
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
        (plan, course, eight): (&'a Plan, &'a Course, &'a Eight),
        bounds: Vec<Vec<(Lanes, f64)>>,
        tolerance: f64,
        space: &'a mut Space,
    ) -> Self {
        let stores = eight.stores.len();
        space.kept.make_room(course, &space.operators, stores);
        let mut orbit = Self {
            kept: &mut space.kept,
            before: &mut space.before,
            arrangements: &plan.arrangements,
            course: Cow::Borrowed(course),
            lanes: vec![Mask::ALL; course.legs.len()],
            eight,
            operators: &mut space.operators,
            bounds,
            stores,
            tableau: Tableau::get(),
            enough: Lanes::all((5e-4 * tolerance.sqrt()).max(1e-9)),
            largest_current: Lanes::all(1e-3),
            scratch: &mut space.scratch,
            steps: 0,
            iterations: 0,
        };
        drive(&mut orbit);
        orbit
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
        let (place, h) = self.course.operators[leg.operator];
        (place, h, &self.arrangements[place])
    }

    /// From now on lanes make two steps of some that they made, or four or eight, as marked; what they come to is guessed from what they
    /// came to before. Others go no further.
    pub(super) fn refine(&mut self, marked: &[Parted], going: Mask, linear: &[(Linear, Readings)]) {
        let mut course = Course::clone(&self.course);
        let legs = std::mem::take(&mut course.legs);
        let mut lanes = Vec::new();
        let mut from: Vec<Whence> = Vec::new();
        for (at, leg) in legs.iter().enumerate() {
            let own = self.lanes[at].and(going);
            let [two, four, eight] = marked[at];
            let parts = [
                (1, two.not()),
                (2, two.and(four.not())),
                (4, four.and(eight.not())),
                (8, eight),
            ];
            for (count, of) in parts {
                if own.and(of).any() {
                    for part in 0..count {
                        let parted = course.part(leg, (part, count));
                        course.legs.push(parted);
                        lanes.push(own.and(of));
                        whence((leg.sorts, self.kept.firsts[at]), (part, count), &mut from);
                    }
                }
            }
        }
        for &(place, h) in &course.operators[self.operators.len()..] {
            let (linear, readings) = &linear[place];
            let mut operator = Operator::default();
            operator.solve(linear, readings, h, &self.tableau.method);
            self.operators.push(operator);
        }
        self.follow(Cow::Owned(course), lanes, &from);
    }

    /// From now on goes along the steps of a plan, all of which begin where its rough ones came to.
    pub(super) fn go_finely(&mut self, plan: &'a Plan) {
        let lanes = vec![Mask::ALL; plan.course.legs.len()];
        self.follow(Cow::Borrowed(&plan.course), lanes, &plan.whence);
    }

    fn follow(&mut self, course: Cow<'a, Course>, lanes: Vec<Mask>, from: &[Whence]) {
        std::mem::swap(self.kept, self.before);
        self.kept.make_room(&course, self.operators, self.stores);
        self.kept.follow(self.before, from, self.stores);
        self.lanes = lanes;
        self.course = course;
        drive(self);
    }
}

/// Where coordinates of a part of a step are looked for.
fn whence((sorts, first): (Sorts, usize), part: Part, into: &mut Vec<Whence>) {
    let begins = into.len();
    into.resize(begins + sorts.coordinates(), Whence::guessed(0.0));
    for (stage, node) in Tableau::get().nodes.into_iter().enumerate() {
        for port in 0..sorts.ports() {
            let way = (sorts, first, port);
            into[begins + sorts.place(stage, port)] = Whence::along(way, part, node);
        }
    }
}

in_widest!(
    /// What sources make of each step, once for all cycles.
    fn drive(orbit: &mut Orbit<'_>) = drive_lanes
);

#[inline(always)]
fn drive_lanes(orbit: &mut Orbit<'_>) {
    let m = orbit.stores;
    for at in 0..orbit.course.legs.len() {
        let leg = &orbit.course.legs[at];
        let operator = &orbit.operators[leg.operator];
        let (_, _, c) = operator.widths();
        let range = orbit.kept.driven_of(at);
        let of_step = &mut orbit.kept.driven[range];
        let inputs = operator.inputs.count;
        for k in 0..inputs {
            let row = row_of(&operator.inputs.by_source, k, c);
            of_step[k] = driven(row, &leg.sources);
        }
        for k in 0..m {
            let row = row_of(&operator.stores.by_source, (STAGES - 1) * m + k, c);
            of_step[inputs + k] = driven(row, &leg.sources);
        }
    }
}

in_widest!(
    fn pass(
        orbit: &mut Orbit<'_>,
        z: &[Lanes],
        moved: &[Lanes],
        near: Mask,
        wanted: Mask,
    ) -> Passed = pass_lanes, unrolled
);

#[inline(always)]
fn pass_lanes(
    orbit: &mut Orbit<'_>,
    z: &[Lanes],
    moved: &[Lanes],
    near: Mask,
    wanted: Mask,
    is_wide: bool,
) -> Passed {
    let m = orbit.stores;
    let mut scratch = std::mem::take(orbit.scratch);
    scratch.begin(orbit.eight.devices.len(), m);
    let mut z = z.to_vec();
    let (mut low, mut high) = (z.clone(), z.clone());
    let mut map = vec![Lanes::ZERO; m * m];
    for k in 0..m {
        map[k * m + k] = Lanes::ONE;
    }
    let mut ok = wanted;
    let mut last: Option<usize> = None;
    for at in 0..orbit.course.legs.len() {
        let own = ok.and(orbit.lanes[at]);
        if !own.any() {
            continue;
        }
        guess(orbit, &mut scratch, (at, last), moved, near);
        // A bridge has two bending devices at a time, or none: for these the compiler unrolls all loops.
        let made = match orbit.course.legs[at].sorts {
            Sorts { joint: 0, told: 0 } => own,
            BRIDGE if is_wide => solve_ports(orbit, &mut scratch, (at, BRIDGE), &z, (near, own)),
            REGULATED if is_wide => {
                solve_ports(orbit, &mut scratch, (at, REGULATED), &z, (near, own))
            }
            sorts => solve_ports(orbit, &mut scratch, (at, sorts), &z, (near, own)),
        };
        ok = ok.and(made.or(own.not()));
        if !ok.any() {
            break;
        }
        orbit.steps += 1;
        carry(orbit, &mut scratch, at, (&mut z, &mut map), made);
        for k in 0..m {
            low[k] = low[k].min(z[k]);
            high[k] = high[k].max(z[k]);
        }
        last = Some(at);
    }
    *orbit.scratch = scratch;
    Passed {
        end: z,
        low,
        high,
        map,
        ok,
    }
}

impl Scratch {
    fn begin(&mut self, devices: usize, stores: usize) {
        const MOST: usize = STAGES * MOST_PORTS;
        self.held.clear();
        self.held.resize(devices, Lanes::ZERO);
        self.known.resize(2 * MOST, Lanes::ZERO);
        for list in [&mut self.inputs, &mut self.slopes, &mut self.last_slopes] {
            list.resize(MOST, [Lanes::ZERO; 3]);
        }
        for list in [&mut self.at, &mut self.right, &mut self.coordinates] {
            list.resize(MOST, Lanes::ZERO);
        }
        for list in [&mut self.matrix, &mut self.last_matrix] {
            list.resize(MOST * MOST, Lanes::ZERO);
        }
        self.moved.resize(MOST * stores, Lanes::ZERO);
        for list in [&mut self.row, &mut self.next_stores] {
            list.resize(stores, Lanes::ZERO);
        }
        self.next_map.resize(stores * stores, Lanes::ZERO);
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
    let leg = &orbit.course.legs[at];
    let kept = &*orbit.kept;
    let range = kept.coordinates_of(at);
    let (first, count) = (range.start, range.len());
    let guess = &mut scratch.coordinates[..count];
    if !near.not().any() {
        for k in 0..count {
            let by = row_of(&kept.moved, first + k, m);
            guess[k] = kept.coordinates[first + k] + dot(by, moved);
        }
        return;
    }
    let sorts = leg.sorts;
    // The end of the step before is still in its place.
    let mut offset = [Lanes::ZERO; MOST_PORTS];
    if let Some(before) = last.map(|before| &orbit.course.legs[before])
        && orbit.arrangement(before).0 == orbit.arrangement(leg).0
    {
        for port in 0..sorts.ports() {
            let place = sorts.place(STAGES - 1, port);
            offset[port] = guess[place] - Lanes::all(before.guess[place]);
        }
    }
    for stage in 0..STAGES {
        for port in 0..sorts.ports() {
            let k = sorts.place(stage, port);
            let by = row_of(&kept.moved, first + k, m);
            guess[k] = near.select(
                kept.coordinates[first + k] + dot(by, moved),
                Lanes::all(leg.guess[k]) + offset[port],
            );
        }
    }
}

/// Newton's method for the coordinates of a step. Where a law is asked moves as far as the law allows; lanes that
/// have come to their end move no more.
#[inline(always)]
fn solve_ports(
    orbit: &mut Orbit<'_>,
    scratch: &mut Scratch,
    (at, sorts): (usize, Sorts),
    z: &[Lanes],
    (near, wanted): (Mask, Mask),
) -> Mask {
    let (m, n, entries) = (orbit.stores, sorts.coordinates(), sorts.entries());
    let leg = &orbit.course.legs[at];
    let operator = &orbit.operators[leg.operator];
    let ports = Ports {
        all: &orbit.arrangement(leg).2.ports,
        sorts,
        devices: &orbit.eight.devices,
        by_port: &operator.inputs.by_port,
        by_store: &operator.inputs.by_store,
    };
    let known = scratch.known.as_mut_slice();
    let inputs = &mut scratch.inputs[..n];
    let asked = &mut scratch.at[..n];
    let right = &mut scratch.right[..n];
    let coordinates = &mut scratch.coordinates[..n];
    let (mut slopes, mut last_slopes) = (&mut scratch.slopes[..n], &mut scratch.last_slopes[..n]);
    let (mut matrix, mut last_matrix) = (
        &mut scratch.matrix[..entries],
        &mut scratch.last_matrix[..entries],
    );
    let of_sources = &orbit.kept.driven[orbit.kept.driven_of(at)];
    for k in 0..operator.inputs.count {
        known[k] = of_sources[k] + dot(row_of(ports.by_store, k, m), z);
    }
    ports.stand(inputs, known, coordinates);
    // Where laws are asked first.
    let is_near = !near.not().any();
    for i in 0..STAGES {
        for k in 0..sorts.ports() {
            let place = sorts.place(i, k);
            let proposed = inputs[place][0];
            asked[place] = proposed;
            if !is_near {
                let device = ports.all[k].device;
                let last = scratch.held[device];
                let limited = ports.devices[device].law.limit(last, proposed);
                asked[place] = near.select(proposed, limited);
            }
        }
    }
    let mut made = wanted.not();
    let enough = near.select(orbit.enough, Lanes::all(ROUGHLY));
    let least_current = Lanes::all(LEAST_CURRENT) * orbit.largest_current;
    for iteration in 0..ITERATIONS {
        orbit.iterations += 1;
        ports.linearise((inputs, asked), (matrix, slopes, right));
        factor(matrix, sorts);
        if made.any() {
            let moves = made.not();
            for k in 0..n {
                keep(&mut last_slopes[k], &slopes[k], moves);
            }
            keep(last_matrix, matrix, moves);
        } else {
            (slopes, last_slopes) = (last_slopes, slopes);
            (matrix, last_matrix) = (last_matrix, matrix);
        }
        substitute(last_matrix, sorts, right);
        let mut is_done = Mask::ALL;
        for i in 0..STAGES {
            for k in 0..sorts.ports() {
                let place = sorts.place(i, k);
                let (value, update) = (coordinates[place], right[place]);
                let next = value + update;
                let least = if ports.all[k].coordinate == 0 {
                    Lanes::ONE
                } else {
                    least_current
                };
                // As a share of its size: small enough, or so small that its square is. What is no number is neither.
                let scale = next.abs().max(least);
                let is_small = update.abs().below(enough * scale);
                let curves_little =
                    (Lanes::all(CURVED) * update * update).below(enough * scale * scale);
                is_done = is_done.and(is_small.or(curves_little));
                coordinates[place] = made.select(value, next);
            }
        }
        ports.stand(inputs, known, coordinates);
        let mut limited = Mask::NONE;
        for i in 0..STAGES {
            for k in 0..sorts.ports() {
                let place = sorts.place(i, k);
                let law = &ports.devices[ports.all[k].device].law;
                let proposed = inputs[place][0];
                let held = if iteration < FIRST {
                    law.limit_at_first(asked[place], proposed)
                } else {
                    law.limit(asked[place], proposed)
                };
                limited = limited.or(held.differs(proposed));
                asked[place] = held;
            }
        }
        made = made.or(is_done.and(limited.not()));
        if !made.not().any() {
            break;
        }
    }
    for k in 0..sorts.ports() {
        let (port, end) = (&ports.all[k], sorts.place(STAGES - 1, k));
        scratch.held[port.device] = inputs[end][0];
        if port.coordinate != 0 {
            let most = coordinates[end].abs();
            orbit.largest_current = orbit.largest_current.max(most);
        }
    }
    ports.sway((last_slopes, last_matrix), (&mut scratch.moved[..n * m], m));
    made.and(wanted)
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
    let leg = &orbit.course.legs[at];
    let operator = &orbit.operators[leg.operator];
    let (_, n, c) = operator.widths();
    let kept = &mut *orbit.kept;
    let first = kept.firsts[at];
    keep(&mut kept.stores[at * m..][..m], z, wanted);
    keep(&mut kept.map[at * m * m..][..m * m], map, wanted);
    keep(
        &mut kept.coordinates[first..][..n],
        &scratch.coordinates[..n],
        wanted,
    );
    for row in 0..n {
        let moved = row_of(&scratch.moved, row, m);
        times(moved, map, &mut scratch.row);
        keep(
            &mut kept.moved[(first + row) * m..][..m],
            &scratch.row,
            wanted,
        );
    }
    let made_by_sources = &kept.driven[kept.driven_of(at)][operator.inputs.count..];
    for k in 0..m {
        let [by_store, by_port, _] = operator.stores.row((STAGES - 1) * m + k, (m, n, c));
        scratch.next_stores[k] =
            made_by_sources[k] + dot(by_store, z) + dot(by_port, &scratch.coordinates);
        let row = &mut scratch.row[..m];
        for column in 0..m {
            let mut sum = by_store[column];
            for port in 0..n {
                sum += by_port[port] * scratch.moved[port * m + column];
            }
            row[column] = sum;
        }
        times(row, map, &mut scratch.next_map[k * m..(k + 1) * m]);
    }
    keep(z, &scratch.next_stores, wanted);
    keep(map, &scratch.next_map, wanted);
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
        ..
    } = *orbit.tableau;
    let mut read = Read {
        errors: Vec::with_capacity(orbit.course.legs.len()),
        error: Lanes::ZERO,
        quiet: Mask::ALL,
    };
    let mut rates = vec![Lanes::ZERO; m];
    let mut z = vec![Lanes::ZERO; m];
    let mut coordinates: Vec<Lanes> = Vec::new();
    let mut courses: Vec<[Lanes; STAGES]> = Vec::new();
    let kept = &*orbit.kept;
    for (at, leg) in orbit.course.legs.iter().enumerate() {
        let own = orbit.lanes[at];
        let (place, h, _) = orbit.arrangement(leg);
        let operator = &orbit.operators[leg.operator];
        let widths = operator.widths();
        for k in 0..m {
            let map = &kept.map[(at * m + k) * m..][..m];
            z[k] = kept.stores[at * m + k] + dot(map, further);
        }
        coordinates.clear();
        for k in kept.coordinates_of(at) {
            coordinates.push(kept.coordinates[k] + dot(row_of(&kept.moved, k, m), further));
        }
        let here = (z.as_slice(), coordinates.as_slice(), leg.sources.as_slice());
        let bounds = orbit.bounds[place].as_slice();
        for k in 0..bounds.len() {
            let (bound, side) = bounds[k];
            let beyond = Lanes::all(side) * (value(&operator.quiet, k, widths, here) - bound);
            read.quiet = read.quiet.and(Lanes::ZERO.below(beyond).or(own.not()));
        }
        let is_first = at == 0;
        let mut largest = Lanes::ZERO;
        for k in 0..m {
            let mut over = [Lanes::ZERO; STAGES];
            for i in 0..STAGES {
                over[i] = value(&operator.stores, i * m + k, widths, here) - z[k];
            }
            if !is_first {
                let mut error = Lanes::all(gamma * h) * rates[k];
                for i in 0..STAGES {
                    error += Lanes::all(estimate[i]) * over[i];
                }
                largest = largest.max(own.select(error.abs() / allowed[k], Lanes::ZERO));
            }
            let d = inverse[STAGES - 1];
            let rise = Lanes::all(d[0]) * over[0]
                + Lanes::all(d[1]) * over[1]
                + Lanes::all(d[2]) * over[2];
            rates[k] = own.select(rise * Lanes::all(1.0 / h), rates[k]);
        }
        read.errors.push(largest);
        read.error = read.error.max(largest);
        let signals = operator.signals.count / STAGES;
        courses.clear();
        for k in 0..signals {
            let mut course = [Lanes::ZERO; STAGES];
            for i in 0..STAGES {
                course[i] = value(&operator.signals, i * signals + k, widths, here);
            }
            courses.push(course);
        }
        if is_first {
            tally.begin_at(courses.iter().map(|course| course[0]));
        }
        let step = (Lanes::all(leg.t), Lanes::all(h));
        tally.take_courses(&courses, (nodes, weights), step, wanted.and(own));
    }
    read
}

/// What a row comes to at stores, coordinates and sources.
#[inline(always)]
fn value(
    rows: &Rows,
    k: usize,
    widths: (usize, usize, usize),
    (z, coordinates, sources): (&[Lanes], &[Lanes], &[f64]),
) -> Lanes {
    let [by_store, by_port, by_source] = rows.row(k, widths);
    dot(by_store, z) + dot(by_port, coordinates) + driven(by_source, sources)
}
