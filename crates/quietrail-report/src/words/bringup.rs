//! What is said of the bring-up.

use crate::number::{self, NO_BREAK};
use quietrail_bench::log::{Observed, Row};
use quietrail_bench::safety::{SafetyLimit, Source};
use quietrail_study::bringup::{
    Beside, Caution, Dummy, Expectation, Fit, Kind, Reading, Settled, Settling, ShortOfEnd,
    Through, Touch,
};
use quietrail_study::finding::{LimitFinding, Predicted};
use quietrail_study::gate::{Lock, Why};

/// Stands above everything: what this is not.
pub const FIRST: &str = "Read each step whole before power comes on, predict, then measure. Local codes and licensed practice come first. \
This is a work sheet, not a certificate.";
/// Heads the columns of a step.
pub const HEAD_POINT: &str = "point";
/// What is read there.
pub const HEAD_WHAT: &str = "what";
/// The band.
pub const HEAD_EXPECT: &str = "expect";
/// Readings, or a box for one.
pub const HEAD_READ: &str = "read";
/// An empty box on paper.
pub const BOX: &str = "[\u{a0}\u{a0}\u{a0}\u{a0}\u{a0}\u{a0}\u{a0}\u{a0}\u{a0}\u{a0}]";
/// Whether a step is done, on paper.
pub const TICK: &str = "[\u{a0}]";
/// A step on paper waits for those before it.
pub const AFTER: &str = "Only when every box above is filled and fits.";

/// How a step counts: `step 4 of 11`.
pub fn step_of(number: usize, all: usize, name: &str) -> String {
    format!("Step {number} of {all}: {name}")
}

/// What is connected in a kind of step.
pub fn connected(kind: Kind) -> &'static str {
    match kind {
        Kind::PowerOff => {
            "Plug out, reservoirs empty: read the volts across each first, for what is left there upsets every reading of resistance. \
             Bands of resistance reach further up than down: hand-held leads and contacts add up to 0.3 Ω, which four leads do not."
        }
        Kind::Forming => {
            "Plug out. The capacitor by itself, its plus lead off the board: a bench supply, the resistor named under each row (it takes a watt at most, the \
             capacitor a short), and the capacitor. Read the volts across the resistor at the end of each stage; they fall as it comes back. How long is \
             workshop practice, no source. Leave it connected between stages, and let it empty through the same resistor before it is touched."
        }
        Kind::TransformerSoftly | Kind::Transformer => {
            "Transformer alone: rectifiers and all behind them not connected."
        }
        Kind::RectifierSoftly => "Rectifiers and reservoirs; regulators and loads not connected.",
        Kind::RawOnDummy => {
            "Rectifiers and reservoirs with a dummy load across; regulators and loads not connected."
        }
        Kind::NoLoad => "The whole board, loads not connected.",
        Kind::DummyLoad => "The whole board, dummies in place of the loads.",
        Kind::OverVoltage => {
            "Over-voltage, at the highest mains: the whole board, loads not connected; what the load would see at most. Without a variable transformer, done when the mains is high, its voltage written beside."
        }
        Kind::LowestMains => {
            "The whole board on its dummies at the lowest mains: where headroom is tightest. Without a variable transformer, done when the mains is low, its voltage written beside."
        }
        Kind::ClampProof => {
            "Plug out, loads not connected. A bench supply set to 50 mA across the pins of the load, its voltage raised slowly: read the volts at which the clamp begins to draw, then turn it down again."
        }
        Kind::Soak => "The whole board on its dummies until temperatures stand still.",
        Kind::Load => {
            "The loads themselves. Only when every rail above has held on dummies, and nothing in the proof fails."
        }
        Kind::Own => "As the job says.",
    }
}

/// What stands in front.
pub fn through(through: Through) -> String {
    match through {
        Through::Lamp {
            watts,
            volts,
            is_proposed,
        } => {
            let lamp = format!(
                "In series with the live wire: a tungsten lamp {}, {}.",
                number::written(watts, "W"),
                number::written(volts, "V")
            );
            if is_proposed {
                return format!("{lamp} Proposed; [bench] lists none.");
            }
            lamp
        }
        Through::Variable { setting, ohms } => format!(
            "Variable transformer at {:.0}{NO_BREAK}% of the mains, {} in its output. It does not separate from the mains.",
            100.0 * setting,
            number::written(ohms, "Ω")
        ),
    }
}

