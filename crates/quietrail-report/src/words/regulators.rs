//! What `regulators` says.

use crate::number;
use quietrail_study::finding::WhyNot;

/// A job without one.
pub const NONE: &str = "This job has no regulator and no pass transistor.";
/// What a start does not know.
pub const HONEST: &str = "Starts are integrated from zero volts over 60 mains cycles at the lowest mains, and where a limit folds back at the highest too: as marked, and where a start is \
     hardest, with this limit, all gains and windings at their lowest, loads, capacitors and dropouts at their highest. That corner is a named one; others were not tried. Whether a loop is \
     stable with its capacitor is judged by the window of its data sheet, and by how it rang when its load was stepped; by nothing else.";

/// `U1: 12.00 V, 11.79 V .. 12.31 V over its tolerances`
pub fn set(part: &str, nominal: &str, low: &str, high: &str) -> String {
    format!("{part}: {nominal}, {low} .. {high} over its tolerances")
}

/// What a trimmer reaches.
pub fn reach(
    low: &str,
    high: &str,
    sure: Option<(&str, &str)>,
    at: &str,
    turn: Option<&str>,
) -> String {
    let turn = turn.map_or_else(String::new, |volts| format!(", {volts} a turn"));
    let sure = match sure {
        Some((low, high)) => format!("; whatever the tolerances do, {low} .. {high}"),
        None => "; FAILS: no voltage can be set whatever the tolerances do".to_owned(),
    };
    format!("trimmer reaches {low} .. {high}, stands at {at}{turn}{sure}")
}

/// What is asked for cannot be set in every corner.
pub const NOT_SURE: &str =
    "FAILS: the voltage asked for cannot be set in every corner of the tolerances";

/// Change with temperature: what drifts, with its part.
pub fn drift(volts: &str, of: &[(&str, String)]) -> String {
    let of: Vec<String> = of
        .iter()
        .map(|(name, volts)| format!("{name} {volts}"))
        .collect();
    format!("drifts {volts} per kelvin at most: {}", of.join(", "))
}

/// Title of the picture of noise.
pub const PICTURE: &str = "Noise over frequency";
/// All sources.
pub const TOGETHER: &str = "all together";

/// What the picture says.
pub fn picture(total: &str, low: &str, high: &str, most: &str) -> String {
    format!("{total} rms of noise from {low} to {high}; most of it is {most}")
}

/// The limit as a flat density.
pub fn flat(density: &str) -> String {
    format!("the limit, if flat: {density}")
}

/// What drifts.
pub const DRIFTS: [&str; 3] = ["reference", "divider", "trimmer"];

/// A filter behind it, and behind other filters.
pub fn filter(part: &str, node: &str, after: &[String], corner: &str, ripple: &str) -> String {
    if after.is_empty() {
        return format!(
            "{part} to {node} is a filter: it works from {corner} on, and takes {ripple} off at twice the mains frequency"
        );
    }
    format!(
        "{part} to {node} is a filter behind {}: together they work from {corner} on, and take {ripple} off at twice the mains frequency",
        after.join(" and ")
    )
}

/// What it drops in a state, and what it does together with all before it where there is more.
pub fn filter_drop(state: &str, amps: &str, volts: &str, in_all: Option<&str>) -> String {
    let rest = in_all.map_or_else(String::new, |volts| {
        format!(" ({volts} with all before it)")
    });
    format!("{state} {volts} at {amps}{rest}")
}

/// Heads what it drops.
pub fn filter_drops(all: &str) -> String {
    format!("it drops at most: {all}")
}

/// Its peak.
pub fn filter_peak(peak: &str, at: &str, ohms: &str) -> String {
    format!("it lifts what swings at {at} by {peak}, and the load sees up to {ohms}")
}

/// What damps it.
pub fn damper(farads: &str, ohms: &str, peak: &str) -> String {
    format!("{farads} and {ohms} in series beside its capacitor leave {peak} of that")
}

/// Noise through it.
pub fn through(state: &str, before: &str, behind: &str, band: &str, is_named: bool) -> String {
    let named = if is_named {
        ""
    } else {
        "; no limit there names a band"
    };
    format!("{state}: {before} rms of noise before it, {behind} rms behind ({band}{named})")
}

/// Noise through it that is not known.
pub fn not_through(why: &WhyNot, band: &str) -> String {
    format!(
        "noise through it not shown ({band}): {}{}",
        super::why_not(why, "V"),
        noise_wanted(why)
    )
}

/// What to write where a figure of noise is missing, or not known over the band; empty where it is something else.
pub fn noise_wanted(why: &WhyNot) -> &'static str {
    match why {
        WhyNot::Missing(_) | WhyNot::NoiseBeyond { .. } => {
            ". Write it into the job, as in noise = { total = \"42 µV\", band = \"10 Hz .. 100 kHz\" }, from a data sheet that states it or from a reading"
        }
        _ => "",
    }
}

