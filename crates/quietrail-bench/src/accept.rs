//! What readings show of an oscillator's own limits: level, harmonics, spurs, warm-up, offset, ageing, stability.
//!
//! Each line of its data sheet that the job gives gets a verdict. The analyser's noise, own harmonics, reference level,
//! resolution bandwidth and display bound what a line of the spectrum can show (`lines`); the counter's timing and its reference
//! what a log can (`logged`).

mod beside;
mod hand;
mod lines;
mod logged;

use crate::counter::Counted;
use crate::decide::{PROBABILITY, Shown};
use crate::gum::{Component, ReadingError};
use crate::log::{Observed, Row};
use quietrail_job::model::{Counting, Instrument, Oscillator, Reads};

/// A line of an oscillator's data sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Line {
    /// Level into 50 Ω, dBm.
    Level,
    /// Highest harmonic, dBc.
    Harmonics,
    /// Highest other line, dBc.
    Spurs,
    /// Time until it is within a share of its end, s.
    WarmUp {
        /// The share.
        within: f64,
    },
    /// The most that it draws on the way, A.
    WarmUpCurrent,
    /// Offset from its frequency, as a share.
    Offset,
    /// Change in a day, as a share.
    Ageing,
    /// Where it comes back to after a pause, as a share from where it was.
    Retrace,
    /// Phase noise in a hertz, dBc.
    PhaseNoise {
        /// Distance from the carrier, Hz.
        distance: f64,
    },
    /// Allan deviation at an averaging time.
    Stability {
        /// Averaging time, s.
        tau: f64,
    },
}

/// What is shown of a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Accepted {
    /// The line.
    pub line: Line,
    /// Lowest allowed.
    pub min: Option<f64>,
    /// Highest allowed.
    pub max: Option<f64>,
    /// What was read: the highest where there are several.
    pub value: Option<f64>,
    /// One-sided bound below.
    pub low: f64,
    /// One-sided bound above.
    pub high: f64,
    /// Where in the spectrum it was read, Hz.
    pub at: Option<f64>,
    /// The verdict.
    pub shown: Shown,
    /// What decided, or kept from deciding.
    pub why: Why,
    /// Rows of the log that it rests on.
    pub rows: Vec<u64>,
}

/// Why a verdict is what it is.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// The bounds lie clear of the limit.
    Clear,
    /// The limit lies between the bounds.
    Between,
    /// Nothing was read.
    NotRead,
    /// No instrument of that name is in the job.
    UnknownInstrument(String),
    /// The job gives that instrument no such figure.
    NoFigure {
        /// The instrument.
        instrument: String,
        /// `spectrum.level`
        key: &'static str,
    },
    /// The reading is beyond the end of its range.
    BeyondRange {
        /// End of the range, SI.
        end: f64,
    },
    /// The set-up of the reading does not say it.
    NoSetting(&'static str),
    /// The line lies where the analyser is not specified.
    OutsideBand {
        /// Its band, Hz.
        low: f64,
        /// Its band, Hz.
        high: f64,
    },
    /// The carrier stood above the reference level: the analyser is driven too hard to be believed.
    AboveReference {
        /// Reference level, dBm.
        reference: f64,
    },
    /// The reading lies below the bottom of the display.
    BelowDisplay {
        /// Where that is under the carrier, dBc.
        bottom: f64,
    },
    /// The level was not read, and lines under the carrier mean nothing to the analyser without it.
    NoCarrier,
    /// The reading is below the analyser's own noise: its setting was another.
    BelowNoise {
        /// Its noise under the carrier, dBc.
        noise: f64,
    },
    /// It is so near to the carrier that the analyser's filter may show that.
    Skirt {
        /// Resolution bandwidth at which it would not, Hz.
        resolution: f64,
    },
    /// The analyser's noise would be taken for such a line.
    Noise {
        /// Its noise under the carrier, dBc.
        noise: f64,
        /// Resolution bandwidth at which it would not, Hz.
        resolution: f64,
    },
    /// The analyser's own harmonics are too near to the limit.
    OwnHarmonics {
        /// What they come to at that level, dBc.
        own: f64,
        /// Attenuation that would do, more than there was, dB.
        more: f64,
    },
    /// Second and third have to be read, at least.
    SecondAndThird,
    /// The analyser's oscillators may make what was read.
    OwnPhaseNoise,
    /// A peak detector says nothing of noise that could be put on paper.
    PeakOfNoise,
    /// The log shows no warm-up: it has to begin before power comes on.
    NoWarmUp,
    /// The log ends before the warm-up is over.
    StillWarming,
    /// Over the log it moved by this share, which is more than it may be off.
    StillMoving(f64),
    /// The counter's reference may itself change by this share in a day, for all that the job says.
    ReferenceMoves(f64),
    /// The log is too short: so many seconds it takes.
    TooShort(f64),
    /// Readings are not a whole number of intervals of the log apart.
    NoSuchTime {
        /// Seconds between its readings.
        interval: f64,
    },
    /// The gate was open for less than the time between readings: what went on in between was not counted, and a deviation comes out too large.
    DeadTime {
        /// How long it was open, s.
        gate: f64,
        /// Seconds between readings.
        interval: f64,
    },
    /// The readings scatter by less than the steps that they come in, as a share.
    Steps(f64),
    /// Single readings, so many, stand far apart from their neighbours, and it is they that fail it.
    Apart(usize),
    /// A counter that averages inside its gate reads so short a time too well, and the job does not say that it does not.
    Gate,
    /// The counter and its reference make more than the limit leaves room for.
    Counter {
        /// What they make.
        floor: f64,
    },
    /// The job does not say what the counter and its reference make of it.
    CounterUnknown,
}

