//! One row of the log: a value, and all that it takes to repeat it.

use super::{NUMBERS, csv};
use quietrail_job::interval;
use quietrail_job::model::{Subject, What};
use quietrail_units::{Kind, QuantityError};

/// What a row reads: a statistic that a limit can ask for, or what else the bring-up asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Observed {
    /// A statistic.
    Statistic(What),
    /// rms of an alternating voltage.
    RmsVoltage,
    /// Resistance between two points, power off.
    Resistance,
    /// Insulation resistance.
    Insulation,
    /// Value of a capacitor.
    Capacitance,
    /// Series resistance of a capacitor.
    Esr,
    /// Frequency.
    Frequency,
    /// Level of an oscillator into 50 Ω.
    Level,
    /// A harmonic of an oscillator, under its carrier.
    Harmonic,
    /// Another line of its spectrum, under its carrier.
    Spur,
    /// Noise beside the carrier of an oscillator as displayed in the resolution bandwidth, under its carrier.
    PhaseNoise,
    /// How long an oscillator took to come to temperature, timed by hand.
    WarmUp,
    /// The most that an oscillator draws on its way to temperature.
    WarmUpCurrent,
    /// How far an oscillator comes back from where it was, after a pause.
    Retrace,
    /// Whether something is as it should be: 1 or 0.
    Check,
    /// Going on without a reading that is asked for; the note says why.
    Override,
}

impl Observed {
    /// Those that are no statistic of a limit.
    pub const OTHERS: [Observed; 15] = [
        Observed::RmsVoltage,
        Observed::Resistance,
        Observed::Insulation,
        Observed::Capacitance,
        Observed::Esr,
        Observed::Frequency,
        Observed::Level,
        Observed::Harmonic,
        Observed::Spur,
        Observed::PhaseNoise,
        Observed::WarmUp,
        Observed::WarmUpCurrent,
        Observed::Retrace,
        Observed::Check,
        Observed::Override,
    ];

    /// Its word in the log.
    pub fn word(self) -> &'static str {
        match self {
            Self::Statistic(what) => what.word(),
            Self::RmsVoltage => "rms voltage",
            Self::Resistance => "resistance",
            Self::Insulation => "insulation",
            Self::Capacitance => "capacitance",
            Self::Esr => "esr",
            Self::Frequency => "frequency",
            Self::Level => "level",
            Self::Harmonic => "harmonic",
            Self::Spur => "spur",
            Self::PhaseNoise => "phase noise",
            Self::WarmUp => "warm-up",
            Self::WarmUpCurrent => "warm-up current",
            Self::Retrace => "retrace",
            Self::Check => "check",
            Self::Override => "override",
        }
    }

    /// What a word of the log means.
    pub fn named(word: &str) -> Option<Self> {
        let other = Self::OTHERS.into_iter().find(|known| known.word() == word);
        other.or_else(|| What::named(word).map(Self::Statistic))
    }

    /// Every word that a row can have there.
    pub fn words() -> impl Iterator<Item = &'static str> {
        let statistics = What::ALL.into_iter().map(What::word);
        statistics.chain(Self::OTHERS.into_iter().map(Self::word))
    }

    /// A value as typed, without a word behind it for how it was read: `15 mV p-p` of a ripple p-p, `2.1 V rms`.
    ///
    /// # Errors
    /// The word, where it says that something else was read.
    pub fn without_word(self, typed: &str) -> Result<&str, &'static str> {
        const WORDS: [(&str, &str); 7] = [
            ("p-p", "p-p"),
            ("pk-pk", "p-p"),
            ("pkpk", "p-p"),
            ("pp", "p-p"),
            ("rms", "rms"),
            ("eff", "rms"),
            ("peak", "peak"),
        ];
        let small = typed.to_ascii_lowercase();
        let Some((end, word)) = WORDS.into_iter().find(|(end, _)| small.ends_with(end)) else {
            return Ok(typed);
        };
        let read = match self {
            Self::Statistic(What::RipplePeakToPeak) => "p-p",
            Self::Statistic(What::Ripple | What::Noise | What::RippleAndNoise)
            | Self::Statistic(What::RmsCurrent)
            | Self::RmsVoltage => "rms",
            Self::Statistic(What::Peak | What::PeakCurrent) => "peak",
            _ => return Err(word),
        };
        if read != word {
            return Err(word);
        }
        Ok(typed[..typed.len() - end.len()].trim_end())
    }

    /// Its unit.
    pub fn kind(self) -> Kind {
        match self {
            Self::Statistic(what) => what.kind(),
            Self::RmsVoltage => Kind::Volts,
            Self::Resistance | Self::Insulation | Self::Esr => Kind::Ohms,
            Self::Capacitance => Kind::Farads,
            Self::Frequency => Kind::Hertz,
            Self::Level => Kind::DecibelMilliwatts,
            Self::Harmonic | Self::Spur | Self::PhaseNoise => Kind::Decibels,
            Self::WarmUp => Kind::Seconds,
            Self::WarmUpCurrent => Kind::Amperes,
            Self::Retrace | Self::Check | Self::Override => Kind::Ratio,
        }
    }
}

