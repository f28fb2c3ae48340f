//! Ratings that the job does not give, so that nothing is judged by them.
//!
//! Only what a data sheet of the kind states as a matter of course is missed. A repetitive peak current of a diode or a reverse
//! voltage of a base is judged where it is given, and not missed where it is not.

use crate::finding::Unrated;
use quietrail_job::model::{DiodeRatings, Job, PartKind};

/// The parts of a job that lack ratings, in its order.
pub(crate) fn of(job: &Job) -> Vec<Unrated> {
    let parts = job.parts.iter();
    parts
        .map(|part| Unrated {
            part: part.name.clone(),
            ratings: missing(&part.kind),
        })
        .filter(|unrated| !unrated.ratings.is_empty())
        .collect()
}

fn missing(kind: &PartKind) -> Vec<String> {
    let mut all = Vec::new();
    let mut lacks = |is_there: bool, rating: &str| {
        if !is_there {
            all.push(rating.to_owned());
        }
    };
    match kind {
        PartKind::Switch(switch) => lacks(switch.rated.is_some(), "current"),
        PartKind::Capacitor(capacitor) => {
            let rated = &capacitor.rated;
            lacks(rated.volts.is_some() || rated.ac.is_some(), "voltage");
            lacks(capacitor.rated.ripple.is_some(), "ripple current");
        }
        PartKind::Resistor(resistor) => lacks(resistor.rated.is_some(), "power"),
        PartKind::Inductor(inductor) => lacks(inductor.rated.is_some(), "current"),
        PartKind::Diode(diode) => diodes(&diode.rated, &mut lacks),
        PartKind::Rectifier(rectifier) => diodes(&rectifier.rated, &mut lacks),
        PartKind::Regulator(regulator) => {
            let rated = &regulator.rated;
            let across = rated.input.is_some() || rated.differential.is_some();
            lacks(across, "input voltage");
            lacks(rated.current.is_some(), "output current");
            lacks(rated.junction.is_some(), "junction");
        }
        PartKind::Transistor(transistor) => {
            let rated = &transistor.rated;
            lacks(rated.volts.is_some(), "collector to emitter");
            lacks(rated.current.is_some(), "collector current");
            lacks(rated.power.is_some() || rated.junction.is_some(), "power");
        }
        PartKind::Shunt(shunt) => {
            lacks(shunt.amps.is_some() || shunt.watts.is_some(), "current");
            lacks(shunt.watts.is_some() || shunt.junction.is_some(), "power");
        }
        PartKind::Transformer(transformer) => {
            for winding in &transformer.secondary {
                lacks(
                    winding.rated.is_some(),
                    &format!("{} current", winding.name),
                );
            }
            let heat = transformer.copper_max.is_some() || transformer.watts_max.is_some();
            lacks(heat, "copper temperature");
        }
        PartKind::Load(load) => lacks(load.volts.is_some(), "voltage that it bears"),
        // A fuse and a lamp have theirs, or are none.
        PartKind::Fuse(_)
        | PartKind::Lamp(_)
        | PartKind::VariableTransformer(_)
        | PartKind::Wire(_)
        | PartKind::Sink(_) => {}
    }
    all
}

fn diodes(rated: &DiodeRatings, lacks: &mut dyn FnMut(bool, &str)) {
    lacks(rated.reverse.is_some(), "reverse voltage");
    lacks(rated.average.is_some(), "average current");
    lacks(
        rated.junction.is_some() && rated.thermal.is_some(),
        "junction",
    );
}

#[cfg(test)]
mod tests {
    use super::of;

    /// What is written is not missed, and what is not written is, part by part.
    #[test]
    fn only_what_nobody_wrote_is_missed() {
        let text = "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n\
            [transformer.T1]\nprimary = [{ name = \"P\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [{ name = \
            \"S\", open = \"16 V at 230 V\", resistance = \"0.5 Ω\" }]\n[rectifier.D1]\nfrom = \"T1.S\"\ninto = \"raw\"\nform = \
            \"bridge\"\npoints = [\"0.7 V at 100 mA\", \"0.95 V at 3 A\"]\nrated = { reverse = \"100 V\" }\n[capacitor.C1]\nat = \
            \"raw\"\nvalue = \"4700 µF\"\nesr = \"50 mΩ\"\nrated = { volts = \"35 V\" }\n[resistor.R1]\nat = \"raw\"\nvalue = \
            \"1k\"\nrated = \"1 W\"\n[load.lamp]\nat = \"raw\"\ndraws = { on = \"100 mA\" }\n";
        let reading = quietrail_job::read(text, None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
        let told: Vec<String> = of(&job)
            .iter()
            .map(|one| format!("{}: {}", one.part, one.ratings.join(", ")))
            .collect();
        assert_eq!(
            told,
            [
                "T1: S current, copper temperature",
                "D1: average current, junction",
                "C1: ripple current",
                "lamp: voltage that it bears",
            ]
        );
    }
}
