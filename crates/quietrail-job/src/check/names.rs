//! Every name means one thing.
//!
//! Parts of all kinds share their names, since a limit, an address and a reading name a part without its
//! kind. Windings and joins share those of their transformer.

use crate::fault::{Fault, Faults};
use crate::read::PartTable;
use crate::read::fields::Fields;
use crate::written::{Entry, Place, Value};

/// Names that begin an address of something else, or are nodes.
const RESERVED: &[&str] = &[
    "mains", "load", "room", "box", "common", "inlet", "job", "states",
];

/// Part names: usable, and each there once.
pub(crate) fn check_parts(parts: &[PartTable<'_>], faults: &mut Faults) {
    for (index, part) in parts.iter().enumerate() {
        if let Some(why) = unusable(part.name) {
            let fault = Fault::UnusableName {
                name: part.name.to_owned(),
                why,
            };
            faults.at(part.entry.key_place(), &fault);
        }
        let earlier = parts[..index]
            .iter()
            .find(|earlier| earlier.name == part.name);
        if let Some(earlier) = earlier {
            let fault = Fault::DuplicateName {
                name: part.name.to_owned(),
                first: earlier.kind,
            };
            let also = vec![(earlier.entry.key_span.clone(), "the first one".to_owned())];
            faults.also(part.entry.key_place(), &fault, also);
        }
    }
}

/// State names, which end addresses.
pub(crate) fn check_states(entries: &[Entry], faults: &mut Faults) {
    for entry in entries {
        if let Some(why) = unusable_in_address(&entry.key) {
            let fault = Fault::UnusableName {
                name: entry.key.clone(),
                why,
            };
            faults.at(entry.key_place(), &fault);
        }
    }
}

fn unusable(name: &str) -> Option<&'static str> {
    if RESERVED.contains(&name) {
        return Some("it means something else in addresses and nodes");
    }
    unusable_in_address(name)
}

fn unusable_in_address(name: &str) -> Option<&'static str> {
    if name.is_empty() {
        return Some("it is empty");
    }
    let fits = |c: char| c.is_alphanumeric() || c == '_' || c == '-';
    (!name.chars().all(fits)).then_some("a name has letters, digits, _ and -")
}

/// Winding, tap and join names of a transformer.
pub(crate) fn check_windings(transformer: &Fields<'_>, faults: &mut Faults) {
    let mut seen: Vec<(&str, &'static str)> = Vec::new();
    for (key, kind) in [
        ("primary", "primary winding"),
        ("secondary", "secondary winding"),
    ] {
        for winding in transformer.tables(key) {
            let Some(value) = winding.value("name") else {
                continue;
            };
            let Some(name) = value.text() else { continue };
            check_winding(name, kind, &value.place(), &mut seen, faults);
            for tap in winding.named("taps") {
                check_tap(tap, faults);
            }
        }
    }
    for join in transformer.named("joins") {
        check_winding(&join.key, "join", &join.key_place(), &mut seen, faults);
    }
}

fn check_winding<'a>(
    name: &'a str,
    kind: &'static str,
    place: &Place,
    seen: &mut Vec<(&'a str, &'static str)>,
    faults: &mut Faults,
) {
    let usable = !name.is_empty() && name.chars().all(crate::join::is_of_name);
    if !usable || name == "primary" {
        let why = "a winding has letters, digits and _, and primary is that of all primaries";
        faults.at(
            place.clone(),
            &Fault::UnusableName {
                name: name.to_owned(),
                why,
            },
        );
    }
    match seen.iter().find(|(earlier, _)| *earlier == name) {
        Some((_, first)) => {
            faults.at(
                place.clone(),
                &Fault::DuplicateName {
                    name: name.to_owned(),
                    first,
                },
            );
        }
        None => seen.push((name, kind)),
    }
}

fn check_tap(tap: &Entry, faults: &mut Faults) {
    let usable = !tap.key.is_empty() && tap.key.chars().all(crate::join::is_of_name);
    if !usable || matches!(tap.key.as_str(), "start" | "finish" | "centre") {
        let why = "a tap has letters, digits and _, and start, finish and centre are other points";
        faults.at(
            tap.key_place(),
            &Fault::UnusableName {
                name: tap.key.clone(),
                why,
            },
        );
    }
}

/// Names of limits or steps: each there once.
pub(crate) fn check_listed(tables: &[Fields<'_>], kind: &'static str, faults: &mut Faults) {
    let mut seen: Vec<(&str, &Value)> = Vec::new();
    for table in tables {
        let Some(value) = table.value("name") else {
            continue;
        };
        let Some(name) = value.text() else { continue };
        match seen.iter().find(|(earlier, _)| *earlier == name) {
            Some((_, first)) => {
                let fault = Fault::DuplicateName {
                    name: name.to_owned(),
                    first: kind,
                };
                let also = vec![(first.span.clone(), "the first one".to_owned())];
                faults.also(value.place(), &fault, also);
            }
            None => seen.push((name, value)),
        }
    }
}
