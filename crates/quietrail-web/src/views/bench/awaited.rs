//! What a step of the bring-up should read is computed behind the page where that takes longer than a moment; until then the page
//! says where one is and what locks the step.

use super::{current, live, locked, strip, top};
use crate::readings::{of_step, of_step_later};
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, html};
use quietrail_bench::log::Log;
use quietrail_job::model::Job;
use quietrail_report::words::bringup as said;
use quietrail_study::bringup::{BringUp, Kind, LOCKS_ALONE};

/// How long a page waits for what each point should read.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Wait {
    AMoment,
    ToTheEnd,
}

/// The bring-up, as far as it is computed.
pub(super) enum Computed {
    /// With what each point of the step in hand should read.
    Whole(BringUp),
    /// Its steps and what locks them; the rest is on its way.
    Coming(BringUp),
    /// The job has none.
    No,
}

/// The bring-up with the step in hand computed; it is remembered as long as job and log are the same.
pub(super) fn computed(sheet: &Sheet<'_>, job: &Job, log: &Log, wait: Wait) -> Computed {
    let of_step = |step: &str| of_step(sheet.desk, &sheet.version.sum, job, log, step);
    let Some(first) = of_step(LOCKS_ALONE) else {
        return Computed::No;
    };
    let Some(index) = current(sheet, &first) else {
        return Computed::No;
    };
    let name = first.steps[index].name.clone();
    let key = (
        sheet.version.sum.clone(),
        format!("bench {name} {} {}", log.rows.len(), log.damaged.len()),
    );
    let found = match wait {
        Wait::ToTheEnd => sheet.desk.remembered(&key, || of_step(&name)),
        Wait::AMoment => match of_step_later(sheet, &key, log, &name) {
            Some(found) => found,
            None => return Computed::Coming(first),
        },
    };
    (*found).clone().map_or(Computed::No, Computed::Whole)
}

fn awaited() -> Markup {
    html! { div class="coming empty" { p role="status" { (words::bench::COMING) } } }
}

/// The step in hand while what its points should read is being computed: where one is, and what can be said before.
pub(super) fn coming(sheet: &Sheet<'_>, found: &BringUp) -> Markup {
    let Some(index) = current(sheet, found) else {
        return html! {};
    };
    let step = &found.steps[index];
    html! {
        (top(sheet, step))
        div class="benchview" id="bench" data-live data-whole {
            @if step.kind != Kind::PowerOff { (live(step)) }
            (strip(sheet, found, index))
            div class="st" {
                h1 { (said::step_of(index + 1, found.steps.len(), &step.name)) }
                p { (said::connected(step.kind)) @if let Some(through) = step.through { " " (said::through(through)) } }
            }
            @if step.is_open() { (awaited()) }
            @else { div class="two" { (locked(sheet, step, None)) (awaited()) } }
        }
    }
}
