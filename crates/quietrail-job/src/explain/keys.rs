//! Tables, keys and the values that they hold.

use super::{Explanation, head, supply};

pub(super) static ALL: &[Explanation] = &[
    Explanation {
        code: "J010",
        title: "unknown table",
        checks: "Every table is a kind of part or one of the tables of a job.",
        why: "A part under a misspelled kind would silently not be in the circuit.",
        fails: supply("[resistr.R1]\nat = \"raw\"\nvalue = \"2k2\"\n"),
        mended: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"2k2\"\n"),
    },
    Explanation {
        code: "J011",
        title: "unknown key",
        checks: "Every key is one that its table holds.",
        why: "A figure under a misspelled key would silently not count.",
        fails: supply("[resistor.R1]\nat = \"raw\"\nvlaue = \"2k2\"\nvalue = \"2k2\"\n"),
        mended: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"2k2\"\n"),
    },
    Explanation {
        code: "J012",
        title: "wiring in a catalogue",
        checks: "An entry of parts.toml holds no nodes and nothing else that belongs to the circuit.",
        why: "A part in a drawer is connected to nothing; its nodes would land in every job that names it.",
        fails: super::Example {
            parts: Some(
                "[resistor.bleeder]\nsource = \"from memory\"\nat = \"raw\"\nvalue = \"2k2\"\n",
            ),
            ..supply("[resistor.R1]\nat = \"raw\"\npart = \"bleeder\"\n")
        },
        mended: super::Example {
            parts: Some("[resistor.bleeder]\nsource = \"from memory\"\nvalue = \"2k2\"\n"),
            ..supply("[resistor.R1]\nat = \"raw\"\npart = \"bleeder\"\n")
        },
    },
    Explanation {
        code: "J013",
        title: "wrong type",
        checks: "Every value has the type that its key holds: a text, a list, a table, true or false.",
        why: "A list where one node is wanted has no one meaning.",
        fails: supply("[resistor.R1]\nat = [\"raw\", \"common\"]\nvalue = \"2k2\"\n"),
        mended: supply("[resistor.R1]\nbetween = [\"raw\", \"common\"]\nvalue = \"2k2\"\n"),
    },
    Explanation {
        code: "J014",
        title: "not a quantity",
        checks: "Every quantity can be read: a number, a prefix, a unit, a tolerance or a range.",
        why: "A value that is guessed at is worse than one that is asked for.",
        fails: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"about 2k2\"\n"),
        mended: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"2k2 ±20 %\"\n"),
    },
    Explanation {
        code: "J015",
        title: "two readings",
        checks: "No quantity can be read in two ways that both make sense.",
        why: "mF is millifarad to some and was microfarad on old parts: a factor of a thousand.",
        fails: supply("[capacitor.C2]\nat = \"raw\"\nvalue = \"10 mF\"\nesr = \"50 mΩ\"\n"),
        mended: supply("[capacitor.C2]\nat = \"raw\"\nvalue = \"10000 µF\"\nesr = \"50 mΩ\"\n"),
    },
    Explanation {
        code: "J016",
        title: "unit",
        checks: "Every quantity has a unit, one that is known, and one that measures what is wanted.",
        why: "Amperes where volts are wanted mean that the figure is in the wrong place.",
        fails: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"2.2 kV\"\n"),
        mended: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"2.2 kΩ\"\n"),
    },
    Explanation {
        code: "J017",
        title: "unknown word",
        checks: "A key with a closed list of words holds one of them.",
        why: "The form of a rectifier or the statistic of a limit decides the whole sum.",
        fails: supply(
            "[[limit]]\nname = \"raw\"\nof = \"raw\"\nwhat = \"vally\"\nmin = \"10 V\"\n",
        ),
        mended: supply(
            "[[limit]]\nname = \"raw\"\nof = \"raw\"\nwhat = \"valley\"\nmin = \"10 V\"\n",
        ),
    },
    Explanation {
        code: "J018",
        title: "out of bounds",
        checks: "No capacitance, inductance or mains voltage is zero or negative, no resistance is negative, the \
                 whole tolerance included. A resistance, an ESR or a load of zero is allowed.",
        why: "No part has such a value; the circuit would have no solution.",
        fails: supply("[capacitor.C2]\nat = \"raw\"\nvalue = \"0 F\"\nesr = \"0 Ω\"\n"),
        mended: supply("[capacitor.C2]\nat = \"raw\"\nvalue = \"100 nF\"\nesr = \"0 Ω\"\n"),
    },
    Explanation {
        code: "J019",
        title: "upside down",
        checks: "The first end of a range is not above the second, and `min` is not above `max`.",
        why: "Turned ends are mostly a slip in one of the two figures, not in their order.",
        fails: head("[box]\nroom = \"35 °C .. 15 °C\"\n"),
        mended: head("[box]\nroom = \"15 °C .. 35 °C\"\n"),
    },
];
