//! Figures that are said to move together, or to crowd around their nominal.

use super::{Before, Example, Explanation, head, supply};

pub(super) static ALL: &[Explanation] = &[
    Explanation {
        code: "J047",
        title: "unknown figure",
        checks: "Every address in a [[same]] is that of a figure of the job.",
        why: "Figures that were meant to move together would be taken as free of each other, and the worst corner found \
              would be one that cannot be built.",
        fails: supply(
            "[capacitor.C2]\nat = \"raw\"\nvalue = \"4700 µF ±20 %\"\nesr = \"50 mΩ\"\n\
             [[same]]\nfigures = [\"C1.value\", \"C2.vlaue\"]\nbecause = \"one batch\"\n",
        ),
        mended: supply(
            "[capacitor.C2]\nat = \"raw\"\nvalue = \"4700 µF ±20 %\"\nesr = \"50 mΩ\"\n\
             [[same]]\nfigures = [\"C1.value\", \"C2.value\"]\nbecause = \"one batch\"\n",
        ),
    },
    Explanation {
        code: "J048",
        title: "figure cannot be tied",
        checks: "A [[same]] has two figures or more, and a figure is in one of them only.",
        why: "A figure in two lists ties both together, which is better said in one.",
        fails: supply(
            "[capacitor.C2]\nat = \"raw\"\nvalue = \"4700 µF ±20 %\"\nesr = \"50 mΩ\"\n\
             [[same]]\nfigures = [\"C1.value\"]\n",
        ),
        mended: supply(
            "[capacitor.C2]\nat = \"raw\"\nvalue = \"4700 µF ±20 %\"\nesr = \"50 mΩ\"\n\
             [[same]]\nfigures = [\"C1.value\", \"C2.value\"]\n",
        ),
    },
    Explanation {
        code: "J049",
        title: "figure cannot be spread",
        checks: "A figure in a [[spread]] has a tolerance, is a part's or a load's own, stays above zero at the cut, is in one \
                 [[spread]] only, and so are all that move with it.",
        why: "The yield would count builders whose parts cannot occur, and the worst corner would be looked for in \
              the wrong range.",
        fails: supply("[[spread]]\nfigures = [\"C1.esr\"]\nshape = \"normal\"\ndeviations = 3\n"),
        mended: supply(
            "[[spread]]\nfigures = [\"C1.value\"]\nshape = \"normal\"\ndeviations = 3\n",
        ),
    },
    Explanation {
        code: "J050",
        title: "both halves the same way",
        checks: "Of a join of two windings behind a centre-tap or split rectifier, the halves swing against each other about the \
                 centre. This is a warning: the circuit is computed as drawn.",
        why: "With one half turned round both diodes conduct in the same half of the cycle. The reservoir is filled once a cycle, not \
              twice, ripple doubles, and the direct current in the windings pushes the core towards saturation.",
        fails: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"16 V at 230 V\", resistance = \"0.5 Ω\" },\n  { name = \"B\", open = \"16 V at 230 \
             V\", resistance = \"0.5 Ω\" },\n]\njoins = { S = \"A + -B\" }\n[rectifier.D1]\nfrom = \"T1.S\"\ninto = \"raw\"\nform = \
             \"centre-tap\"\ndiode = \"silicon 3 A\"\n[capacitor.C1]\nat = \"raw\"\nvalue = \"4700 µF\"\nesr = \"50 mΩ\"\n\
             [load.lamp]\nat = \"raw\"\ndraws = { on = \"100 mA\" }\n",
        ),
        mended: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"16 V at 230 V\", resistance = \"0.5 Ω\" },\n  { name = \"B\", open = \"16 V at 230 \
             V\", resistance = \"0.5 Ω\" },\n]\njoins = { S = \"A + B\" }\n[rectifier.D1]\nfrom = \"T1.S\"\ninto = \"raw\"\nform = \
             \"centre-tap\"\ndiode = \"silicon 3 A\"\n[capacitor.C1]\nat = \"raw\"\nvalue = \"4700 µF\"\nesr = \"50 mΩ\"\n\
             [load.lamp]\nat = \"raw\"\ndraws = { on = \"100 mA\" }\n",
        ),
    },
    Explanation {
        code: "J051",
        title: "mains of another region",
        checks: "The region that the job names has the volts of [mains], up to 15 % outside its range, and its hertz. This is a warning: \
                 the circuit is computed with the volts and hertz of [mains].",
        why: "The region picks what is left out: the frequency of the mains, the position of a selector, the current of a transformer \
              off load, and whose safety rows stand in the bring-up. At 60 Hz a reservoir falls by a sixth less than at 50 Hz.",
        fails: Example {
            before: Before::Nothing,
            text: "format = 1\n[job]\nregion = \"230 V 50 Hz\"\n[mains]\nvoltage = \"120 V ±10 %\"\n[states]\non = \"running\"\n",
            repeated: 1,
            parts: None,
        },
        mended: Example {
            before: Before::Nothing,
            text: "format = 1\n[job]\nregion = \"120 V 60 Hz\"\n[mains]\nvoltage = \"120 V ±10 %\"\n[states]\non = \"running\"\n",
            repeated: 1,
            parts: None,
        },
    },
    Explanation {
        code: "J052",
        title: "regulator on the other side",
        checks: "The reservoir that feeds a regulator lies on that side of its return on which its set point is: above it, or below it where the \
                 set point is below zero. Chokes, resistors, fuses and wires on the way are followed.",
        why: "A positive regulator on the reservoir under common has its input below its output whatever the mains does: it regulates nothing, and \
              every limit behind it fails by tens of volts. Fitted so, it is reverse biased, and mostly dead.",
        fails: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\npart = \"negative fixed 12 V 1 A\"\n[load.lamp]\nbetween = [\"common\", \
             \"out\"]\ndraws = { on = \"100 mA\" }\n",
        ),
        mended: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\npart = \"fixed 12 V 1 A\"\n[load.lamp]\nat = \"out\"\ndraws = { on = \
             \"100 mA\" }\n",
        ),
    },
    Explanation {
        code: "J053",
        title: "joins that short a winding",
        checks: "The joins of a transformer, all of them together, leave both ends of each secondary apart.",
        why: "Joins are wired all at once. Two ways to join the same windings, one beside the other, are a short circuit: one winding \
              reads nothing, and the primary takes amperes.",
        fails: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"12 V at 230 V\", resistance = \"0.3 Ω\" },\n  { name = \"B\", open = \"5 V at 230 \
             V\", resistance = \"0.3 Ω\" },\n]\njoins = { LESS = \"A + -B\", MORE = \"A + B\" }\n",
        ),
        mended: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"12 V at 230 V\", resistance = \"0.3 Ω\" },\n  { name = \"B\", open = \"5 V at 230 \
             V\", resistance = \"0.3 Ω\" },\n]\njoins = { LESS = \"A + -B\" }\n",
        ),
    },
    Explanation {
        code: "J054",
        title: "current drawn from a winding",
        checks: "What is connected across a winding itself draws by its resistance.",
        why: "A load of a current or a power is one of a direct voltage: it draws one way only and fades below a volt. Across a winding it would \
              take from half of each cycle, and the heater of a valve would be told as starved.",
        fails: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"12 V at 230 V\", resistance = \"0.3 Ω\" },\n  { name = \"B\", open = \"5 V at 230 \
             V\", resistance = \"0.3 Ω\" },\n]\n[load.heater]\nbetween = [\"T1.B.start\", \"T1.B.finish\"]\ndraws = { on = \"300 mA\" }\n",
        ),
        mended: head(
            "[transformer.T1]\nprimary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]\nsecondary = [\n  \
             { name = \"A\", open = \"12 V at 230 V\", resistance = \"0.3 Ω\" },\n  { name = \"B\", open = \"5 V at 230 \
             V\", resistance = \"0.3 Ω\" },\n]\n[load.heater]\nbetween = [\"T1.B.start\", \"T1.B.finish\"]\ndraws = { on = \"16.7 Ω\" }\n",
        ),
    },
];
