//! `waves`: a drawing that any reader of SVG takes.

use super::bench::{Bench, RAIL};

/// Every element that opens closes, in order; attributes are quoted.
#[track_caller]
fn well_formed(svg: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = svg;
    while let Some((text, after)) = rest.split_once('<') {
        assert!(!text.contains('>'), "a bare > in {text:?}");
        let (tag, after) = after.split_once('>').expect("a tag closes");
        rest = after;
        if tag.starts_with(['?', '!']) {
            continue;
        }
        assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name));
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().unwrap_or_default());
        }
    }
    assert_eq!(open, Vec::<&str>::new());
}

#[test]
fn a_drawing_is_well_formed_on_the_output_and_in_a_file() {
    let bench = Bench::with(RAIL);
    let ran = bench.run(&["waves", ".", "--node", "raw", "--state", "on"]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.starts_with("<svg "), "{}", ran.out);
    well_formed(&ran.out);
    let to_file = [
        "waves", ".", "--node", "raw", "--state", "on", "-o", "raw.svg",
    ];
    assert_eq!(bench.run(&to_file).status, 0);
    assert_eq!(bench.read("raw.svg"), ran.out);
}

#[test]
fn names_that_the_job_does_not_know() {
    let bench = Bench::with(RAIL);
    for (node, state, words) in [
        ("rwa", "on", "no node is called rwa; there are"),
        ("raw", "off", "no state is called off; there are on"),
    ] {
        let ran = bench.run(&["waves", ".", "--node", node, "--state", state]);
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains(words), "{ran:?}");
    }
    let ran = bench.run(&[
        "waves", ".", "--node", "raw", "--state", "on", "--mains", "0 V",
    ]);
    assert_ne!(ran.status, 0, "{ran:?}");
}

/// A record of a wave that falls for 8 ms and rises for 2 ms, twice a cycle, as an oscilloscope writes it.
fn record(milliseconds: u32, mean: f64, peak_to_peak: f64) -> String {
    let mut text = "Time;CH1\ns;V\n".to_owned();
    for k in 0..milliseconds * 20 {
        let part = f64::from(k % 200) / 200.0;
        let shape = if part < 0.8 {
            0.5 - part / 0.8
        } else {
            (part - 0.8) / 0.2 - 0.5
        };
        let volts = mean + peak_to_peak * shape;
        let row = format!("{:.5};{volts:.4}\n", f64::from(k) * 5e-5);
        text.push_str(&row.replace('.', ","));
    }
    text
}

#[test]
fn a_capture_is_laid_over_and_its_size_is_told() {
    let bench = Bench::with(RAIL);
    std::fs::write(bench.path("raw.csv"), record(100, 19.0, 0.7)).unwrap();
    let all = [
        "waves",
        ".",
        "--node",
        "raw",
        "--state",
        "on",
        "--capture",
        "raw.csv",
        "-o",
        "raw.svg",
    ];
    let ran = bench.run(&all);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.contains("mean of 5 cycles"), "{}", ran.out);
    assert!(ran.out.contains("700 mV p-p"), "{}", ran.out);
    assert!(ran.out.contains("19.00 V measured"), "{}", ran.out);
    let svg = bench.read("raw.svg");
    well_formed(&svg);
    assert!(svg.contains("class=\"meas\"") && svg.contains(">measured<"));

    // Of a step: what is off is not drawn, and the drawing is named by the step.
    let of_step = [
        "waves",
        ".",
        "--node",
        "raw",
        "--step",
        "raw on a dummy load",
        "--capture",
        "raw.csv",
    ];
    let ran = bench.run(&of_step);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.contains("raw, raw on a dummy load"), "{}", ran.out);
}

#[test]
fn a_capture_that_cannot_be_laid_over_says_why() {
    let bench = Bench::with(RAIL);
    let asked = |file: &str| {
        bench.run(&[
            "waves",
            ".",
            "--node",
            "raw",
            "--state",
            "on",
            "--capture",
            file,
        ])
    };
    std::fs::write(bench.path("short.csv"), record(15, 19.0, 0.7)).unwrap();
    std::fs::write(
        bench.path("amps.csv"),
        record(100, 1.0, 0.7).replace("s;V", "s;A"),
    )
    .unwrap();
    for (file, words) in [
        ("short.csv", "less than one cycle of the mains"),
        ("amps.csv", "that signal is in A"),
        ("none.csv", "there is no such file"),
    ] {
        let ran = asked(file);
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains(words), "{}", ran.err);
    }
    // Ten times too small, without its DC: a probe that nobody told the instrument of.
    std::fs::write(bench.path("tenth.csv"), record(100, 0.0, 0.069)).unwrap();
    let ran = bench.run(&[
        "waves",
        ".",
        "--node",
        "raw",
        "--state",
        "on",
        "--capture",
        "tenth.csv",
        "-o",
        "x.svg",
    ]);
    assert!(ran.out.contains("It holds no DC"), "{}", ran.out);
    assert!(ran.out.contains("10 times smaller"), "{}", ran.out);
}
