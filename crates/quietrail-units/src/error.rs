//! Why a text is not a quantity: as data, and in one sentence.

use crate::Kind;
use std::{fmt, ops::Range};

/// Why a text is not a quantity of the wanted unit.
///
/// ```
/// use quietrail_units::{Quantity, Volts};
/// let error = Quantity::<Volts>::parse("450 mA").unwrap_err();
/// assert_eq!(
///     error.to_string(),
///     "read 450 mA, a current; a voltage is wanted, for instance 12 V"
/// );
/// assert_eq!(error.at, 0..6);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct QuantityError {
    /// Bytes of the text that are at fault; empty at the end of the text where something is missing.
    pub at: Range<usize>,
    /// What was wanted.
    pub wanted: Kind,
    /// What is wrong.
    pub fault: QuantityFault,
}

/// What is wrong with the text of a quantity. Texts inside are as written.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum QuantityFault {
    /// Nothing is written.
    Empty,
    /// A number should stand here.
    NoNumber {
        /// What stands there instead; empty at the end of the text.
        found: String,
    },
    /// Infinite, or not a number.
    NotFinite {
        /// The number.
        number: String,
    },
    /// Beyond what a 64-bit float holds, too large or too small.
    OutOfReach {
        /// The number.
        number: String,
    },
    /// A mark or a space between groups of digits.
    Grouped {
        /// The number with its groups.
        number: String,
    },
    /// A number without its unit.
    NoUnit {
        /// The number.
        number: String,
    },
    /// A word that names no unit.
    UnknownUnit {
        /// The number.
        number: String,
        /// The word.
        unit: String,
    },
    /// The unit of something else.
    WrongUnit {
        /// Number and unit.
        read: String,
        /// What that unit measures.
        measures: Kind,
    },
    /// No wire has this gauge.
    NoSuchGauge {
        /// The gauge as written.
        gauge: String,
    },
    /// More than one reading is possible.
    Ambiguous {
        /// The part that can be read in more than one way.
        read: String,
        /// Clear texts to choose from; each can be read.
        choices: Vec<String>,
    },
    /// A tolerance without `±`, `+` or `-`.
    ToleranceWithoutSign {
        /// The tolerance.
        tolerance: String,
    },
    /// `±` before a negative number, or two sides with the same sign.
    ToleranceSigns {
        /// The tolerance.
        tolerance: String,
    },
    /// A part of a value that has no natural zero.
    ToleranceNotRelative {
        /// The tolerance.
        tolerance: String,
    },
    /// `between` without its `and`.
    NoRangeEnd {
        /// What stands instead of `and`; empty at the end of the text.
        found: String,
    },
    /// The first end of a range is above the second.
    UpsideDown {
        /// The first end, in full.
        first: String,
        /// The second end, in full.
        second: String,
    },
    /// The nominal value is not inside the range behind it.
    Outside {
        /// The nominal value.
        nominal: String,
        /// The range.
        range: String,
    },
    /// An opened parenthesis holds no range, or is not closed.
    Parenthesis {
        /// From the parenthesis on.
        found: String,
    },
    /// Something follows the quantity.
    Trailing {
        /// The quantity that was read.
        read: String,
        /// What follows it.
        rest: String,
    },
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let wanted = self.wanted.with_article();
        let example = self.wanted.example();
        match &self.fault {
            QuantityFault::Empty => {
                write!(
                    f,
                    "nothing is written; {wanted} is wanted, for instance {example}"
                )
            }
            QuantityFault::NoNumber { found } if found.is_empty() => {
                write!(f, "a number is missing at the end, for instance {example}")
            }
            QuantityFault::NoNumber { found } => {
                write!(
                    f,
                    "read {found} where a number is wanted, for instance {example}"
                )
            }
            QuantityFault::NotFinite { number } => {
                write!(
                    f,
                    "read {number}, which is not a finite number; {wanted} is wanted, for instance {example}"
                )
            }
            QuantityFault::OutOfReach { number } => {
                write!(
                    f,
                    "read {number}, which is too large or too small to compute with; {wanted} is wanted, for instance {example}"
                )
            }
            QuantityFault::Grouped { number } => {
                write!(
                    f,
                    "read {number} with its digits in groups; point and comma both mark decimals here, so digits are written without groups"
                )
            }
            QuantityFault::NoUnit { number } => {
                write!(
                    f,
                    "read {number} without a unit; {wanted} is wanted, for instance {example}"
                )
            }
            QuantityFault::UnknownUnit { number, unit } => {
                write!(
                    f,
                    "read {number} with the unknown unit {unit}; {wanted} is wanted, for instance {example}"
                )
            }
            QuantityFault::WrongUnit { read, measures } => {
                let measured = measures.with_article();
                write!(
                    f,
                    "read {read}, {measured}; {wanted} is wanted, for instance {example}"
                )
            }
            QuantityFault::NoSuchGauge { gauge } => {
                write!(
                    f,
                    "read the wire gauge {gauge}; gauges are whole numbers from 0 to 50, for instance 18 AWG"
                )
            }
            QuantityFault::Ambiguous { read, choices } => {
                write!(
                    f,
                    "{read} can be read in more than one way: write {}",
                    choices.join(" or ")
                )
            }
            QuantityFault::ToleranceWithoutSign { tolerance } => {
                write!(
                    f,
                    "read the tolerance {tolerance} without a sign; write ±{tolerance}, or both sides as in -20/+50 %"
                )
            }
            QuantityFault::ToleranceSigns { tolerance } => {
                write!(
                    f,
                    "read the tolerance {tolerance}; write both sides as in -20/+50 %, or ± before a positive number"
                )
            }
            QuantityFault::ToleranceNotRelative { tolerance } => {
                write!(
                    f,
                    "read the tolerance {tolerance}; a part of {wanted} means nothing, so write it in the unit, or as a range"
                )
            }
            QuantityFault::NoRangeEnd { .. } => f.write_str(
                "the second end of the range is missing; write it as in between 18 and 20 V",
            ),
            QuantityFault::UpsideDown { first, second } => {
                write!(
                    f,
                    "read a range from {first} to {second}; the lower end comes first"
                )
            }
            QuantityFault::Outside { nominal, range } => {
                write!(f, "read {nominal}, which is outside its range {range}")
            }
            QuantityFault::Parenthesis { found } => {
                write!(
                    f,
                    "read {found}; a parenthesis holds the range of the value before it, as in 230 V (207 V .. 244 V)"
                )
            }
            QuantityFault::Trailing { read, rest } => {
                write!(f, "read {read}, then {rest} is left over")
            }
        }
    }
}

impl std::error::Error for QuantityError {}
