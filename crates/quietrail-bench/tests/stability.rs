//! Stability of a frequency, against published figures; their ids are those of the register.

use quietrail_bench::counter::{NotCounted, counted};
use quietrail_bench::gum::mean;
use quietrail_bench::stability::{
    apart, freedom, neighbours, noise_power, overlapped, range, slope,
};
use quietrail_checks::{Allowed, Figure, Section};

const HANDBOOK: &str =
    "NIST SP 1065 (Riley, 2008), tables 30 and 31, as transcribed in two public test suites";

/// The portable set of the handbook: a multiplicative congruential generator, 64-bit whole numbers.
fn thousand() -> Vec<f64> {
    let mut n: u64 = 1_234_567_890;
    let mut all = Vec::new();
    for _ in 0..1000 {
        all.push(n as f64 / 2_147_483_647.0);
        n = 16_807 * n % 2_147_483_647;
    }
    all
}

const NINE: [f64; 9] = [
    892.0, 809.0, 823.0, 798.0, 671.0, 644.0, 883.0, 903.0, 677.0,
];

fn relative(what: &str, expected: f64, got: f64, by: f64) -> Figure {
    Figure {
        what: what.to_owned(),
        expected,
        got,
        allowed: Allowed::Relative(by),
    }
}

/// Mean, scatter and straight line of both sets of the handbook, and of readings whose digits are all in front.
fn statistics(section: &mut Section, thousand: &[f64]) {
    let line = |values: &[f64]| {
        let points: Vec<(f64, f64)> = (1..).map(f64::from).zip(values.iter().copied()).collect();
        slope(&points).expect("more than two")
    };
    let scatter = |values: &[f64]| mean(values).1.u * (values.len() as f64).sqrt();
    let absolute = |what: &str, expected: f64, got: f64, by: f64| Figure {
        what: what.to_owned(),
        expected,
        got,
        allowed: Allowed::Absolute(by),
    };
    let fit = line(thousand);
    section
        .row("MEAS-ADEV-02", "the portable set of 1000 points", HANDBOOK)
        .worst_of(&[
            absolute("mean", 0.489_774_5, mean(thousand).0, 5e-8),
            absolute("standard deviation", 0.288_466_4, scatter(thousand), 5e-8),
            relative("slope per point", 6.490_91e-6, fit.slope, 1e-6),
            absolute("intercept", 0.486_525_8, fit.start, 5e-7),
        ]);
    let fit = line(&NINE);
    section
        .row("MEAS-ADEV-12", "nine points", HANDBOOK)
        .worst_of(&[
            absolute("mean", 788.888_9, mean(&NINE).0, 5e-5),
            absolute("standard deviation", 100.977, scatter(&NINE), 5e-5),
            absolute("slope per point", -10.2, fit.slope, 5e-6),
            absolute("intercept", 839.888_9, fit.start, 5e-5),
        ]);
    let mut hertz = vec![10_000_000.2];
    for _ in 0..500 {
        hertz.extend([10_000_000.1, 10_000_000.3]);
    }
    section
        .row(
            "MEAS-UNIV-01",
            "1001 readings of 10 MHz that differ in their tenths",
            "exact arithmetic: 500 pairs, each 0.1 Hz to either side of the mean",
        )
        .worst_of(&[
            absolute("mean, Hz", 10_000_000.2, mean(&hertz).0, 1e-8),
            absolute("standard deviation, Hz", 0.1, scatter(&hertz), 1e-8),
            absolute(
                "correlation of neighbours",
                -0.999,
                neighbours(&hertz),
                1e-6,
            ),
        ]);
}

