//! A reading that was typed, or the reason for going on regardless: checked, and into the log.
//!
//! A page whose step came to be locked meanwhile loses nothing either: the reading is kept, and decides nothing.

use super::{Refusal, capture, page};
use crate::log;
use crate::server::UPLOADED;
use crate::sheet::Sheet;
use crate::upload::{Upload, file_name};
use crate::views::Answer;
use crate::words;
use quietrail_bench::capture::text_of;
use quietrail_bench::judge::is_alternating;
use quietrail_bench::log::{Draft, MORE_THAN, Observed};
use quietrail_job::apart;
use quietrail_job::model::{Job, Part, PartKind, What};
use quietrail_report::words::{bringup as said, readings};
use quietrail_study::bringup::{
    Expectation, Step, end_shown, function_of, is_impossible, is_level_instead, is_of_path,
    is_other_mains, is_overload, meant, misfit,
};
use std::sync::Arc;

/// Keeps a reading, or the reason for going on regardless.
pub(super) fn act(sheet: &Sheet<'_>, pairs: &[(String, String)]) -> Answer {
    let get = |name: &str| field(pairs, name);
    let is_there = |name: &str| pairs.iter().any(|(key, _)| key == name);
    // A file that was just sent is looked at first.
    if !["setup", "typed", "because"].into_iter().any(is_there) {
        return look(sheet, get);
    }
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
            Answer::Go(format!("{}#typed", asked.href("bench")))
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

/// Shows a file that was sent.
fn look<'a>(sheet: &Sheet<'_>, get: impl Fn(&str) -> &'a str) -> Answer {
    if get(UPLOADED).is_empty() {
        let refusal = Refusal {
            said: words::bench::NO_FILE.to_owned(),
            typed: String::new(),
            may_keep: false,
        };
        return Answer::Page(422, page(sheet, Some(&refusal)));
    }
    let asked = sheet.asked.with(|asked| {
        asked.more.clear();
        for name in ["step", "point", UPLOADED] {
            asked.more.insert(name.to_owned(), get(name).to_owned());
        }
    });
    Answer::Go(format!("{}#now", asked.href("bench")))
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
    let shown;
    let typed = if is_overload(typed) {
        let end = end_shown(&job.instruments, &draft.instrument, one.what, &draft.range);
        shown = match end.filter(|_| is_of_path(one.what)) {
            Some(end) => format!("> {}", quietrail_report::number::written(end, one.unit)),
            None if is_of_path(one.what) => return Err(readings::overload_of_path(typed).into()),
            None => return Err(readings::overload(typed, one.what).into()),
        };
        shown.as_str()
    } else {
        typed
    };
    // More than the instrument shows: the value is the end of what it shows, and the note says so.
    let beyond = typed.strip_prefix(['>', '≥']).map(str::trim);
    let typed = match beyond.filter(|_| is_of_path(one.what)) {
        Some(rest) => {
            MORE_THAN.clone_into(&mut draft.note);
            rest
        }
        None => typed,
    };
    let mut held: Option<Arc<Upload>> = None;
    let whole = if get(UPLOADED).is_empty() {
        let is_bare = typed.ends_with(|c: char| c.is_ascii_digit());
        if is_bare && one.safety.is_some() {
            return Err(words::bench::bare(typed, one.what, one.unit).into());
        }
        let whole = if is_bare {
            format!("{typed} {}", said::typed_unit(one))
        } else {
            let bare = one.what.without_word(typed);
            bare.map_err(|word| readings::other_word(typed, word, one.what))?
                .to_owned()
        };
        (draft.value, draft.unit) =
            apart(one.what.kind(), whole.trim()).map_err(|error| error.to_string())?;
        whole
    } else {
        let upload = sheet.desk.uploads.get(get(UPLOADED));
        let upload = upload.ok_or(words::bench::NO_LONGER_HELD)?;
        let column = Some(get("column")).filter(|column| !column.is_empty());
        let seen = capture::seen(job, &text_of(&upload.bytes), column)?;
        if get("keep") == "esr" {
            return keep_esr(sheet, job, draft, pairs, &upload, &seen);
        }
        if let Some(said) = seen.doubt(one.what).filter(|_| get("as_typed") != "1") {
            let may_keep = true;
            return Err(NotKept { said, may_keep });
        }
        let (value, unit) = seen.value(one.what)?;
        draft.value = format!("{value:e}");
        draft.unit = unit.to_owned();
        if let Some(column) = column.filter(|_| seen.has_columns()) {
            draft.setup.push_str(&format!("; column {column}"));
        }
        held = Some(upload);
        quietrail_report::number::si(value, unit, 4)
    };
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
        && let Some(level) = level_beside(step, one)
        && is_level_instead(one, level, row.value)
    {
        let said = readings::level_instead(&whole, one, level);
        let may_keep = true;
        return Err(NotKept { said, may_keep });
    }
    if get("as_typed") != "1"
        && !is_floor
        && let Some(meant) = meant(one, row.value)
    {
        let is_turned = held.is_some() && meant * row.value < 0.0;
        let said = if is_turned {
            readings::upside_down(&whole, one)
        } else {
            words::bench::did_you_mean(&whole, meant, one)
        };
        let may_keep = true;
        return Err(NotKept { said, may_keep });
    }
    if let Some(upload) = held {
        // The file first: a row names nothing that is not there.
        let name = file_name(&upload.name);
        draft.capture = sheet.desk.folder.keep_capture(&name, &upload.bytes)?;
    }
    Ok(sheet.desk.folder.keep(&draft)?)
}

