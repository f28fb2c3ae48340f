//! What is said of readings and of the log.

mod doubts;

pub use doubts::{
    AS_TYPED, BY_OTHERS, LimitOf, above_carrier, doubtful_capture, impossible, level_of_line,
    misplaced, no_capture, no_limit, no_limit_of, no_line, other_limit, overload, overload_of_path,
    read_outside, upside_down,
};

use crate::number;
use quietrail_bench::decide::Shown;
use quietrail_bench::judge::{Prospect, Taken, Way, Why};
use quietrail_bench::log::{Observed, Row, RowFault};
use quietrail_study::bringup::{Expectation, Fit, Misfit};
use quietrail_study::finding::{Measured, Read};
use quietrail_study::gate::{Held, Lock, Regardless};
use quietrail_study::measured::{Judged, Showable};

/// Another writer holds the log.
pub const IN_USE: &str = "another quietrail is writing to it";

/// Why a line is no row.
pub fn fault(fault: &RowFault) -> String {
    match fault {
        RowFault::NotEnded => {
            "the line has no end, so it was never acknowledged; if it is whole, end it".to_owned()
        }
        RowFault::Quote => "a quotation mark never closes".to_owned(),
        RowFault::Fields(found) => format!("{found} fields where 17 belong"),
        RowFault::Number { field, found } => format!("`{field}` is {found:?}, not a whole number"),
        RowFault::What(word) => format!("nothing is read as `{word}`"),
        RowFault::Value(error) => error.to_string(),
        RowFault::NotOne(text) => format!("{text}: one plain value is wanted"),
        RowFault::Twice(row) => format!("row {row} is there already"),
    }
}

/// A row that did not get onto the disk.
pub fn not_kept(file: &str, why: &str) -> String {
    format!(
        "the reading is not kept, note it down: {file}: {why}. Once that file can be written, keep it again"
    )
}

/// A value with a word behind it for something else than is asked.
pub fn other_word(typed: &str, word: &str, what: Observed) -> String {
    let wanted = match word {
        "p-p" => "`ripple p-p` is what is read in p-p",
        "rms" => {
            "`rms voltage`, `ripple`, `noise` and `rms current` are what is read in rms; of what has a direct part, `mean` is that"
        }
        _ => "`peak` and `peak current` are the highest instant",
    };
    let what = what.word();
    format!("{typed}: {what} is not read in {word}; {wanted}")
}

/// A correction of nothing.
pub fn no_such_row(row: u64) -> String {
    format!("there is no row {row} to correct")
}

/// Heads what readings prove.
pub const HEAD: &str = "Readings:";
/// Heads what the readings of a step of the bring-up show of the limits.
pub const SHOW: &str = "What these readings show of the limits:";
/// Heads what the bench can show.
pub const CAN_HEAD: &str = "What this bench can show:";

/// The word for a verdict of readings.
pub fn shown(shown: Shown) -> &'static str {
    match shown {
        Shown::Holds => "holds",
        Shown::Fails => "fails",
        Shown::NotShown => "not shown",
    }
}

/// Everything about the readings of a limit.
pub fn judged(one: &Judged) -> String {
    let judgement = &one.judgement;
    let rows: Vec<String> = judgement.rows.iter().map(ToString::to_string).collect();
    let s = if rows.len() == 1 { "" } else { "s" };
    let mut text = format!(
        "{}, {}: {}. {} (row{s} {}).",
        one.limit,
        one.state,
        shown(judgement.shown),
        why(&judgement.why, one),
        rows.join(", ")
    );
    if let Some((low, high)) = one.mains_left {
        text.push(' ');
        text.push_str(&at_mains(&one.mains_read(), low, high));
    }
    if let Some(held) = &one.held {
        text.push(' ');
        text.push_str(&decides_nothing(&held.step, held.was_locked));
    }
    if !one.regardless.is_empty() {
        text.push(' ');
        text.push_str(&regardless(&one.regardless));
    }
    if let Some(prospect) = &one.easier {
        text.push(' ');
        text.push_str(&would_show(prospect, one.unit));
    }
    for taken in judgement
        .taken
        .iter()
        .filter(|taken| **taken != Taken::MainsNotRead)
    {
        text.push(' ');
        text.push_str(&self::taken(*taken, one.unit));
    }
    text
}

