//! What a view draws from: the job on the desk with what is being tried, and the corner in hand.

use crate::asked::Asked;
use crate::desk::{Desk, Key, Version};
use crate::figure;
use crate::known::{Base, Known, Standing, parts_at_worst, tightest_headroom, tightest_limit};
use crate::readings::{Readings, with_readings};
use crate::timing;
use crate::words;
use quietrail_job::model::Job;
use quietrail_job::{Address, Change, substitutes};
use quietrail_study::descent::{self, Figures, RailFigures};
use quietrail_study::finding::LimitFinding;
use quietrail_study::gate::Lock;
use quietrail_study::measured::Judged;
use quietrail_study::solve::{Solved, answers};
use quietrail_units::QuantityFault;
use std::sync::{Arc, OnceLock};

/// Address of the mains voltage.
pub(crate) const MAINS: &str = "mains.voltage";

/// Stands for an address where the state is at fault.
pub(crate) const STATE: &str = "state";

/// What a view draws from.
pub(crate) struct Sheet<'a> {
    /// The desk.
    pub(crate) desk: &'a Desk,
    /// The file's version that is shown.
    pub(crate) version: Arc<Version>,
    /// What is asked for.
    pub(crate) asked: Asked,
    /// The job with what is tried.
    pub(crate) job: Arc<Job>,
    /// The job made ready.
    pub(crate) base: Arc<Base>,
    /// What is tried, as changes.
    pub(crate) changes: Vec<Change>,
    /// The same as text: the key of answers.
    pub(crate) tried: String,
    /// What is known of it; nothing for the first moments.
    pub(crate) known: Option<Known>,
    /// What the readings of each limit come to; empty while something is tried.
    pub(crate) judged: Arc<Vec<Judged>>,
    /// What was read in the steps of the bring-up and is not in order; empty while something is tried.
    pub(crate) misfits: Arc<Vec<Lock>>,
    /// Index of the state in hand.
    pub(crate) state: usize,
    /// Mains voltage in hand.
    pub(crate) mains: f64,
    /// Fields that could not be read.
    pub(crate) faults: Vec<FieldFault>,
    here: OnceLock<Result<Arc<Solved>, String>>,
    figures: OnceLock<Result<Figures, String>>,
    /// What each question comes to there.
    values: OnceLock<Vec<Option<f64>>>,
}

/// A field that could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct FieldFault {
    /// Address of the figure: `C1.value`, `mains.voltage`.
    pub(crate) address: String,
    /// What was typed.
    pub(crate) typed: String,
    /// What is wrong with it.
    pub(crate) said: String,
    /// Clear texts to choose from.
    pub(crate) choices: Vec<String>,
}

/// Something that is tried, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Trying {
    /// Address of the figure, or the part that is swapped.
    pub(crate) address: String,
    /// What is put there.
    pub(crate) now: String,
    /// What was there.
    pub(crate) before: String,
}

