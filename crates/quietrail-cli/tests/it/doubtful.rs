//! Readings that would count for more than they show: named for another limit, taken at no known mains, out of a dead channel.

use super::bench::Bench;
use super::readings::{TYPED, job};
use std::fs;

fn read(bench: &Bench, more: &[&str]) -> super::bench::Ran {
    let all: Vec<&str> = TYPED.iter().chain(more).copied().collect();
    bench.run(&all)
}

/// A mean named for the limit on the valley counted as that valley; one named for its own limit goes on as before.
#[test]
fn a_limit_of_something_else_is_refused_with_the_one_that_is_meant() {
    let bench = Bench::with(job());
    let ran = read(&bench, &["--limit", "raw, low"]);
    assert_eq!(ran.status, 2, "{ran:?}");
    for said in [
        "the limit raw, low is of raw, valley (on)",
        "this row reads raw, mean",
        "did you mean --limit \"raw, mean\"?",
    ] {
        assert!(ran.err.contains(said), "{said}: {}", ran.err);
    }
    assert!(!bench.path("readings.csv").exists(), "nothing was kept");
    // Another point altogether: no limit is of that.
    let ran = bench.run(&[
        "read",
        ".",
        "lamp",
        "current",
        "0.4 A",
        "--with",
        "meter",
        "--setup=in series",
        "--limit",
        "raw, low",
    ]);
    assert_eq!(ran.status, 2, "{ran:?}");
    let ran = bench.run(&[
        "read",
        ".",
        "T1 primary",
        "resistance",
        "45 Ω",
        "--step",
        "power off",
        "--with",
        "meter",
        "--setup=clips",
        "--limit",
        "raw, low",
    ]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("no limit is of resistance"), "{}", ran.err);
    let ran = read(&bench, &["--limit", "raw, mean"]);
    assert_ne!(ran.status, 2, "{ran:?}");

    // Written into the log by hand, such a row proves nothing either.
    let log = bench.read("readings.csv");
    let own = log.replace("raw,mean,17.45,V", "inlet.live,mean,17.45,V");
    assert_ne!(own, log);
    fs::write(bench.path("readings.csv"), own).unwrap();
    let ran = bench.run(&["prove", ".", "--json"]);
    let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let limits = answer["limits"].as_array().unwrap();
    let mean = limits
        .iter()
        .find(|one| one["name"] == "raw, mean")
        .unwrap();
    assert_eq!(mean["measured"], "none", "{mean:#}");
}

/// At the lowest mains, as the step has it, or anywhere: without the mains beside it nobody knows.
#[test]
fn a_reading_of_the_lowest_mains_says_at_which_it_was_taken() {
    let bench = Bench::with(job());
    let regulated = job().replace("[load.lamp]\nat = \"raw\"", "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { fixed = \"12 V\" }\ndropout = [\"1 V at 1 A\"]\nrejection = [\"70 dB at 100 Hz\"]\noutput_resistance = \"0 Ω\"\nquiescent = \"5 mA\"\nlimit = \"2 A\"\n[load.lamp]\nat = \"out\"");
    fs::write(bench.path("job.toml"), regulated).unwrap();
    let reason = [
        "read",
        ".",
        "--go-on",
        "lowest mains",
        "--because",
        "tried on paper first",
    ];
    assert_eq!(bench.run(&reason).status, 0);
    let ran = read(&bench, &["--step", "lowest mains"]);
    assert_eq!(ran.status, 3, "{ran:?}");
    assert!(
        ran.out.contains("does not say at which it was taken"),
        "{}",
        ran.out
    );
    let ran = bench.run(&["bringup", ".", "--step", "lowest mains"]);
    let told: String = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        told.contains("mains not read, the row stays to be read at 207 V"),
        "{told}"
    );
}

/// A channel that was off gave a ripple of nothing, and with that a limit that held.
#[test]
fn a_flat_capture_is_asked_about() {
    let scope = "[instrument.scope]\npart = \"oscilloscope, 8 bits, 100 MHz, 1x probe\"\n";
    let bench = Bench::with(job() + scope);
    let flat: String = (0..200)
        .map(|k| format!("{:.4},0.004\n", 2e-4 * f64::from(k)))
        .collect();
    fs::write(bench.path("flat.csv"), format!("s,V\n{flat}")).unwrap();
    let typed = [
        "read",
        ".",
        "raw",
        "ripple p-p",
        "--capture",
        "flat.csv",
        "--with",
        "scope",
        "--setup=10x probe",
    ];
    let ran = bench.run(&typed);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("every sample is 4.00"), "{}", ran.err);
    assert!(!bench.path("readings.csv").exists(), "nothing was kept");
    let as_typed: Vec<&str> = typed.iter().copied().chain(["--as-typed"]).collect();
    assert_ne!(bench.run(&as_typed).status, 2);
}

/// Upside down a rail's peak is the valley of its mirror image: that valley was offered as the peak, and held a limit on it.
#[test]
fn a_capture_that_is_upside_down_is_not_turned_round() {
    let scope = "[instrument.scope]\npart = \"oscilloscope, 8 bits, 100 MHz, 10x probe\"\n";
    let bench = Bench::with(job() + scope);
    let row = |k: u32| {
        let t = 1e-4 * f64::from(k);
        format!("{t:.4},{:.3}\n", -18.0 + 1.5 * (100.0 * t).fract())
    };
    let rows: String = (0..600).map(row).collect();
    fs::write(bench.path("turned.csv"), format!("s,V\n{rows}")).unwrap();
    for what in ["mean", "valley"] {
        let typed = ["read", ".", "raw", what, "--capture", "turned.csv"];
        let more = ["--with", "scope", "--setup=10x probe", "--mains", "230 V"];
        let typed: Vec<&str> = typed.into_iter().chain(more).collect();
        let ran = bench.run(&typed);
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains("was the channel inverted"), "{}", ran.err);
        assert!(!ran.err.contains("did you mean"), "{}", ran.err);
        assert!(!bench.path("readings.csv").exists(), "nothing was kept");
    }
}
