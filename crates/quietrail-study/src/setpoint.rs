//! What a regulator's set point comes to: worst case, reach of a trimmer, resolution, drift, and preferred values that centre it.

use quietrail_job::model::{Across, Figure, Job, Part, PartKind, Regulator, SetPoint};
use quietrail_units::Unit;
use quietrail_units::series::Series;

/// A set point with its tolerances.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// All figures at their nominal, V.
    pub nominal: f64,
    /// Lowest and highest over the tolerances, V.
    pub worst: (f64, f64),
    /// What a trimmer reaches.
    pub reach: Option<Reach>,
    /// Change per kelvin at the highest drifts given, V; `None` where none is given.
    pub drift: Option<f64>,
    /// The same by what drifts, V: reference, divider, trimmer.
    pub drift_of: [f64; 3],
    /// Preferred values for the wanted voltage.
    pub preferred: Vec<Preferred>,
    /// Current through the divider, A.
    pub divider: Option<f64>,
}

impl Finding {
    /// The same below zero; changes stay amounts.
    fn turned(self) -> Self {
        let turned = |(low, high): (f64, f64)| (-high, -low);
        Self {
            nominal: -self.nominal,
            worst: turned(self.worst),
            reach: self.reach.map(|reach| Reach {
                nominal: turned(reach.nominal),
                sure: turned(reach.sure),
                ..reach
            }),
            preferred: self
                .preferred
                .into_iter()
                .map(|one| Preferred {
                    volts: -one.volts,
                    ..one
                })
                .collect(),
            ..self
        }
    }
}

/// What a trimmer reaches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// From end to end with all at nominal, V.
    pub nominal: (f64, f64),
    /// What can be set whatever the tolerances do, V; empty where the first is above the second.
    pub sure: (f64, f64),
    /// How much of the trimmer is in at the wanted voltage, Ω.
    pub at: f64,
    /// Change for one turn, V; `None` where the turns are not given.
    pub per_turn: Option<f64>,
}

/// A resistor from a series in place of the one drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Preferred {
    /// The series.
    pub series: Series,
    /// `set.upper` or `set.lower`.
    pub key: &'static str,
    /// Its value, Ω.
    pub ohms: f64,
    /// Output with it, V; with a trimmer: the middle of its reach.
    pub volts: f64,
}

/// The set point of a regulator; `wanted` is what the load's window asks for, if anything does.
///
/// Below zero it is that of the same set point above, turned back.
pub fn of(regulator: &Regulator, wanted: Option<f64>) -> Finding {
    if regulator.is_negative() {
        let above = Regulator {
            set: regulator.set.turned(),
            ..regulator.clone()
        };
        return of(&above, wanted.map(|volts| -volts)).turned();
    }
    let set = &regulator.set;
    let nominal = set.volts();
    let wanted = wanted.unwrap_or(nominal);
    let drift = &regulator.drift;
    let highest = |figure: &Option<Figure<quietrail_units::Ratio>>| {
        figure.as_ref().map(|figure| figure.value.high)
    };
    let drifts = [&drift.reference, &drift.divider, &drift.trimmer].map(highest);
    let divider_share = set
        .reference()
        .map_or(1.0, |reference| 1.0 - reference.nominal() / nominal);
    // The reference moves the whole output, the divider what stands above the reference, the trimmer its part of that.
    let shares = [
        1.0,
        divider_share.abs(),
        divider_share.abs() * trimmer_share(set),
    ];
    let drift_of = [0, 1, 2].map(|k| nominal * shares[k] * drifts[k].unwrap_or(0.0));
    let sum: f64 = drift_of.iter().sum();
    Finding {
        nominal,
        worst: worst(set),
        reach: reach(set),
        drift: drifts.iter().any(Option::is_some).then_some(sum),
        drift_of,
        preferred: preferred(set, wanted),
        divider: divider_amps(set),
    }
}

