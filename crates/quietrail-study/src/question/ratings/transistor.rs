//! Ratings of transistors and shunt regulators.

use super::{Ratings, largest};
use crate::question::Ask;
use quietrail_engine::{Output, Signal};
use quietrail_job::model::{Shunt, Transistor, What};

/// Volts, currents, power and junction of a transistor.
pub(super) fn transistor(all: &mut Ratings<'_>, part: &Transistor) {
    let name = all.part.name.clone();
    let Some(element) = all.lowered.element(&name) else {
        return;
    };
    let node = |name: &str| all.lowered.node(name);
    let (Some(collector), Some(base), Some(emitter)) =
        (node(&part.collector), node(&part.base), node(&part.emitter))
    else {
        return;
    };
    let turned = |a, b| if part.is_pnp { (b, a) } else { (a, b) };
    let (plus, minus) = turned(collector, emitter);
    let across = largest(vec![Output::Peak(Signal::Voltage(plus, minus))]);
    all.max_of(
        "collector to emitter",
        What::Peak,
        part.rated.volts.as_ref(),
        across,
    );
    let (plus, minus) = turned(emitter, base);
    let reverse = largest(vec![Output::Peak(Signal::Voltage(plus, minus))]);
    let figure = part.rated.reverse.as_ref();
    all.max_of("emitter to base", What::ReverseVoltage, figure, reverse);
    // A junction that conducts all the time goes without saying.
    if let Some(asked) = all.questions.last_mut()
        && figure.is_some()
    {
        asked.is_quiet = true;
    }
    for (rating, figure, port) in [
        ("collector current", &part.rated.current, 0),
        ("base current", &part.rated.base_current, 1),
    ] {
        let peak = largest(vec![Output::Peak(Signal::Current(element, port))]);
        all.max_of(rating, What::PeakCurrent, figure.as_ref(), peak);
    }
    let ask = Ask::Power(name.clone());
    all.max_of("power", What::Power, part.rated.power.as_ref(), ask);
    let ask = Ask::Temperature(name);
    all.max_of(
        "junction",
        What::Temperature,
        part.rated.junction.as_ref(),
        ask,
    );
}

/// Least and highest current, power and junction of a shunt regulator.
pub(super) fn shunt(all: &mut Ratings<'_>, part: &Shunt) {
    let name = all.part.name.clone();
    let Some(element) = all.lowered.element(&name) else {
        return;
    };
    let signal = Signal::Current(element, 0);
    if let Some(least) = &part.least
        && least.value.high > 0.0
    {
        // At every instant: what it lacks at the valley is missing from its voltage.
        let ask = largest(vec![Output::Valley(signal.clone())]);
        all.push("least current", What::Current, least, false, ask);
    }
    let peak = largest(vec![Output::Peak(signal)]);
    all.max_of("current", What::PeakCurrent, part.amps.as_ref(), peak);
    let ask = Ask::Power(name.clone());
    all.max_of("power", What::Power, part.watts.as_ref(), ask);
    if part.junction_to_air.is_some() {
        let ask = Ask::Temperature(name);
        all.max_of("junction", What::Temperature, part.junction.as_ref(), ask);
    }
}
