//! `quietrail bringup`: the steps of the first power-up, and what every meter should read.

use crate::log;
use crate::shell::{Complaint, ProgressLine, complain, gather, say, style_of};
use clap::Args;
use quietrail_report::bringup::{Sheet, json, text};
use quietrail_report::words::{bringup as words, progress as progress_words};
use quietrail_study::bringup::{bring_up, planned};
use quietrail_study::gate::Gate;
use quietrail_study::measured;
use quietrail_study::prove::prove_telling;
use std::io;
use std::path::PathBuf;

/// Print the steps of the bring-up: cautions, what is connected, what every point should read.
///
/// Steps with power stay locked until the rows of the steps before them hold a reading (`quietrail read`). Limits that the proof
/// fails head the sheet.
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
        // A job whose proof fails says so before its first step.
        let mut proof = prove_telling(&job, &options, &mut |progress| {
            line.say(&progress_words(progress));
        })
        .map_err(complain)?;
        let limits = measured::Limited::of_proof(&proof);
        let judged = measured::judged(&job, &limits, &log, &Gate::from(&found), &options);
        measured::merge(&mut proof, &judged);
        drop(line);
        if self.json {
            say(&format!("{:#}\n", json(&found, &proof.limits)))?;
        } else {
            let sheet = if self.paper {
                Sheet::Paper
            } else {
                Sheet::Screen
            };
            let style = style_of(&io::stdout());
            let only = self.step.as_deref();
            say(&text(&found, &proof.limits, only, sheet, style))?;
        }
        Ok(0)
    }
}
