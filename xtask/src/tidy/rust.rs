//! As much of Rust as the checks need: which lines are code that ships, and which paths they name.
//!
//! It relies on the source being formatted, which the task `format` sees to.

use super::tree::{File, Tree};
use std::collections::BTreeSet;

/// Files of a crate's `src` that ship, with their lines; lines of tests and comments are empty.
pub(super) fn shipped<'t>(tree: &'t Tree, crate_name: &str) -> Vec<(&'t File, Vec<&'t str>)> {
    let folder = format!("crates/{crate_name}/src/");
    let tests = test_files(tree);
    tree.files
        .iter()
        .filter(|file| file.is_rust() && file.path.starts_with(&folder))
        .filter(|file| !is_test(&file.path, &tests))
        .map(|file| (file, without_comments(&without_tests(&file.text))))
        .collect()
}

/// Whether a file is only built for tests.
pub(super) fn is_test(path: &str, tests: &BTreeSet<String>) -> bool {
    path.contains("/tests/")
        || path.contains("/examples/")
        || tests.iter().any(|module| {
            path.strip_prefix(module.as_str())
                .is_some_and(|rest| rest == ".rs" || rest.starts_with('/'))
        })
}

/// Modules declared as `#[cfg(test)] mod name;`, as paths without their ending.
pub(super) fn test_files(tree: &Tree) -> BTreeSet<String> {
    let mut modules = BTreeSet::new();
    for file in tree.files.iter().filter(|file| file.is_rust()) {
        let own = file.path.trim_end_matches(".rs");
        let (folder, stem) = own.rsplit_once('/').unwrap_or(("", own));
        let folder = if ["lib", "main", "mod"].contains(&stem) {
            folder
        } else {
            own
        };
        let lines: Vec<&str> = file.text.lines().map(str::trim).collect();
        for pair in lines.windows(2) {
            let name = pair[1]
                .strip_prefix("mod ")
                .and_then(|rest| rest.strip_suffix(';'));
            if let (true, Some(name)) = (pair[0] == "#[cfg(test)]", name) {
                modules.insert(format!("{folder}/{name}"));
            }
        }
    }
    modules
}

/// All lines, those of items under `#[cfg(test)]` empty.
pub(super) fn without_tests(text: &str) -> Vec<&str> {
    let mut kept = Vec::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        if line.trim() != "#[cfg(test)]" {
            kept.push(line);
            continue;
        }
        kept.push("");
        let indent = &line[..line.len() - line.trim_start().len()];
        // The item goes to the brace that closes at its own indent, or to the end of its only line.
        for line in lines.by_ref() {
            kept.push("");
            let at_indent = line.strip_prefix(indent).unwrap_or_default();
            let is_attribute = at_indent.starts_with("#[");
            let closes =
                at_indent == "}" || at_indent.ends_with(';') && !at_indent.starts_with(' ');
            if !is_attribute && closes {
                break;
            }
        }
    }
    kept
}

/// What is left of each line before `//`.
fn without_comments<'t>(lines: &[&'t str]) -> Vec<&'t str> {
    lines
        .iter()
        .map(|line| line.split_once("//").map_or(*line, |(code, _)| code))
        .collect()
}

/// What follows `root::` wherever it stands, with its line: `fs` for `std::fs::read` and for
/// `use std::{fmt, fs}`.
pub(super) fn named_under<'t>(lines: &[&'t str], root: &str) -> Vec<(usize, &'t str)> {
    let start = format!("{root}::");
    let mut named = Vec::new();
    let mut depth = 0; // of braces in a group that is open
    for (index, line) in lines.iter().enumerate() {
        let mut rest = *line;
        loop {
            if depth > 0 {
                let Some((names, after, left)) = group(rest, depth) else {
                    break;
                };
                named.extend(names.into_iter().map(|name| (index, name)));
                (rest, depth) = (after, left);
                if depth > 0 {
                    break;
                }
            }
            let Some(at) = rest.find(&start) else { break };
            let is_whole = !rest[..at].ends_with(is_of_word);
            rest = &rest[at + start.len()..];
            if !is_whole {
                continue;
            }
            if let Some(inside) = rest.strip_prefix('{') {
                (rest, depth) = (inside, 1);
            } else {
                named.push((index, word(rest)));
            }
        }
    }
    named
}

