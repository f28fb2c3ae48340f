//! Stability of a frequency, against published figures; their ids are those of the register.

use quietrail_bench::counter::{NotCounted, counted};
use quietrail_bench::gum::{Component, Shape, combine, mean};
use quietrail_bench::settle::approach;
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
    time_bases(&mut section);
    section.finish();
}

/// Ranges, offsets and warm-ups that are computed; and of the rest why not.
fn time_bases(section: &mut Section) {
    let one_sigma = 0.682_689_49;
    let (low, high) = range(0.292_232, 782.030_3, one_sigma);
    let (low_ten, high_ten) = range(0.099_657_4, 66.987_6, one_sigma);
    section
        .row(
            "MEAS-CI-03",
            "range of a deviation, 68 %, its degrees of freedom given",
            "degrees of freedom by Greenhall's method and quantiles, computed with a public library of such estimators",
        )
        .worst_of(&[
            relative("1 s, low", 0.285_115, low, 1e-4),
            relative("1 s, high", 0.299_91, high, 1e-4),
            relative("10 s, low", 0.092_057_1, low_ten, 1e-4),
            relative("10 s, high", 0.109_515, high_ten, 1e-4),
        ]);
    let (low, high) = range(1.0, 9.0, 0.95);
    section
        .row(
            "MEAS-CI-04",
            "range of a deviation with nine degrees of freedom, 95 %",
            "quantiles of the sum of squares, computed",
        )
        .worst_of(&[
            relative("low", 0.687_835_207, low, 1e-6),
            relative("high", 1.825_610_18, high, 1e-6),
        ]);
    let steady: Vec<(f64, f64)> = (0..100).map(|k| (f64::from(k), 10_000_000.127)).collect();
    let found = counted(&steady, 1e7).expect("a log");
    section
        .row(
            "MEAS-TB-01",
            "offset of 10 000 000.127 Hz",
            "exact arithmetic",
        )
        .near(1.27e-8, found.offset, Allowed::Relative(1e-6));
    // Half-widths: resolution of a reading, ageing of thirty days, temperature; one-sigma: the trigger, the mean of the readings.
    let half = |width: f64| Shape::Rectangular.standard(width);
    let parts = [
        half(1e-10),
        6.366_197_72e-12,
        half(1.5e-8),
        half(2.5e-9),
        1e-10,
    ];
    let known = parts.map(|u| Component {
        u,
        nu: f64::INFINITY,
    });
    let u = combine(&known).u;
    section
        .row(
            "MEAS-TB-04",
            "a counter's own time base, thirty days after it was set",
            "root of the sum of squares (JCGM 100), computed",
        )
        .worst_of(&[
            relative("u", 8.780_473_06e-9, u, 1e-6),
            relative(
                "share of ageing",
                0.972_804_193,
                parts[2] * parts[2] / (u * u),
                1e-6,
            ),
        ]);
    let warm: Vec<(f64, f64)> = (0..60)
        .map(|k| 30.0 * f64::from(k))
        .map(|t| (t, -2e-7 * (-t / 240.0).exp()))
        .collect();
    let found = approach(&warm).expect("an end");
    section
        .row(
            "MEAS-TB-09",
            "warm-up of 2e-7 with 4 min",
            "one exponential, exact arithmetic",
        )
        .worst_of(&[
            relative(
                "min to 5e-9",
                14.755_517_8,
                found.time_until(5e-9) / 60.0,
                1e-6,
            ),
            relative(
                "min to 1e-9",
                21.193_269_5,
                found.time_until(1e-9) / 60.0,
                1e-6,
            ),
            relative("left at 10 min", -1.641_699_97e-8, found.left(600.0), 1e-5),
        ]);
    section.note(
        "MEAS-CI-03",
        "degrees of freedom of the deviation without overlap are not computed: every start counts here, and those have closed forms \
         (MEAS-EDF-02). What is compared is the range that they lead to.",
    );
    section.note(
        "MEAS-CI-04",
        "one over the root of the count, the cheap error bar, is not used: it is too narrow upward.",
    );
    section.note(
        "MEAS-TB-02, -03",
        "what a counter resolves, and what noise at its input adds, is not computed from its clock, gate and trigger: the job states the rms \
         of one time (`counting.timing`), and the deviation that this makes is taken off.",
    );
    section.note(
        "MEAS-TB-05, -06, -12",
        "offsets from the drift of a phase, from a beat and from a figure on an oscilloscope, and time errors after days, are not computed: a \
         log is one of frequencies.",
    );
    section.note(
        "MEAS-TB-08",
        "ageing is the slope of a straight line with its range over the days of the log; no logarithm is laid through it, and no later day foretold.",
    );
    section.note(
        "MEAS-TB-10",
        "a retrace is judged as it was noted, with the error that its set-up states: what the oscillator aged meanwhile is not taken off.",
    );
    section.note(
        "MEAS-OCXO-01 to -04",
        "an open record of an oven oscillator, 19 982 readings, has no licence of its own and is not copied here. Its estimators are those of \
         MEAS-ADEV-03 and -04 and MEAS-NOISE-01; modified and Hadamard deviations are not computed.",
    );
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
    // Two readings a second, and a clock of whole seconds.
    let coarse: Vec<(f64, f64)> = (0..200).map(|k| (f64::from(k / 2), 1e7)).collect();
    assert_eq!(counted(&coarse, 1e7), Err(NotCounted::SameTimes));
}
