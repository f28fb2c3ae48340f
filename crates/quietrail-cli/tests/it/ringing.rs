//! `ringing`, and what `prove` says of regulators beside the limits.

use super::bench::Bench;
use serde_json::Value;

fn job(regulator: &str, amps: &str, capacitor: &str) -> String {
    format!(
        r#"
format = 1
[job]
title = "one rail"
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
[states]
cold = "heating"
warm = "warm"
[transformer.T1]
primary = [{{ name = "P1", volts = "230 V", resistance = "20 Ω" }}]
secondary = [{{ name = "S1", open = "22 V at 230 V", resistance = "0.3 Ω" }}]
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "50 mΩ"
[regulator.U1]
from = "raw"
into = "out"
set = {{ fixed = "12 V" }}
dropout = ["2 V at 1 A"]
rejection = ["60 dB at 120 Hz"]
{regulator}
[capacitor.C2]
at = "out"
value = "100 µF"
esr = "0.5 Ω"
{capacitor}
[load.oven]
at = "out"
draws = {{ cold = "{amps}", warm = "100 mA" }}
[[limit]]
name = "window"
of = "out"
what = "mean"
min = "11.5 V"
max = "12.5 V"
states = ["warm"]
"#
    )
}

#[test]
fn swings_become_a_phase_margin() {
    let bench = Bench::new();
    let ran = bench.run(&["ringing", "--swings", "40 mV, 14 mV, 5 mV"]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.contains("damping ratio 0.31"), "{}", ran.out);
    assert!(ran.out.contains("phase margin 35°"), "{}", ran.out);
    let ran = bench.run(&["ringing", "--swings", "40 mV, 36 mV, 32 mV", "--json"]);
    assert_eq!(ran.status, 1, "{ran:?}");
    let value: Value = serde_json::from_str(&ran.out).unwrap();
    assert!(value["phase_margin_deg"].as_f64().unwrap() < 5.0);
    let ran = bench.run(&["ringing", "--swings", "40 mV, 41 mV"]);
    assert_eq!(ran.status, 1, "{ran:?}");
    assert!(ran.out.contains("it oscillates"), "{}", ran.out);
    for (swings, says) in [
        ("40 mV", "two swings"),
        ("40 mV, 3 Ω", "--swings: read 3 Ω"),
        ("", "--swings"),
    ] {
        let ran = bench.run(&["ringing", "--swings", swings]);
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains(says), "{}", ran.err);
    }
    assert_eq!(bench.run(&["ringing"]).status, 2);
}

#[test]
fn two_rings_become_a_snubber() {
    let bench = Bench::new();
    let two = [
        "ringing", "--alone", "1.2 MHz", "--added", "1 nF", "--with", "480 kHz",
    ];
    let ran = bench.run(&[&two[..], &["--peak", "34 V"]].concat());
    assert_eq!(ran.status, 0, "{ran:?}");
    // 1 nF / (2.5² − 1), and 1/((2π 1.2 MHz)² C).
    assert!(
        ran.out.contains("190 pF") && ran.out.contains("92.4 µH"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("snubber: 680 pF and 560 Ω"), "{}", ran.out);
    assert!(ran.out.contains("at most"), "{}", ran.out);
    let ran = bench.run(&[
        "ringing", "--alone", "1 MHz", "--added", "1 nF", "--with", "1.1 MHz",
    ]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("slower"), "{}", ran.err);
}

#[test]
fn a_limit_below_the_cold_oven_fails_the_proof() {
    let bench = Bench::with(job("limit = \"0.8 A .. 1.2 A\"", "900 mA", ""));
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 1, "{ran:?}");
    assert!(ran.out.contains("Beside the limits:"), "{}", ran.out);
    assert!(
        ran.out
            .contains("its current limit may be as low as 800 mA, and cold may ask"),
        "{}",
        ran.out
    );
    assert!(
        ran.out.trim_end().ends_with("1 beside the limits fails"),
        "{}",
        ran.out
    );
    let ran = bench.run(&["prove", ".", "--json"]);
    let value: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(value["remarks"][0]["kind"], "limit below load");
    assert_eq!(value["remarks"][0]["fails"], true);
}

#[test]
fn a_foldback_that_never_starts_fails_the_proof() {
    let folds = "limit = \"2 A\"\nfoldback = [\"2 A at 8 V\", \"0.2 A at 20 V\"]";
    let bench = Bench::with(job(folds, "900 mA", ""));
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 1, "{ran:?}");
    assert!(
        ran.out.contains("U1: it does not start in cold"),
        "{}",
        ran.out
    );
    // Warm by itself it starts.
    let bench = Bench::with(job(folds, "100 mA", ""));
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(!ran.out.contains("FAILS"), "{}", ran.out);
}

#[test]
fn stability_is_judged_by_window_and_by_ring() {
    let window = "limit = \"2 A\"\nstable_with = [{ least = \"10 µF\", esr = \"0 Ω .. 0.2 Ω\" }]";
    let bench = Bench::with(job(window, "500 mA", ""));
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 1, "{ran:?}");
    assert!(
        ran.out.contains("U1: output capacitor is 100 µF at least"),
        "{}",
        ran.out
    );
    let rings = "limit = \"2 A\"\nrang = [\"40 mV\", \"30 mV\"]";
    let bench = Bench::with(job(rings, "500 mA", ""));
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 1, "{ran:?}");
    assert!(ran.out.contains("phase margin"), "{}", ran.out);
    // Between the two it is told and does not fail.
    let rings = "limit = \"2 A\"\nrang = [\"40 mV\", \"13 mV\"]";
    let bench = Bench::with(job(rings, "500 mA", ""));
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.contains("noted"), "{}", ran.out);
    let well = "limit = \"2 A\"\nrang = [\"40 mV\", \"5 mV\"]";
    let bench = Bench::with(job(well, "500 mA", ""));
    assert!(!bench.run(&["prove", "."]).out.contains("phase margin"));
    let ran = bench.run(&["regulators", ".", "--json"]);
    assert!(ran.out.contains("of phase margin"), "{}", ran.out);
}

#[test]
fn a_trimmer_that_may_not_reach_is_noted() {
    let trimmed = job("limit = \"2 A\"", "500 mA", "").replace(
        "{ fixed = \"12 V\" }",
        "{ reference = \"2.5 V ±1 %\", across = \"lower\", upper = \"9k09 ±1 %\", lower = \"2k49 ±1 %\", trimmer = \"500 Ω ±20 %\", to = \"12 V ±1 %\" }",
    );
    let bench = Bench::with(&trimmed);
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(
        ran.out.contains("U1: its trimmer may not reach 12.00 V"),
        "{}",
        ran.out
    );
}
