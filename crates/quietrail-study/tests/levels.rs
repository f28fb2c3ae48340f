//! Levels, analysers and sidebands against figures from outside.

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_study::level::analyser::{self, Detector, Filter};
use quietrail_study::level::{self, Shape, Statistic, sideband};
use quietrail_study::translate::{Given, Level, Sensitivity, Unit, translate};

const MILLIONTH: f64 = 1e-6;

fn given() -> Given {
    Given {
        shape: Some(Shape::Sine),
        band: Some((10.0, 1e5)),
        ohms: Some(50.0),
        at: Some(100.0),
        carrier: Some(10e6),
        shifts: Some(Sensitivity::HertzPerVolt(0.05)),
        amplitude: Some(1e-3),
    }
}

/// A level in a unit, as `quietrail translate` gives it.
fn told(level: Level, given: Given, unit: Unit) -> f64 {
    let rows = translate(level, given).rows;
    let row = rows.into_iter().find(|row| row.unit == unit);
    row.expect("a row").value.expect("a value")
}

fn all(section: &mut Section, id: &str, what: &str, source: &str, figures: &[(&str, f64, f64)]) {
    let figures: Vec<Figure> = figures
        .iter()
        .map(|(what, expected, got)| Figure::relative(what, *expected, *got, MILLIONTH))
        .collect();
    section.row(id, what, source).worst_of(&figures);
}

const DEFINITION: &str = "definition of the unit";