/// A row as read from the log.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Counts up from 1.
    pub row: u64,
    /// When, as written.
    pub time: String,
    /// Step of the bring-up; empty outside one.
    pub step: String,
    /// State of the load.
    pub state: String,
    /// Point: a node, two nodes with a comma, a part, or a named row of the bring-up.
    pub of: String,
    /// What was read.
    pub what: Observed,
    /// The value in SI.
    pub value: f64,
    /// The value as typed, without its unit.
    pub typed: String,
    /// Unit as typed.
    pub unit: String,
    /// Name of the instrument.
    pub instrument: String,
    /// Range, as the job writes it; empty where the instrument has no choice.
    pub range: String,
    /// Averages taken.
    pub averages: Option<u32>,
    /// How it was connected and set.
    pub setup: SetUp,
    /// Mains voltage while reading; empty where nobody looked.
    pub mains_v: Option<f64>,
    /// Name of the limit that it is for; empty where point and statistic say it.
    pub limit: String,
    /// File of the capture, relative to the job.
    pub capture: String,
    /// The row that this one replaces.
    pub corrects: Option<u64>,
    /// A sentence.
    pub note: String,
}

/// What stands in the note of a row whose value is the end of what its instrument shows: what is there is more.
pub const MORE_THAN: &str = "more than that: beyond what the instrument shows";

impl Row {
    /// Whether what is there is more than the value: it was beyond what the instrument shows.
    pub fn is_more_than(&self) -> bool {
        self.note.starts_with(MORE_THAN)
    }

    /// Whether somebody typed the value, rather than that it was worked out of a capture.
    pub fn is_typed(&self) -> bool {
        !self.typed.contains('e')
    }
}

/// A row before it has its number.
#[derive(Clone, Debug, Default, PartialEq)]
#[allow(missing_docs, reason = "the fields of a row, as texts")]
pub struct Draft {
    pub time: String,
    pub step: String,
    pub state: String,
    pub of: String,
    pub what: String,
    pub value: String,
    pub unit: String,
    pub instrument: String,
    pub range: String,
    pub averages: String,
    pub setup: String,
    pub mains_v: String,
    pub limit: String,
    pub capture: String,
    pub corrects: String,
    pub note: String,
}

/// How an instrument was connected and set, from the words of the log: items with a semicolon between.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SetUp {
    /// As written.
    pub words: String,
    /// `shorted`: the input was shorted at the same place, so that this is a floor.
    pub is_shorted: bool,
    /// `through NAME`: an amplifier stood in front.
    pub through: Option<String>,
    /// `ammeter NAME in PART`: it stayed in series with the part while something else was read.
    pub ammeter: Option<(String, String)>,
    /// `column NAME`: the signal of the capture that was taken.
    pub column: Option<String>,
    /// `band 10 Hz .. 100 kHz`: narrower than the instrument's own.
    pub band: Option<(f64, f64)>,
    /// `into 50 Ω`: what an oscillator was read across, Ω.
    pub into: Option<f64>,
    /// `at 20 MHz`: where in the spectrum, Hz.
    pub at: Option<f64>,
    /// `rbw 1 kHz`: the resolution bandwidth of an analyser, Hz.
    pub resolution: Option<f64>,
    /// `attenuation 20 dB`: before an analyser's mixer, dB.
    pub attenuation: Option<f64>,
    /// `reference 10 dBm`: the level at the top of its display, dBm.
    pub reference: Option<f64>,
}

