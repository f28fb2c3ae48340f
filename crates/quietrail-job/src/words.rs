//! The words for every [`Fault`]: its code, how bad it is, the sentence, the label and the help.

use crate::diagnostic::Severity;
use crate::fault::{Entry, Fault};
use crate::instead;

/// The stable code; `quietrail explain` says more about each. See [`crate::explain`].
pub(crate) fn code(fault: &Fault) -> &'static str {
    match fault {
        Fault::Empty => "J001",
        Fault::NotText => "J002",
        Fault::TooLarge { .. } => "J003",
        Fault::Syntax { .. } => "J004",
        Fault::Twice { .. } => "J005",
        Fault::Newer { .. } => "J006",
        Fault::Format { .. } => "J007",
        Fault::UnknownTable { .. } => "J010",
        Fault::UnknownKey { .. } => "J011",
        Fault::CircuitKey { .. } => "J012",
        Fault::WrongType { .. } => "J013",
        Fault::Unreadable { .. } | Fault::NoAt { .. } => "J014",
        Fault::Ambiguous { .. } => "J015",
        Fault::Unit { .. } => UNIT,
        Fault::UnknownChoice { .. } => "J017",
        Fault::Bounds { .. } => "J018",
        Fault::UpsideDown { .. } => "J019",
        Fault::MissingKey { .. } | Fault::MissingOneOf { .. } => "J020",
        Fault::MissingFigure { .. } => "J021",
        Fault::BothGiven { .. } => "J022",
        Fault::Disagree { .. } => "J023",
        Fault::NotRising { .. } | Fault::PointCount { .. } | Fault::JunctionPoints { .. } => "J024",
        Fault::Position { .. } => "J025",
        Fault::NoCentre { .. } | Fault::FormNode { .. } => "J026",
        Fault::Unbounded { .. } => "J027",
        Fault::LimitForm { .. } => "J028",
        Fault::NotOf { .. } => "J029",
        Fault::DuplicateName { .. } => "J030",
        Fault::UnusableName { .. } => "J031",
        Fault::UnknownNode { .. } => "J032",
        Fault::UnknownPart { .. } => "J033",
        Fault::UnknownSubject { .. } => "J034",
        Fault::UnknownState { .. } => "J035",
        Fault::StateLeftOut { .. } => "J036",
        Fault::NoStates => "J037",
        Fault::UnknownWinding { .. } => "J038",
        Fault::JoinText { .. } => "J039",
        Fault::UnknownEntry { .. } => "J040",
        Fault::Unfed { .. } => "J041",
        Fault::BridgesNothing { .. } => "J042",
        Fault::Dangling { .. } => "J043",
        Fault::SourcesFight { .. } => "J044",
        Fault::WindingsFight { .. } => "J045",
        Fault::TakesPlace { .. } => "J046",
        Fault::HalvesTogether { .. } => "J050",
        Fault::OtherMains { .. } => "J051",
        Fault::OtherSide { .. } => "J052",
        Fault::JoinShorts { .. } => "J053",
        Fault::DrawsOneWay { .. } => "J054",
        Fault::UnknownFigure { .. } => "J047",
        Fault::Tied { .. } => "J048",
        Fault::NotSpread { .. } => "J049",
        Fault::UnknownLead { .. } => "J060",
        Fault::NulledAway { .. } => "J061",
        Fault::HotBelowCold { .. } => "J062",
        Fault::AboveOffLoad { .. } => "J063",
        Fault::Ratio { .. } => "J064",
        Fault::RangeText { .. } => "J070",
        Fault::NoBand { .. } => "J080",
        Fault::CannotReach { .. } => "J081",
        Fault::SaturatesAbove { .. } => "J082",
        Fault::DecibelsOfWhat { .. } | Fault::DecibelsOfCarrier { .. } => "J083",
        Fault::FoldsUp => "J085",
        Fault::OneSwing => "J084",
        Fault::PeakRating { .. } => "J086",
    }
}

/// The code of a unit that cannot stand where it does.
pub(crate) const UNIT: &str = "J016";

