//! `quietrail bringup`: the steps of the first power-up, and what every meter should read.

use crate::log;
use crate::shell::{Complaint, ProgressLine, complain, gather, say, style_of};
use clap::Args;
use quietrail_bench::log::Log;
use quietrail_job::model::Job;
use quietrail_report::bringup::{Said, Sheet, json, text};
use quietrail_report::causes as causes_report;
use quietrail_report::words::{
    asking, bringup as words, causes as causes_words, progress as progress_words,
};
use quietrail_study::bringup::{Kind, Planned, bring_up, causes, planned};
use quietrail_study::gate::Gate;
use quietrail_study::measured;
use quietrail_study::prove::verdicts;
use std::io;
use std::path::PathBuf;

/// Print the steps of the bring-up: cautions, what is connected, what every point should read.
///
/// Steps with power stay locked until the rows of the steps before them hold a reading (`quietrail read`). Limits that the proof
/// fails head the sheet; with --step those of its state.
///
/// Exit status: 0 printed, 2 the job could not be read or has no such step.
#[derive(Args)]
pub(crate) struct Bringup {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// Only this step.
    #[arg(long)]
    step: Option<String>,
    /// What single fault would make the step read as it was read, where a reading is outside its band.
    #[arg(long, requires = "step", conflicts_with = "paper")]
    why: bool,
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
        let steps = planned(&job);
        let known: Vec<String> = steps.iter().map(|step| step.name.clone()).collect();
        if let Some(name) = &self.step
            && !known.contains(name)
        {
            let near = quietrail_job::nearest(name, known.iter().map(String::as_str));
            return Err(complain(words::no_such_step(name, near.as_deref(), &known)));
        }
        let log = log::read(&sources.job_path)?;
        log::report_damage(&log);
        let options = quietrail_study::options();
        let only = self.step.as_deref();
        let own = only.and_then(|name| steps.iter().find(|step| step.name == name));
        if let Some(planned) = own.filter(|_| self.why) {
            return self.why(&job, planned, &log);
        }
        let line = ProgressLine::new();
        line.say(asking::WORKING_OUT);
        let found = bring_up(&job, &log, only, &options).map_err(complain)?;
        // A job whose proof fails says so before its first step; of one step alone, as far as that step goes.
        let states: Vec<usize> = match own {
            Some(step) if step.kind != Kind::Load => step.state.into_iter().collect(),
            _ => (0..job.states.len()).collect(),
        };
        let mut limits = verdicts(&job, &states, &options, &mut |progress| {
            line.say(&progress_words(progress));
        })
        .map_err(complain)?;
        let asked = measured::Limited::of_findings(&limits);
        let gate = Gate::from(&found);
        let judged = measured::judged(&job, &asked, &log, &gate, &options);
        measured::merge(&mut limits, &judged);
        // A limit is told in each step in which it was read.
        let of_steps = |one: &measured::Judged| {
            let rows = one.judgement.rows.iter();
            let mut steps: Vec<&str> = rows
                .filter_map(|row| gate.step_of(log.row(*row)?))
                .collect();
            steps.sort_unstable();
            steps.dedup();
            let told = steps.into_iter().map(|step| (step.to_owned(), one.clone()));
            told.collect::<Vec<_>>()
        };
        let judged: Vec<(String, measured::Judged)> = judged.iter().flat_map(of_steps).collect();
        let is_partial = states.len() < job.states.len();
        drop(line);
        if self.json {
            say(&format!("{:#}\n", json(&found, &limits, &judged)))?;
        } else {
            let sheet = if self.paper {
                Sheet::Paper
            } else {
                Sheet::Screen
            };
            let style = style_of(&io::stdout());
            let said = Said {
                limits: &limits,
                judged: &judged,
                is_partial,
            };
            say(&text(&found, &said, only, sheet, style))?;
        }
        Ok(0)
    }

    /// What could be wrong in a step.
    fn why(&self, job: &Job, planned: &Planned, log: &Log) -> Result<u8, Complaint> {
        let options = quietrail_study::options();
        let line = ProgressLine::new();
        line.say(causes_words::LOOKING);
        let name = planned.name.as_str();
        let found = bring_up(job, log, Some(name), &options).map_err(complain)?;
        let step = found.steps.iter().find(|step| step.name == name);
        let mains_of = |row: u64| log.row(row)?.mains_v;
        let found = match step {
            Some(step) => causes(job, planned, step, mains_of, &options).map_err(complain)?,
            None => None,
        };
        drop(line);
        if self.json {
            say(&format!("{:#}\n", causes_report::json(found.as_ref())))?;
        } else {
            let style = style_of(&io::stdout());
            say(&causes_report::text(name, found.as_ref(), style))?;
        }
        Ok(0)
    }
}
