//! Keys of an unmarked transformer: the readings taken of it.

use super::common::{CELSIUS, CLASSES, NOTE, VOLTS};
use super::{Bounds, Holds, Key, Keys, circuit, circuit_may, one_or_none};
use quietrail_units::Kind;

/// `[unmarked.T1]`
pub(super) static UNMARKED: Keys = Keys {
    of: "unmarked transformer",
    says: "A transformer that is not known yet: its leads, and the readings taken of it.",
    keys: &[
        circuit(
            "leads",
            Holds::List(&Holds::Name),
            "Its leads, by the names that you give them.",
        ),
        circuit_may(
            "primary",
            Holds::List(&Holds::Name),
            "The leads that the mains was on, where something other than ohms says so.",
        ),
        circuit_may(
            "primary_because",
            Holds::Text,
            "What says so: \"the cord was soldered to them\". Needed with primary.",
        ),
        circuit_may(
            "marked",
            Holds::Pair(Kind::Volts, Bounds::Positive, Kind::Hertz, Bounds::Positive),
            "What the primary is marked for, if anything: \"220 V 60 Hz\".",
        ),
        circuit_may("core", Holds::Table(&CORE), "Size of the core."),
        circuit_may(
            "copper_max",
            CELSIUS,
            "Highest copper temperature, where the class of the insulation is not given.",
        ),
        circuit_may(
            "class",
            Holds::Choice(&CLASSES),
            "Class of the insulation by its letter (IEC 60085): \"A\" is 105 °C, B 130 °C; in place of copper_max.",
        ),
        circuit_may(
            "metal",
            Holds::Choice(&METALS),
            "Metal of the windings: \"copper\", or \"aluminium\"; copper if left out. It counts in the hot run.",
        ),
        circuit_may(
            "null",
            Holds::Figure(Kind::Ohms, Bounds::NotNegative),
            "What the ohmmeter reads with its leads touching; taken off every reading. 0 Ω .. 0.3 Ω if left out.",
        ),
        circuit_may(
            "copper",
            CELSIUS,
            "Temperature of the copper at the resistance readings; 15 °C .. 25 °C if left out.",
        ),
        circuit_may(
            "frequency",
            Holds::Figure(Kind::Hertz, Bounds::Positive),
            "Frequency of all AC readings; that of the mains if left out.",
        ),
        circuit_may(
            "errors",
            Holds::Table(&ERRORS),
            "By how much the meter may be off as a whole on each function.",
        ),
        circuit_may(
            "ohms",
            Holds::Tables(&OHMS_READING),
            "Resistances between leads.",
        ),
        circuit_may(
            "volts",
            Holds::Tables(&VOLTS_READING),
            "Volts off load, phase tests among them.",
        ),
        circuit_may(
            "shorted",
            Holds::Tables(&SHORTED),
            "Short-circuit tests at a low voltage.",
        ),
        circuit_may(
            "no_load",
            Holds::Tables(&NO_LOAD),
            "Current with nothing connected.",
        ),
        circuit_may("loaded", Holds::Tables(&LOADED), "Volts under a load."),
        circuit_may(
            "existing",
            Holds::Tables(&EXISTING),
            "What the instrument already draws, as the sag that it causes.",
        ),
        circuit_may(
            "hot",
            Holds::Table(&HOT),
            "A hot run: resistance after switching off.",
        ),
        circuit_may(
            "insulation",
            Holds::Tables(&INSULATION),
            "Insulation between leads.",
        ),
        circuit_may(
            "day",
            Holds::List(&VOLTS),
            "The mains over a day: [\"231 V\", \"236 V\"].",
        ),
        NOTE,
    ],
    alternatives: &[one_or_none(&["copper_max", "class"])],
};

/// Metals that windings are of.
pub(crate) const METALS: [&str; 2] = ["copper", "aluminium"];