/// A filter that could stand there.
pub fn proposal(ohms: &str, farads: &str, corner: &str, drops: &str) -> String {
    format!(
        "room for a filter after it: {ohms} and {farads} (E12, E6) work from {corner} on and take half of what the window leaves under the \
         lowest set point; they drop at most: {drops}"
    )
}

/// No filter that could be bought stands there.
pub fn no_filter(ohms: &str, farads: &str, largest: &str) -> String {
    format!(
        "no filter of a resistor and a capacitor after it: what the window leaves bears {ohms}, and {farads} would go with that; above \
         {largest} none is proposed (common practice, no source). A choke takes less voltage"
    )
}

/// The diode from adjust pin to output.
pub fn adjust_diode(farads: &str, joules: &str, bears: &str, wanted: bool) -> String {
    let verdict = if wanted { "wanted" } else { "not needed" };
    format!(
        "diode from adjust pin to output {verdict}: {farads} ({joules}) on the pin discharges through it when the output is shorted \
         (common practice above {bears}, no source)"
    )
}

/// Preferred values that centre it.
pub fn preferred(key: &str, ohms: &str, series: &str, volts: &str, is_trimmed: bool) -> String {
    let key = key.trim_start_matches("set.");
    if is_trimmed {
        format!("{key} {ohms} ({series}) puts {volts} in the middle of the trimmer")
    } else {
        format!("{key} {ohms} ({series}) gives {volts}")
    }
}

/// A transistor.
pub fn transistor(part: &str) -> String {
    format!("{part}: a pass transistor")
}

/// Its gain, and where its figures are taken.
pub fn gain(lowest: &str, highest: &str) -> String {
    format!(
        "gain {lowest} .. {highest}; below, at the lowest mains with either end of it, all else as marked"
    )
}

/// A state in which nothing is known of it.
pub fn unsettled(state: &str, why: &str) -> String {
    format!("{state}: not shown, did not settle: {why}")
}

/// What it carries in a state.
pub fn passes(state: &str, amps: &str, drop: &str, base: &str, lowest: &str) -> String {
    format!(
        "{state}: carries {amps}, drops {drop}, and its base takes {base} at a gain of {lowest}"
    )
}

/// What it needs before it at the valley.
pub fn needs(
    state: &str,
    needs: &str,
    (behind, saturation): (&str, &str),
    left: &str,
    gain: &str,
    fails: bool,
) -> String {
    let sum = format!("{needs} before it ({behind} after it + {saturation} saturation)");
    if fails {
        return format!(
            "FAILS: {state}: at the valley it needs {sum} and lacks {left} at a gain of {gain}: it saturates, and the raw ripple comes through"
        );
    }
    format!("{state}: at the valley it needs {sum} and has {left} to spare at a gain of {gain}")
}

/// The same where its figures do not stand above common.
pub fn needs_across(state: &str, saturation: &str, left: &str, gain: &str, fails: bool) -> String {
    if fails {
        return format!(
            "FAILS: {state}: at the valley it needs {saturation} across it and lacks {left} at a gain of {gain}: it saturates, and the raw ripple comes through"
        );
    }
    format!(
        "{state}: at the valley it needs {saturation} across it and has {left} to spare at a gain of {gain}"
    )
}

/// What it makes of heat.
pub fn heat(state: &str, watts: &str, mains: &str) -> String {
    format!("{state}: turns {watts} into heat at mains {mains}, as marked")
}

/// Rows of a transistor's table.
pub const ROW_CARRIES: &str = "carries";
/// Mean across it.
pub const ROW_DROPS: &str = "drops";
/// Base current.
pub const ROW_BASE: &str = "base takes, lowest gain";
/// Before it at the valley.
pub const ROW_NEEDS: &str = "needs before it at the valley";
/// Across it at the valley.
pub const ROW_NEEDS_ACROSS: &str = "needs across it at the valley";
/// Of that.
pub const ROW_SATURATION: &str = "of that, saturation";
/// Headroom.
pub const ROW_SPARE: &str = "has to spare there";
/// Heat.
pub const ROW_HEAT: &str = "heat at the highest mains";
/// Ripple.
pub const ROW_KEPT: &str = "ripple after it, down by";

/// What of the ripple is left behind a transistor.
pub fn kept(state: &str, decibels: &str, hertz: &str) -> String {
    format!("{state}: ripple at {hertz} is {decibels} down after it")
}

/// A limit that may be below the load.
pub fn short(state: &str, limit: &str, asked: &str) -> String {
    format!("FAILS: the current limit may be as low as {limit}, and {state} may ask for {asked}")
}

/// A limit that is above the load.
pub fn limit(limit: &str, asked: &str, state: &str) -> String {
    format!("current limit at least {limit}; at most {asked} is asked, in {state}")
}

