//! `quietrail transformer`: what an unmarked transformer is, by the readings taken of it.

use crate::shell::{Complaint, complain, gather, say, style_of, write_kept};
use clap::Args;
use quietrail_report::{transformer as told, words::transformer as words};
use quietrail_study::transformer::{Known, know};
use std::io;
use std::path::PathBuf;

/// Make the model of an unmarked transformer from the readings in the job.
///
/// Exit status: 0 a model, 1 readings contradict each other, 2 the job could not be read or has no readings.
#[derive(Args)]
pub(crate) struct Transformer {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// Only this one, where the job has several.
    #[arg(long, value_name = "NAME")]
    only: Option<String>,
    /// Print the answer as data.
    #[arg(long)]
    json: bool,
    /// Write the model into the job, as [transformer.NAME]; comments and order are kept.
    #[arg(long)]
    keep: bool,
}

/// Exit status where readings contradict each other.
const CONTRADICTED: u8 = 1;

impl Transformer {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let sources = gather(&self.job)?;
        let job = sources.job()?;
        let names: Vec<&str> = job.unmarked.iter().map(|one| one.name.as_str()).collect();
        if names.is_empty() {
            return Err(complain(
                "the job has no readings of a transformer: write them in [unmarked.T1], see the guide",
            ));
        }
        if let Some(only) = &self.only
            && !names.contains(&only.as_str())
        {
            return Err(complain(format_args!(
                "no unmarked transformer is called {only}; there are {}",
                names.join(", ")
            )));
        }
        let mut all: Vec<Known> = Vec::new();
        for unmarked in &job.unmarked {
            if self
                .only
                .as_ref()
                .is_some_and(|only| *only != unmarked.name)
            {
                continue;
            }
            let known = know(unmarked, &job).map_err(|why| {
                complain(format_args!("{}: {}", unmarked.name, words::no_model(&why)))
            })?;
            all.push(known);
        }
        if self.json {
            say(&format!(
                "{:#}\n",
                told::to_json(&job.title, &all, sources.job_text())
            ))?;
        } else {
            let texts: Vec<String> = all
                .iter()
                .map(|known| told::text(known, sources.job_text(), style_of(&io::stdout())))
                .collect();
            say(&texts.join("\n"))?;
        }
        if self.keep {
            let mut text = sources.job_text().to_owned();
            for known in &all {
                let kept = told::kept(known)
                    .map_err(|why| complain(format_args!("{}: not kept: {why}", known.name)))?;
                text =
                    quietrail_job::keep_transformer(&text, &known.name, &kept.table, &kept.values)
                        .map_err(|error| {
                            complain(format_args!("{}: not kept: {error}", known.name))
                        })?;
            }
            write_kept(&sources.job_path, &text)?;
            for known in &all {
                eprintln!(
                    "{}",
                    words::kept(&sources.job_path.display().to_string(), &known.name)
                );
            }
        }
        let contradicted = all.iter().any(Known::is_contradicted);
        Ok(if contradicted { CONTRADICTED } else { 0 })
    }
}