/// A lead to lead.
const BETWEEN: Key = circuit("between", Holds::Ends, "The two leads.");
const DRIVEN: Key = circuit(
    "driven",
    Holds::Ends,
    "The two leads that the source is on.",
);
const AT: Key = circuit("at", VOLTS, "Volts on them during the reading, rms.");
const JOINED: Key = circuit_may(
    "joined",
    Holds::List(&Holds::Ends),
    "Leads tied together for the reading: [[\"black\", \"white\"]].",
);
const ACROSS: Key = circuit("across", Holds::Ends, "The two leads that are read.");
const WATTS: Key = circuit_may(
    "watts",
    Holds::Figure(Kind::Watts, Bounds::Positive),
    "Watts drawn, where there is a wattmeter.",
);

static CORE: Keys = Keys {
    of: "core",
    says: "Laminations: tongue and stack. A toroid: outer and inner diameter, height, weight.",
    keys: &[
        circuit_may("tongue", LIMB, "Width of the middle limb."),
        circuit_may("stack", LIMB, "Thickness of the stack."),
        circuit_may(
            "outer",
            SIZE,
            "Outer diameter of a toroid, winding included.",
        ),
        circuit_may("inner", SIZE, "Inner diameter of a toroid."),
        circuit_may("height", SIZE, "Height of a toroid."),
        circuit_may(
            "weight",
            Holds::Figure(Kind::Kilograms, Bounds::Within(0.02, 60.0)),
            "Weight of the whole transformer.",
        ),
        NOTE,
    ],
    alternatives: &[one_or_none(&["tongue", "outer"])],
};

/// Sizes of rings that fit an instrument: 3 mm to 400 mm. Another figure is mostly in another unit.
const SIZE: Holds = Holds::Figure(Kind::Metres, Bounds::Within(0.003, 0.4));
/// Tongues and stacks of laminations that fit one: 3 mm to 120 mm; beyond that millimetres were taken for centimetres.
const LIMB: Holds = Holds::Figure(Kind::Metres, Bounds::Within(0.003, 0.12));

static ERRORS: Keys = Keys {
    of: "errors",
    says: "Errors that all readings of a function share: the percentage of its specification.",
    keys: &[
        circuit_may("ohms", SHARE, "Of resistance; 1 % if left out."),
        circuit_may("volts", SHARE, "Of AC volts; 1.5 % if left out."),
        circuit_may("amps", SHARE, "Of AC amperes; 2 % if left out."),
        circuit_may("watts", SHARE, "Of watts; 3 % if left out."),
        NOTE,
    ],
    alternatives: &[],
};

const SHARE: Holds = Holds::Figure(Kind::Ratio, Bounds::Within(0.0, 0.2));

