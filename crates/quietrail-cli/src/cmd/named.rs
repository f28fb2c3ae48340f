//! Names that the job does not know, with the nearest that it does.

use crate::shell::{Complaint, complain};
use quietrail_job::nearest;
use quietrail_report::words::readings as words;

/// Refuses a name that is not among those known; `kind` says of what.
pub(super) fn known(kind: &str, name: &str, all: &[&str]) -> Result<(), Complaint> {
    if all.contains(&name) {
        return Ok(());
    }
    Err(unknown(kind, name, all))
}

/// Says that a name is not known, and which is nearest.
pub(super) fn unknown(kind: &str, name: &str, all: &[&str]) -> Complaint {
    let near = nearest(name, all.iter().copied());
    complain(words::unknown(kind, name, near.as_deref(), all))
}
