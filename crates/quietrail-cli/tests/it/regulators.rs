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
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(
        ran.out.contains("FAILS: the current limit may be 50.0 mA"),
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
