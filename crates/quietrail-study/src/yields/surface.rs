//! A polynomial through solved samples, which tells others without solving them.
//!
//! A response surface (Box and Wilson, *J. R. Stat. Soc. B* 13 (1951) 1) in products of Legendre polynomials, of which
//! those are taken one after the other that tell most of what the ones before leave (orthogonal matching pursuit; Pati,
//! Rezaiifar and Krishnaprasad, *Asilomar Conf.* 1993). How many is decided by leaving each sample out in turn, which
//! costs nothing with orthogonal columns; how far the surface may be off is what fresh samples show.

/// Degrees of one coordinate by itself, and of two together.
const DEGREES: usize = 4;
const TOGETHER: usize = 3;
/// Coordinates that are tried together with each other, and with all that tell nothing by themselves: those that tell
/// most by themselves.
const TELLING: usize = 9;
/// Samples for each term at least, and terms without gain by which the search ends.
const EACH: usize = 3;
const PATIENCE: usize = 6;
/// Share of a column that must be new to be taken.
const NEW: f64 = 1e-6;
/// Share of the spread of the values below which what is left is rounding.
const ROUNDING: f64 = 1e-11;

/// Coordinates with their degrees: a product of Legendre polynomials.
type Term = Vec<(usize, usize)>;

/// A polynomial of coordinates between −1 and 1.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Surface {
    origin: f64,
    terms: Vec<(Term, f64)>,
}

impl Surface {
    /// Through values at points, each of as many coordinates; not all values need be met.
    pub(super) fn through(points: &[&[f64]], values: &[f64]) -> Self {
        let coordinates = points.first().map_or(0, |point| point.len());
        let alone: Vec<Term> = (0..coordinates)
            .flat_map(|k| (1..=DEGREES).map(move |degree| vec![(k, degree)]))
            .collect();
        let by_themselves = fit(points, values, alone.clone());
        let mut telling: Vec<(usize, f64)> = (0..coordinates)
            .map(|k| (k, by_themselves.told_by(k)))
            .filter(|(_, told)| *told > 0.0)
            .collect();
        telling.sort_by(|a, b| b.1.total_cmp(&a.1));
        telling.truncate(TELLING);
        let mut all = alone;
        for (place, &(a, _)) in telling.iter().enumerate() {
            // What tells nothing by itself may still tell together with something that does.
            let is_met = |b: &usize| telling[..=place].iter().any(|(met, _)| met == b);
            for b in (0..coordinates).filter(|b| !is_met(b)) {
                for degree in 1..TOGETHER {
                    let others = 1..=TOGETHER - degree;
                    all.extend(others.map(|other| vec![(a, degree), (b, other)]));
                }
            }
            for (next, &(b, _)) in telling.iter().enumerate().skip(place + 1) {
                let thirds = telling.iter().skip(next + 1);
                all.extend(thirds.map(|&(c, _)| vec![(a, 1), (b, 1), (c, 1)]));
            }
        }
        fit(points, values, all)
    }

    /// Its value at a point.
    pub(super) fn at(&self, point: &[f64]) -> f64 {
        let sum: f64 = self
            .terms
            .iter()
            .map(|(term, factor)| factor * product(term, point))
            .sum();
        self.origin + sum
    }

    /// Sum of the squares of the factors that a coordinate has a part in.
    fn told_by(&self, coordinate: usize) -> f64 {
        let own = self
            .terms
            .iter()
            .filter(|(term, _)| term.iter().any(|(k, _)| *k == coordinate));
        own.map(|(_, factor)| factor * factor).sum()
    }
}

/// The terms that tell most, and their factors.
fn fit(points: &[&[f64]], values: &[f64], candidates: Vec<Term>) -> Surface {
    let count = points.len();
    let origin = values.iter().sum::<f64>() / count.max(1) as f64;
    let mut left: Vec<f64> = values.iter().map(|value| value - origin).collect();
    let spread = norm(&left);
    let mut columns: Vec<Column> = candidates
        .into_iter()
        .map(|term| Column::of(term, points))
        .collect();
    let mut taken: Vec<Column> = Vec::new();
    // Coefficients of the orthonormal columns, and how much of each sample they have used up: the mean comes first.
    let mut told: Vec<f64> = Vec::new();
    let mut used = vec![1.0 / count.max(1) as f64; count];
    let mut best = (left_out(&left, &used), 0);
    while (taken.len() + 2) * EACH <= count {
        let Some(own) = most_along(&left, &mut columns, &taken) else {
            break;
        };
        let share = dot(&own.rest, &left);
        for ((left, used), q) in left.iter_mut().zip(&mut used).zip(&own.rest) {
            *left -= share * q;
            *used += q * q;
        }
        told.push(share);
        taken.push(own);
        let error = left_out(&left, &used);
        if error < best.0 {
            best = (error, taken.len());
        }
        if taken.len() - best.1 >= PATIENCE || norm(&left) <= ROUNDING * spread {
            break;
        }
    }
    taken.truncate(best.1);
    let factors = unmixed(&taken, &told);
    let means: f64 = taken.iter().zip(&factors).map(|(c, f)| f * c.mean).sum();
    Surface {
        origin: origin - means,
        terms: taken.into_iter().map(|c| c.term).zip(factors).collect(),
    }
}

