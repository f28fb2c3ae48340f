//! The batch of each problem comes to the same bits with any number of threads and with each set of instructions.
//!
//! `effort.rs` shows that most of these circuits go by their ports and some the longer way; both are in here.

use quietrail_engine::Options;
use quietrail_engine::batch::Instructions;
use quietrail_speed::{Batch, Problem, Row, growth};
use rayon::ThreadPoolBuilder;

/// So many that no count of threads divides them, and that the last eight are not full.
const ROWS: usize = 203;
const OPTIONS: Options = Options {
    tolerance: 1e-6,
    cycles: 1000,
    steps: 2_000_000,
};

fn rows() -> [Vec<Row>; 3] {
    Problem::ALL.map(|problem| growth::rows(problem, ROWS))
}

/// Bits of every ripple, the nominal solution's included in how all others begin.
fn bits(rows: &[Vec<Row>; 3], threads: usize) -> Vec<Option<u64>> {
    let pool = ThreadPoolBuilder::new().num_threads(threads).build();
    pool.expect("threads can be had").install(|| {
        let of = |(problem, rows): (&Problem, &Vec<Row>)| {
            let found = Batch::new(*problem, &OPTIONS).ripples(rows, &OPTIONS);
            found.into_iter().map(|ripple| ripple.map(f64::to_bits))
        };
        Problem::ALL.iter().zip(rows).flat_map(of).collect()
    })
}

/// One test, because which instructions are in use is the whole process's.
#[test]
fn any_threads_and_instructions_make_the_same_bits() {
    let rows = rows();
    let one = bits(&rows, 1);
    assert!(one.iter().all(Option::is_some), "all settle");
    assert!(one[0] != one[1], "rows must matter");
    for threads in [2, 7] {
        assert!(bits(&rows, threads) == one, "{threads} threads");
    }
    for instructions in Instructions::here() {
        instructions.use_from_now_on();
        assert!(bits(&rows, 2) == one, "{instructions:?}");
    }
}
