//! Sparse elimination whose order is settled once per circuit.
//!
//! Matrices of one circuit differ in their numbers, by many decades as diodes open and close, and share their
//! places. An order of pivots that serves samples of them from all states serves eight at a time without
//! comparing anything; it is tried on the samples before it is used.

use super::instructions::in_widest;
use super::lanes::Lanes;
use crate::dense::Lu;
use std::collections::BTreeMap;
use std::ops::{AddAssign, Mul, SubAssign};

/// Entries below this share of the largest in their column are not taken as pivots.
const THRESHOLDS: [f64; 4] = [1e-2, 0.1, 1e-4, 1e-7];
/// Pivots of least fill that are compared by the digits they keep, and how much is enough.
const LOOKED_AT: usize = 24;
const ENOUGH_KEPT: f64 = 1e-5;
/// Error of a trial solution of ones and twos up to which an order is trusted. Floating windings between blocking diodes
/// keep no more digits.
const TRUSTED: f64 = 1e-3;
/// The same up to which the best order is taken where none is trusted, and by how much it is then dearer: Newton's method asks
/// the equations themselves again each time, so that what such an order gets wrong where all diodes block shrinks from one
/// iteration to the next, but it takes more of them, and shorter steps.
const TOLERABLE: [(f64, usize); 2] = [(2e-2, 4), (0.5, 10)];

/// What an entry of a matrix is: a number in each lane, or one where all lanes repeat one circuit. Either makes the same bits.
pub(crate) trait Number: Copy + AddAssign + SubAssign + Mul<Output = Self> {
    const ZERO: Self;
    /// Of lanes that may repeat one number.
    fn of(lanes: Lanes) -> Self;
    fn inverse(self) -> Self;
}

impl Number for Lanes {
    const ZERO: Self = Lanes::ZERO;

    #[inline(always)]
    fn of(lanes: Lanes) -> Self {
        lanes
    }

    #[inline(always)]
    fn inverse(self) -> Self {
        Lanes::ONE / self
    }
}

impl Number for f64 {
    const ZERO: Self = 0.0;

    #[inline(always)]
    fn of(lanes: Lanes) -> Self {
        lanes.0[0]
    }

    #[inline(always)]
    fn inverse(self) -> Self {
        1.0 / self
    }
}

/// What an entry makes of a right-hand side.
pub(crate) trait Times<R> {
    fn times(self, right: R) -> R;
}

impl Times<Lanes> for Lanes {
    #[inline(always)]
    fn times(self, right: Lanes) -> Lanes {
        self * right
    }
}

impl Times<f64> for f64 {
    #[inline(always)]
    fn times(self, right: f64) -> f64 {
        self * right
    }
}

impl Times<Lanes> for f64 {
    #[inline(always)]
    fn times(self, right: Lanes) -> Lanes {
        Lanes::all(self) * right
    }
}

/// The order, and every operation in it.
#[derive(Clone, Debug)]
pub(crate) struct Elimination {
    n: usize,
    /// Place of each entry among the values, row-major; `usize::MAX` where there is never one.
    places: Vec<usize>,
    count: usize,
    pivots: Vec<Pivot>,
    /// Flat lists that pivots point into: entries that pivots take out, rows by their pivots and columns.
    before: Vec<Term>,
    behind: Vec<Term>,
    /// Every entry that changes, in the order in which they are known, and the products that it is less by.
    entries: Vec<Entry>,
    products: Vec<(u32, u32)>,
    /// Largest error of a trial solution.
    error: f64,
}

#[derive(Clone, Debug)]
struct Pivot {
    row: u32,
    column: u32,
    at: u32,
    /// Terms up to its own, after those of the pivot before it.
    before: u32,
    behind: u32,
}

/// An entry, and the row or column of the number that it is multiplied with.
#[derive(Clone, Copy, Debug)]
struct Term {
    at: u32,
    of: u32,
}