impl<'a> Sheet<'a> {
    /// Lays out what is asked for; `None` where the file has no meaning (yet), or the reason why nothing can be solved.
    pub(crate) fn lay_out(
        desk: &'a Desk,
        version: Arc<Version>,
        asked: Asked,
    ) -> Option<Result<Self, String>> {
        let base = match version.base()? {
            Ok(base) => base,
            Err(why) => return Some(Err(why)),
        };
        let mut faults = Vec::new();
        let changes = read_tries(&base.ready.job, &asked, &mut faults);
        let tried = tried_text(&asked, &faults);
        let job = match base.ready.job.with(&changes) {
            Ok(job) => job,
            Err(why) => return Some(Err(why.to_string())),
        };
        if asked.moving {
            desk.hand_moves();
        } else {
            desk.hand_rests(true);
            base.rests();
        }
        let mains = read_mains(&job, &asked, &mut faults);
        faults.extend(unknown_state(&base, &asked));
        let mains_in_hand = Change::Set {
            address: Address(MAINS.to_owned()),
            value: mains,
        };
        // While the hand moves, the corner in hand does not wait for the worst ones.
        let named = asked.state.as_deref().and_then(|name| named(&base, name));
        let ahead = named.filter(|_| asked.moving && !asked.worst_parts);
        let (known, ahead) = timing::solving(|| {
            std::thread::scope(|scope| {
                let ahead = ahead.map(|state| {
                    let changes = [changes.as_slice(), &[mains_in_hand]].concat();
                    let base = &base;
                    scope.spawn(move || base.follow(state, &changes))
                });
                let known = known(desk, &version, &base, (&changes, &tried), &asked);
                (known, ahead.and_then(|ahead| ahead.join().ok()))
            })
        });
        let here = OnceLock::new();
        if let Some(solved) = ahead {
            let _ = here.set(solved.map_err(|trouble| trouble.to_string()));
        }
        let (known, read) = match known {
            Some(known) if changes.is_empty() => {
                let (known, read) = with_readings(desk, &version.sum, known);
                (Some(known), read)
            }
            known => (known, Readings::default()),
        };
        let state = state_in_hand(&base, &asked, known.as_ref());
        Some(Ok(Self {
            desk,
            version,
            job: Arc::new(job),
            base,
            changes,
            tried,
            known,
            judged: read.judged,
            misfits: read.misfits,
            state,
            mains,
            faults,
            asked,
            here,
            figures: OnceLock::new(),
            values: OnceLock::new(),
        }))
    }

    /// Name of the state in hand.
    pub(crate) fn state_name(&self) -> &str {
        &self.job.states[self.state].name
    }

    /// The key of what is shown.
    pub(crate) fn key(&self) -> Key {
        (self.version.sum.clone(), self.tried.clone())
    }

    /// Changes that make the corner in hand.
    pub(crate) fn changes_here(&self) -> Vec<Change> {
        self.changes_in(self.state, self.asked.worst_parts, self.mains)
    }

    /// Changes that make a corner of a state: parts as marked or at their worst, mains as given.
    pub(crate) fn changes_in(&self, state: usize, worst_parts: bool, mains: f64) -> Vec<Change> {
        let name = &self.job.states[state].name;
        let worst = self
            .known
            .as_ref()
            .filter(|_| worst_parts)
            .and_then(|known| {
                let finding = tightest_headroom(&known.proof, Some(name))
                    .or_else(|| tightest_limit(&known.proof, name))?;
                Some(parts_at_worst(known, finding, &self.changes))
            });
        let mut changes = worst.unwrap_or_else(|| self.changes.clone());
        changes.push(Change::Set {
            address: Address(MAINS.to_owned()),
            value: mains,
        });
        changes
    }

    /// The corner in hand, solved.
    pub(crate) fn here(&self) -> Result<&Solved, &str> {
        let solved = self.here.get_or_init(|| {
            let changes = self.changes_here();
            let solved = timing::solving(|| {
                if self.asked.moving {
                    self.base.follow(self.state, &changes)
                } else {
                    let solved = self.base.ready.solve_one(self.state, &changes);
                    solved.map(Arc::new)
                }
            });
            solved.map_err(|trouble| trouble.to_string())
        });
        solved.as_deref().map_err(String::as_str)
    }

    /// Figures of the sections in the corner in hand.
    pub(crate) fn figures(&self) -> Result<&Figures, &str> {
        let figures = self.figures.get_or_init(|| {
            let here = self.here()?;
            let (sections, plan) = (&self.base.sections, &self.base.ready.plan);
            Ok(descent::figures(sections, plan, here))
        });
        figures.as_ref().map_err(String::as_str)
    }

