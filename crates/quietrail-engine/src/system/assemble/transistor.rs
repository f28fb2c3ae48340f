//! A transistor as two diodes, and what each hands over from the third lead.

use super::{Device, Draft, Flow, Law, Probe, Values};
use crate::circuit::{ElementId, Node};
use crate::diode::DiodeLaw;
use crate::transistor::TransistorLaw;
use smallvec::smallvec;

/// Two ends in the direction in which the current flows.
fn turned<T>(law: &TransistorLaw, a: T, b: T) -> (T, T) {
    if law.is_pnp { (b, a) } else { (a, b) }
}

impl Draft {
    /// Its currents: collector, base.
    pub(super) fn transistor(
        &mut self,
        id: ElementId,
        (collector, base, emitter): (Node, Node, Node),
        law: &TransistorLaw,
    ) -> Flow {
        let (v_c, v_b, v_e) = (
            self.voltage(collector),
            self.voltage(base),
            self.voltage(emitter),
        );
        let sign = if law.is_pnp { -1.0 } else { 1.0 };
        let back = self.across(v_c, v_b);
        let mut junction = |outer: Option<usize>, diode: DiodeLaw, feedback: f64| {
            let (plus, minus) = turned(law, v_b, outer);
            let (row, current) = self.branch(plus, minus, id);
            let mut across = self.across(plus, minus);
            across.add(&back, sign * feedback);
            across.add(&current, -diode.series());
            self.devices.push(Device {
                row,
                law: Law::Diode(diode),
                inputs: vec![across, current.clone()],
            });
            current
        };
        let forward = junction(v_e, law.emitter, law.feedback);
        let reverse = junction(v_c, law.collector, 0.0);
        for (outer, current, share) in [(v_c, &forward, law.forward), (v_e, &reverse, law.reverse)]
        {
            let (from, to) = turned(law, outer, v_b);
            self.flow(from, to, &Probe::sum(&[(current, share)]));
        }
        Flow {
            currents: smallvec![
                Probe::sum(&[(&forward, law.forward), (&reverse, -1.0)]),
                Probe::sum(&[(&forward, 1.0 - law.forward), (&reverse, 1.0 - law.reverse)]),
            ],
            ends: smallvec![turned(law, collector, emitter), turned(law, base, emitter)],
            headroom: None,
        }
    }
}

/// What a junction's figures must be, and whether zero is allowed.
pub(super) fn junction_values(law: &DiodeLaw) -> Values {
    match *law {
        DiodeLaw::Exponential {
            saturation,
            slope_voltage,
            series,
            leakage,
        } => smallvec![
            ("saturation current", saturation, false),
            ("ideality", slope_voltage, false),
            ("series resistance", series, true),
            ("leakage", leakage, true),
        ],
        DiodeLaw::Ideal { drop, slope } => smallvec![("drop", drop, true), ("slope", slope, true)],
    }
}
