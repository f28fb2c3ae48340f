//! A small storm, so that every change of the engine goes through one. `cargo xtask storm` runs larger ones.

use quietrail_storm::census::nodes;
use quietrail_storm::make;
use quietrail_storm::solve::{Fate, Outcome, State, states};
use quietrail_storm::tally::Tally;
use rayon::prelude::{IntoParallelIterator, IntoParallelRefIterator, ParallelIterator};

/// Jobs of few nodes, so that a test takes minutes, and among how many they are looked for.
const JOBS: usize = 2000;
const AMONG: u64 = 10_000;
const MOST_NODES: usize = 12;
const SEED: u64 = 3;
#[test]
fn small_jobs_all_end_in_an_answer() {
    let mut jobs: Vec<(u64, String)> = (1..AMONG)
        .into_par_iter()
        .map(|number| (number, make::job(SEED, number).text))
        .filter(|(_, text)| {
            let job = quietrail_job::read(text, None).job;
            job.is_some_and(|job| nodes(&job) <= MOST_NODES)
        })
        .collect();
    jobs.truncate(JOBS);
    let fates: Vec<Fate> = jobs
        .par_iter()
        .map(|(number, text)| states(text, *number))
        .collect();
    let mut tally = Tally::default();
    let (mut offences, mut not_found) = (Vec::new(), Vec::new());
    for ((number, _), fate) in jobs.iter().zip(&fates) {
        let missed = |state: &State| matches!(state.outcome, Outcome::NotFound(_));
        if matches!(fate, Fate::Solved(states) if states.iter().any(missed)) {
            not_found.push(*number);
        }
        for offence in tally.add(&number.to_string(), fate) {
            offences.push(format!("job {number}: {}: {}", offence.kind, offence.says));
        }
    }
    let json = tally.json();
    println!("{json}");
    for key in ["panics", "unread", "disagreed", "inexact"] {
        assert_eq!(json[key], 0, "{key}: {offences:#?}");
    }
    assert!(not_found.is_empty(), "{not_found:?}: {offences:#?}");
    let count = |key: &str| json[key].as_u64().expect("a count");
    assert_eq!(count("jobs"), JOBS as u64);
    assert!(count("settled") > JOBS as u64, "{json}");
    assert!(count("compared") > 0, "{json}");
}
