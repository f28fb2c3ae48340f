//! What is said of an unmarked transformer.

use quietrail_study::transformer::{
    Curve, Doubt, Flux, InBox, InsulationAdvice, InsulationFound, MainsDay, NoModel, Pattern,
    ReadingKind, RuleBy, VoltAmperesBy, Widest,
};

use crate::number;

/// Heads the windings.
pub const WINDINGS: &str = "Windings, 95 % ranges:";
/// Heads of the table.
pub const HEAD: [&str; 6] = [
    "",
    "leads, dot first",
    "copper",
    "off load",
    "source ohms",
    "leakage",
];
/// Stands where no reading tells a figure.
pub const NOT_SHOWN: &str = "not shown";
/// Heads what was read.
pub const READ: &str = "Read so far, and the widest range of the secondaries after it:";
/// Heads the doubts.
pub const DOUBTS: &str = "To settle:";
/// Heads the hot run.
pub const HOT: &str = "Hot run:";
/// Heads the next reading.
pub const NEXT: &str = "Next reading:";
/// Nothing more to read.
pub const NO_NEXT: &str = "No single further reading narrows by much what the job leans on.";
/// Heads defaults.
pub const ASSUMED: &str = "Not in the job, taken as default:";
/// What the volts of a transformer's core are worth: a guide.
pub const GUIDE: &str = "a guide, not a rating: what it carries is decided by a hot run";

/// First line.
pub fn heading(name: &str, volts: f64, hertz: f64) -> String {
    format!(
        "Unmarked transformer {name}, on {} {}",
        number::written(volts, "V"),
        number::written(hertz, "Hz")
    )
}

/// How the mains is put on, and at what temperature resistances are.
pub fn driven(leads: &str, links: &str, copper: f64, is_mains: bool) -> String {
    let tied = if links.is_empty() {
        String::new()
    } else {
        format!(", {links} tied together")
    };
    let copper = number::written(copper, "°C");
    if is_mains {
        format!("Volts are those with the mains on {leads}{tied}. Resistances are at {copper}.")
    } else {
        format!(
            "Nothing says yet which winding the mains was on: volts are those that it would give on {leads}{tied}, so that they can be \
             compared. Do not put it there. Resistances are at {copper}."
        )
    }
}

/// Why a winding counts as primary.
pub fn primary(names: &str, because: &str) -> String {
    format!("Mains side: {names}, as you say: {because}.")
}

/// Mains side in the first column.
pub fn winding(name: &str, is_primary: bool) -> String {
    if is_primary {
        format!("{name} mains")
    } else {
        name.to_owned()
    }
}

/// A kind of reading.
pub fn kind(kind: ReadingKind) -> &'static str {
    match kind {
        ReadingKind::Ohms => "ohms",
        ReadingKind::Volts => "volts off load",
        ReadingKind::Shorted => "short-circuit test",
        ReadingKind::NoLoad => "no-load current",
        ReadingKind::Loaded => "loaded volts",
        ReadingKind::Existing => "existing load",
        ReadingKind::Hot => "hot run",
        ReadingKind::Insulation => "insulation",
    }
}

/// The key of a kind in JSON.
pub fn key(kind: ReadingKind) -> &'static str {
    match kind {
        ReadingKind::Ohms => "ohms",
        ReadingKind::Volts => "volts",
        ReadingKind::Shorted => "shorted",
        ReadingKind::NoLoad => "no_load",
        ReadingKind::Loaded => "loaded",
        ReadingKind::Existing => "existing",
        ReadingKind::Hot => "hot",
        ReadingKind::Insulation => "insulation",
    }
}

/// What a kind of reading narrowed.
pub fn narrowed(what: &str, count: usize, open: &str, source: &str, leakage: &str) -> String {
    format!(
        "  {what:<18} {count:>2}   off load {open:<10} source ohms {source:<10} leakage {leakage}"
    )
}