fn at_mains(read: &[f64], low: f64, high: f64) -> String {
    let range = super::bringup::band(Some(low), Some(high), "V");
    if read.is_empty() {
        return format!("Mains not read, so it stands for no point of {range}.");
    }
    format!(
        "Read with the mains {}, not over all of {range}.",
        at_volts(read)
    )
}

/// `at 231 V`, `at 207 V and 231 V`, `at 5 voltages, 221 .. 236 V`
fn at_volts(read: &[f64]) -> String {
    let volts = |value: &f64| number::si(*value, "V", 3);
    match read {
        [] => "not noted".to_owned(),
        [one] => format!("at {}", volts(one)),
        [low, high] => format!("at {} and {}", volts(low), volts(high)),
        [low, .., high] => format!(
            "at {} voltages, {}",
            read.len(),
            super::bringup::band(Some(*low), Some(*high), "V")
        ),
    }
}

/// Where the mains stood, for a verdict of readings that do not reach both ends of its range; empty where they do.
pub fn mains_of(read: &Read) -> String {
    if read.mains_left.is_none() {
        return String::new();
    }
    format!("mains {}", at_volts(&read.mains))
}

/// Readings that count although their step was locked when they were taken.
fn regardless(all: &[(u64, Regardless)]) -> String {
    let rows: Vec<String> = all.iter().map(|(row, _)| row.to_string()).collect();
    let (s, was) = if rows.len() == 1 {
        ("", "was")
    } else {
        ("s", "were")
    };
    let of = all.first().map(|(_, one)| one);
    format!(
        "Row{s} {} {was} taken with \"{}\" locked, going on regardless (row {}).",
        rows.join(", "),
        of.map_or("", |one| &one.step),
        of.map_or(0, |one| one.by)
    )
}

/// A reading that was just taken on a lock overridden.
pub fn taken_regardless(one: &Regardless) -> String {
    format!(
        "Taken with \"{}\" locked, going on regardless (row {}): it counts, and the record marks it.",
        one.step, one.by
    )
}

/// The mark of such a reading in the record.
pub fn regardless_mark(one: &Regardless) -> String {
    format!("taken with its step locked, regardless by row {}", one.by)
}

/// A step that is locked, or was when they were taken, keeps its readings from showing anything.
pub fn decides_nothing(step: &str, was_locked: bool) -> String {
    if was_locked {
        return format!(
            "Taken while \"{step}\" was locked: kept, and it decides nothing. Read it again once that step is open."
        );
    }
    format!("Kept, and it decides nothing while \"{step}\" is locked.")
}

/// The mark of a reading in a step's own list that was taken while the step was locked.
pub const TAKEN_LOCKED: &str = "taken while locked, decides nothing";

/// A reading that was taken while its step is locked: which step that is, and what it waits for.
pub fn held(held: &Held) -> String {
    let Held {
        step,
        is_named,
        locks,
        ..
    } = held;
    let which = if *is_named {
        format!("It is of the step \"{step}\"")
    } else {
        format!("It names no step. Read with power on, it is of the step \"{step}\"")
    };
    format!(
        "{which}, and that step is locked: what was read is kept and decides nothing, now or later. Read it again once the step is \
         open. {} To go on regardless, say why: --go-on \"{step}\" --because \"...\"",
        super::bringup::locked(locks)
    )
}

/// What was read, under the computed figures of its row.
pub fn beside(measured: Measured, read: &Read, unit: &str) -> String {
    let value = value(read, unit);
    let mut mains = match mains_of(read) {
        mains if mains.is_empty() => mains,
        mains => format!(", {mains}"),
    };
    if read.regardless {
        mains.push_str(", its step locked at the time");
    }
    match (&read.locked_step, measured) {
        (Some(step), _) if read.was_locked => {
            format!("read {value}{mains}, \"{step}\" locked at the time: decides nothing")
        }
        (Some(step), _) => {
            format!("read {value}{mains}: decides nothing while \"{step}\" is locked")
        }
        (None, Measured::Holds) if read.mains_left.is_some() => {
            format!("read {value}{mains}: holds there, other mains not read")
        }
        (None, Measured::Holds) => format!("read {value}{mains}: holds"),
        (None, Measured::Fails) => format!("read {value}{mains}: fails"),
        (None, Measured::NotShown | Measured::None) => format!("read {value}{mains}: not shown"),
    }
}

