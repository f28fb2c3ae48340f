//! `cargo bench`: one steady state from rest, and a batch of 64 with tolerances, of each problem.

use divan::Bencher;
use divan::counter::ItemsCount;
use quietrail_engine::Options;
use quietrail_speed::{Batch, Problem, Row};

fn main() {
    divan::main();
}

const PROBLEMS: [&str; 3] = ["P1", "P5", "P6"];
const ROWS: usize = 64;

fn options() -> Options {
    Options {
        tolerance: 1e-7,
        ..Options::default()
    }
}

fn ready(name: &str) -> (Problem, Batch) {
    let named = |problem: &Problem| problem.name() == name;
    let problem = Problem::ALL.into_iter().find(named).expect("a problem");
    (problem, Batch::new(problem, &options()))
}

/// Reservoir, source resistance, crest and load, each at places of its own within its tolerance.
fn rows(problem: Problem) -> Vec<Row> {
    let place = |k: usize, step: f64| 2.0 * (k as f64 * step).fract() - 1.0;
    (0..ROWS)
        .map(|k| {
            let mut row = problem.nominal();
            row[3] *= 1.0 + 0.2 * place(k, 0.618);
            row[2] *= 1.0 + 0.1 * place(k, 0.755);
            row[0] *= 1.0 + 0.1 * place(k, 0.570);
            row[5] *= 1.0 + 0.1 * place(k, 0.819);
            row
        })
        .collect()
}

#[divan::bench(args = PROBLEMS, sample_count = 20)]
fn one_from_rest(bencher: Bencher<'_, '_>, name: &str) {
    let (_, batch) = ready(name);
    bencher.bench(|| batch.one(&options()));
}

#[divan::bench(args = PROBLEMS, sample_count = 10)]
fn batch_with_tolerances(bencher: Bencher<'_, '_>, name: &str) {
    let (problem, batch) = ready(name);
    let rows = rows(problem);
    bencher
        .counter(ItemsCount::new(rows.len()))
        .bench(|| batch.ripples(&rows, &options()));
}
