//! A regulator of the job as the engine's one model.

use super::{Draft, Elements, one, rejection};
use quietrail_engine::{Dropout, Element, RegulatorLaw, Sense, Transfer};
use quietrail_job::model::{Across, Regulator, SetPoint};

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
/// Least current of the last point of dropout, A: a corner of its tolerance may be none.
const LEAST_CURRENT: f64 = 1e-6;

pub(super) fn add(draft: &mut Draft, name: &str, part: &Regulator) -> Elements {
    let (input, output, reference) = (
        draft.node(&part.from),
        draft.node(&part.into),
        draft.node(&part.ret),
    );
    let set = part.set.size();
    let limit = part.limit.nominal();
    let law = RegulatorLaw {
        set,
        line: set + STATED_ACROSS,
        rejection: rejection::with_bypass(rejection::fit_for_cycles(&points(part)), &part.set),
        transconductance: 1.0 / part.output_resistance.nominal().max(1e-4),
        loop_time: part.loop_time.nominal(),
        dropout: Dropout {
            bends: folded(bends(&dropout_points(part)), part, limit),
        },
        limit,
        softness: SOFTNESS * limit,
        exponent: EXPONENT,
        quiescent: part.quiescent.nominal(),
        is_negative: part.is_negative(),
    };
    // The divider hangs on the output and is part of its load; its heat is not the regulator's. It also
    // keeps the output defined where nothing else hangs on it and the pass element is off.
    let ohms = divider_amps(&part.set).map_or(INSIDE, |amps| set / amps.max(1e-9));
    let sense = part.sense.as_ref().map(|(plus, minus)| Sense {
        plus: draft.node(plus),
        minus: draft.node(minus),
        local: local_share(&part.set),
    });
    let (a, b) = sense.map_or((output, reference), |sense| (sense.plus, sense.minus));
    let divider = draft.circuit.add(Element::Resistor { a, b, ohms });
    draft.parts.insert(divider_of(name), one(divider));
    one(draft.circuit.add(Element::Regulator {
        input,
        output,
        reference,
        sense,
        law,
    }))
}

/// Share of the output pin in what the loop sees. Where the reference stands on the output pin, a drop in the lead to the
/// resistor that it spans is taken from the reference, and counts times output over reference.
fn local_share(set: &SetPoint) -> f64 {
    match set {
        SetPoint::AcrossUpper { upper, lower, .. } => 1.0 + lower.nominal() / upper.nominal(),
        SetPoint::Trimmed {
            to,
            divider: Some(divider),
            ..
        } if divider.across == Across::Upper => to.nominal() / divider.reference.nominal(),
        _ => 0.0,
    }
}

fn points(part: &Regulator) -> Vec<(f64, f64)> {
    part.rejection
        .iter()
        .map(|(hertz, db)| (hertz.nominal(), db.nominal()))
        .collect()
}

/// Rejection over the whole of its curve, as small signals see it.
pub fn whole_rejection(part: &Regulator) -> Transfer {
    rejection::with_bypass(rejection::fit(&points(part)), &part.set)
}

/// Name under which a regulator's divider appears among the parts.
pub(super) fn divider_of(regulator: &str) -> String {
    format!("{regulator} divider")
}

/// Current of the divider; a fixed part has none, and one that is set without a divider in the job tells none.
fn divider_amps(set: &SetPoint) -> Option<f64> {
    match set {
        // A divider across the reference does not hang on the output.
        SetPoint::Fixed(_) | SetPoint::AcrossBoth { .. } => None,
        SetPoint::Trimmed { divider, .. } => divider.as_ref().map(|divider| divider.across_amps()),
        SetPoint::AcrossUpper {
            reference, upper, ..
        } => Some(reference.nominal().abs() / upper.nominal()),
        SetPoint::AcrossLower {
            reference, lower, ..
        } => Some(reference.nominal().abs() / lower.nominal()),
    }
}

/// Output voltage that the set point asks for, without load; below zero under the return.
pub fn set_volts(set: &SetPoint) -> f64 {
    set.volts()
}

