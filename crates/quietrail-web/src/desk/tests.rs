//! Versions, undo, and writes that come too late.

use super::{Desk, DiffLine, Refused, difference};
use crate::folder::{Folder, sum};

fn desk(text: &str) -> (tempfile::TempDir, std::sync::Arc<Desk>) {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("job.toml"), text).expect("written");
    let desk = Desk::open(Folder::of(folder.path()).expect("a job"));
    (folder, desk)
}

fn on_disk(folder: &tempfile::TempDir) -> String {
    std::fs::read_to_string(folder.path().join("job.toml")).expect("read")
}

#[test]
fn a_change_is_written_undone_and_done_again() {
    let (folder, desk) = desk("# one\n");
    desk.write(&sum("# one\n"), |text| Ok(text.replace("one", "two")))
        .expect("written");
    assert_eq!(on_disk(&folder), "# two\n");
    desk.step_back(&sum("# two\n"), false).expect("undone");
    assert_eq!(on_disk(&folder), "# one\n");
    desk.step_back(&sum("# one\n"), true).expect("done again");
    assert_eq!(on_disk(&folder), "# two\n");
    assert_eq!(desk.step_back(&sum("# two\n"), true), Err(Refused::Nothing));
    desk.close();
}

#[test]
fn a_stale_write_is_refused_with_the_difference() {
    let (folder, desk) = desk("# one\na = 1\n");
    std::fs::write(folder.path().join("job.toml"), "# one\na = 2\n").expect("written elsewhere");
    let late = desk.write(
        &sum("# one\na = 1\n"),
        |text| Ok(text.replace("one", "two")),
    );
    let told = vec![
        DiffLine::Same("# one".to_owned()),
        DiffLine::Gone("a = 1".to_owned()),
        DiffLine::New("a = 2".to_owned()),
    ];
    assert_eq!(late, Err(Refused::Stale(told)));
    assert_eq!(on_disk(&folder), "# one\na = 2\n");
    desk.close();
}

#[test]
fn what_was_changed_elsewhere_can_be_undone_too() {
    let (folder, desk) = desk("# one\n");
    std::fs::write(folder.path().join("job.toml"), "# other\n").expect("written elsewhere");
    desk.reload();
    desk.step_back(&sum("# other\n"), false).expect("undone");
    assert_eq!(on_disk(&folder), "# one\n");
    desk.close();
}

#[test]
fn differences_keep_what_is_common() {
    let told = difference("a\nb\nc\nd\ne\n", "a\nb\nx\nc\ne\n");
    let text: Vec<String> = told
        .iter()
        .map(|line| match line {
            DiffLine::Same(line) => format!(" {line}"),
            DiffLine::Gone(line) => format!("-{line}"),
            DiffLine::New(line) => format!("+{line}"),
        })
        .collect();
    assert_eq!(text, [" b", "+x", " c", "-d", " e"]);
    assert!(difference("a\n", "a\n").is_empty());
}
