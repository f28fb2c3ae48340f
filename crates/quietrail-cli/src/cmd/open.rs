//! `quietrail open`: the workbook in the browser.

use crate::shell::{Complaint, complain, say};
use clap::Args;
use quietrail_web::{Folder, start};
use std::path::{Path, PathBuf};

/// Open a job as a workbook in the browser.
///
/// Serves it on this machine's loopback address until Ctrl-C. An empty folder gives a guided start. Nothing leaves
/// the machine, and no other page or machine can read or write it.
#[derive(Args)]
pub(crate) struct Open {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    #[command(flatten)]
    how: How,
}

/// How the workbook is opened.
#[derive(Args)]
pub(super) struct How {
    /// Only print the address; do not start a browser.
    #[arg(long)]
    no_browser: bool,
    /// Port to serve on; another one where it is taken.
    #[arg(long)]
    port: Option<u16>,
}

impl Open {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        serve(&self.job, &self.how)
    }
}

/// Serves a job until Ctrl-C.
pub(super) fn serve(job: &Path, how: &How) -> Result<u8, Complaint> {
    let folder = Folder::of(job).map_err(complain)?;
    let serving = start(folder, how.port).map_err(complain)?;
    if let Some(port) = serving.taken {
        eprintln!("quietrail: port {port} is taken, so it is another one");
    }
    serving
        .until_interrupted(|address| {
            say(&format!("{address}\n"))?;
            eprintln!("quietrail: the workbook is open at this address. Ctrl-C ends it.");
            if !how.no_browser && open::that_detached(address).is_err() {
                eprintln!("quietrail: no browser could be started; copy the address into one");
            }
            Ok(())
        })
        .map_err(complain)??;
    eprintln!("\nquietrail: the workbook is closed");
    Ok(0)
}
