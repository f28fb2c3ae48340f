//! The core: rules for its size, flux on this mains, and what the no-load current tells of it; insulation.

use super::Known;
use super::doubt::{Doubt, InsulationAdvice};
use quietrail_engine::math::{ln, pow};
use quietrail_job::model::Job;
use quietrail_job::model::unmarked::{NoLoadReading, Unmarked};

/// Power of the volts beyond which the core is taken to saturate: the knee. Common practice, no source.
const KNEE: f64 = 2.5;
/// No-load share of the core's volt-amperes, and power factor, beyond which a shorted turn is likely. Common practice,
/// no source.
const SHORTED_SHARE: f64 = 0.35;
const SHORTED_FACTOR: f64 = 0.85;
/// Insulation below which a transformer is not put on the mains, and below which it is dried first, Ω. From memory:
/// the product standard asks 2 MΩ of basic insulation; dry old paper reads far more.
const REJECT: f64 = 2e6;
const DRY: f64 = 20e6;
/// Lowest test voltage that tells much: portable-appliance practice is 500 V.
const TEST_VOLTS: f64 = 500.0;
/// Flux over that of the marking that is worth a word.
const FLUX: f64 = 1.05;

/// Volt-amperes of a lamination core by the area of its middle limb, sides in metres: 26 times the square of the area in
/// square inches at 50 Hz, which is (mm²)²/16042, in proportion to the frequency. A guide; workshop texts.
pub fn area_rule(tongue: f64, stack: f64, hertz: f64) -> f64 {
    let square_mm = tongue * stack * 1e6;
    square_mm * square_mm / 16_042.0 * hertz / 50.0
}

/// Volt-amperes of a toroid by its weight in kilograms: about 62 times its 4/3 power at 50 Hz. From memory; a guide.
pub fn weight_rule(kilograms: f64, hertz: f64) -> f64 {
    62.0 * pow(kilograms, 4.0 / 3.0) * hertz / 50.0
}

/// What the core, the mains and the insulation are, doubtful or not.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Iron {
    /// Flux on this mains, where something is marked.
    pub flux: Option<Flux>,
    /// The mains over a day, where it was read.
    pub day: Option<MainsDay>,
    /// How no-load current rises with the volts, where it was read.
    pub curve: Option<Curve>,
    /// Insulation readings with what they lead to.
    pub insulation: Vec<InsulationFound>,
    /// Whether the core is a ring without a weight, for which there is no rule.
    pub is_ring_unweighed: bool,
}

/// Flux in the core: volts per hertz against those of the marking.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flux {
    /// Marked volts and hertz.
    pub marked: (f64, f64),
    /// Of the mains as written, nominal.
    pub nominal: f64,
    /// At its highest.
    pub highest: f64,
    /// Volts at the frequency of this mains with which the flux is that of the marking.
    pub permitted: f64,
}

/// The mains over a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MainsDay {
    /// Lowest and highest read, V.
    pub low: f64,
    /// Highest.
    pub high: f64,
    /// How many readings.
    pub count: usize,
    /// Lowest and highest as shares of the nominal mains: off-load volts and raw DC move with them.
    pub shares: (f64, f64),
    /// Highest against the marked volts per hertz, where something is marked.
    pub flux: Option<f64>,
}

/// How no-load current rises with the volts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    /// How many points were read on the leads of the highest.
    pub points: usize,
    /// Power of the volts between the two highest points; absent with one point.
    pub power: Option<f64>,
    /// Highest volts read.
    pub volts: f64,
    /// Volt-amperes there.
    pub volt_amperes: f64,
    /// Those brought to the mains, as a share of what the core's size suggests.
    pub share: Option<f64>,
    /// Power factor there, where watts were read.
    pub power_factor: Option<f64>,
    /// What it looks like.
    pub pattern: Pattern,
}

/// What a no-load curve looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pattern {
    /// One point tells no shape.
    OnePoint,
    /// No sign of either.
    Ordinary,
    /// Rises much faster than the volts.
    Saturating,
    /// Large and straight, or in phase.
    ShortedTurns,
}

/// An insulation reading and what it leads to.
#[derive(Clone, Debug, PartialEq)]
pub struct InsulationFound {
    /// Between what.
    pub between: (String, String),
    /// Ω.
    pub ohms: f64,
    /// Test voltage, V.
    pub volts: f64,
    /// Whether it had been kept damp; `None` where not said.
    pub damp: Option<bool>,
    /// What to do; `None`: nothing against it.
    pub advice: Option<InsulationAdvice>,
}