/// Whether decibels say against what: `dBV` does, `dB` does not.
fn says_against_what(found: &str) -> bool {
    !found.trim_end().to_ascii_lowercase().ends_with("db")
}

/// On which side of its return a regulator holds its output, and on which its input is, where the two differ.
fn sides(is_input_above: bool) -> (&'static str, &'static str) {
    if is_input_above {
        ("below", "above")
    } else {
        ("above", "below")
    }
}

/// How bad it is.
pub(crate) fn severity(fault: &Fault) -> Severity {
    match fault {
        Fault::Dangling { .. }
        | Fault::TakesPlace { .. }
        | Fault::HalvesTogether { .. }
        | Fault::PeakRating { .. }
        | Fault::OtherMains { .. } => Severity::Warning,
        _ => Severity::Error,
    }
}

/// One sentence.
pub(crate) fn message(fault: &Fault) -> String {
    match fault {
        Fault::Empty => "the job file is empty".to_owned(),
        Fault::NotText => "this file is not text".to_owned(),
        Fault::TooLarge { bytes } => format!(
            "this file holds {bytes} bytes; a job file holds at most {}",
            crate::MAX_JOB_BYTES
        ),
        Fault::Syntax { said } => format!("not TOML: {said}"),
        Fault::Twice { name } => format!("`{name}` is here twice"),
        Fault::Newer { format } => {
            format!("written for a newer quietrail: format {format}, this one reads 1")
        }
        Fault::Format { found: None } => "the file does not say its format".to_owned(),
        Fault::Format { found: Some(found) } => format!("there is no format {found}"),
        Fault::UnknownTable { name, of, .. } => format!("a {of} has no table `{name}`"),
        Fault::UnknownKey { key, owner, .. } => format!("{owner} has no key `{key}`"),
        Fault::CircuitKey { key, owner } => {
            format!("`{key}` belongs to the circuit, not to {owner} in a catalogue")
        }
        Fault::WrongType { key, found, wanted } => {
            format!("`{key}` holds {found}; it wants {wanted}")
        }
        Fault::Unreadable { said }
        | Fault::Ambiguous { said }
        | Fault::Unit { said, .. }
        | Fault::UpsideDown { said }
        | Fault::JoinText { said }
        | Fault::RangeText { said } => said.clone(),
        Fault::NoAt { found, wanted } => format!("read {found} without \"at\"; {wanted} is wanted"),
        Fault::UnknownChoice { key, found, .. } => format!("`{key}` cannot be `{found}`"),
        Fault::Bounds {
            key,
            found,
            allowed,
        } => format!("`{key}` is {found}; it has to be {allowed}"),
        Fault::MissingKey { owner, key, .. } => format!("{owner} has no `{key}`"),
        Fault::MissingOneOf { owner, keys } => {
            format!("{owner} has neither {}", either(keys, " nor "))
        }
        Fault::MissingFigure { owner, key, .. } => format!("{owner} lacks a figure: `{key}`"),
        Fault::BothGiven {
            owner,
            first,
            second,
        } => {
            format!("{owner} has both `{first}` and `{second}`")
        }
        Fault::Disagree {
            first,
            second,
            computed,
        } => {
            format!("`{first}` and `{second}` do not agree: {computed}")
        }
        Fault::NotRising { key } => format!("the points of `{key}` do not rise"),
        Fault::PointCount { found } => {
            format!("a curve has two or three points; this one has {found}")
        }
        Fault::Position {
            asked: Some(asked), ..
        } => {
            format!("the selector has no position `{asked}`")
        }
        Fault::Position { asked: None, .. } => {
            "no position of the selector is selected, and none is named after the region's voltage"
                .to_owned()
        }
        Fault::NoCentre { form, from } => {
            format!("the form {form} needs a centre, and {from} has none")
        }
        Fault::FormNode {
            form,
            key,
            wanted: true,
        } => format!("the form {form} needs `{key}`"),
        Fault::FormNode {
            form,
            key,
            wanted: false,
        } => {
            format!("the form {form} has no use for `{key}`")
        }
        Fault::JunctionPoints { found } => {
            format!("a base-emitter curve has one to three points; this one has {found}")
        }
        Fault::SaturatesAbove {
            saturation,
            base_emitter,
        } => format!(
            "in saturation {saturation} stand from collector to emitter, and only {base_emitter} from base to emitter"
        ),
        Fault::CannotReach { to, low, high } => {
            format!("the trimmer cannot be set to {to}: it reaches from {low} to {high}")
        }
        Fault::DecibelsOfWhat { found, unit } if says_against_what(found) => {
            format!("`{found}` is in decibels: this limit is {unit}")
        }
        Fault::DecibelsOfWhat { found, unit } => {
            format!("`{found}` does not say how large it is: this limit is {unit}")
        }
        Fault::DecibelsOfCarrier { found, in_hertz } => {
            let wanted = if *in_hertz { "dBc in a hertz" } else { "dBc" };
            format!("`{found}` does not say how far it is under the carrier: {wanted} is wanted")
        }
        Fault::FoldsUp => {
            "the current of `foldback` rises, and a limit that folds back falls".to_owned()
        }
        Fault::PeakRating { owner } => {
            format!(
                "`volts` of {owner}, which is on the mains, is judged against the peak, 1.4 times the rms"
            )
        }
        Fault::OneSwing => {
            "`rang` has one swing; two at least tell how a ring dies away".to_owned()
        }
        Fault::NoBand { what } => format!("a limit on {what} needs the band in which it counts"),
        Fault::Unbounded { owner } => format!("{owner} has neither `min` nor `max`"),
        Fault::LimitForm { key, found, wanted } => {
            format!("`{key}` is {found}; {wanted} is wanted")
        }
        Fault::NotOf { what, of, wanted } => {
            format!("{what} is asked of {wanted}; `{of}` is not one")
        }
        Fault::DuplicateName { name, first } => {
            format!("the name `{name}` is taken: there is already a {first} of that name")
        }
        Fault::UnusableName { name, why } => format!("`{name}` cannot be a name: {why}"),
        Fault::UnknownNode { name, .. } => format!("there is no node `{name}`"),
        Fault::UnknownPart { name, wanted, .. } => format!("there is no {wanted} `{name}`"),
        Fault::UnknownSubject {
            name,
            is_winding: true,
            ..
        } => {
            format!("`{name}` is a winding, and limits are of nodes and parts")
        }
        Fault::UnknownSubject { name, .. } => format!("there is no node and no part `{name}`"),
        Fault::UnknownState { name, .. } => format!("there is no state `{name}`"),
        Fault::StateLeftOut { load, states } => {
            format!(
                "{load} does not say what it draws in {}",
                either(states, " and ")
            )
        }
        Fault::NoStates => "the job names no state".to_owned(),
        Fault::UnknownWinding {
            name, transformer, ..
        } => {
            format!("{transformer} has no winding and no join `{name}`")
        }
        Fault::UnknownEntry { name, kind, .. } => format!("the catalogue has no {kind} \"{name}\""),
        Fault::Unfed {
            node,
            is_blind: true,
            ..
        } => format!("nothing leads on from the node `{node}`: what flows into it has no way back"),
        Fault::Unfed { node, .. } => format!("nothing feeds the node `{node}`"),
        Fault::BridgesNothing { part, node } => {
            format!("{part} bridges nothing: both ends are at `{node}`")
        }
        Fault::Dangling { part, node, .. } => {
            format!("{part} does nothing: no other part is at `{node}`")
        }
        Fault::SourcesFight {
            node,
            first,
            second,
        } => {
            format!("{first} and {second} both drive the node `{node}`")
        }
        Fault::WindingsFight {
            join,
            first,
            second,
            circulating,
        } => format!(
            "{first} and {second} are side by side in {join} and differ: about {circulating} would \
             circulate off load"
        ),
        Fault::JoinShorts { winding, join } => format!(
            "{join} ties both ends of {winding} together, with what the other joins tie: a short circuit"
        ),
        Fault::DrawsOneWay { found } => format!(
            "{found} is drawn from a winding, whose voltage goes to and fro: currents and powers are drawn from direct voltages"
        ),
        Fault::HalvesTogether { join, .. } => format!(
            "both halves of {join} swing the same way about its centre: this rectifies one half of each cycle alone, and sends \
             a direct current through the core"
        ),
        Fault::OtherSide {
            regulator,
            input,
            ret,
            source,
            is_above,
        } => {
            let (set, there) = sides(*is_above);
            format!(
                "{regulator} holds its output {set} {ret}, and {source} puts its input {input} {there} it"
            )
        }
        Fault::OtherMains { mains, region } => {
            format!("the socket has {mains}, and the region of the job {region}")
        }
        Fault::TakesPlace { name, kind } => {
            format!("this {kind} \"{name}\" takes the place of the built-in one")
        }
        Fault::UnknownFigure { name, .. } => format!("no figure has the address `{name}`"),
        Fault::Tied { name, why } => format!("`{name}` cannot be tied here: {why}"),
        Fault::NotSpread { name, why } => format!("`{name}` cannot be spread so: {why}"),
        Fault::UnknownLead { name, .. } => format!("there is no lead `{name}`"),
        Fault::NulledAway { found, null } => {
            format!("of {found} nothing is left once the test leads, {null}, are taken off")
        }
        Fault::HotBelowCold { hot, cold } => {
            format!("hot copper reads {hot}, less than the {cold} that it read cold")
        }
        Fault::AboveOffLoad { loaded, off_load } => {
            format!("{loaded} under load is above the {off_load} off load, for the volts put in")
        }
        Fault::Ratio { reads, at } => {
            format!("{reads} out of {at} is an impossible ratio for a mains transformer")
        }
    }
}

