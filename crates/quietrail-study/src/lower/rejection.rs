//! Ripple rejection points as one minimum-phase transfer from input to set point.
//!
//! `H(s) = d + Σ g s/(s + p) + Σ g p/(s + p)` with all of `d`, `g`, `p` positive: high-pass sections make
//! the rejection fall with frequency, low-pass ones make it rise. Sections are added until every point is
//! met within half a decibel, or there are as many as points.

use quietrail_engine::Transfer;
use quietrail_engine::math::{exp, ln};
use std::f64::consts::PI;

/// Error at which no more sections are added, in nepers (half a decibel).
const CLOSE: f64 = 0.5 / 8.685_889_638_065_037;

/// Fits a transfer to points (Hz, dB of rejection).
pub fn fit(points: &[(f64, f64)]) -> Transfer {
    let wanted: Vec<(f64, f64)> =
        points.iter().map(|&(hertz, db)| (2.0 * PI * hertz, -db * ln(10.0) / 20.0)).collect();
    if wanted.is_empty() {
        return Transfer::default();
    }
    let lowest = wanted.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
    let mut model = Model { direct: lowest, sections: Vec::new() };
    model.refine(&wanted);
    while model.worst(&wanted) > CLOSE && model.sections.len() < wanted.len() {
        let mut candidates: Vec<Model> = Vec::new();
        for &(omega, level) in &wanted {
            for is_high_pass in [true, false] {
                for factor in [0.3, 3.0, 30.0] {
                    let mut candidate = model.clone();
                    candidate.sections.push(Section { is_high_pass, gain: level, pole: ln(omega * factor) });
                    candidate.refine(&wanted);
                    candidates.push(candidate);
                }
            }
        }
        let best = candidates.into_iter().min_by(|a, b| a.worst(&wanted).total_cmp(&b.worst(&wanted)));
        match best {
            Some(best) if best.worst(&wanted) < model.worst(&wanted) => model = best,
            _ => break,
        }
    }
    model.transfer()
}

/// All parameters as logarithms, so that they stay positive.
#[derive(Clone)]
struct Model {
    direct: f64,
    sections: Vec<Section>,
}

#[derive(Clone, Copy)]
struct Section {
    is_high_pass: bool,
    gain: f64,
    pole: f64,
}

impl Model {
    /// ln |H| at an angular frequency.
    fn level(&self, omega: f64) -> f64 {
        let (mut re, mut im) = (exp(self.direct), 0.0);
        for section in &self.sections {
            let (g, p) = (exp(section.gain), exp(section.pole));
            let scale = g / (omega * omega + p * p);
            if section.is_high_pass {
                re += scale * omega * omega;
                im += scale * omega * p;
            } else {
                re += scale * p * p;
                im -= scale * omega * p;
            }
        }
        0.5 * ln(re * re + im * im)
    }

    fn worst(&self, wanted: &[(f64, f64)]) -> f64 {
        wanted.iter().map(|&(omega, level)| (self.level(omega) - level).abs()).fold(0.0, f64::max)
    }

    fn cost(&self, wanted: &[(f64, f64)]) -> f64 {
        let square = |&(omega, level): &(f64, f64)| {
            let error = self.level(omega) - level;
            error * error
        };
        wanted.iter().map(square).sum()
    }

    fn parameters(&mut self) -> Vec<&mut f64> {
        let mut all = vec![&mut self.direct];
        for section in &mut self.sections {
            all.push(&mut section.gain);
            all.push(&mut section.pole);
        }
        all
    }

    /// Pattern search over all parameters: few, smooth, and cheap to evaluate.
    fn refine(&mut self, wanted: &[(f64, f64)]) {
        let mut step = 1.0;
        let mut cost = self.cost(wanted);
        while step > 1e-4 {
            let mut improved = false;
            for index in 0..=2 * self.sections.len() {
                for sign in [1.0, -1.0] {
                    let mut moved = self.clone();
                    *moved.parameters()[index] += sign * step;
                    let moved_cost = moved.cost(wanted);
                    if moved_cost < cost {
                        *self = moved;
                        cost = moved_cost;
                        improved = true;
                    }
                }
            }
            if !improved {
                step *= 0.5;
            }
        }
    }

    fn transfer(&self) -> Transfer {
        let mut transfer = Transfer { direct: exp(self.direct), sections: Vec::new() };
        for section in &self.sections {
            let (g, p) = (exp(section.gain), exp(section.pole));
            if section.is_high_pass {
                // g s/(s + p) = g − g p/(s + p)
                transfer.direct += g;
                transfer.sections.push((-g * p, p));
            } else {
                transfer.sections.push((g * p, p));
            }
        }
        transfer
    }
}

#[cfg(test)]
mod tests {
    use super::fit;
    use quietrail_engine::math::ln;
    use std::f64::consts::PI;

    /// Rejection of a fitted transfer in decibels.
    fn rejection(points: &[(f64, f64)], hertz: f64) -> f64 {
        let transfer = fit(points);
        let omega = 2.0 * PI * hertz;
        let (mut re, mut im) = (transfer.direct, 0.0);
        for (gain, pole) in transfer.sections {
            let scale = gain / (omega * omega + pole * pole);
            re += scale * pole;
            im -= scale * omega;
        }
        -10.0 * ln(re * re + im * im) / ln(10.0)
    }

    #[track_caller]
    fn check(points: &[(f64, f64)]) {
        for &(hertz, db) in points {
            let got = rejection(points, hertz);
            assert!((got - db).abs() < 1.0, "{got:.2} dB for {db} dB at {hertz} Hz");
        }
    }

    #[test]
    fn meets_every_point_within_a_decibel() {
        check(&[(120.0, 62.0)]);
        check(&[(120.0, 75.0), (10e3, 60.0)]);
        check(&[(100.0, 80.0), (1e3, 76.0), (10e3, 60.0), (100e3, 40.0)]);
        check(&[(10.0, 60.0), (120.0, 66.0), (10e3, 50.0)]);
        check(&[(120.0, 64.0), (1e3, 64.0), (1e6, 20.0)]);
    }
}
