//! Tasks of this repository: `cargo xtask` lists them, `cargo xtask NAME` carries one out.

mod bless;
mod cargo;
mod ci;
mod docs;
mod format;
mod lint;
mod peers;
mod seeds;
mod storm;
mod test;
mod tidy;

use cargo::Failed;
use std::process::ExitCode;

/// Something that can be asked for.
struct Task {
    name: &'static str,
    about: &'static str,
    /// Carries it out, with what stands behind its name on the command line.
    run: fn(&[String]) -> Result<(), Failed>,
}

/// What is asked for when, and what there is.
const GROUPS: [(&str, &[Task]); 4] = [
    ("before a change is sent", &[ci::TASK]),
    (
        "one part of that",
        &[
            format::TASK,
            lint::TASK,
            test::TASK,
            seeds::TASK,
            tidy::TASK,
            docs::TASK,
        ],
    ),
    (
        "after the engine changed; --help tells its options",
        &[storm::TASK, peers::TASK],
    ),
    ("after output changed on purpose", &[bless::TASK]),
];

fn main() -> ExitCode {
    let asked: Vec<String> = std::env::args().skip(1).collect();
    let Some((name, rest)) = asked.split_first() else {
        print!("{}", list());
        return ExitCode::SUCCESS;
    };
    let Some(task) = find(name) else {
        eprint!("no task is called {name}\n\n{}", list());
        return ExitCode::FAILURE;
    };
    if !rest.is_empty() && ![storm::TASK.name, peers::TASK.name].contains(&task.name) {
        eprintln!("{name} takes nothing further: {}", rest.join(" "));
        return ExitCode::FAILURE;
    }
    match (task.run)(rest) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failed) => {
            eprintln!("\n{failed}");
            ExitCode::FAILURE
        }
    }
}

fn find(name: &str) -> Option<&'static Task> {
    GROUPS
        .iter()
        .flat_map(|(_, tasks)| *tasks)
        .find(|task| task.name == name)
}

fn list() -> String {
    let mut text = String::from("cargo xtask TASK\n");
    for (group, tasks) in &GROUPS {
        text.push_str(&format!("\n{group}\n"));
        for task in *tasks {
            text.push_str(&format!("  {:<8}{}\n", task.name, task.about));
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::{GROUPS, find, list};

    #[test]
    fn every_task_is_listed_and_found_by_its_name() {
        for task in GROUPS.iter().flat_map(|(_, tasks)| *tasks) {
            assert!(list().contains(task.about), "{} is not listed", task.name);
            let found = find(task.name).expect("a listed task is found");
            assert_eq!(
                found.about, task.about,
                "two tasks are called {}",
                task.name
            );
        }
    }
}
