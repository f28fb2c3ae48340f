//! Yields held against what is known otherwise: published index values, exact binomial limits, and supplies whose
//! yield plain sampling has measured.

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_engine::math::{exp, sin};
use quietrail_study::yields::SCRAMBLINGS;
use quietrail_study::yields::indices::{Block, Estimate, Indices, indices};
use quietrail_study::yields::interval::{Share, lower_limit, student, upper_limit};
use quietrail_study::yields::sequence::Sequence;
use std::f64::consts::PI;

const INDICES: &str =
    "analytical; Saltelli et al., Global Sensitivity Analysis: The Primer, 2008 (from memory)";
const ISHIGAMI: &str = "analytical; Ishigami and Homma, 1990; digits in open library documentation";
const EXACT: &str = "NIST/SEMATECH e-Handbook 7.2.4; computed with two open libraries";
const HERE: &str = "10⁶ plain samples, counted in the test";

/// What a builder's supply has in hand, as a function of its place in the tolerances.
type Margin = fn(&[f64]) -> f64;

#[test]
fn what_decides() {
    let mut section = Section::new("indices", "What decides: variance-based indices");
    let ishigami = |x: &[f64]| {
        let x: Vec<f64> = x.iter().map(|u| PI * (2.0 * u - 1.0)).collect();
        let wave = sin(x[1]);
        sin(x[0]) + 7.0 * wave * wave + 0.1 * x[2] * x[2] * x[2] * x[2] * sin(x[0])
    };
    let expected = [
        (0.313905191, 0.557588855),
        (0.442411145, 0.442411145),
        (0.0, 0.243683664),
    ];
    for (index, (first, total)) in expected.into_iter().enumerate() {
        let got = estimated(&ishigami, 3, index, 1024);
        add(
            &mut section,
            "MEAS-SENS-01",
            "Ishigami function",
            ISHIGAMI,
            index,
            (first, total),
            &got,
        );
    }
    moments(
        &mut section,
        ("MEAS-SENS-01", "Ishigami function", ISHIGAMI),
        &drawn(&ishigami, 3),
        (Some(3.5), 13.8445879),
    );
    // What inputs 1 and 3 do together and neither alone: both of them as one figure, less what each does.
    let alone = |index: usize| estimated(&ishigami, 3, index, 1024).first.value;
    let both = estimated_of(&ishigami, 3, &[0, 2], 1024).first.value;
    section
        .row(
            "MEAS-SENS-01",
            "Ishigami function: index of inputs 1 and 3 together, S13",
            ISHIGAMI,
        )
        .near(
            0.243683664,
            both - alone(0) - alone(2),
            Allowed::Absolute(0.01),
        );

    const A: [f64; 8] = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0];
    let g = |x: &[f64]| {
        let factors = x
            .iter()
            .zip(A)
            .map(|(x, a)| ((4.0 * x - 2.0).abs() + a) / (1.0 + a));
        factors.product::<f64>()
    };
    let expected = [
        (0.716192169, 0.787144127),
        (0.179048042, 0.242198193),
        (0.0236757742, 0.0343169102),
        (0.00716192169, 0.0104603871),
        (7.16192169e-05, 0.000104949052),
    ];
    for (index, (first, total)) in expected.into_iter().enumerate() {
        let got = estimated(&g, 8, index, 1024);
        add(
            &mut section,
            "MEAS-SENS-02",
            "g-function of Sobol, 8 inputs",
            INDICES,
            index,
            (first, total),
            &got,
        );
    }
    moments(
        &mut section,
        ("MEAS-SENS-02", "g-function of Sobol, 8 inputs", INDICES),
        &drawn(&g, 8),
        (None, 0.465424432),
    );
    section.note(
        "MEAS-SENS-03",
        "elementary effects (Morris, Technometrics 33, 1991) are not computed. They find the figures that matter where neither \
         slopes nor indices can be afforded; here the worst case has exact slopes, and indices come with the yield.",
    );
    section.finish();
}

/// Values at the points that builders are drawn from.
fn drawn(f: &dyn Fn(&[f64]) -> f64, dimensions: usize) -> Vec<f64> {
    let sequence = Sequence::new(dimensions, 1024);
    (0..SCRAMBLINGS)
        .flat_map(|scrambling| sequence.scrambled(1, scrambling))
        .map(|point| f(&point))
        .collect()
}

