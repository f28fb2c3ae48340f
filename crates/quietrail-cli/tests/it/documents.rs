//! Every command that the README and the guide print is run.

use super::bench::Bench;
use std::fs;
use std::path::{Path, PathBuf};

/// What stands before the arguments in a document.
const WAYS: [&str; 3] = [
    "$ quietrail ",
    "$ cargo run --release -p quietrail-cli -- ",
    "$ cargo run -p quietrail-cli -- ",
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn documents() -> Vec<PathBuf> {
    let mut all = vec![root().join("README.md")];
    for entry in fs::read_dir(root().join("guide")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension == "md") {
            all.push(path);
        }
    }
    all.sort();
    all
}

/// Arguments of the commands in a document's console blocks, in order.
fn commands(text: &str) -> Vec<Vec<String>> {
    let mut all = Vec::new();
    for block in text.split("```console\n").skip(1) {
        let (block, _) = block.split_once("```").expect("a block ends");
        let typed = block.lines().filter(|line| line.starts_with("$ "));
        for line in typed {
            match WAYS.iter().find_map(|way| line.strip_prefix(way)) {
                Some(arguments) => all.push(words(arguments)),
                None => assert!(!line.contains("quietrail-cli --"), "not understood: {line}"),
            }
        }
    }
    all
}

/// Words of a command line; quotation marks keep blanks together.
fn words(line: &str) -> Vec<String> {
    let mut all = Vec::new();
    for (index, piece) in line.split('"').enumerate() {
        if index % 2 == 1 {
            all.push(piece.to_owned());
        } else {
            all.extend(piece.split_whitespace().map(str::to_owned));
        }
    }
    all
}

/// How many documents show what the demo prints; each line that they show is printed, lines left out stand as `…`.
fn shown_as_printed(out: &str) -> usize {
    let printed: Vec<&str> = out.lines().collect();
    let mut documents_with_it = 0;
    for path in documents() {
        let text = fs::read_to_string(&path).unwrap();
        let blocks = text.split("```text\n").skip(1);
        let bodies = blocks.map(|block| block.split("```").next().unwrap_or_default());
        let own: Vec<&str> = bodies
            .filter(|body| body.lines().next() == printed.first().copied())
            .collect();
        for line in own.iter().flat_map(|body| body.lines()) {
            assert!(
                line == "…" || printed.contains(&line),
                "{}: not printed: {line}",
                path.display()
            );
        }
        documents_with_it += usize::from(!own.is_empty());
    }
    documents_with_it
}

/// One run of each sequence; a document whose commands begin another's is run with that one.
#[test]
fn commands_in_documents_run() {
    let sequences: Vec<(PathBuf, Vec<Vec<String>>)> = documents()
        .into_iter()
        .map(|path| {
            let commands = commands(&fs::read_to_string(&path).unwrap());
            (path, commands)
        })
        .collect();
    let mut ran_demo = false;
    for (path, own) in &sequences {
        let begins_another =
            |other: &[Vec<String>]| other.len() > own.len() && other.starts_with(own);
        if own.is_empty() || sequences.iter().any(|(_, other)| begins_another(other)) {
            continue;
        }
        let bench = Bench::new();
        for command in own {
            let arguments: Vec<&str> = command.iter().map(String::as_str).collect();
            let serves = arguments[0] == "open" || arguments.contains(&"--open");
            let ran = if serves {
                bench.serve(&arguments)
            } else {
                bench.run(&arguments)
            };
            assert_ne!(
                ran.status,
                2,
                "{}: {command:?}\n{}",
                path.display(),
                ran.err
            );
            match arguments.as_slice() {
                // Something in the demo fails, and its mended drawing holds: both are promised in words.
                ["demo"] => {
                    assert_eq!(ran.status, 1, "{ran:?}");
                    assert!(ran.out.contains("U1 headroom fails by"), "{}", ran.out);
                    let last = ran.out.lines().last().expect("a last line");
                    assert!(
                        last.contains(" limits: ") && last.contains("1 fails; "),
                        "{last}"
                    );
                    assert_eq!(
                        shown_as_printed(&ran.out),
                        2,
                        "the README and the first proof"
                    );
                    ran_demo = true;
                }
                ["prove", "beacon-mended"] => assert_eq!(ran.status, 0, "{ran:?}"),
                _ => {}
            }
        }
    }
    assert!(ran_demo, "the guide begins with the demo");
}
