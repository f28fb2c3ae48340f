//! `cargo xtask peers`: our engine beside general-purpose numerical libraries, in turn, in one run.
//!
//! Both are timed on whatever else the machine is doing, so only the ratio of one run says anything.

use crate::Task;
use crate::cargo::{self, Failed};
use serde_json::{Map, Value, json};
use std::path::Path;
use std::process::Command;

pub(crate) const TASK: Task = Task {
    name: "peers",
    about: "times the engine beside general-purpose libraries (Python 3 with venv); --json for one line",
    run,
};

/// How often each is timed, in turn; the middle one counts.
const TURNS: usize = 3;
const PROBLEMS: [&str; 3] = ["P1", "P5", "P6"];

fn run(options: &[String]) -> Result<(), Failed> {
    let is_data = options.iter().any(|option| option == "--json");
    let peers = cargo::root().join("bench/peers");
    let work = cargo::root().join("target/peers");
    let python = work.join("venv/bin/python");
    if !python.exists() {
        said(
            "python3",
            &["-m".as_ref(), "venv".as_ref(), work.join("venv").as_path()],
        )?;
    }
    let wanted = peers.join("requirements.txt");
    said(
        &python,
        &["-m", "pip", "install", "--quiet", "--requirement"]
            .map(Path::new)
            .into_iter()
            .chain([wanted.as_path()])
            .collect::<Vec<_>>(),
    )?;
    let race = peers.join("race.py");
    said(
        &python,
        &[race.as_path(), "samples".as_ref(), work.as_path()],
    )?;
    let ours = cargo::built("quietrail-speed")?;

    let (mut of_peers, mut of_ours) = (Vec::new(), Vec::new());
    for _ in 0..TURNS {
        of_peers.push(told(&python, &[race.as_path(), "run".as_ref()])?);
        of_ours.push(told(&ours, &[work.as_path(), &peers.join("truth")])?);
    }
    let middle = |of: &[Value], problem: &str, what: &str| {
        let mut values: Vec<f64> = of
            .iter()
            .filter_map(|one| one[problem][what].as_f64())
            .collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
    };
    let (mut ratio, mut error) = (Map::new(), Map::new());
    for problem in PROBLEMS {
        for what in ["batch", "one"] {
            let (peer, own) = (
                middle(&of_peers, problem, what),
                middle(&of_ours, problem, what),
            );
            // A rate is better higher, a time lower.
            let times = if what == "batch" {
                own / peer
            } else {
                peer / own
            };
            let key = format!("{problem}_{what}");
            ratio.insert(key.clone(), json!(times));
            error.insert(key, json!(middle(&of_ours, problem, "max_error")));
            if !is_data {
                println!(
                    "{problem} {what:<6} peer {peer:>12.6e}  ours {own:>12.6e}  ratio {times:.3}"
                );
            }
        }
    }
    if is_data {
        println!("{}", json!({ "ratio": ratio, "max_error": error }));
    } else {
        for problem in PROBLEMS {
            let of = |of: &[Value]| middle(of, problem, "max_error");
            println!(
                "{problem} largest error: peer {:.1e}, ours {:.1e}",
                of(&of_peers),
                of(&of_ours)
            );
        }
        println!("instructions: {}", instructions());
    }
    Ok(())
}

/// The widest instructions that the engine finds on this machine.
fn instructions() -> &'static str {
    #[cfg(target_arch = "x86_64")]
    {
        if is_x86_feature_detected!("avx512f") {
            return "AVX-512";
        }
        if is_x86_feature_detected!("avx2") {
            return "AVX2";
        }
    }
    "those of every machine"
}

fn command(program: &Path, arguments: &[&Path]) -> (Command, String) {
    let mut command = Command::new(program);
    command.args(arguments).env(
        "NUMBA_CACHE_DIR",
        cargo::root().join("target/peers/compiled"),
    );
    let words: Vec<String> = std::iter::once(program)
        .chain(arguments.iter().copied())
        .map(|word| word.display().to_string())
        .collect();
    (command, words.join(" "))
}

/// Runs a command; its output goes to the terminal.
fn said(program: impl AsRef<Path>, arguments: &[&Path]) -> Result<(), Failed> {
    let (mut command, line) = command(program.as_ref(), arguments);
    eprintln!("> {line}");
    let status = command
        .status()
        .map_err(|error| Failed::NotStarted(line.clone(), error))?;
    if status.success() {
        Ok(())
    } else {
        Err(Failed::Command(line))
    }
}

/// Runs a command and returns the JSON that it prints.
fn told(program: &Path, arguments: &[&Path]) -> Result<Value, Failed> {
    let (mut command, line) = command(program, arguments);
    eprintln!("> {line}");
    let output = command
        .stderr(std::process::Stdio::inherit())
        .output()
        .map_err(|error| Failed::NotStarted(line.clone(), error))?;
    if !output.status.success() {
        return Err(Failed::Command(line));
    }
    serde_json::from_slice(&output.stdout).map_err(|error| Failed::Unreadable(line, error))
}
