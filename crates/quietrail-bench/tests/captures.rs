//! Captures in the dialects that instruments write, all of one wave whose figures are known by formula.

#![allow(
    clippy::unwrap_used,
    reason = "a test that has nothing to unwrap has failed"
)]

use proptest::prelude::any;
use proptest::{prop_assert, proptest};
use quietrail_bench::capture::{Assumed, CaptureFault, Doubt, Figures, doubt, figures, read};
use quietrail_bench::log::Observed;
use quietrail_job::model::What;
use std::f64::consts::PI;

/// 1.2 V with 30 mV peak at 100 Hz and 4 mV peak at 50 Hz, ten cycles of 50 Hz, 4000 samples.
fn wave() -> Vec<(f64, f64)> {
    (0..4000)
        .map(|k| {
            let t = f64::from(k) * 5e-5 - 0.1;
            let at = |f: f64| libm::sin(2.0 * PI * f * t);
            (t, 1.2 + 0.03 * at(100.0) + 0.004 * at(50.0))
        })
        .collect()
}

fn check(text: &str, column: Option<&str>) -> (Figures, Vec<Assumed>) {
    let capture = read(text, column)
        .unwrap_or_else(|fault| panic!("{fault:?}: {}", &text[..text.len().min(300)]));
    assert_eq!(capture.samples.len(), 4000);
    let found = figures(&capture.samples, 50.0);
    let near = |got: f64, want: f64, by: f64| {
        assert!((got - want).abs() <= by, "{got}, wanted {want}: {found:?}");
    };
    near(found.mean, 1.2, 1e-5);
    near(found.at_twice, 0.03 / 2.0_f64.sqrt(), 2e-5);
    near(found.at_line, 0.004 / 2.0_f64.sqrt(), 2e-5);
    let rms = ((0.03 * 0.03 + 0.004 * 0.004) / 2.0_f64).sqrt();
    near(found.ac_rms, rms, 2e-5);
    near(found.ripple, rms, 2e-5);
    // Nothing else is in it: what climbs within a part of a cycle is no noise.
    near(found.noise, 0.0, 1e-4);
    assert!(found.peak > 1.2299 && found.valley < 1.1701, "{found:?}");
    (found, capture.assumed)
}

fn lines(row: impl Fn(f64, f64) -> String) -> String {
    wave().iter().map(|(t, v)| row(*t, *v)).collect()
}

#[test]
fn dialects_of_instruments_come_to_the_same_wave() {
    let comma = |value: f64| format!("{value:.7}").replace('.', ",");
    let plain = lines(|t, v| format!("{t:.7},{v:.7}\n"));
    check(&plain, None);
    // Heads as tables of ISO 80000 have them, and with a symbol in place of a word.
    for head in ["t/s,U/V", "t (s),U (V)", "elapsed/s,U/V", "t [s],CH1 [V]"] {
        check(&format!("{head}\n{plain}"), None);
    }
    let in_milli = lines(|t, v| format!("{:.5};{:.5}\n", 1e3 * t, 1e3 * v));
    check(&format!("t/ms;U/mV\n{in_milli}"), None);
    let (_, assumed) = check(
        &format!(
            "\u{feff}Model,none\r\nChannels,1\r\n\r\nTime,CH1\r\nSecond,Volt\r\n{}",
            plain.replace('\n', "\r\n")
        ),
        None,
    );
    assert!(
        !assumed.contains(&Assumed::Seconds) && !assumed.contains(&Assumed::Volts),
        "{assumed:?}"
    );
    let (_, assumed) = check(&lines(|t, v| format!("{};{}\n", comma(t), comma(v))), None);
    assert!(assumed.contains(&Assumed::DecimalComma));
    let text = format!(
        "Zeit;Kanal A\n(ms);(mV)\n\n{}",
        lines(|t, v| format!("{};{}\n", comma(t * 1e3), comma(v * 1e3)))
    );
    let (_, assumed) = check(&text, None);
    assert!(
        assumed.contains(&Assumed::TimeUnit("ms".into()))
            && assumed.contains(&Assumed::Unit("mV".into())),
        "{assumed:?}"
    );
    let text = format!(
        "t [us]\tCH1 [V]\tCH2 [V]\n{}",
        lines(|t, v| format!("{:.3}\t0.5\t{v:.7}\n", t * 1e6))
    );
    check(&text, Some("CH2 [V]"));
    check(&text, Some("2"));
    check(&lines(|t, v| format!("  {t:+.7E}   {v:+.7E} \n")), None);
    check(
        &format!(
            "\"Time (s)\",\"Voltage (V)\"\n{}",
            lines(|t, v| format!("\"{t:.7}\",\"{v:.7}\",\n"))
        ),
        None,
    );
    // Samples counted, their interval above; and one column alone.
    let counted: String = wave()
        .iter()
        .enumerate()
        .map(|(k, (_, v))| format!("{k},{v:.7}\n"))
        .collect();
    let (_, assumed) = check(
        &format!("Sample Interval,5.0e-05\nPoint,CH1 (V)\n{counted}"),
        None,
    );
    assert!(assumed.contains(&Assumed::Interval(5e-5)), "{assumed:?}");
    check(
        &format!(
            "# sample rate: 20000 Hz\n{}",
            lines(|_, v| format!("{v:.7}\n"))
        ),
        None,
    );
}

