//! How much noise a part makes, as its data sheet says it.

use super::Figure;
use quietrail_units::{Hertz, Ratio, Volts, VoltsPerRootHertz};

/// Noise of a regulator's output or of its reference.
#[derive(Clone, Debug, PartialEq)]
pub struct Noise {
    /// How much, at which frequencies.
    pub density: Density,
    /// Output voltage at which the figure stands; it then grows in proportion to the output. `None`: it stands at any
    /// output.
    pub at: Option<Figure<Volts>>,
}

/// Noise over frequency.
#[derive(Clone, Debug, PartialEq)]
pub enum Density {
    /// Flat, with a rise as one over the frequency (in power) below a corner.
    Flat {
        /// V/√Hz
        level: Figure<VoltsPerRootHertz>,
        /// Corner of the rise.
        corner: Option<Figure<Hertz>>,
    },
    /// Points of a curve, rising frequencies; straight between them over both logarithms, unknown beyond.
    Points(Vec<(Figure<Hertz>, Figure<VoltsPerRootHertz>)>),
    /// rms over a band, taken as flat in it and unknown beyond.
    Total {
        /// V rms.
        volts: Figure<Volts>,
        /// Lower corner, Hz.
        low: f64,
        /// Upper corner, Hz.
        high: f64,
    },
    /// rms over a band as a share of the output voltage.
    Share {
        /// rms over output.
        share: Figure<Ratio>,
        /// Lower corner, Hz.
        low: f64,
        /// Upper corner, Hz.
        high: f64,
    },
}

impl Density {
    /// Frequencies between which it is known.
    pub fn known(&self) -> (f64, f64) {
        match self {
            Density::Flat { .. } => (0.0, f64::INFINITY),
            Density::Points(points) => {
                let hertz = |point: Option<&(Figure<Hertz>, Figure<VoltsPerRootHertz>)>| {
                    point.map_or(0.0, |point| point.0.nominal())
                };
                (hertz(points.first()), hertz(points.last()))
            }
            Density::Total { low, high, .. } | Density::Share { low, high, .. } => (*low, *high),
        }
    }
}
