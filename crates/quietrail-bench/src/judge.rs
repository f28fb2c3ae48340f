//! What the readings of a limit prove: *holds*, *fails*, or nothing, and why.
//!
//! A reading counts only as far as its instrument goes: its function, its range with its error, its band, its floor. Where
//! reading and floor may hold the same mains wave they may add or cancel; where they are noise their powers add. The
//! verdict keeps a guard band, so that what is right at its limit is taken to hold in at most one case of twenty.

mod band;
mod burden;
mod reach;
mod shape;
mod spread;

pub use band::{Content, Cover};
pub use burden::Load;
pub use reach::{Prospect, Way, prospect, ways};

use crate::decide::{PROBABILITY, Shown, within};
use crate::floor::{OverFloor, coherent, interval};
use crate::gum::{self, Component, ReadingError};
use crate::log::Row;
use crate::meter;
use burden::{without_ammeter, without_input};
use quietrail_job::model::{Band, Detector, Function, Instrument, Range, Reads, What};
use shape::Shape;
use spread::{freedom, is_around, rms, seen_scatter, spread_between};

/// What is asked of the readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The statistic.
    pub what: What,
    /// Band in which it counts.
    pub band: Option<Band>,
    /// Lowest allowed, SI.
    pub min: Option<f64>,
    /// Highest allowed, SI.
    pub max: Option<f64>,
    /// Mains frequency, Hz: nothing that is locked to the mains lies below it.
    pub mains_hertz: f64,
    /// What the prediction says is there, harmonic by harmonic; empty where nothing is predicted.
    pub content: Content,
    /// Highest current of each part that an ammeter may stand in series with, A.
    pub amps: Vec<(String, f64)>,
    /// Voltage that drives the current that is asked for, V; `None` where it is not known.
    pub behind: Option<f64>,
    /// What an average-responding meter shows of one volt rms of the predicted wave; `None` where nothing is predicted.
    pub averaged: Option<f64>,
    /// Direct part of the current that is asked for, as predicted, A; 0 where nothing is predicted.
    pub direct: f64,
    /// What the inputs of instruments take off the point while they read it.
    pub loads: Vec<Load>,
    /// How much hotter it is than where a thermometer reads it; `None` where that is the same place.
    pub inside: Option<Inside>,
}

/// How much hotter the inside of a part is than its outside, K.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inside {
    /// At least.
    pub least: f64,
    /// At most; `None` where nobody knows.
    pub most: Option<f64>,
}

/// What readings come to.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// The verdict.
    pub shown: Shown,
    /// Best estimate of what is there, SI.
    pub value: f64,
    /// One-sided bound below it.
    pub low: f64,
    /// One-sided bound above it.
    pub high: f64,
    /// What decided, or kept from deciding.
    pub why: Why,
    /// Rows that it rests on.
    pub rows: Vec<u64>,
    /// Mains voltages at which they were read; empty where nobody looked.
    pub mains: Vec<f64>,
    /// What was taken for granted.
    pub taken: Vec<Taken>,
}

/// Why a verdict is what it is.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// The bounds lie clear of the limits.
    Clear,
    /// A limit lies between the bounds.
    Between,
    /// No instrument of that name is in the job.
    UnknownInstrument(String),
    /// That instrument has no function that reads this.
    NoFunction,
    /// Its function has no range with an error.
    NoError,
    /// A range of that name is not there.
    UnknownRange(String),
    /// The reading is beyond the end of its range.
    BeyondRange {
        /// End of the range.
        end: f64,
    },
    /// The reading is in the part of the range that is not specified.
    BelowValid {
        /// Where the specified part begins.
        from: f64,
    },
    /// The job does not say in which band the instrument reads right.
    BandUnknown,
    /// The instrument reads less than the band of the limit.
    BandTooNarrow {
        /// Its band.
        low: f64,
        /// Its band.
        high: f64,
    },
    /// The bounds lie above the limit, but the instrument reads more than the band of the limit.
    ReadsMore,
    /// The bounds lie above the limit, but no floor was read: it may be the instrument's own.
    FloorNotRead,
    /// Reading and floor do not belong together: the reading is too far below.
    FloorInconsistent,
    /// It was read on the outside, and inside it is hotter by nobody knows how much.
    HotterInside,
    /// A detector that does not answer to the rms: of pulses of current it may show any part of it.
    PulsesUnknown,
    /// It was averaged under a trigger: what is not locked to it, and so noise, went down with that.
    AveragedAway(u32),
    /// Where nothing is there, this set-up would still not show the limit.
    Blind {
        /// The bound that it would give.
        reach: f64,
    },
}

