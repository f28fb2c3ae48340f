//! Uncertainty by the GUM (JCGM 100:2008): components, their combination, degrees of freedom, coverage.

use crate::distribution::{
    normal_quantile, rectangles_and_normal_quantile, student_quantile, two_sided,
};

/// The shape of what is known only by its ends, half-width 1 (JCGM 100:2008, 4.3.7 to 4.3.9).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Equally likely anywhere between the ends.
    Rectangular,
    /// Most likely in the middle.
    Triangular,
    /// Most likely at the ends, as of what swings like a sine.
    Arcsine,
    /// A flat top, as wide as this part of the base.
    Trapezoid(f64),
    /// Normal, the half-width being this many standard uncertainties.
    Normal(f64),
}

impl Shape {
    /// Standard uncertainty of an error of that half-width.
    pub fn standard(self, half: f64) -> f64 {
        let factor = match self {
            Self::Rectangular => libm::sqrt(1.0 / 3.0),
            Self::Triangular => libm::sqrt(1.0 / 6.0),
            Self::Arcsine => libm::sqrt(0.5),
            Self::Trapezoid(top) => libm::sqrt((1.0 + top * top) / 6.0),
            Self::Normal(k) => 1.0 / k,
        };
        half * factor
    }
}

/// One component of an uncertainty, already times its sensitivity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Component {
    /// Standard uncertainty that it brings to the result.
    pub u: f64,
    /// Degrees of freedom; infinite for what is known.
    pub nu: f64,
}

/// A combined standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combined {
    /// Standard uncertainty.
    pub u: f64,
    /// Effective degrees of freedom.
    pub nu: f64,
}

/// Combines independent components; effective degrees of freedom by Welch and Satterthwaite (JCGM 100, G.4).
pub fn combine(components: &[Component]) -> Combined {
    let square: f64 = components.iter().map(|c| c.u * c.u).sum();
    let u = libm::sqrt(square);
    let spread: f64 = components
        .iter()
        .filter(|c| c.nu.is_finite())
        .map(|c| c.u * c.u * c.u * c.u / c.nu)
        .sum();
    let nu = if spread > 0.0 {
        square * square / spread
    } else {
        f64::INFINITY
    };
    Combined { u, nu }
}

/// Uncertainty of a result of several inputs that may be correlated: `covariance` between inputs, `slopes` of the result.
pub fn propagate(slopes: &[f64], covariance: &[Vec<f64>]) -> f64 {
    libm::sqrt(covariance_of(slopes, slopes, covariance).max(0.0))
}

/// Covariance of two results of the same inputs.
pub fn covariance_of(one: &[f64], other: &[f64], covariance: &[Vec<f64>]) -> f64 {
    let mut sum = 0.0;
    for (a, row) in one.iter().zip(covariance) {
        for (b, value) in other.iter().zip(row) {
            sum += a * b * value;
        }
    }
    sum
}

/// Mean of repeated observations and the standard uncertainty of that mean.
pub fn mean(values: &[f64]) -> (f64, Component) {
    let n = values.len() as f64;
    // From the first one on: of readings of 10 MHz the digits that matter are the last.
    let origin = values.first().copied().unwrap_or(0.0);
    let mean = origin + values.iter().map(|v| v - origin).sum::<f64>() / n;
    if values.len() < 2 {
        let none = Component {
            u: 0.0,
            nu: f64::INFINITY,
        };
        return (mean, none);
    }
    let square: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
    let u = libm::sqrt(square / (n - 1.0) / n);
    (mean, Component { u, nu: n - 1.0 })
}

/// Covariance of the means of two series of observations made together.
pub fn mean_covariance(one: &[f64], other: &[f64]) -> f64 {
    let n = one.len().min(other.len()) as f64;
    let (a, b) = (mean(one).0, mean(other).0);
    let sum: f64 = one.iter().zip(other).map(|(x, y)| (x - a) * (y - b)).sum();
    sum / (n - 1.0) / n
}

/// Expanded uncertainty of coverage `p`, degrees of freedom as they are.
pub fn expanded(combined: Combined, p: f64) -> f64 {
    combined.u * two_sided(p, combined.nu)
}

/// The error of a reading: what the specification bounds, and what scatters.
///
/// The specification counts as one rectangular error of its full width, since how its parts hang together is not known;
/// a normal law of the same variance would claim too wide a range where it is the greatest part, and the range would
/// hold more often than it says. Where the job says that gain and offset err apart, they count as two.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadingError {
    /// Half-width of the bounded part.
    pub bound: f64,
    /// Half-width of another bounded part that has nothing to do with it; 0 where all of it counts as one.
    pub apart: f64,
    /// What scatters.
    pub scatter: Component,
}

impl ReadingError {
    /// Standard uncertainty of all of it.
    pub fn standard(&self) -> f64 {
        let bounded = Shape::Rectangular.standard(self.bound);
        let apart = Shape::Rectangular.standard(self.apart);
        libm::sqrt(bounded * bounded + apart * apart + self.scatter.u * self.scatter.u)
    }

    /// What the error does not exceed with probability `p`, one-sided.
    pub fn one_sided(&self, p: f64) -> f64 {
        rectangles_and_normal_quantile(p, self.bound, self.apart, self.scatter_as_normal(p))
    }

    /// Half-width of the two-sided range of probability `p`.
    pub fn two_sided(&self, p: f64) -> f64 {
        self.one_sided(0.5 + 0.5 * p)
    }

    /// Scatter of few repeats, widened so that alone it has Student's quantile.
    fn scatter_as_normal(&self, p: f64) -> f64 {
        if self.scatter.u == 0.0 || self.scatter.nu.is_infinite() {
            return self.scatter.u;
        }
        let p = p.max(0.75);
        self.scatter.u * student_quantile(p, self.scatter.nu) / normal_quantile(p)
    }
}
