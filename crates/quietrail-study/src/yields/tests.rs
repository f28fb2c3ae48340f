//! Yields of small jobs through the whole way, from text to shares.

mod coverage;
mod promotion;

use super::builders::Builders;
use super::interval::Basis;
use super::{Harvest, Sampling, of};
use crate::finding::{CornerTerm, LimitFinding};
use crate::options;
use crate::prove::prove;
use quietrail_job::Address;
use quietrail_job::model::Job;

/// A rail from a winding, with only the tolerances that a test names.
fn job(mains: &str, reservoir: &str, limits: &str) -> Job {
    let text = format!(
        r#"
format = 1
[job]
title = "one rail"
region = "230 V 50 Hz"
[mains]
voltage = "{mains}"
frequency = "50 Hz"
flatness = "0"
[box]
room = "25 °C"
rise = "0 K"
[states]
on = "running"
[transformer.T1]
primary = [{{ name = "P", volts = "230 V", resistance = "45 Ω" }}]
secondary = [{{ name = "S", open = "15.5 V at 230 V", resistance = "0.6 Ω", leakage = "0 H" }}]
no_load = "20 mA at 230 V"
rise = "0 K"
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "{reservoir}"
esr = "40 mΩ"
leakage = "0 S"
[load.oven]
at = "raw"
draws = {{ on = "500 mA" }}
below = "1 V"
{limits}
"#
    );
    let reading = quietrail_job::read(&text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

fn harvest(job: &Job, samples: u64) -> Harvest {
    let proof = prove(job, &options()).expect("the rail can be solved");
    let sampling = Sampling { samples, seed: 1 };
    of(job, &proof, sampling, &options()).expect("the rail can be solved")
}

fn valley(min: &str) -> String {
    format!(
        "[[limit]]\nname = \"valley\"\nof = \"raw\"\nwhat = \"valley\"\nmin = \"{min}\"\nfrom = \"a test\""
    )
}

#[test]
fn the_same_for_any_number_of_threads() {
    let job = job("230 V ±10 %", "4700 µF ±20 %", &valley("18.5 V"));
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads can be had")
            .install(|| harvest(&job, 16))
    };
    let one = with(1);
    assert_eq!(one.samples, 16);
    assert_eq!(one, with(2));
    assert_eq!(one, with(7));
}

#[test]
fn samples_round_up_to_whole_scramblings_and_none_are_taken_out_of_reach() {
    let job = job("230 V ±10 %", "4700 µF ±20 %", &valley("1 V"));
    let harvest = harvest(&job, 17);
    assert_eq!((harvest.samples, harvest.all), (0, None));
    assert!(harvest.taken_to_hold > 0);
}

#[test]
fn a_limit_that_nobody_can_hold_is_held_by_nobody() {
    let job = job("230 V ±10 %", "4700 µF ±20 %", &valley("60 V"));
    let harvest = harvest(&job, 17);
    let all = harvest.all.expect("the valley is in reach");
    assert_eq!(
        (harvest.samples, all.count, all.basis),
        (32, 0, Basis::None)
    );
    let decides = &harvest.limits[0].decides;
    assert_eq!(decides[0].address.0, "mains.voltage", "{decides:?}");
}

/// Five figures that make all of one limit leave no place to what decides another, where all are ranked together.
#[test]
fn what_decides_a_limit_is_ranked_whatever_decides_another() {
    const FIGURES: [&str; 6] = ["R1", "R2", "R3", "R4", "R5", "R6"];
    let resistor =
        |name: &str| format!("[resistor.{name}]\nat = \"raw\"\nvalue = \"10 kΩ ±5 %\"\n");
    let parts: String = FIGURES.into_iter().map(resistor).collect();
    let job = job("230 V", "4700 µF", &(parts + &valley("14.5 V")));
    let proof = prove(&job, &options()).expect("the rail can be solved");
    let row = |names: &[&str], weight: f64| {
        let term = |name: &&str| CornerTerm {
            address: Address(format!("{name}.value")),
            value: 9.5e3,
            unit: "Ω",
            nominal: 10e3,
            weight,
        };
        LimitFinding {
            corner: names.iter().map(term).collect(),
            ..proof.limits[0].clone()
        }
    };
    let (one, other) = (row(&FIGURES[..5], 0.2), row(&FIGURES[5..], 0.15));
    let builders = Builders::of(&job, 1, 16);
    let ranked = builders.telling(&[&one, &other]).into_iter();
    let ranked: Vec<Address> = ranked.map(|at| builders.address(at)).collect();
    let wanted = FIGURES.map(|name| Address(format!("{name}.value")));
    assert!(wanted.iter().all(|one| ranked.contains(one)), "{ranked:?}");
}
