//! The unit behind a number: which spelling it is, and what value number and unit make.

use super::{ambiguity, cursor::Cursor, number::Number};
use crate::{
    Kind, QuantityError, QuantityFault,
    code::ToleranceLetter,
    prefix::{self, MEGA, MILLI, PREFIXES, Prefix},
    spelling::{Conversion, QUALIFIERS, SPELLINGS, Spelling},
    wire,
};

/// What turns a number into the stored value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    /// The unit as written.
    pub(super) conversion: Conversion,
    /// Power of ten of its prefix.
    pub(super) prefix: i32,
}

impl Scale {
    /// No unit and no prefix.
    pub(super) const ONE: Self = Self {
        conversion: Conversion::Power(0),
        prefix: 0,
    };

    /// The stored value of a number in this unit; not a number where no wire has such a gauge.
    pub(super) fn value(self, number: &Number) -> f64 {
        match self.conversion {
            Conversion::Fahrenheit => (number.times_ten_to(self.prefix) - 32.0) / 1.8,
            Conversion::WireGauge => gauge(number)
                .and_then(wire::cross_section)
                .unwrap_or(f64::NAN),
            Conversion::Power(_) | Conversion::Share(..) => self.difference(number),
        }
    }

    /// The stored value of a difference in this unit. Gauge numbers have none: not a number.
    pub(super) fn difference(self, number: &Number) -> f64 {
        match self.conversion {
            Conversion::Power(power) => number.times_ten_to(power + self.prefix),
            Conversion::Share(times, over) => number.times_ten_to(self.prefix) * times / over,
            Conversion::Fahrenheit => number.times_ten_to(self.prefix) / 1.8,
            Conversion::WireGauge => f64::NAN,
        }
    }

    /// Whether only a written zero is stored as zero. 32 °F is 0 °C.
    pub(super) fn keeps_zero(self) -> bool {
        self.conversion != Conversion::Fahrenheit
    }
}

/// The number as a wire gauge, if it is whole.
fn gauge(number: &Number) -> Option<i32> {
    let whole = number.digits.parse().ok()?;
    (number.power == 0).then_some(whole)
}

/// A unit as found in the text.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub(super) scale: Scale,
    /// The letter behind a component's mark: `47KJ`.
    pub(super) letter: Option<ToleranceLetter>,
}

/// One way to read the text at the cursor as a unit.
#[derive(Clone, Copy)]
struct Candidate {
    length: usize,
    kind: Kind,
    spelling: Option<&'static Spelling>,
    prefix: Option<&'static Prefix>,
    letter: Option<ToleranceLetter>,
}

/// Reads the unit behind `number`, if a word stands there at all. White space before it is skipped only
/// where a unit follows.
pub(super) fn scale(
    cursor: &mut Cursor<'_>,
    number: &Number,
) -> Result<Option<Found>, QuantityError> {
    let before = cursor.at;
    let spaced = cursor.skip_space();
    if !a_word_follows(cursor) {
        cursor.at = before;
        return Ok(None);
    }
    let candidates = candidates(cursor, spaced);
    let longest = candidates.iter().map(|c| c.length).max();
    let best = |wanted: bool| {
        candidates
            .iter()
            .filter(|c| Some(c.length) == longest && (c.kind == cursor.wanted) == wanted)
            .min_by_key(|c| u8::from(c.prefix.is_some()) + u8::from(c.letter.is_some()))
    };
    if let Some(candidate) = best(true) {
        // `10 k` of capacitance: a resistance that stands in the wrong line.
        let is_large =
            candidate.spelling.is_none() && candidate.prefix.is_some_and(|p| p.power > 0);
        if is_large && matches!(cursor.wanted, Kind::Farads | Kind::Henries) {
            cursor.at += candidate.length;
            let fault = QuantityFault::WrongUnit {
                read: cursor.since(number.start).to_owned(),
                measures: Kind::Ohms,
            };
            return Err(cursor.error(cursor.span(number.start), fault));
        }
        return accept(cursor, number, candidate).map(Some);
    }
    let start = number.start;
    if let Some(other) = best(false) {
        cursor.at += other.length;
        let fault = QuantityFault::WrongUnit {
            read: cursor.since(start).to_owned(),
            measures: other.kind,
        };
        return Err(cursor.error(cursor.span(start), fault));
    }
    let unit = cursor.word().to_owned();
    let number = cursor.text[start..number.end].to_owned();
    let at = cursor.at..cursor.at + unit.len();
    Err(cursor.error(at, QuantityFault::UnknownUnit { number, unit }))
}

/// Whether a unit should stand here, rather than a tolerance, a range or the end.
fn a_word_follows(cursor: &Cursor<'_>) -> bool {
    let is_joining_word = ["to", "and", "at"]
        .iter()
        .any(|word| cursor.clone().take_word(word));
    !is_joining_word
        && cursor.peek().is_some_and(|c| {
            c.is_alphabetic() || "%\u{b0}\"'\u{2032}\u{2033}\u{2103}\u{2109}".contains(c)
        })
}

