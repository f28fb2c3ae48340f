//! The band of a limit against the band of an instrument.

use super::{Asked, Path, Why};
use quietrail_job::model::{Band, What};

/// What is predicted to be there, frequency by frequency.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Content(
    /// Frequency in Hz and rms in SI.
    pub Vec<(f64, f64)>,
);

/// How far an instrument covers the band of a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cover {
    /// Just it.
    Just,
    /// That and more: the reading is at least what the limit means.
    More,
    /// Less; this much, as predicted with a factor in hand, it leaves out.
    Less {
        /// rms, SI.
        missing: f64,
    },
}

/// Factor on what is predicted outside the band: a prediction of harmonics is not a reading.
const IN_HAND: f64 = 2.0;

/// Frequencies this close count as the same corner.
const NEAR: f64 = 1.05;

impl Content {
    /// rms of what lies outside a band.
    pub fn outside(&self, low: f64, high: f64) -> f64 {
        let square: f64 = self
            .0
            .iter()
            .filter(|(hertz, _)| *hertz < low || *hertz > high)
            .map(|(_, rms)| rms * rms)
            .sum();
        libm::sqrt(square)
    }

    /// The same of what lies between two frequencies.
    fn between(&self, low: f64, high: f64) -> Content {
        let inside = self
            .0
            .iter()
            .filter(|(hertz, _)| *hertz >= low && *hertz <= high);
        Content(inside.copied().collect())
    }
}

/// The band that counts: of ripple nothing lies below the mains frequency.
pub(super) fn wanted(asked: &Asked) -> (f64, f64) {
    let (low, high) = match asked.band {
        Some(Band::BrickWall { low, high } | Band::Poles { low, high }) => (low, high),
        None => (0.0, f64::INFINITY),
    };
    let locked = matches!(asked.what, What::Ripple | What::RipplePeakToPeak);
    if locked {
        (low.max(asked.mains_hertz), high)
    } else {
        (low, high)
    }
}

/// Compares the two bands.
pub(super) fn cover(asked: &Asked, path: &Path<'_>) -> Result<Cover, Why> {
    let wanted = wanted(asked);
    let Some(own) = path.band() else {
        // Without a band on either side there is nothing to compare.
        return if asked.band.is_none() {
            Ok(Cover::Just)
        } else {
            Err(Why::BandUnknown)
        };
    };
    let covers_low = own.0 <= wanted.0 * NEAR;
    let covers_high = own.1 * NEAR >= wanted.1;
    if covers_low && covers_high {
        let is_just = own.1 <= wanted.1 * NEAR;
        return Ok(if is_just { Cover::Just } else { Cover::More });
    }
    let locked = matches!(asked.what, What::Ripple | What::RipplePeakToPeak);
    if locked && !asked.content.0.is_empty() {
        let missing = asked
            .content
            .between(wanted.0, wanted.1)
            .outside(own.0, own.1);
        return Ok(Cover::Less {
            missing: IN_HAND * missing,
        });
    }
    Err(Why::BandTooNarrow {
        low: own.0,
        high: own.1,
    })
}

/// The band of an ammeter for alternating current that leaves out the mains.
pub(super) fn without_mains(asked: &Asked, path: &Path<'_>) -> Option<(f64, f64)> {
    let band = path.band().filter(|_| asked.what == What::RmsCurrent);
    band.filter(|(low, high)| asked.mains_hertz < *low || asked.mains_hertz > *high)
}