/// What becomes of an entry once the products are taken off it.
#[derive(Clone, Copy, Debug)]
enum Role {
    /// It is inverted.
    Pivot,
    /// It is divided by the pivot of its column.
    Below(u32),
    /// It stays.
    Behind,
}

#[derive(Clone, Debug)]
struct Entry {
    at: u32,
    /// Products up to its own, after those of the entry before it.
    products: u32,
    role: Role,
}

/// What is known of a matrix beforehand.
#[derive(Clone, Debug)]
pub(crate) struct Nature {
    /// Pivots to begin with: each device's row and its own current. A blocking diode's current is a billionth of
    /// those around it; taken out first, it never has to come out as their difference.
    pub(crate) first: Vec<(usize, usize)>,
}

impl Elimination {
    /// An order that serves all samples (row-major `n × n`), if one is found: the first that is trusted, or the most exact.
    pub(crate) fn serving(samples: &[Vec<f64>], n: usize, nature: &Nature) -> Option<Self> {
        let sound = sound(samples, n);
        if 2 * sound.len() < samples.len() {
            return None;
        }
        let mut best: Option<Self> = None;
        for threshold in THRESHOLDS {
            let Some(order) = order(&sound, n, threshold, nature) else {
                continue;
            };
            // Places of all samples, the unsound ones too.
            let mut elimination = Self::of(samples, n, &order);
            elimination.error = elimination.error(&sound);
            if elimination.is_trusted() {
                return Some(elimination);
            }
            if best
                .as_ref()
                .is_none_or(|best| elimination.error < best.error)
            {
                best = Some(elimination);
            }
        }
        best.filter(|best| best.dearness().is_some())
    }

    /// The same, where the order must also leave numbers in other matrices. A pivot of which nothing is left in a first step, where
    /// charges weigh a million times what devices let through, ends every search before it begins; an order that has one is looked
    /// for once more among all of them.
    pub(crate) fn serving_from(
        (samples, firsts): (&[Vec<f64>], &[Vec<f64>]),
        n: usize,
        nature: &Nature,
    ) -> Option<Self> {
        let found = Self::serving(samples, n, nature);
        let firsts = regular(firsts, n);
        let leaves_numbers = |order: &Self| order.error(&firsts).is_finite();
        if found.as_ref().is_some_and(leaves_numbers) {
            return found;
        }
        let of_all = Self::serving(&[samples, &firsts].concat(), n, nature);
        of_all.or(found)
    }

    /// An order for one matrix (row-major `n × n`) that errs by no more than so much, if there is one.
    pub(crate) fn exact(matrix: &[f64], n: usize, nature: &Nature, errs: f64) -> Option<Self> {
        let samples = [matrix.to_vec()];
        let of_threshold = |threshold: f64| {
            let order = order(&samples, n, threshold, nature)?;
            let mut elimination = Self::of(&samples, n, &order);
            elimination.error = elimination.error(&samples);
            (elimination.error <= errs).then_some(elimination)
        };
        THRESHOLDS.into_iter().find_map(of_threshold)
    }

    /// Whether it serves all samples to as many digits as they have.
    pub(crate) fn is_trusted(&self) -> bool {
        self.error <= TRUSTED
    }

    /// By how much it is dearer for being less exact; `None` where it is of no use.
    fn dearness(&self) -> Option<usize> {
        if self.is_trusted() {
            return Some(1);
        }
        let mut tolerable = TOLERABLE.iter();
        let up_to = tolerable.find(|(error, _)| self.error <= *error)?;
        Some(up_to.1)
    }

    /// Products of a factorisation and a solution, times what it costs to be less exact.
    pub(crate) fn cost(&self) -> usize {
        self.products()
            * self
                .dearness()
                .unwrap_or(usize::MAX / self.products().max(1))
    }

