//! `quietrail read`: a reading into the log, judged at once.
//!
//! 1. What was typed becomes a draft of a row; a correction, or `--again`, starts from an older row.
//! 2. The draft is checked against the job: point, statistic, unit, step, state, instrument, set-up.
//! 3. The row is kept, on the disk before anything is said.
//! 4. While the step that it is of is locked, named or not, that is said first: it is kept, and decides nothing.
//! 5. It is judged: against what the step expects, and against the limit that it reads.

mod ask;
mod captured;
mod check;

use crate::log;
use crate::shell::{Complaint, ProgressLine, complain, gather, say};
use check::{Checked, check};
use clap::Args;
use quietrail_bench::accept::{Accepted, Line, Why, accept};
use quietrail_bench::decide::Shown;
use quietrail_bench::log::{Draft, Log, Observed, Row, words_of};
use quietrail_job::model::{Job, Limit, PartKind, What};
use quietrail_report::acceptance;
use quietrail_report::words::acceptance::read_by_hand;
use quietrail_report::words::{bringup as step_words, readings as words};
use quietrail_study::bringup::{self, Book, BringUp, Expectation, LOCKS_ALONE, Planned, planned};
use quietrail_study::case::Outside;
use quietrail_study::gate::{self, Gate};
use quietrail_study::measured::{self, Limited};
use quietrail_web::now;
use std::path::{Path, PathBuf};

/// Keep a reading, and say at once what it shows.
///
/// `read JOB raw mean "17.05 V" --step "raw on a dummy load" --with meter --setup "clips on C1"` keeps one.
/// `read JOB` alone asks for the readings of a step one after the other; Enter repeats the last set-up.
///
/// Exit status: 0 kept, 1 kept and outside its band or limit, 2 not kept, 3 kept and nothing shown.
#[derive(Args)]
pub(crate) struct Read {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// Point, statistic and value; with --correct the value alone.
    #[arg(value_name = "POINT WHAT VALUE", num_args = 0..=3)]
    reading: Vec<String>,
    /// Step of the bring-up.
    #[arg(long)]
    step: Option<String>,
    /// State of the load.
    #[arg(long)]
    state: Option<String>,
    /// Name of the instrument in the job.
    #[arg(long = "with", value_name = "INSTRUMENT")]
    with: Option<String>,
    /// Its range, as the job writes it or by its end: 40 V.
    #[arg(long)]
    range: Option<String>,
    /// Averages taken.
    #[arg(long)]
    averages: Option<u32>,
    /// How it was connected and set: probe, place, load; "through NAME" for an amplifier, "band 10 Hz .. 100 kHz" for a filter.
    #[arg(long)]
    setup: Option<String>,
    /// The input was shorted at the same place: this is a floor.
    #[arg(long)]
    floor: bool,
    /// Mains voltage while reading.
    #[arg(long)]
    mains: Option<String>,
    /// Name of the limit that it is for.
    #[arg(long)]
    limit: Option<String>,
    /// File of the capture, relative to the job. Without a value the capture gives it.
    #[arg(long)]
    capture: Option<String>,
    /// Which signal of the capture, by name or number.
    #[arg(long, requires = "capture")]
    column: Option<String>,
    /// Current that was switched on or off in the capture: its sharpest step over this is the series resistance.
    #[arg(long, requires = "capture")]
    amps: Option<String>,
    /// A sentence.
    #[arg(long)]
    note: Option<String>,
    /// Take step, state, instrument, range, set-up and mains from the last reading.
    #[arg(long)]
    again: bool,
    /// Number of the row that this one replaces.
    #[arg(long, value_name = "ROW")]
    correct: Option<u64>,
    /// Keep a value that looks a thousand times off.
    #[arg(long)]
    as_typed: bool,
    /// Go on with a locked step regardless; --because says why.
    #[arg(long, value_name = "STEP", requires = "because")]
    go_on: Option<String>,
    /// The reason, in writing. It is logged and printed.
    #[arg(long)]
    because: Option<String>,
}

/// What a reading is kept into.
struct Desk {
    job: Job,
    job_path: PathBuf,
    steps: Vec<Planned>,
    /// Bands of the steps, each computed once.
    book: Book,
}

