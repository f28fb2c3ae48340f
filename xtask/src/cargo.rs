//! Runs cargo at the root of the workspace, and says what it runs.

use std::ffi::OsStr;
use std::fmt;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Why a task failed.
pub(crate) enum Failed {
    /// A command ended with a failure; what it had to say is on the terminal already.
    Command(String),
    /// A command could not be started.
    NotStarted(String, std::io::Error),
    /// A command answered in a way that could not be read.
    Unreadable(String, serde_json::Error),
    /// A file could not be read.
    File(PathBuf, std::io::Error),
    /// So many things are not tidy; they are on the terminal already.
    Untidy(usize),
}

impl fmt::Display for Failed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Failed::Command(line) => write!(f, "failed: {line}"),
            Failed::NotStarted(line, error) => write!(f, "not started: {line}: {error}"),
            Failed::Unreadable(line, error) => write!(f, "not understood: {line}: {error}"),
            Failed::File(path, error) => write!(f, "{}: {error}", path.display()),
            Failed::Untidy(1) => f.write_str("1 thing is not tidy"),
            Failed::Untidy(count) => write!(f, "{count} things are not tidy"),
        }
    }
}

/// The root of the workspace.
pub(crate) fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("xtask is a folder of the workspace")
}

/// Runs cargo with some variables set; its output goes to the terminal.
pub(crate) fn run(variables: &[(&str, &str)], arguments: &[&str]) -> Result<(), Failed> {
    let line = line(variables, arguments);
    eprintln!("> {line}");
    let status = command(arguments)
        .envs(variables.iter().copied())
        .status()
        .map_err(|error| Failed::NotStarted(line.clone(), error))?;
    if status.success() {
        Ok(())
    } else {
        Err(Failed::Command(line))
    }
}

/// Runs a binary of the workspace where the person stands: paths on its command line are theirs.
pub(crate) fn run_binary(package: &str, options: &[String]) -> Result<(), Failed> {
    let manifest = root().join("Cargo.toml");
    let manifest = manifest.to_string_lossy();
    let build = [
        "run",
        "--quiet",
        "--locked",
        "--release",
        "--manifest-path",
        &manifest,
        "--package",
        package,
        "--",
    ];
    let options = options.iter().map(String::as_str);
    let arguments: Vec<&str> = build.into_iter().chain(options).collect();
    let line = line(&[], &arguments);
    eprintln!("> {line}");
    let status = command(&arguments)
        .current_dir(".")
        .status()
        .map_err(|error| Failed::NotStarted(line.clone(), error))?;
    if status.success() {
        Ok(())
    } else {
        Err(Failed::Command(line))
    }
}

/// Builds a binary of the workspace as users get it, and tells where it is.
pub(crate) fn built(package: &str) -> Result<PathBuf, Failed> {
    run(
        &[],
        &["build", "--locked", "--release", "--package", package],
    )?;
    let known = json(&["metadata", "--no-deps", "--format-version", "1"])?;
    let target = known["target_directory"].as_str().unwrap_or("target");
    Ok(Path::new(target).join("release").join(package))
}

/// Runs cargo and returns the JSON that it prints.
pub(crate) fn json(arguments: &[&str]) -> Result<serde_json::Value, Failed> {
    let line = line(&[], arguments);
    let output = command(arguments)
        .stderr(std::process::Stdio::inherit())
        .output()
        .map_err(|error| Failed::NotStarted(line.clone(), error))?;
    if !output.status.success() {
        return Err(Failed::Command(line));
    }
    serde_json::from_slice(&output.stdout).map_err(|error| Failed::Unreadable(line, error))
}

/// The cargo that runs this task, if one does; else the one in the path.
fn command(arguments: &[&str]) -> Command {
    let cargo = std::env::var_os("CARGO");
    let mut command = Command::new(cargo.as_deref().unwrap_or(OsStr::new("cargo")));
    command.args(arguments).current_dir(root());
    command
}

/// A command as it would be typed.
fn line(variables: &[(&str, &str)], arguments: &[&str]) -> String {
    let mut line = String::new();
    for (name, value) in variables {
        let quote = if value.contains(' ') { "'" } else { "" };
        line.push_str(&format!("{name}={quote}{value}{quote} "));
    }
    line.push_str("cargo ");
    line.push_str(&arguments.join(" "));
    line
}
