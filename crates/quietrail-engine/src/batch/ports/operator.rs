//! The linear part of a step, solved beforehand: what devices see, stores come to and signals read, as functions of the
//! stores at its start, of the coordinates of its ports, and of the sources.

use super::super::instructions::in_widest;
use super::super::lanes::{Lanes, WIDTH};
use super::plan::{Arrangement, quiet_row, quiet_until};
use crate::dense::Lu;
use crate::system::{Probe, System};
use smallvec::smallvec;

pub(super) const STAGES: usize = 3;

/// Sizes of a circuit's linear part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sizes {
    pub(super) stores: usize,
    pub(super) ports: usize,
    /// Sources, and one for what is constant.
    pub(super) sources: usize,
    pub(super) inputs: usize,
    pub(super) quiet: usize,
    pub(super) signals: usize,
}

impl Sizes {
    fn columns(&self) -> usize {
        self.stores + self.ports + self.sources
    }
}

/// A circuit in one arrangement: rows over stores, coordinates and sources.
#[derive(Clone, Debug)]
pub(super) struct Linear {
    sizes: Sizes,
    /// Rates of the stores, per cycle.
    rates: Vec<f64>,
    /// Inputs of the ports, then the first inputs of quiet devices, then signals.
    readings: Vec<f64>,
    /// What quiet devices must stay beyond, and on which side.
    pub(super) bounds: Vec<(f64, f64)>,
}

impl Linear {
    /// Of a circuit (reduced) and the signals that are read of it; `None` where coordinates do not tell its unknowns.
    pub(super) fn of(
        system: &System,
        arrangement: &Arrangement,
        signals: &[Probe],
    ) -> Option<Self> {
        let n = system.n;
        let sources = system.sources.len() + 1;
        let (stores, ports) = (system.stores.len(), arrangement.ports.len());
        if stores + ports + arrangement.quiet.len() != n {
            return None;
        }
        let devices = &system.devices;
        let columns = stores + ports + sources;
        // Rows that tell the unknowns: stores, ports, quiet devices; and what each comes to.
        let mut matrix = vec![0.0; n * n];
        let mut right = vec![0.0; n * columns];
        let mut row = 0;
        let mut tell = |probe: &Probe, column: Option<usize>, constant: f64| {
            for &(unknown, factor) in &probe.x {
                matrix[row * n + unknown] += factor;
            }
            for &(source, factor) in &probe.s {
                right[row * columns + stores + ports + source] -= factor;
            }
            if let Some(column) = column {
                right[row * columns + column] = 1.0;
            }
            right[row * columns + columns - 1] += constant;
            row += 1;
        };
        for (k, store) in system.stores.iter().enumerate() {
            tell(&store.value, Some(k), 0.0);
        }
        for (k, port) in arrangement.ports.iter().enumerate() {
            let input = &devices[port.device].inputs[port.coordinate];
            tell(input, Some(stores + k), 0.0);
        }
        for &k in &arrangement.quiet {
            let (probe, comes_to) = quiet_row(&devices[k]);
            tell(&probe, None, comes_to);
        }
        let mut lu = Lu::default();
        lu.factor(&matrix, n).ok()?;
        let mut unknowns = vec![0.0; n * columns];
        let (mut of_column, mut solved) = (vec![0.0; n], vec![0.0; n]);
        for column in 0..columns {
            for (row, value) in of_column.iter_mut().enumerate() {
                *value = right[row * columns + column];
            }
            lu.solve(&of_column, &mut solved);
            for (row, value) in solved.iter().enumerate() {
                unknowns[row * columns + column] = *value;
            }
        }
        let read = |probe: &Probe, by: f64, into: &mut Vec<f64>| {
            let first = into.len();
            into.resize(first + columns, 0.0);
            let row = &mut into[first..];
            for &(unknown, factor) in &probe.x {
                let of = &unknowns[unknown * columns..(unknown + 1) * columns];
                for (sum, value) in row.iter_mut().zip(of) {
                    *sum += by * factor * value;
                }
            }
            for &(source, factor) in &probe.s {
                row[stores + ports + source] += by * factor;
            }
        };
        let mut rates = Vec::new();
        for store in 0..stores {
            let rate = Probe {
                rate: smallvec![(store, 1.0)],
                ..Probe::default()
            };
            read(
                &system.without_rates(&rate)?,
                1.0 / system.frequency,
                &mut rates,
            );
        }
        let mut readings = Vec::new();
        for port in &arrangement.ports {
            for input in &devices[port.device].inputs {
                read(input, 1.0, &mut readings);
            }
        }
        for &k in &arrangement.quiet {
            read(&devices[k].inputs[0], 1.0, &mut readings);
        }
        for signal in signals {
            read(signal, 1.0, &mut readings);
        }
        let inputs = arrangement.ports.iter();
        Some(Self {
            sizes: Sizes {
                stores,
                ports,
                sources,
                inputs: inputs.map(|port| devices[port.device].inputs.len()).sum(),
                quiet: arrangement.quiet.len(),
                signals: signals.len(),
            },
            rates,
            readings,
            bounds: arrangement
                .quiet
                .iter()
                .map(|&k| quiet_until(&devices[k]))
                .collect(),
        })
    }
}

