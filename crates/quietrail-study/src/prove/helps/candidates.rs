//! What a builder would try: single changes, each with what stands there now.

use crate::finding::With;
use crate::lower::{dropout_at, set_volts};
use quietrail_job::model::{
    Job, Join, JoinTerm, Part, PartKind, Rectifier, RectifierForm, Regulator, SetPoint, Subject,
    Transformer, What,
};
use quietrail_job::{Address, Change, substitutes};
use quietrail_units::series::Series;

/// Steps by which the target of a trimmer is tried.
const TRIMMED: [f64; 4] = [0.97, 0.99, 1.01, 1.03];
/// Positions of the selector for mains that differ by more than this from the job's are for other countries.
const SAME_COUNTRY: f64 = 0.15;
/// A winding with this many times the volts, or this part of them, is for another supply.
const OTHER_SIZE: f64 = 1.7;
/// Limits of nodes within this share of a set point are taken to be about it.
const WINDOW: f64 = 0.15;
/// Regulators of the catalogue that are tried for one part.
const REGULATORS: usize = 2;

/// One change that might help.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    pub(super) change: Change,
    /// Value before, of a figure that is set.
    pub(super) before: f64,
    pub(super) unit: &'static str,
    /// What a swap brings.
    pub(super) with: Option<With>,
    /// Whether it moves what the load gets on purpose: worth nothing where another limit then fails.
    pub(super) is_set_point: bool,
    /// How many times the volts of the present winding it brings, where it moves a part to another.
    pub(super) volts: Option<f64>,
}

/// Changes of one figure: the next larger reservoirs, a low-ESR type, larger sinks, thicker wires, the next values of
/// resistors and dividers, other targets of trimmers.
pub(super) fn figures(job: &Job) -> Vec<Candidate> {
    let mut all = Vec::new();
    for part in &job.parts {
        let mut add = |key: &str, before: f64, after: f64, unit, is_set_point| {
            all.push(Candidate {
                change: Change::Set {
                    address: Address(format!("{}.{key}", part.name)),
                    value: after,
                },
                before,
                unit,
                with: None,
                is_set_point,
                volts: None,
            });
        };
        match &part.kind {
            PartKind::Capacitor(capacitor) => {
                let before = capacitor.value.nominal();
                let mut next = before;
                for _ in 0..2 {
                    let Some(larger) = Series::E6.next_up(next) else {
                        break;
                    };
                    next = larger;
                    add("value", before, next, "F", false);
                }
                let esr = capacitor.esr.nominal();
                add("esr", esr, 0.5 * esr, "Ω", false);
            }
            PartKind::Sink(sink) => {
                let before = sink.to_air.nominal();
                add("to_air", before, 0.7 * before, "K/W", false);
            }
            PartKind::Wire(wire) => {
                let before = wire.resistance.nominal();
                add("resistance", before, 0.5 * before, "Ω", false);
            }
            // A bleeder or a series resistance: either way may be the right one.
            PartKind::Resistor(resistor) => {
                let before = resistor.value.nominal();
                for after in neighbours(Series::E6, before) {
                    add("value", before, after, "Ω", false);
                }
            }
            PartKind::Regulator(regulator) => match &regulator.set {
                SetPoint::Fixed(_) => {}
                SetPoint::Trimmed { to, .. } => {
                    for factor in TRIMMED {
                        add("set.to", to.nominal(), factor * to.nominal(), "V", true);
                    }
                }
                SetPoint::AcrossUpper { upper, lower, .. }
                | SetPoint::AcrossLower { upper, lower, .. }
                | SetPoint::AcrossBoth { upper, lower, .. } => {
                    for (key, ohms) in [("set.upper", upper), ("set.lower", lower)] {
                        for after in neighbours(Series::E24, ohms.nominal()) {
                            add(key, ohms.nominal(), after, "Ω", true);
                        }
                    }
                }
            },
            _ => {}
        }
    }
    all.retain(|candidate| {
        candidate.before != 0.0 && (!candidate.is_set_point || leaves_within(job, candidate))
    });
    all
}

