//! `quietrail transformer`: what an unmarked transformer is, by the readings taken of it.

use crate::shell::{Complaint, Sources, complain, gather, say, style_of, write_kept};
use clap::Args;
use quietrail_job::model::Job;
use quietrail_report::difference::printed;
use quietrail_report::take_over::taken_over;
use quietrail_report::words::{salvage as salvage_words, transformer as words};
use quietrail_report::{salvage, transformer as told};
use quietrail_study::capacitors::vet;
use quietrail_study::switch_on::switch_on;
use quietrail_study::transformer::{Joins, Known, joins, know, wanted};
use quietrail_units::{Amperes, Farads, Quantity, Unit};
use std::io;
use std::path::PathBuf;

/// Make the model of an unmarked transformer from the readings in the job.
///
/// With --switch-on and --capacitors it looks at the supply that the job draws, readings or not.
///
/// Exit status: 0 an answer, 1 readings contradict each other, a surge rating fails or a capacitor is not fit, 2 the job could not
/// be read or has no readings.
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
    /// Show how its windings can be joined, and the raw DC that each join gives.
    #[arg(long, conflicts_with_all = ["switch_on", "capacitors", "keep"])]
    joins: bool,
    /// Direct current that a join has to deliver; what the job's loads draw at most, if left out.
    #[arg(long, value_name = "AMPERES", requires = "joins")]
    amps: Option<String>,
    /// Reservoir behind it; the largest of the job, if left out.
    #[arg(long, value_name = "FARADS", requires = "joins")]
    reservoir: Option<String>,
    /// Show the first cycles after switching on, fuse links, faults, and how long reservoirs keep their charge.
    #[arg(long, conflicts_with_all = ["capacitors", "keep", "only"])]
    switch_on: bool,
    /// Vet the reservoirs and every capacitor of which something was measured.
    #[arg(long, conflicts_with_all = ["keep", "only"])]
    capacitors: bool,
    /// Write the model into the job, as [transformer.NAME]; comments and order are kept, and what changes is printed.
    #[arg(long)]
    keep: bool,
    /// Print the lines of the job that --keep would change, and write nothing.
    #[arg(long, conflicts_with_all = ["joins", "switch_on", "capacitors", "keep", "json"])]
    changes: bool,
}

/// Exit status where readings contradict each other.
const CONTRADICTED: u8 = 1;

impl Transformer {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let sources = gather(&self.job)?;
        let job = sources.job()?;
        if self.switch_on {
            return self.first_cycles(&job);
        }
        if self.capacitors {
            return self.vet(&job);
        }
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
        for unmarked in job.unmarked.iter() {
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
        if self.joins {
            return self.join(&job, &all);
        }
        if self.json {
            say(&format!(
                "{:#}\n",
                told::to_json(&job.title, &all, sources.job_text())
            ))?;
        } else if !self.changes {
            let of = |known: &Known| {
                let mut text = told::text(known, sources.job_text(), style_of(&io::stdout()));
                let old = sources.job_text();
                if let Ok(new) = taken_over(old, known)
                    && !self.keep
                {
                    let lines = printed(old, &new);
                    let new = lines.iter().filter(|line| line.starts_with('+')).count();
                    text.push_str(&format!("\n{}\n", words::would_change(new)));
                }
                text
            };
            let texts: Vec<String> = all.iter().map(of).collect();
            say(&texts.join("\n"))?;
        }
        if self.keep || self.changes {
            self.take_over(&sources, &all)?;
        }
        let contradicted = all.iter().any(Known::is_contradicted);
        Ok(if contradicted { CONTRADICTED } else { 0 })
    }

    /// Prints what the models change in the job, and writes it where that is asked.
    fn take_over(&self, sources: &Sources, all: &[Known]) -> Result<(), Complaint> {
        let path = sources.job_path.display().to_string();
        let mut text = sources.job_text().to_owned();
        for known in all {
            let new = taken_over(&text, known)
                .map_err(|why| complain(format_args!("{}: not kept: {why}", known.name)))?;
            let lines = printed(&text, &new);
            let said = if lines.is_empty() {
                words::would_change(0)
            } else {
                format!(
                    "{}\n{}",
                    words::changes(&path, &known.name),
                    lines.join("\n")
                )
            };
            if !self.json {
                let gap = if self.keep { "\n" } else { "" };
                say(&format!("{gap}{said}\n"))?;
            }
            text = new;
        }
        if !self.keep {
            return Ok(());
        }
        write_kept(&sources.job_path, &text)?;
        for known in all {
            eprintln!("{}", words::kept(&path, &known.name));
        }
        Ok(())
    }

    fn join(&self, job: &Job, all: &[Known]) -> Result<u8, Complaint> {
        let amps = quantity::<Amperes>("--amps", self.amps.as_deref())?;
        let farads = quantity::<Farads>("--reservoir", self.reservoir.as_deref())?;
        let found: Vec<(&str, Joins)> = all
            .iter()
            .map(|known| {
                let wanted = wanted(job, amps, farads);
                (known.name.as_str(), joins(known, job, wanted))
            })
            .collect();
        if self.json {
            let data: Vec<_> = found
                .iter()
                .map(|(name, joins)| salvage::joins_json(name, joins))
                .collect();
            let answer = serde_json::json!({ "format": 1, "job": job.title, "transformers": data });
            say(&format!("{answer:#}\n"))?;
        } else {
            for (_, joins) in &found {
                say(&salvage::joins(joins, style_of(&io::stdout())))?;
            }
        }
        Ok(0)
    }

    fn first_cycles(&self, job: &Job) -> Result<u8, Complaint> {
        let found = switch_on(job, &quietrail_study::options())
            .map_err(|why| complain(salvage_words::no_switch_on(&why)))?;
        if self.json {
            say(&format!(
                "{:#}\n",
                salvage::switch_on_json(&job.title, &found)
            ))?;
        } else {
            say(&salvage::switch_on(
                &job.title,
                &found,
                style_of(&io::stdout()),
            ))?;
        }
        let fails = found
            .surges
            .iter()
            .any(|surge| surge.holds() == Some(false));
        Ok(u8::from(fails))
    }

    fn vet(&self, job: &Job) -> Result<u8, Complaint> {
        let found = vet(job, &quietrail_study::options());
        if self.json {
            say(&format!(
                "{:#}\n",
                salvage::capacitors_json(&job.title, &found)
            ))?;
        } else {
            say(&salvage::capacitors(&found, style_of(&io::stdout())))?;
        }
        let fails = found
            .iter()
            .any(|one| one.against.iter().any(|against| against.rejects()));
        Ok(u8::from(fails))
    }
}

/// A quantity of an option.
fn quantity<U: Unit>(option: &str, text: Option<&str>) -> Result<Option<f64>, Complaint> {
    let Some(text) = text else { return Ok(None) };
    let read =
        Quantity::<U>::parse(text).map_err(|error| complain(format_args!("{option}: {error}")))?;
    if read.low <= 0.0 {
        return Err(complain(format_args!(
            "{option}: {text} has to be more than zero"
        )));
    }
    Ok(Some(read.nominal))
}
