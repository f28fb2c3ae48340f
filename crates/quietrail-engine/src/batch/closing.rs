//! Closing a cycle on itself.
//!
//! With `d = F(z) − z` what a cycle changes in the stores and `m` the derivative of `F`, a move by
//! `(1 + 1/N − m)⁻¹ d` is an implicit step of `N` cycles along the way that the circuit takes by itself:
//! Newton's method for large `N`, patience for small. `N`, of each store its own, grows while the next cycle comes out
//! as foretold and shrinks where it does not, so the search leaps where the way is straight and creeps round its corners.
//!
//! Cycles that nearly close are made with the steps of the one before them: what their steps err by is then the same,
//! and closes with the rest. Steps chosen anew each time would leave a noise that slow stores make much of.

use super::approach::Anchor;
use super::cycle::{Begin, Cycler, Exact, Gather, MOST_FINE_STEPS, MOST_STEPS, Turn, Wanted};
use super::equations::Equations;
use super::falling::Falling;
use super::gauge::Tally;
use super::lanes::{Lanes, Mask, WIDTH, spread};
use super::mirror::Mirror;
use super::patience::{Least, Noise};
use super::spans::Spans;
use super::strides::CHOSEN_ANEW;
use super::{Grid, Start};
use crate::dense::Lu;
use crate::march::Effort;
use crate::system::{Kind, System};

/// Error per step while the answer is still far.
const ROUGH: f64 = 3e-4;
/// Length of step, in cycles, down to which such cycles are followed where they are damped. Of what rings or swings faster
/// the method, which is L-stable (Hairer and Wanner, *Solving Ordinary Differential Equations II*, section IV.3), makes
/// what it will have come to.
const DAMPING_STEP: f64 = 1.0 / 128.0;
/// Cycles from rest before the first leap; and where leaps from there led nowhere.
const CYCLES_FROM_REST: usize = 2;
const MORE_CYCLES_FROM_REST: usize = 8;
/// Where a search is hasty: by how many times the steps of cycles that went as foretold one after a leap may take more, and
/// how many beside.
const HASTE: u64 = 3;
const HASTE_BESIDE: u64 = 200;
/// Where it is, steps of a cycle from rest.
const MOST_HASTY_STEPS: u64 = 2_000;
/// Where it is, voltage of a store beyond which no leap goes, as so many times what drives the circuit, and as so much of what
/// it has been seen at.
const FURTHEST: f64 = 2.0;
const FURTHER_THAN_SEEN: f64 = 1.05;
/// Largest leap still to make, as a share of each store's swing, at which the search goes on finely.
const NEAR: f64 = 3e-3;
/// The same as a share of level: a store of many cycles makes more of the errors of rough steps.
const NEAR_LEVEL: f64 = 1e-4;
/// Largest leap still to make that counts as none: as a share of swing and of level.
const THERE: (f64, f64) = (1e-5, 1e-7);
/// The same as a share of level, for a store that moves by less than such a share of it in a cycle.
const SLOWLY_THERE: f64 = 1e-6;
const SLOW: f64 = 1e-3;
/// The same as a share of level, where the errors of the steps leave no better: what a store of a million cycles makes
/// of them.
const NEARLY_THERE: f64 = 1e-4;
/// Drift of a fine cycle, as a share of each store's scale, from which on a search is as good as there: it is not given up for one
/// that begins again.
const AS_GOOD_AS_THERE: f64 = 0.03;
/// The share of these that a cycle is held to which no move has led to yet: what is left there is what another way of
/// stepping left, not what a leap leaves of a leap.
const AT_ONCE: (f64, f64) = (0.01, 0.01);
/// The same for a cycle that a move has led to; one that is there only by [`ONCE_MORE`] is followed by another.
/// A diode that only makes up for leakage lives on a few hundredths of a percent of the level: a ten millionth of that was a
/// hundred thousandth of its current, and a third of what an ESR takes.
const AFTER_A_MOVE: (f64, f64) = (1.0, 0.01);
const ONCE_MORE: (f64, f64) = (1.0, 1.0);
/// Largest leap still to make that counts as none in any store, as a share of what it may come to.
const LEAST_LEFT: f64 = 1e-11;
/// What the steps of a cycle may err by together, as so many times the error allowed for each.
const STEPS_ERR: f64 = 100.0;
/// How often falls are shortened for one move.
const FALLS: usize = 3;
/// Drift of a cycle, as a share of each store's scale, below which the next is like it.
pub(crate) const ALIKE: f64 = 0.3;
/// Share of the furthest move below which a store's own does not count.
const COUNTS: f64 = 0.03;
/// Share of its move by which a store may be astray for the derivative of the cycle before to do for the next.
const HARDLY_ASTRAY: f64 = 0.02;
/// Shares of what stores may come to: the least swing, and the least part of a level, that they are held to.
pub(crate) const LEAST_SWING: f64 = 1e-6;
pub(crate) const LEAST_OF_LEVEL: f64 = 1e-4;