/// What was taken for granted on the way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Taken {
    /// One count of the range was taken from its first digits.
    CountOfRange(f64),
    /// The shape is between sine and noise: the detector answers to the average.
    ShapeForAverage,
    /// Noise, for a detector that averages decibels.
    NoiseForLogAverage,
    /// The prediction says how much lies outside the band of the instrument.
    PredictedOutside(f64),
    /// Reading and floor may hold the same mains wave.
    SameWave,
    /// A single reading of noise looks at so much of it, s.
    Record(f64),
    /// The mains voltage was not read.
    MainsNotRead,
    /// An ammeter in series dropped at most so many volts of what was read.
    AmmeterDrops(f64),
    /// Without the ammeter's resistance the current may be larger by this part.
    Burden(f64),
    /// Without the instrument's input the voltage is larger by this part.
    Loading(f64),
    /// The predicted wave, of which a detector that answers to the average shows this part of the rms.
    WaveForAverage(f64),
    /// It was read on the outside of a part; inside it is hotter by so much, K.
    HotterInside {
        /// At least.
        least: f64,
        /// At most.
        most: f64,
    },
    /// The ammeter leaves out the direct part, which is predicted as so much, A.
    DirectLeftOut(f64),
    /// A detector that answers to the peak: the rms is at most so much of what it shows, and may be far less.
    PeakForRms,
}

/// What a mean of repeats takes to count as one, and floors before and after to go with it.
pub const REPEATS: usize = 5;

/// Standard uncertainties that an error exceeds on one side in 5 % of cases.
const PROBABLE: f64 = 1.645;

/// How long a single reading looks at noise, s: what a meter takes that shows some readings a second (common practice, no
/// source). In a narrow band noise scatters by much within it.
const RECORD: f64 = 0.1;

/// Part of a bound that adds less than a digit anybody reads.
const NOTHING: f64 = 1e-3;

/// Mains voltages this close, as a share, are the same.
const SAME_MAINS: f64 = 0.01;
/// Readings further apart than this many times their error are not of the same thing.
const APART: f64 = 10.0;

/// A way to read: an instrument's function, maybe behind an amplifier, at a range.
#[derive(Clone, Copy, Debug)]
pub struct Path<'a> {
    /// The instrument.
    pub instrument: &'a Instrument,
    /// Its function.
    pub function: &'a Function,
    /// The range.
    pub range: &'a Range,
    /// What stands in front.
    pub amplifier: Option<&'a Instrument>,
    /// Band that the set-up narrows it to.
    pub narrowed: Option<(f64, f64)>,
}

/// Judges the readings of a limit in one state. `None` where there is none but floors.
///
/// Rows that were read the same way at one mains count together; those of other set-ups are judged apart. One that fails stands before
/// all. All that hold stand together, each for its own mains, and what is said is that of the tightest. Where none shows anything, the
/// latest says why.
pub fn judge(asked: &Asked, rows: &[&Row], instruments: &[Instrument]) -> Option<Judgement> {
    let mut groups: Vec<Vec<&Row>> = Vec::new();
    for row in rows.iter().copied().filter(|row| !row.setup.is_shorted) {
        let repeats = |group: &&mut Vec<&Row>| is_repeat(asked, group[0], row, instruments);
        match groups.iter_mut().find(repeats) {
            Some(group) => group.push(row),
            None => groups.push(vec![row]),
        }
    }
    let judged = groups.iter().map(|group| {
        let floors: Vec<&Row> = rows
            .iter()
            .copied()
            .filter(|row| row.setup.is_shorted && row.is_like(group[0]))
            .collect();
        judge_group(asked, group, &floors, instruments)
    });
    let judged: Vec<Judgement> = judged.collect();
    let such = |shown: Shown| {
        let all = judged.iter().filter(move |one| one.shown == shown);
        all.cloned()
    };
    such(Shown::Fails)
        .next()
        .or_else(|| together(asked, such(Shown::Holds).collect()))
        .or_else(|| such(Shown::NotShown).max_by_key(|one| one.rows.last().copied()))
}

