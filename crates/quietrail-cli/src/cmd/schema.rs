//! `quietrail schema`: what a job file may hold, for editors.

use crate::shell::{Complaint, say};
use clap::Args;

/// Print the JSON Schema of job.toml, for editors that check and complete as one types.
#[derive(Args)]
pub(crate) struct Schema {}

impl Schema {
    #[allow(clippy::unused_self, reason = "every verb runs alike")]
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        say(&quietrail_job::schema())?;
        Ok(0)
    }
}
