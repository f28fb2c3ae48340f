//! Cases are files: `cases/*.toml`, each a small job. A trailing `#! J012 part of the message` says that a
//! diagnostic of that code points at that line; several may follow one another. Exactly those that a case
//! names must appear.

use crate::{Diagnostic, FileId, Reading, read};
use std::fs;
use std::path::{Path, PathBuf};

/// One diagnostic that a case names.
#[derive(Debug)]
struct Expected {
    line: usize,
    code: String,
    words: String,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("cases")
}

/// Every `#! J012 words` of a text, with its line, counted from 1.
fn expectations(text: &str) -> Vec<Expected> {
    text.lines()
        .enumerate()
        .flat_map(|(index, line)| {
            line.split("#!").skip(1).map(move |comment| {
                let (code, words) = comment
                    .trim()
                    .split_once(' ')
                    .unwrap_or((comment.trim(), ""));
                Expected {
                    line: index + 1,
                    code: code.to_owned(),
                    words: words.trim().to_owned(),
                }
            })
        })
        .collect()
}

fn line_of(text: &str, diagnostic: &Diagnostic) -> usize {
    text.as_bytes()[..diagnostic.span.start]
        .iter()
        .filter(|byte| **byte == b'\n')
        .count()
        + 1
}

/// What a case has too much or too little, in words; empty if nothing.
fn differences(text: &str, reading: &Reading) -> Vec<String> {
    let mut expected = expectations(text);
    let mut found = Vec::new();
    for diagnostic in &reading.diagnostics {
        assert_eq!(diagnostic.file, FileId::Job, "{diagnostic:?}");
        let line = line_of(text, diagnostic);
        let fits = |one: &Expected| {
            one.line == line
                && one.code == diagnostic.code
                && diagnostic.message.contains(&one.words)
        };
        match expected.iter().position(fits) {
            Some(index) => drop(expected.remove(index)),
            None => found.push(format!(
                "line {line}: {} {} not expected",
                diagnostic.code, diagnostic.message
            )),
        }
    }
    found.extend(expected.iter().map(|one| format!("{one:?} did not appear")));
    found
}

#[test]
fn every_case_gives_just_its_diagnostics() {
    let mut failures = Vec::new();
    let mut count = 0;
    let mut paths: Vec<_> = fs::read_dir(folder())
        .expect("the folder of cases")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    paths.sort();
    for path in paths {
        let text = fs::read_to_string(&path).expect("a case");
        let found = differences(&text, &read(&text, None));
        count += 1;
        if !found.is_empty() {
            failures.push(format!("{}:\n  {}", path.display(), found.join("\n  ")));
        }
    }
    assert!(count > 0, "no cases found");
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}