pub(super) fn found(unmarked: &Unmarked, job: &Job) -> Iron {
    let mains = &job.mains.voltage.value;
    let frequency = job.mains.frequency.nominal();
    let flux = unmarked.marked.as_ref().map(|(volts, hertz)| {
        let marked = volts.nominal() / hertz.nominal();
        Flux {
            marked: (volts.nominal(), hertz.nominal()),
            nominal: mains.nominal / frequency / marked,
            highest: mains.high / frequency / marked,
            permitted: marked * frequency,
        }
    });
    let read = || unmarked.day.iter().map(|read| &read.value);
    let low = read().map(|value| value.low).reduce(f64::min);
    let high = read().map(|value| value.high).reduce(f64::max);
    let day = low.zip(high).map(|(low, high)| MainsDay {
        low,
        high,
        count: unmarked.day.len(),
        shares: (low / mains.nominal, high / mains.nominal),
        flux: flux.map(|flux| high / flux.permitted),
    });
    let insulation = unmarked
        .insulation
        .iter()
        .map(|reading| InsulationFound {
            between: reading.between.clone(),
            ohms: reading.reads.value,
            volts: reading.at.nominal(),
            damp: reading.damp,
            advice: advice(reading.reads.value, reading.damp),
        })
        .collect();
    Iron {
        flux,
        day,
        curve: curve(unmarked, mains.nominal, frequency),
        insulation,
        is_ring_unweighed: matches!(
            unmarked.core,
            Some(quietrail_job::model::unmarked::Core::Toroid { weight: None, .. })
        ),
    }
}

fn advice(ohms: f64, damp: Option<bool>) -> Option<InsulationAdvice> {
    if ohms < REJECT {
        Some(InsulationAdvice::Reject)
    } else if ohms < DRY || damp == Some(true) {
        Some(InsulationAdvice::DryAndRetest)
    } else {
        None
    }
}

pub(super) fn doubts(unmarked: &Unmarked, known: &mut Known) {
    let mut found = Vec::new();
    if let Some(flux) = known.iron.flux.filter(|flux| flux.highest > FLUX) {
        found.push(Doubt::Flux {
            nominal: flux.nominal,
            highest: flux.highest,
        });
    }
    if let Some(day) = known.iron.day
        && (day.low < known.mains_range.0 || day.high > known.mains_range.1)
    {
        found.push(Doubt::MainsBeyond {
            low: day.low,
            high: day.high,
        });
    }
    match known.iron.curve {
        Some(Curve {
            pattern: Pattern::Saturating,
            power: Some(power),
            volts,
            ..
        }) => found.push(Doubt::Saturating { power, volts }),
        Some(Curve {
            pattern: Pattern::ShortedTurns,
            volt_amperes,
            share,
            power_factor,
            ..
        }) => found.push(Doubt::ShortedTurns {
            volt_amperes,
            share,
            power_factor,
        }),
        _ => {}
    }
    for reading in &unmarked.insulation {
        let ohms = reading.reads.value;
        if let Some(advice) = advice(ohms, reading.damp) {
            found.push(Doubt::Insulation {
                between: reading.between.clone(),
                ohms,
                advice,
                span: reading.reads.span.clone(),
            });
        }
        if reading.at.nominal() < TEST_VOLTS {
            found.push(Doubt::InsulationVolts {
                volts: reading.at.nominal(),
                span: reading.reads.span.clone(),
            });
        }
    }
    known.doubts.extend(found);
}

/// The shape of the no-load current over the volts, and what it looks like. Shorted turns come before saturation where both
/// fit: they are the graver.
fn curve(unmarked: &Unmarked, mains: f64, hertz: f64) -> Option<Curve> {
    let mut all: Vec<&NoLoadReading> = unmarked.no_load.iter().collect();
    all.sort_by(|a, b| a.drive.at.value.total_cmp(&b.drive.at.value));
    let top = *all.last()?;
    let same = |one: &&&NoLoadReading| {
        one.drive.driven == top.drive.driven && one.drive.joined == top.drive.joined
    };
    let own: Vec<&&NoLoadReading> = all.iter().filter(same).collect();
    let power = own
        .iter()
        .rev()
        .find(|one| one.drive.at.value < 0.97 * top.drive.at.value)
        .map(|low| {
            ln(top.amps.value / low.amps.value) / ln(top.drive.at.value / low.drive.at.value)
        });
    let volt_amperes = top.drive.at.value * top.amps.value;
    let share = super::core_rules(unmarked, hertz).first().map(|rule| {
        // At the volts of the mains: below, the share is as the square.
        volt_amperes * pow(mains / top.drive.at.value, 2.0) / rule.volt_amperes
    });
    let power_factor = top.watts.as_ref().map(|watts| watts.value / volt_amperes);
    let is_straight = power.is_none_or(|power| power < 1.6);
    let is_large = share.is_some_and(|share| share > SHORTED_SHARE);
    let in_phase = power_factor.is_some_and(|factor| factor > SHORTED_FACTOR);
    let is_shorted = is_straight
        && ((is_large && power_factor.is_none_or(|factor| factor > 0.6))
            || (in_phase && share.is_none_or(|share| share > 0.15)));
    let pattern = match power {
        _ if is_shorted => Pattern::ShortedTurns,
        None => Pattern::OnePoint,
        Some(power) if power > KNEE => Pattern::Saturating,
        Some(_) => Pattern::Ordinary,
    };
    Some(Curve {
        points: own.len(),
        power,
        volts: top.drive.at.value,
        volt_amperes,
        share,
        power_factor,
        pattern,
    })
}

#[cfg(test)]
mod tests {
    use super::area_rule;

    /// 26 times the fourth power of inches, and (mm²)²/16042, are one 50 Hz rule; at 60 Hz 31 times.
    #[test]
    fn two_rules_are_one() {
        let inch = 0.0254;
        assert!((area_rule(inch, inch, 50.0) - 26.0).abs() < 0.1);
        assert!((area_rule(inch, inch, 60.0) - 31.0).abs() < 0.3);
    }
}
