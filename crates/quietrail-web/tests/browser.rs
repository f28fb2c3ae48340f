//! The workbook in a real browser, headless, driven through WebDriver.
//!
//! One browser serves all scenarios, one after the other; each has a workbook of its own where it writes. Screenshots and the
//! printed record are kept in the folder that the first line names. Without Chromium and its driver the run says so and
//! passes, except where `CI` is set: there it fails.
//!
//! `cargo test -p quietrail-web --test browser -- drag` runs the scenarios with `drag` in their names.

#[path = "browser/beginning.rs"]
mod beginning;
#[path = "browser/bench.rs"]
mod bench;
#[path = "browser/capture.rs"]
mod capture;
#[path = "browser/edges.rs"]
mod edges;
#[path = "browser/engines.rs"]
mod engines;
#[path = "browser/hand.rs"]
mod hand;
#[path = "browser/judged.rs"]
mod judged;
#[path = "browser/latency.rs"]
mod latency;
#[path = "browser/paper.rs"]
mod paper;
#[path = "browser/regulators.rs"]
mod regulators;
#[path = "browser/scenarios.rs"]
mod scenarios;
#[path = "browser/stranger.rs"]
mod stranger;
#[path = "browser/sums.rs"]
mod sums;
#[path = "browser/typed.rs"]
mod typed;
#[path = "browser/unmarked.rs"]
mod unmarked;

use bench::{Bench, Outcome};
use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    let wanted: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| !word.starts_with('-'))
        .collect();
    let listed = std::env::args().any(|word| word == "--list");
    let all: Vec<_> = scenarios::ALL
        .iter()
        .filter(|(name, _)| {
            wanted.is_empty() || wanted.iter().any(|word| name.contains(word.as_str()))
        })
        .collect();
    if listed {
        all.iter().for_each(|(name, _)| println!("{name}: test"));
        return ExitCode::SUCCESS;
    }
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .expect("a runtime");
    let mut bench = match runtime.block_on(Bench::open()) {
        Ok(bench) => bench,
        Err(why) if std::env::var_os("CI").is_some() => {
            println!("browser tests: {why}");
            return ExitCode::FAILURE;
        }
        Err(why) => {
            println!("browser tests SKIPPED: {why}");
            return ExitCode::SUCCESS;
        }
    };
    println!(
        "running {} browser tests; kept in {}",
        all.len(),
        bench.kept.display()
    );
    let mut failed = Vec::new();
    for (name, scenario) in all {
        let begun = Instant::now();
        let outcome: Outcome = runtime.block_on(async {
            bench.afresh().await?;
            scenario(&mut bench).await
        });
        let seconds = begun.elapsed().as_secs_f64();
        match outcome {
            Ok(()) => println!("test {name} ... ok ({seconds:.1} s)"),
            Err(why) => {
                println!("test {name} ... FAILED ({seconds:.1} s)\n  {why}");
                let _ = runtime.block_on(bench.keep(&format!("failed-{name}")));
                failed.push(*name);
            }
        }
    }
    runtime.block_on(bench.close());
    println!("\nbrowser tests: {} failed {failed:?}", failed.len());
    if failed.is_empty() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}
