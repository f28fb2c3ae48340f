//! What would help, held against the changed job proved anew.

use super::search::with_limits;
use quietrail_job::Change;
use quietrail_study::finding::{Cost, LimitFinding, Proof};
use quietrail_study::options;
use quietrail_study::prove::prove;

/// How far the margin of a limit that is said to be mended, and a cost, may be off what was said, as a share of what it gained
/// or lost: with the change another corner may be worse, as the study says at its head. The limit must hold all the same. Of
/// what does not mend only that it helps is held against it: there the corner moves most.
const OFF: f64 = 0.15;
/// How much short of its limit a mended one may stay, as a share of it: what two solutions of one corner differ by.
const SAME: f64 = 2e-4;

/// Helps that were looked at, and what is wrong with some.
#[derive(Debug, Default)]
struct Told {
    helps: usize,
    mending: usize,
    costs: usize,
    wrong: Vec<String>,
}

fn row<'p>(proof: &'p Proof, name: &str) -> Option<&'p LimitFinding> {
    proof.limits.iter().find(|row| row.name == name)
}

fn size(row: &LimitFinding) -> f64 {
    let limit = row.max.or(row.min).filter(|limit| *limit != 0.0);
    limit.or(row.worst).map_or(1.0, f64::abs)
}

fn check(seed: u64, told: &mut Told) {
    let job = with_limits(seed, &options());
    let proof = prove(&job, &options()).expect("it can be solved");
    for limit in proof.limits.iter().filter(|row| !row.help.is_empty()) {
        for help in &limit.help {
            let changed = job.with(std::slice::from_ref(&help.change));
            let changed = changed.expect("a change that can be made");
            let again = prove(&changed, &options()).expect("it can be solved");
            told.helps += 1;
            let mut wrong = |what: &str, said: f64, found: Option<f64>| {
                let of = &limit.name;
                let change = match &help.change {
                    Change::Swap { part, .. } => format!("{part} with {:?}", help.with),
                    change => format!("{change:?}"),
                };
                let before = limit.margin;
                told.wrong.push(format!(
                    "job {seed}, {of}, {before:?}: {change}: {what}: {said} said, {found:?} found"
                ));
            };
            let own = row(&again, &limit.name);
            let margin = own.and_then(|row| row.margin);
            let gained = help.margin - limit.margin.unwrap_or(help.margin);
            let allowed = OFF * gained.abs() + SAME * size(limit);
            let is_off = margin.is_none_or(|margin| (margin - help.margin).abs() > allowed);
            if help.mends() && is_off {
                wrong("margin", help.margin, margin);
            }
            if margin <= limit.margin {
                wrong("no help", help.margin, margin);
            }
            if help.mends() {
                told.mending += 1;
                if margin.is_none_or(|margin| margin < -SAME * size(limit)) {
                    wrong("not mended", help.margin, margin);
                }
            }
            for Cost {
                limit,
                after,
                before,
                ..
            } in &help.costs
            {
                told.costs += 1;
                let Some(other) = row(&again, limit) else {
                    continue;
                };
                let allowed = OFF * (before - after).abs() + SAME * size(other);
                if other
                    .margin
                    .is_none_or(|margin| (margin - after).abs() > allowed)
                {
                    wrong(limit, *after, other.margin);
                }
            }
        }
    }
}

fn run(seeds: std::ops::RangeInclusive<u64>) -> Told {
    let mut told = Told::default();
    seeds.for_each(|seed| check(seed, &mut told));
    println!(
        "{} helps, {} of them mend, {} costs, {} wrong",
        told.helps,
        told.mending,
        told.costs,
        told.wrong.len()
    );
    told
}

#[test]
fn changes_that_are_said_to_help_do() {
    let told = run(1..=4);
    assert!(told.wrong.is_empty(), "{:#?}", told.wrong);
    assert!(told.mending >= 4 && told.costs >= 4, "{told:#?}");
}

#[test]
#[ignore = "minutes: fifty jobs, each proved again for every change; run with --release"]
fn changes_that_are_said_to_help_do_in_fifty_jobs() {
    let told = run(1..=50);
    assert!(told.wrong.is_empty(), "{:#?}", told.wrong);
}
