//! The register of outside checks: figures that come from elsewhere, beside what quietrail computes.
//!
//! A test fills a [`Section`] row by row and calls [`Section::finish`]. That fails the test when a row
//! is further off than it may be, or when the table that the guide prints is no longer what the test found;
//! `BLESS=1` rewrites the table, never the verdict. So the guide cannot claim what the tests do not show.
//!
//! Figures given from memory are notes. They stand below the table and never pass or fail.

mod digits;
mod page;
mod row;

pub use page::PageError;
pub use row::{Allowed, Figure, Row};

use row::Entry;
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// One section of the register, printed as one table of the guide.
#[derive(Debug)]
pub struct Section {
    name: String,
    title: String,
    entries: Vec<Entry>,
    notes: Vec<(String, String)>,
}

/// Why a section is not accepted.
#[derive(Debug)]
pub enum Unaccepted {
    /// Rows that are further off than they may be, as sentences.
    Rows(Vec<String>),
    /// The guide's page does not show what was found.
    Page(PageError),
}

impl Section {
    /// A section without rows. `name` marks its place in the guide, `title` heads it there.
    pub fn new(name: &str, title: &str) -> Self {
        Self {
            name: name.to_owned(),
            title: title.to_owned(),
            entries: Vec::new(),
            notes: Vec::new(),
        }
    }

    /// Starts a row: what is compared, and where the expected figure comes from.
    pub fn row<'s>(&'s mut self, id: &str, what: &str, source: &str) -> Row<'s> {
        Row::new(&mut self.entries, id, what, source)
    }

    /// A figure from memory, or anything else that is told but neither passes nor fails.
    pub fn note(&mut self, id: &str, text: &str) {
        self.notes.push((id.to_owned(), text.to_owned()));
    }

    /// How many figures were compared.
    pub fn compared(&self) -> usize {
        self.entries.iter().map(|entry| entry.compared).sum()
    }

    /// Accepts the section, or fails the test that made it.
    ///
    /// # Panics
    /// With every row that fails; or when the guide differs and `BLESS` is not 1.
    pub fn finish(self) {
        let page = PathBuf::from(concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../guide/checks.md"
        ));
        let bless = std::env::var_os("BLESS").is_some_and(|value| value == "1");
        if let Err(unaccepted) = self.accept(&page, bless) {
            panic!("{unaccepted}");
        }
    }

    /// Compares with the section of a page, or writes it there.
    ///
    /// # Errors
    /// Rows that fail (then nothing is written), or a page that differs.
    pub fn accept(self, page: &Path, bless: bool) -> Result<(), Unaccepted> {
        let failing: Vec<String> = self.entries.iter().filter_map(Entry::complaint).collect();
        if !failing.is_empty() {
            return Err(Unaccepted::Rows(failing));
        }
        let text = self.render();
        let outcome = if bless {
            page::write(page, &self.name, &text)
        } else {
            page::compare(page, &self.name, &text)
        };
        outcome.map_err(Unaccepted::Page)
    }

    /// The Markdown of the section.
    pub fn render(&self) -> String {
        let mut text = format!("## {}\n\n", self.title);
        text.push_str("| id | what | source | expected | got | difference |\n");
        text.push_str("|---|---|---|---|---|---|\n");
        for entry in &self.entries {
            text.push_str(&entry.render());
        }
        let compared = self.compared();
        let figures = if compared == 1 { "figure" } else { "figures" };
        writeln!(text, "\n{compared} {figures} compared.").expect("a string takes all text");
        if !self.notes.is_empty() {
            text.push_str("\nNotes, which neither pass nor fail:\n\n");
            for (id, note) in &self.notes {
                writeln!(text, "- **{id}**: {note}").expect("a string takes all text");
            }
        }
        text
    }
}

impl std::fmt::Display for Unaccepted {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Rows(rows) => {
                let count = rows.len();
                write!(f, "{count} rows fail:\n{}", rows.join("\n"))
            }
            Self::Page(error) => error.fmt(f),
        }
    }
}

#[cfg(test)]
mod tests;
