//! `quietrail waves`: two mains cycles of a node, drawn.

use crate::shell::{Complaint, complain, gather, say, write_over};
use clap::Args;
use quietrail_job::{Address, Change};
use quietrail_report::svg;
use quietrail_study::waves::{NoWaves, waves};
use std::path::PathBuf;

/// Draw two mains cycles of a node as SVG, with the lowest corner found beside the parts as marked.
#[derive(Args)]
pub(crate) struct Waves {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// The node.
    #[arg(long)]
    node: String,
    /// The state of the load.
    #[arg(long)]
    state: String,
    /// Mains voltage in place of the nominal one, for instance 207 V.
    #[arg(long)]
    mains: Option<String>,
    /// File to write; standard output without it.
    #[arg(short, long)]
    output: Option<PathBuf>,
}

impl Waves {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let job = gather(&self.job)?.job()?;
        let state = super::state_of(&job, &self.state)?;
        let mut changes = Vec::new();
        if let Some(text) = &self.mains {
            let volts = quietrail_units::Quantity::<quietrail_units::Volts>::parse(text)
                .map_err(|error| complain(format_args!("--mains: {error}")))?;
            let address = Address("mains.voltage".to_owned());
            changes.push(Change::Set {
                address,
                value: volts.nominal,
            });
        }
        let options = quietrail_study::options();
        let drawing =
            waves(&job, &self.node, state, &changes, &options).map_err(|why| match why {
                NoWaves::UnknownNode { known } => complain(format_args!(
                    "no node is called {}; there are {}",
                    self.node,
                    known.join(", ")
                )),
                NoWaves::Trouble(trouble) => complain(trouble),
            })?;
        let text = svg::waves(&drawing);
        match &self.output {
            Some(path) => write_over(path, &text)?,
            None => say(&text)?,
        }
        Ok(0)
    }
}
