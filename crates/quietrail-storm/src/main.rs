//! `cargo xtask storm`: made-up jobs, or those of a folder, each solved in every state on all cores.

mod watch;
mod weather;

use clap::Parser;
use quietrail_storm::make::{self, Made};
use quietrail_storm::tally::Offence;
use std::collections::BTreeSet;
use std::fmt;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};
use weather::{Weathered, weather};

/// Solves every state of many made-up jobs, and ends with a failure where more than one steady state in ten
/// thousand is not found, where anything panics, where a job cannot be read, or where another way of solving
/// disagrees.
#[derive(Parser)]
#[command(name = "cargo xtask storm")]
struct Arguments {
    /// How many jobs to make.
    #[arg(long, default_value_t = 2000, value_parser = clap::value_parser!(u64).range(1..))]
    count: u64,
    /// Settles every choice; the same seed makes the same jobs.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Number of the first job.
    #[arg(long, default_value_t = 0)]
    first: u64,
    /// Solves all *.toml of this folder instead of making jobs.
    #[arg(long, value_name = "DIR", conflicts_with_all = ["count", "seed", "first", "print"])]
    jobs: Option<PathBuf>,
    /// Writes each job with something wrong to this folder, the reason on top.
    #[arg(long, value_name = "DIR")]
    keep: Option<PathBuf>,
    /// Takes no further job in hand after so many seconds, and waits 20 s more for those in hand; what was done by
    /// then is counted.
    #[arg(long, value_name = "S")]
    seconds: Option<u64>,
    /// Prints the jobs, and solves nothing.
    #[arg(long)]
    print: bool,
    /// Prints one line of JSON; without it the same stands line by line.
    #[arg(long)]
    json: bool,
}

/// Why a storm could not be run.
enum Failed {
    /// A file or folder.
    File(PathBuf, io::Error),
    /// A folder without jobs.
    Empty(PathBuf),
    /// Job numbers beyond the last.
    TooMany,
}

impl fmt::Display for Failed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failed::File(path, error) => write!(f, "{}: {error}", path.display()),
            Failed::Empty(path) => write!(f, "{}: no *.toml in this folder", path.display()),
            Failed::TooMany => f.write_str("--first and --count together go beyond the last job"),
        }
    }
}

fn main() -> ExitCode {
    match run(&Arguments::parse()) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(failed) => {
            eprintln!("storm: {failed}");
            ExitCode::from(2)
        }
    }
}

/// Runs a storm; whether all is well.
fn run(arguments: &Arguments) -> Result<bool, Failed> {
    let source = Arc::new(Source::of(arguments)?);
    if arguments.print {
        for number in source.numbers() {
            println!("# {}\n{}", source.name(number), source.text(number)?);
        }
        return Ok(true);
    }
    if let Some(keep) = &arguments.keep {
        fs::create_dir_all(keep).map_err(|error| Failed::File(keep.clone(), error))?;
    }
    // A panic is counted, and its words go into the offence.
    std::panic::set_hook(Box::new(|_| {}));
    let until = arguments
        .seconds
        .map(|seconds| Instant::now() + Duration::from_secs(seconds));
    let Weathered {
        tally,
        census,
        unfinished,
    } = weather(&source, until, arguments.keep.as_deref())?;
    let mut json = tally.json();
    let asked = source.numbers();
    json["stopped_early"] = (tally.jobs() < asked.end - asked.start).into();
    json["unfinished"] = unfinished.clone().into();
    json["shares"] = census
        .quotas()
        .into_iter()
        .map(|quota| (quota.what, quota.share.into()))
        .collect::<serde_json::Map<_, serde_json::Value>>()
        .into();
    if arguments.json {
        println!("{json}");
    } else {
        println!("{json:#}");
    }
    Ok(tally.is_clean() && unfinished.is_empty())
}

/// Where jobs come from.
enum Source {
    /// They are made.
    Made { seed: u64, first: u64, count: u64 },
    /// They stand in files, in the order of their names.
    Files(Vec<PathBuf>),
}

impl Source {
    fn of(arguments: &Arguments) -> Result<Self, Failed> {
        let Some(folder) = &arguments.jobs else {
            let (first, count) = (arguments.first, arguments.count);
            first.checked_add(count).ok_or(Failed::TooMany)?;
            return Ok(Self::Made {
                seed: arguments.seed,
                first,
                count,
            });
        };
        let at_folder = |error| Failed::File(folder.clone(), error);
        let mut files = Vec::new();
        for entry in fs::read_dir(folder).map_err(at_folder)? {
            let path = entry.map_err(at_folder)?.path();
            if path.extension().is_some_and(|end| end == "toml") {
                files.push(path);
            }
        }
        if files.is_empty() {
            return Err(Failed::Empty(folder.clone()));
        }
        files.sort();
        Ok(Self::Files(files))
    }

    fn numbers(&self) -> std::ops::Range<u64> {
        match self {
            Source::Made { first, count, .. } => *first..first + count,
            Source::Files(files) => 0..files.len() as u64,
        }
    }

    /// `1-17` for a job that is made, else the name of its file without the ending.
    fn name(&self, number: u64) -> String {
        match self {
            Source::Made { seed, .. } => format!("{seed}-{number}"),
            Source::Files(files) => files[number as usize]
                .file_stem()
                .map_or_else(String::new, |stem| stem.to_string_lossy().into_owned()),
        }
    }

    fn text(&self, number: u64) -> Result<String, Failed> {
        self.made(number).map(|made| made.text)
    }

    /// A job; of those in files nobody says what they are meant to suffer from.
    fn made(&self, number: u64) -> Result<Made, Failed> {
        match self {
            Source::Made { seed, .. } => Ok(make::job(*seed, number)),
            Source::Files(files) => {
                let path = &files[number as usize];
                let text =
                    fs::read_to_string(path).map_err(|error| Failed::File(path.clone(), error))?;
                let aims = BTreeSet::new();
                Ok(Made { text, aims })
            }
        }
    }
}

/// Keeps a job for a person to look at.
fn write(folder: &Path, name: &str, offence: &Offence, text: &str) -> Result<(), Failed> {
    let says = offence.says.replace('\n', " ");
    let path = folder.join(format!("{}-{name}.toml", offence.kind));
    fs::write(&path, format!("# {}: {says}\n{text}", offence.kind))
        .map_err(|error| Failed::File(path, error))
}
