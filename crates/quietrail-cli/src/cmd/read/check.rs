//! A draft of a row against the job: every name known, the unit right, the size believable, the set-up there.

use super::Desk;
use crate::cmd::named::unknown;
use crate::shell::{Complaint, complain};
use quietrail_bench::accept::{is_above_carrier, misplaced};
use quietrail_bench::log::{Draft, MORE_THAN, Observed, SetUp, words_of};
use quietrail_job::model::{Detector, Function, Limit, Subject, What};
use quietrail_job::{apart, interval};
use quietrail_report::number;
use quietrail_report::words::{bringup as sheet, readings as words};
use quietrail_study::bringup::{
    self, At, Expectation, Planned, ammeter_of, end_shown, function_of, is_of_path, is_overload,
    meant, reads,
};
use quietrail_units::Kind;

/// A draft that may be kept, and what its step expects.
pub(super) struct Checked {
    pub(super) draft: Draft,
    pub(super) expectation: Option<Expectation>,
    /// The step that it was taken for, where the row names none or the step does not list its point.
    pub(super) taken_for: Option<String>,
}

/// Checks a draft. Nothing is written yet.
pub(super) fn check(desk: &Desk, mut draft: Draft, as_typed: bool) -> Result<Checked, Complaint> {
    let what = observed(&draft.what)?;
    what.word().clone_into(&mut draft.what);
    if !draft.step.is_empty() {
        draft.step = step(desk, &draft.step)?;
    }
    draft.of = point(desk, &draft.step, &draft.of, what)?;
    draft.state = state(desk, &draft)?;
    overload(desk, &mut draft, what)?;
    let value = value(&mut draft, what)?;
    if !draft.mains_v.is_empty() {
        draft.mains_v = mains(&draft.mains_v)?;
        if !as_typed {
            mains_of_job(desk, &draft)?;
        }
    }
    set_up(desk, &draft, what)?;
    if !as_typed {
        let row = draft
            .row(1)
            .map_err(|fault| complain(words::fault(&fault)))?;
        let typed = format!("{} {}", draft.value, draft.unit);
        if bringup::is_impossible(what, value) {
            return Err(complain(words::impossible(&typed)));
        }
        if let Some(misfit) = bringup::misfit(&desk.job.instruments, &row) {
            let unit = what.kind().symbol();
            let said = words::misfit(misfit, &typed, &draft.instrument, &draft.range, unit);
            let said = quietrail_report::number::spaced(&said);
            return Err(complain(format_args!("{said}; {}", words::RANGE_ANEW)));
        }
    }
    if !draft.limit.is_empty() {
        limit(desk, &draft, what)?;
    }
    if !draft.capture.is_empty() && !desk.capture_is_there(&draft.capture) {
        return Err(complain(words::no_capture(&draft.capture)));
    }
    let setup = SetUp::of(&draft.setup);
    if !as_typed && is_above_carrier(what, value) {
        let said = words::above_carrier(&format!("{} {}", draft.value, draft.unit));
        return Err(complain(format_args!("{said} {}", words::AS_TYPED)));
    }
    if !as_typed {
        place_in_spectrum(desk, &draft.of, what, &setup)?;
    }
    let ammeter = ammeter(desk, &setup)?;
    let at = At {
        mains: draft.mains_v.parse().ok(),
        instrument: Some(draft.instrument.as_str()).filter(|name| !name.is_empty()),
        ammeter: ammeter.as_ref().map(|(part, ohms)| (part.as_str(), *ohms)),
        through: setup.through.as_deref(),
    };
    let is_floor = setup.is_shorted;
    let step = desk.step_of(&draft)?;
    let expectation = step
        .as_deref()
        .filter(|_| !is_floor)
        .and_then(|step| desk.expectation(step, &draft.of, what, at));
    let mean = Observed::Statistic(What::Mean);
    let level = step
        .as_deref()
        .filter(|_| is_alternating(what) && !as_typed && !is_floor)
        .and_then(|step| desk.expectation(step, &draft.of, mean, at));
    let taken_for = step.filter(|step| !desk.lists(step, &draft.of, what) || draft.step.is_empty());
    if let (Some(expectation), Some(level)) = (&expectation, &level)
        && bringup::is_level_instead(expectation, level, value)
    {
        let typed = format!("{} {}", draft.value, draft.unit);
        let said = words::level_instead(&typed, expectation, level);
        return Err(complain(format_args!("{said} {}", words::AS_TYPED)));
    }
    if let Some(expectation) = expectation.as_ref().filter(|_| !as_typed && !is_floor)
        && let Some(meant) = meant(expectation, value)
    {
        if !draft.capture.is_empty() {
            return Err(of_capture(value, meant, expectation));
        }
        let typed = format!("{} {}", draft.value, draft.unit);
        return Err(complain(words::did_you_mean(&typed, meant, expectation)));
    }
    if draft.step.is_empty() && !as_typed && !is_floor {
        far_from_limit(desk, &draft, what, value)?;
    }
    Ok(Checked {
        draft,
        expectation,
        taken_for,
    })
}

