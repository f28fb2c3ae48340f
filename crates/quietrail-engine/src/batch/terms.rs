//! Linear functions of unknowns and sources, eight at a time: places, and the factors of each lane.

use super::lanes::{Lanes, WIDTH};
use crate::system::Probe;

/// Places of a linear function of unknowns and sources.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Terms {
    pub(crate) x: Vec<usize>,
    pub(crate) s: Vec<usize>,
}

/// Its factors.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Factors {
    pub(crate) x: Vec<Lanes>,
    pub(crate) s: Vec<Lanes>,
}

impl Terms {
    pub(crate) fn of(probe: &Probe) -> Self {
        Self {
            x: probe.x.iter().map(|term| term.0).collect(),
            s: probe.s.iter().map(|term| term.0).collect(),
        }
    }

    /// Whether a function has no terms but in these places.
    pub(crate) fn take(&self, probe: &Probe) -> bool {
        let known = |terms: &[(usize, f64)], places: &[usize]| {
            terms.iter().all(|(index, _)| places.contains(index))
        };
        known(&probe.x, &self.x) && known(&probe.s, &self.s)
    }

    /// Factors of the same function in eight systems; `None` where one has a term in another place.
    pub(crate) fn gather(&self, probes: [&Probe; WIDTH]) -> Option<Factors> {
        let mut factors = Factors {
            x: vec![Lanes::ZERO; self.x.len()],
            s: vec![Lanes::ZERO; self.s.len()],
        };
        for (k, probe) in probes.iter().enumerate() {
            for (terms, places, into) in [
                (&probe.x, &self.x, &mut factors.x),
                (&probe.s, &self.s, &mut factors.s),
            ] {
                for &(index, value) in terms {
                    let place = places.iter().position(|known| *known == index)?;
                    into[place].0[k] = value;
                }
            }
        }
        Some(factors)
    }
}

impl Factors {
    #[inline(always)]
    pub(crate) fn linear(&self, terms: &Terms, x: &[Lanes]) -> Lanes {
        let mut sum = Lanes::ZERO;
        for (factor, &index) in self.x.iter().zip(&terms.x) {
            sum += *factor * x[index];
        }
        sum
    }

    #[inline(always)]
    pub(crate) fn driven(&self, terms: &Terms, s: &[Lanes]) -> Lanes {
        let mut sum = Lanes::ZERO;
        for (factor, &index) in self.s.iter().zip(&terms.s) {
            sum += *factor * s[index];
        }
        sum
    }

    /// How large its terms are, all taken as positive.
    pub(crate) fn size(&self, terms: &Terms, x: &[Lanes], s: &[Lanes]) -> Lanes {
        let mut sum = Lanes::ZERO;
        for (factor, &index) in self.x.iter().zip(&terms.x) {
            sum += (*factor * x[index]).abs();
        }
        for (factor, &index) in self.s.iter().zip(&terms.s) {
            sum += (*factor * s[index]).abs();
        }
        sum
    }

    #[inline(always)]
    pub(crate) fn at(&self, terms: &Terms, x: &[Lanes], s: &[Lanes]) -> Lanes {
        self.linear(terms, x) + self.driven(terms, s)
    }
}
