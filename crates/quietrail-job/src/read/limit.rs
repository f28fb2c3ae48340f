//! `[[limit]]`

use super::fields::Fields;
use super::quantity;
use crate::fault::{Fault, Faults};
use crate::model::{Band, Limit, State, Subject, What};
use crate::nearest::nearest;
use crate::wiring::Wiring;
use crate::written::{Shape, Value};
use quietrail_units::{Form, Hertz, Kind, Quantity, Volts};

/// What a statistic can be asked of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Of {
    Nodes,
    Parts,
    Both,
}

fn of(what: What) -> Of {
    match what {
        What::Ripple
        | What::RipplePeakToPeak
        | What::Noise
        | What::RippleAndNoise
        | What::Drift => Of::Nodes,
        What::Mean | What::Valley | What::Peak | What::Start | What::HoldUp => Of::Both,
        What::Headroom
        | What::Current
        | What::RmsCurrent
        | What::PeakCurrent
        | What::ReverseVoltage
        | What::Power
        | What::Temperature
        | What::Life => Of::Parts,
    }
}

/// `[[limit]]`
pub(crate) fn limit(
    fields: &Fields<'_>,
    wiring: &Wiring,
    states: &[State],
    faults: &mut Faults,
) -> Option<Limit> {
    let what = what(fields);
    let subject = subject(fields, what, wiring, faults);
    let counted = super::states::named(fields, states, faults);
    let band = band(fields, faults);
    if let Some(what @ (What::Noise | What::RippleAndNoise)) = what
        && !fields.has("band")
    {
        faults.at(fields.place.clone(), &Fault::NoBand { what: what.word() });
    }
    let down_to = down_to(fields, what, faults);
    let (min, max) = bounds(fields, what, faults)?;
    Some(Limit {
        name: fields.text("name")?.to_owned(),
        of: subject?,
        what: what?,
        band: band?,
        down_to: down_to?,
        min,
        max,
        states: counted,
        from: fields.words("from"),
        span: match fields.place.file {
            Some(crate::FileId::Job) => fields.place.span.clone(),
            _ => 0..0,
        },
    })
}

fn what(fields: &Fields<'_>) -> Option<What> {
    What::named(fields.text("what")?)
}

/// A part where the statistic is one of parts, else a node.
fn subject(
    fields: &Fields<'_>,
    what: Option<What>,
    wiring: &Wiring,
    faults: &mut Faults,
) -> Option<Subject> {
    let value = fields.value("of")?;
    if let Some([plus, minus]) = value.list() {
        for node in [plus, minus] {
            let name = node.text()?;
            if !wiring.knows_node(name) {
                let near = wiring.nearest_node(name);
                faults.of(
                    node,
                    &Fault::UnknownNode {
                        name: name.to_owned(),
                        nearest: near,
                    },
                );
            }
        }
        if let Some(what) = what.filter(|what| of(*what) == Of::Parts) {
            not_of(value, what, "the pair", "a part", faults);
        }
        return Some(Subject::Pair(
            plus.text()?.to_owned(),
            minus.text()?.to_owned(),
        ));
    }
    let name = value.text()?;
    let (node, part) = (wiring.knows_node(name), wiring.knows_part(name));
    if !node && !part {
        let is_winding = wiring.knows_node(&format!("{name}.start"));
        let near = nearest(name, wiring.node_names().chain(wiring.part_names()));
        faults.of(
            value,
            &Fault::UnknownSubject {
                name: name.to_owned(),
                is_winding,
                nearest: near,
            },
        );
        return None;
    }
    let asked = what.map_or(Of::Both, of);
    match asked {
        Of::Parts if !part => not_of(value, what?, name, "a part", faults),
        Of::Nodes if !node => not_of(value, what?, name, "a node", faults),
        Of::Nodes | Of::Parts | Of::Both => {}
    }
    let is_part = part && (asked == Of::Parts || !node);
    Some(if is_part {
        Subject::Part(name.to_owned())
    } else {
        Subject::Node(name.to_owned())
    })
}

fn not_of(value: &Value, what: What, of: &str, wanted: &'static str, faults: &mut Faults) {
    faults.of(
        value,
        &Fault::NotOf {
            what: what.word(),
            of: of.to_owned(),
            wanted,
        },
    );
}

/// The level of a hold-up; `None` inside for other statistics.
fn down_to(fields: &Fields<'_>, what: Option<What>, faults: &mut Faults) -> Option<Option<f64>> {
    const KEY: &str = "down_to";
    let is_hold_up = what == Some(What::HoldUp);
    if is_hold_up && !fields.has(KEY) {
        let fault = Fault::MissingKey {
            owner: fields.owner.clone(),
            key: KEY,
            says: "Down to which level it has to hold, for instance `down_to = \"11.4 V\"`.",
        };
        faults.at(fields.place.clone(), &fault);
        return None;
    }
    if !fields.has(KEY) {
        return Some(None);
    }
    if let Some(what) = what.filter(|_| !is_hold_up) {
        let fault = Fault::LimitForm {
            key: KEY,
            found: format!("for what = \"{}\"", what.word()),
            wanted: "`what = \"hold-up\"`",
        };
        faults.at(fields.place_of(KEY), &fault);
        return None;
    }
    Some(Some(fields.figure::<Volts>(KEY)?.nominal()))
}