/// Rows for mean and variance. They may be off by a hundredth of the standard deviation, or of the variance: as many plain samples
/// would leave a standard error of that size, points that fill space evenly a tenth of it and less.
fn moments(
    section: &mut Section,
    (id, of, source): (&str, &str, &str),
    values: &[f64],
    (mean, variance): (Option<f64>, f64),
) {
    let count = values.len() as f64;
    let middle = values.iter().sum::<f64>() / count;
    let spread = values
        .iter()
        .map(|value| (value - middle).powi(2))
        .sum::<f64>()
        / count;
    if let Some(mean) = mean {
        section.row(id, &format!("{of}: mean"), source).near(
            mean,
            middle,
            Allowed::Absolute(0.01 * variance.sqrt()),
        );
    }
    section.row(id, &format!("{of}: variance"), source).near(
        variance,
        spread,
        Allowed::Relative(0.01),
    );
}

/// Both indices of one input, from 16 scramblings of `each` points.
fn estimated(f: &dyn Fn(&[f64]) -> f64, dimensions: usize, index: usize, each: usize) -> Indices {
    estimated_of(f, dimensions, &[index], each)
}

/// Both indices of some inputs taken as one.
fn estimated_of(
    f: &dyn Fn(&[f64]) -> f64,
    dimensions: usize,
    inputs: &[usize],
    each: usize,
) -> Indices {
    let sequence = Sequence::new(2 * dimensions, each);
    let values: Vec<[Vec<f64>; 3]> = (0..SCRAMBLINGS)
        .map(|scrambling| {
            let [mut a, mut b, mut mixed] = [const { Vec::new() }; 3];
            for point in sequence.scrambled(1, scrambling) {
                let (own, other) = point.split_at(dimensions);
                let mut third = own.to_vec();
                for &index in inputs {
                    third[index] = other[index];
                }
                a.push(f(own));
                b.push(f(other));
                mixed.push(f(&third));
            }
            [a, b, mixed]
        })
        .collect();
    let blocks: Vec<Block<'_>> = values
        .iter()
        .map(|[a, b, mixed]| Block { a, b, mixed })
        .collect();
    indices(&blocks).expect("the function varies")
}

/// Rows for both indices of an input. They may be off by 0.01: 16 × 1024 points leave a standard error of about
/// 0.003 at the largest.
fn add(
    section: &mut Section,
    id: &str,
    of: &str,
    source: &str,
    index: usize,
    (first, total): (f64, f64),
    got: &Indices,
) {
    for (what, expected, got) in [
        ("first-order", first, got.first),
        ("total", total, got.total),
    ] {
        let what = format!("{of}: {what} index of input {}", index + 1);
        section
            .row(id, &what, source)
            .near(expected, got.value, Allowed::Absolute(0.01));
    }
}

#[test]
fn intervals_of_indices_contain_the_truth() {
    let product = |x: &[f64]| (1.0 + x[0]) * (2.0 + x[1]) + 0.5 * x[2];
    // Variances of the parts of the function, by hand: x uniform on 0 .. 1, Var x = 1/12, mean 1/2.
    let one = 1.0 / 12.0;
    let (first, second, both, third) = (2.5 * 2.5 * one, 1.5 * 1.5 * one, one * one, 0.25 * one);
    let variance = first + second + both + third;
    let truth = [
        (first / variance, (first + both) / variance),
        (second / variance, (second + both) / variance),
        (third / variance, third / variance),
    ];
    let contains =
        |estimate: &Estimate, truth: f64| estimate.low <= truth && truth <= estimate.high;
    let mut inside = 0;
    let mut asked = 0;
    for run in 0..40 {
        let sequence = Sequence::new(6, 16);
        for (index, (first, total)) in truth.into_iter().enumerate() {
            let values: Vec<[Vec<f64>; 3]> = (0..SCRAMBLINGS)
                .map(|scrambling| {
                    let points = sequence.scrambled(1000 + run, scrambling);
                    let a = points.iter().map(|p| product(&p[..3])).collect();
                    let b = points.iter().map(|p| product(&p[3..])).collect();
                    let mixed = points
                        .iter()
                        .map(|p| {
                            let mut third = p[..3].to_vec();
                            third[index] = p[3 + index];
                            product(&third)
                        })
                        .collect();
                    [a, b, mixed]
                })
                .collect();
            let blocks: Vec<Block<'_>> = values
                .iter()
                .map(|[a, b, mixed]| Block { a, b, mixed })
                .collect();
            let got = indices(&blocks).expect("the function varies");
            // A share alone is none above the share in all: one of 4 % was told as 15 %, beside a total of 4 %.
            assert!(got.first.value <= got.total.value + 1e-12, "{got:?}");
            // Plain samples would leave √(2 × 0.028/256) of the product estimator, 0.015, of the other 0.09; three of the former.
            if index == 2 {
                assert!((got.first.value - first).abs() < 0.045, "{first}: {got:?}");
            }
            inside +=
                i32::from(contains(&got.first, first)) + i32::from(contains(&got.total, total));
            asked += 2;
        }
    }
    let share = f64::from(inside) / f64::from(asked);
    assert!(
        share >= 0.9,
        "{inside} of {asked} intervals contain the truth"
    );
}

