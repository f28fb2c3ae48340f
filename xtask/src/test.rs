//! `cargo xtask test`: every test, none of which may change what it compares with.

use crate::{Task, cargo};

pub(crate) const TASK: Task = Task {
    name: "test",
    about: "all tests of all crates",
    run: |_| {
        let compare_only = [("BLESS", "0"), ("INSTA_UPDATE", "no")];
        cargo::run(&compare_only, &["test", "--locked", "--workspace"])
    },
};
