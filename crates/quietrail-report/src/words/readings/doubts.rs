//! What is said where a reading is less than it looks, or none: beyond a range, of another limit, of the outside of a part, out of
//! a dead capture.

use crate::number;
use quietrail_bench::accept::Misplaced;
use quietrail_bench::log::Observed;
use quietrail_job::model::What;
use quietrail_study::bringup::Expectation;
use quietrail_study::case::Outside;

/// Which temperature a thermometer reads of a part; `None` where there is but one.
pub fn read_outside(of: &str, outside: Outside) -> Option<String> {
    match outside {
        Outside::Same => None,
        Outside::Case => Some(format!(
            "A thermometer on {of} reads its case, and is compared with that; the junction in it is hotter."
        )),
        Outside::Cooler => Some(format!(
            "A thermometer on {of} reads its outside; what is predicted is inside, and hotter by nobody knows how much: only the upper end is compared."
        )),
    }
}

/// A capture that is asked about before its value is kept.
pub fn doubtful_capture(file: &str, doubt: &str) -> String {
    format!("{file}: {doubt} --as-typed keeps what it comes to")
}

/// A line of the spectrum typed as the level that an analyser shows, where its distance from the carrier is wanted; `None` of anything
/// else.
pub fn level_of_line(typed: &str, what: Observed) -> Option<String> {
    let is_line = matches!(
        what,
        Observed::Harmonic | Observed::Spur | Observed::PhaseNoise
    );
    let is_level = typed.trim_end().to_lowercase().ends_with("dbm");
    (is_line && is_level).then(|| {
        format!(
            "{typed}: a {} is read by how far it lies under the carrier. Take the carrier's own level off it: beside a carrier of 7 dBm a line of \
             −90 dBm lies at −97 dBc",
            what.word()
        )
    })
}

/// A capture whose levels have the other sign: what is its peak then is its valley, so that no figure of it is told instead.
pub fn upside_down(read: &str, expectation: &Expectation) -> String {
    number::spaced(&format!(
        "the capture reads {read}, where {} is expected: was the channel inverted, or were its clips swapped? Turned round, its valley is its peak; take it \
         again upright.",
        crate::words::bringup::band(expectation.low, expectation.high, expectation.unit)
    ))
}

/// A limit that is not of what a row reads: what it is of, and the one that is, or what to leave out.
pub fn other_limit(limit: &LimitOf, read: (&str, What, &str), own: Option<&str>) -> String {
    let (of, what, state) = read;
    let state = if state.is_empty() {
        String::new()
    } else {
        format!(", {state}")
    };
    let advice = match own {
        Some(own) => format!("did you mean --limit \"{own}\"?"),
        None => format!(
            "did you mean to read {}, {}? Without --limit it is kept by its point",
            limit.of,
            crate::words::what(limit.what)
        ),
    };
    format!(
        "the limit {} is of {}, {} ({}), and this row reads {of}, {}{state}; {advice}",
        limit.name,
        limit.of,
        crate::words::what(limit.what),
        limit.states.join(", "),
        crate::words::what(what)
    )
}

/// What a limit is of, for who names another.
#[derive(Clone, Debug)]
pub struct LimitOf {
    /// Its name.
    pub name: String,
    /// The point.
    pub of: String,
    /// The statistic.
    pub what: What,
    /// Names of the states in which it holds.
    pub states: Vec<String>,
}

/// A limit named for a row that no limit is of.
pub fn no_limit_of(limit: &str, what: Observed) -> String {
    format!(
        "no limit is of {}: leave --limit \"{limit}\" out",
        crate::words::bringup::observed(what)
    )
}

/// A display that can show no more, where that is no reading.
pub fn overload(typed: &str, what: Observed) -> String {
    let what = crate::words::bringup::observed(what);
    format!(
        "{typed} says that there is more than the range holds, and not how much: choose a higher range and read {what} again. Where the \
         highest shows it too, switch off and look for the reason"
    )
}

/// The same of a path, where nothing tells the end of the range.
pub fn overload_of_path(typed: &str) -> String {
    format!(
        "{typed} says that there is more than the range holds: write the end of the range with a sign before it, \"> 40 MΩ\""
    )
}

/// A resistance or capacitance below zero.
pub fn impossible(typed: &str) -> String {
    format!(
        "{typed}: nothing has less than none; was more taken off for the leads than they have? Join the leads, read them, and take off that"
    )
}

/// A capture that is not there.
pub fn no_capture(name: &str) -> String {
    format!("{name}: there is no such file beside the job")
}

/// Behind a question about what was typed.
pub const AS_TYPED: &str = "--as-typed keeps it as it is";

/// No line of an oscillator's data sheet rests on what was read.
pub fn no_line(of: &str) -> String {
    format!("No line of the data sheet of {of} that the job states is read so.")
}

/// A line of a spectrum that is written above its carrier.
pub fn above_carrier(typed: &str) -> String {
    let typed = typed.trim();
    format!(
        "{typed} is above the carrier: did you mean −{}?",
        typed.trim_start_matches('+')
    )
}

/// What is odd about where a line of the spectrum was read, beside a carrier, Hz both.
pub fn misplaced(odd: Misplaced, at: f64, carrier: f64) -> String {
    let exactly = crate::words::acceptance::exactly;
    let (at, carrier) = (exactly(at), exactly(carrier));
    match odd {
        Misplaced::NoMultiple => format!("{at} is no multiple of {carrier}: is it a spur?"),
        Misplaced::Multiple { number } if number < 1.5 => {
            format!("{at} is the carrier itself: where is the spur?")
        }
        Misplaced::Multiple { number } => {
            format!("{at} is {number} times {carrier}: is it a harmonic?")
        }
        Misplaced::Distance { there } => format!(
            "{at} is nowhere near the carrier, {carrier}: write where the analyser showed it, {} if that was meant as the distance",
            exactly(there)
        ),
    }
}

/// Before what other readings than the one that was just taken come to.
pub const BY_OTHERS: &str = "Other readings decide, not this one:";

/// No limit is about what was read, in this state; `others` are those about the same point: name, what is asked of it, states.
pub fn no_limit(
    (of, is_part): (&str, bool),
    what: Observed,
    state: &str,
    others: &[(String, What, Vec<String>)],
) -> String {
    let what = crate::words::bringup::observed(what);
    let ratings = if is_part {
        " What it says of the ratings of the part: `quietrail prove`."
    } else {
        ""
    };
    if others.is_empty() {
        return format!("No limit is about {of}.{ratings}");
    }
    let said: Vec<String> = others
        .iter()
        .map(|(name, asked, states)| {
            format!(
                "{name} ({}; {})",
                crate::words::what(*asked),
                states.join(", ")
            )
        })
        .collect();
    let state = if state.is_empty() {
        String::new()
    } else {
        format!(" in {state}")
    };
    format!(
        "No limit is about its {what}{state}. Limits about {of}: {}.{ratings}",
        said.join("; ")
    )
}
