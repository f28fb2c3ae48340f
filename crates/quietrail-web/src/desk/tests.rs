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

/// A job of one rail with the guide's defaults.
fn small() -> String {
    use quietrail_job::begin::{ALL, Answers, REGION, Region, TEMPLATE};
    let region = Region::parse(REGION).expect("a region");
    let mut answers = Answers::new(region);
    for question in ALL {
        let default = question.default(&answers);
        answers.take(question.name, default);
    }
    answers.fill(TEMPLATE)
}

fn until(what: &str, is: impl Fn() -> bool) {
    let begun = std::time::Instant::now();
    while !is() {
        assert!(begun.elapsed().as_secs() < 120, "waited in vain for {what}");
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
}

#[test]
fn a_search_that_is_stopped_stays_so_until_it_is_told_to_go_on() {
    use crate::known::Standing;
    let text = small();
    let (_folder, desk) = desk(&text);
    let key = (sum(&text), String::new());
    let standing = || desk.known(&key).map(|known| known.standing);
    until("a search", || desk.searching().is_some());
    desk.stop_search();
    until("its end", || standing() == Some(Standing::Stopped));
    desk.want(&desk.version(), &[], String::new());
    std::thread::sleep(std::time::Duration::from_millis(50));
    assert!(desk.searching().is_none());
    assert_eq!(standing(), Some(Standing::Stopped));
    desk.look_on();
    until("the whole search", || standing() == Some(Standing::Whole));
    desk.close();
}

#[test]
fn what_takes_long_is_made_once_behind_the_pages_and_is_news() {
    let (_folder, desk) = desk("# one\n");
    let key = ("sum".to_owned(), "slow".to_owned());
    let before = desk.number();
    let slow = || {
        std::thread::sleep(std::time::Duration::from_millis(600));
        7_u32
    };
    assert_eq!(desk.later(&key, slow), None);
    assert!(desk.is_making());
    assert_eq!(desk.later(&key, || 8_u32), None);
    until("the news", || desk.number() > before);
    until("what was made", || desk.later(&key, || 8_u32).is_some());
    assert_eq!(desk.later(&key, || 8_u32).as_deref(), Some(&7));
    assert!(!desk.is_making());
    desk.close();
}