/// Two nodes between which something is; against common the other one alone.
fn both_ends(plus: &str, minus: &str) -> String {
    if minus == "common" {
        plus.to_owned()
    } else {
        format!("{plus} and {minus}")
    }
}

/// A dummy load.
pub fn dummy(dummy: &Dummy, volts: Option<f64>) -> String {
    let at = both_ends(&dummy.plus, &dummy.minus);
    let made_of = match dummy.made_of.as_slice() {
        [] => " (computed; none on hand comes near)".to_owned(),
        [_] => String::new(),
        many => {
            let sign = if dummy.is_parallel { " ‖ " } else { " + " };
            let all: Vec<String> = many
                .iter()
                .map(|ohms| number::written(*ohms, "Ω"))
                .collect();
            format!(" ({})", all.join(sign))
        }
    };
    let mut text = format!(
        "Dummy {}{made_of} across {at}",
        number::written(dummy.ohms, "Ω")
    );
    if dummy.stands_for > 0.0 {
        text.push_str(&format!(", for {}", number::si(dummy.stands_for, "A", 3)));
    }
    if let Some(volts) = volts {
        text.push_str(&format!(
            ": {} and {} at {}",
            number::si(volts / dummy.ohms, "A", 3),
            number::si(dummy.watts(volts), "W", 2),
            number::si(volts, "V", 3)
        ));
        if let Some(seconds) = dummy.seconds(volts) {
            text.push_str(&format!(
                "; more than its {}: off again within {}",
                number::written(dummy.rated.unwrap_or(0.0), "W"),
                number::si(seconds, "s", 2)
            ));
        }
    }
    text.push('.');
    text
}

/// Parts that are not there yet.
pub fn out(parts: &[String]) -> String {
    format!("Not connected: {}.", parts.join(", "))
}

/// Parts that are bridged.
pub fn bridged(parts: &[String]) -> String {
    format!("Bridged: {}.", parts.join(", "))
}

/// A caution: the thing and the act.
pub fn caution(caution: &Caution) -> String {
    match caution {
        Caution::PlugOut => {
            "Plug out, not only switched off. Measure every reservoir before you touch it, and empty it through a resistor."
                .to_owned()
        }
        Caution::Mains { at } => format!(
            "Mains at {}. One hand, clips on before the plug goes in, somebody else in the room.",
            at.join(", ")
        ),
        Caution::Charge {
            part,
            volts,
            seconds,
            touch,
        } => charge_kept(part, *volts, *seconds, *touch),
        Caution::EarthedClip => {
            "An oscilloscope's clip is earth: never on the mains side, and only on common once you know what common is joined to."
                .to_owned()
        }
        Caution::Electrolytics => {
            "Electrolytics that lay for years may vent when voltage first comes on: eye protection, face out of their line."
                .to_owned()
        }
        Caution::HotDummy {
            plus,
            minus,
            watts,
            rated,
        } => {
            let at = both_ends(plus, minus);
            let rated = rated.map_or_else(String::new, |rated| {
                format!(", and may take {}", number::si(rated, "W", 2))
            });
            format!(
                "The dummy across {at} turns {} into heat{rated}: on something that does not burn, not in the hand.",
                number::si(*watts, "W", 2),
            )
        }
        Caution::Hot {
            part,
            celsius,
            is_inside,
        } => {
            let inside = if *is_inside { " inside" } else { "" };
            format!(
                "{part} may reach {}{inside} if this is left on: it burns skin without a sign, and stays hot after the plug is out.",
                number::si(*celsius, "°C", 2)
            )
        }
        Caution::Ammeter {
            of,
            instrument,
            ohms,
            volts,
        } => format!(
            "In series with {of}, {instrument} puts {} in and drops up to {}. In and out with the plug out, and out before other points are read.",
            number::written(*ohms, "Ω"),
            number::si(*volts, "V", 2)
        ),
        Caution::Input {
            of,
            what,
            instrument,
            ohms,
            share,
        } => format!(
            "At {of}, {instrument} is a load of {}: {} reads {:.2}{}% {} than without, and the band is for that. Another instrument reads another value.",
            number::written(*ohms, "Ω"),
            observed(*what),
            100.0 * share.abs(),
            number::NO_BREAK,
            if *share > 0.0 { "lower" } else { "higher" }
        ),
        Caution::NoClamp { loads } => format!(
            "Nothing drawn across the pins of {} keeps a broken part from it (`clamp` of the load). What single faults would put there: `quietrail prove JOB --faults`.",
            loads.join(", ")
        ),
        Caution::Irreplaceable { loads } => format!(
            "What is connected here may be one of a kind ({}): a prediction alone is no reason to connect it.",
            loads.join(", ")
        ),
    }
}

