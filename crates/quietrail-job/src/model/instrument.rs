//! An instrument with its functions, ranges, floors and errors. All in SI.

use super::{Counting, Figure, Span, Spectrum};
use quietrail_units::{Farads, Kind, Ohms, Ratio, VoltsPerRootHertz};

/// An instrument on the bench.
#[derive(Clone, Debug, PartialEq)]
pub struct Instrument {
    /// `meter`
    pub name: String,
    /// What it is.
    pub kind: InstrumentKind,
    /// What it reads, in the order of the file.
    pub functions: Vec<Function>,
    /// What it does as a preamplifier, if it is one.
    pub amplifier: Option<Amplifier>,
    /// How it reads lines of a spectrum, if it does.
    pub spectrum: Option<Spectrum>,
    /// How it counts, if it does and the job says so.
    pub counting: Option<Counting>,
    /// Test voltage of its insulation range.
    pub test_volts: Option<f64>,
    /// Where its table starts.
    pub span: Span,
}

/// The kinds of instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the names are the guide's terms")]
pub enum InstrumentKind {
    Multimeter,
    Oscilloscope,
    Analyser,
    Counter,
    Thermometer,
    Bridge,
    Recorder,
    Preamplifier,
}

/// What a function reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the names are the guide's terms")]
pub enum Reads {
    AcVolts,
    DcVolts,
    AcCurrent,
    DcCurrent,
    Resistance,
    Capacitance,
    Frequency,
    Temperature,
    Power,
}

/// How a reading is formed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Detector {
    /// Root of the mean square, whatever the shape.
    TrueRms,
    /// Mean of the rectified wave, scaled to read the rms of a sine.
    Average,
    /// Highest instant.
    Peak,
    /// Samples of the wave itself.
    Sample,
    /// Mean of decibels: reads noise 2.51 dB low.
    LogAverage,
}

/// One function of an instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Function {
    /// What it reads.
    pub reads: Reads,
    /// How; unknown where the job does not say.
    pub detector: Option<Detector>,
    /// Where it reads right, Hz.
    pub band: Option<(f64, f64)>,
    /// Noise bandwidths of an analyser, narrowest and widest, Hz.
    pub resolution_bandwidth: Option<(f64, f64)>,
    /// Its ranges, as written.
    pub ranges: Vec<Range>,
    /// Bits over a range, of what samples.
    pub bits: Option<u32>,
    /// Whether the parts of its error are known to have nothing to do with each other.
    pub is_error_apart: bool,
    /// Part of a range below which it is not specified.
    pub valid_above: f64,
    /// What it reads with its input shorted.
    pub floor: Option<Floor>,
    /// Its own noise, V/√Hz.
    pub noise: Option<f64>,
    /// Averages that it can take; one where the job does not say.
    pub averages: u32,
    /// Input resistance and capacitance.
    pub input: Option<(Figure<Ohms>, Figure<Farads>)>,
    /// Resistance that a current function puts in.
    pub burden: Option<Figure<Ohms>>,
    /// Whether the mean is kept out; unknown where the job does not say.
    pub is_ac_coupled: Option<bool>,
    /// Attenuation of the probe: 1, 10 or 100.
    pub probe: f64,
}

/// A range with its error: ±(share × reading + offset).
#[derive(Clone, Debug, PartialEq)]
pub struct Range {
    /// As written: `400 mV ±(1 % + 5)`.
    pub words: String,
    /// End of the range.
    pub full: f64,
    /// Part of the reading.
    pub share: f64,
    /// Counts and fixed parts together.
    pub offset: f64,
    /// One count.
    pub resolution: f64,
    /// Whether one count was taken from the first digits of the range, rather than said.
    pub is_resolution_default: bool,
}

/// What an instrument reads with its input shorted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Floor {
    /// The reading.
    pub value: f64,
    /// How well it repeats from set-up to set-up, as a part of it; 0 where the job does not say.
    pub repeats: f64,
}

/// What a preamplifier does.
#[derive(Clone, Debug, PartialEq)]
pub struct Amplifier {
    /// Gain with its error.
    pub gain: Figure<Ratio>,
    /// Noise at its input.
    pub noise: Option<Figure<VoltsPerRootHertz>>,
    /// Its band, Hz.
    pub band: Option<(f64, f64)>,
    /// Its input.
    pub input: Option<(Figure<Ohms>, Figure<Farads>)>,
}

impl Reads {
    /// What kind of quantity that is.
    pub fn kind(self) -> Kind {
        match self {
            Reads::AcVolts | Reads::DcVolts => Kind::Volts,
            Reads::AcCurrent | Reads::DcCurrent => Kind::Amperes,
            Reads::Resistance => Kind::Ohms,
            Reads::Capacitance => Kind::Farads,
            Reads::Frequency => Kind::Hertz,
            Reads::Temperature => Kind::Celsius,
            Reads::Power => Kind::Watts,
        }
    }
}

impl Instrument {
    /// Its function of that sort.
    pub fn function(&self, reads: Reads) -> Option<&Function> {
        self.functions
            .iter()
            .find(|function| function.reads == reads)
    }
}

/// How a division is written.
const DIVISION: [&str; 4] = ["/div", "/division", "per division", "per div"];
/// Divisions of a screen from bottom to top (common practice, no source).
const DIVISIONS: f64 = 8.0;

impl Function {
    /// The smallest range that a value fits in.
    pub fn range_for(&self, value: f64) -> Option<&Range> {
        let fits = self.ranges.iter().filter(|range| value.abs() <= range.full);
        fits.min_by(|a, b| a.full.total_cmp(&b.full))
    }

    /// The range that words name: as written, by its end (`4 V`), or, of what samples, by a division (`10 mV/div`): then it is
    /// the smallest range of the job that holds all divisions.
    pub fn range_named(&self, words: &str) -> Option<&Range> {
        let wanted = squeezed(words);
        let by_name = self.ranges.iter().find(|range| {
            let own = squeezed(&range.words);
            own == wanted || own.split('±').next() == Some(wanted.as_str())
        });
        by_name.or_else(|| self.range_for(self.by_division(words)? * (1.0 - 1e-9)))
    }

    /// The most that the range with that name holds; `None` where there is no such range.
    pub fn end_of(&self, words: &str) -> Option<f64> {
        let range = self.range_named(words)?;
        Some(self.by_division(words).unwrap_or(range.full))
    }

    /// What all divisions of a screen hold, where words name a range by one: `10 mV/div`.
    fn by_division(&self, words: &str) -> Option<f64> {
        let one = DIVISION
            .iter()
            .find_map(|end| words.trim().strip_suffix(end))?;
        let kind = self.reads.kind();
        let (low, one, high) = crate::interval(kind, one.trim()).ok()?;
        (self.detector == Some(Detector::Sample) && low == high && one > 0.0)
            .then_some(DIVISIONS * one)
    }
}

impl Range {
    /// Largest error of a reading: a·|reading| + n·count.
    pub fn error(&self, reading: f64) -> f64 {
        self.share * reading.abs() + self.offset
    }
}

fn squeezed(words: &str) -> String {
    words.chars().filter(|c| !c.is_whitespace()).collect()
}