/// Whether a set point leaves the output within what is asked of it in every state, its own tolerance included: the
/// state in hand is solved, of the others only this is known here. The limits may be at the output or behind a wire, so
/// they are known by where they stand: about the present set point.
fn leaves_within(job: &Job, candidate: &Candidate) -> bool {
    let Ok(changed) = job.with(std::slice::from_ref(&candidate.change)) else {
        return false;
    };
    let is_set = |part: &&Part| {
        matches!(&candidate.change, Change::Set { address, .. }
            if address.0.split('.').next() == Some(part.name.as_str()))
    };
    let Some(PartKind::Regulator(regulator)) = changed.parts().find(is_set).map(|part| &part.kind)
    else {
        return false;
    };
    let marked = match &regulator.set {
        SetPoint::Fixed(volts) | SetPoint::Trimmed { to: volts, .. } => &volts.value,
        SetPoint::AcrossUpper { reference, .. }
        | SetPoint::AcrossLower { reference, .. }
        | SetPoint::AcrossBoth { reference, .. } => &reference.value,
    };
    let volts = set_volts(&regulator.set);
    let (low, high) = (
        volts * marked.low / marked.nominal,
        volts * marked.high / marked.nominal,
    );
    let Some(PartKind::Regulator(own)) = job.parts().find(is_set).map(|part| &part.kind) else {
        return false;
    };
    let present = set_volts(&own.set);
    let is_about = |bound: &f64| (bound / present - 1.0).abs() < WINDOW;
    job.limits
        .iter()
        .filter(|limit| {
            let of_nodes = !matches!(limit.of, Subject::Part(_));
            let near = limit.min.iter().chain(&limit.max).any(is_about);
            of_nodes && near && matches!(limit.what, What::Mean | What::Valley | What::Peak)
        })
        .all(|limit| {
            limit.min.is_none_or(|min| low >= min) && limit.max.is_none_or(|max| high <= max)
        })
}

fn neighbours(series: Series, value: f64) -> impl Iterator<Item = f64> {
    let (down, up) = (series.next_down(value), series.next_up(value));
    down.into_iter().chain(up)
}

/// Other parts in a place, or the same part on another winding: regulators that drop less, Schottky diodes, windings
/// and positions of the selector that nothing uses yet.
pub(super) fn swaps(job: &Job) -> Vec<Candidate> {
    let mut all = Vec::new();
    for part in &job.parts {
        match &part.kind {
            PartKind::Regulator(regulator) => all.extend(dropping_less(job, part, regulator)),
            PartKind::Rectifier(rectifier) => {
                all.extend(schottky(job, part));
                all.extend(other_windings(job, part, rectifier));
            }
            PartKind::Transformer(transformer) => {
                all.extend(other_positions(job, part, transformer));
            }
            _ => {}
        }
    }
    all
}

fn swap(part: Part, with: With) -> Candidate {
    Candidate {
        change: Change::Swap {
            part: part.name.clone(),
            with: Box::new(part),
        },
        before: f64::NAN,
        unit: "",
        with: Some(with),
        is_set_point: false,
        volts: None,
    }
}

/// A swap that moves a part to another winding; none where that has volts of quite another size.
fn moved_to(part: Part, with: With, volts: f64) -> Option<Candidate> {
    (volts > 1.0 / OTHER_SIZE && volts < OTHER_SIZE && volts != 1.0).then(|| Candidate {
        volts: Some(volts),
        ..swap(part, with)
    })
}

/// Regulators that drop less at the highest current that this one's sheet gives a dropout for, and carry as much.
fn dropping_less(job: &Job, part: &Part, own: &Regulator) -> Vec<Candidate> {
    let amps = own
        .dropout
        .iter()
        .map(|(amps, _)| amps.nominal())
        .fold(0.0, f64::max);
    let carries = |regulator: &Regulator| {
        let rated = |of: &Regulator| of.rated.current.as_ref().map(|rated| rated.nominal());
        rated(regulator)
            .zip(rated(own))
            .is_none_or(|(new, old)| new >= old)
            && regulator.limit.value.low >= amps
    };
    let mut better: Vec<(f64, Candidate)> = substitutes(job, &part.name)
        .into_iter()
        .filter_map(|substitute| {
            let PartKind::Regulator(regulator) = &substitute.part.kind else {
                return None;
            };
            let volts = dropout_at(regulator, amps);
            let is_better = volts < dropout_at(own, amps) && carries(regulator);
            is_better.then(|| (volts, swap(substitute.part, With::Entry(substitute.entry))))
        })
        .collect();
    better.sort_by(|a, b| a.0.total_cmp(&b.0));
    better.truncate(REGULATORS);
    better.into_iter().map(|(_, candidate)| candidate).collect()
}

