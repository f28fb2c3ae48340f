//! Decimal prefixes: which are read, and which are printed with each kind of quantity.

use crate::Kind;

/// One spelling of a prefix.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Prefix {
    /// As written.
    pub(crate) text: &'static str,
    /// Power of ten.
    pub(crate) power: i32,
}

const fn prefix(text: &'static str, power: i32) -> Prefix {
    Prefix { text, power }
}

/// Every spelling of a prefix that is read. Symbols: SI Brochure, 9th edition, table 7. The micro sign
/// U+00B5, the Greek letter U+03BC and `u` are all in use; `K` for kilo is the letter of IEC 60062.
pub(crate) const PREFIXES: &[Prefix] = &[
    prefix("f", -15),
    prefix("p", -12),
    prefix("n", -9),
    prefix("u", -6),
    prefix("\u{b5}", -6),
    prefix("\u{3bc}", -6),
    prefix("m", MILLI),
    prefix("k", 3),
    prefix("K", 3),
    prefix("M", MEGA),
    prefix("meg", MEGA),
    prefix("Meg", MEGA),
    prefix("MEG", MEGA),
    prefix("G", 9),
    prefix("pico", -12),
    prefix("nano", -9),
    prefix("micro", -6),
    prefix("milli", MILLI),
    prefix("kilo", 3),
    prefix("mega", MEGA),
];

pub(crate) const MILLI: i32 = -3;
pub(crate) const MEGA: i32 = 6;

/// The symbol printed for a power of ten, if there is one.
pub(crate) const fn symbol(power: i32) -> Option<&'static str> {
    Some(match power {
        -15 => "f",
        -12 => "p",
        -9 => "n",
        -6 => "\u{b5}",
        -3 => "m",
        0 => "",
        3 => "k",
        6 => "M",
        9 => "G",
        _ => return None,
    })
}

/// The powers of ten printed with a unit, ascending.
///
/// Farads leave out milli: `mF` was written for microfarads long enough that it is never printed here.
pub(crate) const fn printed(kind: Kind) -> &'static [i32] {
    match kind {
        Kind::Amperes => &[-15, -12, -9, -6, -3, 0, 3],
        Kind::Volts | Kind::Watts => &[-12, -9, -6, -3, 0, 3],
        Kind::Ohms => &[-9, -6, -3, 0, 3, 6, 9],
        Kind::Farads => &[-12, -9, -6, 0],
        Kind::Hertz => &[-6, -3, 0, 3, 6, 9],
        Kind::HertzPerVolt => &[-9, -6, -3, 0, 3],
        Kind::Siemens | Kind::Henries | Kind::Seconds | Kind::Joules | Kind::VoltsPerRootHertz => {
            &[-12, -9, -6, -3, 0]
        }
        Kind::VoltAmperes => &[-3, 0, 3],
        Kind::Metres => &[-6, -3, 0],
        Kind::Hours
        | Kind::Celsius
        | Kind::Kelvins
        | Kind::KelvinsPerWatt
        | Kind::SquareMetres
        | Kind::Kilograms
        | Kind::Ratio
        | Kind::Decibels
        | Kind::DecibelMilliwatts
        | Kind::Degrees
        | Kind::PerVolt
        | Kind::AmpereSquaredSeconds => &[0],
    }
}

/// Whether a prefix may stand without its unit: `4700u`, `47k`.
pub(crate) const fn stands_alone(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::Volts
            | Kind::Amperes
            | Kind::Ohms
            | Kind::Siemens
            | Kind::Farads
            | Kind::Henries
            | Kind::Hertz
            | Kind::Watts
            | Kind::Seconds
    )
}

/// Whether thousandths of this unit are met on the bench. Decides whether a lone `m` is a question.
pub(crate) fn milli_makes_sense(kind: Kind) -> bool {
    kind != Kind::Hertz && printed(kind).contains(&MILLI)
}

/// Whether millions of this unit are met on the bench. Where they are not, `M` is a question even with
/// its unit: `450 MA` is hardly ever what was meant.
pub(crate) const fn mega_makes_sense(kind: Kind) -> bool {
    matches!(kind, Kind::Ohms | Kind::Hertz)
}
