//! Matrices as a circuit may come to them, on which an order of elimination is tried before it is used.

use super::elimination::Nature;
use super::equations::mass;
use crate::diode::{BLOCKING, DiodeLaw, LEAST_SLOPE};
use crate::march::FIRST_STEP;
use crate::step::Tableau;
use crate::system::{Device, Law, System};
use crate::wave::Basis;

/// Share of a first step that is tried beside it.
const SHORT: f64 = 1e-3;

/// Matrices as they may come up: steps short and long, devices open, closed and between.
pub(super) fn of_instants(system: &System) -> Vec<Vec<f64>> {
    let n = system.n;
    let mass = mass(system);
    let mut samples = Vec::new();
    let mut turn = 0_usize;
    for step in [1e-6, 1e-4, 2e-3, 2e-2] {
        for round in 0..5 {
            let mut matrix = system.linear.clone();
            for (entry, mass) in matrix.iter_mut().zip(&mass) {
                *entry += mass / (0.25 * step);
            }
            for device in &system.devices {
                turn += 1;
                // Rounds 0 and 1: all open, all closed; then mixed.
                let choice = match round {
                    0 => 0,
                    1 => 1,
                    _ => (turn * 7 + round * 3) % 3,
                };
                let slopes = slopes(&device.law, choice);
                for (input, slope) in device.inputs.iter().zip(slopes) {
                    for &(column, factor) in &input.x {
                        matrix[device.row * n + column] += slope * factor;
                    }
                }
            }
            samples.push(matrix);
        }
    }
    samples
}

/// What is known of the matrix of so many stages.
pub(super) fn nature(system: &System, stages: usize) -> Nature {
    let n = system.n;
    // The last input of every law is its current.
    let own = system.devices.iter().filter_map(|device| {
        let current = device.inputs.last()?;
        match current.x.as_slice() {
            [(column, factor)] if *factor == 1.0 && current.s.is_empty() => {
                Some((device.row, *column))
            }
            _ => None,
        }
    });
    let mut own: Vec<(usize, usize)> = own.collect();
    own.sort_unstable_by_key(|pivot| pivot.1);
    own.dedup_by_key(|pivot| pivot.1);
    Nature {
        first: (0..stages)
            .flat_map(|i| own.iter().map(move |(r, c)| (i * n + r, i * n + c)))
            .collect(),
    }
}

/// The same for three stages at once.
pub(super) fn of_stages(system: &System) -> Vec<Vec<f64>> {
    let mut samples = Vec::new();
    let mut turn = 0_usize;
    for step in [1e-6, 1e-4, 2e-3, 2e-2] {
        for round in 0..4 {
            samples.push(of_a_step(system, step, |device| {
                turn += 1;
                let choice = match round {
                    0 | 1 => round,
                    _ => (turn * 7 + round * 3) % 3,
                };
                slopes(&device.law, choice)
            }));
        }
    }
    samples
}

/// Those of the first step from rest, and of a shorter one that is made where it does not come through.
pub(super) fn of_first_steps(system: &System) -> Vec<Vec<f64>> {
    let (x, s) = (vec![0.0; system.n], at_zero_of_the_mains(system));
    let rates = vec![0.0; system.stores.len()];
    [FIRST_STEP, SHORT * FIRST_STEP]
        .map(|step| {
            of_a_step(system, step, |device| {
                let mut inputs = [0.0; 3];
                for (value, input) in inputs.iter_mut().zip(&device.inputs) {
                    *value = input.at(&x, &s, &rates);
                }
                device.residual(&inputs).1
            })
        })
        .to_vec()
}

fn at_zero_of_the_mains(system: &System) -> Vec<f64> {
    let of = |basis: &Basis| f64::from(u8::from(matches!(basis, Basis::One)));
    system.sources.iter().map(of).collect()
}

/// The matrix of three stages of a step, in cycles; a device's slopes are asked for in the order of stages and devices.
fn of_a_step(system: &System, step: f64, mut slopes: impl FnMut(&Device) -> [f64; 3]) -> Vec<f64> {
    let n = system.n;
    let mass = mass(system);
    let inverse = Tableau::get().inverse;
    let width = 3 * n;
    let mut matrix = vec![0.0; width * width];
    for i in 0..3 {
        for row in 0..n {
            for column in 0..n {
                let at = (i * n + row) * width;
                matrix[at + i * n + column] += system.linear[row * n + column];
                for (j, d) in inverse[i].iter().enumerate() {
                    matrix[at + j * n + column] += d * mass[row * n + column] / step;
                }
            }
        }
        for device in &system.devices {
            for (input, slope) in device.inputs.iter().zip(slopes(device)) {
                for &(column, factor) in &input.x {
                    matrix[(i * n + device.row) * width + i * n + column] += slope * factor;
                }
            }
        }
    }
    matrix
}

/// Slopes that a device may have: closed off, fully open, between.
fn slopes(law: &Law, choice: usize) -> [f64; 3] {
    match law {
        Law::Diode(DiodeLaw::Exponential {
            slope_voltage,
            leakage,
            ..
        }) => {
            let conductance = [
                leakage.max(BLOCKING),
                2.0 / slope_voltage,
                1e-3 / slope_voltage,
            ][choice];
            [-conductance, 1.0, 0.0]
        }
        Law::Diode(DiodeLaw::Ideal { slope, .. }) => {
            let closed = choice == 0;
            let conductance = if closed {
                BLOCKING
            } else {
                1.0 / slope.max(LEAST_SLOPE)
            };
            [-conductance, 1.0, 0.0]
        }
        Law::Load(_) => [[0.0, -0.3, 0.3][choice], 1.0, 0.0],
        Law::Pass(law) => {
            let dropout = law.dropout.bends.last().map_or(1.0, |bend| bend.1);
            [
                [-1e-9, -1.0, -1e-6][choice],
                [-1e-9, -1e-9, -dropout][choice],
                1.0,
            ]
        }
    }
}
