//! Keys of the wall socket and of the parts on the mains side.

use super::common::{AMPERES, AT, BETWEEN, NOTE, OHMS, PART, SOURCE, VOLTS};
use super::{Bounds, Holds, Keys, circuit, circuit_may, may, must, one, one_or_none};
use quietrail_units::Kind;

/// Crest factor, least to most, of a wave with a third harmonic in phase: `√2 (1 − a) / √(1 + a²)` for
/// `a` from 1/9 down to 0, rounded outward.
const CREST: Bounds = Bounds::Within(1.249, 1.4143);

/// `[mains]`
pub(super) static MAINS: Keys = Keys {
    of: "[mains]",
    says: "The wall socket: voltage, frequency and how flat the tops of the wave are.",
    keys: &[
        circuit(
            "voltage",
            VOLTS,
            "Voltage at the outlet, rms, with its range.",
        ),
        circuit_may(
            "frequency",
            Holds::Figure(Kind::Hertz, Bounds::Positive),
            "Frequency; that of the region if left out.",
        ),
        circuit_may(
            "flatness",
            Holds::Figure(Kind::Ratio, Bounds::Within(0.0, 1.0 / 9.0)),
            "Third-harmonic share of the wave; 0 .. 0.05 if neither this nor crest is given.",
        ),
        circuit_may(
            "crest",
            Holds::Figure(Kind::Ratio, CREST),
            "Peak over rms, as an oscilloscope shows it; in place of flatness.",
        ),
        NOTE,
    ],
    alternatives: &[one_or_none(&["flatness", "crest"])],
};

/// `[fuse.F1]`
pub(super) static FUSE: Keys = Keys {
    of: "fuse",
    says: "A fuse; electrically a small resistance.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        must(
            "rated",
            Holds::FuseRating,
            "Current and characteristic: \"250 mA time-lag\".",
        ),
        may(
            "resistance",
            OHMS,
            "Cold resistance; 0.1 V .. 1.5 V at rated current if left out.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[one(&["between", "at"])],
};

/// `[switch.SW1]`
pub(super) static SWITCH: Keys = Keys {
    of: "switch",
    says: "A switch in the mains or on a rail.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        may(
            "resistance",
            OHMS,
            "Contact resistance; 0 Ω .. 50 mΩ if left out.",
        ),
        circuit_may(
            "closed",
            Holds::Truth,
            "Whether it is closed; true if left out.",
        ),
        may("rated", AMPERES, "Contact rating."),
        SOURCE,
        NOTE,
    ],
    alternatives: &[one(&["between", "at"])],
};

/// `[lamp.LA1]`
pub(super) static LAMP: Keys = Keys {
    of: "lamp",
    says: "A tungsten lamp in series; its resistance follows its own voltage.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        must(
            "rated",
            Holds::Pair(Kind::Watts, Bounds::Positive, Kind::Volts, Bounds::Positive),
            "Power and voltage: \"60 W 230 V\".",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[one(&["between", "at"])],
};

/// `[variable_transformer.VT1]`
pub(super) static VARIABLE_TRANSFORMER: Keys = Keys {
    of: "variable_transformer",
    says: "A variable transformer: a ratio with a source resistance.",
    keys: &[
        circuit_may(
            "from",
            Holds::Name,
            "Live side that feeds it; inlet.live if left out.",
        ),
        circuit("into", Holds::Name, "Live side that it delivers to."),
        circuit_may(
            "return",
            Holds::Name,
            "Common return of both sides; inlet.neutral if left out.",
        ),
        PART,
        must(
            "setting",
            Holds::Figure(Kind::Ratio, Bounds::Within(0.0, 2.0)),
            "Output volts over input volts: \"40 %\".",
        ),
        may(
            "resistance",
            OHMS,
            "Resistance seen at its output; 0.5 Ω .. 3 Ω if left out.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[],
};
