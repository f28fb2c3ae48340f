//! What is said of an oscillator's acceptance.

use crate::number::{self, MINUS, NO_BREAK};
use quietrail_bench::accept::{Accepted, Line, Why};
use quietrail_bench::decide::Shown;
use quietrail_bench::log::Observed;

/// Heads the verdicts.
pub const HEAD: &str = "Against its own data sheet:";
/// A job whose oscillator states no limits.
pub const NO_LIMITS: &str = "the oscillator states no limits of its own: level, harmonics, spurs, warm_up, offset, ageing, stability of its table";
/// No log is named.
pub const NO_LOG: &str = "no log of a counter yet: `quietrail oscillator JOB LOG` reads one, `--keep` writes it into the readings";
/// What keeping a log takes.
pub const KEEP_NEEDS: &str = "--keep wants --setup: the reference, the gate, what ran beside";
/// A log without a counter.
pub const NO_COUNTER: &str =
    "the job has no instrument of kind counter: its own noise and its time base are not known";
/// What is always so.
pub const HONEST: &str = "A verdict is for the readings that were taken: spurs for the lines that were looked at, ageing for the days of the log. The warm-up counts from the first reading of the log: it has to begin with the power.";

/// The name of a line.
pub fn line(line: Line) -> String {
    match line {
        Line::Level => "level into 50 Ω".to_owned(),
        Line::Harmonics => "harmonics".to_owned(),
        Line::Spurs => "spurs".to_owned(),
        Line::WarmUp { within } => format!("warm-up to {}", share(within)),
        Line::WarmUpCurrent => "current while warming up".to_owned(),
        Line::Offset => "offset".to_owned(),
        Line::Ageing => "ageing a day".to_owned(),
        Line::Retrace => "retrace".to_owned(),
        Line::PhaseNoise { distance } => {
            format!("phase noise at {}", number::written(distance, "Hz"))
        }
        Line::Stability { tau } => format!("stability at {}", number::si(tau, "s", 3)),
    }
}

/// A value of a line.
pub fn value(of: Line, value: f64) -> String {
    let decibels =
        |unit: &str| format!("{value:.1}{NO_BREAK}{unit}").replace('-', &MINUS.to_string());
    match of {
        Line::Level => decibels("dBm"),
        Line::Harmonics | Line::Spurs => decibels("dBc"),
        Line::PhaseNoise { .. } => decibels("dBc/Hz"),
        Line::WarmUp { .. } => super::counted::time(value),
        Line::WarmUpCurrent => number::si(value, "A", 3),
        Line::Offset | Line::Ageing | Line::Retrace | Line::Stability { .. } => share(value),
    }
}

/// A small share: `12 ppb`.
fn share(value: f64) -> String {
    let parts = 1e9 * value;
    // Below the last digit that is shown there is nothing.
    let parts = if parts.abs() < 5e-8 { 0.0 } else { parts };
    let digits = match parts.abs() {
        size if size >= 100.0 || size == 0.0 => 0,
        size if size >= 1.0 => 1,
        // Two digits that count.
        size => (1.0 - size.log10().floor()).min(7.0) as usize,
    };
    format!("{parts:.digits$}{NO_BREAK}ppb").replace('-', &MINUS.to_string())
}

/// What is allowed.
pub fn allowed(one: &Accepted) -> String {
    let v = |end: f64| value(one.line, end);
    match (one.min, one.max) {
        (Some(min), Some(max)) if min == -max => format!("±{}", v(max)),
        (Some(min), Some(max)) => format!("{} .. {}", v(min), v(max)),
        (Some(min), None) => format!("≥ {}", v(min)),
        (None, Some(max)) => format!("≤ {}", v(max)),
        (None, None) => String::new(),
    }
}

/// What was read, with where; empty where nothing was.
pub fn read(one: &Accepted) -> String {
    let Some(found) = one.value else {
        return String::new();
    };
    let at = one
        .at
        .map_or_else(String::new, |hertz| format!(" at {}", exactly(hertz)));
    if found == f64::INFINITY {
        return "never in this log".to_owned();
    }
    format!("{}{at}", value(one.line, found))
}

