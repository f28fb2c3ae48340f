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
