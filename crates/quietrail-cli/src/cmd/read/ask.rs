//! The interactive mode: the rows of a step one after the other.
//!
//! A value is kept and judged; Enter alone goes on to the next row; `s` changes the set-up, `q` ends. Where the set-up is
//! asked, Enter repeats the last one for such a row; the mains is asked anew in each step. A range that does not hold the value is asked anew.

use super::{Desk, Read, again, check};
use crate::shell::{Complaint, complain};
use quietrail_bench::log::{Draft, Log, Observed, Row};
use quietrail_job::model::What;
use quietrail_report::words::{asking, bringup as step_words, readings as words};
use quietrail_study::bringup::{
    self, Expectation, function_of, is_apt_range, is_of_alternating_part, offered, suited, suits,
};
use quietrail_web::now;
use std::collections::BTreeMap;
use std::io::{self, BufRead, Write};

/// Asks for the readings of a step; the worst exit status among them.
pub(super) fn run(desk: &Desk, log: &Log, asked: &Read) -> Result<u8, Complaint> {
    let mut input = io::stdin().lock();
    let mut log = log.clone();
    let last = again(&log);
    let default_step = asked
        .step
        .clone()
        .or_else(|| {
            last.as_ref()
                .map(|draft| draft.step.clone())
                .filter(|step| !step.is_empty())
        })
        .unwrap_or_else(|| desk.steps[0].name.clone());
    let step = match &asked.step {
        Some(step) => check::step(desk, step)?,
        None => loop {
            let Some(typed) = line(&mut input, &asking::ask_step(&default_step))? else {
                return Ok(0);
            };
            let typed = if typed.is_empty() {
                default_step.clone()
            } else {
                typed
            };
            match check::step(desk, &typed) {
                Ok(step) => break step,
                Err(complaint) => eprint!("{complaint}"),
            }
        },
    };
    super::refuse_locked(desk, &step)?;
    let found = desk.bring_up(&desk.up_to(&log, &step), &step)?;
    let Some(own) = found.steps.into_iter().find(|known| known.name == step) else {
        return Ok(0);
    };
    let mut status = 0;
    // The set-up of each sort of row, once it is said.
    let mut setups: BTreeMap<Sort, Draft> = BTreeMap::new();
    let mut is_refused = false;
    let mut index = 0;
    while let Some(expectation) = own.expect.get(index) {
        let needs_setup = !matches!(expectation.what, Observed::Check | Observed::Override);
        let sort = Sort::of(expectation.what);
        // Of two rows of a sort one instrument may read but one.
        let serves = |setup: &Draft| suits_row(desk, &setup.instrument, expectation);
        if needs_setup && !setups.get(&sort).is_some_and(serves) {
            // The row first: which instrument is wanted depends on it.
            let apt = offered(&desk.job.instruments, expectation).into_iter();
            let apt: Vec<&str> = apt.map(|one| one.name.as_str()).collect();
            if apt.is_empty() {
                println(&words::nobody_reads(expectation))?;
                index += 1;
                continue;
            }
            let suited = suited(&desk.job.instruments, expectation);
            let suited = suited.map(|one| one.name.as_str());
            println(&asking::row(expectation))?;
            let last = last_for(desk, &log, expectation, &step);
            let asks_mains = own.kind.is_powered();
            let known = (last.as_ref(), apt.as_slice(), suited);
            match ask_setup(&mut input, known, (asked, asks_mains))? {
                Answered::SetUp(made) => setups.insert(sort, *made),
                Answered::NotNow => {
                    index += 1;
                    continue;
                }
                Answered::Nothing => return Ok(status),
            };
        }
        let Some(typed) = line(&mut input, &asking::ask_value(expectation))? else {
            // Nobody is left to answer again.
            return Ok(if is_refused {
                crate::shell::UNREADABLE
            } else {
                status
            });
        };
        is_refused = false;
        match typed.as_str() {
            "" => index += 1,
            "q" => return Ok(status),
            "s" => {
                setups.remove(&sort);
            }
            value => {
                let mut draft = row(&step, expectation, value, setups.get(&sort));
                if let Some(why) = misfit(desk, &draft).filter(|_| !asked.as_typed) {
                    eprint!("{}", complain(why));
                    let Some(range) = line(&mut input, words::ASK_RANGE_ANEW)? else {
                        return Ok(crate::shell::UNREADABLE);
                    };
                    draft.range.clone_from(&range);
                    if let Some(setup) = setups.get_mut(&sort) {
                        setup.range = range;
                    }
                }
                match check::check(desk, draft, asked.as_typed).and_then(|one| desk.keep(&one)) {
                    Ok((row, of_row)) => {
                        status = worse(status, of_row);
                        log.rows.push(row);
                        index += 1;
                    }
                    // Nothing was kept: the same row is asked again.
                    Err(complaint) => {
                        eprint!("{complaint}");
                        is_refused = true;
                    }
                }
            }
        }
    }
    Ok(status)
}

