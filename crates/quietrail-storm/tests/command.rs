//! The binary as a person runs it: what it says, and its exit status.

use quietrail_storm::judge::Refusal;
use quietrail_storm::solve::{Fate, Outcome, states};
use std::process::{Command, Output};

fn storm(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quietrail-storm"))
        .args(arguments)
        .output()
        .expect("the binary starts")
}

fn words(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("text")
}

/// One of the crate's own jobs.
fn job(path: &str) -> String {
    format!("{}/tests/{path}", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn jobs_of_a_folder_end_in_one_line_of_json() {
    let output = storm(&["--json", "--jobs", &job("jobs")]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let text = words(&output.stdout);
    assert_eq!(text.lines().count(), 1, "{text}");
    let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    for (key, count) in [
        ("jobs", 1),
        ("solutions", 1),
        ("settled", 1),
        ("refused_rightly", 0),
        ("not_found", 0),
        ("panics", 0),
        ("unread", 0),
        ("compared", 1),
        ("disagreed", 0),
    ] {
        assert_eq!(json[key], count, "{key}: {text}");
    }
    assert!(
        json["slowest_s"]
            .as_f64()
            .is_some_and(|seconds| seconds > 0.0)
    );
}

#[test]
fn a_job_that_cannot_be_read_is_kept_with_the_reason_on_top() {
    let folder = tempfile::tempdir().expect("a folder");
    let (jobs, keep) = (folder.path().join("jobs"), folder.path().join("keep"));
    std::fs::create_dir(&jobs).expect("a folder");
    std::fs::write(jobs.join("odd.toml"), "format = 1\n[capacitor.C1]\n").expect("a file");
    let (jobs, kept) = (jobs.to_string_lossy(), keep.to_string_lossy());
    let output = storm(&["--json", "--jobs", &jobs, "--keep", &kept]);
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    let text = std::fs::read_to_string(keep.join("unread-odd.toml")).expect("it is kept");
    assert!(text.starts_with("# unread: "), "{text}");
    assert!(text.ends_with("format = 1\n[capacitor.C1]\n"), "{text}");
}

#[test]
fn what_makes_no_sense_is_told_in_a_sentence() {
    let folder = tempfile::tempdir().expect("a folder");
    let empty = folder.path().to_string_lossy().into_owned();
    let missing = folder.path().join("missing").to_string_lossy().into_owned();
    for (arguments, says) in [
        (vec!["--jobs", &empty], "no *.toml in this folder"),
        (vec!["--jobs", &missing], "missing: "),
        (vec!["--count", "0"], "--count"),
        (vec!["--seed", "x"], "--seed"),
        (
            vec!["--jobs", &empty, "--count", "3"],
            "cannot be used with",
        ),
        (
            vec!["--first", "18446744073709551615", "--count", "1"],
            "go beyond the last job",
        ),
    ] {
        let output = storm(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let said = words(&output.stderr);
        assert!(said.contains(says), "{arguments:?}: {said}");
        assert!(output.stdout.is_empty());
    }
}

#[test]
fn jobs_are_printed_one_behind_the_other() {
    let output = storm(&["--print", "--seed", "4", "--first", "7", "--count", "2"]);
    let text = words(&output.stdout);
    let (first, second) = (
        quietrail_storm::make::job(4, 7).text,
        quietrail_storm::make::job(4, 8).text,
    );
    assert_eq!(text, format!("# 4-7\n{first}\n# 4-8\n{second}\n"));
}

/// The reasons of physics come up where benches know them, and only there.
#[test]
fn refusals_are_right_for_a_reason() {
    for (path, refusal) in [
        ("refused/heat.toml", Refusal::HeatRunsAway),
        ("refused/swing.toml", Refusal::SwingsOnItsOwn),
    ] {
        let text = std::fs::read_to_string(job(path)).expect("it is there");
        // From 1: no comparison.
        let Fate::Solved(states) = states(&text, 1) else {
            panic!("{path} cannot be read");
        };
        assert_eq!(states.len(), 1);
        assert_eq!(
            states[0].outcome,
            Outcome::RefusedRightly(refusal),
            "{path}"
        );
    }
}
