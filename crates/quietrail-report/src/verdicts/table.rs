//! Rows and columns of the verdict table, fitted to the width of the terminal.
//!
//! Where the terminal is wide enough, corner and help stand beside the figures; else they follow each
//! row on lines of their own, so that nothing is cut. Widths are those of the terminal's cells, not of
//! bytes or characters.

use quietrail_study::finding::{Assumption, Help, LimitFinding, Overall, Predicted};
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::corner::corner_words;
use crate::help::help_lines;
use crate::{Style, number, words};

/// With this much room beside the figures, corner and help stand there.
const BESIDE_LEAST: usize = 56;

/// Between columns.
const GAP: usize = 2;

/// Columns kept for the verdict: the widest word is `not shown`.
const VERDICT: usize = 9;

/// Where the lines under a row start.
const INSET: usize = VERDICT + 2 * GAP;

/// Beyond this, a name wraps rather than push the figures away.
const NAME_MOST: usize = 34;

/// A row as text.
struct Row {
    verdict: &'static str,
    name: String,
    worst: String,
    allowed: String,
    margin: String,
    corner: String,
    /// Whether what would help is enough.
    mends: bool,
    /// One line for each change.
    help: Vec<String>,
}

/// Widths of the columns that hold figures.
struct Widths {
    name: usize,
    worst: usize,
    allowed: usize,
    margin: usize,
}

/// The table, head first. With colour the first row is bold if it fails.
pub(super) fn rows(limits: &[&LimitFinding], style: Style) -> Vec<String> {
    let rows: Vec<Row> = limits.iter().map(|limit| Row::of(limit)).collect();
    let columns = style.columns();
    let widths = Widths::of(&rows, columns);
    let wide = columns >= widths.figures_end() + GAP + BESIDE_LEAST;

    let mut lines = head(&widths, wide, columns);
    for (i, row) in rows.iter().enumerate() {
        let bold = style.color && i == 0 && limits[i].overall == Overall::Fails;
        let drawn = if wide {
            side_by_side(row, &widths, columns)
        } else {
            stacked(row, &widths, columns)
        };
        lines.extend(drawn.into_iter().map(|line| emphasised(line, bold)));
    }
    lines
}

/// Defaults that the answer leans on: address, value and why, each on lines of its own.
pub(super) fn assumptions(assumed: &[Assumption], columns: usize) -> Vec<String> {
    let widest =
        |of: fn(&Assumption) -> &str| assumed.iter().map(|a| of(a).width()).max().unwrap_or(0);
    let address_width = widest(|assumption| &assumption.address).min(28);
    let value_width = widest(|assumption| words::taken(&assumption.value)).min(20);
    let lead = GAP + address_width + GAP + value_width + GAP;
    let why_width = columns.saturating_sub(lead).max(20);
    let mut lines = Vec::new();
    for assumption in assumed {
        let mut address = printable(&assumption.address);
        if address.width() > address_width {
            // A long one has a line of its own, so that values stay below each other.
            lines.push(format!("{:GAP$}{address}", ""));
            address.clear();
        }
        let start = format!(
            "{:GAP$}{}{:GAP$}{}{:GAP$}",
            "",
            padded(&address, address_width),
            "",
            padded(&printable(words::taken(&assumption.value)), value_width),
            ""
        );
        for (i, line) in wrapped(assumption.why, why_width).into_iter().enumerate() {
            lines.push(if i == 0 {
                format!("{start}{line}")
            } else {
                format!("{:lead$}{line}", "")
            });
        }
    }
    lines
}

/// Breaks text at plain spaces into lines of at most `width` cells; a longer word is cut where it
/// must be. Never empty.
pub(crate) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        for piece in cut(word, width) {
            let line = lines.last_mut().expect("starts with one line");
            if line.is_empty() {
                line.push_str(&piece);
            } else if line.width() + 1 + piece.width() <= width {
                line.push(' ');
                line.push_str(&piece);
            } else {
                lines.push(piece);
            }
        }
    }
    lines
}

