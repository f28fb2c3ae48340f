//! The periodic steady state, found directly.
//!
//! 1. A few cycles from rest, roughly: where the circuit goes by itself.
//! 2. Newton's method on "one cycle changes nothing", roughly, with the exact derivative of the cycle.
//!    Where it does not help, a few more cycles as nature would take them.
//! 3. The same to the tolerance asked for; the last cycle, computed once more to confirm, is the answer.

use crate::dense::Lu;
use crate::ended::Ended;
use crate::march::{Effort, Keep, March, Path, Stop};
use crate::orbit::Orbit;
use crate::record::Record;
use crate::system::{Law, System};

/// What a search may spend, and how exact it must be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Error per step as a share of each store's swing. The default
    /// gives 1e-6 on every output of the reference problems, 1e-11 gives 1e-9.
    pub tolerance: f64,
    /// Cycles that may be integrated in all.
    pub cycles: u64,
    /// Steps that may be made in all.
    pub steps: u64,
}

/// Tolerance while the answer is still far.
const ROUGH: f64 = 1e-4;
/// Cycles from rest before the first Newton update.
const CYCLES_FROM_REST: u32 = 3;
/// Rough closure at which the fine search takes over.
const NEAR: f64 = 1e-3;
/// Closure below which a rough search that no longer gains is taken to meet the noise of its own steps,
const NOISE: f64 = 0.03;
/// and how many cycles it has then gone nature's way at a time.
const PATIENT: usize = 4;
/// Cycles of the fine search.
const FINE_CYCLES: usize = 60;
/// Distance from the closed cycle, as a share of each store's level, that is taken as none.
const THERE: f64 = 1e-7;
/// The same, where the errors of the steps leave no better: what a store of a million cycles makes of them.
const NEARLY_THERE: f64 = 1e-4;
/// Multiplier above which a cycle counts as unstable. Slow but stable circuits come as close as 1 − 1e-7.
const UNSTABLE: f64 = 1.0 + 1e-9;

/// How a search ended, with the cycle if there is one.
pub struct Outcome<'s> {
    /// How it ended.
    pub ended: Ended,
    /// The cycle: settled or unstable.
    pub orbit: Option<Orbit<'s>>,
    /// Work done in any case.
    pub effort: Effort,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            tolerance: 3e-8,
            cycles: 600,
            steps: 2_000_000,
        }
    }
}

/// Finds the periodic steady state that the circuit reaches from rest.
pub fn steady_state<'s>(system: &'s System, options: &Options) -> Outcome<'s> {
    Search::new(system, options).run(None)
}

/// Finds the periodic steady state near given stores (of a like circuit), falling back to rest.
pub fn steady_state_from<'s>(system: &'s System, near: &[f64], options: &Options) -> Outcome<'s> {
    Search::new(system, options).run(Some(near))
}

struct Search<'s> {
    system: &'s System,
    march: March<'s>,
    options: Options,
}

impl<'s> Search<'s> {
    fn new(system: &'s System, options: &Options) -> Self {
        Self {
            system,
            march: March::new(system, options.steps),
            options: *options,
        }
    }

