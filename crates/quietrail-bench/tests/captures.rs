//! Captures in the dialects that instruments write, all of one wave whose figures are known by formula.

#![allow(
    clippy::unwrap_used,
    reason = "a test that has nothing to unwrap has failed"
)]

use proptest::prelude::any;
use proptest::{prop_assert, proptest};
use quietrail_bench::capture::{Assumed, CaptureFault, Figures, figures, read};
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
    near(found.ripple, rms, 1e-4);
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
    assert_eq!(read("", None), Err(CaptureFault::NoTable));
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