/// Loggers put date and time of day into two columns, and counters frequencies into megahertz.
#[test]
fn a_date_with_its_own_column_leaves_the_names_in_place() {
    let rows: String = (0..120)
        .map(|k| {
            format!(
                "2026-11-20,23:{:02}:{:02},{:.9}\n",
                58 + k / 60,
                k % 60,
                5.000_000_1
            )
        })
        .collect();
    for (head, scale) in [("date,time,f (MHz)", 1.0), ("Datum,Zeit,f/kHz", 1e-3)] {
        let capture = read(&format!("{head}\n{rows}"), None).expect("it is a table");
        assert_eq!(capture.unit, "Hz", "{head}");
        let (first, last) = (capture.samples[0], capture.samples[119]);
        assert!((last.0 - first.0 - 119.0).abs() < 1e-6, "{head}");
        assert!(
            (first.1 / (5_000_000.1 * scale) - 1.0).abs() < 1e-12,
            "{head}"
        );
    }
}

#[test]
fn unsorted_time_and_lines_among_the_data_are_said() {
    let mut rows: Vec<String> = wave()
        .iter()
        .map(|(t, v)| format!("{t:.7},{v:.7}\n"))
        .collect();
    rows.rotate_left(1234);
    rows.insert(7, "\n".to_owned());
    rows.insert(100, "overload\n".to_owned());
    let (_, assumed) = check(&rows.concat(), None);
    assert!(
        assumed.contains(&Assumed::Sorted) && assumed.contains(&Assumed::Skipped(1)),
        "{assumed:?}"
    );
}

#[test]
fn what_is_missing_is_named() {
    assert_eq!(read("", None), Err(CaptureFault::Empty));
    assert_eq!(
        read("only words\nand more\n", None),
        Err(CaptureFault::NoTable)
    );
    assert_eq!(read(&"1.5\n".repeat(20), None), Err(CaptureFault::NoTime));
    assert_eq!(read("0,1\n1,2\n2,3\n", None), Err(CaptureFault::NoTime));
    assert_eq!(
        read("0.0,1\n0.5,2\n1.0,3\n", None),
        Err(CaptureFault::TooShort(3))
    );
    let text = lines(|t, v| format!("{t:.7},{v:.7}\n"));
    assert!(matches!(
        read(&text, Some("3")),
        Err(CaptureFault::NoColumn { .. })
    ));
}

/// Noise of known power on a mains wave is told apart from it, and mains a little off its frequency is found.
#[test]
fn ripple_and_noise_are_told_apart() {
    let mut state = 7_u64;
    let mut noise = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
    };
    // A rectangular density of width 1 has an rms of 1/√12.
    let samples: Vec<(f64, f64)> = (0..40_000)
        .map(|k| {
            let t = f64::from(k) * 2.5e-5;
            (
                t,
                5.0 + 0.01 * libm::sin(2.0 * PI * 100.1 * t) + 0.02 * noise(),
            )
        })
        .collect();
    let found = figures(&samples, 50.0);
    assert!((found.hertz - 50.05).abs() < 0.02, "{found:?}");
    assert!(
        (found.ripple - 0.01 / 2.0_f64.sqrt()).abs() < 2e-4,
        "{found:?}"
    );
    assert!(
        (found.noise - 0.02 / 12.0_f64.sqrt()).abs() < 2e-4,
        "{found:?}"
    );
}

