//! Keys of a regulator.

use super::common::{
    AMPERES, CASE_TO_SINK, EITHER_VOLTS, JUNCTION, JUNCTION_TO_AIR, JUNCTION_TO_CASE, NOTE, OHMS,
    ON_SINK, PART, RETURN, SOURCE, VOLTS,
};
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
            "Between input and output, what it needs, at rising currents: [\"0.3 V at 100 mA\", ...].",
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
        may(
            "foldback",
            Holds::List(&Holds::At(
                Kind::Amperes,
                Bounds::NotNegative,
                Kind::Volts,
                Bounds::NotNegative,
            )),
            "Current limit at rising input minus output: [\"1.5 A at 10 V\", \"0.2 A at 35 V\"]; none if left out.",
        ),
        circuit_may(
            "limit_resistor",
            Holds::AnyOf(&[
                Holds::Figure(Kind::Ohms, Bounds::Positive),
                Holds::List(&Holds::Figure(Kind::Ohms, Bounds::Positive)),
            ]),
            "Resistor that sets the current limit, or several side by side; in place of limit.",
        ),
        may(
            "limit_volts",
            VOLTS,
            "Drop across that resistor at which the limit acts; 0.6 V .. 0.7 V if left out.",
        ),
        may("noise", Holds::Table(&NOISE), "Noise of the output."),
        may(
            "reference_noise",
            Holds::Table(&NOISE),
            "Noise of the reference, where it is given apart; it grows with output over reference.",
        ),
        may(
            "stable_with",
            Holds::Tables(&WINDOW),
            "Output capacitors with which it is stable: [{ least = \"10 µF\", esr = \"0.3 Ω .. 22 Ω\" }].",
        ),
        circuit_may(
            "rang",
            Holds::List(&Holds::Figure(Kind::Volts, Bounds::Positive)),
            "Swings of its output after a step of the load, from where it came to rest, alternately above and below: [\"40 mV\", \"14 mV\"].",
        ),
        JUNCTION_TO_CASE,
        CASE_TO_SINK,
        JUNCTION_TO_AIR,
        circuit_may(
            "sense",
            Holds::AnyOf(&[Holds::Name, Holds::Ends]),
            "Where its divider looks at the output, if not at its own pins: a node, or two nodes for upper and lower lead.",
        ),
        ON_SINK,
        may("rated", Holds::Table(&RATED), "What it is rated for."),
        SOURCE,
        NOTE,
    ],
    alternatives: &[
        one_or_none(&["output_resistance", "load_regulation"]),
        one_or_none(&["limit", "limit_resistor"]),
    ],
};

pub(super) static NOISE: Keys = Keys {
    of: "noise",
    says: "Noise as a data sheet gives it: a density, points of a curve, or a total over a band.",
    keys: &[
        may(
            "density",
            Holds::Figure(Kind::VoltsPerRootHertz, Bounds::NotNegative),
            "Flat density.",
        ),
        may(
            "corner",
            Holds::Figure(Kind::Hertz, Bounds::NotNegative),
            "Below this it rises as one over the frequency, in power; flat all the way if left out.",
        ),
        may(
            "points",
            Holds::List(&Holds::At(
                Kind::VoltsPerRootHertz,
                Bounds::Positive,
                Kind::Hertz,
                Bounds::Positive,
            )),
            "Density at rising frequencies: [\"50 nV/√Hz at 10 Hz\", ...].",
        ),
        may(
            "total",
            Holds::AnyOf(&[
                Holds::Figure(Kind::Volts, Bounds::NotNegative),
                Holds::Figure(Kind::Ratio, Bounds::NotNegative),
            ]),
            "rms over the band: \"42 µV\", or a part of the output: \"0.003 %\".",
        ),
        may(
            "band",
            Holds::Figure(Kind::Hertz, Bounds::NotNegative),
            "Band of the total: \"10 Hz .. 100 kHz\".",
        ),
        may(
            "at",
            VOLTS,
            "Output voltage at which it was stated; it grows in proportion to the output. Left out, it stands at any output.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[super::one(&["density", "points", "total"])],
};

static WINDOW: Keys = Keys {
    of: "stable_with",
    says: "An output capacitor with which a regulator is stable.",
    keys: &[
        may(
            "least",
            Holds::Figure(Kind::Farads, Bounds::Positive),
            "Least capacitance.",
        ),
        may(
            "esr",
            OHMS,
            "Range of its series resistance; any if left out.",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static SET: Keys = Keys {
    of: "set",
    says: "The set point: a fixed part, a divider, or a trimmer that the builder sets.",
    keys: &[
        may(
            "fixed",
            EITHER_VOLTS,
            "Output of a fixed part; below zero of one that holds a rail under its return: \"-12 V\".",
        ),
        may(
            "reference",
            EITHER_VOLTS,
            "Reference voltage; below zero of one that holds a rail under its return.",
        ),
        may(
            "across",
            Holds::Choice(ACROSS),
            "Which resistor the reference spans: the upper one (adjust pin), the lower one (feedback pin), or both (the output follows their middle).",
        ),
        may(
            "adjust",
            Holds::Figure(Kind::Amperes, Bounds::NotNegative),
            "Current of the adjust pin that adds to the output; 0 A if left out.",
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
            "bypass",
            Holds::Figure(Kind::Farads, Bounds::NotNegative),
            "Capacitor from adjust pin to return; \"0 F\" for a bare pin. Left out, rejection and noise stand as the data sheet has them.",
        ),
        circuit_may(
            "trimmer",
            Holds::Figure(Kind::Ohms, Bounds::Positive),
            "The whole trimmer.",
        ),
        circuit_may(
            "to",
            EITHER_VOLTS,
            "What the trimmer is set to, with how well it can be set; below zero of a rail under its return.",
        ),
        circuit_may(
            "turns",
            Holds::Figure(Kind::Ratio, Bounds::Positive),
            "Turns of the trimmer from end to end.",
        ),
        may(
            "reference_drift",
            Holds::Figure(Kind::Ratio, Bounds::NotNegative),
            "Change of the reference per kelvin: \"50 ppm\".",
        ),
        circuit_may(
            "divider_drift",
            Holds::Figure(Kind::Ratio, Bounds::NotNegative),
            "Change of the resistors against each other per kelvin.",
        ),
        circuit_may(
            "trimmer_drift",
            Holds::Figure(Kind::Ratio, Bounds::NotNegative),
            "Change of the trimmer against the resistors per kelvin.",
        ),
        NOTE,
    ],
    alternatives: &[
        one_or_none(&["fixed", "upper"]),
        one_or_none(&["fixed", "lower"]),
        one_or_none(&["fixed", "trimmer"]),
        one_or_none(&["fixed", "to"]),
    ],
};

/// Which resistor the reference spans.
pub(crate) const ACROSS: &[&str] = &["upper", "lower", "both"];

static RATED: Keys = Keys {
    of: "rated",
    says: "What a regulator is rated for; what is left out is not judged.",
    keys: &[
        may("input", VOLTS, "Highest input voltage against the return."),
        may("differential", VOLTS, "Highest input minus output."),
        may("current", AMPERES, "Output current."),
        JUNCTION,
        may(
            "backwards",
            Holds::Figure(Kind::Farads, Bounds::Positive),
            "Largest output capacitor that may discharge backwards through it without a diode.",
        ),
        NOTE,
    ],
    alternatives: &[],
};
