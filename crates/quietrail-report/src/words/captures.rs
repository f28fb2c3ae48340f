//! What is said of captures.

use crate::number;
use quietrail_bench::capture::{Assumed, Capture, CaptureFault, Doubt, Figures};

/// Behind the name of a capture that is not there.
pub const NAMED_FROM_THE_JOB: &str = "; captures are named from the folder of the job on";

/// A capture as read: its figures, and what was taken for granted.
pub fn capture(name: &str, capture: &Capture, found: &Figures) -> String {
    format!(
        "{name}: {}\n{}\n",
        comes_to(capture, found),
        taken(&capture.assumed)
    )
}

/// All that was taken for granted, in a line.
pub fn taken(all: &[Assumed]) -> String {
    let all: Vec<String> = all.iter().map(assumed).collect();
    format!("Taken: {}.", all.join("; "))
}

/// A part of a wave, of its peak-to-peak, below which no instrument tells anything.
const TOLD: f64 = 1e-6;

/// What a capture comes to.
pub fn comes_to(capture: &Capture, found: &Figures) -> String {
    // What is left of nothing by rounding is nothing.
    let least = TOLD * (found.peak - found.valley);
    let v = |value: f64| {
        let value = if value.abs() < least { 0.0 } else { value };
        number::si(value, capture.unit, 3)
    };
    let span = capture.samples.last().map_or(0.0, |last| last.0) - capture.samples[0].0;
    let mut text = format!(
        "{} samples over {}. Mean {}, {} p-p, {} rms of the alternating part",
        capture.samples.len(),
        number::si(span, "s", 3),
        v(found.mean),
        v(found.peak - found.valley),
        v(found.ac_rms),
    );
    if found.cycles > 0 {
        text.push_str(&format!(
            ": {} rms locked to {}, {} rms of the rest. {} rms at the line, {} at twice it. Sharpest step {}",
            v(found.ripple),
            number::si(found.hertz, "Hz", 4),
            v(found.noise),
            v(found.at_line),
            v(found.at_twice),
            v(found.step),
        ));
    } else {
        text.push_str("; less than a mains cycle, so that nothing can be told to be locked to it");
    }
    text.push('.');
    text
}

/// What was taken for granted.
pub fn assumed(assumed: &Assumed) -> String {
    match assumed {
        Assumed::Separator(' ') => "fields between blanks".to_owned(),
        Assumed::Separator('\t') => "fields between tabs".to_owned(),
        Assumed::Separator(sign) => format!("fields between `{sign}`"),
        Assumed::DecimalComma => "decimal comma".to_owned(),
        Assumed::HeaderLines(1) => "1 line above the data".to_owned(),
        Assumed::HeaderLines(count) => format!("{count} lines above the data"),
        Assumed::Skipped(1) => "1 line among the data is no number".to_owned(),
        Assumed::Skipped(count) => format!("{count} lines among the data are no numbers"),
        Assumed::Seconds => "time in seconds, the file does not say".to_owned(),
        Assumed::TimeUnit(unit) => format!("time in {unit}"),
        Assumed::Volts => "signal in volts, the file does not say".to_owned(),
        Assumed::Unit(unit) => format!("signal in {unit}"),
        Assumed::Sorted => "samples put in the order of time".to_owned(),
        Assumed::Interval(interval) => {
            format!("samples {} apart", number::si(*interval, "s", 3))
        }
        Assumed::Column(column) => format!("signal {column} of several; --column names another"),
    }
}

