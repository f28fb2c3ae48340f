//! Adaptive integration from one time to another.

use crate::step::{Stages, Start, StepFailure, Stepper};
use crate::system::{Kind, Place, System};
use crate::wave::Basis;

/// First step of every march, in cycles: so short that its error needs no estimate.
pub(crate) const FIRST_STEP: f64 = 1e-6;
/// Longest step, in cycles: a conduction pulse of eight degrees cannot fall between two stages.
pub(crate) const LONGEST_STEP: f64 = 1.0 / 48.0;
/// Shortest step, in cycles, before the march is given up.
pub(crate) const SHORTEST_STEP: f64 = 1e-15;
/// Steps that are always landed on: crests and zeros of the mains.
const LANDMARKS_PER_CYCLE: f64 = 4.0;
/// Least swing that a store is held to, as a share of what it may come to. The current of a leakage inductance
/// is that of blocking diodes while a charged reservoir waits; following it to the digit would take a million steps.
const SMALLEST_SWING: f64 = 1e-6;
/// Error that rounding alone makes in a store, as a share of its value.
pub(crate) const ROUNDING: f64 = 4e-15;

/// Integrates a system, remembering the sizes of its stores.
pub(crate) struct March<'s> {
    pub(crate) stepper: Stepper<'s>,
    /// Error allowed per step as a share of each store's scale.
    pub(crate) tolerance: f64,
    /// Swing of each store over a cycle: what its errors are compared with.
    pub(crate) scale: Vec<f64>,
    /// What each store may come to: the sources' volts, an ampere.
    pub(crate) room: Vec<f64>,
    /// Steps (accepted and not) that may still be made.
    pub(crate) steps_left: u64,
    pub(crate) effort: Effort,
    /// Where the last march ended: unknowns to begin the next one's first step from.
    hint: Option<Stages>,
}

/// Work done, for snapshots and for the report.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Effort {
    /// Mains cycles integrated.
    pub cycles: u64,
    /// Steps accepted.
    pub steps: u64,
    /// Steps rejected.
    pub rejected: u64,
    /// Newton iterations (three factorisations of the circuit's matrix each).
    pub iterations: u64,
}

/// A step with so many parts is one: an iteration each, and one for its error.
const PARTS: u64 = 4;

impl Effort {
    /// Work done, in steps of as many iterations as most take. One that needs twenty times as many is as much work as twenty.
    pub fn usual_steps(&self) -> u64 {
        (self.steps + self.rejected + self.iterations).div_ceil(PARTS)
    }

    /// Iterations that fit into so many usual steps.
    pub(crate) fn iterations_of(usual_steps: u64) -> u64 {
        usual_steps.saturating_mul(PARTS)
    }

    /// With other work.
    pub(crate) fn and(self, other: Self) -> Self {
        Self {
            cycles: self.cycles + other.cycles,
            steps: self.steps + other.steps,
            rejected: self.rejected + other.rejected,
            iterations: self.iterations + other.iterations,
        }
    }
}

/// What is kept of a march.
pub(crate) struct Path {
    /// Every step, or only the last.
    pub(crate) steps: Vec<Stages>,
    /// Stores at the end.
    pub(crate) end: Vec<f64>,
    /// Derivative of the end against the start, row-major stores × stores, if wanted.
    pub(crate) map: Vec<f64>,
    /// Lowest and highest value of each store.
    pub(crate) range: Vec<(f64, f64)>,
}

/// What to keep.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Keep {
    End,
    Map,
    All,
}

/// Why a march stopped early.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Stop {
    TooShort { at: f64, place: Place },
    Singular { at: f64, place: Place },
    Spent,
}

impl<'s> March<'s> {
    pub(crate) fn new(system: &'s System, steps: u64) -> Self {
        let room: Vec<f64> = system
            .stores
            .iter()
            .map(|store| match store.kind {
                Kind::Volts => system.volts_scale,
                Kind::Amperes => 1.0,
            })
            .collect();
        Self {
            stepper: Stepper::new(system),
            tolerance: 1e-4,
            scale: room.clone(),
            room,
            steps_left: steps,
            effort: Effort::default(),
            hint: None,
        }
    }

    /// Sets tolerances of steps and Newton iterations together.
    pub(crate) fn set_tolerance(&mut self, tolerance: f64) {
        self.tolerance = tolerance;
        // Newton converges quadratically: after an update of this size the error is far below it.
        self.stepper.newton_tolerance = (0.003 * tolerance.sqrt()).max(1e-9);
    }

    /// Takes the swing of each store over a path as its scale from now on.
    pub(crate) fn learn_scale(&mut self, path: &Path) {
        for ((scale, room), (low, high)) in self.scale.iter_mut().zip(&self.room).zip(&path.range) {
            let level = low.abs().max(high.abs());
            *scale = (high - low).max(1e-6 * level).max(SMALLEST_SWING * room);
        }
    }

    /// Largest size of each store over a path; that of a dead one is not followed to nothing.
    pub(crate) fn levels(&self, path: &Path) -> Vec<f64> {
        let sizes = path
            .range
            .iter()
            .map(|(low, high)| low.abs().max(high.abs()));
        sizes
            .zip(&self.room)
            .map(|(size, room)| size.max(SMALLEST_SWING * room))
            .collect()
    }