/// Judgements that hold, as one: that of the tightest, with the rows and the mains of all.
fn together(asked: &Asked, all: Vec<Judgement>) -> Option<Judgement> {
    let room = |one: &Judgement| {
        let below = asked.min.map_or(f64::INFINITY, |min| one.low - min);
        let above = asked.max.map_or(f64::INFINITY, |max| max - one.high);
        below.min(above)
    };
    let mut rows: Vec<u64> = all.iter().flat_map(|one| one.rows.clone()).collect();
    rows.sort_unstable();
    let mains = all.iter().flat_map(|one| one.mains.clone()).collect();
    let tightest = all.into_iter().min_by(|a, b| room(a).total_cmp(&room(b)))?;
    Some(Judgement {
        rows,
        mains,
        ..tightest
    })
}

/// Whether a row repeats another: read the same way, at the same mains, and not so far off that something else was read.
fn is_repeat(asked: &Asked, first: &Row, row: &Row, instruments: &[Instrument]) -> bool {
    let same_mains = match (first.mains_v, row.mains_v) {
        (Some(one), Some(other)) => (one - other).abs() <= SAME_MAINS * one,
        (None, None) => true,
        (Some(_), None) | (None, Some(_)) => false,
    };
    if !(first.is_like(row) && same_mains && first.step == row.step) {
        return false;
    }
    // Noise scatters by more than an instrument errs; to split it would be to pick the reading that pleases.
    if is_alternating(asked.what) {
        return true;
    }
    let largest = first.value.abs().max(row.value.abs());
    path_of(asked, row, largest, instruments).map_or(true, |path| {
        (first.value - row.value).abs() <= APART * path.error(largest)
    })
}

fn judge_group(
    asked: &Asked,
    rows: &[&Row],
    floors: &[&Row],
    instruments: &[Instrument],
) -> Judgement {
    let values: Vec<f64> = rows.iter().map(|row| row.value).collect();
    let mut judgement = Judgement {
        shown: Shown::NotShown,
        value: gum::mean(&values).0,
        low: f64::NEG_INFINITY,
        high: f64::INFINITY,
        why: Why::Between,
        rows: rows.iter().map(|row| row.row).collect(),
        mains: rows.iter().filter_map(|row| row.mains_v).collect(),
        taken: Vec::new(),
    };
    if judgement.mains.len() < rows.len() {
        judgement.taken.push(Taken::MainsNotRead);
    }
    let largest = values
        .iter()
        .fold(0.0_f64, |most, value| most.max(value.abs()));
    let path = match path_of(asked, rows[0], largest, instruments) {
        Ok(path) => path,
        Err(why) => {
            judgement.why = why;
            return judgement;
        }
    };
    if path.range.is_resolution_default && path.range.offset > 0.0 {
        judgement
            .taken
            .push(Taken::CountOfRange(path.range.resolution));
    }
    let at_meter = largest * path.gain();
    if at_meter > path.range.full {
        judgement.why = Why::BeyondRange {
            end: path.range.full / path.gain(),
        };
        return judgement;
    }
    let valid_from = path.function.valid_above * path.range.full / path.gain();
    if largest < valid_from {
        judgement.why = Why::BelowValid { from: valid_from };
        return judgement;
    }
    if let Some((low, high)) = band::without_mains(asked, &path) {
        judgement.why = Why::BandTooNarrow { low, high };
        return judgement;
    }
    if let Some(count) = shape::averaged_away(asked, &path, rows[0]) {
        judgement.why = Why::AveragedAway(count);
        return judgement;
    }
    if is_alternating(asked.what) {
        let averages = rows[0].averages.unwrap_or(1).max(1);
        alternating(
            asked,
            &path,
            rows,
            &values,
            floors,
            averages,
            &mut judgement,
        );
    } else {
        let (value, scatter) = gum::mean(&values);
        let error = path.reading_error(value, scatter);
        let guard = error.one_sided(PROBABILITY);
        judgement.low = value - guard;
        judgement.high = value + guard;
        without_ammeter(asked, &path, rows[0], instruments, &mut judgement);
        without_input(asked, rows[0], &mut judgement);
        if asked.what == What::RmsCurrent {
            shape::of_pulses(asked, path.function, &mut judgement);
        }
        if let Some(inside) = asked.inside {
            inside_of(inside, &mut judgement);
        }
        judgement.shown = within(judgement.low, judgement.high, asked.min, asked.max);
    }
    if judgement.shown != Shown::NotShown {
        judgement.why = Why::Clear;
    }
    judgement
}

