//! Names, and what they refer to.

use super::{Explanation, file, head, supply};

pub(super) static ALL: &[Explanation] = &[
    Explanation {
        code: "J030",
        title: "name taken",
        checks: "No two parts have the same name, whatever their kind; no two windings, limits or steps either.",
        why: "A reading or a fault is noted by name; two parts of one name cannot be told apart.",
        fails: supply("[resistor.C1]\nat = \"raw\"\nvalue = \"2k2\"\n"),
        mended: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"2k2\"\n"),
    },
    Explanation {
        code: "J031",
        title: "unusable name",
        checks: "A name has letters, digits, _ and -, and does not mean something else already.",
        why: "Addresses such as C1.value are made of names.",
        fails: supply("[resistor.\"R 1\"]\nat = \"raw\"\nvalue = \"2k2\"\n"),
        mended: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"2k2\"\n"),
    },
    Explanation {
        code: "J032",
        title: "unknown node",
        checks: "A node that a limit names is an end of some part, and one with a dot is a point of a winding or of \
                 the inlet.",
        why: "A limit at a node that is not there is never judged.",
        fails: supply(
            "[[limit]]\nname = \"raw\"\nof = [\"raww\", \"common\"]\nwhat = \"valley\"\nmin = \"10 V\"\n",
        ),
        mended: supply(
            "[[limit]]\nname = \"raw\"\nof = [\"raw\", \"common\"]\nwhat = \"valley\"\nmin = \"10 V\"\n",
        ),
    },
    Explanation {
        code: "J033",
        title: "unknown part",
        checks: "Sinks, transformers and parts that others name are there.",
        why: "A regulator on a sink that is not there would be computed without one.",
        fails: supply(
            "[rectifier.D2]\nfrom = \"T2.S1\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 3 A\"\n",
        ),
        mended: supply(
            "[rectifier.D2]\nfrom = \"T1.S1\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 3 A\"\n",
        ),
    },
    Explanation {
        code: "J034",
        title: "unknown node or part",
        checks: "What a limit is `of` is a node or a part of the job.",
        why: "A limit of nothing is never judged.",
        fails: supply(
            "[[limit]]\nname = \"raw\"\nof = \"rwa\"\nwhat = \"valley\"\nmin = \"10 V\"\n",
        ),
        mended: supply(
            "[[limit]]\nname = \"raw\"\nof = \"raw\"\nwhat = \"valley\"\nmin = \"10 V\"\n",
        ),
    },
    Explanation {
        code: "J035",
        title: "unknown state",
        checks: "A state that a load, a limit or a step names is declared in [states].",
        why: "A draw in a state that never is would never be computed.",
        fails: supply("[load.lamp]\nat = \"raw\"\ndraws = { on = \"100 mA\", of = \"0 A\" }\n"),
        mended: supply("[load.lamp]\nat = \"raw\"\ndraws = { on = \"100 mA\" }\n"),
    },
    Explanation {
        code: "J036",
        title: "state left out",
        checks: "Every load says what it draws in every state.",
        why: "A draw that is not given is not nothing: the cold oven takes several times the warm one.",
        fails: supply("[load.lamp]\nat = \"raw\"\ndraws = {}\n"),
        mended: supply("[load.lamp]\nat = \"raw\"\ndraws = { on = \"0 A\" }\n"),
    },
    Explanation {
        code: "J037",
        title: "no states",
        checks: "The job names at least one state.",
        why: "Without a state there is nothing that the load may be doing, and nothing to prove.",
        fails: file("format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\n"),
        mended: file(
            "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"working\"\n",
        ),
    },
    Explanation {
        code: "J038",
        title: "unknown winding",
        checks: "A winding that a selector, a join, a rectifier or an existing load names is there.",
        why: "A rectifier at a winding that is not there is fed by nothing.",
        fails: supply(
            "[rectifier.D2]\nfrom = \"T1.S2\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 3 A\"\n",
        ),
        mended: supply(
            "[rectifier.D2]\nfrom = \"T1.S1\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 3 A\"\n",
        ),
    },
    Explanation {
        code: "J039",
        title: "unreadable join",
        checks: "A join of windings can be read: + in series, | side by side, - turned round, parentheses where \
                 both + and | are used.",
        why: "A | B + C can be wired in two ways, one of which may burn.",
        fails: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"8 V at 230 V\", resistance = \"0.3 Ω\" },\n  { name = \"B\", open = \"8 V at 230 \
             V\", resistance = \"0.3 Ω\" },\n  { name = \"C\", open = \"8 V at 230 V\", resistance = \"0.3 Ω\" },\n]\njoins \
             = { S = \"A | B + C\" }\n",
        ),
        mended: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"8 V at 230 V\", resistance = \"0.3 Ω\" },\n  { name = \"B\", open = \"8 V at 230 \
             V\", resistance = \"0.3 Ω\" },\n  { name = \"C\", open = \"8 V at 230 V\", resistance = \"0.3 Ω\" },\n]\njoins \
             = { S = \"(A | B) + C\" }\n",
        ),
    },
];
