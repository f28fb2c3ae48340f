//! Captures: text files of instruments, in whatever dialect they wrote them.
//!
//! 1. `dialect`: which sign parts fields, which is the decimal sign, where data begin;
//! 2. here: columns become a time and a signal in SI, in the order of time, and all that was assumed is listed;
//! 3. `figures`: what a wave comes to;
//! 4. `doubt`: whether it looks like a wave at all.

mod dialect;
mod doubt;
mod figures;

pub use doubt::{Doubt, doubt};
pub use figures::{Figures, figures, mean_cycle, tells};

use dialect::{Table, table};

/// Largest capture that is read.
pub const MAX_CAPTURE_BYTES: usize = 50_000_000;

/// A signal over time.
#[derive(Clone, Debug, PartialEq)]
pub struct Capture {
    /// Time in s and value in SI, time rising.
    pub samples: Vec<(f64, f64)>,
    /// Unit symbol of the signal, as far as the file says; `V` where it says none.
    pub unit: &'static str,
    /// One of the last digit that its samples are written to, in SI.
    pub step: f64,
    /// Names of all columns of signals, in their order; empty where the file has none.
    pub columns: Vec<String>,
    /// Columns of signals that there are.
    pub signals: usize,
    /// What was taken for granted.
    pub assumed: Vec<Assumed>,
}

/// What was taken for granted in reading a capture.
#[derive(Clone, Debug, PartialEq)]
pub enum Assumed {
    /// Sign between fields.
    Separator(char),
    /// A comma is the decimal sign.
    DecimalComma,
    /// Lines above the data, and what they are not.
    HeaderLines(usize),
    /// Lines among the data that are no numbers.
    Skipped(usize),
    /// The time column has no unit; seconds.
    Seconds,
    /// Times are in this unit.
    TimeUnit(String),
    /// The signal has no unit; volts.
    Volts,
    /// The signal is in this unit.
    Unit(String),
    /// Samples were not in the order of time.
    Sorted,
    /// The first column counts samples; their interval stands above the data, s.
    Interval(f64),
    /// One of several columns was taken, by its number from 1.
    Column(usize),
}

/// Why a capture cannot be read.
#[derive(Clone, Debug, PartialEq)]
pub enum CaptureFault {
    /// Too large.
    TooLarge(usize),
    /// There is nothing in it.
    Empty,
    /// Nothing in it is a table of numbers.
    NoTable,
    /// Its first column is a frequency: a sweep of an analyser, not a wave over time.
    Sweep(Sweep),
    /// There is no column of time and no interval.
    NoTime,
    /// There is no column of that number or name.
    NoColumn {
        /// What was asked for.
        asked: String,
        /// What there is.
        known: Vec<String>,
    },
    /// Fewer samples than make a wave.
    TooShort(usize),
    /// Times are in a unit that is none of those known.
    TimeUnit(String),
    /// The signal is in a unit that no reading is in.
    SignalUnit(String),
    /// So many records one behind the other, whose times overlap.
    Records(usize),
}

/// A sweep over frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct Sweep {
    /// Lowest and highest frequency, Hz.
    pub hertz: (f64, f64),
    /// Where the highest value is, Hz.
    pub at: f64,
    /// That value, in the unit of the file.
    pub highest: f64,
    /// Unit of the values, as the file says it; empty where it does not.
    pub unit: String,
}

/// Samples that a wave has at least.
const LEAST: usize = 8;

