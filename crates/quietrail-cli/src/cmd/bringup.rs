//! `quietrail bringup`: the steps of the first power-up, and what every meter should read.

use crate::log;
use crate::shell::{Complaint, ProgressLine, complain, gather, say, style_of};
use clap::Args;
use quietrail_report::bringup::{Sheet, json, text};
use quietrail_report::words::bringup as words;
use quietrail_study::bringup::{bring_up, planned};
use std::io;
use std::path::PathBuf;

/// Print the steps of the bring-up: cautions, what is connected, what every point should read.
///
/// Steps with power stay locked until the rows of the steps before them hold a reading (`quietrail read`).
///
/// Exit status: 0 printed, 2 the job could not be read or has no such step.
#[derive(Args)]
pub(crate) struct Bringup {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// Only this step.
    #[arg(long)]
    step: Option<String>,
    /// For paper: empty boxes where nothing was read.
    #[arg(long)]
    paper: bool,
    /// Print the answer as data.
    #[arg(long)]
    json: bool,
}

impl Bringup {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let sources = gather(&self.job)?;
        let job = sources.job()?;
        let known: Vec<String> = planned(&job).into_iter().map(|step| step.name).collect();
        if let Some(name) = &self.step
            && !known.contains(name)
        {
            let near = quietrail_job::nearest(name, known.iter().map(String::as_str));
            return Err(complain(words::no_such_step(name, near.as_deref(), &known)));
        }
        let log = log::read(&sources.job_path)?;
        log::report_damage(&log);
        let line = ProgressLine::new();
        line.say("solving each step");
        let options = quietrail_study::options();
        let found = bring_up(&job, &log, self.step.as_deref(), &options).map_err(complain)?;
        drop(line);
        if self.json {
            say(&format!("{:#}\n", json(&found)))?;
        } else {
            let sheet = if self.paper {
                Sheet::Paper
            } else {
                Sheet::Screen
            };
            let style = style_of(&io::stdout());
            say(&text(&found, self.step.as_deref(), sheet, style))?;
        }
        Ok(0)
    }
}
