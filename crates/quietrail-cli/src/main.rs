//! The `quietrail` command: reads files, asks the study, lets the report print.

mod cmd;
mod log;
mod shell;

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    // A value may begin with a minus, "-41 dBc"; no option begins with a digit. The true minus means the same to every reader.
    let typed = std::env::args_os().map(|argument| match argument.to_str() {
        Some(text) if is_negative(text) => text.replacen('-', "\u{2212}", 1).into(),
        _ => argument,
    });
    let arguments = cmd::Arguments::parse_from(typed);
    match cmd::run(&arguments) {
        Ok(status) => ExitCode::from(status),
        Err(complaint) => {
            eprint!("{complaint}");
            ExitCode::from(shell::UNREADABLE)
        }
    }
}

/// Whether a text is a negative value.
fn is_negative(text: &str) -> bool {
    let mut letters = text.chars();
    letters.next() == Some('-') && letters.next().is_some_and(|second| second.is_ascii_digit())
}
