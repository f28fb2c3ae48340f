//! The tables of `job.toml` and of `parts.toml`.

use super::common::{CELSIUS, KELVINS_PER_WATT};
use super::{
    Holds, Key, Keys, bench, circuit, circuit_may, instrument, mains, may, oscillator, part,
    regulator, transformer, transistor, unmarked,
};
use quietrail_units::Kind;

/// `job.toml`
pub(crate) static ROOT: Keys = Keys {
    of: "job",
    says: "The design: mains, parts, wiring, load, and what the data sheets ask.",
    keys: &[
        circuit_may(
            "format",
            Holds::Number,
            "The number of this form of file: 1. Must be there.",
        ),
        circuit_may("job", Holds::Table(&JOB), "What is being built."),
        circuit("mains", Holds::Table(&mains::MAINS), "The wall socket."),
        circuit(
            "states",
            Holds::Named(&Holds::Text),
            "What the load may be doing: name = \"words\".",
        ),
        circuit_may("box", Holds::Table(&BOX), "The air."),
        circuit_may(
            "limit",
            Holds::Tables(&bench::LIMIT),
            "What the data sheets ask: [[limit]], one each.",
        ),
        INSTRUMENT,
        circuit_may(
            "bench",
            Holds::Table(&instrument::BENCH),
            "What else is at hand on the bench.",
        ),
        circuit_may(
            "oscillator",
            Holds::NamedTables(&oscillator::OSCILLATOR),
            "What the supply does to the oscillator: [oscillator.X1].",
        ),
        circuit_may(
            "step",
            Holds::Tables(&bench::STEP),
            "Bring-up steps that differ from the derived ones: [[step]].",
        ),
        circuit_may(
            "same",
            Holds::Tables(&SAME),
            "Figures that go up and down together: [[same]], one each.",
        ),
        circuit_may(
            "spread",
            Holds::Tables(&SPREAD),
            "Figures that are not as likely at one place of their range as at another: [[spread]], one each.",
        ),
        circuit_may(
            "unmarked",
            Holds::NamedTables(&unmarked::UNMARKED),
            "Readings of transformers that are not known yet: [unmarked.T1].",
        ),
        FUSE,
        SWITCH,
        LAMP,
        VARIABLE_TRANSFORMER,
        TRANSFORMER,
        RECTIFIER,
        CAPACITOR,
        RESISTOR,
        INDUCTOR,
        WIRE,
        DIODE,
        REGULATOR,
        TRANSISTOR,
        SHUNT,
        SINK,
        LOAD,
    ],
    alternatives: &[],
};

/// The kinds of part: all of `parts.toml`, and the part tables of `job.toml`. Instruments are read apart from the
/// parts of the circuit.
pub(crate) static PARTS: Keys = Keys {
    of: "catalogue",
    says: "The builder's own parts, in the form of the built-in catalogue.",
    keys: &[
        FUSE,
        SWITCH,
        LAMP,
        VARIABLE_TRANSFORMER,
        TRANSFORMER,
        RECTIFIER,
        CAPACITOR,
        RESISTOR,
        INDUCTOR,
        WIRE,
        DIODE,
        REGULATOR,
        TRANSISTOR,
        SHUNT,
        SINK,
        LOAD,
        INSTRUMENT,
    ],
    alternatives: &[],
};