/// Without control characters: a name in a job file cannot move the cursor or change colours.
pub(crate) fn printable(text: &str) -> String {
    text.chars()
        .map(|c| {
            if c.is_control() {
                char::REPLACEMENT_CHARACTER
            } else {
                c
            }
        })
        .collect()
}

/// Bold, where wanted.
pub(super) fn emphasised(line: String, bold: bool) -> String {
    if bold && !line.is_empty() {
        format!("\u{1b}[1m{line}\u{1b}[0m")
    } else {
        line
    }
}

impl Row {
    fn of(limit: &LimitFinding) -> Self {
        let LimitFinding {
            what,
            unit,
            worst,
            margin,
            ..
        } = *limit;
        let absent = || words::ABSENT.to_owned();
        let found = match corner_words(&limit.corner) {
            corner if corner.is_empty() => words::AS_MARKED.to_owned(),
            corner => corner,
        };
        let corner = match (&limit.predicted, worst) {
            (Predicted::NotShown(why), Some(_)) => {
                words::remarks::worst_of_the_others(why, unit, &found)
            }
            (Predicted::NotShown(why), None) => words::why_not(why, unit),
            (Predicted::Holds | Predicted::Fails, _) => found,
        };
        let against = words::reading_against(&limit.predicted, limit.measured);
        let corner = match (&limit.read, against) {
            (Some(read), _) => format!(
                "{}; {}: {corner}",
                words::readings::beside(limit.measured, read, unit),
                words::computed_to(&limit.predicted)
            ),
            (None, Some(against)) => format!("{against}; {corner}"),
            (None, None) => corner,
        };
        let corner = match &limit.mostly {
            Some(mostly) => format!("{}; {corner}", words::mostly(mostly)),
            None => corner,
        };
        let help = help_lines(limit)
            .iter()
            .map(|line| printable(line))
            .collect();
        Row {
            verdict: words::overall_in_table(limit.overall),
            name: printable(&format!("{}, {}", limit.name, limit.state)),
            worst: worst.map_or_else(absent, |worst| number::statistic(what, worst, unit, margin)),
            allowed: words::allowed(what, limit.min, limit.max, unit),
            margin: margin.map_or_else(absent, |margin| number::margin(what, margin, unit, worst)),
            corner: printable(&corner),
            mends: limit.help.first().is_some_and(Help::mends),
            help,
        }
    }
}

impl Widths {
    fn of(rows: &[Row], columns: usize) -> Self {
        let widest = |head: &str, cell: fn(&Row) -> &str| {
            rows.iter()
                .map(|row| cell(row).width())
                .chain([head.width()])
                .max()
                .unwrap_or(0)
        };
        let worst = widest(words::HEAD_WORST, |row| &row.worst);
        let allowed = widest(words::HEAD_ALLOWED, |row| &row.allowed);
        let margin = widest(words::HEAD_MARGIN, |row| &row.margin);
        let figures = VERDICT + worst + allowed + margin + 4 * GAP;
        let name = widest(words::HEAD_LIMIT, |row| &row.name)
            .min(NAME_MOST)
            .min(columns.saturating_sub(figures).max(12));
        Widths {
            name,
            worst,
            allowed,
            margin,
        }
    }

    /// Where the corner starts when it stands beside the figures.
    fn figures_end(&self) -> usize {
        VERDICT + self.name + self.worst + self.allowed + self.margin + 5 * GAP
    }

    /// What is left for corner and help; the corner has the longer text.
    fn beside(&self, columns: usize) -> (usize, usize) {
        let left = columns.saturating_sub(self.figures_end() + GAP);
        let help = (left * 2 / 5).min(36);
        ((left - help).min(60), help)
    }

    fn figures(&self, row: &Row, name: &str) -> String {
        format!(
            "{}{:GAP$}{}{:GAP$}{}{:GAP$}{}{:GAP$}{}",
            padded(row.verdict, VERDICT),
            "",
            padded(name, self.name),
            "",
            flushed(&row.worst, self.worst),
            "",
            flushed(&row.allowed, self.allowed),
            "",
            flushed(&row.margin, self.margin),
        )
    }
}

