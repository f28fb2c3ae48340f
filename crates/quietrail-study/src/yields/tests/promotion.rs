//! No builder is worse off than the worst corner that is printed.

use super::{job, valley};
use crate::finding::{LimitFinding, Predicted, Proof};
use crate::options;
use crate::prove::{prove, prove_from};
use crate::search::{Known, Watch};
use crate::yields::{Sampling, of, of_proved};
use quietrail_job::model::Job;

const SAMPLING: Sampling = Sampling {
    samples: 64,
    seed: 1,
};

fn on_the_edge() -> Job {
    job("230 V ±10 %", "4700 µF ±20 %", &valley("14.5 V"))
}

fn row(proof: &Proof) -> &LimitFinding {
    let mut rows = proof.limits.iter();
    rows.find(|row| row.name == "valley").expect("the limit")
}

/// A proof by a search that came no further than parts as marked.
fn short_of(proof: &Proof) -> Proof {
    let mut short = proof.clone();
    let row = short.limits.iter_mut().find(|row| row.name == "valley");
    let row = row.expect("the limit");
    let nominal = row.nominal.expect("a value");
    let min = row.min.expect("a minimum");
    row.worst = Some(nominal);
    row.margin = Some(nominal - min);
    row.margin_share = Some((nominal - min) / min);
    row.predicted = Predicted::Holds;
    short
}

#[test]
fn a_search_that_falls_short_goes_on_from_the_sample_that_shows_it() {
    let job = on_the_edge();
    let whole = prove(&job, &options()).expect("the rail can be solved");
    let mut asked = Vec::new();
    let mut again = |known: &[Known]| {
        asked.push(known.len());
        prove_from(&job, &options(), known, &Watch::default(), &mut |_| {})
    };
    let (proof, harvest) = of_proved(&job, short_of(&whole), SAMPLING, &options(), &mut again)
        .expect("the rail can be solved");
    assert_eq!(asked, [1], "one sample, the worst, led further");
    assert_eq!(harvest.promoted, ["valley"]);
    assert!(harvest.worse.is_empty(), "{:?}", harvest.worse);
    // What the sample leads to is looked around as any winner: the corner itself is found, not only the sample.
    let (found, expected) = (row(&proof).worst, row(&whole).worst);
    let apart = found.expect("a value") - expected.expect("a value");
    assert!(apart.abs() < 1e-4, "{found:?} for {expected:?}");
}

/// Even a search that looks nowhere else takes the sample.
#[test]
fn the_sample_itself_counts() {
    let job = on_the_edge();
    let whole = prove(&job, &options()).expect("the rail can be solved");
    let short = short_of(&whole);
    let worse = of(&job, &short, SAMPLING, &options()).expect("the rail can be solved");
    let place = &worse.worse.first().expect("a sample is worse").known;
    assert_eq!(place.state, "on");
    let brief = Watch::first_look();
    let proof = prove_from(
        &job,
        &options(),
        std::slice::from_ref(place),
        &brief,
        &mut |_| {},
    );
    let proof = proof.expect("the rail can be solved");
    assert!(row(&proof).margin < row(&short).margin);
    let after = of(&job, &proof, SAMPLING, &options()).expect("the rail can be solved");
    assert!(after.worse.is_empty(), "{:?}", after.worse);
}

#[test]
fn a_search_that_does_not_fall_short_is_not_repeated() {
    let job = on_the_edge();
    let proof = prove(&job, &options()).expect("the rail can be solved");
    let mut again = |_: &[Known]| -> Result<Proof, _> { unreachable!("no sample is worse") };
    let (same, harvest) = of_proved(&job, proof.clone(), SAMPLING, &options(), &mut again)
        .expect("the rail can be solved");
    assert_eq!(row(&same).worst, row(&proof).worst);
    assert!(harvest.promoted.is_empty());
}
