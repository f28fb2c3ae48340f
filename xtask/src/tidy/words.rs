//! Words that stay out: marks of unfinished work, promises that nobody can keep, paths of one machine.

use super::Fault;
use super::rust::has_word;
use super::tree::Tree;

/// Marks of unfinished work. In two halves, so that this file may be checked too.
const UNFINISHED: [&str; 3] = [
    concat!("TO", "DO"),
    concat!("FIX", "ME"),
    concat!("dbg", "!"),
];

/// Where folders of one machine begin.
const MACHINE: [&str; 6] = [
    concat!("/", "home/"),
    concat!("/", "root/"),
    concat!("/", "tmp/"),
    concat!("/", "work/"),
    concat!("/", "Users/"),
    concat!("C:", "\\"),
];

/// No verdict says this of a mains-powered supply.
const PROMISE: &str = "safe";
/// How ids of published figures on safety begin.
const REGISTER: &str = "PWR-SAFE-";

/// Texts that users read: how their paths begin.
const READ_BY_USERS: [&str; 9] = [
    "CHANGELOG.md",
    "README.md",
    "crates/quietrail-cli/demo/",
    "crates/quietrail-cli/src/",
    "crates/quietrail-job/catalogue/",
    "crates/quietrail-job/src/explain",
    "crates/quietrail-job/src/words.rs",
    "crates/quietrail-report/src/words.rs",
    "guide/",
];

pub(super) fn check(tree: &Tree) -> Vec<Fault> {
    let mut faults: Vec<Fault> = READ_BY_USERS
        .iter()
        .filter(|start| !tree.paths.iter().any(|path| path.starts_with(*start)))
        .map(|start| Fault::whole(start, "is named in xtask/src/tidy/words.rs and not there"))
        .collect();
    for file in &tree.files {
        let for_users = READ_BY_USERS
            .iter()
            .any(|start| file.path.starts_with(start));
        for (index, line) in file.text.lines().enumerate() {
            if let Some(mark) = UNFINISHED.iter().find(|mark| has_word(line, mark)) {
                faults.push(Fault::at(
                    &file.path,
                    index,
                    format_args!("{mark} is left over"),
                ));
            }
            if let Some(start) = MACHINE.iter().find(|start| has_path(line, start)) {
                let what = format_args!("{start} is a folder of one machine").to_string();
                faults.push(Fault::at(&file.path, index, what));
            }
            // Ids of the register's rows on safety are names, not promises.
            let said = line.replace(REGISTER, "").to_lowercase();
            if for_users && has_word(&said, PROMISE) {
                let what = format_args!("says \"{PROMISE}\", which nothing here can").to_string();
                faults.push(Fault::at(&file.path, index, what));
            }
        }
    }
    faults
}

/// Whether an absolute path begins so. In `crates/base/a` and `https://a.example/home/` none does.
fn has_path(line: &str, start: &str) -> bool {
    line.match_indices(start).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        !before.is_some_and(|c| c.is_alphanumeric() || "/._-~*})".contains(c))
    })
}

#[cfg(test)]
mod tests {
    use super::{MACHINE, READ_BY_USERS, UNFINISHED, check};
    use crate::tidy::tree::Tree;

    /// What is said of a file beside those that must be there.
    fn said(path: &str, text: &str) -> Vec<String> {
        let mut files: Vec<(&str, &str)> = READ_BY_USERS.iter().map(|start| (*start, "")).collect();
        files.push((path, text));
        check(&Tree::of(&files))
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn marks_of_unfinished_work_are_found_as_words() {
        for mark in UNFINISHED {
            assert_eq!(said("a.rs", &format!("// {mark} later")).len(), 1, "{mark}");
            assert!(said("a.rs", &format!("// A{mark}A")).is_empty(), "{mark}");
        }
    }

    #[test]
    fn users_are_not_promised_what_nobody_can_know() {
        assert_eq!(said("guide/a.md", "It is Safe.").len(), 1);
        assert!(said("guide/a.md", "A safety rule.").is_empty());
        assert!(said("crates/a/src/lib.rs", "a safe guess").is_empty());
    }

    #[test]
    fn paths_of_a_machine_are_told_from_those_of_a_site() {
        for start in MACHINE {
            assert_eq!(
                said("a.md", &format!("see `{start}notes`")).len(),
                1,
                "{start}"
            );
        }
        let home = MACHINE[0];
        assert!(said("a.md", &format!("https://a.example{home}notes")).is_empty());
        assert!(said("a.md", &format!("crates{home}notes")).is_empty());
    }

    #[test]
    fn a_text_that_is_gone_is_missed() {
        assert_eq!(check(&Tree::of(&[])).len(), READ_BY_USERS.len());
    }
}
