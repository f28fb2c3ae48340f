//! The model that fits the readings best, and how far each unknown may be from what it gives.
//!
//! Gauss-Newton on all equations, each weighed by its own spread. Near the solution every unknown is a sum of the
//! readings' errors with known weights; those errors are even between their ends, and so the range of any figure
//! follows from [`half_range`] without taking them for a bell.

use super::rows::{Equations, Row, Source};
use super::spread::half_range;

/// Rounds of Gauss-Newton.
const ROUNDS: usize = 40;
/// A step that moves everything by less than this share of its spread ends the search.
const STILL: f64 = 1e-4;
/// Share of truths that a range is to hold.
pub(crate) const SHARE: f64 = 0.95;
/// Share of a figure's spread that comes from ranges that stand in for readings, beyond which it is not shown.
const UNTOLD: f64 = 0.5;
/// Share of honest readings that stay within the bound by which a reading counts as contradicting.
const HONEST: f64 = 0.9999;

/// A fit.
#[derive(Clone, Debug)]
pub(crate) struct Fit {
    pub(crate) equations: Equations,
    /// Values of the unknowns.
    pub(crate) x: Vec<f64>,
    /// Half-ranges of each row's errors.
    parts: Vec<Vec<f64>>,
    /// How each unknown moves with an error in each row.
    moves: Vec<Vec<f64>>,
    /// Derivative of each row against each unknown.
    slopes: Vec<Vec<f64>>,
    /// Read less predicted.
    left: Vec<f64>,
}

/// A figure with its range.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranged {
    /// What fits best.
    pub value: f64,
    /// Lowest and highest that the readings allow, 95 %.
    pub low: f64,
    /// Highest.
    pub high: f64,
    /// Whether readings decide it; else it leans on what stands in for them.
    pub is_told: bool,
}

impl Ranged {
    /// Half of the range as a share of the value.
    pub fn share(&self) -> f64 {
        0.5 * (self.high - self.low) / self.value.abs().max(1e-300)
    }
}

/// Fits; `None` where the equations have no solution in reach.
pub(crate) fn fit(mut equations: Equations) -> Option<Fit> {
    let mut x = equations.start.clone();
    equations.follow(&x);
    let sigma = |row: &Row| -> f64 {
        let square: f64 = row.parts.iter().map(|half| half * half / 3.0).sum();
        square.sqrt().max(1e-15)
    };
    let mut damping = 1e-6;
    let mut cost = cost(&equations, &x, sigma);
    let mut slopes = Vec::new();
    for _ in 0..ROUNDS {
        slopes = derivatives(&equations, &x);
        let scaled: Vec<(Vec<f64>, f64)> = equations
            .rows
            .iter()
            .zip(&slopes)
            .map(|(row, slope)| {
                let s = sigma(row);
                let off = (row.value - equations.predict(row, &x)) / s;
                (slope.iter().map(|of| of / s).collect(), off)
            })
            .collect();
        let n = x.len();
        let mut normal = vec![vec![0.0; n + 1]; n];
        for (slope, off) in &scaled {
            for i in 0..n {
                if slope[i] == 0.0 {
                    continue;
                }
                for j in 0..n {
                    normal[i][j] += slope[i] * slope[j];
                }
                normal[i][n] += slope[i] * off;
            }
        }
        let spread: Vec<f64> = (0..n)
            .map(|i| 1.0 / normal[i][i].max(1e-300).sqrt())
            .collect();
        let mut moved = false;
        let mut step_size = f64::INFINITY;
        for _ in 0..12 {
            let mut damped = normal.clone();
            for (i, row) in damped.iter_mut().enumerate() {
                row[i] *= 1.0 + damping;
            }
            let Some(step) = linear(damped) else {
                damping = (damping * 10.0).max(1e-6);
                continue;
            };
            let next: Vec<f64> = x.iter().zip(&step).map(|(x, by)| x + by).collect();
            let there = self::cost(&equations, &next, sigma);
            if there <= cost * (1.0 + 1e-9) {
                step_size = step
                    .iter()
                    .zip(&spread)
                    .map(|(by, of)| (by / of).abs())
                    .fold(0.0, f64::max);
                x = next;
                damping = (damping * 0.1).max(1e-12);
                moved = true;
                break;
            }
            damping = (damping * 10.0).max(1e-6);
        }
        equations.follow(&x);
        // Straight lines may have moved.
        cost = self::cost(&equations, &x, sigma);
        if !moved || step_size < STILL {
            break;
        }
    }
    if !cost.is_finite() {
        return None;
    }
    if slopes.is_empty() {
        return None;
    }
    slopes = derivatives(&equations, &x);
    settle(equations, x, slopes)
}

fn cost(equations: &Equations, x: &[f64], sigma: impl Fn(&Row) -> f64) -> f64 {
    let sum: f64 = equations
        .rows
        .iter()
        .map(|row| {
            let off = (row.value - equations.predict(row, x)) / sigma(row);
            off * off
        })
        .sum();
    if sum.is_nan() { f64::INFINITY } else { sum }
}

