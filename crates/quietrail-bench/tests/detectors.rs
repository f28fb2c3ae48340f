//! What detectors and inputs of instruments leave of a verdict, against figures by hand.

#![allow(
    clippy::unwrap_used,
    reason = "a test that has nothing to unwrap has failed"
)]

use quietrail_bench::decide::Shown;
use quietrail_bench::judge::{Asked, Content, Judgement, Load, Taken, Why, judge};
use quietrail_bench::log::{Draft, Row};
use quietrail_bench::meter::{Wave, average_of, average_shows};
use quietrail_job::model::{Band, Instrument, What};

fn bench(detector: &str) -> std::sync::Arc<[Instrument]> {
    let job = format!(
        "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n\
         [instrument.meter]\nkind = \"multimeter\"\nac = {{ detector = \"{detector}\", band = \"10 Hz .. 100 kHz\", ranges = [\"10 V ±0.001 V\"] }}\n\
         dc = {{ ranges = [\"100 V ±0.001 V\"] }}\n"
    );
    quietrail_job::read(&job, None).job.unwrap().instruments
}

/// A row of the log, read with the bench's meter.
fn row_read(
    number: u64,
    (of, what): (&str, What),
    (value, unit): (&str, &str),
    setup: &str,
) -> Row {
    let draft = Draft {
        of: of.to_owned(),
        what: what.word().to_owned(),
        value: value.to_owned(),
        unit: unit.to_owned(),
        instrument: "meter".to_owned(),
        setup: setup.to_owned(),
        ..Draft::default()
    };
    draft.row(number).unwrap()
}

fn asked(what: What, max: f64) -> Asked {
    Asked {
        what,
        band: Some(Band::BrickWall {
            low: 10.0,
            high: 100e3,
        }),
        min: None,
        max: Some(max),
        mains_hertz: 50.0,
        content: Content::default(),
        amps: Vec::new(),
        behind: None,
        averaged: None,
        direct: 0.0,
        loads: Vec::new(),
        inside: None,
    }
}

fn judged(asked: &Asked, value: f64, detector: &str) -> Judgement {
    let row = |number, value: f64, setup: &str| {
        let value = format!("{value:e}");
        row_read(number, ("raw", asked.what), (&value, "V"), setup)
    };
    let rows = [row(1, value, "clips"), row(2, 1e-6, "shorted")];
    let rows: Vec<&Row> = rows.iter().collect();
    judge(asked, &rows, &bench(detector)).unwrap()
}

/// PWR-NOISE-15: averaging meters read a square wave 11.07207 % high and a triangle 3.808763 % low.
#[test]
fn the_average_of_samples_is_that_of_the_wave() {
    let of = |f: &dyn Fn(f64) -> f64| {
        let samples: Vec<f64> = (0..4000)
            .map(|k| 3.0 + f((f64::from(k) + 0.5) / 4000.0))
            .collect();
        average_of(&samples).unwrap()
    };
    let square = of(&|t| if t < 0.5 { 1.0 } else { -1.0 });
    assert!(
        (square - 1.110_720_7).abs() < 1e-6 && (square - average_shows(Wave::Square)).abs() < 1e-9
    );
    assert!((of(&|t| 2.0 * t - 1.0) - 0.961_912_37).abs() < 1e-6);
    // MEAS-DMM-02: a pulse of 5 % duty, AC-coupled: π/(2√2) 2√(d(1 − d)).
    let pulse = of(&|t| f64::from(u8::from(t < 0.05)));
    assert!(
        (pulse - 1.110_720_7 * 2.0 * (0.05_f64 * 0.95).sqrt()).abs() < 1e-6,
        "{pulse}"
    );
    assert_eq!(average_of(&[1.0; 8]), None);
}

/// A wave of short dips has a rms of twice what an averaging meter shows. The prediction says so; without it, nobody would.
#[test]
fn an_averaging_meter_does_not_pass_a_wave_of_dips() {
    let shows = 1.110_720_7 * 2.0 * (0.05_f64 * 0.95).sqrt();
    // 1.9 V rms of dips read as 0.92 V: under a limit of 1.2 V.
    let read = 1.9 * shows;
    let known = Asked {
        averaged: Some(shows),
        ..asked(What::Ripple, 1.2)
    };
    let found = judged(&known, read, "average");
    assert_eq!(found.shown, Shown::NotShown, "{found:?}");
    assert!(found.high > 1.9 && found.low < 1.9, "{found:?}");
    assert!(
        found
            .taken
            .iter()
            .any(|taken| matches!(taken, Taken::WaveForAverage(_))),
        "{found:?}"
    );
    // A wave between square and noise is bounded as ever.
    let plain = Asked {
        averaged: Some(0.96),
        ..asked(What::Ripple, 1.2)
    };
    assert_eq!(judged(&plain, read, "average").shown, Shown::Holds);
}

