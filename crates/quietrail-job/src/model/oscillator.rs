//! What a supply does to the oscillator that it feeds.

use super::{Acceptance, Figure, Span};
use quietrail_units::{Decibels, Hertz, HertzPerVolt, PerVolt};

/// An oscillator with the pins through which its supply reaches its spectrum.
#[derive(Clone, Debug, PartialEq)]
pub struct Oscillator {
    /// Unique among oscillators.
    pub name: String,
    /// Carrier.
    pub frequency: Figure<Hertz>,
    /// Its pins, supply first.
    pub pins: Vec<Pin>,
    /// Highest line that is allowed beside the carrier, dBc.
    pub spurs: Option<Figure<Decibels>>,
    /// Its own phase noise, dBc in a hertz at rising distances from the carrier; may be empty.
    pub noise: Vec<(Figure<Hertz>, Figure<Decibels>)>,
    /// What its own data sheet asks of it.
    pub acceptance: Acceptance,
    /// Where its table starts.
    pub span: Span,
}

/// A pin of an oscillator.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// `supply` or `tuning`.
    pub name: &'static str,
    /// Node, and the node it is measured against.
    pub nodes: (String, String),
    /// What a volt does to the frequency.
    pub shifts: Option<Shifts>,
    /// What a volt does to the amplitude, as a share.
    pub amplitude: Option<Figure<PerVolt>>,
    /// Frequency up to which these were measured; `None`: for a slow change only.
    pub flat_to: Option<Figure<Hertz>>,
}

/// How far a volt pulls the frequency.
#[derive(Clone, Debug, PartialEq)]
pub enum Shifts {
    /// Hertz per volt.
    Hertz(Figure<HertzPerVolt>),
    /// Share of the carrier per volt.
    Share(Figure<PerVolt>),
}

impl Shifts {
    /// Hertz per volt, for a carrier.
    pub fn hertz_per_volt(&self, carrier: f64) -> f64 {
        match self {
            Shifts::Hertz(slope) => slope.nominal(),
            Shifts::Share(slope) => slope.nominal() * carrier,
        }
    }
}
