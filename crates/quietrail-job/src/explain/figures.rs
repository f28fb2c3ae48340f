//! Figures that are missing or contradict one another.

use super::{Explanation, head, supply};

pub(super) static ALL: &[Explanation] = &[
    Explanation {
        code: "J020",
        title: "missing key",
        checks: "Every key that a table must hold is there.",
        why: "A part without ends is nowhere in the circuit.",
        fails: supply("[resistor.R1]\nvalue = \"2k2\"\n"),
        mended: supply("[resistor.R1]\nat = \"raw\"\nvalue = \"2k2\"\n"),
    },
    Explanation {
        code: "J021",
        title: "missing figure",
        checks: "Every figure that the sums need is in the job or in the catalogue entry that the part names. Where \
                 a default is defensible it is used and shown as a default; here none is.",
        why: "A regulator whose dropout nobody knows cannot be shown to have headroom.",
        fails: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { fixed = \"12 V ±4 %\" }\nrejection = [\"60 dB \
             at 120 Hz\"]\nlimit = \"2 A\"\n[load.lamp]\nat = \"out\"\ndraws = { on = \"100 mA\" }\n",
        ),
        mended: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { fixed = \"12 V ±4 %\" }\nrejection = [\"60 dB \
             at 120 Hz\"]\nlimit = \"2 A\"\ndropout = [\"2 V at 1 A\"]\n[load.lamp]\nat = \"out\"\ndraws = { on = \
             \"100 mA\" }\n",
        ),
    },
    Explanation {
        code: "J022",
        title: "two that exclude each other",
        checks: "Of keys that stand for one another only one is given.",
        why: "`at` and `between` place a part twice; which was meant cannot be known.",
        fails: supply(
            "[resistor.R1]\nat = \"raw\"\nbetween = [\"raw\", \"common\"]\nvalue = \"2k2\"\n",
        ),
        mended: supply("[resistor.R1]\nbetween = [\"raw\", \"common\"]\nvalue = \"2k2\"\n"),
    },
    Explanation {
        code: "J023",
        title: "figures that disagree",
        checks: "Where ESR and loss factor are both given, their ranges meet: ESR = tan δ / (2π f C).",
        why: "One of the two was misread, or belongs to another part.",
        fails: supply(
            "[capacitor.C2]\nat = \"raw\"\nvalue = \"1000 µF\"\nesr = \"20 mΩ\"\ntan_delta = \"0.2 at 120 Hz\"\n",
        ),
        mended: supply(
            "[capacitor.C2]\nat = \"raw\"\nvalue = \"1000 µF\"\ntan_delta = \"0.2 at 120 Hz\"\n",
        ),
    },
    Explanation {
        code: "J024",
        title: "a curve that does not rise",
        checks: "The points of a curve rise, and a diode has two or three of them.",
        why: "A curve that turns back has two answers for one current.",
        fails: supply(
            "[diode.D2]\nbetween = [\"common\", \"raw\"]\npoints = [\"0.95 V at 3 A\", \"0.72 V at 100 mA\"]\n",
        ),
        mended: supply(
            "[diode.D2]\nbetween = [\"common\", \"raw\"]\npoints = [\"0.72 V at 100 mA\", \"0.95 V at 3 A\"]\n",
        ),
    },
    Explanation {
        code: "J025",
        title: "selector position",
        checks: "The position of the mains selector that is in use is one of those it offers; left out, it is the \
                 one named after the region's voltage.",
        why: "A primary for 115 V on 230 V mains burns.",
        fails: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"115 V\", resistance = \"20 Ω\" }, { name = \
             \"P2\", volts = \"115 V\", resistance = \"20 Ω\" }]\nselector = { \"230 V\" = \"P1 + P2\", \"115 V\" = \
             \"P1 | P2\" }\nselected = \"220 V\"\nsecondary = [{ name = \"S1\", open = \"16 V at 230 V\", resistance \
             = \"0.5 Ω\" }]\n",
        ),
        mended: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"115 V\", resistance = \"20 Ω\" }, { name = \
             \"P2\", volts = \"115 V\", resistance = \"20 Ω\" }]\nselector = { \"230 V\" = \"P1 + P2\", \"115 V\" = \
             \"P1 | P2\" }\nselected = \"230 V\"\nsecondary = [{ name = \"S1\", open = \"16 V at 230 V\", resistance \
             = \"0.5 Ω\" }]\n",
        ),
    },
    Explanation {
        code: "J026",
        title: "form and winding",
        checks: "A rectifier with a centre is fed from a winding with a tap or a join of two in series, and each form \
                 has just the nodes that it needs.",
        why: "Two diodes at the ends of a winding without a centre have no way back.",
        fails: supply(
            "[rectifier.D2]\nfrom = \"T1.S1\"\ninto = \"raw\"\nform = \"centre-tap\"\ndiode = \"silicon 3 A\"\n",
        ),
        mended: supply(
            "[rectifier.D2]\nfrom = \"T1.S1\"\ninto = \"raw\"\nform = \"half-wave\"\ndiode = \"silicon 3 A\"\n",
        ),
    },
    Explanation {
        code: "J027",
        title: "limit without a bound",
        checks: "Every limit has `min`, `max` or both.",
        why: "A limit without a bound holds whatever happens.",
        fails: supply("[[limit]]\nname = \"raw\"\nof = \"raw\"\nwhat = \"valley\"\n"),
        mended: supply(
            "[[limit]]\nname = \"raw\"\nof = \"raw\"\nwhat = \"valley\"\nmin = \"10 V\"\n",
        ),
    },
    Explanation {
        code: "J028",
        title: "bound or band in a wrong form",
        checks: "`min` and `max` are single values, and a band is a range that rises.",
        why: "A bound with a tolerance leaves open what is asked.",
        fails: supply(
            "[[limit]]\nname = \"raw\"\nof = \"raw\"\nwhat = \"valley\"\nmin = \"10 V ±1 V\"\n",
        ),
        mended: supply(
            "[[limit]]\nname = \"raw\"\nof = \"raw\"\nwhat = \"valley\"\nmin = \"11 V\"\n",
        ),
    },
    Explanation {
        code: "J029",
        title: "limit of the wrong thing",
        checks: "Voltages and ripple are asked of nodes; currents, heat, headroom and life are asked of parts.",
        why: "A node has no temperature and a part no ripple: the limit would never be judged.",
        fails: supply(
            "[[limit]]\nname = \"heat\"\nof = \"raw\"\nwhat = \"power\"\nmax = \"1 W\"\n",
        ),
        mended: supply(
            "[[limit]]\nname = \"heat\"\nof = \"C1\"\nwhat = \"power\"\nmax = \"1 W\"\n",
        ),
    },
];