const INSTRUMENT: Key = may(
    "instrument",
    Holds::NamedTables(&instrument::INSTRUMENT),
    "The instruments on the bench: [instrument.meter].",
);
const FUSE: Key = may(
    "fuse",
    Holds::NamedTables(&mains::FUSE),
    "Fuses: [fuse.F1].",
);
const SWITCH: Key = may(
    "switch",
    Holds::NamedTables(&mains::SWITCH),
    "Switches: [switch.SW1].",
);
const LAMP: Key = may(
    "lamp",
    Holds::NamedTables(&mains::LAMP),
    "Tungsten lamps in series: [lamp.LA1].",
);
const VARIABLE_TRANSFORMER: Key = may(
    "variable_transformer",
    Holds::NamedTables(&mains::VARIABLE_TRANSFORMER),
    "Variable transformers: [variable_transformer.VT1].",
);
const TRANSFORMER: Key = may(
    "transformer",
    Holds::NamedTables(&transformer::TRANSFORMER),
    "Transformers: [transformer.T1].",
);
const RECTIFIER: Key = may(
    "rectifier",
    Holds::NamedTables(&part::RECTIFIER),
    "Rectifiers: [rectifier.D1].",
);
const CAPACITOR: Key = may(
    "capacitor",
    Holds::NamedTables(&part::CAPACITOR),
    "Capacitors: [capacitor.C1].",
);
const RESISTOR: Key = may(
    "resistor",
    Holds::NamedTables(&part::RESISTOR),
    "Resistors: [resistor.R1].",
);
const INDUCTOR: Key = may(
    "inductor",
    Holds::NamedTables(&part::INDUCTOR),
    "Inductors: [inductor.L1].",
);
const WIRE: Key = may(
    "wire",
    Holds::NamedTables(&part::WIRE),
    "Wires and tracks: [wire.W1].",
);
const DIODE: Key = may(
    "diode",
    Holds::NamedTables(&part::DIODE),
    "Single diodes: [diode.D2].",
);
const REGULATOR: Key = may(
    "regulator",
    Holds::NamedTables(&regulator::REGULATOR),
    "Regulators: [regulator.U1].",
);
const TRANSISTOR: Key = may(
    "transistor",
    Holds::NamedTables(&transistor::TRANSISTOR),
    "Transistors: [transistor.Q1].",
);
const SHUNT: Key = may(
    "shunt",
    Holds::NamedTables(&transistor::SHUNT),
    "Shunt regulators and zener diodes: [shunt.Z1].",
);
const SINK: Key = may(
    "sink",
    Holds::NamedTables(&part::SINK),
    "Heat sinks: [sink.SK1].",
);
const LOAD: Key = may(
    "load",
    Holds::NamedTables(&part::LOAD),
    "What the supply feeds: [load.oven].",
);

static JOB: Keys = Keys {
    of: "[job]",
    says: "What is being built.",
    keys: &[
        circuit_may("title", Holds::Text, "Its name."),
        circuit_may(
            "region",
            Holds::Pair(
                Kind::Volts,
                super::Bounds::Positive,
                Kind::Hertz,
                super::Bounds::Positive,
            ),
            "Mains of the region, \"230 V 50 Hz\"; picks the defaults of the safety rows. From [mains] if left out.",
        ),
        super::common::NOTE,
    ],
    alternatives: &[],
};

static SAME: Keys = Keys {
    of: "[[same]]",
    says: "Figures whose tolerances go up and down together: parts off one reel, windings of one wire.",
    keys: &[
        circuit(
            "figures",
            Holds::List(&Holds::Name),
            "The figures, two or more, by their addresses: [\"C1.value\", \"C2.value\"].",
        ),
        circuit_may("because", Holds::Text, "Why: \"one reel\"."),
        super::common::NOTE,
    ],
    alternatives: &[],
};

static SPREAD: Keys = Keys {
    of: "[[spread]]",
    says: "Figures whose values crowd around the nominal. Without it, one value within tolerance is as likely as another.",
    keys: &[
        circuit(
            "figures",
            Holds::List(&Holds::Name),
            "The figures by their addresses: [\"C1.value\", \"U1.set.reference\"].",
        ),
        circuit("shape", Holds::Choice(&["normal"]), "How they are spread."),
        circuit_may(
            "deviations",
            DEVIATIONS,
            "How many standard deviations the tolerance is, to either side; 3 if left out.",
        ),
        circuit_may(
            "cut",
            DEVIATIONS,
            "How many standard deviations the values reach, to either side; no value is further off, and the worst case \
             is looked for up to there. As many as the tolerance if left out.",
        ),
        circuit_may(
            "because",
            Holds::Text,
            "Why: \"measured on thirty of them\".",
        ),
        super::common::NOTE,
    ],
    alternatives: &[],
};

/// So many standard deviations.
const DEVIATIONS: Holds = Holds::Figure(Kind::Ratio, super::Bounds::Within(0.5, 8.0));

static BOX: Keys = Keys {
    of: "[box]",
    says: "The air in the room and in the box.",
    keys: &[
        circuit_may(
            "room",
            CELSIUS,
            "Room temperature; 15 °C .. 35 °C if left out.",
        ),
        circuit_may(
            "rise",
            Holds::Figure(Kind::Kelvins, super::Bounds::NotNegative),
            "Air inside above the room; 0 K .. 20 K if neither this nor to_room is given.",
        ),
        circuit_may(
            "to_room",
            KELVINS_PER_WATT,
            "All heat in the box leaves through this; the rise is then solved.",
        ),
        super::common::NOTE,
    ],
    alternatives: &[super::one_or_none(&["rise", "to_room"])],
};
