//! Regulators and what they leave on the output; ratings of capacitors on the mains.

use super::{Explanation, supply};

pub(super) static ALL: &[Explanation] = &[
    Explanation {
        code: "J080",
        title: "noise without a band",
        checks: "A limit on noise names the band in which it counts.",
        why: "Noise has no size of its own: a hundredfold band holds ten times as much. Most data sheets mean 10 Hz .. 100 \
              kHz, or 10 Hz .. 10 kHz; which one cannot be guessed.",
        fails: supply(
            "[[limit]]\nname = \"raw noise\"\nof = \"raw\"\nwhat = \"noise\"\nmax = \"1 mV\"\n",
        ),
        mended: supply(
            "[[limit]]\nname = \"raw noise\"\nof = \"raw\"\nwhat = \"noise\"\nband = \"10 Hz .. 100 kHz\"\nmax = \"1 mV\"\n",
        ),
    },
    Explanation {
        code: "J081",
        title: "a trimmer that cannot reach",
        checks: "A trimmer in a divider can be set to the voltage that is asked of it, all figures at their nominal.",
        why: "At the bench it would stand at its end, and the output somewhere else.",
        fails: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { reference = \"2.5 V ±1 %\", across = \"lower\", upper = \
             \"9k09\", lower = \"2k49\", trimmer = \"1k\", to = \"13 V ±10 mV\" }\ndropout = [\"2 V at 1 A\"]\nrejection = \
             [\"60 dB at 120 Hz\"]\nlimit = \"2 A\"\n[load.lamp]\nat = \"out\"\ndraws = { on = \"100 mA\" }\n",
        ),
        mended: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { reference = \"2.5 V ±1 %\", across = \"lower\", upper = \
             \"9k09\", lower = \"2k49\", trimmer = \"1k\", to = \"12 V ±10 mV\" }\ndropout = [\"2 V at 1 A\"]\nrejection = \
             [\"60 dB at 120 Hz\"]\nlimit = \"2 A\"\n[load.lamp]\nat = \"out\"\ndraws = { on = \"100 mA\" }\n",
        ),
    },
    Explanation {
        code: "J082",
        title: "a transistor that saturates above its base",
        checks: "The voltage from collector to emitter in saturation is below that from base to emitter.",
        why: "In saturation the junction to the collector conducts as well, so the collector stands below the base. Figures \
              that say otherwise were read at two currents, or are those of another part. A Darlington saturates near a \
              volt, and has two junctions from base to emitter.",
        fails: supply(
            "[transistor.Q1]\ncollector = \"raw\"\nbase = \"base\"\nemitter = \"out\"\ngain = \"50\"\nbase_emitter = \
             [\"0.7 V at 1 A\"]\nsaturation = \"1.1 V at 4 A\"\n[resistor.R1]\nbetween = [\"raw\", \"base\"]\nvalue = \"100 \
             Ω\"\n[capacitor.C2]\nat = \"base\"\nvalue = \"470 µF\"\nesr = \"0.1 Ω\"\n[load.lamp]\nat = \"out\"\ndraws = { on = \
             \"100 mA\" }\n",
        ),
        mended: supply(
            "[transistor.Q1]\ncollector = \"raw\"\nbase = \"base\"\nemitter = \"out\"\ngain = \"50\"\nbase_emitter = \
             [\"0.7 V at 1 A\", \"1.3 V at 4 A\"]\nsaturation = \"1.1 V at 4 A\"\n[resistor.R1]\nbetween = [\"raw\", \
             \"base\"]\nvalue = \"100 Ω\"\n[capacitor.C2]\nat = \"base\"\nvalue = \"470 µF\"\nesr = \"0.1 \
             Ω\"\n[load.lamp]\nat = \"out\"\ndraws = { on = \"100 mA\" }\n",
        ),
    },
    Explanation {
        code: "J083",
        title: "decibels of what",
        checks: "A limit on a voltage or a current is written as one.",
        why: "A number of decibels is a ratio. dBV, dBm and dBc name what it is a ratio to, and dBm and dBc need the resistance or \
              the carrier beside it; plain dB names nothing. `translate` makes volts of them and says what is missing.",
        fails: supply(
            "[[limit]]\nname = \"raw ripple\"\nof = \"raw\"\nwhat = \"ripple\"\nmax = \"-60 dBV\"\n",
        ),
        mended: supply(
            "[[limit]]\nname = \"raw ripple\"\nof = \"raw\"\nwhat = \"ripple\"\nmax = \"1 mV\"\n",
        ),
    },
    Explanation {
        code: "J084",
        title: "one swing of a ring",
        checks: "`rang` lists the heights of at least two swings.",
        why: "How well a loop is damped shows in how much lower each swing is than the one before it, not in how high the first one \
              is: that is as high as the step of the load.",
        fails: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { fixed = \"5 V\" }\ndropout = [\"2 V at 1 A\"]\nrejection = \
             [\"60 dB at 120 Hz\"]\nlimit = \"2 A\"\nrang = [\"40 mV\"]\n[load.lamp]\nat = \"out\"\ndraws = { on = \"100 mA\" \
             }\n",
        ),
        mended: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { fixed = \"5 V\" }\ndropout = [\"2 V at 1 A\"]\nrejection = \
             [\"60 dB at 120 Hz\"]\nlimit = \"2 A\"\nrang = [\"40 mV\", \"14 mV\"]\n[load.lamp]\nat = \"out\"\ndraws = { on = \
             \"100 mA\" }\n",
        ),
    },
    Explanation {
        code: "J085",
        title: "a foldback that rises",
        checks: "The current of `foldback` falls, or stays, from point to point.",
        why: "A limit that folds back gives less current the more volts are across the regulator: that keeps its heat down in a short. \
              Points that rise are mostly two that were exchanged, or the curve of another figure.",
        fails: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { fixed = \"5 V\" }\ndropout = [\"2 V at 1 A\"]\nrejection = \
             [\"60 dB at 120 Hz\"]\nlimit = \"2 A\"\nfoldback = [\"0.2 A at 10 V\", \"1.5 A at 35 V\"]\n[load.lamp]\nat = \
             \"out\"\ndraws = { on = \"100 mA\" }\n",
        ),
        mended: supply(
            "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = { fixed = \"5 V\" }\ndropout = [\"2 V at 1 A\"]\nrejection = \
             [\"60 dB at 120 Hz\"]\nlimit = \"2 A\"\nfoldback = [\"1.5 A at 10 V\", \"0.2 A at 35 V\"]\n[load.lamp]\nat = \
             \"out\"\ndraws = { on = \"100 mA\" }\n",
        ),
    },
    Explanation {
        code: "J086",
        title: "a rating for direct voltage on the mains",
        checks: "A capacitor at the inlet or at a primary that has `volts` in its `rated` has `ac` too. This is a warning.",
        why: "`volts` is the direct voltage that a capacitor bears, and is judged against the highest instant. What is marked for \
              alternating voltage is an rms: 275 V~ bears the peak of 390 V, and would seem to fail by it.",
        fails: supply(
            "[capacitor.C9]\nbetween = [\"inlet.live\", \"inlet.neutral\"]\nvalue = \"100 nF\"\nesr = \"1 Ω\"\nrated = { volts = \
             \"275 V\" }\n",
        ),
        mended: supply(
            "[capacitor.C9]\nbetween = [\"inlet.live\", \"inlet.neutral\"]\nvalue = \"100 nF\"\nesr = \"1 Ω\"\nrated = { ac = \
             \"275 V\" }\n",
        ),
    },
];
