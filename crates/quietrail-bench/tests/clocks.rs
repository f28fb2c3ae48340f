//! Times and units as loggers write them: each comes to the seconds and volts that it means, or is refused.

#![allow(
    clippy::unwrap_used,
    reason = "a test that has nothing to unwrap has failed"
)]

use quietrail_bench::capture::{Assumed, Capture, CaptureFault, Doubt, doubt, read};
use quietrail_bench::log::Observed;
use quietrail_job::model::What;
use std::f64::consts::PI;

/// A log of forty lines under a head.
fn log(head: &str, line: impl Fn(u32) -> String) -> Result<Capture, CaptureFault> {
    let lines: String = (0..40).map(|k| format!("{}\n", line(k))).collect();
    read(&format!("{head}\n{lines}"), None)
}

/// Seconds from the first sample to the last.
fn span(capture: &Capture) -> f64 {
    capture.samples[capture.samples.len() - 1].0 - capture.samples[0].0
}

#[test]
fn times_are_in_the_unit_that_their_heading_says() {
    for (head, step, seconds) in [
        ("Time (hours),f (Hz)", 0.5, 1800.0),
        ("Elapsed (minutes),f (Hz)", 0.5, 30.0),
        ("t (d),f (Hz)", 0.5, 43_200.0),
        ("MJD,f (Hz)", 0.25, 21_600.0),
        ("Time ms,f Hz", 5.0, 5e-3),
        ("Time_ms,f_Hz", 5.0, 5e-3),
        ("t_s,f_hz", 0.5, 0.5),
        ("t_h,f_hz", 0.5, 1800.0),
        ("elapsed h,f Hz", 0.5, 1800.0),
        ("time,f\nhours,Hz", 0.5, 1800.0),
        ("hours,Hz", 0.5, 1800.0),
        ("Time (UTC),f (Hz)", 2.0, 2.0),
    ] {
        let found = log(head, |k| format!("{},1e7", 60_000.0 + step * f64::from(k))).unwrap();
        let all = 39.0 * seconds;
        assert!(
            (span(&found) / all - 1.0).abs() < 1e-6,
            "{head}: {}",
            span(&found)
        );
        assert_eq!(found.unit, "Hz", "{head}");
    }
    // Whole seconds from nothing on look like a count of lines, and are none where the head says so.
    let whole = log("t_s,f_hz", |k| format!("{k},1e7")).expect("a time");
    assert!((span(&whole) / 39.0 - 1.0).abs() < 1e-9);
    let unknown = log("Time (fortnights),f (Hz)", |k| format!("{k},1e7"));
    assert_eq!(
        unknown,
        Err(CaptureFault::TimeUnit("fortnights".to_owned()))
    );
}

#[test]
fn a_signal_in_another_unit_is_none_in_volts() {
    for unit in ["dBm", "mW", "°F", "Ω"] {
        let found = log(&format!("t (s),x ({unit})"), |k| format!("{k},{k}"));
        assert_eq!(found, Err(CaptureFault::SignalUnit(unit.to_owned())));
    }
    // Capitals alone make no other unit.
    for (unit, scale, symbol) in [("MV", 1e-3, "V"), ("KHZ", 1e3, "Hz"), ("ma", 1e-3, "A")] {
        let found = log(&format!("t (s),x ({unit})"), |k| format!("{k},{k}")).unwrap();
        assert_eq!(
            (found.samples[2].1, found.unit),
            (2.0 * scale, symbol),
            "{unit}"
        );
    }
    // Nor does what names a channel.
    let found = log("t (s),Channel A", |k| format!("{k},{k}")).unwrap();
    assert_eq!((found.samples[2].1, found.unit), (2.0, "V"));
}

/// A meter that ranges by itself writes the unit behind each value.
#[test]
fn each_line_counts_in_its_own_unit() {
    let found = log("t,U,unit", |k| {
        let volts = 0.98 + 1e-3 * f64::from(k);
        if volts < 1.0 {
            format!("{k},{:.1},mV", 1e3 * volts)
        } else {
            format!("{k},{volts:.3},V")
        }
    })
    .unwrap();
    for (k, (_, volts)) in found.samples.iter().enumerate() {
        assert!(
            (volts - 0.98 - 1e-3 * k as f64).abs() < 1e-9,
            "{k}: {volts}"
        );
    }
    // What is of another kind is no sample of it.
    let mixed = log("t,U,unit", |k| {
        let unit = if k % 2 == 0 { "V" } else { "Hz" };
        format!("{k},5.0,{unit}")
    });
    assert_eq!(mixed.unwrap().samples.len(), 20);
}