/// A sawtooth that falls for 8 ms and rises for 2 ms, with 90 mV of step where charging begins: 0.3 Ω at 0.3 A.
#[test]
fn the_step_of_a_tired_capacitor_is_found() {
    let samples: Vec<(f64, f64)> = (0..8000)
        .map(|k| {
            let t = f64::from(k) * 1e-5;
            let phase = (t * 100.0).fract();
            let v = if phase < 0.8 {
                1.0 - phase
            } else {
                0.2 + 4.0 * (phase - 0.8) + 0.09
            };
            (t, v)
        })
        .collect();
    let found = figures(&samples, 50.0);
    assert!((found.step.abs() - 0.09).abs() < 0.01, "{found:?}");
}

/// Twenty seconds of a mains that is off by a share that no grid of whole steps meets.
#[test]
fn a_long_record_is_told_apart_as_well_as_a_short_one() {
    let hertz = 50.0437;
    let samples: Vec<(f64, f64)> = (0..100_000)
        .map(|k| {
            let t = f64::from(k) * 2e-4;
            (t, 17.0 + 0.4 * libm::sin(4.0 * PI * hertz * t))
        })
        .collect();
    let found = figures(&samples, 50.0);
    assert!((found.hertz - hertz).abs() < 1e-4, "{found:?}");
    assert!(
        (found.ripple - 0.4 / 2.0_f64.sqrt()).abs() < 1e-3,
        "{found:?}"
    );
    assert!(found.noise < 3e-3, "{found:?}");
}

/// Uniform scatter of ±10 mV beside 100 Hz: 10 mV/√3.
#[test]
fn noise_beside_a_wave_is_neither_more_nor_less() {
    let mut seed = 7_u64;
    let mut scatter = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        ((seed >> 33) as f64 / f64::from(1_u32 << 31) - 0.5) * 0.02
    };
    let samples: Vec<(f64, f64)> = (0..20_000)
        .map(|k| {
            let t = f64::from(k) * 2e-5;
            (t, 0.4 * libm::sin(200.0 * PI * t) + scatter())
        })
        .collect();
    let found = figures(&samples, 50.0);
    let noise = 0.01 / 3.0_f64.sqrt();
    assert!((found.noise - noise).abs() < 0.03 * noise, "{found:?}");
    assert!(
        (found.ripple - 0.4 / 2.0_f64.sqrt()).abs() < 1e-3,
        "{found:?}"
    );
}

/// A meter's log: date, time of day, value, unit.
/// Found by the fuzzer: such a year stopped the program.
#[test]
fn a_number_of_eight_digits_is_no_year() {
    let text = "22222222-1-1,6\n22222222-1-2,6\n22222222-1-3,6\n";
    assert!(read(text, None).is_err());
}

#[test]
fn a_meters_log_has_a_clock() {
    let row = |k: u32, date: &str, value: &str| {
        format!("{date},10:{:02}:{:02},{value},mVDC\n", k / 60, k % 60)
    };
    let log = |date: &str| -> String {
        let rows = (0..90).map(|k| row(k, date, if k % 2 == 0 { "1200.0" } else { "1201.0" }));
        format!("Date,Time,Reading,Unit\n{}", rows.collect::<String>())
    };
    for date in ["2026-11-20", "20.11.2026", "2026/11/20"] {
        let capture = read(&log(date), None).unwrap_or_else(|fault| panic!("{date}: {fault:?}"));
        let (first, last) = (capture.samples[0], capture.samples[89]);
        assert!((last.0 - first.0 - 89.0).abs() < 1e-6, "{first:?} {last:?}");
        assert!((first.1 - 1.2).abs() < 1e-12, "{first:?}");
        assert_eq!(capture.columns, ["Reading"]);
    }
    // Over midnight, in one field.
    let over = "time,V\n2026-02-28 23:59:58,1\n2026-02-28 23:59:59,1\n2026-03-01 00:00:00,1\n2026-03-01 00:00:01,1\n\
                2026-03-01 00:00:02,1\n2026-03-01 00:00:03,1\n2026-03-01 00:00:04,1\n2026-03-01 00:00:05,2\n";
    let capture = read(over, None).unwrap();
    assert!(
        (capture.samples[7].0 - capture.samples[0].0 - 7.0).abs() < 1e-6,
        "{capture:?}"
    );
}

