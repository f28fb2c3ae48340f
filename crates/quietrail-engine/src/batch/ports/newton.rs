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
                for column in 0..n {
                    of_row[column] = Lanes::ZERO;
                }
                for input in 0..port.inputs {
                    let slope = of_law[input];
                    if input == port.coordinate {
                        of_row[place] += slope;
                        continue;
                    }
                    let row = row_of(self.by_port, other, n);
                    for column in 0..n {
                        of_row[column] += slope * row[column];
                    }
                    other += 1;
                }
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
        right: &mut [Lanes],
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
                    right[place] = sum;
                }
            }
            substitute(matrix, n, right);
            for row in 0..n {
                moved[row * m + direction] = right[row];
            }
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
        eliminate(matrix, OF_TWO, 0);
        eliminate(matrix, OF_TWO, 1);
        eliminate(matrix, OF_TWO, 2);
        eliminate(matrix, OF_TWO, 3);
        eliminate(matrix, OF_TWO, 4);
        eliminate(matrix, OF_TWO, 5);
        return;
    }
    for k in 0..n {
        eliminate(matrix, n, k);
    }
}

/// Takes the `k`-th pivot out of the rows below it.
#[inline(always)]
fn eliminate(matrix: &mut [Lanes], n: usize, k: usize) {
    let (head, tail) = matrix.split_at_mut((k + 1) * n);
    let pivot = &mut head[k * n..][..n];
    let inverse = Lanes::ONE / pivot[k];
    pivot[k] = inverse;
    for below in 0..n - k - 1 {
        let row = &mut tail[below * n..][..n];
        let factor = row[k] * inverse;
        row[k] = factor;
        for column in k + 1..n {
            row[column] -= factor * pivot[column];
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
    for k in 1..n {
        forward(matrix, n, right, k);
    }
    for k in (0..n).rev() {
        backward(matrix, n, right, k);
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
