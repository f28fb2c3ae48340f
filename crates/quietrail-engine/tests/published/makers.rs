//! What makers publish for choosing transformers and diodes, beside the solved circuit.

use crate::published::readings::Readings;
use crate::supplies::{Feeds, Form, Supply, settle};
use quietrail_checks::{Allowed, Section};
use quietrail_engine::{Options, math};
use std::f64::consts::{PI, SQRT_2};

const HAMMOND: &str = "Hammond Manufacturing, Design Guide for Rectifier Use";
const PETRA: &str =
    "Petra Toroid, Methods of determining secondary current ratings in D.C. circuits";
const FROST_AND_HAMMOND: &str =
    "ATC-Frost, Method of Determining Secondary Current Ratings; Hammond, as above";

fn winding_factor(form: Form, x: f64, s: f64) -> f64 {
    let found = Readings::of(&Supply::normalised(form, x, s));
    found.source_rms / found.load_mean
}

#[test]
fn winding_and_capacitor_currents() {
    let mut section = Section::new("makers", "What makers publish");
    let bridge = winding_factor(Form::Bridge, 10.0, 0.1);
    section
        .row(
            "PWR-RECT-13",
            "centre-tap half over bridge winding, rms, ωRC 10, Rs/R 0.1",
            "half the pulses each: 1/√2",
        )
        .near(
            1.0 / SQRT_2,
            winding_factor(Form::CentreTap, 10.0, 0.1) / bridge,
            Allowed::Relative(1e-6),
        );
    // The published 0.62 is good to half a unit of its last digit.
    section
        .row(
            "PWR-RECT-14",
            "bridge: DC over winding rms, ωRC 10, Rs/R 0.1",
            HAMMOND,
        )
        .near(0.62, 1.0 / bridge, Allowed::Absolute(0.005));
    section
        .row(
            "PWR-RECT-15",
            "bridge: winding rms over DC, ωRC 10, Rs/R 0.05 .. 0.02",
            PETRA,
        )
        .spans(
            1.8,
            winding_factor(Form::Bridge, 10.0, 0.05),
            winding_factor(Form::Bridge, 10.0, 0.02),
        );
    section
        .row(
            "PWR-RECT-16",
            "centre tap: half-winding rms over DC, ωRC 10, Rs/R 0.1",
            FROST_AND_HAMMOND,
        )
        .between(1.0, 1.2, winding_factor(Form::CentreTap, 10.0, 0.1));
    section
        .row(
            "PWR-RECT-17",
            "half-wave: winding rms over DC, ωRC 50, Rs/R 0.02",
            FROST_AND_HAMMOND,
        )
        .between(2.6, 1.0 / 0.28, winding_factor(Form::HalfWave, 50.0, 0.02));
    let ripple_current = |s| {
        let found = Readings::of(&Supply::normalised(Form::Bridge, 10.0, s));
        found.capacitor_rms / found.load_mean
    };
    section
        .row(
            "PWR-RECT-18",
            "capacitor rms over DC, lower end of 2 .. 3, ωRC 10, Rs/R 0.02 .. 0.002",
            HAMMOND,
        )
        .spans(2.0, ripple_current(0.02), ripple_current(0.002));
    section.note(
        "PWR-RECT-15, -16",
        "Petra Toroid also prints Vac = 0.8 (Vdc + 2), a sizing rule that is not compared, and 0.8 for a centre tap \
         with capacitor, the figure of its row without one: taken for a copying error.",
    );
    section.note(
        "Schade",
        "From memory: O. H. Schade, Analysis of Rectifier Operation, Proc. IRE 31 (1943), charts the same model \
         over ωRC and Rs/R. His charts were not at hand and nothing is compared with them.",
    );
    section.finish();
}

