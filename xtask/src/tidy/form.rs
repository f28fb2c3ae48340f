//! The form of files: how they open, how long they are, how their lines end.

use super::Fault;
use super::rust::{is_test, test_files, without_tests};
use super::tree::{File, Tree};
use std::collections::BTreeSet;

/// Lines that a source file may have, tests not counted. Longer ones have more than one subject.
const LONGEST: usize = 700;

/// What must stay as it was made: the tests' snapshots, and what cargo writes.
const AS_MADE: [&str; 2] = [".snap", "Cargo.lock"];

pub(super) fn check(tree: &Tree) -> Vec<Fault> {
    let tests = test_files(tree);
    let sources = tree.files.iter().filter(|file| file.is_rust());
    let mut faults: Vec<Fault> = sources
        .flat_map(|file| opening(file).into_iter().chain(length(file, &tests)))
        .collect();
    for file in &tree.files {
        if !AS_MADE.iter().any(|end| file.path.ends_with(end)) {
            faults.extend(line_ends(file));
        }
    }
    faults
}

fn opening(file: &File) -> Option<Fault> {
    let opens = file.text.starts_with("//! ");
    (!opens).then(|| Fault::at(&file.path, 0, "does not open with `//!` and what it is for"))
}

fn length(file: &File, tests: &BTreeSet<String>) -> Option<Fault> {
    if is_test(&file.path, tests) {
        return None;
    }
    let own = without_tests(&file.text);
    // Lines of tests are empty here, and so not counted; nor are blank lines.
    let count = own.iter().filter(|line| !line.trim().is_empty()).count();
    let what = format!("{count} lines, where {LONGEST} are enough for one subject");
    (count > LONGEST).then(|| Fault::whole(&file.path, what))
}

fn line_ends(file: &File) -> Vec<Fault> {
    let mut faults: Vec<Fault> = file
        .text
        .split('\n')
        .enumerate()
        .filter(|(_, line)| line.ends_with([' ', '\t', '\r']))
        .map(|(index, _)| Fault::at(&file.path, index, "white space at the end of the line"))
        .collect();
    if !file.text.is_empty() && !file.text.ends_with('\n') {
        faults.push(Fault::whole(&file.path, "the last line is not ended"));
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::{LONGEST, check};
    use crate::tidy::tree::Tree;

    fn said(path: &str, text: &str) -> Vec<String> {
        check(&Tree::of(&[(path, text)]))
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn every_source_opens_with_what_it_is_for() {
        assert!(said("crates/a/src/a.rs", "//! Says.\n").is_empty());
        assert_eq!(said("crates/a/tests/a.rs", "use b;\n").len(), 1);
        assert!(said("guide/a.md", "# A\n").is_empty());
    }

    #[test]
    fn only_what_ships_counts_as_length() {
        let line = "    x += 1;\n";
        let long = format!("//! Long.\n{}", line.repeat(LONGEST));
        assert_eq!(said("crates/a/src/a.rs", &long).len(), 1);
        assert!(said("crates/a/tests/a.rs", &long).is_empty());
        let tested = format!(
            "//! Tested.\n#[cfg(test)]\nmod tests {{\n{}}}\n",
            line.repeat(LONGEST)
        );
        assert!(said("crates/a/src/a.rs", &tested).is_empty());
    }

    #[test]
    fn lines_end_where_their_text_does() {
        assert_eq!(
            said("guide/a.md", "a \nb\n"),
            ["guide/a.md:1: white space at the end of the line"]
        );
        assert_eq!(said("guide/a.md", "a\r\n").len(), 1);
        assert_eq!(
            said("guide/a.md", "a"),
            ["guide/a.md: the last line is not ended"]
        );
        assert!(said("crates/a/src/a.snap", "a \n").is_empty());
    }
}
