//! What would show a limit: every way to read it on this bench, the easiest first, and what each would come to.

use super::{Asked, Path, REPEATS, band, function_for, is_alternating};
use crate::decide::{PROBABILITY, Shown, within};
use crate::floor::OverFloor;
use crate::gum::Component;
use crate::meter;
use quietrail_job::model::{Detector, Instrument, What};

/// A way to read, and what it would come to.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Name of the instrument.
    pub instrument: String,
    /// Its range, as the job writes it.
    pub range: String,
    /// What stands in front, if anything.
    pub through: Option<String>,
    /// Band that it is narrowed to by a filter.
    pub narrowed: Option<(f64, f64)>,
    /// Repeats, with floors before and after, if one reading is not enough.
    pub repeats: Option<u32>,
    /// Averages under the line's trigger: they leave what is locked to the mains and take the rest down by their root.
    pub averages: Option<u32>,
    /// What it reads with its input shorted, SI.
    pub floor: f64,
    /// What is expected to be there.
    pub expected: f64,
    /// The bound that it would give.
    pub bound: f64,
}

/// Whether the bench can show a limit at all.
#[derive(Clone, Debug, PartialEq)]
pub enum Prospect {
    /// The first of the ways that would.
    Can(Way),
    /// None would. The one that comes closest, and the error that it would have to stay below.
    Cannot {
        /// Closest.
        closest: Option<Way>,
        /// Distance between what is expected and the limit: error and floor together have to stay below it.
        needs: f64,
    },
    /// What is expected does not meet the limit itself, so that no reading would show that it holds.
    NotMet,
    /// Nothing on the bench reads this statistic.
    NoInstrument,
}

/// Every way to read a statistic on this bench, the easiest first: as it stands, then repeats, then a filter, then an
/// amplifier in front.
pub fn ways(asked: &Asked, expected: f64, instruments: &[Instrument]) -> Vec<Way> {
    let mut all: Vec<(u32, Way)> = Vec::new();
    for instrument in instruments {
        let Some(function) = function_for(asked.what, instrument) else {
            continue;
        };
        for (amplifier, effort) in fronts(asked, instruments) {
            for narrowed in [None, Some(band::wanted(asked))] {
                let useful = narrowed.is_none_or(|(_, high)| {
                    is_alternating(asked.what)
                        && high.is_finite()
                        && function.band.is_some_and(|(_, own)| own > 1.05 * high)
                });
                if !useful {
                    continue;
                }
                let gain = gain_of(amplifier);
                let Some(range) = function.range_for(expected * gain) else {
                    continue;
                };
                let path = Path {
                    instrument,
                    function,
                    range,
                    amplifier,
                    narrowed,
                };
                let effort = effort + if narrowed.is_some() { 20 } else { 0 };
                all.extend(
                    of_path(asked, expected, &path)
                        .into_iter()
                        .map(|(more, way)| (effort + more, way)),
                );
            }
        }
    }
    all.sort_by(|(a, one), (b, other)| a.cmp(b).then(one.bound.total_cmp(&other.bound)));
    all.into_iter().map(|(_, way)| way).collect()
}

/// Whether this bench can show that a limit holds, where what is there is as expected.
pub fn prospect(asked: &Asked, expected: f64, instruments: &[Instrument]) -> Prospect {
    if within(expected, expected, asked.min, asked.max) != Shown::Holds {
        return Prospect::NotMet;
    }
    let all = ways(asked, expected, instruments);
    let none = all.is_empty();
    if let Some(way) = all.iter().find(|way| shows(asked, expected, way.bound)) {
        return Prospect::Can(way.clone());
    }
    let below = asked.max.map_or(f64::INFINITY, |max| max - expected);
    let above = asked.min.map_or(f64::INFINITY, |min| expected - min);
    let reads = instruments
        .iter()
        .any(|instrument| function_for(asked.what, instrument).is_some());
    if none && !reads {
        return Prospect::NoInstrument;
    }
    let distance = |way: &Way| (way.bound - expected).abs();
    Prospect::Cannot {
        closest: all
            .into_iter()
            .min_by(|a, b| distance(a).total_cmp(&distance(b))),
        needs: below.min(above),
    }
}

/// Whether a bound on that side of the expected value lies within the limits, the other side mirrored.
fn shows(asked: &Asked, expected: f64, bound: f64) -> bool {
    let guard = (bound - expected).abs();
    within(expected - guard, expected + guard, asked.min, asked.max) == Shown::Holds
}

