//! What `regulators` says.

use crate::number;

/// A job without one.
pub const NONE: &str = "This job has no regulator and no pass transistor.";
/// What a start does not know.
pub const HONEST: &str = "Starts are integrated from zero volts over 60 mains cycles at the lowest mains, parts as marked. Whether a loop is stable \
     with its capacitor is judged by the window of its data sheet and by nothing else: where the window is not known, \
     step the load and look at the output. One or two rings that die away are well; more than four want a resistance \
     in series with the capacitor, or another capacitor.";

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

/// Change with temperature.
pub fn drift(volts: &str) -> String {
    format!("drifts {volts} per kelvin at most")
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
pub fn transistor(part: &str, gain: &str) -> String {
    format!("{part}: a transistor, at the lowest mains with a gain of {gain}")
}

/// A transistor in a state.
pub fn in_state(
    state: &str,
    drop: &str,
    amps: &str,
    base: &str,
    headroom: &str,
    fails: bool,
) -> String {
    let verdict = if fails {
        "FAILS: it saturates at the valley, and the raw ripple comes through; "
    } else {
        ""
    };
    format!(
        "{verdict}{state}: drops {drop} at {amps}, its base takes {base}, {headroom} above saturation at the valley"
    )
}

/// What of the ripple is left behind a transistor.
pub fn kept(state: &str, decibels: &str, hertz: &str) -> String {
    format!("{state}: ripple at {hertz} is {decibels} down behind it")
}

/// A limit that may be below the load.
pub fn short(state: &str, limit: &str, asked: &str) -> String {
    format!("FAILS: the current limit may be {limit}, and {state} asks for {asked}")
}

/// A limit that is above the load.
pub fn limit(limit: &str, asked: &str, state: &str) -> String {
    format!("current limit at least {limit}; most is asked in {state}, {asked}")
}

/// How it starts.
pub fn starts(state: &str, seconds: f64) -> String {
    format!("{state}: up within {}", number::si(seconds, "s", 2))
}

/// It does not.
pub fn never(state: &str, ends: &str, rises: f64) -> String {
    if rises > 0.01 {
        format!("{state}: not up within what was integrated; at {ends} and rising")
    } else {
        format!("FAILS: {state} does not start: it stays at {ends}")
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
pub const INSIDE: &str = "output capacitor inside the window of the data sheet, over its tolerance";
/// The window is not known.
pub const NO_WINDOW: &str =
    "output capacitor not judged: the job does not give the window of the data sheet (stable_with)";
/// None is drawn.
pub const NONE_DRAWN: &str = "FAILS: no capacitor is drawn from output to return";

/// Outside of its window.
pub fn outside(has: &str, window: &str, add: Option<&str>) -> String {
    let cure = match add {
        Some(ohms) => format!("; {ohms} in series would bring it inside"),
        None => String::new(),
    };
    format!("FAILS: output capacitor is {has}, the data sheet asks for {window}{cure}")
}

/// One sensing resistor.
pub fn sense(ohms: &str, watts: &str) -> String {
    format!("{ohms} of the current limit takes {watts} where it acts")
}

/// The diode from output to input.
pub fn diode(farads: &str, joules: &str, wanted: bool) -> String {
    if wanted {
        format!(
            "diode from output to input wanted: {farads} ({joules}) would discharge backwards through it when the input is shorted or falls \
             first (common practice above 20 µF, no source)"
        )
    } else {
        format!(
            "no diode from output to input needed for {farads} ({joules}) (common practice up to 20 µF, no source)"
        )
    }
}