/// `±1.2 %`, or not shown.
pub fn share(widest: &Widest) -> String {
    let Some(share) = widest.half_share else {
        return NOT_SHOWN.to_owned();
    };
    let share = 100.0 * share;
    let text = if share >= 100.0 {
        "0 to double".to_owned()
    } else if share < 10.0 {
        format!("±{share:.1} %")
    } else {
        format!("±{share:.0} %")
    };
    if widest.told < widest.of {
        format!("{text}, {} of {} windings", widest.told, widest.of)
    } else {
        text
    }
}

/// Current with nothing connected.
pub fn no_load(amps: &str, watts: Option<&str>) -> String {
    match watts {
        Some(watts) => format!("With nothing connected it draws {amps}, {watts}."),
        None => format!("With nothing connected it draws {amps}."),
    }
}

/// Turns.
pub fn turns(all: &str) -> String {
    format!("Turns, those of the first winding as 1: {all}.")
}

/// Copper at its class.
pub fn warm(most: f64, factor: f64) -> String {
    format!(
        "With copper at {} all resistances are {factor:.2} times these.",
        number::si(most, "°C", 3)
    )
}

/// The no-load curve.
pub fn curve(curve: &Curve) -> String {
    let at = format!(
        "{} at {}",
        number::si(curve.volt_amperes, "VA", 2),
        number::si(curve.volts, "V", 3)
    );
    let mut facts = Vec::new();
    facts.extend(
        curve
            .power
            .map(|power| format!("at the top, 1 % more volts takes {power:.1} % more current")),
    );
    facts.extend(
        curve
            .share
            .map(|share| format!("{:.0} % of what the core's size suggests", 100.0 * share)),
    );
    facts.extend(
        curve
            .power_factor
            .map(|factor| format!("power factor {factor:.2}")),
    );
    let shape = match curve.pattern {
        Pattern::OnePoint => "one point tells no shape: read a second one at half the volts",
        Pattern::Ordinary => "no sign of saturation or of shorted turns",
        Pattern::Saturating => "the core saturates, see below",
        Pattern::ShortedTurns => "as with shorted turns, see below",
    };
    let facts = if facts.is_empty() {
        String::new()
    } else {
        format!(", {}", facts.join(", "))
    };
    format!("No-load test: {at}{facts}; {shape}.")
}

/// The pattern's name in JSON.
pub fn pattern_key(pattern: Pattern) -> &'static str {
    match pattern {
        Pattern::OnePoint => "one point",
        Pattern::Ordinary => "ordinary",
        Pattern::Saturating => "saturating",
        Pattern::ShortedTurns => "shorted turns",
    }
}

/// Flux on this mains.
pub fn flux(flux: &Flux, hertz: f64) -> String {
    format!(
        "Marked for {} {}: flux on this mains is {} of that, {} at its highest. At {} the marking allows {}.",
        number::written(flux.marked.0, "V"),
        number::written(flux.marked.1, "Hz"),
        percent_of(flux.nominal),
        percent_of(flux.highest),
        number::written(hertz, "Hz"),
        number::si(flux.permitted, "V", 3)
    )
}

/// The mains over a day.
pub fn day(day: &MainsDay) -> String {
    let moved = |share: f64| number::percent(share - 1.0);
    let flux = day.flux.map_or_else(String::new, |flux| {
        format!(", flux {} of the marking at its highest", percent_of(flux))
    });
    format!(
        "The mains over the day, {} readings: {} to {}; off-load volts and raw DC go {} to {} with it{flux}.",
        day.count,
        number::si(day.low, "V", 4),
        number::si(day.high, "V", 4),
        moved(day.shares.0),
        moved(day.shares.1)
    )
}

/// An insulation reading.
pub fn insulation(found: &InsulationFound, ohms: &str) -> String {
    let kept = match found.damp {
        Some(true) => ", kept damp",
        Some(false) => ", kept dry",
        None => "",
    };
    let advice = match found.advice {
        None => {
            "above 20 MΩ, below which this tool has an old transformer dried (from memory, never compared; the limits of the finished instrument \
             stand in the bring-up, step power off; local rules come first)"
        }
        Some(InsulationAdvice::DryAndRetest) => "to be dried and read again, see below",
        Some(InsulationAdvice::Reject) => "not for the mains, see below",
    };
    format!(
        "Insulation {} - {}: {ohms} at {}{kept}: {advice}.",
        found.between.0,
        found.between.1,
        number::si(found.volts, "V", 3)
    )
}