/// A few words at the place.
pub(crate) fn label(fault: &Fault) -> String {
    match fault {
        Fault::Empty | Fault::NotText | Fault::TooLarge { .. } => String::new(),
        Fault::Twice { .. } => "the second one".to_owned(),
        Fault::Newer { .. } | Fault::Format { .. } => "format".to_owned(),
        Fault::UnknownSubject {
            is_winding: true, ..
        } => "a winding".to_owned(),
        Fault::UnknownTable { nearest, .. }
        | Fault::UnknownKey { nearest, .. }
        | Fault::UnknownChoice { nearest, .. }
        | Fault::UnknownNode { nearest, .. }
        | Fault::UnknownPart { nearest, .. }
        | Fault::UnknownSubject { nearest, .. }
        | Fault::UnknownState { nearest, .. }
        | Fault::UnknownWinding { nearest, .. }
        | Fault::UnknownEntry { nearest, .. }
        | Fault::UnknownFigure { nearest, .. }
        | Fault::UnknownLead { nearest, .. }
        | Fault::Unit {
            nearest: nearest @ Some(_),
            ..
        }
        | Fault::Position { nearest, .. } => nearest
            .as_ref()
            .map_or_else(|| "not known".to_owned(), |near| format!("`{near}`?")),
        Fault::CircuitKey { .. } => "not in a catalogue".to_owned(),
        Fault::WrongType { found, .. } => (*found).to_owned(),
        Fault::Syntax { .. }
        | Fault::Unreadable { .. }
        | Fault::Unit { nearest: None, .. }
        | Fault::NoAt { .. }
        | Fault::LimitForm { .. }
        | Fault::JoinText { .. } => "here".to_owned(),
        Fault::Ambiguous { .. } => "two readings".to_owned(),
        Fault::Bounds { allowed, .. } => format!("has to be {allowed}"),
        Fault::UpsideDown { .. } => "the first is the higher".to_owned(),
        Fault::MissingKey { key, .. }
        | Fault::MissingFigure { key, .. }
        | Fault::FormNode {
            wanted: true, key, ..
        } => format!("no `{key}`"),
        Fault::MissingOneOf { keys, .. } => format!("no {}", either(keys, ", no ")),
        Fault::BothGiven { second, .. } => format!("`{second}` as well"),
        Fault::Disagree { .. } => "does not agree".to_owned(),
        Fault::NotRising { .. } => "not higher than the one before".to_owned(),
        Fault::PointCount { .. } => "two or three points".to_owned(),
        Fault::NoCentre { .. } => "no centre".to_owned(),
        Fault::FormNode { wanted: false, .. } => "no use".to_owned(),
        Fault::JunctionPoints { .. } => "one to three points".to_owned(),
        Fault::SaturatesAbove { .. } => "not below the base".to_owned(),
        Fault::CannotReach { .. } => "out of reach".to_owned(),
        Fault::NoBand { .. } => "no `band`".to_owned(),
        Fault::DecibelsOfWhat { found, .. } if says_against_what(found) => "decibels".to_owned(),
        Fault::DecibelsOfWhat { .. } | Fault::DecibelsOfCarrier { .. } => {
            "against what?".to_owned()
        }
        Fault::FoldsUp => "more than the one before".to_owned(),
        Fault::OneSwing => "one swing".to_owned(),
        Fault::PeakRating { .. } => "direct voltage".to_owned(),
        Fault::Unbounded { .. } => "no bound".to_owned(),
        Fault::NotOf { wanted, .. } => format!("not {wanted}"),
        Fault::DuplicateName { .. } => "taken".to_owned(),
        Fault::UnusableName { .. } => "not a name".to_owned(),
        Fault::StateLeftOut { states, .. } => format!("no {}", either(states, ", no ")),
        Fault::NoStates => "empty".to_owned(),
        Fault::Unfed { nearest, .. } | Fault::Dangling { nearest, .. } => nearest
            .as_ref()
            .map_or_else(|| "alone".to_owned(), |near| format!("`{near}`?")),
        Fault::BridgesNothing { .. } => "the same node".to_owned(),
        Fault::SourcesFight { .. } => "driven twice".to_owned(),
        Fault::WindingsFight { .. } => "side by side".to_owned(),
        Fault::TakesPlace { .. } => "in place of the built-in one".to_owned(),
        Fault::HalvesTogether { .. } => "half-wave".to_owned(),
        Fault::JoinShorts { .. } => "short circuit".to_owned(),
        Fault::DrawsOneWay { .. } => "of a direct voltage".to_owned(),
        Fault::OtherMains { .. } => "not that of the region".to_owned(),
        Fault::OtherSide { ret, is_above, .. } => format!("{} {ret}", sides(*is_above).1),
        Fault::Tied { .. } => "not tied".to_owned(),
        Fault::NotSpread { .. } => "not spread".to_owned(),
        Fault::NulledAway { .. } => "nothing left".to_owned(),
        Fault::HotBelowCold { .. } => "below cold".to_owned(),
        Fault::AboveOffLoad { .. } => "above off load".to_owned(),
        Fault::Ratio { .. } => "misread?".to_owned(),
        Fault::RangeText { .. } => "not a range with its error".to_owned(),
    }
}

