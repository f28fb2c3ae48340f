//! What is said of joins of windings, of switching on and faults, and of old capacitors.

use quietrail_study::capacitors::Against;
use quietrail_study::switch_on::fuse::{Clears, Sheet};
use quietrail_study::switch_on::{NoSwitchOn, Shorted};

use crate::number::{percent, si};

/// Heads the joins.
pub const JOINS: &str = "Joins of the secondaries, the least copper heat first:";
/// Heads of their table.
pub const JOIN_HEAD: [&str; 9] = [
    "join",
    "rectifier",
    "off load",
    "valley",
    "mean",
    "peak",
    "each winding",
    "copper",
    "DC at most",
];
/// Says what the last column is.
pub const DIRECT_MOST: &str = "DC at most: with copper at its class by the hot run, or a winding at its rated rms, whichever comes first.";
/// Says why the last column is empty.
pub const NO_DIRECT_MOST: &str = "DC at most not shown: it takes a hot run with copper_loss and class, or windings with a rated current in the job.";
/// Heads the wiring of the joins.
pub const WIRING: &str = "How each is wired, leads as you named them:";
/// Heads of its table.
pub const WIRING_HEAD: [&str; 5] = ["join", "rectifier", "tie", "to the rectifier", "insulate"];
/// A bridge.
pub const BRIDGE: &str = "bridge";
/// Two diodes and a centre tap.
pub const CENTRE_TAP: &str = "centre tap";
/// Heads joins that fight.
pub const REFUSED: &str = "Not these; current that would circulate with nothing connected:";
/// Insulation of what is left over.
pub const INSULATE: &str =
    "Insulate every lead and tap that is not used, each by itself: they carry volts.";

/// What is asked of the joins.
pub fn wanted(amps: &str, farads: &str, is_from_loads: bool) -> String {
    let whose = if is_from_loads {
        "what the loads of the job draw at most"
    } else {
        "as asked, or in its place"
    };
    format!(
        "For {amps} of direct current ({whose}) behind {farads}, diodes of 0.9 V (common practice, no source). Valley at the \
         lowest mains, peak with nothing drawn at the highest."
    )
}

/// How far windings side by side share.
pub fn sharing(error: f64) -> String {
    format!("side by side they share to within {:.1} %", 100.0 * error)
}

/// Windings of which the sense is open.
pub fn sense_open(names: &str) -> String {
    format!("{names}: read which way round first; until then no join with it is listed.")
}

/// Two primaries.
pub fn dual(one: &str, other: &str, tie: &str, series: &str, parallel: &str) -> String {
    format!(
        "{one} and {other}: on {series} in series, {tie} tied together; on {parallel} side by side, start to start and finish to \
         finish."
    )
}

/// Which of the two this mains wants.
pub fn dual_here(mains: &str, is_series: Option<bool>) -> String {
    match is_series {
        Some(true) => format!("This mains, {mains}: in series."),
        Some(false) => format!("This mains, {mains}: side by side."),
        None => format!(
            "This mains, {mains}, is for neither: the flux would not be that of the readings."
        ),
    }
}

/// What the phase test reads, for series and for side by side.
pub fn phase_test(low: &str, one: &str, right: &str, wrong: &str) -> String {
    format!(
        "Before mains, for series: {low} on {one} alone, the tie made, read across the two free ends. Right: about {right}. Wrong: \
         about {wrong}; then turn the second round, and do not energise it so. For side by side: {low} on {one} alone, the two \
         starts tied, read across the two finishes before they are tied as well. Right: about {wrong}. Wrong: about {right}."
    )
}

/// What happens the wrong way round.
pub fn fight(series: &str, parallel: &str) -> String {
    format!(
        "The wrong way round only copper is in the way of the mains: about {series} in series, {parallel} side by side."
    )
}

/// Buck option.
pub fn buck(volts: &str, size: Option<(&str, &str)>, left: &str) -> String {
    let size = size.map_or_else(
        || "its current not shown: a hot run says what the primary carries".to_owned(),
        |(amps, volt_amperes)| format!("for {amps}, so {volt_amperes}"),
    );
    format!(
        "Buck option: a transformer whose secondary, {volts}, opposes the mains in series; {size}. It leaves {left} of the nominal \
         mains."
    )
}

/// Head of the switch-on answer.
pub fn switch_on(title: &str, state: &str, mains: &str) -> String {
    format!("{title}: switching on in the state {state}, at {mains}")
}

/// Heads first cycles.
pub const FIRST: &str = "First cycle into the reservoir, charge left in it, by switch-on angle:";
/// Heads of the table.
pub const FIRST_HEAD: [&str; 6] = [
    "rectifier",
    "charge",
    "angle",
    "peak",
    "I²t",
    "I²t of the primary",
];

