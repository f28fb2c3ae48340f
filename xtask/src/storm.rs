//! `cargo xtask storm`: made-up jobs, each solved in every state. Its options are those of the binary.

use crate::{Task, cargo};

pub(crate) const TASK: Task = Task {
    name: "storm",
    about: "solves made-up jobs, or those of a folder, and counts how they end",
    run: |options| cargo::run_binary("quietrail-storm", options),
};
