//! `quietrail translate`

use super::bench::Bench;

#[test]
fn a_level_is_told_in_every_unit_that_can_be_had() {
    let ran = Bench::new().run(&[
        "translate",
        "20 mV p-p",
        "--shape",
        "sawtooth",
        "--into",
        "50R",
    ]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.contains("5.774 mV"), "{}", ran.out);
    assert!(ran.out.contains("−31.76 dBm into 50 Ω"), "{}", ran.out);
}

#[test]
fn what_is_missing_is_named() {
    let bench = Bench::new();
    let bare = bench.run(&["translate", "20 mV"]);
    assert_eq!(bare.status, 3, "{bare:?}");
    assert!(bare.out.contains("p-p, peak or rms"), "{}", bare.out);
    let decibels = bench.run(&["translate", "-80 dB"]);
    assert_eq!(decibels.status, 2, "{decibels:?}");
    assert!(decibels.err.contains("against what"), "{}", decibels.err);
    let number = bench.run(&["translate", "20"]);
    assert_eq!(number.status, 2, "{number:?}");
    assert!(number.err.contains("20 has no unit"), "{}", number.err);
    let band = bench.run(&["translate", "16 nV/√Hz", "--band", "100 kHz"]);
    assert_eq!(band.status, 2, "{band:?}");
    assert!(band.err.contains("a range is wanted"), "{}", band.err);
    let path = bench.run(&["translate", "no-such-job", "heater ripple"]);
    assert_eq!(path.status, 2, "{path:?}");
    let neither = bench.run(&["translate", "nosuch"]);
    assert_eq!(neither.status, 2, "{neither:?}");
    assert!(
        neither.err.contains("nosuch is no job here, and no level"),
        "{}",
        neither.err
    );
}

#[test]
fn limits_of_a_job_are_translated() {
    let bench = Bench::new();
    bench.run(&["demo"]);
    let all = bench.run(&["translate", "beacon"]);
    assert!(all.out.contains("heater ripple: 20 mV rms"), "{}", all.out);
    let none = bench.run(&["translate", "beacon", "heater rippel"]);
    assert_eq!(none.status, 2);
    assert!(none.err.contains("oscillator ripple"), "{}", none.err);
    // The job's oscillator says what a volt on that pin does.
    let told = bench.run(&[
        "translate",
        "beacon",
        "oscillator ripple",
        "--shape",
        "sine",
        "--at",
        "100 Hz",
    ]);
    assert!(told.out.contains("sideband by frequency"), "{}", told.out);
    let data = bench.run(&["translate", "beacon", "oscillator ripple", "--json"]);
    let data: serde_json::Value = serde_json::from_str(&data.out).expect("data");
    assert_eq!(data["format"], 1);
    assert_eq!(data["limits"][0]["units"]["rms_v"], 200e-6);
}

/// √0.6 V are 0 dBu: +4 dBu is 1.228 V, 1.7815 dBV.
#[test]
fn a_level_in_another_unit_is_headed_by_both() {
    let bench = Bench::new();
    let ran = bench.run(&["translate", "4 dBu"]);
    let head = ran.out.lines().next().unwrap_or_default();
    assert_eq!(
        head.replace('\u{a0}', " "),
        "4 dBu: +1.7815 dBV",
        "{}",
        ran.out
    );
    let ran = bench.run(&["translate", "-60 dBV"]);
    let head = ran.out.lines().next().unwrap_or_default();
    assert_eq!(head.replace('\u{a0}', " "), "−60 dBV");
}