    fn of(samples: &[Vec<f64>], n: usize, order: &[(usize, usize)]) -> Self {
        let mut left = Pattern::of(samples, n);
        let mut steps = Vec::new();
        for &(row, column) in order {
            let (mut rows, mut columns) = left.take_out((row, column));
            rows.sort_unstable();
            columns.sort_unstable();
            steps.push((row, column, rows, columns));
        }
        let mut places = vec![usize::MAX; n * n];
        let mut count = 0;
        for (place, filled) in places.iter_mut().zip(&left.filled) {
            if *filled {
                *place = count;
                count += 1;
            }
        }
        let place = |row: usize, column: usize| places[row * n + column] as u32;
        let mut products_of: Vec<Vec<(u32, u32)>> = vec![Vec::new(); count];
        let mut before_of: Vec<Vec<Term>> = vec![Vec::new(); n];
        for (row, column, rows, columns) in &steps {
            for &r in rows {
                let factor = place(r, *column);
                before_of[r].push(Term {
                    at: factor,
                    of: *row as u32,
                });
                for &c in columns {
                    products_of[place(r, c) as usize].push((factor, place(*row, c)));
                }
            }
        }
        let (mut pivots, mut before, mut behind) = (Vec::new(), Vec::new(), Vec::new());
        let (mut entries, mut products) = (Vec::new(), Vec::new());
        for (row, column, rows, columns) in steps {
            let at = place(row, column);
            let pivot = std::iter::once((at, Role::Pivot));
            let below = rows.iter().map(|&r| (place(r, column), Role::Below(at)));
            let beside = columns.iter().map(|&c| (place(row, c), Role::Behind));
            for (at, role) in pivot.chain(below).chain(beside) {
                products.append(&mut products_of[at as usize]);
                entries.push(Entry {
                    at,
                    products: products.len() as u32,
                    role,
                });
            }
            before.append(&mut before_of[row]);
            behind.extend(columns.iter().map(|&c| Term {
                at: place(row, c),
                of: c as u32,
            }));
            pivots.push(Pivot {
                row: row as u32,
                column: column as u32,
                at,
                before: before.len() as u32,
                behind: behind.len() as u32,
            });
        }
        Self {
            n,
            places,
            count,
            pivots,
            before,
            behind,
            entries,
            products,
            error: f64::INFINITY,
        }
    }

    fn place(&self, row: usize, column: usize) -> usize {
        self.places[row * self.n + column]
    }

    /// Where an entry is kept, if the circuit has it.
    pub(crate) fn find(&self, row: usize, column: usize) -> Option<usize> {
        let place = self.place(row, column);
        (place != usize::MAX).then_some(place)
    }

    /// How many entries are kept.
    pub(crate) fn len(&self) -> usize {
        self.count
    }

    /// How many products a factorisation and a solution take.
    pub(crate) fn products(&self) -> usize {
        self.products.len() + self.before.len() + self.behind.len() + self.count
    }

    /// Factors in place; a pivot that vanishes leaves numbers that are not finite.
    ///
    /// Entry by entry, each known once all products are off it: no sum waits for what was just written.
    #[inline(always)]
    pub(crate) fn factor<N: Number>(&self, values: &mut [N]) {
        let mut first = 0;
        for entry in &self.entries {
            let last = entry.products as usize;
            let mut value = values[entry.at as usize];
            for &(factor, source) in &self.products[first..last] {
                value -= values[factor as usize] * values[source as usize];
            }
            first = last;
            values[entry.at as usize] = match entry.role {
                Role::Pivot => value.inverse(),
                Role::Below(pivot) => value * values[pivot as usize],
                Role::Behind => value,
            };
        }
    }

    /// Solves for a right-hand side, which is used up.
    pub(crate) fn solve(&self, values: &[Lanes], right: &mut [Lanes], x: &mut [Lanes]) {
        solve(self, values, right, x);
    }

    /// The same where all lanes repeat one circuit.
    pub(crate) fn solve_one(&self, values: &[f64], right: &mut [f64], x: &mut [f64]) {
        self.substitute(values, right, x);
    }

