//! Rings against general-purpose libraries (`ringing/ringing.py`), and output capacitors against their windows.

mod supply;

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_job::model::Job;
use quietrail_study::ringing::{
    NoRing, TwoRings, best, damped, phase_margin, ring, snubbed, snubber, tank,
};
use quietrail_study::stability::{Capacitor, capacitor};
use supply::{raw, read, regulator};

/// Rows of a kind.
fn rows(kind: &str) -> Vec<Vec<f64>> {
    let all: Vec<Vec<f64>> = include_str!("ringing/ringing.csv")
        .lines()
        .filter_map(|line| line.strip_prefix(kind)?.strip_prefix(','))
        .map(|line| {
            line.split(',')
                .map(|text| text.parse().expect("a number"))
                .collect()
        })
        .collect();
    assert!(all.len() >= 5, "{kind}");
    all
}

fn exactly(value: f64) -> (f64, f64) {
    (value, value)
}

#[test]
fn rings_and_snubbers() {
    let mut section = Section::new("ringing", "Rings, snubbers");
    let library = "scipy and numpy (ringing.py)";
    let loops: Vec<Figure> = rows("loop")
        .iter()
        .map(|row| {
            let found = ring(&row[1..]).expect("a ring");
            Figure::relative(&format!("{:.1}°", row[0]), row[0], found.margin, 1e-4)
        })
        .collect();
    section
        .row(
            "ring-margin",
            "phase margin from the swings of twelve loops of two poles, °",
            library,
        )
        .worst_of(&loops);
    let mut tanks = Vec::new();
    for row in rows("tank") {
        let found = tank(&TwoRings {
            alone: exactly(row[3]),
            added: exactly(row[2]),
            with: exactly(row[4]),
        })
        .expect("it rings slower");
        tanks.push(Figure::relative("L", row[0], found.henries.0, 1e-9));
        tanks.push(Figure::relative("C", row[1], found.farads.0, 1e-9));
    }
    section
        .row(
            "ring-tank",
            "inductance and capacitance of twelve tanks from two rings, H, F",
            library,
        )
        .worst_of(&tanks);
    let snubbers: Vec<Figure> = rows("snubber")
        .iter()
        .map(|row| {
            let (l, c, r, s) = (row[0], row[1], row[2], row[3]);
            let got = damped(s / c, r / (l / c).sqrt());
            Figure::relative("damping", row[4], got, 1e-8)
        })
        .collect();
    section
        .row(
            "ring-snubber",
            "damping ratio of twelve tanks with snubbers",
            library,
        )
        .worst_of(&snubbers);
    let mut resistors = Vec::new();
    for row in rows("best") {
        let (ohms, damping) = best(row[0]);
        resistors.push(Figure::relative("resistor", row[1], ohms, 2e-3));
        resistors.push(Figure::relative("damping", row[2], damping, 1e-5));
    }
    section
        .row(
            "ring-best",
            "the resistor that damps most for five capacitors, and its damping",
            library,
        )
        .worst_of(&resistors);
    // x³ r k + x² (1 + k) + x r k + 1 is r k (x + 1/√3)³ for k = 8 and r = 3√3/8.
    section
        .row(
            "ring-critical",
            "a snubber of eight times the capacitance: nothing rings with 3√3/8 of the impedance",
            "the cubic has one root three times",
        )
        .near(
            1.0,
            damped(8.0, 27.0_f64.sqrt() / 8.0),
            Allowed::Absolute(1e-4),
        );
    section
        .row(
            "ring-third",
            "three times the capacitance halves a ring: capacitance from 2 MHz, 1 MHz and 300 pF, pF",
            "rule of an article on RC snubbing (analog.com): add capacitance until the frequency is halved",
        )
        .near(
            100.0,
            1e12
                * tank(&TwoRings {
                    alone: exactly(2e6),
                    added: exactly(300e-12),
                    with: exactly(1e6),
                })
                .expect("slower")
                .farads
                .0,
            Allowed::Relative(1e-9),
        );
    section.note(
        "ring-rule",
        "phase margin in degrees is about a hundred times the damping ratio up to 0.6: from memory, of textbooks on control",
    );
    section.finish();
}

#[test]
fn swings_that_say_nothing_are_named() {
    assert_eq!(ring(&[0.1]), Err(NoRing::TooFew));
    assert_eq!(ring(&[0.1, 0.0]), Err(NoRing::NotAbove));
    assert_eq!(ring(&[0.1, 0.1, 0.1]), Err(NoRing::Oscillates));
    assert_eq!(ring(&[0.1, 0.2]), Err(NoRing::Oscillates));
    // The rule of a hundred, loosely.
    for damping in [0.1, 0.3, 0.5] {
        assert!((phase_margin(damping) - 100.0 * damping).abs() < 3.5);
    }
}

