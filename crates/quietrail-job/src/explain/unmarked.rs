//! Readings of an unmarked transformer that cannot be.

use super::{Explanation, head};

pub(super) static ALL: &[Explanation] = &[
    Explanation {
        code: "J060",
        title: "unknown lead",
        checks: "Every lead in a reading is one of the transformer's leads.",
        why: "A misspelled lead would make a winding of its own, and the reading would be lost to the right one.",
        fails: head(
            "[unmarked.T1]\nleads = [\"red\", \"black\"]\nohms = [{ between = [\"red\", \"blakc\"], reads = \"43.5 Ω\" }]\n",
        ),
        mended: head(
            "[unmarked.T1]\nleads = [\"red\", \"black\"]\nohms = [{ between = [\"red\", \"black\"], reads = \"43.5 Ω\" }]\n",
        ),
    },
    Explanation {
        code: "J061",
        title: "resistance that the test leads make up",
        checks: "A resistance is larger than what the meter reads with its leads touching.",
        why: "Zero or negative ohms are no winding. Low windings want four leads, or a current and a millivoltmeter.",
        fails: head(
            "[unmarked.T1]\nleads = [\"a\", \"b\"]\nnull = \"0.3 Ω\"\nohms = [{ between = [\"a\", \"b\"], reads = \"0.2 Ω \
             ±0.05 Ω\" }]\n",
        ),
        mended: head(
            "[unmarked.T1]\nleads = [\"a\", \"b\"]\nnull = \"0.3 Ω\"\nohms = [{ between = [\"a\", \"b\"], reads = \"0.5 Ω \
             ±0.05 Ω\" }]\n",
        ),
    },
    Explanation {
        code: "J062",
        title: "hot resistance below cold",
        checks: "After a hot run a winding has no less resistance than before.",
        why: "Copper gains with heat. Less means another pair of leads, leads that were not nulled, or a turn that shorts.",
        fails: head(
            "[unmarked.T1]\nleads = [\"a\", \"b\"]\nhot = { between = [\"a\", \"b\"], cold = \"21.3 Ω\", cold_at = \"20 \
             °C\", after = [\"20.1 Ω at 20 s\"], room = \"22 °C\" }\n",
        ),
        mended: head(
            "[unmarked.T1]\nleads = [\"a\", \"b\"]\nhot = { between = [\"a\", \"b\"], cold = \"21.3 Ω\", cold_at = \"20 \
             °C\", after = [\"25.1 Ω at 20 s\"], room = \"22 °C\" }\n",
        ),
    },
    Explanation {
        code: "J063",
        title: "more volts under load than off load",
        checks: "Volts under a resistor are below those off load at the same leads, each for the volts put in.",
        why: "A load can only take volts away. Mostly the mains moved between the two readings.",
        fails: head(
            "[unmarked.T1]\nleads = [\"p\", \"q\", \"a\", \"b\"]\nvolts = [{ driven = [\"p\", \"q\"], at = \"230.0 V\", \
             across = [\"a\", \"b\"], reads = \"8.40 V\" }]\nloaded = [{ driven = [\"p\", \"q\"], at = \"230.0 V\", across = \
             [\"a\", \"b\"], ohms = \"10 Ω ±1 %\", reads = \"8.80 V\" }]\n",
        ),
        mended: head(
            "[unmarked.T1]\nleads = [\"p\", \"q\", \"a\", \"b\"]\nvolts = [{ driven = [\"p\", \"q\"], at = \"230.0 V\", \
             across = [\"a\", \"b\"], reads = \"8.40 V\" }]\nloaded = [{ driven = [\"p\", \"q\"], at = \"242.0 V\", across = \
             [\"a\", \"b\"], ohms = \"10 Ω ±1 %\", reads = \"8.40 V\" }]\n",
        ),
    },
    Explanation {
        code: "J064",
        title: "impossible ratio",
        checks: "Off-load volts are between 1/500 of the volts put in and 50 times as much (common practice, no source).",
        why: "Beyond, a range or a prefix was misread: 8.4 kV for 8.4 V.",
        fails: head(
            "[unmarked.T1]\nleads = [\"p\", \"q\", \"a\", \"b\"]\nvolts = [{ driven = [\"p\", \"q\"], at = \"12 V\", across = \
             [\"a\", \"b\"], reads = \"8.4 kV\" }]\n",
        ),
        mended: head(
            "[unmarked.T1]\nleads = [\"p\", \"q\", \"a\", \"b\"]\nvolts = [{ driven = [\"p\", \"q\"], at = \"12 V\", across = \
             [\"a\", \"b\"], reads = \"8.4 V\" }]\n",
        ),
    },
];