/// A step of eight circuits with its linear part solved. Rows over the stores at its start, then stage by stage the
/// coordinates, then stage by stage the sources.
pub(super) struct Operator {
    pub(super) sizes: Sizes,
    /// Stores, stage by stage.
    pub(super) stores: Vec<Lanes>,
    /// Readings: inputs of all stages, then quiet ones of all stages, then signals of all stages.
    pub(super) inputs: Vec<Lanes>,
    pub(super) quiet: Vec<Lanes>,
    pub(super) signals: Vec<Lanes>,
}

impl Operator {
    /// For steps of `h` cycles with a method's Runge–Kutta matrix; `None` where circuits differ in their sizes.
    pub(super) fn of(
        linear: [&Linear; WIDTH],
        h: f64,
        method: &[[f64; STAGES]; STAGES],
    ) -> Option<Self> {
        let sizes = linear[0].sizes;
        if linear.iter().any(|one| one.sizes != sizes) {
            return None;
        }
        let gathered = |of: &dyn Fn(&Linear) -> &[f64]| -> Vec<Lanes> {
            let count = of(linear[0]).len();
            let lane = |k: usize| Lanes(std::array::from_fn(|lane| of(linear[lane])[k]));
            (0..count).map(lane).collect()
        };
        let rates = gathered(&|one| &one.rates);
        let readings = gathered(&|one| &one.readings);
        let mut operator = Self {
            sizes,
            stores: Vec::new(),
            inputs: Vec::new(),
            quiet: Vec::new(),
            signals: Vec::new(),
        };
        let scaled = method.map(|row| row.map(|a| Lanes::all(h * a)));
        solve_stores(&mut operator, &rates, &scaled);
        let per = sizes.columns();
        let (first, second) = readings.split_at(sizes.inputs * per);
        let (second, third) = second.split_at(sizes.quiet * per);
        operator.inputs = operator.rows(first);
        operator.quiet = operator.rows(second);
        operator.signals = operator.rows(third);
        Some(operator)
    }

    /// Entries of a row.
    pub(super) fn columns(&self) -> usize {
        let Sizes {
            stores,
            ports,
            sources,
            ..
        } = self.sizes;
        stores + STAGES * (ports + sources)
    }

    /// Rows of readings at all stages.
    fn rows(&self, readings: &[Lanes]) -> Vec<Lanes> {
        let mut rows = Vec::new();
        rows_of(self, readings, &mut rows);
        rows
    }
}

