//! Which crate may know which, and what stays out of a crate altogether.

use super::Fault;
use super::metadata::{Crates, Package};
use std::collections::{BTreeMap, VecDeque};

/// What each crate of ours may build on. Tests may use more.
const LAYERS: [(&str, &[&str]); 12] = [
    ("quietrail-units", &[]),
    ("quietrail-engine", &[]),
    ("quietrail-job", &["quietrail-units"]),
    ("quietrail-bench", &["quietrail-units", "quietrail-job"]),
    (
        "quietrail-study",
        &[
            "quietrail-units",
            "quietrail-job",
            "quietrail-engine",
            "quietrail-bench",
        ],
    ),
    (
        "quietrail-report",
        &[
            "quietrail-units",
            "quietrail-job",
            "quietrail-bench",
            "quietrail-study",
        ],
    ),
    (
        "quietrail-web",
        &[
            "quietrail-units",
            "quietrail-job",
            "quietrail-bench",
            "quietrail-study",
            "quietrail-report",
        ],
    ),
    (
        "quietrail-cli",
        &[
            "quietrail-units",
            "quietrail-job",
            "quietrail-bench",
            "quietrail-study",
            "quietrail-report",
            "quietrail-web",
        ],
    ),
    (
        "quietrail-storm",
        &["quietrail-job", "quietrail-engine", "quietrail-study"],
    ),
    ("quietrail-checks", &[]),
    ("quietrail-speed", &["quietrail-engine"]),
    ("xtask", &[]),
];

/// Crates that never reach another at run time, however far down: who, and how the others' names begin.
const NEVER: [(&str, &[&str]); 1] = [("quietrail-engine", &["serde", "toml"])];

/// Crates that a single one of ours may use, because they bring a way of working with them.
const ONLY_IN: [(&str, &str); 2] = [("axum", "quietrail-web"), ("tokio", "quietrail-web")];

pub(super) fn check(crates: &Crates) -> Vec<Fault> {
    let mut faults: Vec<Fault> = crates
        .own()
        .flat_map(|package| {
            let mut own = layer(crates, package);
            own.extend(only_elsewhere(crates, package));
            own
        })
        .collect();
    for (name, never) in NEVER {
        faults.extend(reached(crates, name, never));
    }
    faults
}

fn layer(crates: &Crates, package: &Package) -> Vec<Fault> {
    let Some((_, allowed)) = LAYERS.iter().find(|(name, _)| *name == package.name) else {
        let what = "xtask/src/tidy/layers.rs does not say what it may build on";
        return vec![Fault::whole(&package.name, what)];
    };
    package
        .needs
        .iter()
        .filter(|need| need.at_run_time && crates.members.contains(&need.id))
        .map(|need| crates.name(&need.id))
        .filter(|need| !allowed.contains(need))
        .map(|need| Fault::whole(&package.name, format_args!("builds on {need}")))
        .collect()
}

fn only_elsewhere(crates: &Crates, package: &Package) -> Vec<Fault> {
    package
        .needs
        .iter()
        .map(|need| crates.name(&need.id))
        .filter_map(|need| ONLY_IN.iter().find(|(name, _)| *name == need))
        .filter(|(_, home)| *home != package.name)
        .map(|(need, home)| {
            let what = format_args!("uses {need}, which only {home} may").to_string();
            Fault::whole(&package.name, what)
        })
        .collect()
}

/// Forbidden packages reached from one of ours at run time, each with the way that leads there.
fn reached(crates: &Crates, name: &str, never: &[&str]) -> Vec<Fault> {
    let Some(start) = crates.members.iter().find(|id| crates.name(id) == name) else {
        let what = "is named in xtask/src/tidy/layers.rs and not there";
        return vec![Fault::whole(name, what)];
    };
    let mut ways: BTreeMap<&str, String> = BTreeMap::from([(start.as_str(), name.to_owned())]);
    let mut waiting = VecDeque::from([start.as_str()]);
    let mut faults = Vec::new();
    while let Some(id) = waiting.pop_front() {
        let Some(package) = crates.packages.get(id) else {
            continue;
        };
        for need in package.needs.iter().filter(|need| need.at_run_time) {
            if ways.contains_key(need.id.as_str()) {
                continue;
            }
            let needed = crates.name(&need.id);
            let way = format!("{} > {needed}", ways[id]);
            if never.iter().any(|start| needed.starts_with(start)) {
                faults.push(Fault::whole(name, format_args!("takes in {needed}: {way}")));
            }
            ways.insert(&need.id, way);
            waiting.push_back(&need.id);
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::check;
    use crate::tidy::metadata::Crates;

    /// What is said of a workspace whose first packages are ours; `~` marks what only tests need.
    fn said(own: usize, packages: &[(&str, &[&str])]) -> Vec<String> {
        check(&Crates::of(own, packages))
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn upward_is_forbidden_and_tests_may() {
        let engine = ("quietrail-engine", &[] as &[&str]);
        let wrong = said(
            3,
            &[
                engine,
                ("quietrail-units", &["quietrail-job"]),
                ("quietrail-job", &[]),
            ],
        );
        assert_eq!(wrong, ["quietrail-units: builds on quietrail-job"]);
        let right = said(
            3,
            &[
                engine,
                ("quietrail-units", &["~quietrail-job"]),
                ("quietrail-job", &["quietrail-units"]),
            ],
        );
        assert!(right.is_empty(), "{right:?}");
    }

    #[test]
    fn a_new_crate_must_say_where_it_stands() {
        let said = said(2, &[("quietrail-engine", &[]), ("quietrail-attic", &[])]);
        assert!(said[0].starts_with("quietrail-attic: xtask/src/tidy/layers.rs"));
    }

    #[test]
    fn what_the_engine_must_not_reach_is_found_behind_others() {
        let packages: &[(&str, &[&str])] = &[
            ("quietrail-engine", &["nalgebra", "~serde_json"]),
            ("nalgebra", &["serde_core"]),
            ("serde_core", &[]),
            ("serde_json", &["serde_core"]),
        ];
        let way = "quietrail-engine > nalgebra > serde_core";
        assert_eq!(
            said(1, packages),
            [format!("quietrail-engine: takes in serde_core: {way}")]
        );
    }

    #[test]
    fn only_the_workbook_serves() {
        let packages: &[(&str, &[&str])] = &[
            ("quietrail-engine", &[]),
            ("quietrail-cli", &["~tokio"]),
            ("tokio", &[]),
        ];
        assert_eq!(
            said(2, packages),
            ["quietrail-cli: uses tokio, which only quietrail-web may"]
        );
    }
}
