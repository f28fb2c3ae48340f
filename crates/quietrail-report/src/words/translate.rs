//! What `translate` says.

use quietrail_study::level::{Shape, Statistic};
use quietrail_study::translate::{Need, NotALevel, Unit};

use crate::number;

/// A unit that means nothing for this shape.
pub const MEANINGLESS: &str = "means nothing for this shape";
/// Heads what is missing.
pub const MISSING: &str = "Not told, because it is not known:";
/// Stands for a value as it was given.
pub const AS_GIVEN: &str = "as given";
/// A job without a limit that could be translated.
pub const NO_LIMITS: &str =
    "No limit of this job is one of ripple or noise: there is nothing to translate.";
/// What a flat sensitivity leaves out.
pub const FLAT: &str = "The sensitivity is taken as the same at every frequency. A data sheet gives it for a slow change; at ripple \
     frequency it may differ by tens of decibels.";

/// What units of an oscillator take.
pub const OSCILLATOR: &str = "dBc, dBc/Hz, ppb: what a volt on the pin does to the oscillator (--shifts \"2 ppb/V\" with --carrier \"10 MHz\", or \
     --amplitude \"0.1 %/V\"), and the frequency at which it swings (--at \"100 Hz\")";

/// What a unit is called.
pub fn unit(unit: Unit) -> &'static str {
    match unit {
        Unit::PeakToPeak => "p-p",
        Unit::Peak => "peak",
        Unit::Rms => "rms",
        Unit::Density => "density",
        Unit::Dbv => "dBV",
        Unit::Dbm => "dBm",
        Unit::AveragingMeter => "averaging meter",
        Unit::Pull => "frequency, peak",
        Unit::ThroughFrequency => "sideband by frequency",
        Unit::ThroughAmplitude => "sideband by amplitude",
        Unit::PhaseNoise => "phase noise",
    }
}

/// What a unit is called in data.
pub fn key(unit: Unit) -> &'static str {
    match unit {
        Unit::PeakToPeak => "peak_to_peak_v",
        Unit::Peak => "peak_v",
        Unit::Rms => "rms_v",
        Unit::Density => "density_v_per_root_hz",
        Unit::Dbv => "dbv",
        Unit::Dbm => "dbm",
        Unit::AveragingMeter => "averaging_meter_v",
        Unit::Pull => "frequency_share_peak",
        Unit::ThroughFrequency => "sideband_by_frequency_dbc",
        Unit::ThroughAmplitude => "sideband_by_amplitude_dbc",
        Unit::PhaseNoise => "phase_noise_dbc_per_hz",
    }
}

/// What is missing.
pub fn need(need: Need) -> &'static str {
    match need {
        Need::Statistic => "whether it is p-p, peak or rms (write it behind the value)",
        Need::Shape => "what it looks like (--shape sine, triangle, sawtooth, square or noise)",
        Need::Band => "the band (--band \"10 Hz .. 100 kHz\")",
        Need::Ohms => "the resistance that the power goes into (--into \"50 Ω\")",
        Need::At => "the frequency at which it swings (--at \"100 Hz\")",
        Need::Carrier => "the oscillator's frequency (--carrier \"10 MHz\")",
        Need::Shifts => {
            "how far the voltage pulls the frequency (--shifts \"2 ppb/V\" or \"0.05 Hz/V\")"
        }
        Need::Amplitude => "how far the voltage moves the amplitude (--amplitude \"0.1 %/V\")",
    }
}

/// The key of what is missing in data.
pub fn need_key(need: Need) -> &'static str {
    match need {
        Need::Statistic => "statistic",
        Need::Shape => "shape",
        Need::Band => "band",
        Need::Ohms => "into",
        Need::At => "at",
        Need::Carrier => "carrier",
        Need::Shifts => "shifts",
        Need::Amplitude => "amplitude",
    }
}

/// `density: the band (--band …), and what it looks like (--shape …)`
pub fn missing(units: &str, needs: &str) -> String {
    format!("{units}: {needs}")
}

/// What it looks like.
pub fn shape(shape: Shape) -> String {
    match shape {
        Shape::Sine => "a sine".to_owned(),
        Shape::Triangle => "a triangle".to_owned(),
        Shape::Sawtooth => "a sawtooth".to_owned(),
        Shape::Square => "a square wave".to_owned(),
        Shape::Noise { crest } => format!("Gaussian noise, p-p taken as {crest} times rms"),
    }
}

/// How often noise is outside of what is called its peak-to-peak.
pub fn outside(share: f64) -> String {
    format!(
        "Noise has no highest value. It is outside this p-p for {} of the time.",
        number::si(100.0 * share, "%", 2)
    )
}

/// The statistic behind a value.
pub fn statistic(statistic: Statistic) -> &'static str {
    match statistic {
        Statistic::PeakToPeak => "p-p",
        Statistic::Peak => "peak",
        Statistic::Rms => "rms",
    }
}

/// `10 Hz .. 100 kHz, flat between the corners and nothing outside`
pub fn band(low: f64, high: f64) -> String {
    format!(
        "{} .. {}, nothing outside",
        number::written(low, "Hz"),
        number::written(high, "Hz")
    )
}

/// Why a text is no level.
pub fn not_a_level(why: &NotALevel) -> String {
    match why {
        NotALevel::NoReference(text) => format!(
            "{text} does not say against what: write dBV (a volt), dBm (a milliwatt, with --into), dBc (the carrier) or \
             dBc/Hz"
        ),
        NotALevel::Range(text) => format!("{text} is a range; one value is wanted"),
        NotALevel::NoUnit(text) => format!(
            "{text} has no unit: write {text} mV p-p, {text} mV rms, {text} nV/√Hz, {text} dBc or {text} ppb"
        ),
        NotALevel::NotPositive(text) => format!("{text} is not above zero"),
        NotALevel::Unreadable(said) => said.clone(),
    }
}

/// Neither a job nor a level.
pub fn neither(text: &str) -> String {
    format!(
        "{text} is no job here, and no level: name the folder of a job, or write a level such as \"20 mV p-p\", \"16 nV/√Hz\" or \"-120 dBc\""
    )
}

/// No limit of that name can be translated.
pub fn no_such_limit(name: &str, known: &[&str]) -> String {
    if known.is_empty() {
        return NO_LIMITS.to_owned();
    }
    format!(
        "no limit of ripple or noise is called {name}; there are{}",
        super::named::each_on_a_line(known)
    )
}
