//! Readings of an unmarked transformer that go into the job.
//!
//! Input: a line with the name, a line with the key of a list, a line with the reading as TOML, then the job.

use crate::edit::comments;
use crate::job::check_reading;
use quietrail_job::{EditError, add_reading, read};

/// Adds the reading, twice, and checks what became of the text.
///
/// # Panics
/// The text is TOML no more, a comment is gone, or the reading is not there.
pub fn check(input: &[u8]) {
    let Ok(text) = std::str::from_utf8(input) else {
        return;
    };
    let mut parts = text.splitn(4, '\n');
    let mut next = || parts.next().unwrap_or_default();
    let (name, key, value, before) = (next(), next(), next(), next());
    let after = match add_reading(before, name, key, value, true) {
        Ok(after) => after,
        Err(error) => return check_error(&error),
    };
    let (old, new) = (comments(before), comments(&after));
    let mut rest = new.iter();
    assert!(
        old.iter().all(|comment| rest.any(|other| other == comment)),
        "comments of\n{before}\nand of\n{after}"
    );
    let again = add_reading(&after, name, key, value, true);
    assert!(again.is_ok(), "{again:?} of\n{after}");
    check_reading(&read(&after, None), &after, None);
}

fn check_error(error: &EditError) {
    assert!(!error.to_string().is_empty(), "{error:?}");
}