/// The search of one circuit, the same in all lanes.
pub(crate) struct Closing<'e, 'p, 's> {
    system: &'s System,
    cycler: Cycler<'e, 'p>,
    /// Where the last cycle ended; of half a cycle, where it began.
    begin: Anchor,
    pub(crate) is_half: bool,
    room: Vec<f64>,
    pub(crate) scale: Vec<f64>,
    pub(crate) effort: Effort,
    /// Steps of the last cycle, and the error allowed in them.
    pub(crate) grid: Grid,
    /// Whether the next cycle is near enough to make them again.
    is_alike: bool,
    /// Cycles and steps that may still be made.
    left: Left,
    pace: Pace,
}

/// What a search may still spend.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Left {
    pub(crate) cycles: u64,
    /// Usual ones: [`Effort::usual_steps`].
    pub(crate) steps: u64,
    /// What is kept for other ways, and is spent on this one once it is as good as there: an exact cycle that rings to its end may
    /// take all of a way's share by itself.
    pub(crate) for_the_end: u64,
}

/// How closely cycles are followed while the answer is far.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pace {
    /// As closely as the errors of their steps ask.
    Followed,
    /// No closer than it takes to come through: how what rings dies is mostly nothing that a first search must know.
    Damped,
    /// The same, and in haste: a leap that leads to voltages that no source drives, or to a cycle of many more steps than those
    /// before it, is one that went astray.
    Hasty,
    /// The same, from rest by more cycles: where a supply starts up against its own limits, what the first two tell of its
    /// way leads leaps round in circles.
    Rested,
}

impl Pace {
    fn is_hasty(self) -> bool {
        matches!(self, Pace::Hasty | Pace::Rested)
    }

    /// Length of step, in cycles, down to which rough cycles are followed.
    fn least_step(self) -> f64 {
        match self {
            Pace::Followed => 0.0,
            Pace::Damped | Pace::Hasty | Pace::Rested => DAMPING_STEP,
        }
    }

    /// Cycles from rest before the first leap.
    fn cycles_from_rest(self) -> usize {
        match self {
            Pace::Rested => MORE_CYCLES_FROM_REST,
            Pace::Followed | Pace::Damped | Pace::Hasty => CYCLES_FROM_REST,
        }
    }
}

/// How a cycle is looked for.
#[derive(Clone, Copy, Debug)]
struct Way {
    /// Error allowed per step.
    tolerance: f64,
    /// Until no leap is left; else until the answer is near.
    is_fine: bool,
    /// Along nature's way, never far from it.
    closely: bool,
    /// Steps that a cycle may take.
    most_steps: u64,
}

/// A cycle with its derivative.
#[derive(Clone, Debug)]
pub(crate) struct Mapped {
    pub(crate) z: Vec<f64>,
    /// Where those of cycles from near it may begin.
    pub(crate) anchor: Anchor,
    pub(crate) end: Vec<f64>,
    /// Row-major stores × stores.
    pub(crate) map: Vec<f64>,
    pub(crate) level: Vec<f64>,
    pub(crate) swing: Vec<f64>,
    /// What drifts are shares of.
    pub(crate) scale: Vec<f64>,
    /// Steps that it took.
    pub(crate) steps: u64,
}

