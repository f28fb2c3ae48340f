//! `quietrail oscillator`: what a counter's log says of the oscillator, and its acceptance against its own data sheet.

use crate::cmd::named::{known as one_of, unknown};
use crate::log;
use crate::shell::{Complaint, Sources, complain, gather, say, style_of};
use clap::Args;
use quietrail_bench::accept::{Log, accept, kept_logs};
use quietrail_bench::capture::Assumed;
use quietrail_bench::counter::{Counted, counted};
use quietrail_bench::log::{Draft, Observed, Row, SetUp};
use quietrail_job::model::{Instrument, InstrumentKind, Job, Oscillator as Own};
use quietrail_report::{acceptance, number, words};
use quietrail_web::now;
use std::io;
use std::path::PathBuf;

/// Work out a counter's log, and judge the oscillator by its own data sheet.
///
/// With LOG: warm-up, offset, drift, Allan deviation with its 95 % range and the kind of noise. Then each line of the data sheet
/// that `[oscillator.X1]` gives, with what its readings and the log show of it: level, harmonics, spurs, warm-up, offset, ageing,
/// stability. Without LOG the one counts that was kept last.
///
/// Exit status: 0 every line held, 1 one failed, 2 nothing could be read, 3 something is not shown.
#[derive(Args)]
pub(crate) struct Oscillator {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// The counter's log, relative to the job: time and frequency in Hz.
    log: Option<String>,
    /// Which column, by name or number.
    #[arg(long)]
    column: Option<String>,
    /// Which oscillator, where the job has several.
    #[arg(long)]
    oscillator: Option<String>,
    /// The counter, by its name in the job; else the first of that kind.
    #[arg(long = "with", value_name = "INSTRUMENT")]
    with: Option<String>,
    /// Keep the log among the readings.
    #[arg(long, requires = "log")]
    keep: bool,
    /// How it was counted: the reference, the gate, what ran beside.
    #[arg(long)]
    setup: Option<String>,
    /// Print the answer as data.
    #[arg(long)]
    json: bool,
}

/// A log of the disk with what it came to.
struct Read {
    counted: Counted,
    counter: String,
    row: Option<u64>,
    gate: Option<f64>,
}

