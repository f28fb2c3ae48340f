//! Complex numbers, and linear equations in them.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A complex number.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Phasor {
    pub(crate) re: f64,
    pub(crate) im: f64,
}

impl Phasor {
    pub(crate) const ZERO: Self = Self { re: 0.0, im: 0.0 };
    pub(crate) const ONE: Self = Self { re: 1.0, im: 0.0 };

    pub(crate) const fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    pub(crate) const fn real(re: f64) -> Self {
        Self { re, im: 0.0 }
    }

    pub(crate) fn size(self) -> f64 {
        self.re.hypot(self.im)
    }

    pub(crate) fn conjugate(self) -> Self {
        Self::new(self.re, -self.im)
    }
}

impl Add for Phasor {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.re + other.re, self.im + other.im)
    }
}

impl Sub for Phasor {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.re - other.re, self.im - other.im)
    }
}

impl Mul for Phasor {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self::new(
            self.re * other.re - self.im * other.im,
            self.re * other.im + self.im * other.re,
        )
    }
}

impl Div for Phasor {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let over = other.re * other.re + other.im * other.im;
        let top = self * other.conjugate();
        Self::new(top.re / over, top.im / over)
    }
}

impl Neg for Phasor {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.re, -self.im)
    }
}

/// Solves `A x = b`, rows of `A` with `b` as their last column; `None` where the equations are not independent.
pub(crate) fn solve(mut rows: Vec<Vec<Phasor>>) -> Option<Vec<Phasor>> {
    let n = rows.len();
    for column in 0..n {
        let pivot = (column..n).max_by(|&a, &b| {
            let size = |row: usize| rows[row][column].size();
            size(a).total_cmp(&size(b))
        })?;
        if rows[pivot][column].size() < 1e-300 {
            return None;
        }
        rows.swap(column, pivot);
        let (above, below) = rows.split_at_mut(column + 1);
        let own = &above[column];
        for row in below {
            if row[column] == Phasor::ZERO {
                continue;
            }
            let factor = row[column] / own[column];
            for k in column..=n {
                if own[k] != Phasor::ZERO {
                    row[k] = row[k] - factor * own[k];
                }
            }
        }
    }
    let mut x = vec![Phasor::ZERO; n];
    for row in (0..n).rev() {
        let mut sum = rows[row][n];
        for k in row + 1..n {
            sum = sum - rows[row][k] * x[k];
        }
        x[row] = sum / rows[row][row];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use super::{Phasor, solve};

    #[test]
    fn equations_are_solved() {
        let (i, one) = (Phasor::new(0.0, 1.0), Phasor::ONE);
        // x + i y = 1 + i, i x + y = 2 i: x = 1, y = i... checked by putting it in again.
        let rows = vec![
            vec![one, i, Phasor::new(1.0, 1.0)],
            vec![i, one + one, Phasor::new(0.0, 2.0)],
        ];
        let x = solve(rows.clone()).expect("independent");
        for row in rows {
            let left = row[0] * x[0] + row[1] * x[1];
            assert!((left - row[2]).size() < 1e-12);
        }
        assert!(solve(vec![vec![one, one, one], vec![one, one, one]]).is_none());
    }
}
