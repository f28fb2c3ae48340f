//! The entries of the catalogue that a job takes figures from, as they are written: who repeats the job with other parts needs them, and
//! another catalogue may give others.

use crate::catalogue::{BUILT_IN, Known, entries};
use crate::written::{self, Shape, Value};

/// An entry that a job names, as it is written in its catalogue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UsedEntry {
    /// The kind of part: `regulator`.
    pub kind: String,
    /// Its name: `fixed 12 V 1 A`.
    pub name: String,
    /// Its lines.
    pub text: String,
    /// Whether it is one of the builder's own.
    pub is_own: bool,
}

/// A catalogue's text with what is in it.
struct Shelf<'a> {
    text: &'a str,
    known: Vec<Known>,
    is_own: bool,
}

/// Every entry that parts and instruments of a job name, each once, in the order of the job. What no catalogue has is left out.
pub fn used_entries(job_toml: &str, parts_toml: Option<&str>) -> Vec<UsedEntry> {
    let shelf = |text, is_own| Shelf {
        text,
        known: entries(written::mirror(text).0, is_own),
        is_own,
    };
    let own = parts_toml.map(|text| shelf(text, true));
    let built_in = BUILT_IN.iter().map(|text| shelf(text, false));
    let shelves: Vec<Shelf<'_>> = own.into_iter().chain(built_in).collect();
    let mut all: Vec<UsedEntry> = Vec::new();
    for (kind, name) in named(job_toml) {
        if all.iter().any(|one| one.kind == kind && one.name == name) {
            continue;
        }
        all.extend(shelves.iter().find_map(|shelf| shelf.entry(&kind, &name)));
    }
    all
}

/// Kind and name of each entry that a job names.
fn named(job_toml: &str) -> Vec<(String, String)> {
    let mut all = Vec::new();
    for kind in &written::mirror(job_toml).0.entries {
        let Shape::Table(parts) = &kind.value.shape else {
            continue;
        };
        for part in parts.entries.iter().filter_map(|part| part.value.table()) {
            let text = |key: &str| part.get(key).and_then(Value::text).map(str::to_owned);
            all.extend(text("part").map(|name| (kind.key.clone(), name)));
            all.extend(text("diode").map(|name| ("diode".to_owned(), name)));
        }
    }
    all
}

impl Shelf<'_> {
    fn entry(&self, kind: &str, name: &str) -> Option<UsedEntry> {
        let mut known = self.known.iter();
        let known = known.find(|known| known.kind == kind && known.name == name)?;
        Some(UsedEntry {
            kind: kind.to_owned(),
            name: name.to_owned(),
            text: lines_of(self.text, known.span.start),
            is_own: self.is_own,
        })
    }
}

/// The lines of the entry whose head is at a place, up to the head of the next; without what is said of that above it.
fn lines_of(text: &str, head: usize) -> String {
    let start = text[..head].rfind('\n').map_or(0, |end| end + 1);
    let own = text[start..].lines().next().unwrap_or_default();
    // Tables of the entry itself begin like it: `[diode."mine".rated]`.
    let inner = own
        .trim_end()
        .strip_suffix(']')
        .map(|own| format!("{own}."));
    let is_next = |line: &str| {
        line.starts_with('[')
            && inner
                .as_deref()
                .is_none_or(|inner| !line.starts_with(inner))
    };
    let mut lines: Vec<&str> = vec![own];
    let rest = text[start..].lines().skip(1);
    lines.extend(rest.take_while(|line| !is_next(line)));
    while lines
        .last()
        .is_some_and(|line| line.trim().is_empty() || line.starts_with('#'))
    {
        lines.pop();
    }
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::used_entries;

    const JOB: &str = "[rectifier.D1]\ndiode = \"mine\"\n[regulator.U1]\npart = \"fixed 5 V 1 A\"\n[regulator.U2]\npart = \"fixed 5 V 1 A\"\n\
                       [instrument.meter]\npart = \"bench multimeter, 6.5 digits\"\n[capacitor.C1]\npart = \"nobody has it\"\n";
    const OWN: &str = "[diode.other]\nsource = \"x\"\n\n# found in the drawer\n[diode.mine]\nsource = \"curve tracer\"\n[diode.mine.ideal]\ndrop = \
                       \"0.8 V\"\n\n# of the next\n[diode.\"silicon 3 A\"]\nsource = \"y\"\n";

    #[test]
    fn each_entry_stands_once_and_as_it_is_written() {
        let found = used_entries(JOB, Some(OWN));
        let names: Vec<(&str, &str, bool)> = found
            .iter()
            .map(|one| (one.kind.as_str(), one.name.as_str(), one.is_own))
            .collect();
        assert_eq!(
            names,
            [
                ("diode", "mine", true),
                ("regulator", "fixed 5 V 1 A", false),
                ("instrument", "bench multimeter, 6.5 digits", false),
            ]
        );
        assert_eq!(
            found[0].text,
            "[diode.mine]\nsource = \"curve tracer\"\n[diode.mine.ideal]\ndrop = \"0.8 V\""
        );
        assert!(
            found[1]
                .text
                .starts_with("[regulator.\"fixed 5 V 1 A\"]\nsource = ")
        );
        assert!(found[1].text.contains("dropout") && !found[1].text.contains("fixed 12 V"));
    }
}
