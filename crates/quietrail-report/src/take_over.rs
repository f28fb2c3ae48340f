//! The model of an unmarked transformer taken over into the job: its text as it would then be.

use crate::transformer::kept;
use quietrail_study::transformer::Known;

/// The text of a job with the model in it, comments and order kept.
///
/// # Errors
/// Why it is not taken over, in words.
pub fn taken_over(text: &str, known: &Known) -> Result<String, String> {
    let kept = kept(known)?;
    quietrail_job::keep_transformer(text, &known.name, &kept.table, &kept.values)
        .map_err(|error| error.to_string())
}