/// What to do.
pub(crate) fn help(fault: &Fault) -> Option<String> {
    match fault {
        Fault::Empty => Some("begin with `format = 1`, [mains] and [states]".to_owned()),
        Fault::NotText => Some("a job is a text file in UTF-8".to_owned()),
        Fault::TooLarge { .. } => {
            Some("keep captures as files of their own, in the folder captures".to_owned())
        }
        Fault::Newer { .. } => Some("read it with the quietrail that wrote it".to_owned()),
        Fault::Format { .. } => Some("write `format = 1` as the first line".to_owned()),
        Fault::UnknownTable { name, nearest, .. } => match instead::of_table(name) {
            Some(instead) => Some(instead.to_owned()),
            None => meant(nearest.as_ref()),
        },
        Fault::UnknownSubject { is_winding: true, .. } => Some(
            "the current of a secondary is judged by its `rated`, or by the amperes of its `plate`, both written at the winding"
                .to_owned(),
        ),
        Fault::UnknownNode { nearest, .. }
        | Fault::UnknownPart { nearest, .. }
        | Fault::UnknownSubject { nearest, .. }
        | Fault::UnknownState { nearest, .. }
        | Fault::UnknownWinding { nearest, .. }
        | Fault::UnknownEntry { nearest, .. }
        | Fault::UnknownFigure { nearest, .. }
        | Fault::UnknownLead { nearest, .. }
        | Fault::Unit { nearest, .. }
        | Fault::Dangling { nearest, .. } => meant(nearest.as_ref()),
        Fault::UnknownKey {
            key,
            belongs: Some(table),
            ..
        } => Some(format!("it belongs into `{table}`: {table} = {{ {key} = ... }}")),
        Fault::UnknownKey { nearest, known, .. } => {
            meant(nearest.as_ref()).or_else(|| Some(format!("known here: {}", known.join(", "))))
        }
        Fault::UnknownChoice { key, found, .. }
            if key == "what" && instead::of_statistic(found).is_some() =>
        {
            instead::of_statistic(found).map(str::to_owned)
        }
        Fault::UnknownChoice { key, found, .. }
            if key == "form" && instead::of_form(found).is_some() =>
        {
            instead::of_form(found).map(str::to_owned)
        }
        Fault::UnknownChoice { nearest, known, .. } => {
            meant(nearest.as_ref()).or_else(|| Some(format!("known here: {}", known.join(", "))))
        }
        Fault::Position { offered, .. } => {
            Some(format!("write `selected = \"...\"` with one of {}", offered.join(", ")))
        }
        Fault::Unfed { nearest, .. } => meant(nearest.as_ref()).or_else(|| {
            Some("a node is fed by a rectifier, a regulator, a winding or the inlet, directly or through \
                  parts that conduct".to_owned())
        }),
        Fault::MissingKey { says, .. } => Some((*says).to_owned()),
        Fault::MissingFigure { key, says, entry, .. } => Some(match entry {
            Entry::None => (*says).to_owned(),
            Entry::CouldName => {
                format!("{says} Write `{key}`, or name a catalogue entry with `part`.")
            }
            Entry::Named => {
                format!("{says} Its catalogue entry has none either: write `{key}` in the job.")
            }
        }),
        Fault::MissingOneOf { keys, .. } => Some(format!("write {}", either(keys, " or "))),
        Fault::BothGiven { .. } => Some("keep one of them".to_owned()),
        Fault::Disagree { .. } => Some("keep the one that was measured".to_owned()),
        Fault::NotRising { .. } => Some("write them from the lowest to the highest".to_owned()),
        Fault::NoCentre { .. } => {
            Some("name a winding with one tap, or a join of two windings in series".to_owned())
        }
        Fault::FormNode { wanted: false, .. } => Some("take it out, or change the form".to_owned()),
        Fault::StateLeftOut { .. } => {
            Some("write \"0 A\" for a state in which it draws nothing".to_owned())
        }
        Fault::NoStates => {
            Some("name at least one: [states] on = \"what the load is doing\"".to_owned())
        }
        Fault::DuplicateName { .. } => {
            Some("parts of all kinds share their names: rename one of the two".to_owned())
        }
        Fault::SourcesFight { .. } => {
            Some("give each its own node, and join them through resistors or diodes".to_owned())
        }
        Fault::WindingsFight { .. } => {
            Some("side by side belong only windings of equal volts, start with start".to_owned())
        }
        Fault::JoinShorts { .. } => Some(
            "joins are wired all at once: write only those that are; to compare, change the join".to_owned(),
        ),
        Fault::DrawsOneWay { .. } => Some(
            "write a heater or a lamp as the resistance that it has when it is hot, volts over amperes: 6.3 V and 0.3 A are \"21 Ω\"".to_owned(),
        ),
        Fault::HalvesTogether { mended, .. } => Some(format!(
            "for both halves of the cycle the windings follow one another: `{mended}`"
        )),
        Fault::OtherSide { is_above: false, .. } => Some(
            "a rail under its return has its set point below zero: `fixed = \"-12 V\"` or a reference below zero, as the negative parts of the catalogue have \
             them. Else take the input from the other reservoir"
                .to_owned(),
        ),
        Fault::OtherSide { is_above: true, .. } => Some(
            "a set point below zero is for a rail under its return: write it above zero, or take the input from a reservoir that lies under the return"
                .to_owned(),
        ),
        Fault::OtherMains { .. } => Some(
            "`region` in [job] picks the frequency, the selector and the safety rows: write whose mains it is".to_owned(),
        ),
        Fault::CircuitKey { .. } => Some("write it in the job".to_owned()),
        Fault::NulledAway { .. } => {
            Some("read it with four leads, or with a known current and a millivoltmeter".to_owned())
        }
        Fault::HotBelowCold { .. } => Some(
            "copper gains 0.4 % for each kelvin; read both at the same leads, test leads nulled".to_owned(),
        ),
        Fault::AboveOffLoad { .. } => {
            Some("read the volts of the source together with each reading: the mains moves".to_owned())
        }
        Fault::Ratio { .. } => Some("look at the range and the prefix of both".to_owned()),
        Fault::NoBand { .. } => {
            Some("write `band = \"10 Hz .. 100 kHz\"` as the data sheet has it".to_owned())
        }
        Fault::NotOf {
            what: "current", ..
        } => Some(
            "what goes to and fro has no mean: write `what = \"rms current\"`".to_owned(),
        ),
        Fault::NotOf { what: "mean", .. } => Some(
            "an alternating voltage has a mean of nothing: write `what = \"ripple\"` for its volts rms, or \"peak\"".to_owned(),
        ),
        // A carrier tells nothing of the supply's own unit: there its own text is no example.
        Fault::DecibelsOfWhat { found, unit } => Some(format!(
            "write it as {unit}: `quietrail translate \"{}\"` turns decibels into volts, those against a carrier with what the supply does to it",
            if found.contains("dBc") { "-74 dBV" } else { found.as_str() }
        )),
        Fault::DecibelsOfCarrier { found, in_hertz } => {
            let number = found.trim_end_matches(|letter: char| !letter.is_ascii_digit());
            let unit = if *in_hertz { "dBc/Hz" } else { "dBc" };
            Some(format!("against the carrier it is `{number} {unit}`"))
        }
        Fault::FoldsUp => Some(
            "write the current that the data sheet's curve shows at each input less output: [\"1.5 A at 10 V\", \"0.2 A at 35 V\"]"
                .to_owned(),
        ),
        Fault::PeakRating { .. } => Some(
            "what is marked for alternating voltage, as 275 V~ or X2, belongs into `ac`: rated = { ac = \"275 V\" }"
                .to_owned(),
        ),
        Fault::OneSwing => Some(
            "write the heights of the swings one after the other, above and below where the output comes to rest"
                .to_owned(),
        ),
        Fault::SaturatesAbove { .. } => Some(
            "a saturated transistor conducts from base to collector too, so its collector stands below its base: write the figures at one collector current"
                .to_owned(),
        ),
        Fault::CannotReach { .. } => {
            Some("change a resistor of the divider, or take a larger trimmer".to_owned())
        }
        Fault::Syntax { .. }
        | Fault::Twice { .. }
        | Fault::WrongType { .. }
        | Fault::Unreadable { .. }
        | Fault::Ambiguous { .. }
        | Fault::NoAt { .. }
        | Fault::Bounds { .. }
        | Fault::UpsideDown { .. }
        | Fault::PointCount { .. }
        | Fault::JunctionPoints { .. }
        | Fault::FormNode { wanted: true, .. }
        | Fault::Unbounded { .. }
        | Fault::LimitForm { .. }
        | Fault::NotOf { .. }
        | Fault::UnusableName { .. }
        | Fault::JoinText { .. }
        | Fault::BridgesNothing { .. }
        | Fault::TakesPlace { .. }
        | Fault::Tied { .. }
        | Fault::NotSpread { .. }
        | Fault::RangeText { .. } => None,
    }
}

fn meant(nearest: Option<&String>) -> Option<String> {
    nearest.map(|near| format!("the nearest known is `{near}`"))
}

/// Names in a row, each in backticks.
fn either(names: &[impl AsRef<str>], between: &str) -> String {
    names
        .iter()
        .map(|name| format!("`{}`", name.as_ref()))
        .collect::<Vec<_>>()
        .join(between)
}
