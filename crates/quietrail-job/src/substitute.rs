//! Parts of the built-in catalogue, ready to stand where a part of a job is.
//!
//! What belongs to the circuit stays: nodes, sink, set point. What belongs to the part comes from the catalogue: its
//! curves and ratings. A regulator keeps its set point, so it is as if its divider were chosen anew for the same output.

use crate::catalogue::built_in_entries;
use crate::model::{Job, Part, PartKind, Rectifier, Regulator};
use crate::read;

/// A part that could stand where another is.
#[derive(Clone, Debug, PartialEq)]
pub struct Substitute {
    /// The catalogue entry: `Schottky 3 A`.
    pub entry: String,
    /// The part, under the name of the one that goes.
    pub part: Part,
}

/// What the catalogue could put where a regulator, a rectifier or a diode is; nothing for other parts.
///
/// Regulators that are made for one voltage are left out, as are registered types of diode, which stand for
/// themselves and not for their family.
pub fn substitutes(job: &Job, name: &str) -> Vec<Substitute> {
    let Some(part) = job.part(name) else {
        return Vec::new();
    };
    let kind = match &part.kind {
        PartKind::Regulator(_) => "regulator",
        PartKind::Rectifier(_) | PartKind::Diode(_) => "diode",
        _ => return Vec::new(),
    };
    built_in_entries()
        .into_iter()
        .filter(|entry| entry.kind == kind && !is_of_its_own(&entry.name))
        .filter_map(|entry| {
            let kind = replaced(&part.kind, &entry.name)?;
            Some(Substitute {
                entry: entry.name,
                part: Part {
                    kind,
                    ..part.clone()
                },
            })
        })
        .collect()
}

fn is_of_its_own(entry: &str) -> bool {
    entry.starts_with("1N") || entry.starts_with("fixed ") || entry.starts_with("negative fixed ")
}

fn replaced(kind: &PartKind, entry: &str) -> Option<PartKind> {
    match kind {
        PartKind::Regulator(own) => {
            let PartKind::Regulator(new) = of_template(entry, "regulator", "U1")? else {
                return None;
            };
            if new.is_negative() != own.is_negative() {
                return None;
            }
            Some(PartKind::Regulator(Box::new(Regulator {
                from: own.from.clone(),
                into: own.into.clone(),
                ret: own.ret.clone(),
                sense: own.sense.clone(),
                set: own.set.clone(),
                case_to_sink: own.case_to_sink.clone(),
                sink: own.sink.clone(),
                span: own.span.clone(),
                ..*new
            })))
        }
        PartKind::Rectifier(own) => {
            let new = rectifier(entry)?;
            Some(PartKind::Rectifier(Rectifier {
                curve: new.curve,
                rated: new.rated,
                ..own.clone()
            }))
        }
        PartKind::Diode(own) => {
            let new = rectifier(entry)?;
            let mut diode = own.clone();
            (diode.curve, diode.rated) = (new.curve, new.rated);
            Some(PartKind::Diode(diode))
        }
        _ => None,
    }
}

fn rectifier(entry: &str) -> Option<Rectifier> {
    match of_template(entry, "diode", "D1")? {
        PartKind::Rectifier(rectifier) => Some(rectifier),
        _ => None,
    }
}

/// A part as the reader makes it from a catalogue entry, in the smallest job that has one.
fn of_template(entry: &str, kind: &str, name: &str) -> Option<PartKind> {
    let diode = if kind == "diode" {
        entry
    } else {
        "silicon 3 A"
    };
    let regulator = if kind == "regulator" {
        format!(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\npart = \"{entry}\"\n\
             set = {{ upper = \"240R\", lower = \"2k\" }}\n"
        )
    } else {
        String::new()
    };
    let text = format!(
        "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n\
         [transformer.T1]\nprimary = [{{ name = \"P\", volts = \"230 V\", resistance = \"60 Ω\" }}]\n\
         secondary = [{{ name = \"S\", open = \"16 V at 230 V\", resistance = \"1 Ω\" }}]\n\
         [rectifier.D1]\nfrom = \"T1.S\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"{diode}\"\n\
         [capacitor.C1]\nat = \"raw\"\nvalue = \"1000 µF\"\nesr = \"50 mΩ\"\n{regulator}"
    );
    let job = read(&text, None).job?;
    Some(job.part(name)?.kind.clone())
}

#[cfg(test)]
mod tests {
    use super::substitutes;
    use crate::model::PartKind;

    fn supply(part: &str) -> crate::model::Job {
        let text = format!(
            "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n\
             [transformer.T1]\nprimary = [{{ name = \"P\", volts = \"230 V\", resistance = \"60 Ω\" }}]\n\
             secondary = [{{ name = \"S\", open = \"16 V at 230 V\", resistance = \"1 Ω\" }}]\n\
             [rectifier.D7]\nfrom = \"T1.S\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 3 A\"\n\
             [capacitor.C1]\nat = \"raw\"\nvalue = \"1000 µF\"\nesr = \"50 mΩ\"\n{part}"
        );
        crate::read(&text, None).job.expect("a job")
    }

    #[test]
    fn every_entry_of_the_family_can_stand_in_and_keeps_its_place() {
        let job = supply(
            "[regulator.U7]\nfrom = \"raw\"\ninto = \"heater\"\npart = \"adjustable 1.5 A\"\n\
             set = { upper = \"240R\", lower = \"2k\" }\n",
        );
        let regulators = substitutes(&job, "U7");
        let names: Vec<&str> = regulators.iter().map(|one| one.entry.as_str()).collect();
        assert!(names.contains(&"low-dropout adjustable 3 A"), "{names:?}");
        assert!(!names.iter().any(|name| name.starts_with("fixed")));
        let PartKind::Regulator(own) = &job.part("U7").expect("there").kind else {
            panic!("a regulator");
        };
        for one in &regulators {
            let PartKind::Regulator(new) = &one.part.kind else {
                panic!("{one:?}");
            };
            assert_eq!((&new.into, &new.set), (&own.into, &own.set));
            assert_eq!(one.part.name, "U7");
        }
        assert!(
            regulators
                .iter()
                .any(|one| one.part.kind != job.part("U7").expect("there").kind)
        );

        let diodes = substitutes(&job, "D7");
        let names: Vec<&str> = diodes.iter().map(|one| one.entry.as_str()).collect();
        assert!(
            names.contains(&"Schottky 3 A") && !names.contains(&"1N4001"),
            "{names:?}"
        );
        assert!(substitutes(&job, "C1").is_empty() && substitutes(&job, "X").is_empty());
    }
}
