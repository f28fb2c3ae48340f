//! `quietrail prove`: every limit and rating at the worst corner found.

use crate::log;
use crate::shell::{Complaint, ProgressLine, complain, gather, say, style_of};
use clap::Args;
use quietrail_report::remarks::Source;
use quietrail_report::verdicts::{Beside, Rows};
use quietrail_report::{faults as told, json, readings, verdicts, words};
use quietrail_study::bringup;
use quietrail_study::faults;
use quietrail_study::measured;
use quietrail_study::prove::{prove_from, prove_telling};
use quietrail_study::search::{Known, Watch};
use quietrail_study::yields::{self, Harvest, Sampling};
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
    /// Say for each limit whether the instruments of the job can show it.
    #[arg(long)]
    bench: bool,
    /// Sample this many builders and say how many get a supply that holds; rounded up to a multiple of 16.
    #[arg(long, value_name = "N", default_value_t = 0)]
    samples: u64,
    /// Break one part at a time as well, and say what that puts on the pins of each load.
    #[arg(long)]
    faults: bool,
}

impl Prove {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let form = match (self.json, self.all) {
            (true, _) => Form::Data,
            (false, true) => Form::Table(Rows::EveryState),
            (false, false) => Form::Table(Rows::WorstState),
        };
        let asked = More {
            shown: self.shown,
            bench: self.bench,
            samples: self.samples,
            faults: self.faults,
        };
        of(&self.job, form, asked)
    }
}

/// How the answer is printed.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Table(Rows),
    Data,
}

/// What is asked besides the verdicts.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct More {
    shown: bool,
    bench: bool,
    samples: u64,
    faults: bool,
}

/// Proves the job at a path and prints the answer.
pub(super) fn of(path: &Path, form: Form, more: More) -> Result<u8, Complaint> {
    let More {
        shown,
        bench,
        samples,
        faults: breaks,
    } = more;
    let sources = gather(path)?;
    let job = sources.job().inspect_err(|_| {
        if form == Form::Data {
            let _ = say(&format!("{:#}\n", sources.diagnostics_json()));
        }
    })?;
    let line = ProgressLine::new();
    let mut proof = prove_telling(&job, &quietrail_study::options(), &mut |progress| {
        line.say(&words::progress(progress));
    })
    .map_err(|trouble| complain(format_args!("{}: {trouble}", sources.job_path.display())))?;
    let log = log::read(&sources.job_path)?;
    let options = quietrail_study::options();
    let harvest = (samples > 0)
        .then(|| -> Result<Harvest, Complaint> {
            line.say(words::yields::SAMPLING);
            let seed = yields::SEED;
            let sampling = Sampling { samples, seed };
            let mut again = |known: &[Known]| {
                prove_from(&job, &options, known, &Watch::default(), &mut |progress| {
                    line.say(&words::progress(progress));
                })
            };
            let (found, harvest) =
                yields::of_proved(&job, proof.clone(), sampling, &options, &mut again).map_err(
                    |trouble| complain(format_args!("{}: {trouble}", sources.job_path.display())),
                )?;
            proof = found;
            Ok(harvest)
        })
        .transpose()?;
    let gate = bringup::gate(&job, &log, &options)
        .map_err(|trouble| complain(format_args!("{}: {trouble}", sources.job_path.display())))?;
    let limits = measured::Limited::of_findings(&proof.limits);
    let judged = measured::judged(&job, &limits, &log, &gate, &options);
    measured::merge(&mut proof.limits, &judged);
    let showable = bench.then(|| measured::showable(&job, &proof, &options));
    let broken = breaks
        .then(|| {
            faults::faults_telling(&job, &options, &|tried, all| {
                line.say(&words::faults::looking(tried, all));
            })
        })
        .transpose()
        .map_err(|trouble| complain(format_args!("{}: {trouble}", sources.job_path.display())))?;
    drop(line);
    log::report_damage(&log);
    let path = sources.job_path.display().to_string();
    let source = Some(Source {
        path: &path,
        text: &sources.job_text,
    });
    match form {
        Form::Data => {
            let mut answer = json::proof_with(&proof, harvest.as_ref(), source);
            answer["readings"] = readings::json(&judged);
            answer["misfits"] = readings::misfits_json(&gate.misfits());
            answer["bench"] = showable
                .as_deref()
                .map_or(serde_json::Value::Null, readings::prospects_json);
            if let Some(broken) = &broken {
                answer["faults"] = told::to_json(broken, &proof.states);
            }
            say(&format!("{answer:#}\n"))?;
        }
        Form::Table(rows) => {
            let style = style_of(&io::stdout());
            let mut under = readings::misfits(&gate.misfits(), style);
            under.extend(readings::lines(&judged, style));
            under.extend(showable.map_or_else(Vec::new, |all| readings::prospects(&all, style)));
            under.extend(harvest.map_or_else(Vec::new, |harvest| {
                quietrail_report::yields::lines(&harvest, style)
            }));
            let beside = Beside {
                under: &under,
                faults: broken.as_ref(),
                source,
            };
            let text = verdicts::table_and(&proof, rows, &beside, style);
            say(&text)?;
        }
    }
    let breaks_a_pin = broken.as_ref().is_some_and(|broken| broken.exceeding() > 0);
    let leaves_out =
        broken.is_some_and(|broken| !broken.unbegun.is_empty() || !broken.unsolved.is_empty());
    let status = match verdicts::exit_status(&proof, shown) {
        0 | 3 if breaks_a_pin => 1,
        0 if leaves_out => i32::from(crate::shell::NOT_SHOWN),
        status => status,
    };
    Ok(u8::try_from(status).unwrap_or(crate::shell::UNREADABLE))
}
