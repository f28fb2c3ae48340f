//! A folder of its own for each test, and the binary run in it.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Longer than any run takes on a busy machine; a run that is not done by then hangs.
const PATIENCE: Duration = Duration::from_secs(240);

/// A raw rail with one state: quick to solve.
pub(crate) const RAIL: &str = r#"format = 1
[job]
title = "one rail"
region = "230 V 50 Hz"
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
[states]
on = "running"
[transformer.T1]
primary = [{ name = "P1", volts = "230 V", resistance = "45 Ω" }]
secondary = [{ name = "S1", open = "15.5 V at 230 V", resistance = "0.6 Ω" }]
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "40 mΩ"
[load.lamp]
at = "raw"
draws = { on = "0.4 A" }
[[limit]]
name = "raw, low"
of = "raw"
what = "valley"
min = "12 V"
from = "own rule"
"#;

/// A folder and what is run in it.
pub(crate) struct Bench {
    folder: TempDir,
}

/// What a run came to.
#[derive(Debug)]
pub(crate) struct Ran {
    pub(crate) status: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Bench {
    /// An empty folder.
    pub(crate) fn new() -> Self {
        Self {
            folder: TempDir::new().unwrap(),
        }
    }

    /// A folder with this `job.toml`.
    pub(crate) fn with(job: impl AsRef<[u8]>) -> Self {
        let bench = Self::new();
        fs::write(bench.path("job.toml"), job).unwrap();
        bench
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    /// Every file in the folder with its bytes.
    pub(crate) fn files(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        let mut all = BTreeMap::new();
        gather(self.folder.path(), &mut all);
        all
    }

    /// Runs the binary in the folder, nothing on its input.
    pub(crate) fn run(&self, arguments: &[&str]) -> Ran {
        self.run_typing(arguments, "")
    }

    /// Runs the binary in the folder with this on its input.
    pub(crate) fn run_typing(&self, arguments: &[&str], typed: &str) -> Ran {
        self.run_until(arguments, typed, &mut |_, _| {})
    }

    /// Runs a command that serves until Ctrl-C, which comes as soon as its address is printed.
    pub(crate) fn serve(&self, arguments: &[&str]) -> Ran {
        let mut arguments = arguments.to_vec();
        arguments.push("--no-browser");
        let mut interrupted = false;
        self.run_until(&arguments, "", &mut |process, out| {
            if !interrupted && out.contains('\n') {
                interrupted = true;
                let id = process.to_string();
                let ran = Command::new("kill").args(["-INT", &id]).status().unwrap();
                assert!(ran.success());
            }
        })
    }

    /// Runs the binary; while it runs, its process and what it has printed so far are looked at.
    fn run_until(&self, arguments: &[&str], typed: &str, look: &mut dyn FnMut(u32, &str)) -> Ran {
        // Through files: a pipe that nobody reads while waiting could fill up and hold the run.
        let outside = TempDir::new().unwrap();
        let at = |name: &str| outside.path().join(name);
        fs::write(at("in"), typed).unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_quietrail"))
            .args(arguments)
            .current_dir(self.folder.path())
            .env("COLUMNS", "100")
            .stdin(fs::File::open(at("in")).unwrap())
            .stdout(Stdio::from(fs::File::create(at("out")).unwrap()))
            .stderr(Stdio::from(fs::File::create(at("err")).unwrap()))
            .spawn()
            .unwrap();
        let begun = Instant::now();
        let status = loop {
            if let Some(status) = child.try_wait().unwrap() {
                break status;
            }
            if begun.elapsed() > PATIENCE {
                child.kill().unwrap();
                child.wait().unwrap();
                panic!("{arguments:?} hangs");
            }
            std::thread::sleep(Duration::from_millis(5));
            look(
                child.id(),
                &fs::read_to_string(at("out")).unwrap_or_default(),
            );
        };
        let text = |name: &str| fs::read_to_string(at(name)).expect("what is printed is UTF-8");
        let ran = Ran {
            status: status.code().unwrap_or(-1),
            out: text("out"),
            err: text("err"),
        };
        assert!(!ran.err.contains("panicked"), "{arguments:?}: {}", ran.err);
        assert!(
            !ran.err.contains('\u{1b}'),
            "no progress and no colour where stderr is no terminal: {:?}",
            ran.err
        );
        ran
    }
}

/// The rail with one line put in place of another.
#[track_caller]
pub(crate) fn rail(line: &str, instead: &str) -> String {
    assert_eq!(RAIL.matches(line).count(), 1, "{line}");
    RAIL.replace(line, instead)
}

fn gather(folder: &Path, all: &mut BTreeMap<PathBuf, Vec<u8>>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            gather(&path, all);
        } else {
            all.insert(path.clone(), fs::read(&path).unwrap());
        }
    }
}
