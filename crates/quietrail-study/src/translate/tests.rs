//! Levels are read as written, lead back from every unit, and are refused by name.

use super::{Given, Level, Need, Sensitivity, Translation, Unit, Without, read, translate};
use crate::level::{Shape, Statistic};

fn value(translation: &Translation, unit: Unit) -> Result<f64, Without> {
    let row = translation.rows.iter().find(|row| row.unit == unit);
    row.expect("every unit has a row").value.clone()
}

#[test]
fn levels_are_read_as_they_are_written() {
    let reads = |text: &str, level: Level| {
        let got = read(text).unwrap_or_else(|why| panic!("{text}: {why:?}"));
        assert_eq!(got, level, "{text}");
    };
    reads("20 mV p-p", Level::Volts(Statistic::PeakToPeak, 20e-3));
    reads("200uV rms", Level::Volts(Statistic::Rms, 200e-6));
    reads("4 mV peak", Level::Volts(Statistic::Peak, 4e-3));
    reads("2,5 mV pk-pk", Level::Volts(Statistic::PeakToPeak, 2.5e-3));
    reads("16 nV/√Hz", Level::Density(16e-9));
    reads("-20 dBm", Level::Dbm(-20.0));
    reads("+7 dBm", Level::Dbm(7.0));
    reads("−80 dBV", Level::Dbv(-80.0));
    reads("54 dBµV", Level::Dbv(-66.0));
    reads("-14 dBmV", Level::Dbv(-74.0));
    let Ok(Level::Dbv(line)) = read("4 dBu") else {
        panic!("a level of audio");
    };
    // +4 dBu is 1.228 V.
    let volts = crate::level::from_decibels(line);
    assert!((volts - 1.228).abs() < 5e-4, "{volts}");
    reads("-120 dBc", Level::Dbc(-120.0));
    reads("-150 dBc/Hz", Level::DbcPerHertz(-150.0));
    reads("5 ppb", Level::Fraction(5e-9));
    reads("5e-10", Level::Fraction(5e-10));
    reads("20 mV", Level::Unsaid(20e-3));
    assert!(read("-80 dB").is_err() && read("20 mV ±1 mV rms").is_err());
    assert!(read("0 V rms").is_err() && read("").is_err() && read("rms").is_err());
}

/// MEAS-SB-03 and back: whatever unit a level goes out in, it comes back the same.
#[test]
fn every_unit_leads_back() {
    let given = Given {
        shape: Some(Shape::Sine),
        band: Some((10.0, 1e5)),
        ohms: Some(50.0),
        at: Some(100.0),
        carrier: Some(10e6),
        shifts: Some(Sensitivity::HertzPerVolt(0.05)),
        amplitude: None,
    };
    let out = translate(Level::Dbc(-120.0), given);
    assert!((value(&out, Unit::Peak).expect("a value") / 4e-3 - 1.0).abs() < 1e-9);
    let rms = value(&out, Unit::Rms).expect("a value");
    for (unit, level) in [
        (Unit::PeakToPeak, Level::Volts(Statistic::PeakToPeak, 0.0)),
        (Unit::Peak, Level::Volts(Statistic::Peak, 0.0)),
        (Unit::Dbv, Level::Dbv(0.0)),
        (Unit::Dbm, Level::Dbm(0.0)),
        (Unit::Pull, Level::Fraction(0.0)),
        (Unit::ThroughFrequency, Level::Dbc(0.0)),
    ] {
        let there = value(&out, unit).expect("a value");
        let level = match level {
            Level::Volts(statistic, _) => Level::Volts(statistic, there),
            Level::Dbv(_) => Level::Dbv(there),
            Level::Dbm(_) => Level::Dbm(there),
            Level::Fraction(_) => Level::Fraction(there),
            _ => Level::Dbc(there),
        };
        let back = value(&translate(level, given), Unit::Rms).expect("a value");
        assert!(
            (back / rms - 1.0).abs() < 1e-9,
            "{unit:?}: {back} for {rms}"
        );
    }
    assert_eq!(value(&out, Unit::Density), Err(Without::Meaningless));
}

/// A sideband of narrow frequency modulation is half the swing of the phase, Δf/f_m (the definition of the modulation index): 1 ppb of
/// 10 MHz at 100 Hz is 0.01 Hz, 1e-4 rad, −86.02 dBc. No volt is needed for that, and none is told.
#[test]
fn a_pull_and_its_sideband_need_no_volts() {
    let given = Given {
        at: Some(100.0),
        carrier: Some(10e6),
        ..Given::default()
    };
    let pull = translate(Level::Fraction(1e-9), given);
    let line = value(&pull, Unit::ThroughFrequency).expect("a value");
    assert!((line + 86.0206).abs() < 1e-3, "{line}");
    assert!((value(&pull, Unit::Pull).expect("typed") / 1e-9 - 1.0).abs() < 1e-12);
    let back = value(&translate(Level::Dbc(line), given), Unit::Pull).expect("a value");
    assert!((back / 1e-9 - 1.0).abs() < 1e-6, "{back}");
    let volts = value(&pull, Unit::Peak);
    assert_eq!(volts, Err(Without::Missing(vec![Need::Shifts])));
    let bare = translate(Level::Fraction(1e-9), Given::default());
    let missing = value(&bare, Unit::ThroughFrequency);
    assert_eq!(
        missing,
        Err(Without::Missing(vec![Need::At, Need::Carrier]))
    );
    // A sideband through the amplitude is of no pull.
    let given = Given {
        amplitude: Some(1e-3),
        ..given
    };
    assert!(value(&translate(Level::Dbc(-86.0), given), Unit::Pull).is_err());
}

#[test]
fn what_is_not_known_is_refused_by_name() {
    let bare = translate(Level::Volts(Statistic::PeakToPeak, 20e-3), Given::default());
    let missing = |unit| match value(&bare, unit) {
        Err(Without::Missing(needs)) => needs,
        other => panic!("{unit:?}: {other:?}"),
    };
    assert_eq!(missing(Unit::Rms), [Need::Shape]);
    assert_eq!(missing(Unit::Dbm), [Need::Shape, Need::Ohms]);
    assert_eq!(
        missing(Unit::ThroughFrequency),
        [Need::Shape, Need::At, Need::Shifts]
    );
    assert!(value(&bare, Unit::Peak).is_ok());
    let unsaid = translate(Level::Unsaid(1.0), Given::default());
    assert_eq!(
        value(&unsaid, Unit::Rms),
        Err(Without::Missing(vec![Need::Statistic]))
    );
    let density = translate(Level::Density(16e-9), Given::default());
    assert_eq!(
        value(&density, Unit::Rms),
        Err(Without::Missing(vec![Need::Band]))
    );
}
