//! `waves`: a drawing that any reader of SVG takes.

use super::bench::{Bench, RAIL};

/// Every element that opens closes, in order; attributes are quoted.
#[track_caller]
fn well_formed(svg: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = svg;
    while let Some((text, after)) = rest.split_once('<') {
        assert!(!text.contains('>'), "a bare > in {text:?}");
        let (tag, after) = after.split_once('>').expect("a tag closes");
        rest = after;
        if tag.starts_with(['?', '!']) {
            continue;
        }
        assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name));
        } else if !tag.ends_with('/') {
            open.push(tag.split_whitespace().next().unwrap_or_default());
        }
    }
    assert_eq!(open, Vec::<&str>::new());
}

#[test]
fn a_drawing_is_well_formed_on_the_output_and_in_a_file() {
    let bench = Bench::with(RAIL);
    let ran = bench.run(&["waves", ".", "--node", "raw", "--state", "on"]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.starts_with("<svg "), "{}", ran.out);
    well_formed(&ran.out);
    let to_file = [
        "waves", ".", "--node", "raw", "--state", "on", "-o", "raw.svg",
    ];
    assert_eq!(bench.run(&to_file).status, 0);
    assert_eq!(bench.read("raw.svg"), ran.out);
}

#[test]
fn names_that_the_job_does_not_know() {
    let bench = Bench::with(RAIL);
    for (node, state, words) in [
        ("rwa", "on", "no node is called rwa; there are"),
        ("raw", "off", "no state is called off; there are on"),
    ] {
        let ran = bench.run(&["waves", ".", "--node", node, "--state", state]);
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains(words), "{ran:?}");
    }
    let ran = bench.run(&[
        "waves", ".", "--node", "raw", "--state", "on", "--mains", "0 V",
    ]);
    assert_ne!(ran.status, 0, "{ran:?}");
}