/// A capacitor that keeps its charge.
fn charge_kept(part: &str, volts: f64, seconds: Option<f64>, touch: Touch) -> String {
    let volts = number::si(volts, "V", 3);
    let why = match touch {
        Touch::Hazardous { coulombs, above } => format!(
            " {} is hazardous to touch: above {} (IEC 61010-1).",
            number::si(coulombs, "C", 2),
            number::si(above, "C", 2)
        ),
        Touch::Sparks { joules } => {
            format!(" Its {} throw sparks.", number::si(joules, "J", 2))
        }
    };
    match seconds {
        Some(seconds) => format!(
            "{part} holds up to {volts} and keeps more than 10{NO_BREAK}V for {} after you switch off, any dummy across it taken off.{why}",
            number::si(seconds, "s", 2)
        ),
        None => format!(
            "{part} holds up to {volts} and nothing across it empties it: use a resistor, and measure.{why}"
        ),
    }
}

/// A point to keep an eye on in a step, and the edge of its band that is furthest from common.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Watched<'a> {
    /// The point.
    pub(crate) of: &'a str,
    /// What is read.
    pub(crate) what: &'static str,
    /// The edge, SI.
    pub(crate) edge: f64,
    /// Whether it lies under common, so that it is too much below the edge.
    pub(crate) is_under: bool,
    /// Its unit.
    pub(crate) unit: &'static str,
}

/// When to stop.
pub(crate) fn stop(kind: Kind, watched: &[Watched<'_>]) -> String {
    let mut outside = "Plug out at once if".to_owned();
    for one in watched {
        let side = if one.is_under { "below" } else { "above" };
        let edge = number::si(one.edge, one.unit, 3);
        outside.push_str(&format!(
            " {}, {}, goes {side} {edge}, or if",
            one.of, one.what
        ));
    }
    let sign = match kind {
        Kind::PowerOff => {
            return "Stop: a row outside its limit is mended before anything else.".to_owned();
        }
        Kind::Forming => {
            return "Stop: more across the resistor than the band once it is charged, or a can that warms, hisses or swells. Turn the supply down, empty it, \
                    and do not fit it."
                .to_owned();
        }
        Kind::ClampProof => {
            return "Stop: where it draws nothing at the upper end of its band, turn the bench supply down; the load stays off."
                .to_owned();
        }
        Kind::TransformerSoftly | Kind::RectifierSoftly => {
            "the lamp stays bright, or anything hums loudly, smells or warms"
        }
        _ => "anything smells, hums loudly or gets too hot to touch",
    };
    format!("{outside} {sign}. Any reading outside its band: go no further.")
}

/// How long what is warm takes to settle.
pub fn settling(one: &Settling) -> String {
    let of = &one.of;
    let first = match (one.by_weight, one.read) {
        (Some(seconds), None) => format!(
            "{of}: by its weight 95{NO_BREAK}% of its rise takes about {} (specific heat from memory).",
            minutes(seconds)
        ),
        (None, None) => format!(
            "{of}: no weight given, so nothing tells beforehand how long it takes; half an hour at least (common practice, no source)."
        ),
        (_, Some(_)) => String::new(),
    };
    let rest = match one.read {
        None => "Three readings some minutes apart tell where it ends.".to_owned(),
        Some(Settled::TooFew(count)) => format!(
            "{of}: {count} of three readings that it takes to tell where it ends; the next after some minutes."
        ),
        Some(Settled::Straight) => format!(
            "{of}: still changes in a straight line, so no end can be told. Read again after as long as so far."
        ),
        Some(Settled::Ends { end, tau, wait, .. }) => {
            let end = number::si(end, "°C", 2);
            if wait > 0.0 {
                format!(
                    "{of}: heads for about {end}, 63{NO_BREAK}% of the way each {}; within 1{NO_BREAK}K of it {} after the last reading. Next reading due then.",
                    minutes(tau),
                    minutes(wait)
                )
            } else {
                format!("{of}: within 1{NO_BREAK}K of its end, about {end}: settled.")
            }
        }
    };
    format!("{first} {rest}").trim().to_owned()
}

fn minutes(seconds: f64) -> String {
    format!("{:.0}{NO_BREAK}min", (seconds / 60.0).ceil())
}

/// What is read.
pub fn observed(what: Observed) -> &'static str {
    match what {
        Observed::Statistic(what) => super::what(what),
        Observed::RmsVoltage => "volts rms",
        Observed::Resistance => "resistance",
        Observed::Insulation => "insulation",
        Observed::Capacitance => "capacitance",
        Observed::Esr => "esr",
        Observed::Frequency => "frequency",
        Observed::Level => "level",
        Observed::Harmonic => "harmonic",
        Observed::Spur => "spur",
        Observed::PhaseNoise => "phase noise",
        Observed::WarmUp => "warm-up",
        Observed::WarmUpCurrent => "current while warming up",
        Observed::Retrace => "retrace",
        Observed::Check => "checked",
        Observed::Override => "going on regardless",
    }
}