/// A log of a counter, and how it counts.
#[derive(Clone, Copy, Debug)]
pub struct Log<'a> {
    /// Worked out.
    pub counted: &'a Counted,
    /// The instrument's `counting`, where the job gives it.
    pub counting: Option<&'a Counting>,
    /// Its name.
    pub counter: &'a str,
    /// The row that names the log, if one does.
    pub row: Option<u64>,
    /// How long the counter's gate was open for each reading, s, where the set-up says it.
    pub gate: Option<f64>,
}

/// Every line of the data sheet that the job gives, with what is shown of it. `rows` are those that stand; of the logs, oldest first,
/// that one counts for a line which is the latest to show anything of it.
pub fn accept(
    own: &Oscillator,
    rows: &[&Row],
    logs: &[Log<'_>],
    instruments: &[Instrument],
) -> Vec<Accepted> {
    let rows: Vec<&Row> = rows
        .iter()
        .copied()
        .filter(|row| row.of == own.name)
        .collect();
    let asked = &own.acceptance;
    let mut all = Vec::new();
    if let Some(level) = &asked.level {
        let ends = (Some(level.value.low), Some(level.value.high));
        all.push(lines::level(ends, own, &rows, instruments));
    }
    if let Some(most) = &asked.harmonics {
        all.push(lines::harmonics(own, most.nominal(), &rows, instruments));
    }
    if let Some(most) = &own.spurs {
        all.push(lines::spurs(own, most.nominal(), &rows, instruments));
    }
    if let Some(warm) = &asked.warm_up {
        let (time, within) = (warm.time.nominal(), warm.within.nominal());
        let logged = latest(logs, &|log| logged::warm_up(time, within, log));
        let by_hand = || hand::warm_up(time, within, &rows);
        let timed = (logged.shown == Shown::NotShown).then(by_hand).flatten();
        all.push(timed.unwrap_or(logged));
        if let Some(most) = &warm.current {
            all.push(current(most.nominal(), &rows, instruments));
        }
    }
    if let Some(most) = &asked.offset {
        all.push(latest(logs, &|log| logged::offset(most.nominal(), log)));
    }
    if let Some(most) = &asked.ageing {
        all.push(latest(logs, &|log| logged::ageing(most.nominal(), log)));
    }
    if let Some(most) = &asked.retrace {
        all.push(hand::retrace(most.nominal(), &rows));
    }
    for (distance, most) in &own.noise {
        let asked = (most.nominal(), distance.nominal());
        all.push(beside::phase_noise(asked, own, &rows, instruments));
    }
    for (most, tau) in &asked.stability {
        let (most, tau) = (most.nominal(), tau.nominal());
        all.push(latest(logs, &|log| logged::stability(most, tau, log)));
    }
    all
}

/// A line by the latest log that shows anything of it: a warm-up is in the log that began with the power, ageing in one of days. Where
/// none shows anything, the latest says why.
fn latest<'a>(logs: &[Log<'a>], judge: &dyn Fn(Option<Log<'a>>) -> Accepted) -> Accepted {
    let mut all: Vec<Accepted> = logs
        .iter()
        .map(|log| logged::but_for_slips(*log, judge))
        .collect();
    let shows = |one: &Accepted| one.shown != Shown::NotShown;
    match all.iter().rposition(shows) {
        Some(at) => all.swap_remove(at),
        None => all.pop().unwrap_or_else(|| judge(None)),
    }
}

/// The rows that name logs of an oscillator's counter, oldest first; of a log that was named twice the later one.
pub fn kept_logs<'a>(rows: &[&'a Row], oscillator: &str) -> Vec<&'a Row> {
    let is_log = |row: &&Row| {
        row.of == oscillator && row.what == Observed::Frequency && !row.capture.is_empty()
    };
    let all: Vec<&Row> = rows.iter().copied().filter(is_log).collect();
    let is_last = |index: &usize| {
        let mut later = all[index + 1..].iter();
        later.all(|row| row.capture != all[*index].capture)
    };
    (0..all.len())
        .filter(is_last)
        .map(|index| all[index])
        .collect()
}