/// What a capture was asked about that reads far from what is expected.
fn of_capture(value: f64, meant: f64, expectation: &Expectation) -> Complaint {
    let read = quietrail_report::number::si(value, expectation.unit, 4);
    if meant * value < 0.0 {
        let said = words::upside_down(&read, expectation);
        return complain(format_args!("{said} {}", words::AS_TYPED));
    }
    complain(words::did_you_mean(&read, meant, expectation))
}

/// Refuses a harmonic that is at no multiple of the carrier, and phase noise that is told by its distance.
fn place_in_spectrum(
    desk: &Desk,
    of: &str,
    what: Observed,
    setup: &SetUp,
) -> Result<(), Complaint> {
    let mut all = desk.job.oscillators.iter();
    let (Some(own), Some(at)) = (all.find(|own| own.name == of), setup.at) else {
        return Ok(());
    };
    let carrier = own.frequency.nominal();
    let Some(odd) = misplaced(what, at, carrier) else {
        return Ok(());
    };
    let said = quietrail_report::number::spaced(&words::misplaced(odd, at, carrier));
    Err(complain(format_args!("{said}; {}", words::AS_TYPED)))
}

/// Whether a row reads what alternates, which a meter left on direct volts does not show.
fn is_alternating(what: Observed) -> bool {
    matches!(what, Observed::Statistic(what) if quietrail_bench::judge::is_alternating(what))
}

/// Refuses a value that is far outside the limit that it reads, where a thousand times more or less of it is not.
fn far_from_limit(desk: &Desk, draft: &Draft, what: Observed, value: f64) -> Result<(), Complaint> {
    let is_read =
        |limit: &&Limit| Observed::Statistic(limit.what) == what && words_of(&limit.of) == draft.of;
    let own: Vec<&Limit> = desk.job.limits.iter().filter(is_read).collect();
    let ends = |pick: fn(&Limit) -> Option<f64>| own.iter().find_map(|limit| pick(limit));
    let (min, max) = (ends(|limit| limit.min), ends(|limit| limit.max));
    match bringup::meant_by_limit(min, max, value) {
        Some(meant) => {
            let typed = format!("{} {}", draft.value, draft.unit);
            let of_limit = Expectation {
                of: draft.of.clone(),
                what,
                low: min,
                nominal: None,
                high: max,
                unit: what.kind().symbol(),
                safety: None,
                is_awaited: false,
                beside: Vec::new(),
                readings: Vec::new(),
            };
            Err(complain(words::did_you_mean(&typed, meant, &of_limit)))
        }
        None => Ok(()),
    }
}

/// An ammeter that stays in the circuit, by the part that it is in series with.
fn ammeter(desk: &Desk, setup: &SetUp) -> Result<Option<(String, f64)>, Complaint> {
    let Some((name, part)) = &setup.ammeter else {
        return Ok(None);
    };
    let known: Vec<&str> = desk
        .job
        .instruments
        .iter()
        .map(|instrument| instrument.name.as_str())
        .collect();
    if !known.contains(&name.as_str()) {
        return Err(unknown("instrument", name, &known));
    }
    if desk.job.part(part).is_none() {
        let parts: Vec<&str> = desk
            .job
            .parts
            .iter()
            .map(|part| part.name.as_str())
            .collect();
        return Err(unknown("part", part, &parts));
    }
    let reads = [What::Current, What::RmsCurrent];
    let ohms = reads
        .into_iter()
        .find_map(|what| ammeter_of(&desk.job, what, Some(name)))
        .map(|(_, ohms)| ohms);
    match ohms {
        Some(ohms) => Ok(Some((part.clone(), ohms))),
        None => Err(complain(words::no_burden(name))),
    }
}

fn observed(word: &str) -> Result<Observed, Complaint> {
    // The words of the log, or those of the sheet of the bring-up.
    let on_the_sheet = || {
        let statistics = What::ALL.into_iter().map(Observed::Statistic);
        let mut all = statistics.chain(Observed::OTHERS);
        all.find(|one| sheet::observed(*one) == word)
    };
    let ohms = || (word == "ohms").then_some(Observed::Resistance);
    Observed::named(word)
        .or_else(on_the_sheet)
        .or_else(ohms)
        .ok_or_else(|| {
            let all: Vec<&str> = Observed::words().collect();
            unknown("statistic", word, &all)
        })
}