impl Mapped {
    /// The implicit step of so many cycles, of each store its own span, that answers a drift:
    /// `(1 + 1/span − m)⁻¹ drift`.
    fn step(&self, drift: &[f64], spans: &[f64]) -> Option<Vec<f64>> {
        let stores = drift.len();
        if stores == 0 {
            return Some(Vec::new());
        }
        let mut matrix: Vec<f64> = self.map.iter().map(|v| -v).collect();
        for k in 0..stores {
            matrix[k * stores + k] += 1.0 + 1.0 / spans[k];
        }
        let mut lu = Lu::default();
        lu.factor(&matrix, stores).ok()?;
        let mut step = vec![0.0; stores];
        lu.solve(drift, &mut step);
        step.iter().all(|v| v.is_finite()).then_some(step)
    }

    /// Largest distance of other stores from these, as a share of each one's level.
    fn share_of_level(&self, other: &[f64]) -> f64 {
        let away = difference(other, &self.z);
        let shares = away.iter().zip(&self.level).map(|(d, l)| d.abs() / l);
        shares.fold(0.0, f64::max)
    }

    /// Largest change over the cycle as a share of each store's swing.
    pub(crate) fn residual(&self) -> f64 {
        let drift = difference(&self.end, &self.z);
        let shares = drift.iter().zip(&self.scale).map(|(d, s)| d.abs() / s);
        shares.fold(0.0, f64::max)
    }
}

/// Why no cycle was closed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Lost {
    /// A cycle could not be integrated, even from where the circuit came by itself.
    NoCycle,
    /// All cycles were spent.
    Spent,
}

impl<'e, 'p, 's> Closing<'e, 'p, 's> {
    /// Of whole cycles, or of halves where the circuit has a mirror.
    pub(crate) fn new(
        system: &'s System,
        equations: &'e Equations<'p>,
        mirror: Option<&'e Mirror>,
        (left, pace): (Left, Pace),
    ) -> Self {
        let room: Vec<f64> = system
            .stores
            .iter()
            .map(|store| match store.kind {
                Kind::Volts => system.volts_scale.max(1e-3),
                Kind::Amperes => 1.0,
            })
            .collect();
        Self {
            system,
            cycler: Cycler::new(equations, [system; WIDTH], mirror),
            is_half: mirror.is_some(),
            begin: Anchor::nothing(system.stores.len(), system.n),
            scale: room.clone(),
            room,
            effort: Effort::default(),
            grid: Grid::default(),
            is_alike: false,
            left,
            pace,
        }
    }

    /// Nearly closes a cycle, from given stores or from rest, and reads it into the tally.
    ///
    /// Where several cycles may close, `several`, that near which a start from rest leads is the one.
    pub(crate) fn look(
        &mut self,
        near: Option<Start<'_>>,
        several: bool,
        tally: Option<&mut Tally<'_>>,
        tolerance: f64,
    ) -> Result<Mapped, Lost> {
        let rough = ROUGH.max(tolerance);
        let z = match near {
            Some(near) => near.stores.to_vec(),
            None => self.leave_rest(rough)?,
        };
        let known = near.and_then(|near| near.map).map(<[f64]>::to_vec);
        near.inspect(|near| self.measure_by(*near));
        // Where several cycles may close, nature's way from rest is followed closely: the first that it comes to is
        // the one that counts.
        let way = Way {
            tolerance: rough,
            is_fine: false,
            closely: several && near.is_none(),
            most_steps: MOST_STEPS,
        };
        self.close((z, known), way, tally)
    }

    /// Finds the cycle that closes from stores with which one nearly does; reads it into the tally.
    pub(crate) fn find(
        &mut self,
        near: Vec<f64>,
        tolerance: f64,
        tally: &mut Tally<'_>,
    ) -> Result<Mapped, Lost> {
        let way = Way {
            tolerance,
            is_fine: true,
            closely: false,
            most_steps: MOST_FINE_STEPS,
        };
        self.close((near, None), way, Some(tally))
    }