impl Read {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let sources = gather(&self.job)?;
        let job = sources.job()?;
        let desk = Desk {
            steps: planned(&job),
            job,
            job_path: sources.job_path,
            book: Book::default(),
        };
        let log = log::read(&desk.job_path)?;
        log::report_damage(&log);
        if let Some(step) = &self.go_on {
            return self.override_step(&desk, &log, step);
        }
        if self.reading.is_empty() && self.correct.is_none() {
            return ask::run(&desk, &log, self);
        }
        let mut draft = self.draft(&log)?;
        draft.capture = super::capture::name_of(&desk.job_path, &draft.capture);
        if draft.value.is_empty() && self.capture.is_some() {
            let (value, said) = captured::value(&desk, &draft, self)?;
            say(&quietrail_report::number::spaced(&said))?;
            draft.value = value;
        }
        let checked = check(&desk, draft, self.as_typed)?;
        desk.keep(&checked).map(|(_, status)| status)
    }

    fn override_step(&self, desk: &Desk, log: &Log, step: &str) -> Result<u8, Complaint> {
        let reason = self.because.as_deref().unwrap_or_default().trim();
        if reason.len() < 8 {
            return Err(complain(words::NO_REASON));
        }
        let name = check::step(desk, step)?;
        let draft = Draft {
            time: now(),
            step: name.clone(),
            of: name.clone(),
            what: Observed::Override.word().to_owned(),
            value: "1".to_owned(),
            note: reason.to_owned(),
            ..Draft::default()
        };
        let found = desk.bring_up(log, LOCKS_ALONE)?;
        let locks = found
            .steps
            .iter()
            .find(|step| step.name == name)
            .map_or(&[][..], |step| &step.locked_by);
        let row = log::keep(&desk.job_path, &draft)?;
        say(&format!(
            "{}\n",
            words::overridden(row.row, &name, reason, locks)
        ))?;
        Ok(0)
    }

    /// The row as typed, over what it starts from.
    fn draft(&self, log: &Log) -> Result<Draft, Complaint> {
        let mut draft = match self.correct {
            Some(number) => {
                let row = log
                    .row(number)
                    .ok_or_else(|| complain(words::no_such_row(number)))?;
                let mut draft = row.draft();
                draft.corrects = number.to_string();
                draft.note = String::new();
                draft
            }
            None if self.again => again(log).ok_or_else(|| complain(words::NOTHING_TO_REPEAT))?,
            None => Draft::default(),
        };
        draft.time = now();
        match self.reading.as_slice() {
            [value] if self.correct.is_some() => draft.value.clone_from(value),
            [point, what, value] => {
                draft.of.clone_from(point);
                draft.what.clone_from(what);
                draft.value.clone_from(value);
            }
            [point, what] if self.capture.is_some() => {
                draft.of.clone_from(point);
                draft.what.clone_from(what);
                draft.value = String::new();
            }
            _ => return Err(complain(words::POINT_WHAT_VALUE)),
        }
        draft.unit = String::new();
        // The mains stands as it was read in a step: another step may have it through something else.
        let is_other = self.step.as_ref().is_some_and(|step| *step != draft.step);
        if self.again && is_other {
            draft.mains_v = String::new();
        }
        let put = |field: &mut String, typed: &Option<String>| {
            if let Some(typed) = typed {
                field.clone_from(typed);
            }
        };
        put(&mut draft.step, &self.step);
        put(&mut draft.state, &self.state);
        put(&mut draft.instrument, &self.with);
        put(&mut draft.range, &self.range);
        put(&mut draft.setup, &self.setup);
        put(&mut draft.mains_v, &self.mains);
        put(&mut draft.limit, &self.limit);
        put(&mut draft.capture, &self.capture);
        put(&mut draft.note, &self.note);
        if let Some(averages) = self.averages {
            draft.averages = averages.to_string();
        }
        if let Some(column) = &self.column {
            draft.setup = with_item(&draft.setup, &format!("column {column}"));
        }
        if self.floor {
            draft.setup = with_item(&draft.setup, "shorted");
        }
        Ok(draft)
    }
}

/// A set-up with one more item.
fn with_item(setup: &str, item: &str) -> String {
    if setup.split(';').any(|known| known.trim() == item) {
        setup.to_owned()
    } else if setup.trim().is_empty() {
        item.to_owned()
    } else {
        format!("{}; {item}", setup.trim())
    }
}

