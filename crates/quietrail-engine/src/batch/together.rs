//! Eight circuits closed together, each from stores near those of one that is solved.
//!
//! The derivative of the solved one's cycle stands in for theirs and is corrected, lane by lane, by what each
//! cycle shows (Broyden, *Math. Comp.* 19 (1965) 577, the inverse form). A lane that is there is read and rests.

#![expect(
    clippy::needless_range_loop,
    reason = "lanes, stages and stores index several arrays at once"
)]

use super::closing::{LEAST_OF_LEVEL, LEAST_SWING, THERE};
use super::cycle::{Begin, Cycler, Exact, Gather, Wanted};
use super::equations::Equations;
use super::lanes::{Lanes, Mask, WIDTH};
use super::{FINER, Figures, Kind, Seed};
use crate::Ended;

use crate::dense::Lu;
use crate::march::Effort;
use crate::steady::Options;
use crate::system::System;

/// Cycles at a rough tolerance before the fine ones, and that tolerance.
const ROUGH_CYCLES: usize = 2;
const ROUGH: f64 = 1e-4;
/// How many times the tolerance of rough cycles a move must be to correct the derivative.
const TELLING: f64 = 30.0;
/// Cycles in all before lanes still on their way are given up.
const MOST_CYCLES: usize = 14;

/// Figures of each lane that settled; `None` where the eight cannot be put together at all.
pub(crate) fn solve(
    kind: &Kind,
    systems: [&System; WIDTH],
    near: [&[f64]; WIDTH],
    from: &Figures,
    options: &Options,
) -> Option<Vec<Option<Figures>>> {
    let stores = from.start.len();
    let equations = Equations::gather(&kind.shape, systems)?;
    let mut tally = kind.gauges.tally(&kind.outputs, &kind.traced, systems)?;
    let mut cycler = Cycler::new(&equations, systems[0]);
    let mut inverse = spread(&inverse(&from.seed.map, stores)?);
    let mut guess = spread(&from.seed.unknowns);
    let mut z: Vec<Lanes> = (0..stores)
        .map(|k| Lanes(std::array::from_fn(|lane| near[lane][k])))
        .collect();
    let room = systems[0].volts_scale.max(1e-3);
    let mut scale = scale(systems[0], from);
    let mut last: Option<(Vec<Lanes>, Vec<Lanes>)> = None;
    let mut waiting = Mask::ALL;
    let mut found: Vec<Option<Figures>> = (0..WIDTH).map(|_| None).collect();
    let mut effort = Effort::default();
    for round in 0..MOST_CYCLES {
        let is_fine = round >= ROUGH_CYCLES;
        let exact = Exact {
            tolerance: if is_fine {
                FINER * options.tolerance
            } else {
                ROUGH.max(options.tolerance)
            },
            scale: &scale,
            wanted: Wanted::End,
        };
        let gather = Gather {
            tally: is_fine.then_some(&mut tally),
            slopes: None,
        };
        let turn = cycler.run(&z, Begin::Guess(&guess), exact, waiting, gather);
        effort.cycles += 1;
        effort.steps += turn.steps;
        effort.iterations += turn.iterations;
        waiting = waiting.and(turn.ok);
        guess.copy_from_slice(cycler.unknowns());
        let lack: Vec<Lanes> = (0..stores).map(|k| z[k] - turn.end[k]).collect();
        if let Some((moved, last_lack)) = &last {
            let change: Vec<Lanes> = (0..stores).map(|k| lack[k] - last_lack[k]).collect();
            // A move within the errors of the steps would teach their noise.
            let mut size = Lanes::ZERO;
            for k in 0..stores {
                size = size.max(moved[k].abs() / scale[k]);
            }
            let tells = Lanes::all(TELLING * ROUGH).below(size);
            correct(&mut inverse, moved, &change, tells);
        }
        let step: Vec<Lanes> = (0..stores)
            .map(|row| {
                let mut sum = Lanes::ZERO;
                for (column, lack) in lack.iter().enumerate() {
                    sum -= inverse[row * stores + column] * *lack;
                }
                sum
            })
            .collect();
        if is_fine {
            let mut left = Lanes::ZERO;
            for k in 0..stores {
                let swing = turn.high[k] - turn.low[k];
                let level = turn.high[k].abs().max(turn.low[k].abs());
                let near = (Lanes::all(THERE.0) * swing).max(Lanes::all(THERE.1) * level);
                left = left.max(step[k].abs() / near.max(Lanes::all(LEAST_SWING * THERE.1 * room)));
            }
            let there = left.below(Lanes::ONE).and(waiting);
            for lane in 0..WIDTH {
                if there.0[lane] {
                    let start: Vec<f64> = z.iter().map(|z| z.0[lane]).collect();
                    let swings = (0..stores).map(|k| turn.high[k].0[lane] - turn.low[k].0[lane]);
                    let swing: Vec<f64> = swings.collect();
                    let residual = (0..stores)
                        .map(|k| lack[k].0[lane].abs() / scale[k].0[lane])
                        .fold(0.0, f64::max);
                    found[lane] = Some(Figures {
                        values: tally.read(lane),
                        traces: tally.traces(lane),
                        start,
                        ended: Ended::Settled { residual },
                        floquet: from.floquet,
                        effort,
                        seed: Seed {
                            unknowns: guess.iter().map(|x| x.0[lane]).collect(),
                            map: from.seed.map.clone(),
                            swing,
                        },
                    });
                }
            }
            waiting = waiting.and(there.not());
        }
        if !waiting.any() {
            break;
        }
        for k in 0..stores {
            let least = (Lanes::all(LEAST_OF_LEVEL) * turn.high[k].abs().max(turn.low[k].abs()))
                .max(Lanes::all(LEAST_SWING * room));
            scale[k] = (turn.high[k] - turn.low[k]).max(least);
            z[k] = waiting.select(z[k] + step[k], z[k]);
        }
        last = Some((step, lack));
    }
    Some(found)
}

