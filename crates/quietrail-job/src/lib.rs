//! From the text of a job to its meaning: [`model::Job`] and every diagnostic at once.
//!
//! Pure: text in, values out. The shell reads the files.

pub mod model;

mod change;
mod diagnostic;

pub use change::{Address, Change, ChangeError, Parameter};
pub use diagnostic::{Diagnostic, FileId, Severity};

/// What a reading of a job gave: as much of it as could be understood, and all that is wrong.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The job; absent when any diagnostic is an error.
    pub job: Option<model::Job>,
    /// Everything wrong or doubtful, in the order of the file.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads a job from its text and the builder's own parts, if any.
pub fn read(_job_toml: &str, _parts_toml: Option<&str>) -> Reading {
    Reading { job: None, diagnostics: Vec::new() }
}
