//! Below the shells: text and numbers in, values out. No files, no clock, no environment, nothing printed.

use super::Fault;
use super::rust::{has_word, named_under, shipped};
use super::tree::Tree;

/// The crates that are so.
const PURE: [&str; 6] = [
    "quietrail-units",
    "quietrail-job",
    "quietrail-bench",
    "quietrail-engine",
    "quietrail-study",
    "quietrail-report",
];

/// What of the standard library reaches outside.
const OUTSIDE: [&str; 6] = ["env", "fs", "io", "net", "process", "time"];

/// What prints. Progress goes out through a callback, results are returned.
const PRINTS: [&str; 4] = ["print!", "println!", "eprint!", "eprintln!"];

pub(super) fn check(tree: &Tree) -> Vec<Fault> {
    let mut faults = Vec::new();
    for name in PURE {
        let files = shipped(tree, name);
        if files.is_empty() {
            faults.push(Fault::whole(name, "has no source that could be checked"));
        }
        for (file, lines) in files {
            for (index, module) in named_under(&lines, "std") {
                if OUTSIDE.contains(&module) {
                    let what = format!("uses std::{module}; only the shell does");
                    faults.push(Fault::at(&file.path, index, what));
                }
            }
            for (index, line) in lines.iter().enumerate() {
                if let Some(print) = PRINTS.iter().find(|print| has_word(line, print)) {
                    let what = format!("{print} below the shell");
                    faults.push(Fault::at(&file.path, index, what));
                }
            }
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::{PURE, check};
    use crate::tidy::tree::Tree;

    fn said(path: &str, text: &str) -> Vec<String> {
        let mut files: Vec<(String, &str)> = PURE
            .iter()
            .map(|name| {
                (
                    format!("crates/{name}/src/lib.rs"),
                    "#[cfg(test)]\nmod tests;\n",
                )
            })
            .collect();
        files.push((path.to_owned(), text));
        let files: Vec<(&str, &str)> = files.iter().map(|(p, t)| (p.as_str(), *t)).collect();
        check(&Tree::of(&files))
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn files_and_clock_belong_to_the_shell() {
        let text = "//! Waits.\nuse std::{fmt, time::Instant};\n";
        assert_eq!(
            said("crates/quietrail-study/src/wait.rs", text),
            ["crates/quietrail-study/src/wait.rs:2: uses std::time; only the shell does"]
        );
        assert!(said("crates/quietrail-cli/src/wait.rs", text).is_empty());
        assert!(said("crates/quietrail-study/tests/wait.rs", text).is_empty());
        assert!(said("crates/quietrail-study/src/tests.rs", text).is_empty());
        assert!(
            said(
                "crates/quietrail-study/src/words.rs",
                "// std::fs is not used\n"
            )
            .is_empty()
        );
    }

    #[test]
    fn nothing_is_printed_while_computing() {
        let path = "crates/quietrail-engine/src/loud.rs";
        assert_eq!(
            said(path, "eprintln!(\"half way\");"),
            [format!("{path}:1: eprintln! below the shell")]
        );
        assert!(said(path, "writeln!(text)?;").is_empty());
    }

    #[test]
    fn a_crate_that_is_gone_is_missed() {
        assert_eq!(check(&Tree::of(&[])).len(), PURE.len());
    }
}
