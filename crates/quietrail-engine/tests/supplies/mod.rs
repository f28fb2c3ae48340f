//! Capacitor-input supplies as circuits of the engine, for tests.

#![allow(dead_code, reason = "each test program uses its own part")]

use quietrail_engine::{
    Circuit, DiodeLaw, Element, ElementId, GROUND, LoadLaw, Node, Options, Orbit, Probe, System,
    Wave, steady_state,
};
use std::f64::consts::PI;

/// Silicon without drop or resistance.
pub(crate) const IDEAL: DiodeLaw = DiodeLaw::Ideal {
    drop: 0.0,
    slope: 0.0,
};

/// Below this voltage a load of constant current fades; no supply here settles near it.
const BELOW: f64 = 0.5;

/// How the diodes are arranged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    Bridge,
    CentreTap,
    HalfWave,
    /// Full-wave doubler: two capacitors stacked, each charged on its own half-cycle.
    Delon,
    /// Half-wave doubler: a series capacitor, a clamp diode, a second diode into the output capacitor.
    Cascade,
}

/// What the supply feeds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Feeds {
    Ohms(f64),
    Amps(f64),
    Nothing,
}

/// A supply by its values: SI, capacitors of a doubler alike.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Supply {
    pub(crate) form: Form,
    pub(crate) frequency: f64,
    pub(crate) peak: f64,
    pub(crate) source_ohms: f64,
    /// In series with the source; 0 for none.
    pub(crate) leakage_henries: f64,
    pub(crate) diode: DiodeLaw,
    pub(crate) farads: f64,
    pub(crate) esr: f64,
    pub(crate) feeds: Feeds,
}

/// A supply as a circuit, with what can be asked of it.
pub(crate) struct Built {
    pub(crate) circuit: Circuit,
    pub(crate) plus: Node,
    pub(crate) minus: Node,
    pub(crate) source: ElementId,
    /// A diode that conducts while the mains is positive.
    pub(crate) diode: ElementId,
    pub(crate) reservoir: ElementId,
}

impl Supply {
    /// The normalised supply of the handbook tables: `x` = ωRC, `s` = Rs/R, here at 10 V and 100 Ω.
    pub(crate) fn normalised(form: Form, x: f64, s: f64) -> Self {
        let (frequency, ohms) = (50.0, 100.0);
        Self {
            form,
            frequency,
            peak: 10.0,
            source_ohms: s * ohms,
            leakage_henries: 0.0,
            diode: IDEAL,
            farads: x / (2.0 * PI * frequency * ohms),
            esr: 0.0,
            feeds: Feeds::Ohms(ohms),
        }
    }

    /// The circuit.
    pub(crate) fn build(&self) -> Built {
        let mut c = Circuit::new(self.frequency);
        let plus = c.node();
        match self.form {
            Form::Bridge => {
                let (a, b) = (c.node(), c.node());
                let source = self.source(&mut c, a, b, 1.0);
                let diode = self.diode(&mut c, a, plus);
                self.diode(&mut c, b, plus);
                self.diode(&mut c, GROUND, a);
                self.diode(&mut c, GROUND, b);
                self.finish(c, plus, GROUND, source, diode)
            }
            Form::CentreTap => {
                let (a, b) = (c.node(), c.node());
                let source = self.source(&mut c, a, GROUND, 1.0);
                self.source(&mut c, b, GROUND, -1.0);
                let diode = self.diode(&mut c, a, plus);
                self.diode(&mut c, b, plus);
                self.finish(c, plus, GROUND, source, diode)
            }
            Form::HalfWave => {
                let a = c.node();
                let source = self.source(&mut c, a, GROUND, 1.0);
                let diode = self.diode(&mut c, a, plus);
                self.finish(c, plus, GROUND, source, diode)
            }
            Form::Delon => {
                let (a, bottom) = (c.node(), c.node());
                let source = self.source(&mut c, a, GROUND, 1.0);
                let diode = self.diode(&mut c, a, plus);
                self.diode(&mut c, bottom, a);
                let reservoir = self.capacitor(&mut c, plus, GROUND);
                self.capacitor(&mut c, GROUND, bottom);
                self.load(&mut c, plus, bottom);
                Built {
                    circuit: c,
                    plus,
                    minus: bottom,
                    source,
                    diode,
                    reservoir,
                }
            }
            Form::Cascade => {
                let (a, middle) = (c.node(), c.node());
                let source = self.source(&mut c, a, GROUND, 1.0);
                self.capacitor(&mut c, a, middle);
                self.diode(&mut c, GROUND, middle);
                let diode = self.diode(&mut c, middle, plus);
                self.finish(c, plus, GROUND, source, diode)
            }
        }
    }

    fn finish(
        &self,
        mut circuit: Circuit,
        plus: Node,
        minus: Node,
        source: ElementId,
        diode: ElementId,
    ) -> Built {
        let reservoir = self.capacitor(&mut circuit, plus, minus);
        self.load(&mut circuit, plus, minus);
        Built {
            circuit,
            plus,
            minus,
            source,
            diode,
            reservoir,
        }
    }

    fn source(&self, c: &mut Circuit, plus: Node, minus: Node, sign: f64) -> ElementId {
        let wave = Wave::sine(sign * self.peak);
        let ohms = self.source_ohms;
        if self.leakage_henries == 0.0 {
            return c.add(Element::Source {
                plus,
                minus,
                wave,
                ohms,
            });
        }
        let behind = c.node();
        c.add(Element::Inductor {
            a: behind,
            b: plus,
            henries: self.leakage_henries,
            ohms: 0.0,
        });
        c.add(Element::Source {
            plus: behind,
            minus,
            wave,
            ohms,
        })
    }

    fn diode(&self, c: &mut Circuit, anode: Node, cathode: Node) -> ElementId {
        c.add(Element::Diode {
            anode,
            cathode,
            law: self.diode,
        })
    }

    fn capacitor(&self, c: &mut Circuit, a: Node, b: Node) -> ElementId {
        c.add(Element::Capacitor {
            a,
            b,
            farads: self.farads,
            esr: self.esr,
            leakage: 0.0,
        })
    }

    fn load(&self, c: &mut Circuit, plus: Node, minus: Node) {
        match self.feeds {
            Feeds::Ohms(ohms) => {
                c.add(Element::Resistor {
                    a: plus,
                    b: minus,
                    ohms,
                });
            }
            Feeds::Amps(amps) => {
                let law = LoadLaw::Current { amps, below: BELOW };
                c.add(Element::Load { plus, minus, law });
            }
            Feeds::Nothing => {}
        }
    }
}

impl Built {
    /// Its equations, reduced.
    pub(crate) fn system(&self) -> System {
        System::assemble(&self.circuit)
            .expect("the values are physical")
            .reduced()
    }

    /// Output voltage.
    pub(crate) fn output(&self, system: &System) -> Probe {
        system.voltage(self.plus, self.minus)
    }
}

/// The settled cycle of a system.
///
/// # Panics
/// When it does not settle, or its energy does not balance.
pub(crate) fn settle<'s>(system: &'s System, options: &Options) -> Orbit<'s> {
    let outcome = steady_state(system, options);
    assert!(outcome.ended.is_settled(), "ended as {:?}", outcome.ended);
    let orbit = outcome.orbit.expect("a settled outcome has its cycle");
    let balance = orbit.energy_balance();
    assert!(balance < 1e-6, "energy does not balance: {balance:.1e}");
    orbit
}