/// PWR-RECT-19: at a load so light that the capacitor keeps the crest.
#[test]
fn reverse_voltages() {
    let mut section = Section::new("reverse-voltages", "Reverse voltage of the diodes");
    for (form, name, times) in [
        (Form::Bridge, "bridge", 1.0),
        (Form::CentreTap, "centre tap, each half", 2.0),
        (Form::HalfWave, "half-wave", 2.0),
    ] {
        let supply = Supply::normalised(form, 1e5, 1e-6);
        let built = supply.build();
        let system = built.system();
        let orbit = settle(&system, &Options::default());
        let (voltage, _) = system.ports(built.diode).remove(0);
        let reverse = -orbit.valley(&voltage).value / supply.peak;
        let what = format!("{name}: reverse voltage over Vp");
        // Below the crest by 1 − cos φ with φ³ = 3π Rs/R (PWR-RECT-03 for small angles, half-wave), 2.2e-4,
        // and by the droop over a cycle, 2π/(ωRC) = 6e-5.
        section
            .row("PWR-RECT-19", &what, "the capacitor holds the crest")
            .near(times, reverse, Allowed::Relative(3e-4));
        let published = match form {
            // 2.8 half-wave; 1.4 over the full winding, so twice that over a half.
            Form::HalfWave | Form::CentreTap => Some(2.8),
            _ => None,
        };
        if let Some(published) = published {
            let what = format!("{name}: reverse voltage over rms of a half or single winding");
            // 1.4 for √2: half a unit of the last digit of two.
            section.row("PWR-RECT-19", &what, HAMMOND).near(
                published,
                reverse * SQRT_2,
                Allowed::Relative(0.036),
            );
        }
    }
    section.finish();
}

/// PWR-RECT-26: conduction before the crest on an ideal source.
#[test]
fn conduction_before_the_crest() {
    let mut section = Section::new("before-crest", "Conduction before the crest, ideal source");
    let supply = Supply::normalised(Form::Bridge, 50.0, 0.0);
    let found = Readings::of(&supply);
    let ripple = found.peak_to_peak() / supply.peak;
    // cos of the angle, so that no inverse function is needed: 1 − r.
    let before = (90.0 - found.turn_on) * PI / 180.0;
    section
        .row(
            "PWR-RECT-26",
            "1 − cos of the angle before the crest, against the ripple pp/Vp",
            "acos(1 − r)",
        )
        .near(ripple, 1.0 - math::cos(before), Allowed::Relative(1e-6));
    section
        .row(
            "PWR-RECT-26",
            "degrees before the crest, ωRC 50",
            "acos(1 − r), r = 0.05446165",
        )
        .near(18.99652, 90.0 - found.turn_on, Allowed::Relative(1e-6));
    section.finish();
}

/// PWR-RECT-11: only ωRC and Rs/R matter.
#[test]
fn invariance() {
    let mut section = Section::new("invariance", "Only ωRC and Rs/R matter");
    let base = Supply::normalised(Form::Bridge, 10.0, 0.05);
    let Feeds::Ohms(ohms) = base.feeds else {
        panic!("the normalised supply has a resistor");
    };
    let reference = normal(&base);
    let changed = [
        (
            "volts × 23",
            Supply {
                peak: 23.0 * base.peak,
                ..base
            },
        ),
        (
            "frequency × 8, C / 8",
            Supply {
                frequency: 8.0 * base.frequency,
                farads: base.farads / 8.0,
                ..base
            },
        ),
        (
            "resistances × 7, C / 7",
            Supply {
                source_ohms: 7.0 * base.source_ohms,
                feeds: Feeds::Ohms(7.0 * ohms),
                farads: base.farads / 7.0,
                ..base
            },
        ),
    ];
    for (what, supply) in changed {
        let figures: Vec<_> = reference
            .iter()
            .zip(normal(&supply))
            .map(|(&(name, want), (_, got))| {
                quietrail_checks::Figure::relative(name, want, got, 1e-9)
            })
            .collect();
        section
            .row("PWR-RECT-11", what, "dimensional analysis")
            .worst_of(&figures);
    }
    section.finish();
}

/// Normalised figures at a tolerance that resolves 1e-9.
fn normal(supply: &Supply) -> [(&'static str, f64); 6] {
    let built = supply.build();
    let system = built.system();
    let tight = Options {
        tolerance: 2e-11,
        ..Options::default()
    };
    let found = Readings::read(supply, &built, &settle(&system, &tight));
    [
        ("Vdc/Vp", found.mean / supply.peak),
        ("vmin/Vp", found.valley / supply.peak),
        ("vmax/Vp", found.peak / supply.peak),
        ("Ipk/Idavg", found.diode_peak / found.diode_mean),
        ("Isec/Idc", found.source_rms / found.load_mean),
        ("Icap/Idc", found.capacitor_rms / found.load_mean),
    ]
}
