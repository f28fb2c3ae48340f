//! Newton's method for the ports of a step: their equations, dense, and what solves them.

use super::super::lanes::Lanes;
use super::eight::Device;
use super::operator::STAGES;
use super::plan::Port;
use super::rows::{dot, row_of};

/// The ports of a step.
#[derive(Clone, Copy)]
pub(super) struct Ports<'a> {
    pub(super) all: &'a [Port],
    pub(super) count: usize,
    pub(super) devices: &'a [Device],
    /// Inputs that are no coordinates, stage by stage, as functions of all coordinates, and of the stores at the start.
    pub(super) by_port: &'a [Lanes],
    pub(super) by_store: &'a [Lanes],
}

impl Ports<'_> {
    /// Inputs of the ports at the coordinates as they stand; one of each is its coordinate.
    #[inline(always)]
    pub(super) fn stand(self, inputs: &mut [[Lanes; 3]], known: &[Lanes], coordinates: &[Lanes]) {
        let n = STAGES * self.count;
        let mut other = 0;
        for i in 0..STAGES {
            for k in 0..self.count {
                let (port, place) = (&self.all[k], i * self.count + k);
                for input in 0..port.inputs {
                    if input == port.coordinate {
                        inputs[place][input] = coordinates[place];
                    } else {
                        let row = row_of(self.by_port, other, n);
                        inputs[place][input] = known[other] + dot(row, coordinates);
                        other += 1;
                    }
                }
            }
        }
    }

    /// The linearised equations of the ports: their matrix, slopes of the laws, and what they lack.
    #[inline(always)]
    pub(super) fn linearise(
        self,
        (inputs, asked): (&[[Lanes; 3]], &[Lanes]),
        (matrix, slopes, right): (&mut [Lanes], &mut [[Lanes; 3]], &mut [Lanes]),
    ) {
        let n = STAGES * self.count;
        let mut other = 0;
        for i in 0..STAGES {
            for k in 0..self.count {
                let (port, place) = (&self.all[k], i * self.count + k);
                let proposed = inputs[place][0];
                let at = [asked[place], inputs[place][1], inputs[place][2]];
                let (rho, of_law) = self.devices[port.device].law.residual(&at);
                let of_row = &mut matrix[place * n..(place + 1) * n];
                let mut is_begun = false;
                for input in 0..port.inputs {
                    if input == port.coordinate {
                        continue;
                    }
                    let slope = of_law[input];
                    let row = row_of(self.by_port, other, n);
                    for column in 0..n {
                        let term = slope * row[column];
                        of_row[column] = if is_begun {
                            of_row[column] + term
                        } else {
                            term
                        };
                    }
                    is_begun = true;
                    other += 1;
                }
                of_row[place] += of_law[port.coordinate];
                slopes[place] = of_law;
                right[place] = -(rho + of_law[0] * (proposed - at[0]));
            }
        }
    }

    /// How coordinates move with the stores at the start of the step.
    #[inline(always)]
    pub(super) fn sway(
        self,
        (slopes, matrix): (&[[Lanes; 3]], &[Lanes]),
        (moved, m): (&mut [Lanes], usize),
    ) {
        let n = STAGES * self.count;
        for direction in 0..m {
            let mut other = 0;
            for i in 0..STAGES {
                for k in 0..self.count {
                    let (port, place) = (&self.all[k], i * self.count + k);
                    let mut sum = Lanes::ZERO;
                    for input in 0..port.inputs {
                        if input != port.coordinate {
                            sum -= slopes[place][input] * self.by_store[other * m + direction];
                            other += 1;
                        }
                    }
                    moved[place * m + direction] = sum;
                }
            }
        }
        if m == 1 {
            substitute(matrix, n, moved);
        } else {
            substitute_all(matrix, n, (moved, m));
        }
    }
}

/// Coordinates of a step with two ports, as a bridge has them, and with four, as a bridge and two regulators.
pub(super) const OF_TWO: usize = 2 * STAGES;
pub(super) const OF_FOUR: usize = 4 * STAGES;

/// Factors a dense matrix in place, pivots in order and inverted.
#[inline(always)]
pub(super) fn factor(matrix: &mut [Lanes], n: usize) {
    if n == OF_TWO {
        // Each by a number that the compiler knows, so that it unrolls what is within.
        eliminate(matrix, OF_TWO, (0, OF_TWO));
        eliminate(matrix, OF_TWO, (1, OF_TWO));
        eliminate(matrix, OF_TWO, (2, OF_TWO));
        eliminate(matrix, OF_TWO, (3, OF_TWO));
        eliminate(matrix, OF_TWO, (4, OF_TWO));
        eliminate(matrix, OF_TWO, (5, OF_TWO));
        return;
    }
    for k in (0..n).step_by(STAGES) {
        eliminate_three(matrix, n, k);
    }
}

