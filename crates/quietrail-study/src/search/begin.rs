//! Where the search for a corner begins: at what the nearest one came to, moved as slopes foretell.

use super::Tried;
use super::corner::{Corner, Position, at};
use crate::slopes::Gradients;
use crate::solve::Beginning;
use quietrail_job::Parameter;
use std::collections::BTreeMap;

/// How far apart corners may be, in half tolerances all told, for the cycle of one to answer to moves as the other's does.
const BESIDE: f64 = 6.0;

/// Where the search for a corner begins; `None` where nothing is known that would lead to it.
pub(super) fn beginning<'s>(
    corner: &Corner,
    seen: &'s BTreeMap<Corner, Option<Tried>>,
    slopes: &BTreeMap<Corner, Gradients>,
    parameters: &[Parameter],
) -> Option<Beginning<'s>> {
    let settled = seen
        .iter()
        .filter_map(|(known, tried)| Some((known, tried.as_ref()?)));
    let (near, tried) = nearest(corner, settled)?;
    let told = slopes
        .iter()
        .filter_map(|(known, slopes)| Some((known, slopes.moves.as_ref()?)));
    let (_, moves) = nearest(corner, told)?;
    let value = |index: usize, corner: &Corner| at(&parameters[index], corner[index]);
    let by: Vec<f64> = (0..parameters.len())
        .map(|index| value(index, corner) - value(index, near))
        .collect();
    let mut begin = moves.foretell(&tried.solution, &by);
    if far(corner, near) > BESIDE {
        begin.beside = None;
    }
    Some(begin)
}

/// The nearest of some corners, the first of those that are as near, with what is known of it.
fn nearest<'k, T>(
    corner: &Corner,
    all: impl Iterator<Item = (&'k Corner, T)>,
) -> Option<(&'k Corner, T)> {
    all.min_by(|a, b| far(corner, a.0).total_cmp(&far(corner, b.0)))
}

/// How far apart two corners are, in half tolerances all told.
fn far(one: &Corner, other: &Corner) -> f64 {
    let pairs = one.iter().zip(other);
    pairs
        .map(|(a, b): (&Position, &Position)| (a.share() - b.share()).abs())
        .sum()
}
