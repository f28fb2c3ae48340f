//! Keys of a transformer and its windings.

use super::common::{
    AMPERES, CELSIUS, CLASSES, KELVINS_PER_WATT, KILOGRAMS, NOTE, OHMS, PART, SOURCE, VOLTS,
};
use super::{Bounds, Holds, Keys, circuit_may, may, must, one};
use quietrail_units::Kind;

/// `[transformer.T1]`
pub(super) static TRANSFORMER: Keys = Keys {
    of: "transformer",
    says: "A mains transformer. The dot of each winding is at its start.",
    keys: &[
        PART,
        must("primary", Holds::Tables(&PRIMARY), "Primary windings."),
        may(
            "selector",
            Holds::Named(&Holds::Name),
            "Mains selector: position = \"P1 + P2\"; + is series, | parallel, minus turned round.",
        ),
        circuit_may(
            "selected",
            Holds::Name,
            "Position of the selector; the one that fits the region if left out.",
        ),
        must(
            "secondary",
            Holds::Tables(&SECONDARY),
            "Secondary windings.",
        ),
        may(
            "joins",
            Holds::Named(&Holds::Name),
            "Windings joined under a name: S = \"S1 + S2\".",
        ),
        circuit_may(
            "existing",
            Holds::Tables(&EXISTING),
            "What the instrument already takes from this core.",
        ),
        may(
            "no_load",
            Holds::At(
                Kind::Amperes,
                Bounds::Positive,
                Kind::Volts,
                Bounds::Positive,
            ),
            "Primary current with nothing connected: \"35 mA at 230 V\"; 2 VA .. 10 VA if left out.",
        ),
        may(
            "read_at",
            CELSIUS,
            "Temperature of the copper when the resistances were read; 20 °C if left out.",
        ),
        may(
            "secondary_share",
            Holds::Figure(Kind::Ratio, Bounds::Within(0.001, 0.999)),
            "The secondaries' part of the copper loss, where plates tell the copper; 30 % .. 70 % if left out.",
        ),
        may(
            "to_air",
            KELVINS_PER_WATT,
            "Copper to the air in the box; the copper temperature is then solved.",
        ),
        may(
            "rise",
            Holds::Figure(Kind::Kelvins, Bounds::NotNegative),
            "Copper above the air in the box, where to_air is not given; 0 K .. 60 K if left out.",
        ),
        may(
            "copper_max",
            CELSIUS,
            "Highest copper temperature, where the class of the insulation is not given.",
        ),
        may(
            "class",
            Holds::Choice(&CLASSES),
            "Class of the insulation by its letter (IEC 60085), in place of copper_max.",
        ),
        may(
            "watts_max",
            Holds::Figure(Kind::Watts, Bounds::Positive),
            "Heat that it may make.",
        ),
        may(
            "weight",
            KILOGRAMS,
            "Its weight: how long it takes to warm.",
        ),
        SOURCE,
        NOTE,
    ],
    alternatives: &[
        super::one_or_none(&["to_air", "rise"]),
        super::one_or_none(&["copper_max", "class"]),
    ],
};

static PRIMARY: Keys = Keys {
    of: "primary winding",
    says: "One primary winding.",
    keys: &[
        must("name", Holds::Name, "P1"),
        must("volts", VOLTS, "Voltage it was wound for, rms."),
        may(
            "resistance",
            OHMS,
            "Copper resistance; may be left out only where every secondary gives its plate.",
        ),
        NOTE,
    ],
    alternatives: &[],
};

static SECONDARY: Keys = Keys {
    of: "secondary winding",
    says: "One secondary winding, from readings or from its plate.",
    keys: &[
        must("name", Holds::Name, "S1"),
        may(
            "open",
            Holds::At(Kind::Volts, Bounds::Positive, Kind::Volts, Bounds::Positive),
            "Off-load voltage at a primary voltage: \"7.8 V at 233 V\".",
        ),
        may(
            "plate",
            Holds::Pair(
                Kind::Volts,
                Bounds::Positive,
                Kind::Amperes,
                Bounds::Positive,
            ),
            "As the plate says, at full load: \"12 V 1.5 A\".",
        ),
        may(
            "regulation",
            Holds::Figure(Kind::Ratio, Bounds::Within(0.001, 1.0)),
            "Rise from full load to no load, as a part of the plate voltage; 8 % .. 25 % if left out.",
        ),
        may(
            "resistance",
            OHMS,
            "Copper resistance; from plate and regulation where not measured.",
        ),
        may(
            "leakage",
            Holds::Figure(Kind::Henries, Bounds::NotNegative),
            "Leakage inductance seen at this winding; 0 H if left out.",
        ),
        may(
            "taps",
            Holds::Named(&Holds::Figure(Kind::Ratio, Bounds::Within(0.001, 0.999))),
            "Taps: name = share of the turns from the start.",
        ),
        may("rated", AMPERES, "Rated rms current."),
        NOTE,
    ],
    alternatives: &[one(&["open", "plate"])],
};

static EXISTING: Keys = Keys {
    of: "existing load",
    says: "An AC load that the instrument already puts on the core.",
    keys: &[
        must("of", Holds::Name, "The winding or join."),
        must(
            "draws",
            Holds::Figure(Kind::Amperes, Bounds::NotNegative),
            "Its current at the off-load voltage, rms; taken as a resistance.",
        ),
        NOTE,
    ],
    alternatives: &[],
};
