//! Keys of two-ended parts, rectifiers, sinks and loads.

use super::common::{
    AMPERES, AT, BETWEEN, CELSIUS, JUNCTION, KELVINS_PER_WATT, KILOGRAMS, NOTE, OHMS, ON_SINK,
    PART, RETURN, SOURCE, TEMPERATURE, VOLTS,
};
use super::{Bounds, Holds, Key, Keys, any, circuit, circuit_may, may, must, one, one_or_none};
use quietrail_units::Kind;

/// The keys of which one gives the curve of a diode.
pub(crate) const CURVE_KEYS: &[&str] = &["points", "law", "ideal"];

/// What a rectifier takes from the diode that it names.
pub(crate) const DIODE_KEYS: &[&str] = &["points", "law", "ideal", "points_at", "rated"];

/// Factors at temperatures.
const OVER_TEMPERATURE: Holds = Holds::List(&Holds::At(
    Kind::Ratio,
    Bounds::Positive,
    Kind::Celsius,
    TEMPERATURE,
));

/// `[capacitor.C1]`
pub(super) static CAPACITOR: Keys = Keys {
    of: "capacitor",
    says: "A capacitor with its series resistance and leakage.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        must(
            "value",
            Holds::Figure(Kind::Farads, Bounds::Positive),
            "Capacitance with its tolerance.",
        ),
        may("esr", OHMS, "Equivalent series resistance."),
        may(
            "tan_delta",
            Holds::At(
                Kind::Ratio,
                Bounds::NotNegative,
                Kind::Hertz,
                Bounds::Positive,
            ),
            "Loss factor at a frequency: \"0.2 at 120 Hz\"; in place of esr. With neither, 0.02 .. 0.25 at 120 Hz.",
        ),
        may(
            "value_at",
            OVER_TEMPERATURE,
            "Capacitance at rising temperatures over that at 20 °C: [\"80 % at -25 °C\", \"105 % at 85 °C\"].",
        ),
        may(
            "esr_at",
            OVER_TEMPERATURE,
            "Series resistance at rising temperatures over that at 20 °C: [\"400 % at -25 °C\", \"60 % at 85 °C\"].",
        ),
        may(
            "polar",
            Holds::Truth,
            "Whether its first end is its plus, as of an electrolytic; true if left out, but for less than 1 µF or with an ac rating.",
        ),
        circuit_may(
            "unused",
            Holds::Figure(Kind::Hours, Bounds::NotNegative),
            "How long it lay without voltage: \"25 years\".",
        ),
        may(
            "leakage",
            Holds::AnyOf(&[
                Holds::At(
                    Kind::Amperes,
                    Bounds::NotNegative,
                    Kind::Volts,
                    Bounds::Positive,
                ),
                Holds::Figure(Kind::Siemens, Bounds::NotNegative),
            ]),
            "Leakage: \"30 µA at 35 V\", or a conductance; none if left out.",
        ),
        may(
            "rated",
            Holds::Table(&CAPACITOR_RATED),
            "What it is rated for.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[one(&["between", "at"]), any(&["esr", "tan_delta"])],
};

static CAPACITOR_RATED: Keys = Keys {
    of: "rated",
    says: "What a capacitor is rated for; what is left out is not judged.",
    keys: &[
        may(
            "volts",
            VOLTS,
            "Working voltage: the highest instant that it bears.",
        ),
        may(
            "ac",
            VOLTS,
            "Alternating voltage that it is marked for, rms: of a capacitor on the mains, 275 V~.",
        ),
        may(
            "ripple",
            Holds::At(
                Kind::Amperes,
                Bounds::Positive,
                Kind::Hertz,
                Bounds::Positive,
            ),
            "Ripple current at its frequency: \"2.1 A at 100 Hz\".",
        ),
        may(
            "multipliers",
            Holds::List(&Holds::At(
                Kind::Ratio,
                Bounds::Positive,
                Kind::Hertz,
                Bounds::Positive,
            )),
            "Factors on the ripple current by frequency, rising: [\"0.8 at 50 Hz\", ...].",
        ),
        may(
            "life",
            Holds::At(Kind::Hours, Bounds::Positive, Kind::Celsius, TEMPERATURE),
            "Life at a temperature: \"3000 h at 105 °C\".",
        ),
        NOTE,
    ],
    alternatives: &[],
};

