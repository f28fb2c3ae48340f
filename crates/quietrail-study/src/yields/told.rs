//! Samples told by surfaces through solved ones, and solved where that does not decide.
//!
//! The first samples of every scrambling are solved. [`Surface`]s go through what slopes leave of three of four of them, and
//! the fourth, which no surface has seen, shows how far they are off. A sample is solved too if a surface leaves open whether a limit holds
//! there, or whether it is worse than the worst corner found; what those solutions show counts as well. Where that would
//! be many, surfaces are laid through twice as many first. Where they do not serve even so, as behind a corner that a
//! regulator makes, every sample is solved.

use super::SCRAMBLINGS;
use super::surface::Surface;
use rayon::prelude::*;

/// Samples of each scrambling that are solved first, and where surfaces through these leave much open; the last of four is
/// kept from the surfaces.
const FIRST: [usize; 2] = [8, 16];
const FRESH: usize = 4;
/// How many times as many samples there must be to be told.
const MANY: usize = 4;
/// How many times the largest error seen a value is trusted not to be off.
const TRUSTED: f64 = 3.0;
/// Share of the spread of the values that a surface may be off.
const ROUGH: f64 = 0.02;
/// How often samples are solved because of what solved ones showed, before all are.
const ROUNDS: usize = 6;

/// Values of the questions for a sample; `None` where it did not settle, not a number where one has no value.
pub(super) type Row = Option<Vec<f64>>;

/// Values of the questions for each sample.
pub(super) struct Values {
    pub(super) rows: Vec<Row>,
    /// Which samples were solved.
    pub(super) is_solved: Vec<bool>,
    /// Steady states solved, rounds of heat among them.
    pub(super) solutions: u64,
}

/// Solves samples, and says how many solutions each took.
type Solve<'a> = &'a dyn Fn(&[usize]) -> Vec<(Row, u64)>;

/// What makes a value worth solving for: for each question, from a value and how far it may be off.
pub(super) type Decides<'a> = &'a (dyn Fn(usize, f64, f64) -> bool + Sync);

/// Samples in the tolerances.
pub(super) struct Samples<'a> {
    /// Where each stands on each coordinate.
    pub(super) places: &'a [Vec<f64>],
    /// What slopes say of each question for each of them, the same amount aside; none where there are no slopes.
    pub(super) straight: &'a [Vec<f64>],
}

impl Samples<'_> {
    /// What slopes say of a question.
    fn straight(&self, sample: usize, q: usize) -> f64 {
        self.straight.get(sample).map_or(0.0, |row| row[q])
    }
}

/// Values of samples; what surfaces do not tell is asked of `solve`.
pub(super) fn values(samples: &Samples<'_>, solve: Solve<'_>, leaves_open: Decides<'_>) -> Values {
    let places = samples.places;
    let mut known = Known {
        rows: vec![None; places.len()],
        is_solved: vec![false; places.len()],
        solutions: 0,
    };
    let each = places.len() / SCRAMBLINGS as usize;
    for (round, first) in FIRST.into_iter().enumerate() {
        let few = first * SCRAMBLINGS as usize;
        if places.len() < MANY * few {
            break;
        }
        let is_next = |k: &usize| k % each < first && !known.is_solved[*k];
        let next: Vec<usize> = (0..places.len()).filter(is_next).collect();
        known.take(&next, solve);
        let Some(told) = known.told(samples) else {
            continue;
        };
        let is_last = round + 1 == FIRST.len();
        if is_last || known.open(&told, leaves_open).len() <= few {
            known.tell(told, solve, leaves_open);
            break;
        }
    }
    let left = (0..places.len()).filter(|k| known.rows[*k].is_none() && !known.is_solved[*k]);
    let left: Vec<usize> = left.collect();
    known.take(&left, solve);
    let Known {
        rows,
        is_solved,
        solutions,
    } = known;
    Values {
        rows,
        is_solved,
        solutions,
    }
}

/// What is known of the samples so far.
struct Known {
    rows: Vec<Row>,
    is_solved: Vec<bool>,
    solutions: u64,
}

/// A surface for a question, and the largest error seen.
struct Judged {
    surface: Surface,
    off: f64,
}

/// What surfaces tell of all samples, and how far each question's may be off.
struct Told {
    rows: Vec<Vec<f64>>,
    off: Vec<f64>,
}

impl Known {
    /// Solves samples.
    fn take(&mut self, wanted: &[usize], solve: Solve<'_>) {
        for (k, (row, solutions)) in wanted.iter().zip(solve(wanted)) {
            self.rows[*k] = row;
            self.is_solved[*k] = true;
            self.solutions += solutions;
        }
    }

