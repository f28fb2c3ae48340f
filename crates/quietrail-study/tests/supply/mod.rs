//! A supply up to its raw rail, on which tests build theirs.

#![allow(dead_code, reason = "not every test uses all of it")]

use quietrail_job::model::{Job, PartKind, Regulator};

/// 230 V of a pure sine at a frequency, states, and a bridge with its reservoir into `raw`: some 23 V.
pub(crate) fn raw(hertz: u32, states: &[&str]) -> String {
    let states: Vec<String> = states
        .iter()
        .map(|name| format!("{name} = \"{name}\"\n"))
        .collect();
    format!(
        r#"format = 1
[mains]
voltage = "230 V"
frequency = "{hertz} Hz"
flatness = "0"
[states]
{states}[transformer.T1]
primary = [{{ name = "P1", volts = "230 V", resistance = "30 Ω" }}]
secondary = [{{ name = "S1", open = "18 V at 230 V", resistance = "0.3 Ω" }}]
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "50 mΩ"
"#,
        states = states.concat()
    )
}

/// Air at 25 °C that nothing warms.
pub(crate) const AIR: &str = "[box]\nroom = \"25 °C\"\nrise = \"0 K\"\n";

/// The job of a text.
pub(crate) fn read(text: &str) -> Job {
    let reading = quietrail_job::read(text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

/// Its regulator `U1`.
pub(crate) fn regulator(job: &Job) -> &Regulator {
    match &job.part("U1").expect("U1").kind {
        PartKind::Regulator(regulator) => regulator,
        _ => panic!("a regulator"),
    }
}
