//! `cargo bench`: one steady state from rest, and a batch of 64 with tolerances, of each problem.

use divan::Bencher;
use divan::counter::ItemsCount;
use quietrail_engine::Options;
use quietrail_speed::{Batch, Problem, growth};

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

#[divan::bench(args = PROBLEMS, sample_count = 20)]
fn one_from_rest(bencher: Bencher<'_, '_>, name: &str) {
    let (_, batch) = ready(name);
    bencher.bench(|| batch.one(&options()));
}

#[divan::bench(args = PROBLEMS, sample_count = 10)]
fn batch_with_tolerances(bencher: Bencher<'_, '_>, name: &str) {
    let (problem, batch) = ready(name);
    let rows = growth::rows(problem, ROWS);
    bencher
        .counter(ItemsCount::new(rows.len()))
        .bench(|| batch.ripples(&rows, &options()));
}
