//! What every text must bring about, whoever wrote it: each module takes the bytes of the fuzzer, makes an input
//! of them, and panics where a promise is not kept.
//!
//! The targets only pass bytes on. The promises stand here so that tests can hold them against the seeds without
//! a fuzzer.

pub mod begin;
pub mod capture;
pub mod change;
pub mod counter;
pub mod edit;
pub mod job;
pub mod keep;
pub mod quantity;
pub mod readings;

#[cfg(test)]
mod seeds;

/// The text before the first line that is `mark`, and the text after it.
fn split_at_line<'t>(text: &'t str, mark: &str) -> (&'t str, Option<&'t str>) {
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        let end = start + line.len();
        if line.trim_end_matches(['\n', '\r']) == mark {
            return (&text[..start], Some(&text[end..]));
        }
        start = end;
    }
    (text, None)
}