/// First sentence of the headline for a row that a reading fails: what was read, what is allowed, and what is computed of it.
pub fn fails_by_reading(
    limit: &str,
    read: Option<(&str, &str)>,
    allowed: &str,
    computed: Option<&str>,
) -> String {
    let read = match read {
        Some((value, "")) => format!(": {value} was read, allowed is {allowed}"),
        Some((value, mains)) => format!(": {value} was read ({mains}), allowed is {allowed}"),
        None => String::new(),
    };
    let computed = computed.map_or_else(String::new, |margin| {
        format!(" It is computed to hold, with {margin} in hand at the worst corner found: look for what is not as it was computed.")
    });
    format!("{limit} fails by a reading{read}.{computed}")
}

/// Under a table in which something was read.
pub const BESIDE_MEANS: &str = "Worst, margin and corner are computed; what was read stands under its row, and is of the mains voltage named.";

/// What decided, with the figures.
pub fn why(why: &Why, one: &Judged) -> String {
    let unit = one.unit;
    let judgement = &one.judgement;
    let off = off(judgement.low, judgement.value, judgement.high);
    let v = |value: f64| number::read(value, off, unit);
    let bounds = || {
        if judgement.low > 0.0 && judgement.low.is_finite() {
            number::range(&v(judgement.low), &v(judgement.high))
        } else {
            format!("at most {}", v(judgement.high))
        }
    };
    let limit = || match (one.min, one.max) {
        (Some(min), Some(max)) => super::bringup::band(Some(min), Some(max), unit),
        (Some(min), None) => format!("min {}", number::written(min, unit)),
        (None, Some(max)) => format!("max {}", number::written(max, unit)),
        (None, None) => super::ABSENT.to_owned(),
    };
    match why {
        Why::Clear => format!("Read {}; what is there is {}; limit {}", v(judgement.value), bounds(), limit()),
        Why::Between => format!(
            "Read {}; what is there is {}, and the limit {} lies within that",
            v(judgement.value),
            bounds(),
            limit()
        ),
        Why::UnknownInstrument(name) => {
            format!("The job has no instrument {name:?}: without its errors the reading shows nothing")
        }
        Why::NoFunction => format!("That instrument does not read {}", super::what(one.what)),
        Why::NoError => "The job gives no range with its error".to_owned(),
        Why::UnknownRange(range) => format!("The instrument has no range {range:?}"),
        Why::BeyondRange { end } => format!("The reading is beyond the end of its range, {}", v(*end)),
        Why::BelowValid { from } => format!(
            "Below {} this range is not specified",
            v(*from)
        ),
        Why::BandUnknown => "The job does not say in which band the instrument reads right".to_owned(),
        Why::BandTooNarrow { low, high } => format!(
            "The instrument reads {}, and the band of the limit goes beyond",
            super::bringup::band(Some(*low), Some(*high), "Hz")
        ),
        Why::ReadsMore => {
            "The instrument reads more than the band of the limit, so that this is no failure either".to_owned()
        }
        Why::FloorNotRead => format!(
            "Read {}, above the limit {}; but no floor was read, and it may be the instrument's own. Short the input at the same place and read again with --floor",
            v(judgement.value),
            limit()
        ),
        Why::FloorInconsistent => {
            "The reading is further below the floor than chance allows: they were not read in the same state".to_owned()
        }
        Why::HotterInside => format!(
            "Read {} on the outside; the limit {} is of the inside, which is hotter by nobody knows how much: with `junction_to_case`, and what it sits \
             on, it follows from the case",
            v(judgement.value),
            limit()
        ),
        Why::PulsesUnknown => {
            "The meter does not answer to the rms, or the job does not say that it does (`detector`): of a rectifier's pulses it may show a \
             third. Read it with one for true rms"
                .to_owned()
        }
        Why::AveragedAway(count) => format!(
            "{count} averages of the wave took noise down by their root; read it once, without averages"
        ),
        Why::Blind { reach } => format!(
            "Where nothing is there, this set-up would still only show {}",
            v(*reach)
        ),
    }
}