/// A frequency to its last digit: a line a hundred hertz from a carrier of ten megahertz is not at the carrier.
pub fn exactly(hertz: f64) -> String {
    let (size, unit) = match hertz {
        h if h >= 1e6 => (h / 1e6, "MHz"),
        h if h >= 1e3 => (h / 1e3, "kHz"),
        h => (h, "Hz"),
    };
    format!("{size}{NO_BREAK}{unit}")
}

/// The bounds of what is there.
pub fn bounds(one: &Accepted) -> String {
    let v = |end: f64| value(one.line, end);
    let has_low =
        one.low.is_finite() && (one.low > 0.0 || !matches!(one.line, Line::Stability { .. }));
    match (has_low, one.high.is_finite()) {
        (true, true) if v(one.low) == v(one.high) => v(one.low),
        (true, true) => format!("{} .. {}", v(one.low), v(one.high)),
        (false, true) => format!("up to {}", v(one.high)),
        (true, false) => format!("from {}", v(one.low)),
        (false, false) => String::new(),
    }
}

/// The whole of a line in a paragraph.
pub fn paragraph(one: &Accepted) -> String {
    let verdict = super::readings::shown(one.shown);
    let read = read(one);
    let found = if read.is_empty() {
        String::new()
    } else {
        let bounds = bounds(one);
        let there = if bounds.is_empty() {
            String::new()
        } else {
            format!("; what is there is {bounds}")
        };
        format!("Read {read}{there}; ")
    };
    let limit = if found.is_empty() { "Limit" } else { "limit" };
    let why = why(one);
    let rest = if why.is_empty() {
        String::new()
    } else {
        format!(" {why}.")
    };
    format!(
        "{verdict}: {}. {found}{limit} {}.{rest}",
        line(one.line),
        allowed(one)
    )
}

