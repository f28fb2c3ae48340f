//! Many steady states near one that is known, eight circuits at a time.
//!
//! A first look or two, rough and not yet closed, tell how warm everything gets; then each is settled at those
//! temperatures. What does not go this way is solved by itself.

use super::warming::Warming;
use super::{
    Cycle, Known, Plan, Setting, Solution, Solved, Trouble, integrate, solve_alone, whole,
};
use crate::heat::Temperatures;
use crate::is_only_looked_at;
use crate::lower::Lowered;
use quietrail_engine::batch::{Figures, Kind, Look, Near};
use quietrail_engine::{Options, System};
use quietrail_job::Change;
use rayon::prelude::*;
use std::sync::Arc;

/// Circuits that go together, and how many at a time are worth their memory.
const EIGHT: usize = 8;
const MOST: usize = 64;
/// Solutions near which others are looked for.
const SEEDS: usize = 3;
/// First looks before a circuit is settled whether or not its temperatures have come to rest.
const LOOKS: usize = 3;
/// The same where looks alone may settle it.
const LOOKS_ALONE: usize = 10;

/// A steady state that is wanted.
#[derive(Clone, Copy)]
pub(crate) struct Wanted<'a> {
    pub(crate) plan: &'a Plan,
    pub(crate) setting: Setting<'a>,
    pub(crate) changes: &'a [Change],
    /// Where the search for it begins, if not at the solution that leads to it.
    pub(crate) begin: Option<&'a Beginning<'a>>,
}

/// Where the search for a steady state begins.
#[derive(Clone, Debug)]
pub(crate) struct Beginning<'a> {
    /// Stores and temperatures that are expected of it.
    pub(crate) start: Vec<f64>,
    pub(crate) warmth: Temperatures,
    /// One of the same circuit, so near to it that its cycle will answer to moves as that one's does; none where it has to be
    /// looked at first.
    pub(crate) beside: Option<&'a Solution>,
    /// Whether it is that one itself, to be solved more exactly.
    pub(crate) is_itself: bool,
}

impl<'a> Beginning<'a> {
    /// Where one beside it settled.
    pub(crate) fn at(beside: &'a Solution) -> Self {
        Self {
            start: beside.start.clone(),
            warmth: beside.temperatures.clone(),
            beside: Some(beside),
            is_itself: false,
        }
    }

    /// Where it was found less exactly.
    pub(crate) fn again(itself: &'a Solution) -> Self {
        Self {
            is_itself: true,
            ..Self::at(itself)
        }
    }
}

/// How many of so many steady states are best given to [`solve_all`] at a time, one share for each core: as many as go
/// together, or a multiple of that.
pub fn together(count: usize) -> usize {
    let share = count.div_ceil(rayon::current_num_threads());
    share.next_multiple_of(EIGHT).clamp(EIGHT, MOST)
}

/// Solves a job with many lists of changes, all warm from one solution; those alike go together.
pub fn solve_all(
    plan: &Plan,
    setting: Setting<'_>,
    many: &[Vec<Change>],
    seed: &Solution,
) -> Vec<Result<Solved, Trouble>> {
    let wanted: Vec<Wanted<'_>> = many
        .iter()
        .map(|changes| Wanted {
            plan,
            setting,
            changes,
            begin: None,
        })
        .collect();
    solve_each(&wanted, seed)
}

