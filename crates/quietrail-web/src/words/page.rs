//! What every page says around its view: of a server that has ended, and of values that were refused.

/// Nobody answers the page any longer.
pub(crate) const GONE: &str = "quietrail does not answer: it was ended, or its terminal closed.";
/// What that means for what is on the page.
pub(crate) const GONE_MORE: &str = "This is the last picture it gave. Nothing typed here is kept, and what is typed stays in its field. \
     Start it again with quietrail open; it prints a new address.";
/// Before a value that was refused.
pub(crate) const NOT_TRIED: &str = "Not tried:";
/// After it: what the figures on the page go by.
pub(crate) fn stays(before: &str) -> String {
    format!("everything here is with {before}")
}