/// Gain from the feedback or adjust pin to the output at a frequency: output over reference, less what a bypass
/// capacitor takes away. 1 for a fixed part, whose divider is inside.
pub fn noise_gain(set: &SetPoint, hertz: f64) -> f64 {
    if let Some(pin) = set.adjust_pin() {
        let farads = pin.bypass.unwrap_or(0.0);
        // 1 + Z/upper, Z = lower/(1 + jωCR)
        let turn = 2.0 * std::f64::consts::PI * hertz * pin.lower * farads;
        let scale = pin.lower / pin.upper / (1.0 + turn * turn);
        let (re, im) = (1.0 + scale, scale * turn);
        return (re * re + im * im).sqrt();
    }
    match set {
        SetPoint::Fixed(_) | SetPoint::AcrossBoth { .. } | SetPoint::AcrossUpper { .. } => 1.0,
        SetPoint::AcrossLower { upper, lower, .. } => 1.0 + upper.nominal() / lower.nominal(),
        SetPoint::Trimmed { to, divider, .. } => divider
            .as_ref()
            .map_or(1.0, |divider| to.nominal() / divider.reference.nominal()),
    }
}

/// Gain from the reference itself to the output.
pub fn output_gain(set: &SetPoint, hertz: f64) -> f64 {
    match set {
        SetPoint::AcrossBoth { upper, lower, .. } => {
            lower.nominal() / (upper.nominal() + lower.nominal())
        }
        set => noise_gain(set, hertz),
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
        .map(|(amps, volts)| {
            let amps = amps.nominal();
            (amps, volts.nominal() + amps * sense_ohms(part))
        })
        .collect()
}

/// Resistance of the current-sensing resistors side by side: it stands in the way of the output current.
pub fn sense_ohms(part: &Regulator) -> f64 {
    let siemens: f64 = part
        .limit_resistors
        .iter()
        .map(|one| 1.0 / one.nominal())
        .sum();
    if siemens > 0.0 { 1.0 / siemens } else { 0.0 }
}

/// The line of allowed current with the foldback beyond it: down from the current limit along the points of the data sheet,
/// and level beyond the last of them. A point above the limit does not count: the limit is lower there.
fn folded(mut bends: Vec<(f64, f64)>, part: &Regulator, limit: f64) -> Vec<(f64, f64)> {
    let nominal: Vec<(f64, f64)> = part
        .foldback
        .iter()
        .map(|(volts, amps)| (volts.nominal(), amps.nominal()))
        .collect();
    let Some(&(mut last_volts, first_amps)) = nominal.first() else {
        return bends;
    };
    // Where the rising line has gone well past the limit, it turns into the first falling stretch.
    let mut last_amps = first_amps.min(limit);
    let (mut reached, mut at) = (0.0, bends[0].0);
    let mut slope = 0.0;
    for &(bend, next) in &bends {
        reached += slope * (bend - at);
        (at, slope) = (bend, next);
    }
    let Some(&(second_volts, second_amps)) = nominal.get(1) else {
        return bends;
    };
    let fall = (second_amps.min(last_amps) - last_amps) / (second_volts - last_volts);
    // Crossing of the rising line with the falling one, drawn backwards from the first point.
    let crossing = (last_amps - fall * last_volts - reached + slope * at) / (slope - fall);
    if crossing <= at || crossing >= second_volts {
        return bends;
    }
    bends.push((crossing, fall));
    for pair in nominal.windows(2).skip(1) {
        let (from, to) = (pair[0], pair[1]);
        bends.push((from.0, (to.1 - from.1) / (to.0 - from.0)));
    }
    (last_volts, last_amps) = nominal[nominal.len() - 1];
    debug_assert!(last_volts.is_finite() && last_amps.is_finite());
    bends.push((last_volts, 0.0));
    bends
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
    // None is a line too: it must lead somewhere.
    if let Some((_, last_amps)) = line.last_mut() {
        *last_amps = last_amps.max(LEAST_CURRENT);
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
    fn points_at_no_current_are_a_line_too() {
        for points in [&[(0.0, 0.5)][..], &[(0.0, 0.4), (0.0, 0.5)]] {
            let bends = bends(points);
            assert!(!bends.is_empty(), "{points:?}");
            assert!(
                bends
                    .iter()
                    .all(|(volts, slope)| volts.is_finite() && slope.is_finite())
            );
        }
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
