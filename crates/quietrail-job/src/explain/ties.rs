//! Figures that are said to move together.

use super::{Explanation, supply};

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
];
