//! Dense linear equations of a few dozen unknowns.

/// LU factors of a square matrix with scaled partial pivoting.
///
/// Rows mix volts and amperes, so pivots are compared relative to the largest entry of their row.
/// The order of all sums is fixed: the same matrix gives the same bits everywhere.
#[derive(Clone, Debug, Default)]
pub(crate) struct Lu {
    n: usize,
    factors: Vec<f64>,
    row: Vec<usize>,
    scale: Vec<f64>,
    scratch: Vec<f64>,
}

/// The matrix has no inverse (or one too ill-conditioned to use): the column that lost its pivot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Singular {
    /// Index of the unknown.
    pub(crate) column: usize,
}

impl Lu {
    /// Factors a row-major `n × n` matrix, reusing the storage of earlier calls.
    ///
    /// # Errors
    /// [`Singular`] when a pivot vanishes or is not finite.
    pub(crate) fn factor(&mut self, matrix: &[f64], n: usize) -> Result<(), Singular> {
        debug_assert_eq!(matrix.len(), n * n);
        self.n = n;
        self.factors.clear();
        self.factors.extend_from_slice(matrix);
        self.row.clear();
        self.row.extend(0..n);
        self.scale.clear();
        for r in 0..n {
            let largest = matrix[r * n..(r + 1) * n]
                .iter()
                .fold(0.0, |m: f64, v| m.max(v.abs()));
            if !(largest > 0.0 && largest.is_finite()) {
                return Err(Singular { column: r });
            }
            self.scale.push(1.0 / largest);
        }
        for c in 0..n {
            let mut best = c;
            let mut best_size = -1.0;
            for r in c..n {
                let size = self.factors[r * n + c].abs() * self.scale[r];
                if size > best_size {
                    best = r;
                    best_size = size;
                }
            }
            if !(best_size > 1e-300 && best_size.is_finite()) {
                return Err(Singular { column: c });
            }
            if best != c {
                for k in 0..n {
                    self.factors.swap(best * n + k, c * n + k);
                }
                self.row.swap(best, c);
                self.scale.swap(best, c);
            }
            let (head, tail) = self.factors.split_at_mut((c + 1) * n);
            let pivot_row = &head[c * n..];
            let inverse = 1.0 / pivot_row[c];
            for row in tail.chunks_exact_mut(n) {
                let factor = row[c] * inverse;
                row[c] = factor;
                if factor != 0.0 {
                    for (value, pivot) in row[c + 1..].iter_mut().zip(&pivot_row[c + 1..n]) {
                        *value -= factor * pivot;
                    }
                }
            }
        }
        Ok(())
    }

    /// Whether no pivot is down in the rounding of its row.
    pub(crate) fn is_sound(&self) -> bool {
        (0..self.n)
            .all(|k| (self.factors[k * self.n + k] * self.scale[k]).abs() > 64.0 * f64::EPSILON)
    }

    /// Solves for one right-hand side, writing into `x`; `b` and `x` have `n` entries.
    pub(crate) fn solve(&self, b: &[f64], x: &mut [f64]) {
        let n = self.n;
        for r in 0..n {
            let mut sum = b[self.row[r]];
            for (factor, value) in self.factors[r * n..r * n + r].iter().zip(&*x) {
                sum -= factor * value;
            }
            x[r] = sum;
        }
        for r in (0..n).rev() {
            let mut sum = x[r];
            for (factor, value) in self.factors[r * n + r + 1..(r + 1) * n]
                .iter()
                .zip(&x[r + 1..])
            {
                sum -= factor * value;
            }
            x[r] = sum / self.factors[r * n + r];
        }
    }
}

impl Lu {
    /// Solves for many right-hand sides in place: row-major, `width` columns.
    pub(crate) fn solve_many(&mut self, b: &mut [f64], width: usize) {
        let n = self.n;
        debug_assert_eq!(b.len(), n * width);
        self.scratch.clear();
        for &row in &self.row {
            self.scratch
                .extend_from_slice(&b[row * width..(row + 1) * width]);
        }
        let x = &mut self.scratch;
        for r in 1..n {
            let (done, rest) = x.split_at_mut(r * width);
            for (factor, known) in self.factors[r * n..r * n + r]
                .iter()
                .zip(done.chunks_exact(width))
            {
                if *factor != 0.0 {
                    for (value, known) in rest[..width].iter_mut().zip(known) {
                        *value -= factor * known;
                    }
                }
            }
        }
        for r in (0..n).rev() {
            let (head, done) = x.split_at_mut((r + 1) * width);
            let row = &mut head[r * width..];
            for (factor, known) in self.factors[r * n + r + 1..(r + 1) * n]
                .iter()
                .zip(done.chunks_exact(width))
            {
                if *factor != 0.0 {
                    for (value, known) in row.iter_mut().zip(known) {
                        *value -= factor * known;
                    }
                }
            }
            let inverse = 1.0 / self.factors[r * n + r];
            for value in row {
                *value *= inverse;
            }
        }
        b.copy_from_slice(x);
    }
}

#[cfg(test)]
mod tests {
    use super::Lu;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn solves_what_it_factored(
            n in 1_usize..12,
            values in prop::collection::vec(-1.0..1.0_f64, 144),
            wanted in prop::collection::vec(-5.0..5.0_f64, 12),
            scale in prop::collection::vec(-6.0..6.0_f64, 12),
        ) {
            // Rows of very different units, diagonal strong enough to be well conditioned.
            let mut a = vec![0.0; n * n];
            for r in 0..n {
                for c in 0..n {
                    a[r * n + c] = values[r * 12 + c] + if r == c { 4.0 + n as f64 } else { 0.0 };
                    a[r * n + c] *= crate::math::pow(10.0, scale[r]);
                }
            }
            let b: Vec<f64> = (0..n).map(|r| (0..n).map(|c| a[r * n + c] * wanted[c]).sum()).collect();
            let mut lu = Lu::default();
            lu.factor(&a, n).expect("diagonally dominant");
            let mut x = vec![0.0; n];
            lu.solve(&b, &mut x);
            for c in 0..n {
                prop_assert!((x[c] - wanted[c]).abs() < 1e-11);
            }
            // Two columns at once: the same, and its double.
            let mut both: Vec<f64> = b.iter().flat_map(|v| [*v, 2.0 * v]).collect();
            lu.solve_many(&mut both, 2);
            for c in 0..n {
                prop_assert!((both[2 * c] - wanted[c]).abs() < 1e-11);
                prop_assert!((both[2 * c + 1] - 2.0 * wanted[c]).abs() < 1e-11);
            }
        }
    }

    #[test]
    fn names_the_column_without_a_pivot() {
        let mut lu = Lu::default();
        let found = lu.factor(&[1.0, 2.0, 2.0, 4.0], 2);
        assert_eq!(found.map_err(|e| e.column), Err(1));
    }
}
