//! `quietrail new`: a commented job from a few answers.

use crate::shell::Complaint;
use clap::Args;
use std::path::PathBuf;

/// Write a commented job from a few answers.
#[derive(Args)]
pub(crate) struct New {
    /// Folder to write it to; made if need be.
    dir: PathBuf,
}

impl New {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let _ = &self.dir;
        Ok(0)
    }
}
