//! What must hold before a text is read at all: it is text, of a size and a format that this program knows.

use crate::diagnostic::{Diagnostic, FileId};
use crate::fault::{Fault, Faults};
use crate::written::{Place, Shape, Table};

/// Largest job file read, in bytes. A job of a hundred parts with every figure measured stays under 100 kB;
/// whatever is larger is most likely a capture.
pub const MAX_JOB_BYTES: usize = 500_000;

/// The form of job files that this program reads.
const FORMAT: u64 = 1;

/// The text of a file, if it is one.
///
/// # Errors
/// The file is larger than [`MAX_JOB_BYTES`], or is not UTF-8 text.
pub fn decode(bytes: &[u8], file: FileId) -> Result<&str, Box<Diagnostic>> {
    let fail = |fault: &Fault| {
        let mut faults = Faults::default();
        faults.at(
            Place {
                file: Some(file),
                span: 0..0,
            },
            fault,
        );
        faults.in_order()
    };
    let found = if bytes.len() > MAX_JOB_BYTES {
        fail(&Fault::TooLarge { bytes: bytes.len() })
    } else {
        match std::str::from_utf8(bytes) {
            Ok(text) if !text.contains('\0') => return Ok(text),
            _ => fail(&Fault::NotText),
        }
    };
    let only = found
        .into_iter()
        .next()
        .expect("a fault was noted just now");
    Err(Box::new(only))
}

/// Whether the text can be read as a job; `None` if not, and it is said.
pub(crate) fn check(text: &str, file: FileId, faults: &mut Faults) -> Option<()> {
    check_size(text, file, faults)?;
    let without_mark = text.strip_prefix('\u{feff}').unwrap_or(text);
    if without_mark.trim().is_empty() {
        faults.at(
            Place {
                file: Some(file),
                span: 0..0,
            },
            &Fault::Empty,
        );
        return None;
    }
    Some(())
}

/// Whether the text is of a size that is read, and a text at all.
pub(crate) fn check_size(text: &str, file: FileId, faults: &mut Faults) -> Option<()> {
    if text.len() > MAX_JOB_BYTES {
        faults.at(
            Place {
                file: Some(file),
                span: 0..0,
            },
            &Fault::TooLarge { bytes: text.len() },
        );
        return None;
    }
    if let Some(at) = text.find('\0') {
        faults.at(
            Place {
                file: Some(file),
                span: at..at + 1,
            },
            &Fault::NotText,
        );
        return None;
    }
    Some(())
}

/// Whether the format is one that this program reads; `None` if it is a newer one, of which nothing else
/// can be said.
pub(crate) fn check_format(root: &Table, faults: &mut Faults) -> Option<()> {
    let Some(entry) = root.entry("format") else {
        faults.job(0..0, &Fault::Format { found: None });
        return Some(());
    };
    let Shape::Number(number) = &entry.value.shape else {
        return Some(());
    };
    match number.parse::<u64>() {
        Ok(FORMAT) => Some(()),
        Ok(newer) if newer > FORMAT => {
            faults.of(&entry.value, &Fault::Newer { format: newer });
            None
        }
        _ => {
            faults.of(
                &entry.value,
                &Fault::Format {
                    found: Some(number.clone()),
                },
            );
            Some(())
        }
    }
}
