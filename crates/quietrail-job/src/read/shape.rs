//! Whether a table is shaped as its keys say: every key known, every value of its type, every quantity
//! readable and within its bounds. Each text is checked on its own, before catalogue and job are merged.

use super::quantity::{self, Piece};
use crate::fault::{Fault, Faults};
use crate::keys::{self, Bounds, Count, Holds, Keys, Need};
use crate::nearest::nearest;
use crate::written::{Entry, Shape, Table, Value};
use quietrail_units::{Kind, format_si};

/// Which text a table is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Text {
    /// `job.toml`
    Job,
    /// A catalogue: no keys of the circuit.
    Catalogue,
}

/// Checks a table against its keys, and all that it holds.
pub(crate) fn check(
    table: &Table,
    keys: &'static Keys,
    owner: &str,
    text: Text,
    faults: &mut Faults,
) {
    for entry in &table.entries {
        let Some(key) = keys.key(&entry.key) else {
            unknown(entry, keys, owner, faults);
            continue;
        };
        let of_circuit = matches!(key.need, Need::Circuit | Need::CircuitMay);
        if of_circuit && text == Text::Catalogue {
            let fault = Fault::CircuitKey {
                key: entry.key.clone(),
                owner: owner.to_owned(),
            };
            faults.at(entry.key_place(), &fault);
            continue;
        }
        check_value(entry, &entry.value, &key.holds, owner, text, faults);
    }
    check_alternatives(table, keys, owner, faults);
}

fn unknown(entry: &Entry, keys: &'static Keys, owner: &str, faults: &mut Faults) {
    let near = nearest(&entry.key, keys.names());
    let is_part_of_root = entry.value.table().is_some() && keys.key("capacitor").is_some();
    let fault = if is_part_of_root {
        Fault::UnknownTable {
            name: entry.key.clone(),
            of: keys.of,
            nearest: near,
        }
    } else {
        Fault::UnknownKey {
            key: entry.key.clone(),
            owner: owner.to_owned(),
            nearest: near,
            known: keys.names().collect(),
            belongs: keys.table_with(&entry.key),
        }
    };
    faults.at(entry.key_place(), &fault);
}

fn check_alternatives(table: &Table, keys: &'static Keys, owner: &str, faults: &mut Faults) {
    for group in keys.alternatives {
        if group.count == Count::Any {
            continue;
        }
        // In the order of the file: the later one is pointed at.
        let names = |entry: &Entry| group.keys.iter().copied().find(|key| *key == entry.key);
        let mut given = table
            .entries
            .iter()
            .filter_map(|entry| Some((names(entry)?, entry)));
        let Some((first, _)) = given.next() else {
            continue;
        };
        for (second, entry) in given {
            let fault = Fault::BothGiven {
                owner: owner.to_owned(),
                first,
                second,
            };
            faults.at(entry.key_place(), &fault);
        }
    }
}

