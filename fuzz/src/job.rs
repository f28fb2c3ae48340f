//! The reader of `job.toml` and `parts.toml`.
//!
//! Input: the job; then, behind a line `#parts`, the builder's own parts.

use crate::split_at_line;
use quietrail_job::{Diagnostic, FileId, Reading, Severity, decode, explain, read};
use std::collections::BTreeSet;

/// Reads the input, twice, and checks what was found.
///
/// # Panics
/// The reader keeps one of its promises not.
pub fn check(input: &[u8]) {
    let text = match decode(input, FileId::Job) {
        Ok(text) => text,
        Err(diagnostic) => {
            assert_eq!(diagnostic.span, 0..0, "what is no text has no places");
            return;
        }
    };
    let (job, parts) = split_at_line(text, "#parts");
    let reading = read(job, parts);
    let again = read(job, parts);
    assert_eq!(reading.diagnostics, again.diagnostics);
    assert_eq!(reading.job, again.job);
    check_reading(&reading, job, parts);
}

/// What holds for every reading.
pub(crate) fn check_reading(reading: &Reading, job: &str, parts: Option<&str>) {
    for diagnostic in &reading.diagnostics {
        check_diagnostic(diagnostic, job, parts);
    }
    for file in [FileId::Job, FileId::Parts] {
        let of_file = reading.diagnostics.iter().filter(|one| one.file == file);
        let starts = of_file.map(|one| one.span.start);
        assert!(starts.is_sorted(), "not in the order of {file:?}");
    }
    let is_error = |one: &Diagnostic| one.severity == Severity::Error;
    assert_eq!(
        reading.job.is_none(),
        reading.diagnostics.iter().any(is_error),
        "a job is there unless something is wrong: {:#?}",
        reading.diagnostics
    );
    let Some(job) = &reading.job else { return };
    let mut met = BTreeSet::new();
    for parameter in job.parameters() {
        let range = [parameter.low, parameter.nominal, parameter.high];
        assert!(
            range.is_sorted() && range.iter().all(|value| value.is_finite()),
            "{parameter:?}"
        );
        assert!(
            met.insert(parameter.address.clone()),
            "{parameter:?} has the address of another"
        );
    }
}

fn check_diagnostic(diagnostic: &Diagnostic, job: &str, parts: Option<&str>) {
    let text = match diagnostic.file {
        FileId::Job => job,
        FileId::Parts => parts.expect("only a text that is there has faults"),
    };
    let also = diagnostic.also.iter().map(|(span, _)| span);
    for span in also.chain([&diagnostic.span]) {
        assert!(
            text.get(span.clone()).is_some(),
            "{diagnostic:?} points outside its text, or into a character"
        );
    }
    assert!(!diagnostic.message.is_empty(), "{diagnostic:?}");
    assert!(
        explain(diagnostic.code).is_some(),
        "{diagnostic:?} has no explanation"
    );
}
