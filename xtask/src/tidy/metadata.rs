//! The crates of the workspace and what they depend on, as cargo says.
//!
//! Looked at for the platform of this machine, so that nothing is fetched that is not built here anyway.

use crate::cargo::{self, Failed};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

/// All packages that a build or a test takes.
#[derive(Default)]
pub(super) struct Crates {
    pub(super) packages: BTreeMap<Id, Package>,
    /// Those of this repository.
    pub(super) members: BTreeSet<Id>,
}

/// Cargo's name for one version of a package.
pub(super) type Id = String;

#[derive(Default)]
pub(super) struct Package {
    pub(super) name: String,
    /// What it says of its licence, as an SPDX expression.
    pub(super) licence: Option<String>,
    pub(super) needs: Vec<Need>,
}

/// One dependency.
pub(super) struct Need {
    pub(super) id: Id,
    /// Whether the shipped program has it, or only a test or a build script.
    pub(super) at_run_time: bool,
}

/// Asks cargo.
pub(super) fn read() -> Result<Crates, Failed> {
    let mut arguments = vec!["metadata", "--format-version", "1", "--locked"];
    let host = host();
    if let Some(host) = &host {
        arguments.extend(["--filter-platform", host]);
    }
    cargo::json(&arguments).map(|value| from_json(&value))
}

/// The platform of this machine, `None` where the compiler does not tell.
fn host() -> Option<String> {
    let output = Command::new("rustc").arg("-vV").output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let host = text.lines().find_map(|line| line.strip_prefix("host: "))?;
    Some(host.to_owned())
}

fn from_json(value: &Value) -> Crates {
    let mut crates = Crates::default();
    for package in list(&value["packages"]) {
        let known = crates.packages.entry(text(&package["id"])).or_default();
        known.name = text(&package["name"]);
        known.licence = package["license"].as_str().map(str::to_owned);
    }
    for node in list(&value["resolve"]["nodes"]) {
        let needs = list(&node["deps"]).map(|need| Need {
            id: text(&need["pkg"]),
            at_run_time: list(&need["dep_kinds"]).any(|kind| kind["kind"].is_null()),
        });
        let known = crates.packages.entry(text(&node["id"])).or_default();
        known.needs = needs.collect();
    }
    crates.members = list(&value["workspace_members"]).map(text).collect();
    crates
}

fn list(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

impl Crates {
    /// The name of a package.
    pub(super) fn name<'a>(&'a self, id: &'a str) -> &'a str {
        self.packages.get(id).map_or(id, |package| &package.name)
    }

    /// The packages of this repository.
    pub(super) fn own(&self) -> impl Iterator<Item = &Package> {
        self.members.iter().filter_map(|id| self.packages.get(id))
    }

    /// What each package needs, made up for a test; the first are of this repository.
    #[cfg(test)]
    pub(super) fn of(own: usize, packages: &[(&str, &[&str])]) -> Self {
        let mut crates = Self::default();
        for (index, (name, needs)) in packages.iter().enumerate() {
            let needs = needs.iter().map(|need| Need {
                id: need.trim_start_matches('~').to_owned(),
                at_run_time: !need.starts_with('~'),
            });
            let package = Package {
                name: (*name).to_owned(),
                licence: None,
                needs: needs.collect(),
            };
            crates.packages.insert((*name).to_owned(), package);
            if index < own {
                crates.members.insert((*name).to_owned());
            }
        }
        crates
    }
}

#[cfg(test)]
mod tests {
    use super::from_json;

    #[test]
    fn cargo_s_answer_is_understood() {
        let crates = from_json(&serde_json::json!({
            "packages": [
                { "id": "a 1", "name": "a", "license": "MIT" },
                { "id": "b 2", "name": "b", "license": null },
            ],
            "workspace_members": ["a 1"],
            "resolve": { "nodes": [
                { "id": "a 1", "deps": [
                    { "pkg": "b 2", "dep_kinds": [{ "kind": "dev" }] },
                    { "pkg": "a 1", "dep_kinds": [{ "kind": "dev" }, { "kind": null }] },
                ] },
            ] },
        }));
        let a = crates.own().next().expect("one member");
        assert_eq!((a.name.as_str(), a.licence.as_deref()), ("a", Some("MIT")));
        assert_eq!(crates.name(&a.needs[0].id), "b");
        assert!(!a.needs[0].at_run_time && a.needs[1].at_run_time);
    }
}