/// Whether a level of a line is written above the carrier: how far it is down was meant, without its sign.
pub fn is_above_carrier(what: Observed, decibels: f64) -> bool {
    let is_under = matches!(
        what,
        Observed::Harmonic | Observed::Spur | Observed::PhaseNoise
    );
    is_under && decibels > 0.0
}

/// What is odd about where in the spectrum a line was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Misplaced {
    /// A harmonic at no multiple of the carrier.
    NoMultiple,
    /// A spur at a multiple of the carrier, where its harmonics are; at once that, it is the carrier.
    Multiple {
        /// How many times the carrier.
        number: f64,
    },
    /// Phase noise nowhere near the carrier: what was written is its distance, and that is where it is, Hz.
    Distance {
        /// Carrier and distance together.
        there: f64,
    },
}

/// How far from a multiple of the carrier a line may be that is called a harmonic, as a share of the carrier (our own figure).
const NEAR_MULTIPLE: f64 = 0.01;

/// How near to a multiple of the carrier nothing else than a harmonic is meant, as a share of the carrier (our own figure): the lines of
/// the mains beside it are further off.
const ON_MULTIPLE: f64 = 1e-6;

/// Whether a line of that kind can be there, beside a carrier, Hz both.
pub fn misplaced(what: Observed, at: f64, carrier: f64) -> Option<Misplaced> {
    let number = libm::round(at / carrier);
    let off = (at / carrier - number).abs();
    match what {
        Observed::Harmonic => {
            let is_multiple = number >= 2.0 && off < NEAR_MULTIPLE;
            (!is_multiple).then_some(Misplaced::NoMultiple)
        }
        Observed::Spur => {
            (number >= 1.0 && off < ON_MULTIPLE).then_some(Misplaced::Multiple { number })
        }
        Observed::PhaseNoise => (at < 0.5 * carrier).then_some(Misplaced::Distance {
            there: carrier + at,
        }),
        _ => None,
    }
}

/// The worst of several, as of limits.
pub fn worst(all: &[Accepted]) -> Option<Shown> {
    let has = |shown: Shown| all.iter().any(|one| one.shown == shown);
    if all.is_empty() {
        None
    } else if has(Shown::Fails) {
        Some(Shown::Fails)
    } else if has(Shown::NotShown) {
        Some(Shown::NotShown)
    } else {
        Some(Shown::Holds)
    }
}

impl Accepted {
    /// A line of which nothing is known yet.
    fn of(line: Line, min: Option<f64>, max: Option<f64>) -> Self {
        Self {
            line,
            min,
            max,
            value: None,
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
            at: None,
            shown: Shown::NotShown,
            why: Why::NotRead,
            rows: Vec::new(),
        }
    }

    fn because(mut self, why: Why) -> Self {
        self.shown = Shown::NotShown;
        self.why = why;
        self
    }

    /// The verdict of bounds.
    fn within(mut self, low: f64, high: f64) -> Self {
        (self.low, self.high) = (low, high);
        self.shown = crate::decide::within(low, high, self.min, self.max);
        self.why = match self.shown {
            Shown::Holds | Shown::Fails => Why::Clear,
            Shown::NotShown => Why::Between,
        };
        self
    }
}

/// What an error of at most so much is not beyond, one-sided, with the probability that is asked for.
fn guard(bound: f64) -> f64 {
    let none = Component {
        u: 0.0,
        nu: f64::INFINITY,
    };
    guard_with(bound, none)
}

/// The same of an error with a scatter that was seen.
fn guard_with(bound: f64, scatter: Component) -> f64 {
    let error = ReadingError {
        bound,
        apart: 0.0,
        scatter,
    };
    error.one_sided(PROBABILITY)
}

/// The highest of the currents that were read.
fn current(most: f64, rows: &[&Row], instruments: &[Instrument]) -> Accepted {
    let mut found = Accepted::of(Line::WarmUpCurrent, None, Some(most));
    let own = rows
        .iter()
        .filter(|row| row.what == Observed::WarmUpCurrent);
    let Some(row) = own.max_by(|a, b| a.value.total_cmp(&b.value)) else {
        return found;
    };
    found.value = Some(row.value);
    found.rows = vec![row.row];
    let Some(instrument) = instruments.iter().find(|one| one.name == row.instrument) else {
        return found.because(Why::UnknownInstrument(row.instrument.clone()));
    };
    let key = "dc_current.ranges";
    let range = match instrument.function(Reads::DcCurrent) {
        Some(function) => lines::range_of(function, row, key),
        None => Err(lines::no_figure(row, key)),
    };
    match range {
        Ok(range) => {
            let guard = guard(range.error(row.value));
            found.within(row.value - guard, row.value + guard)
        }
        Err(why) => found.because(why),
    }
}
