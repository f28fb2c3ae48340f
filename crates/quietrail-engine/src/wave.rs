//! What sources deliver: sums of a few functions of time.

use crate::math;
use std::f64::consts::PI;

/// A function of time that sources share. Time is counted in mains cycles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Basis {
    /// 1, always.
    One,
    /// `sin(2π n t)`, n-th harmonic of the mains.
    Sine(u32),
    /// A smooth step from 0 to 1: `(1 + tanh((t − at)/width))/2`, both in cycles. Not periodic.
    Step {
        /// Middle of the step.
        at: f64,
        /// Its width.
        width: f64,
    },
}

/// A sum of basis functions.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wave(pub Vec<(Basis, f64)>);

impl Basis {
    /// Its value at a time in cycles.
    pub fn at(self, cycles: f64) -> f64 {
        match self {
            Basis::One => 1.0,
            Basis::Sine(n) => {
                // Reduced to one cycle first: the argument keeps its digits after many cycles.
                let phase = f64::from(n) * cycles;
                math::sin(2.0 * PI * (phase - phase.floor()))
            }
            Basis::Step { at, width } => 0.5 * (1.0 + math::tanh((cycles - at) / width)),
        }
    }
}

impl Wave {
    /// A constant.
    pub fn constant(value: f64) -> Self {
        Self(vec![(Basis::One, value)])
    }

    /// A sine of the mains frequency, by its peak.
    pub fn sine(peak: f64) -> Self {
        Self(vec![(Basis::Sine(1), peak)])
    }

    /// The wave of an outlet: `A (sin θ + a sin 3θ)` with `A` such that the rms is as stated.
    ///
    /// `flatness` is `a`, 0 (a sine, crest 1.414) to 1/9 (the flattest top without a dip, crest 1.249).
    pub fn mains(rms: f64, flatness: f64) -> Self {
        let amplitude = rms * (2.0 / (1.0 + flatness * flatness)).sqrt();
        Self(vec![
            (Basis::Sine(1), amplitude),
            (Basis::Sine(3), flatness * amplitude),
        ])
    }

    /// A value that steps from one constant to another, times in cycles.
    pub fn step(first: f64, last: f64, at: f64, width: f64) -> Self {
        Self(vec![
            (Basis::One, first),
            (Basis::Step { at, width }, last - first),
        ])
    }

    /// Its value at a time in cycles.
    pub fn at(&self, cycles: f64) -> f64 {
        self.0
            .iter()
            .map(|(basis, amplitude)| amplitude * basis.at(cycles))
            .sum()
    }

    /// An upper bound of its size.
    pub fn bound(&self) -> f64 {
        self.0.iter().map(|(_, amplitude)| amplitude.abs()).sum()
    }
}
