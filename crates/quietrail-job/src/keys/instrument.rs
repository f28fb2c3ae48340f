//! Keys of instruments, and of what else is at hand on the bench.

use super::common::{NOTE, OHMS, PART, SOURCE};
use super::{Bounds, Holds, Keys, circuit_may, may, must};
use quietrail_units::Kind;

/// The kinds of instrument, in the order of [`crate::model::InstrumentKind`].
pub(crate) const INSTRUMENTS: &[&str] = &[
    "multimeter",
    "oscilloscope",
    "analyser",
    "counter",
    "thermometer",
    "bridge",
    "recorder",
    "preamplifier",
];

/// What an instrument can read, in the order of [`crate::model::Reads`].
pub(crate) const FUNCTIONS: &[&str] = &[
    "ac",
    "dc",
    "ac_current",
    "dc_current",
    "resistance",
    "capacitance",
    "frequency",
    "temperature",
    "power",
];

/// How a reading is formed, in the order of [`crate::model::Detector`].
pub(crate) const DETECTORS: &[&str] = &["true rms", "average", "peak", "sample", "log average"];

/// The attenuation of a probe.
pub(crate) const PROBES: &[&str] = &["1x", "10x", "100x"];

const BAND: Holds = Holds::Figure(Kind::Hertz, Bounds::NotNegative);

const DECIBELS: Holds = Holds::Figure(Kind::Decibels, Bounds::Positive);

/// What a counter makes of its gate.
pub(crate) const GATES: &[&str] = &["plain", "averaging"];

const INPUT: Holds = Holds::Pair(
    Kind::Ohms,
    Bounds::Positive,
    Kind::Farads,
    Bounds::NotNegative,
);