/// `None` inside where the limit has no band; `None` outside where the band means nothing.
fn band(fields: &Fields<'_>, faults: &mut Faults) -> Option<Option<Band>> {
    if !fields.has("band") {
        return Some(None);
    }
    let value = fields.value("band")?;
    let corners = |value: &Value, faults: &mut Faults| {
        let Shape::Text(words) = &value.shape else {
            return None;
        };
        let range = Quantity::<Hertz>::parse(words).ok()?;
        if range.form != Form::Range || range.high <= range.low {
            let wanted = "a range such as 10 Hz .. 100 kHz";
            let fault = Fault::LimitForm {
                key: "band",
                found: words.clone(),
                wanted,
            };
            faults.of(value, &fault);
            return None;
        }
        Some((range.low, range.high))
    };
    match value.table() {
        None => {
            let (low, high) = corners(value, faults)?;
            Some(Some(Band::BrickWall { low, high }))
        }
        Some(table) => {
            let (low, high) = corners(table.get("poles")?, faults)?;
            Some(Some(Band::Poles { low, high }))
        }
    }
}

fn bounds(
    fields: &Fields<'_>,
    what: Option<What>,
    faults: &mut Faults,
) -> Option<(Option<f64>, Option<f64>)> {
    if !fields.has("min") && !fields.has("max") {
        faults.at(
            fields.place.clone(),
            &Fault::Unbounded {
                owner: fields.owner.clone(),
            },
        );
        return None;
    }
    let what = what?;
    let min = bound(fields, "min", what, faults);
    let max = bound(fields, "max", what, faults);
    if let (Some(low), Some(high)) = (min, max)
        && low > high
    {
        // Under common amounts and levels run opposite ways.
        let below = if low < 0.0 {
            ": below zero the larger amount is the lower level, and `min` holds the lower one"
        } else {
            ""
        };
        let said = format!(
            "`min` ({}) is above `max` ({}){below}",
            fields.words("min"),
            fields.words("max")
        );
        faults.at(fields.place_of("max"), &Fault::UpsideDown { said });
    }
    Some((min, max))
}

fn bound(fields: &Fields<'_>, key: &'static str, what: What, faults: &mut Faults) -> Option<f64> {
    let value = fields.value(key)?;
    let words = value.text()?;
    let kind = what.kind();
    let in_peaks = peak_to_peak(words).filter(|rest| quantity::interval(kind, rest).is_ok());
    if let Some(wanted) = other_statistic(what, words, in_peaks.is_some()) {
        let found = words.to_owned();
        faults.of(value, &Fault::LimitForm { key, found, wanted });
        return None;
    }
    let words = in_peaks.unwrap_or(words);
    match quantity::interval(kind, words) {
        Ok((low, nominal, high)) if low == high => Some(nominal),
        Ok(_) => {
            let wanted = "one value without a tolerance";
            faults.of(
                value,
                &Fault::LimitForm {
                    key,
                    found: words.to_owned(),
                    wanted,
                },
            );
            None
        }
        Err(_) if kind != Kind::Decibels && is_decibels(words) => {
            let fault = Fault::DecibelsOfWhat {
                found: words.to_owned(),
                unit: format!("a {}", kind.measures()),
            };
            faults.of(value, &fault);
            None
        }
        Err(error) => {
            faults.at(value.place_inside(&error.at), &quantity::fault(&error));
            None
        }
    }
}

/// What stands before `p-p`.
fn peak_to_peak(words: &str) -> Option<&str> {
    let words = words.trim_end();
    ["p-p", "pk-pk", "P-P", "pp", "PP"]
        .iter()
        .find_map(|ending| words.strip_suffix(ending))
        .map(str::trim_end)
}

/// What is wanted in place of a value that says of itself that it is another statistic than the limit is of.
fn other_statistic(what: What, words: &str, in_peaks: bool) -> Option<&'static str> {
    let in_rms = words.trim_end().to_ascii_lowercase().ends_with("rms");
    match what {
        What::RipplePeakToPeak if in_rms => Some("a peak-to-peak value, or `what = \"ripple\"`,"),
        What::RipplePeakToPeak => None,
        What::Ripple if in_peaks => Some("an rms value, or `what = \"ripple p-p\"`,"),
        What::Noise | What::RippleAndNoise | What::RmsCurrent if in_peaks => Some("an rms value"),
        What::Valley | What::Peak | What::PeakCurrent | What::ReverseVoltage if in_rms => {
            Some("an instant's value, not an rms one,")
        }
        _ if in_peaks => Some("one value, not a swing from peak to peak,"),
        _ => None,
    }
}

/// A number with `dB`, `dBV`, `dBm`, `dBc` and the like.
fn is_decibels(words: &str) -> bool {
    let unit = words.trim_start_matches(|letter: char| !letter.is_alphabetic());
    unit.get(..2)
        .is_some_and(|head| head.eq_ignore_ascii_case("db"))
}