#[test]
fn counted_shares() {
    let mut section = Section::new("shares", "Yields: limits of a counted share");
    // (count, of, two-sided confidence, low, high)
    for (count, of, confidence, low, high) in [
        (4, 20, 0.90, 0.0713538843, 0.401028117),
        (4, 20, 0.95, 0.0573339971, 0.436614003),
        (95, 100, 0.95, 0.887165089, 0.983568121),
        (998, 1000, 0.95, 0.992794161, 0.999757699),
        (1000, 1000, 0.95, 0.996317916, 1.0),
        (9950, 10_000, 0.95, 0.993413374, 0.996286694),
        (0, 50, 0.95, 0.0, 0.0711217365),
    ] {
        let one_sided = 0.5 + 0.5 * confidence;
        let figure = |what: &str, expected, got| Figure {
            what: what.to_owned(),
            expected,
            got,
            allowed: Allowed::Absolute(1e-9),
        };
        let what = format!("{count} of {of}, exact limits, {:.0} %", 100.0 * confidence);
        section.row("MEAS-BIN-01", &what, EXACT).worst_of(&[
            figure("low", low, lower_limit(count, of, one_sided)),
            figure("high", high, upper_limit(count, of, one_sided)),
        ]);
    }
    for (what, expected, count, of) in [
        (
            "0 failures of 299: one-sided lower limit, 95 %",
            0.990030853,
            299,
            299,
        ),
        ("0 failures of 1000, the same", 0.99700875, 1000, 1000),
        ("2 failures of 1000, the same", 0.993717715, 998, 1000),
    ] {
        section.row("MEAS-BIN-02", what, EXACT).near(
            expected,
            lower_limit(count, of, 0.95),
            Allowed::Relative(1e-6),
        );
    }
    let needed = |share: f64| (1..4000).find(|&of| lower_limit(of, of, 0.95) >= share);
    for (what, expected, share) in [
        ("samples without a failure that show 99 %", 299, 0.99),
        ("samples without a failure that show 99.9 %", 2995, 0.999),
    ] {
        let got = needed(share).unwrap_or_default() as f64;
        section.row("MEAS-BIN-02", what, EXACT).near(
            f64::from(expected),
            got,
            Allowed::Absolute(0.0),
        );
    }
    let tables = "Student's t in every statistical table, e.g. NIST/SEMATECH e-Handbook 1.3.6.7.2";
    section
        .row(
            "yield-t",
            "factor of 16 scramblings, two-sided 95 %",
            tables,
        )
        .near(2.131, student(16), Allowed::Absolute(0.0005));
    let what = "all 256 hold: lower limit by the rule of three";
    section
        .row("yield-all", what, "1 − 3/n, the rule of three")
        .near(
            1.0 - 3.0 / 256.0,
            Share::of_scramblings(&[16; 16], 16).low,
            Allowed::Absolute(1e-4),
        );
    section.note(
        "MEAS-BIN-01",
        "Wilson's score interval stands in the same source and is not used. It is for independent trials, which the points of a \
         yield are not; and where all of a thousand hold, its low end (0.99617) leaves open more than the exact one.",
    );
    coverage(&mut section);
    section.finish();
}

/// Yields of supplies that can be written down, against a million plain samples of each.
fn coverage(section: &mut Section) {
    const LINEAR: [f64; 10] = [5.0, 3.0, 2.0, 1.5, 1.0, 0.8, 0.5, 0.3, 0.2, 0.1];
    fn linear(u: &[f64], lack: f64) -> f64 {
        LINEAR
            .iter()
            .zip(u)
            .map(|(c, u)| c * (u - 0.5))
            .sum::<f64>()
            + lack
    }
    // Valley by the sum that is done by hand, with everything in tolerance: crest less diodes less I/(2fC),
    // less what a regulator needs; warm copper raises the source resistance.
    fn valley(u: &[f64], lack: f64) -> f64 {
        let between = |k: usize, low: f64, high: f64| low + u[k] * (high - low);
        let crest = between(0, 207.0, 244.0) / 230.0 * between(1, 16.4, 16.8) * 1.414;
        let amps = between(2, 0.72, 0.98);
        let reservoir = between(3, 2.64e-3, 3.96e-3);
        let drop = between(4, 1.6, 2.0) + 1.2 * amps * between(5, 0.9, 1.4);
        crest
            - drop
            - amps * 0.8 / (100.0 * reservoir)
            - 12.0 * between(6, 0.98, 1.02)
            - between(7, 0.9, 1.3) * exp(0.3 * amps)
            - lack
    }
    let supplies: [(&str, usize, Margin); 7] = [
        ("ten linear tolerances, about half hold", 10, |u| {
            linear(u, 0.03)
        }),
        ("ten linear tolerances, most hold", 10, |u| linear(u, 2.5)),
        ("ten linear tolerances, few hold", 10, |u| linear(u, -3.5)),
        ("the valley by hand, most hold", 8, |u| valley(u, 1.7)),
        ("the valley by hand, seven of eight hold", 8, |u| {
            valley(u, 3.05)
        }),
        ("the valley by hand, about half hold", 8, |u| valley(u, 4.5)),
        ("one tolerance decides alone", 10, |u| {
            u[0] - 0.501 + 1e-6 * u[1]
        }),
    ];
    for (what, dimensions, margin) in supplies {
        let truth = plain(dimensions, margin);
        let sequence = Sequence::new(dimensions, 16);
        let runs = 200;
        let inside = (0..runs).filter(|run| {
            let counts: Vec<u64> = (0..SCRAMBLINGS)
                .map(|scrambling| {
                    let points = sequence.scrambled(2000 + run, scrambling);
                    points.iter().filter(|point| margin(point) >= 0.0).count() as u64
                })
                .collect();
            let share = Share::of_scramblings(&counts, 16);
            share.low <= truth && truth <= share.high
        });
        let covered = inside.count() as f64 / runs as f64;
        let what = format!(
            "{what} ({truth:.3}): runs of 200, 256 samples each, whose interval holds the truth"
        );
        section
            .row("yield-coverage", &what, HERE)
            .between(0.93, 1.0, covered);
    }
}

