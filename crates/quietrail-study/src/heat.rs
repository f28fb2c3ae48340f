//! Temperatures: box air, sinks, junctions, copper. Solved upward from the room, over the steady state.

mod bounds;

use crate::lower::Lowered;
use crate::reading::Reading;
pub(crate) use bounds::Bounds;
use quietrail_engine::ElementId;
use quietrail_job::model::{BoxRise, Job, Part, PartKind, Rectifier, RectifierForm};
use std::collections::BTreeMap;

/// Distance between a lamp that has been looked at and one that has not.
const UNSEEN: f64 = 1e3;

/// Least share of the way to what powers lead to that a round goes: the base voltage of a hot boost transistor took its current
/// away within a hundredth of a kelvin.
const LEAST_SHARE: f64 = 5e-4;
/// The same at most, of a part by itself: what heats another that heats it back has further to go than powers lead it to at once.
const MOST_SHARE: f64 = 2.0;
/// By how much the share may become larger from one round to the next, where ways lead on after some that led back.
const GROWTH: f64 = 4.0;

/// Melting point of copper, °C: a fixed point of the International Temperature Scale of 1990. From memory.
const COPPER_MELTS: f64 = 1084.62;
/// Air that no box on earth is as cold as, °C.
const COLDEST_AIR: f64 = -100.0;

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

    /// These, moved so many times as far as `to` is from `from`.
    #[must_use]
    pub fn moved(&self, (from, to): (&Self, &Self), times: f64) -> Self {
        let mut moved = self.clone();
        moved.air += times * (to.air - from.air);
        for part in to.of_part.keys() {
            let celsius = self.junction(part) + times * (to.junction(part) - from.junction(part));
            moved.of_part.insert(part.clone(), celsius);
        }
        for (part, volts) in &to.lamp_volts {
            let further = times * (volts - from.lamp_volts(part, *volts));
            moved
                .lamp_volts
                .insert(part.clone(), self.lamp_volts(part, *volts) + further);
        }
        moved
    }

    /// Puts a temperature on record.
    fn set(&mut self, part: &str, celsius: f64) {
        self.of_part.insert(part.to_owned(), celsius);
    }

    /// The hottest part past the melting point of copper, if one is: what would be settled there is no supply.
    pub fn melting(&self) -> Option<&str> {
        let past = self.of_part.iter().filter(|part| *part.1 > COPPER_MELTS);
        let hottest = past.max_by(|a, b| a.1.total_cmp(b.1));
        hottest.map(|(part, _)| part.as_str())
    }

    /// These, but nothing hotter than the melting point of copper, and no part colder than the air around it: what is foretold by slopes from
    /// far off may stand below absolute zero. A first round from cold copper and full brightness may lead
    /// far beyond where hotter copper will hold; what still leads beyond from there has no bound that a supply lives to see.
    #[must_use]
    pub fn held(&self) -> Self {
        let mut held = self.clone();
        held.air = held.air.clamp(COLDEST_AIR, COPPER_MELTS);
        for celsius in held.of_part.values_mut() {
            *celsius = celsius.max(held.air).min(COPPER_MELTS);
        }
        held
    }

    /// What others have more than these: of the air, of each part that they know, of each lamp.
    fn ways_to(&self, other: &Self) -> Vec<f64> {
        let parts = other.of_part.iter();
        let lamps = other.lamp_volts.iter();
        let of_air = std::iter::once(other.air - self.air);
        let of_parts = parts.map(|(part, celsius)| celsius - self.junction(part));
        let of_lamps = lamps.map(|(part, volts)| volts - self.lamp_volts(part, *volts));
        of_air.chain(of_parts).chain(of_lamps).collect()
    }

    /// Share of the way from here to `next` to go, after a share of the way from `before` to `then` led here. More of it,
    /// up to all, where the ways lead on; where they lead back, as much as ends them (Aitken's process for vectors: Irons and Tuck,
    /// *Int. J. Numer. Methods Eng.* 1 (1969) 275). Hotter copper takes less power, a brighter lamp has more resistance:
    /// whole steps could swing for ever.
    pub fn share(&self, next: &Self, (before, then): (&Self, &Self), last: f64) -> f64 {
        let (first, second) = (before.ways_to(then), self.ways_to(next));
        if first.len() != second.len() {
            return last;
        }
        let (mut along, mut square) = (0.0, 0.0);
        for (first, second) in first.iter().zip(&second) {
            along += first * (second - first);
            square += (second - first) * (second - first);
        }
        if along < 0.0 {
            (-last * along / square).clamp(LEAST_SHARE, 1.0)
        } else {
            // Further and further: heat is followed upward as it rises, but not at once past what led back before.
            (GROWTH * last).min(1.0)
        }
    }

    /// The same for the air, each part and each lamp by itself, from how its own way changed as it moved (secants): a transistor
    /// that turns back within a kelvin does not hold up copper that has thirty to go. Of those not told by `last`, all of it.
    pub fn own_shares(
        &self,
        next: &Self,
        (before, then): (&Self, &Self),
        last: &[f64],
    ) -> Vec<f64> {
        let (first, second) = (before.ways_to(then), self.ways_to(next));
        let moved = before.ways_to(self);
        if first.len() != second.len() || moved.len() != second.len() {
            return vec![1.0; second.len()];
        }
        let share = |k: usize| {
            let turned = second[k] - first[k];
            if turned * moved[k] < 0.0 {
                (-moved[k] / turned).clamp(LEAST_SHARE, MOST_SHARE)
            } else {
                (GROWTH * last.get(k).copied().unwrap_or(1.0)).min(1.0)
            }
        };
        (0..second.len()).map(share).collect()
    }

    /// So much of the way to others of each, in the order of [`Self::own_shares`].
    #[must_use]
    pub fn towards_each(&self, other: &Self, shares: &[f64]) -> Self {
        let mut next = other.clone();
        let mut shares = shares.iter().copied();
        let mut share = || shares.next().unwrap_or(1.0);
        next.air = self.air + share() * (next.air - self.air);
        for (part, celsius) in &mut next.of_part {
            *celsius = self.junction(part) + share() * (*celsius - self.junction(part));
        }
        for (part, volts) in &mut next.lamp_volts {
            let own = self.lamp_volts(part, *volts);
            *volts = own + share().min(0.5) * (*volts - own);
        }
        next
    }

    /// So much of the way to others. Lamps only half of it: a brighter one is more resistance is less voltage.
    #[must_use]
    pub fn towards(&self, other: &Self, share: f64) -> Self {
        let mut next = other.clone();
        next.air = self.air + share * (next.air - self.air);
        for (part, celsius) in &mut next.of_part {
            *celsius = self.junction(part) + share * (*celsius - self.junction(part));
        }
        for (part, volts) in &mut next.lamp_volts {
            let own = self.lamp_volts(part, *volts);
            *volts = own + share.min(0.5) * (*volts - own);
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

/// Mean power of that diode of a rectifier which makes most heat, W. Diodes that fill one reservoir share its current alike; those
/// that fill the other one of a split rectifier have that one's.
pub fn hottest_diode(
    lowered: &Lowered,
    reading: &Reading<'_>,
    name: &str,
    rectifier: &Rectifier,
) -> Option<f64> {
    let elements = lowered.parts.get(name)?;
    let mean = |diodes: &[ElementId]| {
        let all: f64 = diodes.iter().map(|&diode| reading.power(diode)).sum();
        all / diodes.len().max(1) as f64
    };
    Some(match rectifier.form {
        RectifierForm::Split { .. } => {
            let (feeding, draining) = elements.own.split_at(elements.into);
            mean(feeding).max(mean(draining))
        }
        _ => mean(&elements.own),
    })
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
            let watts = hottest_diode(lowered, reading, &part.name, rectifier)?;
            Some(base + watts * rectifier.rated.thermal.as_ref()?.nominal())
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

#[cfg(test)]
mod tests {
    use super::{COPPER_MELTS, Temperatures};

    /// Ways up that led 290 K back from a little further on are followed in shares that grow from round to round.
    #[test]
    fn what_led_back_is_not_gone_to_at_once_again() {
        let at = |celsius: f64| {
            let mut all = Temperatures::default();
            all.set("Q1", celsius);
            all
        };
        let share = |here: (f64, f64), before: (f64, f64), last| {
            at(here.0).share(&at(here.1), (&at(before.0), &at(before.1)), last)
        };
        let back = share((460.0, 170.0), (454.0, 460.0), 1.0);
        assert!((back - 6.0 / 296.0).abs() < 1e-12, "{back}");
        assert_eq!(share((454.2, 460.4), (454.1, 460.2), back), 4.0 * back);
        assert_eq!(share((454.2, 460.4), (454.1, 460.2), 1.0), 1.0);
    }

    #[test]
    fn what_is_held_is_no_hotter_than_melting_copper_and_tells_what_would_be() {
        let mut warmth = Temperatures {
            air: 40.0,
            ..Temperatures::default()
        };
        warmth.set("D1", 200.0);
        assert_eq!(warmth.melting(), None);
        warmth.set("T1", 1290.0);
        warmth.set("D2", 2100.0);
        assert_eq!(warmth.melting(), Some("D2"));
        let held = warmth.held();
        assert_eq!(held.melting(), None);
        assert_eq!(held.junction("D1"), 200.0);
        assert_eq!(held.junction("T1"), COPPER_MELTS);
        assert_eq!(held.junction("D2"), COPPER_MELTS);
        assert_eq!(held.air, 40.0);
    }

    #[test]
    fn what_is_held_is_no_colder_than_its_air() {
        let mut from = Temperatures {
            air: 40.0,
            ..Temperatures::default()
        };
        from.set("Q1", 90.0);
        let mut to = from.clone();
        to.set("Q1", 80.0);
        let foretold = from.moved((&from, &to), 100.0);
        assert_eq!(foretold.junction("Q1"), -910.0);
        assert_eq!(foretold.held().junction("Q1"), 40.0);
    }
}
