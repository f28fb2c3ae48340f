//! Newton's method for the ports of a step: their equations, and what solves them.

use super::super::lanes::Lanes;
use super::eight::Device;
use super::operator::STAGES;
use super::plan::Port;
use super::rows::{dot, row_of};

/// Ports of a step: those whose coordinates are solved together, and behind them diodes in series with these, each current
/// told by theirs at the same stage, so that a coordinate is left once those are known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Sorts {
    pub(super) joint: usize,
    pub(super) told: usize,
}

/// A bridge, and the same with two regulators.
pub(super) const BRIDGE: Sorts = Sorts { joint: 1, told: 1 };
pub(super) const REGULATED: Sorts = Sorts { joint: 3, told: 1 };

impl Sorts {
    pub(super) const fn ports(self) -> usize {
        self.joint + self.told
    }

    /// Coordinates of all stages.
    pub(super) const fn coordinates(self) -> usize {
        STAGES * self.ports()
    }

    /// Place of a port's coordinate at a stage: those that are solved together stage by stage, then the others.
    #[inline(always)]
    pub(super) const fn place(self, stage: usize, port: usize) -> usize {
        if port < self.joint {
            stage * self.joint + port
        } else {
            STAGES * self.joint + stage * self.told + (port - self.joint)
        }
    }

    /// Numbers that the matrix of their equations takes.
    pub(super) const fn entries(self) -> usize {
        let [together, beside] = self.shares();
        together + 2 * beside + STAGES * self.told
    }

    /// Those of what is solved together, and those that tie the told coordinates to it, of either way.
    const fn shares(self) -> [usize; 2] {
        let a = STAGES * self.joint;
        [a * a, a * self.told]
    }
}

/// The linearised equations of the ports, where the told ones have entries at their own stage alone; factored, their pivots
/// are inverted.
struct Matrix<'a> {
    /// Rows of what is solved together, over the same.
    together: &'a mut [Lanes],
    /// For each told coordinate and each port solved together: its entry in that one's row, and that one's in its own.
    in_joint: &'a mut [Lanes],
    of_joint: &'a mut [Lanes],
    /// What each told coordinate has in its own row.
    own: &'a mut [Lanes],
}

/// The same once it is factored.
struct Factored<'a> {
    together: &'a [Lanes],
    in_joint: &'a [Lanes],
    of_joint: &'a [Lanes],
    own: &'a [Lanes],
}

impl<'a> Matrix<'a> {
    #[inline(always)]
    fn of(entries: &'a mut [Lanes], sorts: Sorts) -> Self {
        let [together, beside] = sorts.shares();
        let (together, rest) = entries.split_at_mut(together);
        let (in_joint, rest) = rest.split_at_mut(beside);
        let (of_joint, own) = rest.split_at_mut(beside);
        Self {
            together,
            in_joint,
            of_joint,
            own,
        }
    }
}

impl<'a> Factored<'a> {
    #[inline(always)]
    fn of(entries: &'a [Lanes], sorts: Sorts) -> Self {
        let [together, beside] = sorts.shares();
        let (together, rest) = entries.split_at(together);
        let (in_joint, rest) = rest.split_at(beside);
        let (of_joint, own) = rest.split_at(beside);
        Self {
            together,
            in_joint,
            of_joint,
            own,
        }
    }
}

/// The ports of a step.
#[derive(Clone, Copy)]
pub(super) struct Ports<'a> {
    pub(super) all: &'a [Port],
    pub(super) sorts: Sorts,
    pub(super) devices: &'a [Device],
    /// Inputs that are no coordinates, stage by stage, as functions of all coordinates, and of the stores at the start.
    pub(super) by_port: &'a [Lanes],
    pub(super) by_store: &'a [Lanes],
}