/// Why a line is no row.
#[derive(Clone, Debug, PartialEq)]
pub enum RowFault {
    /// The line has no end: it was never acknowledged, or somebody cut it.
    NotEnded,
    /// A quotation mark that never closes.
    Quote,
    /// It does not have seventeen fields.
    Fields(usize),
    /// A field that holds a whole number holds something else.
    Number {
        /// The field.
        field: &'static str,
        /// What it holds.
        found: String,
    },
    /// Not a word that can stand there.
    What(String),
    /// The value with its unit cannot be read.
    Value(QuantityError),
    /// A value that is not one plain number.
    NotOne(String),
    /// The number of the row is there already.
    Twice(u64),
}

/// Fields of a row.
const FIELDS: usize = 17;

impl Row {
    /// A row of its line.
    pub(super) fn of(line: &str) -> Result<Self, RowFault> {
        let fields = csv::fields_of_row(line, FIELDS).ok_or(RowFault::Quote)?;
        let [
            row,
            time,
            step,
            state,
            of,
            what,
            value,
            unit,
            instrument,
            range,
            averages,
            setup,
            mains_v,
            limit,
            capture,
            corrects,
            note,
        ] = fields.as_slice()
        else {
            return Err(RowFault::Fields(fields.len()));
        };
        let what_word = what.trim();
        let what = Observed::named(what_word).ok_or(RowFault::What(what_word.to_owned()))?;
        let value_text = format!("{} {}", value.trim(), unit.trim());
        Ok(Self {
            row: whole("row", row)?.ok_or(RowFault::Number {
                field: "row",
                found: String::new(),
            })?,
            time: time.trim().to_owned(),
            step: step.trim().to_owned(),
            state: state.trim().to_owned(),
            of: of.trim().to_owned(),
            what,
            value: one_value(what.kind(), value_text.trim())?,
            typed: value.trim().to_owned(),
            unit: unit.trim().to_owned(),
            instrument: instrument.trim().to_owned(),
            range: range.trim().to_owned(),
            averages: whole("averages", averages)?
                .map(|count| u32::try_from(count).unwrap_or(u32::MAX)),
            setup: SetUp::of(setup),
            mains_v: match mains_v.trim() {
                "" => None,
                volts => Some(one_value(Kind::Volts, &with_unit(volts, "V"))?),
            },
            limit: limit.trim().to_owned(),
            capture: capture.trim().to_owned(),
            corrects: whole("corrects", corrects)?,
            note: note.trim().to_owned(),
        })
    }

    /// Whether two rows were read the same way, so that they are repeats of each other.
    pub fn is_like(&self, other: &Row) -> bool {
        self.of == other.of
            && self.what == other.what
            && self.state == other.state
            && self.instrument == other.instrument
            && self.range == other.range
            && self.averages.unwrap_or(1) == other.averages.unwrap_or(1)
            && self.setup.through == other.setup.through
            && self.setup.ammeter == other.setup.ammeter
            && self.setup.band == other.setup.band
    }

    /// Its fields as a draft, to repeat or correct it.
    pub fn draft(&self) -> Draft {
        let number = |n: Option<u32>| n.map_or_else(String::new, |n| n.to_string());
        Draft {
            time: self.time.clone(),
            step: self.step.clone(),
            state: self.state.clone(),
            of: self.of.clone(),
            what: self.what.word().to_owned(),
            value: self.typed.clone(),
            unit: self.unit.clone(),
            instrument: self.instrument.clone(),
            range: self.range.clone(),
            averages: number(self.averages),
            setup: self.setup.words.clone(),
            mains_v: self.mains_v.map_or_else(String::new, |v| v.to_string()),
            limit: self.limit.clone(),
            capture: self.capture.clone(),
            corrects: self.corrects.map_or_else(String::new, |n| n.to_string()),
            note: self.note.clone(),
        }
    }
}

/// A subject as the log writes it: two nodes with a comma between.
pub fn words_of(of: &Subject) -> String {
    match of {
        Subject::Node(name) | Subject::Part(name) => name.clone(),
        Subject::Pair(plus, minus) => format!("{plus},{minus}"),
    }
}

