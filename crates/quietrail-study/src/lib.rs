//! The builder's questions, answered as data.
//!
//! 1. [`lower`]: a job in a state becomes a circuit;
//! 2. [`question`]: limits and ratings become figures to read from its steady state;
//! 3. [`solve`]: that steady state, with the temperatures it leads to;
//! 4. [`search`]: the worst corner found for each question;
//! 5. [`prove`], [`explain`], [`yields`], [`waves`] and [`descent`]: findings, as data for reports;
//! 6. [`transformer`]: the model of an unmarked transformer, from readings, and its joins; [`switch_on`]: first cycles
//!    and faults; [`capacitors`]: old ones.

pub mod backwards;
mod band;
pub mod bringup;
pub mod capacitors;
pub mod case;
pub mod catching;
pub mod core_current;
mod course;
pub mod descent;
pub mod explain;
pub mod faults;
pub mod filter;
pub mod finding;
mod forming;
pub mod gate;
pub mod heat;
pub mod level;
pub mod life;
pub mod lower;
pub mod measured;
pub mod noise;
pub mod prove;
pub mod question;
pub mod reading;
pub mod ready;
pub mod regulators;
pub mod ringing;
pub mod search;
pub mod setpoint;
pub mod sidebands;
mod single_fault;
pub mod slopes;
pub mod solve;
pub mod spectrum;
pub mod stability;
pub mod starting;
pub mod switch_on;
#[cfg(test)]
mod tests;
pub mod transformer;
pub mod translate;
pub mod wave;
pub mod waves;
pub mod yields;

pub use quietrail_engine::Options;

/// How exactly corners are solved, and what each may cost.
///
/// A part in a hundred thousand on every figure is far below what tolerances do. A supply that has not
/// settled within these cycles and steps (a second or two of work) is not shown, rather than waited for.
pub fn options() -> Options {
    Options {
        tolerance: 1e-6,
        cycles: 300,
        steps: 60_000,
    }
}

/// Tolerance of what is only looked at. Steps err by far less than they may: most figures by less than a few parts in a hundred
/// thousand, the level of a node that hardly anything loads by up to one in a thousand.
const LOOKED_AT: f64 = 1e-4;

/// The same for what is only looked at, to find out what is to be told: most figures are right to a few parts in a hundred thousand.
pub fn looking(options: &Options) -> Options {
    Options {
        tolerance: options.tolerance.max(LOOKED_AT),
        ..*options
    }
}

/// Whether that is all that is asked.
fn is_only_looked_at(options: &Options) -> bool {
    options.tolerance >= LOOKED_AT
}
