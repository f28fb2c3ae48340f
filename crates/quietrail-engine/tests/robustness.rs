//! Circuits at and beyond the edge: each ends settled and balanced, or with a reason.

mod supplies;

use quietrail_engine::{Options, System, steady_state, Circuit, Element, GROUND, DiodeLaw, Wave, Winding, LoadLaw};
use supplies::{Feeds, Form, IDEAL, Supply};

const SILICON: DiodeLaw = DiodeLaw::Exponential { saturation: 5e-9, slope_voltage: 0.045, series: 0.03, leakage: 0.0 };

fn bench() -> Supply {
    Supply { form: Form::Bridge, frequency: 50.0, peak: 20.0, source_ohms: 0.5, leakage_henries: 0.0, diode: SILICON, farads: 4700e-6, esr: 0.03, feeds: Feeds::Amps(0.5) }
}

fn show(name: &str, c: &Circuit) {
    for (kind, reduce) in [("unreduced", false), ("reduced", true)] {
        let t = std::time::Instant::now();
        let system = match System::assemble(c) { Ok(s) => s, Err(e) => { println!("{name}: {e:?}"); return; } };
        let system = if reduce { system.reduced() } else { system };
        let out = steady_state(&system, &Options::default());
        let b = out.orbit.as_ref().map(|o| (o.energy_balance(), o.charge_balance(), o.floquet));
        println!("{name:40} {kind:10} {:?} {b:?} {:?} {:.2?}", out.ended, out.effort, t.elapsed());
    }
}