impl Ports<'_> {
    /// Inputs of the ports at the coordinates as they stand; one of each is its coordinate.
    #[inline(always)]
    pub(super) fn stand(self, inputs: &mut [[Lanes; 3]], known: &[Lanes], coordinates: &[Lanes]) {
        let n = self.sorts.coordinates();
        let mut other = 0;
        for i in 0..STAGES {
            for k in 0..self.sorts.ports() {
                let (port, place) = (&self.all[k], self.sorts.place(i, k));
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
        let Sorts { joint, told } = self.sorts;
        let (n, a) = (self.sorts.coordinates(), STAGES * joint);
        let matrix = Matrix::of(matrix, self.sorts);
        let mut other = 0;
        for i in 0..STAGES {
            for k in 0..joint {
                let (port, place) = (&self.all[k], self.sorts.place(i, k));
                let of_law = self.lack((k, place), (inputs, asked), (slopes, right));
                let of_row = &mut matrix.together[place * a..(place + 1) * a];
                let mut is_begun = false;
                for input in 0..port.inputs {
                    if input == port.coordinate {
                        continue;
                    }
                    let slope = of_law[input];
                    let row = row_of(self.by_port, other, n);
                    for column in 0..a {
                        let term = slope * row[column];
                        of_row[column] = if is_begun {
                            of_row[column] + term
                        } else {
                            term
                        };
                    }
                    for q in 0..told {
                        let term = slope * row[a + i * told + q];
                        let entry = &mut matrix.in_joint[(i * told + q) * joint + k];
                        *entry = if is_begun { *entry + term } else { term };
                    }
                    is_begun = true;
                    other += 1;
                }
                of_row[place] += of_law[port.coordinate];
            }
            for q in 0..told {
                let (at, place) = (i * told + q, a + i * told + q);
                let of_law = self.lack((joint + q, place), (inputs, asked), (slopes, right));
                let row = row_of(self.by_port, other, n);
                for k in 0..joint {
                    matrix.of_joint[at * joint + k] = of_law[1] * row[i * joint + k];
                }
                matrix.own[at] = of_law[1] * row[place] + of_law[0];
                other += 1;
            }
        }
    }

    /// What a port lacks at a stage; and the slopes of its law there.
    #[inline(always)]
    fn lack(
        self,
        (port, place): (usize, usize),
        (inputs, asked): (&[[Lanes; 3]], &[Lanes]),
        (slopes, right): (&mut [[Lanes; 3]], &mut [Lanes]),
    ) -> [Lanes; 3] {
        let proposed = inputs[place][0];
        let at = [asked[place], inputs[place][1], inputs[place][2]];
        let law = &self.devices[self.all[port].device].law;
        let (rho, of_law) = law.residual(&at);
        slopes[place] = of_law;
        right[place] = -(rho + of_law[0] * (proposed - at[0]));
        of_law
    }

    /// How coordinates move with the stores at the start of the step.
    #[inline(always)]
    pub(super) fn sway(
        self,
        (slopes, matrix): (&[[Lanes; 3]], &[Lanes]),
        (moved, m): (&mut [Lanes], usize),
    ) {
        for direction in 0..m {
            let mut other = 0;
            for i in 0..STAGES {
                for k in 0..self.sorts.ports() {
                    let (port, place) = (&self.all[k], self.sorts.place(i, k));
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
            substitute(matrix, self.sorts, moved);
        } else {
            substitute_all(matrix, self.sorts, (moved, m));
        }
    }
}

/// Factors the matrix of the ports in place.
#[inline(always)]
pub(super) fn factor(matrix: &mut [Lanes], sorts: Sorts) {
    let Sorts { joint, told } = sorts;
    let a = STAGES * joint;
    let matrix = Matrix::of(matrix, sorts);
    for i in 0..STAGES {
        for at in i * told..(i + 1) * told {
            let inverse = Lanes::ONE / matrix.own[at];
            matrix.own[at] = inverse;
            for k in 0..joint {
                let factor = matrix.in_joint[at * joint + k] * inverse;
                matrix.in_joint[at * joint + k] = factor;
                for column in 0..joint {
                    let taken = factor * matrix.of_joint[at * joint + column];
                    matrix.together[(i * joint + k) * a + i * joint + column] -= taken;
                }
            }
        }
    }
    factor_dense(matrix.together, a);
}

/// Solves for a right-hand side, in place.
#[inline(always)]
pub(super) fn substitute(matrix: &[Lanes], sorts: Sorts, right: &mut [Lanes]) {
    let Sorts { joint, told } = sorts;
    let matrix = Factored::of(matrix, sorts);
    let (right, of_told) = right.split_at_mut(STAGES * joint);
    for i in 0..STAGES {
        for at in i * told..(i + 1) * told {
            for k in 0..joint {
                right[i * joint + k] -= matrix.in_joint[at * joint + k] * of_told[at];
            }
        }
    }
    substitute_dense(matrix.together, STAGES * joint, right);
    for i in 0..STAGES {
        for at in i * told..(i + 1) * told {
            let mut sum = of_told[at];
            for k in 0..joint {
                sum -= matrix.of_joint[at * joint + k] * right[i * joint + k];
            }
            of_told[at] = sum * matrix.own[at];
        }
    }
}

/// Solves for so many right-hand sides at once, side by side in rows, in place.
#[inline(always)]
fn substitute_all(matrix: &[Lanes], sorts: Sorts, (right, count): (&mut [Lanes], usize)) {
    let Sorts { joint, told } = sorts;
    let matrix = Factored::of(matrix, sorts);
    let (right, of_told) = right.split_at_mut(STAGES * joint * count);
    for i in 0..STAGES {
        for at in i * told..(i + 1) * told {
            for k in 0..joint {
                let factor = matrix.in_joint[at * joint + k];
                for of in 0..count {
                    right[(i * joint + k) * count + of] -= factor * of_told[at * count + of];
                }
            }
        }
    }
    substitute_dense_all(matrix.together, STAGES * joint, (right, count));
    for i in 0..STAGES {
        for at in i * told..(i + 1) * told {
            for of in 0..count {
                let mut sum = of_told[at * count + of];
                for k in 0..joint {
                    sum -= matrix.of_joint[at * joint + k] * right[(i * joint + k) * count + of];
                }
                of_told[at * count + of] = sum * matrix.own[at];
            }
        }
    }
}

/// Factors a dense matrix in place, pivots in order and inverted. Its size is a multiple of the stages.
#[inline(always)]
fn factor_dense(matrix: &mut [Lanes], n: usize) {
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

/// Solves dense equations for a right-hand side, in place.
#[inline(always)]
fn substitute_dense(matrix: &[Lanes], n: usize, right: &mut [Lanes]) {
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

/// Solves dense equations for so many right-hand sides at once, side by side in rows, in place.
#[inline(always)]
fn substitute_dense_all(matrix: &[Lanes], n: usize, (right, count): (&mut [Lanes], usize)) {
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