/// The set-up of the last reading, without what it read.
fn again(log: &Log) -> Option<Draft> {
    let last = log.rows.iter().rev().find(|row| ask::is_set_up(row))?;
    let setup: Vec<&str> = last
        .setup
        .words
        .split(';')
        .map(str::trim)
        .filter(|item| *item != "shorted" && !item.starts_with("column "))
        .collect();
    Some(Draft {
        setup: setup.join("; "),
        of: String::new(),
        what: String::new(),
        value: String::new(),
        unit: String::new(),
        limit: String::new(),
        capture: String::new(),
        corrects: String::new(),
        note: String::new(),
        ..last.draft()
    })
}

impl Desk {
    /// How far a row of its step was from the mains that the step is for.
    fn short_of_end(&self, row: &Row) -> Option<bringup::ShortOfEnd> {
        if row.setup.is_shorted {
            return None;
        }
        let step = self.steps.iter().find(|step| step.name == row.step)?;
        bringup::short_of_end(&self.job, step.kind, row.mains_v)
    }

    /// Keeps a checked row and says what it shows; the exit status that it leads to.
    fn keep(&self, checked: &Checked) -> Result<(Row, u8), Complaint> {
        let row = log::keep(&self.job_path, &checked.draft)?;
        // On the disk it is: whatever comes after, that is said.
        say(&quietrail_report::number::spaced(&format!(
            "{}\n",
            words::kept(&row)
        )))?;
        let mut said = String::new();
        let mut status = 0;
        let log = log::read(&self.job_path)?;
        // An oscillator by itself is read in no step of the bring-up.
        let gate = if gate::needs_power(row.what) && !self.is_oscillator(&row.of) {
            Gate::from(&self.bring_up(&log, LOCKS_ALONE)?)
        } else {
            Gate::default()
        };
        let held = gate.held(&row);
        if let Some(held) = &held {
            said.push_str(&format!("! {}\n", words::held(held)));
        }
        let short = self.short_of_end(&row);
        if let Some(short) = short {
            let text = quietrail_report::words::bringup::kept_short_of_end(&row.step, short);
            said.push_str(&format!("! {text}\n"));
        }
        if let Some(one) = gate.regardless(&row) {
            said.push_str(&format!("! {}\n", words::taken_regardless(&one)));
        }
        if let Some(expectation) = &checked.expectation
            && !row.setup.is_shorted
        {
            let error = bringup::error_of(&self.job.instruments, &row);
            let fit = bringup::fit_of(expectation, &row, error);
            said.push_str(&match &checked.taken_for {
                Some(step) => words::predicted(step, expectation, fit, error),
                None => words::against(expectation, fit, error),
            });
            said.push('\n');
            if fit.is_outside() && self.may_be_looked_into(&row) {
                let ask = quietrail_report::words::causes::ask(&row.step);
                said.push_str(&format!("{ask}\n"));
            }
            status = match fit {
                bringup::Fit::Below(_) | bringup::Fit::Above(_) => 1,
                bringup::Fit::Unclear | bringup::Fit::MoreThan => 3,
                bringup::Fit::Fits | bringup::Fit::NotCompared => 0,
            };
        }
        if let Some(outside) = bringup::read_outside(&self.job, &row.of, row.what)
            && let Some(text) = words::read_outside(&row.of, outside)
        {
            said.push_str(&format!("{text}\n"));
        }
        if let Some(listed) = self.listed_instead(&row) {
            said.push_str(&words::listed_instead(&row.step, &listed, row.what));
            said.push('\n');
        }
        if row.what == Observed::Esr
            && let Some(PartKind::Capacitor(one)) = self.job.part(&row.of).map(|part| &part.kind)
        {
            let esr = &one.esr.value;
            said.push_str(&words::esr_beside(&row.of, row.value, (esr.low, esr.high)));
            said.push('\n');
        }
        let judged = self.judged(&row, &log, &gate);
        let lines = self.accepted(&row, &log);
        for (line, shown) in &lines {
            said.push_str(&format!("{line}\n"));
            status = match (shown, status) {
                (Some(Shown::Fails), _) | (_, 1) => 1,
                (Some(Shown::NotShown), _) => 3,
                (Some(Shown::Holds) | None, status) => status,
            };
        }
        let is_judged = !judged.is_empty() || !lines.is_empty();
        if checked.taken_for.is_some() && !is_judged && !row.setup.is_shorted {
            if checked.expectation.is_none() {
                said.push_str(&format!("{}\n", words::NOTHING_PREDICTED));
            }
            said.push_str(&format!("{}\n", self.no_limit(&row)));
        }
        for judged in judged {
            if !judged.judgement.rows.contains(&row.row) {
                said.push_str(&format!("{} ", words::BY_OTHERS));
                said.push_str(&quietrail_report::readings::one(&judged));
                said.push('\n');
                continue;
            }
            said.push_str(&quietrail_report::readings::one(&judged));
            said.push('\n');
            status = match (judged.judgement.shown, status) {
                (Shown::Fails, _) | (_, 1) => 1,
                (Shown::NotShown, _) => 3,
                (Shown::Holds, status) => status,
            };
        }
        if (held.is_some() || short.is_some()) && status == 0 {
            status = 3;
        }
        if !said.is_empty() {
            say(&quietrail_report::number::spaced(&said))?;
        }
        Ok((row, status))
    }