/// No wave has its rms above its peak, and any may have it far below.
#[test]
fn a_peak_detector_bounds_an_rms_from_above_alone() {
    // A meter that answers to the peak shows 1 V of a square wave of √2 V rms.
    let found = judged(&asked(What::Ripple, 1.4), 1.0, "peak");
    assert_eq!(found.shown, Shown::NotShown, "{found:?}");
    assert!(found.high > 2.0_f64.sqrt() && found.low == 0.0, "{found:?}");
    assert!(found.taken.contains(&Taken::PeakForRms));
    assert_eq!(
        judged(&asked(What::Ripple, 1.5), 1.0, "peak").shown,
        Shown::Holds
    );
    // Far above its limit it still does not fail: it may be short pulses.
    assert_eq!(
        judged(&asked(What::Ripple, 0.1), 1.0, "peak").shown,
        Shown::NotShown
    );
    // Peaks themselves it reads as they are.
    let peaks = judged(&asked(What::RipplePeakToPeak, 0.1), 1.0, "peak");
    assert_eq!(peaks.shown, Shown::Fails, "{peaks:?}");
}

/// MEAS-LOAD-02: 10 MΩ takes 9.0909 % off a point behind 1 MΩ: what reads 9.0909 V is 10 V without it.
#[test]
fn what_the_input_takes_off_is_there_without_it() {
    let load = |share| Asked {
        loads: vec![Load {
            by: "meter".to_owned(),
            share,
        }],
        ..asked(What::Mean, 9.5)
    };
    let share = 1.0 / 11.0;
    let found = judged(&load(share), 100.0 / 11.0, "true rms");
    assert_eq!(found.shown, Shown::NotShown, "{found:?}");
    assert!((found.high - 10.0).abs() < 2e-3, "{found:?}");
    assert!(
        (found.low - 9.09).abs() < 2e-3,
        "the other side stays: {found:?}"
    );
    assert!(
        found
            .taken
            .iter()
            .any(|taken| matches!(taken, Taken::Loading(grows) if (grows - 0.1).abs() < 1e-9))
    );
    assert_eq!(
        judged(&load(0.0), 100.0 / 11.0, "true rms").shown,
        Shown::Holds
    );
    // Below the lowest allowed with the meter on it, above without: it does not fail.
    let low = Asked {
        min: Some(9.5),
        max: None,
        ..load(share)
    };
    assert_eq!(
        judged(&low, 100.0 / 11.0, "true rms").shown,
        Shown::NotShown
    );
}

/// Noise that reads less than the input shorted is no noise below nothing: the two were not read alike. And a reading that lies below its
/// floor by no more than both may err shows no more than the floor would, read once more.
#[test]
fn a_reading_below_its_floor_shows_no_more_than_the_floor() {
    let judged = |reading: f64, floor: f64| {
        let row = |number, value: f64, setup: &str| {
            let value = format!("{value:e}");
            row_read(number, ("raw", What::Noise), (&value, "V"), setup)
        };
        let rows = [row(1, floor, "shorted"), row(2, reading, "clips")];
        let rows: Vec<&Row> = rows.iter().collect();
        judge(&asked(What::Noise, 20e-3), &rows, &bench("true rms")).unwrap()
    };
    // 1 mV of error on either side: 100 mV cannot hide under 200 mV.
    let apart = judged(0.1, 0.2);
    assert_eq!(apart.shown, Shown::NotShown, "{apart:?}");
    assert_eq!(apart.why, Why::FloorInconsistent);
    // A lucky one: between 201 and 199 mV there are 28 mV, as √(201² − 199²) says.
    let lucky = judged(0.199, 0.2);
    assert_eq!(lucky.shown, Shown::NotShown, "{lucky:?}");
    assert!(lucky.high >= judged(0.2, 0.2).high, "{lucky:?}");
    assert!(lucky.high > 0.028, "{lucky:?}");
}

