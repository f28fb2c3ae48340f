//! How many of a hundred builders with these parts get a supply that holds, and what decides it.
//!
//! 1. [`of`] takes the limits that came near failing at their worst corner; the others are taken to hold.
//! 2. [`sequence`] gives each builder a place in the tolerances of the parts and loads, the same in every state:
//!    every figure that the job gives a tolerance or a range is as likely at one place of it as at another, unless the
//!    job says that it crowds around its nominal; points of one data-sheet curve move together, and so does what the
//!    job says is the same.
//! 3. Few supplies are solved; `told` has it that the others are known without, and that no verdict rests on a guess.
//! 4. Mains, room and the rise in the box are nobody's own: every supply meets all of them. So each builder's
//!    supply is solved at those that the worst corners of the limits in reach have, and must hold at all.
//! 5. [`interval`] says how far the share may be off. [`mod@indices`] says what the value of a limit depends on that
//!    some builder fails; there mains and room are drawn like parts, so that they can be compared.
//!
//! Samples measure a yield. They do not confirm a worst corner: most never come near one. But one that is worse than the
//! corner found shows that the search fell short: [`of_proved`] has the job proved again from there.

mod builders;
pub mod indices;
pub mod interval;
mod normal;
pub mod sequence;
mod surface;
mod told;

use crate::finding::{LimitFinding, Predicted, Proof, WhyNot};
use crate::lower::Step;
use crate::search::Known;
use crate::slopes::{Moves, gradients};
use crate::solve::{
    Beginning, Plan, Setting, Solution, Trouble, Wanted, answers, solve, solve_each, together,
};
use builders::{Builders, Stand, is_condition};
use indices::{Block, Indices, indices};
use interval::{Basis, Share};
use quietrail_engine::Options;
use quietrail_job::model::Job;
use quietrail_job::{Address, Change};
use rayon::prelude::*;
use told::{Row, Samples, Values};

/// Independent scramblings; samples come in multiples of it.
pub const SCRAMBLINGS: u64 = 16;
/// Seed of the scramblings where nobody asks for another.
pub const SEED: u64 = 1;

/// Limits with less than this share of themselves in hand at the worst corner found are within reach of failing.
const REACH: f64 = 0.25;
/// How many figures of each limit that some builder fails are ranked: each costs as many solutions again as there are samples.
const RANKED: usize = 5;
/// Figures that make less than this share of the way to a worst corner are not ranked.
const TELLING: f64 = 0.02;
/// Conditions that make less than this share of the way to a worst corner may stand where another limit wants them.
const SLIGHT: f64 = 0.01;
/// A sample is worse than the corner found if it is by more than this share of the limit: two solutions of one circuit, begun
/// from different places, are no further apart.
const SAME: f64 = 1e-5;
/// How often the job is proved again from worse samples. Each time the worst found includes them.
const PROOFS: usize = 6;

/// How much is sampled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sampling {
    /// Builders; rounded up to a multiple of [`SCRAMBLINGS`].
    pub samples: u64,
    /// Seed of the scramblings: the same seed gives the same builders.
    pub seed: u64,
}

/// What the samples came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Harvest {
    /// Builders sampled.
    pub samples: u64,
    /// Independent scramblings among them.
    pub scramblings: u64,
    /// Seed of the scramblings.
    pub seed: u64,
    /// Builders whose supply holds everything within reach; `None` where nothing is within reach of failing, and
    /// no sample was taken.
    pub all: Option<Share>,
    /// Limits within reach of failing, each in each state, in the order of the proof.
    pub limits: Vec<LimitYield>,
    /// Rows of the proof that hold with more in hand than `REACH` and are taken to hold for every builder.
    pub taken_to_hold: u64,
    /// Names of limits that are not shown and cannot be counted, each once.
    pub left_out: Vec<String>,
    /// Builders whose supply did not settle in some state: they count as not holding.
    pub unsettled: u64,
    /// Figures that crowd around their nominal, as the job says.
    pub spread: u64,
    /// Builders found worse than the worst corner of some limit, each with the limit.
    pub worse: Vec<Worse>,
    /// Names of limits whose worst corner was replaced by what a sample led to, each once.
    pub promoted: Vec<String>,
    /// Supplies asked for: builders, each in each state and at each mains and room that count.
    pub supplies: u64,
    /// Those of them that were solved; the others are told by surfaces through these.
    pub solved: u64,
    /// Steady states solved, rounds of heat among them.
    pub solutions: u64,
}

