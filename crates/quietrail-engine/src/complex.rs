//! Complex numbers, and linear equations in them.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// A complex number.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Complex {
    /// Real part.
    pub re: f64,
    /// Imaginary part.
    pub im: f64,
}

impl Complex {
    /// 0
    pub const ZERO: Self = Self { re: 0.0, im: 0.0 };
    /// 1
    pub const ONE: Self = Self { re: 1.0, im: 0.0 };

    /// From its parts.
    pub const fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    /// A real number.
    pub const fn real(re: f64) -> Self {
        Self { re, im: 0.0 }
    }

    /// Square of its size.
    pub fn square(self) -> f64 {
        self.re * self.re + self.im * self.im
    }

    /// Its size.
    pub fn size(self) -> f64 {
        self.square().sqrt()
    }
}

impl Add for Complex {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.re + other.re, self.im + other.im)
    }
}

impl AddAssign for Complex {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Complex {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.re - other.re, self.im - other.im)
    }
}

impl SubAssign for Complex {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Mul for Complex {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self::new(
            self.re * other.re - self.im * other.im,
            self.re * other.im + self.im * other.re,
        )
    }
}

impl Mul<f64> for Complex {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self::new(self.re * factor, self.im * factor)
    }
}

impl Div for Complex {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let square = other.square();
        Self::new(
            (self.re * other.re + self.im * other.im) / square,
            (self.im * other.re - self.re * other.im) / square,
        )
    }
}

impl Neg for Complex {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.re, -self.im)
    }
}

/// Solves `A x = b` in place, row-major, with pivots chosen by rows; `None` where a pivot vanishes.
pub(crate) fn solve(matrix: &mut [Complex], right: &mut [Complex]) -> Option<()> {
    let n = right.len();
    debug_assert_eq!(matrix.len(), n * n);
    for c in 0..n {
        let size = |row: usize| matrix[row * n + c].square();
        let best = (c..n).fold(
            c,
            |best, row| if size(row) > size(best) { row } else { best },
        );
        let largest = size(best);
        if !(largest > 0.0 && largest.is_finite()) {
            return None;
        }
        if best != c {
            for k in c..n {
                matrix.swap(best * n + k, c * n + k);
            }
            right.swap(best, c);
        }
        let inverse = Complex::ONE / matrix[c * n + c];
        for row in c + 1..n {
            let factor = matrix[row * n + c] * inverse;
            if factor.square() == 0.0 {
                continue;
            }
            for k in c + 1..n {
                let pivot = matrix[c * n + k];
                matrix[row * n + k] -= factor * pivot;
            }
            let pivot = right[c];
            right[row] -= factor * pivot;
        }
    }
    for row in (0..n).rev() {
        let mut sum = right[row];
        for k in row + 1..n {
            sum -= matrix[row * n + k] * right[k];
        }
        right[row] = sum / matrix[row * n + row];
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use super::{Complex, solve};

    #[test]
    fn solves_what_it_was_made_from() {
        let a = [
            Complex::new(0.0, 0.0),
            Complex::new(2.0, 1.0),
            Complex::new(1.0, -1.0),
            Complex::new(1.0, 0.5),
            Complex::new(-3.0, 0.0),
            Complex::new(0.0, 4.0),
            Complex::new(5.0, 0.0),
            Complex::new(0.5, 0.5),
            Complex::new(0.0, -2.0),
        ];
        let x = [
            Complex::new(1.0, 2.0),
            Complex::new(-0.5, 0.0),
            Complex::new(0.0, 3.0),
        ];
        let mut right = [Complex::ZERO; 3];
        for (row, sum) in right.iter_mut().enumerate() {
            for (k, x) in x.iter().enumerate() {
                *sum += a[row * 3 + k] * *x;
            }
        }
        let mut matrix = a;
        assert!(solve(&mut matrix, &mut right).is_some());
        for (got, want) in right.iter().zip(&x) {
            assert!((*got - *want).size() < 1e-14, "{got:?} for {want:?}");
        }
        assert!(solve(&mut [Complex::ZERO; 1], &mut [Complex::ONE; 1]).is_none());
    }
}
