//! `[instrument.X]`: functions, ranges with their errors, floors.

use super::fields::Fields;
use super::quantity;
use crate::fault::{Fault, Faults};
use crate::keys::{DETECTORS, FUNCTIONS, INSTRUMENTS, PROBES};
use crate::model::{
    Amplifier, Detector, Floor, Function, Instrument, InstrumentKind, Range, Reads,
};
use crate::written::{Shape, Value};
use quietrail_units::{Farads, Form, Hertz, Kind, Ohms, Ratio, VoltsPerRootHertz};

const KINDS: &[InstrumentKind] = &[
    InstrumentKind::Multimeter,
    InstrumentKind::Oscilloscope,
    InstrumentKind::Analyser,
    InstrumentKind::Counter,
    InstrumentKind::Thermometer,
    InstrumentKind::Bridge,
    InstrumentKind::Recorder,
    InstrumentKind::Preamplifier,
];

const READS: &[Reads] = &[
    Reads::AcVolts,
    Reads::DcVolts,
    Reads::AcCurrent,
    Reads::DcCurrent,
    Reads::Resistance,
    Reads::Capacitance,
    Reads::Frequency,
    Reads::Temperature,
    Reads::Power,
];

pub(super) const DETECTS: &[Detector] = &[
    Detector::TrueRms,
    Detector::Average,
    Detector::Peak,
    Detector::Sample,
    Detector::LogAverage,
];

const FACTORS: &[f64] = &[1.0, 10.0, 100.0];

/// What is taken where the job does not say how far a display counts.
const COUNTS_PER_LEADING_DIGITS: f64 = 1000.0;

/// `[instrument.X]`
pub(crate) fn instrument(
    name: &str,
    fields: &Fields<'_>,
    faults: &mut Faults,
) -> Option<Instrument> {
    let kind = of_list(fields.text("kind"), INSTRUMENTS, KINDS)?;
    // All are read before any that is at fault ends it: one run reports everything.
    let read: Vec<Option<Function>> = FUNCTIONS
        .iter()
        .zip(READS)
        .filter_map(|(key, reads)| Some((*reads, fields.inner(key)?)))
        .map(|(reads, inner)| function(reads, &inner, faults))
        .collect();
    let functions = read.into_iter().collect::<Option<Vec<_>>>()?;
    let amplifier = match fields.has("gain") {
        true => Some(Amplifier {
            gain: fields.figure::<Ratio>("gain")?,
            noise: optional(fields, "noise", |f| f.figure::<VoltsPerRootHertz>("noise"))?,
            band: optional(fields, "band", |f| band(f, "band"))?,
            input: optional(fields, "input", |f| f.pair::<Ohms, Farads>("input"))?,
        }),
        false => None,
    };
    if kind == InstrumentKind::Preamplifier && amplifier.is_none() {
        let fault = Fault::MissingFigure {
            owner: fields.owner.clone(),
            key: "gain",
            says: "Of a preamplifier: its gain.",
            entry: fields.entry(),
        };
        faults.at(fields.place.clone(), &fault);
    }
    Some(Instrument {
        name: name.to_owned(),
        kind,
        functions,
        amplifier,
        spectrum: optional(fields, "spectrum", |f| {
            super::acceptance::spectrum(&f.inner("spectrum")?)
        })?,
        counting: match fields.inner("counting") {
            Some(inner) => Some(super::acceptance::counting(&inner, faults)?),
            None => None,
        },
        test_volts: fields
            .figure::<quietrail_units::Volts>("test")
            .map(|figure| figure.nominal()),
        span: fields.job_span("kind"),
    })
}

