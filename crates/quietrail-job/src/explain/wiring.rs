//! The catalogue, and the circuit as a whole.

use super::{Example, Explanation, head, supply};

pub(super) static ALL: &[Explanation] = &[
    Explanation {
        code: "J040",
        title: "unknown catalogue entry",
        checks: "A catalogue entry that a part names is in the built-in catalogue or in parts.toml.",
        why: "Without the entry the part has no figures.",
        fails: supply(
            "[rectifier.D2]\nfrom = \"T1.S1\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 33 A\"\n",
        ),
        mended: supply(
            "[rectifier.D2]\nfrom = \"T1.S1\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 3 A\"\n",
        ),
    },
    Explanation {
        code: "J041",
        title: "node that nothing feeds",
        checks: "From every node that a load, a capacitor or a regulator draws from, a source is reached through \
                 parts that conduct, and not only by way of common; and from every node that a load drains into direct current gets away.",
        why: "Mostly a misspelled node: the load would draw nothing, and every limit at it would look fine.",
        fails: supply("[load.lamp]\nat = \"rwa\"\ndraws = { on = \"100 mA\" }\n"),
        mended: supply("[load.lamp]\nat = \"raw\"\ndraws = { on = \"100 mA\" }\n"),
    },
    Explanation {
        code: "J042",
        title: "part that bridges nothing",
        checks: "The two ends of a part are at two nodes.",
        why: "A part with both ends at one node does nothing.",
        fails: supply("[resistor.R1]\nbetween = [\"raw\", \"raw\"]\nvalue = \"2k2\"\n"),
        mended: supply("[resistor.R1]\nbetween = [\"raw\", \"common\"]\nvalue = \"2k2\"\n"),
    },
    Explanation {
        code: "J043",
        title: "part with a loose end",
        checks: "Another part is at each end of every part. This is a warning: the circuit can be solved.",
        why: "A loose end is mostly a misspelled node, and a bleeder that empties nothing is a hazard.",
        fails: supply("[resistor.R1]\nat = \"rwa\"\nvalue = \"2k2\"\n"),
        mended: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"2k2\"\n"),
    },
    Explanation {
        code: "J044",
        title: "two sources at one node",
        checks: "A regulator shares its output node with no other regulator or rectifier. Rectifiers may share one: \
                 the higher feeds it.",
        why: "The regulator set a hair higher carries everything, the other nothing, or they hunt.",
        fails: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\npart = \"fixed 12 V 1 A\"\n[regulator.U2]\nfrom = \
             \"raw\"\ninto = \"out\"\npart = \"fixed 12 V 1 A\"\n[load.lamp]\nat = \"out\"\ndraws = { on = \"1 A\" }\n",
        ),
        mended: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"a\"\npart = \"fixed 12 V 1 A\"\n[regulator.U2]\nfrom = \
             \"raw\"\ninto = \"b\"\npart = \"fixed 12 V 1 A\"\n[resistor.R1]\nbetween = [\"a\", \"out\"]\nvalue = \"0R47\"\n\
             [resistor.R2]\nbetween = [\"b\", \"out\"]\nvalue = \"0R47\"\n[load.lamp]\nat = \"out\"\ndraws = { on = \
             \"1 A\" }\n",
        ),
    },
    Explanation {
        code: "J045",
        title: "unequal windings side by side",
        checks: "Windings side by side have off-load volts within 2 % of one another and the same sense (common \
                 practice, no source).",
        why: "The difference drives a current round the two with nothing connected; turned round, they are a short.",
        fails: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"8 V at 230 V\", resistance = \"0.3 Ω\" },\n  { name = \"B\", open = \"9 V at 230 \
             V\", resistance = \"0.3 Ω\" },\n]\njoins = { S = \"A | B\" }\n",
        ),
        mended: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"8 V at 230 V\", resistance = \"0.3 Ω\" },\n  { name = \"B\", open = \"9 V at 230 \
             V\", resistance = \"0.3 Ω\" },\n]\njoins = { S = \"A + B\" }\n",
        ),
    },
    Explanation {
        code: "J046",
        title: "own entry in place of a built-in one",
        checks: "An entry of parts.toml has a name of its own. This is a warning: the builder's entry counts.",
        why: "Whoever reads the record must know that \"silicon 3 A\" is not the one they know.",
        fails: Example {
            parts: Some(
                "[diode.\"silicon 3 A\"]\nsource = \"curve tracer\"\nideal = { drop = \"0.8 V\" }\n",
            ),
            ..supply("")
        },
        mended: Example {
            parts: Some(
                "[diode.\"my silicon 3 A\"]\nsource = \"curve tracer\"\nideal = { drop = \"0.8 V\" }\n",
            ),
            ..supply("")
        },
    },
];