/// `[instrument.meter]`
pub(crate) static INSTRUMENT: Keys = Keys {
    of: "instrument",
    says: "An instrument on the bench, with its ranges, floors and errors.",
    keys: &[
        must("kind", Holds::Choice(INSTRUMENTS), "What it is."),
        PART,
        may("ac", Holds::Table(&FUNCTION), "Alternating voltage."),
        may("dc", Holds::Table(&FUNCTION), "Direct voltage."),
        may(
            "ac_current",
            Holds::Table(&FUNCTION),
            "Alternating current.",
        ),
        may("dc_current", Holds::Table(&FUNCTION), "Direct current."),
        may("resistance", Holds::Table(&FUNCTION), "Resistance."),
        may("capacitance", Holds::Table(&FUNCTION), "Capacitance."),
        may("frequency", Holds::Table(&FUNCTION), "Frequency."),
        may("temperature", Holds::Table(&FUNCTION), "Temperature."),
        may("power", Holds::Table(&FUNCTION), "Power."),
        may(
            "spectrum",
            Holds::Table(&SPECTRUM),
            "Of an analyser: how it reads lines beside a carrier.",
        ),
        may(
            "counting",
            Holds::Table(&COUNTING),
            "Of a counter: its timing, its time base and its reference.",
        ),
        may(
            "gain",
            Holds::Figure(Kind::Ratio, Bounds::Positive),
            "Of a preamplifier: its gain, with its error: \"100 ±1 %\".",
        ),
        may(
            "noise",
            Holds::Figure(Kind::VoltsPerRootHertz, Bounds::NotNegative),
            "Of a preamplifier: its noise at the input.",
        ),
        may("band", BAND, "Of a preamplifier: its band."),
        may(
            "input",
            INPUT,
            "Of a preamplifier: its input, \"1 MΩ 20 pF\".",
        ),
        may(
            "test",
            Holds::Figure(Kind::Volts, Bounds::Positive),
            "Test voltage of an insulation range.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[],
};

static FUNCTION: Keys = Keys {
    of: "function",
    says: "One function of an instrument.",
    keys: &[
        may(
            "detector",
            Holds::Choice(DETECTORS),
            "How it forms the reading.",
        ),
        may("band", BAND, "Where it reads right: \"20 Hz .. 20 kHz\"."),
        may(
            "resolution_bandwidth",
            BAND,
            "Of an analyser: the noise bandwidths that it has, narrowest to widest.",
        ),
        may(
            "ranges",
            Holds::List(&Holds::Text),
            "Ranges with their error: [\"400 mV ±(1 % + 5)\", ...]; counts are of the last digit, or said: \"±(1 % + 5 of 0.1 mV)\".",
        ),
        may(
            "counts",
            Holds::Number,
            "Counts of the display at the end of a range; from the first digits of the range if left out (4 V: 4000).",
        ),
        may(
            "bits",
            Holds::Number,
            "Bits of a sampling instrument over its range.",
        ),
        may(
            "errors",
            Holds::Choice(&["together", "apart"]),
            "Whether gain and offset may err the same way at once, or are known to have nothing to do with each other.",
        ),
        may(
            "valid_above",
            Holds::Figure(Kind::Ratio, Bounds::NotNegative),
            "Part of a range below which it is not specified.",
        ),
        may(
            "floor",
            Holds::AnyQuantity,
            "What it reads with its input shorted, with how well that repeats: \"360 µV ±3 %\".",
        ),
        may(
            "noise",
            Holds::Figure(Kind::VoltsPerRootHertz, Bounds::NotNegative),
            "Its own noise as a density, where that is how it is stated.",
        ),
        may("averages", Holds::Number, "Averages that it can take."),
        may(
            "input",
            INPUT,
            "Input resistance and capacitance: \"10 MΩ 100 pF\".",
        ),
        may(
            "burden",
            OHMS,
            "Of a current function: the resistance it puts in.",
        ),
        may("coupling", Holds::Choice(&["ac", "dc"]), "Coupling."),
        may(
            "probe",
            Holds::Choice(PROBES),
            "Attenuation of the probe; the ranges are those at its tip.",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static SPECTRUM: Keys = Keys {
    of: "spectrum",
    says: "How an analyser reads lines of a spectrum, in decibels.",
    keys: &[
        must("band", BAND, "Where it reads right: \"9 kHz .. 1.5 GHz\"."),
        may("level", DECIBELS, "Largest error of a level: \"1.5 dB\"."),
        may(
            "ratio",
            DECIBELS,
            "Largest error between two lines at different frequencies: \"1 dB\".",
        ),
        may(
            "noise",
            Holds::Figure(Kind::DecibelMilliwatts, Bounds::Within(-200.0, 100.0)),
            "Its noise in 1 Hz without attenuation, as displayed: \"-140 dBm\".",
        ),
        may(
            "harmonics",
            Holds::At(
                Kind::Decibels,
                Bounds::Within(-300.0, 0.0),
                Kind::DecibelMilliwatts,
                Bounds::Within(-200.0, 100.0),
            ),
            "Its own harmonics at a level at its mixer (input less attenuation): \"-70 dBc at -30 dBm\".",
        ),
        may(
            "display",
            DECIBELS,
            "How far below the reference level it shows anything: \"80 dB\".",
        ),
        may(
            "detector",
            Holds::Choice(DETECTORS),
            "How it forms the reading.",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static COUNTING: Keys = Keys {
    of: "counting",
    says: "How a counter counts, and by what.",
    keys: &[
        may(
            "timing",
            Holds::Figure(Kind::Seconds, Bounds::Positive),
            "rms of one time that it takes: \"0.1 ns\".",
        ),
        may(
            "time_base",
            Holds::Figure(Kind::Ratio, Bounds::Positive),
            "Largest error of its time base, or of the reference that it runs on: \"1 ppb\".",
        ),
        may(
            "reference",
            Holds::List(&Holds::At(
                Kind::Ratio,
                Bounds::Positive,
                Kind::Seconds,
                Bounds::Positive,
            )),
            "Allan deviation of that at rising averaging times: [\"0.001 ppb at 1 s\", ...].",
        ),
        may(
            "gate",
            Holds::Choice(GATES),
            "\"plain\": two times make a reading; \"averaging\": many inside its gate, and short times read too well.",
        ),
        NOTE,
    ],
    alternatives: &[],
};

/// `[bench]`
pub(super) static BENCH: Keys = Keys {
    of: "[bench]",
    says: "What else is at hand: dummy loads, lamps, a variable transformer.",
    keys: &[
        circuit_may(
            "resistors",
            Holds::List(&Holds::Pair(
                Kind::Ohms,
                Bounds::Positive,
                Kind::Watts,
                Bounds::Positive,
            )),
            "Power resistors for dummy loads: [\"22 Ω 10 W\", ...].",
        ),
        circuit_may(
            "lamps",
            Holds::List(&Holds::Pair(
                Kind::Watts,
                Bounds::Positive,
                Kind::Volts,
                Bounds::Positive,
            )),
            "Tungsten lamps for the first power-up: [\"60 W 230 V\", ...].",
        ),
        circuit_may(
            "variable_transformer",
            OHMS,
            "A variable transformer, by the resistance in its output.",
        ),
        NOTE,
    ],
    alternatives: &[],
};
