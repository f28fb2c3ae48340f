//! Quantities inside a text: one alone, one at another, two side by side, a fuse with its
//! characteristic.

use crate::fault::Fault;
use crate::model::Span;
use crate::nearest::nearest;
use quietrail_units::{
    AmpereSquaredSeconds, Amperes, Celsius, DecibelMilliwatts, Decibels, Degrees, Farads, Henries,
    Hertz, HertzPerVolt, Hours, Joules, Kelvins, KelvinsPerWatt, Kilograms, Kind, Metres, Ohms,
    PerVolt, Quantity, QuantityError, QuantityFault, Ratio, Seconds, Siemens, SquareMetres, Unit,
    VoltAmperes, Volts, VoltsPerRootHertz, Watts,
};

/// The characteristics of a fuse link, as words and as the letters stamped on it.
/// Source: IEC 60127-1, the symbols FF, F, M, T, TT.
pub(crate) const CHARACTERISTICS: &[(&str, &str)] = &[
    ("very quick-acting", "FF"),
    ("quick-acting", "F"),
    ("medium time-lag", "M"),
    ("time-lag", "T"),
    ("long time-lag", "TT"),
];

/// A piece of a text and where it stands in it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Piece<'a> {
    /// The text, no blanks around it.
    pub(crate) text: &'a str,
    /// Its first byte.
    pub(crate) start: usize,
}

impl<'a> Piece<'a> {
    /// The bytes `from..to` of a text, without the blanks around them.
    fn of(text: &'a str, from: usize, to: usize) -> Self {
        let raw = &text[from..to];
        let start = from + (raw.len() - raw.trim_start().len());
        Self {
            text: raw.trim(),
            start,
        }
    }

    /// The whole text, untrimmed, so that the quantity reader sees just what was written.
    pub(crate) fn whole(text: &'a str) -> Self {
        Self { text, start: 0 }
    }

    /// A place inside the piece, as a place of the whole text.
    pub(crate) fn place(&self, at: &Span) -> Span {
        self.start + at.start..self.start + at.end
    }

    /// The piece's own place in the whole text.
    pub(crate) fn span(&self) -> Span {
        self.start..self.start + self.text.len()
    }
}

/// The two sides of `62 dB at 120 Hz`.
pub(crate) fn at(text: &str) -> Option<(Piece<'_>, Piece<'_>)> {
    let word = text.rfind(" at ")?;
    Some((
        Piece::of(text, 0, word),
        Piece::of(text, word + 4, text.len()),
    ))
}

/// The two sides of `60 W 230 V`: the split at a blank where both sides are quantities. Between the sides of an
/// input a sign of parallel connection may stand: `1 MΩ ‖ 20 pF`.
pub(crate) fn pair(text: &str, first: Kind, second: Kind) -> Option<(Piece<'_>, Piece<'_>)> {
    for sign in ["‖", "||"] {
        if let Some(at) = text.find(sign) {
            let sides = (
                Piece::of(text, 0, at),
                Piece::of(text, at + sign.len(), text.len()),
            );
            let fit =
                interval(first, sides.0.text).is_ok() && interval(second, sides.1.text).is_ok();
            return fit.then_some(sides);
        }
    }
    text.match_indices(char::is_whitespace)
        .map(|(blank, _)| {
            (
                Piece::of(text, 0, blank),
                Piece::of(text, blank, text.len()),
            )
        })
        .find(|(one, other)| {
            interval(first, one.text).is_ok() && interval(second, other.text).is_ok()
        })
}

/// Current and characteristic of `250 mA time-lag`. The characteristic is empty where the text ends
/// with the current, and `None` where it is no known word.
pub(crate) fn fuse(text: &str) -> (Piece<'_>, Option<&'static str>) {
    for (blank, _) in text.match_indices(char::is_whitespace) {
        let current = Piece::of(text, 0, blank);
        let rest = Piece::of(text, blank, text.len());
        let words = CHARACTERISTICS
            .iter()
            .find(|(words, letters)| *words == rest.text || *letters == rest.text);
        if let Some((words, _)) = words {
            return (current, Some(words));
        }
    }
    let whole = Piece::whole(text);
    let known = interval(Kind::Amperes, whole.text).is_ok().then_some("");
    (whole, known)
}