/// What errors of the stores are shares of, near a solved circuit.
pub(crate) fn scale(system: &System, near: &Figures) -> Vec<Lanes> {
    let room = system.volts_scale.max(1e-3);
    let swings = near.seed.swing.iter().zip(&near.start);
    swings
        .map(|(swing, level)| {
            let least = (LEAST_OF_LEVEL * level.abs()).max(LEAST_SWING * room);
            Lanes::all(swing.max(least))
        })
        .collect()
}

/// `H += (s − H y) sᵀ H / (sᵀ H y)`, where that says something.
fn correct(inverse: &mut [Lanes], s: &[Lanes], y: &[Lanes], tells: Mask) {
    let stores = s.len();
    let hy: Vec<Lanes> = (0..stores)
        .map(|row| {
            let mut sum = Lanes::ZERO;
            for (column, y) in y.iter().enumerate() {
                sum += inverse[row * stores + column] * *y;
            }
            sum
        })
        .collect();
    let sh: Vec<Lanes> = (0..stores)
        .map(|column| {
            let mut sum = Lanes::ZERO;
            for (row, s) in s.iter().enumerate() {
                sum += *s * inverse[row * stores + column];
            }
            sum
        })
        .collect();
    let (mut below, mut length) = (Lanes::ZERO, Lanes::ZERO);
    for k in 0..stores {
        below += s[k] * hy[k];
        length += s[k] * s[k];
    }
    // A cycle that hardly answers to a move tells nothing about the derivative.
    let tells = tells.and((Lanes::all(0.05) * length).below(below.abs()));
    let by = tells.select(Lanes::ONE / below, Lanes::ZERO);
    for row in 0..stores {
        for column in 0..stores {
            inverse[row * stores + column] += (s[row] - hy[row]) * sh[column] * by;
        }
    }
}

/// `(1 − m)⁻¹`, row-major.
fn inverse(map: &[f64], stores: usize) -> Option<Vec<f64>> {
    let mut matrix: Vec<f64> = map.iter().map(|v| -v).collect();
    for k in 0..stores {
        matrix[k * stores + k] += 1.0;
    }
    let mut lu = Lu::default();
    if stores > 0 {
        lu.factor(&matrix, stores).ok()?;
    }
    let mut inverse = vec![0.0; stores * stores];
    let (mut unit, mut solution) = (vec![0.0; stores], vec![0.0; stores]);
    for column in 0..stores {
        unit.fill(0.0);
        unit[column] = 1.0;
        lu.solve(&unit, &mut solution);
        for row in 0..stores {
            inverse[row * stores + column] = solution[row];
        }
    }
    Some(inverse)
}

fn spread(values: &[f64]) -> Vec<Lanes> {
    values.iter().map(|value| Lanes::all(*value)).collect()
}
