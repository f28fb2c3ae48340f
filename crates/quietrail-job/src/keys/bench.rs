//! Keys of limits and bring-up steps.

use super::common::{NOTE, OHMS};
use super::{Bounds, Holds, Keys, circuit, circuit_may, one, one_or_none};
use quietrail_units::Kind;

/// The statistics that a limit can ask for, in the order of [`crate::model::What`].
pub(crate) const WHATS: &[&str] = &[
    "mean",
    "valley",
    "peak",
    "ripple",
    "ripple p-p",
    "noise",
    "ripple and noise",
    "headroom",
    "current",
    "rms current",
    "peak current",
    "reverse voltage",
    "power",
    "temperature",
    "life",
    "drift",
    "start",
    "hold-up",
];

static POLES: Keys = Keys {
    of: "band",
    says: "A band with first-order corners.",
    keys: &[circuit(
        "poles",
        Holds::Figure(Kind::Hertz, Bounds::NotNegative),
        "High-pass and low-pass pole: \"10 Hz .. 100 kHz\".",
    )],
    alternatives: &[],
};

/// `[[limit]]`
pub(super) static LIMIT: Keys = Keys {
    of: "limit",
    says: "What a data sheet asks of a node, a pair of nodes or a part.",
    keys: &[
        circuit("name", Holds::Text, "Its name, unique in the job."),
        circuit(
            "of",
            Holds::AnyOf(&[Holds::Name, Holds::Ends]),
            "A node, a pair of nodes or a part.",
        ),
        circuit("what", Holds::Choice(WHATS), "The statistic."),
        circuit_may(
            "band",
            Holds::AnyOf(&[
                Holds::Figure(Kind::Hertz, Bounds::NotNegative),
                Holds::Table(&POLES),
            ]),
            "Where ripple and noise count: \"10 Hz .. 100 kHz\" is a brick wall; { poles = \"10 Hz .. 100 kHz\" } has first-order corners.",
        ),
        circuit_may(
            "down_to",
            Holds::Figure(Kind::Volts, Bounds::NotZero),
            "Of a hold-up: the level down to which it counts.",
        ),
        circuit_may("min", Holds::AnyQuantity, "Lowest value allowed."),
        circuit_may("max", Holds::AnyQuantity, "Highest value allowed."),
        circuit_may(
            "states",
            Holds::List(&Holds::Name),
            "States in which it counts; all if left out.",
        ),
        circuit_may("from", Holds::Text, "The document that asks for it."),
        NOTE,
    ],
    alternatives: &[],
};

/// `[[step]]`
pub(super) static STEP: Keys = Keys {
    of: "step",
    says: "A bring-up step that changes or adds to the derived ones.",
    keys: &[
        circuit("name", Holds::Text, "Its name, unique in the job."),
        circuit_may(
            "through",
            Holds::Table(&THROUGH),
            "What stands between outlet and job.",
        ),
        circuit_may(
            "instead_of",
            Holds::Named(&Holds::Choice(&["out", "short"])),
            "Parts left out or bridged: { U1 = \"out\" }.",
        ),
        circuit_may("dummy", Holds::Table(&DUMMY), "A dummy load."),
        circuit_may(
            "states",
            Holds::List(&Holds::Name),
            "States in which it is done; all if left out.",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static THROUGH: Keys = Keys {
    of: "through",
    says: "A series lamp or a variable transformer.",
    keys: &[
        circuit_may(
            "lamp",
            Holds::Pair(Kind::Watts, Bounds::Positive, Kind::Volts, Bounds::Positive),
            "A lamp: \"60 W 230 V\".",
        ),
        circuit_may(
            "variable_transformer",
            Holds::Figure(Kind::Ratio, Bounds::NotNegative),
            "A variable transformer at a setting: \"40 %\".",
        ),
    ],
    alternatives: &[one_or_none(&["lamp", "variable_transformer"])],
};

static DUMMY: Keys = Keys {
    of: "dummy",
    says: "A dummy load.",
    keys: &[
        super::common::BETWEEN,
        super::common::AT,
        circuit("ohms", OHMS, "Its resistance."),
    ],
    alternatives: &[one(&["between", "at"])],
};