fn candidates(cursor: &Cursor<'_>, spaced: bool) -> Vec<Candidate> {
    let rest = cursor.rest();
    let wanted = cursor.wanted;
    let mut found = Vec::new();
    for spelling in SPELLINGS {
        let base = Candidate {
            length: 0,
            kind: spelling.kind,
            spelling: Some(spelling),
            prefix: None,
            letter: None,
        };
        if let Some(length) = spelled(rest, spelling) {
            found.push(Candidate { length, ..base });
        }
        if !spelling.takes_prefix {
            continue;
        }
        for prefix in PREFIXES {
            let Some(after) = rest.strip_prefix(prefix.text) else {
                continue;
            };
            // `4.7 k ohm` is met; only for what is wanted, or any letter and word would make a unit.
            let joined = if spelling.kind == wanted {
                after.trim_start()
            } else {
                after
            };
            if let Some(length) = spelled(joined, spelling) {
                let length = rest.len() - joined.len() + length;
                found.push(Candidate {
                    length,
                    prefix: Some(prefix),
                    ..base
                });
            }
        }
    }
    found.extend(marks(rest, wanted, spaced));
    found
}

/// A prefix alone (`4700u`), and `R` or a prefix with a tolerance letter (`470RJ`, `47KJ`).
fn marks(rest: &str, wanted: Kind, spaced: bool) -> Vec<Candidate> {
    let mut found = Vec::new();
    if !prefix::stands_alone(wanted) {
        return found;
    }
    let resistor = SPELLINGS.iter().find(|s| s.kind == wanted && s.text == "R");
    let alone = PREFIXES.iter().map(|p| (p.text, Some(p), None));
    for (text, prefix, spelling) in alone.chain(resistor.map(|s| (s.text, None, resistor))) {
        let Some(after) = rest.strip_prefix(text) else {
            continue;
        };
        let base = Candidate {
            length: text.len(),
            kind: wanted,
            spelling,
            prefix,
            letter: None,
        };
        if ends_unit(after) {
            found.push(base);
        }
        let Some(letter) = after.chars().next() else {
            continue;
        };
        let marked = ToleranceLetter::of(letter, wanted);
        if marked.is_some() && !spaced && ends_unit(&after[letter.len_utf8()..]) {
            found.push(Candidate {
                length: base.length + letter.len_utf8(),
                letter: marked,
                ..base
            });
        }
    }
    found
}

/// The length of `spelling`, with its qualifier, if it stands at the start of `rest`.
fn spelled(rest: &str, spelling: &Spelling) -> Option<usize> {
    let after = strip_spelling(rest, spelling.text)?;
    let plain = ends_unit(after).then(|| rest.len() - after.len());
    if !matches!(spelling.kind, Kind::Volts | Kind::Amperes) {
        return plain;
    }
    let qualified = QUALIFIERS
        .iter()
        .filter_map(|qualifier| after.trim_start().strip_prefix(qualifier))
        .find(|after| ends_unit(after))
        .map(|after| rest.len() - after.len());
    qualified.or(plain)
}

/// Strips `spelling`; a space in it stands for any white space.
fn strip_spelling<'t>(rest: &'t str, spelling: &str) -> Option<&'t str> {
    let Some((first, second)) = spelling.split_once(' ') else {
        return rest.strip_prefix(spelling);
    };
    rest.strip_prefix(first)?.trim_start().strip_prefix(second)
}

fn ends_unit(after: &str) -> bool {
    !after.starts_with(|c: char| c.is_alphanumeric() || "\u{b2}\u{b3}\u{221a}^\u{b0}".contains(c))
}

fn accept(
    cursor: &mut Cursor<'_>,
    number: &Number,
    candidate: &Candidate,
) -> Result<Found, QuantityError> {
    cursor.at += candidate.length;
    let power = candidate.prefix.map_or(0, |p| p.power);
    if let Some(prefix) = candidate.prefix
        && prefix.text.len() == 1
        && is_question(cursor.wanted, power, candidate)
    {
        return Err(ambiguity::milli_or_mega(cursor, number));
    }
    let value = number.times_ten_to(power);
    if let Some(letter) = candidate.letter.filter(|letter| letter.is_question(value)) {
        return Err(ambiguity::letter(cursor, number, value, letter));
    }
    let conversion = candidate
        .spelling
        .map_or(Conversion::Power(0), |s| s.conversion);
    Ok(Found {
        scale: Scale {
            conversion,
            prefix: power,
        },
        letter: candidate.letter,
    })
}

/// Whether `m` or `M` could have been meant the other way.
fn is_question(kind: Kind, power: i32, candidate: &Candidate) -> bool {
    let alone = candidate.spelling.is_none();
    // `1MJ` is a mark, whose letters are known.
    let marked = candidate.letter.is_some();
    // `mhz`: who writes h for H may write m for M.
    let careless = candidate.spelling.is_some_and(|s| s.text == "hz");
    match power {
        MILLI if kind == Kind::Farads => true,
        MILLI if kind == Kind::Seconds => alone, // minutes?
        MILLI if alone || careless => {
            prefix::mega_makes_sense(kind) || !prefix::milli_makes_sense(kind)
        }
        MEGA if !prefix::mega_makes_sense(kind) => true,
        MEGA if alone && !marked => prefix::milli_makes_sense(kind),
        _ => false,
    }
}
