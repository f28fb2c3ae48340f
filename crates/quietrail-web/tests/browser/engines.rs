//! Engines from outside that judge the pages: axe-core for accessibility, html-validate for the markup.
//!
//! Both are fetched from npm for the test alone, into the build folder; nothing of them is part of the project.

use std::path::{Path, PathBuf};
use std::process::Command;

/// What is fetched, at these versions so that runs compare.
const PACKAGES: [&str; 2] = ["axe-core@4.14.1", "html-validate@8.29.0"];

/// The folder that holds both; fetched once.
pub(crate) fn fetched() -> Result<PathBuf, String> {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("engines");
    let is_there = |path: &str| folder.join("node_modules").join(path).exists();
    if is_there("axe-core/axe.min.js") && is_there("html-validate/bin") {
        return Ok(folder);
    }
    std::fs::create_dir_all(&folder).map_err(|error| error.to_string())?;
    let ran = Command::new("npm")
        .args([
            "install",
            "--no-save",
            "--ignore-scripts",
            "--no-audit",
            "--no-fund",
            "--prefix",
            ".",
        ])
        .args(PACKAGES)
        .current_dir(&folder)
        .output()
        .map_err(|error| format!("npm: {error}"))?;
    if ran.status.success() {
        return Ok(folder);
    }
    Err(format!(
        "npm install failed: {}",
        String::from_utf8_lossy(&ran.stderr)
    ))
}

/// The accessibility engine's script.
pub(crate) fn axe(folder: &Path) -> Result<String, String> {
    let path = folder.join("node_modules/axe-core/axe.min.js");
    std::fs::read_to_string(path).map_err(|error| error.to_string())
}

/// What the validator says of some pages; empty where all are valid.
pub(crate) fn invalid(folder: &Path, pages: &[(String, String)]) -> Result<String, String> {
    let because = |error: std::io::Error| error.to_string();
    let place = folder.join("pages");
    std::fs::create_dir_all(&place).map_err(because)?;
    std::fs::write(
        place.join(".htmlvalidate.json"),
        r#"{"root":true,"extends":["html-validate:standard"]}"#,
    )
    .map_err(because)?;
    let mut files = Vec::new();
    for (name, text) in pages {
        let path = place.join(format!("{name}.html"));
        std::fs::write(&path, text).map_err(because)?;
        files.push(path);
    }
    let ran = Command::new("node")
        .arg(folder.join("node_modules/html-validate/bin/html-validate.js"))
        .args(&files)
        .current_dir(&place)
        .output()
        .map_err(because)?;
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let said = format!("{}{}", text(&ran.stdout), text(&ran.stderr));
    Ok(if ran.status.success() {
        String::new()
    } else {
        said
    })
}