#[test]
fn levels_and_analysers() {
    let mut section = Section::new("levels", "Levels, and what analysers make of them");
    let rms = |dbm| told(Level::Dbm(dbm), given(), Unit::Rms);
    all(
        &mut section,
        "MEAS-SPEC-01",
        "dBm into 50 Ω as volts",
        DEFINITION,
        &[
            ("0 dBm", 0.223_606_798, rms(0.0)),
            ("+7 dBm", 0.500_593_265, rms(7.0)),
            ("+13 dBm", 0.998_814_876, rms(13.0)),
            ("−20 dBm", 0.022_360_679_8, rms(-20.0)),
            ("−107 dBm", 9.988_148_76e-7, rms(-107.0)),
            (
                "0 dBm in dBV",
                -13.010_3,
                told(Level::Dbm(0.0), given(), Unit::Dbv),
            ),
            (
                "0 dBm p-p",
                0.632_455_532,
                told(Level::Dbm(0.0), given(), Unit::PeakToPeak),
            ),
        ],
    );
    let dbm = |statistic, volts| told(Level::Volts(statistic, volts), given(), Unit::Dbm);
    all(
        &mut section,
        "MEAS-SPEC-02",
        "volts as dBm into 50 Ω",
        DEFINITION,
        &[
            ("1 V rms", 13.010_3, dbm(Statistic::Rms, 1.0)),
            ("1 V p-p", 3.979_400_09, dbm(Statistic::PeakToPeak, 1.0)),
            ("0.5 V rms", 6.989_700_04, dbm(Statistic::Rms, 0.5)),
            ("360 µV rms", -55.863_65, dbm(Statistic::Rms, 360e-6)),
            ("100 µV rms", -66.989_7, dbm(Statistic::Rms, 100e-6)),
        ],
    );
    let matched = level::volts_of_dbm(0.0, 50.0);
    let (volts, off) = analyser::mismatched(matched, 50.0, 1e6);
    let milliwatts = volts * volts / 1e6 / 1e-3;
    all(
        &mut section,
        "MEAS-SPEC-03",
        "a 50 Ω source read at 1 MΩ",
        "Ohm's law",
        &[
            ("volts", 0.447_191_236, volts),
            ("error, dB", 6.020_165_63, off),
            (
                "dBm delivered",
                -36.990_134_3,
                level::decibels(milliwatts.sqrt()),
            ),
        ],
    );
    section
        .row(
            "MEAS-SPEC-04",
            "dBc from two readings: +7.12 and −33.48 dBm",
            DEFINITION,
        )
        .near(
            -40.6,
            level::decibels(rms(-33.48) / rms(7.12)),
            Allowed::Absolute(1e-9),
        );
    let harmonics = level::total_harmonics(&[-30.0, -40.0, -50.0]);
    all(
        &mut section,
        "MEAS-SPEC-05",
        "sum of harmonics",
        "square root of the sum of squares",
        &[
            ("%", 3.331_666_25, 100.0 * harmonics),
            ("dB", -29.546_770_2, level::decibels(harmonics)),
            (
                "% of the whole",
                3.329_818_71,
                100.0 * harmonics / (1.0 + harmonics * harmonics).sqrt(),
            ),
            (
                "%, second list",
                1.001_843_71,
                100.0 * level::total_harmonics(&[-40.60, -49.02, -61.30]),
            ),
            (
                "dB, second list",
                -39.984_000_5,
                level::decibels(level::total_harmonics(&[-40.60, -49.02, -61.30])),
            ),
        ],
    );
    let left = |level, floor| analyser::above_floor(level, floor).expect("above the floor");
    all(
        &mut section,
        "MEAS-SPEC-06",
        "sums and differences of levels",
        "powers add",
        &[
            ("two of −80", -76.989_7, analyser::sum(&[-80.0, -80.0])),
            (
                "three",
                -77.955_578_8,
                analyser::sum(&[-80.0, -83.0, -90.0]),
            ),
            (
                "in step",
                -73.979_400_1,
                analyser::coherent_sum(-80.0, -80.0),
            ),
            ("−97 over −100", -100.020_624, left(-97.0, -100.0)),
            ("10 dB above", -0.457_574_906, left(0.0, -10.0)),
            ("3 dB above", -3.020_624_4, left(0.0, -3.0)),
            ("1 dB above", -6.868_253_24, left(0.0, -1.0)),
        ],
    );
    let gaussian = Filter::Gaussian.noise_bandwidth();
    all(
        &mut section,
        "MEAS-SPEC-07",
        "noise bandwidth over 3 dB bandwidth",
        "closed forms; the range 1.05 to 1.13 in a maker's guide to spectrum analysis, noise chapter",
        &[
            ("Gaussian", 1.064_467_02, gaussian),
            (
                "Gaussian, dB",
                0.271_322_102,
                level::decibels(gaussian.sqrt()),
            ),
            ("4 poles", 1.128_498_97, Filter::Poles(4).noise_bandwidth()),
            (
                "4 poles, dB",
                0.525_011_669,
                level::decibels(Filter::Poles(4).noise_bandwidth().sqrt()),
            ),
            ("5 poles", 1.113_845_28, Filter::Poles(5).noise_bandwidth()),
            (
                "1 pole",
                std::f64::consts::FRAC_PI_2,
                Filter::Poles(1).noise_bandwidth(),
            ),
            ("2 poles", 1.220_331_23, Filter::Poles(2).noise_bandwidth()),
        ],
    );
    let window = |terms: &[f64]| analyser::window_noise_bandwidth(terms, 4096);
    all(
        &mut section,
        "MEAS-SPEC-08",
        "noise bandwidth of windows, bins",
        "N Σw²/(Σw)², computed elsewhere",
        &[
            ("none", 1.0, window(&[1.0])),
            ("Hann", 1.5, window(&[0.5, 0.5])),
            ("Hamming", 1.362_825_79, window(&[0.54, 0.46])),
            (
                "Blackman and Harris, 4 terms",
                2.004_352_94,
                window(&[0.35875, 0.48829, 0.14128, 0.01168]),
            ),
            (
                "flat top, 5 terms",
                3.770_246_45,
                window(&[
                    0.215_578_95,
                    0.416_631_58,
                    0.277_263_158,
                    0.083_578_947,
                    0.006_947_368,
                ]),
            ),
        ],
    );
    let noise = Shape::Noise { crest: 6.6 };
    all(
        &mut section,
        "MEAS-SPEC-09",
        "what detectors make of Gaussian noise",
        "a maker's guide to spectrum analysis, pp. 66 and 67: 2.5 dB, 1.05 dB, 0.886",
        &[
            (
                "log average, dB",
                2.506_815_78,
                Detector::LogAverage.reads_low(),
            ),
            (
                "linear average, dB",
                1.049_101_19,
                Detector::LinearAverage.reads_low(),
            ),
            ("averaging meter", 0.886_226_925, noise.averaging_meter()),
            (
                "what it is multiplied by",
                std::f64::consts::FRAC_2_SQRT_PI,
                1.0 / noise.averaging_meter(),
            ),
        ],
    );
    let marker = |filter, detector| analyser::per_hertz(-85.0, 1e3, filter, detector);
    let log = marker(Filter::Gaussian, Detector::LogAverage);
    all(
        &mut section,
        "MEAS-SPEC-10",
        "noise marker by hand, dBm/Hz",
        "method of a maker's application note on noise measurement (AN 1303)",
        &[
            ("wall", -115.0, marker(Filter::Wall, Detector::Rms)),
            (
                "4 poles",
                -115.525_012,
                marker(Filter::Poles(4), Detector::Rms),
            ),
            ("Gaussian and log average", -112.764_506, log),
            ("against the carrier", -119.884_506, log - 7.12),
            (
                "the same with a power detector",
                -122.391_322,
                marker(Filter::Gaussian, Detector::Rms) - 7.12,
            ),
        ],
    );
    let line = |detector: Detector, decibels: f64| {
        let ratio = level::from_decibels(2.0 * decibels);
        detector.line_reads_high(ratio).expect("a closed form")
    };
    all(
        &mut section,
        "MEAS-SPEC-11",
        "a line near the noise reads high, dB",
        "mean of the logarithm of a Rician envelope, checked by made-up samples to 0.01 dB",
        &[
            ("power, 10 dB", 0.413_926_852, line(Detector::Rms, 10.0)),
            ("power, 3 dB", 1.764_348_62, line(Detector::Rms, 3.0)),
            ("power, 0 dB", 3.010_299_96, line(Detector::Rms, 0.0)),
            (
                "log, 10 dB",
                1.805_348_67e-5,
                line(Detector::LogAverage, 10.0),
            ),
            ("log, 3 dB", 0.213_769_476, line(Detector::LogAverage, 3.0)),
            ("log, 0 dB", 0.952_772_321, line(Detector::LogAverage, 0.0)),
            (
                "log, −10 dB",
                7.916_858_16,
                line(Detector::LogAverage, -10.0),
            ),
        ],
    );
    let in_ten = analyser::in_bandwidth(-140.0, 10.0, Filter::Gaussian);
    all(
        &mut section,
        "MEAS-SPEC-12",
        "a line of −110 dBc over −140 dBc/Hz",
        "noise follows the bandwidth, a line does not",
        &[
            ("noise in 10 Hz, dBc", -129.728_678, in_ten),
            ("margin, dB", 19.728_677_9, -110.0 - in_ten),
            (
                "a tenth of the bandwidth, dB",
                -10.0,
                analyser::in_bandwidth(-140.0, 1.0, Filter::Gaussian) - in_ten,
            ),
            (
                "widest for 10 dB, Hz",
                93.943_727_9,
                analyser::widest_for(-110.0, -140.0, 10.0, Filter::Gaussian),
            ),
        ],
    );
    all(
        &mut section,
        "MEAS-SPEC-13",
        "thermal noise at 290 K",
        "Boltzmann's constant of the SI, 2019",
        &[
            ("dBm/Hz", -173.975_187, analyser::thermal_dbm(290.0)),
            ("1 kΩ", 4.001_940_58e-9, level::thermal(1e3, 290.0)),
            ("50 Ω", 0.894_861_118e-9, level::thermal(50.0, 290.0)),
            (
                "half of it under +7 dBm, dBc/Hz",
                -183.985_487,
                analyser::thermal_dbm(290.0) + level::decibels(0.5_f64.sqrt()) - 7.0,
            ),
        ],
    );
    statistics(&mut section);
    section.finish();
}

