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

pub(super) fn doubts(unmarked: &Unmarked, job: &Job, known: &mut Known) {
    let mut found = Vec::new();
    if let Some((volts, hertz)) = &unmarked.marked {
        let marked = volts.nominal() / hertz.nominal();
        let mains = &job.mains.voltage.value;
        let frequency = job.mains.frequency.nominal();
        let nominal = mains.nominal / frequency / marked;
        let highest = mains.high / frequency / marked;
        if highest > FLUX {
            found.push(Doubt::Flux { nominal, highest });
        }
    }
    if let (Some(low), Some(high)) = (
        unmarked
            .day
            .iter()
            .map(|read| read.value.low)
            .reduce(f64::min),
        unmarked
            .day
            .iter()
            .map(|read| read.value.high)
            .reduce(f64::max),
    ) {
        let mains = &job.mains.voltage.value;
        if low < mains.low || high > mains.high {
            found.push(Doubt::MainsBeyond { low, high });
        }
    }
    no_load(unmarked, known, &mut found);
    for reading in &unmarked.insulation {
        let ohms = reading.reads.value;
        let advice = if ohms < REJECT {
            Some(InsulationAdvice::Reject)
        } else if ohms < DRY || reading.damp == Some(true) {
            Some(InsulationAdvice::DryAndRetest)
        } else {
            None
        };
        if let Some(advice) = advice {
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

/// The shape of the no-load current over the volts.
fn no_load(unmarked: &Unmarked, known: &Known, found: &mut Vec<Doubt>) {
    let mut curve: Vec<&NoLoadReading> = unmarked.no_load.iter().collect();
    curve.sort_by(|a, b| a.drive.at.value.total_cmp(&b.drive.at.value));
    let Some(top) = curve.last() else { return };
    let same = |one: &NoLoadReading, other: &NoLoadReading| {
        one.drive.driven == other.drive.driven && one.drive.joined == other.drive.joined
    };
    let power = |low: &NoLoadReading, high: &NoLoadReading| {
        ln(high.amps.value / low.amps.value) / ln(high.drive.at.value / low.drive.at.value)
    };
    let below: Vec<&&NoLoadReading> = curve
        .iter()
        .filter(|one| same(one, top) && one.drive.at.value < 0.97 * top.drive.at.value)
        .collect();
    let at_top = below.last().map(|one| power(one, top));
    if let Some(power) = at_top.filter(|power| *power > KNEE) {
        found.push(Doubt::Saturating {
            power,
            volts: top.drive.at.value,
        });
    }
    let volt_amperes = top.drive.at.value * top.amps.value;
    let share = known.core_rules.first().map(|rule| {
        // At the volts of the mains: below, the share is as the square.
        let at_mains = pow(known.mains.0 / top.drive.at.value, 2.0);
        volt_amperes * at_mains / rule.volt_amperes
    });
    let power_factor = top.watts.as_ref().map(|watts| watts.value / volt_amperes);
    let is_straight = at_top.is_none_or(|power| power < 1.6);
    let is_large = share.is_some_and(|share| share > SHORTED_SHARE);
    let in_phase = power_factor.is_some_and(|factor| factor > SHORTED_FACTOR);
    if is_straight
        && ((is_large && power_factor.is_none_or(|factor| factor > 0.6))
            || (in_phase && share.is_none_or(|share| share > 0.15)))
    {
        found.push(Doubt::ShortedTurns {
            volt_amperes,
            share,
            power_factor,
        });
    }
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