    fn is_oscillator(&self, of: &str) -> bool {
        self.job.oscillators.iter().any(|own| own.name == of)
    }

    /// What the readings of an oscillator come to for the lines of its own data sheet that a row is about, and the verdict of those that
    /// rest on it.
    fn accepted(&self, row: &Row, log: &Log) -> Vec<(String, Option<Shown>)> {
        let mut all = self.job.oscillators.iter();
        let Some(own) = all.find(|own| own.name == row.of) else {
            return Vec::new();
        };
        let of = acceptance::Of {
            name: &own.name,
            hertz: own.frequency.nominal(),
            instruments: &self.job.instruments,
        };
        let what = match row.what {
            Observed::RmsVoltage => Observed::Level,
            what => what,
        };
        let found = accept(own, &log.standing(), &[], &self.job.instruments);
        let is_by_others = |line: &Accepted| {
            let is_alike = !matches!(line.line, Line::PhaseNoise { .. });
            is_alike && !line.rows.is_empty() && read_by_hand(line.line) == Some(what)
        };
        let about = found
            .iter()
            .filter(|line| line.rows.contains(&row.row) || is_by_others(line));
        let told = about.map(|line| {
            let said = acceptance::one(of, line);
            if line.rows.contains(&row.row) {
                // One harmonic of two that are asked for is read as it should be.
                let shown = Some(line.shown).filter(|_| line.why != Why::SecondAndThird);
                (said, shown)
            } else {
                (format!("{} {said}", words::BY_OTHERS), None)
            }
        });
        let told: Vec<(String, Option<Shown>)> = told.collect();
        if told.is_empty() {
            return vec![(words::no_line(&own.name), None)];
        }
        told
    }

    /// Says that no limit is about what was read in that state, and which are about the same point.
    fn no_limit(&self, row: &Row) -> String {
        let about = |limit: &&Limit| words_of(&limit.of) == row.of;
        let others: Vec<(String, What, Vec<String>)> = self
            .job
            .limits
            .iter()
            .filter(about)
            .map(|limit| {
                let states = limit.states.iter();
                let states = states.map(|state| self.job.states[*state].name.clone());
                (limit.name.clone(), limit.what, states.collect())
            })
            .collect();
        let of = (row.of.as_str(), self.job.part(&row.of).is_some());
        words::no_limit(of, row.what, &row.state, &others)
    }

    /// The limits that a row reads, judged with all rows that stand; that row may be none of those that decide.
    fn judged(&self, row: &Row, log: &Log, gate: &Gate) -> Vec<measured::Judged> {
        let limits: Vec<Limited> = Limited::of_job(&self.job)
            .into_iter()
            .filter(|limit| Observed::Statistic(limit.what) == row.what)
            .filter(|limit| limit.state == row.state)
            .filter(|limit| words_of(&limit.of) == row.of)
            .filter(|limit| row.limit.is_empty() || row.limit == limit.name)
            .collect();
        let options = quietrail_study::options();
        let counts = gate.is_whole(row) && !row.setup.is_shorted;
        let mut all = measured::judged(&self.job, &limits, log, gate, &options);
        all.retain(|judged| judged.judgement.rows.contains(&row.row) || counts);
        all
    }

    /// A log without the rows of later steps: they neither lock a step nor open it, and take long to compare.
    fn up_to(&self, log: &Log, step: &str) -> Log {
        let place = |name: &str| self.steps.iter().position(|known| known.name == name);
        let own = place(step);
        let mut cut = log.clone();
        cut.rows.retain(|row| place(&row.step) <= own);
        cut
    }

    /// The bring-up as the log leaves it, one step computed.
    fn bring_up(&self, log: &Log, step: &str) -> Result<BringUp, Complaint> {
        let line = ProgressLine::new();
        line.say(quietrail_report::words::asking::WORKING_OUT);
        let options = quietrail_study::options();
        bringup::bring_up_by(&self.book, &self.job, log, Some(step), &options).map_err(complain)
    }

