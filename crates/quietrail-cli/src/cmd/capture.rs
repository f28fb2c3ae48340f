//! A capture from the disk.

use crate::shell::{Complaint, complain, words};
use quietrail_bench::capture::{Capture, MAX_CAPTURE_BYTES, read, text_of};
use quietrail_report::words::captures as said;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Reads a capture; `column` names the signal.
pub(super) fn read_capture(path: &Path, column: Option<&str>) -> Result<Capture, Complaint> {
    let because =
        |error: std::io::Error| complain(format_args!("{}: {}", path.display(), words(&error)));
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
