//! An oscillator against its own data sheet, as it is typed.

use crate::bench::Bench;
use crate::readings::job;
use std::fs;

const OWN: &str = r#"
[oscillator.X1]
frequency = "10 MHz"
supply = { at = "raw" }
level = "5 dBm .. 9 dBm"
harmonics = "-30 dBc"
spurs = "-90 dBc"
warm_up = { time = "5 min", within = "20 ppb" }
stability = ["0.05 ppb at 1 s"]
[instrument.analyser]
part = "spectrum analyser, swept"
[instrument.counter]
kind = "counter"
counting = { timing = "20 ps", time_base = "10 ppb", gate = "plain" }
"#;

#[test]
fn every_line_of_its_data_sheet_gets_a_verdict() {
    let bench = Bench::with(format!("{}{OWN}", job()));
    let none = bench.run(&["oscillator", "."]);
    assert_eq!(none.status, 3, "{none:?}");
    assert!(
        none.out
            .contains("5 lines of its data sheet: 0 held, 0 failed, 5 not shown"),
        "{}",
        none.out
    );
    assert!(none.out.contains("no log of a counter yet"), "{}", none.out);
    let set = "rbw 1 kHz; attenuation 30 dB; reference 10 dBm";
    let read = |what: &str, value: &str, at: &str, status: i32| {
        let setup = format!("{at}{set}");
        let ran = bench.run(&[
            "read", ".", "X1", what, value, "--with", "analyser", "--setup", &setup,
        ]);
        assert_eq!(ran.status, status, "{ran:?}");
    };
    read("level", "7.12 dBm", "", 0);
    // A minus of the keyboard is a minus.
    read("harmonic", "-40.60 dBc", "at 20 MHz; ", 0);
    read("harmonic", "-49.02 dBc", "at 30 MHz; ", 0);
    // What it comes to is said at once.
    read("spur", "-70 dBc", "at 10.1 MHz; ", 1);
    let rows: String = (0..900)
        .map(|k| {
            let t = f64::from(k);
            let sign = if k % 2 == 0 { 1.0 } else { -1.0 };
            format!(
                "{k},{:.6}\n",
                1e7 * (1.0 - 1.6e-7 * (-t / 75.0).exp() + sign * 1e-11)
            )
        })
        .collect();
    fs::write(bench.path("f.csv"), format!("time (s),f (Hz)\n{rows}")).unwrap();
    let bare = bench.run(&["oscillator", ".", "f.csv", "--keep"]);
    assert_eq!(bare.status, 2, "{bare:?}");
    assert!(bare.err.contains("--keep wants --setup"), "{}", bare.err);
    let kept = bench.run(&[
        "oscillator",
        ".",
        "f.csv",
        "--keep",
        "--setup",
        "on the house reference",
    ]);
    assert!(kept.out.contains("Kept as row 5"), "{}", kept.out);
    assert!(kept.out.contains("at 10.1 MHz"), "{}", kept.out);
    // What was kept is read again.
    let ran = bench.run(&["oscillator", ".", "--json"]);
    assert_eq!(ran.status, 1, "{ran:?}");
    let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let lines = answer["lines"].as_array().unwrap();
    let said: Vec<&str> = lines
        .iter()
        .map(|line| line["measured"].as_str().unwrap())
        .collect();
    assert_eq!(
        said,
        ["holds", "holds", "fails", "holds", "holds"],
        "{answer:#}"
    );
    assert_eq!(lines[3]["rows"][0], 5);
}

#[test]
fn what_cannot_be_is_said() {
    let bench = Bench::with(format!("{}{OWN}", job()));
    for (arguments, said) in [
        (
            &["read", ".", "X2", "level", "7 dBm"][..],
            "did you mean X1?",
        ),
        (&["read", ".", "X1", "level", "7 V"], "a voltage"),
        // An analyser shows each line in dBm; what counts is its distance from the carrier.
        (
            &["read", ".", "X1", "spur", "-95 dBm"],
            "a spur is read by how far it lies under the carrier",
        ),
        (
            &["read", ".", "X1", "phase noise", "-120 dBm"],
            "a phase noise is read by",
        ),
        (
            &[
                "read", ".", "X1", "level", "7 dBm", "--with", "meter", "--setup", "x",
            ],
            "does not read level",
        ),
        (&["oscillator", ".", "nothing.csv"], "no such file"),
        (
            &["oscillator", ".", "--oscillator", "X9"],
            "did you mean X1?",
        ),
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{arguments:?}: {ran:?}");
        assert!(ran.err.contains(said), "{arguments:?}: {}", ran.err);
    }
    assert!(!bench.path("readings.csv").exists());
}