/// The last set-up of an instrument that suits the row, its range only where it is one for it; the mains with it only where that was read in the same step, since another
/// step may have it through something else.
fn last_for(desk: &Desk, log: &Log, one: &Expectation, step: &str) -> Option<Draft> {
    let is_such = |row: &Row| {
        is_set_up(row)
            && Sort::of(row.what) == Sort::of(one.what)
            && suits_row(desk, &row.instrument, one)
    };
    let at = log.rows.iter().rposition(is_such)?;
    let mut cut = log.clone();
    cut.rows.truncate(at + 1);
    let mut last = again(&cut)?;
    if last.step != step {
        last.mains_v = String::new();
    }
    let own = desk.job.instruments.iter();
    let mut own = own.filter(|known| known.name == last.instrument);
    if !own.any(|known| is_apt_range(known, one, &last.range)) {
        last.range = String::new();
    }
    Some(last)
}

/// Whether an instrument of that name is on the bench and suits a row.
fn suits_row(desk: &Desk, instrument: &str, expectation: &Expectation) -> bool {
    let mut own = desk.job.instruments.iter();
    own.any(|one| one.name == instrument && suits(one, expectation))
}

/// Rows that one set-up serves: what tests insulation is not what reads a few ohms, and an oscilloscope is no voltmeter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Sort {
    Insulation,
    Alternating,
    Current,
    Temperature,
    Ohms,
    Other,
}

impl Sort {
    fn of(what: Observed) -> Self {
        match what {
            Observed::Insulation => Self::Insulation,
            Observed::Resistance | Observed::Esr | Observed::Capacitance => Self::Ohms,
            Observed::WarmUpCurrent => Self::Current,
            Observed::Statistic(What::Current | What::RmsCurrent | What::PeakCurrent) => {
                Self::Current
            }
            Observed::Statistic(What::Temperature) => Self::Temperature,
            what if is_of_alternating_part(what) => Self::Alternating,
            _ => Self::Other,
        }
    }
}

/// Whether a row says how it was read.
pub(super) fn is_set_up(row: &Row) -> bool {
    !matches!(row.what, Observed::Override | Observed::Check)
}

/// Why the range of the set-up is not that of the reading: it is of another function, or the value does not fit it.
fn misfit(desk: &Desk, draft: &Draft) -> Option<String> {
    let checked = check::split(draft)?;
    let row = checked.row(1).ok()?;
    let instrument = desk
        .job
        .instruments
        .iter()
        .find(|one| one.name == row.instrument)?;
    let function = function_of(instrument, row.what)?;
    let typed = format!("{} {}", checked.value, checked.unit);
    if !row.range.is_empty() && function.range_named(&row.range).is_none() {
        return Some(words::not_its_range(&row.instrument, &row.range, row.what));
    }
    let found = bringup::misfit(&desk.job.instruments, &row)?;
    let unit = row.what.kind().symbol();
    let said = words::misfit(found, &typed, &row.instrument, &row.range, unit);
    Some(quietrail_report::number::spaced(&said))
}