    /// What a step expects of a point at a mains voltage.
    fn expectation(
        &self,
        step: &str,
        of: &str,
        what: Observed,
        at: bringup::At<'_>,
    ) -> Option<Expectation> {
        let planned = self.steps.iter().find(|known| known.name == step)?;
        let options = quietrail_study::options();
        if matches!(
            planned.kind,
            bringup::Kind::PowerOff | bringup::Kind::Forming
        ) {
            let found = bringup::bring_up(&self.job, &Log::default(), Some(step), &options).ok()?;
            let own = found.steps.into_iter().find(|known| known.name == step)?;
            return own
                .expect
                .into_iter()
                .find(|one| one.of == of && one.what == what);
        }
        let line = ProgressLine::new();
        line.say(quietrail_report::words::asking::WORKING_OUT);
        let (low, high) =
            bringup::band_at((&self.book, &self.job), planned, of, what, at, &options).ok()??;
        // Of what is known inside alone, outside only the upper end.
        let outside = bringup::read_outside(&self.job, of, what);
        Some(Expectation {
            of: of.to_owned(),
            what,
            low: (outside != Some(Outside::Cooler)).then_some(low),
            nominal: None,
            high: Some(high),
            unit: what.kind().symbol(),
            safety: None,
            is_awaited: false,
            beside: Vec::new(),
            readings: Vec::new(),
        })
    }

    /// The step that a row is of: the one that it names, or, where it needs power, the first in which the job is whole.
    fn step_of(&self, draft: &Draft) -> Result<Option<String>, Complaint> {
        if !draft.step.is_empty() {
            return Ok(Some(draft.step.clone()));
        }
        let Ok(row) = draft.row(1) else {
            return Ok(None);
        };
        if !gate::needs_power(row.what) || self.is_oscillator(&row.of) {
            return Ok(None);
        }
        let log = log::read(&self.job_path)?;
        let gate = Gate::from(&self.bring_up(&log, LOCKS_ALONE)?);
        Ok(gate.step_of(&row).map(str::to_owned))
    }

    /// Whether single faults tell what a row of a step with power reads.
    fn may_be_looked_into(&self, row: &Row) -> bool {
        let step = self.steps.iter().find(|step| step.name == row.step);
        step.is_some_and(|step| step.kind.is_powered())
            && bringup::is_told_by_faults(row.what)
            && self.lists(&row.step, &row.of, row.what)
    }

    /// Whether a step lists a point.
    fn lists(&self, step: &str, of: &str, what: Observed) -> bool {
        let Some(own) = self.steps.iter().find(|known| known.name == step) else {
            return false;
        };
        let is_own = |point: &bringup::Point| point.of == of && point.what == what;
        own.kind == bringup::Kind::PowerOff || own.points.iter().any(is_own)
    }

    /// The name under which a step waits for the rail of a point that it does not list: the same node against another return.
    fn listed_instead(&self, row: &Row) -> Option<String> {
        let own = self.steps.iter().find(|known| known.name == row.step)?;
        if self.lists(&row.step, &row.of, row.what) {
            return None;
        }
        let plus = |of: &str| of.split(',').next().unwrap_or_default().to_owned();
        let is_rail = |point: &&bringup::Point| {
            point.is_awaited && point.what == row.what && plus(&point.of) == plus(&row.of)
        };
        own.points
            .iter()
            .find(is_rail)
            .map(|point| point.of.clone())
    }

    fn capture_is_there(&self, name: &str) -> bool {
        self.job_path.with_file_name(name).is_file() || Path::new(name).is_absolute()
    }
}

/// Refuses to ask for the rows of a step that is still locked: nobody is led through it. A value that is typed is kept all the same.
fn refuse_locked(desk: &Desk, step: &str) -> Result<(), Complaint> {
    if desk.steps.first().is_some_and(|first| first.name == step) {
        return Ok(());
    }
    let log = desk.up_to(&log::read(&desk.job_path)?, step);
    let found = desk.bring_up(&log, LOCKS_ALONE)?;
    let own = found.steps.iter().find(|known| known.name == step);
    match own.filter(|own| !own.is_open()) {
        Some(own) => Err(complain(quietrail_report::number::spaced(
            &step_words::refused(step, &own.locked_by),
        ))),
        None => Ok(()),
    }
}
