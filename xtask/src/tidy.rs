//! `cargo xtask tidy`: what the compiler does not check.
//!
//! 1. [`tree`]: the texts of the repository; [`metadata`]: its crates and what they depend on.
//! 2. Each other module is one subject, and looks at either; all faults are reported at once.

mod form;
mod layers;
mod licences;
mod links;
mod metadata;
mod purity;
mod rust;
mod studies;
mod tree;
mod words;

use crate::Task;
use crate::cargo::{Failed, root};
use std::fmt;
use tree::Tree;

pub(crate) const TASK: Task = Task {
    name: "tidy",
    about: "layers, absences, licences, links, form of files",
    run: |_| run(),
};

/// One thing that is not tidy.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Fault {
    /// A file, or a crate.
    place: String,
    /// Line of the file, from 1.
    line: Option<usize>,
    /// What is wrong, and what to do where that is not plain.
    what: String,
}

fn run() -> Result<(), Failed> {
    let tree = Tree::read(root())?;
    let crates = metadata::read()?;
    let mut faults = [
        layers::check(&crates),
        licences::check(&crates),
        purity::check(&tree),
        studies::check(&tree),
        form::check(&tree),
        words::check(&tree),
        links::check(&tree),
    ]
    .concat();
    faults.sort();
    for fault in &faults {
        eprintln!("{fault}");
    }
    match faults.len() {
        0 => Ok(()),
        count => Err(Failed::Untidy(count)),
    }
}

impl Fault {
    /// About a file or a crate as a whole.
    fn whole(place: &str, what: impl fmt::Display) -> Self {
        Self {
            place: place.to_owned(),
            line: None,
            what: what.to_string(),
        }
    }

    /// About one line, counted from 0 as iterators do.
    fn at(place: &str, index: usize, what: impl fmt::Display) -> Self {
        Self {
            line: Some(index + 1),
            ..Self::whole(place, what)
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}:{line}: {}", self.place, self.what),
            None => write!(f, "{}: {}", self.place, self.what),
        }
    }
}