/// From the outside of a part, where it was read, to its inside, which is asked for.
fn inside_of(inside: Inside, judgement: &mut Judgement) {
    judgement.low += inside.least;
    match inside.most {
        Some(most) => {
            judgement.high += most;
            let least = inside.least;
            judgement.taken.push(Taken::HotterInside { least, most });
        }
        None => {
            judgement.high = f64::INFINITY;
            judgement.why = Why::HotterInside;
        }
    }
}

/// Ripple and noise: what is there, over what the instrument reads of itself.
fn alternating(
    asked: &Asked,
    path: &Path<'_>,
    rows: &[&Row],
    values: &[f64],
    floors: &[&Row],
    averages: u32,
    judgement: &mut Judgement,
) {
    let cover = match band::cover(asked, path) {
        Ok(cover) => cover,
        Err(why) => {
            judgement.why = why;
            return;
        }
    };
    let floor_values: Vec<f64> = floors.iter().map(|row| row.value).collect();
    let around = is_around(&judgement.rows, floors);
    let shape = Shape::of(asked, path.function.detector, &mut judgement.taken);
    let (reading, floor) = (rms(values), rms(&floor_values));
    let may_hold_mains = asked.what != What::Noise;
    let scatter = if may_hold_mains {
        0.0
    } else {
        // What a single reading of noise scatters by: 1/√(2ν) of it, with ν twice band times time.
        let width = path.band().map_or(0.0, |(low, high)| high - low);
        let record = RECORD * f64::from(averages);
        PROBABLE / libm::sqrt((4.0 * width * record).max(1.0))
    };
    let error_of = |value: f64| path.error(value) + scatter * value;
    let (error, floor_error) = (
        path.error(reading) + seen_scatter(values).max(scatter * reading),
        path.error(floor) + seen_scatter(&floor_values).max(scatter * floor),
    );
    let (mut low, mut high);
    if !may_hold_mains && values.len() >= REPEATS && floor_values.len() >= 2 && around {
        let over = OverFloor {
            reading,
            floor,
            nu_reading: freedom(values, path.range.resolution / path.gain()),
            nu_floor: freedom(&floor_values, path.range.resolution / path.gain()),
            repeats: spread_between(&floor_values),
        };
        if !over.is_consistent() {
            judgement.why = Why::FloorInconsistent;
            return;
        }
        let reach = over.sensitivity();
        if asked.max.is_some_and(|max| reach > max) {
            judgement.why = Why::Blind { reach };
            judgement.high = over.decision_bound();
            return;
        }
        // Gain and offset of the specification are common to reading and floor.
        let gain = path.range.share;
        let offset = path.range.offset / path.gain();
        let shifted = |by: f64| OverFloor {
            reading: (reading + by).max(0.0),
            floor: (floor + by).max(1e-12 * reading),
            ..over
        };
        let bounds = [over, shifted(offset), shifted(-offset)];
        high = bounds
            .iter()
            .map(OverFloor::decision_bound)
            .fold(0.0, f64::max)
            * (1.0 + gain);
        low = bounds
            .iter()
            .map(OverFloor::lower_bound)
            .fold(f64::INFINITY, f64::min)
            * (1.0 - gain);
        judgement.value = over.signed().max(0.0);
    } else if floor_values.is_empty() {
        // Nothing is taken off, and all of it may be the instrument's own; what reads below that shows no more than it would.
        let own = reach::averaged(path, path.floor(), averages);
        let seen = reading.max(own);
        high = seen + error.max(path.error(seen));
        low = 0.0;
    } else if may_hold_mains {
        judgement.taken.push(Taken::SameWave);
        (low, high) = coherent(reading, error, floor, floor_error);
    } else {
        let record = RECORD * f64::from(averages);
        judgement.taken.push(Taken::Record(record));
        if reading + error < floor - floor_error {
            judgement.why = Why::FloorInconsistent;
            return;
        }
        low = interval(reading, error, floor, floor_error).0;
        // A lucky low reading shows no more than the floor would, read once more.
        let seen = reading.max(floor);
        high = interval(seen, error.max(error_of(seen)), floor, floor_error).1;
        judgement.value = libm::sqrt((reading * reading - floor * floor).max(0.0));
    }
    high *= shape.most;
    low *= shape.least;
    if let Cover::Less { missing } = cover {
        if missing > NOTHING * high {
            judgement.taken.push(Taken::PredictedOutside(missing));
        }
        high = libm::sqrt(high * high + missing * missing);
    }
    judgement.low = low;
    judgement.high = high;
    without_input(asked, rows[0], judgement);
    judgement.shown = within(judgement.low, judgement.high, asked.min, asked.max);
    if judgement.shown == Shown::Fails && cover == Cover::More {
        judgement.shown = Shown::NotShown;
        judgement.why = Why::ReadsMore;
    }
    let is_above = asked.max.is_some_and(|max| reading > max);
    if judgement.shown == Shown::NotShown && is_above && floor_values.is_empty() {
        judgement.why = Why::FloorNotRead;
    }
}

