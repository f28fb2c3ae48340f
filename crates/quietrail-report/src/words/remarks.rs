//! What is said of regulators beside the limits.

/// Of the last line: how many fail.
pub fn fail(count: usize) -> String {
    let s = if count == 1 { "fails" } else { "fail" };
    format!("; {count} beside the limits {s}")
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
        "{part}: its current limit may be {limit}, and {state} asks for {asked}. Raise the limit, or take a part with a higher one"
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