/// Surge.
pub fn surge(
    part: &str,
    peak: &str,
    angle: f64,
    i2t: &str,
    rated: Option<(&str, &str, &str, bool)>,
) -> String {
    match rated {
        Some((amps, seconds, rated, holds)) => format!(
            "{part}: worst first pulse {peak} at {angle:.0}°, at most {i2t}; rated for a half sine of {amps} in {seconds}, which is \
             {rated}: {}",
            if holds { "predicted to hold" } else { "FAILS" }
        ),
        None => format!(
            "{part}: worst first pulse {peak} at {angle:.0}°, at most {i2t}; no surge rating in the job, not judged"
        ),
    }
}

/// Core inrush.
pub fn core(peak: &str, i2t: &str, is_one: bool) -> String {
    let copper = if is_one {
        "the primary's copper"
    } else {
        "the copper of all primaries together"
    };
    format!(
        "Core inrush: not shown, linear windings know none. It cannot pass the crest over {copper}, {peak}, nor \
         that for half a cycle, {i2t}; what it is depends on the core and on where it was switched off."
    )
}

/// Heads places for fuses.
pub const FUSES: &str = "Fuse links, IEC 60127-2 time-lag, true rms and half as much again, pulse at most 22 % of melting I²t:";

/// A place.
pub fn place(name: &str, rms: &str, state: &str, peak: &str, pulse: &str) -> String {
    format!("{name}: {rms} rms ({state}), {peak} peak, first pulse {pulse}")
}

/// A link rated the other way.
pub fn ul(least: &str) -> String {
    format!("a UL-rated one, at 75 % of its rating, at least {least}")
}

/// The link for it.
pub fn choice(rated: &str, is_for_pulse: bool, is_pulse_judged: bool) -> String {
    let why = match (is_pulse_judged, is_for_pulse) {
        (false, _) => "; its melting I²t is not in the list, pulse not judged",
        (true, true) => ", for the pulse",
        (true, false) => "",
    };
    format!("T {rated}{why}")
}

/// No link of the series.
pub const NO_LINK: &str = "no link of the series up to 10 A";

/// The fuse that is there.
pub fn fitted(name: &str, rated: &str) -> String {
    format!("{name} of {rated} is fitted")
}

/// Heads faults.
pub const FAULTS: &str = "Faults, and when links clear them (sheet 3 glass, sheet 5 ceramic; gates as makers print them, those of sheet 5 for 1 A to 3.15 A). A short in the diodes puts DC in the core, which is not modelled:";

/// What is shorted.
pub fn shorted(what: Shorted, of: &str, between: Option<&(String, String)>) -> String {
    if let Some((upper, lower)) = between {
        return format!("the reservoir from {upper} to {lower} behind {of} shorted");
    }
    match what {
        Shorted::Winding => format!("{of} shorted"),
        Shorted::HalfWinding => {
            format!("half of {of} shorted inside, which no link in its leads sees")
        }
        Shorted::Diode => format!("a diode of {of} shorted"),
        Shorted::Reservoir => format!("the reservoir behind {of} shorted"),
    }
}

/// Currents of a fault.
pub fn fault(what: &str, primary: &str, winding: &str) -> String {
    format!("{what}: {primary} on the primary, {winding} in the winding")
}

/// A fault that could not be computed.
pub fn no_fault(what: &str) -> String {
    format!("{what}: not shown, the circuit did not come to rest")
}

/// What a link does.
pub fn clears(place: &str, rated: &str, sheet: Sheet, clears: Clears) -> String {
    let sheet = match sheet {
        Sheet::Three => "sheet 3",
        Sheet::Five => "sheet 5",
    };
    let what = match clears {
        Clears::Never => "DOES NOT CLEAR IT: it may hold for an hour and longer".to_owned(),
        Clears::BeyondBreaking => {
            "MAY BURST: more than it may have to break (35 A or ten times its rating; sheet 5 1500 A)".to_owned()
        }
        Clears::Unsure => "may not clear it: between 1.5 and 2.1 times its rating".to_owned(),
        Clears::Within { least, most } => {
            format!("clears in {} to {}", si(least, "s", 2), si(most, "s", 2))
        }
    };
    format!("{place}, T {rated}, {sheet}: {what}")
}

/// Heads discharges.
pub const DISCHARGE: &str = "After switching off:";

/// A discharge.
pub fn discharge(part: &str, volts: &str, joules: &str) -> String {
    format!("{part} holds up to {volts}, {joules}")
}

/// Times through a resistor.
pub fn times(how: &str, touchable: f64, quiet: f64) -> String {
    let to = |seconds: f64, volts: &str| {
        if seconds <= 0.0 {
            format!("below {volts} at once")
        } else {
            format!("{volts} after {}", si(seconds, "s", 2))
        }
    };
    format!("{how}: {}, {}", to(touchable, "60 V"), to(quiet, "5 V"))
}

/// With its bleeder.
pub fn bleeder(ohms: &str) -> String {
    format!("through {ohms} across it")
}