/// Pulses of a tenth of the time, as a rectifier takes: their rms is √10 of their average, of which the meter shows π/(2√2): 0.351 of the rms.
/// Read as 351 mA, an ampere flows, over a limit of 500 mA.
#[test]
fn an_averaging_ammeter_does_not_pass_pulses() {
    let judged = |detector: &str, value: &str| {
        let (value, band) = match value.split_once(' ') {
            Some((value, _)) => (value, "400 Hz .. 20 kHz"),
            None => (value, "20 Hz .. 1 kHz"),
        };
        let job = format!(
            "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n\
             [instrument.meter]\nkind = \"multimeter\"\nac_current = {{ {detector}band = \"{band}\", ranges = [\"4 A ±1 mA\"] }}\n"
        );
        let instruments = quietrail_job::read(&job, None).job.unwrap().instruments;
        let row = row_read(1, ("C1", What::RmsCurrent), (value, "A"), "in its lead");
        judge(&asked(What::RmsCurrent, 0.5), &[&row], &instruments).unwrap()
    };
    let average = "detector = \"average\", ";
    for detector in [average, ""] {
        let found = judged(detector, "0.351");
        assert_eq!(found.shown, Shown::NotShown, "{detector:?}: {found:?}");
        assert_eq!(found.why, Why::PulsesUnknown);
    }
    // Of a square wave, which shows most for its rms, 600 mA are 540 mA.
    assert_eq!(judged(average, "0.6").shown, Shown::Fails);
    assert_eq!(judged(average, "0.54").shown, Shown::NotShown);
    assert_eq!(
        judged("detector = \"true rms\", ", "0.351").shown,
        Shown::Holds
    );
    // One that does not read 50 Hz, and one below the part of its range that is specified.
    let fast = judged("detector = \"true rms\", ", "0.351 fast");
    assert!(matches!(fast.why, Why::BandTooNarrow { .. }), "{fast:?}");
    let small = judged("detector = \"true rms\", valid_above = \"10 %\", ", "0.351");
    assert!(matches!(small.why, Why::BelowValid { .. }), "{small:?}");
    // A peak detector bounds it by √2.
    let peak = "detector = \"peak\", ";
    assert_eq!(judged(peak, "0.34").shown, Shown::Holds);
    assert_eq!(judged(peak, "0.36").shown, Shown::NotShown);
}

/// An ammeter of 1 Ω in the lead of a load that draws 300 mA leaves a rail of −12 V at −11.7 V: what is there without it is farther from
/// common, not nearer.
#[test]
fn an_ammeter_takes_from_a_rail_under_common_upward() {
    let job = "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n\
         [instrument.meter]\nkind = \"multimeter\"\ndc = { ranges = [\"40 V ±10 mV\"] }\n\
         [instrument.amps]\nkind = \"multimeter\"\ndc_current = { ranges = [\"4 A ±1 mA\"], burden = \"1 Ω\" }\n";
    let instruments = quietrail_job::read(job, None).job.unwrap().instruments;
    let judged = |value: &str, (min, max): (f64, f64)| {
        let setup = "at the pin; ammeter amps in comparator";
        let row = row_read(1, ("minus12", What::Mean), (value, "V"), setup);
        let asked = Asked {
            band: None,
            min: Some(min),
            max: Some(max),
            amps: vec![("comparator".to_owned(), 0.3)],
            ..asked(What::Mean, 0.0)
        };
        judge(&asked, &[&row], &instruments).unwrap()
    };
    let found = judged("-11.7", (-11.9, -11.0));
    assert!((found.low + 12.009).abs() < 1e-3, "{found:?}");
    assert_eq!(found.shown, Shown::NotShown, "it may be −12 V: {found:?}");
    assert_eq!(judged("-11.7", (-12.6, -11.6)).shown, Shown::Holds);
    assert_eq!(judged("11.7", (11.0, 11.9)).shown, Shown::NotShown);
}

/// Ripple that is read as 2.0, 3.9 and 4.5 V at one place and one mains is no 3.5 V: their mean is off by up to t s/√3 = 2.92·1.305/√3 =
/// 2.2 V, one-sided, 95 % (JCGM 100:2008, 4.2.3 and table G.2). Readings that agree say what one of them does.
#[test]
fn readings_that_differ_hold_nothing_by_their_mean() {
    let of = |values: [f64; 3]| {
        let row = |number: u64, value: f64| {
            let value = format!("{value:e}");
            row_read(number, ("raw", What::Ripple), (&value, "V"), "clips")
        };
        let rows: Vec<Row> = (1..).zip(values).map(|(n, value)| row(n, value)).collect();
        let rows: Vec<&Row> = rows.iter().collect();
        judge(&asked(What::Ripple, 4.0), &rows, &bench("true rms")).unwrap()
    };
    let apart = of([2.0, 3.9, 4.5]);
    assert_eq!(apart.shown, Shown::NotShown, "{apart:?}");
    let root = libm::sqrt((4.0 + 15.21 + 20.25) / 3.0);
    assert!((apart.high - root - 2.2).abs() < 0.01, "{}", apart.high);
    let alike = of([3.5, 3.5, 3.5]);
    assert_eq!(alike.shown, Shown::Holds);
    assert!((alike.high - 3.501).abs() < 1e-6, "{}", alike.high);
}