/// A drift, and a line of the mains in the record.
fn modulated(section: &mut Section) {
    let per_second = 1e-10 / 86_400.0;
    let drifting: Vec<f64> = (0..5000).map(|k| per_second * f64::from(k)).collect();
    section
        .row(
            "MEAS-DRIFT-01",
            "Allan deviation at 1000 s of a drift of 1e-10 a day",
            "drift times averaging time over the root of two",
        )
        .near(
            8.184_106_26e-13,
            overlapped(&drifting, 1000).expect("long enough"),
            Allowed::Relative(1e-6),
        );
    // Means over 10 µs of a sine of 100 Hz: a hundred cycles, so that every start counts alike.
    let (interval, hertz) = (1e-5, 100.0);
    let turn = 2.0 * std::f64::consts::PI * hertz;
    let phase = |k: u32| -1e-12 * (turn * interval * f64::from(k)).cos() / turn;
    let y: Vec<f64> = (0..101_000)
        .map(|k| (phase(k + 1) - phase(k)) / interval)
        .collect();
    // As many starts as there are in whole cycles.
    let whole = |m: usize| overlapped(&y[..100_000 + 2 * m - 1], m).expect("long enough");
    section
        .row(
            "MEAS-DRIFT-04",
            "Allan deviation of a line at 100 Hz, 1e-12 at its peak",
            "sin²(πfτ)/(πfτ) times the peak",
        )
        .worst_of(&[
            relative("5 ms", 6.366_197_72e-13, whole(500), 1e-6),
            relative("3.71 ms", 7.246_113_53e-13, whole(371), 1e-6),
        ]);
}

#[test]
fn published_deviations_agree() {
    let mut section = Section::new("stability", "Stability of a frequency");
    let y = thousand();
    let nine = |m: usize| overlapped(&NINE, m).expect("there");
    section
        .row("MEAS-ADEV-01", "the portable set of 1000 points", HANDBOOK)
        .worst_of(&[
            relative("first", 0.574_890_473_2, y[0], 1e-9),
            relative("last", 0.726_494_776_4, y[999], 1e-9),
        ]);
    let plain = |m: usize| apart(&y, m).expect("there");
    section
        .row("MEAS-ADEV-03", "Allan deviation at 1, 10, 100 s", HANDBOOK)
        .worst_of(&[
            relative("1 s", 2.922_319e-1, plain(1), 2e-6),
            relative("10 s", 9.965_736e-2, plain(10), 2e-6),
            relative("100 s", 3.897_804e-2, plain(100), 2e-6),
        ]);
    let over = |m: usize| overlapped(&y, m).expect("there");
    section
        .row(
            "MEAS-ADEV-04",
            "overlapped Allan deviation at 1, 10, 100 s",
            HANDBOOK,
        )
        .worst_of(&[
            relative("1 s", 2.922_319e-1, over(1), 2e-6),
            relative("10 s", 9.159_953e-2, over(10), 2e-6),
            relative("100 s", 3.241_343e-2, over(100), 2e-6),
        ]);
    section
        .row(
            "MEAS-ADEV-11",
            "nine points, plain and overlapped",
            HANDBOOK,
        )
        .worst_of(&[
            relative("plain, 1", 91.229_45, apart(&NINE, 1).expect("there"), 1e-5),
            relative("plain, 2", 115.808_2, apart(&NINE, 2).expect("there"), 1e-5),
            relative("overlapped, 1", 91.229_45, nine(1), 1e-5),
            relative("overlapped, 2", 85.952_87, nine(2), 1e-5),
        ]);
    let drifting: Vec<f64> = (0..1000).map(|i| y[i] + 1e-3 * i as f64).collect();
    let with = |m: usize| overlapped(&drifting, m).expect("there");
    section
        .row(
            "MEAS-DRIFT-02",
            "the same with a drift added",
            "computed with a public library of such estimators",
        )
        .worst_of(&[
            relative("1 s", 0.292_232_993, with(1), 1e-6),
            relative("10 s", 0.091_877_119_6, with(10), 1e-6),
            relative("100 s", 0.080_522_809_4, with(100), 1e-6),
        ]);
    statistics(&mut section, &y);
    modulated(&mut section);
    let r = neighbours(&y);
    assert_eq!(
        (noise_power(&y, 1), noise_power(&y, 10)),
        (Some(0), Some(0))
    );
    section
        .row(
            "MEAS-NOISE-01",
            "correlation of neighbours",
            "computed with a public library of such estimators",
        )
        .worst_of(&[relative("r1", -0.026_658_136, r, 1e-6)]);
    section
        .row(
            "MEAS-EDF-01",
            "degrees of freedom, white noise of the frequency",
            "NIST SP 1065, table 32, page 109, as quoted in two public repositories",
        )
        .worst_of(&[Figure {
            what: "10 s".to_owned(),
            expected: 146.177,
            got: freedom(0, 1001, 10),
            allowed: Allowed::Absolute(5e-4),
        }]);
    section
        .row(
            "MEAS-EDF-02",
            "degrees of freedom, five kinds of noise",
            "NIST SP 1065, table 5, as coded in a public library",
        )
        .worst_of(&[
            relative("white phase", 495.944_5, freedom(2, 1001, 10), 1e-6),
            relative("flicker phase", 326.624_19, freedom(1, 1001, 10), 1e-6),
            relative("white frequency", 146.176_79, freedom(0, 1001, 10), 1e-6),
            relative("flicker frequency", 121.484_12, freedom(-1, 1001, 10), 1e-6),
            relative("random walk", 97.331_898, freedom(-2, 1001, 10), 1e-6),
            relative(
                "flicker frequency, 1 s",
                868.809_09,
                freedom(-1, 1001, 1),
                1e-6,
            ),
        ]);
    let (low, high) = range(9.159_953e-2, 146.177, 0.95);
    section
        .row(
            "MEAS-CI-01",
            "range of a deviation, 95 %",
            "NIST SP 1065, equation 45; quantiles computed",
        )
        .worst_of(&[
            relative("low", 0.082_194_890_2, low, 1e-6),
            relative("high", 0.103_453_558, high, 1e-6),
        ]);
    let daily = [0.0, 0.52, 0.98, 1.55, 1.97, 2.51, 3.02, 3.47];
    let points: Vec<(f64, f64)> = (0..8)
        .map(|day| (f64::from(day), 1e-10 * daily[day as usize]))
        .collect();
    let found = slope(&points).expect("there");
    section
        .row(
            "MEAS-TB-07",
            "drift of eight daily offsets, with its range",
            "ordinary least squares, computed",
        )
        .worst_of(&[
            relative("per day", 4.976_190_48e-11, found.slope, 1e-6),
            relative("u", 4.591_185_81e-13, found.u, 1e-6),
            relative("95 %", 1.123_422_7e-12, found.within(0.95), 1e-6),
        ]);
    section.finish();
}