/// A band: `17.4 .. 18.4 V`, `at least 2 MΩ`.
pub fn band(low: Option<f64>, high: Option<f64>, unit: &str) -> String {
    match (low, high) {
        (Some(low), Some(high)) => {
            number::range(&number::si(low, unit, 3), &number::si(high, unit, 3))
        }
        (Some(low), None) => format!("at least {}", number::si(low, unit, 3)),
        (None, Some(high)) => format!("at most {}", number::si(high, unit, 3)),
        (None, None) => super::ABSENT.to_owned(),
    }
}

/// What else is in a reading, or stands behind it.
pub fn beside(one: &Beside) -> String {
    match one {
        Beside::Through { parts } => format!("Read through {}.", parts.join(", ")),
        Beside::Settles { parts, seconds } => format!(
            "It settles in about {}, as {}.",
            number::si(*seconds, "s", 2),
            charge(parts)
        ),
        Beside::Climbs { parts, farads } => format!(
            "No resistor is across it: the reading climbs as {}, by about 1 kΩ every {} on a meter that sends a steady current, and nobody \
             waits for its end. Red lead on plus. One that stops short of the band is a short or a leak.",
            charge(parts),
            number::si(1e3 * farads, "s", 2)
        ),
        Beside::Inside { parts } => format!(
            "Paths inside {} count with it and are not known, so it may read far less one way round than the other. The lower end only tells it from a \
             short.",
            parts.join(", ")
        ),
        Beside::PartOfWinding => {
            "Turns further out are longer: of two halves one over the other the outer has up to a tenth more (common practice, no source). Halves that \
             are further apart: the tap is not in the middle, or a lead is another one."
                .to_owned()
        }
        Beside::Turned { windings, volts } => format!(
            "With {} the wrong way round it reads about {}.",
            windings.join(" or "),
            number::si(*volts, "V", 3)
        ),
        Beside::Shorted => {
            "Windings side by side: one the wrong way round is a short circuit. Join one end of each alone first: between the free ends there must be \
             almost nothing."
                .to_owned()
        }
        Beside::PlateTaken { share } => format!(
            "Taken: ±{} about the plate, which gives no tolerance (default, common practice, no source). `open`, read off load, says more.",
            number::percent(*share).trim_start_matches('+')
        ),
        Beside::IronTaken { least, most } => format!(
            "Taken: {} to {} of the no-load current given, which has no tolerance: iron draws more than in proportion where the mains is high (default, \
             common practice, no source).",
            number::si(100.0 * least, "%", 2),
            number::si(100.0 * most, "%", 3)
        ),
        Beside::Forming {
            part,
            volts,
            ohms,
            seconds,
            settled,
            in_order,
        } => format!(
            "{part} at {} through {}, {} at least. Charged after {}; one in order then leaves at most {} across the resistor.",
            number::si(*volts, "V", 3),
            number::si(*ohms, "Ω", 2),
            minutes(*seconds),
            number::si(*settled, "s", 2),
            number::si(*in_order, "V", 2)
        ),
        Beside::Case { junction } => match junction {
            Some(celsius) => format!(
                "That of its case, where a thermometer is. The junction in it then reaches up to {}.",
                number::si(*celsius, "°C", 2)
            ),
            None => "That of its case, where a thermometer is. How hot the junction in it is is not known: `junction_to_case` is not given."
                .to_owned(),
        },
        Beside::Cooler { inside, is_copper } => {
            let (of, way) = if *is_copper {
                (
                    "the copper inside",
                    "Copper itself is read by its ohms, cold and hot.",
                )
            } else {
                (
                    "the junction inside",
                    "How much cooler its outside is, the job does not say.",
                )
            };
            format!(
                "Predicted is {of}, {}: outside a thermometer reads less, so the upper end alone is compared. {way}",
                number::range(
                    &number::si(inside.0, "°C", 2),
                    &number::si(inside.1, "°C", 2)
                )
            )
        }
    }
}