/// Reads a capture. `column` names the signal, by its name or its number from 1 after the time; the first if not said.
///
/// # Errors
/// What is missing.
pub fn read(text: &str, column: Option<&str>) -> Result<Capture, CaptureFault> {
    if text.len() > MAX_CAPTURE_BYTES {
        return Err(CaptureFault::TooLarge(text.len()));
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(CaptureFault::Empty);
    }
    let table = time_first(table(text).ok_or(CaptureFault::NoTable)?);
    let mut assumed = vec![Assumed::Separator(table.separator)];
    if table.is_decimal_comma {
        assumed.push(Assumed::DecimalComma);
    }
    if table.header > 0 {
        assumed.push(Assumed::HeaderLines(table.header));
    }
    if table.skipped > 0 {
        assumed.push(Assumed::Skipped(table.skipped));
    }
    let width = table.rows.first().map_or(0, Vec::len);
    if let Some(sweep) = sweep(&table) {
        return Err(CaptureFault::Sweep(sweep));
    }
    let counts = is_counting(&table);
    let has_time = width >= 2 && !(counts && table.interval.is_some());
    let mut times: Vec<f64> = if has_time {
        if counts
            && !table.names.first().is_some_and(|name| names_time(name))
            && table.units.is_empty()
        {
            return Err(CaptureFault::NoTime);
        }
        let scale = time_scale(&table, &mut assumed)?;
        table.rows.iter().map(|row| row[0] * scale).collect()
    } else {
        let interval = table.interval.ok_or(CaptureFault::NoTime)?;
        assumed.push(Assumed::Interval(interval));
        (0..table.rows.len()).map(|k| k as f64 * interval).collect()
    };
    let first = usize::from(width >= 2);
    let columns: Vec<String> = table.names.iter().skip(first).cloned().collect();
    let index = pick(column, width - first, &columns)?;
    if column.is_none() && width - first > 1 {
        assumed.push(Assumed::Column(index + 1));
    }
    let (scale, unit) = value_scale(&table, first + index, &mut assumed)?;
    let values = table.rows.iter().map(|row| row[first + index] * scale);
    let mut samples: Vec<(f64, f64)> = times.drain(..).zip(values).collect();
    if samples.len() < LEAST {
        return Err(CaptureFault::TooShort(samples.len()));
    }
    if samples.windows(2).any(|pair| pair[0].0 > pair[1].0) {
        if let Some(count) = overlapping(&samples) {
            return Err(CaptureFault::Records(count));
        }
        samples.sort_by(|a, b| a.0.total_cmp(&b.0));
        assumed.push(Assumed::Sorted);
    }
    if samples[0].0 >= samples[samples.len() - 1].0 {
        return Err(CaptureFault::NoTime);
    }
    Ok(Capture {
        samples,
        unit,
        step: table.steps[first + index] * scale,
        columns,
        signals: width - first,
        assumed,
    })
}

/// Part of the samples that may begin a stretch of rising time for those to be records and not samples out of order.
const STRETCHES: f64 = 0.01;

/// How many records of rising time stand one behind the other where their times overlap, so that no order of time puts them right: a file
/// that was added to, or a clock that was set back.
fn overlapping(samples: &[(f64, f64)]) -> Option<usize> {
    let stretches: Vec<(f64, f64)> = samples
        .chunk_by(|one, next| one.0 <= next.0)
        .filter(|some| some.len() > 1)
        .map(|some| (some[0].0, some[some.len() - 1].0))
        .collect();
    if stretches.len() as f64 > (STRETCHES * samples.len() as f64).max(2.0) {
        return None;
    }
    let mut in_order = stretches.clone();
    in_order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let meet = in_order.windows(2).any(|pair| pair[0].1 > pair[1].0);
    meet.then_some(stretches.len())
}

/// The table with its time in front, where another column says that it is the time and the first does not. A first column that counts
/// is no signal, and is left out.
fn time_first(mut table: Table) -> Table {
    let is_time = |column: usize| {
        let unit = unit_of(&table, column).map(|unit| unit.to_lowercase());
        let is_named = table.names.get(column).is_some_and(|name| names_time(name));
        is_named || unit.is_some_and(|unit| TIMES.iter().any(|(name, _)| *name == unit))
    };
    let width = table.rows.first().map_or(0, Vec::len);
    let Some(at) = (1..width)
        .find(|column| is_time(*column))
        .filter(|_| !is_time(0))
    else {
        return table;
    };
    let is_counted = is_counting(&table) && width > 2;
    fn turn<T>(row: &mut Vec<T>, at: usize, is_counted: bool) {
        if at < row.len() {
            row[..=at].rotate_right(1);
            if is_counted {
                row.remove(1);
            }
        }
    }
    table
        .rows
        .iter_mut()
        .for_each(|row| turn(row, at, is_counted));
    turn(&mut table.steps, at, is_counted);
    turn(&mut table.names, at, is_counted);
    turn(&mut table.units, at, is_counted);
    table
}

