//! `quietrail oscillator`: what a counter's log says of the oscillator.

use crate::shell::{Complaint, complain, gather, say};
use clap::Args;
use quietrail_bench::counter::counted;
use quietrail_report::words;
use std::path::PathBuf;

/// Work out a counter's log: warm-up, offset, drift, Allan deviation with its 95 % range and the kind of noise.
///
/// Reads the frequency of `[oscillator.X1]`. Nothing is judged: the figures stand beside the data sheet's.
#[derive(Args)]
pub(crate) struct Oscillator {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// The counter's log, relative to the job: time and frequency in Hz.
    log: String,
    /// Which column, by name or number.
    #[arg(long)]
    column: Option<String>,
    /// Which oscillator, where the job has several.
    #[arg(long)]
    oscillator: Option<String>,
}

impl Oscillator {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let sources = gather(&self.job)?;
        let job = sources.job()?;
        let own = match (&self.oscillator, job.oscillators.as_slice()) {
            (None, [only]) => only,
            (None, []) => {
                let path = sources.job_path.display();
                return Err(complain(format_args!("{path}: {}", words::sidebands::NONE)));
            }
            (None, _) => return Err(complain(words::counted::WHICH)),
            (Some(name), all) => {
                let known: Vec<&str> = all.iter().map(|one| one.name.as_str()).collect();
                all.iter().find(|one| one.name == *name).ok_or_else(|| {
                    let near = quietrail_job::nearest(name, known.iter().copied());
                    let near = near.as_deref();
                    complain(words::readings::unknown("oscillator", name, near, &known))
                })?
            }
        };
        let path = sources.job_path.with_file_name(&self.log);
        let capture = super::capture::read_capture(&path, self.column.as_deref())?;
        let because = |why: String| complain(format_args!("{}: {why}", path.display()));
        if capture.unit != "Hz" {
            return Err(because(words::counted::not_hertz(capture.unit)));
        }
        let hertz = own.frequency.nominal();
        let found = counted(&capture.samples, hertz)
            .map_err(|why| because(words::counted::not_counted(why)))?;
        let text = words::counted::lines(&own.name, hertz, &found).join("\n");
        say(&format!("{}\n", quietrail_report::number::spaced(&text)))?;
        Ok(0)
    }
}