    fn run(mut self, near: Option<&[f64]>) -> Outcome<'s> {
        match self.find(near) {
            Ok((path, residual)) => self.conclude(path, residual),
            Err(ended) => Outcome {
                ended,
                orbit: None,
                effort: self.march.effort,
            },
        }
    }

    fn find(&mut self, near: Option<&[f64]>) -> Result<(Path, f64), Ended> {
        if let Some(near) = near.filter(|near| near.len() == self.system.stores.len()) {
            // Scales from one rough cycle; then straight to the fine search.
            self.march.set_tolerance(ROUGH);
            if let Ok(path) = self.march.run(near, 0.0, 1.0, Keep::End) {
                self.march.learn_scale(&path);
                if let Ok(found) = self
                    .close(near.to_vec(), NEAR, ROUGH)
                    .and_then(|z| self.fine(z))
                {
                    return Ok(found);
                }
            }
        }
        let z = self.leave_rest()?;
        let z = self.close(z, NEAR, ROUGH)?;
        let z = self.where_rest_leads(z)?;
        self.fine(z)
    }

    fn leave_rest(&mut self) -> Result<Vec<f64>, Ended> {
        self.march.set_tolerance(ROUGH);
        let mut z = vec![0.0; self.system.stores.len()];
        for _ in 0..CYCLES_FROM_REST {
            let path = self.march.run(&z, 0.0, 1.0, Keep::End).map_err(ended)?;
            self.march.learn_scale(&path);
            z = path.end;
        }
        Ok(z)
    }

    /// Newton on the cycle until it closes within `near` of each store's swing.
    fn close(&mut self, mut z: Vec<f64>, near: f64, tolerance: f64) -> Result<Vec<f64>, Ended> {
        self.march.set_tolerance(tolerance);
        // The swing shrinks as the stores come to rest, so drift as its share hardly does while they are far:
        // progress is also measured against what does not change.
        let mut best = f64::INFINITY;
        let mut least_travel = f64::INFINITY;
        let mut natural = 0;
        let mut patience = 1;
        // Where the last cycle led by itself: Newton may propose stores that no step can start from.
        let mut retreat: Option<Vec<f64>> = None;
        let mut last_moved: Option<Vec<f64>> = None;
        loop {
            let path = match self.march.run(&z, 0.0, 1.0, Keep::Map) {
                Ok(path) => path,
                Err(stop) => {
                    z = retreat.take().ok_or_else(|| ended(stop))?;
                    natural = patience;
                    patience = (2 * patience).min(64);
                    continue;
                }
            };
            let drift = self.drift(&path, &z);
            // The swing is that of this cycle; while stores still travel it is larger than the ripple.
            self.march.learn_scale(&path);
            // What the rough steps leave of noise may lie above; the fine search tells.
            let is_noise = patience > PATIENT && drift < NOISE;
            if drift < near || is_noise {
                return Ok(newton(&path, &z, &self.march.room).unwrap_or(path.end));
            }
            if self.march.effort.cycles > self.options.cycles {
                return Err(Ended::CyclesSpent { drift });
            }
            let travel = distance(&path.end, &z, &self.march.room);
            // A capacitor that nothing empties creeps up on the crest: its swing is its drift, and only its own
            // travel tells that Newton gets there.
            let moved: Vec<f64> = path
                .end
                .iter()
                .zip(&z)
                .map(|(end, start)| (end - start).abs())
                .collect();
            let furthest = self.furthest(&moved);
            let creeps_on = last_moved
                .as_ref()
                .is_some_and(|last| moved[furthest] < 0.9 * last[furthest]);
            last_moved = Some(moved);
            let helps = drift < 0.9 * best || travel < 0.9 * least_travel || creeps_on;
            best = best.min(drift);
            least_travel = least_travel.min(travel);
            let proposal = if natural > 0 {
                None
            } else {
                newton(&path, &z, &self.march.room)
            };
            match proposal {
                Some(next) if helps => {
                    z = next;
                    retreat = Some(path.end);
                }
                _ => {
                    // Nature's way for a while: it always leads somewhere.
                    if natural == 0 {
                        natural = patience;
                        patience = (2 * patience).min(64);
                        best = f64::INFINITY;
                        least_travel = f64::INFINITY;
                    }
                    natural -= 1;
                    z = path.end;
                }
            }
        }
    }

    /// Confirms, for circuits that may have several steady states, that the one found is where a start
    /// from rest leads; else goes there.
    fn where_rest_leads(&mut self, z: Vec<f64>) -> Result<Vec<f64>, Ended> {
        let may_have_several = self
            .system
            .devices
            .iter()
            .any(|device| matches!(device.law, Law::Load(crate::load::LoadLaw::Power { .. })));
        if !may_have_several {
            return Ok(z);
        }
        self.march.set_tolerance(ROUGH);
        let mut natural = vec![0.0; z.len()];
        let mut last_move = f64::INFINITY;
        for _ in 0..self.options.cycles / 2 {
            let path = self
                .march
                .run(&natural, 0.0, 1.0, Keep::End)
                .map_err(ended)?;
            let away = self.distance(&path.end, &z);
            last_move = self.drift(&path, &natural);
            natural = path.end;
            if away < 0.05 {
                return Ok(z);
            }
            if last_move < NEAR {
                break;
            }
        }
        if last_move < 0.1 {
            return self.close(natural, NEAR, ROUGH);
        }
        Ok(z)
    }

    /// The closed cycle at the tolerance asked for.
    fn fine(&mut self, mut z: Vec<f64>) -> Result<(Path, f64), Ended> {
        self.march.set_tolerance(self.options.tolerance);
        let goal = 30.0 * self.options.tolerance;
        let (mut best, mut nearest) = (f64::INFINITY, f64::INFINITY);
        let mut retreat: Option<Vec<f64>> = None;
        for _ in 0..FINE_CYCLES {
            let path = match self.march.run(&z, 0.0, 1.0, Keep::All) {
                Ok(path) => path,
                Err(stop) => {
                    z = retreat.take().ok_or_else(|| ended(stop))?;
                    continue;
                }
            };
            let drift = self.drift(&path, &z);
            let next = newton(&path, &z, &self.march.room).unwrap_or_else(|| path.end.clone());
            let away = distance(&next, &z, &self.march.levels(&path));
            let closes = drift < goal || (drift < 100.0 * goal && drift > 0.3 * best);
            // A slow store hardly drifts however far it still has to go: its distance counts too.
            let is_there = away < THERE || (away < NEARLY_THERE && away > 0.3 * nearest);
            if closes && is_there {
                return Ok((path, drift));
            }
            best = best.min(drift);
            nearest = nearest.min(away);
            self.march.learn_scale(&path);
            z = next;
            retreat = Some(path.end);
        }
        Err(Ended::CyclesSpent { drift: best })
    }

    /// The store that moved furthest over a cycle for its scale.
    fn furthest(&self, moved: &[f64]) -> usize {
        let share = |k: &usize| moved[*k] / self.march.scale[*k];
        (0..moved.len())
            .max_by(|a, b| share(a).total_cmp(&share(b)))
            .unwrap_or(0)
    }

    /// Largest change over a cycle as a share of each store's scale.
    fn drift(&self, path: &Path, z: &[f64]) -> f64 {
        self.distance(&path.end, z)
    }

    fn distance(&self, a: &[f64], b: &[f64]) -> f64 {
        distance(a, b, &self.march.scale)
    }

    fn conclude(self, path: Path, residual: f64) -> Outcome<'s> {
        let effort = self.march.effort;
        let floquet = largest_multiplier(&path.map, self.system.stores.len());
        let ended = if is_unstable(floquet) {
            Ended::Unstable {
                multiplier: floquet,
            }
        } else {
            Ended::Settled { residual }
        };
        let tolerance = self.march.stepper.newton_tolerance;
        let record = Record::new(self.system, path.steps, true, tolerance);
        let orbit = Orbit::new(record, path.map, floquet, effort);
        Outcome {
            ended,
            orbit: Some(orbit),
            effort,
        }
    }
}