    /// Takes what errors are shares of from where a search begins, if that is known there.
    pub(crate) fn measure_by(&mut self, near: Start<'_>) {
        if let Some(scale) = near.scale {
            self.scale.copy_from_slice(scale);
        }
        // A circuit of as many stores may have other unknowns: one whose heat took an element away, or brought one.
        let anchor = near.anchor;
        if let Some(anchor) = anchor.filter(|own| own.unknowns.len() == self.system.n) {
            self.begin = anchor.clone();
        }
        // Those of a first look at it. Steps of a whole cycle are no steps of half of one, nor the other way round.
        let was_seen = near.anchor.is_some() && near.is_half == self.is_half;
        if let Some(grid) = near.grid.filter(|_| was_seen) {
            self.grid = grid.clone();
            self.is_alike = true;
        }
    }

    /// Stores with which the next cycle should close.
    pub(crate) fn next(&self, found: &Mapped) -> Vec<f64> {
        let mut next = self
            .leap(found, &vec![f64::INFINITY; found.z.len()])
            .unwrap_or_else(|| found.end.clone());
        Falling::leave(self.system, found, &mut next);
        next
    }

    fn leave_rest(&mut self, tolerance: f64) -> Result<Vec<f64>, Lost> {
        let mut z = vec![0.0; self.system.stores.len()];
        for _ in 0..self.pace.cycles_from_rest() {
            z = self.pass(&z, tolerance)?;
        }
        Ok(z)
    }

    /// Stores after a cycle from some, as the circuit goes by itself.
    pub(crate) fn pass(&mut self, z: &[f64], tolerance: f64) -> Result<Vec<f64>, Lost> {
        let most_steps = if self.pace.is_hasty() {
            MOST_HASTY_STEPS
        } else {
            MOST_FINE_STEPS
        };
        let turn = self
            .turn(&spread(z), (tolerance, most_steps), Wanted::End, None)
            .ok_or(Lost::NoCycle)?;
        self.learn(&turn);
        Ok(turn.end.iter().map(|lanes| lanes.0[0]).collect())
    }

    /// Unknowns at the start of the cycle closed last.
    pub(crate) fn unknowns(&self) -> Vec<f64> {
        self.begin.unknowns.clone()
    }

