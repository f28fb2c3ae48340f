//! `cargo xtask ci`: everything that a change must pass, quickest first. CI runs this and nothing else.

use crate::cargo::Failed;
use crate::{Task, docs, format, lint, seeds, test, tidy};

pub(crate) const TASK: Task = Task {
    name: "ci",
    about: "format, tidy, lint, test, seeds and docs, in this order; what CI runs",
    run: |_| STAGES.iter().try_for_each(carry_out),
};

const STAGES: [Task; 6] = [
    format::TASK,
    tidy::TASK,
    lint::TASK,
    test::TASK,
    seeds::TASK,
    docs::TASK,
];

fn carry_out(stage: &Task) -> Result<(), Failed> {
    eprintln!("\n== {}: {}", stage.name, stage.about);
    (stage.run)(&[])
}