/// Small noise that anybody can make again.
fn noise(k: u32) -> f64 {
    let x = (f64::from(k) * 12.9898).sin() * 43_758.545_3;
    x - x.floor() - 0.5
}

#[test]
fn a_log_with_a_warm_up_is_taken_apart() {
    // 10 MHz that ends 2e-8 high, warms from 3e-7 below with 4 min, scatters by a few 1e-11.
    let hertz = |t: f64, k: u32| 1e7 * (1.0 + 2e-8 - 3e-7 * (-t / 240.0).exp() + 1e-10 * noise(k));
    let log: Vec<(f64, f64)> = (0..7200)
        .map(|k| (f64::from(k), hertz(f64::from(k), k)))
        .collect();
    let found = counted(&log, 1e7).expect("there");
    let warm = found.warm_up.expect("there");
    assert!((warm.tau / 240.0 - 1.0).abs() < 0.01, "{warm:?}");
    assert!((found.offset - 2e-8).abs() < 2e-11, "{}", found.offset);
    // By hand: 240 ln(3e-7/1e-8).
    assert!((warm.time_until(1e-8) - 240.0 * 30f64.ln()).abs() < 5.0);
    // White noise of uniform width 1e-10: its Allan deviation at one reading is its standard deviation.
    let first = found.stability[0];
    assert!(
        (first.deviation / (1e-10 / 12f64.sqrt()) - 1.0).abs() < 0.05,
        "{first:?}"
    );
    assert!(first.range.0 < first.deviation && first.deviation < first.range.1);
    assert!(found.stability.iter().all(|one| one.tau * 10.0 <= 7200.0));
}

#[test]
fn gaps_and_wrong_logs_are_said() {
    let mut log: Vec<(f64, f64)> = (0..200)
        .map(|k| (f64::from(k), 1e7 + 1e-3 * noise(k)))
        .collect();
    for one in &mut log[150..] {
        one.0 += 500.0;
    }
    let found = counted(&log, 1e7).expect("there");
    assert_eq!((found.count, found.left_out), (150, 50));
    assert_eq!(counted(&log, 5e6), Err(NotCounted::FarOff));
    assert_eq!(counted(&log[..10], 1e7), Err(NotCounted::TooFew(10)));
}