impl Draft {
    /// The line of the row with its number, without the end of the line.
    pub fn line(&self, number: u64) -> String {
        let fields = [
            &self.time,
            &self.step,
            &self.state,
            &self.of,
            &self.what,
            &self.value,
            &self.unit,
            &self.instrument,
            &self.range,
            &self.averages,
            &self.setup,
            &self.mains_v,
            &self.limit,
            &self.capture,
            &self.corrects,
            &self.note,
        ];
        let mut line = number.to_string();
        for field in fields {
            line.push(',');
            line.push_str(&csv::written(field));
        }
        line
    }

    /// The row that it becomes.
    ///
    /// # Errors
    /// What of it cannot be read back.
    pub fn row(&self, number: u64) -> Result<Row, RowFault> {
        Row::of(&self.line(number))
    }
}

impl SetUp {
    /// `error 10 s`: how far a value that was noted by hand may be off, in the unit of the reading.
    pub fn error(&self, kind: Kind) -> Option<f64> {
        let mut items = self.words.split(';').map(str::trim);
        let text = items.find_map(|item| item.strip_prefix("error "))?;
        exactly(kind, text).filter(|error| *error >= 0.0)
    }

    /// `gate 1 s`: how long a counter's gate was open for each reading, s; also behind a comma.
    pub fn gate(&self) -> Option<f64> {
        let (_, behind) = self.words.split_once("gate ")?;
        let mut words = behind
            .split([' ', ';'])
            .map(|word| word.trim_end_matches(','));
        let value = words.next()?;
        let joined = exactly(Kind::Seconds, value);
        joined.or_else(|| exactly(Kind::Seconds, &format!("{value} {}", words.next()?)))
    }

    /// From the words of the log.
    pub fn of(words: &str) -> Self {
        let mut setup = Self {
            words: words.trim().to_owned(),
            ..Self::default()
        };
        for item in words.split(';').map(str::trim) {
            if item == "shorted" {
                setup.is_shorted = true;
            } else if let Some(name) = item.strip_prefix("through ") {
                setup.through = Some(name.trim().to_owned());
            } else if let Some((name, part)) = item
                .strip_prefix("ammeter ")
                .and_then(|rest| rest.split_once(" in "))
            {
                setup.ammeter = Some((name.trim().to_owned(), part.trim().to_owned()));
            } else if let Some(name) = item.strip_prefix("column ") {
                setup.column = Some(name.trim().to_owned());
            } else if let Some(band) = item.strip_prefix("band ") {
                setup.band = interval(Kind::Hertz, band).ok().map(|(low, _, high)| {
                    if low == high {
                        (0.0, high)
                    } else {
                        (low, high)
                    }
                });
            } else if let Some(ohms) = item.strip_prefix("into ") {
                setup.into = exactly(Kind::Ohms, ohms);
            } else if let Some(hertz) = item.strip_prefix("at ") {
                setup.at = exactly(Kind::Hertz, hertz);
            } else if let Some(hertz) = item.strip_prefix("rbw ") {
                setup.resolution = exactly(Kind::Hertz, hertz);
            } else if let Some(decibels) = item.strip_prefix("attenuation ") {
                setup.attenuation = exactly(Kind::Decibels, decibels);
            } else if let Some(level) = item.strip_prefix("reference ") {
                setup.reference = exactly(Kind::DecibelMilliwatts, level);
            }
        }
        setup
    }
}

/// A value without a range; `None` for words that only begin alike.
fn exactly(kind: Kind, text: &str) -> Option<f64> {
    one_value(kind, text).ok()
}

fn with_unit(text: &str, unit: &str) -> String {
    if text.ends_with(|c: char| c.is_ascii_digit()) {
        format!("{text} {unit}")
    } else {
        text.to_owned()
    }
}

fn one_value(kind: Kind, text: &str) -> Result<f64, RowFault> {
    match interval(kind, text) {
        Ok((low, nominal, high)) if low == high && nominal.is_finite() => Ok(nominal),
        Ok(_) => Err(RowFault::NotOne(text.to_owned())),
        Err(error) => Err(RowFault::Value(error)),
    }
}

fn whole(field: &'static str, text: &str) -> Result<Option<u64>, RowFault> {
    match text.trim() {
        "" => Ok(None),
        text => text
            .parse()
            .ok()
            .filter(|number| *number < NUMBERS)
            .map(Some)
            .ok_or(RowFault::Number {
                field,
                found: text.to_owned(),
            }),
    }
}
