//! Rows of the register: an expected figure, ours, and how far apart they may be.

use crate::digits;

/// How far a figure may be from the expected one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Allowed {
    /// As a share of the expected figure.
    Relative(f64),
    /// In the figure's own unit.
    Absolute(f64),
}

/// One figure of several that a row stands for.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Which column of the source.
    pub what: String,
    /// What the source gives.
    pub expected: f64,
    /// What quietrail computes.
    pub got: f64,
    /// How far apart they may be.
    pub allowed: Allowed,
}

/// A row that has its id, subject and source, and wants its comparison.
#[must_use = "a row without a comparison checks nothing"]
#[derive(Debug)]
pub struct Row<'s> {
    entries: &'s mut Vec<Entry>,
    id: String,
    what: String,
    source: String,
}

/// A row as kept.
#[derive(Debug)]
pub(crate) struct Entry {
    id: String,
    what: String,
    source: String,
    expected: String,
    got: String,
    difference: String,
    /// How many figures stand behind the row.
    pub(crate) compared: usize,
    /// What is wrong, a sentence for each figure.
    wrong: Vec<String>,
}

impl Allowed {
    /// Difference in the measure in which it is limited, and the limit.
    fn judge(self, expected: f64, got: f64) -> (f64, f64) {
        match self {
            Self::Relative(limit) => ((got - expected).abs() / expected.abs(), limit),
            Self::Absolute(limit) => ((got - expected).abs(), limit),
        }
    }
}

impl Figure {
    /// A figure compared as a share of the expected one.
    pub fn relative(what: &str, expected: f64, got: f64, limit: f64) -> Self {
        Self {
            what: what.to_owned(),
            expected,
            got,
            allowed: Allowed::Relative(limit),
        }
    }

    /// Difference as a share of what is allowed; not a number counts as infinitely far.
    fn strain(&self) -> f64 {
        let (difference, limit) = self.allowed.judge(self.expected, self.got);
        let strain = difference / limit;
        if strain.is_nan() {
            f64::INFINITY
        } else {
            strain
        }
    }

    fn complaint(&self) -> Option<String> {
        let (difference, limit) = self.allowed.judge(self.expected, self.got);
        // Not "difference > limit": what is not a number must fail too.
        let holds = difference <= limit;
        (!holds).then(|| {
            format!(
                "{}: expected {}, got {}, difference {} where {} is allowed",
                self.what,
                digits::figure(self.expected),
                digits::figure(self.got),
                digits::difference(difference),
                digits::difference(limit)
            )
        })
    }
}

impl<'s> Row<'s> {
    pub(crate) fn new(entries: &'s mut Vec<Entry>, id: &str, what: &str, source: &str) -> Self {
        Self {
            entries,
            id: id.to_owned(),
            what: what.to_owned(),
            source: source.to_owned(),
        }
    }

    /// One figure against the expected one.
    pub fn near(self, expected: f64, got: f64, allowed: Allowed) {
        let figure = Figure {
            what: self.what.clone(),
            expected,
            got,
            allowed,
        };
        self.figures(std::slice::from_ref(&figure), false);
    }

    /// Several figures of one row of the source; the one nearest to its limit is shown.
    ///
    /// # Panics
    /// When there are no figures: a row that compares nothing would always pass.
    pub fn worst_of(self, figures: &[Figure]) {
        self.figures(figures, true);
    }

    /// A text that must be the same.
    pub fn text(self, expected: &str, got: &str) {
        let wrong = if expected == got {
            Vec::new()
        } else {
            vec![format!("expected {expected}, got {got}")]
        };
        let difference = if wrong.is_empty() { "none" } else { "differs" };
        self.keep(
            (expected.to_owned(), got.to_owned()),
            difference.to_owned(),
            1,
            wrong,
        );
    }

    /// A figure of ours that must lie between two that sources give.
    pub fn between(self, low: f64, high: f64, got: f64) {
        let wrong = outside(low, high, got);
        self.keep(
            (span(low, high), digits::figure(got)),
            within(&wrong),
            1,
            wrong,
        );
    }

    /// A figure that a source gives without its conditions: it must lie between ours at two of them.
    pub fn spans(self, expected: f64, low: f64, high: f64) {
        let wrong = outside(low, high, expected);
        self.keep(
            (digits::figure(expected), span(low, high)),
            within(&wrong),
            1,
            wrong,
        );
    }

    fn figures(self, figures: &[Figure], names_the_worst: bool) {
        let worst = figures
            .iter()
            .reduce(|a, b| if b.strain() > a.strain() { b } else { a })
            .unwrap_or_else(|| panic!("{}: no figure to compare", self.id));
        let (difference, _) = worst.allowed.judge(worst.expected, worst.got);
        let mut shown = digits::difference(difference);
        if matches!(worst.allowed, Allowed::Absolute(_)) {
            shown.push_str(" (absolute)");
        }
        let wrong = figures.iter().filter_map(Figure::complaint).collect();
        let texts = (digits::figure(worst.expected), digits::figure(worst.got));
        let mut row = self;
        if names_the_worst {
            let count = figures.len();
            row.what = format!("{}; of {count} figures: {}", row.what, worst.what);
        }
        row.keep(texts, shown, figures.len(), wrong);
    }

    fn keep(
        self,
        (expected, got): (String, String),
        difference: String,
        compared: usize,
        wrong: Vec<String>,
    ) {
        self.entries.push(Entry {
            id: self.id,
            what: self.what,
            source: self.source,
            expected,
            got,
            difference,
            compared,
            wrong,
        });
    }
}

impl Entry {
    /// What is wrong with the row, if anything.
    pub(crate) fn complaint(&self) -> Option<String> {
        (!self.wrong.is_empty())
            .then(|| format!("{} ({}): {}", self.id, self.what, self.wrong.join("; ")))
    }

    /// Its line of the table.
    pub(crate) fn render(&self) -> String {
        let cells = [
            &self.id,
            &self.what,
            &self.source,
            &self.expected,
            &self.got,
            &self.difference,
        ];
        let cells: Vec<String> = cells.iter().map(|cell| cell.replace('|', "\\|")).collect();
        format!("| {} |\n", cells.join(" | "))
    }
}

fn span(low: f64, high: f64) -> String {
    format!("{} .. {}", digits::figure(low), digits::figure(high))
}

fn within(wrong: &[String]) -> String {
    if wrong.is_empty() {
        "within"
    } else {
        "outside"
    }
    .to_owned()
}

fn outside(low: f64, high: f64, value: f64) -> Vec<String> {
    if low <= value && value <= high {
        return Vec::new();
    }
    let (value, span) = (digits::figure(value), span(low, high));
    vec![format!("{value} is not in {span}")]
}
