//! Parts of windings that are read by themselves: between the taps of each, so that a tap at the wrong place, or on the wrong
//! lead, is seen before a rectifier hangs on it; and what a join reads with one of its windings turned round.

use super::derive::{Point, Where};
use super::raws::signed_ratios;
use super::{Beside, Observed};
use quietrail_job::model::{Job, JoinTerm, PartKind, Secondary, Subject, Transformer};

/// Wire of the outer half of a winding over that of the inner one is more by this part at most: each of its turns is longer
/// (common practice, no source).
const OUTER: f64 = 0.1;

/// A part of a winding, from one lead to the next.
pub(super) struct Part {
    /// Its leads: `T1.S1.start` and `T1.S1.tap`.
    pub(super) plus: String,
    /// The other one.
    pub(super) minus: String,
    /// Its share of the resistance of the winding, lowest, as marked, highest; the ends with what the outer turns have more.
    pub(super) share: [f64; 3],
}

impl Part {
    /// Its name in the log.
    pub(super) fn of(&self) -> String {
        format!("{},{}", self.plus, self.minus)
    }
}

/// The parts of a winding between its leads; none of one without taps.
pub(super) fn parts(transformer: &str, winding: &Secondary) -> Vec<Part> {
    if winding.taps.is_empty() {
        return Vec::new();
    }
    let lead = |name: &str| format!("{transformer}.{}.{name}", winding.name);
    let mut leads = vec![(lead("start"), [0.0; 3])];
    let mut taps: Vec<_> = winding.taps.iter().collect();
    taps.sort_by(|a, b| a.share.nominal().total_cmp(&b.share.nominal()));
    for tap in taps {
        let share = &tap.share.value;
        leads.push((lead(&tap.name), [share.low, share.nominal, share.high]));
    }
    leads.push((lead("finish"), [1.0; 3]));
    let between = |pair: &[(String, [f64; 3])]| {
        let ((plus, from), (minus, to)) = (&pair[0], &pair[1]);
        Part {
            plus: plus.clone(),
            minus: minus.clone(),
            share: [
                (to[0] - from[2]).max(0.0) * (1.0 - OUTER),
                to[1] - from[1],
                (to[2] - from[0]) * (1.0 + OUTER),
            ],
        }
    };
    leads.windows(2).map(between).collect()
}

/// The points at which the parts of a transformer's windings are read.
pub(super) fn points(name: &str, transformer: &Transformer, is_awaited: bool) -> Vec<Point> {
    let windings = transformer.secondary.iter();
    windings
        .flat_map(|winding| parts(name, winding))
        .map(|part| Point {
            of: part.of(),
            subject: Where::Subject(Subject::Pair(part.plus, part.minus)),
            what: Observed::RmsVoltage,
            is_awaited,
        })
        .collect()
}

/// What a join reads with one of its windings the wrong way round, where `nominal` is what it should read.
pub(super) fn turned(job: &Job, of: &str, nominal: f64) -> Vec<Beside> {
    let Some((name, join)) = of.split_once('.') else {
        return Vec::new();
    };
    let Some(PartKind::Transformer(transformer)) = job.part(name).map(|part| &part.kind) else {
        return Vec::new();
    };
    let Some(join) = transformer.joins.iter().find(|known| known.name == join) else {
        return Vec::new();
    };
    if has_parallel(&join.term) {
        return vec![Beside::Shorted];
    }
    let all = signed_ratios(transformer, &join.term);
    let whole: f64 = all.iter().map(|(_, ratio)| ratio).sum();
    if all.len() < 2 || whole == 0.0 {
        return Vec::new();
    }
    let mut told: Vec<(f64, Vec<String>)> = Vec::new();
    for (winding, ratio) in &all {
        let volts = (nominal * (whole - 2.0 * ratio) / whole).abs();
        // Two of one voltage read the same, whichever of them it is.
        match told
            .iter_mut()
            .find(|(known, _)| (known - volts).abs() <= 0.02 * nominal)
        {
            Some((_, names)) => names.push(winding.clone()),
            None => told.push((volts, vec![winding.clone()])),
        }
    }
    let beside = |(volts, windings)| Beside::Turned { windings, volts };
    told.into_iter().map(beside).collect()
}

fn has_parallel(term: &JoinTerm) -> bool {
    match term {
        JoinTerm::Winding { .. } => false,
        JoinTerm::Parallel(_) => true,
        JoinTerm::Series(terms) => terms.iter().any(has_parallel),
    }
}
