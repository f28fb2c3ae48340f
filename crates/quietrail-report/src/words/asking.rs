//! What is asked for readings one after the other.

use quietrail_bench::log::{Draft, Observed};
use quietrail_study::bringup::Expectation;

/// While the bands of a step are computed.
pub const WORKING_OUT: &str = "working out what each point should read";

/// Asks for a step.
pub fn ask_step(default: &str) -> String {
    format!("Step [{default}]:")
}

/// Asks for a value.
pub fn ask_value(one: &Expectation) -> String {
    if one.what == Observed::Check {
        return format!("{} (yes, no; Enter: not now):", one.of);
    }
    format!("{} (Enter: not now):", row(one))
}

/// Names a row, before its instrument is asked for: `raw, mean, expect 16.9 .. 18.1 V`.
pub fn row(one: &Expectation) -> String {
    let what = super::bringup::observed(one.what);
    let band = match one.safety.and_then(|row| row.limit) {
        Some(limit) => super::bringup::band(limit.min, limit.max, one.unit),
        None => super::bringup::band(one.low, one.high, one.unit),
    };
    format!("{}, {what}, expect {band}", one.of)
}

/// Offers the last set-up.
pub fn ask_again(last: &Draft) -> String {
    let mut parts = vec![last.instrument.clone()];
    for part in [&last.range, &last.setup] {
        if !part.is_empty() {
            parts.push(part.clone());
        }
    }
    if !last.mains_v.is_empty() {
        parts.push(format!("mains {} V", last.mains_v));
    }
    format!(
        "  Set-up [{}]; Enter repeats it, else the instrument:",
        parts.join("; ")
    )
}
