//! Transistors and shunt regulators of the job as elements.

use super::{Draft, Elements, diode, one};
use quietrail_engine::math::{exp, ln, thermal_voltage};
use quietrail_engine::{DiodeLaw, Element, TransistorLaw};
use quietrail_job::model::{Shunt, ShuntSet, Transistor};

/// Gain backwards, collector and emitter exchanged: alloyed and diffused parts lie between 0.1 and 5 (common practice, no
/// source). It only shapes the foot of the saturation.
const BACKWARDS: f64 = 1.0;
/// Volts from collector to emitter in saturation of the junctions alone, of one transistor; a second one in a Darlington adds
/// a junction. The rest is resistance (common practice, no source).
const SATURATED: f64 = 0.1;
/// Smallest resistance of a collector, Ω: the equations keep their shape.
const SMALLEST: f64 = 1e-4;
/// Collector over base current at which data sheets state saturation (common practice, no source).
const FORCED: f64 = 10.0;

pub(super) fn add(draft: &mut Draft, part: &Transistor, celsius: f64) -> Elements {
    let (collector, base, emitter) = (
        draft.node(&part.collector),
        draft.node(&part.base),
        draft.node(&part.emitter),
    );
    let inner = draft.circuit.node();
    let transistor = draft.circuit.add(Element::Transistor {
        collector: inner,
        base,
        emitter,
        law: law(part, celsius),
    });
    let (_, ohms) = saturation(part);
    let resistance = draft.circuit.add(Element::Resistor {
        a: collector,
        b: inner,
        ohms: ohms.max(SMALLEST),
    });
    Elements {
        own: vec![transistor, resistance],
        ..Elements::default()
    }
}

/// Volts from collector to emitter in saturation at no current, and their rise per ampere.
pub fn saturation(part: &Transistor) -> (f64, f64) {
    let (volts, amps) = (part.saturation.0.nominal(), part.saturation.1.nominal());
    let lowest = part.base_emitter[0].0.nominal();
    let junctions = diode::junctions(lowest);
    let foot = (SATURATED + (junctions - 1.0) * lowest / junctions).min(volts);
    (foot, (volts - foot) / amps)
}

/// The law of a transistor with its junction at a temperature in °C.
pub(super) fn law(part: &Transistor, celsius: f64) -> TransistorLaw {
    let at = part.figures_at.nominal();
    let points: Vec<(f64, f64)> = part
        .base_emitter
        .iter()
        .map(|(volts, amps)| (volts.nominal(), amps.nominal()))
        .collect();
    let gain = part.gain.nominal();
    let junction = diode::base_emitter(&points, at);
    let (forward, reverse) = (gain / (gain + 1.0), BACKWARDS / (BACKWARDS + 1.0));
    // In saturation at the stated currents: i_c = f e − r, i_b = (1 − f) e + (1 − q) r.
    let amps = part.saturation.1.nominal();
    let base = amps / FORCED.min(gain / 3.0);
    let e = ((1.0 - reverse) * amps + base) / (1.0 - forward * reverse);
    let r = forward * e - amps;
    let slope = junction.ideality * thermal_voltage(at);
    let base_emitter = slope * ln(e / junction.saturation) + junction.series * e;
    let base_collector = base_emitter - saturation(part).0;
    let collector = diode::Known {
        saturation: r / exp(base_collector / slope),
        series: 0.0,
        ..junction
    };
    let emitter = junction.at(celsius);
    let DiodeLaw::Exponential { slope_voltage, .. } = emitter else {
        unreachable!("a known junction is exponential");
    };
    TransistorLaw {
        is_pnp: part.is_pnp,
        emitter,
        collector: collector.at(celsius),
        forward,
        reverse,
        feedback: slope_voltage / part.early.nominal(),
    }
}

