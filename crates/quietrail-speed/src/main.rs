//! Times the engine on the three problems: one JSON object on one line.
//!
//! `quietrail-speed growth` prints how the work grows with nodes and with samples.
//!
//! `quietrail-speed SAMPLES TRUTH`: folders with `P1.txt`, `P5.txt` and `P6.txt`, rows of parameters; those of the second end
//! with the ripple that is right.

use quietrail_engine::Options;
use quietrail_speed::{Batch, COLUMNS, Problem, Row, growth};
use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

/// How exact it must be: 1e-6 of the ripple in every row. As each peer does, each problem takes the coarsest of the settings
/// tried (a factor of two or so apart) that keeps it, with some of it left.
fn options_of_one(problem: Problem) -> Options {
    within(match problem {
        Problem::P1 | Problem::P5 => 3e-6,
        Problem::P6 => 1e-6,
    })
}

/// The same of a batch.
fn options_of_batch(problem: Problem) -> Options {
    within(match problem {
        Problem::P1 | Problem::P6 => 5e-6,
        Problem::P5 => 7e-6,
    })
}

fn within(tolerance: f64) -> Options {
    Options {
        tolerance,
        ..Options::default()
    }
}

/// Rows of the batch that is timed.
const ROWS: usize = 2_000;
/// Seconds that the repeats of a short run may take.
const LEAST: f64 = 0.3;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (samples, truth) = match arguments.as_slice() {
        [word] if word == "growth" => {
            growth::curve(&options_of_one(Problem::P6), &mut |line| println!("{line}"));
            return ExitCode::SUCCESS;
        }
        [samples, truth] => (samples, truth),
        _ => {
            eprintln!("quietrail-speed growth, or quietrail-speed SAMPLES TRUTH");
            return ExitCode::FAILURE;
        }
    };
    let mut told = Vec::new();
    for problem in Problem::ALL {
        let name = format!("{}.txt", problem.name());
        let (rows, known) = match (read(samples, &name), read(truth, &name)) {
            (Ok(rows), Ok(known)) => (rows, known),
            (Err(why), _) | (_, Err(why)) => {
                eprintln!("{why}");
                return ExitCode::FAILURE;
            }
        };
        told.push(format!(
            "\"{}\": {}",
            problem.name(),
            raced(problem, &rows, &known)
        ));
    }
    println!("{{{}}}", told.join(", "));
    ExitCode::SUCCESS
}

fn raced(problem: Problem, rows: &[Vec<f64>], known: &[Vec<f64>]) -> String {
    let options = options_of_batch(problem);
    let batch = Batch::new(problem, &options);
    let one = timed(|| batch.one(&options_of_one(problem)));
    let all: Vec<Row> = rows.iter().take(ROWS).map(|row| parameters(row)).collect();
    let seconds = timed(|| batch.ripples(&all, &options));
    let known_rows: Vec<Row> = known.iter().map(|row| parameters(row)).collect();
    let found = batch.ripples(&known_rows, &options);
    let error = found.iter().zip(known).map(|(found, row)| {
        let wanted = row.get(COLUMNS).copied().unwrap_or(f64::NAN);
        found.map_or(f64::INFINITY, |found| (found / wanted - 1.0).abs())
    });
    let error = error.fold(0.0, f64::max);
    let rate = all.len() as f64 / seconds;
    format!("{{\"one\": {one:e}, \"batch\": {rate:e}, \"max_error\": {error:e}}}")
}

/// Seconds of one run, the best of those that fit.
fn timed<T>(run: impl Fn() -> T) -> f64 {
    let (mut best, mut spent) = (f64::INFINITY, 0.0);
    while spent < LEAST {
        let begun = Instant::now();
        std::hint::black_box(run());
        let took = begun.elapsed().as_secs_f64();
        best = best.min(took);
        spent += took;
    }
    best
}

fn parameters(row: &[f64]) -> Row {
    std::array::from_fn(|k| row.get(k).copied().unwrap_or(f64::NAN))
}

fn read(folder: &str, name: &str) -> Result<Vec<Vec<f64>>, String> {
    let path = Path::new(folder).join(name);
    let told = |why: &dyn std::fmt::Display| format!("{}: {why}", path.display());
    let text = std::fs::read_to_string(&path).map_err(|why| told(&why))?;
    let row = |line: &str| {
        line.split_whitespace()
            .map(str::parse)
            .collect::<Result<_, _>>()
    };
    text.lines()
        .map(|line| row(line).map_err(|why| told(&why)))
        .collect()
}