/// A builder's supply that is worse than the worst corner found for a limit, or that does not settle.
#[derive(Clone, Debug, PartialEq)]
pub struct Worse {
    /// Name of the limit.
    pub name: String,
    /// The place.
    pub known: Known,
}

/// The yield of one limit in one state.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitYield {
    /// Name of the limit.
    pub name: String,
    /// Name of the state.
    pub state: String,
    /// Builders whose supply holds it.
    pub holds: Share,
    /// What its value depends on, most telling first; empty where no builder failed it.
    pub decides: Vec<Influence>,
}

/// What one figure does to a value.
#[derive(Clone, Debug, PartialEq)]
pub struct Influence {
    /// The figure; of a curve that moves as one, without the number of the point.
    pub address: Address,
    /// Shares of the variance of the value.
    pub indices: Indices,
}

/// Samples the yield of a job that was proved, and has it proved again from every sample that is worse than the worst corner
/// found, until none is.
///
/// `prove_from` proves the job and looks at places known to be bad as well.
///
/// # Errors
/// As [`Plan::of`], and those of `prove_from`.
pub fn of_proved(
    job: &Job,
    proof: Proof,
    sampling: Sampling,
    options: &Options,
    prove_from: &mut dyn FnMut(&[Known]) -> Result<Proof, Trouble>,
) -> Result<(Proof, Harvest), Trouble> {
    let mut proof = proof;
    let mut known: Vec<Known> = Vec::new();
    let mut promoted: Vec<String> = Vec::new();
    let (mut spent, mut proofs) = ([0; 3], 0);
    loop {
        let mut harvest = of(job, &proof, sampling, options)?;
        let own = [harvest.supplies, harvest.solved, harvest.solutions];
        for (spent, own) in spent.iter_mut().zip(own) {
            *spent += own;
        }
        let is_fresh = |worse: &Worse| !known.contains(&worse.known);
        if proofs == PROOFS || !harvest.worse.iter().any(is_fresh) {
            harvest.promoted = promoted;
            [harvest.supplies, harvest.solved, harvest.solutions] = spent;
            return Ok((proof, harvest));
        }
        for worse in harvest.worse {
            if !promoted.contains(&worse.name) {
                promoted.push(worse.name);
            }
            if !known.contains(&worse.known) {
                known.push(worse.known);
            }
        }
        proof = prove_from(&known)?;
        proofs += 1;
    }
}

/// Samples the yield of a job that was proved.
///
/// # Errors
/// As [`Plan::of`].
pub fn of(
    job: &Job,
    proof: &Proof,
    sampling: Sampling,
    options: &Options,
) -> Result<Harvest, Trouble> {
    let each = sampling.samples.div_ceil(SCRAMBLINGS).max(1);
    let (reached, rest): (Vec<&LimitFinding>, Vec<&LimitFinding>) =
        proof.limits.iter().partition(|limit| in_reach(limit));
    let mut harvest = Harvest {
        samples: each * SCRAMBLINGS,
        scramblings: SCRAMBLINGS,
        seed: sampling.seed,
        all: None,
        limits: Vec::new(),
        taken_to_hold: count(rest.iter().filter(|row| row.predicted == Predicted::Holds)),
        left_out: Vec::new(),
        unsettled: 0,
        spread: 0,
        worse: Vec::new(),
        promoted: Vec::new(),
        supplies: 0,
        solved: 0,
        solutions: 0,
    };
    for row in rest {
        if row.predicted != Predicted::Holds && !harvest.left_out.contains(&row.name) {
            harvest.left_out.push(row.name.clone());
        }
    }
    if reached.is_empty() {
        harvest.samples = 0;
        return Ok(harvest);
    }

    let builders = Builders::of(job, sampling.seed, each);
    harvest.spread = builders.spread();
    let plan = Plan::of(job).map_err(Trouble::Change)?;
    let mut holding = vec![true; builders.a.len()];
    let mut settled = vec![true; builders.a.len()];
    for (state, named) in job.states.iter().enumerate() {
        let rows: Vec<&LimitFinding> = reached
            .iter()
            .copied()
            .filter(|row| row.state == named.name)
            .collect();
        let Some(bench) = Bench::of(job, state, &plan, &rows, options) else {
            continue;
        };
        let mut tally = Tally::of(rows.len(), builders.a.len());
        for stand in stands(&rows) {
            let stand = Stand::At(stand);
            let leaves_open =
                |q: usize, value: f64, off: f64| bench.leaves_open(&rows, q, value, off);
            let values = bench.values(&builders, &builders.a, &stand, &leaves_open);
            harvest.count(&values);
            tally.take(&bench, &values);
            for (q, sample) in bench.worse(&rows, &values) {
                harvest.worse.push(Worse {
                    name: rows[q].name.clone(),
                    known: builders.known(&builders.a[sample], &stand, &named.name),
                });
            }
        }
        for sample in 0..holding.len() {
            holding[sample] &= tally.holding.iter().all(|row| row[sample]);
            settled[sample] &= tally.settled[sample];
        }
        let mut yields: Vec<LimitYield> = rows
            .iter()
            .zip(&tally.holding)
            .map(|(row, holding)| LimitYield {
                name: row.name.clone(),
                state: row.state.clone(),
                holds: share(holding, each),
                decides: Vec::new(),
            })
            .collect();
        bench.rank(&rows, &builders, &mut yields, &mut harvest);
        harvest.limits.extend(yields);
    }
    let order = |own: &LimitYield| {
        let is_own = |row: &LimitFinding| row.name == own.name && row.state == own.state;
        proof.limits.iter().position(is_own)
    };
    harvest.limits.sort_by_key(order);
    harvest.unsettled = count(settled.iter().filter(|settled| !**settled));
    harvest.all = Some(share(&holding, each));
    Ok(harvest)
}

