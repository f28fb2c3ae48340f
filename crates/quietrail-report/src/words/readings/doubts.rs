//! What is said where a reading is less than it looks, or none: beyond a range, of another limit, of the outside of a part, out of
//! a dead capture.

use quietrail_bench::log::Observed;
use quietrail_job::model::What;
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
