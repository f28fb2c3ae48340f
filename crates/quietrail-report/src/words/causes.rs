//! What `bringup --why` says.

use quietrail_study::bringup::Suspect;

/// Shown while causes are tried.
pub const LOOKING: &str = "putting one fault at a time into the circuit of the step";

/// Said where no reading of the step is outside its band.
pub fn nothing_outside(step: &str) -> String {
    format!(
        "{step}: no reading outside its band that could be looked into. Readings of temperature, noise and power off are not."
    )
}

/// Heads causes that explain all readings.
pub fn fitting(step: &str, readings: usize, tried: usize, unsolved: usize) -> String {
    let all = match readings {
        1 => "the one reading".to_owned(),
        count => format!("all {count} readings"),
    };
    format!(
        "{step}: what would by itself explain {all}{}",
        of(tried, unsolved)
    )
}

/// Heads the nearest where none explains all.
pub fn nearest(step: &str, tried: usize, unsolved: usize) -> String {
    format!(
        "{step}: no single cause explains all that was read{} Two things may be wrong at once, or a meter may stand \
         otherwise than was noted. Nearest are",
        of(tried, unsolved)
    )
}

fn of(tried: usize, unsolved: usize) -> String {
    let left = match unsolved {
        0 => String::new(),
        count => format!(", of which {count} came to no steady cycle"),
    };
    format!(" ({tried} tried, parts as marked{left}).")
}

/// What would be wrong.
pub fn suspect(suspect: &Suspect) -> String {
    match suspect {
        Suspect::Fault(fault) => super::faults::fault(fault),
        Suspect::Dried { part, left } => format!("{part} with {left} % of its capacitance left"),
        Suspect::NoDummy(plus, minus) => format!("no dummy from {plus} to {minus}"),
    }
}

/// `raw mean 16.9 V (read 17.0 V)`
pub fn reads(of: &str, what: &str, value: &str, read: &str) -> String {
    format!("{of} {what} {value} (read {read})")
}

/// Heads what an oscilloscope would show of a ripple with each cause.
pub fn hum(of: &str) -> String {
    format!("An oscilloscope tells some of them apart: ripple of {of} is at")
}

/// What to read next: `Read next: raw, ripple p-p. It would be`
pub fn next(of: &str, what: &str) -> String {
    format!("Read next: {of}, {what}. It would be")
}

/// `1.90 V with D1, one diode open`
pub fn would_be(value: &str, with: &str) -> String {
    format!("{value} with {with}")
}

/// Heads the causes in a table.
pub const CAUSE: &str = "By itself";

/// Heads a reading in a table: `raw mean, read 14.2 V`
pub fn was_read(of: &str, value: &str) -> String {
    format!("{of}, read {value}")
}

/// Heads the frequency of a ripple in a table.
pub fn hum_of(of: &str) -> String {
    format!("ripple of {of} is at")
}

/// Heads what to read next in a table.
pub fn next_of(of: &str) -> String {
    format!("read next: {of}")
}

/// Said where nothing of the step tells causes apart.
pub const ALIKE: &str =
    "No other point of this step tells these apart: look at the parts themselves.";

/// Said where nobody read the mains.
pub const NO_MAINS: &str = "The mains was not read, so any of its range may have been there: read with it, fewer causes are left.";

/// Points from a reading outside its band to its causes.
pub fn ask(step: &str) -> String {
    format!("What single fault would read so: quietrail bringup JOB --step {step:?} --why")
}

/// Said at the end of all causes.
pub const HONEST: &str = "A joint, a lead or a part of another value reads like some of these. Plug out and reservoirs empty \
                          before anything is touched.";