impl Harvest {
    /// Counts what some samples took.
    fn count(&mut self, values: &Values) {
        self.supplies += count(values.is_solved.iter());
        self.solved += count(values.is_solved.iter().filter(|solved| **solved));
        self.solutions += values.solutions;
    }
}

/// Whether samples could fail a limit: it fails at the worst corner found, comes near it, or did not settle at some.
fn in_reach(row: &LimitFinding) -> bool {
    let (Some(worst), Some(margin)) = (row.worst, row.margin) else {
        return false;
    };
    match &row.predicted {
        Predicted::Fails | Predicted::NotShown(WhyNot::NotSettled(_)) => true,
        Predicted::NotShown(_) => false,
        // A limit of zero (headroom) is no measure of itself: the way from nominal to the worst is one.
        Predicted::Holds => row.margin_share.map_or_else(
            || margin < REACH * (worst - row.nominal.unwrap_or(worst)).abs(),
            |share| share < REACH,
        ),
    }
}

fn count<T>(of: impl Iterator<Item = T>) -> u64 {
    of.count() as u64
}

/// The share that holds, from samples in the order of their scramblings.
fn share(holding: &[bool], each: u64) -> Share {
    let counts: Vec<u64> = holding
        .chunks(each as usize)
        .map(|chunk| count(chunk.iter().filter(|holds| **holds)))
        .collect();
    Share::of_scramblings(&counts, each)
}

/// The mains and rooms at which some limits are worst: as few as there can be without moving one that matters.
fn stands(rows: &[&LimitFinding]) -> Vec<Vec<(Address, f64)>> {
    let mut stands: Vec<Vec<(Address, f64)>> = Vec::new();
    for row in rows {
        let telling: Vec<(Address, f64)> = row
            .corner
            .iter()
            .filter(|term| term.weight >= SLIGHT && is_condition(&term.address))
            .map(|term| (term.address.clone(), term.value))
            .collect();
        let agrees = |stand: &&mut Vec<(Address, f64)>| {
            telling.iter().all(|(address, value)| {
                let own = stand.iter().find(|(known, _)| known == address);
                own.is_none_or(|(_, known)| known == value)
            })
        };
        match stands.iter_mut().find(agrees) {
            Some(stand) => {
                stand.extend(telling);
                stand.sort_by(|a, b| a.0.cmp(&b.0));
                stand.dedup_by(|a, b| a.0 == b.0);
            }
            None => stands.push(telling),
        }
    }
    stands
}

/// Which samples hold which question, over all stands taken.
struct Tally {
    holding: Vec<Vec<bool>>,
    settled: Vec<bool>,
}

impl Tally {
    fn of(questions: usize, samples: usize) -> Self {
        Self {
            holding: vec![vec![true; samples]; questions],
            settled: vec![true; samples],
        }
    }

    fn take(&mut self, bench: &Bench<'_>, values: &Values) {
        for (sample, values) in values.rows.iter().enumerate() {
            self.settled[sample] &= values.is_some();
            for (q, holding) in self.holding.iter_mut().enumerate() {
                holding[sample] &= bench.holds(q, values.as_deref());
            }
        }
    }
}

/// One state of the job with the questions in reach there.
struct Bench<'a> {
    job: &'a Job,
    state: usize,
    step: Step,
    options: &'a Options,
    plan: Plan,
    seed: Solution,
}