#[test]
fn a_sweep_is_no_wave_and_its_highest_is_told() {
    let sweep: String = (0..101)
        .map(|k| {
            let level = if k == 50 { 7.02 } else { -101.5 };
            format!("{:.3},{level}\n", 9.995 + 1e-4 * f64::from(k))
        })
        .collect();
    let fault = read(&format!("Frequency (MHz),Level (dBm)\n{sweep}"), None).unwrap_err();
    let CaptureFault::Sweep(found) = fault else {
        panic!("{fault:?}");
    };
    assert!((found.at - 10e6).abs() < 1.0, "{found:?}");
    assert_eq!((found.highest, found.unit.as_str()), (7.02, "dBm"));
}

#[test]
fn sixteen_bits_a_letter_and_files_without_any() {
    use quietrail_bench::capture::text_of;
    let text = lines(|t, v| format!("{t:.7},{v:.7}\n"));
    let units = text.encode_utf16();
    let little: Vec<u8> = [0xff, 0xfe]
        .into_iter()
        .chain(units.clone().flat_map(u16::to_le_bytes))
        .collect();
    let big: Vec<u8> = [0xfe, 0xff]
        .into_iter()
        .chain(units.flat_map(u16::to_be_bytes))
        .collect();
    check(&text_of(&little), None);
    check(&text_of(&big), None);
    assert_eq!(text_of(&[0xff, 0xfe]), "");
    assert_eq!(read("", None), Err(CaptureFault::Empty));
    assert_eq!(read("\u{feff} \r\n\r\n", None), Err(CaptureFault::Empty));
}

proptest! {
    #[test]
    fn any_text_is_read_or_refused(text in any::<String>()) {
        if let Ok(capture) = read(&text, None) {
            prop_assert!(capture.samples.windows(2).all(|pair| pair[0].0 <= pair[1].0));
            let found = figures(&capture.samples, 50.0);
            prop_assert!(found.valley <= found.peak);
        }
    }

    /// Tables of numbers with odd separators, signs and gaps.
    #[test]
    fn any_table_is_read_or_refused(text in "([-+0-9.,;eE \t]{0,12}\n){0,40}") {
        if let Ok(capture) = read(&text, None) {
            let found = figures(&capture.samples, 50.0);
            prop_assert!(found.valley <= found.peak);
        }
    }
}

/// A channel that was off, and holes where the instrument had no number: both can be read, and both are asked about.
#[test]
fn a_flat_wave_and_one_with_holes_are_questioned() {
    let read = |text: &str| read(text, None).unwrap();
    let ripple = Observed::Statistic(What::Ripple);
    let mean = Observed::Statistic(What::Mean);
    let flat = |volts: &str| {
        let lines: String = (0..100)
            .map(|k| format!("{},{volts}\n", 1e-3 * f64::from(k)))
            .collect();
        read(&format!("s,V\n{lines}"))
    };
    assert_eq!(
        doubt(&flat("0.012"), ripple, 50.0),
        Some(Doubt::Flat { value: 0.012 })
    );
    assert_eq!(
        doubt(&flat("0"), mean, 50.0),
        Some(Doubt::Flat { value: 0.0 })
    );
    // A meter's log of a steady rail is no riddle.
    assert_eq!(doubt(&flat("12.03"), mean, 50.0), None);
    // NaN, and the two numbers that stand for none in the language of instruments.
    for none in ["NaN", "9.91E+37", "9.9E37", "-9.9E37", ""] {
        let lines: String = (0..100)
            .map(|k| {
                let value = if k % 10 == 3 {
                    none.to_owned()
                } else {
                    format!("{}", 17.0 + f64::from(k % 7))
                };
                format!("{},{value}\n", 1e-3 * f64::from(k))
            })
            .collect();
        let found = read(&format!("s,V\n{lines}"));
        assert_eq!(found.samples.len(), 90, "{none:?}");
        assert!(
            found
                .samples
                .iter()
                .all(|(_, volts)| (17.0..24.0).contains(volts))
        );
        assert_eq!(
            doubt(&found, mean, 50.0),
            Some(Doubt::Holes { lines: 10, of: 100 }),
            "{none:?}"
        );
    }
    let whole: String = (0..200)
        .map(|k| format!("{},{}\n", 1e-4 * f64::from(k), 17 + k % 7))
        .collect();
    assert_eq!(doubt(&read(&format!("s,V\n{whole}")), ripple, 50.0), None);
}

