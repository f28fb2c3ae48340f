//! Stability of a frequency, against published figures; their ids are those of the register.

use quietrail_bench::counter::{NotCounted, counted};
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