/// The weights with which errors reach the unknowns.
fn settle(equations: Equations, x: Vec<f64>, slopes: Vec<Vec<f64>>) -> Option<Fit> {
    let n = x.len();
    let weight = |row: &Row| {
        3.0 / row
            .parts
            .iter()
            .map(|half| half * half)
            .sum::<f64>()
            .max(1e-30)
    };
    let mut normal = vec![vec![0.0; n]; n];
    for (row, slope) in equations.rows.iter().zip(&slopes) {
        let w = weight(row);
        for i in 0..n {
            for j in 0..n {
                normal[i][j] += w * slope[i] * slope[j];
            }
        }
    }
    let inverse = invert(&normal)?;
    let moves = equations
        .rows
        .iter()
        .zip(&slopes)
        .map(|(row, slope)| {
            let w = weight(row);
            (0..n)
                .map(|i| w * (0..n).map(|j| inverse[i][j] * slope[j]).sum::<f64>())
                .collect()
        })
        .collect();
    let left = equations
        .rows
        .iter()
        .map(|row| row.value - equations.predict(row, &x))
        .collect();
    let parts = equations.rows.iter().map(|row| row.parts.clone()).collect();
    Some(Fit {
        equations,
        x,
        parts,
        moves,
        slopes,
        left,
    })
}

impl Fit {
    /// A figure and its range; `of` is evaluated around the fit for its slopes.
    pub(crate) fn figure(&self, of: impl Fn(&[f64]) -> f64) -> Ranged {
        let value = of(&self.x);
        let slope = self.slope(&of, value);
        self.along(value, &slope, &[])
    }

    /// The slopes of a figure.
    pub(crate) fn slope(&self, of: &impl Fn(&[f64]) -> f64, value: f64) -> Vec<f64> {
        let mut x = self.x.clone();
        (0..x.len())
            .map(|i| {
                let here = x[i];
                let step = 0.02 * self.deviation(i).max(1e-9 * here.abs()).max(1e-15);
                x[i] = here + step;
                let there = of(&x);
                x[i] = here;
                (there - value) / step
            })
            .collect()
    }

    /// A figure with known slopes, and errors of its own beside those of the unknowns.
    pub(crate) fn along(&self, value: f64, slope: &[f64], own: &[f64]) -> Ranged {
        let mut all: Vec<f64> = own.to_vec();
        let (mut told, mut untold) = (0.0, 0.0);
        for (k, row) in self.equations.rows.iter().enumerate() {
            let weight: f64 = slope.iter().zip(&self.moves[k]).map(|(a, b)| a * b).sum();
            for half in &self.parts[k] {
                let part = weight * half;
                all.push(part);
                match row.source {
                    Source::Nothing => untold += part * part,
                    Source::Read { .. } | Source::Range => told += part * part,
                }
            }
        }
        let half = half_range(&all, SHARE);
        let is_told = value.is_finite() && half.is_finite() && untold <= UNTOLD * (told + untold);
        Ranged {
            value,
            low: value - half,
            high: value + half,
            is_told,
        }
    }

    /// Standard deviation of an unknown.
    fn deviation(&self, unknown: usize) -> f64 {
        let square: f64 = self
            .moves
            .iter()
            .zip(&self.parts)
            .map(|(moves, parts)| {
                parts
                    .iter()
                    .map(|half| (moves[unknown] * half).powi(2) / 3.0)
                    .sum::<f64>()
            })
            .sum();
        square.sqrt()
    }

    /// Covariance of the unknowns.
    pub(crate) fn covariance(&self) -> Vec<Vec<f64>> {
        let n = self.x.len();
        let mut all = vec![vec![0.0; n]; n];
        for (moves, parts) in self.moves.iter().zip(&self.parts) {
            let square: f64 = parts.iter().map(|half| half * half / 3.0).sum();
            for i in 0..n {
                for j in 0..n {
                    all[i][j] += square * moves[i] * moves[j];
                }
            }
        }
        all
    }

    /// Readings that the others contradict: row, by how many times what honest errors allow.
    pub(crate) fn contradictions(&self) -> Vec<(usize, f64)> {
        let mut found = Vec::new();
        for (k, row) in self.equations.rows.iter().enumerate() {
            if !matches!(row.source, Source::Read { .. }) {
                continue;
            }
            let own: f64 = self.slopes[k]
                .iter()
                .zip(&self.moves[k])
                .map(|(a, b)| a * b)
                .sum();
            let free = 1.0 - own;
            if free < 1e-6 {
                continue;
            }
            // How the residual is made of all errors.
            let mut parts = Vec::new();
            let mut square = 0.0;
            for (j, of) in self.parts.iter().enumerate() {
                let pull: f64 = self.slopes[k]
                    .iter()
                    .zip(&self.moves[j])
                    .map(|(a, b)| a * b)
                    .sum();
                let share = if j == k { free } else { -pull };
                for half in of {
                    parts.push(share * half);
                    square += (share * half).powi(2) / 3.0;
                }
            }
            if self.left[k].abs() < 2.5 * square.sqrt() {
                continue;
            }
            let bound = half_range(&parts, HONEST);
            if self.left[k].abs() > bound {
                found.push((k, self.left[k].abs() / bound));
            }
        }
        found.sort_by(|a, b| b.1.total_cmp(&a.1));
        found
    }
}

