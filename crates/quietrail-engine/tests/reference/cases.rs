//! Reading the reference file.

use serde_json::Value;
use std::path::PathBuf;

/// One parameter set with its published results.
pub(crate) struct Case {
    pub(crate) id: String,
    pub(crate) problem: String,
    pub(crate) inputs: Value,
    pub(crate) results: Value,
}

/// Whether `QUIETRAIL_CASES` names another file than the project's own.
pub(crate) fn is_other_file() -> bool {
    std::env::var_os("QUIETRAIL_CASES").is_some()
}

/// The cases of `QUIETRAIL_CASES`, or those kept in the project.
pub(crate) fn load() -> Vec<Case> {
    let path = std::env::var_os("QUIETRAIL_CASES").map_or_else(
        || {
            PathBuf::from(concat!(
                env!("CARGO_MANIFEST_DIR"),
                "/tests/data/steady_state_cases.json"
            ))
        },
        PathBuf::from,
    );
    let text = std::fs::read_to_string(&path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let file: Value = serde_json::from_str(&text).expect("the reference file is JSON");
    let cases = file["cases"]
        .as_array()
        .expect("the reference file has cases");
    cases
        .iter()
        .map(|case| Case {
            id: case["id"].as_str().expect("a case has an id").to_owned(),
            problem: case["problem"]
                .as_str()
                .expect("a case names its problem")
                .to_owned(),
            inputs: case["inputs"].clone(),
            results: case["results"].clone(),
        })
        .collect()
}

/// A number of the inputs.
pub(crate) fn number(inputs: &Value, key: &str) -> f64 {
    inputs[key]
        .as_f64()
        .unwrap_or_else(|| panic!("the inputs lack {key}"))
}
