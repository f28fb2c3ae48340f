//! `regulators`, `sidebands` and `prove --faults`.

use super::bench::Bench;
use serde_json::Value;

const JOB: &str = r#"
format = 1
[job]
title = "one oscillator"
[mains]
voltage = "230 V"
frequency = "50 Hz"
flatness = "0"
[states]
on = "working"
[box]
room = "25 °C"
rise = "0 K"
[transformer.T1]
primary = [{ name = "P1", volts = "230 V", resistance = "60 Ω" }]
secondary = [{ name = "S1", open = "16 V at 230 V", resistance = "0.5 Ω" }]
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "2200 µF"
esr = "50 mΩ"
[regulator.U1]
from = "raw"
into = "out"
part = "adjustable 1.5 A"
limit = "50 mA"
set = { reference = "1.25 V", across = "upper", upper = "240R", lower = "1k5" }
[capacitor.C2]
at = "out"
value = "10 µF"
esr = "0.5 Ω"
[load.osc]
at = "out"
draws = { on = "60 mA" }
rated = { volts = "12 V" }
[oscillator.X1]
frequency = "10 MHz"
supply = { at = "out", shifts = "1 ppb/V" }
spurs = "-90 dBc"
"#;

#[test]
fn a_limit_below_the_load_is_found() {
    let bench = Bench::with(JOB);
    let ran = bench.run(&["regulators", "."]);
    assert_eq!(ran.status, 1, "{ran:?}");
    assert!(
        ran.out
            .contains("FAILS: the current limit may be as low as 50.0 mA"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("does not start"), "{}", ran.out);
}

#[test]
fn a_line_is_not_shown_beyond_what_was_measured() {
    let bench = Bench::with(JOB.replace("limit = \"50 mA\"\n", ""));
    let ran = bench.run(&["sidebands", "."]);
    assert_eq!(ran.status, 3, "{ran:?}");
    let unfolded = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        unfolded.contains("if what is given for a slow change holds at 100 Hz too"),
        "{}",
        ran.out
    );
    let none = Bench::with(JOB.replace("[oscillator.X1]", "[osc.X1]"));
    let ran = none.run(&["sidebands", "."]);
    assert_eq!(ran.status, 2, "{ran:?}");
}

#[test]
fn what_faults_come_to_stands_above_the_table_and_in_the_last_line() {
    let job = JOB
        .replace("limit = \"50 mA\"\n", "")
        .replace("value = \"10 µF\"", "value = \"1000 µF\"");
    let bench = Bench::with(job);
    let ran = bench.run(&["prove", ".", "--faults"]);
    assert_eq!(ran.status, 1, "{ran:?}");
    let at = |words: &str| {
        ran.out
            .find(words)
            .unwrap_or_else(|| panic!("{words}: {}", ran.out))
    };
    assert!(at("Single faults: ") < at("verdict "), "{}", ran.out);
    let last = ran.out.trim_end().lines().last().expect("a line");
    assert!(last.contains("more on a load than it bears"), "{last}");
    let unfolded = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(unfolded.contains("Its thyristor carries"), "{unfolded}");
    assert!(
        unfolded.contains("whether it bears that is not shown"),
        "{unfolded}"
    );
    // What prove says beside the limits: ratings that nobody wrote, and a diode that nobody drew.
    assert!(
        unfolded.contains("No rating given, so not judged: T1 S1 current"),
        "{unfolded}"
    );
    assert!(
        unfolded.contains("noted U1: diode from output to input wanted"),
        "{unfolded}"
    );
}

