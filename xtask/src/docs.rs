//! `cargo xtask docs`: the documentation of the crates, in which every link must lead somewhere.

use crate::{Task, cargo};

pub(crate) const TASK: Task = Task {
    name: "docs",
    about: "`cargo doc`, warnings as errors",
    run: |_| {
        cargo::run(
            &[("RUSTDOCFLAGS", "-D warnings")],
            &["doc", "--locked", "--workspace", "--no-deps"],
        )
    },
};