/// Two samples in a cycle of the mains show a ripple that is not there; of its mean they tell enough.
#[test]
fn a_capture_too_slow_for_the_mains_is_asked_about() {
    let every = |interval: f64| {
        let sample = |k: u32| {
            let t = interval * f64::from(k);
            format!("{t:.6},{:.4}\n", 20.0 + 0.2 * libm::sin(754.0 * t))
        };
        let rows: String = (0..400).map(sample).collect();
        read(&format!("Time (s),CH1 (V)\n{rows}"), None).unwrap()
    };
    let ripple = Observed::Statistic(What::RipplePeakToPeak);
    let mean = Observed::Statistic(What::Mean);
    let Some(Doubt::Sparse { each }) = doubt(&every(8e-3), ripple, 60.0) else {
        panic!("it is too slow");
    };
    assert!((each - 2.083).abs() < 1e-2, "{each}");
    assert_eq!(doubt(&every(8e-3), mean, 60.0), None);
    assert_eq!(doubt(&every(4e-4), ripple, 60.0), None);
}

/// Where nothing repeats with the job's mains and nearly all with another one, the ripple of the job's would be none: a value that fits
/// anything. It is asked about, whichever of the two is which; noise, which repeats with neither, is not.
#[test]
fn a_capture_of_another_mains_is_asked_about() {
    let wave = |hertz: f64, ripple: f64, noise: f64| {
        let mut random = 12_345_u64;
        let rows: String = (0..2000)
            .map(|k| {
                random = random
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                let chance = (random >> 40) as f64 / (1_u64 << 23) as f64 - 1.0;
                let t = 1e-4 * f64::from(k);
                let phase = (2.0 * hertz * t).fract();
                let saw = if phase < 0.2 {
                    phase / 0.2
                } else {
                    (1.0 - phase) / 0.8
                };
                format!("{t:.4},{:.5}\n", 20.0 + ripple * saw + noise * chance)
            })
            .collect();
        read(&format!("Time (s),CH1 (V)\n{rows}"), None).expect("a capture")
    };
    let ripple = Observed::Statistic(What::Ripple);
    for (own, other) in [(50.0, 60.0), (60.0, 50.0)] {
        let found = doubt(&wave(other, 0.5, 0.05), ripple, own);
        assert_eq!(found, Some(Doubt::OtherMains { hertz: other, own }));
        assert_eq!(doubt(&wave(own, 0.5, 0.05), ripple, own), None);
        assert_eq!(doubt(&wave(own, 0.0, 0.05), ripple, own), None);
        assert_eq!(doubt(&wave(own, 0.2, 0.2), ripple, own), None);
    }
    let mean = Observed::Statistic(What::Mean);
    assert_eq!(doubt(&wave(60.0, 0.5, 0.0), mean, 50.0), None);
}

/// A saw at twice a mains frequency about 17.5 V, in steps of 50 µs, with a drift of so many volts in a second.
fn saw(hertz: f64, samples: u32, drift: f64) -> String {
    let row = |k: u32| {
        let t = 5e-5 * f64::from(k);
        format!(
            "{t:.5},{:.5}\n",
            17.5 + drift * t - 1.2 * ((2.0 * hertz * t).fract() - 0.5)
        )
    };
    let rows: String = (0..samples).map(row).collect();
    format!("Time (s),CH1 (V)\n{rows}")
}

/// 14 ms of a saw that takes 20 ms show 0.84 V of its 1.2 V: it held a limit of 1 V.
#[test]
fn less_than_a_cycle_of_the_mains_is_asked_about() {
    let wave = |samples: u32| read(&saw(25.0, samples, 0.0), None).expect("a capture");
    for what in [What::RipplePeakToPeak, What::Valley, What::Mean] {
        let asked = doubt(&wave(280), Observed::Statistic(what), 50.0);
        assert!(
            matches!(asked, Some(Doubt::Short { part }) if (part - 0.7).abs() < 0.01),
            "{asked:?}"
        );
        // The last sample stands an interval before the end of its cycle.
        assert_eq!(doubt(&wave(400), Observed::Statistic(what), 50.0), None);
    }
    // A step is seen in less, and an oscillator's output has a cycle of its own.
    assert_eq!(doubt(&wave(280), Observed::Esr, 50.0), None);
    assert_eq!(doubt(&wave(280), Observed::RmsVoltage, 50.0), None);
}

