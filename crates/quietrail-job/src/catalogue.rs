//! Known parts: the built-in catalogue and the builder's own, both read like a job.
//!
//! The form of an entry is in `catalogue/README.md` beside the data.

use crate::fault::{Fault, Faults};
use crate::keys::{self, Holds, Keys};
use crate::model::Span;
use crate::nearest::nearest;
use crate::read::shape;
use crate::written::{self, Entry, Home, Shape, Shelf, SyntaxError, Table, Value};
use std::sync::{Arc, OnceLock};

/// The built-in files.
pub(crate) const BUILT_IN: &[&str] = &[
    include_str!("../catalogue/capacitors.toml"),
    include_str!("../catalogue/diodes.toml"),
    include_str!("../catalogue/fuses.toml"),
    include_str!("../catalogue/instruments.toml"),
    include_str!("../catalogue/regulators.toml"),
    include_str!("../catalogue/transistors.toml"),
];

/// Known parts, the builder's own first.
#[derive(Debug, Default)]
pub(crate) struct Catalogue {
    own: Vec<Known>,
}

/// One known part.
#[derive(Clone, Debug)]
pub(crate) struct Known {
    /// `diode`
    pub(crate) kind: String,
    /// `silicon 3 A`
    pub(crate) name: String,
    /// Where its name stands.
    pub(crate) span: Span,
    /// Its keys.
    pub(crate) table: Table,
}

/// One entry of the catalogue, for lists of parts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CatalogueEntry {
    /// The kind of part: `diode`.
    pub kind: String,
    /// Its name: `silicon 3 A`.
    pub name: String,
    /// The document that its figures come from, or "from memory".
    pub source: String,
    /// A sentence about it; empty if there is none.
    pub note: String,
}

/// Every built-in entry, in the order of the files.
pub fn built_in_entries() -> Vec<CatalogueEntry> {
    built_in()
        .iter()
        .map(|known| CatalogueEntry {
            kind: known.kind.clone(),
            name: known.name.clone(),
            source: words(&known.table, "source"),
            note: words(&known.table, "note"),
        })
        .collect()
}

fn words(table: &Table, key: &str) -> String {
    table
        .get(key)
        .and_then(Value::text)
        .unwrap_or_default()
        .to_owned()
}

impl Catalogue {
    /// The catalogue with the builder's own parts in front. Whatever is wrong with them is noted.
    pub(crate) fn with_own(parts_toml: Option<&str>, faults: &mut Faults) -> Self {
        let Some(text) = parts_toml else {
            return Self::default();
        };
        let (mut root, errors) = written::mirror(text);
        let whole = Arc::new(Shelf {
            part: String::new(),
            source: String::new(),
            own: true,
        });
        root.entries
            .iter_mut()
            .for_each(|entry| entry.value.settle(&Home::Shelf(whole.clone())));
        for SyntaxError { span, said } in errors {
            let place = written::Place {
                file: Some(crate::FileId::Parts),
                span,
            };
            faults.at(place, &Fault::Syntax { said });
        }
        // A format line is welcome, as in a job.
        if is_newer(&root, faults) {
            return Self::default();
        }
        root.entries.retain(|entry| entry.key != "format");
        shape::check(
            &root,
            &keys::PARTS,
            "a catalogue",
            shape::Text::Catalogue,
            faults,
        );
        let own = entries(root, true);
        for known in &own {
            if find_in(built_in(), &known.kind, &known.name).is_some() {
                let fault = Fault::TakesPlace {
                    name: known.name.clone(),
                    kind: known.kind.clone(),
                };
                let place = written::Place {
                    file: Some(crate::FileId::Parts),
                    span: known.span.clone(),
                };
                faults.at(place, &fault);
            }
        }
        Self { own }
    }

    /// The entry of that kind and name, the builder's own before the built-in one.
    pub(crate) fn find(&self, kind: &str, name: &str) -> Option<&Known> {
        find_in(&self.own, kind, name).or_else(|| find_in(built_in(), kind, name))
    }

    /// The entry whose name is nearest.
    pub(crate) fn nearest(&self, kind: &str, name: &str) -> Option<String> {
        let of_kind = self
            .own
            .iter()
            .chain(built_in())
            .filter(|known| known.kind == kind);
        nearest(name, of_kind.map(|known| known.name.as_str()))
    }
}