fn fronts<'a>(asked: &Asked, instruments: &'a [Instrument]) -> Vec<(Option<&'a Instrument>, u32)> {
    let mut all = vec![(None, 0)];
    if is_alternating(asked.what) {
        let amplifiers = instruments
            .iter()
            .filter(|instrument| instrument.amplifier.is_some());
        all.extend(amplifiers.map(|amplifier| (Some(amplifier), 40)));
    }
    all
}

fn gain_of(amplifier: Option<&Instrument>) -> f64 {
    amplifier
        .and_then(|amplifier| amplifier.amplifier.as_ref())
        .map_or(1.0, |amplifier| amplifier.gain.nominal())
}

/// Whether averages under the line's trigger help: what is asked is locked to the mains, and the instrument samples and averages.
fn is_averaged_by_the_line(asked: &Asked, path: &Path<'_>) -> bool {
    matches!(asked.what, What::Ripple | What::RipplePeakToPeak)
        && path.function.detector == Some(Detector::Sample)
        && path.function.averages > 1
}

/// A floor after averages: its noise goes down by their root, the step of the converter stays.
pub(super) fn averaged(path: &Path<'_>, floor: f64, count: u32) -> f64 {
    let step = path.function.bits.map_or(0.0, |bits| {
        meter::quantisation(meter::quantum(path.range.full, bits)) / path.gain()
    });
    let random = (floor * floor - step * step).max(0.0);
    libm::sqrt(random / f64::from(count) + step * step)
}

/// One reading, and repeats where they help.
fn of_path(asked: &Asked, expected: f64, path: &Path<'_>) -> Vec<(u32, Way)> {
    let way = |floor: f64, bound: f64, repeats: Option<u32>| Way {
        averages: None,
        instrument: path.instrument.name.clone(),
        range: path.range.words.clone(),
        through: path.amplifier.map(|amplifier| amplifier.name.clone()),
        narrowed: path.narrowed,
        repeats,
        floor,
        expected,
        bound,
    };
    if !is_alternating(asked.what) {
        let scatter = Component {
            u: 0.0,
            nu: f64::INFINITY,
        };
        let error = path.reading_error(expected, scatter);
        // Outside of a part nothing tells how hot it is inside, but where that follows.
        let apart = match asked.inside.map(|inside| (inside.least, inside.most)) {
            None => 0.0,
            Some((least, Some(most))) => most - least,
            Some((_, None)) => return Vec::new(),
        };
        let bound = expected + apart + error.one_sided(PROBABILITY);
        let pulses = (asked.what == What::RmsCurrent)
            .then(|| super::shape::pulses(path.function.detector))
            .flatten();
        let bound = bound * pulses.map_or(1.0, |shape| shape.most);
        if bound.is_infinite() {
            return Vec::new();
        }
        return vec![(0, way(0.0, bound, None))];
    }
    let Ok(cover) = band::cover(asked, path) else {
        return Vec::new();
    };
    let floor = path.floor();
    let valid_from = path.function.valid_above * path.range.full / path.gain();
    let reading = libm::sqrt(expected * expected + floor * floor);
    if reading < valid_from {
        return Vec::new();
    }
    let missing = match cover {
        super::Cover::Less { missing } => missing,
        super::Cover::Just | super::Cover::More => 0.0,
    };
    let mut nothing = Vec::new();
    let shape = super::shape::Shape::of(asked, path.function.detector, &mut nothing);
    let with_rest = |bound: f64| {
        let bound = bound * shape.most;
        libm::sqrt(bound * bound + missing * missing)
    };
    // One reading, nothing taken off.
    let mut all = vec![(
        0,
        way(floor, with_rest(reading + path.error(reading)), None),
    )];
    if is_averaged_by_the_line(asked, path) && floor > 0.0 {
        let count = path.function.averages;
        let floor = averaged(path, floor, count);
        let reading = libm::sqrt(expected * expected + floor * floor);
        let one = way(floor, with_rest(reading + path.error(reading)), None);
        let averages = Some(count);
        all.push((5, Way { averages, ..one }));
    }
    if asked.what == What::Noise && floor > 0.0 && path.function.averages > 1 {
        let repeats = path.function.floor.map_or(0.0, |floor| floor.repeats);
        let nu = f64::from(path.function.averages.max(REPEATS as u32)) * 100.0;
        let over = OverFloor {
            reading,
            floor,
            nu_reading: nu,
            nu_floor: nu,
            repeats,
        };
        let bound = with_rest(over.decision_bound() * (1.0 + path.range.share));
        all.push((
            10,
            way(
                floor,
                bound,
                Some(path.function.averages.max(REPEATS as u32)),
            ),
        ));
    }
    all
}
