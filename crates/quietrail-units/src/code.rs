//! Marks on parts: letter-and-digit codes and tolerance letters (IEC 60062), three-digit codes.
//!
//! IEC 60062 itself was not retrieved: codes as summarised in encyclopaedia pages, letters as printed in
//! published capacitor-code tables, the rest from memory, as said at each.

use crate::{Kind, digits::Digits, prefix};

/// The power of ten of a letter that stands for the decimal point, `4k7`, in a value of this kind.
///
/// Resistance: L 10⁻³, R 1, K 10³, M 10⁶, G 10⁹. Other kinds: the prefix letter, or the unit's own for
/// 1 (`6V3`). Lower-case `k` is read as well. `None` where no such code is in use.
pub fn letter_power(letter: char, kind: Kind) -> Option<i32> {
    let mut text = [0; 4];
    let text = letter.encode_utf8(&mut text);
    let own = match kind {
        Kind::Ohms if letter == 'L' => return Some(-3),
        Kind::Ohms => "R",
        Kind::Farads | Kind::Henries | Kind::Volts | Kind::Amperes | Kind::Watts => kind.symbol(),
        Kind::Hertz => "",
        _ => return None,
    };
    if text == own {
        return Some(0);
    }
    let prefix = prefix::PREFIXES.iter().find(|p| p.text == text)?;
    (prefix.power >= -12).then_some(prefix.power)
}

/// The parts of a letter code: `4k7` is 4, k and 7.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct LetterCode<'t> {
    /// Digits before the letter, perhaps none.
    pub(crate) whole: &'t str,
    /// The letter in place of the point.
    pub(crate) letter: char,
    /// Digits behind it, perhaps none.
    pub(crate) fraction: &'t str,
    /// Bytes of the code.
    pub(crate) length: usize,
}

impl<'t> LetterCode<'t> {
    /// Splits the start of a text into digits, one letter, digits; `None` where there is no letter, or
    /// no digit.
    pub(crate) fn split(text: &'t str) -> Option<Self> {
        let is_not_digit = |c: char| !c.is_ascii_digit();
        let (whole, after) = text.split_at(text.find(is_not_digit)?);
        let letter = after.chars().next().filter(|c| c.is_alphabetic())?;
        let after = &after[letter.len_utf8()..];
        let fraction = &after[..after.find(is_not_digit).unwrap_or(after.len())];
        let length = whole.len() + letter.len_utf8() + fraction.len();
        let has_digits = length > letter.len_utf8();
        has_digits.then_some(Self {
            whole,
            letter,
            fraction,
            length,
        })
    }
}

/// The SI value of a letter code without tolerance letter: `4K7`, `470R`, `R47`, `4n7`. As strict as the
/// standard: `m` is milli, `M` is mega. [`crate::Quantity::parse`] asks instead where that is doubtful.
///
/// ```
/// use quietrail_units::{Kind, code};
/// assert_eq!(code::read("4K7", Kind::Ohms), Some(4700.0));
/// assert_eq!(code::read("4n7", Kind::Farads), Some(4.7e-9));
/// ```
pub fn read(text: &str, kind: Kind) -> Option<f64> {
    let code = LetterCode::split(text).filter(|code| code.length == text.len())?;
    let power = letter_power(code.letter, kind)?;
    let whole = if code.whole.is_empty() {
        "0"
    } else {
        code.whole
    };
    let fraction = if code.fraction.is_empty() {
        "0"
    } else {
        code.fraction
    };
    format!("{whole}.{fraction}e{power}").parse().ok()
}

/// The letter code of a resistance, capacitance or inductance: `4K7`, `470R`, `R47`, `4n7`. `None` for
/// other kinds, and for values that are not positive or beyond the letters.
///
/// ```
/// use quietrail_units::{Kind, code};
/// assert_eq!(code::print(47_300.0, Kind::Ohms).as_deref(), Some("47K3"));
/// assert_eq!(code::print(0.1, Kind::Ohms).as_deref(), Some("R10"));
/// ```
pub fn print(value: f64, kind: Kind) -> Option<String> {
    let letters: &[(i32, char)] = match kind {
        Kind::Ohms => &[(-3, 'L'), (0, 'R'), (3, 'K'), (6, 'M'), (9, 'G')],
        Kind::Farads => &[(-12, 'p'), (-9, 'n'), (-6, 'u')],
        Kind::Henries => &[(-9, 'n'), (-6, 'u'), (-3, 'm'), (0, 'H')],
        _ => return None,
    };
    if !(value > 0.0 && value.is_finite()) {
        return None;
    }
    let Digits { digits, point, .. } = Digits::of(value, 0);
    // Tenths of an ohm are written R10, not 100L.
    let tenths = |power: i32| kind == Kind::Ohms && power == 0 && point == 0;
    let fits = |power: i32| power < point || tenths(power);
    let (power, letter) = letters.iter().rev().find(|(power, _)| fits(*power))?;
    let before = usize::try_from(point - power)
        .ok()
        .filter(|before| *before <= 4)?;
    // At least two figures: 1K0, R10. Three before the letter need none behind it: 470R.
    let figures = digits.len().max(before).max(2);
    let padded = format!("{digits:0<figures$}");
    let (whole, fraction) = padded.split_at(before);
    Some(format!("{whole}{letter}{fraction}"))
}

