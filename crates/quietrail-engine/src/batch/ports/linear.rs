//! The linear part of eight circuits in one arrangement of their devices: what is read of them, as functions of what their
//! stores hold, of the coordinates of their ports, and of the sources.
//!
//! Solved from the equations as they were assembled, rates of the stores among the unknowns, in an order of elimination that
//! is found once for all circuits near the solved one.

use super::super::elimination::{Elimination, Nature};
use super::super::instructions::in_widest;
use super::super::lanes::{Lanes, WIDTH};
use super::super::law::LaneLaw;
use super::eight::{Device, Eight, Row};
use super::newton::Sorts;
use super::plan::Arrangement;
use super::series;
use crate::system::System;
use smallvec::{SmallVec, smallvec};

/// Error of a trial solution of ones and twos up to which an order serves: what is solved here is not asked again. Of what a
/// winding that floats between blocking diodes comes to, such a solution keeps no more digits: in it the leakage of those is
/// a billionth of what they carry, in the circuit it is all.
const EXACT: f64 = 1e-6;

/// Sizes of a circuit's linear part.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Sizes {
    pub(super) stores: usize,
    pub(super) sorts: Sorts,
    /// Sources, and one for what is constant.
    pub(super) sources: usize,
}

impl Sizes {
    pub(super) fn columns(self) -> usize {
        self.stores + self.sorts.ports() + self.sources
    }
}

/// An arrangement, with the order in which the linear part of circuits in it is solved.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    pub(super) sizes: Sizes,
    unknowns: usize,
    elimination: Elimination,
}

impl Frame {
    /// From a solved circuit, as it was assembled; `None` where no order serves.
    pub(super) fn of(system: &System, arrangement: &Arrangement) -> Option<Self> {
        let eight = Eight::of([system; WIDTH], system)?;
        let (rows, stores) = (system.n, system.stores.len());
        let owned = |row: usize| system.devices.iter().any(|device| device.row == row);
        // A device's row is its curve's alone.
        let mixed = eight
            .linear
            .iter()
            .chain(&eight.drive)
            .chain(&eight.charges);
        if arrangement.ports.len() + arrangement.quiet.len() != system.devices.len()
            || mixed.into_iter().any(|entry| owned(entry.0))
        {
            return None;
        }
        let n = rows + stores;
        let mut matrix = vec![0.0; n * n];
        entries(&eight, arrangement, rows, |row, column, value| {
            matrix[row * n + column] += value.0[0];
        });
        // Rows of devices by their currents, as everywhere.
        let owns = |device: &&Device| matrix[device.row * n + device.row] != 0.0;
        let first = eight.devices.iter().filter(owns);
        let nature = Nature {
            first: first.map(|device| (device.row, device.row)).collect(),
        };
        let mut frame = Self {
            sizes: Sizes {
                stores,
                sorts: Sorts {
                    joint: arrangement.ports.len(),
                    told: 0,
                },
                sources: system.sources.len() + 1,
            },
            unknowns: n,
            elimination: Elimination::exact(&matrix, n, &nature, EXACT)?,
        };
        let mut linear = Linear::default();
        linear.solve(&eight, (&frame, arrangement));
        let told = arrangement.diodes_in_series(system);
        if series::is_told((&linear, &eight), arrangement, told) {
            frame.sizes.sorts.joint -= told;
            frame.sizes.sorts.told = told;
        }
        Some(frame)
    }
}

/// Readings, row by row over stores, coordinates and sources.
#[derive(Default)]
pub(super) struct Linear {
    pub(super) sizes: Sizes,
    /// Rates of the stores, per cycle.
    pub(super) rates: Vec<Lanes>,
    /// Unknowns, then rates of the stores per second; column by column.
    solution: Vec<Lanes>,
    unknowns: usize,
    /// Entries of the equations, and their right sides.
    values: Vec<Lanes>,
    right: Vec<Lanes>,
}

impl Linear {
    pub(super) fn solve(&mut self, eight: &Eight, (frame, arrangement): (&Frame, &Arrangement)) {
        self.sizes = frame.sizes;
        self.unknowns = frame.unknowns - frame.sizes.stores;
        solve(self, frame, arrangement, eight);
        self.rates.clear();
        let per_cycle = Lanes::ONE / eight.frequency;
        for store in 0..self.sizes.stores {
            for column in 0..self.sizes.columns() {
                let rate = self.entry(column, self.unknowns + store);
                self.rates.push(rate * per_cycle);
            }
        }
    }

    fn entry(&self, column: usize, unknown: usize) -> Lanes {
        let n = self.unknowns + self.sizes.stores;
        self.solution[column * n + unknown]
    }

