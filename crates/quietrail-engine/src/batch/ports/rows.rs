//! Sums and rows of lanes.
//!
//! By index throughout: iterators in step are not inlined into functions that are compiled for other instructions.

use super::super::lanes::{Lanes, Mask};

/// Sum of products, as many as the first has. As two sums side by side, for each addition waits for the one before.
#[inline(always)]
pub(super) fn dot(row: &[Lanes], with: &[Lanes]) -> Lanes {
    let count = row.len();
    let with = &with[..count];
    let (mut even, mut odd) = (Lanes::ZERO, Lanes::ZERO);
    let mut k = 0;
    while k + 1 < count {
        even += row[k] * with[k];
        odd += row[k + 1] * with[k + 1];
        k += 2;
    }
    if k < count {
        even += row[k] * with[k];
    }
    even + odd
}

/// The part of a row that sources make.
#[inline(always)]
pub(super) fn driven(row: &[Lanes], sources: &[f64]) -> Lanes {
    let sources = &sources[..row.len()];
    let mut sum = Lanes::ZERO;
    for k in 0..row.len() {
        sum += row[k] * Lanes::all(sources[k]);
    }
    sum
}

/// A row of a matrix.
#[inline(always)]
pub(super) fn row_of(matrix: &[Lanes], row: usize, columns: usize) -> &[Lanes] {
    &matrix[row * columns..][..columns]
}

/// A row times a square matrix.
#[inline(always)]
pub(super) fn times(row: &[Lanes], matrix: &[Lanes], out: &mut [Lanes]) {
    let m = row.len();
    for column in 0..m {
        let mut sum = Lanes::ZERO;
        for k in 0..m {
            sum += row[k] * matrix[k * m + column];
        }
        out[column] = sum;
    }
}

#[inline(always)]
pub(super) fn keep(into: &mut [Lanes], from: &[Lanes], lanes: Mask) {
    let from = &from[..into.len()];
    let is_all = !lanes.not().any();
    for k in 0..into.len() {
        into[k] = if is_all {
            from[k]
        } else {
            lanes.select(from[k], into[k])
        };
    }
}