/// How far a reading may be off on the side that is known.
fn off(low: f64, value: f64, high: f64) -> f64 {
    let below = value - low;
    let above = high - value;
    let known = |side: &f64| side.is_finite() && *side > 0.0;
    [below, above]
        .into_iter()
        .filter(known)
        .fold(f64::NAN, f64::min)
}

/// What was read, with as many digits as it carries.
pub fn value(read: &Read, unit: &str) -> String {
    number::read(read.value, off(read.low, read.value, read.high), unit)
}

/// What was taken for granted.
pub fn taken(taken: Taken, unit: &str) -> String {
    match taken {
        Taken::CountOfRange(count) => format!(
            "Taken: one count of the range is {}.",
            number::si(count, unit, 2)
        ),
        Taken::ShapeForAverage => {
            "Taken: the detector answers to the average, and the shape is between a square wave and noise.".to_owned()
        }
        Taken::NoiseForLogAverage => {
            "Taken: noise, which a detector that averages decibels reads 2.51 dB low.".to_owned()
        }
        Taken::PredictedOutside(much) => format!(
            "Taken: at most {} lies outside the instrument's band, twice what is predicted.",
            number::si(much, unit, 2)
        ),
        Taken::SameWave => {
            "Taken: reading and floor may hold the same mains wave, so they may add or cancel.".to_owned()
        }
        Taken::Record(seconds) => format!(
            "Taken: a reading looks at {} of noise.",
            number::si(seconds, "s", 2)
        ),
        Taken::AmmeterDrops(volts) => format!(
            "Taken: the ammeter in series drops up to {}, which may be there without it.",
            number::si(volts, "V", 2)
        ),
        Taken::Burden(share) => format!(
            "Taken: without the ammeter the current may be {:.1}{}% larger.",
            100.0 * share,
            number::NO_BREAK
        ),
        Taken::Loading(share) => format!(
            "Taken: the instrument's input loads the point; without it the value moves by up to {}.",
            number::percent(share)
        ),
        Taken::WaveForAverage(shows) => format!(
            "Taken: the detector answers to the average, and shows at least {shows:.2} of the rms of the predicted wave, a tenth in hand."
        ),
        Taken::HotterInside { least, most } => format!(
            "Read on the case; the junction is hotter by {}, its watts times its way to the case, and that is counted.",
            super::bringup::band(Some(least), Some(most), "K")
        ),
        Taken::DirectLeftOut(amps) => format!(
            "Taken: the ammeter shows the alternating part alone, and {} of direct current are predicted, counted twice. One that is coupled directly (`coupling = \"dc\"`) reads both.",
            number::si(amps, "A", 2)
        ),
        Taken::PeakForRms => {
            "Taken: the detector answers to the peak, so that the rms is bounded from above alone.".to_owned()
        }
        Taken::MainsNotRead => "The mains was not read.".to_owned(),
    }
}

/// What would show a limit.
pub fn would_show(prospect: &Prospect, unit: &str) -> String {
    match prospect {
        Prospect::Can(way) => format!("To show it: {}.", self::way(way, unit)),
        Prospect::Cannot {
            closest: Some(way),
            needs,
        } => format!(
            "Nothing on this bench can show it. What comes closest: {}. To show it, error and floor together have to stay below {}.",
            self::way(way, unit),
            number::si(*needs, unit, 2)
        ),
        Prospect::Cannot {
            closest: None,
            needs,
        } => format!(
            "No range on this bench holds what is expected and reads all that is asked. To show it takes one whose error and floor together stay below {}.",
            number::si(*needs, unit, 2)
        ),
        Prospect::NotMet => {
            "What was read lies beyond the limit, by less than it may be off: a reading with a smaller error would show whether it fails.".to_owned()
        }
        Prospect::NoInstrument => "No instrument of the job reads this.".to_owned(),
    }
}

