//! Lines of plain text: tables as wide as they need, hanging paragraphs, and what a terminal can print.

use crate::number;
use crate::verdicts::{printable, wrapped};
use unicode_width::UnicodeWidthStr;

/// Lines of a table, columns as wide as they need.
pub(crate) fn table<const N: usize>(rows: &[[String; N]]) -> Vec<String> {
    let rows: Vec<Vec<String>> = rows
        .iter()
        .map(|row| row.iter().map(|cell| number::spaced(cell)).collect())
        .collect();
    let widths: Vec<usize> = (0..N)
        .map(|column| {
            rows.iter()
                .map(|row| row[column].width())
                .max()
                .unwrap_or(0)
        })
        .collect();
    rows.iter()
        .map(|row| {
            let mut line = String::from(" ");
            for (cell, width) in row.iter().zip(&widths) {
                line.push(' ');
                line.push_str(cell);
                line.push_str(&" ".repeat(width - cell.width() + 1));
            }
            line.trim_end().to_owned()
        })
        .collect()
}

/// A row of an account: what stands before it, a name, a figure, and what there is to say of it.
pub(crate) type Said = (String, String, String, String);

/// Columns that what is said of a figure has at least.
const LEAST_SAID: usize = 24;

/// Such rows under one another: figures flush to the right, and what is too wide for the columns broken under itself.
pub(crate) fn accounts(rows: &[Said], columns: usize) -> Vec<String> {
    let widest = |cell: fn(&Said) -> usize| rows.iter().map(cell).max().unwrap_or(0);
    let before = widest(|row| row.0.width());
    let figure = widest(|row| row.2.width());
    let said = widest(|row| row.3.width()).min(LEAST_SAID);
    let room = columns.saturating_sub(before + figure + said + 4);
    let name = widest(|row| row.1.width()).min(room.max(LEAST_SAID));
    let rest = columns.saturating_sub(before + name + figure + 4);
    let mut lines = Vec::new();
    for row in rows {
        let names = wrapped(&row.1, name);
        let said = wrapped(&row.3, rest.max(LEAST_SAID));
        for index in 0..names.len().max(said.len()).max(1) {
            let at = |all: &[String]| all.get(index).cloned().unwrap_or_default();
            let (lead, value) = if index == 0 {
                (row.0.as_str(), row.2.as_str())
            } else {
                ("", "")
            };
            let (own, said) = (at(&names), at(&said));
            let line = format!(
                "{lead}{:before$}{own}{:name$}  {:figure$}{value}  {said}",
                "",
                "",
                "",
                before = before - lead.width(),
                name = name.saturating_sub(own.width()),
                figure = figure - value.width(),
            );
            lines.push(line.trim_end().to_owned());
        }
    }
    lines
}

/// A paragraph with its first line two columns in, the others four.
pub(crate) fn indented(text: &str, columns: usize) -> Vec<String> {
    wrapped(text, columns.saturating_sub(4))
        .into_iter()
        .enumerate()
        .map(|(index, line)| format!("{}{line}", if index == 0 { "  " } else { "    " }))
        .collect()
}

/// The same two columns further in, below such a paragraph.
pub(crate) fn deeper(text: &str, columns: usize) -> Vec<String> {
    let lines = indented(text, columns.saturating_sub(2));
    lines.into_iter().map(|line| format!("  {line}")).collect()
}

/// Lines as one text for a terminal.
pub(crate) fn joined(lines: impl IntoIterator<Item = String>) -> String {
    let mut text = String::new();
    for line in lines {
        text.push_str(&number::spaced(&printable(&line)));
        text.push('\n');
    }
    text
}
