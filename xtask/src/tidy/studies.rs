//! What answers one question of the builder does not lean on what answers another.

use super::Fault;
use super::rust::{named_under, shipped};
use super::tree::Tree;

const CRATE: &str = "quietrail-study";

/// Modules that answer a question each.
const QUESTIONS: [&str; 14] = [
    "bringup",
    "capacitors",
    "descent",
    "explain",
    "faults",
    "measured",
    "prove",
    "regulators",
    "sidebands",
    "switch_on",
    "transformer",
    "translate",
    "waves",
    "yields",
];

/// Modules that questions share.
const SHARED: [&str; 28] = [
    "backwards",
    "band",
    "case",
    "catching",
    "core_current",
    "course",
    "filter",
    "finding",
    "forming",
    "gate",
    "heat",
    "level",
    "life",
    "lower",
    "noise",
    "question",
    "reading",
    "ready",
    "ringing",
    "search",
    "setpoint",
    "single_fault",
    "slopes",
    "solve",
    "spectrum",
    "stability",
    "starting",
    "wave",
];

pub(super) fn check(tree: &Tree) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (file, lines) in shipped(tree, CRATE) {
        let inside = file.path.trim_start_matches("crates/quietrail-study/src/");
        let own = inside.split(['/', '.']).next().unwrap_or_default();
        if own == "lib" {
            continue;
        }
        if !QUESTIONS.contains(&own) && !SHARED.contains(&own) {
            let what = "xtask/src/tidy/studies.rs does not say whether it is a question or shared";
            faults.push(Fault::whole(&file.path, what));
        }
        for (index, other) in named_under(&lines, "crate") {
            if other != own && QUESTIONS.contains(&other) {
                let what = format!("leans on the question {other}; what both need is shared");
                faults.push(Fault::at(&file.path, index, what));
            }
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::check;
    use crate::tidy::tree::Tree;

    fn said(path: &str, text: &str) -> Vec<String> {
        check(&Tree::of(&[(path, text)]))
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn questions_do_not_know_each_other() {
        let path = "crates/quietrail-study/src/waves/scale.rs";
        assert_eq!(
            said(path, "use crate::prove::four;"),
            [format!(
                "{path}:1: leans on the question prove; what both need is shared"
            )]
        );
        assert!(said(path, "use crate::{lower, waves::Grid};").is_empty());
        assert_eq!(
            said(
                "crates/quietrail-study/src/solve.rs",
                "use crate::{heat, prove};"
            )
            .len(),
            1
        );
    }

    #[test]
    fn a_new_module_must_say_what_it_is() {
        let said = said("crates/quietrail-study/src/bench.rs", "");
        assert!(said[0].contains("a question or shared"), "{said:?}");
    }
}
