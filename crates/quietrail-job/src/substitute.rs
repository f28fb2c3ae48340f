//! Parts of the built-in catalogue, ready to stand where a part of a job is.
//!
//! What belongs to the circuit stays: nodes, sink, set point. What belongs to the part comes from the catalogue: its
//! curves, ratings and reference. A regulator keeps its output: where the present divider does not suit the new reference, it is as
//! if it were chosen anew.

use crate::catalogue::built_in_entries;
use crate::model::{Figure, Job, Part, PartKind, Rectifier, Regulator, SetPoint};
use crate::read;
use quietrail_units::{Form, Ohms, Quantity, Volts};

/// Share by which two references differ at most that go with the same divider.
const SAME_REFERENCE: f64 = 0.02;
/// Tolerance of the resistors of a divider where none stands yet (common practice, no source).
const RESISTORS: f64 = 0.01;
/// Resistor between output and adjust pin of a divider chosen anew, Ω: the usual one, which draws the least load (from memory).
const AT_ADJUST: f64 = 240.0;

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
                set: set_again(&own.set, &new.set)?,
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

/// The set point of a part that takes another's place: the same output, by its own reference. `None` where that is above the output.
fn set_again(own: &SetPoint, new: &SetPoint) -> Option<SetPoint> {
    let volts = own.volts();
    let Some(reference) = new.reference() else {
        return Some(own.clone());
    };
    if reference.nominal().abs() >= volts.abs() {
        return None;
    }
    let suits = own
        .reference()
        .is_some_and(|own| (reference.nominal() / own.nominal() - 1.0).abs() <= SAME_REFERENCE);
    let mut set = own.clone();
    match (&mut set, new) {
        (
            SetPoint::AcrossUpper {
                reference, adjust, ..
            },
            SetPoint::AcrossUpper {
                reference: of_new,
                adjust: at_pin,
                ..
            },
        ) if suits => {
            (*reference, *adjust) = (of_new.clone(), at_pin.clone());
        }
        (
            SetPoint::AcrossLower { reference, .. },
            SetPoint::AcrossLower {
                reference: of_new, ..
            },
        ) if suits => {
            *reference = of_new.clone();
        }
        // What is set by hand to a reading is so with any reference; how far its trimmer reaches is then not known.
        (SetPoint::Trimmed { divider, .. }, _) => match divider {
            Some(divider) if suits => divider.reference = reference.clone(),
            _ => *divider = None,
        },
        _ => set = SetPoint::Fixed(divided(own, new, reference)),
    }
    Some(set)
}

/// The output of a divider chosen anew, with what its reference, its resistors and the current of an adjust pin leave open.
fn divided(own: &SetPoint, new: &SetPoint, reference: &Figure<Volts>) -> Figure<Volts> {
    let volts = own.volts();
    let (one, other) = (reference.value.low.abs(), reference.value.high.abs());
    let (low, high) = (one.min(other), one.max(other));
    let above = volts.abs() / reference.nominal().abs() - 1.0;
    let both = 2.0 * resistors(own);
    let pin = match new {
        SetPoint::AcrossUpper { adjust, .. } => {
            let ohms = above * AT_ADJUST;
            let nominal = adjust.nominal();
            (
                (nominal - adjust.value.low) * ohms,
                (adjust.value.high - nominal) * ohms,
            )
        }
        _ => (0.0, 0.0),
    };
    let ends = (
        low * (1.0 + above * (1.0 - both)) - pin.0,
        high * (1.0 + above * (1.0 + both)) + pin.1,
    );
    let value = if volts < 0.0 {
        Quantity::within(-ends.1, volts, -ends.0, Form::RangeAround)
    } else {
        Quantity::within(ends.0, volts, ends.1, Form::RangeAround)
    };
    Figure {
        value,
        origin: reference.origin.clone(),
        span: 0..0,
    }
}

/// The wider tolerance of a divider's resistors, as a share.
fn resistors(set: &SetPoint) -> f64 {
    let share = |of: &Figure<Ohms>| (of.value.high - of.value.low) / (2.0 * of.nominal());
    match set {
        SetPoint::AcrossUpper { upper, lower, .. }
        | SetPoint::AcrossLower { upper, lower, .. }
        | SetPoint::AcrossBoth { upper, lower, .. } => share(upper).max(share(lower)),
        SetPoint::Fixed(_) | SetPoint::Trimmed { .. } => RESISTORS,
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
    use crate::model::{PartKind, SetPoint};

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
            assert_eq!(new.into, own.into);
            // Nothing but the current of another adjust pin moves the output.
            assert!(
                (new.set.volts() / own.set.volts() - 1.0).abs() < 1e-3,
                "{one:?}"
            );
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

    /// What a part sets, lowest, nominal and highest, in the place of one that is set so: its reference, or its output where the divider
    /// is chosen anew.
    fn ends(set: &str, entry: &str) -> Option<(f64, f64, f64)> {
        let job = supply(&format!(
            "[regulator.U7]\nfrom = \"raw\"\ninto = \"heater\"\npart = \"adjustable 1.5 A\"\nset = {set}\n"
        ));
        let mut all = substitutes(&job, "U7").into_iter();
        let one = all.find(|one| one.entry == entry)?;
        let PartKind::Regulator(new) = one.part.kind else {
            return None;
        };
        match new.set {
            SetPoint::Fixed(figure)
            | SetPoint::AcrossUpper {
                reference: figure, ..
            }
            | SetPoint::AcrossLower {
                reference: figure, ..
            } => Some((figure.value.low, figure.value.nominal, figure.value.high)),
            other => panic!("{other:?}"),
        }
    }

    /// A part brings its own reference: a low-dropout part stood in with that of the part that went, of 7.15 V, or with the tolerance
    /// of a fixed one.
    #[test]
    fn what_stands_in_has_its_own_reference() {
        // The same divider with 1.225 V .. 1.270 V across it, in place of 1.20 V .. 1.30 V.
        let upper = "{ upper = \"240R ±1 %\", lower = \"2k ±1 %\" }";
        let kept = ends(upper, "low-dropout adjustable 1.5 A").expect("fits");
        assert_eq!(kept, (1.225, 1.25, 1.27));
        // 14.3 V from 7.15 V: anew from 1.25 V, of 1 % resistors, 10.44 times the reference above it, 55 µA (0 .. 120 µA) through
        // 2.5 kΩ.
        let lower = "{ reference = \"7.15 V ±5 %\", across = \"lower\", upper = \"10k ±1 %\", lower = \"10k ±1 %\" }";
        let (low, nominal, high) = ends(lower, "low-dropout adjustable 3 A").expect("fits");
        let (above, pin) = (10.44, 10.44 * 240.0);
        let wanted = (
            1.225 * (1.0 + above * 0.98) - 55e-6 * pin,
            14.3,
            1.27 * (1.0 + above * 1.02) + 65e-6 * pin,
        );
        for (found, wanted) in [(low, wanted.0), (nominal, wanted.1), (high, wanted.2)] {
            assert!((found - wanted).abs() < 1e-9, "{found} for {wanted}");
        }
        // Nothing comes down to 5 V from a reference of 7.15 V.
        let five = "{ fixed = \"5 V ±4 %\" }";
        assert_eq!(ends(five, "precision adjustable 150 mA"), None);
        assert!(ends(five, "low-dropout adjustable 3 A").is_some());
    }
}
