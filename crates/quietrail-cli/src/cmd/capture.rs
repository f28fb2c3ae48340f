//! A capture from the disk.

use crate::shell::{Complaint, complain, words};
use quietrail_bench::capture::{Capture, MAX_CAPTURE_BYTES, read, text_of};
use quietrail_report::words::captures as said;
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

/// The name of a capture in its job, which is relative to the folder of the job. One that was typed from where the shell stands, as that
/// completes names, is found too where it lies in that folder.
pub(super) fn name_of(job_path: &Path, typed: &str) -> String {
    if job_path.with_file_name(typed).is_file() {
        return typed.to_owned();
    }
    let from_the_job = || -> Option<String> {
        let job = job_path.canonicalize().ok()?;
        let typed = Path::new(typed).canonicalize().ok()?;
        let inside = typed.strip_prefix(job.parent()?).ok()?;
        Some(inside.to_str()?.replace('\\', "/"))
    };
    from_the_job().unwrap_or_else(|| typed.to_owned())
}

/// Reads a capture; `column` names the signal.
pub(super) fn read_capture(path: &Path, column: Option<&str>) -> Result<Capture, Complaint> {
    let because = |error: std::io::Error| {
        let whence = if error.kind() == ErrorKind::NotFound {
            said::NAMED_FROM_THE_JOB
        } else {
            ""
        };
        complain(format_args!(
            "{}: {}{whence}",
            path.display(),
            words(&error)
        ))
    };
    let mut bytes = Vec::new();
    File::open(path)
        .map_err(because)?
        .take(MAX_CAPTURE_BYTES as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(because)?;
    let text = text_of(&bytes);
    read(&text, column)
        .map_err(|fault| complain(format_args!("{}: {}", path.display(), said::fault(&fault))))
}