#[test]
fn a_reading_with_its_error_gives_a_range_and_the_snubber_holds_in_it() {
    let rings = TwoRings {
        alone: (1.18e6, 1.22e6),
        added: (0.95e-9, 1.05e-9),
        with: (0.47e6, 0.49e6),
    };
    let found = tank(&rings).expect("slower");
    assert!(found.farads.1 < found.farads.0 && found.farads.0 < found.farads.2);
    let made = snubber(&found, 0.5).expect("a snubber");
    assert!(made.damping >= 0.45 && made.at_least > 0.35, "{made:?}");
    // Another resistor damps worse.
    for other in [0.4, 2.5] {
        assert!(snubbed(&found, made.farads, other * made.ohms).damping < made.damping);
    }
    // It might not ring slower.
    assert!(
        tank(&TwoRings {
            with: (1.1e6, 1.19e6),
            ..rings
        })
        .is_none()
    );
}

fn job(capacitors: &str, regulator: &str) -> Job {
    let rest = format!(
        r#"[box]
room = "0 °C .. 30 °C"
rise = "10 K"
[regulator.U1]
from = "raw"
into = "out"
set = {{ fixed = "5 V" }}
dropout = ["1 V at 1 A"]
rejection = ["60 dB at 100 Hz"]
limit = "2 A"
{regulator}
{capacitors}
[load.test]
at = "out"
draws = {{ on = "100 mA" }}
"#
    );
    read(&(raw(50, &["on"]) + &rest))
}

const WINDOW: &str = "stable_with = [{ least = \"10 µF\", esr = \"0.3 Ω .. 22 Ω\" }]";

fn judged(capacitors: &str) -> Capacitor {
    let job = job(capacitors, WINDOW);
    capacitor(&job, regulator(&job))
}

#[test]
fn cold_takes_a_capacitor_out_of_its_window() {
    let plain = "[capacitor.C2]\nat = \"out\"\nvalue = \"12 µF ±10 %\"\nesr = \"0.5 Ω .. 1 Ω\"\n";
    assert!(matches!(judged(plain), Capacitor::Inside(_)));
    let cold = format!("{plain}value_at = [\"50 % at -40 °C\", \"100 % at 20 °C\"]\n");
    let Capacitor::Outside { seen, .. } = judged(&cold) else {
        panic!("outside");
    };
    // At 0 °C, two thirds of the way up from −40 °C: 10.8 µF × 0.8333.
    assert!(
        (seen.farads - 10.8e-6 * (0.5 + 0.5 * 40.0 / 60.0)).abs() < 1e-12,
        "{seen:?}"
    );
    assert_eq!(seen.celsius, (0.0, 40.0));
    let hot = format!("{plain}esr_at = [\"100 % at 20 °C\", \"40 % at 40 °C\"]\n");
    let Capacitor::Outside { seen, add, .. } = judged(&hot) else {
        panic!("outside");
    };
    assert!((seen.esr.0 - 0.2).abs() < 1e-9, "{seen:?}");
    let (least, most) = add.expect("a resistance helps");
    assert!((least - 0.1).abs() < 1e-9 && most > 20.0);
}

#[test]
fn a_resistor_in_series_counts_and_a_small_capacitor_beside_hardly() {
    let ceramic = |beside: &str| {
        format!(
            "[capacitor.C2]\nat = \"mid\"\nvalue = \"22 µF ±10 %\"\nesr = \"5 mΩ\"\n[resistor.R1]\nbetween = [\"out\", \"mid\"]\nvalue = \"0.5 Ω\"\n{beside}"
        )
    };
    let Capacitor::Inside(seen) = judged(&ceramic("")) else {
        panic!("inside");
    };
    assert!((seen.esr.0 - 0.505).abs() < 1e-9, "{seen:?}");
    let small = "[capacitor.C3]\nat = \"out\"\nvalue = \"100 nF\"\nesr = \"10 mΩ\"\n";
    let Capacitor::Inside(seen) = judged(&ceramic(small)) else {
        panic!("inside");
    };
    assert!((0.48..0.51).contains(&seen.esr.0), "{seen:?}");
    let large = "[capacitor.C3]\nat = \"out\"\nvalue = \"22 µF\"\nesr = \"10 mΩ\"\n";
    assert!(matches!(judged(&ceramic(large)), Capacitor::Outside { .. }));
    // Something else hangs on the middle: that is no series resistance of the capacitor's.
    let tapped = "[load.tap]\nat = \"mid\"\ndraws = { on = \"1 mA\" }\n";
    assert_eq!(judged(&ceramic(tapped)), Capacitor::NoneDrawn);
}