in_widest!(
    /// `(1 − h a ⊗ A) Z = 1 ⊗ z + h a ⊗ (B Q + E s)`, solved for the stores at the stages.
    fn solve_stores(
        operator: &mut Operator,
        rates: &[Lanes],
        scaled: &[[Lanes; STAGES]; STAGES],
    ) = solve_stores_lanes
);

#[inline(always)]
fn solve_stores_lanes(
    operator: &mut Operator,
    rates: &[Lanes],
    scaled: &[[Lanes; STAGES]; STAGES],
) {
    let sizes = operator.sizes;
    let (m, p, c) = (sizes.stores, sizes.ports, sizes.sources);
    let per = sizes.columns();
    let columns = operator.columns();
    let n = STAGES * m;
    let mut matrix = vec![Lanes::ZERO; n * n];
    let right = &mut operator.stores;
    right.clear();
    right.resize(n * columns, Lanes::ZERO);
    for i in 0..STAGES {
        for k in 0..m {
            let row = i * m + k;
            matrix[row * n + row] = Lanes::ONE;
            right[row * columns + k] = Lanes::ONE;
        }
        for j in 0..STAGES {
            let by = scaled[i][j];
            for k in 0..m {
                let row = i * m + k;
                let rate = &rates[k * per..(k + 1) * per];
                for (other, value) in rate[..m].iter().enumerate() {
                    matrix[row * n + j * m + other] -= by * *value;
                }
                for (port, value) in rate[m..m + p].iter().enumerate() {
                    right[row * columns + m + j * p + port] += by * *value;
                }
                for (source, value) in rate[m + p..].iter().enumerate() {
                    right[row * columns + m + STAGES * p + j * c + source] += by * *value;
                }
            }
        }
    }
    eliminate(&mut matrix, n, right, columns);
}

/// Solves dense equations in place for many right-hand sides (row-major, `columns` to a row). Pivots are taken in order:
/// what stands on the diagonal is never small here.
#[inline(always)]
fn eliminate(matrix: &mut [Lanes], n: usize, right: &mut [Lanes], columns: usize) {
    for k in 0..n {
        let inverse = Lanes::ONE / matrix[k * n + k];
        for column in k + 1..n {
            matrix[k * n + column] = matrix[k * n + column] * inverse;
        }
        for column in 0..columns {
            right[k * columns + column] = right[k * columns + column] * inverse;
        }
        for row in 0..n {
            if row == k {
                continue;
            }
            let factor = matrix[row * n + k];
            for column in k + 1..n {
                let taken = factor * matrix[k * n + column];
                matrix[row * n + column] -= taken;
            }
            for column in 0..columns {
                let taken = factor * right[k * columns + column];
                right[row * columns + column] -= taken;
            }
        }
    }
}

in_widest!(
    fn rows_of(operator: &Operator, readings: &[Lanes], rows: &mut Vec<Lanes>) = rows_of_lanes
);

#[inline(always)]
fn rows_of_lanes(operator: &Operator, readings: &[Lanes], rows: &mut Vec<Lanes>) {
    let sizes = operator.sizes;
    let (m, p, c) = (sizes.stores, sizes.ports, sizes.sources);
    let per = sizes.columns();
    let columns = operator.columns();
    for i in 0..STAGES {
        for reading in readings.chunks_exact(per) {
            let first = rows.len();
            rows.resize(first + columns, Lanes::ZERO);
            let row = &mut rows[first..];
            for (k, factor) in reading[..m].iter().enumerate() {
                let store = &operator.stores[(i * m + k) * columns..(i * m + k + 1) * columns];
                for (sum, value) in row.iter_mut().zip(store) {
                    *sum += *factor * *value;
                }
            }
            for (port, factor) in reading[m..m + p].iter().enumerate() {
                row[m + i * p + port] += *factor;
            }
            for (source, factor) in reading[m + p..].iter().enumerate() {
                row[m + STAGES * p + i * c + source] += *factor;
            }
        }
    }
}