    /// Searches until no leap is left, or until the answer is near.
    fn close(
        &mut self,
        (z, known): (Vec<f64>, Option<Vec<f64>>),
        way: Way,
        mut tally: Option<&mut Tally<'_>>,
    ) -> Result<Mapped, Lost> {
        let Way {
            tolerance,
            is_fine,
            closely,
            ..
        } = way;
        // Near the end the derivative of a cycle near by does as well as its own.
        let mut is_near = is_fine || known.is_some();
        let mut here = self
            .mapped(z, way, known, tally.as_deref_mut())
            .ok_or(Lost::NoCycle)?;
        let all_the_way = vec![f64::INFINITY; here.z.len()];
        let mut spans = Spans::new(here.z.len(), closely);
        let mut noise = Noise::default();
        let mut least_left = Least::default();
        let mut falling = Falling::of(here.z.len(), is_fine);
        let mut is_held = false;
        let mut has_moved = false;
        let mut is_once_more = false;
        let mut usual_steps = here.steps;
        loop {
            if !is_fine || self.effort.cycles == 1 {
                self.scale = self.scales(&here);
            }
            let leap = self.leap(&here, &all_the_way);
            if let Some(leap) = &leap {
                // Of one that only leaks, what counts is how far down it will be looked for.
                let mut held = leap.clone();
                falling.hold(self.system, &here, &mut held);
                let share = if has_moved { AFTER_A_MOVE } else { AT_ONCE };
                let is_there = |share| self.is_there(&here, &held, is_fine, share);
                if is_there(share) || (is_once_more && is_there(ONCE_MORE)) {
                    return Ok(here);
                }
                is_once_more = has_moved && is_there(ONCE_MORE);
            }
            let drift = self.size(&difference(&here.end, &here.z));
            self.is_alike = drift < ALIKE;
            if !is_fine && noise.meets(drift, &here, is_held) {
                return Ok(noise.quietest().unwrap_or(here));
            }
            let leap_left = leap.as_ref().map(|leap| here.share_of_level(leap));
            let is_lost_in_noise = is_fine
                && drift < STEPS_ERR * tolerance
                && leap_left.is_some_and(|left| left < NEARLY_THERE && least_left.meets(left));
            if is_lost_in_noise {
                return Ok(here);
            }
            if is_fine && drift < AS_GOOD_AS_THERE {
                self.left.steps += std::mem::take(&mut self.left.for_the_end);
            }
            if self.is_spent() {
                return Err(Lost::Spent);
            }
            has_moved = true;
            let (next, falls) = self.move_on(&here, leap, &spans, &mut falling);
            is_held = falls.contains(&true);
            self.begin = here.anchor.clone();
            let known = (is_near && !is_held).then(|| here.map.clone());
            let hasty = Way {
                most_steps: self
                    .most_steps(usual_steps, &spans, is_fine)
                    .min(way.most_steps),
                ..way
            };
            let mut there = self.mapped(next.clone(), hasty, known, tally.as_deref_mut());
            if there.is_none() && spans.is_short() {
                // Hardly away from where a cycle was: perhaps the unknowns are better begun from nothing.
                self.begin = Anchor::nothing(here.z.len(), self.system.n);
                there = self.mapped(next.clone(), way, None, tally.as_deref_mut());
            }
            let astray = match &there {
                Some(there) => self.astray(&here, there, spans.each(), &falls, tolerance),
                None if spans.is_short() => return Err(Lost::NoCycle),
                None => vec![f64::INFINITY; here.z.len()],
            };
            is_near = is_near && !is_held && astray.iter().all(|astray| *astray < HARDLY_ASTRAY);
            if let Some(there) = there
                && spans.may_go_on(&astray)
            {
                falling.learn(&here, &there, &falls);
                spans.grow(&astray);
                usual_steps = usual_steps.max(there.steps);
                here = there;
                continue;
            }
            if drift < tolerance && (!is_fine || leap_left.is_some_and(|left| left < NEARLY_THERE))
            {
                // What a cycle changes is lost among the errors of its steps: finer ones may tell.
                return Ok(here);
            }
            // Not as foretold: a shorter way along nature's, for those that went astray.
            let cycles: Vec<f64> = (0..next.len())
                .map(|k| {
                    let drift = (here.end[k] - here.z[k]).abs();
                    (next[k] - here.z[k]).abs() / drift.max(1e-12 * self.scale[k])
                })
                .collect();
            spans.shorten(&astray, &cycles);
        }
    }

    /// Steps that the next cycle may take, where so many were usual.
    fn most_steps(&self, usual: u64, spans: &Spans, is_fine: bool) -> u64 {
        // Nature's own way is followed however long it takes.
        if self.pace.is_hasty() && !is_fine && !spans.is_short() {
            HASTE * usual + HASTE_BESIDE
        } else {
            u64::MAX
        }
    }

    /// Stores of the next cycle, and which of them were held in their fall.
    fn move_on(
        &self,
        here: &Mapped,
        leap: Option<Vec<f64>>,
        spans: &Spans,
        falling: &mut Falling,
    ) -> (Vec<f64>, Vec<bool>) {
        let endless = if spans.are_endless() {
            leap
        } else {
            self.leap(here, spans.each())
        };
        let (mut within, mut falls) = falling.spans(self.system, here, endless.as_deref(), spans);
        let mut next = match endless {
            Some(leap) if spans.are_endless() && !falls.contains(&true) => leap,
            _ => self.leap(here, &within).unwrap_or_else(|| here.end.clone()),
        };
        // What falls less may let others fall further.
        for _ in 0..FALLS {
            let Some(shorter) = falling.shorter(self.system, here, &next, &within) else {
                break;
            };
            for (k, falls) in falls.iter_mut().enumerate() {
                *falls |= shorter[k] < within[k];
            }
            within = shorter;
            if let Some(leap) = self.leap(here, &within) {
                next = leap;
            }
        }
        falling.lengthen(self.system, here, &mut next);
        let held = falling.hold(self.system, here, &mut next);
        for (falls, held) in falls.iter_mut().zip(held) {
            *falls |= held;
        }
        (next, falls)
    }