/// The advice's name in JSON.
pub fn advice_key(advice: InsulationAdvice) -> &'static str {
    match advice {
        InsulationAdvice::DryAndRetest => "dry and read again",
        InsulationAdvice::Reject => "reject",
    }
}

/// A ring without its weight.
pub const RING_UNWEIGHED: &str =
    "Rule for the core not shown: that of a ring goes by its weight; weigh it.";

/// The hot run's load in the box.
pub fn in_box(in_box: &InBox) -> String {
    let copper = number::si(in_box.copper, "°C", 3);
    let times = |times: f64| number::si(times, "", 2).trim().to_owned();
    let life = format!(
        "insulation lasts {} to {} times as long as at its class (half for every 10 K, or for every 8 K: sources differ)",
        times(in_box.life.1.min(in_box.life.0)),
        times(in_box.life.1.max(in_box.life.0))
    );
    if in_box.below >= 0.0 {
        format!(
            "the same load in that air brings copper to {copper}, {:.0} K below its class; {life}",
            in_box.below
        )
    } else {
        format!(
            "the same load in that air brings copper to {copper}, {:.0} K ABOVE its class; {life}",
            -in_box.below
        )
    }
}

/// Aluminium.
pub const ALUMINIUM: &str = "windings of aluminium: constant 225 (a handbook page gives 228); all else takes them for copper";

/// Regulation of a secondary; `is_alone` says that there is no other.
pub fn regulation(
    winding: &str,
    volt_amperes: &str,
    by: VoltAmperesBy,
    amps: &str,
    loaded: &str,
    share: &str,
    is_alone: bool,
) -> String {
    let by = match by {
        VoltAmperesBy::HotRun => "by the hot run",
        VoltAmperesBy::Rule(_) => "by the rule for its core, a guide",
    };
    if is_alone {
        return format!(
            "{winding} falls to {loaded}, a regulation of {share}, with all {volt_amperes} of the core ({by}) drawn into a resistor, {amps}. What \
             its copper bears is not read."
        );
    }
    format!(
        "{winding} would fall to {loaded}, a regulation of {share}, were the whole {volt_amperes} of the core ({by}) put on it alone. Do not load \
         it so: these volt-amperes are for all secondaries together, and what the copper of this one bears is not read."
    )
}

/// What says how many volt-amperes, in JSON.
pub fn by_key(by: VoltAmperesBy) -> &'static str {
    match by {
        VoltAmperesBy::HotRun => "hot run",
        VoltAmperesBy::Rule(_) => "core rule",
    }
}

/// What the instrument draws.
pub fn existing(leads: &str, amps: &str) -> String {
    format!("The instrument draws {amps} at {leads}.")
}

/// A rule for the core.
pub fn rule(by: RuleBy, volt_amperes: &str, hertz: f64) -> String {
    let (what, source) = match by {
        RuleBy::Area => (
            "the area of its middle limb",
            "(mm²)²/16042 at 50 Hz, workshop texts",
        ),
        RuleBy::Weight => ("its weight", "from memory"),
    };
    format!(
        "By {what} the core is one of about {volt_amperes} at {}: {GUIDE} ({source}).",
        number::written(hertz, "Hz")
    )
}

/// Rise in the hot run.
pub fn rise(rise: &str, copper: f64, is_led_back: bool) -> String {
    let copper = number::si(copper, "°C", 3);
    if is_led_back {
        format!("copper rose {rise} above the air, to {copper}, led back to switching off")
    } else {
        format!(
            "copper rose at least {rise} above the air, to {copper}: one reading after switching off cannot be led back"
        )
    }
}

