//! A reading that was typed, or the reason for going on regardless: checked, and into the log.
//!
//! A page whose step came to be locked meanwhile loses nothing either: the reading is kept, and decides nothing.

use super::{Refusal, page};
use crate::log;
use crate::sheet::Sheet;
use crate::views::Answer;
use crate::words;
use quietrail_bench::log::{Draft, Observed};
use quietrail_report::words::{bringup as said, readings};
use quietrail_study::bringup::{function_of, is_impossible, is_other_mains, meant, misfit};

/// Keeps a reading, or the reason for going on regardless.
pub(super) fn act(sheet: &Sheet<'_>, pairs: &[(String, String)]) -> Answer {
    let get = |name: &str| field(pairs, name);
    match keep(sheet, pairs) {
        Ok(()) => {
            let asked = sheet.asked.with(|asked| {
                asked.more.clear();
                asked.more.insert("step".to_owned(), get("step").to_owned());
                // On to the next point, past those that were left for later.
                if get("because").is_empty() && get("point").bytes().all(|b| b.is_ascii_digit()) {
                    asked
                        .more
                        .insert("after".to_owned(), get("point").to_owned());
                }
            });
            // At the field, the stop rule just above it: nobody scrolls with a probe in the hand.
            Answer::Go(format!("{}#now", asked.href("bench")))
        }
        Err(NotKept { said, may_keep }) => {
            let refusal = Refusal {
                said,
                typed: get("typed").to_owned(),
                may_keep,
            };
            Answer::Page(422, page(sheet, Some(&refusal)))
        }
    }
}

/// What a field of a form holds.
fn field<'a>(pairs: &'a [(String, String)], name: &str) -> &'a str {
    let found = pairs.iter().rev().find(|(key, _)| key == name);
    found.map_or("", |(_, value)| value.trim())
}

/// Why a reading is not kept, and whether it would be if the person says so again.
struct NotKept {
    said: String,
    may_keep: bool,
}

impl From<String> for NotKept {
    fn from(said: String) -> Self {
        Self {
            said,
            may_keep: false,
        }
    }
}

impl From<&str> for NotKept {
    fn from(said: &str) -> Self {
        said.to_owned().into()
    }
}

fn keep(sheet: &Sheet<'_>, pairs: &[(String, String)]) -> Result<(), NotKept> {
    let get = |name: &str| field(pairs, name);
    let job = sheet.version.job.as_deref().ok_or(words::NO_BENCH)?;
    let log = sheet.desk.folder.log().map_err(|error| error.to_string())?;
    let name = get("step");
    let found = crate::readings::of_step(sheet.desk, &sheet.version.sum, job, &log, name)
        .ok_or(words::NO_BENCH)?;
    let step = found
        .steps
        .iter()
        .find(|step| step.name == name)
        .ok_or(words::NO_BENCH)?;
    let mut draft = Draft {
        time: log::now(),
        step: name.to_owned(),
        state: step.state.clone(),
        ..Draft::default()
    };
    let reason = get("because");
    if !reason.is_empty() {
        if reason.len() < 8 {
            return Err(readings::NO_REASON.into());
        }
        draft.of = name.to_owned();
        draft.what = Observed::Override.word().to_owned();
        draft.value = "1".to_owned();
        draft.note = reason.to_owned();
        return Ok(sheet.desk.folder.keep(&draft)?);
    }
    let index = get("point").parse::<usize>().ok();
    let one = index
        .and_then(|index| step.expect.get(index))
        .ok_or(words::NO_BENCH)?;
    draft.of.clone_from(&one.of);
    draft.what = one.what.word().to_owned();
    let typed = get("typed");
    if one.what == Observed::Check {
        draft.value = typed.to_owned();
        return Ok(sheet.desk.folder.keep(&draft)?);
    }
    draft.instrument = get("with").to_owned();
    draft.setup = get("setup").to_owned();
    draft.mains_v = get("at").trim_end_matches(['V', ' ']).to_owned();
    if draft.instrument.is_empty() || draft.setup.is_empty() {
        return Err(words::bench::NO_SETUP.into());
    }
    draft.range = get("range").to_owned();
    draft.averages = get("averages").to_owned();
    let instrument = job
        .instruments
        .iter()
        .find(|own| own.name == draft.instrument);
    let function = instrument.and_then(|own| function_of(own, one.what));
    if !draft.range.is_empty() && function.is_none_or(|own| own.range_named(&draft.range).is_none())
    {
        return Err(words::bench::not_its_range(&draft.instrument, &draft.range).into());
    }
    let is_floor = get("floor") == "1";
    if is_floor {
        draft.setup.push_str("; shorted");
    }
    // More than the instrument shows: the value is the end of what it shows, and the note says so.
    let beyond = typed.strip_prefix(['>', '≥']).map(str::trim);
    let is_of_path = matches!(one.what, Observed::Resistance | Observed::Insulation);
    let typed = match beyond.filter(|_| is_of_path) {
        Some(rest) => {
            readings::MORE_THAN.clone_into(&mut draft.note);
            rest
        }
        None => typed,
    };
    let is_bare = typed.ends_with(|c: char| c.is_ascii_digit());
    let whole = if is_bare {
        format!("{typed} {}", said::typed_unit(one))
    } else {
        typed.to_owned()
    };
    let end = whole
        .rfind(|c: char| c.is_ascii_digit())
        .map_or(0, |last| last + 1);
    let (value, unit) = whole.split_at(end);
    draft.value = value.trim().to_owned();
    draft.unit = unit.trim().to_owned();
    let row = draft.row(1).map_err(|fault| readings::fault(&fault))?;
    if get("as_typed") != "1" {
        let own = &job.mains.voltage.value;
        let other = row
            .mains_v
            .filter(|volts| is_other_mains(job, step.through, *volts));
        let asked = if is_impossible(one.what, row.value) {
            Some(readings::impossible(&whole))
        } else if let Some(volts) = other {
            Some(words::bench::other_mains(volts, own.low, own.high))
        } else {
            misfit(&job.instruments, &row).map(|misfit| {
                let unit = one.what.kind().symbol();
                let why = readings::misfit(misfit, &whole, &row.instrument, &row.range, unit);
                format!("{why}: {}", words::bench::RANGE_ANEW)
            })
        };
        if let Some(said) = asked {
            let may_keep = true;
            return Err(NotKept { said, may_keep });
        }
    }
    if get("as_typed") != "1"
        && !is_floor
        && let Some(meant) = meant(one, row.value)
    {
        return Err(NotKept {
            said: words::bench::did_you_mean(&whole, meant, one),
            may_keep: true,
        });
    }
    Ok(sheet.desk.folder.keep(&draft)?)
}
