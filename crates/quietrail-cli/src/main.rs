//! The `quietrail` command: reads files, asks the study, lets the report print.

mod cmd;
mod log;
mod shell;

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments = cmd::Arguments::parse();
    match cmd::run(&arguments) {
        Ok(status) => ExitCode::from(status),
        Err(complaint) => {
            eprint!("{complaint}");
            ExitCode::from(shell::UNREADABLE)
        }
    }
}