/// Time constant.
pub fn cooling(seconds: f64) -> String {
    format!(
        "it cools with a time constant of {} at first",
        number::si(seconds, "s", 2)
    )
}

/// Thermal resistance.
pub fn to_air(to_air: &str) -> String {
    format!("copper to air: {to_air}")
}

/// Volt-amperes by the hot run.
pub fn volt_amperes(range: &str, most: f64, air: f64) -> String {
    format!(
        "volt-amperes with copper at {} in air of {}: {range}",
        number::si(most, "°C", 3),
        number::si(air, "°C", 3)
    )
}

/// What a hot run lacks for volt-amperes.
pub const NO_VOLT_AMPERES: &str =
    "volt-amperes not shown: that takes copper_loss, carried and copper_max beside the rise";

/// No hot run.
pub const NO_HOT_RUN: &str =
    "Volt-amperes not shown: no hot run was read. Core rules are guides only.";

/// A place in the job.
pub fn at_line(line: usize) -> String {
    format!("line {line}")
}

/// A doubt, `line` finding lines of places.
pub fn doubt(doubt: &Doubt, line: &dyn Fn(usize) -> usize) -> String {
    match doubt {
        Doubt::Contradiction {
            worst,
            times,
            one_of,
        } => {
            let worst_words = format!(
                "{} {} ({})",
                kind(worst.kind),
                worst.text,
                at_line(line(worst.span.start))
            );
            let head = format!(
                "Readings contradict each other: {worst_words} is {times:.1} times as far from the others as their errors \
                 allow; they say {}.",
                number::si(worst.others_say, worst.unit, 4)
            );
            if one_of.is_empty() {
                return format!("{head} No single reading can be left out to settle it.");
            }
            let all: Vec<String> = one_of
                .iter()
                .map(|one| {
                    format!(
                        "{} {} ({})",
                        kind(one.kind),
                        one.text,
                        at_line(line(one.span.start))
                    )
                })
                .collect();
            format!(
                "{head} Without any one of these the rest agree, so read them again: {}. Ranges hold all of these ways.",
                all.join("; ")
            )
        }
        Doubt::PrimaryOnOhmsAlone { candidate } => format!(
            "{candidate} has the most ohms, which alone says nothing: a high-voltage secondary may have more. Put a few volts on \
             it and read the others; look for the cord, the selector, the fuse. Then write `primary` and `primary_because`."
        ),
        Doubt::SenseOpen { winding } => format!(
            "Which way round {winding} is has not been read: tie one of its leads to another winding's, drive that with a few \
             volts, and read across the free ends."
        ),
        Doubt::OrderOpen { winding } => format!(
            "Which lead of {winding} is the tap is not settled: read ohms between every two of its leads."
        ),
        Doubt::Alone {
            lead,
            is_open: true,
        } => format!(
            "{lead} reads open to all that it was read to: a screen, a thermal link that has gone, or a broken winding."
        ),
        Doubt::Alone {
            lead,
            is_open: false,
        } => format!("{lead} has not been read to any other lead."),
        Doubt::OpenInside { between, span } => format!(
            "{} - {} reads open ({}), and other readings make them one winding.",
            between.0,
            between.1,
            at_line(line(span.start))
        ),
        Doubt::Saturating { power, volts } => format!(
            "No-load current rises as the {power:.1}th power of the volts near {}: the core saturates there. Permit it fewer \
             volts, or more hertz.",
            number::si(*volts, "V", 3)
        ),
        Doubt::ShortedTurns {
            volt_amperes,
            share,
            power_factor,
        } => {
            let mut parts = vec![format!(
                "{} with nothing connected",
                number::si(*volt_amperes, "VA", 3)
            )];
            parts.extend(
                share.map(|share| {
                    format!("{:.0} % of what the core's size suggests", 100.0 * share)
                }),
            );
            parts.extend(power_factor.map(|factor| format!("power factor {factor:.2}")));
            format!(
                "Shorted turns are likely: {}. Do not leave it on the mains.",
                parts.join(", ")
            )
        }
        Doubt::Flux { nominal, highest } => format!(
            "Flux on this mains is {} of that at the marking, {} at the highest: the no-load current at two voltages tells \
             whether the core bears it.",
            percent_of(*nominal),
            percent_of(*highest)
        ),
        Doubt::MainsBeyond { low, high } => format!(
            "Over the day the mains went from {} to {}, beyond what [mains] says.",
            number::si(*low, "V", 4),
            number::si(*high, "V", 4)
        ),
        Doubt::Insulation {
            between,
            ohms,
            advice,
            span,
        } => {
            let what = match advice {
                InsulationAdvice::DryAndRetest => {
                    "Dry it for a day in the warm and read again (limits from memory; local rules come first)"
                }
                InsulationAdvice::Reject => {
                    "Do not put it on the mains (limits from memory; local rules come first)"
                }
            };
            format!(
                "Insulation {} - {} reads {} ({}). {what}.",
                between.0,
                between.1,
                number::si(*ohms, "Ω", 3),
                at_line(line(span.start))
            )
        }
        Doubt::HotLoss {
            copper,
            carried,
            between,
            span,
        } => format!(
            "copper_loss of the hot run is {} ({}), and {} in windings of these resistances make {} to {}: one of the two is not right, \
             and so neither are the volt-amperes that follow.",
            number::si(*copper, "W", 3),
            at_line(line(span.start)),
            number::si(*carried, "VA", 3),
            number::si(between.0, "W", 2),
            number::si(between.1, "W", 2)
        ),
        Doubt::InsulationVolts { volts, span } => format!(
            "{} of test voltage tell little of mains insulation ({}); 500 V is portable-appliance practice.",
            number::si(*volts, "V", 3),
            at_line(line(span.start))
        ),
    }
}