fn function(reads: Reads, fields: &Fields<'_>, faults: &mut Faults) -> Option<Function> {
    let counts = number(fields, "counts").map(f64::from);
    let mut ranges = Vec::new();
    for item in fields.items("ranges").unwrap_or_default() {
        let Some(words) = item.text() else { continue };
        match range(words, reads.kind(), counts) {
            Ok(range) => ranges.push(range),
            Err(said) => faults.of(item, &Fault::RangeText { said }),
        }
    }
    if ranges.len() != fields.items("ranges").unwrap_or_default().len() {
        return None;
    }
    Some(Function {
        reads,
        detector: of_list(fields.text("detector"), DETECTORS, DETECTS),
        band: optional(fields, "band", |f| band(f, "band"))?,
        resolution_bandwidth: optional(fields, "resolution_bandwidth", |f| {
            band(f, "resolution_bandwidth")
        })?,
        ranges,
        bits: number(fields, "bits"),
        is_error_apart: fields.text("errors") == Some("apart"),
        valid_above: fields
            .figure::<Ratio>("valid_above")
            .map_or(0.0, |figure| figure.nominal()),
        floor: match fields.value("floor") {
            Some(value) => Some(floor(value, reads.kind(), faults)?),
            None => None,
        },
        noise: fields
            .figure::<VoltsPerRootHertz>("noise")
            .map(|figure| figure.nominal()),
        averages: number(fields, "averages").unwrap_or(1),
        input: optional(fields, "input", |f| f.pair::<Ohms, Farads>("input"))?,
        burden: optional(fields, "burden", |f| f.figure::<Ohms>("burden"))?,
        is_ac_coupled: fields.text("coupling").map(|coupling| coupling == "ac"),
        probe: of_list(fields.text("probe"), PROBES, FACTORS).unwrap_or(1.0),
    })
}

pub(super) fn of_list<T: Copy>(word: Option<&str>, words: &[&str], values: &[T]) -> Option<T> {
    let word = word?;
    let index = words.iter().position(|known| *known == word)?;
    values.get(index).copied()
}

/// `None` outside where the key is there and cannot be read.
fn optional<'a, T>(
    fields: &Fields<'a>,
    key: &str,
    read: impl Fn(&Fields<'a>) -> Option<T>,
) -> Option<Option<T>> {
    if fields.has(key) {
        return read(fields).map(Some);
    }
    Some(None)
}

fn number(fields: &Fields<'_>, key: &str) -> Option<u32> {
    match &fields.value(key)?.shape {
        Shape::Number(words) => words.parse().ok(),
        _ => None,
    }
}

/// A range of frequencies; one alone is the upper end.
pub(super) fn band(fields: &Fields<'_>, key: &str) -> Option<(f64, f64)> {
    let figure = fields.figure::<Hertz>(key)?;
    if figure.value.form == Form::Range {
        return Some((figure.value.low, figure.value.high));
    }
    Some((0.0, figure.value.nominal))
}

fn floor(value: &Value, kind: Kind, faults: &mut Faults) -> Option<Floor> {
    let words = value.text()?;
    match quantity::interval(kind, words) {
        Ok((low, nominal, high)) if nominal >= 0.0 => {
            let repeats = if nominal > 0.0 {
                (high - nominal).max(nominal - low) / nominal
            } else {
                0.0
            };
            Some(Floor {
                value: nominal,
                repeats,
            })
        }
        Ok(_) => {
            let fault = Fault::Bounds {
                key: "floor".to_owned(),
                found: words.to_owned(),
                allowed: "zero or more".to_owned(),
            };
            faults.of(value, &fault);
            None
        }
        Err(error) => {
            faults.at(value.place_inside(&error.at), &quantity::fault(&error));
            None
        }
    }
}