/// What decided or kept from deciding; empty where the bounds say it.
pub fn why(one: &Accepted) -> String {
    let v = |level: f64| value(one.line, level);
    match &one.why {
        Why::Clear => String::new(),
        Why::Between => "The limit lies between: a smaller error would show it".to_owned(),
        Why::NotRead => match one.line {
            Line::Level
            | Line::Harmonics
            | Line::Spurs
            | Line::WarmUpCurrent
            | Line::Retrace
            | Line::PhaseNoise { .. } => format!("Nothing was read. {}", how(one.line)),
            Line::WarmUp { .. } => format!("No log of a counter; by hand: {}", how(one.line)),
            _ => "No log of a counter".to_owned(),
        },
        Why::UnknownInstrument(name) => format!("No instrument {name:?} is in the job"),
        Why::NoFigure { instrument, key } => format!("The job gives no `{key}` of {instrument}"),
        Why::BeyondRange { end } => format!(
            "The reading is beyond the end of its range, {}: read it on a higher one",
            number::si(
                *end,
                if one.line == Line::WarmUpCurrent { "A" } else { "V" },
                3
            )
        ),
        Why::NoSetting(item) => format!(
            "The set-up of the reading does not say {item}: {}",
            example(item)
        ),
        Why::OutsideBand { low, high } => format!(
            "It lies outside the band of the instrument, {} .. {}",
            number::si(*low, "Hz", 3),
            number::si(*high, "Hz", 3)
        ),
        Why::AboveReference { reference } => format!(
            "The carrier stood above the reference level, {}: what an analyser that is driven too hard shows is not believed. Raise the reference level",
            value(Line::Level, *reference)
        ),
        Why::BelowDisplay { bottom } => format!(
            "It lies below the bottom of the display, {} at that reference level",
            v(*bottom)
        ),
        Why::NoCarrier => {
            "The level was not read: without it the analyser's own noise cannot be put beside the line".to_owned()
        }
        Why::BelowNoise { noise } => format!(
            "The analyser's own noise is {} at the setting named: the reading was taken at another",
            v(*noise)
        ),
        Why::Skirt { resolution } => format!(
            "So near to the carrier the analyser's filter may show the carrier itself. A resolution bandwidth of {} or less tells them apart",
            number::si(*resolution, "Hz", 2)
        ),
        Why::DeadTime { gate, interval } => format!(
            "The gate was open for {} of each {}: what went on in between was not counted, and the deviation may come out too large. Count without a pause",
            number::si(*gate, "s", 3),
            number::si(*interval, "s", 3)
        ),
        Why::Steps(step) => format!(
            "The readings come in steps of {} and scatter by less: what goes on within a step nobody sees. Count with a longer gate, or with a counter that shows more digits",
            share(*step)
        ),
        Why::Apart(1) => {
            "A single reading fails it that stands far apart from both of its neighbours, and without it nothing would: that may be the counter's. Look at it, and count again".to_owned()
        }
        Why::Apart(count) => format!(
            "{count} single readings fail it that stand far apart from their neighbours, and without them nothing would: those may be the counter's. Look at them, and count again"
        ),
        Why::Noise { noise, resolution } => format!(
            "The analyser's own noise is {} there. A resolution bandwidth of {} or less would show it, or less attenuation",
            v(*noise),
            number::si(*resolution, "Hz", 2)
        ),
        Why::OwnHarmonics { own, more } => format!(
            "The analyser's own harmonic may be {} at that level and add or cancel. {:.0}{NO_BREAK}dB more attenuation would show it; one that falls by more than the carrier does is the analyser's",
            v(*own),
            more.ceil()
        ),
        Why::SecondAndThird => "Read the second and the third, at least".to_owned(),
        Why::OwnPhaseNoise => {
            "What is above the limit may be the phase noise of the analyser's own oscillators, of which the job has no figure".to_owned()
        }
        Why::PeakOfNoise => {
            "The analyser's detector answers to peaks: how far they stand above noise depends on how long was looked. Read with another detector".to_owned()
        }
        Why::NoWarmUp => {
            "The log shows none: it has to begin before the power comes on, the oven cold".to_owned()
        }
        Why::StillWarming => {
            "The log ends while the oscillator still warms up: what is counted until then is not where it ends. Let it run on".to_owned()
        }
        Why::StillMoving(moved) => format!(
            "It moved by {} while it was counted, more than it may be off: it has not come to where it ends. Let it run on",
            share(moved.abs())
        ),
        Why::ReferenceMoves(by) => format!(
            "The counter's reference may itself change by {} a day, for all that the job says of it. Give its deviation at a long time in `counting.reference`, \"0.001 ppb at 1 h\", or count for longer",
            share(*by)
        ),
        Why::TooShort(seconds) => {
            format!("The log is too short: it takes {}", super::counted::time(*seconds))
        }
        Why::NoSuchTime { interval } => format!(
            "The log has a reading each {}: no whole number of them makes that time",
            number::si(*interval, "s", 3)
        ),
        Why::Gate => {
            "A counter that averages inside its gate reads so short a time too well: four intervals at least, or `gate = \"plain\"` of the counter where it does not average".to_owned()
        }
        Why::Counter { floor } => match one.line {
            Line::WarmUp { .. } => format!(
                "Scatter and drift at the end of the log come to {}, and are as large as what is asked for",
                share(*floor)
            ),
            _ => format!("Counter and reference make {} by themselves", v(*floor)),
        },
        Why::CounterUnknown => {
            "It may be the counter's own: the job gives no `counting.timing` and `counting.reference` of it".to_owned()
        }
    }
}

/// What a line is read as, by hand.
pub fn read_by_hand(line: Line) -> Option<Observed> {
    match line {
        Line::Level => Some(Observed::Level),
        Line::Harmonics => Some(Observed::Harmonic),
        Line::Spurs => Some(Observed::Spur),
        Line::PhaseNoise { .. } => Some(Observed::PhaseNoise),
        Line::WarmUp { .. } => Some(Observed::WarmUp),
        Line::WarmUpCurrent => Some(Observed::WarmUpCurrent),
        Line::Retrace => Some(Observed::Retrace),
        Line::Offset | Line::Ageing | Line::Stability { .. } => None,
    }
}

