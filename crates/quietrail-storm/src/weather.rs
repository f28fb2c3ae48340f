//! All jobs solved on all cores, and counted in their order; when time is up, without those still in hand.

use crate::watch::Watch;
use crate::{Failed, Source, write};
use quietrail_storm::census::{Census, Feature, features};
use quietrail_storm::make::Aim;
use quietrail_storm::solve::{Fate, states};
use quietrail_storm::tally::Tally;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// Time that jobs in hand get to come to an end, after no further one is taken in hand.
const GRACE: Duration = Duration::from_secs(20);

/// What a storm came to.
pub(crate) struct Weathered {
    pub(crate) tally: Tally,
    /// What the jobs counted have.
    pub(crate) census: Census,
    /// Jobs still in hand when time and grace were up.
    pub(crate) unfinished: Vec<String>,
}

type Done = (u64, Result<Solved, Failed>);

/// A job that was solved.
struct Solved {
    has: BTreeSet<Feature>,
    aims: BTreeSet<Aim>,
    fate: Fate,
}

/// Solves all jobs until time is up, if there is such a time.
pub(crate) fn weather(
    source: &Arc<Source>,
    until: Option<Instant>,
    keep: Option<&Path>,
) -> Result<Weathered, Failed> {
    let numbers = source.numbers();
    let watch = Arc::new(Watch::start(numbers.end - numbers.start));
    let (done, all) = channel();
    let next = Arc::new(AtomicU64::new(numbers.start));
    for _ in 0..rayon::current_num_threads() {
        let (source, watch) = (Arc::clone(source), Arc::clone(&watch));
        let (next, done) = (Arc::clone(&next), done.clone());
        // Nobody waits for it: a job without an end must not keep the others' results.
        std::thread::spawn(move || work(&source, &watch, &next, until, &done));
    }
    drop(done);
    let (mut tally, mut census) = (Tally::default(), Census::default());
    let mut waiting = BTreeMap::new();
    let mut first = numbers.start;
    let mut count = |number, solved: &Solved| {
        let name = source.name(number);
        census.add(&solved.has, &solved.aims);
        for offence in tally.add(&name, &solved.fate) {
            watch.offence(&format!("{name}: {}: {}", offence.kind, offence.says));
            if let Some(keep) = keep {
                write(keep, &name, &offence, &source.text(number)?)?;
            }
        }
        Ok(())
    };
    while let Some((number, solved)) = receive(&all, until) {
        waiting.insert(number, solved?);
        // In the order of jobs, whichever was solved first.
        while let Some(solved) = waiting.remove(&first) {
            count(first, &solved)?;
            first += 1;
        }
    }
    for (number, solved) in &waiting {
        count(*number, solved)?;
    }
    let unfinished = watch.in_hand();
    watch.end();
    Ok(Weathered {
        tally,
        census,
        unfinished,
    })
}

/// The next job that is done; none when all are, or when time and grace are up.
fn receive(all: &Receiver<Done>, until: Option<Instant>) -> Option<Done> {
    let Some(until) = until else {
        return all.recv().ok();
    };
    let left = (until + GRACE).saturating_duration_since(Instant::now());
    all.recv_timeout(left).ok()
}

/// Solves one job after the other, until there is none left or time is up.
fn work(
    source: &Source,
    watch: &Watch,
    next: &AtomicU64,
    until: Option<Instant>,
    done: &Sender<Done>,
) {
    let end = source.numbers().end;
    loop {
        let number = next.fetch_add(1, Ordering::Relaxed);
        if number >= end || until.is_some_and(|until| Instant::now() > until) {
            return;
        }
        let seen = watch.begin(source.name(number));
        let solved = source.made(number).map(|made| Solved {
            has: quietrail_job::read(&made.text, None)
                .job
                .map_or_else(BTreeSet::new, |job| features(&job)),
            fate: states(&made.text, number),
            aims: made.aims,
        });
        drop(seen);
        if done.send((number, solved)).is_err() {
            return;
        }
    }
}