fn worse(one: u8, other: u8) -> u8 {
    match (one, other) {
        (1, _) | (_, 1) => 1,
        (3, _) | (_, 3) => 3,
        _ => 0,
    }
}

fn row(step: &str, expectation: &Expectation, value: &str, setup: Option<&Draft>) -> Draft {
    // A number alone is in the unit of the row; a safety row takes none.
    let is_bare = value.ends_with(|c: char| c.is_ascii_digit()) && expectation.safety.is_none();
    let value = if is_bare && expectation.what != Observed::Check {
        format!("{value} {}", step_words::typed_unit(expectation))
    } else {
        value.to_owned()
    };
    Draft {
        time: now(),
        step: step.to_owned(),
        of: expectation.of.clone(),
        what: expectation.what.word().to_owned(),
        value,
        unit: String::new(),
        limit: String::new(),
        state: String::new(),
        corrects: String::new(),
        capture: String::new(),
        note: String::new(),
        ..setup.cloned().unwrap_or_default()
    }
}

/// What came of asking for a set-up.
enum Answered {
    SetUp(Box<Draft>),
    /// The row is left for later.
    NotNow,
    /// The input has ended.
    Nothing,
}

/// Instrument, range, set-up and mains.
fn ask_setup(
    input: &mut impl BufRead,
    (last, apt, suited): (Option<&Draft>, &[&str], Option<&str>),
    (asked, asks_mains): (&Read, bool),
) -> Result<Answered, Complaint> {
    let mut draft = last.cloned().unwrap_or_default();
    if let Some(last) = last.filter(|last| !last.instrument.is_empty()) {
        let Some(typed) = line(input, &asking::ask_again(last))? else {
            return Ok(Answered::Nothing);
        };
        if typed.is_empty() {
            if asks_mains && last.mains_v.is_empty() {
                match line(input, words::ASK_MAINS)? {
                    Some(typed) => draft.mains_v = typed,
                    None => return Ok(Answered::Nothing),
                }
            }
            return Ok(Answered::SetUp(Box::new(draft)));
        }
        draft.instrument = typed;
    } else {
        match &asked.with {
            Some(name) if apt.contains(&name.as_str()) => draft.instrument.clone_from(name),
            _ => match line(input, &words::ask_instrument(apt, suited))? {
                Some(typed) if typed.is_empty() => return Ok(Answered::NotNow),
                Some(typed) => draft.instrument = typed,
                None => return Ok(Answered::Nothing),
            },
        }
    }
    let all = [
        (words::ASK_RANGE, &mut draft.range),
        (words::ASK_SETUP, &mut draft.setup),
        (words::ASK_MAINS, &mut draft.mains_v),
    ];
    for (question, field) in all.into_iter().take(if asks_mains { 3 } else { 2 }) {
        match line(input, question)? {
            Some(typed) => *field = typed,
            None => return Ok(Answered::Nothing),
        }
    }
    Ok(Answered::SetUp(Box::new(draft)))
}

/// A line of its own.
fn println(text: &str) -> Result<(), Complaint> {
    crate::shell::say(&format!("{}\n", quietrail_report::number::spaced(text)))
}

/// One line of the input after a question; `None` at its end.
fn line(input: &mut impl BufRead, question: &str) -> Result<Option<String>, Complaint> {
    let broken = |error: io::Error| complain(format_args!("standard input: {error}"));
    let mut output = io::stdout().lock();
    let asked = quietrail_report::number::spaced(question);
    write!(output, "{asked} ")
        .and_then(|()| output.flush())
        .map_err(|error| complain(format_args!("standard output: {error}")))?;
    let mut typed = String::new();
    if input.read_line(&mut typed).map_err(broken)? == 0 {
        let _ = writeln!(output);
        return Ok(None);
    }
    Ok(Some(typed.trim().to_owned()))
}
