//! `quietrail explain`: what a diagnostic means, or where a limit's figure comes from.

use crate::shell::Complaint;
use clap::Args;

/// Say what a diagnostic's code means.
#[derive(Args)]
pub(crate) struct Explain {
    /// The code, for instance J012.
    code: String,
}

impl Explain {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let _ = &self.code;
        Ok(0)
    }
}