#[test]
fn a_clock_goes_on_over_midnight() {
    let at = |second: u32| {
        let of_day = second % 86_400;
        format!(
            "{:02}:{:02}:{:02}",
            of_day / 3600,
            of_day / 60 % 60,
            of_day % 60
        )
    };
    // Two hours to the line: three days and a quarter.
    let found = log("Time,f (Hz)", |k| {
        format!("{},{}", at(7200 * k), 1e7 + f64::from(k))
    })
    .unwrap();
    for (k, (t, hertz)) in found.samples.iter().enumerate() {
        assert_eq!((*t, *hertz), (7200.0 * k as f64, 1e7 + k as f64));
    }
    // Twelve hours a half, as in 11:59:50 AM, 12:00:10 PM, 1:00:00 PM.
    let half = |second: u32| {
        let (hours, rest) = (second / 3600, second % 3600);
        let shown = if hours % 12 == 0 { 12 } else { hours % 12 };
        let part = if hours % 24 < 12 { "AM" } else { "PM" };
        format!("{shown}:{:02}:{:02} {part}", rest / 60, rest % 60)
    };
    let found = log("Time,f (Hz)", |k| format!("{},1e7", half(1800 * k))).unwrap();
    assert_eq!(span(&found), 39.0 * 1800.0);
    // The offset of a zone is no part of the time that goes by.
    let found = log("Time,f (Hz)", |k| {
        let zone = if k < 20 { "+02:00" } else { "+01:00" };
        let local = if k < 20 { 7200 } else { 3600 };
        format!("2026-10-25T{}{zone},1e7", at(local + 60 * k))
    })
    .unwrap();
    assert_eq!(span(&found), 39.0 * 60.0);
}

/// A file that was added to: no order of time puts two records right that were taken at the same times.
#[test]
fn two_records_are_not_woven_into_one() {
    let twice = log("t (s),U (V)", |k| format!("{},{k}", k % 20));
    assert_eq!(twice, Err(CaptureFault::Records(2)));
    // A ring that was read out from its middle, and a file from its end.
    let ring = log("t (s),U (V)", |k| format!("{},0", (k + 25) % 40)).unwrap();
    assert_eq!(span(&ring), 39.0);
    let back = log("t (s),U (V)", |k| format!("{},0", 40 - k)).unwrap();
    assert_eq!(span(&back), 39.0);
}

#[test]
fn a_sample_rate_is_read_with_its_unit() {
    for (head, interval) in [
        ("Sample Rate: 1 MSa/s", 1e-6),
        ("Sample Rate,100 kHz", 1e-5),
        ("Sample Rate = 250 S/s", 4e-3),
        ("Sample Interval,2.0E-06,Second", 2e-6),
        ("Sample Interval: 10 us", 1e-5),
    ] {
        let found = log(head, |k| format!("{k}")).unwrap();
        let own = span(&found) / 39.0;
        assert!((own / interval - 1.0).abs() < 1e-9, "{head}: {own}");
    }
    assert_eq!(
        log("Sample Rate: 12 furlongs", |k| format!("{k}")),
        Err(CaptureFault::NoTime)
    );
}

/// Five cycles of 50 Hz in steps of an eighth of a volt.
fn trace(what: What, wave: impl Fn(f64) -> f64) -> Option<Doubt> {
    let lines: String = (0..4000)
        .map(|k| {
            let t = f64::from(k) * 25e-6;
            format!("{t:.6},{}\n", 0.125 * (8.0 * wave(t)).round())
        })
        .collect();
    let capture = read(&format!("t (s),CH1 (V)\n{lines}"), None).unwrap();
    doubt(&capture, Observed::Statistic(what), 50.0)
}