fn is_newer(root: &Table, faults: &mut Faults) -> bool {
    root.entry("format").is_some() && crate::read::check_format(root, faults).is_none()
}

fn find_in<'a>(known: &'a [Known], kind: &str, name: &str) -> Option<&'a Known> {
    known
        .iter()
        .find(|known| known.kind == kind && known.name == name)
}

fn built_in() -> &'static [Known] {
    static KNOWN: OnceLock<Vec<Known>> = OnceLock::new();
    KNOWN.get_or_init(|| {
        BUILT_IN
            .iter()
            .flat_map(|text| entries(written::mirror(text).0, false))
            .collect()
    })
}

/// The entries of a mirrored catalogue file, each at home on its own shelf.
pub(crate) fn entries(root: Table, own: bool) -> Vec<Known> {
    let mut known = Vec::new();
    for Entry {
        key: kind, value, ..
    } in root.entries
    {
        let Shape::Table(parts) = value.shape else {
            continue;
        };
        for Entry {
            key: name,
            key_span,
            mut value,
        } in parts.entries
        {
            let Some(table) = value.table() else { continue };
            let source = words(table, "source");
            value.settle(&Home::Shelf(Arc::new(Shelf {
                part: name.clone(),
                source,
                own,
            })));
            let Shape::Table(table) = value.shape else {
                continue;
            };
            known.push(Known {
                kind: kind.clone(),
                name,
                span: key_span,
                table,
            });
        }
    }
    known
}

/// A table of the job with what its catalogue entry adds: the job's own keys win, also inside tables,
/// and a key that stands for others (`esr` for `tan_delta`) keeps those out.
pub(crate) fn merge(job: &Table, entry: &Table, keys: &Keys) -> Table {
    let mut merged = job.clone();
    for added in &entry.entries {
        if matches!(added.key.as_str(), "source" | "note") {
            continue;
        }
        match merged.entries.iter_mut().find(|own| own.key == added.key) {
            Some(own) => merge_inside(own, added, keys),
            None if !stands_for(job, &added.key, keys) => merged.entries.push(added.clone()),
            None => {}
        }
    }
    merged
}

fn merge_inside(own: &mut Entry, added: &Entry, keys: &Keys) {
    let Some(Holds::Table(inner_keys)) = keys.key(&own.key).map(|key| &key.holds) else {
        return;
    };
    let (Shape::Table(inner), Some(more)) = (&own.value.shape, added.value.table()) else {
        return;
    };
    own.value.shape = Shape::Table(merge(inner, more, inner_keys));
}

/// Whether the job holds a key that stands for this one.
fn stands_for(job: &Table, key: &str, keys: &Keys) -> bool {
    keys.alternatives
        .iter()
        .filter(|group| group.keys.contains(&key))
        .any(|group| group.keys.iter().any(|other| job.entry(other).is_some()))
}

#[cfg(test)]
mod tests {
    use super::{BUILT_IN, built_in_entries};
    use crate::fault::Faults;
    use crate::keys;
    use crate::read::shape;
    use crate::written;

    #[test]
    fn every_built_in_entry_reads_without_a_diagnostic() {
        for text in BUILT_IN {
            let (mut root, errors) = written::mirror(text);
            assert!(errors.is_empty(), "{errors:?}");
            root.entries.retain(|entry| entry.key != "format");
            let mut faults = Faults::default();
            shape::check(
                &root,
                &keys::PARTS,
                "a catalogue",
                shape::Text::Catalogue,
                &mut faults,
            );
            let found = faults.in_order();
            assert!(found.is_empty(), "{found:#?}");
        }
    }

    #[test]
    fn every_built_in_entry_names_its_source_and_is_there_once() {
        let entries = built_in_entries();
        assert!(!entries.is_empty());
        for (index, entry) in entries.iter().enumerate() {
            assert!(
                !entry.source.is_empty(),
                "{} {} has no source",
                entry.kind,
                entry.name
            );
            let same = |other: &super::CatalogueEntry| {
                other.kind == entry.kind && other.name == entry.name
            };
            assert!(
                !entries[index + 1..].iter().any(same),
                "{} is there twice",
                entry.name
            );
        }
    }
}
