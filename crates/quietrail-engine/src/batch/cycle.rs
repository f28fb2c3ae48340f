//! A mains cycle of eight like circuits, each at its own pace; of those that mirror it in its second half, the first.

use super::approach::{Anchor, approach};
use super::collocation::Step;
use super::equations::Equations;
use super::gauge::Tally;
use super::instructions::in_widest;
use super::lanes::{Lanes, Mask, WIDTH};
use super::mirror::Mirror;
use super::ports::Seen;
use super::slopes::Carried;
use super::strides::{CHOSEN_ANEW, Grids, Strides};
use crate::march::ROUNDING;
use crate::system::System;

/// Steps of a cycle, those not accepted too, by which a circuit by itself is given up.
pub(crate) const MOST_STEPS: u64 = 12_000;
/// The same of an exact cycle: a ring of a choke with a small capacitor goes on through all of it.
pub(crate) const MOST_FINE_STEPS: u64 = 40_000;

/// What is wanted of a cycle beside its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Wanted {
    /// Nothing: each lane is a circuit of its own.
    End,
    /// The derivative of its end. All lanes are the same circuit.
    Map,
    /// The same, about as exact as the cycle.
    MapAbout,
    /// The derivative of each lane's end, about as exact as the cycle.
    Maps,
}

/// What is gathered on the way.
#[derive(Default)]
pub(crate) struct Gather<'a, 't, 's> {
    pub(crate) tally: Option<&'a mut Tally<'t>>,
    /// Derivatives of what the tally has. All lanes are the same circuit.
    pub(crate) slopes: Option<&'a mut Carried<'s>>,
    /// What the first lane's steps were.
    pub(crate) seen: Option<&'a mut Vec<Seen>>,
}

/// Where the unknowns of a cycle may begin.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Begin<'a> {
    /// Near these.
    Guess(&'a [Lanes]),
    /// By a path from here. All lanes are the same circuit.
    From(&'a Anchor),
}

/// Integrates cycles of one batch.
pub(crate) struct Cycler<'e, 'p> {
    equations: &'e Equations<'p>,
    step: Step,
    /// What makes half a cycle tell the whole.
    mirror: Option<&'e Mirror>,
    /// Unknowns near the start of the last cycle.
    first: Vec<Lanes>,
}

/// What a cycle came to.
#[derive(Clone, Debug)]
pub(crate) struct Turn {
    /// Stores at its end; of half a cycle, as they would be if the next half were to be gone through as this one.
    pub(crate) end: Vec<Lanes>,
    pub(crate) low: Vec<Lanes>,
    pub(crate) high: Vec<Lanes>,
    /// Lanes that came through.
    pub(crate) ok: Mask,
    /// Derivative of the end against the start, row-major stores × stores; empty if not wanted.
    pub(crate) map: Vec<f64>,
    /// The same of each lane, by columns; empty if not wanted.
    pub(crate) maps: Vec<Vec<Lanes>>,
    /// Steps, those not accepted too.
    pub(crate) steps: u64,
    /// Newton iterations.
    pub(crate) iterations: u64,
    /// Ends of the steps accepted in each lane, as shares of the cycle.
    pub(crate) grids: [Vec<f64>; WIDTH],
}

/// How exact a cycle must be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Exact<'a> {
    /// Error allowed per step as a share of each store's scale.
    pub(crate) tolerance: f64,
    /// What a store's error is a share of.
    pub(crate) scale: &'a [Lanes],
    pub(crate) wanted: Wanted,
    /// Steps, those not accepted too, before lanes still on their way are given up.
    pub(crate) most_steps: u64,
    /// The same of iterations. They are those of the slowest lane, so that none but one circuit by itself may be held to them.
    pub(crate) most_iterations: u64,
    /// Steps to make again.
    pub(crate) grids: Grids<'a>,
    /// Length, in cycles, down to which steps are made as short as their errors ask; shorter ones only where there is no
    /// other way. Longer than what is to be followed, it damps that.
    pub(crate) least_step: f64,
    /// Whether steps that erred too much twice come down by what their errors did.
    pub(crate) comes_down: bool,
    /// Share of the cycle that each lane goes through.
    pub(crate) until: Lanes,
}

impl<'a> Exact<'a> {
    /// Of a cycle whose end is wanted, with steps chosen anew and every ring followed.
    pub(crate) fn followed(tolerance: f64, scale: &'a [Lanes]) -> Self {
        Self {
            tolerance,
            scale,
            wanted: Wanted::End,
            most_steps: MOST_FINE_STEPS,
            most_iterations: u64::MAX,
            grids: CHOSEN_ANEW,
            least_step: 0.0,
            comes_down: false,
            until: Lanes::ONE,
        }
    }
}