/// Checks one value, or an item of it.
fn check_value(
    entry: &Entry,
    value: &Value,
    holds: &'static Holds,
    owner: &str,
    text: Text,
    faults: &mut Faults,
) {
    match (holds, &value.shape) {
        // Any quantity is read where its unit is known; a number has none.
        (Holds::Text | Holds::Name | Holds::AnyQuantity, Shape::Text(_))
        | (Holds::Truth, Shape::Truth(_))
        | (Holds::Date, Shape::Date(_) | Shape::Text(_))
        | (Holds::Number, Shape::Number(_)) => {}
        (Holds::Choice(known), Shape::Text(found)) => {
            check_choice(entry, value, found, known, faults);
        }
        (Holds::AnyOf(forms), _) => check_any_of(entry, value, forms, owner, text, faults),
        (Holds::List(of), Shape::List(items)) => {
            for item in items {
                check_value(entry, item, of, owner, text, faults);
            }
        }
        // A list in a catalogue may carry its source: { value = [...], source = "..." }.
        (Holds::List(_), Shape::Table(inner))
            if inner.get("value").is_some_and(|of| of.list().is_some()) =>
        {
            check_sourced_list(entry, inner, holds, owner, text, faults);
        }
        (Holds::Ends, Shape::List(items))
            if items.len() == 2 && items.iter().all(|item| item.text().is_some()) => {}
        (Holds::Table(keys), Shape::Table(inner)) => {
            check(
                inner,
                keys,
                &inner_owner(keys, &entry.key, owner),
                text,
                faults,
            );
        }
        (Holds::Tables(keys), Shape::List(items)) => {
            for item in items {
                match item.table() {
                    Some(inner) => {
                        check(inner, keys, &item_owner(keys, inner, owner), text, faults);
                    }
                    None => wrong_type(entry, item, holds, faults),
                }
            }
        }
        (Holds::Named(of), Shape::Table(inner)) => {
            for named in &inner.entries {
                let owner = format!("`{}` of {owner}", entry.key);
                check_value(named, &named.value, of, &owner, text, faults);
            }
        }
        (Holds::NamedTables(keys), Shape::Table(inner)) => {
            for named in &inner.entries {
                match named.value.table() {
                    Some(part) => check(
                        part,
                        keys,
                        &format!("{} {}", keys.of, named.key),
                        text,
                        faults,
                    ),
                    None => wrong_type(named, &named.value, holds, faults),
                }
            }
        }
        (
            Holds::Figure(..) | Holds::At(..) | Holds::Pair(..) | Holds::FuseRating,
            Shape::Text(words) | Shape::Number(words),
        ) => check_quantity(entry, value, words, holds, faults),
        (
            Holds::Figure(..) | Holds::At(..) | Holds::Pair(..) | Holds::FuseRating,
            Shape::Table(inner),
        ) => {
            check_figure_table(entry, inner, holds, owner, text, faults);
        }
        _ => wrong_type(entry, value, holds, faults),
    }
}

/// What a table inside another is called.
pub(crate) fn inner_owner(keys: &Keys, key: &str, owner: &str) -> String {
    if keys.of.starts_with('[') {
        keys.of.to_owned()
    } else {
        format!("`{key}` of {owner}")
    }
}

/// What a table in a list is called: by its name where it has one.
pub(crate) fn item_owner(keys: &Keys, item: &Table, owner: &str) -> String {
    match item.get("name").and_then(Value::text) {
        Some(name) => format!("{} {name}", keys.of),
        None if owner == "job" => format!("a {}", keys.of),
        None => format!("a {} of {owner}", keys.of),
    }
}

fn wrong_type(entry: &Entry, value: &Value, holds: &Holds, faults: &mut Faults) {
    let fault = Fault::WrongType {
        key: entry.key.clone(),
        found: value.shape.words(),
        wanted: holds.words(),
    };
    faults.of(value, &fault);
}

fn check_choice(
    entry: &Entry,
    value: &Value,
    found: &str,
    known: &'static [&'static str],
    faults: &mut Faults,
) {
    if known.contains(&found) {
        return;
    }
    let fault = Fault::UnknownChoice {
        key: entry.key.clone(),
        found: found.to_owned(),
        known,
        nearest: nearest(found, known.iter().copied()),
    };
    faults.of(value, &fault);
}

/// One of several forms: silent if one fits, else the faults of the form that fits best. A text that several quantities
/// can be read from (`22k` of a load) is asked about: which was meant, nothing in it tells.
fn check_any_of(
    entry: &Entry,
    value: &Value,
    forms: &'static [Holds],
    owner: &str,
    text: Text,
    faults: &mut Faults,
) {
    let asked = unsettled(value, forms);
    if !asked.is_empty() {
        for (leaf, fault) in asked {
            faults.of(leaf, &fault);
        }
        return;
    }
    let mut tried: Vec<(usize, Faults)> = Vec::new();
    for form in forms {
        let mut scratch = faults.scratch();
        check_value(entry, value, form, owner, text, &mut scratch);
        if scratch.len() == 0 {
            return;
        }
        tried.push((scratch.misfit(), scratch));
    }
    let is_of_another_unit = tried.iter().all(|(_, scratch)| scratch.is_of_unit());
    if let Some((_, mut best)) = tried.into_iter().min_by_key(|(misfit, _)| *misfit) {
        if is_of_another_unit && let Some(help) = any_of_words(forms) {
            best.advise(&help);
        }
        faults.append(best);
    }
}