/// Why a capture cannot be read.
pub fn fault(fault: &CaptureFault) -> String {
    match fault {
        CaptureFault::TooLarge(_) => "larger than 50 MB".to_owned(),
        CaptureFault::Empty => "is empty".to_owned(),
        CaptureFault::NoTable => {
            "holds no table of numbers. Dates are read as 2026-11-20 or 20.11.2026, times of day as 10:00:01; of 03/04/2026 nobody knows which is the month. Numbers are read as 12.5 or 12,5, in groups of three where more than one sign \
             says so: 10,000,000.5".to_owned()
        }
        CaptureFault::TimeUnit(unit) => format!(
            "has times in {unit:?}, which is no unit of time known here: write s, ms, min, h or d into the heading, as in `t (s)`"
        ),
        CaptureFault::SignalUnit(unit) => format!(
            "has a signal in {unit}, and what is read from files is in V, A, Hz or °C; --column names another"
        ),
        CaptureFault::Records(count) => format!(
            "holds {count} records one behind the other, and their times overlap: the file was added to, or its clock set back. Leave one of \
             them in it"
        ),
        CaptureFault::Sweep(sweep) => {
            let (low, high) = sweep.hertz;
            let unit = if sweep.unit.is_empty() {
                String::new()
            } else {
                format!("{}{}", number::NO_BREAK, sweep.unit)
            };
            format!(
                "is a sweep over frequency, {}, not a wave over time; its highest is {:.2}{unit} at {}. Type the value that you read off it, and \
                 name the file with --capture beside it",
                number::range(&number::si(low, "Hz", 6), &number::si(high, "Hz", 6)),
                sweep.highest,
                number::si(sweep.at, "Hz", 6)
            )
        }
        CaptureFault::NoTime => {
            "has no column of time, and no line above the data gives the interval of samples: write one, `Sample Interval: 1 s`"
                .to_owned()
        }
        CaptureFault::NoColumn { asked, known } if known.is_empty() => {
            format!("has no signal {asked}; its columns have no names, so number them from 1")
        }
        CaptureFault::NoColumn { asked, known } => {
            format!("has no signal {asked}; there are {}", known.join(", "))
        }
        CaptureFault::TooShort(1) => "has one sample, too few for a wave".to_owned(),
        CaptureFault::TooShort(count) => format!("has {count} samples, too few for a wave"),
    }
}

/// A statistic that a capture does not give.
pub fn no_such_figure(what: &str, cycles: u32) -> String {
    if cycles == 0 {
        return format!("{what} cannot be taken from less than a mains cycle");
    }
    format!("{what} cannot be taken from a capture")
}

/// A signal that is no voltage, where one is wanted.
pub fn not_volts(unit: &str) -> String {
    format!("that signal is in {unit}, and a voltage is wanted; --column names another")
}

/// A capture that looks like no reading.
pub fn doubt(doubt: Doubt, unit: &str) -> String {
    match doubt {
        Doubt::Flat { value } => format!(
            "every sample is {}: was the channel on, and its input on the point, not on ground?",
            number::si(value, unit, 3)
        ),
        Doubt::Holes { lines, of } => format!(
            "{lines} of {of} lines among the data are no numbers: the instrument had none there, above its range or between triggers?"
        ),
        Doubt::Short { part } => format!(
            "it shows {:.0} % of a cycle of the mains: what changes in the rest is not seen; take it again with a longer time base",
            100.0 * part
        ),
        Doubt::NoLevel { mean, swing } => format!(
            "its mean is {} beside {} p-p: was the input coupled over a capacitor (AC)? A level is then not in it; take it again with DC coupling.",
            number::si(mean, unit, 2),
            number::si(swing, unit, 3)
        ),
        Doubt::OtherMains { hertz, own } => format!(
            "it repeats with a mains of {}, and the job's is {}: was it taken here, and is its time base the one that it says?",
            number::si(hertz, "Hz", 3),
            number::si(own, "Hz", 3)
        ),
        Doubt::Clipped { at, count, of } => format!(
            "{count} of {of} samples stand at {} exactly, and hardly any near it: was the trace cut off there? Take it again with more volts to \
             the division",
            number::si(at, unit, 3)
        ),
        Doubt::Sparse { each } => format!(
            "only {each:.0} samples in a cycle of the mains: what changes between them is not seen; take it again with a shorter time base"
        ),
    }
}
