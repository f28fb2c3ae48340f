//! The instruments of the bench: which read a row, which suit it, and what they err by.

use super::{Expectation, Observed};
use quietrail_bench::judge::{function_for, is_alternating, path_for};
use quietrail_bench::log::Row;
use quietrail_job::model::{Detector, Function, Instrument, InstrumentKind, Job, Reads, What};

/// Largest error of a reading, where the job gives the instrument and its range; of an alternating part with what the instrument
/// reads of itself.
pub fn error_of(instruments: &[Instrument], row: &Row) -> Option<f64> {
    let instrument = instruments
        .iter()
        .find(|known| known.name == row.instrument)?;
    if let Observed::Statistic(what) = row.what {
        let path = path_for(what, row, row.value.abs(), instruments).ok()?;
        // What it reads of itself is in every reading of an alternating part.
        let floor = if is_alternating(what) {
            path.floor()
        } else {
            0.0
        };
        let pulses = match (what, path.function.detector) {
            (What::RmsCurrent, detector) if !is_of_rms(detector) => PULSES * row.value.abs(),
            _ => 0.0,
        };
        return Some(path.error(row.value) + floor + pulses);
    }
    let function = function_of(instrument, row.what)?;
    let range = if row.range.is_empty() {
        function.range_for(row.value)?
    } else {
        function.range_named(&row.range)?
    };
    Some(range.error(row.value))
}

/// How much more rms a rectifier's pulses may have than a detector shows that does not answer to it, as a part of what it shows (common
/// practice, no source).
const PULSES: f64 = 2.0;

/// Whether a detector answers to the rms, whatever the wave.
fn is_of_rms(detector: Option<Detector>) -> bool {
    matches!(detector, Some(Detector::TrueRms | Detector::Sample))
}

/// The function of an instrument that reads something; `None` where it has none, or where the reading follows from others.
pub fn function_of(instrument: &Instrument, what: Observed) -> Option<&Function> {
    match what {
        Observed::Statistic(what) => function_for(what, instrument),
        Observed::RmsVoltage => instrument.function(Reads::AcVolts),
        // From a capture it follows from two readings, whose errors are not those of one range.
        Observed::Esr if instrument.kind != InstrumentKind::Bridge => None,
        Observed::Resistance | Observed::Insulation | Observed::Esr => {
            instrument.function(Reads::Resistance)
        }
        Observed::Capacitance => instrument.function(Reads::Capacitance),
        Observed::Frequency => instrument.function(Reads::Frequency),
        Observed::WarmUpCurrent => instrument.function(Reads::DcCurrent),
        Observed::Level
        | Observed::Harmonic
        | Observed::Spur
        | Observed::PhaseNoise
        | Observed::WarmUp
        | Observed::Retrace
        | Observed::Check
        | Observed::Override => None,
    }
}

/// The instrument that reads a current, the named one or the first of the bench that does, and the ohms that it puts in;
/// `None` where the job does not give them.
pub fn ammeter_of<'a>(
    job: &'a Job,
    what: What,
    instrument: Option<&str>,
) -> Option<(&'a str, f64)> {
    if !matches!(what, What::Current | What::RmsCurrent | What::PeakCurrent) {
        return None;
    }
    let named = |one: &&Instrument| instrument.is_none_or(|name| name == one.name);
    let found = job
        .instruments
        .iter()
        .filter(named)
        .find(|one| function_for(what, one).is_some())?;
    let ohms = function_for(what, found)?.burden.as_ref()?.nominal();
    Some((found.name.as_str(), ohms))
}

