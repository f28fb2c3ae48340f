//! Windings of which only the plate speaks: it has no tolerance, and the winding has one; and iron, which no straight line tells.

use quietrail_job::model::{Job, JoinTerm, PartKind, Secondary};
use quietrail_units::{Form, Quantity};

/// What the volts of a winding may be off its plate, as a share, where the plate does not say (common practice, no source).
pub(super) const OFF: f64 = 0.05;

/// What iron draws off load over what was given without a tolerance, least and most: more than in proportion at the highest mains, less
/// at the lowest (common practice, no source).
pub(super) const IRON: (f64, f64) = (0.7, 1.6);

/// Gives windings that are known by a plate without a tolerance one: a band of no width would refuse every transformer.
pub(super) fn widen(job: &mut Job) {
    if !job
        .parts()
        .any(|part| !exact(&part.kind).is_empty() || has_exact_iron(&part.kind))
    {
        return;
    }
    for part in job.parts_mut() {
        let PartKind::Transformer(transformer) = &mut part.kind else {
            continue;
        };
        for winding in transformer.secondary.iter_mut().filter(|one| is_exact(one)) {
            let Some(plate) = &mut winding.plate else {
                continue;
            };
            let volts = plate.volts.nominal();
            plate.volts.value.low = volts * (1.0 - OFF);
            plate.volts.value.high = volts * (1.0 + OFF);
        }
        transformer.follow_plates();
        let amperes = &mut transformer.no_load.0.value;
        if amperes.low == amperes.high {
            let given = amperes.nominal;
            *amperes = Quantity::within(IRON.0 * given, given, IRON.1 * given, Form::RangeAround);
        }
    }
}

/// Whether a part is a transformer whose current off load has no tolerance.
pub(super) fn has_exact_iron(kind: &PartKind) -> bool {
    match kind {
        PartKind::Transformer(one) => one.no_load.0.value.low == one.no_load.0.value.high,
        _ => false,
    }
}

/// Windings of a part that are known by a plate without a tolerance.
fn exact(kind: &PartKind) -> Vec<&str> {
    match kind {
        PartKind::Transformer(one) => {
            let own = one.secondary.iter().filter(|winding| is_exact(winding));
            own.map(|winding| winding.name.as_str()).collect()
        }
        _ => Vec::new(),
    }
}

fn is_exact(winding: &Secondary) -> bool {
    winding.plate.is_some() && winding.open.value.low == winding.open.value.high
}

/// Whether a winding, or one of a join, `T1.S`, is known by a plate without a tolerance.
pub(super) fn taken(job: &Job, of: &str) -> bool {
    let Some((name, winding)) = of.split_once('.') else {
        return false;
    };
    let Some(kind) = job.part(name).map(|part| &part.kind) else {
        return false;
    };
    let PartKind::Transformer(transformer) = kind else {
        return false;
    };
    let exact = exact(kind);
    let join = transformer.joins.iter().find(|join| join.name == winding);
    match join {
        Some(join) => exact.iter().any(|name| holds(&join.term, name)),
        None => exact.contains(&winding),
    }
}

fn holds(term: &JoinTerm, winding: &str) -> bool {
    match term {
        JoinTerm::Winding { name, .. } => name == winding,
        JoinTerm::Series(terms) | JoinTerm::Parallel(terms) => {
            terms.iter().any(|term| holds(term, winding))
        }
    }
}
