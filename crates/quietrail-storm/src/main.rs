//! `cargo xtask storm`: made-up jobs, or those of a folder, each solved in every state.

use clap::Parser;
use quietrail_storm::make;
use quietrail_storm::solve::states;
use quietrail_storm::tally::{Offence, Tally};
use rayon::prelude::{IntoParallelIterator, ParallelIterator};
use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Solves every state of many made-up jobs.
#[derive(Parser)]
struct Arguments {
    /// How many jobs.
    #[arg(long, default_value_t = 2000)]
    count: u64,
    /// Settles all choices.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// The first job of the seed's row.
    #[arg(long, default_value_t = 0)]
    first: u64,
    /// Solves the jobs of this folder instead.
    #[arg(long)]
    jobs: Option<PathBuf>,
    /// Writes jobs with something wrong to this folder.
    #[arg(long)]
    keep: Option<PathBuf>,
    /// Prints one line of JSON.
    #[arg(long)]
    json: bool,
}

/// Jobs solved before the next are made: a storm of any size fits in memory.
const BATCH: u64 = 200;

fn main() -> ExitCode {
    match run(&Arguments::parse()) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn run(arguments: &Arguments) -> io::Result<bool> {
    // A panic is counted and its job kept; its words go there.
    std::panic::set_hook(Box::new(|_| {}));
    let mut tally = Tally::default();
    let mut kinds: BTreeMap<String, u64> = BTreeMap::new();
    let texts = arguments.jobs.as_deref().map(folder).transpose()?;
    let count = texts
        .as_ref()
        .map_or(arguments.count, |texts| texts.len() as u64);
    let first = if texts.is_some() { 0 } else { arguments.first };
    let text = |number: u64| match &texts {
        Some(texts) => texts[number as usize].clone(),
        None => make::job(arguments.seed, number).text,
    };
    let mut start = 0;
    while start < count {
        let end = count.min(start + BATCH);
        let fates: Vec<_> = (first + start..first + end)
            .into_par_iter()
            .map(|number| (number, states(&text(number), number)))
            .collect();
        for (number, fate) in &fates {
            for offence in tally.add(*number, fate) {
                *kinds.entry(offence.kind.to_owned()).or_default() += 1;
                if let Some(keep) = &arguments.keep {
                    let name = format!("{}-{}-{number}.toml", offence.kind, arguments.seed);
                    write(&keep.join(name), &offence, &text(*number))?;
                }
            }
        }
        start = end;
    }
    if arguments.json {
        println!("{}", tally.json());
    } else {
        println!("{:#}", tally.json());
    }
    for (kind, count) in kinds {
        eprintln!("{kind}: {count}");
    }
    Ok(tally.is_clean())
}

/// The jobs of a folder, by name.
fn folder(path: &Path) -> io::Result<Vec<String>> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(path)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<io::Result<_>>()?;
    files.retain(|file| file.extension().is_some_and(|end| end == "toml"));
    files.sort();
    files.iter().map(std::fs::read_to_string).collect()
}

fn write(path: &Path, offence: &Offence, text: &str) -> io::Result<()> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)?;
    }
    let says: String = offence.says.replace('\n', " ");
    std::fs::write(path, format!("# {}: {says}\n{text}", offence.kind))
}