    /// Integrates from `from` to `to` (cycles), starting at stores `z`.
    pub(crate) fn run(&mut self, z: &[f64], from: f64, to: f64, keep: Keep) -> Result<Path, Stop> {
        let stores = z.len();
        let mut path = Path {
            steps: Vec::new(),
            end: z.to_vec(),
            map: if keep == Keep::End {
                Vec::new()
            } else {
                identity(stores)
            },
            range: z.iter().map(|&v| (v, v)).collect(),
        };
        let landmarks = self.landmarks(from, to);
        let mut next_landmark = 0;
        let mut t = from;
        let mut h = FIRST_STEP;
        let mut last: Option<Stages> = None;
        // A guess only: its rates say nothing of these stores, so the first step is not judged by them.
        let mut hint = self.hint.take();
        let mut may_grow = true;
        while t < to {
            while landmarks[next_landmark] <= t {
                next_landmark += 1;
            }
            let landmark = landmarks[next_landmark];
            let (length, lands) = fit(h, landmark - t);
            if self.steps_left == 0 {
                return Err(Stop::Spent);
            }
            self.steps_left -= 1;
            let before = self.stepper.iterations;
            let start = Start {
                t,
                z: &path.end,
                last: last.as_ref().or(hint.as_ref()),
            };
            let made = self.stepper.step(&start, length);
            self.effort.iterations += self.stepper.iterations - before;
            let found = match made {
                Ok(found) => found,
                Err(failure) => {
                    self.effort.rejected += 1;
                    may_grow = false;
                    h = 0.25 * length;
                    if h < SHORTEST_STEP && hint.take().is_some() {
                        // Where the last march ended is no place to begin this one: from nothing, then.
                        h = FIRST_STEP;
                    }
                    if h < SHORTEST_STEP {
                        return Err(stop(failure, t));
                    }
                    continue;
                }
            };
            let error = last.as_ref().map_or(0.0, |last| self.error(&found, last));
            if error > 1.0 && length > 16.0 * SHORTEST_STEP {
                self.effort.rejected += 1;
                may_grow = false;
                h = length * (0.9 * crate::math::pow(error, -0.25)).clamp(0.1, 0.9);
                continue;
            }
            self.effort.steps += 1;
            let growth = if error > 0.0 {
                0.9 * crate::math::pow(error, -0.25)
            } else {
                8.0
            };
            h = (length * growth.clamp(0.2, if may_grow { 8.0 } else { 1.0 })).min(LONGEST_STEP);
            may_grow = true;
            t = if lands { landmark } else { t + length };
            if keep != Keep::End {
                self.chain(&mut path.map, length);
            }
            for (k, (low, high)) in path.range.iter_mut().enumerate() {
                for z in &found.z {
                    *low = low.min(z[k]);
                    *high = high.max(z[k]);
                }
            }
            path.end.clone_from(&found.z[2]);
            if keep == Keep::All
                && let Some(last) = last.take()
            {
                path.steps.push(last);
            }
            last = Some(found);
        }
        self.hint.clone_from(&last);
        path.steps.extend(last);
        self.effort.cycles += (to - from).ceil() as u64;
        Ok(path)
    }

    /// Largest estimated error of a step, 1 being allowed.
    fn error(&self, found: &Stages, last: &Stages) -> f64 {
        let errors = self.stepper.error(found, last);
        let mut worst: f64 = 0.0;
        for (k, error) in errors.iter().enumerate() {
            let rounding = ROUNDING * found.z[2][k].abs().max(found.z_start[k].abs());
            let allowed = (self.tolerance * self.scale[k]).max(rounding).max(1e-300);
            worst = worst.max(error.abs() / allowed);
        }
        worst
    }

    /// Multiplies the map by that of the step just made.
    fn chain(&mut self, map: &mut Vec<f64>, h: f64) {
        let stores = self.scale.len();
        let mut scratch: [Vec<f64>; 3] = Default::default();
        let mut next = vec![0.0; stores * stores];
        let mut start = vec![0.0; stores];
        for column in 0..stores {
            for row in 0..stores {
                start[row] = map[row * stores + column];
            }
            self.stepper.derivative(h, &start, None, &mut scratch);
            for (row, store) in self.stepper.system.stores.iter().enumerate() {
                next[row * stores + column] = store.value.linear(&scratch[2]);
            }
        }
        *map = next;
    }

    /// Times to land on, rising, the end included.
    fn landmarks(&self, from: f64, to: f64) -> Vec<f64> {
        let mut all = vec![to];
        let mut quarter = (from * LANDMARKS_PER_CYCLE).floor() + 1.0;
        while quarter / LANDMARKS_PER_CYCLE < to {
            all.push(quarter / LANDMARKS_PER_CYCLE);
            quarter += 1.0;
        }
        for basis in &self.stepper.system.sources {
            if let Basis::Step { at, width } = *basis {
                let around = [-20.0, -5.0, -1.0, 0.0, 1.0, 5.0, 20.0];
                all.extend(
                    around
                        .map(|n| at + n * width)
                        .iter()
                        .filter(|t| **t > from && **t < to),
                );
            }
        }
        all.sort_unstable_by(f64::total_cmp);
        all
    }
}

/// The step that is made when `h` is wanted and `room` is left to the next landmark.
fn fit(h: f64, room: f64) -> (f64, bool) {
    if h >= 0.999 * room {
        (room, true)
    } else if h > 0.5 * room {
        (0.5 * room, false)
    } else {
        (h, false)
    }
}

fn stop(failure: StepFailure, at: f64) -> Stop {
    match failure {
        StepFailure::Singular(place) => Stop::Singular { at, place },
        StepFailure::NoConvergence(place) | StepFailure::NotFinite(place) => {
            Stop::TooShort { at, place }
        }
    }
}

fn identity(n: usize) -> Vec<f64> {
    let mut map = vec![0.0; n * n];
    for k in 0..n {
        map[k * n + k] = 1.0;
    }
    map
}