/// By its own leakage.
pub const OWN_LEAKAGE: &str =
    "without, by its own leakage, at the soonest (sheets give its highest)";
/// Without either.
pub const NO_LEAKAGE: &str =
    "without a bleeder: not shown, its leakage is not in the job; it may stay charged for days";
/// A resistor that would do it.
pub fn proposed(ohms: &str, watts: &str) -> String {
    format!("a bleeder of {ohms}, {watts}, would bring it to 5 V in a minute")
}
/// The levels.
pub const LEVELS: &str = "60 V DC is from memory of IEC 61010-1:2010; measure before touching.";

/// Why nothing is said of switching on.
pub fn no_switch_on(why: &NoSwitchOn) -> String {
    match why {
        NoSwitchOn::NoRectifier => "the job has no rectifier on a transformer".to_owned(),
        NoSwitchOn::Trouble(trouble) => trouble.to_string(),
    }
}

/// No capacitor to vet.
pub const NO_CAPACITORS: &str =
    "The job has no reservoir behind a rectifier, and no capacitor of which anything was measured.";

/// Head of a capacitor.
pub fn capacitor(part: &str, farads: &str, esr: &str, is_fit: bool, is_measured: bool) -> String {
    let verdict = match (is_fit, is_measured) {
        (false, _) => "NOT FIT for its position",
        (true, true) => "nothing found against it",
        (true, false) => "nothing found against it as marked; measure it",
    };
    format!("{part}, {farads}, {esr} in series: {verdict}")
}

/// What it has to do.
pub fn duty(rms: &str, rated: Option<&str>, heat: &str, state: &str) -> String {
    let rated = rated.map_or_else(
        || "no ripple rating in the job".to_owned(),
        |rated| format!("rated {rated} as printed"),
    );
    format!("carries {rms} rms ({state}), {rated}; {heat} of heat in it")
}

/// Its ripple.
pub fn ripple(ripple: &str, bare: &str) -> String {
    format!("ripple {ripple} p-p; {bare} if it had no series resistance")
}

/// Its volts.
pub fn volts(crest: &str, rated: Option<&str>) -> String {
    rated.map_or_else(
        || format!("sees up to {crest}; no rating in the job"),
        |rated| format!("sees up to {crest}, rated {rated}"),
    )
}

/// Its leakage.
pub fn leakage(leaks: &str, limit: &str) -> String {
    format!("leaks {leaks} there; one in order at most {limit} (0.01 C V + 3 µA, from memory)")
}

/// Its life.
pub fn life(hours: f64, hottest: f64, state: &str, equally: f64, as_at: f64) -> String {
    let years = |hours: f64| {
        if hours >= 8766.0 {
            format!("{hours:.0} h ({:.1} years)", hours / 8766.0)
        } else {
            format!("{hours:.0} h")
        }
    };
    format!(
        "lasts {} at the {hottest:.0} °C of {state}, {} with all states as long as each other (as at {as_at:.1} °C): the ten-degree \
         rule, from its rated life; makers' own figures are up to a quarter longer",
        years(hours),
        years(equally)
    )
}

/// What speaks against it.
pub fn against(against: Against) -> String {
    match against {
        Against::Volts => "more volts than its rating".to_owned(),
        Against::Ripple => "more ripple current than its rating".to_owned(),
        Against::Leakage => "leaks more than one in order: bring it up slowly, then read again".to_owned(),
        Against::EndOfLife { change } => {
            format!("capacitance {}, beyond ±45 %, where makers end its life", percent(change))
        }
        Against::Worn { change } => {
            format!("capacitance {}, beyond the ±20 % that an endurance test leaves: watch it", percent(change))
        }
        Against::EndOfLifeEsr { times } => {
            format!("series resistance {times:.1} times the drawn one, beyond 3 times, where makers end its life")
        }
        Against::WornEsr { times } => {
            format!("series resistance {times:.1} times the drawn one, beyond the 1.3 times that an endurance test leaves: watch it")
        }
        Against::SeriesResistance => {
            "its series resistance makes a quarter of the ripple or more: agreement with I/(2fC) is no good sign".to_owned()
        }
        Against::NotMeasured => "capacitance or series resistance not measured: the marking is believed".to_owned(),
    }
}

/// Heads a plan.
pub fn plan(years: f64, ohms: &str, watts: &str, minutes: f64) -> String {
    format!(
        "It lay for {years:.0} years. Bring it up through {ohms} ({watts} with a short behind it), {minutes:.0} minutes at least; \
         five minutes and one for each month, workshop practice, no source:"
    )
}

/// A step of it.
pub fn step(volts: &str, minutes: f64, expect: &str, abort: &str) -> String {
    format!(
        "{volts} for {minutes:.0} min: at most {expect}; stop if it is above {abort} after that, or if it warms"
    )
}
