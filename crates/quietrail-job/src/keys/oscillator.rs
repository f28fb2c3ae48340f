//! Keys of an oscillator.

use super::common::NOTE;
use super::{Bounds, Holds, Keys, circuit, circuit_may};
use quietrail_units::Kind;

/// `[oscillator.X1]`
pub(super) static OSCILLATOR: Keys = Keys {
    of: "oscillator",
    says: "What the supply does to the oscillator: its pins, how far a volt on each pulls it, and its own noise.",
    keys: &[
        circuit(
            "frequency",
            Holds::Figure(Kind::Hertz, Bounds::Positive),
            "Its carrier.",
        ),
        circuit_may("supply", Holds::Table(&PIN), "Its supply pin."),
        circuit_may("tuning", Holds::Table(&PIN), "Its tuning pin."),
        circuit_may(
            "spurs",
            Holds::Figure(Kind::Decibels, Bounds::Within(-300.0, 0.0)),
            "Highest line allowed beside the carrier: \"-90 dBc\".",
        ),
        circuit_may(
            "noise",
            Holds::List(&Holds::At(
                Kind::Decibels,
                Bounds::Within(-300.0, 0.0),
                Kind::Hertz,
                Bounds::Positive,
            )),
            "Its own phase noise in a hertz, at rising distances: [\"-100 dBc at 1 Hz\", ...].",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static PIN: Keys = Keys {
    of: "pin",
    says: "A pin of an oscillator, and what a volt on it does.",
    keys: &[
        circuit(
            "at",
            Holds::AnyOf(&[Holds::Name, Holds::Ends]),
            "The node, or the two nodes between which it counts.",
        ),
        circuit_may(
            "shifts",
            Holds::AnyOf(&[
                Holds::Figure(Kind::PerVolt, Bounds::NotNegative),
                Holds::Figure(Kind::HertzPerVolt, Bounds::NotNegative),
                Holds::At(
                    Kind::Ratio,
                    Bounds::NotNegative,
                    Kind::Volts,
                    Bounds::Positive,
                ),
            ]),
            "What a volt does to the frequency: \"2 ppb/V\", \"0.05 Hz/V\", or a shift over a change, \"10 ppb at 1.2 V\".",
        ),
        circuit_may(
            "amplitude",
            Holds::Figure(Kind::PerVolt, Bounds::NotNegative),
            "What a volt does to the amplitude: \"0.1 %/V\".",
        ),
        circuit_may(
            "flat_to",
            Holds::Figure(Kind::Hertz, Bounds::Positive),
            "Frequency up to which that was measured; left out, it holds for a slow change only.",
        ),
        NOTE,
    ],
    alternatives: &[],
};
