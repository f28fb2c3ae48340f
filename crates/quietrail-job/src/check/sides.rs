//! The input of a regulator lies on that side of its return on which it holds its output.

use crate::fault::{Fault, Faults};
use crate::model::{Part, PartKind, Rectifier, RectifierForm, Regulator};

/// Regulators whose set point is above their return and whose input is filled below it, or the other way round.
pub(crate) fn check(parts: &[Part], faults: &mut Faults) {
    for part in parts {
        let PartKind::Regulator(regulator) = &part.kind else {
            continue;
        };
        let Some((source, is_above)) = filled_by(parts, regulator) else {
            continue;
        };
        if is_above != regulator.is_negative() {
            continue;
        }
        let fault = Fault::OtherSide {
            regulator: part.name.clone(),
            input: regulator.from.clone(),
            ret: regulator.ret.clone(),
            source: source.to_owned(),
            is_above,
        };
        faults.job(regulator.span.clone(), &fault);
    }
}

/// What fills the input of a regulator, and whether that is above its return; none where nothing that is known to do either does.
fn filled_by<'a>(parts: &'a [Part], regulator: &'a Regulator) -> Option<(&'a str, bool)> {
    let returns = joined(parts, &regulator.ret, &[&regulator.from], is_wire);
    let inputs = joined(parts, &regulator.from, &returns, passes);
    inputs.iter().find_map(|input| {
        parts.iter().find_map(|part| {
            let is_above = |upper: &str, lower: &str| {
                if *input == upper && returns.contains(&lower) {
                    Some(true)
                } else if *input == lower && returns.contains(&upper) {
                    Some(false)
                } else {
                    None
                }
            };
            let found = match &part.kind {
                PartKind::Rectifier(one) => levels(one)
                    .windows(2)
                    .find_map(|pair| is_above(pair[0], pair[1])),
                PartKind::Regulator(other) if other.into != regulator.into => {
                    let (upper, lower) = other.output();
                    is_above(upper, lower)
                }
                _ => None,
            };
            found.map(|is_above| (part.name.as_str(), is_above))
        })
    })
}

/// Nodes of a rectifier from the highest down.
fn levels(rectifier: &Rectifier) -> Vec<&str> {
    let mut all = vec![rectifier.into.as_str(), rectifier.ret.as_str()];
    if let RectifierForm::Split { negative } = &rectifier.form {
        all.push(negative);
    }
    all
}

/// Nodes that such parts join to one, the nearest first; none of those left out, nor what lies behind them.
fn joined<'a>(
    parts: &'a [Part],
    from: &'a str,
    without: &[&str],
    is_such: fn(&PartKind) -> bool,
) -> Vec<&'a str> {
    let mut all = vec![from];
    let mut next = 0;
    while next < all.len() {
        let at = all[next];
        for part in parts.iter().filter(|part| is_such(&part.kind)) {
            let Some(between) = part.kind.between() else {
                continue;
            };
            let other = match (between.plus.as_str(), between.minus.as_str()) {
                (one, other) | (other, one) if one == at => other,
                _ => continue,
            };
            if !all.contains(&other) && !without.contains(&other) {
                all.push(other);
            }
        }
        next += 1;
    }
    all
}

fn is_wire(kind: &PartKind) -> bool {
    matches!(kind, PartKind::Wire(_))
}

/// Parts that raw current passes on its way to a regulator.
fn passes(kind: &PartKind) -> bool {
    matches!(
        kind,
        PartKind::Wire(_)
            | PartKind::Fuse(_)
            | PartKind::Switch(_)
            | PartKind::Resistor(_)
            | PartKind::Inductor(_)
    )
}
