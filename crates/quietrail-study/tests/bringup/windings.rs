//! Taps and joins of windings: halves by themselves, and what a winding the wrong way round reads.

use super::{HEAD, LOAD, all, step};
use quietrail_bench::log::{Log, Observed};
use quietrail_job::model::{Job, What};
use quietrail_job::read;
use quietrail_study::bringup::{Beside, Expectation, Step, power_off};

fn with(secondary: &str) -> Job {
    let text = HEAD
        .replace(
            "secondary = [{ name = \"S1\", open = \"18 V at 230 V\", resistance = \"0.3 Ω\" }]",
            secondary,
        )
        .replace("from = \"T1.S1\"", "from = \"T1.S\"")
        .replace("form = \"bridge\"", "form = \"centre-tap\"");
    let reading = read(&format!("{text}\n{LOAD}"), None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
}

#[track_caller]
fn volts<'a>(step: &'a Step, of: &str) -> &'a Expectation {
    let mut own = step.expect.iter();
    own.find(|one| one.of == of && one.what == Observed::RmsVoltage)
        .unwrap_or_else(|| panic!("no volts of {of} in {}", step.name))
}

const ALONE: &str = "transformer on mains";

/// A tap of which nobody read the halves may be anywhere, or on the wrong lead.
#[test]
fn each_half_of_a_tapped_winding_is_read() {
    let winding = "secondary = [{ name = \"S\", open = \"36 V at 230 V\", resistance = \"0.6 Ω\", taps = { ct = \"50 %\" } }]";
    let job = with(winding);
    let found = all(&job, &Log::default());
    for name in ["transformer through a lamp", ALONE] {
        let step = step(&found, name);
        let whole = volts(step, "T1.S").nominal.expect("there");
        for half in ["T1.S.start,T1.S.ct", "T1.S.ct,T1.S.finish"] {
            let one = volts(step, half);
            let volts = one.nominal.expect("there");
            assert!(
                (volts / whole - 0.5).abs() < 1e-6,
                "{half}: {volts} of {whole}"
            );
            assert!(one.is_awaited && one.low < one.high, "{one:?}");
        }
    }
    // Half of 36 V, off load at 230 V, and ±10 % of the mains about it.
    let half = volts(step(&found, ALONE), "T1.S.start,T1.S.ct");
    let within =
        |value: Option<f64>, by_hand: f64| (value.expect("there") / by_hand - 1.0).abs() < 2e-3;
    assert!(
        within(half.low, 16.2) && within(half.nominal, 18.0) && within(half.high, 19.8),
        "{half:?}"
    );
    let ohms = power_off(&job);
    let ohms = ohms.iter().find(|one| one.of == "T1.S.ct,T1.S.finish");
    let ohms = ohms.expect("ohms of the half");
    assert!(
        (ohms.nominal.expect("there") - 0.3).abs() < 1e-9,
        "{ohms:?}"
    );
    // 5 % for the room, a tenth for the outer half, and up to 0.3 Ω of leads.
    assert!((ohms.low.expect("there") - 0.3 * 0.9 * 0.95).abs() < 1e-9);
    assert!((ohms.high.expect("there") - (0.3 * 1.1 * 1.05 + 0.3)).abs() < 1e-9);
}

/// A tap at 40 %: the halves are not equal, and the sheet says so before anything is read.
#[test]
fn a_tap_off_the_middle_reads_off_the_middle() {
    let winding = "secondary = [{ name = \"S\", open = \"40 V at 230 V\", resistance = \"1 Ω\", taps = { low = \"40 %\", high = \"75 %\" } }]";
    let job = with(winding);
    let found = power_off(&job);
    let of = |name: &str| {
        let own = found.iter().find(|one| one.of == name);
        own.unwrap_or_else(|| panic!("{name}"))
            .nominal
            .expect("there")
    };
    for (name, by_hand) in [
        ("T1.S.start,T1.S.low", 0.4),
        ("T1.S.low,T1.S.high", 0.35),
        ("T1.S.high,T1.S.finish", 0.25),
    ] {
        assert!((of(name) - by_hand).abs() < 1e-9, "{name}: {}", of(name));
    }
}