/// In a suggestion: the oscillator's name.
pub const NAME: &str = "NAME";
/// In a suggestion: where in the spectrum to look.
pub const FREQUENCY: &str = "FREQUENCY";
/// In a suggestion: the instrument's name.
pub const INSTRUMENT: &str = "INSTRUMENT";

/// No instrument of the job reads a line.
pub fn none_reads(what: Observed, most: Option<f64>) -> String {
    let far = most.map_or_else(String::new, |most| {
        format!(" as far as {}", number::si(most, what.kind().symbol(), 3))
    });
    format!(
        " No instrument of the job reads {}{far}: INSTRUMENT has to be one that does, with its errors in the job",
        super::bringup::observed(what)
    )
}

/// Where in the spectrum a line is looked at, of a carrier, Hz: the second harmonic, a spur beside it, the distance of a limit.
pub(crate) fn looked_at(line: Line, carrier: f64) -> Option<f64> {
    match line {
        Line::Harmonics => Some(2.0 * carrier),
        Line::Spurs => Some(carrier + 100.0),
        Line::PhaseNoise { distance } => Some(carrier + distance),
        _ => None,
    }
}

/// How a line is read.
fn how(line: Line) -> &'static str {
    match line {
        Line::Level => {
            "`quietrail read JOB NAME level \"7.1 dBm\" --with INSTRUMENT --setup \"reference 10 dBm\"`, or `quietrail read JOB NAME \"rms voltage\" \"0.51 V\" --with scope --setup \"into 50 Ω\"`"
        }
        Line::Harmonics => {
            "`quietrail read JOB NAME harmonic \"−41 dBc\" --with INSTRUMENT --setup \"at FREQUENCY; rbw 1 kHz; attenuation 30 dB; reference 10 dBm\"`"
        }
        Line::Spurs => {
            "`quietrail read JOB NAME spur \"−98 dBc\" --with INSTRUMENT --setup \"at FREQUENCY; rbw 10 Hz; attenuation 10 dB; reference 10 dBm\"`"
        }
        Line::PhaseNoise { .. } => {
            "`quietrail read JOB NAME \"phase noise\" \"−92 dBc\" --with INSTRUMENT --setup \"at FREQUENCY; rbw 10 Hz; attenuation 10 dB; reference 10 dBm\"`, as displayed in that bandwidth"
        }
        Line::WarmUp { .. } => {
            "`quietrail read JOB NAME warm-up \"4.5 min\" --setup \"watch from power on until it stayed; error 10 s\"`"
        }
        Line::Retrace => {
            "`quietrail read JOB NAME retrace \"1.2 ppb\" --with INSTRUMENT --setup \"24 h off, 1 h on; error 0.3 ppb\"`"
        }
        _ => {
            "`quietrail read JOB NAME \"warm-up current\" \"0.91 A\" --with INSTRUMENT --setup \"in the heater lead\"`"
        }
    }
}

fn example(item: &str) -> &'static str {
    match item {
        "at" => "`at 20 MHz`",
        "rbw" => "`rbw 1 kHz`",
        "attenuation" => "`attenuation 20 dB`",
        "error" => "`error 10 s`, how far it may be off",
        "into" => "`into 50 Ω` with a termination across it, `into 1 MΩ` without",
        _ => "`reference 10 dBm`",
    }
}

/// The last line: how many lines of the data sheet, and how each half stands.
pub fn count(all: &[Accepted]) -> String {
    let of = |shown: Shown| all.iter().filter(|one| one.shown == shown).count();
    format!(
        "{} lines of its data sheet: {} held, {} failed, {} not shown",
        all.len(),
        of(Shown::Holds),
        of(Shown::Fails),
        of(Shown::NotShown)
    )
}