    /// Value of a limit in the corner in hand.
    pub(crate) fn value_here(&self, name: &str) -> Option<f64> {
        let questions = &self.base.ready.plan.questions;
        let q = questions
            .iter()
            .position(|question| question.name == name)?;
        if !questions[q].states.contains(&self.state) {
            return None;
        }
        let here = self.here().ok()?;
        let values = self.values.get_or_init(|| {
            let answers = answers(&self.base.ready.plan, here);
            answers.into_iter().map(Result::ok).collect()
        });
        values.get(q).copied().flatten()
    }

    /// The limit with the least headroom of all states.
    pub(crate) fn tightest(&self) -> Option<&LimitFinding> {
        tightest_headroom(&self.known.as_ref()?.proof, None)
    }

    /// Whether a search for what is shown has not come to its end.
    pub(crate) fn is_provisional(&self) -> bool {
        self.known
            .as_ref()
            .is_none_or(|known| known.standing < Standing::Stopped)
    }

    /// Whether the search for what is shown was stopped by hand.
    pub(crate) fn is_stopped(&self) -> bool {
        let known = self.known.as_ref();
        known.is_some_and(|known| known.standing == Standing::Stopped)
    }

    /// What is tried, in words.
    pub(crate) fn trying(&self) -> Vec<Trying> {
        let before = &self.base.ready.job;
        let old = before.parameters();
        let tries = self.asked.tries.iter();
        tries
            .map(|(address, text)| {
                let known = old.iter().find(|parameter| parameter.address.0 == *address);
                Trying {
                    address: address.clone(),
                    now: known
                        .and_then(|parameter| figure::read(text, parameter.unit).ok())
                        .map_or_else(|| text.clone(), |read| read.text),
                    before: known.map_or_else(String::new, |parameter| {
                        figure::plain(parameter.nominal, parameter.unit)
                    }),
                }
            })
            .collect()
    }
}

/// What is tried, as text. What was refused changes nothing and has no part in it.
fn tried_text(asked: &Asked, refused: &[FieldFault]) -> String {
    let is_refused = |address: &str| refused.iter().any(|fault| fault.address == address);
    let tries = asked.tries.iter();
    tries
        .filter(|(address, _)| !is_refused(address))
        .map(|(address, text)| format!("{address}:{text}\n"))
        .collect()
}

fn known(
    desk: &Desk,
    version: &Arc<Version>,
    base: &Base,
    (changes, tried): (&[Change], &str),
    asked: &Asked,
) -> Option<Known> {
    let own: Key = (version.sum.clone(), tried.to_owned());
    let found = desk.known(&own);
    let is_whole = |known: &Known| known.standing >= Standing::Stopped;
    if changes.is_empty() {
        // What was tried before is not looked for any longer.
        desk.want(version, changes, String::new());
        return found;
    }
    if let Some(found) = found.filter(|found| is_whole(found) || !asked.moving) {
        if !is_whole(&found) {
            desk.want(version, changes, own.1);
        }
        return Some(found);
    }
    let of_file = desk.known(&(version.sum.clone(), String::new()))?;
    let state = state_in_hand(base, asked, Some(&of_file));
    let moving_in = asked.moving.then_some((state, asked.get("node")));
    let known = base.provisional(&of_file, changes, moving_in)?;
    if !asked.moving {
        desk.learn(own.clone(), known.clone());
        desk.want(version, changes, own.1);
    }
    Some(known)
}

/// The state of a name.
fn named(base: &Base, name: &str) -> Option<usize> {
    let states = &base.ready.job.states;
    states.iter().position(|state| state.name == name)
}

/// A state that the job does not have, with those that it has.
fn unknown_state(base: &Base, asked: &Asked) -> Option<FieldFault> {
    let typed = asked.state.as_deref()?;
    if named(base, typed).is_some() {
        return None;
    }
    let states = &base.ready.job.states;
    Some(FieldFault {
        address: STATE.to_owned(),
        typed: typed.to_owned(),
        said: words::no_such_state(typed, states.iter().map(|state| state.name.as_str())),
        choices: Vec::new(),
    })
}

