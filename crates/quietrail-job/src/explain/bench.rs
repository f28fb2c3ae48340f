//! What is said about instruments.

use super::{Explanation, head};

pub(super) static ALL: &[Explanation] = &[Explanation {
    code: "J070",
    title: "range cannot be read",
    checks: "Every range of an instrument is its end and its error: a part of the reading and counts of the last digit.",
    why: "What a reading proves hangs on the error of its range. A range without one would prove anything.",
    fails: head("[instrument.meter]\nkind = \"multimeter\"\ndc = { ranges = [\"4 V\"] }\n"),
    mended: head(
        "[instrument.meter]\nkind = \"multimeter\"\ndc = { ranges = [\"4 V ±(0.5 % + 1)\"] }\n",
    ),
}];
