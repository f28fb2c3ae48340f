//! `quietrail regulators`: the card of each regulator.

use crate::shell::{Complaint, NOT_SHOWN, complain, gather, say, style_of};
use clap::Args;
use quietrail_report::{regulators as told, words};
use quietrail_study::regulators::{Card, Pass};
use std::io;
use std::path::PathBuf;

/// Look at each regulator: set point, trimmer, current limit, start from nothing, least load, output capacitor; and at each
/// pass transistor: drop, base current, headroom, ripple behind it.
///
/// Exit status: 0 told, 1 something of them fails, 2 the job could not be read, 3 something is not shown, such as a state that did
/// not settle.
#[derive(Args)]
pub(crate) struct Regulators {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// Print the answer as data.
    #[arg(long)]
    json: bool,
}

impl Regulators {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let sources = gather(&self.job)?;
        let job = sources.job()?;
        let cards = quietrail_study::regulators::cards(&job, &quietrail_study::options()).map_err(
            |trouble| complain(format_args!("{}: {trouble}", sources.job_path.display())),
        )?;
        let passes = quietrail_study::regulators::passes(&job, &quietrail_study::options())
            .map_err(|trouble| {
                complain(format_args!("{}: {trouble}", sources.job_path.display()))
            })?;
        if self.json {
            say(&format!(
                "{:#}\n",
                told::to_json(&job.title, &cards, &passes)
            ))?;
        } else {
            let heading = words::heading(&job.title, &job.region.name);
            say(&told::text(
                &heading,
                &cards,
                &passes,
                style_of(&io::stdout()),
            ))?;
        }
        let fails = cards.iter().any(Card::fails) || passes.iter().any(Pass::fails);
        let is_all_shown = passes.iter().all(|pass| pass.unsettled.is_empty())
            && cards
                .iter()
                .flat_map(|card| &card.starts)
                .all(|start| start.ends.is_some());
        Ok(match (fails, is_all_shown) {
            (true, _) => 1,
            (false, true) => 0,
            (false, false) => NOT_SHOWN,
        })
    }
}