/// How much of the resistance that it stands in series with is the trimmer's; all of it where the divider is not known.
fn trimmer_share(set: &SetPoint) -> f64 {
    let (
        Some(reach),
        SetPoint::Trimmed {
            divider: Some(divider),
            ..
        },
    ) = (reach(set), set)
    else {
        return 1.0;
    };
    let fixed = match divider.across {
        Across::Upper => divider.lower.nominal(),
        Across::Lower => divider.upper.nominal(),
    };
    reach.at / (reach.at + fixed)
}

fn ends<U: Unit>(figure: &Figure<U>) -> [f64; 2] {
    [figure.value.low, figure.value.high]
}

/// Lowest and highest of a formula over the ends of up to five figures.
fn extremes(figures: &[[f64; 2]], formula: impl Fn(&[f64]) -> f64) -> (f64, f64) {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for bits in 0..1_usize << figures.len() {
        let at: Vec<f64> = figures
            .iter()
            .enumerate()
            .map(|(k, ends)| ends[bits >> k & 1])
            .collect();
        let value = formula(&at);
        low = low.min(value);
        high = high.max(value);
    }
    (low, high)
}

/// Lowest and highest over the tolerances, V.
pub(crate) fn worst(set: &SetPoint) -> (f64, f64) {
    if set.volts() < 0.0 {
        let (low, high) = worst(&set.turned());
        return (-high, -low);
    }
    match set {
        SetPoint::Fixed(volts) | SetPoint::Trimmed { to: volts, .. } => {
            (volts.value.low, volts.value.high)
        }
        SetPoint::AcrossUpper {
            reference,
            upper,
            lower,
            adjust,
            ..
        } => extremes(
            &[ends(reference), ends(upper), ends(lower), ends(adjust)],
            |at| at[0] * (1.0 + at[2] / at[1]) + at[3] * at[2],
        ),
        SetPoint::AcrossLower {
            reference,
            upper,
            lower,
        } => extremes(&[ends(reference), ends(upper), ends(lower)], |at| {
            at[0] * (1.0 + at[1] / at[2])
        }),
        SetPoint::AcrossBoth {
            reference,
            upper,
            lower,
        } => extremes(&[ends(reference), ends(upper), ends(lower)], |at| {
            at[0] * at[2] / (at[1] + at[2])
        }),
    }
}

fn reach(set: &SetPoint) -> Option<Reach> {
    let SetPoint::Trimmed {
        to,
        trimmer,
        divider: Some(divider),
    } = set
    else {
        return None;
    };
    let whole = trimmer.nominal();
    let figures = [
        ends(&divider.reference),
        ends(&divider.upper),
        ends(&divider.lower),
        ends(&divider.adjust),
    ];
    let at = |at: &[f64], ohms: f64| divider.volts_of(at[0], at[1], at[2], at[3], ohms);
    let (_, low) = extremes(&figures, |values| at(values, 0.0));
    let with_trimmer = [
        figures[0],
        figures[1],
        figures[2],
        figures[3],
        ends(trimmer),
    ];
    let (high, _) = extremes(&with_trimmer, |values| at(values, values[4]));
    let (bottom, top) = (divider.volts(0.0), divider.volts(whole));
    Some(Reach {
        nominal: (bottom, top),
        sure: (low, high),
        at: whole * (to.nominal() - bottom) / (top - bottom),
        per_turn: divider.turns.map(|turns| (top - bottom) / turns),
    })
}

fn divider_amps(set: &SetPoint) -> Option<f64> {
    match set {
        SetPoint::AcrossUpper {
            reference, upper, ..
        } => Some(reference.nominal() / upper.nominal()),
        SetPoint::AcrossLower {
            reference, lower, ..
        } => Some(reference.nominal() / lower.nominal()),
        SetPoint::Trimmed {
            divider: Some(divider),
            ..
        } => Some(divider.across_amps()),
        _ => None,
    }
}

/// Lowest and highest current through the divider of a regulator over the tolerances of what spans its reference, A; none of one
/// without a divider. With a trimmer, as it is set.
pub(crate) fn divider_range(regulator: &Regulator) -> (f64, f64) {
    match &regulator.set {
        SetPoint::AcrossUpper {
            reference,
            upper: across,
            ..
        }
        | SetPoint::AcrossLower {
            reference,
            lower: across,
            ..
        } => {
            let (reference, across) = (&reference.value, &across.value);
            let (one, other) = (reference.low.abs(), reference.high.abs());
            (one.min(other) / across.high, one.max(other) / across.low)
        }
        _ => {
            let amps = of(regulator, None).divider.unwrap_or(0.0);
            (amps, amps)
        }
    }
}

