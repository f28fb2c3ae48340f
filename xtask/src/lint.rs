//! `cargo xtask lint`: the lints of the workspace, none of which may speak.

use crate::{Task, cargo};

pub(crate) const TASK: Task = Task {
    name: "lint",
    about: "clippy on everything, warnings as errors",
    run: |_| {
        cargo::run(
            &[],
            &[
                "clippy",
                "--locked",
                "--workspace",
                "--all-targets",
                "--",
                "-D",
                "warnings",
            ],
        )
    },
};