/// Statistics of waves and noise, PWR-NOISE.
fn statistics(section: &mut Section) {
    all(
        section,
        "PWR-NOISE-01",
        "thermal noise of 1 kΩ at 300 K and 298.15 K",
        "Johnson and Nyquist",
        &[
            ("300 K", 4.070_355e-9, level::thermal(1e3, 300.0)),
            ("298.15 K", 4.057_785e-9, level::thermal(1e3, 298.15)),
        ],
    );
    let hundred = level::flat_rms(level::thermal(1e5, 300.0), 0.0, 1e6);
    section
        .row(
            "PWR-NOISE-02",
            "100 kΩ over 1 MHz at 300 K, µV rms",
            "tutorialsweb, Noise in electronic components, prints 40.69 with k = 1.38e-23",
        )
        .near(40.69, 1e6 * hundred, Allowed::Absolute(0.02));
    all(
        section,
        "PWR-NOISE-03",
        "10 kΩ over 20 kHz at 300 K; density of 50 Ω at 290 K",
        "Johnson and Nyquist",
        &[
            (
                "V rms",
                1.820_318e-6,
                level::flat_rms(level::thermal(1e4, 300.0), 0.0, 2e4),
            ),
            ("V/√Hz", 0.894_861_1e-9, level::thermal(50.0, 290.0)),
        ],
    );
    let noise = Given {
        shape: Some(Shape::Noise { crest: 6.6 }),
        band: Some((0.0, 1e5)),
        ..Given::default()
    };
    let wide = Given {
        band: Some((10.0, 1e5)),
        ..noise
    };
    all(
        section,
        "PWR-NOISE-04",
        "band and density",
        "e √B",
        &[
            (
                "100 µV in 100 kHz",
                316.227_8e-9,
                told(Level::Volts(Statistic::Rms, 100e-6), noise, Unit::Density),
            ),
            (
                "16 nV/√Hz, 10 Hz .. 100 kHz",
                5.059_391e-6,
                told(Level::Density(16e-9), wide, Unit::Rms),
            ),
        ],
    );
    all(
        section,
        "PWR-NOISE-05",
        "25 nV/√Hz with a corner at 200 Hz",
        "e √(B + fc ln(fh/fl))",
        &[
            (
                "10 Hz .. 100 kHz",
                7.977_784e-6,
                level::flicker_rms(25e-9, 200.0, 10.0, 1e5),
            ),
            (
                "0.1 .. 10 Hz",
                0.762_780_3e-6,
                level::flicker_rms(25e-9, 200.0, 0.1, 10.0),
            ),
        ],
    );
    let meter = |shape: Shape| 100.0 * (shape.averaging_meter() - 1.0);
    section
        .row(
            "PWR-NOISE-15",
            "error of an averaging meter on a square wave, a triangle, %",
            "Sefram 7314 manual, p. 28, prints +11.0 and −3.8",
        )
        .worst_of(&[
            Figure {
                what: "square".to_owned(),
                expected: 11.0,
                got: meter(Shape::Square),
                allowed: Allowed::Absolute(0.1),
            },
            Figure {
                what: "triangle".to_owned(),
                expected: -3.8,
                got: meter(Shape::Triangle),
                allowed: Allowed::Absolute(0.05),
            },
        ]);
    all(
        section,
        "PWR-NOISE-16",
        "p-p over rms, and noise outside 6.6 and 6 times rms",
        "closed forms",
        &[
            ("sine", 2.828_427_1, Shape::Sine.peak_to_peak_over_rms()),
            (
                "sawtooth",
                3.464_101_6,
                Shape::Sawtooth.peak_to_peak_over_rms(),
            ),
            ("outside 6.6", 9.668_483e-4, level::time_outside(6.6)),
            ("outside 6", 2.699_796e-3, level::time_outside(6.0)),
        ],
    );
}