/// The sweep that a table is, where its first column is a frequency.
fn sweep(table: &Table) -> Option<Sweep> {
    let unit = unit_of(table, 0).unwrap_or_default();
    let scale = match unit.to_lowercase().as_str() {
        "hz" => Some(1.0),
        "khz" => Some(1e3),
        "mhz" => Some(1e6),
        "ghz" => Some(1e9),
        _ => None,
    };
    let name = table.names.first().map(|name| name.to_lowercase());
    let is_named = name.is_some_and(|name| name.contains("freq") || name.trim() == "f");
    if !(is_named || scale.is_some()) || table.rows.first().is_none_or(|row| row.len() < 2) {
        return None;
    }
    let scale = scale.unwrap_or(1.0);
    let frequencies = || table.rows.iter().map(|row| row[0] * scale);
    let highest = table.rows.iter().max_by(|a, b| a[1].total_cmp(&b[1]))?;
    Some(Sweep {
        hertz: (
            frequencies().fold(f64::INFINITY, f64::min),
            frequencies().fold(0.0, f64::max),
        ),
        at: highest[0] * scale,
        highest: highest[1],
        unit: unit_of(table, 1).unwrap_or_default(),
    })
}

/// The text of a file's bytes: UTF-8, or UTF-16 where its mark says so.
pub fn text_of(bytes: &[u8]) -> String {
    let wide = |of: fn([u8; 2]) -> u16| {
        let units = bytes[2..].chunks_exact(2);
        let units = units.map(|pair| of([pair[0], pair[1]]));
        char::decode_utf16(units)
            .map(|one| one.unwrap_or(char::REPLACEMENT_CHARACTER))
            .collect()
    };
    match bytes {
        [0xff, 0xfe, ..] => wide(u16::from_le_bytes),
        [0xfe, 0xff, ..] => wide(u16::from_be_bytes),
        _ => String::from_utf8_lossy(bytes).into_owned(),
    }
}

/// Whether the first column counts 0, 1, 2, ... or 1, 2, 3, ...
fn is_counting(table: &Table) -> bool {
    let start = table.rows[0][0];
    (start == 0.0 || start == 1.0)
        && table
            .rows
            .iter()
            .enumerate()
            .all(|(k, row)| row[0] == start + k as f64)
}

fn names_time(name: &str) -> bool {
    let name = name.to_lowercase();
    let symbol = name
        .split(['(', '[', '/', '_'])
        .next()
        .unwrap_or_default()
        .trim();
    [
        "time", "zeit", "temps", "tempo", "tiempo", "second", "x-axis", "date", "datum", "elapsed",
        "mjd",
    ]
    .iter()
    .any(|word| name.contains(word))
        || symbol == "t"
        || symbol == "s"
}

fn pick(asked: Option<&str>, count: usize, names: &[String]) -> Result<usize, CaptureFault> {
    let Some(asked) = asked else { return Ok(0) };
    let by_name = names
        .iter()
        .position(|name| name.eq_ignore_ascii_case(asked.trim()));
    let by_number = asked
        .trim()
        .parse::<usize>()
        .ok()
        .and_then(|number| number.checked_sub(1))
        .filter(|index| *index < count);
    by_name
        .filter(|index| *index < count)
        .or(by_number)
        .ok_or_else(|| CaptureFault::NoColumn {
            asked: asked.to_owned(),
            known: names.to_vec(),
        })
}

