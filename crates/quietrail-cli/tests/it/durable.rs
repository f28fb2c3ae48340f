//! Places that refuse: folders and files that nobody may write to, disks that are full, files that are edited elsewhere.

#![cfg(unix)]

use crate::bench::Bench;
use crate::readings::{TYPED, job};
use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::process::CommandExt;
use std::process::{Command, Output, Stdio};

/// Nobody in particular. Whoever may write everywhere finds no place that refuses, so the tool runs as this one then.
const NOBODY: u32 = 65_534;

/// The tool as one who may not write everywhere.
fn as_nobody(bench: &Bench, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_quietrail"));
    command
        .args(arguments)
        .current_dir(bench.path("."))
        .stdin(Stdio::null());
    let owner = fs::metadata(bench.path("job.toml")).unwrap().uid();
    if owner == 0 {
        command.uid(NOBODY);
    }
    command.output().unwrap()
}

fn mode(bench: &Bench, name: &str, mode: u32) {
    fs::set_permissions(bench.path(name), fs::Permissions::from_mode(mode)).unwrap();
}

fn refused(output: &Output, said: &str) {
    let err = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{err}");
    assert!(err.contains("readings.csv") && err.contains(said), "{err}");
}

#[test]
fn a_folder_that_may_only_be_read_is_said_to_be() {
    let bench = Bench::with(job());
    mode(&bench, "job.toml", 0o444);
    mode(&bench, ".", 0o555);
    let ran = as_nobody(&bench, &TYPED);
    let after = bench.path("readings.csv").exists();
    // Reading goes on.
    let proved = as_nobody(&bench, &["bringup", ".", "--step", "power off"]);
    mode(&bench, ".", 0o755);
    refused(&ran, "no permission");
    assert!(!after);
    assert_eq!(proved.status.code(), Some(0));
}

#[test]
fn a_log_that_may_only_be_read_is_left_as_it_is() {
    let bench = Bench::with(job());
    bench.run(&TYPED);
    let before = bench.read("readings.csv");
    mode(&bench, "job.toml", 0o444);
    mode(&bench, "readings.csv", 0o444);
    mode(&bench, ".", 0o555);
    let ran = as_nobody(&bench, &TYPED);
    mode(&bench, ".", 0o755);
    refused(&ran, "no permission");
    assert_eq!(bench.read("readings.csv"), before);
}

/// A limit on the size of files stands for the full disk: the system refuses in the middle of a line.
#[test]
fn a_full_disk_keeps_all_that_was_acknowledged() {
    let bench = Bench::with(job());
    let mut kept = 0;
    let ran = loop {
        let binary = env!("CARGO_BIN_EXE_quietrail");
        let words: Vec<String> = TYPED.iter().map(|word| format!("'{word}'")).collect();
        let script = format!(
            "trap '' XFSZ; ulimit -f 1; exec '{binary}' {}",
            words.join(" ")
        );
        let ran = Command::new("sh")
            .args(["-c", &script])
            .current_dir(bench.path("."))
            .stdin(Stdio::null())
            .output()
            .unwrap();
        if !String::from_utf8_lossy(&ran.stdout).contains("Kept as row") {
            break ran;
        }
        kept += 1;
        assert!(kept < 100, "the limit is felt");
    };
    refused(&ran, "Once that file can be written, keep it again");
    assert!(kept > 2, "{kept}");
    let log = quietrail_bench::log::Log::read(&bench.read("readings.csv"));
    assert_eq!(log.rows.len(), kept);
    // Once there is room, the next row stands on a line of its own.
    assert_ne!(bench.run(&TYPED).status, 2);
    let log = quietrail_bench::log::Log::read(&bench.read("readings.csv"));
    assert_eq!(log.rows.len(), kept + 1);
    assert!(log.damaged.len() <= 1, "{:?}", log.damaged);
}

#[test]
fn what_a_spreadsheet_did_to_the_log_between_two_readings_stays() {
    let bench = Bench::with(job());
    bench.run(&TYPED);
    // It gives a mark of byte order, other line ends, a note and a row of its own.
    let text = bench.read("readings.csv").replace("\r\n", "\n");
    let second = text.lines().nth(1).unwrap().replacen('1', "2", 1);
    fs::write(
        bench.path("readings.csv"),
        format!("\u{feff}{text}{second}\n"),
    )
    .unwrap();
    let before = bench.read("readings.csv");
    assert_ne!(bench.run(&TYPED).status, 2);
    let after = bench.read("readings.csv");
    assert!(after.starts_with(&before));
    let log = quietrail_bench::log::Log::read(&after);
    let numbers: Vec<u64> = log.rows.iter().map(|row| row.row).collect();
    assert_eq!(numbers, [1, 2, 3], "{after}");
}
