//! A regulator of the job as the engine's one model.

use super::{Draft, Elements, one, rejection};
use quietrail_engine::{Dropout, Element, RegulatorLaw};
use quietrail_job::model::{Regulator, SetPoint};

/// Input minus output at which data sheets state the output voltage, V (common practice, no source).
const STATED_ACROSS: f64 = 5.0;
/// How sharply the smallest of asked, allowed and limited current is taken.
const EXPONENT: u32 = 8;
/// Softness of the handover as a share of the current limit.
const SOFTNESS: f64 = 1e-3;
/// What a regulator without a divider of its own on the outside loads its output with, Ω: a fixed part's
/// divider is inside and counted in its quiescent current.
const INSIDE: f64 = 1e6;
/// Smallest rise of dropout between two points, V: keeps their slope finite.
const SMALLEST_RISE: f64 = 1e-3;

pub(super) fn add(draft: &mut Draft, name: &str, part: &Regulator) -> Elements {
    let (input, output, reference) = (
        draft.node(&part.from),
        draft.node(&part.into),
        draft.node(&part.ret),
    );
    let set = set_volts(&part.set);
    let points: Vec<(f64, f64)> = part
        .rejection
        .iter()
        .map(|(hertz, db)| (hertz.nominal(), db.nominal()))
        .collect();
    let limit = part.limit.nominal();
    let law = RegulatorLaw {
        set,
        line: set + STATED_ACROSS,
        rejection: rejection::fit(&points),
        transconductance: 1.0 / part.output_resistance.nominal().max(1e-4),
        loop_time: part.loop_time.nominal(),
        dropout: Dropout {
            bends: bends(&dropout_points(part)),
        },
        limit,
        softness: SOFTNESS * limit,
        exponent: EXPONENT,
        quiescent: part.quiescent.nominal(),
    };
    // The divider hangs on the output and is part of its load; its heat is not the regulator's. It also
    // keeps the output defined where nothing else hangs on it and the pass element is off.
    let ohms = divider_amps(&part.set).map_or(INSIDE, |amps| set / amps.max(1e-9));
    let divider = draft.circuit.add(Element::Resistor {
        a: output,
        b: reference,
        ohms,
    });
    draft.parts.insert(divider_of(name), one(divider));
    one(draft.circuit.add(Element::Regulator {
        input,
        output,
        reference,
        law,
    }))
}

/// Name under which a regulator's divider appears among the parts.
pub(super) fn divider_of(regulator: &str) -> String {
    format!("{regulator} divider")
}

/// Current of the divider; a fixed part has none, and a trimmed one's is not told.
fn divider_amps(set: &SetPoint) -> Option<f64> {
    match set {
        SetPoint::Fixed(_) | SetPoint::Trimmed { .. } => None,
        SetPoint::AcrossUpper {
            reference, upper, ..
        } => Some(reference.nominal() / upper.nominal()),
        SetPoint::AcrossLower {
            reference, lower, ..
        } => Some(reference.nominal() / lower.nominal()),
    }
}

/// Output voltage that the set point asks for, without load.
pub fn set_volts(set: &SetPoint) -> f64 {
    match set {
        SetPoint::Fixed(volts) => volts.nominal(),
        SetPoint::AcrossUpper {
            reference,
            upper,
            lower,
            adjust,
        } => {
            reference.nominal() * (1.0 + lower.nominal() / upper.nominal())
                + adjust.nominal() * lower.nominal()
        }
        SetPoint::AcrossLower {
            reference,
            upper,
            lower,
        } => reference.nominal() * (1.0 + upper.nominal() / lower.nominal()),
        SetPoint::Trimmed { to, .. } => to.nominal(),
    }
}

/// Dropout at an output current, on the line through the data-sheet points.
pub fn dropout_at(part: &Regulator, amps: f64) -> f64 {
    let bends = bends(&dropout_points(part));
    let (mut volts, mut current) = (bends[0].0, 0.0);
    for (k, &(bend, slope)) in bends.iter().enumerate() {
        let next = bends.get(k + 1).map_or(f64::INFINITY, |bend| bend.0);
        let reached = current + slope * (next - bend);
        if amps <= reached {
            return bend + (amps - current).max(0.0) / slope;
        }
        (volts, current) = (next, reached);
    }
    volts
}

fn dropout_points(part: &Regulator) -> Vec<(f64, f64)> {
    part.dropout
        .iter()
        .map(|(amps, volts)| (amps.nominal(), volts.nominal()))
        .collect()
}

/// Allowed current as a line with bends over headroom, from points of dropout (A, V).
///
/// Below the first point the first slope goes on down to no current, but not below no headroom; beyond
/// the last the last slope goes on. A single point counts as the dropout at every smaller current.
fn bends(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut line: Vec<(f64, f64)> = Vec::new();
    for &(amps, volts) in points {
        let lowest = line
            .last()
            .map_or(f64::NEG_INFINITY, |(last, _)| last + SMALLEST_RISE);
        line.push((volts.max(lowest), amps));
    }
    let Some(&(first_volts, first_amps)) = line.first() else {
        return vec![(0.0, 1e3)];
    };
    let slopes: Vec<f64> = line
        .windows(2)
        .map(|pair| (pair[1].1 - pair[0].1) / (pair[1].0 - pair[0].0))
        .collect();
    let first_slope = slopes
        .first()
        .copied()
        .unwrap_or(first_amps.max(1e-3) / SMALLEST_RISE);
    // Down to no current along the first slope, steeper where that would mean negative headroom.
    let start = (first_volts - first_amps / first_slope)
        .max(0.0)
        .min(first_volts - SMALLEST_RISE);
    let mut bends = Vec::new();
    if first_amps > 0.0 {
        bends.push((start, first_amps / (first_volts - start)));
    }
    for (k, slope) in slopes.iter().enumerate() {
        let is_bend = bends
            .last()
            .is_none_or(|last: &(f64, f64)| (last.1 / slope - 1.0).abs() > 1e-9);
        if is_bend {
            bends.push((line[k].0, *slope));
        }
    }
    bends
}

#[cfg(test)]
mod tests {
    use super::bends;

    fn current(bends: &[(f64, f64)], headroom: f64) -> f64 {
        let mut sum = 0.0;
        for (k, &(bend, slope)) in bends.iter().enumerate() {
            let next = bends.get(k + 1).map_or(f64::INFINITY, |bend| bend.0);
            sum += slope * (headroom.min(next) - bend).max(0.0);
        }
        sum
    }

    #[test]
    fn the_line_passes_through_its_points() {
        let points = [(0.1, 0.4), (1.0, 0.7), (3.0, 1.5)];
        let bends = bends(&points);
        for (amps, volts) in points {
            assert!(
                (current(&bends, volts) - amps).abs() < 1e-12,
                "{amps} A at {volts} V"
            );
        }
        assert_eq!(current(&bends, 0.3), 0.0);
    }

    #[test]
    fn one_point_is_the_dropout_at_every_smaller_current() {
        let bends = bends(&[(1.0, 2.0)]);
        assert!(current(&bends, 1.99) == 0.0 && (current(&bends, 2.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn equal_dropouts_keep_a_finite_slope() {
        let bends = bends(&[(0.1, 1.2), (0.8, 1.2)]);
        assert!(bends.iter().all(|bend| bend.1.is_finite() && bend.1 > 0.0));
    }
}