/// Which start, where it is tried at several mains voltages.
pub fn started(state: &str, mains: Option<&str>) -> String {
    mains.map_or_else(
        || state.to_owned(),
        |mains| format!("{state} at {mains} mains"),
    )
}

/// How it starts.
pub fn starts(seconds: f64) -> String {
    format!("up within {}", number::si(seconds, "s", 2))
}

/// It does not.
pub fn never(ends: &str, rises: f64) -> String {
    if rises > 0.01 {
        format!("not up within what was integrated, at {ends} and rising")
    } else {
        format!("it does not start and stays at {ends}")
    }
}

/// It is up, and below its set point.
pub fn short_of_set(ends: &str) -> String {
    format!("up to {ends} only, for want of headroom, which is judged by itself")
}

/// Its start could not be followed.
pub const NOT_FOLLOWED: &str =
    "its start could not be followed to its end, so nothing is shown of it";

/// A start with parts as marked, and where it is hardest.
pub fn started_twice(state: &str, marked: &str, hardest: Option<&str>, fails: bool) -> String {
    let verdict = if fails { "FAILS: " } else { "" };
    match hardest {
        None => format!("{verdict}{state}: {marked}, as marked"),
        Some(hardest) if hardest == marked => {
            format!("{verdict}{state}: {marked}, as marked and where it is hardest")
        }
        Some(hardest) => {
            format!("{verdict}{state}: {marked} as marked; where it is hardest {hardest}")
        }
    }
}

/// Least load.
pub fn least(needs: &str, has: &str, bleeder: Option<&str>) -> String {
    match bleeder {
        Some(ohms) => format!(
            "FAILS: it regulates from {needs} on, and has {has} where least is drawn: its output creeps up. A bleeder of {ohms} makes it up"
        ),
        None => format!("it regulates from {needs} on, and has {has} at least"),
    }
}

/// The output capacitor.
pub fn inside(has: &str, over: &str) -> String {
    format!("output capacitor inside the window of the data sheet: {has}, {over}")
}

/// The window is not known.
pub const NO_WINDOW: &str = "output capacitor not judged: the job does not give the window of the data sheet (stable_with). Step the load, and \
     write the swings that follow as rang, or give them to `quietrail ringing`";
/// None is drawn.
pub const NONE_DRAWN: &str =
    "FAILS: no capacitor is drawn from output to return, and the data sheet asks for one";

/// Over what it was looked at.
pub fn over(cold: &str, hot: &str, is_followed: bool) -> String {
    if is_followed {
        format!("over its tolerance and from {cold} to {hot}")
    } else {
        "over its tolerance; how it changes from cold to hot is not in the job (value_at, esr_at)"
            .to_owned()
    }
}

/// Outside of its window.
pub fn outside(has: &str, over: &str, window: &str, add: Option<(&str, &str)>) -> String {
    let cure = match add {
        Some((least, most)) => format!("; {least} .. {most} in series would bring it inside"),
        None => String::new(),
    };
    format!("FAILS: output capacitor is {has}, {over}; the data sheet asks for {window}{cure}")
}

/// How it rang.
pub fn rang(
    margin: f64,
    between: (f64, f64),
    damping: f64,
    is_poor: bool,
    is_well: bool,
) -> String {
    let (verdict, advice) = if is_poor {
        (
            "FAILS: ",
            "; try a resistance in series with the output capacitor, or another capacitor",
        )
    } else if is_well {
        ("", "")
    } else {
        (
            "",
            "; little is in hand: look again cold, hot, and with the least load",
        )
    };
    format!(
        "{verdict}when its load was stepped it rang with a damping ratio of {damping:.2}, as a loop with {margin:.0}° of phase margin \
         ({low:.0}° .. {high:.0}° from swing to swing){advice}",
        low = between.0,
        high = between.1,
    )
}

/// It rang and did not die away.
pub const OSCILLATES: &str =
    "FAILS: the swings after a step of its load do not get smaller: it oscillates";

/// One sensing resistor.
pub fn sense(ohms: &str, watts: &str) -> String {
    format!("{ohms} of the current limit takes {watts} where it acts")
}

/// The diode from output to input.
pub fn diode(
    farads: &str,
    joules: &str,
    bears: &str,
    is_stated: bool,
    wanted: bool,
    drawn: Option<&str>,
) -> String {
    let source = if is_stated {
        "its data sheet"
    } else {
        "common practice, no source"
    };
    let verdict = match (wanted, drawn) {
        (true, Some(drawn)) => format!("is there, {drawn}"),
        (true, None) => "wanted".to_owned(),
        (false, _) => "not needed".to_owned(),
    };
    if farads.starts_with("0 ") || farads.starts_with("0\u{a0}") {
        return format!(
            "diode from output to input {verdict}: no capacitor is drawn at its output"
        );
    }
    format!(
        "diode from output to input {verdict}: {farads} ({joules}) would discharge backwards through it when the input is shorted or falls \
         first, and it bears {bears} ({source})"
    )
}
