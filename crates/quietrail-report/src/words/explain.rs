//! What `explain` says.

use quietrail_job::model::Band;
use quietrail_study::explain::{Formula, Label, Statistic, Warmth, Way};

use crate::number;

/// While the corner is looked for.
pub const LOOKING: &str = "looking for the worst corner";
/// Heads the figures that move the result.
pub const MOVERS: &str = "What moves it most, each put back as marked at that corner:";
/// Heads the figures of the job in the sum.
pub const INPUTS: &str = "Figures of the job in it, at that corner:";
/// Heads the harmonics of a ripple.
pub const HARMONICS: &str = "Its strongest harmonics, rms, before any band:";
/// Stands before the corner.
pub const CORNER: &str = "Worst corner found: ";
/// The figure at nominal.
pub const AS_MARKED: &str = "With parts as marked at nominal mains: ";
/// Heads what a diagnostic checks.
pub const CHECKS: &str = "Checks: ";
/// Heads why it matters.
pub const WHY: &str = "Why: ";
/// Heads the job that fails.
pub const FAILS: &str = "Fails:";
/// Heads the job that reads.
pub const MENDED: &str = "Mended:";

/// `U1 headroom, cold: −460 mV; min 0 mV; margin −460 mV`
pub fn headline(limit: &str, value: &str, allowed: &str, margin: &str) -> String {
    format!("{limit}: {value}; {allowed}; margin {margin}")
}

/// Beside what a sum comes to, where fewer digits of it are said elsewhere.
pub fn said_as(value: &str) -> String {
    format!("said as {value}")
}

/// How the terms make the figure.
pub fn formula(formula: Formula) -> &'static str {
    match formula {
        Formula::Headroom => {
            "Headroom is the lowest input, less what the output should be, less the dropout at that current. \
             It is measured against what the output should be, not against what it sags to."
        }
        Formula::CollectorToEmitter => {
            "Headroom of a transistor is the lowest voltage from collector to emitter, less what it needs there at that \
             current: below that it is saturated, and what comes in comes through."
        }
        Formula::Temperature => {
            "A temperature is the air, and power times thermal resistance for each way that the heat takes."
        }
        Formula::Life => {
            "Life doubles for every ten kelvins below the rated temperature: L0 × 2^((T0 − T)/10), the \
             ten-degree rule as makers' notes give it."
        }
        Formula::InBand => "The whole ripple, and the share of its rms that the band keeps.",
        Formula::Equivalent => {
            "The whole alternating current, and what the frequency of the rating makes of it: the current that \
             would heat the part alike."
        }
        Formula::Noise => {
            "The root of the sum of squares: these have nothing to do with each other. Each is what its source puts \
             there inside the band, through the circuit's own filters."
        }
        Formula::PeakToPeak => "The highest instant less the lowest.",
        Formula::Read => {
            "Read straight from the steady cycle: there is no sum behind it but the circuit itself."
        }
        Formula::Largest => {
            "The largest of these, each read straight from the steady cycle: there is no sum behind them but \
             the circuit itself."
        }
        Formula::Power => {
            "Mean of volts times amperes over the steady cycle, all elements of the part together."
        }
        Formula::Start => {
            "An integration from switching on, all capacitors empty, until the level stays where it swings when settled, \
             or within 5 % of its mean beyond that."
        }
        Formula::HoldUp => {
            "An integration from the steady cycle, the outlet at zero volts from the instant at which that leaves least, until \
             the level is passed; no longer than 2 s."
        }
        Formula::Supplied => "Mean current that the load gets, over what it asks for.",
    }
}

/// Formula as a stable word for scripts.
pub fn formula_id(formula: Formula) -> &'static str {
    match formula {
        Formula::Headroom => "headroom",
        Formula::CollectorToEmitter => "collector to emitter",
        Formula::Temperature => "temperature",
        Formula::Life => "life",
        Formula::InBand => "in band",
        Formula::Equivalent => "equivalent current",
        Formula::Noise => "noise",
        Formula::PeakToPeak => "peak to peak",
        Formula::Read => "read",
        Formula::Largest => "largest",
        Formula::Power => "power",
        Formula::Start => "start",
        Formula::HoldUp => "hold_up",
        Formula::Supplied => "supplied",
    }
}