/// Lowest and highest that a regulator's set point is from its return over the tolerances, V.
pub(crate) fn size_range(regulator: &Regulator) -> (f64, f64) {
    let (one, other) = of(regulator, None).worst;
    let (one, other) = (one.abs(), other.abs());
    (one.min(other), one.max(other))
}

/// The resistor that does not span the reference, from two series, for the wanted voltage.
fn preferred(set: &SetPoint, wanted: f64) -> Vec<Preferred> {
    let (key, exact): (&'static str, f64) = match set {
        SetPoint::AcrossUpper {
            reference,
            upper,
            adjust,
            ..
        } => {
            let volts = reference.nominal();
            let amps = volts / upper.nominal() + adjust.nominal();
            ("set.lower", (wanted - volts) / amps)
        }
        SetPoint::AcrossLower {
            reference, lower, ..
        } => (
            "set.upper",
            lower.nominal() * (wanted / reference.nominal() - 1.0),
        ),
        SetPoint::AcrossBoth {
            reference, upper, ..
        } => (
            "set.lower",
            upper.nominal() * wanted / (reference.nominal() - wanted),
        ),
        SetPoint::Trimmed {
            trimmer,
            divider: Some(divider),
            ..
        } => {
            // The wanted voltage in the middle of the trimmer.
            let middle = 0.5 * trimmer.nominal();
            let volts = divider.reference.nominal();
            match divider.across {
                Across::Upper => {
                    let amps = volts / divider.upper.nominal() + divider.adjust.nominal();
                    ("set.lower", (wanted - volts) / amps - middle)
                }
                Across::Lower => (
                    "set.upper",
                    divider.lower.nominal() * (wanted / volts - 1.0) - middle,
                ),
            }
        }
        _ => return Vec::new(),
    };
    if !(exact.is_finite() && exact > 0.0) {
        return Vec::new();
    }
    [Series::E24, Series::E96]
        .into_iter()
        .filter_map(|series| {
            let ohms = series.nearest(exact)?;
            let volts = with(set, ohms)?;
            Some(Preferred {
                series,
                key,
                ohms,
                volts,
            })
        })
        .collect()
}

/// Output with another resistor.
fn with(set: &SetPoint, ohms: f64) -> Option<f64> {
    Some(match set {
        SetPoint::AcrossUpper {
            reference,
            upper,
            adjust,
            ..
        } => reference.nominal() * (1.0 + ohms / upper.nominal()) + adjust.nominal() * ohms,
        SetPoint::AcrossLower {
            reference, lower, ..
        } => reference.nominal() * (1.0 + ohms / lower.nominal()),
        SetPoint::AcrossBoth {
            reference, upper, ..
        } => reference.nominal() * ohms / (upper.nominal() + ohms),
        SetPoint::Trimmed {
            trimmer,
            divider: Some(divider),
            ..
        } => {
            let middle = 0.5 * trimmer.nominal();
            let (upper, lower) = match divider.across {
                Across::Upper => (divider.upper.nominal(), ohms),
                Across::Lower => (ohms, divider.lower.nominal()),
            };
            let (reference, adjust) = (divider.reference.nominal(), divider.adjust.nominal());
            divider.volts_of(reference, upper, lower, adjust, middle)
        }
        _ => return None,
    })
}
/// By how much a shunt holds the return of a regulator away from common, V, as marked; nothing where none does.
pub(crate) fn lift(job: &Job, regulator: &Regulator) -> f64 {
    let (upper, lower) = regulator.in_order(&regulator.ret, "common");
    let holds = |part: &Part| match &part.kind {
        PartKind::Shunt(shunt) => {
            (shunt.between.plus == upper && shunt.between.minus == lower).then(|| shunt.set.volts())
        }
        _ => None,
    };
    job.parts().find_map(holds).unwrap_or(0.0)
}
