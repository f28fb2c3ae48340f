//! Temperatures: box air, sinks, junctions, copper. Solved upward from the room, over the steady state.

use crate::lower::Lowered;
use crate::reading::Reading;
use quietrail_job::model::{BoxRise, Job, Part, PartKind};
use std::collections::BTreeMap;

/// Distance between a lamp that has been looked at and one that has not.
const UNSEEN: f64 = 1e3;

/// Melting point of copper, °C: a fixed point of the International Temperature Scale of 1990. From memory.
const COPPER_MELTS: f64 = 1084.62;

/// Hottest air in the box, °C.
pub fn hottest_air(job: &Job) -> f64 {
    let rise = match &job.air.rise {
        BoxRise::Given(rise) => rise.value.high,
        BoxRise::Through(_) => 20.0,
    };
    job.air.room.value.high + rise
}

/// Temperatures of parts, °C, and the slow state of lamps.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Temperatures {
    /// Of the air in the box.
    pub air: f64,
    /// Of a part's junction or copper, by part.
    of_part: BTreeMap<String, f64>,
    /// rms volts of lamps, by part.
    lamp_volts: BTreeMap<String, f64>,
}

impl Temperatures {
    /// All at the air of a box that is not yet warm.
    pub fn at_rest(job: &Job) -> Self {
        let room = job.air.room.nominal();
        let rise = match &job.air.rise {
            BoxRise::Given(rise) => rise.nominal(),
            BoxRise::Through(_) => 0.0,
        };
        Self {
            air: room + rise,
            ..Self::default()
        }
    }

    /// Of the junction of a rectifier's diodes, a diode, a regulator.
    pub fn junction(&self, part: &str) -> f64 {
        self.of_part.get(part).copied().unwrap_or(self.air)
    }

    /// Of a transformer's copper.
    pub fn copper(&self, part: &str) -> f64 {
        self.junction(part)
    }

    /// rms volts of a lamp; at first its rated ones.
    pub fn lamp_volts(&self, part: &str, rated: f64) -> f64 {
        self.lamp_volts.get(part).copied().unwrap_or(rated)
    }

    /// Largest difference to others, K; a lamp's volts count as kelvins. A part that only one side knows
    /// stands at the other's air.
    pub fn distance(&self, other: &Self) -> f64 {
        let mut worst = (self.air - other.air).abs();
        for part in self.of_part.keys().chain(other.of_part.keys()) {
            worst = worst.max((self.junction(part) - other.junction(part)).abs());
        }
        for part in self.lamp_volts.keys().chain(other.lamp_volts.keys()) {
            let volts = |of: &Self| of.lamp_volts.get(part).copied();
            worst = worst.max(match (volts(self), volts(other)) {
                (Some(one), Some(two)) => (one - two).abs(),
                // Not looked at yet: far, but a distance.
                _ => UNSEEN,
            });
        }
        worst
    }

    /// These, moved as far as `to` is from `from`.
    #[must_use]
    pub fn moved(&self, from: &Self, to: &Self) -> Self {
        let mut moved = self.clone();
        moved.air += to.air - from.air;
        for part in to.of_part.keys() {
            let celsius = self.junction(part) + to.junction(part) - from.junction(part);
            moved.of_part.insert(part.clone(), celsius);
        }
        moved
    }

    /// Puts a temperature on record.
    fn set(&mut self, part: &str, celsius: f64) {
        self.of_part.insert(part.to_owned(), celsius);
    }

    /// Others, but lamps only halfway there.
    ///
    /// Whether a part is past the melting point of copper: what would be settled there is no supply.
    pub fn melts(&self) -> bool {
        self.of_part.values().any(|celsius| *celsius > COPPER_MELTS)
    }

    /// Whether the way on from here to `next` leads back along the way from `before`.
    pub fn turns(&self, before: &Self, next: &Self) -> bool {
        let along = |from: f64, here: f64, to: f64| (here - from) * (to - here);
        let of_parts = next.of_part.keys().map(|part| {
            along(
                before.junction(part),
                self.junction(part),
                next.junction(part),
            )
        });
        along(before.air, self.air, next.air) + of_parts.sum::<f64>() < 0.0
    }

    /// Half of the way to others: where hotter copper takes less power, whole steps could swing for ever.
    #[must_use]
    pub fn halfway(&self, other: &Self) -> Self {
        let mut next = self.towards(other);
        next.air = 0.5 * (self.air + next.air);
        for (part, celsius) in &mut next.of_part {
            *celsius = 0.5 * (self.junction(part) + *celsius);
        }
        next
    }

    /// Heat is followed upward as it rises. A lamp pulls the other way: brighter is more resistance is less
    /// voltage, and whole steps could swing for ever.
    #[must_use]
    pub fn towards(&self, other: &Self) -> Self {
        let mut next = other.clone();
        for (part, volts) in &mut next.lamp_volts {
            *volts = 0.5 * (*volts + self.lamp_volts(part, *volts));
        }
        next
    }
}

