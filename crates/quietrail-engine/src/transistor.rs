//! A bipolar transistor: two junctions and what each hands over (J. J. Ebers and J. L. Moll, Proc. IRE 42, 1954).
//!
//! ```text
//! i_e = junction(v_be + m v_cb)     i_c = forward i_e − i_r      forward = gain/(gain + 1)
//! i_r = junction(v_bc)              i_b = (1 − forward) i_e + (1 − reverse) i_r
//! ```
//!
//! Each junction is a diode of the circuit with its own slopes, so all that is new is linear. Saturation comes by itself where
//! the collector junction begins to conduct. The term `m` is the effect of the collector's voltage on the base's width, as a
//! share of it that comes back to the base: `m = nVt / early`.

use crate::diode::DiodeLaw;

/// Everything that shapes a transistor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TransistorLaw {
    /// All voltages and currents the other way round.
    pub is_pnp: bool,
    /// Junction of base and emitter, by the emitter's current.
    pub emitter: DiodeLaw,
    /// Junction of base and collector.
    pub collector: DiodeLaw,
    /// Share of the emitter junction's current that comes from the collector, below 1.
    pub forward: f64,
    /// Share of the collector junction's current that comes from the emitter, below 1.
    pub reverse: f64,
    /// Share of the voltage from base to collector that acts on the emitter junction.
    pub feedback: f64,
}

impl TransistorLaw {
    /// Currents of both junctions, A, from those of collector and base.
    pub(crate) fn junctions(&self, collector: f64, base: f64) -> (f64, f64) {
        // i_c = f e − r, i_b = (1 − f) e + (1 − q) r
        let (f, q) = (self.forward, self.reverse);
        let emitter = ((1.0 - q) * collector + base) / (1.0 - f * q);
        (emitter, f * emitter - collector)
    }
}

#[cfg(test)]
mod tests {
    use super::TransistorLaw;
    use crate::circuit::{Circuit, Element, ElementId, GROUND};
    use crate::diode::DiodeLaw;
    use crate::math::ln;
    use crate::wave::Wave;
    use crate::{Options, Signal, System, steady_state};

    const VT: f64 = 0.025_692_579;

    fn law(is_pnp: bool, feedback: f64) -> TransistorLaw {
        let junction = |saturation| DiodeLaw::Exponential {
            saturation,
            slope_voltage: VT,
            series: 0.0,
            leakage: 0.0,
        };
        TransistorLaw {
            is_pnp,
            emitter: junction(1e-12),
            collector: junction(3e-12),
            forward: 100.0 / 101.0,
            reverse: 0.5,
            feedback,
        }
    }

    /// Collector at some volts through a resistor, base fed by a current through a resistor, emitter on ground.
    fn stage(law: TransistorLaw, base_volts: f64, base_ohms: f64, ohms: f64) -> [f64; 3] {
        let mut c = Circuit::new(50.0);
        let (supply, collector, drive, base) = (c.node(), c.node(), c.node(), c.node());
        let sign = if law.is_pnp { -1.0 } else { 1.0 };
        for (plus, volts) in [(supply, 10.0), (drive, base_volts)] {
            c.add(Element::Source {
                plus,
                minus: GROUND,
                wave: Wave::constant(sign * volts),
                ohms: 0.0,
            });
        }
        for (a, b, ohms) in [(supply, collector, ohms), (drive, base, base_ohms)] {
            c.add(Element::Resistor { a, b, ohms });
        }
        c.add(Element::Capacitor {
            a: base,
            b: GROUND,
            farads: 1e-9,
            esr: 1.0,
            leakage: 0.0,
        });
        let id: ElementId = c.add(Element::Transistor {
            collector,
            base,
            emitter: GROUND,
            law,
        });
        let system = System::assemble(&c).expect("it stands").reduced();
        let outcome = steady_state(&system, &Options::default());
        let orbit = outcome.orbit.expect("it settles");
        let mean = |signal: Signal| orbit.mean(&signal.probe(&system));
        [
            mean(Signal::Current(id, 0)),
            mean(Signal::Current(id, 1)),
            sign * mean(Signal::Voltage(collector, GROUND)),
        ]
    }

    /// Closed forms of the two equations at hand, by iteration that shares nothing with the engine.
    #[test]
    fn it_amplifies_and_saturates_as_the_equations_say() {
        for is_pnp in [false, true] {
            // Active: 1 V over 10 kΩ and a junction.
            let [i_c, i_b, v_c] = stage(law(is_pnp, 0.0), 1.5, 10e3, 100.0);
            let mut base = 90e-6;
            for _ in 0..200 {
                let junction = VT * ln(101.0 * base / 1e-12);
                base = (1.5 - junction) / 10e3;
            }
            assert!((i_b / base - 1.0).abs() < 1e-6, "{i_b} {base}");
            assert!((i_c / (100.0 * base) - 1.0).abs() < 1e-6);
            assert!((v_c - (10.0 - 100.0 * i_c)).abs() < 1e-6);
            // Saturated: i_c is what the collector resistor lets through.
            let [i_c, i_b, v_c] = stage(law(is_pnp, 0.0), 1.5, 1e3, 1e3);
            let (e, r) = law(is_pnp, 0.0).junctions(i_c, i_b);
            let v_ce = VT * (ln(e / 1e-12) - ln(r / 3e-12));
            assert!((v_c - v_ce).abs() < 1e-5, "{v_c} {v_ce}");
            assert!(v_c < 0.2 && (i_c - (10.0 - v_c) / 1e3).abs() < 1e-9);
        }
    }

    /// With the base held by a source, the collector's voltage raises the current as one over the Early voltage.
    #[test]
    fn the_collector_acts_back_by_the_early_voltage() {
        let early = 100.0;
        let held = |ohms: f64| stage(law(false, VT / early), 0.6, 1.0, ohms);
        let [low, _, v_low] = held(200.0);
        let [high, _, v_high] = held(10.0);
        let share = ln(high / low);
        assert!(
            (share / ((v_high - v_low) / early) - 1.0).abs() < 0.02,
            "{share} {}",
            v_high - v_low
        );
    }
}
