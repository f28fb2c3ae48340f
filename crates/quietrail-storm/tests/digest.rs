//! The same bits for any number of threads, and for any instructions.

use quietrail_engine::batch::Instructions;
use quietrail_storm::census::nodes;
use quietrail_storm::digest::Digest;
use quietrail_storm::make;
use quietrail_storm::solve::{Fate, Outcome, states};
use rayon::ThreadPoolBuilder;
use rayon::prelude::{IntoParallelIterator, ParallelIterator};

/// Jobs of the batch, of few nodes so that a test takes seconds.
const JOBS: usize = 8;
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

fn weathered(batch: &[(u64, String)], threads: usize) -> Vec<Fate> {
    let pool = ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads start");
    pool.install(|| {
        (0..batch.len())
            .into_par_iter()
            .map(|index| states(&batch[index].1, batch[index].0))
            .collect()
    })
}

fn digest(fates: &[Fate]) -> Digest {
    let mut digest = Digest::default();
    for fate in fates {
        digest.add(fate);
    }
    digest
}

fn figures(fate: &Fate) -> usize {
    let Fate::Solved(states) = fate else { return 0 };
    let of_state = |outcome: &Outcome| match outcome {
        Outcome::Settled(settled) => settled.figures.len(),
        _ => 0,
    };
    states.iter().map(|state| of_state(&state.outcome)).sum()
}

#[test]
fn digest_is_that_of_one_thread() {
    let batch = batch();
    let one = weathered(&batch, 1);
    let figures: usize = one.iter().map(figures).sum();
    assert!(figures > 200, "only {figures} figures");
    assert_eq!(digest(&weathered(&batch, 2)), digest(&one));
    assert_eq!(digest(&weathered(&batch, 7)), digest(&one));
    assert_ne!(digest(&one[1..]), digest(&one), "jobs must matter");
}

/// Those that this machine has, one after the other; the other test may run meanwhile, for no figure depends on them.
#[test]
fn digest_is_that_of_the_narrowest_instructions() {
    let batch = batch();
    let digests: Vec<Digest> = Instructions::here()
        .iter()
        .map(|instructions| {
            instructions.use_from_now_on();
            digest(&weathered(&batch, 2))
        })
        .collect();
    println!("{:?} compared", Instructions::here());
    assert!(digests.iter().all(|one| *one == digests[0]), "{digests:?}");
}