impl Oscillator {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let sources = gather(&self.job)?;
        let job = sources.job()?;
        let own = self.own(&sources, &job)?;
        let readings = log::read(&sources.job_path)?;
        log::report_damage(&readings);
        let mut read = self.kept(&sources, &readings, own);
        let mut said = String::new();
        if let Some(typed) = &self.log {
            let file = &super::capture::name_of(&sources.job_path, typed);
            let (counted, assumed) = self.work_out(&sources, file, self.column.as_deref(), own)?;
            let taken = words::captures::taken(&assumed);
            said.push_str(&acceptance::of_log(&[taken], style_of(&io::stdout())));
            let counter = self.counter(&job)?;
            read.push(Read {
                counted,
                counter,
                row: None,
                gate: self
                    .setup
                    .as_deref()
                    .and_then(|setup| SetUp::of(setup).gate()),
            });
        }
        if let Some(last) = read.last_mut() {
            let hertz = own.frequency.nominal();
            let lines = words::counted::lines(&own.name, hertz, &last.counted);
            said.push_str(&acceptance::of_log(&lines, style_of(&io::stdout())));
            if self.keep {
                let row = self.keep_log(&sources, own, last)?;
                said.push_str(&format!("{}\n", words::readings::kept(&row)));
                last.row = Some(row.row);
            }
        }
        let counter = |name: &str| job.instruments.iter().find(|one| one.name == name);
        let logs: Vec<Log<'_>> = read
            .iter()
            .map(|read| Log {
                counted: &read.counted,
                counting: counter(&read.counter).and_then(|one| one.counting.as_ref()),
                counter: &read.counter,
                row: read.row,
                gate: read.gate,
            })
            .collect();
        let found = accept(own, &readings.standing(), &logs, &job.instruments);
        let of = acceptance::Of {
            name: &own.name,
            hertz: own.frequency.nominal(),
            instruments: &job.instruments,
        };
        if self.json {
            let data = acceptance::to_json(&job.title, of, &found);
            say(&format!("{data:#}\n"))?;
            return Ok(acceptance::exit_status(&found));
        }
        match (found.is_empty(), !read.is_empty()) {
            (true, false) => {
                let path = sources.job_path.display();
                return Err(complain(format_args!(
                    "{path}: {}",
                    words::acceptance::NO_LIMITS
                )));
            }
            (true, true) => {}
            (false, _) => {
                if read.is_empty() {
                    let no_log = [words::acceptance::NO_LOG.to_owned()];
                    said.push_str(&acceptance::of_log(&no_log, style_of(&io::stdout())));
                }
                said.push('\n');
                said.push_str(&acceptance::text(of, &found, style_of(&io::stdout())));
            }
        }
        say(&number::spaced(&said))?;
        Ok(acceptance::exit_status(&found))
    }

    fn own<'a>(&self, sources: &Sources, job: &'a Job) -> Result<&'a Own, Complaint> {
        match (&self.oscillator, &*job.oscillators) {
            (None, [only]) => Ok(only),
            (None, []) => {
                let path = sources.job_path.display();
                Err(complain(format_args!("{path}: {}", words::sidebands::NONE)))
            }
            (None, _) => Err(complain(words::counted::WHICH)),
            (Some(name), all) => {
                let known: Vec<&str> = all.iter().map(|one| one.name.as_str()).collect();
                all.iter()
                    .find(|one| one.name == *name)
                    .ok_or_else(|| unknown("oscillator", name, &known))
            }
        }
    }

    /// The counter that is named, or the first.
    fn counter(&self, job: &Job) -> Result<String, Complaint> {
        let is_counter = |one: &&Instrument| one.kind == InstrumentKind::Counter;
        match &self.with {
            Some(name) => {
                let known: Vec<&str> = job
                    .instruments
                    .iter()
                    .map(|one| one.name.as_str())
                    .collect();
                one_of("instrument", name, &known).map(|()| name.clone())
            }
            None => Ok(job
                .instruments
                .iter()
                .find(is_counter)
                .map_or_else(String::new, |one| one.name.clone())),
        }
    }

    fn work_out(
        &self,
        sources: &Sources,
        file: &str,
        column: Option<&str>,
        own: &Own,
    ) -> Result<(Counted, Vec<Assumed>), Complaint> {
        let path = sources.job_path.with_file_name(file);
        let capture = super::capture::read_capture(&path, column)?;
        let because = |why: String| complain(format_args!("{}: {why}", path.display()));
        if capture.unit != "Hz" {
            return Err(because(words::counted::not_hertz(capture.unit)));
        }
        let hertz = own.frequency.nominal();
        let found = counted(&capture.samples, hertz)
            .map_err(|why| because(words::counted::not_counted(why)))?;
        Ok((found.in_steps_of(capture.step / hertz), capture.assumed))
    }

    /// The logs that were kept, oldest first. One that is gone is told, and takes nothing with it of what else was read.
    fn kept(
        &self,
        sources: &Sources,
        readings: &quietrail_bench::log::Log,
        own: &Own,
    ) -> Vec<Read> {
        let standing = readings.standing();
        let mut all = Vec::new();
        for row in kept_logs(&standing, &own.name) {
            let column = row.setup.column.as_deref();
            match self.work_out(sources, &row.capture, column, own) {
                Ok((counted, _)) => all.push(Read {
                    counted,
                    counter: row.instrument.clone(),
                    row: Some(row.row),
                    gate: row.setup.gate(),
                }),
                Err(gone) => eprint!("{gone}"),
            }
        }
        all
    }

    fn keep_log(&self, sources: &Sources, own: &Own, read: &Read) -> Result<Row, Complaint> {
        let setup = self.setup.clone().unwrap_or_default();
        if setup.trim().is_empty() {
            return Err(complain(words::acceptance::KEEP_NEEDS));
        }
        if read.counter.is_empty() {
            return Err(complain(words::acceptance::NO_COUNTER));
        }
        let column = self.column.as_ref();
        let draft = Draft {
            time: now(),
            of: own.name.clone(),
            what: Observed::Frequency.word().to_owned(),
            value: read.counted.kept_hertz(own.frequency.nominal()),
            unit: "Hz".to_owned(),
            instrument: read.counter.clone(),
            setup: column.map_or_else(|| setup.clone(), |name| format!("{setup}; column {name}")),
            capture: self.log.as_ref().map_or_else(String::new, |typed| {
                super::capture::name_of(&sources.job_path, typed)
            }),
            ..Draft::default()
        };
        log::keep(&sources.job_path, &draft)
    }
}