impl<'e, 'p> Cycler<'e, 'p> {
    /// Of whole cycles, or of halves where all lanes have a mirror.
    pub(crate) fn new(
        equations: &'e Equations<'p>,
        systems: [&System; WIDTH],
        mirror: Option<&'e Mirror>,
    ) -> Self {
        let step = Step::new(equations, systems);
        Self {
            equations,
            first: step.end().to_vec(),
            step,
            mirror,
        }
    }

    /// Unknowns where the last cycle ended; of half a cycle, where it began.
    pub(crate) fn unknowns(&self) -> &[Lanes] {
        match self.mirror {
            Some(_) => &self.first,
            None => self.step.end(),
        }
    }

    /// Integrates the cycle from stores `z` in the lanes wanted.
    pub(crate) fn run(
        &mut self,
        z: &[Lanes],
        begin: Begin<'_>,
        exact: Exact<'_>,
        wanted: Mask,
        gather: Gather<'_, '_, '_>,
    ) -> Turn {
        run(self, z, begin, exact, wanted, gather)
    }
}

in_widest!(
    fn run(
        cycler: &mut Cycler<'_, '_>,
        z: &[Lanes],
        begin: Begin<'_>,
        exact: Exact<'_>,
        wanted: Mask,
        gather: Gather<'_, '_, '_>,
    ) -> Turn = run_lanes
);

#[inline(always)]
fn run_lanes(
    cycler: &mut Cycler<'_, '_>,
    z: &[Lanes],
    begin: Begin<'_>,
    exact: Exact<'_>,
    wanted: Mask,
    gather: Gather<'_, '_, '_>,
) -> Turn {
    let Gather {
        mut tally,
        mut slopes,
        mut seen,
    } = gather;
    let equations = cycler.equations;
    let stores = z.len();
    let step = &mut cycler.step;
    step.newton_tolerance = (0.003 * exact.tolerance.sqrt()).max(1e-9);
    step.wants_derivative = exact.wanted == Wanted::Map || slopes.is_some();
    let before = step.iterations;
    match begin {
        Begin::Guess(guess) => step.begin(guess),
        Begin::From(anchor) => {
            if !approach(step, equations, anchor, z) {
                step.begin(&anchor.spread_unknowns());
            }
        }
    }
    let guess = step.end().to_vec();
    let half = Lanes::all(0.5);
    let until = match cycler.mirror {
        Some(_) => exact.until.min(half),
        None => exact.until,
    };
    if let Some(tally) = &mut tally {
        let mut now = equations.shape.new_instant();
        equations.shape.instant(Lanes::ZERO, &mut now);
        tally.begin(&guess, &now.s);
    }
    let mut z = z.to_vec();
    let (mut low, mut high) = (z.clone(), z.clone());
    let mut strides = Strides::new(exact.grids, until, exact.least_step, exact.comes_down);
    let mut grids: [Vec<f64>; WIDTH] = Default::default();
    let mut running = wanted;
    let mut inverse_allowed = vec![Lanes::ZERO; stores];
    let mut steps = 0;
    let mut directions = match exact.wanted {
        Wanted::End => Vec::new(),
        Wanted::Map | Wanted::MapAbout => units(stores),
        Wanted::Maps => units_of_each(stores),
    };
    let may_go_on =
        |steps, iterations| steps < exact.most_steps && iterations < exact.most_iterations;
    while running.any() && may_go_on(steps, step.iterations - before) {
        steps += 1;
        let stride = strides.next();
        let (t, length) = (stride.t, stride.length);
        let made = step.make(equations, &z, (t, length), running);
        for k in 0..stores {
            let rounding = Lanes::all(ROUNDING) * step.z[2][k].abs().max(z[k].abs());
            // A store on its way to another cycle swings further than it will there.
            let (mut least, mut most) = (low[k], high[k]);
            for stage in &step.z {
                least = least.min(stage[k]);
                most = most.max(stage[k]);
            }
            let scale = exact.scale[k].max(most - least);
            let allowed = (Lanes::all(exact.tolerance) * scale).max(rounding);
            inverse_allowed[k] = Lanes::ONE / allowed.max(Lanes::all(1e-300));
        }
        let error = step.error(equations, &z, length, &inverse_allowed);
        let accepted = made.and(strides.serves(stride, error)).and(running);
        strides.take(stride, error, (made, accepted, running));
        if let Some(tally) = &mut tally {
            tally.take(step, (t, length), accepted);
        }
        if let (Some(slopes), Some(tally), true) = (&mut slopes, &tally, accepted.at(0)) {
            slopes.take(step, equations, (&z, length), tally);
        }
        if let (Some(seen), true) = (&mut seen, accepted.at(0)) {
            seen.push(Seen {
                t: t.0[0],
                h: length.0[0],
                inputs: step.seen(),
            });
        }
        if matches!(exact.wanted, Wanted::Map | Wanted::MapAbout) && accepted.at(0) {
            step.carry(equations, length, &mut directions);
        }
        if exact.wanted == Wanted::Maps && accepted.any() {
            let before = directions.clone();
            step.carry(equations, length, &mut directions);
            for (after, before) in directions.iter_mut().zip(&before) {
                for (after, before) in after.iter_mut().zip(before) {
                    *after = accepted.select(*after, *before);
                }
            }
        }
        let is_first = accepted.and(Lanes::ZERO.below(t).not());
        if is_first.any() {
            for (first, x) in cycler.first.iter_mut().zip(&step.x[0]) {
                *first = is_first.select(*x, *first);
            }
        }
        step.accept(equations, &z, length, accepted);
        for (lane, ends) in grids.iter_mut().enumerate() {
            if accepted.at(lane) {
                ends.push(strides.t.0[lane]);
            }
        }
        for k in 0..stores {
            for stage in &step.z {
                low[k] = accepted.select(low[k].min(stage[k]), low[k]);
                high[k] = accepted.select(high[k].max(stage[k]), high[k]);
            }
            z[k] = accepted.select(step.z[2][k], z[k]);
        }
        let is_lost = accepted.not().and(strides.stuck());
        running = running.and(strides.t.below(until)).and(is_lost.not());
    }
    let ok = wanted.and(strides.t.below(until).not());
    let (map, maps) = match exact.wanted {
        Wanted::End => Default::default(),
        Wanted::Map | Wanted::MapAbout => (flat(&directions), Vec::new()),
        Wanted::Maps => (Vec::new(), directions),
    };
    let turn = Turn {
        end: z,
        low,
        high,
        ok,
        map,
        maps,
        steps,
        iterations: step.iterations - before,
        grids,
    };
    match cycler.mirror {
        Some(mirror) => turn.folded(mirror),
        None => turn,
    }
}