/// Takes from the candidates the one that tells most of what is left and something new, less what those taken tell of it.
///
/// What is left has no part in the columns taken: candidates are compared as they are, and only the one chosen gives up what
/// those hold of it.
fn most_along(left: &[f64], columns: &mut Vec<Column>, taken: &[Column]) -> Option<Column> {
    let mut along: Vec<f64> = columns
        .iter()
        .map(|column| dot(&column.rest, left).abs())
        .collect();
    loop {
        let next = (0..along.len()).max_by(|&a, &b| along[a].total_cmp(&along[b]))?;
        along.swap_remove(next);
        let mut own = columns.swap_remove(next);
        own.give_up(taken);
        if own.settle() {
            return Some(own);
        }
    }
}

/// A term at the samples.
struct Column {
    term: Term,
    mean: f64,
    whole: f64,
    /// What it has over its mean at each sample, as a share of the whole of that, so that terms are compared by their
    /// direction; of a column taken, what those before it do not tell, of length one.
    rest: Vec<f64>,
    /// How much of each column taken before it held, and how much was left.
    held: Vec<f64>,
    length: f64,
}

impl Column {
    fn of(term: Term, points: &[&[f64]]) -> Self {
        let mut rest: Vec<f64> = points.iter().map(|point| product(&term, point)).collect();
        let mean = rest.iter().sum::<f64>() / points.len().max(1) as f64;
        for value in &mut rest {
            *value -= mean;
        }
        let whole = norm(&rest);
        if whole > 0.0 {
            for value in &mut rest {
                *value /= whole;
            }
        }
        Self {
            term,
            mean,
            whole,
            rest,
            held: Vec::new(),
            length: 1.0,
        }
    }

    /// Gives up what columns that were taken hold of it, twice for the sake of digits (Björck, *Numerical Methods for Least
    /// Squares Problems*, 1996, section 2.4).
    fn give_up(&mut self, taken: &[Column]) {
        self.held = vec![0.0; taken.len()];
        for _ in 0..2 {
            for (held, taken) in self.held.iter_mut().zip(taken) {
                let share = dot(&self.rest, &taken.rest);
                *held += share;
                for (own, q) in self.rest.iter_mut().zip(&taken.rest) {
                    *own -= share * q;
                }
            }
        }
    }

    /// Makes what is left of length one; whether that is anything new.
    fn settle(&mut self) -> bool {
        self.length = norm(&self.rest);
        if self.length * self.length <= NEW {
            return false;
        }
        for value in &mut self.rest {
            *value /= self.length;
        }
        true
    }
}

/// Factors of the terms from those of the orthonormal columns: back through what each held of those before.
fn unmixed(taken: &[Column], told: &[f64]) -> Vec<f64> {
    let mut factors = vec![0.0; taken.len()];
    for k in (0..taken.len()).rev() {
        let later: f64 = (k + 1..taken.len())
            .map(|m| factors[m] * taken[m].held[k])
            .sum();
        factors[k] = (told[k] - later) / taken[k].length;
    }
    for (factor, column) in factors.iter_mut().zip(taken) {
        *factor /= column.whole;
    }
    factors
}

/// Mean square error at each sample of a fit that leaves it out.
fn left_out(left: &[f64], used: &[f64]) -> f64 {
    let errors = left.iter().zip(used).map(|(left, used)| {
        let error = left / (1.0 - used).max(1e-9);
        error * error
    });
    errors.sum::<f64>() / left.len().max(1) as f64
}

fn product(term: &[(usize, usize)], point: &[f64]) -> f64 {
    term.iter()
        .map(|&(k, degree)| legendre(degree, point[k]))
        .product()
}

