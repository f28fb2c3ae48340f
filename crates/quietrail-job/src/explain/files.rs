//! The file as a whole.

use super::{Before, Example, Explanation, file, head};

const SMALLEST: &str =
    "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"working\"\n";

pub(super) static ALL: &[Explanation] = &[
    Explanation {
        code: "J001",
        title: "empty file",
        checks: "The job file holds something.",
        why: "An empty file is mostly one that was saved wrongly, or the wrong file.",
        fails: file(""),
        mended: file(SMALLEST),
    },
    Explanation {
        code: "J002",
        title: "not a text",
        checks: "The job file is a text in UTF-8.",
        why: "A capture or a picture given in place of the job would only yield nonsense.",
        fails: file("format = 1\n\u{0}\u{1}\n"),
        mended: file(SMALLEST),
    },
    Explanation {
        code: "J003",
        title: "too large",
        checks: "The job file holds at most 500 kB.",
        why: "A job of a hundred parts has less than 100 kB; whatever is larger is most likely a capture.",
        fails: Example {
            before: Before::Nothing,
            text: "# a line of a capture that was pasted here\n",
            repeated: 15_000,
            parts: None,
        },
        mended: file(SMALLEST),
    },
    Explanation {
        code: "J004",
        title: "not TOML",
        checks: "The text can be read as TOML. Reading goes on behind the error, but what is missing is then not \
                 said: it may be there.",
        why: "One missing quotation mark hides all that follows.",
        fails: head("[capacitor.C1]\nvalue = 4700 µF\n"),
        mended: head("[box]\nroom = \"15 °C .. 35 °C\"\n"),
    },
    Explanation {
        code: "J005",
        title: "there twice",
        checks: "No key and no table is written twice.",
        why: "Which of two values was meant cannot be known; the wrong one can cost a part.",
        fails: head("[box]\nroom = \"20 °C\"\nroom = \"25 °C\"\n"),
        mended: head("[box]\nroom = \"20 °C .. 25 °C\"\n"),
    },
    Explanation {
        code: "J006",
        title: "newer format",
        checks: "The number at `format` is one that this program knows.",
        why: "A newer file may hold what this program would misread; nothing else is then said about it.",
        fails: file("format = 2\n"),
        mended: file(SMALLEST),
    },
    Explanation {
        code: "J007",
        title: "no format",
        checks: "The file says `format = 1`.",
        why: "A file without a format could be anything, and could not be told from a newer one in ten years.",
        fails: file(
            "[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"working\"\n",
        ),
        mended: file(SMALLEST),
    },
];
