//! Ripple rejection points as one minimum-phase transfer from input to set point.
//!
//! `H(s) = d + Σ g s/(s + p) + Σ g p/(s + p)` with all of `d`, `g`, `p` positive. The point of best
//! rejection owns the constant; each point above it in frequency owns a high-pass section (rejection is lost
//! again), each below it a low-pass one. Each owner is turned until the curve passes through its point.

use quietrail_engine::Transfer;
use quietrail_engine::math::{exp, ln};
use quietrail_job::model::SetPoint;
use std::f64::consts::PI;

/// A high-pass section's pole over its point's frequency: the slope is still whole there, and the curve
/// levels off soon above.
const POLE_ABOVE: f64 = 3.0;
/// Turns of all owners; each brings the curve closer by a large factor.
const TURNS: usize = 200;

/// Frequency above which points are left out of a mains cycle, Hz: the ripple has nothing there that could be seen, and each
/// section is a store more in the equations and twice the time. The first point is always kept. Small signals see all.
const HIGHEST: f64 = 20e3;

/// Poles nearer to each other than this share are told apart.
const APART: f64 = 1e-3;

/// What a mains cycle sees of a curve: its points up to 20 kHz.
pub(super) fn fit_for_cycles(points: &[(f64, f64)]) -> Transfer {
    let counts = |(index, point): &(usize, &(f64, f64))| *index == 0 || point.0 <= HIGHEST;
    let seen: Vec<(f64, f64)> = points
        .iter()
        .enumerate()
        .filter(counts)
        .map(|(_, point)| *point)
        .collect();
    fit(&seen)
}

/// A transfer through points (Hz, dB of rejection, rising frequencies).
pub fn fit(points: &[(f64, f64)]) -> Transfer {
    let wanted: Vec<(f64, f64)> = points
        .iter()
        .map(|&(hertz, db)| (2.0 * PI * hertz, -db * ln(10.0) / 20.0))
        .collect();
    let Some(best) = (0..wanted.len()).min_by(|&a, &b| wanted[a].1.total_cmp(&wanted[b].1)) else {
        return Transfer::default();
    };
    let mut model = Model::new(&wanted, best);
    for _ in 0..TURNS {
        let mut worst: f64 = 0.0;
        for (k, &(omega, level)) in wanted.iter().enumerate() {
            let (now, share) = model.level(omega, k);
            let error = level - now;
            let gain = model.gains[k] + (error / share.max(0.2)).clamp(-2.0, 2.0);
            // A section that has nothing to add fades, but stays finite.
            model.take(k, gain.max(level - 12.0));
            worst = worst.max(error.abs());
        }
        if worst < 1e-13 {
            break;
        }
    }
    model.transfer()
}

/// Rejection with the adjust pin as the job has it: what a bare pin lets through grows with output over reference, and a
/// capacitor on it takes that growth away above its corner. A job that says nothing leaves the curve as it is.
pub(super) fn with_bypass(transfer: Transfer, set: &SetPoint) -> Transfer {
    let Some(pin) = set.adjust_pin() else {
        return transfer;
    };
    let Some(farads) = pin.bypass else {
        return transfer;
    };
    let gain = pin.lower / pin.upper;
    if farads <= 0.0 {
        let scale = 1.0 + gain;
        return Transfer {
            direct: scale * transfer.direct,
            sections: transfer
                .sections
                .iter()
                .map(|(g, p)| (scale * g, *p))
                .collect(),
        };
    }
    // (d + Σ g/(s + p)) (1 + q/(s + r)), q = gain r, in partial fractions; poles that meet are moved a little apart.
    let mut r = 1.0 / (pin.lower * farads);
    while transfer
        .sections
        .iter()
        .any(|(_, pole)| (pole / r - 1.0).abs() < APART)
    {
        r *= 1.0 + 2.0 * APART;
    }
    let q = gain * r;
    let mut own = q * transfer.direct;
    let mut sections = Vec::new();
    for &(g, p) in &transfer.sections {
        let shared = g * q / (r - p);
        sections.push((g + shared, p));
        own -= shared;
    }
    sections.push((own, r));
    Transfer {
        direct: transfer.direct,
        sections,
    }
}

/// What each point owns; gains as logarithms, so that they stay positive, and as they are.
struct Model {
    owners: Vec<Owner>,
    gains: Vec<f64>,
    sizes: Vec<f64>,
}

#[derive(Clone, Copy)]
enum Owner {
    Constant,
    HighPass { pole: f64 },
    LowPass { pole: f64 },
}

impl Model {
    fn new(wanted: &[(f64, f64)], best: usize) -> Self {
        let owner = |k: usize| match k.cmp(&best) {
            std::cmp::Ordering::Less => Owner::LowPass { pole: wanted[k].0 },
            std::cmp::Ordering::Equal => Owner::Constant,
            std::cmp::Ordering::Greater => Owner::HighPass {
                pole: POLE_ABOVE * wanted[k].0,
            },
        };
        Self {
            owners: (0..wanted.len()).map(owner).collect(),
            gains: wanted.iter().map(|point| point.1).collect(),
            sizes: wanted.iter().map(|point| exp(point.1)).collect(),
        }
    }

    fn take(&mut self, owner: usize, gain: f64) {
        self.gains[owner] = gain;
        self.sizes[owner] = exp(gain);
    }

    /// ln |H| at an angular frequency, and how it moves with the gain of one owner.
    fn level(&self, omega: f64, owner: usize) -> (f64, f64) {
        let (mut re, mut im) = (0.0, 0.0);
        let mut own = (0.0, 0.0);
        for (k, kind) in self.owners.iter().enumerate() {
            let g = self.sizes[k];
            let part = match *kind {
                Owner::Constant => (g, 0.0),
                Owner::HighPass { pole } => {
                    let scale = g * omega / (omega * omega + pole * pole);
                    (scale * omega, scale * pole)
                }
                Owner::LowPass { pole } => {
                    let scale = g * pole / (omega * omega + pole * pole);
                    (scale * pole, -scale * omega)
                }
            };
            re += part.0;
            im += part.1;
            if k == owner {
                own = part;
            }
        }
        let square = re * re + im * im;
        (0.5 * ln(square), (re * own.0 + im * own.1) / square)
    }

    fn transfer(&self) -> Transfer {
        let mut transfer = Transfer::default();
        for (k, kind) in self.owners.iter().enumerate() {
            let g = self.sizes[k];
            match *kind {
                Owner::Constant => transfer.direct += g,
                Owner::HighPass { pole } => {
                    // g s/(s + p) = g − g p/(s + p)
                    transfer.direct += g;
                    transfer.sections.push((-g * pole, pole));
                }
                Owner::LowPass { pole } => transfer.sections.push((g * pole, pole)),
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
            assert!(
                (got - db).abs() < 1.0,
                "{got:.2} dB for {db} dB at {hertz} Hz"
            );
        }
    }

    #[test]
    fn meets_every_point_within_a_decibel() {
        check(&[(120.0, 62.0)]);
        check(&[(120.0, 75.0), (10e3, 60.0)]);
        check(&[(100.0, 80.0), (1e3, 76.0), (10e3, 60.0)]);
        check(&[(10.0, 60.0), (120.0, 66.0), (10e3, 50.0)]);
        check(&[(120.0, 64.0), (1e3, 63.5), (20e3, 44.0)]);
    }
}