/// What the level of a point should read, beside what is read of its alternating part.
fn level_beside<'a>(step: &'a Step, one: &Expectation) -> Option<&'a Expectation> {
    let Observed::Statistic(what) = one.what else {
        return None;
    };
    let mut all = step.expect.iter();
    let mean = Observed::Statistic(What::Mean);
    all.find(|own| own.of == one.of && own.what == mean)
        .filter(|_| is_alternating(what))
}

/// Keeps the series resistance that a capture gives, with its file, as a row of the capacitor's own.
fn keep_esr(
    sheet: &Sheet<'_>,
    job: &Job,
    mut draft: Draft,
    pairs: &[(String, String)],
    upload: &Upload,
    seen: &capture::Seen,
) -> Result<(), NotKept> {
    let name = field(pairs, "esr_of");
    let is_capacitor = |part: &Part| matches!(part.kind, PartKind::Capacitor(_));
    if !job.part(name).is_some_and(is_capacitor) {
        return Err(words::bench::NO_CAPACITOR.into());
    }
    let odd = seen.doubt(Observed::Esr);
    if let Some(said) = odd.filter(|_| field(pairs, "as_typed") != "1") {
        let may_keep = true;
        return Err(NotKept { said, may_keep });
    }
    let (ohms, amps) = seen.esr(field(pairs, "amps"))?;
    name.clone_into(&mut draft.of);
    Observed::Esr.word().clone_into(&mut draft.what);
    draft.value = format!("{ohms:e}");
    Observed::Esr.kind().symbol().clone_into(&mut draft.unit);
    // Another function of the instrument than that of the row in hand.
    draft.range = String::new();
    draft.note = readings::esr_of(seen.step(), amps, ohms);
    if let Some(column) =
        Some(field(pairs, "column")).filter(|column| !column.is_empty() && seen.has_columns())
    {
        draft.setup.push_str(&format!("; column {column}"));
    }
    draft.row(1).map_err(|fault| readings::fault(&fault))?;
    draft.capture = sheet
        .desk
        .folder
        .keep_capture(&file_name(&upload.name), &upload.bytes)?;
    Ok(sheet.desk.folder.keep(&draft)?)
}