/// The step of that name.
pub(super) fn step(desk: &Desk, name: &str) -> Result<String, Complaint> {
    let known: Vec<&str> = desk.steps.iter().map(|step| step.name.as_str()).collect();
    if known.contains(&name) {
        return Ok(name.to_owned());
    }
    // The sheet counts them: `Step 5 of 12`.
    let number = name.trim().parse::<usize>().ok();
    let counted = number.and_then(|number| known.get(number.checked_sub(1)?));
    if let Some(counted) = counted {
        return Ok((*counted).to_owned());
    }
    Err(unknown("step", name, &known))
}

fn point(desk: &Desk, step: &str, of: &str, what: Observed) -> Result<String, Complaint> {
    let squeezed = match of.split_once(',') {
        Some((plus, minus)) => format!("{},{}", plus.trim(), minus.trim()),
        None => of.trim().to_owned(),
    };
    let known = points(desk, step);
    // Names of rows may have a comma of their own.
    if let Some(own) = known.iter().find(|name| *name == of.trim()) {
        return Ok(own.clone());
    }
    let is_known = |name: &str| known.iter().any(|one| one == name);
    let is_pair = squeezed
        .split_once(',')
        .is_some_and(|(plus, minus)| is_known(plus) && is_known(minus));
    if is_known(&squeezed) || is_pair {
        return Ok(one_name(desk, step, squeezed));
    }
    // A row of some step is no point of the finished circuit. A winding has its ohms in one step and its volts in another.
    let has = |one: &&Planned| points(desk, &one.name).iter().any(|name| name == of.trim());
    let others = || desk.steps.iter().filter(|one| one.name != step).filter(has);
    let of_quantity = others().find(|one| has_row(desk, one, of.trim(), what));
    let other = of_quantity.or_else(|| others().next());
    if let Some(other) = other {
        return Err(complain(words::point_of_step(of.trim(), &other.name)));
    }
    let all: Vec<&str> = known.iter().map(String::as_str).collect();
    // Of a pair, the end that nobody knows.
    let wrong = squeezed
        .split_once(',')
        .and_then(|(plus, minus)| [plus, minus].into_iter().find(|end| !is_known(end)));
    match wrong {
        Some(end) if known.iter().any(|name| is_end(name, end)) => Err(unknown("point", end, &all)),
        _ => Err(unknown("point", &squeezed, &all)),
    }
}

/// Whether a step has a row of that point and quantity.
fn has_row(desk: &Desk, step: &Planned, of: &str, what: Observed) -> bool {
    if step.kind == bringup::Kind::PowerOff {
        let off = quietrail_study::bringup::power_off(&desk.job);
        return off.iter().any(|one| one.of == of && one.what == what);
    }
    let mut own = step.points.iter();
    own.any(|point| point.of == of && point.what == what)
}

/// Whether a known name is near one end of a pair.
fn is_end(known: &str, end: &str) -> bool {
    !known.contains(',') && quietrail_job::nearest(end, [known]).is_some()
}

/// A node and that node against common are one point: it goes by the name that the step or a limit gives it.
fn one_name(desk: &Desk, step: &str, typed: String) -> String {
    let twin = match typed.split_once(',') {
        Some((plus, "common")) => plus.to_owned(),
        Some(_) => return typed,
        None => format!("{typed},common"),
    };
    let own = desk.steps.iter().filter(|known| known.name == step);
    let listed = own
        .flat_map(|known| &known.points)
        .map(|point| point.of.clone());
    let limits = desk.job.limits.iter().map(|limit| words_of(&limit.of));
    let all: Vec<String> = listed.chain(limits).collect();
    if !all.contains(&typed) && all.contains(&twin) {
        twin
    } else {
        typed
    }
}

/// Every point that can be named: those of the step, the nodes and parts of the job, what limits are about.
fn points(desk: &Desk, step: &str) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    let mut add = |name: String| {
        if !name.is_empty() && !all.contains(&name) {
            all.push(name);
        }
    };
    for planned in desk.steps.iter().filter(|known| known.name == step) {
        planned
            .points
            .iter()
            .for_each(|point| add(point.of.clone()));
    }
    if desk.steps.first().is_some_and(|first| first.name == step) {
        let off = quietrail_study::bringup::power_off(&desk.job);
        off.into_iter().for_each(|one| add(one.of));
    }
    for limit in desk.job.limits.iter() {
        add(words_of(&limit.of));
        if let Subject::Pair(plus, minus) = &limit.of {
            add(plus.clone());
            add(minus.clone());
        }
    }
    for name in quietrail_study::bringup::node_names(&desk.job) {
        add(name);
    }
    desk.job
        .parts
        .iter()
        .for_each(|part| add(part.name.clone()));
    for oscillator in desk.job.oscillators.iter() {
        add(oscillator.name.clone());
    }
    add("common".to_owned());
    all
}

