//! How the work grows: with the nodes of a circuit, and with the samples of a batch.

use crate::{Batch, Problem, Row, bridge, capacitor, draw};
use quietrail_engine::batch::{Figures, Kind, Near};
use quietrail_engine::{Circuit, Element, GROUND, Options, Output, Signal, System};
use std::fmt::Write as _;
use std::time::Instant;

/// Nodes of the circuits that are timed, and samples of the batches.
const NODES: [usize; 6] = [5, 10, 20, 30, 45, 60];
const SAMPLES: [usize; 5] = [100, 1_000, 10_000, 100_000, 1_000_000];
/// Circuits of a batch that is timed for each size.
const TOGETHER: usize = 64;

/// The curve, as a table to be printed.
///
/// # Panics
///
/// If a circuit of the ladder does not settle: all do.
pub fn curve(options: &Options, told: &mut dyn FnMut(&str)) {
    told("nodes  unknowns  one from rest, ms  each of 64 near it, us");
    for nodes in NODES {
        let (system, output) = ladder(nodes, 1.0);
        let kind = Kind::of(&system, &[output], &[]).expect("an order of elimination");
        let (seconds, nominal) = timed(|| kind.solve(&system, None, options));
        let nominal: Figures = nominal.expect("it settles");
        let systems: Vec<System> = (0..TOGETHER)
            .map(|k| ladder(nodes, 0.9 + 0.2 * k as f64 / TOGETHER as f64).0)
            .collect();
        let near = Near::Stores(&nominal.start);
        let circuits: Vec<(&System, Near<'_>)> =
            systems.iter().map(|system| (system, near)).collect();
        let (all, found) = timed(|| kind.solve_near(&circuits, &nominal, options));
        assert!(
            found.iter().all(Option::is_some),
            "all of {nodes} nodes settle"
        );
        told(&format!(
            "{nodes:5}  {:8}  {:17.2}  {:22.0}",
            system.unknowns(),
            1e3 * seconds,
            1e6 * all / TOGETHER as f64
        ));
    }
    told("samples of P1  seconds  us each  most memory, MB");
    let batch = Batch::new(Problem::P1, options);
    for count in SAMPLES {
        let rows = rows(Problem::P1, count);
        let begun = Instant::now();
        let found = batch.ripples(&rows, options);
        let seconds = begun.elapsed().as_secs_f64();
        assert!(found.iter().all(Option::is_some), "all of {count} settle");
        let mut line = format!(
            "{count:13}  {seconds:7.2}  {:7.0}  ",
            1e6 * seconds / count as f64
        );
        match peak_memory() {
            Some(megabytes) => write!(line, "{megabytes:15.0}"),
            None => write!(line, "{:>15}", "not known"),
        }
        .expect("text takes more text");
        told(&line);
    }
}

/// Rows at places of their own within the tolerances of reservoir, source resistance, crest and load.
pub fn rows(problem: Problem, count: usize) -> Vec<Row> {
    let place = |k: usize, step: f64| 2.0 * (k as f64 * step).fract() - 1.0;
    (0..count)
        .map(|k| {
            let mut row = problem.nominal();
            row[3] *= 1.0 + 0.2 * place(k, 0.618_034);
            row[2] *= 1.0 + 0.1 * place(k, 0.754_878);
            row[0] *= 1.0 + 0.1 * place(k, 0.569_840);
            row[5] *= 1.0 + 0.1 * place(k, 0.819_173);
            row
        })
        .collect()
}

/// A bridge and a reservoir, with as many filter sections behind it as make so many nodes; every other one feeds a load.
fn ladder(nodes: usize, farads: f64) -> (System, Output) {
    let mut circuit = Circuit::new(50.0);
    let (a, b, raw) = (circuit.node(), circuit.node(), circuit.node());
    bridge(&mut circuit, (a, b), raw, (17.0, 0.9));
    capacitor(&mut circuit, raw, 4700e-6 * farads, 0.05);
    let mut last = raw;
    for section in 0..nodes.saturating_sub(4) {
        let next = circuit.node();
        circuit.add(Element::Resistor {
            a: last,
            b: next,
            ohms: 0.22,
        });
        capacitor(&mut circuit, next, 100e-6 * farads, 0.1);
        if section % 2 == 0 {
            draw(&mut circuit, next, 0.5 / nodes as f64);
        }
        last = next;
    }
    let system = System::assemble(&circuit).expect("the values are physical");
    (system, Output::RippleRms(Signal::Voltage(raw, GROUND)))
}

/// Seconds of the quicker of three runs, and what the last came to.
fn timed<T>(run: impl Fn() -> T) -> (f64, T) {
    let once = || {
        let begun = Instant::now();
        let found = run();
        (begun.elapsed().as_secs_f64(), found)
    };
    let (first, second, (third, found)) = (once().0, once().0, once());
    (first.min(second).min(third), found)
}

/// The most memory that the process has held, MB, where the system tells.
fn peak_memory() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))?;
    let kilobytes: f64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kilobytes / 1024.0)
}