    /// A surface for each question through what is solved, if all of it settled and has values and no surface is far off.
    fn surfaces(&self, samples: &Samples<'_>) -> Option<Vec<Judged>> {
        let mut solved: Vec<(usize, &[f64])> = Vec::new();
        for k in (0..self.rows.len()).filter(|k| self.is_solved[*k]) {
            let row = self.rows[k].as_ref()?;
            if row.iter().any(|value| !value.is_finite()) {
                return None;
            }
            solved.push((k, row));
        }
        let questions = solved.first()?.1.len();
        let part = |is_fresh: bool| {
            let of = solved.iter().enumerate();
            of.filter(move |(k, _)| (k % FRESH == FRESH - 1) == is_fresh)
                .map(|(_, one)| *one)
        };
        let place = |k: usize| samples.places[k].as_slice();
        let points: Vec<&[f64]> = part(false).map(|(k, _)| place(k)).collect();
        (0..questions)
            .into_par_iter()
            .map(|q| {
                let left = |(k, row): (usize, &[f64])| row[q] - samples.straight(k, q);
                let values: Vec<f64> = part(false).map(left).collect();
                let surface = Surface::through(&points, &values);
                let errors = part(true).map(|one| (surface.at(place(one.0)) - left(one)).abs());
                let off = errors.fold(0.0, f64::max);
                let (low, high) = part(false)
                    .map(|(_, row)| row[q])
                    .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                        (value.min(low), value.max(high))
                    });
                (off <= ROUGH * (high - low)).then_some(Judged { surface, off })
            })
            .collect()
    }

    /// What surfaces tell, if they serve.
    fn told(&self, samples: &Samples<'_>) -> Option<Told> {
        let surfaces = self.surfaces(samples)?;
        let at = |(k, place): (usize, &Vec<f64>)| {
            let all = surfaces.iter().enumerate();
            all.map(|(q, judged)| judged.surface.at(place) + samples.straight(k, q))
                .collect()
        };
        Some(Told {
            rows: samples.places.par_iter().enumerate().map(at).collect(),
            off: surfaces.iter().map(|judged| judged.off).collect(),
        })
    }

    /// Samples of which that leaves something open.
    fn open(&self, told: &Told, leaves_open: Decides<'_>) -> Vec<usize> {
        let is_open = |k: &usize| {
            let mut values = told.rows[*k].iter().zip(&told.off).enumerate();
            !self.is_solved[*k]
                && values.any(|(q, (value, off))| leaves_open(q, *value, TRUSTED * off))
        };
        (0..told.rows.len()).filter(is_open).collect()
    }

    /// Tells what surfaces decide, and solves what they leave open.
    fn tell(&mut self, mut told: Told, solve: Solve<'_>, leaves_open: Decides<'_>) {
        for _ in 0..ROUNDS {
            let open = self.open(&told, leaves_open);
            if open.is_empty() {
                for (k, told) in told.rows.into_iter().enumerate() {
                    if !self.is_solved[k] {
                        self.rows[k] = Some(told);
                    }
                }
                return;
            }
            self.take(&open, solve);
            for k in open {
                let Some(row) = &self.rows[k] else {
                    return;
                };
                for ((off, told), value) in told.off.iter_mut().zip(&told.rows[k]).zip(row) {
                    // Without a value, nothing near it is trusted.
                    let error = (told - value).abs();
                    *off = if error.is_nan() {
                        f64::INFINITY
                    } else {
                        off.max(error)
                    };
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Row, Samples, values};
    use crate::yields::SCRAMBLINGS;
    use crate::yields::sequence::Sequence;
    use std::cell::RefCell;

    fn places(dimensions: usize, each: usize) -> Vec<Vec<f64>> {
        let sequence = Sequence::new(dimensions, each);
        let scramblings = (0..SCRAMBLINGS).flat_map(|k| sequence.scrambled(3, k));
        scramblings
            .map(|point| point.into_iter().map(|u| 2.0 * u - 1.0).collect())
            .collect()
    }

    /// Tells `f` above zero of many, and counts what was solved for it.
    fn told(f: &dyn Fn(&[f64]) -> Row, places: &[Vec<f64>]) -> (Vec<Row>, usize) {
        let solved = RefCell::new(0);
        let solve = |wanted: &[usize]| {
            *solved.borrow_mut() += wanted.len();
            wanted.iter().map(|&k| (f(&places[k]), 1)).collect()
        };
        let samples = Samples {
            places,
            straight: &[],
        };
        let values = values(&samples, &solve, &|_, value, off| value.abs() <= off);
        assert_eq!(values.solutions as usize, *solved.borrow());
        (values.rows, solved.into_inner())
    }

    fn holds(rows: &[Row]) -> Vec<bool> {
        rows.iter()
            .map(|row| row.as_ref().is_some_and(|row| row[0] >= 0.0))
            .collect()
    }

    #[test]
    fn few_are_solved_and_all_are_decided_rightly() {
        let f = |x: &[f64]| Some(vec![0.1 + x[0] - 0.4 * x[1] * x[1] + 0.3 / (2.0 + x[2])]);
        let places = places(10, 256);
        let (rows, solved) = told(&f, &places);
        let truth: Vec<Row> = places.iter().map(|place| f(place)).collect();
        assert_eq!(holds(&rows), holds(&truth));
        assert!(solved < places.len() / 8, "{solved} of {}", places.len());
    }

    #[test]
    fn behind_a_corner_more_are_solved_and_all_are_decided_rightly() {
        let f = |x: &[f64]| {
            Some(vec![
                0.05 - (x[0] + 0.3 * x[1] - 0.2).max(0.0) + 0.01 * x[3],
            ])
        };
        let places = places(10, 256);
        let (rows, _) = told(&f, &places);
        let truth: Vec<Row> = places.iter().map(|place| f(place)).collect();
        assert_eq!(holds(&rows), holds(&truth));
    }

    #[test]
    fn what_does_not_settle_is_not_told() {
        let f = |x: &[f64]| (x[0] < 0.9).then(|| vec![x[0]]);
        let places = places(4, 256);
        let (rows, solved) = told(&f, &places);
        assert_eq!(solved, places.len());
        assert!(
            rows.iter()
                .zip(&places)
                .all(|(row, x)| row.is_some() == (x[0] < 0.9))
        );
    }

    #[test]
    fn few_samples_are_all_solved() {
        let places = places(4, 16);
        let (_, solved) = told(&|x: &[f64]| Some(vec![x[0]]), &places);
        assert_eq!(solved, places.len());
    }
}
