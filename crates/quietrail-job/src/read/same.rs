//! `[[same]]`: figures that go up and down together.

use super::fields::Fields;
use crate::change::Address;
use crate::fault::{Fault, Faults};
use crate::model::{Job, Same};
use crate::nearest::nearest;

/// All of them; each address is that of a figure, and stands in one of them only.
pub(crate) fn same(tables: &[Fields<'_>], job: &Job, faults: &mut Faults) -> Vec<Same> {
    if tables.is_empty() {
        return Vec::new();
    }
    let parameters = job.parameters();
    let known = || {
        parameters
            .iter()
            .map(|parameter| parameter.address.0.as_str())
    };
    let mut taken: Vec<&str> = Vec::new();
    let mut all = Vec::new();
    for fields in tables {
        let names = fields.names("figures");
        if names.len() < 2 {
            let why = "alone it moves with nothing; a [[same]] has two figures or more";
            let name = names.first().map_or("figures", |(name, _)| name);
            faults.at(fields.place_of("figures"), &tied(name, why));
        }
        let mut figures = Vec::new();
        for (name, value) in names {
            if !known().any(|address| address == name) {
                let nearest = nearest(name, known());
                let name = name.to_owned();
                faults.of(value, &Fault::UnknownFigure { name, nearest });
                continue;
            }
            if taken.contains(&name) {
                faults.of(
                    value,
                    &tied(name, "it is there already; join the two lists"),
                );
                continue;
            }
            taken.push(name);
            figures.push(Address(name.to_owned()));
        }
        all.push(Same {
            figures,
            because: fields.words("because"),
        });
    }
    all
}

fn tied(name: &str, why: &'static str) -> Fault {
    Fault::Tied {
        name: name.to_owned(),
        why,
    }
}
