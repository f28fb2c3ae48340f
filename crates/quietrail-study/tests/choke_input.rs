//! High-tension supplies: what a diode behind a light choke bears, and what stays in the capacitors after switching off.

use quietrail_job::model::Job;
use quietrail_study::options;
use quietrail_study::prove::prove;
use quietrail_study::switch_on::discharge::Discharge;
use quietrail_study::switch_on::switch_on;

/// A winding with a centre, 380 V on either side, and what is behind its rectifier.
fn job(behind: &str) -> Job {
    let text = format!(
        r#"format = 1
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
flatness = "0"
[box]
room = "25 °C"
rise = "0 K"
[states]
standby = "nothing but the bleeder"
[transformer.T1]
primary = [{{ name = "P", volts = "230 V", resistance = "9 Ω" }}]
secondary = [
    {{ name = "A", open = "380 V at 230 V", resistance = "60 Ω" }},
    {{ name = "B", open = "380 V at 230 V", resistance = "60 Ω" }},
]
joins = {{ S = "A + B" }}
no_load = "20 mA at 230 V"
rise = "0 K"
[rectifier.D1]
from = "T1.S"
into = "fed"
form = "centre-tap"
diode = "1N4007"
{behind}"#
    );
    let reading = quietrail_job::read(&text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

/// A choke, a reservoir and its bleeder.
const CHOKE: &str = r#"[inductor.L1]
between = ["fed", "ht"]
value = "10 H ±20 %"
resistance = "150 Ω"
[capacitor.C1]
at = "ht"
value = "47 µF"
esr = "1 Ω"
[resistor.RB]
at = "ht"
value = "22 kΩ ±5 %"
"#;

/// A diode that blocks bears the crests of both halves less the drop of the other: twice 591 V at the highest mains. Of a choke that is
/// cut off between the crests 514 kV were told: what little current it still had went through blocking diodes.
#[test]
fn a_diode_before_a_choke_bears_both_crests() {
    let proof = prove(&job(CHOKE), &options()).expect("it settles");
    let mut rows = proof.limits.iter();
    let row = rows.find(|row| row.name == "D1 reverse voltage");
    let worst = row.and_then(|row| row.worst).expect("judged");
    let both = 2.0 * 380.0 * 1.1 * 2.0_f64.sqrt();
    assert!(worst < both && worst > 0.98 * both, "{worst} V");
}

fn charged(behind: &str) -> Vec<Discharge> {
    let found = switch_on(&job(behind), &options()).expect("a supply");
    found.discharges
}

/// Whether two figures differ by at most a share.
fn are_near(found: f64, wanted: f64, share: f64) {
    assert!((found / wanted - 1.0).abs() < share, "{found} for {wanted}");
}

/// `R C ln(V0/V)` with the bleeder at its highest and the copper of the choke not in its way; nothing was told of it.
#[test]
fn what_is_behind_a_choke_stays_charged_too() {
    let all = charged(CHOKE);
    let [one] = all.as_slice() else {
        panic!("{all:?}");
    };
    assert_eq!(one.part, "C1");
    let ohms = 1.05 * 22e3;
    are_near(one.bleeder.expect("the bleeder"), ohms, 1e-6);
    let (touchable, quiet) = one.with.expect("it empties");
    let wanted = |level: f64| 47e-6 * ohms * (one.volts / level).ln();
    are_near(touchable, wanted(60.0), 1e-3);
    are_near(quiet, wanted(5.0), 1e-3);
}

/// Two capacitors side by side, with a choke between them, empty through one bleeder together; each was told by itself.
#[test]
fn capacitors_side_by_side_empty_together() {
    let second = "[inductor.L2]\nbetween = [\"ht\", \"far\"]\nvalue = \"5 H\"\nresistance = \"100 Ω\"\n[capacitor.C2]\nat = \"far\"\n\
                  value = \"100 µF\"\nesr = \"1 Ω\"\n";
    let all = charged(&format!("{CHOKE}{second}"));
    assert_eq!(all.len(), 2, "{all:?}");
    for one in &all {
        let (_, quiet) = one.with.expect("it empties");
        are_near(quiet, 147e-6 * 1.05 * 22e3 * (one.volts / 5.0).ln(), 5e-3);
    }
    // Without a bleeder both are to have one that empties both.
    let bare = charged(&format!("{CHOKE}{second}").replace("22 kΩ ±5 %", "1 GΩ"));
    for one in &bare {
        let (ohms, _) = one.proposed.expect("it never empties");
        are_near(ohms, 60.0 / (147e-6 * (one.volts / 5.0).ln()), 1e-6);
        assert_eq!((one.bleeder, one.with), (None, None));
    }
}