impl<'a> Path<'a> {
    /// Gain of what stands in front.
    pub fn gain(&self) -> f64 {
        self.amplifier
            .and_then(|amplifier| amplifier.amplifier.as_ref())
            .map_or(1.0, |amplifier| amplifier.gain.nominal())
    }

    /// Largest error of a reading, referred to the point that is read: the range, half a step, the amplifier's gain.
    pub fn error(&self, value: f64) -> f64 {
        let (in_gain, in_offset) = self.errors(value);
        in_gain + in_offset
    }

    /// The parts of that: what goes with the reading, and what does not.
    fn errors(&self, value: f64) -> (f64, f64) {
        let gain = self.gain();
        let step = self.function.bits.map_or(0.0, |bits| {
            0.5 * meter::quantum(self.range.full, bits) / gain
        });
        let share = self.range.share + self.gain_error();
        (share * value.abs(), self.range.offset / gain + step)
    }

    /// What its error is taken for beside a scatter: one bounded error, or two where the job says that they are apart.
    pub fn reading_error(&self, value: f64, scatter: Component) -> ReadingError {
        let (in_gain, in_offset) = self.errors(value);
        let (bound, apart) = if self.function.is_error_apart {
            (in_gain, in_offset)
        } else {
            (in_gain + in_offset, 0.0)
        };
        ReadingError {
            bound,
            apart,
            scatter,
        }
    }

    fn gain_error(&self) -> f64 {
        let figure = self
            .amplifier
            .and_then(|amplifier| amplifier.amplifier.as_ref())
            .map(|amplifier| &amplifier.gain.value);
        figure.map_or(0.0, |gain| {
            (gain.high - gain.nominal).max(gain.nominal - gain.low) / gain.nominal
        })
    }

    /// The band in which it reads right: of the instrument, the amplifier and the set-up together.
    pub fn band(&self) -> Option<(f64, f64)> {
        let mut band = self.function.band?;
        let of_amplifier = self
            .amplifier
            .and_then(|amplifier| amplifier.amplifier.as_ref())
            .and_then(|amplifier| amplifier.band);
        for (low, high) in [of_amplifier, self.narrowed].into_iter().flatten() {
            band = (band.0.max(low), band.1.min(high));
        }
        Some(band)
    }

    /// What it reads with its input shorted, referred to the input and scaled to its band; 0 where nothing is known.
    pub fn floor(&self) -> f64 {
        let gain = self.gain();
        let width = self.band().map_or(0.0, |(low, high)| (high - low).max(0.0));
        let own_width = self.function.band.map_or(width, |(low, high)| high - low);
        let stated = self.function.floor.map_or(0.0, |floor| {
            // As white noise; a step of the converter does not shrink with the band.
            floor.value * libm::sqrt((width / own_width.max(1e-30)).min(1.0))
        });
        let density = self
            .function
            .noise
            .map_or(0.0, |noise| meter::white(noise, width));
        let step = self.function.bits.map_or(0.0, |bits| {
            meter::quantisation(meter::quantum(self.range.full, bits))
        });
        let behind = libm::sqrt(stated * stated + density * density + step * step) / gain;
        let front = self
            .amplifier
            .and_then(|amplifier| amplifier.amplifier.as_ref())
            .and_then(|amplifier| amplifier.noise.as_ref())
            .map_or(0.0, |noise| meter::white(noise.nominal(), width));
        libm::sqrt(behind * behind + front * front)
    }
}

