//! A test with a rectifier: the mean across its reservoir, from the real circuit, and how that moves.

use quietrail_engine::{
    Circuit, DiodeLaw, Element, ElementId, GROUND, LoadLaw, Node, Options, System, Wave,
    steady_state,
};
use quietrail_job::model::unmarked::{DirectLoad, TestLoad};
use std::f64::consts::PI;

/// Series resistance of the test's reservoir, Ω, and slope of its diodes: small beside any source. Common practice,
/// no source.
const ESR: f64 = 0.04;
const SLOPE: f64 = 0.02;
/// Steps for the derivatives: share of the value, or of what stands in for nothing.
const STEP: f64 = 0.01;
/// Shares by which off-load volts and the resistance behind them may have moved before the circuit is solved anew.
const NEAR: f64 = 0.02;

/// What the mean depends on: off-load volts rms, Ω and reactance behind them, drop of a diode, third harmonic, and the
/// load as a share of what it was read as.
pub(crate) type Point = [f64; 6];

/// A rectifier test, and a straight line through where it was last solved.
#[derive(Clone, Debug)]
pub(crate) struct Rectified {
    load: Option<Behind>,
    hertz: f64,
    at: Option<(Point, f64, Point)>,
}

#[derive(Clone, Copy, Debug)]
struct Behind {
    farads: f64,
    amperes: Option<f64>,
    ohms: Option<f64>,
}

impl Rectified {
    /// The rectifier of a test, if it has one.
    pub(crate) fn of(load: &TestLoad, hertz: f64) -> Self {
        let load = match load {
            TestLoad::Resistor(_) => None,
            TestLoad::Bridge(bridge) => {
                let (amperes, ohms) = match &bridge.load {
                    DirectLoad::Amperes(reading) => (Some(reading.value), None),
                    DirectLoad::Ohms(reading) => (None, Some(reading.value)),
                };
                Some(Behind {
                    farads: bridge.reservoir.nominal(),
                    amperes,
                    ohms,
                })
            }
        };
        Self {
            load,
            hertz,
            at: None,
        }
    }

    /// Moves the straight line to a point, where that is far from the last.
    pub(crate) fn follow(&mut self, point: Point) {
        let is_near = self.at.as_ref().is_some_and(|(last, _, _)| {
            (point[0] - last[0]).abs() < NEAR * last[0]
                && (point[1] - last[1]).abs() < NEAR * last[1].abs().max(0.01)
                && (point[2] - last[2]).abs() < NEAR * last[1].abs().max(0.01)
        });
        if is_near || !point.iter().all(|value| value.is_finite()) {
            return;
        }
        let Some(value) = self.solve(point) else {
            return;
        };
        let mut slope = [0.0; 6];
        let least = [0.1, 0.02, 0.02, 0.05, 0.01, 1.0];
        for k in 0..point.len() {
            let step =
                (STEP * point[k].abs())
                    .max(STEP * least[k])
                    .max(if k > 2 { 0.005 } else { 0.0 });
            let mut moved = point;
            moved[k] += step;
            slope[k] = self
                .solve(moved)
                .map_or(0.0, |there| (there - value) / step);
        }
        self.at = Some((point, value, slope));
    }

    /// Mean volts by the straight line.
    pub(crate) fn mean(&self, point: Point) -> f64 {
        self.at.as_ref().map_or(f64::NAN, |(at, value, slope)| {
            value
                + (0..point.len())
                    .map(|k| slope[k] * (point[k] - at[k]))
                    .sum::<f64>()
        })
    }

    /// Mean volts by the circuit.
    pub(crate) fn solve(
        &self,
        [open, ohms, reactance, drop, flatness, share]: Point,
    ) -> Option<f64> {
        let load = self.load?;
        let amps = load.amperes.map(|amps| amps * share);
        let ohms_of_load = load.ohms.map(|ohms| ohms * share);
        let (circuit, _, plus) = bridge(
            [open, ohms, reactance, drop, flatness],
            self.hertz,
            load.farads,
            (amps, ohms_of_load),
        );
        let system = System::assemble(&circuit).ok()?.reduced();
        let options = Options {
            tolerance: 1e-6,
            ..crate::options()
        };
        let outcome = steady_state(&system, &options);
        let orbit = outcome.orbit.filter(|_| outcome.ended.is_settled())?;
        Some(orbit.mean(&system.voltage(plus, GROUND)))
    }
}

/// What a bridge on a source gives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Raw {
    /// Mean across the reservoir, V.
    pub(crate) mean: f64,
    /// Lowest instant, V.
    pub(crate) valley: f64,
    /// Highest instant, V.
    pub(crate) peak: f64,
    /// rms in the source, A.
    pub(crate) rms: f64,
}

/// A bridge on off-load volts with resistance and reactance behind them, drop of a diode and third harmonic, drawn from by a
/// constant current.
pub(crate) fn raw(source: [f64; 5], hertz: f64, farads: f64, amps: f64) -> Option<Raw> {
    let (circuit, winding, plus) = bridge(source, hertz, farads, (Some(amps), None));
    let system = System::assemble(&circuit).ok()?.reduced();
    let outcome = steady_state(&system, &crate::options());
    let orbit = outcome.orbit.filter(|_| outcome.ended.is_settled())?;
    let volts = system.voltage(plus, GROUND);
    Some(Raw {
        mean: orbit.mean(&volts),
        valley: orbit.valley(&volts).value,
        peak: orbit.peak(&volts).value,
        rms: orbit.rms(&system.current(winding)),
    })
}

/// The circuit: its winding, as the leakage in front of the bridge, and the plus of its reservoir.
fn bridge(
    [open, ohms, reactance, drop, flatness]: [f64; 5],
    hertz: f64,
    farads: f64,
    (amps, load_ohms): (Option<f64>, Option<f64>),
) -> (Circuit, ElementId, Node) {
    let mut circuit = Circuit::new(hertz);
    let (a, b, plus) = (circuit.node(), circuit.node(), circuit.node());
    let inner = circuit.node();
    circuit.add(Element::Source {
        plus: inner,
        minus: b,
        wave: Wave::mains(open.max(1e-3), flatness.max(0.0)),
        ohms: ohms.max(1e-3),
    });
    let henries = reactance / (2.0 * PI * hertz);
    let winding = circuit.add(Element::Inductor {
        a: inner,
        b: a,
        henries: henries.max(1e-9),
        ohms: 0.0,
    });
    let law = DiodeLaw::Ideal {
        drop: drop.max(0.0),
        slope: SLOPE,
    };
    for (anode, cathode) in [(a, plus), (b, plus), (GROUND, a), (GROUND, b)] {
        circuit.add(Element::Diode {
            anode,
            cathode,
            law,
        });
    }
    circuit.add(Element::Capacitor {
        a: plus,
        b: GROUND,
        farads,
        esr: ESR,
        leakage: 1e-6,
    });
    if let Some(ohms) = load_ohms {
        circuit.add(Element::Resistor {
            a: plus,
            b: GROUND,
            ohms,
        });
    }
    if let Some(amps) = amps {
        circuit.add(Element::Load {
            plus,
            minus: GROUND,
            law: LoadLaw::Current { amps, below: 1.0 },
        });
    }
    (circuit, winding, plus)
}
