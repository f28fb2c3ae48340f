//! The same bits for any number of threads.

use quietrail_storm::census::nodes;
use quietrail_storm::digest::Digest;
use quietrail_storm::make;
use quietrail_storm::solve::{Fate, Outcome, states};
use rayon::ThreadPoolBuilder;
use rayon::prelude::{IntoParallelIterator, ParallelIterator};

/// Jobs of the batch, of few nodes so that a test takes seconds.
const JOBS: usize = 12;
const MOST_NODES: usize = 11;

fn batch() -> Vec<(u64, String)> {
    // From 1: no comparison falls on these, which would only take time.
    (1..)
        .map(|number| (number, make::job(11, number).text))
        .filter(|(_, text)| {
            let job = quietrail_job::read(text, None).job;
            job.is_some_and(|job| nodes(&job) <= MOST_NODES)
        })
        .take(JOBS)
        .collect()
}

fn weathered(batch: &[(u64, String)], threads: usize) -> (Digest, usize) {
    let pool = ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads start");
    let fates: Vec<Fate> = pool.install(|| {
        (0..batch.len())
            .into_par_iter()
            .map(|index| states(&batch[index].1, batch[index].0))
            .collect()
    });
    let mut digest = Digest::default();
    let mut figures = 0;
    for fate in &fates {
        digest.add(fate);
        let Fate::Solved(states) = fate else { continue };
        for state in states {
            if let Outcome::Settled(settled) = &state.outcome {
                figures += settled.figures.len();
            }
        }
    }
    (digest, figures)
}

#[test]
fn digest_is_that_of_one_thread() {
    let batch = batch();
    let (one, figures) = weathered(&batch, 1);
    assert!(figures > 200, "only {figures} figures");
    assert_eq!(weathered(&batch, 2), (one, figures));
    assert_eq!(weathered(&batch, 7), (one, figures));
    let (fewer, _) = weathered(&batch[1..], 1);
    assert_ne!(fewer, one, "the digest does not depend on the jobs");
}