/// The doubt's name in JSON.
pub fn doubt_key(doubt: &Doubt) -> &'static str {
    match doubt {
        Doubt::Contradiction { .. } => "contradiction",
        Doubt::PrimaryOnOhmsAlone { .. } => "primary on ohms alone",
        Doubt::SenseOpen { .. } => "sense open",
        Doubt::OrderOpen { .. } => "order open",
        Doubt::Alone { .. } => "lead alone",
        Doubt::OpenInside { .. } => "open inside",
        Doubt::Saturating { .. } => "saturating",
        Doubt::ShortedTurns { .. } => "shorted turns",
        Doubt::Flux { .. } => "flux",
        Doubt::MainsBeyond { .. } => "mains beyond",
        Doubt::Insulation { .. } => "insulation",
        Doubt::InsulationVolts { .. } => "insulation volts",
        Doubt::HotLoss { .. } => "hot run's loss",
    }
}

fn percent_of(ratio: f64) -> String {
    format!("{:.0} %", 100.0 * ratio)
}

/// The next reading, as an instruction.
pub fn next(kind: ReadingKind, leads: &str, driven: &str, volts: f64, expect: &str) -> String {
    let volts = number::si(volts, "V", 3);
    match kind {
        ReadingKind::Shorted => format!(
            "short-circuit test: short {leads}, put about {volts} on {driven}, read volts and amperes there. Expect {expect}. \
             Bring the volts up from nothing."
        ),
        ReadingKind::Volts => {
            format!("volts off load across {leads}, with {volts} on {driven}. Expect {expect}.")
        }
        ReadingKind::Loaded => format!(
            "volts across {leads} under a resistor that takes a tenth of them, with {volts} on {driven}. Expect {expect}."
        ),
        ReadingKind::Ohms => format!(
            "ohms of {leads}, by four leads or a known current, the test leads out of it. Expect {expect}."
        ),
        ReadingKind::NoLoad
        | ReadingKind::Existing
        | ReadingKind::Hot
        | ReadingKind::Insulation => {
            format!("{} at {leads}.", self::kind(kind))
        }
    }
}

/// Leads that were read to nothing.
pub fn read_alone(leads: &str) -> String {
    format!("ohms of {leads} to each of the other leads.")
}