/// The texts of a value that are quantities of more than one of the forms, each with the question which was meant.
fn unsettled<'v>(value: &'v Value, forms: &[Holds]) -> Vec<(&'v Value, Fault)> {
    let question = |leaf: &'v Value| {
        let (Shape::Text(words) | Shape::Number(words)) = &leaf.shape else {
            return None;
        };
        let choices: Vec<String> = forms.iter().filter_map(|form| meant(words, form)).collect();
        let choices = listed(&choices).filter(|_| choices.len() > 1)?;
        let said = format!("{words} can be read in more than one way: write {choices}");
        Some((leaf, Fault::Ambiguous { said }))
    };
    leaves(value).into_iter().filter_map(question).collect()
}

/// A value that stands for itself, or those of its table of drawn, fitted and measured.
fn leaves(value: &Value) -> Vec<&Value> {
    let Some(table) = value.table() else {
        return vec![value];
    };
    let figures = table.entries.iter().map(|entry| &entry.value);
    figures
        .map(|figure| {
            let inner = figure.table().and_then(|measured| measured.get("value"));
            inner.unwrap_or(figure)
        })
        .collect()
}

/// A text as it would be written with the unit of a form; `None` where it cannot be read in that.
fn meant(words: &str, form: &Holds) -> Option<String> {
    let (of, kind, rest) = match form {
        Holds::Figure(kind, _) => (words, *kind, String::new()),
        Holds::At(kind, _, at_kind, _) => {
            let (of, at) = quantity::at(words)?;
            quantity::interval(*at_kind, at.text).ok()?;
            (of.text, *kind, format!(" at {}", at.text))
        }
        _ => return None,
    };
    let (_, nominal, _) = quantity::interval(kind, of).ok()?;
    let written = format_si(nominal, kind.symbol(), 6);
    let (number, unit) = written
        .split_once('\u{a0}')
        .unwrap_or((written.as_str(), ""));
    let number = if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.')
    } else {
        number
    };
    Some(format!("{number} {unit}{rest}"))
}

/// `450 mA, 4.7 kΩ or 5 W`
fn listed(words: &[String]) -> Option<String> {
    match words.split_last()? {
        (only, []) => Some(only.clone()),
        (last, before) => Some(format!("{} or {last}", before.join(", "))),
    }
}

/// What may stand where several units may: `450 mA, 4.7 kΩ or 5 W`.
fn any_of_words(forms: &[Holds]) -> Option<String> {
    let kinds: Option<Vec<Kind>> = forms
        .iter()
        .map(|form| match form {
            Holds::Figure(kind, _) => Some(*kind),
            _ => None,
        })
        .collect();
    let kinds = kinds.filter(|kinds| kinds.len() > 1)?;
    let measures: Vec<String> = kinds
        .iter()
        .map(|kind| format!("a {}", kind.measures()))
        .collect();
    let examples: Vec<String> = kinds.iter().map(|kind| kind.example().to_owned()).collect();
    let (measures, examples) = (listed(&measures)?, listed(&examples)?);
    Some(format!("{measures} can stand here: {examples}"))
}

fn check_sourced_list(
    entry: &Entry,
    inner: &Table,
    holds: &'static Holds,
    owner: &str,
    text: Text,
    faults: &mut Faults,
) {
    for inner_entry in &inner.entries {
        match inner_entry.key.as_str() {
            "value" => check_value(entry, &inner_entry.value, holds, owner, text, faults),
            "source" | "note" => {}
            _ => unknown(
                inner_entry,
                &keys::FIGURE,
                &format!("`{}` of {owner}", entry.key),
                faults,
            ),
        }
    }
}

