//! Diodes that catch what a capacitor would drive through a regulator.

use crate::{setpoint, stability};
use quietrail_job::model::{Job, PartKind, Regulator};

/// A diode that catches what a capacitor would drive through a part: from output to input, for when the input is shorted or falls
/// first; from adjust pin to output, for when the output is shorted.
#[derive(Clone, Debug, PartialEq)]
pub struct Diode {
    /// The capacitance, F.
    pub farads: f64,
    /// Energy in it, J.
    pub joules: f64,
    /// Most that the part bears without, F.
    pub bears: f64,
    /// Whether the job gives that; else it is common practice.
    pub is_stated: bool,
    /// Whether the capacitance is more than that.
    pub wanted: bool,
    /// The diode that the job draws there.
    pub drawn: Option<String>,
}

/// Output capacitance above which a discharge backwards through a regulator is caught by a diode, F (common practice,
/// no source: 20 µF and more at a few volts).
const CATCH: f64 = 20e-6;
/// The same of a capacitor on the adjust pin, through it, F (common practice, no source).
const ADJUST_CATCH: f64 = 10e-6;

/// Whether a diode from output to input is wanted, and the one that is drawn.
pub(crate) fn output(job: &Job, regulator: &Regulator) -> Diode {
    let farads = stability::at_output(job, regulator);
    let volts = regulator.set.size() + setpoint::lift(job, regulator);
    let (anode, cathode) = regulator.in_order(&regulator.into, &regulator.from);
    let bears = regulator
        .rated
        .backwards
        .as_ref()
        .map_or(CATCH, |farads| farads.value.low);
    Diode {
        farads,
        joules: 0.5 * farads * volts * volts,
        bears,
        is_stated: regulator.rated.backwards.is_some(),
        wanted: farads > bears,
        drawn: job.parts.iter().find_map(|part| match &part.kind {
            PartKind::Diode(diode)
                if diode.between.plus == anode && diode.between.minus == cathode =>
            {
                Some(part.name.clone())
            }
            _ => None,
        }),
    }
}

/// Whether one from adjust pin to output is wanted, where a capacitor hangs on the pin: it discharges through it when the output is shorted.
pub(crate) fn adjust(regulator: &Regulator) -> Option<Diode> {
    let pin = regulator.set.adjust_pin()?;
    let farads = pin.bypass?;
    let volts = (regulator.set.volts() - pin.reference).abs();
    (farads > 0.0).then_some(Diode {
        farads,
        joules: 0.5 * farads * volts * volts,
        bears: ADJUST_CATCH,
        is_stated: false,
        wanted: farads > ADJUST_CATCH,
        drawn: None,
    })
}