/// The smallest Schottky diode of the catalogue that is rated for as much current.
fn schottky(job: &Job, part: &Part) -> Option<Candidate> {
    let rated = |part: &Part| match &part.kind {
        PartKind::Rectifier(rectifier) => {
            rectifier.rated.average.as_ref().map(|amps| amps.nominal())
        }
        _ => None,
    };
    let own = rated(part);
    let mut fitting: Vec<(f64, Candidate)> = substitutes(job, &part.name)
        .into_iter()
        .filter(|substitute| substitute.entry.starts_with("Schottky"))
        .filter_map(|substitute| {
            let amps = rated(&substitute.part)?;
            let fits = own.is_none_or(|own| amps >= own) && substitute.part.kind != part.kind;
            fits.then(|| (amps, swap(substitute.part, With::Entry(substitute.entry))))
        })
        .collect();
    // Where the job does not say what the present one carries, the largest is the careful choice.
    fitting.sort_by(|a, b| a.0.total_cmp(&b.0));
    let chosen = if own.is_some() {
        0
    } else {
        fitting.len().saturating_sub(1)
    };
    fitting
        .into_iter()
        .nth(chosen)
        .map(|(_, candidate)| candidate)
}

/// The other windings and joins of the transformer that a bridge or a single diode could be fed from.
fn other_windings(job: &Job, part: &Part, own: &Rectifier) -> Vec<Candidate> {
    if !matches!(own.form, RectifierForm::Bridge | RectifierForm::HalfWave) {
        return Vec::new();
    }
    let Some((name, used)) = own.from.split_once('.') else {
        return Vec::new();
    };
    let Some(PartKind::Transformer(transformer)) = job.part(name).map(|part| &part.kind) else {
        return Vec::new();
    };
    let is_busy = |point: &str| {
        let from = format!("{name}.{point}");
        job.parts.iter().any(|other| match &other.kind {
            PartKind::Rectifier(other) => other.from == from,
            _ => false,
        })
    };
    let windings = transformer.secondary.iter().map(|winding| &winding.name);
    let joins = transformer.joins.iter().map(|join| &join.name);
    windings
        .chain(joins)
        .filter(|point| *point != used && !is_busy(point))
        .filter_map(|point| {
            let from = format!("{name}.{point}");
            let mut moved = part.clone();
            moved.kind = PartKind::Rectifier(Rectifier {
                from: from.clone(),
                ..own.clone()
            });
            let volts = secondary_volts(transformer, point)? / secondary_volts(transformer, used)?;
            moved_to(moved, With::Winding(from), volts.abs())
        })
        .collect()
}

/// Volts off load of a winding or a join, per volt of the primary.
fn secondary_volts(transformer: &Transformer, point: &str) -> Option<f64> {
    let mut joins = transformer.joins.iter();
    let winding = |name: &str| {
        let mut all = transformer.secondary.iter();
        let winding = all.find(|one| one.name == name)?;
        Some(winding.open.nominal() / winding.at_primary.nominal())
    };
    match joins.find(|join| join.name == point) {
        Some(join) => joined(&join.term, &winding),
        None => winding(point),
    }
}

/// The other positions of the mains selector that are for the same mains.
fn other_positions(job: &Job, part: &Part, own: &Transformer) -> Vec<Candidate> {
    let mains = job.mains.voltage.nominal();
    own.selector
        .positions
        .iter()
        .filter(|(position, join)| {
            let is_near =
                volts(own, join).is_some_and(|volts| (volts / mains - 1.0).abs() <= SAME_COUNTRY);
            *position != own.selector.at && is_near
        })
        .filter_map(|(position, join)| {
            let mut positions = own.selector.positions.iter();
            let (_, present) = positions.find(|(name, _)| *name == own.selector.at)?;
            // Fewer turns across the mains are more volts out.
            let more = volts(own, present)? / volts(own, join)?;
            let mut moved = part.clone();
            let mut transformer = own.clone();
            transformer.selector.at.clone_from(position);
            moved.kind = PartKind::Transformer(transformer);
            moved_to(moved, With::Position(position.clone()), more)
        })
        .collect()
}

/// Volts that a join of primaries was wound for.
fn volts(transformer: &Transformer, join: &Join) -> Option<f64> {
    joined(&join.term, &|name| {
        let mut all = transformer.primary.iter();
        Some(all.find(|one| one.name == name)?.volts.nominal())
    })
}

/// Volts across a join, by those of its windings.
fn joined(term: &JoinTerm, volts_of: &dyn Fn(&str) -> Option<f64>) -> Option<f64> {
    match term {
        JoinTerm::Winding { name, reversed } => {
            let sign = if *reversed { -1.0 } else { 1.0 };
            Some(sign * volts_of(name)?)
        }
        JoinTerm::Series(terms) => terms.iter().map(|term| joined(term, volts_of)).sum(),
        JoinTerm::Parallel(terms) => joined(terms.first()?, volts_of),
    }
}
