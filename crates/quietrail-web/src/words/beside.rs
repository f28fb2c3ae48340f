//! What is said beside the limits.

/// Heads what was found.
pub(crate) const HEAD: &str = "Beside the limits";
/// One to know.
pub(crate) const NOTED: &str = "noted";
/// To the text.
pub(crate) const MEND: &str = "Mend it in the file";
/// No limit fails, and the supply does.
pub(crate) const MEND_FIRST: &str =
    "No limit fails, but the supply does: see beside the limits, below.";

/// In the tally.
pub(crate) fn fail(count: usize) -> String {
    let s = if count == 1 { "fails" } else { "fail" };
    format!("{count} beside the limits {s}")
}