    /// Whether the leap still to make is none: finely, to a share of what counts as none.
    fn is_there(&self, here: &Mapped, leap: &[f64], is_fine: bool, share: (f64, f64)) -> bool {
        let move_left = difference(leap, &here.z);
        (0..move_left.len()).all(|k| {
            let left = move_left[k].abs();
            if is_fine {
                let of_level = here.level[k] * share.1;
                // What moves so slowly is found by small shares of the way, and moves nothing else.
                let is_slow = (here.end[k] - here.z[k]).abs() < SLOW * left / share.1;
                left < share.0 * THERE.0 * here.swing[k]
                    || left < THERE.1 * of_level
                    || (is_slow && left < SLOWLY_THERE * of_level)
                    || left < share.0 * LEAST_LEFT * self.room[k]
            } else {
                left < NEAR * self.scale[k] || left < NEAR_LEVEL * here.level[k]
            }
        })
    }

    /// How far the step of each store should have led elsewhere, as the cycle's end now tells, as a share of the step: the
    /// natural monotonicity test (Deuflhard, *Newton Methods for Nonlinear Problems*, 2004, section 2.2), which
    /// does not mind how fast or slow a store is.
    ///
    /// Of those that were held in their fall nothing was foretold.
    fn astray(
        &self,
        here: &Mapped,
        there: &Mapped,
        spans: &[f64],
        falls: &[bool],
        tolerance: f64,
    ) -> Vec<f64> {
        let stores = here.z.len();
        let moved = difference(&there.z, &here.z);
        let off: Vec<f64> = (0..stores)
            .map(|k| {
                if falls[k] {
                    return 0.0;
                }
                let row = &here.map[k * stores..(k + 1) * stores];
                let foretold: f64 =
                    here.end[k] + row.iter().zip(&moved).map(|(m, d)| m * d).sum::<f64>();
                let off = there.end[k] - foretold;
                // What steps err by tells nothing of the way.
                let noise = STEPS_ERR * tolerance * self.scale[k];
                if off.abs() < noise { 0.0 } else { off }
            })
            .collect();
        let Some(correction) = here.step(&off, spans) else {
            return vec![f64::INFINITY; stores];
        };
        let least = (COUNTS * self.size(&moved)).max(1e-12);
        (0..stores)
            .map(|k| {
                let scale = self.scale[k];
                correction[k].abs() / (moved[k].abs() / scale).max(least) / scale
            })
            .collect()
    }

    /// Stores after an implicit step of so many cycles.
    fn leap(&self, here: &Mapped, spans: &[f64]) -> Option<Vec<f64>> {
        let step = here.step(&difference(&here.end, &here.z), spans)?;
        let mut shrink: f64 = 1.0;
        for (k, step) in step.iter().enumerate() {
            shrink = shrink.max(step.abs() / self.furthest(here, k, *step));
        }
        let next: Vec<f64> = here
            .z
            .iter()
            .zip(&step)
            .map(|(z, s)| z + s / shrink)
            .collect();
        next.iter().all(|v| v.is_finite()).then_some(next)
    }

    /// Furthest that a store leaps in a direction.
    fn furthest(&self, here: &Mapped, k: usize, step: f64) -> f64 {
        let room = here.level[k].max(self.room[k]);
        if !self.pace.is_hasty() || self.system.stores[k].kind != Kind::Volts {
            return 2.0 * room;
        }
        let most = (FURTHEST * self.room[k]).max(FURTHER_THAN_SEEN * here.level[k]);
        most - step.signum() * here.z[k]
    }

