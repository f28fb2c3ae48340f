//! What `prove --faults` says.

use quietrail_study::faults::{Clears, Fault, Kind};

use crate::number;

/// Shown while faults are integrated.
pub fn looking(tried: usize, all: usize) -> String {
    format!("breaking one part at a time, {tried} of {all} tried")
}

/// Heads the section.
pub fn heading(tried: usize, mains: &str) -> String {
    format!(
        "Single faults: one part open or short at a time, parts as marked, mains at {mains}; {tried} tried, each for 12 mains \
         cycles from the steady state."
    )
}

/// `osc bears 12 V; without a fault it sees 9.02 V at most.`
pub fn pin(load: &str, bears: Option<&str>, without: &str) -> String {
    match bears {
        Some(bears) => {
            format!("{load} bears {bears}; without a fault it sees {without} at most.")
        }
        None => format!(
            "{load} sees {without} at most without a fault. What it bears is not in the job: write rated = {{ volts = \
             \"...\" }}."
        ),
    }
}

/// What is wrong with a part.
pub fn fault(fault: &Fault) -> String {
    let part = &fault.part;
    match fault.kind {
        Kind::Open | Kind::PassOpen => format!("{part} open"),
        Kind::Short => format!("{part} short"),
        Kind::DiodeOpen => format!("{part}, one diode open"),
        Kind::DiodeShort => format!("{part}, one diode short"),
        Kind::PassShort => format!("{part} shorted, input to output"),
        Kind::CollectorShort => format!("{part} shorted, collector to emitter"),
        Kind::WiperOpen => format!("{part} wiper open"),
        Kind::UpperOpen => format!("{part} upper resistor open"),
        Kind::UpperShort => format!("{part} upper resistor short"),
        Kind::LowerOpen => format!("{part} lower resistor open"),
        Kind::LowerShort => format!("{part} lower resistor short"),
        Kind::ReferenceOpen => format!("{part} reference lost, driven full on"),
        Kind::BaseOpen => format!("{part} base open"),
        Kind::BaseShort => format!("{part} base shorted to emitter"),
        Kind::SenseOpen => format!("{part} sense lead open"),
    }
}

/// Key of a fault in data.
pub fn key(kind: Kind) -> &'static str {
    match kind {
        Kind::Open => "open",
        Kind::Short => "short",
        Kind::DiodeOpen => "diode open",
        Kind::DiodeShort => "diode short",
        Kind::PassOpen => "pass open",
        Kind::PassShort | Kind::CollectorShort => "pass short",
        Kind::WiperOpen => "wiper open",
        Kind::UpperOpen => "upper open",
        Kind::UpperShort => "upper short",
        Kind::LowerOpen => "lower open",
        Kind::LowerShort => "lower short",
        Kind::ReferenceOpen => "reference open",
        Kind::BaseOpen => "base open",
        Kind::BaseShort => "base short",
        Kind::SenseOpen => "sense open",
    }
}

/// When it ends.
pub fn clears(clears: Clears) -> String {
    match clears {
        Clears::After(seconds) => {
            format!("a fuse opens within {}", number::written(seconds, "s"))
        }
        Clears::Never => "no fuse opens".to_owned(),
        Clears::NotTold => "a fuse opens, when is not known".to_owned(),
    }
}

/// What the pins take.
pub fn takes(joules: &str, above: &str, lasts: bool) -> String {
    if lasts {
        format!("{joules} in {above}, and on")
    } else {
        format!("{joules} in {above}")
    }
}

/// Nothing raises the pins.
pub fn none_above(load: &str) -> String {
    format!("No single fault raises {load} above what it sees without one.")
}

/// Faults that only leave the load without supply, or change little.
pub fn others(count: usize) -> String {
    let faults = if count == 1 {
        "fault does"
    } else {
        "faults do"
    };
    format!("{count} more {faults} not raise it.")
}

