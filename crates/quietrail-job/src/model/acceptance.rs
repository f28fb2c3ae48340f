//! What an oscillator's own data sheet asks of it, and what the analyser and the counter can show of that.

use super::{Detector, Figure};
use quietrail_units::{Amperes, DecibelMilliwatts, Decibels, Ratio, Seconds};

/// Limits of an oscillator by itself; what is not given is not judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Acceptance {
    /// Level into 50 Ω: its range.
    pub level: Option<Figure<DecibelMilliwatts>>,
    /// Highest harmonic, dBc.
    pub harmonics: Option<Figure<Decibels>>,
    /// The warm-up.
    pub warm_up: Option<WarmUp>,
    /// Largest offset from its frequency, either way, as a share.
    pub offset: Option<Figure<Ratio>>,
    /// Largest change in a day, either way, as a share.
    pub ageing: Option<Figure<Ratio>>,
    /// Largest distance from where it was after a pause, either way, as a share.
    pub retrace: Option<Figure<Ratio>>,
    /// Largest Allan deviation at averaging times.
    pub stability: Vec<(Figure<Ratio>, Figure<Seconds>)>,
}

/// The limit of a warm-up.
#[derive(Clone, Debug, PartialEq)]
pub struct WarmUp {
    /// After so long ...
    pub time: Figure<Seconds>,
    /// ... it is within this of its end, as a share.
    pub within: Figure<Ratio>,
    /// Highest current on the way.
    pub current: Option<Figure<Amperes>>,
}

/// How an analyser reads lines.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// Where it reads right, Hz.
    pub band: (f64, f64),
    /// Largest error of a level, dB.
    pub level: Option<f64>,
    /// Largest error of the ratio of two lines at different frequencies, dB.
    pub ratio: Option<f64>,
    /// Its noise in 1 Hz without attenuation, as displayed, dBm.
    pub noise: Option<f64>,
    /// Its own harmonics, dBc, at a level at its mixer, dBm.
    pub harmonics: Option<(f64, f64)>,
    /// How far below the reference level its display goes, dB.
    pub display: Option<f64>,
    /// How a reading is formed.
    pub detector: Option<Detector>,
}

/// How a counter counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Counting {
    /// rms of one time that it takes, s.
    pub timing: Option<f64>,
    /// Largest error of its time base, as a share.
    pub time_base: Option<f64>,
    /// Allan deviation of its reference at rising averaging times.
    pub reference: Vec<(f64, f64)>,
    /// Whether it averages inside its gate; unknown where the job does not say.
    pub averages_inside: Option<bool>,
}