/// The first kind in order that is missing.
pub fn in_order(how: &str) -> String {
    format!("the next in order: {how}.")
}

/// What it narrows.
pub fn narrows(what: &str, before: &str, after: &str) -> String {
    format!("It narrows {what} from ±{before} to ±{after}.")
}

/// Volts under a load.
pub fn under_load(winding: &str, amperes: &str) -> String {
    format!("the crest of {winding} at {amperes}")
}

/// A limit of the job.
pub fn margin_of(limit: &str, state: &str) -> String {
    format!("the margin of {limit}, {state},")
}

/// Why there is no model.
pub fn no_model(why: &NoModel) -> &'static str {
    match why {
        NoModel::NoReadings => {
            "nothing was read between any two of its leads yet; begin with ohms between every two leads"
        }
        NoModel::NoFit => "no transformer fits these readings",
    }
}

/// Reading kinds in the order in which they are best taken, and how.
pub const ORDER: [(ReadingKind, &str); 8] = [
    (
        ReadingKind::Ohms,
        "ohms between every two leads, the resistance of the test leads noted as `null`",
    ),
    (
        ReadingKind::Insulation,
        "insulation of what may be the mains side against the rest and the core",
    ),
    (
        ReadingKind::Volts,
        "a few volts on one winding: volts of the others, and phase tests with leads tied",
    ),
    (
        ReadingKind::Shorted,
        "a short-circuit test of each secondary, a few volts brought up from nothing",
    ),
    (
        ReadingKind::NoLoad,
        "through a lamp first: no-load current at two or three voltages, up to the mains",
    ),
    (
        ReadingKind::Loaded,
        "volts under a resistor, or behind a rectifier",
    ),
    (
        ReadingKind::Existing,
        "volts with what the instrument draws unplugged and plugged in",
    ),
    (
        ReadingKind::Hot,
        "a hot run: ohms before, and at some seconds after switching off",
    ),
];
/// Heads what is still to be read.
pub const STILL: &str = "Still to read, in this order:";
/// Caution under every answer about something on the mains.
pub const CAUTION: &str = "Mains kills. These figures come from readings, not from a marking; local codes and licensed \
                           practice come before them.";

/// Why the model is not kept.
pub mod not_kept {
    /// No primary stated.
    pub const NO_PRIMARY: &str = "write `primary` and `primary_because` first: ohms alone do not tell which winding is \
                                  for the mains";
    /// Contradiction.
    pub const CONTRADICTION: &str = "readings contradict each other; settle that first";
    /// A figure that is not told.
    pub fn untold(winding: &str, what: &str) -> String {
        format!("{what} of {winding} not shown by the readings so far")
    }
    /// Sense.
    pub fn sense(winding: &str) -> String {
        format!("which way round {winding} is has not been read")
    }
    /// Primaries that are put on the mains in a way that no selector says.
    pub const JOIN: &str = "how the mains is put on these primaries is neither one winding, two in series nor two in \
                            parallel; write the transformer by hand";
}

/// Written over the kept table.
pub fn kept_comment(name: &str) -> String {
    format!(
        "from the readings in [unmarked.{name}], 95 % ranges; volts of primaries tell turns, nothing is marked"
    )
}

/// What taking the model over would change in the job.
pub fn would_change(lines: usize) -> String {
    match lines {
        0 => "The job has these figures already.".to_owned(),
        1 => "Taken over into the job, it changes a line: --changes shows it, --keep writes it."
            .to_owned(),
        _ => format!(
            "Taken over into the job, it changes {lines} lines: --changes shows them, --keep writes them."
        ),
    }
}

/// Heads the lines that change.
pub fn changes(path: &str, name: &str) -> String {
    format!("{path}, [transformer.{name}] by the readings in [unmarked.{name}]:")
}

/// After keeping.
pub fn kept(path: &str, name: &str) -> String {
    format!("{path}: wrote [transformer.{name}] from the readings")
}