/// Two windings: what the join reads with one of them turned round is their difference.
#[test]
fn a_winding_the_wrong_way_round_is_told_by_what_its_join_reads() {
    let windings = |second: &str| {
        format!(
            "secondary = [{{ name = \"A\", open = \"18 V at 230 V\", resistance = \"0.3 Ω\" }}, {{ name = \"B\", open = \"{second} at 230 V\", \
             resistance = \"0.3 Ω\" }}]\njoins = {{ S = \"A + B\" }}"
        )
    };
    let turned = |second: &str| {
        let found = all(&with(&windings(second)), &Log::default());
        volts(step(&found, ALONE), "T1.S").beside.clone()
    };
    let [
        Beside::Turned {
            windings: both,
            volts,
        },
    ] = &turned("18 V")[..]
    else {
        panic!("{:?}", turned("18 V"));
    };
    assert!(
        both == &["A", "B"] && volts.abs() < 1e-6,
        "{both:?} {volts}"
    );
    let [
        Beside::Turned {
            windings: both,
            volts,
        },
    ] = &turned("12 V")[..]
    else {
        panic!("{:?}", turned("12 V"));
    };
    // Whichever of them is turned, an rms voltmeter shows their difference.
    assert!(
        both == &["A", "B"] && (volts - 6.0).abs() < 0.05,
        "{both:?} {volts}"
    );
}

/// "18 V 1 A, 12 %" without a tolerance: every transformer is a little off its plate, and was refused for it.
#[test]
fn a_plate_without_a_tolerance_has_one_taken() {
    let plate = |volts: &str| {
        with(&format!(
            "secondary = [{{ name = \"S\", plate = \"{volts} 1 A\", regulation = \"12 %\", taps = {{ ct = \"50 %\" }} }}]"
        ))
    };
    let of = |job: &Job| {
        let found = all(job, &Log::default());
        volts(step(&found, ALONE), "T1.S").clone()
    };
    let one = of(&plate("36 V"));
    // 36 V · 1.12 off load, 5 % either way of it, and the mains from 207 V to 253 V.
    let by_hand = 36.0 * 1.12;
    let near =
        |value: Option<f64>, by_hand: f64| (value.expect("there") / by_hand - 1.0).abs() < 3e-3;
    assert!(near(one.low, 0.9 * 0.95 * by_hand), "{one:?}");
    assert!(near(one.high, 1.1 * 1.05 * by_hand), "{one:?}");
    assert!(
        one.beside.contains(&Beside::PlateTaken { share: 0.05 }),
        "{:?}",
        one.beside
    );
    // One that says its tolerance is believed.
    let said = of(&plate("36 V ±1 %"));
    assert!(near(said.high, 1.1 * 1.01 * by_hand), "{said:?}");
    assert!(!said.beside.contains(&Beside::PlateTaken { share: 0.05 }));
}

/// Behind a choke the reservoir is where its capacitor is: rows, dummy and ohms are there, not at the rectifier.
#[test]
fn a_reservoir_behind_a_choke_is_read_where_it_is() {
    let text = HEAD
        .replace("into = \"raw\"\nform = \"bridge\"", "into = \"choked\"\nform = \"bridge\"")
        .replace(
            "[capacitor.C1]",
            "[inductor.L1]\nbetween = [\"choked\", \"raw\"]\nvalue = \"100 mH\"\nresistance = \"2 Ω\"\n[capacitor.C8]\nat = \
             \"choked\"\nvalue = \"22 nF\"\nesr = \"1 Ω\"\n[capacitor.C1]",
        )
        // No diode that sees the capacitor itself: the choke keeps the current on.
        .replace("value = \"4700 µF\"", "value = \"2200 µF\"");
    let reading = read(
        &format!("{text}\n{LOAD}[resistor.R1]\nat = \"raw\"\nvalue = \"100 Ω\"\n"),
        None,
    );
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
    let found = all(&job, &Log::default());
    let raw = step(&found, "raw on a dummy load");
    let means: Vec<&str> = raw
        .expect
        .iter()
        .filter(|one| one.what == Observed::Statistic(What::Mean))
        .map(|one| one.of.as_str())
        .collect();
    assert_eq!(means, ["raw"]);
    let [dummy] = raw.dummies.as_slice() else {
        panic!("{:?}", raw.dummies);
    };
    // 18 V · √2 · 2/π is 16.2 V for 0.1 A: the nearest of twelve is 150 Ω.
    assert_eq!((dummy.plus.as_str(), dummy.ohms), ("raw", 150.0));
    assert!(power_off(&job).iter().any(|one| one.of == "raw"));
    // A second stage keeps its name: 4700 µF at the rectifier are the reservoir, whatever comes behind.
    let plain = all(
        &with(
            "secondary = [{ name = \"S\", open = \"36 V at 230 V\", resistance = \"0.6 Ω\", taps = { ct = \"50 %\" } }]",
        ),
        &Log::default(),
    );
    assert!(
        step(&plain, "raw on a dummy load")
            .expect
            .iter()
            .any(|one| one.of == "raw")
    );
}