/// Which function of an instrument reads a statistic.
pub fn function_for(what: What, instrument: &Instrument) -> Option<&Function> {
    let sees_instants =
        |function: &&Function| matches!(function.detector, Some(Detector::Sample | Detector::Peak));
    match what {
        What::Mean | What::Drift => instrument.function(Reads::DcVolts),
        What::Valley | What::Peak | What::ReverseVoltage => {
            instrument.function(Reads::DcVolts).filter(sees_instants)
        }
        What::Ripple | What::Noise | What::RippleAndNoise => instrument.function(Reads::AcVolts),
        What::RipplePeakToPeak => instrument.function(Reads::AcVolts).filter(sees_instants),
        What::Current => instrument.function(Reads::DcCurrent),
        What::RmsCurrent => instrument.function(Reads::AcCurrent),
        What::PeakCurrent => [Reads::AcCurrent, Reads::DcCurrent]
            .into_iter()
            .filter_map(|reads| instrument.function(reads))
            .find(sees_instants),
        What::Power => instrument.function(Reads::Power),
        What::Temperature => instrument.function(Reads::Temperature),
        // Worked out from others, or seen in a record of time.
        What::Headroom | What::Life | What::Start | What::HoldUp => None,
    }
}

/// Whether a statistic is one of the alternating part.
pub fn is_alternating(what: What) -> bool {
    matches!(
        what,
        What::Ripple | What::RipplePeakToPeak | What::Noise | What::RippleAndNoise
    )
}

/// The way in which a row was read.
///
/// # Errors
/// Why the row proves nothing.
pub fn path_of<'a>(
    asked: &Asked,
    row: &Row,
    largest: f64,
    instruments: &'a [Instrument],
) -> Result<Path<'a>, Why> {
    path_for(asked.what, row, largest, instruments)
}

/// The way in which a row was read that reads a statistic.
///
/// # Errors
/// Why the row proves nothing.
pub fn path_for<'a>(
    what: What,
    row: &Row,
    largest: f64,
    instruments: &'a [Instrument],
) -> Result<Path<'a>, Why> {
    let named = |name: &str| {
        let found = instruments
            .iter()
            .find(|instrument| instrument.name == name);
        found.ok_or_else(|| Why::UnknownInstrument(name.to_owned()))
    };
    let instrument = named(&row.instrument)?;
    let function = function_for(what, instrument).ok_or(Why::NoFunction)?;
    let amplifier = match &row.setup.through {
        Some(name) => {
            let amplifier = named(name)?;
            amplifier.amplifier.as_ref().ok_or(Why::NoFunction)?;
            Some(amplifier)
        }
        None => None,
    };
    let gain = amplifier
        .and_then(|amplifier| amplifier.amplifier.as_ref())
        .map_or(1.0, |amplifier| amplifier.gain.nominal());
    if function.ranges.is_empty() {
        return Err(Why::NoError);
    }
    let range = if row.range.is_empty() {
        // The smallest that it fits in is what an instrument that ranges by itself takes.
        function
            .range_for(largest * gain)
            .ok_or_else(|| Why::BeyondRange {
                end: function
                    .ranges
                    .iter()
                    .fold(0.0, |end, range| range.full.max(end))
                    / gain,
            })?
    } else {
        function
            .range_named(&row.range)
            .ok_or_else(|| Why::UnknownRange(row.range.clone()))?
    };
    Ok(Path {
        instrument,
        function,
        range,
        amplifier,
        narrowed: row.setup.band,
    })
}

/// The two-sided range of a reading without a limit, 95 %.
pub fn range_of(path: &Path<'_>, values: &[f64]) -> (f64, f64) {
    let (value, scatter): (f64, Component) = gum::mean(values);
    let error = path.reading_error(value, scatter);
    let half = error.two_sided(PROBABILITY);
    (value - half, value + half)
}