/// Units of time.
const TIMES: &[(&str, f64)] = &[
    ("s", 1.0),
    ("sec", 1.0),
    ("second", 1.0),
    ("seconds", 1.0),
    ("sekunden", 1.0),
    ("ms", 1e-3),
    ("us", 1e-6),
    ("µs", 1e-6),
    ("μs", 1e-6),
    ("ns", 1e-9),
    ("msec", 1e-3),
    ("millisecond", 1e-3),
    ("milliseconds", 1e-3),
    ("usec", 1e-6),
    ("microseconds", 1e-6),
    ("min", 60.0),
    ("mins", 60.0),
    ("minute", 60.0),
    ("minutes", 60.0),
    ("minuten", 60.0),
    ("h", 3600.0),
    ("hr", 3600.0),
    ("hrs", 3600.0),
    ("hour", 3600.0),
    ("hours", 3600.0),
    ("stunden", 3600.0),
    ("d", 86_400.0),
    ("day", 86_400.0),
    ("days", 86_400.0),
    ("tage", 86_400.0),
    ("mjd", 86_400.0),
];

/// What stands in brackets behind a time and is no unit: seconds, then.
const NO_UNITS: &[&str] = &[
    "utc", "gmt", "local", "abs", "rel", "unix", "epoch", "relative", "absolute",
];

/// Units of what no wave or log here is of.
const OTHERS: &[&str] = &[
    "W", "mW", "µW", "uW", "kW", "VA", "Ω", "mΩ", "kΩ", "MΩ", "ohm", "ohms", "kohm", "dB", "dBm",
    "dBV", "dBu", "dBµV", "dBuV", "dBmV", "dBc", "dBc/Hz", "%", "ppm", "ppb", "°F", "F", "degF",
    "K",
];

/// Units of signals.
const SIGNALS: &[(&str, f64, &str)] = &[
    ("V", 1.0, "V"),
    ("VDC", 1.0, "V"),
    ("V DC", 1.0, "V"),
    ("VAC", 1.0, "V"),
    ("V AC", 1.0, "V"),
    ("mVDC", 1e-3, "V"),
    ("mV DC", 1e-3, "V"),
    ("mVAC", 1e-3, "V"),
    ("mV AC", 1e-3, "V"),
    ("ADC", 1.0, "A"),
    ("A DC", 1.0, "A"),
    ("mADC", 1e-3, "A"),
    ("mA DC", 1e-3, "A"),
    ("volt", 1.0, "V"),
    ("volts", 1.0, "V"),
    ("mV", 1e-3, "V"),
    ("uV", 1e-6, "V"),
    ("µV", 1e-6, "V"),
    ("μV", 1e-6, "V"),
    ("kV", 1e3, "V"),
    ("A", 1.0, "A"),
    ("amp", 1.0, "A"),
    ("amps", 1.0, "A"),
    ("ampere", 1.0, "A"),
    ("mA", 1e-3, "A"),
    ("uA", 1e-6, "A"),
    ("µA", 1e-6, "A"),
    ("Hz", 1.0, "Hz"),
    ("kHz", 1e3, "Hz"),
    ("MHz", 1e6, "Hz"),
    ("GHz", 1e9, "Hz"),
    ("°C", 1.0, "°C"),
    ("C", 1.0, "°C"),
];

