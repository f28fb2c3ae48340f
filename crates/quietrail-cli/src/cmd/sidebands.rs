//! `quietrail sidebands`: what the supply does to the oscillator.

use crate::shell::{Complaint, ProgressLine, complain, gather, say, style_of};
use clap::Args;
use quietrail_report::{sidebands as told, words};
use std::io;
use std::path::PathBuf;

/// Say what ripple, noise, drift and load steps do to the oscillator: sidebands in dBc, phase noise, pull in ppb.
///
/// Reads `[oscillator.X1]` of the job. The inverse stands beside each line: how much ripple the limit allows there.
///
/// Exit status: 0 nothing against it, 1 a line is above its limit, 2 the job could not be read, 3 not shown.
#[derive(Args)]
pub(crate) struct Sidebands {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// Print the answer as data.
    #[arg(long)]
    json: bool,
}

impl Sidebands {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let sources = gather(&self.job)?;
        let job = sources.job()?;
        if job.oscillators.is_empty() {
            let path = sources.job_path.display();
            return Err(complain(format_args!("{path}: {}", words::sidebands::NONE)));
        }
        let line = ProgressLine::new();
        line.say(words::explain::LOOKING);
        let found = quietrail_study::sidebands::sidebands(&job, &quietrail_study::options())
            .map_err(|trouble| {
                complain(format_args!("{}: {trouble}", sources.job_path.display()))
            })?;
        drop(line);
        if self.json {
            say(&format!("{:#}\n", told::to_json(&found)))?;
        } else {
            say(&told::text(&found, style_of(&io::stdout())))?;
        }
        Ok(told::exit_status(&found))
    }
}