/// `{ drawn, fitted, measured }` or `{ value, source }` in place of a plain quantity.
fn check_figure_table(
    entry: &Entry,
    inner: &Table,
    holds: &'static Holds,
    owner: &str,
    text: Text,
    faults: &mut Faults,
) {
    let owner = format!("`{}` of {owner}", entry.key);
    for inner_entry in &inner.entries {
        let Some(key) = keys::FIGURE.key(&inner_entry.key) else {
            unknown(inner_entry, &keys::FIGURE, &owner, faults);
            continue;
        };
        match (inner_entry.key.as_str(), &inner_entry.value.shape) {
            // A reading may be plain, without instrument and date.
            (
                "drawn" | "fitted" | "value" | "measured",
                Shape::Text(words) | Shape::Number(words),
            ) => {
                check_quantity(entry, &inner_entry.value, words, holds, faults);
            }
            ("measured", Shape::Table(measured)) => {
                let Holds::Table(measured_keys) = key.holds else {
                    continue;
                };
                check(
                    measured,
                    measured_keys,
                    &format!("`measured` in {owner}"),
                    text,
                    faults,
                );
                let Some(value) = measured.get("value") else {
                    continue;
                };
                if let Shape::Text(words) | Shape::Number(words) = &value.shape {
                    check_quantity(entry, value, words, holds, faults);
                }
            }
            _ => check_value(
                inner_entry,
                &inner_entry.value,
                &key.holds,
                &owner,
                text,
                faults,
            ),
        }
    }
}

fn check_quantity(entry: &Entry, value: &Value, words: &str, holds: &Holds, faults: &mut Faults) {
    let mut piece = |piece: &Piece<'_>, kind: Kind, bounds: Bounds| {
        check_piece(entry, value, piece, kind, bounds, faults);
    };
    match holds {
        Holds::Figure(kind, bounds) => piece(&Piece::whole(words), *kind, *bounds),
        Holds::At(kind, bounds, at_kind, at_bounds) => match quantity::at(words) {
            Some((first, second)) => {
                piece(&first, *kind, *bounds);
                piece(&second, *at_kind, *at_bounds);
            }
            None => {
                let fault = Fault::NoAt {
                    found: words.to_owned(),
                    wanted: holds.words(),
                };
                faults.of(value, &fault);
            }
        },
        Holds::Pair(kind, bounds, second_kind, second_bounds) => {
            match quantity::pair(words, *kind, *second_kind) {
                Some((first, second)) => {
                    piece(&first, *kind, *bounds);
                    piece(&second, *second_kind, *second_bounds);
                }
                None => {
                    let said = format!("read {words}; {} is wanted", holds.words());
                    faults.of(value, &Fault::Unreadable { said });
                }
            }
        }
        Holds::FuseRating => check_fuse(entry, value, words, faults),
        _ => {}
    }
}

fn check_fuse(entry: &Entry, value: &Value, words: &str, faults: &mut Faults) {
    let (current, characteristic) = quantity::fuse(words);
    if characteristic.is_some() {
        check_piece(
            entry,
            value,
            &current,
            Kind::Amperes,
            Bounds::Positive,
            faults,
        );
        return;
    }
    let known: Vec<String> = quantity::CHARACTERISTICS
        .iter()
        .map(|(name, letters)| format!("{name} ({letters})"))
        .collect();
    let said = format!(
        "read {words}; a current and one of {} is wanted, for instance 315 mA time-lag or 315 mA T",
        known.join(", ")
    );
    faults.of(value, &Fault::Unreadable { said });
}

fn check_piece(
    entry: &Entry,
    value: &Value,
    piece: &Piece<'_>,
    kind: Kind,
    bounds: Bounds,
    faults: &mut Faults,
) {
    match quantity::interval(kind, piece.text) {
        Err(error) => {
            let place = value.place_inside(&piece.place(&error.at));
            faults.at(place, &quantity::fault(&error));
        }
        Ok((low, _, high)) if !bounds.allow(low, high) => {
            let fault = Fault::Bounds {
                key: entry.key.clone(),
                found: piece.text.to_owned(),
                allowed: bounds.words(),
            };
            faults.at(value.place_inside(&piece.span()), &fault);
        }
        Ok(_) => {}
    }
}