/// Takes the `k`-th pivot out of the rows below it, up to one.
#[inline(always)]
fn eliminate(matrix: &mut [Lanes], n: usize, (k, until): (usize, usize)) {
    let (head, tail) = matrix.split_at_mut((k + 1) * n);
    let pivot = &mut head[k * n..][..n];
    let inverse = Lanes::ONE / pivot[k];
    pivot[k] = inverse;
    for below in 0..until - k - 1 {
        let row = &mut tail[below * n..][..n];
        let factor = row[k] * inverse;
        row[k] = factor;
        for column in k + 1..n {
            row[column] -= factor * pivot[column];
        }
    }
}

/// Takes the `k`-th pivot and the two after it out of the rows below: these are fetched and put back once for all three.
#[inline(always)]
fn eliminate_three(matrix: &mut [Lanes], n: usize, k: usize) {
    const { assert!(STAGES == 3) };
    let behind = k + 3;
    for pivot in k..behind {
        eliminate(matrix, n, (pivot, behind));
    }
    let (head, tail) = matrix.split_at_mut(behind * n);
    let [first, second, third] = [k, k + 1, k + 2].map(|row| &head[row * n..][..n]);
    for below in 0..n - behind {
        let row = &mut tail[below * n..][..n];
        let a = row[k] * first[k];
        let b = (row[k + 1] - a * first[k + 1]) * second[k + 1];
        let c = (row[k + 2] - a * first[k + 2] - b * second[k + 2]) * third[k + 2];
        (row[k], row[k + 1], row[k + 2]) = (a, b, c);
        for column in behind..n {
            row[column] = row[column] - a * first[column] - b * second[column] - c * third[column];
        }
    }
}

/// Solves for a right-hand side, in place.
#[inline(always)]
pub(super) fn substitute(matrix: &[Lanes], n: usize, right: &mut [Lanes]) {
    if n == OF_TWO {
        forward(matrix, OF_TWO, right, 1);
        forward(matrix, OF_TWO, right, 2);
        forward(matrix, OF_TWO, right, 3);
        forward(matrix, OF_TWO, right, 4);
        forward(matrix, OF_TWO, right, 5);
        backward(matrix, OF_TWO, right, 5);
        backward(matrix, OF_TWO, right, 4);
        backward(matrix, OF_TWO, right, 3);
        backward(matrix, OF_TWO, right, 2);
        backward(matrix, OF_TWO, right, 1);
        backward(matrix, OF_TWO, right, 0);
        return;
    }
    // Column by column: sums along rows would each wait for the one before.
    for k in 0..n {
        let known = right[k];
        for below in k + 1..n {
            right[below] -= matrix[below * n + k] * known;
        }
    }
    for k in (0..n).rev() {
        let known = right[k] * matrix[k * n + k];
        right[k] = known;
        for above in 0..k {
            right[above] -= matrix[above * n + k] * known;
        }
    }
}

/// Solves for so many right-hand sides at once, side by side in rows, in place.
#[inline(always)]
fn substitute_all(matrix: &[Lanes], n: usize, (right, count): (&mut [Lanes], usize)) {
    for k in 0..n {
        let (head, tail) = right.split_at_mut((k + 1) * count);
        let known = &head[k * count..][..count];
        for below in k + 1..n {
            let row = &mut tail[(below - k - 1) * count..][..count];
            let factor = matrix[below * n + k];
            for of in 0..count {
                row[of] -= factor * known[of];
            }
        }
    }
    for k in (0..n).rev() {
        let (head, tail) = right.split_at_mut(k * count);
        let known = &mut tail[..count];
        for of in 0..count {
            known[of] = known[of] * matrix[k * n + k];
        }
        for above in 0..k {
            let row = &mut head[above * count..][..count];
            let factor = matrix[above * n + k];
            for of in 0..count {
                row[of] -= factor * known[of];
            }
        }
    }
}

/// Takes what is known off the `k`-th number.
#[inline(always)]
fn forward(matrix: &[Lanes], n: usize, right: &mut [Lanes], k: usize) {
    let taken = dot(&matrix[k * n..][..k], right);
    right[k] -= taken;
}

#[inline(always)]
fn backward(matrix: &[Lanes], n: usize, right: &mut [Lanes], k: usize) {
    let behind = n - k - 1;
    let taken = dot(&matrix[k * n + k + 1..][..behind], &right[k + 1..]);
    right[k] = (right[k] - taken) * matrix[k * n + k];
}
