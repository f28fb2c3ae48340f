//! Windings of which only the plate speaks: it has no tolerance, and the winding has one.

use quietrail_job::model::{Job, JoinTerm, PartKind, Secondary};

/// What the volts of a winding may be off its plate, as a share, where the plate does not say (common practice, no source).
pub(super) const OFF: f64 = 0.05;

/// Gives windings that are known by a plate without a tolerance one: a band of no width would refuse every transformer.
pub(super) fn widen(job: &mut Job) {
    if !job.parts().any(|part| !exact(&part.kind).is_empty()) {
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
