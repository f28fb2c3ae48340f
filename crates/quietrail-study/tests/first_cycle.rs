//! The first cycle after switching on against a dense integration of the same circuit by a general-purpose ODE library:
//! `surge/first_cycle.py`, its output `surge/first_cycle.csv`.

use quietrail_checks::{Figure, Section};
use quietrail_job::read;
use quietrail_study::switch_on::switch_on;

/// The circuit of the script. Copper and junctions stay at 25 °C.
const JOB: &str = r#"format = 1
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
flatness = "0 .. 0"
[box]
room = "25 °C"
rise = "0 K"
[states]
on = "a resistor"
[transformer.T1]
read_at = "25 °C"
rise = "0 K"
primary = [{ name = "P1", volts = "230 V", resistance = "43 Ω" }]
secondary = [{ name = "S1", open = "16.8 V at 233 V", resistance = "0.57 Ω" }]
no_load = "22 mA at 230 V"
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
law = { saturation = "14 nA", ideality = "1.98", series = "34 mΩ", at = "25 °C" }
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "45 mΩ"
[load.test]
at = "raw"
draws = { on = "40 Ω" }
"#;

#[test]
fn first_cycles_agree_with_a_general_purpose_integration() {
    let reading = read(JOB, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let found = switch_on(&job, &quietrail_study::options()).expect("a supply");
    let mut section = Section::new("switch-on", "First cycle through the circuit of a job");
    let source = "scipy, Radau, script in the project";
    for line in include_str!("surge/first_cycle.csv").lines().skip(1) {
        let values: Vec<f64> = line
            .split(',')
            .map(|value| value.parse().expect("a number"))
            .collect();
        let [angle, peak, i2t, primary] = values[..] else {
            panic!("four columns: {line}");
        };
        let cycle = found
            .first
            .iter()
            .find(|cycle| cycle.angle == angle && cycle.charge == 0.0)
            .expect("the angle is tried");
        let what = format!("peak, I²t and I²t of the primary, switched on at {angle}°");
        // The engine is asked for a millionth, the script for a billionth; Simpson's rule over the corner of a pulse costs more.
        section.row("first cycle", &what, source).worst_of(&[
            Figure::relative("peak", peak, cycle.peak, 1e-3),
            Figure::relative("I²t", i2t, cycle.i2t, 1e-3),
            Figure::relative("primary I²t", primary, cycle.primary_i2t, 1e-3),
        ]);
    }
    section.finish();
}