/// A way to read: what to do, then what it comes to.
pub fn way(way: &Way, unit: &str) -> String {
    let mut text = format!("read with {}, range {}", way.instrument, way.range);
    if let Some(name) = &way.through {
        text.push_str(&format!(", {name} in front"));
    }
    if let Some((low, high)) = way.narrowed {
        let band = super::bringup::band(Some(low), Some(high), "Hz");
        text.push_str(&format!(", a filter of {band} before it"));
    }
    if let Some(count) = way.averages {
        text.push_str(&format!(
            ", averaged {count} times on a line trigger, which leaves ripple and hides noise"
        ));
    }
    if let Some(count) = way.repeats {
        text.push_str(&format!(
            ", {count} times over, the floor read before and after"
        ));
    }
    let expected = number::si(way.expected, unit, 3);
    if way.floor > 0.0 {
        text.push_str(&format!(
            ". With a floor of {}, {expected} is then known to be at most {}",
            number::si(way.floor, unit, 2),
            number::si(way.bound, unit, 3)
        ));
    } else {
        let off = (way.bound - way.expected).abs();
        let unit = if unit == "°C" { "K" } else { unit };
        text.push_str(&format!(
            ". {expected} is then known to ±{}",
            number::si(off, unit, 2)
        ));
    }
    text
}

/// Whether the bench can show a limit.
pub fn showable(one: &Showable) -> String {
    let head = format!(
        "{}, {} (expected {})",
        one.limit,
        one.state,
        number::si(one.expected, one.unit, 3)
    );
    match &one.prospect {
        Prospect::Can(way) => format!("{head}: {}.", self::way(way, one.unit)),
        Prospect::NotMet => format!("{head}: what is expected is itself beyond it."),
        Prospect::NoInstrument => format!(
            "{head}: no instrument of the job reads {}.",
            super::what(one.what)
        ),
        other @ Prospect::Cannot { .. } => format!("{head}: {}", would_show(other, one.unit)),
    }
}

/// A reading without what it takes to repeat it.
pub const NO_SETUP: &str = "no set-up: say --with INSTRUMENT and --setup \"how it was connected\", or --again to repeat the last one. \
A number without its set-up is worth nothing later";
/// Nothing to repeat.
pub const NOTHING_TO_REPEAT: &str = "the log holds no set-up to repeat";
/// What belongs on the command line.
pub const POINT_WHAT_VALUE: &str = "say point, what was read, and value, each a word of its own or between quotation marks, for instance\n  \
quietrail read JOB raw mean \"17.05 V\" --step \"raw on a dummy load\" --with meter --setup \"clips on C1\"\n\
quietrail read JOB alone asks for the readings of a step one after the other";
/// An override without a reason.
pub const NO_REASON: &str =
    "--because wants a reason that another person would understand; it is logged and printed";
/// A check is a yes or a no.
pub const YES_OR_NO: &str = "a check is yes or no";
/// Asks for an instrument, of those that read the row; `suited` is the first that suits it.
pub fn ask_instrument(apt: &[&str], suited: Option<&str>) -> String {
    let others: Vec<&str> = apt
        .iter()
        .copied()
        .filter(|name| Some(*name) != suited)
        .collect();
    let said = match (suited, others.as_slice()) {
        (Some(name), []) => format!("{name} suits it"),
        (Some(name), others) => format!("{name} suits it; there is also {}", others.join(", ")),
        (None, others) => others.join(", "),
    };
    format!("  Instrument ({said}; Enter: not now):")
}

/// A row that nothing on the bench reads.
pub fn nobody_reads(one: &Expectation) -> String {
    let what = super::bringup::observed(one.what);
    format!(
        "{}, {what}: left out, for no instrument of the job reads {what}.",
        one.of
    )
}