/// The Legendre polynomial of a degree.
fn legendre(degree: usize, x: f64) -> f64 {
    let (mut last, mut now) = (1.0, x);
    if degree == 0 {
        return last;
    }
    for n in 1..degree {
        let n = n as f64;
        (last, now) = (now, ((2.0 * n + 1.0) * x * now - n * last) / (n + 1.0));
    }
    now
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    // Four sums at a time: none waits for itself.
    let mut sums = [0.0; 4];
    let (fours, rest) = (a.chunks_exact(4), a.chunks_exact(4).remainder());
    let tail = a.len() - rest.len();
    for (a, b) in fours.zip(b.chunks_exact(4)) {
        for k in 0..4 {
            sums[k] += a[k] * b[k];
        }
    }
    let rest: f64 = rest.iter().zip(&b[tail..]).map(|(a, b)| a * b).sum();
    sums[0] + sums[1] + (sums[2] + sums[3]) + rest
}

fn norm(a: &[f64]) -> f64 {
    dot(a, a).sqrt()
}

#[cfg(test)]
mod tests {
    use super::{Surface, legendre};
    use crate::yields::sequence::Sequence;
    use quietrail_engine::math::{exp, sin};

    /// So many points of so many coordinates between −1 and 1.
    fn points(dimensions: usize, count: usize, seed: u64) -> Vec<Vec<f64>> {
        let sequence = Sequence::new(dimensions, count);
        let spread = |point: Vec<f64>| point.into_iter().map(|u| 2.0 * u - 1.0).collect();
        sequence
            .scrambled(seed, 0)
            .into_iter()
            .map(spread)
            .collect()
    }

    /// Largest error at fresh points, as a share of the spread of the values.
    fn off(f: &dyn Fn(&[f64]) -> f64, dimensions: usize, count: usize) -> f64 {
        let known = points(dimensions, count, 1);
        let known: Vec<&[f64]> = known.iter().map(Vec::as_slice).collect();
        let values: Vec<f64> = known.iter().map(|point| f(point)).collect();
        let surface = Surface::through(&known, &values);
        let (low, high) = values
            .iter()
            .fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(*v), b.max(*v)));
        let fresh = points(dimensions, 512, 2);
        let errors = fresh
            .iter()
            .map(|point| (surface.at(point) - f(point)).abs());
        errors.fold(0.0, f64::max) / (high - low)
    }

    /// Abramowitz and Stegun, *Handbook of Mathematical Functions*, 1964, table 22.9: P₂, P₃, P₄.
    #[test]
    fn polynomials_are_those_of_the_handbook() {
        for x in [-1.0, -0.3, 0.0, 0.7, 1.0_f64] {
            let two = 0.5 * (3.0 * x * x - 1.0);
            let three = 0.5 * x * (5.0 * x * x - 3.0);
            let four = (35.0 * x.powi(4) - 30.0 * x * x + 3.0) / 8.0;
            for (degree, wanted) in [(0, 1.0), (1, x), (2, two), (3, three), (4, four)] {
                assert!((legendre(degree, x) - wanted).abs() < 1e-14, "{degree} {x}");
            }
        }
    }

    #[test]
    fn a_polynomial_is_found_again() {
        let f = |x: &[f64]| {
            3.0 + 2.0 * x[0] + 0.3 * x[1] - x[3] * x[3] + 0.5 * x[0] * x[5]
                - 0.2 * x[1] * x[1] * x[3]
                + 0.1 * x[0] * x[1] * x[3]
        };
        let error = off(&f, 12, 192);
        assert!(error < 1e-9, "{error:e}");
    }

    #[test]
    fn a_smooth_function_of_forty_is_told_from_few_samples() {
        // A valley: mains, reservoir, load, resistances; and thirty figures that hardly matter.
        let f = |x: &[f64]| {
            let few = 18.0 * (1.0 + 0.1 * x[0])
                - 2.0 * exp(0.08 * x[1])
                - 1.5 * (1.0 + 0.1 * x[2]) / (1.0 + 0.2 * x[3]);
            few + x[4..]
                .iter()
                .enumerate()
                .map(|(k, x)| 1e-3 * sin(x + k as f64))
                .sum::<f64>()
        };
        let error = off(&f, 40, 256);
        assert!(error < 2e-3, "{error:e}");
    }

    #[test]
    fn a_corner_is_not_hidden() {
        // No polynomial tells this; what fresh samples show is how far it is off.
        let f = |x: &[f64]| (x[0] + 0.3 * x[1] - 0.2).max(0.0);
        let error = off(&f, 6, 192);
        assert!(error > 5e-3 && error < 0.2, "{error:e}");
    }
}