/// The unit of a column: from its row of units, or in its name between brackets, or behind a stroke as ISO 80000 writes the heads of
/// tables, `f/Hz`.
fn unit_of(table: &Table, column: usize) -> Option<String> {
    let own = table.units.get(column).map(|unit| bare(unit));
    let in_name = table.names.get(column).and_then(|name| {
        let Some(open) = name.rfind(['(', '[']) else {
            // Of single letters behind a blank, `Channel A` is no ampere.
            let (at, sign) = name
                .char_indices()
                .rfind(|(_, c)| "/ _".contains(*c))
                .unwrap_or((0, '_'));
            let unit = bare(name[at..].trim_start_matches(sign));
            let is_long = unit.chars().count() > 1;
            let is_told = match (sign, column) {
                ('/', _) => is_unit(&unit),
                (_, 0) => (is_long || names_time(&name[..at])) && is_unit(&unit),
                // A signal that is called `CH1 min` is no time.
                _ => is_long && scale_of(&unit).is_some(),
            };
            return is_told.then_some(unit);
        };
        let close = name.rfind([')', ']']).filter(|close| *close > open)?;
        Some(bare(&name[open + 1..close]))
    });
    own.filter(|unit| !unit.is_empty()).or(in_name)
}

/// Whether a text is a unit that is known here.
fn is_unit(text: &str) -> bool {
    seconds_of(text).is_some() || scale_of(text).is_some()
}

/// A unit of time in seconds.
fn seconds_of(unit: &str) -> Option<f64> {
    let small = unit.to_lowercase();
    let known = TIMES.iter().find(|(name, _)| *name == small);
    known.map(|(_, scale)| *scale)
}

/// A unit of a signal in SI, and its symbol. Capitals count only where two units differ by nothing else.
fn scale_of(unit: &str) -> Option<(f64, &'static str)> {
    let same = |name: &str| name.to_lowercase() == unit.to_lowercase();
    let exact = SIGNALS.iter().find(|(name, ..)| *name == unit);
    let known = exact.or_else(|| {
        SIGNALS
            .iter()
            .find(|(name, ..)| name.len() > 1 && same(name))
    });
    known.map(|(_, scale, symbol)| (*scale, *symbol))
}

fn bare(unit: &str) -> String {
    unit.trim_matches(|c: char| c.is_whitespace() || "()[]\"".contains(c))
        .to_owned()
}

fn time_scale(table: &Table, assumed: &mut Vec<Assumed>) -> Result<f64, CaptureFault> {
    // A date and a time of day are seconds, whatever stands above them.
    let unit = unit_of(table, 0).filter(|unit| {
        let no_unit = NO_UNITS.contains(&unit.to_lowercase().as_str());
        !(no_unit || table.clocks.contains(&0))
    });
    let Some(unit) = unit else {
        if let Some((unit, scale)) = since_1970(table.rows[0][0]) {
            assumed.push(Assumed::TimeUnit(unit.to_owned()));
            return Ok(scale);
        }
        assumed.push(Assumed::Seconds);
        return Ok(1.0);
    };
    let scale = seconds_of(&unit).ok_or_else(|| CaptureFault::TimeUnit(unit.clone()))?;
    if scale != 1.0 {
        assumed.push(Assumed::TimeUnit(unit));
    }
    Ok(scale)
}

/// The unit of a time that names none and is far beyond what seconds can be: computers count from 1970 on, and of those units a moment of this
/// century is in one alone.
fn since_1970(time: f64) -> Option<(&'static str, f64)> {
    let century = 9.4e8..4.2e9;
    [("ms", 1e-3), ("µs", 1e-6), ("ns", 1e-9)]
        .into_iter()
        .find(|(_, scale)| century.contains(&(time * scale)))
}

fn value_scale(
    table: &Table,
    column: usize,
    assumed: &mut Vec<Assumed>,
) -> Result<(f64, &'static str), CaptureFault> {
    let unit = unit_of(table, column);
    match unit.as_deref().and_then(scale_of) {
        Some((scale, symbol)) => {
            if scale != 1.0 || symbol != "V" {
                assumed.push(Assumed::Unit(unit.unwrap_or_default()));
            }
            Ok((scale, symbol))
        }
        None => match unit.filter(|unit| OTHERS.contains(&unit.as_str())) {
            Some(other) => Err(CaptureFault::SignalUnit(other)),
            None => {
                assumed.push(Assumed::Volts);
                Ok((1.0, "V"))
            }
        },
    }
}