/// A mains voltage that the job's socket does not have.
pub fn other_mains(read: f64, low: f64, high: f64) -> String {
    number::spaced(&format!(
        "mains {}, where the job has {}: is that the mains of this job? --as-typed keeps it",
        number::si(read, "V", 3),
        super::bringup::band(Some(low), Some(high), "V")
    ))
}

/// Asks for a range.
pub const ASK_RANGE: &str = "  Range (Enter: the meter chose it):";
/// Asks for the set-up.
pub const ASK_SETUP: &str = "  Set-up (where the clips are, probe, band, load):";
/// Asks for the mains voltage.
pub const ASK_MAINS: &str = "  Mains while reading, V (Enter: not read):";

/// An ammeter whose resistance the job does not give.
pub fn no_burden(name: &str) -> String {
    format!(
        "{name} has no current function with its burden: write burden = \"...\" there, or leave it out of the circuit"
    )
}

/// A name that nobody knows.
pub fn unknown(kind: &str, name: &str, near: Option<&str>, known: &[&str]) -> String {
    match near {
        Some(near) => format!("no {kind} is called {name}; did you mean {near}?"),
        None if known.is_empty() => format!("no {kind} is called {name}; the job has none"),
        None if known.iter().any(|name| name.contains(',')) => format!(
            "no {kind} is called {name}; there are{}",
            super::named::each_on_a_line(known)
        ),
        None => format!("no {kind} is called {name}; there are {}", known.join(", ")),
    }
}

/// A point of another step than the one that was named, or of a step where none was.
pub fn point_of_step(name: &str, step: &str) -> String {
    format!("{name} is read in the step \"{step}\": say --step \"{step}\"")
}

/// A state is missing.
pub fn no_state(known: &[&str]) -> String {
    format!("say --state, one of {}", known.join(", "))
}

/// A number alone: which of its units was meant decides a thousand times.
pub fn no_unit(typed: &str, symbol: &str) -> String {
    let prefixes: &[&str] = match symbol {
        "V" | "A" | "W" => &["", "m"],
        "Ω" => &["", "m", "k"],
        "F" => &["µ", "n"],
        _ => &[""],
    };
    let all: Vec<String> = prefixes
        .iter()
        .map(|prefix| format!("\"{typed} {prefix}{symbol}\""))
        .collect();
    format!("{typed} has no unit: write {}", all.join(" or "))
}

/// More than one value.
pub fn one_value(typed: &str) -> String {
    format!(
        "{typed}: one plain value is wanted; the error of the reading follows from the instrument"
    )
}

/// A mains voltage that is none.
pub fn mains(typed: &str) -> String {
    format!("--mains {typed}: a mains voltage is between 10 and 500 V")
}

/// An instrument that does not read this.
pub fn does_not_read(name: &str, what: &str) -> String {
    format!("{name} does not read {what}, by what the job says of it")
}

/// A value that was not read on the range that its row names.
pub fn misfit(misfit: Misfit, typed: &str, instrument: &str, range: &str, unit: &str) -> String {
    match misfit {
        Misfit::Beyond { end } => format!(
            "{typed} is more than {instrument} shows on its range {range}, which ends at {}",
            number::si(end, unit, 3)
        ),
        Misfit::TooFine { count } => format!(
            "{typed} has finer digits than {instrument} shows on its range {range}, where one count is {}",
            number::si(count, unit, 2)
        ),
    }
}

/// A range that the function in use does not have.
pub fn not_its_range(instrument: &str, range: &str, what: Observed) -> String {
    format!(
        "{range} is no range on which {instrument} reads {}",
        super::bringup::observed(what)
    )
}

/// What to do about it on the command line.
pub const RANGE_ANEW: &str = "say the range anew with --range, or --range \"\" where the meter chose it; --as-typed keeps it as it is";
/// Asks for the range again.
pub const ASK_RANGE_ANEW: &str = "Range of this reading (Enter: the meter chose it):";
/// Ranges of what samples may be named by a division.
pub const BY_DIVISION: &str = "or by a division of eight: \"10 mV/div\"";

/// Nothing is known of what was read.
pub const NOTHING_PREDICTED: &str =
    "Nothing is predicted of it, so it is compared with nothing; it stands in the record.";