/// `400 mV ±(1 % + 5)`: the end of the range, a part of the reading, and counts of the last digit or a fixed error.
fn range(words: &str, kind: Kind, counts: Option<f64>) -> Result<Range, String> {
    let wanted = "wanted: the end of the range and its error, such as 400 mV ±(1 % + 5)";
    let sign = ["±", "+/-", "+-"]
        .into_iter()
        .find_map(|sign| words.split_once(sign));
    let Some((full_words, error)) = sign else {
        return Err(format!("read {words}, without ±; {wanted}"));
    };
    let full_words = full_words.trim();
    let (_, full, _) = quantity::interval(kind, full_words).map_err(|error| error.to_string())?;
    if full <= 0.0 {
        return Err(format!("a range ends above zero; read {full_words}"));
    }
    let error = error.trim();
    let inside = error
        .strip_prefix('(')
        .and_then(|rest| rest.strip_suffix(')'))
        .unwrap_or(error);
    let display = counts.map(|counts| full / counts);
    let mut range = Range {
        words: words.trim().to_owned(),
        full,
        share: 0.0,
        offset: 0.0,
        resolution: display.unwrap_or_else(|| full / leading_counts(full)),
        is_resolution_default: display.is_none(),
    };
    for term in inside.split('+') {
        add_term(&mut range, term.trim(), kind)
            .map_err(|term| format!("read {term} as an error; {wanted}"))?;
    }
    if !(range.share < 1.0 && range.share >= 0.0 && range.offset >= 0.0) {
        return Err(format!("read {error} as an error; {wanted}"));
    }
    Ok(range)
}

fn add_term(range: &mut Range, term: &str, kind: Kind) -> Result<(), String> {
    let bad = || term.to_owned();
    if let Some(percent) = term.strip_suffix('%') {
        let percent = percent.trim().replace(',', ".");
        range.share += percent.parse::<f64>().map_err(|_| bad())? / 100.0;
        return Ok(());
    }
    let (number, of) = match term.split_once(" of ") {
        Some((number, of)) => (number, Some(of)),
        None => (term, None),
    };
    let number = ["counts", "count", "digits", "digit"]
        .into_iter()
        .find_map(|word| number.strip_suffix(word))
        .unwrap_or(number)
        .trim();
    if let Ok(count) = number.parse::<f64>() {
        if let Some(of) = of {
            let (_, one, _) = quantity::interval(difference(kind), of).map_err(|_| bad())?;
            range.resolution = one;
            range.is_resolution_default = false;
        }
        range.offset += count * range.resolution;
        return Ok(());
    }
    let (_, fixed, _) = quantity::interval(difference(kind), term).map_err(|_| bad())?;
    range.offset += fixed;
    Ok(())
}

/// Differences of temperature are in kelvins.
fn difference(kind: Kind) -> Kind {
    match kind {
        Kind::Celsius => Kind::Kelvins,
        kind => kind,
    }
}

/// A display whose range ends at 4 V counts to 4000, one that ends at 60 V to 6000 (common practice, no source).
fn leading_counts(full: f64) -> f64 {
    let text = format!("{full:e}");
    let mantissa: f64 = text
        .split('e')
        .next()
        .and_then(|mantissa| mantissa.parse().ok())
        .unwrap_or(1.0);
    mantissa * COUNTS_PER_LEADING_DIGITS
}

#[cfg(test)]
mod tests {
    use super::range;
    use quietrail_units::Kind;

    /// MEAS-DMM-01 of the reference collection: ±(% of reading + counts), limit a·reading + n·resolution.
    #[test]
    fn the_error_of_a_reading_is_as_specified() {
        let close = |found: f64, wanted: f64| (found - wanted).abs() <= 1e-9 * wanted;
        let of = |words| range(words, Kind::Volts, None).expect("a range");
        assert!(close(
            of("60 V ±(0.05 % + 3 of 1 mV)").error(12.345),
            9.1725e-3
        ));
        assert!(close(of("60 mV ±(0.9 % + 40)").error(0.45e-3), 0.40405e-3));
        assert!(close(of("60 V ±(0.05 % + 3)").error(5.0), 32.5e-3));
        let counted = range("20 V ±0,5 %", Kind::Volts, Some(20_000.0)).expect("a range");
        assert!(close(counted.resolution, 1e-3) && !counted.is_resolution_default);
        let warm = range("200 °C ±(1 % + 1 K)", Kind::Celsius, None).expect("a range");
        assert!(close(warm.error(50.0), 1.5));
        for wrong in [
            "400 mV",
            "400 mV ±",
            "400 mV ±(1 % + five)",
            "-4 V ±1 %",
            "4 A ±1 %",
            "4 V ±150 %",
        ] {
            assert!(range(wrong, Kind::Volts, None).is_err(), "{wrong}");
        }
    }
}