/// Ten divisions of 5 ms hold three cycles of 60 Hz; and what wanders, sampled fifty times in a cycle of 400 Hz, is of no such mains.
#[test]
fn another_mains_is_told_from_few_cycles_and_from_none_that_is_not_there() {
    let ripple = Observed::Statistic(What::RipplePeakToPeak);
    let found = |text: &str, own: f64| doubt(&read(text, None).expect("a capture"), ripple, own);
    let other = |hertz: f64, own: f64| Some(Doubt::OtherMains { hertz, own });
    for samples in [1000, 1200] {
        assert_eq!(found(&saw(60.0, samples, 0.0), 50.0), other(60.0, 50.0));
        assert_eq!(found(&saw(50.0, samples, 0.0), 60.0), other(50.0, 60.0));
        assert_eq!(found(&saw(50.0, samples, 0.0), 50.0), None);
        assert_eq!(found(&saw(60.0, samples, 0.0), 60.0), None);
    }
    for drift in [1.0, 5.0, 30.0] {
        assert_eq!(found(&saw(50.0, 4000, drift), 50.0), None, "{drift} V/s");
    }
}

/// A spreadsheet may put the time behind, or a number before it; what the head of a column says counts.
#[test]
fn the_column_of_time_is_the_one_that_says_so() {
    let row = |k: u32| (0.001 * f64::from(k), 0.5 + 0.01 * f64::from(k % 7));
    let behind: String = (0..50)
        .map(row)
        .map(|(t, v)| format!("{v:.4},{t:.4}\n"))
        .collect();
    let counted: String = (0..50)
        .map(|k| (k, row(k)))
        .map(|(k, (t, v))| format!("{k},{t:.4},{v:.4}\n"))
        .collect();
    for text in [
        format!("CH1 (V),Time (s)\n{behind}"),
        format!("Sample,Time,CH1\n,s,V\n{counted}"),
    ] {
        let found = read(&text, None).unwrap();
        assert_eq!(
            found.columns,
            ["CH1 (V)", "CH1"].map(String::from)[usize::from(text.starts_with('S'))..][..1]
        );
        let (t, v) = found.samples[3];
        assert!(
            (t - 0.003).abs() < 1e-9 && (v - 0.53).abs() < 1e-9,
            "{text}"
        );
    }
}

/// Lines that lack a number stand between the names and the data: millivolts stay millivolts.
#[test]
fn units_count_above_lines_that_lack_a_number() {
    let rows: String = (0..50)
        .map(|k| format!("{:.4},{}\n", 0.001 * f64::from(k), 500 + k % 7))
        .collect();
    let found = read(
        &format!("Time (s),CH1 (mV)\n-0.002,\n-0.001,\n{rows}"),
        None,
    )
    .unwrap();
    assert_eq!(found.samples[0].1, 0.5);
    assert!(
        found.assumed.contains(&Assumed::Skipped(2)),
        "{:?}",
        found.assumed
    );
}

/// Coupled over a capacitor an input shows no level: a peak of 0.6 V, taken of a rail of 17.5 V, held a limit of 24 V.
#[test]
fn a_level_of_a_wave_that_has_none_is_asked_about() {
    let coupled = |level: f64| {
        let row = |k: u32| {
            let t = 5e-5 * f64::from(k);
            format!("{t:.5},{:.5}\n", level - 1.2 * ((100.0 * t).fract() - 0.5))
        };
        let rows: String = (0..1200).map(row).collect();
        read(&format!("Time (s),CH1 (V)\n{rows}"), None).expect("a capture")
    };
    for what in [What::Mean, What::Valley, What::Peak] {
        let of = Observed::Statistic(what);
        let asked = doubt(&coupled(0.0), of, 50.0);
        assert!(
            matches!(asked, Some(Doubt::NoLevel { mean, swing }) if mean.abs() < 0.02 && (swing - 1.2).abs() < 0.02),
            "{asked:?}"
        );
        // A rail that a regulator has let down to its ripple stands above it all the same.
        assert_eq!(doubt(&coupled(0.7), of, 50.0), None);
        assert_eq!(doubt(&coupled(-17.5), of, 50.0), None);
    }
    // What changes is all there.
    let ripple = Observed::Statistic(What::RipplePeakToPeak);
    assert_eq!(doubt(&coupled(0.0), ripple, 50.0), None);
}