/// What a term is.
pub fn label(label: &Label) -> String {
    match label {
        Label::Read { statistic, of } => format!("{} of {of}", read(*statistic)),
        Label::SetPoint { part } => format!("set point of {part}"),
        Label::OutputDrop { part, .. } => format!("fall of {part} under load"),
        Label::Dropout { part, .. } => format!("dropout of {part}"),
        Label::Saturation { part, .. } => format!("saturation of {part}"),
        Label::Room => "room".to_owned(),
        Label::BoxRise | Label::BoxHeat(_) => "rise of the air in the box".to_owned(),
        Label::SinkRise { sink, .. } => format!("rise of {sink} over the air"),
        Label::Rise { part, way, .. } => format!("{part}, {}", over(*way)),
        Label::CopperRise { part } => format!("rise of the copper of {part}"),
        Label::SelfHeating { part, .. } => format!("self-heating of {part}"),
        Label::RatedLife => "life at the rating".to_owned(),
        Label::RatedTemperature => "temperature of the rating".to_owned(),
        Label::Can => "temperature of the can".to_owned(),
        Label::Doublings { .. } => "doublings".to_owned(),
        Label::BandShare(_) => "share inside the band".to_owned(),
        Label::Noise(source) => super::noise_source(source),
        Label::OtherNoise(1) => "one more source".to_owned(),
        Label::OtherNoise(count) => format!("{count} more sources"),
        Label::RippleInBand => "ripple inside the band".to_owned(),
        Label::RatingShare { .. } => "factor of the rating".to_owned(),
        Label::Power { part } => format!("mean power into {part}"),
        Label::Asked { part } => format!("what {part} asks for"),
        Label::Settles => "time until it stays there".to_owned(),
        Label::Holds => "time until it is passed".to_owned(),
    }
}

/// How a term comes about.
pub fn how(label: &Label) -> String {
    let at = |amps: f64| number::in_hand(amps, "A");
    match label {
        Label::Noise(_) | Label::OtherNoise(_) | Label::RippleInBand => "rms".to_owned(),
        Label::Read { .. } | Label::Power { .. } => "read from the steady cycle".to_owned(),
        Label::SetPoint { .. } => "what the output should be".to_owned(),
        Label::OutputDrop { amps, ohms, .. } => {
            format!("{} × {}", at(*amps), number::si(*ohms, "Ω", 3))
        }
        Label::Dropout { amps, .. } => {
            format!("at {}, on the line through its points", at(*amps))
        }
        Label::Saturation { amps, .. } => {
            format!("at {}, on the line through its figure", at(*amps))
        }
        Label::Room | Label::BoxRise | Label::CopperRise { .. } => "as the job gives it".to_owned(),
        Label::BoxHeat(warmth) => format!("{}, all heat in the box", times(*warmth)),
        Label::SinkRise { heats, warmth, .. } => {
            format!("{}, heat of {}", times(*warmth), heats.join(", "))
        }
        Label::Rise { warmth, .. } => times(*warmth),
        Label::SelfHeating {
            amps,
            rated,
            at_rated,
            ..
        } => format!(
            "{} × ({} / {})², common practice, no source",
            number::si(*at_rated, "K", 2),
            at(*amps),
            at(*rated)
        ),
        Label::RatedLife | Label::RatedTemperature => "the part's rating".to_owned(),
        Label::Can => "air and self-heating".to_owned(),
        Label::Doublings { halves } => {
            format!("(rated less can) / {}", number::written(*halves, "K"))
        }
        Label::BandShare(band) => inside(band),
        Label::RatingShare {
            hertz,
            has_multipliers: true,
        } => format!(
            "multipliers by frequency, rated at {}",
            number::written(*hertz, "Hz")
        ),
        Label::RatingShare { hertz, .. } => format!(
            "no multipliers given, rated at {}, less below",
            number::written(*hertz, "Hz")
        ),
        Label::Asked { .. } => "its draw in this state".to_owned(),
        Label::Settles => "integrated from rest".to_owned(),
        Label::Holds => "integrated without mains".to_owned(),
    }
}

