//! What the readings log says of the limits, put beside what is predicted.
//!
//! Readings are of the job as its file has it. What is only being tried has not been built, so nothing was read of it.

use crate::desk::{Desk, Key};
use crate::known::Known;
use crate::sheet::Sheet;
use quietrail_bench::log::{Log, Observed, words_of};
use quietrail_job::model::{Job, PartKind, Subject};
use quietrail_report::words::bringup::observed;
use quietrail_report::words::readings as words;
use quietrail_study::bringup::{Book, BringUp, LOCKS_ALONE, bring_up_by, reads};
use quietrail_study::finding::{LimitFinding, Overall, Proof};
use quietrail_study::gate::{Gate, Lock};
use quietrail_study::measured::{Judged, Limited, judged, merge};
use std::sync::Arc;

/// A proof with what the readings say in it.
struct Merged {
    proof: Arc<Proof>,
    read: Readings,
}

/// What the log says beside the proof.
#[derive(Clone, Debug, Default)]
pub(crate) struct Readings {
    /// What the readings of each limit come to.
    pub(crate) judged: Arc<Vec<Judged>>,
    /// What was read in the steps of the bring-up and is not in order.
    pub(crate) misfits: Arc<Vec<Lock>>,
}

/// Puts what readings say into what is known of the file's version with this sum.
pub(crate) fn with_readings(desk: &Desk, sum: &str, known: Known) -> (Known, Readings) {
    let trace = desk.folder.log_trace();
    if trace.is_none() {
        return (known, Readings::default());
    }
    let key = (
        sum.to_owned(),
        format!("readings {trace:?} {:?}", known.standing),
    );
    let merged = desk.remembered(&key, || {
        let log = desk.folder.log().unwrap_or_default();
        let mut proof = (*known.proof).clone();
        let options = quietrail_study::options();
        let found = of_step(desk, sum, &known.job, &log, LOCKS_ALONE);
        let gate = found.as_ref().map_or_else(Gate::default, Gate::from);
        let limits = Limited::of_findings(&proof.limits);
        let judged = judged(&known.job, &limits, &log, &gate, &options);
        merge(&mut proof.limits, &judged);
        Merged {
            proof: Arc::new(proof),
            read: Readings {
                judged: Arc::new(judged),
                misfits: Arc::new(gate.misfits()),
            },
        }
    });
    let known = Known {
        proof: merged.proof.clone(),
        ..known
    };
    (known, merged.read.clone())
}

/// The bring-up of the file's version with this sum, one step computed: bands are computed once for a version, and stand for
/// every reading that comes after.
pub(crate) fn of_step(desk: &Desk, sum: &str, job: &Job, log: &Log, step: &str) -> Option<BringUp> {
    let options = quietrail_study::options();
    bring_up_by(&book(desk, sum), job, log, Some(step), &options).ok()
}

/// The same behind the page; nothing while that takes longer than a moment.
pub(crate) fn of_step_later(
    sheet: &Sheet<'_>,
    key: &Key,
    log: &Log,
    step: &str,
) -> Option<Arc<Option<BringUp>>> {
    let job = sheet.version.job.clone()?;
    let book = book(sheet.desk, &sheet.version.sum);
    let (log, step) = (log.clone(), step.to_owned());
    let make = move || {
        let options = quietrail_study::options();
        bring_up_by(&book, &job, &log, Some(&step), &options).ok()
    };
    sheet.desk.later(key, make)
}

fn book(desk: &Desk, sum: &str) -> Arc<Book> {
    desk.remembered(&(sum.to_owned(), "bands".to_owned()), Book::default)
}

/// Points that a limit of the job asks for, that an instrument reads and no reading shows yet: `raw, mean (cold, warm)`.
pub(crate) fn left_to_read(sheet: &Sheet<'_>) -> Left {
    let mut all: Vec<(String, bool, Vec<&str>)> = Vec::new();
    let limits = sheet.known.iter().flat_map(|known| &known.proof.limits);
    let is_left = |row: &&LimitFinding| {
        let what = Observed::Statistic(row.what);
        let mut instruments = sheet.job.instruments.iter();
        matches!(row.overall, Overall::Predicted | Overall::NotShown)
            && !row.is_rating
            && instruments.any(|own| reads(own, what))
    };
    for row in limits.filter(is_left) {
        let of = crate::words::bench::point(&words_of(&row.of));
        let point = format!("{of}, {}", observed(Observed::Statistic(row.what)));
        match all.iter_mut().find(|(known, ..)| *known == point) {
            Some((.., states)) if states.contains(&row.state.as_str()) => {}
            Some((.., states)) => states.push(&row.state),
            None => all.push((point, is_of_load(&sheet.job, &row.of), vec![&row.state])),
        }
    }
    let (of_loads, before): (Vec<_>, Vec<_>) =
        all.into_iter().partition(|(_, of_load, _)| *of_load);
    let said = |all: Vec<(String, bool, Vec<&str>)>| {
        let said = all.into_iter();
        said.map(|(point, _, states)| format!("{point} ({})", states.join(", ")))
            .collect()
    };
    Left {
        before: said(before),
        with_load: said(of_loads),
    }
}

/// Points that some limit asks for and no reading shows yet.
pub(crate) struct Left {
    /// Those that dummies in place of the loads show.
    pub(crate) before: Vec<String>,
    /// Those of the loads themselves.
    pub(crate) with_load: Vec<String>,
}

fn is_of_load(job: &Job, of: &Subject) -> bool {
    let Subject::Part(name) = of else {
        return false;
    };
    let part = job.part(name);
    part.is_some_and(|part| matches!(part.kind, PartKind::Load(_)))
}

/// Where the mains stood while a limit was read; empty where the readings reach both ends of its range.
pub(crate) fn mains_of(one: &Judged) -> String {
    words::mains_of(&one.read())
}

/// What the readings of a limit come to: in the state of a row first, then in others.
pub(crate) fn of_row<'a>(sheet: &'a Sheet<'_>, row: &LimitFinding) -> Vec<&'a Judged> {
    let own = sheet.judged.iter().filter(|one| one.limit == row.name);
    let (here, other): (Vec<&Judged>, Vec<&Judged>) = own.partition(|one| one.state == row.state);
    here.into_iter().chain(other).collect()
}

/// The bring-up with its bands, those of the steps in which something was read; nothing while that is being computed.
pub(crate) fn bring_up_read(sheet: &Sheet<'_>, log: &Log) -> Option<Arc<Option<BringUp>>> {
    let job = sheet.version.job.clone()?;
    let log = log.clone();
    let key = (
        sheet.version.sum.clone(),
        format!("bring-up {:?}", sheet.desk.folder.log_trace()),
    );
    let book = book(sheet.desk, &sheet.version.sum);
    let make = move || with_bands(&book, &job, &log);
    sheet.desk.later(&key, make)
}

fn with_bands(book: &Book, job: &Job, log: &Log) -> Option<BringUp> {
    let options = quietrail_study::options();
    let of_step = |step: &str| bring_up_by(book, job, log, Some(step), &options).ok();
    let mut whole = of_step(LOCKS_ALONE)?;
    for step in &mut whole.steps {
        let is_read = log
            .rows
            .iter()
            .any(|row| row.step == step.name && row.what != Observed::Override);
        if !is_read {
            continue;
        }
        let name = step.name.clone();
        let computed = of_step(&name)?;
        if let Some(own) = computed.steps.into_iter().find(|own| own.name == name) {
            *step = own;
        }
    }
    Some(whole)
}