static OHMS_READING: Keys = Keys {
    of: "resistance reading",
    says: "A resistance between two leads.",
    keys: &[
        BETWEEN,
        circuit(
            "reads",
            Holds::AnyOf(&[
                Holds::Figure(Kind::Ohms, Bounds::Positive),
                Holds::Choice(&["open"]),
            ]),
            "What the meter reads, or \"open\".",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static VOLTS_READING: Keys = Keys {
    of: "off-load reading",
    says: "Volts across two leads, with a source on others and nothing loaded.",
    keys: &[
        DRIVEN,
        AT,
        JOINED,
        ACROSS,
        circuit("reads", VOLTS_OR_NONE, "What the meter reads."),
        NOTE,
    ],
    alternatives: &[],
};

const VOLTS_OR_NONE: Holds = Holds::Figure(Kind::Volts, Bounds::NotNegative);

static SHORTED: Keys = Keys {
    of: "short-circuit test",
    says: "A low voltage on one winding, another shorted.",
    keys: &[
        DRIVEN,
        AT,
        JOINED,
        circuit("short", Holds::Ends, "The two leads that are shorted."),
        circuit(
            "amps",
            Holds::Figure(Kind::Amperes, Bounds::Positive),
            "Current into the driven leads, rms.",
        ),
        WATTS,
        NOTE,
    ],
    alternatives: &[],
};

static NO_LOAD: Keys = Keys {
    of: "no-load reading",
    says: "Current with nothing connected to the other windings.",
    keys: &[
        DRIVEN,
        AT,
        JOINED,
        circuit(
            "amps",
            Holds::Figure(Kind::Amperes, Bounds::Positive),
            "Current into the driven leads, rms.",
        ),
        WATTS,
        NOTE,
    ],
    alternatives: &[],
};

static LOADED: Keys = Keys {
    of: "loaded reading",
    says: "Volts across two leads under a load: a resistor, or a rectifier with its reservoir.",
    keys: &[
        DRIVEN,
        AT,
        JOINED,
        ACROSS,
        circuit_may(
            "ohms",
            Holds::Figure(Kind::Ohms, Bounds::Positive),
            "The load resistor: across the leads, or across the reservoir.",
        ),
        circuit_may(
            "amps",
            Holds::Figure(Kind::Amperes, Bounds::Positive),
            "In place of ohms, behind a rectifier: the direct current drawn.",
        ),
        circuit_may(
            "rectified",
            Holds::Choice(&["bridge"]),
            "A rectifier between leads and load; volts are then the mean across the reservoir.",
        ),
        circuit_may(
            "reservoir",
            Holds::Figure(Kind::Farads, Bounds::Positive),
            "The reservoir capacitor; needed with rectified.",
        ),
        circuit_may(
            "drop",
            Holds::Figure(Kind::Volts, Bounds::NotNegative),
            "Drop of one diode while it conducts; 0.75 V .. 1 V if left out.",
        ),
        circuit(
            "reads",
            VOLTS,
            "What the meter reads: rms, or the mean behind a rectifier.",
        ),
        circuit_may(
            "warmer",
            Holds::Figure(Kind::Kelvins, Bounds::NotNegative),
            "Copper above that of the resistance readings; 0 K .. 20 K if left out.",
        ),
        NOTE,
    ],
    alternatives: &[one_or_none(&["ohms", "amps"])],
};

static EXISTING: Keys = Keys {
    of: "existing load",
    says: "A load of the instrument on a winding: volts with it unplugged and plugged in.",
    keys: &[
        DRIVEN,
        AT,
        JOINED,
        ACROSS,
        circuit("unplugged", VOLTS, "Volts across them without the load."),
        circuit("plugged", VOLTS, "Volts across them with the load."),
        NOTE,
    ],
    alternatives: &[],
};

static HOT: Keys = Keys {
    of: "hot run",
    says: "Resistance of a winding cold, and after a long run at some time since switching off.",
    keys: &[
        BETWEEN,
        circuit(
            "cold",
            Holds::Figure(Kind::Ohms, Bounds::Positive),
            "Resistance before the run.",
        ),
        circuit("cold_at", CELSIUS, "Temperature of the copper then."),
        circuit(
            "after",
            Holds::List(&Holds::At(
                Kind::Ohms,
                Bounds::Positive,
                Kind::Seconds,
                Bounds::NotNegative,
            )),
            "Resistances at times since switching off: [\"25.0 Ω at 15 s\", \"24.8 Ω at 45 s\"].",
        ),
        circuit(
            "room",
            CELSIUS,
            "Temperature of the air at the end of the run.",
        ),
        circuit_may(
            "copper_loss",
            Holds::Figure(Kind::Watts, Bounds::Positive),
            "Heat made in the windings during the run.",
        ),
        circuit_may(
            "core_loss",
            Holds::Figure(Kind::Watts, Bounds::NotNegative),
            "Heat made in the core: the watts of the no-load test at the same volts.",
        ),
        circuit_may(
            "carried",
            Holds::Figure(Kind::VoltAmperes, Bounds::Positive),
            "Volt-amperes that all secondaries carried, volts off load times rms amperes.",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static INSULATION: Keys = Keys {
    of: "insulation reading",
    says: "Insulation between two windings, or a winding and the core.",
    keys: &[
        circuit(
            "between",
            Holds::Ends,
            "A lead of each; \"core\" is the iron, \"screen\" the screen.",
        ),
        circuit(
            "reads",
            Holds::Figure(Kind::Ohms, Bounds::Positive),
            "What the insulation tester reads.",
        ),
        circuit("at", VOLTS, "Its test voltage, DC."),
        circuit_may(
            "air",
            Holds::Choice(&["dry", "damp"]),
            "How the transformer had been kept.",
        ),
        NOTE,
    ],
    alternatives: &[],
};