#[test]
fn sidebands() {
    let mut section = Section::new("sidebands", "From a pin to the oscillator's spectrum");
    let theory = "narrow-band theory";
    let of = |statistic, volts: f64, shifts: f64, at: f64| {
        let given = Given {
            at: Some(at),
            shifts: Some(Sensitivity::HertzPerVolt(shifts)),
            ..given()
        };
        told(
            Level::Volts(statistic, volts),
            given,
            Unit::ThroughFrequency,
        )
    };
    let pushing = Given {
        shifts: Some(Sensitivity::PerVolt(5e-10)),
        ..given()
    };
    let pushed = |at: f64| {
        let given = Given {
            at: Some(at),
            ..pushing
        };
        told(
            Level::Volts(Statistic::Peak, 1e-3),
            given,
            Unit::ThroughFrequency,
        )
    };
    all(
        &mut section,
        "MEAS-SB-01",
        "1 mV peak, 0.5 ppb/V at 10 MHz, dBc",
        theory,
        &[
            ("50 Hz", -146.020_6, pushed(50.0)),
            ("100 Hz", -152.041_2, pushed(100.0)),
            ("120 Hz", -153.624_825, pushed(120.0)),
            ("1 kHz", -172.041_2, pushed(1e3)),
        ],
    );
    all(
        &mut section,
        "MEAS-SB-02",
        "one ripple by three statistics, dBc",
        theory,
        &[
            (
                "360 µV p-p",
                -146.935_75,
                of(Statistic::PeakToPeak, 360e-6, 0.05, 100.0),
            ),
            (
                "360 µV rms",
                -137.904_85,
                of(Statistic::Rms, 360e-6, 0.05, 100.0),
            ),
            (
                "360 µV peak",
                -140.915_15,
                of(Statistic::Peak, 360e-6, 0.05, 100.0),
            ),
            (
                "80 µV rms",
                -150.969_1,
                of(Statistic::Rms, 80e-6, 0.05, 100.0),
            ),
        ],
    );
    let tuning = Given {
        shifts: Some(Sensitivity::HertzPerVolt(2.0)),
        ..given()
    };
    all(
        &mut section,
        "MEAS-SB-03",
        "ripple allowed for −120 dBc at 100 Hz, mV",
        theory,
        &[
            (
                "peak",
                4.0,
                1e3 * told(Level::Dbc(-120.0), given(), Unit::Peak),
            ),
            (
                "rms",
                2.828_427_12,
                1e3 * told(Level::Dbc(-120.0), given(), Unit::Rms),
            ),
            (
                "tuning pin",
                0.1,
                1e3 * told(Level::Dbc(-120.0), tuning, Unit::Peak),
            ),
            (
                "a hundredfold multiplied",
                1e-3,
                1e3 * told(Level::Dbc(-160.0), tuning, Unit::Peak),
            ),
        ],
    );
    all(
        &mut section,
        "MEAS-SB-04",
        "phase swings by Bessel functions, dBc",
        "J1/J0, computed elsewhere",
        &[
            (
                "0.01",
                -46.020_491_3,
                sideband::bessel_over_carrier(0.01, 1),
            ),
            ("0.1", -26.009_731_2, sideband::bessel_over_carrier(0.1, 1)),
            ("0.1, small angles", -26.020_599_9, sideband::of_depth(0.1)),
            ("0.5, small angles", -12.041_199_8, sideband::of_depth(0.5)),
            ("0.5", -11.762_468_6, sideband::of_phase(0.5)),
            (
                "0.1, second",
                -58.047_310_4,
                sideband::bessel_over_carrier(0.1, 2),
            ),
        ],
    );
    all(
        &mut section,
        "MEAS-SB-05",
        "the same formula for vibration: 1 ppb/g at 10 MHz, 10 g and 0.1 g²/Hz",
        "Vig, tutorial, slide 337, for the rule of random vibration; formula otherwise",
        &[
            (
                "10 Hz",
                -46.020_599_9,
                sideband::of_frequency(1e-2, 10.0, 10.0),
            ),
            (
                "100 Hz",
                -66.020_599_9,
                sideband::of_frequency(1e-2, 10.0, 100.0),
            ),
            (
                "1 kHz",
                -86.020_599_9,
                sideband::of_frequency(1e-2, 10.0, 1e3),
            ),
            (
                "random, 10 Hz",
                -73.010_3,
                sideband::phase_noise(1e-2, 0.1_f64.sqrt(), 10.0),
            ),
            (
                "random, 100 Hz",
                -93.010_3,
                sideband::phase_noise(1e-2, 0.1_f64.sqrt(), 100.0),
            ),
        ],
    );
    all(
        &mut section,
        "MEAS-SB-06",
        "amplitude swings, dBc",
        theory,
        &[
            ("1 %", -46.020_599_9, sideband::of_depth(0.01)),
            ("0.1 %", -66.020_599_9, sideband::of_depth(0.001)),
            (
                "0.1 %/V, 10 mV",
                -106.020_6,
                told(
                    Level::Volts(Statistic::Peak, 10e-3),
                    given(),
                    Unit::ThroughAmplitude,
                ),
            ),
        ],
    );
    let [upper, lower] = sideband::of_both(3e-4, 1e-4, 0.0);
    let [aside, _] = sideband::of_both(3e-4, 1e-4, 1.0);
    all(
        &mut section,
        "MEAS-SB-07",
        "both swings together, dBc",
        theory,
        &[
            ("upper", -73.979_400_1, upper),
            ("lower", -80.0, lower),
            ("a quarter turn apart", -76.020_599_9, aside),
        ],
    );
    let phase_noise = |density: f64, shifts: f64, at: f64| {
        let given = Given {
            at: Some(at),
            shifts: Some(Sensitivity::HertzPerVolt(shifts)),
            ..Given::default()
        };
        told(Level::Density(density), given, Unit::PhaseNoise)
    };
    all(
        &mut section,
        "MEAS-SB-08",
        "noise of a pin as phase noise, dBc/Hz, and as Allan deviation",
        "definitions of phase noise and of white noise of frequency",
        &[
            ("supply, 10 Hz", -169.030_9, phase_noise(1e-6, 0.05, 10.0)),
            ("tuning, 1 Hz", -150.969_1, phase_noise(20e-9, 2.0, 1.0)),
            ("tuning, 10 Hz", -170.969_1, phase_noise(20e-9, 2.0, 10.0)),
            (
                "at 1 s",
                2.828_427_12e-15,
                sideband::allan_deviation(2.0, 20e-9, 10e6, 1.0),
            ),
        ],
    );
    let slow = |volts: f64| told(Level::Volts(Statistic::Peak, volts), pushing, Unit::Pull);
    all(
        &mut section,
        "MEAS-SB-09",
        "slow drift of 2 mV and of 50 ppm/K on 12 V over 5 K at 0.5 ppb/V",
        "share per volt times volts",
        &[
            ("2 mV", 1e-12, slow(2e-3)),
            ("3 mV", 1.5e-12, slow(50e-6 * 12.0 * 5.0)),
        ],
    );
    all(
        &mut section,
        "MEAS-PN-01",
        "−130 dBc/Hz at 10 Hz as the density of the frequency, Hz/√Hz, and back",
        "definitions of phase noise and of its density",
        &[
            (
                "density",
                4.472_135_95e-6,
                sideband::density_for(-130.0, 1.0, 10.0),
            ),
            (
                "level",
                -130.0,
                sideband::phase_noise(1.0, 4.472_135_95e-6, 10.0),
            ),
        ],
    );
    all(
        &mut section,
        "MEAS-PN-05",
        "what noise ten and twenty decibels below adds, dB",
        "sum of powers",
        &[
            ("10 dB", 0.413_926_852, level::power_sum(&[0.0, -10.0])),
            ("20 dB", 0.043_213_737_8, level::power_sum(&[0.0, -20.0])),
        ],
    );
    let tuned = Given {
        shifts: Some(Sensitivity::HertzPerVolt(2.0)),
        ..pushing
    };
    all(
        &mut section,
        "MEAS-TB-11",
        "a tuning pin of 2 Hz/V at 10 MHz",
        "share per volt times volts",
        &[
            (
                "1 V",
                2e-7,
                told(Level::Volts(Statistic::Peak, 1.0), tuned, Unit::Pull),
            ),
            (
                "0.5 mV",
                1e-10,
                told(Level::Volts(Statistic::Peak, 0.5e-3), tuned, Unit::Pull),
            ),
        ],
    );
    section.note(
        "MEAS-PN-02 to -04",
        "what multiplying or dividing a frequency does to its phase noise, and jitter summed over a band, are not computed: limits on phase noise \
         are levels at distances, at the oscillator's own frequency.",
    );
    section.note(
        "MEAS-PN-05",
        "two oscillators against each other, and three by turns, are not told apart: the reference of a counter is a figure of the job.",
    );
    section.note(
        "MEAS-TB-11",
        "steps of a converter and turns of a potentiometer on a tuning pin are not computed.",
    );
    section.finish();
}
