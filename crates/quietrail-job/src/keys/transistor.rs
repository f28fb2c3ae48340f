//! Keys of transistors and shunt regulators.

use super::common::{
    AMPERES, AT, BETWEEN, CASE_TO_SINK, CELSIUS, JUNCTION, JUNCTION_TO_AIR, JUNCTION_TO_CASE, NOTE,
    OHMS, ON_SINK, PART, SOURCE, VOLTS,
};
use super::regulator::NOISE;
use super::{Bounds, Holds, Keys, circuit, circuit_may, may, must, one, one_or_none};
use quietrail_units::Kind;

/// Polarities.
pub(crate) const POLARITIES: &[&str] = &["npn", "pnp"];

/// `[transistor.Q1]`
pub(super) static TRANSISTOR: Keys = Keys {
    of: "transistor",
    says: "A bipolar transistor: series pass element, capacitance multiplier, current source.",
    keys: &[
        circuit("collector", Holds::Name, "Node of its collector."),
        circuit("base", Holds::Name, "Node of its base."),
        circuit("emitter", Holds::Name, "Node of its emitter."),
        PART,
        may(
            "kind",
            Holds::Choice(POLARITIES),
            "Its polarity; npn if left out.",
        ),
        must(
            "gain",
            Holds::Figure(Kind::Ratio, Bounds::Within(1.0, 1e6)),
            "Collector current over base current, at the currents at hand: \"40 .. 200\".",
        ),
        must(
            "base_emitter",
            Holds::List(&Holds::At(
                Kind::Volts,
                Bounds::Positive,
                Kind::Amperes,
                Bounds::Positive,
            )),
            "Voltage from base to emitter at rising collector currents, one to three points: [\"0.65 V at 100 mA\", \"0.9 V at 3 A\"].",
        ),
        must(
            "saturation",
            Holds::At(
                Kind::Volts,
                Bounds::Positive,
                Kind::Amperes,
                Bounds::Positive,
            ),
            "Voltage from collector to emitter in saturation, at a collector current: \"0.4 V at 3 A\".",
        ),
        may(
            "early",
            VOLTS,
            "Early voltage: how little the collector's voltage acts on the current; 50 V .. 200 V if left out.",
        ),
        may(
            "base_resistance",
            Holds::Figure(Kind::Ohms, Bounds::NotNegative),
            "Resistance of the base as it makes noise; 2 Ω .. 50 Ω if left out.",
        ),
        may(
            "figures_at",
            CELSIUS,
            "Junction temperature of base_emitter and saturation; 25 °C if left out.",
        ),
        JUNCTION_TO_CASE,
        CASE_TO_SINK,
        JUNCTION_TO_AIR,
        ON_SINK,
        may(
            "rated",
            Holds::Table(&TRANSISTOR_RATED),
            "What it is rated for.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[],
};

static TRANSISTOR_RATED: Keys = Keys {
    of: "rated",
    says: "What a transistor is rated for; what is left out is not judged.",
    keys: &[
        may("volts", VOLTS, "Highest voltage from collector to emitter."),
        may(
            "reverse",
            VOLTS,
            "Highest reverse voltage from emitter to base.",
        ),
        may("current", AMPERES, "Highest collector current."),
        may("base_current", AMPERES, "Highest base current."),
        may(
            "power",
            Holds::Figure(Kind::Watts, Bounds::Positive),
            "Highest power, with its case at 25 °C.",
        ),
        JUNCTION,
        NOTE,
    ],
    alternatives: &[],
};

/// `[shunt.Z1]`
pub(super) static SHUNT: Keys = Keys {
    of: "shunt",
    says: "A shunt regulator: a zener diode, or a reference with a divider, that takes what the resistor before it gives and the load leaves.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        may("fixed", VOLTS, "Voltage that it holds: a zener diode."),
        may(
            "reference",
            VOLTS,
            "Voltage between its feedback pin and its lower end.",
        ),
        circuit_may(
            "upper",
            Holds::Figure(Kind::Ohms, Bounds::Positive),
            "Resistor from its upper end to the feedback pin.",
        ),
        circuit_may(
            "lower",
            Holds::Figure(Kind::Ohms, Bounds::Positive),
            "Resistor from there to its lower end.",
        ),
        must(
            "resistance",
            OHMS,
            "Rise of its voltage per ampere: dynamic resistance.",
        ),
        may(
            "least",
            Holds::Figure(Kind::Amperes, Bounds::NotNegative),
            "Smallest current at which it regulates; not judged if left out.",
        ),
        may("noise", Holds::Table(&NOISE), "Noise across it."),
        JUNCTION_TO_AIR,
        may("rated", Holds::Table(&SHUNT_RATED), "What it is rated for."),
        SOURCE,
        NOTE,
    ],
    alternatives: &[
        one(&["between", "at"]),
        one(&["fixed", "reference"]),
        one_or_none(&["fixed", "upper"]),
        one_or_none(&["fixed", "lower"]),
    ],
};

static SHUNT_RATED: Keys = Keys {
    of: "rated",
    says: "What a shunt regulator is rated for; what is left out is not judged.",
    keys: &[
        may("current", AMPERES, "Highest current."),
        may(
            "power",
            Holds::Figure(Kind::Watts, Bounds::Positive),
            "Highest power.",
        ),
        JUNCTION,
        NOTE,
    ],
    alternatives: &[],
};