fn state(desk: &Desk, draft: &Draft) -> Result<String, Complaint> {
    let known: Vec<&str> = desk
        .job
        .states
        .iter()
        .map(|state| state.name.as_str())
        .collect();
    let of_step = desk
        .steps
        .iter()
        .find(|step| step.name == draft.step)
        .and_then(|step| step.state);
    match (draft.state.as_str(), of_step) {
        ("", Some(state)) => Ok(known[state].to_owned()),
        // Without loads no state is any different.
        ("", None) if !draft.step.is_empty() => Ok(String::new()),
        ("", None) if desk.job.oscillators.iter().any(|own| own.name == draft.of) => {
            Ok(String::new())
        }
        ("", None) if known.len() == 1 => Ok(known[0].to_owned()),
        ("", None) => Err(complain(words::no_state(&known))),
        (name, _) if known.contains(&name) => Ok(name.to_owned()),
        (name, _) => Err(unknown("state", name, &known)),
    }
}

/// Splits value and unit as typed, and reads them.
fn value(draft: &mut Draft, what: Observed) -> Result<f64, Complaint> {
    let typed = draft.value.trim().to_owned();
    if what == Observed::Check {
        let is_right = match typed.to_lowercase().as_str() {
            "1" | "y" | "yes" | "ok" | "as it should be" => "1",
            "0" | "n" | "no" => "0",
            _ => return Err(complain(words::YES_OR_NO)),
        };
        draft.value = is_right.to_owned();
        draft.unit = String::new();
        return Ok(if is_right == "1" { 1.0 } else { 0.0 });
    }
    // An instrument that shows no more than the end of its range: the value is that, and the note says so.
    let beyond = typed
        .strip_prefix(['>', '≥'])
        .map(|rest| rest.trim().to_owned());
    if let Some(rest) = beyond.filter(|_| is_of_path(what)) {
        draft.value = rest;
        let note = draft.note.trim();
        draft.note = if note.is_empty() {
            MORE_THAN.to_owned()
        } else {
            format!("{MORE_THAN}; {note}")
        };
        return self::value(draft, what);
    }
    let typed = match what.without_word(&typed) {
        Ok(bare) => bare.to_owned(),
        Err(word) => return Err(complain(words::other_word(&typed, word, what))),
    };
    let symbol = what.kind().symbol();
    if !symbol.is_empty() && typed.parse::<f64>().is_ok() {
        return Err(complain(words::no_unit(&typed, symbol)));
    }
    if let Some(said) = words::level_of_line(&typed, what) {
        return Err(complain(said));
    }
    let (low, nominal, high) = interval(what.kind(), &typed).map_err(complain)?;
    if low != high {
        return Err(complain(words::one_value(&typed)));
    }
    (draft.value, draft.unit) = apart(what.kind(), &typed).map_err(complain)?;
    Ok(nominal)
}

/// A draft with its value and unit apart; `None` where it cannot be read.
pub(super) fn split(draft: &Draft) -> Option<Draft> {
    let mut apart = draft.clone();
    let what = observed(&apart.what).ok()?;
    value(&mut apart, what).ok()?;
    Some(apart)
}

/// A display that can show no more becomes what it says: more than the end of the range.
fn overload(desk: &Desk, draft: &mut Draft, what: Observed) -> Result<(), Complaint> {
    let typed = draft.value.trim();
    if !is_overload(typed) {
        return Ok(());
    }
    if !is_of_path(what) {
        return Err(complain(words::overload(typed, what)));
    }
    let end = end_shown(&desk.job.instruments, &draft.instrument, what, &draft.range);
    let end = end.ok_or_else(|| complain(words::overload_of_path(typed)))?;
    draft.value = format!("> {}", number::written(end, what.kind().symbol()));
    Ok(())
}

fn mains(typed: &str) -> Result<String, Complaint> {
    let text = if typed.ends_with(|c: char| c.is_ascii_digit()) {
        format!("{typed} V")
    } else {
        typed.to_owned()
    };
    let (low, nominal, high) = interval(Kind::Volts, &text).map_err(complain)?;
    if low != high || !(10.0..=500.0).contains(&nominal) {
        return Err(complain(words::mains(typed)));
    }
    Ok(nominal.to_string())
}