/// Largest difference of two sets of stores as a share of each store's scale.
fn distance(a: &[f64], b: &[f64], scale: &[f64]) -> f64 {
    let mut worst: f64 = 0.0;
    for (k, scale) in scale.iter().enumerate() {
        worst = worst.max((a[k] - b[k]).abs() / scale);
    }
    worst
}

/// Stores at which the next cycle should close, if the map allows to tell.
fn newton(path: &Path, z: &[f64], room: &[f64]) -> Option<Vec<f64>> {
    let stores = z.len();
    if stores == 0 {
        return None;
    }
    let mut matrix: Vec<f64> = path.map.iter().map(|v| -v).collect();
    for k in 0..stores {
        matrix[k * stores + k] += 1.0;
    }
    let drift: Vec<f64> = path
        .end
        .iter()
        .zip(z)
        .map(|(end, start)| end - start)
        .collect();
    let mut lu = Lu::default();
    lu.factor(&matrix, stores).ok()?;
    let mut step = vec![0.0; stores];
    lu.solve(&drift, &mut step);
    // A store that hardly changes in a cycle may be sent far; never further than it has room for.
    let mut shrink: f64 = 1.0;
    for (k, (low, high)) in path.range.iter().enumerate() {
        let room = low.abs().max(high.abs()).max(room[k]);
        shrink = shrink.max(step[k].abs() / (2.0 * room));
    }
    let next: Vec<f64> = z
        .iter()
        .zip(&step)
        .map(|(z, step)| z + step / shrink)
        .collect();
    next.iter().all(|v| v.is_finite()).then_some(next)
}