pub(super) fn add_shunt(draft: &mut Draft, name: &str, part: &Shunt) -> Elements {
    let (anode, cathode) = draft.ends(&part.between);
    // Conducts beyond its voltage, along its resistance; a divider makes more of that as it does of the voltage.
    let element = draft.circuit.add(Element::Diode {
        anode,
        cathode,
        law: DiodeLaw::Ideal {
            drop: part.set.volts(),
            slope: shunt_ohms(part),
        },
    });
    if let ShuntSet::Divided { upper, lower, .. } = &part.set {
        let divider = draft.circuit.add(Element::Resistor {
            a: anode,
            b: cathode,
            ohms: upper.nominal() + lower.nominal(),
        });
        draft
            .parts
            .insert(super::regulator::divider_of(name), one(divider));
    }
    one(element)
}

/// Rise of a shunt regulator's voltage per ampere, Ω.
pub fn shunt_ohms(part: &Shunt) -> f64 {
    part.resistance.nominal() * part.set.gain()
}

#[cfg(test)]
mod tests {
    use super::super::diode::tests::volts as drop;
    use super::law;
    use quietrail_engine::TransistorLaw;
    use quietrail_engine::math::thermal_voltage;
    use quietrail_job::model::{Figure, Transistor, TransistorRatings};
    use quietrail_units::Quantity;

    fn figure<U: quietrail_units::Unit>(value: f64) -> Figure<U> {
        Figure::default_of(Quantity::exact(value), "a test")
    }

    fn part(points: &[(f64, f64)], saturation: (f64, f64)) -> Transistor {
        Transistor {
            collector: "c".to_owned(),
            base: "b".to_owned(),
            emitter: "e".to_owned(),
            is_pnp: false,
            gain: figure(50.0),
            base_emitter: points
                .iter()
                .map(|&(volts, amps)| (figure(volts), figure(amps)))
                .collect(),
            saturation: (figure(saturation.0), figure(saturation.1)),
            early: figure(100.0),
            base_resistance: figure(10.0),
            figures_at: figure(25.0),
            junction_to_case: None,
            case_to_sink: figure(0.5),
            junction_to_air: None,
            sink: None,
            rated: TransistorRatings::default(),
            span: 0..0,
        }
    }

    /// What is read back from the law by the two equations of the engine is what the sheet said.
    #[test]
    fn the_law_gives_the_sheets_figures_back() {
        for (points, saturation) in [
            (vec![(0.65, 0.1), (0.9, 3.0)], (0.4, 3.0)),
            (vec![(0.7, 0.5)], (0.2, 0.5)),
            // A Darlington: two junctions.
            (vec![(1.2, 0.05), (1.35, 0.5), (1.6, 3.0)], (1.0, 3.0)),
        ] {
            let TransistorLaw {
                emitter,
                collector,
                forward,
                reverse,
                ..
            } = law(&part(&points, saturation), 25.0);
            let (volts, amps) = points[points.len() - 1];
            assert!((drop(emitter, amps) - volts).abs() < 2e-3);
            if points.len() == 2 {
                let (volts, amps) = points[0];
                assert!((drop(emitter, amps) - volts).abs() < 2e-3);
            }
            let (i_c, i_b) = (saturation.1, saturation.1 / 10.0);
            let e = ((1.0 - reverse) * i_c + i_b) / (1.0 - forward * reverse);
            let r = forward * e - i_c;
            let ohms = super::saturation(&part(&points, saturation)).1;
            let v_ce = drop(emitter, e) - drop(collector, r) + ohms * i_c;
            assert!((v_ce - saturation.0).abs() < 1e-3, "{v_ce} {saturation:?}");
        }
    }

    /// A silicon junction at constant current falls by about 2 mV per kelvin (common practice, no source).
    #[test]
    fn a_warm_junction_drops_less() {
        let one = part(&[(0.65, 0.1)], (0.2, 0.1));
        let per_kelvin =
            (drop(law(&one, 75.0).emitter, 0.1) - drop(law(&one, 25.0).emitter, 0.1)) / 50.0;
        assert!((-2.4e-3..-1.4e-3).contains(&per_kelvin), "{per_kelvin}");
        assert!(thermal_voltage(25.0) > 0.0256);
    }
}