/// The supply with all parts as marked, and how it answers to what builders have instead.
struct Middle {
    solution: Solution,
    moves: Moves,
    /// Derivative of each question (rows) against each parameter (columns).
    slopes: Vec<Vec<f64>>,
    /// Values of the parameters that it has.
    values: Vec<f64>,
}

impl Middle {
    /// Where the search for a builder's supply begins.
    fn foretell(&self, builders: &Builders, point: &[f64], stand: &Stand) -> Beginning<'_> {
        let by = self.by(builders, point, stand);
        self.moves.foretell(&self.solution, &by)
    }

    /// What the slopes make of each question for a builder.
    fn straight(&self, builders: &Builders, point: &[f64], stand: &Stand) -> Vec<f64> {
        let by = self.by(builders, point, stand);
        let sum = |slopes: &Vec<f64>| slopes.iter().zip(&by).map(|(slope, by)| slope * by).sum();
        self.slopes.iter().map(sum).collect()
    }

    /// By how much a builder's parameters are others.
    fn by(&self, builders: &Builders, point: &[f64], stand: &Stand) -> Vec<f64> {
        let values = builders.values(Some(point), stand);
        let pairs = values.iter().zip(&self.values);
        pairs.map(|(own, mid)| own - mid).collect()
    }
}

impl<'a> Bench<'a> {
    /// `None` where nothing is asked, or not even the nominal supply settles (no limit is in reach then).
    fn of(
        job: &'a Job,
        state: usize,
        plan: &Plan,
        rows: &[&LimitFinding],
        options: &'a Options,
    ) -> Option<Self> {
        let asked = rows.iter().map(|row| {
            let mut questions = plan.questions.iter();
            questions.find(|question| question.name == row.name)
        });
        let questions: Vec<_> = asked
            .map(|question| question.cloned())
            .collect::<Option<_>>()?;
        if questions.is_empty() {
            return None;
        }
        let table = plan.table.clone();
        let plan = Plan { questions, table };
        let step = Step::default();
        let setting = Setting {
            job,
            state,
            step: &step,
            options,
        };
        let seed = solve(&plan, setting, &[], None).ok()?.solution;
        Some(Self {
            job,
            state,
            step,
            options,
            plan,
            seed,
        })
    }

