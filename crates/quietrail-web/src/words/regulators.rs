//! What the view of the regulators says.

use quietrail_report::number;
use quietrail_report::words::{regulators::noise_wanted, why_not};
use quietrail_study::finding::WhyNot;
use quietrail_study::regulators::Cut;
use quietrail_study::translate::Need;

/// Its heading.
pub(crate) const TITLE: &str = "Regulators, noise, units";
/// A job without one.
pub(crate) const NONE: &str = "This job has no regulator and no pass transistor.";
/// Opens the rest of a card.
pub(crate) const MORE: &str = "set point, limit, starts, stability, diodes";
/// What is under its name.
pub(crate) const TRANSISTOR: &str = "pass transistor";
/// Head of what stands in its rows.
pub(crate) const FIGURE: &str = "figure";
/// Its table, for those who do not see it.
pub(crate) fn passes(part: &str) -> String {
    format!("{part} state by state")
}
/// While it is made.
pub(crate) const BEING_MADE: &str = "Starts from zero volts, and transistors, are still being computed; they come here by themselves.";
/// Heads the noise.
pub(crate) const NOISE: &str = "Noise in the limit's band";
/// Whose band.
pub(crate) const IN_BAND_OF: &str = "band of";
/// Without script.
pub(crate) const SHOW: &str = "Show";
/// No limit has a band.
pub(crate) const NO_BAND: &str = "No limit names a band. Write a limit on noise, or on ripple with its band, and what makes it is drawn here.";
/// Heads the table.
pub(crate) const TERMS: &str = "What makes it, largest first";
/// Column.
pub(crate) const SOURCE: &str = "source";
/// Column.
pub(crate) const SHARE: &str = "of the power";
/// Too little to count.
pub(crate) const UNDER_ONE: &str = "< 1\u{a0}%";
/// What so many sources too small to be told apart make.
pub(crate) fn others(sources: usize) -> String {
    match sources {
        1 => "one more".to_owned(),
        more => format!("{more} more, together"),
    }
}

/// Heads the translator.
pub(crate) const UNITS: &str = "A level in every unit";
/// The level.
pub(crate) const LEVEL: &str = "level";
/// Its shape.
pub(crate) const LOOKS_LIKE: &str = "looks like";
/// No shape.
pub(crate) const NOT_KNOWN: &str = "not known";
/// Sends it.
pub(crate) const SAY: &str = "Translate";
/// Nothing typed yet.
pub(crate) const TYPE_A_LEVEL: &str =
    "Type a level with its unit: 20 mV p-p, 16 nV/√Hz, −120 dBc. What is not known is not guessed.";
/// Heads what is missing.
pub(crate) const MISSING: &str = "Other units want:";

/// From where to where.
pub(crate) fn ends(from: &str, into: &str) -> String {
    format!("from {from} into {into}")
}

/// Over its tolerances.
pub(crate) fn over(low: &str, high: &str) -> String {
    format!("{low} .. {high} over its tolerances")
}

/// The table of a card, for those who do not see it.
pub(crate) fn judged(part: &str) -> String {
    format!("what the proof says of {part}")
}

/// No picture.
pub(crate) fn no_picture(why: &WhyNot) -> String {
    format!(
        "No noise is drawn: {}{}.",
        why_not(why, "V"),
        noise_wanted(why)
    )
}

/// A picture of a part of the band.
pub(crate) fn cut(cut: &Cut) -> String {
    let hertz = |value: f64| number::written(value, "Hz");
    let one = cut.figures.len() == 1;
    format!(
        "Over the whole band, {} .. {}: {} {} known from {} to {} only, and the picture ends there. Write {} for the whole band into the job, \
         as in noise = {{ total = \"42 µV\", band = \"10 Hz .. 100 kHz\" }}, from a data sheet that states it or from a reading.",
        hertz(cut.wanted.0),
        hertz(cut.wanted.1),
        cut.figures.join(" and "),
        if one { "is" } else { "are" },
        hertz(cut.known.0),
        hertz(cut.known.1),
        if one { "it" } else { "them" },
    )
}

/// Above a picture of noise at a limit on ripple alone.
pub(crate) fn ripple_alone(limit: &str, max: Option<&str>) -> String {
    let max = max.map_or_else(String::new, |max| format!(" ({max})"));
    format!(
        "The limit {limit}{max} is on ripple, what is locked to the mains, and leaves noise out: the noise here counts nowhere in its verdict. \
         To have both judged, write what = \"ripple and noise\"."
    )
}

/// Behind the total.
pub(crate) fn noise_at(state: &str) -> String {
    format!("with the mains and parts chosen, {state}")
}

/// The dominant one.
pub(crate) fn most(source: &str, share: &str) -> String {
    format!("{share} of its power is {source}")
}

/// A field that cannot be used.
pub(crate) fn above_zero(text: &str, example: &str) -> String {
    format!("read {text}; wanted is something like {example}")
}

/// What a unit wants.
pub(crate) fn need(need: Need) -> &'static str {
    match need {
        Need::Statistic => "p-p, peak or rms behind the value",
        Need::Shape => "what it looks like",
        Need::Band => "the band",
        Need::Ohms => "the resistance that a power goes into",
        Need::At => "the frequency at which it swings, or the distance from the carrier",
        Need::Carrier => "the carrier",
        Need::Shifts => "how far a volt shifts the frequency",
        Need::Amplitude => "how far a volt moves the amplitude",
    }
}