/// What was solved: `Solved: the steady mains cycle at 207 V, 50 Hz; …`
pub fn solved(
    mains: &str,
    hertz: &str,
    charge: f64,
    energy: f64,
    residual: f64,
    floquet: f64,
) -> String {
    format!(
        "Solved: the steady mains cycle at {mains}, {hertz}; settled to {residual:.0e}; charge balance \
         {charge:.0e}, energy balance {energy:.0e}, each as a share; left alone, what \
         disturbs it is down to {floquet:.2} of itself one cycle later."
    )
}

/// `Worst found in 240 solutions of this state; …`
pub fn effort(solutions: u64, corners: u64) -> String {
    format!(
        "Worst found among {corners} corners of this state, {solutions} solutions; worst found is not proven worst."
    )
}

/// `as marked it would be 1850 mV`
pub fn without(value: &str) -> String {
    format!("as marked it would be {value}")
}

/// `asked by: oscillator data sheet, supply table`
pub fn asked_by(from: &str) -> String {
    format!("Asked by: {from}")
}

/// A diagnostic that does not exist.
pub fn no_such_code(code: &str, first: &str, last: &str) -> String {
    format!("no diagnostic has the code {code}; they go from {first} to {last}")
}

/// A limit that the job does not ask.
pub fn no_such_limit(limit: &str, known: &[String]) -> String {
    let near = super::named::meant(limit, known);
    if near.is_empty() {
        return format!(
            "the job asks nothing of the name {limit}; it asks{}",
            super::named::each_on_a_line(known)
        );
    }
    format!(
        "the job asks nothing of the name {limit}; did you mean{}",
        super::named::each_on_a_line(&near)
    )
}

/// No limit was named.
pub fn name_one<S: AsRef<str>>(known: &[S]) -> String {
    format!(
        "name the limit to explain:{}",
        super::named::each_on_a_line(known)
    )
}

/// A limit that is not asked in a state.
pub fn not_in_state(limit: &str, state: &str, states: &[String]) -> String {
    format!(
        "{limit} is not asked in {state}, only in {}",
        states.join(", ")
    )
}

/// A limit without a figure.
pub fn not_shown(limit: &str, why: &str) -> String {
    format!("{limit}, not shown: {why}.")
}

/// `10 Hz to 100 kHz, nothing outside`
fn inside(band: &Band) -> String {
    let hertz = |value: f64| number::written(value, "Hz");
    match *band {
        Band::BrickWall { low, high } => {
            format!("{} to {}, nothing outside", hertz(low), hertz(high))
        }
        Band::Poles { low, high } => {
            format!("poles at {} and {}", hertz(low), hertz(high))
        }
    }
}

fn times(warmth: Warmth) -> String {
    format!(
        "{} × {}",
        number::si(warmth.watts, "W", 3),
        number::si(warmth.resistance, "K/W", 3)
    )
}

fn read(statistic: Statistic) -> &'static str {
    match statistic {
        Statistic::Mean => "mean",
        Statistic::Valley => "lowest",
        Statistic::Peak => "highest",
        Statistic::Rms => "rms",
        Statistic::RippleRms => "ripple rms",
        Statistic::Reverse => "reverse voltage",
        Statistic::Power => "power",
    }
}

fn over(way: Way) -> &'static str {
    match way {
        Way::CaseToSink => "case over sink",
        Way::JunctionToCase => "junction over case",
        Way::JunctionToAir => "junction over air",
        Way::JunctionToSink => "junction over sink",
        Way::CopperToAir => "copper over air",
    }
}