/// `[resistor.R1]`
pub(super) static RESISTOR: Keys = Keys {
    of: "resistor",
    says: "A resistor; 0 Ω is a link.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        must("value", OHMS, "Resistance with its tolerance."),
        may(
            "rated",
            Holds::Figure(Kind::Watts, Bounds::Positive),
            "Power rating.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[one(&["between", "at"])],
};

/// `[inductor.L1]`
pub(super) static INDUCTOR: Keys = Keys {
    of: "inductor",
    says: "An inductor with its winding resistance.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        must(
            "value",
            Holds::Figure(Kind::Henries, Bounds::Positive),
            "Inductance with its tolerance.",
        ),
        must("resistance", OHMS, "Winding resistance."),
        may("rated", AMPERES, "Current rating."),
        SOURCE,
        NOTE,
    ],
    alternatives: &[one(&["between", "at"])],
};

/// `[wire.W1]`
pub(super) static WIRE: Keys = Keys {
    of: "wire",
    says: "A wire or a track as a resistance, given or from length and cross-section.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        may("resistance", OHMS, "Resistance at 20 °C."),
        may(
            "length",
            Holds::Figure(Kind::Metres, Bounds::Positive),
            "Length of the copper, one way.",
        ),
        may(
            "area",
            Holds::Figure(Kind::SquareMetres, Bounds::Positive),
            "Cross-section of the copper.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[
        one(&["between", "at"]),
        one(&["resistance", "length"]),
        one_or_none(&["resistance", "area"]),
    ],
};

/// `points`
const POINTS: Key = may(
    "points",
    Holds::List(&Holds::At(
        Kind::Volts,
        Bounds::Positive,
        Kind::Amperes,
        Bounds::Positive,
    )),
    "Forward curve: two or three data-sheet points, rising: [\"0.72 V at 100 mA\", \"0.95 V at 3 A\"].",
);
const LAW: Key = may(
    "law",
    Holds::Table(&CURVE_LAW),
    "Forward curve as an exponential with a series resistance.",
);
const IDEAL: Key = may(
    "ideal",
    Holds::Table(&CURVE_IDEAL),
    "Forward curve as a drop and a slope, for handbook tables.",
);
const CURVE_AT: &str = "Junction temperature of the points; 25 °C if left out.";
const DIODE_RATED_KEY: Key = may(
    "rated",
    Holds::Table(&DIODE_RATED),
    "What each diode is rated for.",
);

/// `[diode.D1]`
pub(super) static DIODE: Keys = Keys {
    of: "diode",
    says: "A single diode: anode at the first end, cathode at the second.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        POINTS,
        LAW,
        IDEAL,
        may("points_at", CELSIUS, CURVE_AT),
        DIODE_RATED_KEY,
        SOURCE,
        NOTE,
    ],
    alternatives: &[one(&["between", "at"]), one(CURVE_KEYS)],
};

