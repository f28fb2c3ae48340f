//! What is said beside the limits.

use quietrail_study::backwards::Polar;
use quietrail_study::finding::WhyNot;

/// Of the last line: how many fail.
pub fn fail(count: usize) -> String {
    let s = if count == 1 { "fails" } else { "fail" };
    format!("; {count} beside the limits {s}")
}

/// A headline about limits, where something beside them fails.
pub fn headline(of_limits: &str, parts: &str) -> String {
    let of_limits = of_limits.replacen("Nothing fails", "No limit fails", 1);
    format!("{of_limits} Beside the limits the supply fails by {parts}: see under the table.")
}

/// One that the supply fails by.
pub const FAILS: &str = "FAILS";
/// One to know.
pub const NOTED: &str = "noted";
/// Heads them.
pub const HEAD: &str = "Beside the limits:";

/// A limit that may be below the load.
pub fn limit(part: &str, limit: &str, asked: &str, state: &str) -> String {
    format!(
        "{part}: its current limit may be as low as {limit}, and {state} may ask for {asked}. Raise the limit, or take a part with a higher one"
    )
}

/// Beside the mark under a current limit.
pub fn at_limit(limit: &str, is_from_catalogue: bool) -> String {
    if is_from_catalogue {
        return format!("the limit that this part brings may be as low as {limit}");
    }
    format!("may be as low as {limit}")
}

/// Beside the mark under a foldback.
pub fn at_foldback(is_from_catalogue: bool) -> &'static str {
    if is_from_catalogue {
        "this part brings the foldback that meets the load"
    } else {
        "meets the load on its way up"
    }
}

/// Beside the mark under a window of capacitors.
pub const AT_WINDOW: &str = "what it is stable with";
/// Beside the mark under swings.
pub const AT_SWINGS: &str = "what was read";
/// Beside the mark under a trimmer's target.
pub const AT_TARGET: &str = "out of reach in some corner";
/// Beside the mark under what it bears backwards.
pub const AT_BACKWARDS: &str = "this one";

/// Beside the mark under a transformer.
pub const AT_CORE: &str = "this core";

/// Beside the mark under the ends of an electrolytic or a zener diode.
pub const AT_ENDS: &str = "the first end is the upper one";

/// An electrolytic or a zener diode the wrong way round.
pub fn backwards(
    part: &str,
    (volts, state): (&str, &str),
    (plus, minus): (&str, &str),
    polar: Polar,
) -> String {
    let (what, otherwise) = match polar {
        Polar::Electrolytic => (
            "electrolytics bear 1 V that way; so connected they heat up and can burst",
            "; of film or bipolar write `polar = false`",
        ),
        Polar::Shunt => (
            "a zener diode or a shunt reference conducts that way from some 0.7 V on, as any diode does, which is not in its curve here: what is told of \
             this circuit is not so",
            "",
        ),
    };
    format!(
        "{part}: stands the wrong way round: its second end, at {minus}, is {volts} above its first, at {plus}, in {state}, and {what}. Drawn right, it is \
         `between = [\"{minus}\", \"{plus}\"]`, plus or cathode first{otherwise}"
    )
}

/// Noise without an end.
pub fn endless(figure: &str) -> String {
    format!("{figure} rises towards low frequencies, so that a band from 0 Hz holds no end of it")
}

/// A hold-up that is not known.
pub const NOT_FOLLOWED: &str =
    "at a corner no step of the calculation could be told once the mains had gone";

/// A choke that diodes cut off.
pub fn cut_off(choke: &str) -> String {
    format!(
        "diodes cut off {choke}, and how it then rings is up to capacitances that no job gives: fit a bleeder that keeps current in it, or read it"
    )
}

/// A leakage inductance that diodes cut off.
pub fn leakage_cut_off(transformer: &str) -> String {
    format!(
        "diodes cut off the leakage inductance of {transformer}, and how it then rings is up to capacitances that no job gives: read it across the \
         winding with an oscilloscope; a snubber there ends it"
    )
}

/// Why there is no verdict, where there is a figure all the same: it is the worst of those corners that have one.
pub fn worst_of_the_others(why: &WhyNot, unit: &str, corner: &str) -> String {
    let told = super::why_not(why, unit);
    // Here all corners have figures, and the figure itself is in doubt.
    if matches!(why, WhyNot::LeansOnLoopTime { .. }) {
        return format!("{told}; {corner}");
    }
    format!("at some corner {told}. Worst of the others: {corner}")
}

/// Direct current in a core.
pub fn core(part: &str, amps: &str, state: &str, no_load: &str) -> String {
    format!(
        "{part}: its windings leave {amps} of direct current in its core in {state}, counted at the primary, beside {no_load} that it takes off load. \
         A core so biased takes more, hums and warms more; here it is taken as linear, so primary current and fuse may come out higher than told. \
         A bridge, or a half-wave load the other way round on the same core, leaves none"
    )
}

/// It does not start.
pub fn never_starts(part: &str, state: &str, mains: &str, ends: &str, is_corner: bool) -> String {
    let when = if is_corner {
        "with its limit at its lowest and the load at its highest it "
    } else {
        ""
    };
    let verb = if is_corner {
        "does not start"
    } else {
        "it does not start"
    };
    format!(
        "{part}: {when}{verb} in {state} at mains {mains}: the foldback meets the load at {ends} and stays there. Connect the load after the output is \
         up, or take a limit that does not fold back so far"
    )
}

/// What is said of a part.
pub fn of(part: &str, said: &str) -> String {
    format!("{part}: {said}")
}

/// A trimmer that may not reach.
pub fn may_not_reach(part: &str, to: &str, sure: Option<(&str, &str)>) -> String {
    let sure = match sure {
        Some((low, high)) => format!("whatever the tolerances do, {low} .. {high} can be set"),
        None => "no voltage can be set whatever the tolerances do".to_owned(),
    };
    format!(
        "{part}: its trimmer may not reach {to}; {sure}. Move the fixed resistor, or take a larger trimmer"
    )
}
