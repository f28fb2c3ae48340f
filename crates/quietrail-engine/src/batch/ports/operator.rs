//! The linear part of a step, solved beforehand: what devices see, stores come to and signals read, as functions of the
//! stores at its start, of the coordinates of its ports, and of the sources.

use super::super::instructions::in_widest;
use super::super::lanes::Lanes;
use super::linear::{Linear, Sizes};
use super::newton::Sorts;

pub(super) const STAGES: usize = 3;

/// What is read of a circuit, each row over its stores, its coordinates and its sources.
#[derive(Default)]
pub(super) struct Readings {
    /// Inputs of the ports, coordinates aside.
    pub(super) inputs: Vec<Lanes>,
    /// First inputs of quiet devices.
    pub(super) quiet: Vec<Lanes>,
    pub(super) signals: Vec<Lanes>,
}

/// A step of eight circuits with its linear part solved.
#[derive(Default)]
pub(super) struct Operator {
    pub(super) sizes: Sizes,
    /// Each at all stages, stage by stage.
    pub(super) stores: Rows,
    pub(super) inputs: Rows,
    pub(super) signals: Rows,
    /// At the last stage.
    pub(super) quiet: Rows,
    matrix: Vec<Lanes>,
}

/// Linear functions of the stores at the start of a step, of the coordinates in their places, and of the sources stage by
/// stage; row by row.
#[derive(Default)]
pub(super) struct Rows {
    pub(super) count: usize,
    pub(super) by_store: Vec<Lanes>,
    pub(super) by_port: Vec<Lanes>,
    pub(super) by_source: Vec<Lanes>,
}

impl Rows {
    /// As many rows of nothing, so wide.
    fn clear(&mut self, count: usize, (m, n, c): (usize, usize, usize)) {
        self.count = count;
        let lists = [&mut self.by_store, &mut self.by_port, &mut self.by_source];
        for (list, width) in lists.into_iter().zip([m, n, c]) {
            list.clear();
            list.resize(count * width, Lanes::ZERO);
        }
    }

    /// A row's factors of stores, of coordinates and of sources, so many of each.
    #[inline(always)]
    pub(super) fn row(&self, k: usize, (m, n, c): (usize, usize, usize)) -> [&[Lanes]; 3] {
        [
            &self.by_store[k * m..][..m],
            &self.by_port[k * n..][..n],
            &self.by_source[k * c..][..c],
        ]
    }
}

impl Operator {
    /// For steps of `h` cycles with a method's Runge–Kutta matrix.
    pub(super) fn solve(
        &mut self,
        linear: &Linear,
        readings: &Readings,
        h: f64,
        method: &[[f64; STAGES]; STAGES],
    ) {
        self.sizes = linear.sizes;
        let scaled = method.map(|row| row.map(|a| Lanes::all(h * a)));
        fill(self, &linear.rates, readings, &scaled);
    }

    /// Stores, coordinates and sources of a row.
    pub(super) fn widths(&self) -> (usize, usize, usize) {
        let Sizes {
            stores,
            sorts,
            sources,
        } = self.sizes;
        (stores, sorts.coordinates(), STAGES * sources)
    }
}

in_widest!(
    fn fill(
        operator: &mut Operator,
        rates: &[Lanes],
        readings: &Readings,
        scaled: &[[Lanes; STAGES]; STAGES],
    ) = fill_lanes
);

#[inline(always)]
fn fill_lanes(
    operator: &mut Operator,
    rates: &[Lanes],
    readings: &Readings,
    scaled: &[[Lanes; STAGES]; STAGES],
) {
    solve_stores(operator, rates, scaled);
    let (sizes, stores) = (operator.sizes, &operator.stores);
    read(sizes, stores, &readings.inputs, 0, &mut operator.inputs);
    read(sizes, stores, &readings.signals, 0, &mut operator.signals);
    read(
        sizes,
        stores,
        &readings.quiet,
        STAGES - 1,
        &mut operator.quiet,
    );
}