/// Solves steady states of jobs that may differ in more than their figures, all warm from one solution.
pub(crate) fn solve_each(wanted: &[Wanted<'_>], seed: &Solution) -> Vec<Result<Solved, Trouble>> {
    let near = solve_near(wanted, seed);
    let by_itself = |(one, near): (&Wanted<'_>, Option<_>)| near.unwrap_or_else(|| one.alone(seed));
    wanted.iter().zip(near).map(by_itself).collect()
}

/// Solutions near which others are looked for, the nominal one first.
///
/// Where a regulator gives up, nothing near the nominal solution leads; the first that had to be solved by itself
/// leads to the others.
pub(crate) struct Seeds(Vec<Solution>);

impl Seeds {
    pub(crate) fn of(nominal: &Solution) -> Self {
        Self(vec![nominal.clone()])
    }

    /// Solves on all cores. What one comes to depends on those before it only by which of the seeds led to it.
    pub(crate) fn solve(&mut self, wanted: &[Wanted<'_>]) -> Vec<Result<Solved, Trouble>> {
        let mut done: Vec<Option<Result<Solved, Trouble>>> = wanted.iter().map(|_| None).collect();
        let mut left: Vec<usize> = (0..wanted.len()).collect();
        let (mut next, mut tried) = (0, 0);
        while !left.is_empty() {
            if let Some(seed) = self.0.get(next) {
                let near = |some: &[usize]| {
                    let some: Vec<Wanted<'_>> = some.iter().map(|&k| wanted[k]).collect();
                    solve_near(&some, seed)
                };
                let share = together(left.len());
                // What goes together at once does not wait for a core that is busy with others.
                let found: Vec<_> = if left.len() <= share {
                    near(&left)
                } else {
                    left.par_chunks(share).flat_map_iter(near).collect()
                };
                for (k, found) in left.iter().zip(found) {
                    done[*k] = found;
                }
                left.retain(|&k| done[k].is_none());
                next += 1;
            } else if self.0.len() < SEEDS && tried + 1 < SEEDS {
                // What does not settle leads nowhere, and is not waited for one after the other.
                tried += 1;
                let first = left.remove(0);
                let solved = wanted[first].alone(&self.0[0]);
                let leads = solved
                    .as_ref()
                    .ok()
                    .filter(|solved| solved.solution.like.is_some());
                self.0.extend(leads.map(|solved| solved.solution.clone()));
                done[first] = Some(solved);
            } else {
                let nominal = &self.0[0];
                let found: Vec<_> = left.par_iter().map(|&k| wanted[k].alone(nominal)).collect();
                for (k, found) in left.drain(..).zip(found) {
                    done[k] = Some(found);
                }
            }
        }
        done.into_iter()
            .map(|one| one.unwrap_or_else(|| Err(endless())))
            .collect()
    }
}

/// Solves those that a solution leads to; `None` for the others.
fn solve_near(wanted: &[Wanted<'_>], seed: &Solution) -> Vec<Option<Result<Solved, Trouble>>> {
    let mut done: Vec<Option<Result<Solved, Trouble>>> = wanted.iter().map(|_| None).collect();
    let Some(like) = &seed.like else {
        return done;
    };
    // Those of which the same is asked go together.
    let mut left: Vec<usize> = (0..wanted.len()).collect();
    while let Some(&first) = left.first() {
        let plan = wanted[first].plan;
        let (group, others) = left
            .into_iter()
            .partition::<Vec<usize>, _>(|&k| wanted[k].plan.asks_as(plan));
        left = others;
        let Some(kind) = like.kind_for(plan) else {
            continue;
        };
        let all: Vec<Wanted<'_>> = group.iter().map(|&k| wanted[k]).collect();
        for (k, solved) in group
            .into_iter()
            .zip(solve_alike(&all, seed, (&kind, &like.figures)))
        {
            done[k] = solved;
        }
    }
    done
}

/// Solves those of which the same is asked.
fn solve_alike(
    wanted: &[Wanted<'_>],
    seed: &Solution,
    like: (&Arc<Kind>, &Figures),
) -> Vec<Option<Result<Solved, Trouble>>> {
    let mut all: Vec<Underway<'_>> = wanted.iter().map(|one| Underway::of(*one, seed)).collect();
    // Those of one job have the same options.
    let looks = wanted.first().map_or(LOOKS, |one| {
        if is_only_looked_at(one.setting.options) {
            LOOKS_ALONE
        } else {
            LOOKS
        }
    });
    for _ in 0..looks {
        look(&mut all, like);
    }
    while all.iter().any(|one| one.is_left()) {
        settle(&mut all, like);
    }
    let mut done: Vec<_> = all.into_iter().map(|one| one.done).collect();
    if let Some(first) = wanted.first() {
        let settled = done.iter_mut().flatten();
        let mut settled: Vec<&mut Solved> = settled.filter_map(|one| one.as_mut().ok()).collect();
        integrate(first.plan, &mut settled);
    }
    done
}

/// Rounds of heat without end.
fn endless() -> Trouble {
    Trouble::Runaway {
        part: String::new(),
    }
}

/// A steady state that is being looked for.
struct Underway<'a> {
    wanted: Wanted<'a>,
    warming: Warming,
    /// What is known of its own cycle.
    cycle: Known<'a>,
    /// Whether it has been looked at enough.
    is_seen: bool,
    /// Whether it is no longer looked for near the solution.
    is_lost: bool,
    done: Option<Result<Solved, Trouble>>,
}

/// A circuit of a round.
struct Made {
    /// Index of what it is a round of.
    of: usize,
    lowered: Lowered,
    system: System,
}

impl Wanted<'_> {
    /// Solved by itself, warm from a solution if that is of the same kind.
    fn alone(&self, seed: &Solution) -> Result<Solved, Trouble> {
        solve_alone(self.plan, self.setting, self.changes, Some(seed))
    }
}

impl<'a> Underway<'a> {
    fn of(wanted: Wanted<'a>, seed: &Solution) -> Self {
        let beside = wanted.begin.and_then(|begin| {
            let like = begin.beside?.like.as_ref()?;
            Some(Known::Beside(&begin.start, &like.figures))
        });
        Self {
            warming: match wanted.begin {
                Some(begin) => Warming::at(begin.warmth.clone(), begin.start.clone()),
                None => Warming::of(wanted.setting.job, Some(seed)),
            },
            cycle: beside.unwrap_or(Known::Nothing),
            is_seen: wanted.begin.is_some_and(|begin| begin.is_itself),
            is_lost: false,
            done: None,
            wanted,
        }
    }

    fn is_left(&self) -> bool {
        self.done.is_none() && !self.is_lost
    }

    /// Takes what a round settled at.
    fn take(&mut self, lowered: Lowered, (kind, figures): (&Arc<Kind>, Figures)) {
        let Wanted { plan, setting, .. } = self.wanted;
        let read = (figures.values.as_slice(), figures.start.as_slice());
        match self.warming.take((plan, setting.options), &lowered, read) {
            Ok(None) => self.cycle = Known::Settled(Box::new(figures)),
            Ok(Some(next)) => {
                let cycle = Cycle::of(kind.clone(), figures);
                let solution = cycle.solution(plan, &lowered, (next, &self.warming));
                self.done = Some(Ok(Solved { lowered, solution }));
            }
            Err(trouble) => self.done = Some(Err(trouble)),
        }
    }

    /// Where the next round begins.
    fn near(&self) -> Near<'_> {
        let near = self.cycle.near(self.warming.start());
        near.unwrap_or(Near::Stores(&[]))
    }
}

/// The circuits of the next round of those that still take part; what cannot be made is done.
fn next_round(all: &mut [Underway<'_>], takes_part: impl Fn(&Underway<'_>) -> bool) -> Vec<Made> {
    let mut round = Vec::new();
    for (of, one) in all.iter_mut().enumerate() {
        if !one.is_left() || !takes_part(one) {
            continue;
        }
        let made = one.warming.lower(one.wanted.setting, one.wanted.changes);
        match made.and_then(|lowered| Ok((whole(&lowered)?, lowered))) {
            Ok((system, lowered)) => round.push(Made {
                of,
                lowered,
                system,
            }),
            Err(trouble) => one.done = Some(Err(trouble)),
        }
    }
    round
}

fn look(all: &mut [Underway<'_>], (kind, from): (&Arc<Kind>, &Figures)) {
    let round = next_round(all, |one| !one.is_seen);
    let circuits: Vec<(&System, Near<'_>)> = round
        .iter()
        .map(|made| (&made.system, all[made.of].near()))
        .collect();
    let Some(options) = options_of(&round, all) else {
        return;
    };
    let seen = kind.look_near(&circuits, from, options);
    for (made, seen) in round.into_iter().zip(seen) {
        let one = &mut all[made.of];
        match seen {
            None => one.is_lost = true,
            Some(Look::Settled(figures)) => one.take(made.lowered, (kind, figures)),
            Some(Look::Near(seen)) => {
                let is_steady = one
                    .warming
                    .look(one.wanted.plan, &made.lowered, &seen.values);
                one.is_seen = is_steady && !is_only_looked_at(options);
                one.cycle = Known::Glanced(Box::new(seen));
            }
        }
    }
}

/// Those of one job have the same options.
fn options_of<'a>(round: &[Made], all: &[Underway<'a>]) -> Option<&'a Options> {
    let first = round.first()?;
    Some(all[first.of].wanted.setting.options)
}

fn settle(all: &mut [Underway<'_>], (kind, from): (&Arc<Kind>, &Figures)) {
    let round = next_round(all, |_| true);
    let circuits: Vec<(&System, Near<'_>)> = round
        .iter()
        .map(|made| (&made.system, all[made.of].near()))
        .collect();
    let Some(options) = options_of(&round, all) else {
        return;
    };
    let found = kind.solve_near(&circuits, from, options);
    for (made, figures) in round.into_iter().zip(found) {
        let one = &mut all[made.of];
        match figures {
            None => one.is_lost = true,
            Some(figures) => one.take(made.lowered, (kind, figures)),
        }
    }
}