    /// The same for right-hand sides that differ from lane to lane.
    pub(crate) fn solve_by_one(&self, values: &[f64], right: &mut [Lanes], x: &mut [Lanes]) {
        solve_by_one(self, values, right, x);
    }

    /// The same, within a function that is compiled for the widest instructions.
    #[inline(always)]
    pub(crate) fn substitute<N: Copy + Times<R>, R: Copy + SubAssign>(
        &self,
        values: &[N],
        right: &mut [R],
        x: &mut [R],
    ) {
        let mut first = 0;
        for pivot in &self.pivots {
            let last = pivot.before as usize;
            let mut known = right[pivot.row as usize];
            for term in &self.before[first..last] {
                known -= values[term.at as usize].times(right[term.of as usize]);
            }
            right[pivot.row as usize] = known;
            first = last;
        }
        let mut last = self.behind.len();
        for (k, pivot) in self.pivots.iter().enumerate().rev() {
            let first = k
                .checked_sub(1)
                .map_or(0, |k| self.pivots[k].behind as usize);
            let mut sum = right[pivot.row as usize];
            for term in &self.behind[first..last] {
                sum -= values[term.at as usize].times(x[term.of as usize]);
            }
            x[pivot.column as usize] = values[pivot.at as usize].times(sum);
            last = first;
        }
    }

    /// Largest error of any sample's trial solution; infinite where one is no number.
    fn error(&self, samples: &[Vec<f64>]) -> f64 {
        let n = self.n;
        let of = |sample: &Vec<f64>| {
            let mut values = vec![Lanes::ZERO; self.count];
            for (place, value) in self.places.iter().zip(sample) {
                if *place != usize::MAX {
                    values[*place] = Lanes::all(*value);
                }
            }
            self.factor(&mut values);
            // A solution of ones and twos in turn, found again.
            let wanted: Vec<f64> = (0..n).map(|k| 1.0 + (k % 2) as f64).collect();
            let mut right: Vec<Lanes> = (0..n)
                .map(|r| Lanes::all((0..n).map(|c| sample[r * n + c] * wanted[c]).sum()))
                .collect();
            let mut x = vec![Lanes::ZERO; n];
            self.solve(&values, &mut right, &mut x);
            let off = x.iter().zip(&wanted);
            off.map(|(x, wanted)| (x.0[0] - wanted).abs())
                .fold(0.0, |most: f64, off| {
                    if off.is_nan() {
                        f64::INFINITY
                    } else {
                        most.max(off)
                    }
                })
        };
        samples.iter().map(of).fold(0.0, f64::max)
    }
}

in_widest!(
    fn solve(elimination: &Elimination, values: &[Lanes], right: &mut [Lanes], x: &mut [Lanes]) = solve_lanes
);

#[inline(always)]
fn solve_lanes(elimination: &Elimination, values: &[Lanes], right: &mut [Lanes], x: &mut [Lanes]) {
    elimination.substitute(values, right, x);
}

in_widest!(
    fn solve_by_one(
        elimination: &Elimination,
        values: &[f64],
        right: &mut [Lanes],
        x: &mut [Lanes],
    ) = solve_by_one_lanes
);

#[inline(always)]
fn solve_by_one_lanes(
    elimination: &Elimination,
    values: &[f64],
    right: &mut [Lanes],
    x: &mut [Lanes],
) {
    elimination.substitute(values, right, x);
}

/// Those of some matrices that have an inverse, to however few digits.
fn regular(matrices: &[Vec<f64>], n: usize) -> Vec<Vec<f64>> {
    let mut lu = Lu::default();
    let regular = matrices
        .iter()
        .filter(|matrix| lu.factor(matrix, n).is_ok());
    regular.cloned().collect()
}

/// Those of some samples that have a solution: made-up states may contradict each other, and no circuit comes to those.
fn sound(samples: &[Vec<f64>], n: usize) -> Vec<Vec<f64>> {
    let mut lu = Lu::default();
    let sound = samples
        .iter()
        .filter(|sample| lu.factor(sample, n).is_ok() && lu.is_sound());
    sound.cloned().collect()
}