/// Heaters and dial lamps hang on the winding itself: a healthy build read 6.7 V where a mean of some picovolts was expected, and
/// 0.1 Ω where a megohm was, and every later step stayed locked.
#[test]
fn what_hangs_on_a_winding_is_read_in_volts_rms() {
    let windings = "secondary = [{ name = \"S\", open = \"36 V at 230 V\", resistance = \"0.6 Ω\", taps = { ct = \"50 %\" } }, \
                    { name = \"S4\", open = \"6.7 V at 230 V\", resistance = \"60 mΩ\" }]";
    let heater = "[wire.W4]\nbetween = [\"T1.S4.finish\", \"common\"]\nresistance = \"10 mΩ\"\n[load.heater]\n\
                  at = \"T1.S4.start\"\ndraws = { on = \"2.2 Ω\" }\n";
    let text = HEAD
        .replace(
            "secondary = [{ name = \"S1\", open = \"18 V at 230 V\", resistance = \"0.3 Ω\" }]",
            windings,
        )
        .replace("from = \"T1.S1\"", "from = \"T1.S\"")
        .replace("form = \"bridge\"", "form = \"centre-tap\"");
    let job = read(&format!("{text}\n{LOAD}\n{heater}"), None);
    let job = job.job.unwrap_or_else(|| panic!("{:?}", job.diagnostics));
    // Copper and wire by hand: 60 mΩ and 10 mΩ, 5 % for the room, 0.3 Ω of leads.
    let ohms = power_off(&job);
    let ohms = ohms.iter().find(|one| one.of == "T1.S4.start");
    let ohms = ohms.expect("ohms at the pins of the heater");
    assert!(
        (ohms.nominal.expect("there") - 0.07).abs() < 1e-6,
        "{ohms:?}"
    );
    assert!(ohms.high.expect("there") < 0.4, "{ohms:?}");

    let found = all(&job, &Log::default());
    let of = "T1.S4.start,common";
    for (name, expected) in [
        ("board without load", 6.7),
        ("dummy load, on", 6.7 * 2.2 / 2.27),
    ] {
        let step = step(&found, name);
        // Without what the other windings take from the primary: a few percent.
        let read = volts(step, of).nominal.expect("there");
        assert!(
            (read / expected - 1.0).abs() < 0.06,
            "{name}: {read}, by hand {expected}"
        );
        let about =
            |one: &&Expectation| one.of.contains("T1.S4") && one.what != Observed::RmsVoltage;
        assert_eq!(step.expect.iter().find(about), None, "{name}");
    }
    let dummies = &step(&found, "dummy load, on").dummies;
    let own = dummies.iter().find(|dummy| dummy.plus == "T1.S4.start");
    let own = own.expect("a dummy in place of the heater");
    assert!((own.ohms / 2.2 - 1.0).abs() < 0.11, "{own:?}");
    let drawn = step(&found, "load connected").expect.iter();
    let drawn = drawn
        .clone()
        .find(|one| one.of == "heater")
        .expect("its current");
    assert_eq!(drawn.what, Observed::Statistic(What::RmsCurrent));
}
