//! The page of the guide: sections between marks, compared or rewritten.

use std::fmt;
use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, Write};
use std::path::{Path, PathBuf};

/// Why a page does not show a section as found.
#[derive(Debug)]
pub enum PageError {
    /// The page could not be read or written.
    File {
        /// The page.
        page: PathBuf,
        /// What the system said.
        error: io::Error,
    },
    /// The page has no such section.
    Missing {
        /// The page.
        page: PathBuf,
        /// The section.
        section: String,
    },
    /// The section on the page is another text.
    Differs {
        /// The page.
        page: PathBuf,
        /// The section.
        section: String,
        /// The first line that differs: on the page, and as found.
        first: (String, String),
    },
}

/// Fails unless the page shows `text` as its section `name`.
pub(crate) fn compare(page: &Path, name: &str, text: &str) -> Result<(), PageError> {
    let file_error = |error| PageError::File {
        page: page.to_owned(),
        error,
    };
    let whole = std::fs::read_to_string(page).map_err(file_error)?;
    let Some((from, to)) = place(&whole, name) else {
        return Err(PageError::Missing {
            page: page.to_owned(),
            section: name.to_owned(),
        });
    };
    let shown = &whole[from..to];
    let wanted = framed(text);
    if shown == wanted {
        return Ok(());
    }
    Err(PageError::Differs {
        page: page.to_owned(),
        section: name.to_owned(),
        first: first_difference(shown, &wanted),
    })
}

/// Puts `text` into the section `name`, at the end of the page if it has none yet.
///
/// The page is locked meanwhile: tests run beside each other, and each rewrites its own section.
pub(crate) fn write(page: &Path, name: &str, text: &str) -> Result<(), PageError> {
    rewrite(page, name, text).map_err(|error| PageError::File {
        page: page.to_owned(),
        error,
    })
}

fn rewrite(page: &Path, name: &str, text: &str) -> io::Result<()> {
    let mut file: File = OpenOptions::new().read(true).write(true).open(page)?;
    file.lock()?;
    let mut whole = String::new();
    file.read_to_string(&mut whole)?;
    let wanted = framed(text);
    let after = match place(&whole, name) {
        Some((from, to)) => format!("{}{wanted}{}", &whole[..from], &whole[to..]),
        None => {
            let kept = whole.trim_end();
            format!("{kept}\n\n{}{wanted}{}\n", opening(name), closing(name))
        }
    };
    if after == whole {
        return Ok(());
    }
    file.rewind()?;
    file.set_len(0)?;
    file.write_all(after.as_bytes())
}

fn opening(name: &str) -> String {
    format!("<!-- checks:{name} -->")
}

fn closing(name: &str) -> String {
    format!("<!-- end:{name} -->")
}

/// A blank line on both sides, without which Markdown would not see the table.
fn framed(text: &str) -> String {
    format!("\n\n{}\n\n", text.trim_end())
}

/// Where the text of a section begins and ends.
fn place(whole: &str, name: &str) -> Option<(usize, usize)> {
    let opening = opening(name);
    let from = whole.find(&opening)? + opening.len();
    let to = from + whole[from..].find(&closing(name))?;
    Some((from, to))
}

fn first_difference(shown: &str, wanted: &str) -> (String, String) {
    let (mut a, mut b) = (shown.lines(), wanted.lines());
    loop {
        match (a.next(), b.next()) {
            (Some(left), Some(right)) if left == right => {}
            (left, right) => {
                let line = |side: Option<&str>| side.unwrap_or("(nothing)").to_owned();
                return (line(left), line(right));
            }
        }
    }
}

impl fmt::Display for PageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File { page, error } => write!(f, "{}: {error}", page.display()),
            Self::Missing { page, section } => write!(
                f,
                "{} has no section {section}; run with BLESS=1 to add it",
                page.display()
            ),
            Self::Differs {
                page,
                section,
                first: (shown, found),
            } => write!(
                f,
                "section {section} of {} is not what was found; run with BLESS=1 to rewrite it\n\
                 on the page: {shown}\n\
                 found:       {found}",
                page.display()
            ),
        }
    }
}
