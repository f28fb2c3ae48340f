//! `cargo bench`: what a hand waits for, on the demo: its proof, its yield, and a figure moved.

use divan::Bencher;
use quietrail_job::{Address, Change};
use quietrail_study::prove::{Last, again, prove, prove_from};
use quietrail_study::ready::Ready;
use quietrail_study::search::Watch;
use quietrail_study::solve::Plan;
use quietrail_study::yields::{SEED, Sampling, of_proved};

const DEMO: &str = include_str!("../../quietrail-cli/demo/beacon/job.toml");
/// Builders of a yield.
const SAMPLES: u64 = 2_000;

fn main() {
    divan::main();
}

fn job() -> quietrail_job::model::Job {
    quietrail_job::read(DEMO, None)
        .job
        .expect("the demo has a meaning")
}

#[divan::bench(sample_count = 5)]
fn proof(bencher: Bencher<'_, '_>) {
    let (job, options) = (job(), quietrail_study::options());
    bencher.bench(|| prove(&job, &options).expect("it can be solved"));
}

#[divan::bench(sample_count = 3)]
fn yield_of_2000(bencher: Bencher<'_, '_>) {
    let (job, options) = (job(), quietrail_study::options());
    let proof = prove(&job, &options).expect("it can be solved");
    let (samples, seed) = (SAMPLES, SEED);
    bencher.bench(|| {
        of_proved(
            &job,
            proof.clone(),
            Sampling { samples, seed },
            &options,
            &mut |known| prove_from(&job, &options, known, &Watch::default(), &mut |_| {}),
        )
        .expect("it can be solved")
    });
}

/// All states, each at one of its limits' last worst corners, a capacitor moved: what a hand that drags it waits for besides the
/// corner that it sees.
#[divan::bench(sample_count = 20)]
fn what_if_of_one_corner(bencher: Bencher<'_, '_>) {
    what_if(bencher, Some(0));
}

/// All states at all their limits' last worst corners, a capacitor moved: what it waits for when it rests.
#[divan::bench(sample_count = 20)]
fn what_if_of_all_corners(bencher: Bencher<'_, '_>) {
    what_if(bencher, None);
}

fn what_if(bencher: Bencher<'_, '_>, turn: Option<usize>) {
    let (job, options) = (job(), quietrail_study::options());
    let proof = prove(&job, &options).expect("it can be solved");
    let plan = Plan::of(&job).expect("it can be lowered");
    let ready = Ready::of(job.clone(), plan, &options);
    let moved = |farads: f64| {
        let address = Address("C1.value".to_owned());
        [Change::Set {
            address,
            value: farads,
        }]
    };
    let at = |farads: f64, last: Option<&Last<'_>>| {
        again(&ready, &proof, &job, &moved(farads), &|_| true, last).expect("C1 is a part")
    };
    let solved = at(3.3e-3, None).solved;
    let last = Last {
        solved: &solved,
        turn,
    };
    bencher.bench(|| at(3.31e-3, Some(&last)));
}
