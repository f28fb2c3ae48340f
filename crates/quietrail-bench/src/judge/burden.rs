//! What instruments take from the circuit while they read it, and what is there without them.

use super::{Asked, Judgement, Path, Taken};
use crate::log::Row;
use quietrail_job::model::{Instrument, What};

/// What the input of an instrument takes off a point.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// The instrument, or what stands in front of it.
    pub by: String,
    /// Part of the value that is missing while it reads; negative where it reads more.
    pub share: f64,
}

/// What an ammeter in the circuit took away may be there once it is gone: the bound that is farther from zero goes out by it, the other stays.
pub(super) fn without_ammeter(
    asked: &Asked,
    path: &Path<'_>,
    row: &Row,
    instruments: &[Instrument],
    judgement: &mut Judgement,
) {
    let is_current = matches!(
        asked.what,
        What::Current | What::RmsCurrent | What::PeakCurrent
    );
    let own = path.function.burden.as_ref().filter(|_| is_current);
    if let (Some(burden), Some(volts)) = (own, asked.behind) {
        let share = burden.value.high * judgement.high.abs() / volts;
        judgement.high += share * judgement.high.abs();
        judgement.taken.push(Taken::Burden(share));
    }
    let Some((name, part)) = &row.setup.ammeter else {
        return;
    };
    let ohms = instruments
        .iter()
        .filter(|one| one.name == *name)
        .flat_map(|one| &one.functions)
        .filter_map(|function| function.burden.as_ref())
        .map(|burden| burden.value.high)
        .fold(0.0, f64::max);
    let amps = asked.amps.iter().find(|(known, _)| known == part);
    let drop = ohms * amps.map_or(0.0, |(_, amps)| *amps);
    if drop > 0.0 && !is_current {
        // Of a rail under common it is below that there is more.
        if judgement.value < 0.0 {
            judgement.low -= drop;
        } else {
            judgement.high += drop;
        }
        judgement.taken.push(Taken::AmmeterDrops(drop));
    }
}

/// Loadings below this part are counted, and not spoken of.
const TOLD: f64 = 5e-4;

/// What the input of the instrument took away is there once it is gone: the bound on that side moves by it, the other one stays.
pub(super) fn without_input(asked: &Asked, row: &Row, judgement: &mut Judgement) {
    let by = row.setup.through.as_ref().unwrap_or(&row.instrument);
    let load = asked.loads.iter().find(|load| load.by == *by);
    let Some(share) = load.map(|load| load.share) else {
        return;
    };
    // What is read is (1 − share) of what is there.
    let grows = share / (1.0 - share);
    let moved = |bound: f64| bound + grows * bound;
    let (low, high) = (moved(judgement.low), moved(judgement.high));
    judgement.low = judgement.low.min(low);
    judgement.high = judgement.high.max(high);
    if grows.abs() >= TOLD {
        judgement.taken.push(Taken::Loading(grows));
    }
}