/// The row that a step waits for, where the same rail was read against another return.
pub fn listed_instead(step: &str, of: &str, what: Observed) -> String {
    format!(
        "The row that later steps wait for in \"{step}\" is {of}, {}: across the pins of the load, where its limits are.",
        super::bringup::observed(what)
    )
}

/// A reading against what is predicted of a step that does not list it.
pub fn predicted(step: &str, expectation: &Expectation, fit: Fit, error: Option<f64>) -> String {
    let against = against(expectation, fit, error);
    let rest = against.strip_prefix("Expected ").unwrap_or(&against);
    format!("Predicted for \"{step}\": {rest}")
}

/// A value that is a thousand times off.
pub fn did_you_mean(typed: &str, meant: f64, expectation: &Expectation) -> String {
    number::spaced(&format!(
        "read {typed}, where {} is expected; did you mean {}? --as-typed keeps it as it is",
        super::bringup::band(expectation.low, expectation.high, expectation.unit),
        number::as_typed(meant, expectation.unit, typed)
    ))
}

/// A level typed where what alternates was asked for.
pub fn level_instead(typed: &str, asked: &Expectation, level: &Expectation) -> String {
    number::spaced(&format!(
        "read {typed} as {}, where {} is expected, and the level there is {}: was the meter on direct volts?",
        super::bringup::observed(asked.what),
        super::bringup::band(asked.low, asked.high, asked.unit),
        super::bringup::band(level.low, level.high, level.unit)
    ))
}

/// A row that is on the disk.
pub fn kept(row: &Row) -> String {
    let value = if row.what == Observed::Check {
        if row.value > 0.0 { "yes" } else { "no" }.to_owned()
    } else {
        super::bringup::typed(row)
    };
    format!(
        "Kept as row {}: {}, {}, {value}.",
        row.row,
        row.of,
        super::bringup::observed(row.what)
    )
}

/// A reading against what its step expects.
pub fn against(expectation: &Expectation, fit: Fit, error: Option<f64>) -> String {
    let unit = expectation.unit;
    let band = super::bringup::band(expectation.low, expectation.high, unit);
    let (fit, error) = super::bringup::fit_and_error(fit, error, unit);
    let error = error.map_or_else(String::new, |error| {
        format!(" The meter may err by {error}.")
    });
    if expectation.what == Observed::Check {
        return format!("{fit}.");
    }
    format!("Expected {band}: {fit}.{error}")
}

/// A series resistance beside that of the job.
pub fn esr_beside(part: &str, read: f64, drawn: (f64, f64)) -> String {
    let of_job = if drawn.0 < drawn.1 {
        super::bringup::band(Some(drawn.0), Some(drawn.1), "Ω")
    } else {
        number::written(drawn.1, "Ω")
    };
    let ratio = read / drawn.1;
    let much = if ratio > 1.0 {
        format!(": {ratio:.1} times that; a tired capacitor, or leads in the path of the reading")
    } else {
        String::new()
    };
    format!("{part}: the job has {of_job}{much}.")
}

/// A step of a capture that is to become a series resistance.
pub fn esr_of(step: f64, amps: f64, ohms: f64) -> String {
    format!(
        "Sharpest step {} where {} were switched: {}.",
        number::si(step, "V", 3),
        number::si(amps, "A", 3),
        number::si(ohms, "Ω", 2)
    )
}

/// A series resistance without the current that was switched.
pub const NO_AMPS: &str =
    "esr from a capture wants the current that was switched: --amps \"0.85 A\"";

/// An override that was logged.
pub fn overridden(row: u64, step: &str, reason: &str, locks: &[Lock]) -> String {
    let past = match locks {
        [] => "Nothing keeps it locked.".to_owned(),
        locks => format!(
            "This goes past what is not in order. {} What is read in this step from now on counts, and is marked; what was read in it \
             before does not.",
            super::bringup::locked(locks)
        ),
    };
    format!("Logged as row {row}: going on with {step} regardless, because: {reason}\n{past}")
}

/// Heads what was read on the way and is not in order.
pub const MISFITS: &str = "Read and not in order, gone on with or not:";