/// Both are findings of `prove`, each with the state and the current.
#[test]
fn a_limit_below_the_load_and_a_foldback_that_never_starts_fail() {
    let low = Bench::with(JOB).run(&["prove", "."]);
    assert_eq!(low.status, 1, "{low:?}");
    let unfolded = low.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        unfolded.contains(
            "FAILS U1: its current limit may be as low as 50.0 mA, and on may ask for 65.2 mA"
        ),
        "{unfolded}"
    );
    // It points at the key, in the text and in the data; and what stands first says that the supply fails.
    marked(&low.out, "limit = \"50 mA\"", "\"50 mA\"");
    assert!(
        unfolded.contains("No limit fails") || unfolded.contains("fails by"),
        "{unfolded}"
    );
    assert!(
        unfolded.contains("Beside the limits the supply fails by U1: see under the table."),
        "{unfolded}"
    );
    points_at(JOB, "limit below load", "U1.limit", "\"50 mA\"");
    let folds = JOB.replace(
        "limit = \"50 mA\"",
        "limit = \"500 mA\"\nfoldback = [\"500 mA at 3 V\", \"20 mA at 12 V\"]",
    );
    let never = Bench::with(&folds).run(&["prove", "."]);
    assert_eq!(never.status, 1, "{never:?}");
    let unfolded = never.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        unfolded.contains("FAILS U1: it does not start in on"),
        "{unfolded}"
    );
    let points = "[\"500 mA at 3 V\", \"20 mA at 12 V\"]";
    marked(&never.out, &format!("foldback = {points}"), points);
    points_at(&folds, "never starts", "U1.foldback", points);
}

/// A line of the job stands in an answer, and the mark under it covers what it is about.
#[track_caller]
fn marked(told: &str, line: &str, about: &str) {
    let mut lines = told.lines().skip_while(|told| !told.ends_with(line));
    let (above, below) = (lines.next(), lines.next());
    let (above, below) = (above.expect("the line"), below.expect("the mark"));
    let start = above.find(about).map(|at| above[..at].chars().count());
    let mark = below.find('^').map(|at| below[..at].chars().count());
    assert_eq!(start, mark, "{above}\n{below}");
    assert_eq!(below.matches('^').count(), about.chars().count(), "{below}");
}

/// The same as data: key, line and column.
#[track_caller]
fn points_at(job: &str, kind: &str, key: &str, about: &str) {
    let ran = Bench::with(job).run(&["prove", ".", "--json"]);
    let data: Value = serde_json::from_str(&ran.out).expect("JSON");
    let all = data["remarks"].as_array().expect("remarks");
    let remark = all.iter().find(|one| one["kind"] == kind).expect("it");
    let found = &remark["where"];
    assert_eq!(found["key"], key, "{found}");
    let at = |of: &str| found["at"][of].as_u64().expect("a number") as usize;
    let line = job.lines().nth(at("line") - 1).expect("a line");
    assert!(line[at("column") - 1..].starts_with(about), "{line}");
}

#[test]
fn faults_are_told_as_data_too() {
    let bench = Bench::with(JOB.replace("limit = \"50 mA\"\n", ""));
    let ran = bench.run(&["prove", ".", "--faults", "--json"]);
    let data: Value = serde_json::from_str(&ran.out).expect("JSON");
    let pin = &data["faults"]["pins"][0];
    assert_eq!(pin["load"], "osc");
    let worst = &pin["faults"][0];
    assert_eq!(worst["fault"], "pass short", "{worst}");
    assert_eq!(worst["exceeds"], true, "{worst}");
    assert_eq!(pin["clamps"][0]["kind"], "zener", "{pin}");
}

/// Of a state without a steady cycle nothing is told: the status says that something is not shown.
#[test]
fn a_state_left_out_shows_in_the_exit_status() {
    let bench = Bench::with(
        r#"
format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
[states]
light = "working"
heavy = "copper without any air"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "30 Ω" }]
secondary = [{ name = "S", open = "18 V at 230 V", resistance = "0.5 Ω" }]
to_air = "500 K/W"
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "50 mΩ"
[resistor.R1]
between = ["raw", "base"]
value = "220R"
[shunt.Z1]
at = "base"
fixed = "12 V"
resistance = "5 Ω"
[transistor.Q1]
collector = "raw"
base = "base"
emitter = "out"
gain = "500"
base_emitter = ["1.2 V at 50 mA"]
saturation = "1 V at 3 A"
[load.lamp]
at = "out"
draws = { light = "5 mA", heavy = "2 A" }
"#,
    );
    for command in [&["regulators", "."][..], &["prove", ".", "--faults"]] {
        let ran = bench.run(command);
        assert_eq!(ran.status, 3, "{command:?}: {ran:?}");
        assert!(ran.out.contains("heavy"), "{}", ran.out);
    }
}
