//! Keys that many tables share.

use super::{Bounds, Holds, Key, Keys, circuit_may, may};
use quietrail_units::Kind;

/// Where a part is: `between` or `at`.
pub(super) const BETWEEN: Key = circuit_may(
    "between",
    Holds::Ends,
    "Its two ends, as node names; the first is plus, anode or live.",
);

/// Short for an end at `common`.
pub(super) const AT: Key = circuit_may("at", Holds::Name, "Its first end; the second is common.");

/// The catalogue entry that a part is.
pub(super) const PART: Key = circuit_may(
    "part",
    Holds::Name,
    "Its entry in the catalogue or in parts.toml; what the job writes itself wins, key by key.",
);

/// Where the figures of an entry come from.
pub(super) const SOURCE: Key = may(
    "source",
    Holds::Text,
    "The document that the figures come from; \"from memory\" where there is none.",
);

/// A sentence about a part.
pub(super) const NOTE: Key = may("note", Holds::Text, "A sentence to show with it.");

/// Node that a source returns to.
pub(super) const RETURN: Key = circuit_may(
    "return",
    Holds::Name,
    "The node it returns to; common if left out.",
);

/// A resistance that may be zero.
pub(super) const OHMS: Holds = Holds::Figure(Kind::Ohms, Bounds::NotNegative);

/// A voltage above zero.
pub(super) const VOLTS: Holds = Holds::Figure(Kind::Volts, Bounds::Positive);

/// A voltage to either side of common.
pub(super) const EITHER_VOLTS: Holds = Holds::Figure(Kind::Volts, Bounds::NotZero);

/// A current above zero.
pub(super) const AMPERES: Holds = Holds::Figure(Kind::Amperes, Bounds::Positive);

/// A mass above zero.
pub(super) const KILOGRAMS: Holds = Holds::Figure(Kind::Kilograms, Bounds::Positive);

/// A thermal resistance above zero.
pub(super) const KELVINS_PER_WATT: Holds = Holds::Figure(Kind::KelvinsPerWatt, Bounds::Positive);

/// The way of heat out of a part that may sit on a sink.
pub(super) const JUNCTION_TO_CASE: Key =
    may("junction_to_case", KELVINS_PER_WATT, "Junction to case.");
/// Its pad.
pub(super) const CASE_TO_SINK: Key = may(
    "case_to_sink",
    Holds::Figure(Kind::KelvinsPerWatt, Bounds::NotNegative),
    "Case to sink: pad, grease; 0 K/W .. 1.5 K/W if left out.",
);
/// Without a sink.
pub(super) const JUNCTION_TO_AIR: Key = may(
    "junction_to_air",
    KELVINS_PER_WATT,
    "Junction to air with no sink.",
);
/// Its sink.
pub(super) const ON_SINK: Key = circuit_may("sink", Holds::Name, "Sink that it sits on.");
/// Rating of its junction.
pub(super) const JUNCTION: Key = may("junction", CELSIUS, "Highest junction temperature.");

/// Absolute zero, where temperatures end.
pub(super) const TEMPERATURE: Bounds = Bounds::Within(-273.15, f64::MAX);

/// A temperature.
pub(super) const CELSIUS: Holds = Holds::Figure(Kind::Celsius, TEMPERATURE);

/// Thermal classes of insulation by their letters (IEC 60085, as quoted in texts on motors).
pub(crate) const CLASSES: [&str; 7] = ["A", "E", "B", "F", "H", "N", "R"];

/// Any value as a table. `{ value, source }` is for catalogues, the rest for the job.
pub(crate) static FIGURE: Keys = Keys {
    of: "figure",
    says: "Any value as a table: as drawn, as fitted, as measured. The last of these that is given counts.",
    keys: &[
        may("drawn", Holds::Text, "As the drawing says."),
        may("fitted", Holds::Text, "As the part fitted is marked."),
        may(
            "measured",
            Holds::Table(&MEASURED),
            "As measured on this very part.",
        ),
        may(
            "value",
            Holds::Text,
            "The value, where only its source is to be added.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[],
};

/// A measured value.
pub(super) static MEASURED: Keys = Keys {
    of: "measured value",
    says: "A value read on this very part.",
    keys: &[
        super::must("value", Holds::Text, "What was read, with its uncertainty."),
        may("with", Holds::Text, "The instrument."),
        may("on", Holds::Date, "The day."),
        NOTE,
    ],
    alternatives: &[],
};
