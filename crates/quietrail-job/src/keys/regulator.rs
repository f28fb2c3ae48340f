//! Keys of a regulator.

use super::common::{AMPERES, CELSIUS, KELVINS_PER_WATT, NOTE, OHMS, PART, RETURN, SOURCE, VOLTS};
use super::{Bounds, Holds, Keys, circuit, circuit_may, may, must, one_or_none};
use quietrail_units::Kind;

/// `[regulator.U1]`
pub(super) static REGULATOR: Keys = Keys {
    of: "regulator",
    says: "A series regulator: set point, loop, and a pass element with dropout and limit.",
    keys: &[
        circuit("from", Holds::Name, "Input node."),
        circuit("into", Holds::Name, "Output node."),
        RETURN,
        PART,
        must(
            "set",
            Holds::Table(&SET),
            "How the output voltage comes about.",
        ),
        must(
            "dropout",
            Holds::List(&Holds::At(
                Kind::Volts,
                Bounds::NotNegative,
                Kind::Amperes,
                Bounds::NotNegative,
            )),
            "Input minus output that it needs, at rising currents: [\"0.3 V at 100 mA\", ...].",
        ),
        must(
            "rejection",
            Holds::List(&Holds::At(
                Kind::Decibels,
                Bounds::NotNegative,
                Kind::Hertz,
                Bounds::Positive,
            )),
            "Ripple rejection at rising frequencies: [\"62 dB at 120 Hz\", ...].",
        ),
        may("output_resistance", OHMS, "Fall of the output per ampere."),
        may(
            "load_regulation",
            Holds::AnyOf(&[
                Holds::At(
                    Kind::Volts,
                    Bounds::NotNegative,
                    Kind::Amperes,
                    Bounds::Positive,
                ),
                Holds::At(
                    Kind::Ratio,
                    Bounds::NotNegative,
                    Kind::Amperes,
                    Bounds::Positive,
                ),
            ]),
            "Fall of the output over a change of load: \"15 mV at 1.5 A\", \"0.3 % at 1.5 A\"; in place of output_resistance. With neither, 0 Ω .. 50 mΩ.",
        ),
        may(
            "quiescent",
            Holds::Figure(Kind::Amperes, Bounds::NotNegative),
            "Current from input to return; 0 A .. 10 mA if left out.",
        ),
        may(
            "minimum_load",
            Holds::Figure(Kind::Amperes, Bounds::NotNegative),
            "Smallest load at which it regulates; none if left out.",
        ),
        may(
            "limit",
            AMPERES,
            "Current limit; 1 to 2 times the rated current if left out.",
        ),
        may(
            "loop_time",
            Holds::Figure(Kind::Seconds, Bounds::Positive),
            "Time constant of its loop; 20 µs if left out.",
        ),
        may("junction_to_case", KELVINS_PER_WATT, "Junction to case."),
        may(
            "case_to_sink",
            Holds::Figure(Kind::KelvinsPerWatt, Bounds::NotNegative),
            "Case to sink: pad, grease; 0 K/W .. 1.5 K/W if left out.",
        ),
        may(
            "junction_to_air",
            KELVINS_PER_WATT,
            "Junction to air with no sink.",
        ),
        circuit_may("sink", Holds::Name, "Sink that it sits on."),
        may("rated", Holds::Table(&RATED), "What it is rated for."),
        SOURCE,
        NOTE,
    ],
    alternatives: &[one_or_none(&["output_resistance", "load_regulation"])],
};

static SET: Keys = Keys {
    of: "set",
    says: "The set point: a fixed part, a divider, or a trimmer that the builder sets.",
    keys: &[
        may("fixed", VOLTS, "Output of a fixed part."),
        may("reference", VOLTS, "Reference voltage."),
        may(
            "across",
            Holds::Choice(ACROSS),
            "Which resistor the reference spans: the upper one (adjust pin) or the lower one (feedback pin).",
        ),
        may(
            "adjust",
            Holds::Figure(Kind::Amperes, Bounds::NotNegative),
            "Current out of the adjust pin; 0 A if left out.",
        ),
        circuit_may(
            "upper",
            Holds::Figure(Kind::Ohms, Bounds::Positive),
            "Resistor from the output to the adjust or feedback pin.",
        ),
        circuit_may(
            "lower",
            Holds::Figure(Kind::Ohms, Bounds::Positive),
            "Resistor from there to the return.",
        ),
        circuit_may(
            "trimmer",
            Holds::Figure(Kind::Ohms, Bounds::Positive),
            "The whole trimmer.",
        ),
        circuit_may(
            "to",
            VOLTS,
            "What the trimmer is set to, with how well it can be set.",
        ),
        NOTE,
    ],
    alternatives: &[
        one_or_none(&["fixed", "upper", "trimmer"]),
        one_or_none(&["fixed", "lower", "trimmer"]),
        one_or_none(&["fixed", "to"]),
    ],
};

/// Which resistor the reference spans.
pub(crate) const ACROSS: &[&str] = &["upper", "lower"];

static RATED: Keys = Keys {
    of: "rated",
    says: "What a regulator is rated for; what is left out is not judged.",
    keys: &[
        may("input", VOLTS, "Highest input voltage against the return."),
        may("differential", VOLTS, "Highest input minus output."),
        may("current", AMPERES, "Output current."),
        may("junction", CELSIUS, "Highest junction temperature."),
        NOTE,
    ],
    alternatives: &[],
};
