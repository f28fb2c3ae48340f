//! Keys of an oscillator.

use super::common::NOTE;
use super::{Bounds, Holds, Keys, circuit, circuit_may, may, must};
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
        may(
            "level",
            Holds::Figure(Kind::DecibelMilliwatts, Bounds::Within(-200.0, 100.0)),
            "Its level into 50 Ω, with the range that is allowed: \"5 dBm .. 9 dBm\".",
        ),
        may(
            "harmonics",
            Holds::Figure(Kind::Decibels, Bounds::Within(-300.0, 0.0)),
            "Highest harmonic allowed: \"-30 dBc\".",
        ),
        may(
            "warm_up",
            Holds::Table(&WARM_UP),
            "After which time it is within how much of its end, and the most that it draws.",
        ),
        may(
            "offset",
            Holds::Figure(Kind::Ratio, Bounds::Positive),
            "Largest offset from its frequency, either way: \"20 ppb\".",
        ),
        may(
            "ageing",
            Holds::Figure(Kind::Ratio, Bounds::Positive),
            "Largest change in a day, either way: \"0.5 ppb\".",
        ),
        may(
            "retrace",
            Holds::Figure(Kind::Ratio, Bounds::Positive),
            "How far it may come back from where it was, after a pause, either way: \"2 ppb\".",
        ),
        may(
            "stability",
            Holds::List(&Holds::At(
                Kind::Ratio,
                Bounds::Positive,
                Kind::Seconds,
                Bounds::Positive,
            )),
            "Largest Allan deviation at averaging times: [\"0.01 ppb at 1 s\", ...].",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static WARM_UP: Keys = Keys {
    of: "warm-up",
    says: "The limit of a warm-up from cold.",
    keys: &[
        must(
            "time",
            Holds::Figure(Kind::Seconds, Bounds::Positive),
            "How long it may take: \"5 min\".",
        ),
        must(
            "within",
            Holds::Figure(Kind::Ratio, Bounds::Positive),
            "How near to its end it is then: \"10 ppb\".",
        ),
        may(
            "current",
            Holds::Figure(Kind::Amperes, Bounds::Positive),
            "The most that it may draw on the way.",
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