#[test]
fn a_trace_that_left_the_screen_is_asked_about() {
    let sine = |t: f64| 4.0 * libm::sin(2.0 * PI * 100.0 * t);
    let saw = |t: f64| {
        let part = 100.0 * t;
        3.0 * (part - part.floor()) + 17.0
    };
    for (name, top) in [("a little", 3.6), ("much", 2.0)] {
        let found = trace(What::RipplePeakToPeak, |t| sine(t).min(top));
        assert!(
            matches!(found, Some(Doubt::Clipped { at, .. }) if at > 0.0),
            "{name}: {found:?}"
        );
    }
    let found = trace(What::RipplePeakToPeak, |t| saw(t).max(17.5));
    assert!(
        matches!(found, Some(Doubt::Clipped { at, .. }) if at == 17.5),
        "{found:?}"
    );
    // Nothing is said of waves that are whole: in fine steps, in coarse ones, and of two levels.
    let waves: [&dyn Fn(f64) -> f64; 5] =
        [&sine, &|t| 0.1 * sine(t), &saw, &|t| 0.1 * saw(t), &|t| {
            libm::copysign(2.0, sine(t))
        }];
    for (number, wave) in waves.into_iter().enumerate() {
        assert_eq!(trace(What::RipplePeakToPeak, wave), None, "{number}");
    }
    // A rectifier's current stands at zero between its pulses: that is no end that its peak hangs on.
    let pulses = |t: f64| sine(t).max(2.0) - 2.0;
    assert_eq!(trace(What::PeakCurrent, pulses), None);
    let cut = trace(What::PeakCurrent, |t| pulses(t).min(1.5));
    assert!(
        matches!(cut, Some(Doubt::Clipped { at, .. }) if at > 1.0),
        "{cut:?}"
    );
}

/// What spreadsheets and counters write for 10 MHz, by the customs of their country.
#[test]
fn digits_in_groups_of_three_are_one_number() {
    let of = |head: &str, line: &dyn Fn(u32) -> String| {
        let rows: String = (0..20).map(line).collect();
        let found = read(&format!("{head}\n{rows}"), None).unwrap();
        (found.samples[7], found.step)
    };
    let wanted = ((7.0, 10_000_000.07), 0.01);
    let said = [
        of("t (s);f (Hz)", &|k| format!("{k};10.000.000,0{}\n", k % 10)),
        of("t (s)\tf (Hz)", &|k| {
            format!("{k}\t10,000,000.0{}\n", k % 10)
        }),
        of("t (s);f (Hz)", &|k| format!("{k};10 000 000.0{}\n", k % 10)),
        of("t (s);f (Hz)", &|k| format!("{k};10'000'000.0{}\n", k % 10)),
        of("\"t (s)\",\"f (Hz)\"", &|k| {
            format!("{k},\"10,000,000.0{}\"\n", k % 10)
        }),
        of("t (s),f (Hz)", &|k| {
            format!("{k},1.00000000{}E+07\n", k % 10)
        }),
    ];
    for (index, found) in said.into_iter().enumerate() {
        assert_eq!(found, wanted, "{index}");
    }
    // Nobody can tell 12.5 from 12500 where one sign stands alone: it is the decimal one.
    let one = of("t (s);f (Hz)", &|k| format!("{k};12,50{}\n", k % 10));
    assert_eq!(one.0.1, 12.507);
    let whole = of("t (s);f (Hz)", &|k| format!("{k};10.000.00{}\n", k % 10));
    assert_eq!(whole, ((7.0, 10_000_007.0), 1.0));
    // Groups are of three digits.
    let rows: String = (0..20).map(|k| format!("{k};1.00.000,0{k}\n")).collect();
    assert!(read(&format!("t (s);f (Hz)\n{rows}"), None).is_err());
}

/// 1.79e12 is a moment of 2026 in ms, and no number of seconds that anybody waited for.
#[test]
fn times_since_1970_say_their_unit_by_their_size() {
    for (per_second, unit) in [(1e3, "ms"), (1e6, "µs"), (1e9, "ns")] {
        let row = |k: u32| format!("{},1.5\n", (1.79e9 + f64::from(k)) * per_second);
        let rows: String = (0..20).map(row).collect();
        let found = read(&format!("time,u (V)\n{rows}"), None).unwrap();
        let span = found.samples[19].0 - found.samples[0].0;
        assert!((span - 19.0).abs() < 1e-3, "{unit}: {span}");
        assert!(found.assumed.contains(&Assumed::TimeUnit(unit.to_owned())));
    }
}