/// The demo's oscillator, read with the demo's bench and a watch; and the guide's tables in its place.
#[test]
fn the_oscillator_of_the_demo_is_judged_and_so_are_those_of_the_guide() {
    let demo = include_str!("../../demo/beacon-mended/job.toml");
    let bench = Bench::with(demo);
    let ran = bench.run(&["oscillator", "."]);
    assert_eq!(ran.status, 3, "{ran:?}");
    assert!(ran.out.contains("0 held, 0 failed"), "{}", ran.out);
    let level = ["level", "7.1 dBm", "--with", "analyser"];
    let watch = ["warm-up", "4.5 min"];
    for (what, setup) in [
        (&level[..], "reference 10 dBm"),
        // As the guide has it: a watch is no instrument of the job.
        (&watch[..], "watch; error 10 s"),
    ] {
        let read = bench.run(&[&["read", ".", "X1"], what, &["--setup", setup]].concat());
        assert_eq!(read.status, 0, "{read:?}");
    }
    // 41 dB down, without its sign, is above the carrier.
    let setup = "at 20 MHz; rbw 1 kHz; attenuation 30 dB; reference 10 dBm";
    let harmonic = ["harmonic", "41 dBc", "--with", "analyser", "--setup", setup];
    let read = bench.run(&[&["read", ".", "X1"], &harmonic[..]].concat());
    assert_eq!(read.status, 2, "{read:?}");
    assert!(read.err.contains("did you mean −41 dBc?"), "{}", read.err);
    let ran = bench.run(&["oscillator", "."]);
    assert!(ran.out.contains("2 held, 0 failed"), "{}", ran.out);
    let guide = include_str!("../../../../guide/oscillator.md");
    for table in guide.split("```toml\n").skip(1) {
        let table = table.split("```").next().unwrap();
        let from = demo.find("[oscillator.X1]").unwrap();
        let to = demo.find("# ---- how T1").unwrap();
        let bench = Bench::with(format!("{}{table}\n{}", &demo[..from], &demo[to..]));
        let ran = bench.run(&["oscillator", "."]);
        assert_eq!(ran.status, 3, "{ran:?}");
        assert!(ran.out.contains("not shown"), "{ran:?}");
    }
}

/// The oscillator of the tide gauge, as a stranger reads it in: slips are asked about, each reading is told what it comes to, a level
/// without its termination leaves the one before, and a log that is gone takes nothing with it.
#[test]
fn a_stranger_accepts_the_oscillator_of_the_tide_gauge() {
    let bench = Bench::with(include_str!("../../demo/tide-gauge/job.toml"));
    let folder = bench.path("tide");
    std::fs::create_dir_all(folder.join("captures")).unwrap();
    std::fs::rename(bench.path("job.toml"), folder.join("job.toml")).unwrap();
    let set = "rbw 10 Hz; attenuation 20 dB; reference 10 dBm";
    let read = |what: &str, value: &str, with: &str, setup: &str| {
        bench.run(&[
            "read", "tide", "X1", what, value, "--with", with, "--setup", setup,
        ])
    };
    let at = |hertz: &str| format!("at {hertz}; {set}");
    for (what, hertz, said) in [
        (
            "harmonic",
            "10.7 MHz",
            "10.7 MHz is no multiple of 5 MHz: is it a spur?",
        ),
        (
            "spur",
            "15 MHz",
            "15 MHz is 3 times 5 MHz: is it a harmonic?",
        ),
        ("spur", "5 MHz", "5 MHz is the carrier itself"),
        (
            "phase noise",
            "1 kHz",
            "5.001 MHz if that was meant as the distance",
        ),
    ] {
        let ran = read(what, "-60 dBc", "analyser", &at(hertz));
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains(said), "{said}: {}", ran.err);
    }
    assert!(!folder.join("readings.csv").exists());
    let ran = read("rms voltage", "0.51 V", "scope", "into 50 Ω");
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(
        ran.out.contains("holds: level into 50 Ω. Read 7.2 dBm"),
        "{}",
        ran.out
    );
    let ran = read("rms voltage", "0.51 V", "scope", "1x probe");
    assert!(
        ran.out
            .contains("Other readings decide, not this one: holds: level into 50 Ω"),
        "{}",
        ran.out
    );
    // A log as the shell completes its name, under heads of ISO 80000.
    let mut cold = -0.5;
    let log: String = (0..600)
        .map(|k| {
            cold *= 0.985;
            let scatter = if k % 2 == 0 { 1e-4 } else { -1e-4 };
            format!("{k},{:.6}\n", 5e6 + 0.02 + cold + scatter)
        })
        .collect();
    std::fs::write(
        folder.join("captures/counter.csv"),
        format!("t/s,f/Hz\n{log}"),
    )
    .unwrap();
    let kept = bench.run(&[
        "oscillator",
        "tide",
        "tide/captures/counter.csv",
        "--keep",
        "--setup",
        "reference of the club, gate 1 s",
    ]);
    assert!(kept.out.contains("holds: warm-up"), "{kept:?}");
    assert!(
        kept.out.contains("at 5.00001 MHz"),
        "where to look for its phase noise: {}",
        kept.out
    );
    let rows = std::fs::read_to_string(folder.join("readings.csv")).unwrap();
    assert!(rows.contains(",captures/counter.csv,"), "{rows}");
    std::fs::remove_file(folder.join("captures/counter.csv")).unwrap();
    let ran = bench.run(&["oscillator", "tide"]);
    assert_eq!(ran.status, 3, "{ran:?}");
    assert!(
        ran.err
            .contains("captures are named from the folder of the job on"),
        "{}",
        ran.err
    );
    assert!(ran.out.contains("holds: level into 50 Ω"), "{}", ran.out);
}