/// `(1 − h a ⊗ A) Z = 1 ⊗ z + h a ⊗ (B Q + E s)`, solved for the stores at the stages.
#[inline(always)]
fn solve_stores(operator: &mut Operator, rates: &[Lanes], scaled: &[[Lanes; STAGES]; STAGES]) {
    let sizes = operator.sizes;
    let (m, sorts, c) = (sizes.stores, sizes.sorts, sizes.sources);
    let (p, d) = (sorts.ports(), sorts.coordinates());
    let per = sizes.columns();
    let n = STAGES * m;
    operator.stores.clear(n, (m, d, STAGES * c));
    operator.matrix.clear();
    operator.matrix.resize(n * n, Lanes::ZERO);
    let rows = &mut operator.stores;
    let matrix = operator.matrix.as_mut_slice();
    for i in 0..STAGES {
        for k in 0..m {
            let row = i * m + k;
            matrix[row * n + row] = Lanes::ONE;
            rows.by_store[row * m + k] = Lanes::ONE;
        }
        for j in 0..STAGES {
            let by = scaled[i][j];
            for k in 0..m {
                let row = i * m + k;
                let rate = &rates[k * per..(k + 1) * per];
                for other in 0..m {
                    matrix[row * n + j * m + other] -= by * rate[other];
                }
                for port in 0..p {
                    rows.by_port[row * d + sorts.place(j, port)] = by * rate[m + port];
                }
                for source in 0..c {
                    rows.by_source[(row * STAGES + j) * c + source] = by * rate[m + p + source];
                }
            }
        }
    }
    eliminate(matrix, n, rows, (m, d, STAGES * c));
}

/// Solves dense equations in place for many right-hand sides. Pivots are taken in order: what stands on the diagonal is
/// never small here.
#[inline(always)]
fn eliminate(matrix: &mut [Lanes], n: usize, right: &mut Rows, (m, p, c): (usize, usize, usize)) {
    for k in 0..n {
        let inverse = Lanes::ONE / matrix[k * n + k];
        scale(&mut matrix[k * n + k + 1..(k + 1) * n], inverse);
        scale(&mut right.by_store[k * m..(k + 1) * m], inverse);
        scale(&mut right.by_port[k * p..(k + 1) * p], inverse);
        scale(&mut right.by_source[k * c..(k + 1) * c], inverse);
        for row in 0..n {
            if row == k {
                continue;
            }
            let factor = matrix[row * n + k];
            take(matrix, (row * n + k + 1, k * n + k + 1), n - k - 1, factor);
            take(&mut right.by_store, (row * m, k * m), m, factor);
            take(&mut right.by_port, (row * p, k * p), p, factor);
            take(&mut right.by_source, (row * c, k * c), c, factor);
        }
    }
}

#[inline(always)]
fn scale(row: &mut [Lanes], by: Lanes) {
    for k in 0..row.len() {
        row[k] = row[k] * by;
    }
}

/// Takes so many numbers, times a factor, off others of the same list: places of the first of each, what is less first.
#[inline(always)]
fn take(list: &mut [Lanes], (from, of): (usize, usize), count: usize, factor: Lanes) {
    for k in 0..count {
        let taken = factor * list[of + k];
        list[from + k] -= taken;
    }
}

/// Rows of readings at the stages from one on.
#[inline(always)]
fn read(sizes: Sizes, stores: &Rows, readings: &[Lanes], first: usize, rows: &mut Rows) {
    let (m, sorts, c) = (sizes.stores, sizes.sorts, sizes.sources);
    let (p, n, d) = (sorts.ports(), sorts.coordinates(), STAGES * c);
    let per = sizes.columns();
    rows.clear(readings.len() / per * (STAGES - first), (m, n, d));
    let (by_store, by_port, by_source) = (
        rows.by_store.as_mut_slice(),
        rows.by_port.as_mut_slice(),
        rows.by_source.as_mut_slice(),
    );
    let mut at = 0;
    for i in first..STAGES {
        for reading in 0..readings.len() / per {
            let reading = &readings[reading * per..(reading + 1) * per];
            for k in 0..m {
                let [store, port, source] = stores.row(i * m + k, (m, n, d));
                add(&mut by_store[at * m..][..m], store, reading[k]);
                add(&mut by_port[at * n..][..n], port, reading[k]);
                add(&mut by_source[at * d..][..d], source, reading[k]);
            }
            let (own, sources) = (&reading[m..m + p], &reading[m + p..]);
            add_own(&mut by_port[at * n..][..n], own, (sorts, i));
            add(&mut by_source[at * d + i * c..][..c], sources, Lanes::ONE);
            at += 1;
        }
    }
}

#[inline(always)]
fn add(into: &mut [Lanes], row: &[Lanes], factor: Lanes) {
    let row = &row[..into.len()];
    for k in 0..into.len() {
        into[k] += factor * row[k];
    }
}

/// Adds what ports make of a reading at the stage itself.
#[inline(always)]
fn add_own(into: &mut [Lanes], own: &[Lanes], (sorts, stage): (Sorts, usize)) {
    for port in 0..sorts.ports() {
        into[sorts.place(stage, port)] += own[port];
    }
}
