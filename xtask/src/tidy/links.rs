//! Every link of a page leads to something that is there, and every page of the guide is led to.

use super::Fault;
use super::tree::{File, Tree};
use std::collections::BTreeSet;

/// The page where a reader of the guide begins.
const GUIDE: &str = "guide/README.md";

pub(super) fn check(tree: &Tree) -> Vec<Fault> {
    let pages: Vec<&File> = tree
        .files
        .iter()
        .filter(|file| file.is_markdown())
        .collect();
    let mut faults = Vec::new();
    let mut led_to = BTreeSet::from([GUIDE.to_owned()]);
    for page in &pages {
        for (index, line) in prose(&page.text) {
            for target in targets(line).filter(|target| !is_elsewhere(target)) {
                let (path, anchor) = target.split_once('#').unwrap_or((target, ""));
                let path = resolve(&page.path, path);
                if !tree.paths.contains(&path) {
                    faults.push(Fault::at(
                        &page.path,
                        index,
                        format_args!("{target}: not there"),
                    ));
                    continue;
                }
                let other = pages.iter().find(|other| other.path == path);
                if !anchor.is_empty() && !other.is_some_and(|page| has_heading(page, anchor)) {
                    let what = format_args!("{target}: no such heading").to_string();
                    faults.push(Fault::at(&page.path, index, what));
                }
                if page.path != path {
                    led_to.insert(path);
                }
            }
            for path in own_paths(line).filter(|path| !tree.paths.contains(*path)) {
                faults.push(Fault::at(
                    &page.path,
                    index,
                    format_args!("{path}: not there"),
                ));
            }
        }
    }
    let guide = pages.iter().filter(|page| page.path.starts_with("guide/"));
    faults.extend(
        guide
            .filter(|page| !led_to.contains(&page.path))
            .map(|page| Fault::whole(&page.path, format_args!("no other page leads here"))),
    );
    faults
}

/// Lines outside blocks of code, with their indices.
fn prose(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let mut in_code = false;
    text.lines().enumerate().filter(move |(_, line)| {
        let is_fence = line.trim_start().starts_with("```");
        in_code ^= is_fence;
        !in_code && !is_fence
    })
}

/// Where the links and pictures of a line lead.
fn targets(line: &str) -> impl Iterator<Item = &str> {
    line.split("](").skip(1).filter_map(|rest| {
        let (target, _) = rest.split_once(')')?;
        target.split_whitespace().next()
    })
}

/// Files of this repository that a line names as code: `` `crates/…` ``, `` `xtask/…` ``, `` `guide/…` ``.
fn own_paths(line: &str) -> impl Iterator<Item = &str> {
    line.split('`')
        .skip(1)
        .step_by(2)
        .filter(|code| {
            ["crates/", "xtask/", "guide/"]
                .iter()
                .any(|start| code.starts_with(start))
        })
        .filter(|code| !code.contains([' ', '*', '<', '{', '…']))
        .map(|code| code.trim_end_matches('/'))
}

fn is_elsewhere(target: &str) -> bool {
    target.contains("://") || target.starts_with("mailto:")
}

/// A path as seen from the root; empty stands for the page itself.
fn resolve(page: &str, path: &str) -> String {
    if path.is_empty() {
        return page.to_owned();
    }
    let mut steps: Vec<&str> = page.split('/').collect();
    steps.pop();
    for step in path.split('/') {
        match step {
            "" | "." => {}
            ".." => {
                steps.pop();
            }
            step => steps.push(step),
        }
    }
    steps.join("/")
}

fn has_heading(page: &File, anchor: &str) -> bool {
    prose(&page.text)
        .filter_map(|(_, line)| line.strip_prefix('#'))
        .map(|line| line.trim_start_matches('#').trim())
        .any(|heading| slug(heading) == anchor)
}

/// The anchor that a forge makes of a heading.
fn slug(heading: &str) -> String {
    heading
        .to_lowercase()
        .chars()
        .filter(|c| c.is_alphanumeric() || " -_".contains(*c))
        .map(|c| if c == ' ' { '-' } else { c })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{check, resolve, slug};
    use crate::tidy::tree::Tree;

    fn said(files: &[(&str, &str)]) -> Vec<String> {
        check(&Tree::of(files))
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn links_lead_to_files_folders_and_headings() {
        let page =
            "[a](guide/a.md) [b](guide/) ![c](guide/a.md#the-valley-vp) [d](https://a.example/x)\n";
        let guide = ("guide/README.md", "[a](a.md)\n");
        assert!(
            said(&[
                ("README.md", page),
                ("guide/a.md", "## The valley, Vp\n"),
                guide
            ])
            .is_empty()
        );
    }

    #[test]
    fn what_is_not_there_is_named_with_its_line() {
        let said = said(&[("A.md", "x\n[a](b.md) [c](#d) `crates/x/src/y.rs`\n")]);
        assert_eq!(
            said,
            [
                "A.md:2: b.md: not there",
                "A.md:2: #d: no such heading",
                "A.md:2: crates/x/src/y.rs: not there"
            ]
        );
    }

    #[test]
    fn blocks_of_code_are_left_alone() {
        assert!(said(&[("A.md", "```text\n[a](b.md)\n```\n`crates/*/src`\n")]).is_empty());
    }

    #[test]
    fn a_page_that_nobody_is_led_to_is_named() {
        let said = said(&[
            ("guide/README.md", "# Guide\n"),
            ("guide/lost.md", "# Lost\n"),
        ]);
        assert_eq!(said, ["guide/lost.md: no other page leads here"]);
    }

    #[test]
    fn paths_and_anchors() {
        assert_eq!(resolve("guide/a.md", "../crates/./x.md"), "crates/x.md");
        assert_eq!(slug("`[diode.\"...\"]`: for a part"), "diode-for-a-part");
    }
}