/// A zener diode.
pub fn zener(volts: &str, peak: &str, watts: &str, holds: bool) -> String {
    let verdict = if holds {
        "it holds the worst of them"
    } else {
        "it does not hold the worst of them"
    };
    format!(
        "Clamp: a zener diode of {volts} lets {peak} through and has to bear {watts} for as long as the fault lasts; {verdict}."
    )
}

/// A thyristor and a fuse.
pub fn crowbar(trips: &str, within: &str, clears: &str) -> String {
    format!(
        "Clamp: a crowbar that trips at {trips} does so within {within} of the worst of them; then {clears}."
    )
}

/// What its thyristor carries: peak, sum of the first half cycle, rms from then on, sum in all, and whether a fuse ends it.
pub fn thyristor(amps: &str, first: &str, lasting: &str, in_all: &str, ends: bool) -> String {
    let until = if ends {
        format!("{lasting} rms from then on, {in_all} until the fuse opens")
    } else {
        format!("{lasting} rms for as long as the fault lasts")
    };
    format!(
        "Its thyristor carries {amps} at its peak, {first} in the first half cycle, and {until}. The job gives no rating of one, so \
         whether it bears that is not shown: take one that states more of each."
    )
}

/// Above the table: how many faults go beyond what a pin bears, and the worst of them.
pub fn headline(faults: usize, worst: Option<(&str, &str, &str, &str)>, silent: &[&str]) -> String {
    let unknown = match silent {
        [] => String::new(),
        [load] => format!(" What {load} bears is not in the job."),
        loads => format!(" What {} bear is not in the job.", loads.join(" and ")),
    };
    let Some((load, peak, bears, fault)) = worst else {
        return format!("Single faults: none puts more on a load's pins than they bear.{unknown}");
    };
    let count = beyond_count(faults);
    format!(
        "Single faults: {count} more on a load's pins than they bear; the worst {peak} on {load}, which bears {bears} ({fault}). They stand \
         below the table.{unknown}"
    )
}

/// Of the last line.
pub fn last(faults: usize) -> Option<String> {
    (faults > 0).then(|| format!("; {} more on a load than it bears", beyond_count(faults)))
}

/// A crowbar after which no fuse opens.
pub const FUSE_IN_RAIL: &str =
    "It needs a fuse of its own in the rail: none of those drawn would open.";
/// A fault that could not be followed.
pub const UNSOLVED: &str = "Not shown, because it could not be integrated:";
/// A state in which no fault was looked at.
pub fn unbegun(state: &str, why: &str) -> String {
    format!(
        "No fault was looked at in {state}: without one the supply did not settle there ({why})."
    )
}
/// The fault, and the states in which it could not; none are named where it could in none.
pub fn unsolved(fault: &str, states: &[String]) -> String {
    match states {
        [] => fault.to_owned(),
        some => format!(
            "{fault}, {} alone (above is what it does in the other states)",
            some.join(" and ")
        ),
    }
}
/// How many faults go beyond what a pin bears, if any do.
pub fn beyond(faults: usize) -> Option<String> {
    (faults > 0).then(|| {
        format!(
            "{} more on a load's pins than they bear.",
            beyond_count(faults)
        )
    })
}

fn beyond_count(faults: usize) -> String {
    match faults {
        1 => "1 fault puts".to_owned(),
        _ => format!("{faults} faults put"),
    }
}

/// What is not in it.
pub const HONEST: &str = "Open is a gigohm, short a milliohm, a lost reference drives the loop full on. Two faults at once, faults of the \
     transformer and of the mains side are not in it. Fuses by the gates of IEC 60127-2, sheet 3.";

#[cfg(test)]
mod tests {
    use super::unsolved;

    /// A fault with a figure says in which states it has none.
    #[test]
    fn a_fault_that_was_followed_in_some_states_names_the_others() {
        assert_eq!(unsolved("U1 open", &[]), "U1 open");
        let cold = ["cold".to_owned()];
        assert!(unsolved("U1 open", &cold).starts_with("U1 open, cold alone"));
    }
}