/// The first words of the members of a group in a line, what follows the group, and how deep it still is.
fn group(line: &str, mut depth: usize) -> Option<(Vec<&str>, &str, usize)> {
    let mut names = Vec::new();
    let mut is_first = true;
    for (at, c) in line.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 1 => return Some((names, &line[at + 1..], 0)),
            '}' => depth -= 1,
            ',' if depth == 1 => is_first = true,
            c if depth == 1 && is_first && is_of_word(c) => {
                names.push(word(&line[at..]));
                is_first = false;
            }
            _ => {}
        }
    }
    Some((names, "", depth))
}

/// The word that a text begins with.
fn word(text: &str) -> &str {
    let end = text.find(|c| !is_of_word(c)).unwrap_or(text.len());
    &text[..end]
}

/// Whether a word stands in a text on its own.
pub(super) fn has_word(text: &str, wanted: &str) -> bool {
    text.match_indices(wanted).any(|(at, _)| {
        let after = &text[at + wanted.len()..];
        !text[..at].ends_with(is_of_word) && !after.starts_with(is_of_word)
    })
}

fn is_of_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

#[cfg(test)]
mod tests {
    use super::{has_word, is_test, named_under, test_files, without_tests};
    use crate::tidy::tree::Tree;

    #[test]
    fn names_under_a_root_are_found_one_by_one_and_in_groups() {
        let text = "use std::fs;\nuse std::{fmt, io::{self, Read}, env};\nlet t = std::time::now();\nmystd::net();";
        let lines: Vec<&str> = text.lines().collect();
        let names: Vec<&str> = named_under(&lines, "std").iter().map(|n| n.1).collect();
        assert_eq!(names, ["fs", "fmt", "io", "env", "time"]);
    }

    #[test]
    fn a_group_may_go_over_several_lines() {
        let lines = ["use std::{", "    fmt,", "    fs,", "};", "use std::env;"];
        let found = named_under(&lines, "std");
        assert_eq!(found, [(1, "fmt"), (2, "fs"), (4, "env")]);
    }

    #[test]
    fn items_for_tests_are_left_out_and_what_follows_stays() {
        let text = "a\n#[cfg(test)]\nmod tests;\nb\n#[cfg(test)]\nmod more {\n    use std::fs;\n    fn f() {\n    }\n}\nc";
        let kept: Vec<&str> = without_tests(text)
            .into_iter()
            .filter(|l| !l.is_empty())
            .collect();
        assert_eq!(kept, ["a", "b", "c"]);
        assert_eq!(without_tests(text).len(), text.lines().count());
    }

    #[test]
    fn a_method_for_tests_ends_at_its_own_brace() {
        let text =
            "impl A {\n    #[cfg(test)]\n    fn f() {\n        g();\n    }\n\n    fn kept() {}\n}";
        assert!(without_tests(text).contains(&"    fn kept() {}"));
        assert!(!without_tests(text).contains(&"        g();"));
    }

    #[test]
    fn modules_declared_for_tests_are_known_by_their_files() {
        let tree = Tree::of(&[
            (
                "crates/a/src/lib.rs",
                "#[cfg(test)]\nmod specimen;\nmod real;\n",
            ),
            ("crates/a/src/svg.rs", "#[cfg(test)]\nmod tests;\n"),
        ]);
        let tests = test_files(&tree);
        assert!(is_test("crates/a/src/specimen.rs", &tests));
        assert!(is_test("crates/a/src/svg/tests.rs", &tests));
        assert!(is_test("crates/a/tests/it.rs", &tests));
        assert!(!is_test("crates/a/src/real.rs", &tests));
        assert!(!is_test("crates/a/src/specimens.rs", &tests));
    }

    #[test]
    fn a_word_is_no_part_of_another() {
        assert!(has_word("print!(x)", "print!"));
        assert!(!has_word("eprint!(x)", "print!"));
        assert!(!has_word("unsafe_code", "safe"));
    }
}