/// Pivots (row, column), those with the least fill first among those large enough in every sample.
fn order(
    samples: &[Vec<f64>],
    n: usize,
    threshold: f64,
    nature: &Nature,
) -> Option<Vec<(usize, usize)>> {
    let mut left = Left::of(samples, n);
    let mut order = nature.first.clone();
    for &pivot in &nature.first {
        left.take_out(pivot);
    }
    while order.len() < n {
        let pivot = left.best(threshold)?;
        order.push(pivot);
        left.take_out(pivot);
    }
    Some(order)
}

/// Places of the entries of what pivots have not been taken out of yet.
struct Pattern {
    n: usize,
    /// All that ever were, row-major.
    filled: Vec<bool>,
    /// Columns left of each row left, rows left of each column left.
    columns_of: Vec<Vec<usize>>,
    rows_of: Vec<Vec<usize>>,
}

impl Pattern {
    fn of(samples: &[Vec<f64>], n: usize) -> Self {
        let mut pattern = Self {
            n,
            filled: vec![false; n * n],
            columns_of: vec![Vec::new(); n],
            rows_of: vec![Vec::new(); n],
        };
        for k in 0..n * n {
            if samples.iter().any(|sample| sample[k] != 0.0) {
                pattern.fill(k / n, k % n);
            }
        }
        pattern
    }

    fn fill(&mut self, row: usize, column: usize) {
        let filled = &mut self.filled[row * self.n + column];
        if !*filled {
            *filled = true;
            self.columns_of[row].push(column);
            self.rows_of[column].push(row);
        }
    }

    /// Takes a pivot's row and column off the lists; other rows and columns with entries in them, filled in.
    fn take_out(&mut self, (row, column): (usize, usize)) -> (Vec<usize>, Vec<usize>) {
        let mut columns = std::mem::take(&mut self.columns_of[row]);
        let mut rows = std::mem::take(&mut self.rows_of[column]);
        columns.retain(|&c| c != column);
        rows.retain(|&r| r != row);
        for &c in &columns {
            self.rows_of[c].retain(|&r| r != row);
        }
        for &r in &rows {
            self.columns_of[r].retain(|&c| c != column);
        }
        for &r in &rows {
            for &c in &columns {
                self.fill(r, c);
            }
        }
        (rows, columns)
    }
}

/// What pivots have not been taken out of yet, in every sample.
struct Left {
    pattern: Pattern,
    samples: Vec<Vec<f64>>,
    /// Largest entry of each column in each sample, where it is known.
    largest: Vec<Option<Vec<f64>>>,
}

impl Left {
    fn of(samples: &[Vec<f64>], n: usize) -> Self {
        Self {
            pattern: Pattern::of(samples, n),
            samples: samples.iter().map(|a| balanced(a, n)).collect(),
            largest: vec![None; n],
        }
    }

    fn take_out(&mut self, (row, column): (usize, usize)) {
        let n = self.pattern.n;
        let (rows, columns) = self.pattern.take_out((row, column));
        for &c in &columns {
            self.largest[c] = None;
        }
        for a in &mut self.samples {
            let inverse = 1.0 / a[row * n + column];
            for &r in &rows {
                let factor = a[r * n + column] * inverse;
                if factor != 0.0 {
                    for &c in &columns {
                        a[r * n + c] -= factor * a[row * n + c];
                    }
                }
            }
        }
    }

