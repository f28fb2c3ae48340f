//! What draws from an alternating voltage.

use crate::fault::{Fault, Faults};
use crate::model::{Figure, LoadDraw, Part, PartKind, Span};
use quietrail_units::Unit;

/// A current or a power is of a direct voltage: taken from a winding it would flow one way only, and fade as often as the voltage
/// passes nothing.
pub(crate) fn check(parts: &[Part], faults: &mut Faults) {
    let is_winding = |node: &str| {
        let owner = node.split_once('.').map(|(owner, _)| owner);
        let is_transformer = |part: &Part| matches!(part.kind, PartKind::Transformer(_));
        let mut transformers = parts.iter().filter(|part| is_transformer(part));
        owner == Some("inlet") || transformers.any(|part| owner == Some(part.name.as_str()))
    };
    for part in parts {
        let PartKind::Load(load) = &part.kind else {
            continue;
        };
        if !is_winding(&load.between.plus) || !is_winding(&load.between.minus) {
            continue;
        }
        for draw in &load.draws {
            let drawn = match draw {
                LoadDraw::Current(amps) => drawn(amps),
                LoadDraw::Power(watts) => drawn(watts),
                LoadDraw::Resistance(_) => None,
            };
            if let Some((found, span)) = drawn {
                faults.job(span, &Fault::DrawsOneWay { found });
            }
        }
    }
}

/// What is written of a draw, and where; none of one that draws nothing.
fn drawn<U: Unit>(figure: &Figure<U>) -> Option<(String, Span)> {
    let draws = figure.value.high > 0.0;
    draws.then(|| (figure.value.to_string(), figure.span.clone()))
}
