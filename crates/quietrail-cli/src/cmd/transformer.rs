//! `quietrail transformer`: what an unmarked transformer is, by the readings taken of it.

use crate::shell::{Complaint, complain, gather, say, style_of, write_kept};
use clap::Args;
use quietrail_job::model::Job;
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