    /// The best of the pivots with the least fill, if one is large enough.
    fn best(&mut self, threshold: f64) -> Option<(usize, usize)> {
        let mut looked_at = 0;
        let mut best: Option<(f64, (usize, usize))> = None;
        for alike in self.by_cost() {
            let mut large: Vec<(f64, (usize, usize))> = alike
                .into_iter()
                .map(|pivot| (self.share(pivot), pivot))
                .filter(|(share, _)| *share >= threshold)
                .collect();
            large.sort_by(|a, b| b.0.total_cmp(&a.0));
            for (_, pivot) in large {
                // What a leaking diode carries must not come out as the difference of large numbers.
                let kept = self.digits_kept(pivot);
                if best.is_none_or(|(known, _)| kept > known) {
                    best = Some((kept, pivot));
                }
                looked_at += 1;
                if kept > ENOUGH_KEPT || looked_at == LOOKED_AT {
                    return best.map(|(_, pivot)| pivot);
                }
            }
        }
        best.map(|(_, pivot)| pivot)
    }

    /// Entries by how many others they may fill in, the fewest first.
    fn by_cost(&self) -> impl Iterator<Item = Vec<(usize, usize)>> + use<> {
        let mut by_cost: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
        for (row, columns) in self.pattern.columns_of.iter().enumerate() {
            for &column in columns {
                let cost = (columns.len() - 1) * (self.pattern.rows_of[column].len() - 1);
                by_cost.entry(cost).or_default().push((row, column));
            }
        }
        by_cost.into_values()
    }

    /// Least share of the largest of its column that an entry is in any sample.
    fn share(&mut self, (row, column): (usize, usize)) -> f64 {
        let n = self.pattern.n;
        let (samples, rows) = (&self.samples, &self.pattern.rows_of[column]);
        let largest = self.largest[column].get_or_insert_with(|| {
            let of = |a: &Vec<f64>| {
                let sizes = rows.iter().map(|r| a[r * n + column].abs());
                sizes.fold(f64::MIN_POSITIVE, f64::max)
            };
            samples.iter().map(of).collect()
        });
        let shares = samples
            .iter()
            .zip(largest)
            .map(|(a, largest)| a[row * n + column].abs() / *largest);
        shares.fold(f64::INFINITY, f64::min)
    }

    /// Least share of an entry that is left in any sample by taking out a pivot, entries that vanish altogether aside.
    fn digits_kept(&self, (row, column): (usize, usize)) -> f64 {
        let n = self.pattern.n;
        let mut least = f64::INFINITY;
        for a in &self.samples {
            for &r in self.pattern.rows_of[column].iter().filter(|&&r| r != row) {
                let factor = a[r * n + column] / a[row * n + column];
                if factor == 0.0 {
                    continue;
                }
                let others = self.pattern.columns_of[row].iter();
                for &c in others.filter(|&&c| c != column) {
                    let (old, taken) = (a[r * n + c], factor * a[row * n + c]);
                    let new = (old - taken).abs();
                    if old != 0.0 && taken != 0.0 && new > 0.0 {
                        least = least.min(new / old.abs().max(taken.abs()));
                    }
                }
            }
        }
        least
    }
}

/// A matrix with its rows scaled to a largest entry of one: rows mix volts and amperes.
fn balanced(matrix: &[f64], n: usize) -> Vec<f64> {
    matrix
        .chunks_exact(n)
        .flat_map(|row| {
            let largest = row.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
            row.iter().map(move |v| v / largest)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Elimination, Nature};

    fn served(samples: &[Vec<f64>]) -> Option<Elimination> {
        Elimination::serving(samples, 2, &Nature { first: Vec::new() })
    }

    /// Two nodes that hardly anything holds: no arithmetic knows where they are to three digits.
    #[test]
    fn an_order_that_errs_in_one_state_is_taken_where_there_is_no_better() {
        let firm = vec![2.0, 1.0, 1.0, 3.0];
        let loose = vec![1.0, 1.0 - 3e-14, 1.0 - 3e-14, 1.0];
        let exact = served(&[firm.clone(), firm.clone()]).expect("an order");
        assert!(exact.is_trusted());
        assert_eq!(exact.cost(), exact.products());
        let coarse = served(&[firm, loose]).expect("an order");
        assert!(!coarse.is_trusted(), "{:e}", coarse.error);
        assert!(coarse.cost() > coarse.products());
    }
}
