//! `cargo xtask format`: the form of the source.

use crate::{Task, cargo};

pub(crate) const TASK: Task = Task {
    name: "format",
    about: "source that `cargo fmt` would change",
    run: |_| cargo::run(&[], &["fmt", "--all", "--check"]),
};
