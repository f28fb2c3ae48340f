//! From text to meaning, without stopping at the first fault:
//!
//! 1. [`text`]: is it a text, of a size and format that this program reads?
//! 2. [`crate::written::mirror`]: TOML with a place for every key and value.
//! 3. [`shape`]: are all keys known, all values of their type, all quantities readable?
//! 4. [`crate::catalogue::merge`]: what a part leaves out comes from its catalogue entry.
//! 5. [`needs`]: is all there that must be?
//! 6. [`crate::check`]: do names, nodes, sources and references fit together?
//! 7. One function per table crosses over to [`crate::model`].
//! 8. [`crate::check::sources`] looks at what the windings then are.
//!
//! Each step reports what it finds and hands on what it could make of the rest.

mod acceptance;
mod bench;
pub(crate) mod derived;
pub(crate) mod fields;
mod instrument;
mod limit;
mod mains;
mod needs;
mod noise;
mod oscillator;
mod part;
pub(crate) mod quantity;
mod regulator;
mod same;
pub(crate) mod shape;
mod spread;
mod states;
mod text;
mod transformer;
mod transistor;
mod unmarked;

use crate::catalogue::{self, Catalogue};
use crate::check;
use crate::diagnostic::FileId;
use crate::fault::{Fault, Faults};
use crate::keys::{self, Holds, Keys};
use crate::model::{Job, Part, PartKind, Region, State};
use crate::wiring::Wiring;
use crate::written::{self, Entry, Place, Shape, SyntaxError, Table, Value};
use crate::{Reading, model::Span};
use fields::Fields;
use std::sync::Arc;

pub use quantity::{apart, interval};
pub(crate) use text::check_format;
pub use text::{MAX_JOB_BYTES, decode};

/// A table of a part, catalogue merged.
pub(crate) struct PartTable<'a> {
    /// `capacitor`
    pub(crate) kind: &'static str,
    /// `C1`
    pub(crate) name: &'a str,
    /// Its entry in the table of its kind.
    pub(crate) entry: &'a Entry,
    /// Its keys.
    pub(crate) fields: Fields<'a>,
}

/// Reads a job; see [`crate::read`].
pub(crate) fn read(job_toml: &str, parts_toml: Option<&str>) -> Reading {
    let mut faults = Faults::default();
    let job = read_into(job_toml, parts_toml, &mut faults);
    let job = job.filter(|_| !faults.any_error());
    Reading {
        job,
        diagnostics: faults.in_order(),
    }
}

fn read_into(job_toml: &str, parts_toml: Option<&str>, faults: &mut Faults) -> Option<Job> {
    text::check(job_toml, FileId::Job, faults)?;
    if let Some(parts) = parts_toml {
        text::check_size(parts, FileId::Parts, faults)?;
    }
    let (root, errors) = written::mirror(job_toml);
    text::check_format(&root, faults)?;
    let broken = report_syntax(&errors, job_toml, faults);

    let catalogue = Catalogue::with_own(parts_toml, faults);
    let before = faults.len();
    shape::check(&root, &keys::ROOT, "job", shape::Text::Job, faults);
    if let Some(from) = broken {
        // Behind a syntax error, keys may have landed in the wrong table; what is missing may be there.
        faults.keep_from(before, |found| {
            found.file == FileId::Parts || found.span.end <= from
        });
        return None;
    }
    let (merged, unknown) = merge_parts(&root, &catalogue, faults);
    let whole = Place {
        file: Some(FileId::Job),
        span: 0..0,
    };
    needs::check(&merged, &keys::ROOT, "job", &whole, &unknown, faults);
    cross_over(&merged, &unknown, faults)
}

/// Reports syntax errors; the place from which on the text cannot be relied on, if there is one.
fn report_syntax(errors: &[SyntaxError], text: &str, faults: &mut Faults) -> Option<usize> {
    for SyntaxError { span, said } in errors {
        let fault = if said == "duplicate key" {
            Fault::Twice {
                name: text.get(span.clone()).unwrap_or_default().to_owned(),
            }
        } else {
            Fault::Syntax { said: said.clone() }
        };
        faults.job(span.clone(), &fault);
    }
    errors
        .iter()
        .filter(|error| error.said != "duplicate key")
        .map(|error| line_start(text, error.span.start))
        .min()
}

fn line_start(text: &str, at: usize) -> usize {
    text.get(..at)
        .and_then(|before| before.rfind('\n'))
        .map_or(0, |newline| newline + 1)
}