/// Lowest, nominal and highest value of a text in SI, for code that knows only the kind of quantity.
///
/// # Errors
/// What is wrong with the text, and where.
pub fn interval(kind: Kind, text: &str) -> Result<(f64, f64, f64), QuantityError> {
    match kind {
        Kind::Volts => of::<Volts>(text),
        Kind::Amperes => of::<Amperes>(text),
        Kind::Ohms => of::<Ohms>(text),
        Kind::Siemens => of::<Siemens>(text),
        Kind::Farads => of::<Farads>(text),
        Kind::Henries => of::<Henries>(text),
        Kind::Hertz => of::<Hertz>(text),
        Kind::Seconds => of::<Seconds>(text),
        Kind::Hours => of::<Hours>(text),
        Kind::Watts => of::<Watts>(text),
        Kind::VoltAmperes => of::<VoltAmperes>(text),
        Kind::Joules => of::<Joules>(text),
        Kind::Celsius => of::<Celsius>(text),
        Kind::Kelvins => of::<Kelvins>(text),
        Kind::KelvinsPerWatt => of::<KelvinsPerWatt>(text),
        Kind::Kilograms => of::<Kilograms>(text),
        Kind::Metres => of::<Metres>(text),
        Kind::SquareMetres => of::<SquareMetres>(text),
        Kind::Ratio => of::<Ratio>(text),
        Kind::Decibels => of::<Decibels>(text),
        Kind::DecibelMilliwatts => of::<DecibelMilliwatts>(text),
        Kind::Degrees => of::<Degrees>(text),
        Kind::VoltsPerRootHertz => of::<VoltsPerRootHertz>(text),
        Kind::HertzPerVolt => of::<HertzPerVolt>(text),
        Kind::PerVolt => of::<PerVolt>(text),
        Kind::AmpereSquaredSeconds => of::<AmpereSquaredSeconds>(text),
    }
}

/// Number and unit of a value, as a table has them in two columns. Forms that do not come apart, such as `4k7` or `150k`, give
/// the nominal value in the unit of their kind.
///
/// # Errors
/// As [`interval`].
pub fn apart(kind: Kind, text: &str) -> Result<(String, String), QuantityError> {
    let (_, nominal, _) = interval(kind, text)?;
    let end = text
        .rfind(|c: char| c.is_ascii_digit())
        .map_or(0, |last| last + 1);
    let (number, unit) = text.split_at(end);
    let (number, unit) = (number.trim(), unit.trim());
    let is_number = number.parse::<f64>().is_ok() || !number.contains(char::is_alphabetic);
    // A letter alone that is no unit is the prefix of one left out.
    let is_unit = unit == kind.symbol() || unit.chars().count() > 1;
    let says_the_same =
        || interval(kind, &format!("{number} {unit}")).is_ok_and(|(_, again, _)| again == nominal);
    if is_number && is_unit && !unit.is_empty() && says_the_same() {
        return Ok((number.to_owned(), unit.to_owned()));
    }
    Ok((nominal.to_string(), kind.symbol().to_owned()))
}

fn of<U: Unit>(text: &str) -> Result<(f64, f64, f64), QuantityError> {
    Quantity::<U>::parse(text).map(|quantity| (quantity.low, quantity.nominal, quantity.high))
}

/// The fault that an unreadable quantity is.
pub(crate) fn fault(error: &QuantityError) -> Fault {
    let said = error.to_string();
    match error.fault {
        QuantityFault::Ambiguous { .. } => Fault::Ambiguous { said },
        QuantityFault::UnknownUnit { ref unit, .. } => Fault::Unit {
            said,
            nearest: nearest_unit(unit, error.wanted),
        },
        QuantityFault::WrongUnit { .. } | QuantityFault::NoUnit { .. } => Fault::Unit {
            said,
            nearest: None,
        },
        QuantityFault::UpsideDown { .. } => Fault::UpsideDown { said },
        _ => Fault::Unreadable { said },
    }
}

/// The prefixed unit of the wanted kind that is nearest to a word.
fn nearest_unit(word: &str, wanted: Kind) -> Option<String> {
    let prefixed = PREFIXES
        .iter()
        .map(|prefix| format!("{prefix}{}", wanted.symbol()));
    let known: Vec<String> = prefixed.collect();
    nearest(word, known.iter().map(String::as_str))
}

/// Prefixes that the bench uses, the bare unit first.
const PREFIXES: &[&str] = &["", "m", "µ", "k", "M", "n", "p"];

#[cfg(test)]
mod tests {
    use super::{apart, at, fuse, pair};
    use quietrail_units::Kind;

    #[test]
    fn splits_where_the_trade_does() {
        let (level, frequency) = at("62 dB at 120 Hz").expect("two sides");
        assert_eq!(
            (level.text, frequency.text, frequency.start),
            ("62 dB", "120 Hz", 9)
        );
        let (power, volts) = pair("60 W 230 V", Kind::Watts, Kind::Volts).expect("two sides");
        assert_eq!((power.text, volts.text), ("60 W", "230 V"));
        assert!(pair("60 W", Kind::Watts, Kind::Volts).is_none());
    }

    #[test]
    fn a_value_comes_apart_where_its_unit_begins() {
        for (text, number, unit) in [
            ("1.50 kΩ", "1.50", "kΩ"),
            ("38Ω", "38", "Ω"),
            ("4k7", "4700", "Ω"),
            ("4k7 Ω", "4700", "Ω"),
            ("150k", "150000", "Ω"),
        ] {
            let found = apart(Kind::Ohms, text).expect("a resistance");
            assert_eq!(found, (number.to_owned(), unit.to_owned()), "{text}");
        }
        assert!(apart(Kind::Ohms, "3 V").is_err());
    }

    #[test]
    fn knows_the_characteristics_of_fuses() {
        assert_eq!(fuse("250 mA time-lag").1, Some("time-lag"));
        assert_eq!(fuse("250 mA T").1, Some("time-lag"));
        assert_eq!(fuse("250 mA").1, Some(""));
        assert_eq!(fuse("250 mA slow").1, None);
    }
}
