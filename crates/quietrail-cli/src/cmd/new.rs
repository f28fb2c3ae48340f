//! `quietrail new`: a commented job from a few answers.
//!
//! 1. Questions are asked, each with its default; an answer is checked before the next question.
//! 2. The answers go into the template.
//! 3. The job is written where none is yet, and read back.

#[cfg(test)]
mod tests;

use crate::shell::{Complaint, complain, gather, is_terminal_input, write_new};
use clap::Args;
use quietrail_job::begin::{ALL, Answers, REGION, Region, TEMPLATE, wrong_with};
use std::io::{self, BufRead, Write};
use std::path::PathBuf;

/// Write a commented job from a few answers.
///
/// Each question shows what stands where Enter is pressed. Where the input ends before a single answer, nothing is
/// written; after some, the remaining questions take their defaults, and those are told. A job that is there already is
/// left as it is.
#[derive(Args)]
pub(crate) struct New {
    /// Folder to write it to; made if need be.
    dir: PathBuf,
    /// Ask nothing and take every default.
    #[arg(long)]
    defaults: bool,
    /// Mains of the region: defaults follow from it.
    #[arg(long, default_value = REGION)]
    region: String,
}

impl New {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let region = Region::parse(&self.region)
            .map_err(|error| complain(format_args!("--region: {error}")))?;
        let path = self.dir.join("job.toml");
        // Said before anything is asked, rather than after twenty answers.
        if path.exists() {
            return Err(complain(format_args!(
                "{}: already there, and left as it is",
                path.display()
            )));
        }
        let patience = if is_terminal_input() {
            Patience::AskAgain
        } else {
            Patience::GiveUp
        };
        let mut output = io::stdout().lock();
        let asked = if self.defaults {
            interview(region, &mut io::empty(), &mut io::sink(), patience)
        } else {
            interview(region, &mut io::stdin().lock(), &mut output, patience)
        };
        let answers = asked.map_err(complain)?;
        let is_answered = ALL
            .iter()
            .any(|question| question.is_asked && !answers.is_unasked(question.name));
        if !is_answered && !self.defaults {
            return Err(complain(unanswered(&self.dir.display().to_string())));
        }
        write_new(&path, &answers.fill(TEMPLATE))?;
        gather(&self.dir)?.job()?;
        let told = closing(
            &answers,
            &path.display().to_string(),
            &self.dir.display().to_string(),
        );
        output
            .write_all(told.as_bytes())
            .map_err(|error| complain(format_args!("standard output: {error}")))?;
        Ok(0)
    }
}

/// What an answer that cannot be read leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Patience {
    /// The same question again: somebody sits there.
    AskAgain,
    /// An end: the next line of a script answers the next question, not this one again.
    GiveUp,
}

/// Asks all questions; at the end of the input the rest takes its defaults.
///
/// # Errors
/// The question and what is wrong with its answer, where asking again has no use.
fn interview(
    region: Region,
    input: &mut impl BufRead,
    output: &mut impl Write,
    patience: Patience,
) -> Result<Answers, String> {
    let broken = |error: io::Error| error.to_string();
    let mut answers = Answers::new(region);
    let mut at_end = false;
    for question in ALL {
        let default = question.default(&answers);
        if !question.is_asked || at_end {
            answers.take_unasked(question.name, default);
            continue;
        }
        loop {
            write!(output, "{} [{default}]: ", question.asks).map_err(broken)?;
            output.flush().map_err(broken)?;
            let mut line = String::new();
            at_end = input.read_line(&mut line).map_err(broken)? == 0;
            let answer = line.trim();
            if at_end && answer.is_empty() {
                // The end of input leaves the cursor behind the question.
                writeln!(output).map_err(broken)?;
                answers.take_unasked(question.name, default);
                break;
            }
            if answer.is_empty() {
                answers.take(question.name, default);
                break;
            }
            match wrong_with(question, answer, &answers) {
                None => {
                    answers.take(question.name, answer.to_owned());
                    break;
                }
                Some(wrong) if patience == Patience::AskAgain => {
                    writeln!(output, "  {wrong}").map_err(broken)?;
                }
                Some(wrong) => return Err(format!("{}: {wrong}", question.asks)),
            }
        }
    }
    Ok(answers)
}

/// Nobody answered.
fn unanswered(dir: &str) -> String {
    format!(
        "the input ended before the first answer, so nothing is written: a job that nobody described would only seem one. Answer the \
         questions, or take every default knowingly with\n  quietrail new {dir} --defaults"
    )
}

/// What was written, what was not asked, and what comes next.
fn closing(answers: &Answers, path: &str, dir: &str) -> String {
    let mut told = format!(
        "Wrote {path}.\n\nNot answered, taken as default; change it there where it is not so:\n"
    );
    for question in ALL
        .iter()
        .filter(|question| answers.is_unasked(question.name))
    {
        told.push_str(&format!(
            "  {}: {}\n",
            question.asks,
            answers.of(question.name)
        ));
    }
    told.push_str(&format!(
        "\nNext: put in what is fitted and what the data sheet asks, then\n  quietrail prove {dir}\n"
    ));
    told
}