/// Farads of a three-digit code, `103`: two digits and a number of zeros, in picofarads.
///
/// ```
/// assert_eq!(quietrail_units::code::three_digits("103"), Some(10e-9));
/// ```
pub fn three_digits(text: &str) -> Option<f64> {
    let is_code = text.len() == 3 && text.bytes().all(|b| b.is_ascii_digit());
    if !is_code || text.starts_with('0') {
        return None;
    }
    let (digits, zeros) = text.split_at(2);
    let zeros: i32 = zeros.parse().ok()?;
    format!("{digits}e{}", zeros - 12).parse().ok()
}

/// A tolerance letter behind a mark: `4K7J`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ToleranceLetter {
    letter: char,
    kind: Kind,
}

/// Below this, B, C and D on a capacitor are picofarads, not percent.
const SMALL_CAPACITOR: f64 = 10e-12;

impl ToleranceLetter {
    /// The letter as a tolerance, if it is one and if parts of this kind are marked so.
    pub fn of(letter: char, kind: Kind) -> Option<Self> {
        let marked = matches!(kind, Kind::Ohms | Kind::Farads | Kind::Henries);
        let known = percent(letter).is_some();
        (marked && known).then_some(Self { letter, kind })
    }

    /// The tolerance in full, for a part of this value in SI: `±5 %`, `-20/+80 %`, `±0.25 pF`.
    pub fn written(self, value: f64) -> &'static str {
        if self.kind == Kind::Farads && value < SMALL_CAPACITOR {
            match self.letter {
                'B' => return "\u{b1}0.1\u{a0}pF",
                'C' => return "\u{b1}0.25\u{a0}pF",
                'D' => return "\u{b1}0.5\u{a0}pF",
                _ => {}
            }
        }
        percent(self.letter).expect("checked when the letter was made")
    }

    /// Whether the letter has two meanings on a part of this value.
    pub(crate) fn is_question(self, value: f64) -> bool {
        self.other(value).is_some()
    }

    /// The other tolerance that the letter may stand for.
    fn other(self, value: f64) -> Option<&'static str> {
        if self.kind != Kind::Farads {
            return None;
        }
        match self.letter {
            // Older capacitor tables: P is +100 %, -0 (Sanyo chart).
            'P' => Some("-0/+100\u{a0}%"),
            // Small capacitors, from memory.
            'F' if value < SMALL_CAPACITOR => Some("\u{b1}1\u{a0}pF"),
            'G' if value < SMALL_CAPACITOR => Some("\u{b1}2\u{a0}pF"),
            _ => None,
        }
    }

    /// Every tolerance that the letter may stand for on a part of this value.
    pub(crate) fn choices(self, value: f64) -> Vec<&'static str> {
        let mut choices = vec![self.written(value)];
        choices.extend(self.other(value));
        choices
    }
}

/// Tolerance letters in percent. B to N: published capacitor-code tables; S, T, Z: T and Z in a maker's
/// chart (Sanyo); E, L, P, W, Q, S: IEC 60062 from memory.
fn percent(letter: char) -> Option<&'static str> {
    Some(match letter {
        'B' => "\u{b1}0.1\u{a0}%",
        'C' => "\u{b1}0.25\u{a0}%",
        'D' => "\u{b1}0.5\u{a0}%",
        'E' => "\u{b1}0.005\u{a0}%",
        'F' => "\u{b1}1\u{a0}%",
        'G' => "\u{b1}2\u{a0}%",
        'J' => "\u{b1}5\u{a0}%",
        'K' => "\u{b1}10\u{a0}%",
        'L' => "\u{b1}0.01\u{a0}%",
        'M' => "\u{b1}20\u{a0}%",
        'N' => "\u{b1}30\u{a0}%",
        'P' => "\u{b1}0.02\u{a0}%",
        'Q' => "-10/+30\u{a0}%",
        'S' => "-20/+50\u{a0}%",
        'T' => "-10/+50\u{a0}%",
        'W' => "\u{b1}0.05\u{a0}%",
        'Z' => "-20/+80\u{a0}%",
        _ => return None,
    })
}

#[cfg(test)]
mod tests;
