//! The distributions that readings are judged with: normal, Student's, F, and the sum of a rectangular and a normal one.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};
use statrs::function::beta::beta_reg;
use statrs::function::gamma::{gamma_lr, ln_gamma};

/// Probability that a standard normal value is at most `z`.
pub fn normal(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// The standard normal value that is not exceeded with probability `p`.
pub fn normal_quantile(p: f64) -> f64 {
    let rough = Normal::standard().inverse_cdf(p);
    polished(rough, p, normal, normal_density)
}

fn normal_density(z: f64) -> f64 {
    libm::exp(-0.5 * z * z) / libm::sqrt(2.0 * std::f64::consts::PI)
}

/// Probability that Student's t with `nu` degrees of freedom is at most `t`; normal where `nu` is infinite.
pub fn student(t: f64, nu: f64) -> f64 {
    if nu.is_infinite() {
        return normal(t);
    }
    let tail = 0.5 * beta_reg(0.5 * nu, 0.5, nu / (nu + t * t));
    if t > 0.0 { 1.0 - tail } else { tail }
}

/// The value of Student's t that is not exceeded with probability `p`.
pub fn student_quantile(p: f64, nu: f64) -> f64 {
    if nu.is_infinite() {
        return normal_quantile(p);
    }
    match StudentsT::new(0.0, 1.0, nu) {
        Ok(distribution) => bracketed(distribution.inverse_cdf(p), p, |t| student(t, nu)),
        Err(_) => f64::NAN,
    }
}

/// Coverage factor of a two-sided interval of probability `p`.
pub fn two_sided(p: f64, nu: f64) -> f64 {
    student_quantile(0.5 + 0.5 * p, nu)
}

/// Probability that a ratio of two mean squares is at most `x` (the F distribution).
pub fn ratio_of_squares(x: f64, nu_above: f64, nu_below: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    let share = nu_above * x / (nu_above * x + nu_below);
    beta_reg(0.5 * nu_above, 0.5 * nu_below, share)
}

/// Probability that noncentral chi-squared of `nu` degrees of freedom and noncentrality `apart` is at most `x`.
pub fn noncentral_squares(x: f64, nu: f64, apart: f64) -> f64 {
    // A mixture of central ones, the middle of its Poisson weights first.
    let half = 0.5 * apart;
    let weight = |k: f64| {
        if half == 0.0 {
            return if k == 0.0 { 1.0 } else { 0.0 };
        }
        libm::exp(k * libm::log(half) - half - ln_gamma(k + 1.0))
    };
    let term = |k: f64| weight(k) * gamma_lr(0.5 * nu + k, 0.5 * x);
    let middle = libm::floor(half);
    let mut sum = 0.0;
    let mut k = middle;
    while k >= 0.0 {
        let one = term(k);
        sum += one;
        if one < 1e-18 && k < middle {
            break;
        }
        k -= 1.0;
    }
    let mut k = middle + 1.0;
    loop {
        let one = term(k);
        sum += one;
        if one < 1e-18 {
            return sum;
        }
        k += 1.0;
    }
}

/// Probability that the sum of a rectangular error of half-width `half` and a normal one of standard uncertainty `u` is
/// at most `x`.
pub fn rectangular_and_normal(x: f64, half: f64, u: f64) -> f64 {
    if u <= 1e-9 * half {
        return ((x + half) / (2.0 * half)).clamp(0.0, 1.0);
    }
    if half <= 1e-9 * u {
        return normal(x / u);
    }
    // The integral of the normal distribution function is z Φ(z) + φ(z).
    let integral = |z: f64| z * normal(z) + normal_density(z);
    (u * (integral((x + half) / u) - integral((x - half) / u)) / (2.0 * half)).clamp(0.0, 1.0)
}

/// The value of such a sum that is not exceeded with probability `p`.
pub fn rectangular_and_normal_quantile(p: f64, half: f64, u: f64) -> f64 {
    if half == 0.0 && u == 0.0 {
        return 0.0;
    }
    let far = half + 10.0 * u;
    bisect(-far, far, |x| rectangular_and_normal(x, half, u) - p)
}

/// Probability that the sum of two independent rectangular errors of half-widths `one` and `other` and a normal one of
/// standard uncertainty `u` is at most `x`.
pub fn rectangles_and_normal(x: f64, one: f64, other: f64, u: f64) -> f64 {
    let (wide, narrow) = (one.max(other), one.min(other));
    if narrow <= 1e-6 * wide.max(u) {
        return rectangular_and_normal(x, wide, u);
    }
    // Twice the integral of the normal distribution function; without a normal part, of a step.
    let is_step = u <= 1e-9 * wide;
    let integral = |z: f64| {
        if is_step {
            0.5 * z.max(0.0) * z.max(0.0)
        } else {
            let z = z / u;
            0.5 * u * u * ((z * z + 1.0) * normal(z) + z * normal_density(z))
        }
    };
    let sum =
        integral(x + wide + narrow) - integral(x + wide - narrow) - integral(x - wide + narrow)
            + integral(x - wide - narrow);
    (sum / (4.0 * wide * narrow)).clamp(0.0, 1.0)
}

/// The value of such a sum that is not exceeded with probability `p`.
pub fn rectangles_and_normal_quantile(p: f64, one: f64, other: f64, u: f64) -> f64 {
    let far = one + other + 10.0 * u;
    if far == 0.0 {
        return 0.0;
    }
    bisect(-far, far, |x| rectangles_and_normal(x, one, other, u) - p)
}

/// Where an increasing function is zero.
pub fn bisect(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// One step of Newton's method on a rough quantile.
fn polished(rough: f64, p: f64, cdf: fn(f64) -> f64, density: fn(f64) -> f64) -> f64 {
    let slope = density(rough);
    if slope > 0.0 && rough.is_finite() {
        rough - (cdf(rough) - p) / slope
    } else {
        rough
    }
}

fn bracketed(rough: f64, p: f64, cdf: impl Fn(f64) -> f64) -> f64 {
    if !rough.is_finite() {
        return rough;
    }
    let by = 1e-3 * rough.abs().max(1.0);
    bisect(rough - by, rough + by, |t| cdf(t) - p)
}
