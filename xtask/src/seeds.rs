//! `cargo xtask seeds`: the texts of `fuzz/seeds`, each held against what its target promises. No fuzzer is needed for that.

use crate::{Task, cargo};

pub(crate) const TASK: Task = Task {
    name: "seeds",
    about: "the seeds of the fuzzer keep the promises of their targets",
    run: |_| {
        // A workspace of its own, so that the tool does not build on what only the fuzzer needs.
        let own = ["test", "--locked", "--manifest-path", "fuzz/Cargo.toml"];
        let only = ["--lib", "--no-default-features"];
        cargo::run(&[], &[own.as_slice(), only.as_slice()].concat())
    },
};