static CURVE_LAW: Keys = Keys {
    of: "law",
    says: "i = Is (exp(v/nVt) − 1) with a series resistance.",
    keys: &[
        must("saturation", AMPERES, "Saturation current Is."),
        must(
            "ideality",
            Holds::Figure(Kind::Ratio, Bounds::Positive),
            "Ideality n.",
        ),
        must("series", OHMS, "Series resistance."),
        may(
            "leakage",
            Holds::Figure(Kind::Siemens, Bounds::NotNegative),
            "Leakage as a conductance; 0 S if left out.",
        ),
        may(
            "at",
            CELSIUS,
            "Junction temperature of the figures; 25 °C if left out.",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static CURVE_IDEAL: Keys = Keys {
    of: "ideal",
    says: "A constant drop with a slope, nothing in reverse.",
    keys: &[
        must(
            "drop",
            Holds::Figure(Kind::Volts, Bounds::NotNegative),
            "Drop as soon as it conducts.",
        ),
        may("slope", OHMS, "Slope beyond it; 0 Ω if left out."),
        NOTE,
    ],
    alternatives: &[],
};

static DIODE_RATED: Keys = Keys {
    of: "rated",
    says: "What a diode is rated for; what is left out is not judged.",
    keys: &[
        may("reverse", VOLTS, "Repetitive peak reverse voltage."),
        may("average", AMPERES, "Average forward current."),
        may("peak", AMPERES, "Repetitive peak forward current."),
        may(
            "surge",
            Holds::At(
                Kind::Amperes,
                Bounds::Positive,
                Kind::Seconds,
                Bounds::Positive,
            ),
            "Single surge: \"200 A at 8.3 ms\".",
        ),
        may(
            "thermal",
            KELVINS_PER_WATT,
            "Junction to air, or to the sink where one is named.",
        ),
        JUNCTION,
        NOTE,
    ],
    alternatives: &[],
};

/// The forms of a rectifier.
pub(crate) const RECTIFIER_FORMS: &[&str] = &[
    "bridge",
    "centre-tap",
    "half-wave",
    "split",
    "doubler",
    "cascade doubler",
];

/// `[rectifier.D1]`
pub(super) static RECTIFIER: Keys = Keys {
    of: "rectifier",
    says: "Equal diodes in a known form, fed from a winding.",
    keys: &[
        circuit(
            "from",
            Holds::Name,
            "The winding or join that feeds it: T1.S.",
        ),
        circuit("into", Holds::Name, "Positive output node."),
        RETURN,
        PART,
        circuit(
            "form",
            Holds::Choice(RECTIFIER_FORMS),
            "How the diodes are joined.",
        ),
        circuit_may(
            "negative",
            Holds::Name,
            "Negative output node; for the form split.",
        ),
        circuit_may(
            "middle",
            Holds::Name,
            "Node between the two capacitors; for the form doubler.",
        ),
        circuit_may(
            "pump",
            Holds::Name,
            "Node between pump capacitor and diodes; for the form cascade doubler.",
        ),
        circuit_may("diode", Holds::Name, "Catalogue entry of each diode."),
        POINTS,
        LAW,
        IDEAL,
        may("points_at", CELSIUS, CURVE_AT),
        DIODE_RATED_KEY,
        ON_SINK,
        SOURCE,
        NOTE,
    ],
    alternatives: &[one_or_none(CURVE_KEYS)],
};

/// `[sink.SK1]`
pub(super) static SINK: Keys = Keys {
    of: "sink",
    says: "A heat sink, shared by any parts that name it.",
    keys: &[
        PART,
        must("to_air", KELVINS_PER_WATT, "Sink to the air in the box."),
        may(
            "weight",
            KILOGRAMS,
            "Its weight: how long it takes to warm.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[],
};

/// What a load may draw.
static DRAW: Holds = Holds::AnyOf(&[
    Holds::Figure(Kind::Amperes, Bounds::NotNegative),
    Holds::Figure(Kind::Ohms, Bounds::Positive),
    Holds::Figure(Kind::Watts, Bounds::NotNegative),
]);

static LOAD_RATED: Keys = Keys {
    of: "rated",
    says: "What a load bears.",
    keys: &[
        may("volts", VOLTS, "Highest voltage at its pins, absolute."),
        NOTE,
    ],
    alternatives: &[],
};

/// `[load.oven]`
pub(super) static LOAD: Keys = Keys {
    of: "load",
    says: "What the supply feeds.",
    keys: &[
        BETWEEN,
        AT,
        PART,
        must(
            "draws",
            Holds::Named(&DRAW),
            "What it draws in each state: a current, a resistance or a power.",
        ),
        may(
            "below",
            VOLTS,
            "Below this voltage a current or a power tapers to nothing; 1 V if left out.",
        ),
        may(
            "rated",
            Holds::Table(&LOAD_RATED),
            "What it bears; not judged if left out.",
        ),
        may(
            "clamp",
            VOLTS,
            "Where a clamp across its pins begins to draw; the bring-up then proves it.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[one(&["between", "at"])],
};