/// Share of a million plain samples that hold.
fn plain(dimensions: usize, margin: Margin) -> f64 {
    const SAMPLES: u32 = 1_000_000;
    // A shift-register generator (Marsaglia, "Xorshift RNGs", 2003), with no relation to the sequence under test.
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut point = vec![0.0; dimensions];
    let mut holding = 0;
    for _ in 0..SAMPLES {
        point.fill_with(&mut next);
        holding += u32::from(margin(&point) >= 0.0);
    }
    f64::from(holding) / f64::from(SAMPLES)
}

#[test]
fn scrambling_keeps_the_even_filling() {
    let sequence = Sequence::new(40, 64);
    for scrambling in 0..4 {
        let points = sequence.scrambled(7, scrambling);
        for dimension in 0..40 {
            for cells in [2.0, 8.0, 64.0] {
                let mut hits = vec![0; cells as usize];
                for point in &points {
                    hits[(point[dimension] * cells) as usize] += 1;
                }
                assert!(
                    hits.iter().all(|&hit| hit == 64 / hits.len()),
                    "dimension {dimension}"
                );
            }
        }
        // The first two dimensions fill every elementary box of 1/64 once: t is 0 for them.
        for (wide, high) in [(2.0, 32.0), (8.0, 8.0), (32.0, 2.0)] {
            let mut boxes: Vec<(u32, u32)> = points
                .iter()
                .map(|point| ((point[0] * wide) as u32, (point[1] * high) as u32))
                .collect();
            boxes.sort_unstable();
            boxes.dedup();
            assert_eq!(boxes.len(), 64);
        }
    }
}

#[test]
fn scramblings_differ_and_repeat() {
    let sequence = Sequence::new(3, 8);
    let points = |seed, scrambling| sequence.scrambled(seed, scrambling);
    assert_eq!(points(1, 0), points(1, 0));
    assert_ne!(points(1, 0), points(1, 1));
    assert_ne!(points(1, 0), points(2, 0));
    let one = &points(1, 0)[5];
    assert_ne!(one[0], one[1]);
    // A longer stretch begins with the shorter one.
    assert_eq!(Sequence::new(3, 32).scrambled(1, 0)[..8], points(1, 0)[..]);
}

#[test]
fn a_single_point_is_uniform_over_scramblings() {
    let sequence = Sequence::new(1, 1);
    let values: Vec<f64> = (0..4000).map(|s| sequence.scrambled(3, s)[0][0]).collect();
    let mean = values.iter().sum::<f64>() / 4000.0;
    let squares = values.iter().map(|u| (u - 0.5) * (u - 0.5)).sum::<f64>() / 4000.0;
    // Four standard errors: 0.289 / √4000 of the mean, 0.0745 / √4000 of the variance 1/12.
    assert!((mean - 0.5).abs() < 0.0183, "{mean}");
    assert!((squares - 1.0 / 12.0).abs() < 0.0048, "{squares}");
}

#[test]
fn more_dimensions_than_there_are_directions_for() {
    let points = Sequence::new(1003, 16).scrambled(1, 0);
    let point = &points[9];
    assert_eq!(point.len(), 1003);
    assert_ne!(point[1000], point[0]);
    assert!(point.iter().all(|u| *u > 0.0 && *u < 1.0));
    assert_eq!(
        Sequence::new(0, 2).scrambled(1, 0),
        vec![Vec::<f64>::new(); 2]
    );
}
