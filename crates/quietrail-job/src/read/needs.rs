//! Whether all that must be there is there: in the job, or in the catalogue entry that a part names.

use super::shape::{inner_owner, item_owner};
use crate::fault::{Entry as Missing, Fault, Faults};
use crate::keys::{Count, Holds, Key, Keys, Need};
use crate::model::Span;
use crate::written::{Place, Shape, Table, Value};

/// Reports every key of a merged table that is missing, and of all tables in it. Parts at the places in
/// `unknown` name a catalogue entry that is not there: what they lack cannot be said.
pub(crate) fn check(
    table: &Table,
    keys: &'static Keys,
    owner: &str,
    place: &Place,
    unknown: &[Span],
    faults: &mut Faults,
) {
    for key in keys.keys {
        match table.get(key.name) {
            Some(value) => check_inside(value, key.name, &key.holds, owner, unknown, faults),
            None if matches!(key.need, Need::Always | Need::Circuit) => {
                missing(table, keys, key, owner, place, faults);
            }
            None => {}
        }
    }
    for group in keys.alternatives {
        let none = group.keys.iter().all(|key| table.entry(key).is_none());
        if group.count == Count::One && none {
            let fault = Fault::MissingOneOf {
                owner: owner.to_owned(),
                keys: group.keys.to_vec(),
            };
            faults.at(place.clone(), &fault);
        }
    }
}

fn check_inside(
    value: &Value,
    key: &str,
    holds: &'static Holds,
    owner: &str,
    unknown: &[Span],
    faults: &mut Faults,
) {
    match (holds, &value.shape) {
        (Holds::Table(keys), Shape::Table(inner)) => {
            check(
                inner,
                keys,
                &inner_owner(keys, key, owner),
                &value.place(),
                unknown,
                faults,
            );
        }
        (Holds::Tables(keys), Shape::List(items)) => {
            for item in items {
                let Some(inner) = item.table() else { continue };
                check(
                    inner,
                    keys,
                    &item_owner(keys, inner, owner),
                    &item.place(),
                    unknown,
                    faults,
                );
            }
        }
        (Holds::NamedTables(keys), Shape::Table(inner)) => {
            for named in &inner.entries {
                let Some(part) = named.value.table() else {
                    continue;
                };
                if unknown.contains(&named.value.span) {
                    continue;
                }
                let owner = format!("{} {}", keys.of, named.key);
                check(part, keys, &owner, &named.value.place(), unknown, faults);
            }
        }
        _ => {}
    }
}

fn missing(
    table: &Table,
    keys: &'static Keys,
    key: &'static Key,
    owner: &str,
    place: &Place,
    faults: &mut Faults,
) {
    let owner = owner.to_owned();
    let fault = if is_figure(&key.holds) {
        let entry = match (table.entry("part"), keys.key("part")) {
            (Some(_), _) => Missing::Named,
            (None, Some(_)) => Missing::CouldName,
            (None, None) => Missing::None,
        };
        Fault::MissingFigure {
            owner,
            key: key.name,
            says: key.says,
            entry,
        }
    } else {
        Fault::MissingKey {
            owner,
            key: key.name,
            says: key.says,
        }
    };
    faults.at(place.clone(), &fault);
}

fn is_figure(holds: &Holds) -> bool {
    match holds {
        Holds::Figure(..)
        | Holds::At(..)
        | Holds::Pair(..)
        | Holds::FuseRating
        | Holds::AnyQuantity => true,
        Holds::List(of) => is_figure(of),
        Holds::AnyOf(forms) => forms.iter().any(is_figure),
        Holds::Text
        | Holds::Name
        | Holds::Truth
        | Holds::Date
        | Holds::Number
        | Holds::Choice(_)
        | Holds::Ends
        | Holds::Table(_)
        | Holds::Tables(_)
        | Holds::Named(_)
        | Holds::NamedTables(_) => false,
    }
}
