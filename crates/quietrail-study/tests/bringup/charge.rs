//! What bites after the plug is out: stored charge, by energy and by time, in every step that has it.

use super::{HEAD, LOAD, all, step};
use quietrail_bench::log::Log;
use quietrail_job::model::Job;
use quietrail_job::read;
use quietrail_study::bringup::{Caution, Touch};

fn job(tail: &str) -> Job {
    let reading = read(&format!("{HEAD}\n{LOAD}{tail}"), None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
}

/// The caution of a capacitor in a step: volts, seconds, what it does.
fn charge(job: &Job, name: &str, part: &str) -> Option<(f64, Option<f64>, Touch)> {
    let found = all(job, &Log::default());
    step(&found, name)
        .cautions
        .iter()
        .find_map(|one| match one {
            Caution::Charge {
                part: own,
                volts,
                seconds,
                touch,
            } if own == part => Some((*volts, *seconds, *touch)),
            _ => None,
        })
}

const RAW: &str = "raw on a dummy load";

/// A second reservoir behind 10 Ω had no row, and so no caution; with a bleeder on the first it empties with that.
#[test]
fn a_capacitor_behind_the_reservoir_has_its_caution() {
    let behind = "[resistor.R1]\nbetween = [\"raw\", \"quiet\"]\nvalue = \"10 Ω\"\n[capacitor.C5]\nat = \"quiet\"\nvalue = \"2200 µF\"\n\
                  esr = \"50 mΩ\"\n";
    let (volts, seconds, touch) = charge(&job(behind), RAW, "C5").expect("a caution");
    // 18 V at 230 V: at 253 V the crest is 28 V, less two diodes.
    assert!((24.0..28.1).contains(&volts), "{volts}");
    assert_eq!(seconds, None, "no resistor empties either");
    let Touch::Sparks { joules } = touch else {
        panic!("{touch:?}");
    };
    assert!((joules / (0.5 * 2200e-6 * volts * volts) - 1.0).abs() < 1e-9);

    let bled = format!("{behind}[resistor.R2]\nat = \"raw\"\nvalue = \"1 kΩ\"\n");
    let of = |part: &str| {
        let (volts, seconds, _) = charge(&job(&bled), RAW, part).expect("a caution");
        seconds.expect("it empties") / (volts / 10.0).ln()
    };
    // Through 1 kΩ both go: 6900 µF · 1 kΩ, and for the second its own 10 Ω more.
    assert!((of("C1") - 6.9).abs() < 1e-6, "{}", of("C1"));
    assert!((of("C5") - (6.9 + 0.022)).abs() < 1e-6, "{}", of("C5"));
}

/// 10 µF at the regulated 12 V are 0.7 mJ: nobody notices.
#[test]
fn a_small_one_at_a_low_voltage_has_none() {
    assert_eq!(charge(&job(""), "board without load", "C2"), None);
    assert!(charge(&job(""), "board without load", "C1").is_some());
}

/// Across the plug, above 45 µC: what IEC 61010-1 lets nobody touch.
#[test]
fn a_capacitor_across_the_mains_counts_by_its_charge() {
    let across = |farads: &str, tail: &str| {
        format!(
            "[capacitor.CX]\nbetween = [\"inlet.live\", \"inlet.neutral\"]\nvalue = \"{farads}\"\nesr = \"1 Ω\"\n{tail}"
        )
    };
    let found = charge(&job(&across("220 nF", "")), RAW, "CX").expect("a caution");
    // √2 · 253 V, 220 nF: 78.7 µC.
    assert!((found.0 - 357.8).abs() < 0.5, "{found:?}");
    let Touch::Hazardous { coulombs, above } = found.2 else {
        panic!("{found:?}");
    };
    assert!(
        (coulombs - 78.7e-6).abs() < 0.2e-6 && above == 45e-6,
        "{coulombs}"
    );
    assert_eq!(charge(&job(&across("100 nF", "")), RAW, "CX"), None);
    // A megohm across it: 0.22 s, 0.8 s to ten volts.
    let bled = across(
        "220 nF",
        "[resistor.RX]\nbetween = [\"inlet.live\", \"inlet.neutral\"]\nvalue = \"1 MΩ\"\n",
    );
    assert_eq!(charge(&job(&bled), RAW, "CX"), None);
}
