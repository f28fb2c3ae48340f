//! `quietrail prove`: every limit and rating at the worst corner found.

use crate::shell::{Complaint, ProgressLine, complain, gather, say, style_of};
use clap::Args;
use quietrail_report::verdicts::Rows;
use quietrail_report::{json, verdicts, words};
use quietrail_study::prove::prove_telling;
use quietrail_study::yields::{self, Sampling};
use std::io;
use std::path::{Path, PathBuf};

/// Judge every limit and every part rating at the worst corner found.
///
/// Exit status: 0 all predicted to hold, 1 something fails, 2 the job could not be read, 3 something is
/// not shown.
#[derive(Args)]
pub(crate) struct Prove {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// Print the answer as data.
    #[arg(long)]
    json: bool,
    /// Show every limit in every state, not only in its worst.
    #[arg(long)]
    all: bool,
    /// Ask for readings too: anything short of measured gives status 3.
    #[arg(long)]
    shown: bool,
    /// Sample this many builders and say how many get a supply that holds; rounded up to a multiple of 16.
    #[arg(long, value_name = "N", default_value_t = 0)]
    samples: u64,
}

impl Prove {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let form = match (self.json, self.all) {
            (true, _) => Form::Data,
            (false, true) => Form::Table(Rows::EveryState),
            (false, false) => Form::Table(Rows::WorstState),
        };
        of(&self.job, form, self.shown, self.samples)
    }
}

/// How the answer is printed.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Table(Rows),
    Data,
}

/// Proves the job at a path and prints the answer.
pub(super) fn of(path: &Path, form: Form, shown: bool, samples: u64) -> Result<u8, Complaint> {
    let sources = gather(path)?;
    let job = sources.job().inspect_err(|_| {
        if form == Form::Data {
            let _ = say(&format!("{:#}\n", sources.diagnostics_json()));
        }
    })?;
    let line = ProgressLine::new();
    let proof = prove_telling(&job, &quietrail_study::options(), &mut |progress| {
        line.say(&words::progress(progress));
    })
    .map_err(|trouble| complain(format_args!("{}: {trouble}", sources.job_path.display())))?;
    let harvest = (samples > 0)
        .then(|| {
            line.say(words::yields::SAMPLING);
            let seed = yields::SEED;
            let sampling = Sampling { samples, seed };
            yields::of(&job, &proof, sampling, &quietrail_study::options())
        })
        .transpose()
        .map_err(|trouble| complain(format_args!("{}: {trouble}", sources.job_path.display())))?;
    drop(line);
    match form {
        Form::Data => say(&format!(
            "{:#}\n",
            json::proof_with(&proof, harvest.as_ref())
        ))?,
        Form::Table(rows) => {
            let style = style_of(&io::stdout());
            let under = harvest.map_or_else(Vec::new, |harvest| {
                quietrail_report::yields::lines(&harvest, style)
            });
            say(&verdicts::table_and(&proof, rows, &under, style))?;
        }
    }
    Ok(u8::try_from(verdicts::exit_status(&proof, shown)).unwrap_or(crate::shell::UNREADABLE))
}