/// Refuses a mains that the job's socket cannot have.
fn mains_of_job(desk: &Desk, draft: &Draft) -> Result<(), Complaint> {
    let step = desk.steps.iter().find(|step| step.name == draft.step);
    let through = step.and_then(|step| step.through);
    let own = &desk.job.mains.voltage.value;
    match draft.mains_v.parse::<f64>() {
        Ok(volts) if bringup::is_other_mains(&desk.job, through, volts) => {
            Err(complain(words::other_mains(volts, own.low, own.high)))
        }
        _ => Ok(()),
    }
}

fn set_up(desk: &Desk, draft: &Draft, what: Observed) -> Result<(), Complaint> {
    if matches!(what, Observed::Check | Observed::Override) {
        return Ok(());
    }
    let has_setup = !draft.setup.trim().is_empty();
    // A watch is no instrument of the job; what it may be off by stands in the set-up.
    let is_by_hand = matches!(what, Observed::WarmUp | Observed::Retrace);
    if is_by_hand && has_setup && draft.instrument.is_empty() {
        return Ok(());
    }
    if draft.instrument.is_empty() || !has_setup {
        return Err(complain(words::NO_SETUP));
    }
    let known: Vec<&str> = desk
        .job
        .instruments
        .iter()
        .map(|instrument| instrument.name.as_str())
        .collect();
    let Some(instrument) = desk
        .job
        .instruments
        .iter()
        .find(|instrument| instrument.name == draft.instrument)
    else {
        return Err(unknown("instrument", &draft.instrument, &known));
    };
    if !reads(instrument, what) {
        return Err(complain(words::does_not_read(
            &instrument.name,
            what.word(),
        )));
    }
    if let Some(name) = draft
        .setup
        .split(';')
        .find_map(|item| item.trim().strip_prefix("through "))
        && !known.contains(&name.trim())
    {
        return Err(unknown("instrument", name, &known));
    }
    let function = function_of(instrument, what);
    let own = |function: &&Function| function.range_named(&draft.range).is_some();
    if draft.range.is_empty() || function.is_none_or(|function| own(&function)) {
        return Ok(());
    }
    let function = function.into_iter();
    let mut ranges: Vec<&str> = function
        .clone()
        .flat_map(|function| &function.ranges)
        .map(|range| range.words.as_str())
        .collect();
    if function
        .clone()
        .any(|one| one.detector == Some(Detector::Sample))
    {
        ranges.push(words::BY_DIVISION);
    }
    Err(unknown("range", &draft.range, &ranges))
}

/// Refuses a limit that the job does not have, and one that is not of what the row reads: it would count as proof of something else.
fn limit(desk: &Desk, draft: &Draft, what: Observed) -> Result<(), Complaint> {
    let all = &desk.job.limits;
    let known: Vec<&str> = all.iter().map(|limit| limit.name.as_str()).collect();
    let Some(named) = all.iter().find(|limit| limit.name == draft.limit) else {
        return Err(unknown("limit", &draft.limit, &known));
    };
    if is_limit_of(desk, named, draft, what) {
        return Ok(());
    }
    let Observed::Statistic(statistic) = what else {
        return Err(complain(words::no_limit_of(&draft.limit, what)));
    };
    let own = all
        .iter()
        .find(|limit| is_limit_of(desk, limit, draft, what));
    let states = named.states.iter();
    let of = words::LimitOf {
        name: named.name.clone(),
        of: words_of(&named.of),
        what: named.what,
        states: states
            .map(|state| desk.job.states[*state].name.clone())
            .collect(),
    };
    let read = (draft.of.as_str(), statistic, draft.state.as_str());
    Err(complain(words::other_limit(
        &of,
        read,
        own.map(|own| own.name.as_str()),
    )))
}

/// Whether a limit is of what a row reads: point, statistic, and state where the row is of one.
fn is_limit_of(desk: &Desk, limit: &Limit, draft: &Draft, what: Observed) -> bool {
    // A node and that node against common are one point.
    let bare = |of: &str| of.strip_suffix(",common").unwrap_or(of).to_owned();
    let mut states = limit.states.iter();
    let in_state =
        draft.state.is_empty() || states.any(|state| desk.job.states[*state].name == draft.state);
    Observed::Statistic(limit.what) == what
        && bare(&words_of(&limit.of)) == bare(&draft.of)
        && in_state
}
