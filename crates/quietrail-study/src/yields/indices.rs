//! Which figures decide: first-order and total indices after Sobol.
//!
//! Two builders, A and B, have all figures of their own; a third has A's, except for one figure, which is B's. How
//! far the third is from A is what that figure does with all others held; how far from B, what all others do. Of each
//! index there are two estimators (Saltelli et al., "Variance based sensitivity analysis of model output", Comput. Phys.
//! Commun. 181, 2010, table 2: Jansen's, and the products of (b) and (d) there):
//!
//! - first-order: S = 1 − ⟨(f(B) − f(AB))²⟩ / 2V or ⟨f(B) (f(AB) − f(A))⟩ / V, the share of the variance that goes with the figure
//!   alone;
//! - total: T = ⟨(f(A) − f(AB))²⟩ / 2V or 1 − ⟨f(A) (f(AB) − f(B))⟩ / V, the same with all it does together with others.
//!
//! The first of each pair is exact where the figure does everything (S) or nothing (T), the second the other way round; that with the narrower
//! interval is told. As no share alone is above the share in all, the wider of the two indices gives way to the narrower.
//!
//! Intervals come from leaving out one scrambling at a time (the jackknife).
//!
//! Elementary effects (Morris, *Technometrics* 33 (1991) 161) are not computed. They screen for figures that matter where
//! neither slopes nor indices can be afforded; here slopes are exact and indices come with the yield.

use super::interval::student;

/// An index with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// From all scramblings together.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Both indices of a figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Indices {
    /// Alone.
    pub first: Estimate,
    /// With all it does together with others.
    pub total: Estimate,
}

/// Values of A, of B, and of A with one figure of B, in one scrambling; equally many of each.
#[derive(Clone, Copy, Debug)]
pub struct Block<'a> {
    /// f(A)
    pub a: &'a [f64],
    /// f(B)
    pub b: &'a [f64],
    /// f(A with one figure of B)
    pub mixed: &'a [f64],
}

/// The indices of one figure from independent scramblings.
///
/// Triples with a value that is not finite are left out. `None` where nothing varies, or with fewer than two
/// scramblings.
pub fn indices(blocks: &[Block<'_>]) -> Option<Indices> {
    let origin = mean(blocks)?;
    let sums: Vec<Sums> = blocks.iter().map(|block| Sums::of(block, origin)).collect();
    let all = sums
        .iter()
        .fold(Sums::default(), |all, own| all.plus(own, 1.0));
    let found = all.estimates()?;
    let without: Vec<[f64; 4]> = sums
        .iter()
        .map(|own| all.plus(own, -1.0).estimates())
        .collect::<Option<_>>()?;
    let estimate = |which: usize| {
        let left_out: Vec<f64> = without.iter().map(|found| found[which]).collect();
        jackknife(found[which], &left_out)
    };
    let [first, total] =
        [(0, 1), (2, 3)].map(|(one, other)| Some(narrower(estimate(one)?, estimate(other)?)));
    Some(Indices::ordered(first?, total?))
}

/// Of two estimates of one index that with the narrower interval.
fn narrower(one: Estimate, other: Estimate) -> Estimate {
    if other.width() < one.width() {
        other
    } else {
        one
    }
}

impl Estimate {
    fn width(&self) -> f64 {
        self.high - self.low
    }
}

impl Indices {
    /// Both, the first-order one nowhere above the total.
    fn ordered(first: Estimate, total: Estimate) -> Self {
        let (mut first, mut total) = (first, total);
        if first.width() < total.width() {
            total.value = total.value.max(first.value);
            (total.low, total.high) = (total.low.max(first.low), total.high.max(first.high));
        } else {
            first.value = first.value.min(total.value);
            (first.low, first.high) = (first.low.min(total.low), first.high.min(total.high));
        }
        Self { first, total }
    }
}

/// Mean of what A and B come to; `None` where nothing does.
fn mean(blocks: &[Block<'_>]) -> Option<f64> {
    let each = blocks
        .iter()
        .flat_map(|block| block.a.iter().chain(block.b));
    let (mut sum, mut count) = (0.0, 0.0);
    for value in each.filter(|value| value.is_finite()) {
        sum += value;
        count += 1.0;
    }
    (count > 0.0).then(|| sum / count)
}

fn jackknife(value: f64, without: &[f64]) -> Option<Estimate> {
    let count = without.len() as f64;
    if count < 2.0 {
        return None;
    }
    let mean = without.iter().sum::<f64>() / count;
    let squares: f64 = without.iter().map(|one| (one - mean).powi(2)).sum();
    let half = student(without.len()) * ((count - 1.0) / count * squares).sqrt();
    Some(Estimate {
        value,
        low: value - half,
        high: value + half,
    })
}

/// Sums over triples, of values less a common origin so that nothing cancels.
#[derive(Clone, Copy, Default)]
struct Sums {
    count: f64,
    values: f64,
    squares: f64,
    from_a: f64,
    from_b: f64,
    with_a: f64,
    with_b: f64,
}

impl Sums {
    fn of(block: &Block<'_>, origin: f64) -> Self {
        let mut sums = Self::default();
        for ((&a, &b), &mixed) in block.a.iter().zip(block.b).zip(block.mixed) {
            if !(a.is_finite() && b.is_finite() && mixed.is_finite()) {
                continue;
            }
            let (a, b, mixed) = (a - origin, b - origin, mixed - origin);
            sums.count += 1.0;
            sums.values += a + b;
            sums.squares += a * a + b * b;
            sums.from_a += (a - mixed) * (a - mixed);
            sums.from_b += (b - mixed) * (b - mixed);
            sums.with_a += a * (mixed - b);
            sums.with_b += b * (mixed - a);
        }
        sums
    }

    fn plus(&self, other: &Self, sign: f64) -> Self {
        Self {
            count: self.count + sign * other.count,
            values: self.values + sign * other.values,
            squares: self.squares + sign * other.squares,
            from_a: self.from_a + sign * other.from_a,
            from_b: self.from_b + sign * other.from_b,
            with_a: self.with_a + sign * other.with_a,
            with_b: self.with_b + sign * other.with_b,
        }
    }

    /// First-order and total, each in two ways; `None` where nothing varies.
    fn estimates(&self) -> Option<[f64; 4]> {
        let mean = 0.5 * self.values / self.count;
        let variance = 0.5 * self.squares / self.count - mean * mean;
        let twice = 2.0 * variance * self.count;
        (twice > 0.0).then(|| {
            [
                1.0 - self.from_b / twice,
                2.0 * self.with_b / twice,
                self.from_a / twice,
                1.0 - 2.0 * self.with_a / twice,
            ]
        })
    }
}