/// Whether a disturbance of a cycle with this largest multiplier would grow; of one that is no number nobody knows, so that it
/// cannot support a verdict.
pub(crate) fn is_unstable(multiplier: f64) -> bool {
    multiplier.is_nan() || multiplier > UNSTABLE
}

/// Largest magnitude among the eigenvalues of the period map.
pub(crate) fn largest_multiplier(map: &[f64], stores: usize) -> f64 {
    if stores == 0 {
        return 0.0;
    }
    let matrix = nalgebra::DMatrix::from_row_slice(stores, stores, map);
    let largest = nalgebra::Schur::try_new(matrix.clone(), 1e-14, 10_000).map(|schur| {
        let sizes = schur.complex_eigenvalues();
        let sizes = sizes.iter().map(|v| (v.re * v.re + v.im * v.im).sqrt());
        // No number must not pass for a small one.
        sizes.fold(
            0.0,
            |most: f64, size| if size.is_nan() { size } else { most.max(size) },
        )
    });
    match largest {
        Some(largest) if largest.is_finite() => largest,
        _ => growth(matrix),
    }
}

/// Squarings after which the growth of powers tells the largest multiplier.
const SQUARINGS: i32 = 48;

/// How much powers of a matrix grow a time, in the end: its spectral radius (Gelfand's formula). For maps of which the
/// eigenvalues are not found one by one.
fn growth(mut matrix: nalgebra::DMatrix<f64>) -> f64 {
    let (mut log, mut share) = (0.0, 1.0);
    for _ in 0..SQUARINGS {
        if matrix.iter().any(|entry| !entry.is_finite()) {
            return f64::NAN;
        }
        let size = matrix.amax();
        if size == 0.0 {
            return 0.0;
        }
        log += share * crate::math::ln(size);
        matrix /= size;
        matrix = &matrix * &matrix;
        share *= 0.5;
    }
    crate::math::exp(log)
}

pub(crate) fn ended(stop: Stop) -> Ended {
    match stop {
        Stop::TooShort { at, place } => Ended::NoStep { at, place },
        Stop::Singular { at, place } => Ended::Singular { at, place },
        Stop::Spent => Ended::StepsSpent,
    }
}

#[cfg(test)]
mod tests {
    use super::{growth, largest_multiplier};
    use nalgebra::DMatrix;

    /// Eigenvalues that can be told from the matrix: triangular, and a turn.
    #[test]
    fn powers_tell_the_largest_multiplier() {
        let triangular = [0.5, 100.0, -3.0, 0.0, -0.97, 1e4, 0.0, 0.0, 1e-9];
        let (s, c) = (0.6, 0.8);
        let turn = [1.1 * c, -1.1 * s, 1.1 * s, 1.1 * c];
        for (map, n, size) in [(&triangular[..], 3, 0.97), (&turn[..], 2, 1.1)] {
            let by_powers = growth(DMatrix::from_row_slice(n, n, map));
            assert!((by_powers - size).abs() < 1e-10, "{by_powers}");
            assert!((largest_multiplier(map, n) - size).abs() < 1e-10);
        }
        assert!(growth(DMatrix::from_element(2, 2, f64::NAN)).is_nan());
    }
}
