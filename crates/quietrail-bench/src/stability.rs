//! What a log of a frequency says: offset, drift, Allan deviation with its interval, and which noise makes it.
//!
//! Conventions of NIST SP 1065: `y` is the fractional frequency over one interval, `m` how many intervals are averaged; one more
//! phase than there are frequencies.

use crate::distribution::student_quantile;
use crate::floor::squares_quantile;

/// The phase, s, of fractional frequencies over intervals of `tau0`: it begins at zero.
pub fn phase(y: &[f64], tau0: f64) -> Vec<f64> {
    let mut all = vec![0.0];
    let mut sum = 0.0;
    for value in y {
        sum += value * tau0;
        all.push(sum);
    }
    all
}

/// Allan deviation, overlapped: every start counts. `None` where the record is too short for it.
pub fn overlapped(y: &[f64], m: usize) -> Option<f64> {
    let x = phase(y, 1.0);
    let count = x
        .len()
        .checked_sub(2 * m)
        .filter(|count| *count > 0 && m > 0)?;
    let square: f64 = (0..count)
        .map(|i| x[i + 2 * m] - 2.0 * x[i + m] + x[i])
        .map(|second| second * second)
        .sum();
    Some(libm::sqrt(square / (2.0 * (m * m) as f64 * count as f64)))
}

/// Allan deviation of neighbours that do not overlap.
pub fn apart(y: &[f64], m: usize) -> Option<f64> {
    let means = averaged(y, m);
    if means.len() < 2 {
        return None;
    }
    let square: f64 = means
        .windows(2)
        .map(|pair| (pair[1] - pair[0]) * (pair[1] - pair[0]))
        .sum();
    Some(libm::sqrt(square / (2.0 * (means.len() - 1) as f64)))
}

/// Means of `m` neighbours; what is left over at the end is dropped.
fn averaged(y: &[f64], m: usize) -> Vec<f64> {
    y.chunks_exact(m.max(1))
        .map(|some| some.iter().sum::<f64>() / some.len() as f64)
        .collect()
}

/// Which power of the frequency its noise goes with, 2 (white phase) to −2 (random walk of the frequency), by the correlation of
/// neighbours. `None` with fewer than thirty averages: it is not to be trusted then.
pub fn noise_power(y: &[f64], m: usize) -> Option<i32> {
    let mut z = averaged(y, m);
    if z.len() < 30 {
        return None;
    }
    let mut differences = 0;
    loop {
        let r = neighbours(&z);
        let delta = r / (1.0 + r);
        if delta < 0.25 || differences == 2 {
            let power = libm::round(-2.0 * delta) as i32 - 2 * differences;
            return Some(power.clamp(-2, 2));
        }
        z = z.windows(2).map(|pair| pair[1] - pair[0]).collect();
        differences += 1;
    }
}

/// The power of the noise that makes the deviation at `m` intervals: the least that is told at octaves up to there. `None` where none is.
///
/// Of noises that add, the one of the higher power fades sooner with the averaging time (NIST SP 1065, table 3: τ⁻² against τ⁻¹, τ⁰, τ¹
/// in the variance), so a longer time never shows a higher power than a shorter one. What looks so is chance of few averages: of 39, one
/// log in seven of white noise of the frequency was taken for noise of the phase, which has far more degrees of freedom.
pub fn prevailing_power(y: &[f64], m: usize) -> Option<i32> {
    let octaves = std::iter::successors(Some(1), |m| Some(2 * m)).take_while(|octave| *octave < m);
    let told = octaves.chain([m]).filter_map(|m| noise_power(y, m));
    told.min()
}

/// Correlation of neighbours.
pub fn neighbours(z: &[f64]) -> f64 {
    let mean = z.iter().sum::<f64>() / z.len() as f64;
    let all: f64 = z.iter().map(|one| (one - mean) * (one - mean)).sum();
    let next: f64 = z
        .windows(2)
        .map(|pair| (pair[0] - mean) * (pair[1] - mean))
        .sum();
    next / all
}

/// Equivalent degrees of freedom of the overlapped deviation (closed forms of NIST SP 1065, table 5), of `n` phases.
pub fn freedom(power: i32, n: usize, m: usize) -> f64 {
    let (n, m) = (n as f64, m as f64);
    match power {
        2 => (n + 1.0) * (n - 2.0 * m) / (2.0 * (n - m)),
        1 => {
            let a = libm::log((n - 1.0) / (2.0 * m));
            let b = libm::log((2.0 * m + 1.0) * (n - 1.0) / 4.0);
            libm::exp(libm::sqrt(a * b))
        }
        0 => (1.5 * (n - 1.0) / m - 2.0 * (n - 2.0) / n) * 4.0 * m * m / (4.0 * m * m + 5.0),
        -1 if m < 1.5 => 2.0 * (n - 2.0) * (n - 2.0) / (2.3 * n - 4.9),
        -1 => 5.0 * n * n / (4.0 * m * (n + 3.0 * m)),
        _ => {
            let of_all = (n - 1.0) * (n - 1.0) - 3.0 * m * (n - 1.0) + 4.0 * m * m;
            (n - 2.0) / m * of_all / ((n - 3.0) * (n - 3.0))
        }
    }
}

/// The range of a deviation with its degrees of freedom, two-sided, of probability `p`.
pub fn range(deviation: f64, freedom: f64, p: f64) -> (f64, f64) {
    let tail = 0.5 * (1.0 - p);
    let end = |q: f64| deviation * libm::sqrt(freedom / squares_quantile(q, freedom));
    (end(1.0 - tail), end(tail))
}

/// A straight line through values at times: its slope, the slope's standard uncertainty and its degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slope {
    /// Per unit of time.
    pub slope: f64,
    /// Standard uncertainty, where what is left scatters as white noise.
    pub u: f64,
    /// Degrees of freedom.
    pub nu: f64,
    /// Value at time 0.
    pub start: f64,
}

/// The straight line nearest to values at times; `None` with fewer than three.
pub fn slope(points: &[(f64, f64)]) -> Option<Slope> {
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let t0 = points.iter().map(|(t, _)| t).sum::<f64>() / n;
    let y0 = points.iter().map(|(_, y)| y).sum::<f64>() / n;
    let tt: f64 = points.iter().map(|(t, _)| (t - t0) * (t - t0)).sum();
    if tt <= 0.0 {
        return None;
    }
    let slope = points.iter().map(|(t, y)| (t - t0) * (y - y0)).sum::<f64>() / tt;
    let rest: f64 = points
        .iter()
        .map(|(t, y)| y - y0 - slope * (t - t0))
        .map(|left| left * left)
        .sum();
    let nu = n - 2.0;
    Some(Slope {
        slope,
        u: libm::sqrt(rest / nu / tt),
        nu,
        start: y0 - slope * t0,
    })
}

impl Slope {
    /// Half-width of its two-sided range of probability `p`.
    pub fn within(&self, p: f64) -> f64 {
        self.u * student_quantile(0.5 + 0.5 * p, self.nu)
    }
}