    fn setting(&self) -> Setting<'_> {
        Setting {
            job: self.job,
            state: self.state,
            step: &self.step,
            options: self.options,
        }
    }

    /// The supply of the builder with all parts as marked; `None` where it tells nothing of the others.
    fn middle(&self, builders: &Builders, stand: &Stand) -> Option<Middle> {
        let changes = builders.changes(None, stand);
        let solved = solve(&self.plan, self.setting(), &changes, Some(&self.seed)).ok()?;
        let parameters = &builders.parameters;
        let slopes = gradients(&self.plan, self.setting(), &changes, &solved, parameters).ok()?;
        Some(Middle {
            values: builders.values(None, stand),
            moves: slopes.moves?,
            slopes: slopes.questions,
            solution: solved.solution,
        })
    }

    /// Solves builders' supplies, all cores at once; what comes out depends on each point alone.
    fn solved(
        &self,
        builders: &Builders,
        points: &[&[f64]],
        (stand, middle): (&Stand, Option<&Middle>),
    ) -> Vec<(Row, u64)> {
        let of_some = |points: &[&[f64]]| {
            let supplies = points.iter().map(|point| {
                let begin = middle.map(|middle| middle.foretell(builders, point, stand));
                (builders.changes(Some(point), stand), begin)
            });
            let supplies: Vec<(Vec<Change>, Option<Beginning<'_>>)> = supplies.collect();
            let wanted = supplies.iter().map(|(changes, begin)| Wanted {
                plan: &self.plan,
                setting: self.setting(),
                changes,
                begin: begin.as_ref(),
            });
            solve_each(&wanted.collect::<Vec<_>>(), &self.seed)
        };
        points
            .par_chunks(together(points.len()))
            .flat_map_iter(of_some)
            .map(|solved| {
                let Ok(solved) = solved else { return (None, 0) };
                let values = answers(&self.plan, &solved)
                    .into_iter()
                    .map(|answer| answer.unwrap_or(f64::NAN))
                    .collect();
                (Some(values), solved.solution.rounds)
            })
            .collect()
    }

    /// Values of every builder's supply: solved, or told where that leaves nothing open.
    fn values(
        &self,
        builders: &Builders,
        points: &[Vec<f64>],
        stand: &Stand,
        leaves_open: told::Decides<'_>,
    ) -> Values {
        let places: Vec<Vec<f64>> = points
            .iter()
            .map(|point| builders.place(point, stand))
            .collect();
        let middle = self.middle(builders, stand);
        let solve = |wanted: &[usize]| {
            let points: Vec<&[f64]> = wanted.iter().map(|&k| points[k].as_slice()).collect();
            self.solved(builders, &points, (stand, middle.as_ref()))
        };
        let straight = middle.iter().flat_map(|middle| {
            let points = points.iter();
            points.map(|point| middle.straight(builders, point, stand))
        });
        let samples = Samples {
            places: &places,
            straight: &straight.collect::<Vec<_>>(),
        };
        told::values(&samples, &solve, leaves_open)
    }

    /// Whether a value that may be off by so much leaves open that a question holds, or that it is worse than the corner
    /// found.
    fn leaves_open(&self, rows: &[&LimitFinding], q: usize, value: f64, off: f64) -> bool {
        let question = &self.plan.questions[q];
        let margin = question.margin(value);
        let least = rows[q].margin.unwrap_or(f64::INFINITY);
        margin.abs() <= off || margin - off < least
    }

    /// Whether a sample holds a question. Without a value it does not.
    fn holds(&self, q: usize, values: Option<&[f64]>) -> bool {
        values.is_some_and(|values| self.plan.questions[q].margin(values[q]) >= 0.0)
    }

    /// For each question the worst sample, if that is worse than the worst corner found; where the question is taken to hold, a
    /// sample that did not settle.
    fn worse(&self, rows: &[&LimitFinding], values: &Values) -> Vec<(usize, usize)> {
        let of = |(q, row): (usize, &&LimitFinding)| {
            let question = &self.plan.questions[q];
            let unsettled = values.rows.iter().position(Option::is_none);
            if let (Some(sample), Predicted::Holds) = (unsettled, &row.predicted) {
                return Some((q, sample));
            }
            let margins = values
                .rows
                .iter()
                .enumerate()
                .filter(|(sample, _)| values.is_solved[*sample])
                .filter_map(|(sample, values)| {
                    let margin = question.margin(values.as_ref()?[q]);
                    margin.is_finite().then_some((sample, margin))
                });
            let (sample, margin) = margins.min_by(|a, b| a.1.total_cmp(&b.1))?;
            let limit = row.max.or(row.min).filter(|limit| *limit != 0.0);
            let size = limit.or(row.worst).map_or(1.0, f64::abs);
            let is_worse = |found: f64| margin < found - SAME * size;
            row.margin.is_none_or(is_worse).then_some((q, sample))
        };
        rows.iter().enumerate().filter_map(of).collect()
    }

    /// Ranks what the value of each question depends on that some sample fails.
    fn rank(
        &self,
        rows: &[&LimitFinding],
        builders: &Builders,
        yields: &mut [LimitYield],
        harvest: &mut Harvest,
    ) {
        let failed: Vec<usize> = (0..rows.len())
            .filter(|&q| yields[q].holds.basis != Basis::All)
            .collect();
        if failed.is_empty() {
            return;
        }
        let wanted: Vec<&LimitFinding> = failed.iter().map(|&q| rows[q]).collect();
        // A surface is off by so little that shares of variance hardly move.
        let drawn =
            |points: &[Vec<f64>]| self.values(builders, points, &Stand::Drawn, &|_, _, _| false);
        let (own, others) = (drawn(&builders.a), drawn(&builders.b));
        harvest.count(&own);
        harvest.count(&others);
        for coordinate in builders.telling(&wanted) {
            let mixed = drawn(&builders.mixed(coordinate));
            harvest.count(&mixed);
            for &q in &failed {
                let columns = [&own, &others, &mixed].map(|values| values.column(q));
                let [a, b, mixed] = columns
                    .each_ref()
                    .map(|column| column.chunks(builders.each));
                let blocks: Vec<Block<'_>> = a
                    .zip(b)
                    .zip(mixed)
                    .map(|((a, b), mixed)| Block { a, b, mixed })
                    .collect();
                let influence = indices(&blocks).map(|indices| Influence {
                    address: builders.address(coordinate),
                    indices,
                });
                yields[q].decides.extend(influence);
            }
        }
        for own in yields {
            own.decides.sort_by(|a, b| {
                let total = |influence: &Influence| influence.indices.total.value;
                total(b).total_cmp(&total(a))
            });
        }
    }
}

impl Values {
    /// Values of one question; not a number where a sample has none.
    fn column(&self, q: usize) -> Vec<f64> {
        self.rows
            .iter()
            .map(|values| values.as_ref().map_or(f64::NAN, |values| values[q]))
            .collect()
    }
}

#[cfg(test)]
mod tests;
