//! `cargo xtask ci`: everything that a change must pass, quickest first. CI runs this and nothing else.

use crate::cargo::Failed;
use crate::{Task, docs, format, lint, test, tidy};

pub(crate) const TASK: Task = Task {
    name: "ci",
    about: "format, tidy, lint, test and docs, in this order; what CI runs",
    run: |_| STAGES.iter().try_for_each(carry_out),
};

const STAGES: [Task; 5] = [format::TASK, tidy::TASK, lint::TASK, test::TASK, docs::TASK];

fn carry_out(stage: &Task) -> Result<(), Failed> {
    eprintln!("\n== {}: {}", stage.name, stage.about);
    (stage.run)(&[])
}
