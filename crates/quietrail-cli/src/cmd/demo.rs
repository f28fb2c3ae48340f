//! `quietrail demo`: the hilltop beacon, as first drawn and as mended, and the harbour tide gauge with a rail on either side of common.

use crate::shell::{Complaint, write_new};
use clap::Args;
use std::path::PathBuf;

/// Write three jobs, and prove the first or open it in the browser.
///
/// Writes DIR/beacon, in which something fails, DIR/beacon-mended beside it, and DIR/tide-gauge, which has a
/// rail on either side of common. Files that are there already are left as they are.
#[derive(Args)]
pub(crate) struct Demo {
    /// Where to write.
    #[arg(default_value = ".")]
    dir: PathBuf,
    /// Open DIR/beacon as a workbook in the browser instead of proving it here.
    #[arg(long)]
    open: bool,
    #[command(flatten)]
    how: super::open::How,
}

const JOBS: [(&str, &str); 3] = [
    ("beacon", include_str!("../../demo/beacon/job.toml")),
    (
        "beacon-mended",
        include_str!("../../demo/beacon-mended/job.toml"),
    ),
    ("tide-gauge", include_str!("../../demo/tide-gauge/job.toml")),
];

impl Demo {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        for (name, text) in JOBS {
            let path = self.dir.join(name).join("job.toml");
            if path.exists() {
                eprintln!("{}: already there, and left as it is", path.display());
            } else {
                write_new(&path, text)?;
                eprintln!("wrote {}", path.display());
            }
        }
        if self.open {
            return super::open::serve(&self.dir.join("beacon"), &self.how);
        }
        let form = super::prove::Form::Table(quietrail_report::verdicts::Rows::WorstState);
        super::prove::of(
            &self.dir.join("beacon"),
            form,
            super::prove::More::default(),
        )
    }
}
