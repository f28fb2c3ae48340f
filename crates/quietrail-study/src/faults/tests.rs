//! Faults whose consequence can be said beforehand.

use super::{Clamp, Clears, Fault, Kind, faults, opens};
use quietrail_job::model::Job;

const JOB: &str = r#"
format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
flatness = "0"
[states]
on = "working"
[fuse.F1]
between = ["inlet.live", "T1.primary.in"]
rated = "100 mA time-lag"
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
set = { trimmer = "2k", to = "9 V" }
[capacitor.C2]
at = "out"
value = "10 µF"
esr = "0.5 Ω"
[load.osc]
at = "out"
draws = { on = "60 mA" }
rated = { volts = "12 V" }
"#;

fn job() -> Job {
    let reading = quietrail_job::read(JOB, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

#[test]
fn an_open_wiper_puts_raw_less_dropout_on_the_pin() {
    let found = faults(&job(), &crate::options()).expect("it settles");
    let pin = &found.pins[0];
    assert_eq!(pin.bears, Some(12.0));
    assert!((8.9..9.2).contains(&pin.without), "{}", pin.without);
    let of = |part: &str, kind: Kind| {
        let found = pin
            .faults
            .iter()
            .find(|one| one.fault.part == part && one.fault.kind == kind);
        found.unwrap_or_else(|| panic!("{part} {kind:?}"))
    };
    let wiper = of("U1", Kind::WiperOpen);
    let short = of("U1", Kind::PassShort);
    // Raw is 16 V √2 less two diodes at 60 mA; the open wiper leaves the dropout of about 1.7 V.
    assert!((20.0..22.5).contains(&short.peak), "{}", short.peak);
    assert!(
        (1.2..2.2).contains(&(short.peak - wiper.peak)),
        "{} {}",
        short.peak,
        wiper.peak
    );
    assert!(wiper.joules > 0.0 && wiper.above > 0.2, "{wiper:?}");
    // 60 mA at the pin blow no fuse in the primary.
    assert_eq!(wiper.clears, Clears::Never);
    assert!(of("U1", Kind::PassOpen).settles < 1.0);
    assert!(of("C1", Kind::Short).settles < 1.0);
    assert!(
        matches!(of("C1", Kind::Short).clears, Clears::After(_)),
        "{:?}",
        of("C1", Kind::Short)
    );
    // The clamps hold the worst of them.
    assert!(pin.clamps.iter().any(|clamp| matches!(clamp, Clamp::Zener { peak, watts, .. } if *peak < 21.0 && *watts > 1.0)), "{:?}", pin.clamps);
    assert!(
        pin.clamps
            .iter()
            .any(|clamp| matches!(clamp, Clamp::Crowbar { trips, .. } if *trips < 12.0)),
        "{:?}",
        pin.clamps
    );
    // A part of the sum of the first half cycle stands in the whole, and what goes on is less than the peak.
    let crowbar = pin.clamps.iter().find_map(|clamp| match clamp {
        Clamp::Crowbar {
            amps,
            first,
            lasting,
            in_all,
            ..
        } => Some((*amps, *first, *lasting, *in_all)),
        Clamp::Zener { .. } => None,
    });
    let (amps, first, lasting, in_all) = crowbar.expect("a crowbar");
    assert!(
        0.0 < first && first <= in_all && lasting < amps,
        "{:?}",
        pin.clamps
    );
    assert!(
        first <= amps * amps * 0.01,
        "no more than the peak for half a cycle: {first} {amps}"
    );
    assert!(found.unsolved.is_empty(), "{:?}", found.unsolved);
}

/// With a fuse that takes up to ten seconds, a thyristor carries its lasting current for all of them.
#[test]
fn a_thyristor_carries_on_until_the_fuse_opens() {
    let text = JOB.replace("100 mA time-lag", "250 mA time-lag");
    let reading = quietrail_job::read(&text, None);
    let found = faults(&reading.job.expect("a job"), &crate::options()).expect("it settles");
    let crowbar = found.pins[0].clamps.iter().find_map(|clamp| match *clamp {
        Clamp::Crowbar {
            lasting,
            in_all,
            clears,
            ..
        } => Some((lasting, in_all, clears)),
        Clamp::Zener { .. } => None,
    });
    let (lasting, in_all, clears) = crowbar.expect("a crowbar");
    let Clears::After(seconds) = clears else {
        panic!("{clears:?}");
    };
    assert!(seconds >= 1.0, "{seconds}");
    let expected = lasting * lasting * seconds;
    assert!(
        (in_all / expected - 1.0).abs() < 0.5,
        "{in_all} A²s, {expected} A²s"
    );
}

/// PWR-SAFE-20: gates of a time-lag fuse.
#[test]
fn fuses_open_by_their_gates() {
    assert_eq!(opens(1.4, "time-lag"), Clears::Never);
    assert_eq!(opens(2.2, "time-lag"), Clears::After(120.0));
    assert_eq!(opens(12.0, "time-lag"), Clears::After(0.3));
    assert_eq!(opens(12.0, "quick-acting"), Clears::NotTold);
}

/// Highest volts at the only pin after a fault, and without one.
fn peak_of(text: &str, part: &str, kind: Kind) -> (f64, f64) {
    let reading = quietrail_job::read(text, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let found = faults(&job, &crate::options()).expect("it settles");
    let pin = &found.pins[0];
    let one = pin
        .faults
        .iter()
        .find(|one| one.fault.part == part && one.fault.kind == kind)
        .unwrap_or_else(|| panic!("{part} {kind:?}"));
    (one.peak, pin.without)
}

/// A zener diode behind a resistor: open, the pin gets the raw voltage less what the load drops in the resistor.
#[test]
fn an_open_zener_leaves_the_pin_to_the_resistor() {
    let from = JOB.find("[regulator.U1]").expect("the regulator");
    let to = JOB.find("[capacitor.C2]").expect("its capacitor");
    let zener = "[resistor.R1]\nbetween = [\"raw\", \"out\"]\nvalue = \"100 Ω\"\n[shunt.Z1]\nat = \"out\"\nfixed = \"9.1 \
                 V\"\nresistance = \"5 Ω\"\nleast = \"1 mA\"\n";
    let text = format!("{}{zener}{}", &JOB[..from], &JOB[to..]);
    let (open, without) = peak_of(&text, "Z1", Kind::Open);
    // Raw of 20 V to 21.5 V, less 6 V in the resistor at 60 mA; the zener held 9.1 V and what its resistance drops.
    assert!((9.0..9.8).contains(&without), "{without}");
    assert!((13.0..16.5).contains(&open), "{open}");
    let (short, _) = peak_of(&text, "R1", Kind::Short);
    assert!(short > without + 0.3, "{short} {without}");
}

/// A sense lead that opens lets the loop see nothing, and the output goes up to what headroom leaves.
#[test]
fn an_open_sense_lead_drives_the_pin_up() {
    let sensed = JOB
        .replace(
            "part = \"adjustable 1.5 A\"",
            "part = \"adjustable 1.5 A\"\nsense = \"far\"",
        )
        .replace(
            "[load.osc]\nat = \"out\"",
            "[wire.W1]\nbetween = [\"out\", \"far\"]\nresistance = \"50 mΩ\"\n[load.osc]\nat = \"far\"",
        );
    let (open, without) = peak_of(&sensed, "U1", Kind::SenseOpen);
    assert!((8.9..9.2).contains(&without), "{without}");
    assert!(open > 15.0, "{open}");
}

/// What could not be followed in one state stands once, with the states; in the others it has its figure.
#[test]
fn a_fault_that_is_lost_in_some_states_names_them() {
    let fault = |part: &str| Fault {
        part: part.to_owned(),
        kind: Kind::Open,
    };
    let mut all = Vec::new();
    super::leave(&mut all, &fault("U1"), "cold", "no cycle".to_owned());
    super::leave(&mut all, &fault("U2"), "cold", "no cycle".to_owned());
    super::leave(&mut all, &fault("U1"), "warm", "another reason".to_owned());
    let told: Vec<(&str, usize, &str)> = all
        .iter()
        .map(|one| (one.fault.part.as_str(), one.states.len(), one.why.as_str()))
        .collect();
    assert_eq!(told, [("U1", 2, "no cycle"), ("U2", 1, "no cycle")]);
}

/// Copper that runs away in one state leaves the other: its faults and its transistors are told, and the first is named with why.
#[test]
fn a_state_that_does_not_settle_leaves_the_others() {
    let text = r#"
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
"#;
    let reading = quietrail_job::read(text, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let found = faults(&job, &crate::options()).expect("one state is told");
    let named: Vec<&str> = found
        .unbegun
        .iter()
        .map(|(state, _)| state.as_str())
        .collect();
    assert_eq!(named, ["heavy"], "{:?}", found.unbegun);
    let worst = found.pins[0].faults.first().expect("there is one");
    assert!(worst.state == 0 && worst.peak > 15.0, "{worst:?}");
    let passes = crate::regulators::passes(&job, &crate::options()).expect("one state is told");
    assert_eq!(passes[0].states.len(), 1);
    assert_eq!(passes[0].unsettled[0].0, "heavy");
}

/// A crowbar carries most at once, and what it empties is empty within two hundred microseconds: of a hundred points of a cycle the first came after half of it.
/// By hand, where it conducts at once with all capacitors charged: conductances of both capacitors, and of the thyristor above its drop.
#[test]
fn a_crowbar_carries_most_at_once() {
    let found = faults(&job(), &crate::options()).expect("it settles");
    let clamps = found.pins[0].clamps.iter();
    let mut amps = clamps.filter_map(|clamp| match clamp {
        Clamp::Crowbar { amps, within, .. } => Some((*amps, *within)),
        Clamp::Zener { .. } => None,
    });
    let (amps, within) = amps.next().expect("one is proposed");
    let by_hand = |raw: f64| {
        let (output, reservoir, thyristor) = (1.0 / 0.5, 1.0 / 0.051, 1.0 / 0.03);
        let driven = 9.0 * output + raw * reservoir + 1.0 * thyristor;
        (driven / (output + reservoir + thyristor) - 1.0) * thyristor
    };
    // 16 V √2 less two diodes, at 60 mA, as above.
    let (least, most) = (by_hand(20.0), by_hand(22.5));
    assert!((least..most).contains(&amps), "{least} {most} {amps}");
    assert!(within < 50e-6, "{within}");
}
