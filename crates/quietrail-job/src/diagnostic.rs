//! What is wrong with a job, as data. The terminal, the workbook and `--json` draw the same value.

use crate::model::Span;

/// One thing wrong with, or doubtful in, a job file.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnostic {
    /// Stable code, `J014`; `quietrail explain J014` says more.
    pub code: &'static str,
    /// How bad.
    pub severity: Severity,
    /// One sentence.
    pub message: String,
    /// Which file.
    pub file: FileId,
    /// The bytes it is about.
    pub span: Span,
    /// A few words at that place.
    pub label: String,
    /// Other places that matter, in the same file.
    pub also: Vec<(Span, String)>,
    /// What to do.
    pub help: Option<String>,
}

/// How bad a diagnostic is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The job still has a meaning.
    Warning,
    /// It has not.
    Error,
}

/// Which of the texts a diagnostic is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FileId {
    /// `job.toml`
    Job,
    /// The builder's own `parts.toml`
    Parts,
}
