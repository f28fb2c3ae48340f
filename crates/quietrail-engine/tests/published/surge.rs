//! Switching on: the first pulse into a discharged capacitor, and its I²t.

use crate::published::table::Table;
use crate::supplies::{Feeds, Form, Supply};
use quietrail_checks::{Allowed, Figure, Section};
use quietrail_engine::{
    Circuit, Element, GROUND, Options, System, Transient, Wave, Winding, transient,
};
use std::f64::consts::{PI, SQRT_2};

#[test]
fn first_cycle() {
    let mut section = Section::new("first-cycle", "First pulse into a discharged capacitor");
    for line in Table::read("first-cycle-surge.csv").lines() {
        let q = line.value("q=wRsC");
        let like = Supply::normalised(Form::Bridge, 1.0, 0.01);
        let supply = Supply {
            farads: q / (2.0 * PI * like.frequency * like.source_ohms),
            feeds: Feeds::Nothing,
            ..like
        };
        let mut figures = Vec::new();
        for (column, start) in [("zero_crossing", 0.0), ("45deg", 0.125), ("crest", 0.25)] {
            let built = supply.build();
            let system = built.system();
            let rest = vec![0.0; system.store_count()];
            let run = transient(&system, &rest, start, start + 0.5, &Options::default())
                .expect("a first half-cycle can be integrated");
            let peak = run.peak(&system.current(built.diode), start, start + 0.5);
            let printed = line.printed(column);
            figures.push(Figure::relative(
                column,
                printed.value,
                peak.value * supply.source_ohms / supply.peak,
                printed.allowed(),
            ));
        }
        let what = format!("first peak over Vp/Rs, ωRsC {q}");
        section
            .row("PWR-RECT-10", &what, "the model, closed form")
            .worst_of(&figures);
    }
    section.finish();
}

/// PWR-RECT-27: a stiff step into C through Rs, seen on both sides of a transformer.
#[test]
fn inrush_energy() {
    let (farads, ohms, turns) = (6800e-6, 0.5, 0.15);
    let volts = 18.0 * SQRT_2;
    let mut c = Circuit::new(50.0);
    let (live, neutral, secondary) = (c.node(), c.node(), c.node());
    c.add(Element::Source {
        plus: live,
        minus: neutral,
        wave: Wave::constant(volts / turns),
        ohms: 0.0,
    });
    let winding = |start, finish, turns, ohms| Winding {
        start,
        finish,
        turns,
        ohms,
        leakage: 0.0,
    };
    // Without a magnetising inductance the ideal transformer passes the step as it is.
    let transformer = c.add(Element::Transformer {
        windings: vec![
            winding(live, neutral, 1.0, 0.0),
            winding(secondary, GROUND, turns, ohms),
        ],
        magnetising: None,
    });
    c.add(Element::Capacitor {
        a: secondary,
        b: GROUND,
        farads,
        esr: 0.0,
        leakage: 0.0,
    });
    let system = System::assemble(&c)
        .expect("the values are physical")
        .reduced();
    // 40 time constants: what is left is under 1e-34.
    let end = 40.0 * ohms * farads * c.frequency;
    let tight = Options {
        tolerance: 1e-11,
        ..Options::default()
    };
    let run = transient(&system, &[0.0], 0.0, end, &tight).expect("the step can be integrated");
    let (primary, secondary) = (
        system.winding_current(transformer, 0),
        system.winding_current(transformer, 1),
    );
    let mut section = Section::new("inrush", "I²t of charging a capacitor");
    let formula = "C V²/(2 Rs)";
    section.row("PWR-RECT-27", "secondary, A² s", formula).near(
        4.4064,
        square_time(&run, &secondary, end, &c),
        Allowed::Relative(1e-6),
    );
    section
        .row("PWR-RECT-27", "primary at 0.15 turns to one, A² s", formula)
        .near(
            0.099_144,
            square_time(&run, &primary, end, &c),
            Allowed::Relative(1e-6),
        );
    section.finish();
}

/// ∫ i² dt by Simpson's rule, s · A².
fn square_time(
    run: &Transient<'_>,
    current: &quietrail_engine::Probe,
    end: f64,
    circuit: &Circuit,
) -> f64 {
    const INTERVALS: u32 = 40_000;
    let width = end / f64::from(INTERVALS);
    let mut sum = 0.0;
    for k in 0..=INTERVALS {
        let i = run.value(current, f64::from(k) * width);
        let weight = if k == 0 || k == INTERVALS {
            1.0
        } else if k % 2 == 1 {
            4.0
        } else {
            2.0
        };
        sum += weight * i * i;
    }
    sum * width / 3.0 / circuit.frequency
}