/// Derivatives of all rows against all unknowns.
fn derivatives(equations: &Equations, x: &[f64]) -> Vec<Vec<f64>> {
    let n = x.len();
    let mut all = vec![vec![0.0; n]; equations.rows.len()];
    let mut moved = x.to_vec();
    let size: Vec<f64> = (0..n)
        .map(|i| {
            let held = equations
                .rows
                .iter()
                .filter(|row| matches!(row.predicts, super::rows::Predicts::Given(of) if of == equations.unknowns[i]))
                .flat_map(|row| row.parts.iter().copied())
                .fold(f64::INFINITY, f64::min);
            1e-5 * x[i].abs().max(if held.is_finite() { 0.1 * held } else { 1e-6 })
        })
        .collect();
    for i in 0..n {
        let here = moved[i];
        moved[i] = here + size[i];
        let up: Vec<f64> = equations
            .rows
            .iter()
            .map(|row| side(equations, row, i, &moved))
            .collect();
        moved[i] = here - size[i];
        for (k, row) in equations.rows.iter().enumerate() {
            let down = side(equations, row, i, &moved);
            all[k][i] = (up[k] - down) / (2.0 * size[i]);
        }
        moved[i] = here;
    }
    all
}

/// A row on one side of an unknown; nothing where it cannot depend on it.
fn side(equations: &Equations, row: &Row, unknown: usize, x: &[f64]) -> f64 {
    use super::rows::{Predicts, Unknown};
    let of = equations.unknowns[unknown];
    let depends = match &row.predicts {
        Predicts::Given(own) => *own == of,
        Predicts::Ohms(..) => matches!(of, Unknown::Ohms(_) | Unknown::Null | Unknown::OhmsGain),
        Predicts::Volts {
            warmer, existing, ..
        } => match of {
            Unknown::Warmer(test) | Unknown::Load(test) => *warmer == Some(test),
            Unknown::Existing(load) => *existing == Some(load),
            Unknown::Ohms(_)
            | Unknown::Turns(_)
            | Unknown::Leakage(_)
            | Unknown::Susceptance
            | Unknown::Conductance => true,
            _ => false,
        },
        Predicts::Amps(_) | Predicts::Watts(_) => !matches!(
            of,
            Unknown::Null
                | Unknown::OhmsGain
                | Unknown::Warmer(_)
                | Unknown::Drop(_)
                | Unknown::Load(_)
                | Unknown::Flatness
                | Unknown::Existing(_)
        ),
        Predicts::Mean { test, .. } => match of {
            Unknown::Warmer(other) | Unknown::Drop(other) | Unknown::Load(other) => other == *test,
            Unknown::Null
            | Unknown::OhmsGain
            | Unknown::AmpsGain
            | Unknown::WattsGain
            | Unknown::Existing(_) => false,
            _ => true,
        },
    };
    if depends {
        equations.predict(row, x)
    } else {
        0.0
    }
}

/// Solves a real system, right side last in each row.
pub(crate) fn linear(mut rows: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let n = rows.len();
    for column in 0..n {
        let pivot =
            (column..n).max_by(|&a, &b| rows[a][column].abs().total_cmp(&rows[b][column].abs()))?;
        let size = rows[pivot][column].abs();
        if size.is_nan() || size <= 1e-300 {
            return None;
        }
        rows.swap(column, pivot);
        let (above, below) = rows.split_at_mut(column + 1);
        let own = &above[column];
        for row in below {
            let factor = row[column] / own[column];
            if factor != 0.0 {
                for k in column..own.len() {
                    row[k] -= factor * own[k];
                }
            }
        }
    }
    let mut x = vec![0.0; n];
    for row in (0..n).rev() {
        let sum: f64 = (row + 1..n).map(|k| rows[row][k] * x[k]).sum();
        x[row] = (rows[row][n] - sum) / rows[row][row];
    }
    x.iter().all(|value| value.is_finite()).then_some(x)
}

/// The inverse of a symmetric matrix, its rows and columns brought to one size first.
fn invert(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = matrix.len();
    let scale: Vec<f64> = (0..n)
        .map(|i| 1.0 / matrix[i][i].max(1e-300).sqrt())
        .collect();
    let mut columns = Vec::with_capacity(n);
    for j in 0..n {
        let rows = (0..n)
            .map(|i| {
                let mut row: Vec<f64> =
                    (0..n).map(|k| matrix[i][k] * scale[i] * scale[k]).collect();
                row.push(if i == j { 1.0 } else { 0.0 });
                row
            })
            .collect();
        columns.push(linear(rows)?);
    }
    Some(
        (0..n)
            .map(|i| {
                (0..n)
                    .map(|j| columns[j][i] * scale[i] * scale[j])
                    .collect()
            })
            .collect(),
    )
}