#[test]
fn explore() {
    for law in [SILICON, IDEAL] {
        let n = |s: &str| format!("{s} {}", if law == IDEAL { "ideal" } else { "exp" });
        let bench = || Supply { diode: law, ..bench() };
        let s = bench();
        show(&n("bench"), &s.build().circuit);
        show(&n("no load"), &Supply { feeds: Feeds::Nothing, ..bench() }.build().circuit);
        show(&n("0 A load"), &Supply { feeds: Feeds::Amps(0.0), ..bench() }.build().circuit);
        show(&n("short 0 ohm"), &Supply { feeds: Feeds::Ohms(0.0), ..bench() }.build().circuit);
        show(&n("short 0 ohm esr 0"), &Supply { feeds: Feeds::Ohms(0.0), esr: 0.0, ..bench() }.build().circuit);
        show(&n("short 1 mohm"), &Supply { feeds: Feeds::Ohms(1e-3), ..bench() }.build().circuit);
        show(&n("100 A"), &Supply { feeds: Feeds::Amps(100.0), ..bench() }.build().circuit);
        show(&n("rs 0"), &Supply { source_ohms: 0.0, ..bench() }.build().circuit);
        show(&n("rs 0 esr 0"), &Supply { source_ohms: 0.0, esr: 0.0, ..bench() }.build().circuit);
        show(&n("rs 0 short"), &Supply { source_ohms: 0.0, esr: 0.0, feeds: Feeds::Ohms(0.0), ..bench() }.build().circuit);
        show(&n("1 pF"), &Supply { farads: 1e-12, ..bench() }.build().circuit);
        show(&n("1 pF ohms"), &Supply { farads: 1e-12, feeds: Feeds::Ohms(40.0), ..bench() }.build().circuit);
        show(&n("1 F"), &Supply { farads: 1.0, ..bench() }.build().circuit);
        show(&n("1 F no load"), &Supply { farads: 1.0, feeds: Feeds::Nothing, ..bench() }.build().circuit);
        show(&n("1 Hz"), &Supply { frequency: 1.0, ..bench() }.build().circuit);
        show(&n("400 Hz"), &Supply { frequency: 400.0, ..bench() }.build().circuit);
        show(&n("leakage"), &Supply { leakage_henries: 1e-3, ..bench() }.build().circuit);
        show(&n("leakage rs 0"), &Supply { leakage_henries: 1e-3, source_ohms: 0.0, ..bench() }.build().circuit);
        for form in [Form::CentreTap, Form::HalfWave, Form::Delon, Form::Cascade] {
            show(&n(&format!("{form:?}")), &Supply { form, ..bench() }.build().circuit);
            show(&n(&format!("{form:?} no load")), &Supply { form, feeds: Feeds::Nothing, ..bench() }.build().circuit);
            show(&n(&format!("{form:?} 100 A")), &Supply { form, feeds: Feeds::Amps(100.0), ..bench() }.build().circuit);
            show(&n(&format!("{form:?} short")), &Supply { form, feeds: Feeds::Ohms(0.0), ..bench() }.build().circuit);
            show(&n(&format!("{form:?} rs 0")), &Supply { form, source_ohms: 0.0, esr: 0.0, ..bench() }.build().circuit);
        }
        let mut b = s.build();
        b.circuit.add(Element::Capacitor { a: b.plus, b: b.minus, farads: 1e-6, esr: 0.0, leakage: 0.0 });
        show(&n("parallel caps one esr 0"), &b.circuit);
        let mut b = Supply { esr: 0.0, ..s }.build();
        b.circuit.add(Element::Capacitor { a: b.plus, b: b.minus, farads: 1e-6, esr: 0.0, leakage: 0.0 });
        show(&n("parallel caps both esr 0"), &b.circuit);
        let mut b = Supply { esr: 0.0, ..s }.build();
        let m = b.circuit.node();
        b.circuit.add(Element::Capacitor { a: b.plus, b: m, farads: 1e-6, esr: 0.0, leakage: 0.0 });
        b.circuit.add(Element::Capacitor { a: m, b: b.minus, farads: 1e-6, esr: 0.0, leakage: 0.0 });
        show(&n("capacitor loop of three"), &b.circuit);
        let mut b = s.build();
        b.circuit.add(Element::Resistor { a: b.plus, b: b.minus, ohms: 0.0 });
        b.circuit.add(Element::Resistor { a: b.plus, b: b.minus, ohms: 0.0 });
        show(&n("two shorts in parallel"), &b.circuit);
        let mut b = s.build();
        let dangling = b.circuit.node();
        b.circuit.add(Element::Resistor { a: b.plus, b: dangling, ohms: 10.0 });
        show(&n("dangling"), &b.circuit);
        let mut b = s.build();
        b.circuit.node();
        show(&n("lone node"), &b.circuit);
        let mut b = s.build();
        let (x, y) = (b.circuit.node(), b.circuit.node());
        b.circuit.add(Element::Drain { from: x, to: y, wave: Wave::constant(0.1) });
        show(&n("drain on nothing"), &b.circuit);
        // a transformer with a floating secondary with nothing on it
        for magnetising in [Some(2.0), None] {
            for ohms in [0.0, 20.0] {
                let mut c = Circuit::new(50.0);
                let (live, neutral, a, bb, f1, f2, raw) = (c.node(), c.node(), c.node(), c.node(), c.node(), c.node(), c.node());
                c.add(Element::Source { plus: live, minus: neutral, wave: Wave::mains(230.0, 0.05), ohms: 0.0 });
                let w = |start, finish, turns, ohms| Winding { start, finish, turns, ohms, leakage: 0.0 };
                c.add(Element::Transformer { windings: vec![w(live, neutral, 1.0, ohms), w(a, bb, 0.08, 0.01 * ohms), w(f1, f2, 0.05, 0.01 * ohms)], magnetising });
                for (x, y) in [(a, raw), (bb, raw), (GROUND, a), (GROUND, bb)] {
                    c.add(Element::Diode { anode: x, cathode: y, law });
                }
                c.add(Element::Capacitor { a: raw, b: GROUND, farads: 2200e-6, esr: 0.05, leakage: 1e-6 });
                c.add(Element::Load { plus: raw, minus: GROUND, law: LoadLaw::Power { watts: 5.0, below: 8.0 } });
                show(&n(&format!("transformer floating {magnetising:?} {ohms}")), &c);
            }
        }
        let mut c = Circuit::new(50.0);
        let a = c.node();
        c.add(Element::Source { plus: a, minus: GROUND, wave: Wave::sine(10.0), ohms: 0.0 });
        c.add(Element::Source { plus: a, minus: GROUND, wave: Wave::sine(11.0), ohms: 0.0 });
        show(&n("sources contradict"), &c);
        let mut c = Circuit::new(50.0);
        let a = c.node();
        c.add(Element::Source { plus: a, minus: GROUND, wave: Wave::sine(10.0), ohms: 0.0 });
        c.add(Element::Resistor { a, b: GROUND, ohms: 0.0 });
        show(&n("source shorted"), &c);
        let mut c = Circuit::new(50.0);
        let a = c.node();
        c.add(Element::Source { plus: a, minus: GROUND, wave: Wave::sine(10.0), ohms: 0.0 });
        show(&n("source alone"), &c);
        show(&n("empty"), &Circuit::new(50.0));
        let mut c = Circuit::new(50.0);
        let a = c.node();
        c.add(Element::Source { plus: a, minus: GROUND, wave: Wave::sine(10.0), ohms: 0.0 });
        c.add(Element::Inductor { a, b: GROUND, henries: 1.0, ohms: 0.0 });
        show(&n("lossless inductor"), &c);
        let mut c = Circuit::new(50.0);
        let (a, m) = (c.node(), c.node());
        c.add(Element::Source { plus: a, minus: GROUND, wave: Wave::sine(10.0), ohms: 0.0 });
        c.add(Element::Inductor { a, b: m, henries: 0.1, ohms: 0.0 });
        c.add(Element::Capacitor { a: m, b: GROUND, farads: 1e-6, esr: 0.0, leakage: 0.0 });
        show(&n("lossless LC"), &c);
        let mut c = Circuit::new(50.0);
        let (a, m) = (c.node(), c.node());
        c.add(Element::Source { plus: a, minus: GROUND, wave: Wave::sine(10.0), ohms: 1.0 });
        c.add(Element::Diode { anode: a, cathode: m, law });
        c.add(Element::Diode { anode: m, cathode: a, law });
        show(&n("antiparallel diodes, nothing else"), &c);
        let mut c = Circuit::new(50.0);
        let (a, m) = (c.node(), c.node());
        c.add(Element::Source { plus: a, minus: GROUND, wave: Wave::sine(10.0), ohms: 0.0 });
        c.add(Element::Diode { anode: a, cathode: m, law });
        c.add(Element::Diode { anode: m, cathode: GROUND, law });
        show(&n("diodes across a source"), &c);
    }
}