/// The temperatures that a steady state's powers lead to.
pub fn temperatures(lowered: &Lowered, reading: &Reading<'_>) -> Temperatures {
    let job = &lowered.job;
    let mut all = Temperatures::at_rest(job);
    if let BoxRise::Through(to_room) = &job.air.rise {
        // All that the outlet gives ends as heat in the box.
        let given = -power(lowered, reading, crate::lower::OUTLET);
        all.air = job.air.room.nominal() + to_room.nominal() * given;
    }
    // Only those that the equations depend on; the others are read when asked for.
    let matters = |part: &&Part| {
        matches!(
            part.kind,
            PartKind::Rectifier(_)
                | PartKind::Diode(_)
                | PartKind::Transistor(_)
                | PartKind::Transformer(_)
        )
    };
    for part in job.parts().filter(matters) {
        if let Some(celsius) = temperature(lowered, reading, part, all.air) {
            all.set(&part.name, celsius);
        }
    }
    for (name, elements) in &lowered.parts {
        let is_lamp = name == crate::lower::STEP_LAMP
            || job
                .part(name)
                .is_some_and(|part| matches!(part.kind, PartKind::Lamp(_)));
        if is_lamp && let Some(&lamp) = elements.own.first() {
            let volts = reading.rms_voltage(lamp);
            all.lamp_volts.insert(name.clone(), volts);
        }
    }
    all
}

/// Mean power into all of a part's elements, W.
pub fn power(lowered: &Lowered, reading: &Reading<'_>, part: &str) -> f64 {
    let Some(elements) = lowered.parts.get(part) else {
        return 0.0;
    };
    elements
        .own
        .iter()
        .map(|&element| reading.power(element))
        .sum()
}

/// Temperature of a part's junction or copper, where the job gives what it takes to know.
pub fn temperature(lowered: &Lowered, reading: &Reading<'_>, part: &Part, air: f64) -> Option<f64> {
    let own = || power(lowered, reading, &part.name);
    match &part.kind {
        PartKind::Regulator(regulator) => {
            if let Some(sink) = &regulator.sink {
                let to_case = regulator.junction_to_case.as_ref()?.nominal();
                let base = sink_temperature(lowered, reading, sink, air)?;
                return Some(base + own() * (to_case + regulator.case_to_sink.nominal()));
            }
            Some(air + own() * regulator.junction_to_air.as_ref()?.nominal())
        }
        PartKind::Transistor(transistor) => {
            if let Some(sink) = &transistor.sink {
                let to_case = transistor.junction_to_case.as_ref()?.nominal();
                let base = sink_temperature(lowered, reading, sink, air)?;
                return Some(base + own() * (to_case + transistor.case_to_sink.nominal()));
            }
            Some(air + own() * transistor.junction_to_air.as_ref()?.nominal())
        }
        PartKind::Shunt(shunt) => Some(air + own() * shunt.junction_to_air.as_ref()?.nominal()),
        PartKind::Rectifier(rectifier) => {
            let base = match &rectifier.sink {
                Some(sink) => sink_temperature(lowered, reading, sink, air)?,
                None => air,
            };
            let diodes = lowered.parts.get(&part.name)?.own.len().max(1) as f64;
            Some(base + own() / diodes * rectifier.rated.thermal.as_ref()?.nominal())
        }
        PartKind::Diode(diode) => Some(air + own() * diode.rated.thermal.as_ref()?.nominal()),
        PartKind::Transformer(transformer) => Some(match &transformer.to_air {
            Some(to_air) => air + own() * to_air.nominal(),
            None => air + transformer.rise.nominal(),
        }),
        _ => None,
    }
}

/// Temperature of a sink: all parts that name it heat it.
pub fn sink_temperature(
    lowered: &Lowered,
    reading: &Reading<'_>,
    sink: &str,
    air: f64,
) -> Option<f64> {
    let PartKind::Sink(plate) = &lowered.job.part(sink)?.kind else {
        return None;
    };
    let heat: f64 = lowered
        .job
        .parts
        .iter()
        .filter(|part| sits_on(part, sink))
        .map(|part| power(lowered, reading, &part.name))
        .sum();
    Some(air + heat * plate.to_air.nominal())
}

/// Whether a part names a sink.
pub fn sits_on(part: &Part, sink: &str) -> bool {
    match &part.kind {
        PartKind::Regulator(regulator) => regulator.sink.as_deref() == Some(sink),
        PartKind::Transistor(transistor) => transistor.sink.as_deref() == Some(sink),
        PartKind::Rectifier(rectifier) => rectifier.sink.as_deref() == Some(sink),
        _ => false,
    }
}