/// The job with every part's catalogue entry merged in, and the places of parts whose entry is unknown.
fn merge_parts(root: &Table, catalogue: &Catalogue, faults: &mut Faults) -> (Table, Vec<Span>) {
    let mut merged = root.clone();
    let mut unknown = Vec::new();
    for kind in &mut merged.entries {
        let Some(Holds::NamedTables(keys)) = keys::PARTS.key(&kind.key).map(|key| &key.holds)
        else {
            continue;
        };
        let Shape::Table(parts) = &mut kind.value.shape else {
            continue;
        };
        for part in &mut parts.entries {
            let Shape::Table(table) = &mut part.value.shape else {
                continue;
            };
            let mut whole = merge_entry(table, &kind.key, "part", keys, catalogue, faults);
            if kind.key == "rectifier" {
                whole &= merge_entry(table, "diode", "diode", keys, catalogue, faults);
            }
            if !whole {
                unknown.push(part.value.span.clone());
            }
        }
    }
    (merged, unknown)
}

/// Merges the entry that a key names; false if there is none of that name.
fn merge_entry(
    table: &mut Table,
    kind: &str,
    key: &str,
    keys: &'static Keys,
    catalogue: &Catalogue,
    faults: &mut Faults,
) -> bool {
    let Some(value) = table.get(key) else {
        return true;
    };
    let Some(name) = value.text() else {
        return true;
    };
    let Some(known) = catalogue.find(kind, name) else {
        let near = catalogue.nearest(kind, name);
        let fault = Fault::UnknownEntry {
            name: name.to_owned(),
            kind: kind.to_owned(),
            nearest: near,
        };
        faults.of(value, &fault);
        return false;
    };
    *table = if key == "diode" {
        let mut of_diode = known.table.clone();
        of_diode
            .entries
            .retain(|entry| keys::DIODE_KEYS.contains(&entry.key.as_str()));
        catalogue::merge(table, &of_diode, keys)
    } else {
        catalogue::merge(table, &known.table, keys)
    };
    true
}

fn cross_over(root: &Table, unknown: &[Span], faults: &mut Faults) -> Option<Job> {
    let parts = part_tables(root);
    let states = states::states(root, faults);
    let job_fields = table_fields(root, "job");
    let region = region(root, job_fields.as_ref(), faults);
    let wiring = check_wiring(&parts, faults);
    check_names(root, &parts, faults);
    for part in parts.iter().filter(|part| part.kind == "load") {
        states::check_draws(&part.fields, &states, faults);
    }

    let crossed: Vec<Option<Part>> = parts
        .iter()
        .map(|part| {
            // What a part of an unknown catalogue entry lacks cannot be said.
            if unknown.contains(&part.fields.place.span) {
                return None;
            }
            faults.fallback = part.fields.place.span.clone();
            part_of(part, region.as_ref(), &states, faults)
        })
        .collect();
    let all_crossed = crossed.iter().all(Option::is_some);
    let parts: Vec<Part> = crossed.into_iter().flatten().collect();
    check::sources::check_windings(&parts, faults);
    check::sources::check_ties(&parts, faults);
    check::sources::check_centres(&parts, faults);
    check::alternating::check(&parts, faults);
    check::sides::check(&parts, faults);

    let limits: Vec<_> = listed(root, "limit")
        .iter()
        .map(|fields| limit::limit(fields, &wiring, &states, faults))
        .collect();
    let steps: Vec<_> = listed(root, "step")
        .iter()
        .map(|fields| bench::step(fields, &wiring, &states, faults))
        .collect();
    let oscillators: Vec<_> = named_tables(root, "oscillator")
        .iter()
        .map(|(entry, fields)| oscillator::oscillator(&entry.key, fields, &wiring, faults))
        .collect();
    let instruments: Vec<_> = named_tables(root, "instrument")
        .iter()
        .map(|(entry, fields)| {
            faults.fallback = fields.place.span.clone();
            instrument::instrument(&entry.key, fields, faults)
        })
        .collect();
    let unmarked: Vec<_> = named_tables(root, "unmarked")
        .iter()
        .map(|(entry, fields)| unmarked::unmarked(&entry.key, fields, faults))
        .collect();
    let mains = table_fields(root, "mains")
        .and_then(|fields| mains::mains(&fields, region.as_ref(), faults));
    let air = mains::air(table_fields(root, "box").as_ref());

    if !all_crossed {
        return None;
    }
    let mut job = Job {
        title: job_fields
            .map(|fields| fields.words("title"))
            .unwrap_or_default(),
        region: region?,
        mains: mains?,
        states,
        air: air?,
        parts: parts.into_iter().map(Arc::new).collect(),
        limits: limits.into_iter().collect::<Option<_>>()?,
        oscillators: oscillators.into_iter().collect::<Option<_>>()?,
        instruments: instruments.into_iter().collect::<Option<_>>()?,
        on_hand: Arc::new(bench::on_hand(table_fields(root, "bench").as_ref())?),
        steps: steps.into_iter().collect::<Option<_>>()?,
        same: Arc::default(),
        spreads: Arc::default(),
        unmarked: unmarked.into_iter().collect::<Option<_>>()?,
    };
    job.same = same::same(&listed(root, "same"), &job, faults).into();
    job.spreads = spread::spreads(&listed(root, "spread"), &job, faults).into();
    Some(job)
}