impl Turn {
    /// Of half a cycle, as if the other half began where it began and went the same way.
    fn folded(mut self, mirror: &Mirror) -> Self {
        let signed = |lanes: Lanes, sign: f64| Lanes::all(sign) * lanes;
        (self.low, self.high) = mirror.ranges((self.low, self.high));
        self.end = mirror.exchanged(&self.end, signed);
        for column in &mut self.maps {
            *column = mirror.exchanged(column, signed);
        }
        let stores = self.end.len();
        if !self.map.is_empty() {
            let rows: Vec<&[f64]> = self.map.chunks_exact(stores).collect();
            let signs = mirror.exchanged(&vec![1.0; stores], |one, sign| sign * one);
            let rows = mirror.exchanged(&rows, |row, _| row);
            let all = rows.iter().zip(signs);
            self.map = all
                .flat_map(|(row, sign)| row.iter().map(move |entry| sign * entry))
                .collect();
        }
        self
    }
}

/// Unit directions of so many stores, eight to a list.
fn units(stores: usize) -> Vec<Vec<Lanes>> {
    let lists = 0..stores.div_ceil(WIDTH);
    lists
        .map(|list| {
            let unit = |k: usize| {
                Lanes(std::array::from_fn(|lane| {
                    f64::from(u8::from(list * WIDTH + lane == k))
                }))
            };
            (0..stores).map(unit).collect()
        })
        .collect()
}

/// A unit direction for each of so many stores, the same in all lanes.
fn units_of_each(stores: usize) -> Vec<Vec<Lanes>> {
    let unit = |direction: usize| {
        let entry = |k: usize| Lanes::all(f64::from(u8::from(k == direction)));
        (0..stores).map(entry).collect()
    };
    (0..stores).map(unit).collect()
}

/// Unit directions carried on, as columns of a matrix, row-major.
fn flat(directions: &[Vec<Lanes>]) -> Vec<f64> {
    let stores = directions.first().map_or(0, Vec::len);
    let entry = |k: usize| directions[k % stores / WIDTH][k / stores].0[k % stores % WIDTH];
    (0..stores * stores).map(entry).collect()
}
