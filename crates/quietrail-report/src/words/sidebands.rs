//! What `sidebands` says.

use crate::number;

/// A job without an oscillator.
pub const NONE: &str =
    "the job names no oscillator: write [oscillator.X1] with its frequency and its supply pin";
/// Heads the slow pulls.
pub const PULLS: &str = "Slow pulls of the frequency, parts as marked:";
/// Heads the phase noise.
pub const NOISE: &str = "Phase noise that the supply makes, beside the oscillator's own:";
/// No ripple on the pin.
pub const NO_LINES: &str = "no ripple on it";
/// No sensitivity is given.
pub const NO_SENSITIVITY: &str =
    "not shown: the job does not say what a volt on this pin does (shifts, amplitude)";
/// What the figures lean on.
pub const HONEST: &str = "Each sensitivity is taken as the same at every frequency. What a data sheet gives holds for a slow change; at ripple \
     frequency it may differ by tens of decibels, either way. Measure it: put a known ripple on the pin, a hundred times \
     what is there, and read the line.";

/// `X1, supply pin, warm`
pub fn heading(oscillator: &str, pin: &str, state: &str) -> String {
    format!("{oscillator}, {pin} pin, {state}")
}

/// The verdict on lines.
pub fn holds(strongest: &str, allowed: &str) -> String {
    format!("predicted to hold: strongest line {strongest}, allowed {allowed}")
}

/// The same where it fails.
pub fn fails(strongest: &str, allowed: &str) -> String {
    format!("FAILS: strongest line {strongest}, allowed {allowed}")
}

/// The same where the sensitivity is not known there.
pub fn not_measured(strongest: &str, allowed: &str, hertz: f64, flat_to: Option<f64>) -> String {
    let known = match flat_to {
        Some(to) => format!("measured up to {}", number::written(to, "Hz")),
        None => "given for a slow change".to_owned(),
    };
    format!(
        "not shown: {strongest} where {allowed} is allowed, if what is {known} holds at {} too",
        number::written(hertz, "Hz")
    )
}

/// `100 Hz  29.7 µV rms  −152.0 dBc, through the frequency`
pub fn line(hertz: &str, rms: &str, levels: &str, allowed: &str) -> String {
    format!("{hertz:>9}  {rms:>11} rms  {levels}{allowed}")
}

/// How lines come about.
pub fn by(frequency: Option<&str>, amplitude: Option<&str>) -> String {
    match (frequency, amplitude) {
        (Some(f), Some(a)) => format!("{f} by frequency, {a} by amplitude"),
        (Some(f), None) => format!("{f} by frequency"),
        (None, Some(a)) => format!("{a} by amplitude"),
        (None, None) => "no sensitivity given".to_owned(),
    }
}

/// `; up to 3.2 mV rms is allowed`
pub fn allowed(rms: &str) -> String {
    format!("; {rms} rms is allowed")
}

/// How far below its own.
pub fn below(decibels: f64, stop: f64) -> String {
    let size = format!("{:.0}", decibels.abs());
    if decibels >= stop {
        format!("{size} dB below its own: stop here")
    } else if decibels >= 0.0 {
        format!("{size} dB below its own")
    } else {
        format!("{size} dB above its own")
    }
}

/// The load going from one state to another.
pub fn state(from: &str, to: &str) -> String {
    format!("load from {from} to {to}, its returns included")
}

/// The mains from end to end.
pub fn mains(state: &str) -> String {
    format!("mains from lowest to highest, {state}")
}

/// The set point with temperature.
pub fn temperature(part: &str, ppm: &str, kelvins: &str) -> String {
    format!("{part} set point, {ppm}/K over {kelvins} of room")
}