fn head(widths: &Widths, wide: bool, columns: usize) -> Vec<String> {
    let row = Row {
        verdict: words::HEAD_VERDICT,
        name: String::new(),
        worst: words::HEAD_WORST.to_owned(),
        allowed: words::HEAD_ALLOWED.to_owned(),
        margin: words::HEAD_MARGIN.to_owned(),
        corner: String::new(),
        mends: false,
        help: Vec::new(),
    };
    let figures = widths.figures(&row, words::HEAD_LIMIT);
    if !wide {
        let under = format!("{}, {}", words::HEAD_CORNER, words::HEAD_HELP);
        return vec![figures, format!("{:INSET$}{under}", "")];
    }
    let (corner, _) = widths.beside(columns);
    let corner = padded(words::HEAD_CORNER, corner);
    vec![format!(
        "{figures}{:GAP$}{corner}{:GAP$}{}",
        "",
        "",
        words::HEAD_HELP
    )]
}

fn side_by_side(row: &Row, widths: &Widths, columns: usize) -> Vec<String> {
    let (corner_width, help_width) = widths.beside(columns);
    let name = wrapped(&row.name, widths.name);
    let corner = wrapped(&row.corner, corner_width);
    let help: Vec<String> = row
        .help
        .iter()
        .flat_map(|help| wrapped(help, help_width))
        .collect();
    let depth = name.len().max(corner.len()).max(help.len());
    let cell = |cells: &[String], i: usize| cells.get(i).cloned().unwrap_or_default();
    let lines = (0..depth).map(|i| {
        let figures = if i == 0 {
            widths.figures(row, &name[0])
        } else {
            let lead = VERDICT + GAP;
            padded(
                &format!("{:lead$}{}", "", cell(&name, i)),
                widths.figures_end() - GAP,
            )
        };
        let corner = padded(&cell(&corner, i), corner_width);
        format!("{figures}{:GAP$}{corner}{:GAP$}{}", "", "", cell(&help, i))
            .trim_end()
            .to_owned()
    });
    lines.collect()
}

fn stacked(row: &Row, widths: &Widths, columns: usize) -> Vec<String> {
    let lead = VERDICT + GAP;
    let name = wrapped(&row.name, widths.name);
    let mut lines = vec![widths.figures(row, &name[0])];
    lines.extend(
        name.iter()
            .skip(1)
            .map(|line| format!("{:lead$}{line}", "")),
    );
    let help = row
        .help
        .iter()
        .enumerate()
        .map(|(i, help)| match (i, row.mends) {
            (_, false) => help.clone(),
            (0, true) => words::try_this(help),
            (_, true) => words::or_this(help),
        });
    let texts = std::iter::once(row.corner.clone()).chain(help);
    for text in texts.filter(|text| !text.is_empty()) {
        for line in wrapped(&text, columns.saturating_sub(INSET)) {
            lines.push(format!("{:INSET$}{line}", ""));
        }
    }
    lines
}

/// Text with spaces after it.
fn padded(text: &str, width: usize) -> String {
    format!("{text}{:1$}", "", width.saturating_sub(text.width()))
}

/// Text with spaces before it.
fn flushed(text: &str, width: usize) -> String {
    format!("{:1$}{text}", "", width.saturating_sub(text.width()))
}

/// A word in pieces of at most `width` cells.
fn cut(word: &str, width: usize) -> Vec<String> {
    let mut pieces = vec![String::new()];
    let mut taken = 0;
    for c in word.chars() {
        let cells = c.width().unwrap_or(0);
        if taken + cells > width.max(1) && taken > 0 {
            pieces.push(String::new());
            taken = 0;
        }
        pieces.last_mut().expect("starts with one piece").push(c);
        taken += cells;
    }
    pieces
}