fn region(root: &Table, job: Option<&Fields<'_>>, faults: &mut Faults) -> Option<Region> {
    mains::region(job, &table_fields(root, "mains")?, faults)
}

fn check_wiring(parts: &[PartTable<'_>], faults: &mut Faults) -> Wiring {
    let mut wiring = Wiring::default();
    for part in parts {
        wiring.add(part.kind, part.name, &part.fields);
    }
    check::nodes::check(&wiring, faults);
    check::sources::check_nodes(&wiring, faults);
    check::references::check(parts, faults);
    wiring
}

fn check_names(root: &Table, parts: &[PartTable<'_>], faults: &mut Faults) {
    check::names::check_parts(parts, faults);
    for part in parts.iter().filter(|part| part.kind == "transformer") {
        check::names::check_windings(&part.fields, faults);
    }
    if let Some(states) = root.get("states").and_then(Value::table) {
        check::names::check_states(&states.entries, faults);
    }
    check::names::check_listed(&listed(root, "limit"), "limit", faults);
    check::asked::check(&listed(root, "limit"), parts, faults);
    check::names::check_listed(&listed(root, "step"), "step", faults);
}

/// All part tables, in the order of the file.
fn part_tables(root: &Table) -> Vec<PartTable<'_>> {
    let mut parts: Vec<PartTable<'_>> = keys::PARTS
        .names()
        .filter(|kind| *kind != "instrument")
        .flat_map(|kind| {
            named_tables(root, kind)
                .into_iter()
                .map(move |(entry, fields)| PartTable {
                    kind,
                    name: &entry.key,
                    entry,
                    fields,
                })
        })
        .collect();
    parts.sort_by_key(|part| part.entry.value.span.start);
    parts
}

/// The tables under a kind, `[capacitor.C1]` and so on.
fn named_tables<'a>(root: &'a Table, kind: &str) -> Vec<(&'a Entry, Fields<'a>)> {
    let Some(Holds::NamedTables(keys)) = keys::ROOT.key(kind).map(|key| &key.holds) else {
        return Vec::new();
    };
    let entries = root
        .get(kind)
        .and_then(Value::table)
        .map_or(&[][..], |table| &table.entries);
    entries
        .iter()
        .filter_map(|entry| {
            let table = entry.value.table()?;
            let owner = format!("{} {}", keys.of, entry.key);
            Some((
                entry,
                Fields {
                    table,
                    keys,
                    owner,
                    place: entry.value.place(),
                },
            ))
        })
        .collect()
}

/// The tables of `[[limit]]` and `[[step]]`.
fn listed<'a>(root: &'a Table, key: &str) -> Vec<Fields<'a>> {
    root_fields(root).tables(key)
}

/// The table under a key of the root.
fn table_fields<'a>(root: &'a Table, key: &str) -> Option<Fields<'a>> {
    root_fields(root).inner(key)
}

fn root_fields(root: &Table) -> Fields<'_> {
    let place = Place {
        file: Some(FileId::Job),
        span: 0..0,
    };
    Fields {
        table: root,
        keys: &keys::ROOT,
        owner: "job".to_owned(),
        place,
    }
}

fn part_of(
    part: &PartTable<'_>,
    region: Option<&Region>,
    states: &[State],
    faults: &mut Faults,
) -> Option<Part> {
    let fields = &part.fields;
    let kind = match part.kind {
        "fuse" => PartKind::Fuse(mains::fuse(fields)?),
        "switch" => PartKind::Switch(mains::switch(fields)?),
        "lamp" => PartKind::Lamp(mains::lamp(fields)?),
        "variable_transformer" => {
            PartKind::VariableTransformer(mains::variable_transformer(fields)?)
        }
        "transformer" => {
            let volts = region.map(|region| region.volts);
            PartKind::Transformer(transformer::transformer(fields, volts, faults)?)
        }
        "rectifier" => PartKind::Rectifier(part::rectifier(fields, faults)?),
        "capacitor" => PartKind::Capacitor(part::capacitor(fields, faults)?),
        "resistor" => PartKind::Resistor(part::resistor(fields)?),
        "inductor" => PartKind::Inductor(part::inductor(fields)?),
        "wire" => PartKind::Wire(part::wire(fields, faults)?),
        "diode" => PartKind::Diode(part::diode(fields, faults)?),
        "regulator" => PartKind::Regulator(Box::new(regulator::regulator(fields, faults)?)),
        "transistor" => PartKind::Transistor(Box::new(transistor::transistor(fields, faults)?)),
        "shunt" => PartKind::Shunt(Box::new(transistor::shunt(fields, faults)?)),
        "sink" => PartKind::Sink(part::sink(fields)?),
        "load" => {
            let states: Vec<&str> = states.iter().map(|state| state.name.as_str()).collect();
            PartKind::Load(part::load(fields, &states)?)
        }
        _ => return None,
    };
    Some(Part {
        name: part.name.to_owned(),
        span: fields.place.span.clone(),
        kind,
    })
}
