//! From the text of a job to its meaning: [`model::Job`] and every diagnostic at once.
//!
//! Pure: text in, values out. The shell reads the files.

pub mod begin;
pub mod model;

mod catalogue;
mod change;
mod check;
mod diagnostic;
mod edit;
mod explain;
mod fault;
mod instead;
mod join;
mod keep;
mod keys;
mod nearest;
mod place;
mod plate;
mod read;
mod schema;
mod substitute;
#[cfg(test)]
mod tests;
mod used;
mod wiring;
mod words;
mod written;

pub use catalogue::{CatalogueEntry, built_in_entries};

pub use change::{Address, Change, ChangeError, Parameter, Shape};
pub use diagnostic::{Diagnostic, FileId, Severity};
pub use edit::{EditError, set_value};
pub use explain::{Example, Explanation, explain, explanations};
pub use keep::{add_reading, keep_transformer};
pub use nearest::nearest;
pub use place::place_of;
pub use read::{MAX_JOB_BYTES, apart, decode, interval};
pub use schema::schema;
pub use substitute::{Substitute, substitutes};
pub use used::{UsedEntry, used_entries};

/// What a reading of a job gave: as much of it as could be understood, and all that is wrong.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The job; absent when any diagnostic is an error.
    pub job: Option<model::Job>,
    /// Everything wrong or doubtful, in the order of the file.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads a job from its text and the builder's own parts, if any.
///
/// Never stops at the first fault, and never panics on any text.
pub fn read(job_toml: &str, parts_toml: Option<&str>) -> Reading {
    read::read(job_toml, parts_toml)
}
