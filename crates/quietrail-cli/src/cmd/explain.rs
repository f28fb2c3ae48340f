//! `quietrail explain`: what a diagnostic means, or where a limit's figure comes from.

use crate::shell::{Complaint, ProgressLine, complain, gather, say, style_of};
use clap::Args;
use quietrail_job::{explain as explanation, explanations};
use quietrail_report::{explain as told, number, words};
use quietrail_study::explain::{NoAccount, explain};
use std::io;
use std::path::PathBuf;

/// Say where a limit's figure comes from, or what a diagnostic's code means.
///
/// `explain JOB LIMIT` gives the sum behind the figure at the worst corner found: term by term, with inputs,
/// sources, and what moves it most. `explain J012` says what that diagnostic checks, and why.
///
/// Exit status: 0 explained, 2 no such job, limit or code, 3 the figure is not shown.
#[derive(Args)]
pub(crate) struct Explain {
    /// The code of a diagnostic, or the job's folder or job.toml.
    #[arg(value_name = "CODE|JOB")]
    of: PathBuf,
    /// Name of the limit, as `prove` prints it.
    limit: Option<String>,
    /// The state; the one where it is worst unless named.
    #[arg(long, requires = "limit")]
    state: Option<String>,
    /// Print the answer as data.
    #[arg(long)]
    json: bool,
}

/// Exit status where the figure has no value.
const NOT_SHOWN: u8 = 3;

impl Explain {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        match &self.limit {
            Some(limit) => self.figure(limit),
            None => self.diagnostic(),
        }
    }

    fn diagnostic(&self) -> Result<u8, Complaint> {
        if self.of.exists() {
            let job = gather(&self.of)?.job()?;
            let known = quietrail_study::solve::Plan::of(&job).map_err(complain)?;
            let told = known.questions.iter().filter(|limit| !limit.is_quiet);
            let names: Vec<&str> = told.map(|limit| limit.name.as_str()).collect();
            return Err(complain(words::explain::name_one(&names)));
        }
        let code = self.of.display().to_string();
        let Some(found) = explanation(&code) else {
            let mut all = explanations().map(|explanation| explanation.code);
            let first = all.next().unwrap_or_default();
            let last = all.last().unwrap_or(first);
            return Err(complain(words::explain::no_such_code(&code, first, last)));
        };
        if self.json {
            say(&format!("{:#}\n", told::diagnostic_json(found)))?;
        } else {
            say(&told::diagnostic(found, style_of(&io::stdout())))?;
        }
        Ok(0)
    }

    fn figure(&self, limit: &str) -> Result<u8, Complaint> {
        let sources = gather(&self.of)?;
        let job = sources.job()?;
        let state = match &self.state {
            Some(name) => Some(super::state_of(&job, name)?),
            None => None,
        };
        let line = ProgressLine::new();
        line.say(words::explain::LOOKING);
        let account = explain(&job, limit, state, &quietrail_study::options());
        drop(line);
        let account = match account {
            Ok(account) => account,
            Err(NoAccount::UnknownLimit { known }) => {
                return Err(complain(words::explain::no_such_limit(limit, &known)));
            }
            Err(NoAccount::NotInState { states }) => {
                let state = self.state.as_deref().unwrap_or_default();
                return Err(complain(words::explain::not_in_state(
                    limit, state, &states,
                )));
            }
            Err(NoAccount::NotShown { unit, why }) => {
                let why = number::spaced(&words::why_not(&why, unit));
                eprintln!("{}", words::explain::not_shown(limit, &why));
                return Ok(NOT_SHOWN);
            }
            Err(NoAccount::Trouble(trouble)) => {
                let path = sources.job_path.display();
                eprintln!(
                    "{path}: {}",
                    words::explain::not_shown(limit, &trouble.to_string())
                );
                return Ok(NOT_SHOWN);
            }
        };
        if self.json {
            say(&format!("{:#}\n", told::account_json(&account)))?;
        } else {
            say(&told::text(&account, style_of(&io::stdout())))?;
        }
        Ok(0)
    }
}