/// Whether an instrument of the bench reads something.
pub fn reads(instrument: &Instrument, what: Observed) -> bool {
    match what {
        Observed::Statistic(what) => function_for(what, instrument).is_some(),
        Observed::RmsVoltage => instrument.function(Reads::AcVolts).is_some(),
        Observed::Resistance => instrument.function(Reads::Resistance).is_some(),
        Observed::Insulation => instrument.test_volts.is_some(),
        Observed::Capacitance => instrument.function(Reads::Capacitance).is_some(),
        Observed::Esr => {
            let is_bridge = instrument.kind == InstrumentKind::Bridge;
            is_bridge || function_for(What::RipplePeakToPeak, instrument).is_some()
        }
        Observed::Frequency => instrument.function(Reads::Frequency).is_some(),
        Observed::WarmUpCurrent => instrument.function(Reads::DcCurrent).is_some(),
        Observed::Level | Observed::Harmonic | Observed::Spur | Observed::PhaseNoise => {
            instrument.spectrum.is_some()
        }
        // Against a watch: what tells the frequency is a counter, or an analyser that shows it.
        Observed::WarmUp | Observed::Retrace => {
            matches!(
                instrument.kind,
                InstrumentKind::Counter | InstrumentKind::Analyser
            ) || instrument.function(Reads::Frequency).is_some()
        }
        Observed::Check | Observed::Override => true,
    }
}

/// Whether a reading is of the alternating part.
pub fn is_of_alternating_part(what: Observed) -> bool {
    match what {
        Observed::Statistic(what) => is_alternating(what),
        _ => false,
    }
}

/// A value below this part of a range was hardly read on it.
const SPAN: f64 = 300.0;

/// The end of what a row is expected to read, away from zero; of a safety row that of its limit. `None` where nothing is known.
fn far_end(one: &Expectation) -> Option<f64> {
    let limit = one.safety.and_then(|row| row.limit);
    let ends = match limit {
        Some(limit) => [limit.min, limit.max],
        None => [one.low, one.high],
    };
    let sizes = ends.into_iter().flatten().map(f64::abs);
    sizes.reduce(f64::max)
}

/// Whether an instrument suits a row: it reads it, one of its ranges holds what is expected, and a safety row is read by what
/// could show it.
///
/// What tests insulation puts hundreds of volts across it, and reads no other resistance; a limit of a safety row wants an
/// instrument that errs by less than the limit itself.
pub fn suits(instrument: &Instrument, one: &Expectation) -> bool {
    if !reads(instrument, one.what) {
        return false;
    }
    if one.what == Observed::Resistance && instrument.test_volts.is_some() {
        return false;
    }
    let Some(function) = function_of(instrument, one.what) else {
        return true;
    };
    let Some(end) = far_end(one) else {
        return true;
    };
    let mut holding = function.ranges.iter().filter(|range| range.full >= end);
    match one
        .safety
        .and_then(|row| row.limit)
        .and_then(|limit| limit.max)
    {
        Some(max) => holding.any(|range| range.share * max + range.offset < max),
        None => function.ranges.is_empty() || holding.next().is_some(),
    }
}

/// Instruments to choose from for a row: those that read it, but what puts hundreds of volts across insulation for no other
/// resistance.
pub fn offered<'a>(instruments: &'a [Instrument], one: &Expectation) -> Vec<&'a Instrument> {
    let is_harmless =
        |known: &&Instrument| one.what != Observed::Resistance || known.test_volts.is_none();
    let all = instruments.iter().filter(|known| reads(known, one.what));
    all.filter(is_harmless).collect()
}

/// The first instrument of the bench that suits a row; of a safety row the one that errs least at its limit.
pub fn suited<'a>(instruments: &'a [Instrument], one: &Expectation) -> Option<&'a Instrument> {
    let mut all = instruments.iter().filter(|known| suits(known, one));
    if one.safety.is_none() {
        return all.next();
    }
    let end = far_end(one)?;
    let error = |known: &Instrument| {
        let function = function_of(known, one.what);
        let ranges = function.into_iter().flat_map(|function| &function.ranges);
        let holding = ranges.filter(|range| range.full >= end);
        holding
            .map(|range| range.share * end + range.offset)
            .fold(f64::INFINITY, f64::min)
    };
    all.min_by(|a, b| error(a).total_cmp(&error(b)))
}

/// Whether a range that was read on before is one to read a row on: of that function, above what is expected, and not far above.
pub fn is_apt_range(instrument: &Instrument, one: &Expectation, range: &str) -> bool {
    let end = function_of(instrument, one.what).and_then(|function| function.end_of(range));
    let expected = far_end(one).unwrap_or(0.0);
    end.is_some_and(|end| expected <= end && expected > end / SPAN)
}