/// `C1 charges`, `C1 and C2 charge`
fn charge(parts: &[String]) -> String {
    match parts {
        [one] => format!("{one} charges"),
        many => format!("{} charge", many.join(", ")),
    }
}

/// A check is done, or not.
pub const DONE: &str = "as it should be";

/// The limit of a safety row with its standard.
pub fn safety(limit: &SafetyLimit, unit: &str) -> String {
    let band = band(limit.min, limit.max, unit);
    let source = match limit.source {
        Source::Quoted(document) => format!("as quoted in: {document}"),
        Source::Memory => "from memory: shown, not compared; look it up".to_owned(),
    };
    format!(
        "{band} ({}; {}; region: {}; {source})",
        limit.standard, limit.edition, limit.region
    )
}

/// How a reading fits, in a word or two.
pub fn fit(fit: Fit, unit: &str) -> String {
    match fit {
        Fit::Fits => "fits".to_owned(),
        Fit::Below(by) => format!("{} below the band", number::si(by, difference(unit), 2)),
        Fit::Above(by) => format!("{} above the band", number::si(by, difference(unit), 2)),
        Fit::Unclear => {
            "not shown: nearer to the edge of the band than the meter may err".to_owned()
        }
        Fit::MoreThan => {
            "not shown: the meter shows no more than that; read it on a higher range".to_owned()
        }
        Fit::NotCompared => "kept, compared with nothing".to_owned(),
    }
}

/// How a reading fits, and what its instrument may err by, if that is known: with as many digits as it takes to tell the two apart.
pub fn fit_and_error(found: Fit, error: Option<f64>, unit: &str) -> (String, Option<String>) {
    let unit_of_error = difference(unit);
    let error_to = |digits: usize| error.map(|error| number::si(error, unit_of_error, digits));
    let (Fit::Below(by) | Fit::Above(by)) = found else {
        return (fit(found, unit), error_to(2));
    };
    let by_to = |digits: usize| number::si(by, unit_of_error, digits);
    let is_told = |digits: &usize| error_to(*digits).as_ref() != Some(&by_to(*digits));
    let digits = (2..=5).find(is_told).unwrap_or(5);
    let side = if matches!(found, Fit::Below(_)) {
        "below"
    } else {
        "above"
    };
    (
        format!("{} {side} the band", by_to(digits)),
        error_to(digits),
    )
}

/// The band at the mains at which a reading was taken.
pub fn band_at_its_mains(band: &str) -> String {
    format!("at its mains {band}")
}

/// A row's value as it was typed; of one from a capture, which nobody typed, to four digits.
pub fn typed(row: &Row) -> String {
    let own = row.is_typed().then_some((&row.typed, &row.unit));
    value_read(own, row.is_more_than(), row.value, row.what.kind().symbol())
}

/// A reading as it was typed.
pub fn value_of(reading: &Reading, unit: &str) -> String {
    let own = reading.typed.as_ref().map(|(typed, unit)| (typed, unit));
    value_read(own, reading.is_more_than, reading.value, unit)
}

fn value_read(
    typed: Option<(&String, &String)>,
    is_more_than: bool,
    value: f64,
    unit: &str,
) -> String {
    let more = if is_more_than { "more than " } else { "" };
    let said = match typed {
        Some((typed, unit)) => format!("{typed}{NO_BREAK}{unit}"),
        None => number::si(value, unit, 4),
    };
    format!("{more}{}", said.trim_end().replace('-', "−"))
}

fn difference(unit: &str) -> &str {
    if unit == "°C" { "K" } else { unit }
}

/// One row that keeps a step locked: `earth bond, resistance (power off, row 3): does not fit`.
pub fn lock(lock: &Lock) -> String {
    let why = match lock.why {
        Why::NotRead => "not read",
        Why::ReadAgain => "to be read again: its reading decides nothing",
        Why::DoesNotFit => "does not fit",
        Why::NotShown => "not shown: nearer to its limit than the meter may err",
        Why::NotCompared => "its figure is from memory, so that nothing is shown by it",
    };
    let row = lock
        .row
        .map_or_else(String::new, |row| format!(", row {row}"));
    format!(
        "{}, {} ({}{row}): {why}",
        lock.of,
        observed(lock.what),
        lock.step
    )
}

