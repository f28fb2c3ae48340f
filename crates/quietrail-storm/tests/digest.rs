//! The same bits for any number of threads.

use quietrail_storm::make;
use quietrail_storm::solve::{Fate, Outcome, states};
use rayon::ThreadPoolBuilder;
use rayon::prelude::{IntoParallelIterator, ParallelIterator};

/// Jobs of the batch.
const JOBS: u64 = 40;
/// Offset and prime of FNV-1a with 64 bits: RFC 9923.
const FNV: (u64, u64) = (0xcbf2_9ce4_8422_2325, 0x0000_0100_0000_01b3);

fn digest(threads: usize) -> (u64, usize) {
    let pool = ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads start");
    // Numbers that no comparison falls on, which would only take time.
    let numbers = 1..=JOBS;
    let fates: Vec<Fate> = pool.install(|| {
        numbers
            .into_par_iter()
            .map(|number| states(&make::job(11, number).text, number))
            .collect()
    });
    let mut hash = FNV.0;
    let mut figures = 0;
    for fate in fates {
        let Fate::Solved(states) = fate else {
            panic!("{fate:?}")
        };
        for state in states {
            let values = match state.outcome {
                Outcome::Settled(values) => values,
                Outcome::RefusedRightly(_) | Outcome::NotFound(_) => Vec::new(),
            };
            figures += values.len();
            for byte in values
                .iter()
                .flat_map(|value| value.to_bits().to_le_bytes())
            {
                hash = (hash ^ u64::from(byte)).wrapping_mul(FNV.1);
            }
        }
    }
    (hash, figures)
}

#[test]
fn digest_is_that_of_one_thread() {
    let one = digest(1);
    assert!(one.1 > 300, "only {} figures", one.1);
    assert_eq!(one, digest(2));
    assert_eq!(one, digest(7));
}
