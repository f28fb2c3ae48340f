//! One figure of a job: its value with tolerance, and where it comes from.

use quietrail_units::{Quantity, Unit};
use std::ops::Range;

/// Bytes of the job text; empty (`0..0`) for what the text does not hold.
pub type Span = Range<usize>;

/// A figure and where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure<U: Unit> {
    /// The value that `prove` uses: measured, else fitted, else drawn, else catalogue, else default.
    pub value: Quantity<U>,
    /// Where the value comes from.
    pub origin: Origin,
    /// Where it stands in the job file.
    pub span: Span,
}

/// Where a figure comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum Origin {
    /// As the drawing says.
    Drawn,
    /// As the part fitted is marked.
    Fitted,
    /// As measured on this very part.
    Measured {
        /// The instrument, as named by the builder.
        with: Option<String>,
        /// The date, as written.
        on: Option<String>,
    },
    /// From a catalogue entry.
    Catalogue {
        /// The entry.
        part: String,
        /// The published source of the figure, or "from memory".
        source: String,
    },
    /// Not given; shown as a default wherever it matters.
    Default {
        /// Why this value, in one sentence.
        why: &'static str,
    },
}

impl<U: Unit> Figure<U> {
    /// A figure that the job leaves out.
    pub fn default_of(value: Quantity<U>, why: &'static str) -> Self {
        Self {
            value,
            origin: Origin::Default { why },
            span: 0..0,
        }
    }

    /// The value as marked.
    pub fn nominal(&self) -> f64 {
        self.value.nominal
    }
}