/// Why a step is locked.
pub fn locked(locks: &[Lock]) -> String {
    // What does not fit is named whole; of what is not read a few rows tell enough.
    let wrong = locks.iter().filter(|lock| !lock.why.is_missing()).count();
    let said: Vec<String> = locks.iter().take(wrong.max(4)).map(lock).collect();
    let more = match locks.len() - said.len() {
        0 => String::new(),
        more => format!("; {}", super::and_more(more)),
    };
    format!("Locked by: {}{more}.", said.join("; "))
}

/// A reading of a step that is still locked.
pub fn refused(step: &str, locks: &[Lock]) -> String {
    format!(
        "{step} is locked. {} To go on regardless, say why: --go-on \"{step}\" --because \"...\"",
        locked(locks)
    )
}

/// What a locked step that is done regardless goes past.
pub fn gone_past(locks: &[Lock]) -> String {
    let locked = locked(locks);
    let what = locked.strip_prefix("Locked by: ").unwrap_or(&locked);
    format!("It goes past: {what}")
}

/// Over the steps of a job whose proof fails: by which limits, and what that means for the bring-up.
pub fn proof_fails(fails: &[&LimitFinding]) -> String {
    let said: Vec<String> = fails.iter().map(|row| failing(row)).collect();
    format!(
        "! The proof FAILS: {}. {PROOF_FAILS_MEANS}",
        said.join("; ")
    )
}

/// A limit that fails: `U1 headroom, cold, by 470 mV`.
pub fn failing(row: &LimitFinding) -> String {
    match row.margin.filter(|_| row.predicted == Predicted::Fails) {
        Some(margin) => format!(
            "{}, {}, by {}",
            row.name,
            row.state,
            number::size(row.what, margin, row.unit, row.worst)
        ),
        None => format!("{}, {}, by a reading", row.name, row.state),
    }
}

/// What a failing proof means for the bring-up.
pub const PROOF_FAILS_MEANS: &str = "The steps show what is built as it is; the load is not to be connected before this is mended. `quietrail prove JOB` says what would help.";

/// Under the head of one step, where limits of other states were not looked at.
pub const NOT_ALL_SEARCHED: &str = "Of this step alone: limits of other states were not searched. `quietrail prove JOB` searches all.";

/// A locked step that is done regardless.
pub fn regardless(reason: &str) -> String {
    format!("Going on regardless, as logged: {reason}")
}

/// No step of that name.
pub fn no_such_step(name: &str, nearest: Option<&str>, known: &[String]) -> String {
    match nearest {
        Some(near) => format!("no step is called {name}; did you mean \"{near}\"?"),
        None => format!(
            "no step is called {name}; there are{}",
            super::named::each_on_a_line(known)
        ),
    }
}

/// A step without figures.
pub fn no_figures(why: &str) -> String {
    format!("No figures for this step: {why}")
}

/// Lines that the log could not give.
pub fn damaged(line: usize, why: &str) -> String {
    format!("readings.csv, line {line}: kept, not counted: {why}")
}

/// The mark of a reading in the list of a step for an end of the mains range, taken elsewhere in it.
pub fn short_of_end(short: ShortOfEnd) -> String {
    let volts = |value| number::si(value, "V", 3);
    let end = volts(short.end);
    match short.read {
        Some(read) => format!(
            "taken at {}, the row stays to be read at {end}",
            volts(read)
        ),
        None => {
            format!("mains not read, the row stays to be read at {end} with the mains beside it")
        }
    }
}

/// The same where it is kept.
pub fn kept_short_of_end(step: &str, short: ShortOfEnd) -> String {
    let volts = |value| number::si(value, "V", 3);
    let end = volts(short.end);
    match short.read {
        Some(read) => format!(
            "Mains at {}, where \"{step}\" is read at {end}: kept and compared at its own mains. The row stays to be read.",
            volts(read)
        ),
        None => format!(
            "\"{step}\" is read with the mains at {end}, and this does not say at which it was taken: kept, and compared with what the whole range \
             of the mains may give. The row stays to be read, with the mains beside it (--mains)."
        ),
    }
}

/// Unit of a number that is typed without one: that of the band, as it is printed.
pub fn typed_unit(one: &Expectation) -> String {
    let limit = one.safety.and_then(|row| row.limit);
    let end = one
        .high
        .or(one.low)
        .or(limit.and_then(|limit| limit.max.or(limit.min)));
    let printed = end.map(|value| number::si(value, one.unit, 3));
    let unit = printed.and_then(|text| text.split_once(NO_BREAK).map(|(_, unit)| unit.to_owned()));
    unit.unwrap_or_else(|| one.unit.to_owned())
}