    /// A cycle from stores, with its derivative, or that of another near it which is known.
    fn mapped(
        &mut self,
        z: Vec<f64>,
        way: Way,
        known: Option<Vec<f64>>,
        tally: Option<&mut Tally<'_>>,
    ) -> Option<Mapped> {
        let wanted = match (&known, way.is_fine) {
            (Some(_), _) => Wanted::End,
            (None, true) => Wanted::Map,
            (None, false) => Wanted::MapAbout,
        };
        let exact = (way.tolerance, way.most_steps);
        let turn = self.turn(&spread(&z), exact, wanted, tally)?;
        let of = |lanes: &[Lanes]| -> Vec<f64> { lanes.iter().map(|l| l.0[0]).collect() };
        let (low, high) = (of(&turn.low), of(&turn.high));
        let level = low.iter().zip(&high).map(|(a, b)| a.abs().max(b.abs()));
        let level: Vec<f64> = level
            .zip(&self.room)
            .map(|(level, room)| level.max(LEAST_SWING * room))
            .collect();
        let swing = low.iter().zip(&high).map(|(a, b)| b - a).collect();
        Some(Mapped {
            scale: self.scale.clone(),
            anchor: self.begin.clone(),
            end: of(&turn.end),
            z,
            map: known.unwrap_or(turn.map),
            level,
            swing,
            steps: turn.steps,
        })
    }

    fn turn(
        &mut self,
        z: &[Lanes],
        (tolerance, most_steps): (f64, u64),
        wanted: Wanted,
        tally: Option<&mut Tally<'_>>,
    ) -> Option<Turn> {
        if self.is_spent() {
            return None;
        }
        self.left.cycles -= 1;
        self.effort.cycles += 1;
        let scale = spread(&self.scale);
        // What rings takes many steps to follow; while the answer is far, not so many as that.
        let is_rough = matches!(wanted, Wanted::MapAbout) || tolerance >= ROUGH;
        let most_steps = most_steps.min(if is_rough { MOST_STEPS } else { u64::MAX });
        let exact = Exact {
            tolerance,
            scale: &scale,
            wanted,
            most_steps,
            most_iterations: Effort::iterations_of(self.left.steps),
            grids: if self.is_alike {
                [self.grid.at(tolerance); WIDTH]
            } else {
                CHOSEN_ANEW
            },
            least_step: if is_rough {
                self.pace.least_step()
            } else {
                0.0
            },
            // From far away it is no gain: a march from rest that crept through a corner no longer came through.
            comes_down: false,
            until: Lanes::ONE,
        };
        let begin = Begin::From(&self.begin);
        let gather = Gather {
            tally,
            slopes: None,
            seen: None,
        };
        let mut turn = self.cycler.run(z, begin, exact, Mask::ALL, gather);
        let effort = Effort {
            steps: turn.steps,
            iterations: turn.iterations,
            ..Effort::default()
        };
        self.effort = self.effort.and(effort);
        self.left.steps = self.left.steps.saturating_sub(effort.usual_steps());
        if turn.ok.not().any() {
            return None;
        }
        let of = |lanes: &[Lanes]| lanes.iter().map(|x| x.0[0]).collect();
        self.grid = Grid {
            ends: std::mem::take(&mut turn.grids[0]),
            tolerance,
        };
        self.begin = Anchor {
            stores: if self.is_half { of(z) } else { of(&turn.end) },
            unknowns: of(self.cycler.unknowns()),
            strength: 1.0,
        };
        Some(turn)
    }

    fn is_spent(&self) -> bool {
        self.left.cycles == 0 || self.left.steps == 0
    }

    fn learn(&mut self, turn: &Turn) {
        for (k, scale) in self.scale.iter_mut().enumerate() {
            let (low, high) = (turn.low[k].0[0], turn.high[k].0[0]);
            *scale = (high - low)
                .max(LEAST_OF_LEVEL * low.abs().max(high.abs()))
                .max(LEAST_SWING * self.room[k]);
        }
    }

    fn scales(&self, here: &Mapped) -> Vec<f64> {
        (0..here.z.len())
            .map(|k| {
                here.swing[k]
                    .max(LEAST_OF_LEVEL * here.level[k])
                    .max(LEAST_SWING * self.room[k])
            })
            .collect()
    }

    /// Largest entry as a share of each store's scale.
    fn size(&self, values: &[f64]) -> f64 {
        values
            .iter()
            .zip(&self.scale)
            .fold(0.0, |worst: f64, (value, scale)| {
                worst.max(value.abs() / scale)
            })
    }
}

fn difference(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(a, b)| a - b).collect()
}
