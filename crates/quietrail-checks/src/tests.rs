//! The register itself: what it must refuse.

use super::{Allowed, Figure, PageError, Section, Unaccepted};
use std::path::PathBuf;
use tempfile::TempDir;

const PAGE: &str = "# Checks\n\n<!-- checks:first -->\n<!-- end:first -->\n\nlast words\n";

fn page(text: &str) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder for the test");
    let path = folder.path().join("checks.md");
    std::fs::write(&path, text).expect("a page for the test");
    (folder, path)
}

fn section(got: f64) -> Section {
    let mut section = Section::new("first", "First things");
    section
        .row("A-1", "a sum", "arithmetic")
        .near(2.0, got, Allowed::Relative(1e-6));
    section.note("A-2", "from memory: three is a crowd");
    section
}

#[test]
fn a_falsified_value_fails_and_is_not_written() {
    let (_folder, path) = page(PAGE);
    for falsified in [2.001, f64::NAN, f64::INFINITY] {
        let refused = section(falsified).accept(&path, true);
        assert!(
            matches!(&refused, Err(Unaccepted::Rows(rows)) if rows.len() == 1 && rows[0].contains("A-1")),
            "{falsified}: {refused:?}"
        );
    }
    assert_eq!(std::fs::read_to_string(&path).expect("the page"), PAGE);
}

#[test]
fn every_failing_figure_is_named() {
    let (_folder, path) = page(PAGE);
    let mut section = Section::new("first", "First things");
    section.row("B-1", "a row", "a table").worst_of(&[
        Figure::relative("left", 1.0, 1.1, 1e-6),
        Figure::relative("middle", 1.0, 1.0, 1e-6),
        Figure::relative("right", 1.0, 1.2, 1e-6),
    ]);
    section.row("B-2", "a word", "a book").text("yes", "no");
    section
        .row("B-3", "a span", "two books")
        .between(1.0, 2.0, 2.5);
    section.row("B-4", "a rule", "a book").spans(3.0, 1.0, 2.5);
    section
        .row("B-5", "an offset", "a book")
        .near(0.0, 0.2, Allowed::Absolute(0.1));
    let Err(Unaccepted::Rows(rows)) = section.accept(&path, false) else {
        panic!("accepted");
    };
    assert_eq!(rows.len(), 5);
    assert!(rows[0].contains("left: ") && rows[0].contains("right: "));
    assert!(!rows[0].contains("middle: "));
}

#[test]
fn a_missing_section_is_reported() {
    let (_folder, path) = page("# Checks\n");
    let refused = section(2.0).accept(&path, false);
    let Err(Unaccepted::Page(error @ PageError::Missing { .. })) = refused else {
        panic!("{refused:?}");
    };
    assert!(error.to_string().contains("run with BLESS=1"));
}

#[test]
fn a_page_that_tells_another_figure_is_reported() {
    let (_folder, path) = page(PAGE);
    section(2.0).accept(&path, true).expect("blessed");
    let told = std::fs::read_to_string(&path).expect("the page");
    std::fs::write(&path, told.replace("| 2 | 2 |", "| 2 | 2.0000001 |")).expect("written");
    let refused = section(2.0).accept(&path, false);
    assert!(
        matches!(
            &refused,
            Err(Unaccepted::Page(PageError::Differs { first: (shown, found), .. }))
                if shown.contains("2.0000001") && !found.contains("2.0000001")
        ),
        "{refused:?}"
    );
}

#[test]
fn blessing_writes_what_is_then_accepted_and_leaves_the_rest() {
    let (_folder, path) = page(PAGE);
    section(2.0).accept(&path, true).expect("blessed");
    section(2.0).accept(&path, false).expect("as blessed");
    let mut other = Section::new("second", "Second things");
    other.row("C-1", "a | b", "a book").text("yes", "yes");
    other.accept(&path, true).expect("added");
    section(2.0).accept(&path, false).expect("still as blessed");
    let text = std::fs::read_to_string(&path).expect("the page");
    assert!(text.starts_with("# Checks\n\n<!-- checks:first -->\n\n## First things\n"));
    assert!(text.contains("last words"));
    assert!(text.contains("| C-1 | a \\| b | a book | yes | yes | none |"));
    assert!(text.ends_with("<!-- end:second -->\n"));
}

#[test]
fn notes_stand_apart_from_the_table() {
    let text = section(2.0).render();
    let table: Vec<&str> = text.lines().filter(|line| line.starts_with('|')).collect();
    assert_eq!(table.len(), 3);
    assert!(text.contains("1 figure compared."));
    assert!(text.contains("- **A-2**: from memory"));
}

#[test]
#[should_panic(expected = "no figure to compare")]
fn a_row_of_nothing_is_refused() {
    let mut section = Section::new("first", "First things");
    section.row("D-1", "nothing", "nowhere").worst_of(&[]);
}
