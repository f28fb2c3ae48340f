//! Comparing every published output with ours.

use quietrail_checks::{Allowed, Figure};
use serde_json::Value;
use std::collections::BTreeMap;

/// Outputs found, by their path in the results (`nodes.raw.mean_V`).
pub(crate) type Found = BTreeMap<String, f64>;

/// What a comparison of many outputs came to.
#[derive(Default)]
pub(crate) struct Comparison {
    pub(crate) compared: usize,
    pub(crate) worst: f64,
    pub(crate) worst_at: String,
    pub(crate) complaints: Vec<String>,
    /// Every figure of the case taken last, for the register.
    pub(crate) figures: Vec<Figure>,
}

/// Results that are zero by charge balance: compared relative to the rms beside them.
const ZERO_MEANS: [(&str, &str, &str); 2] = [
    ("primary.mean_current_A", "primary.rms_current_A", "P"),
    ("wires.wire_2.mean_V", "wires.wire_2.rms_V", "P11"),
];

impl Comparison {
    /// Compares all leaves of `expected`; a leaf that was not found is a complaint, and so is one too many.
    pub(crate) fn take(&mut self, id: &str, expected: &Value, found: &Found, allowed: f64) {
        self.figures.clear();
        let mut leaves = Found::new();
        flatten("", expected, &mut leaves);
        for (path, want) in &leaves {
            let Some(got) = found.get(path) else {
                self.complaints.push(format!("{id} {path}: not computed"));
                continue;
            };
            let scale = ZERO_MEANS
                .iter()
                .find(|(zero, _, problem)| zero == path && id.starts_with(problem))
                .map_or(want.abs(), |(_, beside, _)| leaves[*beside]);
            let difference = (got - want).abs() / scale;
            self.compared += 1;
            self.figures.push(Figure {
                what: path.clone(),
                expected: *want,
                got: *got,
                allowed: Allowed::Absolute(allowed * scale),
            });
            if difference.is_nan() || difference > self.worst {
                self.worst = difference;
                self.worst_at = format!("{id} {path}");
            }
            if difference.is_nan() || difference > allowed {
                self.complaints.push(format!(
                    "{id} {path}: expected {want:.12e}, got {got:.12e}, difference {difference:.1e}"
                ));
            }
        }
        for path in found.keys().filter(|path| !leaves.contains_key(*path)) {
            self.complaints.push(format!(
                "{id} {path}: computed, but no such result is published"
            ));
        }
    }
}

fn flatten(path: &str, value: &Value, leaves: &mut Found) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                let path = if path.is_empty() {
                    key.clone()
                } else {
                    format!("{path}.{key}")
                };
                flatten(&path, inner, leaves);
            }
        }
        _ => {
            leaves.insert(
                path.to_owned(),
                value.as_f64().expect("results are numbers"),
            );
        }
    }
}
