//! Intervals of yields against the truth, by the way that real yields take but for the solving: a supply whose margin can be
//! written down.

use crate::search::{Position, at};
use crate::yields::builders::{Builders, Stand};
use crate::yields::{SCRAMBLINGS, share};
use quietrail_engine::math::{cos, ln};
use quietrail_job::model::Job;
use quietrail_job::{Change, Parameter};
use std::f64::consts::PI;

/// Samples of each scrambling: 256 builders in all, as the guide suggests.
const EACH: u64 = 16;
/// Independent runs, and how many of their intervals must hold the truth.
const RUNS: u64 = 200;
const HOLDING: usize = 186;
/// Plain samples that the truth is counted from.
const PLAIN: usize = 1_000_000;

/// Figures that differ from builder to builder.
const FIGURES: [&str; 6] = [
    "T1.S.open",
    "T1.S.resistance",
    "C1.value",
    "C2.value",
    "R1.value",
    "load.oven.on",
];

fn supply() -> Job {
    let text = r#"
format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
flatness = "0"
[box]
room = "25 °C"
rise = "0 K"
[states]
on = "running"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "45 Ω" }]
secondary = [{ name = "S", open = "15.5 V ±3 % at 230 V", resistance = "0.6 Ω ±10 %", leakage = "0 H" }]
no_load = "20 mA at 230 V"
rise = "0 K"
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
points = ["0.72 V at 100 mA", "0.95 V at 3 A"]
[capacitor.C1]
at = "raw"
value = "2200 µF ±20 %"
esr = "40 mΩ"
leakage = "0 S"
[capacitor.C2]
at = "raw"
value = "1000 µF -10/+30 %"
esr = "40 mΩ"
leakage = "0 S"
[resistor.R1]
at = "raw"
value = "1k ±5 %"
[load.oven]
at = "raw"
draws = { on = "500 mA ±15 %" }
below = "1 V"
[[same]]
figures = ["C1.value", "C2.value"]
because = "one maker"
[[spread]]
figures = ["C1.value", "C2.value"]
shape = "normal"
deviations = 2
cut = 3
[[spread]]
figures = ["R1.value"]
shape = "normal"
"#;
    let reading = quietrail_job::read(text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

/// The valley as it is summed by hand, V: crest less diodes, less the drop of the pulse, less I/(2fC).
fn valley([open, ohms, first, second, bleeder, amps]: [f64; 6]) -> f64 {
    let crest = open * 1.414;
    let amps = amps + 15.0 / bleeder;
    crest - 1.8 - 4.0 * amps * ohms - amps * 0.8 / (100.0 * (first + second))
}

fn value_of(changes: &[Change], parameters: &[Parameter], name: &str) -> f64 {
    let set = changes.iter().find_map(|change| match change {
        Change::Set { address, value } if address.0 == name => Some(*value),
        _ => None,
    });
    let parameter = parameters
        .iter()
        .find(|parameter| parameter.address.0 == name);
    set.unwrap_or_else(|| parameter.expect("such a figure").nominal)
}

/// Valleys of plain builders, made here from what the job says and from nothing of the sampler's.
fn plain() -> Vec<f64> {
    // A shift-register generator (Marsaglia, "Xorshift RNGs", 2003), with no relation to the sequence under test.
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut draw = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    // Normal deviates by Box and Muller (Ann. Math. Stat. 29, 1958); those beyond the cut are thrown away.
    let deviate = |cut: f64, draw: &mut dyn FnMut() -> f64| loop {
        let (radius, angle) = ((-2.0 * ln(draw())).sqrt(), 2.0 * PI * draw());
        let deviate = radius * cos(angle);
        if deviate.abs() <= cut {
            return deviate;
        }
    };
    (0..PLAIN)
        .map(|_| {
            let mut even = |middle: f64, by: f64| middle * (1.0 + by * (2.0 * draw() - 1.0));
            let (open, ohms, amps) = (even(15.5, 0.03), even(0.6, 0.1), even(0.5, 0.15));
            // The tolerance is two deviations of the capacitors, and three of the resistor.
            let of_capacitors = deviate(3.0, &mut draw) / 2.0;
            let of_bleeder = deviate(3.0, &mut draw) / 3.0;
            let lopsided = if of_capacitors < 0.0 { 0.1 } else { 0.3 };
            valley([
                open,
                ohms,
                2.2e-3 * (1.0 + 0.2 * of_capacitors),
                1e-3 * (1.0 + lopsided * of_capacitors),
                1e3 * (1.0 + 0.05 * of_bleeder),
                amps,
            ])
        })
        .collect()
}

#[test]
fn intervals_contain_the_truth() {
    let job = supply();
    let mut truth = plain();
    truth.sort_by(f64::total_cmp);
    let runs: Vec<Vec<f64>> = (0..RUNS)
        .map(|run| {
            let builders = Builders::of(&job, 3000 + run, EACH);
            let addresses: Vec<&str> = builders
                .parameters
                .iter()
                .map(|parameter| parameter.address.0.as_str())
                .collect();
            assert_eq!(addresses, FIGURES);
            let stand = Stand::At(Vec::new());
            let valley_of = |point: &Vec<f64>| {
                let changes = builders.changes(Some(point), &stand);
                valley(FIGURES.map(|name| value_of(&changes, &builders.parameters, name)))
            };
            builders.a.iter().map(valley_of).collect()
        })
        .collect();
    assert_eq!(runs[0].len() as u64, SCRAMBLINGS * EACH);
    for yields in [0.1, 0.5, 0.8, 0.95, 0.99] {
        let min = truth[((1.0 - yields) * PLAIN as f64) as usize];
        let inside = runs.iter().filter(|valleys| {
            let holding: Vec<bool> = valleys.iter().map(|valley| *valley >= min).collect();
            let share = share(&holding, EACH);
            share.low <= yields && yields <= share.high
        });
        let inside = inside.count();
        assert!(
            inside >= HOLDING,
            "{inside} of {RUNS} intervals hold the true {yields}"
        );
    }
}

/// Where the tolerance is cut above itself, builders and the worst case reach beyond it; below, neither does.
#[test]
fn the_cut_is_where_figures_end() {
    let job = supply();
    let reaches = job.reaches();
    let reach = |name: &str| {
        let own = reaches
            .iter()
            .find(|parameter| parameter.address.0 == name)
            .expect("such a figure");
        [Position::LOW, Position::HIGH].map(|end| at(own, end))
    };
    let near = |found: [f64; 2], expected: [f64; 2]| {
        let apart = found.iter().zip(expected).map(|(a, b)| (a / b - 1.0).abs());
        assert!(apart.fold(0.0, f64::max) < 1e-12, "{found:?}, {expected:?}");
    };
    // ±20 % at two deviations is ±30 % at three; -10/+30 % is -15/+45 %; the resistor ends at its ±5 %.
    near(reach("C1.value"), [1.54e-3, 2.86e-3]);
    near(reach("C2.value"), [0.85e-3, 1.45e-3]);
    near(reach("R1.value"), [950.0, 1050.0]);
    let own = crate::search::parameters(&job, 0);
    assert!(own.iter().all(|parameter| reaches.contains(parameter)));
}