/// The state asked for; else the one with the tightest headroom, at its worst if that is known, else as marked.
fn state_in_hand(base: &Base, asked: &Asked, known: Option<&Known>) -> usize {
    let asked = asked.state.as_deref().and_then(|name| named(base, name));
    let tightest = || {
        let finding = tightest_headroom(&known?.proof, None)?;
        named(base, &finding.state)
    };
    asked
        .or_else(tightest)
        .or_else(|| tightest_as_marked(base))
        .unwrap_or(0)
}

fn tightest_as_marked(base: &Base) -> Option<usize> {
    let solved = base.ready.nominal.iter().enumerate();
    let headrooms = solved.filter_map(|(state, solved)| {
        let figures = descent::figures(&base.sections, &base.ready.plan, solved.as_ref().ok()?);
        let rails = figures.sections.iter().flat_map(|section| &section.rails);
        let headrooms = rails.map(RailFigures::spare);
        let least = headrooms
            .filter(|volts| volts.is_finite())
            .reduce(f64::min)?;
        Some((state, least))
    });
    let tightest = headrooms.min_by(|a, b| a.1.total_cmp(&b.1));
    tightest.map(|(state, _)| state)
}

fn read_mains(job: &Job, asked: &Asked, faults: &mut Vec<FieldFault>) -> f64 {
    let nominal = job.mains.voltage.nominal();
    let Some(typed) = &asked.mains else {
        return nominal;
    };
    // A slider sends bare numbers.
    let text = if typed.parse::<f64>().is_ok() {
        format!("{typed} V")
    } else {
        typed.clone()
    };
    let read = figure::read(&text, "V").map(|read| read.nominal);
    let limits = nominal * 0.25..=nominal * 2.0;
    match read {
        Ok(volts) if limits.contains(&volts) => volts,
        Ok(volts) => {
            faults.push(FieldFault {
                address: MAINS.to_owned(),
                typed: typed.clone(),
                said: words::far_from_mains(
                    &figure::plain(volts, "V"),
                    &figure::plain(nominal, "V"),
                ),
                choices: Vec::new(),
            });
            nominal
        }
        Err(error) => {
            faults.push(fault(MAINS, typed, &error));
            nominal
        }
    }
}

fn read_tries(job: &Job, asked: &Asked, faults: &mut Vec<FieldFault>) -> Vec<Change> {
    let parameters = job.parameters();
    let mut changes = Vec::new();
    for (address, text) in &asked.tries {
        let known = parameters
            .iter()
            .find(|parameter| parameter.address.0 == *address);
        let refused = |said: String| FieldFault {
            address: address.clone(),
            typed: text.clone(),
            said,
            choices: Vec::new(),
        };
        let Some(parameter) = known else {
            // A part's name: something of the catalogue in its place.
            let all = substitutes(job, address);
            match all.into_iter().find(|one| one.entry == *text) {
                Some(one) => changes.push(Change::Swap {
                    part: address.clone(),
                    with: Box::new(one.part),
                }),
                None => faults.push(refused(words::no_such_figure(address))),
            }
            continue;
        };
        match figure::read(text, parameter.unit) {
            Ok(read) => {
                let change = Change::Set {
                    address: Address(address.clone()),
                    value: read.nominal,
                };
                match job.with(std::slice::from_ref(&change)) {
                    Ok(_) => changes.push(change),
                    Err(why) => faults.push(refused(why.to_string())),
                }
            }
            Err(error) => faults.push(fault(address, text, &error)),
        }
    }
    changes
}

fn fault(address: &str, typed: &str, error: &quietrail_units::QuantityError) -> FieldFault {
    let choices = match &error.fault {
        QuantityFault::Ambiguous { choices, .. } => choices.clone(),
        _ => Vec::new(),
    };
    FieldFault {
        address: address.to_owned(),
        typed: typed.to_owned(),
        said: error.to_string(),
        choices,
    }
}
