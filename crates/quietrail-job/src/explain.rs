//! What each diagnostic checks, why it matters on the bench, a small job that fails, and the same mended.
//!
//! `quietrail explain` and the guide print this; a test reads both jobs of every entry.

mod bench;
mod figures;
mod files;
mod keys;
mod names;
mod regulators;
mod ties;
mod unmarked;
mod wiring;

/// One diagnostic, explained.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Explanation {
    /// `J041`
    pub code: &'static str,
    /// What it is about, in a few words.
    pub title: &'static str,
    /// What is checked.
    pub checks: &'static str,
    /// Why it matters on the bench.
    pub why: &'static str,
    /// A small job that fails.
    pub fails: Example,
    /// The same, mended.
    pub mended: Example,
}

/// A small job of an explanation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Example {
    before: Before,
    /// The lines that matter.
    pub text: &'static str,
    /// How often the text is repeated; once but for files that are too large.
    repeated: usize,
    /// The builder's own parts, where they matter.
    pub parts: Option<&'static str>,
}

/// What stands before the lines that matter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Before {
    /// Nothing: the text is the whole file.
    Nothing,
    /// Format, mains and one state.
    Head,
    /// Those, and a transformer, a bridge and a reservoir capacitor that feed the node `raw`.
    Supply,
}

const HEAD: &str = "\
format = 1

[mains]
voltage = \"230 V ±10 %\"
frequency = \"50 Hz\"

[states]
on = \"working\"
";

const SUPPLY: &str = "
[transformer.T1]
primary = [{ name = \"P1\", volts = \"230 V\", resistance = \"60 Ω\" }]
secondary = [{ name = \"S1\", open = \"16 V at 230 V\", resistance = \"0.5 Ω\" }]

[rectifier.D1]
from = \"T1.S1\"
into = \"raw\"
form = \"bridge\"
diode = \"silicon 3 A\"

[capacitor.C1]
at = \"raw\"
value = \"4700 µF ±20 %\"
esr = \"50 mΩ\"
";

impl Example {
    /// The whole job file.
    pub fn job(&self) -> String {
        let text = self.text.repeat(self.repeated);
        match self.before {
            Before::Nothing => text,
            Before::Head => format!("{HEAD}\n{text}"),
            Before::Supply => format!("{HEAD}{SUPPLY}\n{text}"),
        }
    }
}

/// Lines that are the whole file.
const fn file(text: &'static str) -> Example {
    Example {
        before: Before::Nothing,
        text,
        repeated: 1,
        parts: None,
    }
}

/// Lines after format, mains and states.
const fn head(text: &'static str) -> Example {
    Example {
        before: Before::Head,
        text,
        repeated: 1,
        parts: None,
    }
}

/// Lines after a supply that feeds `raw`.
const fn supply(text: &'static str) -> Example {
    Example {
        before: Before::Supply,
        text,
        repeated: 1,
        parts: None,
    }
}

/// Every explanation, in the order of the codes.
pub fn explanations() -> impl Iterator<Item = &'static Explanation> {
    [
        files::ALL,
        keys::ALL,
        figures::ALL,
        names::ALL,
        wiring::ALL,
        ties::ALL,
        unmarked::ALL,
        bench::ALL,
        regulators::ALL,
    ]
    .into_iter()
    .flatten()
}

/// The explanation of a code, in either case of its letter.
pub fn explain(code: &str) -> Option<&'static Explanation> {
    explanations().find(|explanation| explanation.code.eq_ignore_ascii_case(code))
}

#[cfg(test)]
mod tests {
    use super::{explain, explanations};
    use crate::read;
    use std::collections::BTreeSet;

    #[test]
    fn every_failing_job_fails_as_said_and_every_mended_one_reads_clean() {
        let mut wrong = Vec::new();
        for explanation in explanations() {
            let fails = read(&explanation.fails.job(), explanation.fails.parts);
            if !fails
                .diagnostics
                .iter()
                .any(|found| found.code == explanation.code)
            {
                wrong.push(format!(
                    "{} does not fail: {:#?}",
                    explanation.code, fails.diagnostics
                ));
            }
            let mended = read(&explanation.mended.job(), explanation.mended.parts);
            if !mended.diagnostics.is_empty() || mended.job.is_none() {
                wrong.push(format!(
                    "{} is not mended: {:#?}",
                    explanation.code, mended.diagnostics
                ));
            }
        }
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }

    #[test]
    fn every_code_is_explained_and_none_twice() {
        let source = include_str!("words.rs");
        let codes: BTreeSet<&str> = source
            .split('"')
            .filter(|word| {
                word.len() == 4
                    && word.starts_with('J')
                    && word[1..].bytes().all(|b| b.is_ascii_digit())
            })
            .collect();
        let explained: Vec<&str> = explanations().map(|explanation| explanation.code).collect();
        assert!(codes.len() > 40);
        assert_eq!(explained, codes.into_iter().collect::<Vec<_>>());
        assert!(explain("j041").is_some() && explain("J999").is_none());
    }
}
