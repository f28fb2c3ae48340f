//! `[states]`, and the states that loads, limits and steps name.

use super::fields::Fields;
use crate::fault::{Fault, Faults};
use crate::model::State;
use crate::nearest::nearest;
use crate::written::Table;

/// `[states]`
pub(crate) fn states(root: &Table, faults: &mut Faults) -> Vec<State> {
    let Some(value) = root.get("states") else {
        return Vec::new();
    };
    let Some(table) = value.table() else {
        return Vec::new();
    };
    if table.entries.is_empty() {
        faults.of(value, &Fault::NoStates);
    }
    table
        .entries
        .iter()
        .map(|entry| State {
            name: entry.key.clone(),
            words: entry.value.text().unwrap_or_default().to_owned(),
            span: entry.key_span.clone(),
        })
        .collect()
}

/// Indices of the states under the key `states`; all where the table names none.
pub(crate) fn named(fields: &Fields<'_>, states: &[State], faults: &mut Faults) -> Vec<usize> {
    if !fields.has("states") {
        return (0..states.len()).collect();
    }
    let mut indices = Vec::new();
    if let Some(value) = fields
        .value("states")
        .filter(|value| value.list().is_some_and(|all| all.is_empty()))
    {
        let fault = Fault::LimitForm {
            key: "states",
            found: "no state, so that it would never count".to_owned(),
            wanted: "a state at least, or no `states` for all of them",
        };
        faults.of(value, &fault);
    }
    for (name, value) in fields.names("states") {
        match states.iter().position(|state| state.name == name) {
            Some(index) => indices.push(index),
            None => faults.of(value, &unknown(name, states)),
        }
    }
    indices.sort_unstable();
    indices.dedup();
    indices
}

/// Whether a load draws in every state, and in no other.
pub(crate) fn check_draws(load: &Fields<'_>, states: &[State], faults: &mut Faults) {
    if states.is_empty()
        || load
            .value("draws")
            .is_none_or(|draws| draws.table().is_none())
    {
        return;
    }
    let draws = load.named("draws");
    for entry in draws {
        if !states.iter().any(|state| state.name == entry.key) {
            faults.at(entry.key_place(), &unknown(&entry.key, states));
        }
    }
    let left_out: Vec<String> = states
        .iter()
        .filter(|state| !draws.iter().any(|entry| entry.key == state.name))
        .map(|state| state.name.clone())
        .collect();
    if !left_out.is_empty() {
        let fault = Fault::StateLeftOut {
            load: load.owner.clone(),
            states: left_out,
        };
        faults.at(load.place_of("draws"), &fault);
    }
}

fn unknown(name: &str, states: &[State]) -> Fault {
    let near = nearest(name, states.iter().map(|state| state.name.as_str()));
    Fault::UnknownState {
        name: name.to_owned(),
        nearest: near,
    }
}