    /// Adds what a row reads.
    pub(super) fn read(&self, eight: &Eight, row: Row, into: &mut Vec<Lanes>) {
        let stores = self.sizes.stores;
        let ports = self.sizes.sorts.ports();
        into.reserve(self.sizes.columns());
        for column in 0..self.sizes.columns() {
            let mut sum = Lanes::ZERO;
            for &(unknown, factor) in eight.terms(row.x) {
                sum += factor * self.entry(column, unknown);
            }
            for &(store, factor) in eight.terms(row.rate) {
                sum += factor * self.entry(column, self.unknowns + store);
            }
            for &(source, factor) in eight.terms(row.s) {
                if column == stores + ports + source {
                    sum += factor;
                }
            }
            into.push(sum);
        }
    }
}

/// Each entry of the equations: row, unknown or rate, value. Some stand in the same place.
fn entries(
    eight: &Eight,
    arrangement: &Arrangement,
    unknowns: usize,
    mut put: impl FnMut(usize, usize, Lanes),
) {
    for &(row, unknown, value) in &eight.linear {
        put(row, unknown, value);
    }
    for &(row, store, value) in &eight.charges {
        put(row, unknowns + store, value);
    }
    for (k, store) in eight.stores.iter().enumerate() {
        for &(unknown, value) in eight.terms(store.x) {
            put(unknowns + k, unknown, value);
        }
    }
    for port in &arrangement.ports {
        let device = &eight.devices[port.device];
        for &(unknown, value) in eight.terms(device.inputs[port.coordinate].x) {
            put(device.row, unknown, value);
        }
    }
    for &quiet in &arrangement.quiet {
        let device = &eight.devices[quiet];
        for (row, by) in told_by(device).0 {
            for &(unknown, value) in eight.terms(row.x) {
                put(device.row, unknown, by * value);
            }
        }
    }
}

/// What stays the same of a quiet device, as a sum of its inputs, and what it comes to: a blocking diode's current without
/// its leakage, a load's current.
fn told_by(device: &Device) -> (SmallVec<[(Row, Lanes); 2]>, Lanes) {
    let current = (device.inputs[device.inputs.len() - 1], Lanes::ONE);
    match &device.law {
        LaneLaw::Diode {
            saturation,
            leakage,
            ..
        } => {
            let leaks = (device.inputs[0], -*leakage);
            (smallvec![current, leaks], -*saturation)
        }
        LaneLaw::Current { amps, .. } => (smallvec![current], *amps),
        _ => (smallvec![current], Lanes::ZERO),
    }
}

in_widest!(
    /// Solves the equations for each store, each coordinate and each source.
    fn solve(linear: &mut Linear, frame: &Frame, arrangement: &Arrangement, all: &Eight) = solve_lanes
);

#[inline(always)]
fn solve_lanes(linear: &mut Linear, frame: &Frame, arrangement: &Arrangement, eight: &Eight) {
    let n = frame.unknowns;
    let (stores, ports) = (frame.sizes.stores, frame.sizes.sorts.ports());
    let columns = frame.sizes.columns();
    let unknowns = linear.unknowns;
    let (mut values, mut right) = (
        std::mem::take(&mut linear.values),
        std::mem::take(&mut linear.right),
    );
    for (list, size) in [
        (&mut values, frame.elimination.len()),
        (&mut right, columns * n),
    ] {
        list.clear();
        list.resize(size, Lanes::ZERO);
    }
    entries(eight, arrangement, unknowns, |row, column, value| {
        // What a circuit has where the solved one had nothing was refused when it was gathered.
        if let Some(place) = frame.elimination.find(row, column) {
            values[place] += value;
        }
    });
    frame.elimination.factor(&mut values);
    let mut put = |row: usize, column: usize, value: Lanes| right[column * n + row] += value;
    let of_source = |source: usize| stores + ports + source;
    for &(row, source, value) in &eight.drive {
        put(row, of_source(source), -value);
    }
    for (k, store) in eight.stores.iter().enumerate() {
        put(unknowns + k, k, Lanes::ONE);
        for &(source, value) in eight.terms(store.s) {
            put(unknowns + k, of_source(source), -value);
        }
    }
    for (k, port) in arrangement.ports.iter().enumerate() {
        let device = &eight.devices[port.device];
        put(device.row, stores + k, Lanes::ONE);
        for &(source, value) in eight.terms(device.inputs[port.coordinate].s) {
            put(device.row, of_source(source), -value);
        }
    }
    for &quiet in &arrangement.quiet {
        let device = &eight.devices[quiet];
        let (rows, comes_to) = told_by(device);
        put(device.row, columns - 1, comes_to);
        for (row, by) in rows {
            for &(source, value) in eight.terms(row.s) {
                put(device.row, of_source(source), -(by * value));
            }
        }
    }
    linear.solution.resize(columns * n, Lanes::ZERO);
    let pairs = right
        .chunks_exact_mut(n)
        .zip(linear.solution.chunks_exact_mut(n));
    for (right, solution) in pairs {
        frame.elimination.substitute(&values, right, solution);
    }
    (linear.values, linear.right) = (values, right);
}
