//! What single fault would make a step read as it was read.

use crate::parts;
use crate::sheet::Sheet;
use crate::words;
use maud::{Markup, html};
use quietrail_bench::log::Log;
use quietrail_job::model::Job;
use quietrail_report::causes::{table, told};
use quietrail_report::words::causes as said;
use quietrail_study::bringup::{Step, causes, is_told_by_faults, planned};

/// Where a reading is outside its band: the question, and once it is asked the answer.
pub(super) fn why(sheet: &Sheet<'_>, (job, log): (&Job, &Log), step: &Step) -> Markup {
    let is_outside = step.expect.iter().any(|one| {
        let last = one.readings.last();
        is_told_by_faults(one.what) && last.is_some_and(|reading| reading.fit.is_outside())
    });
    if !is_outside || !step.kind.is_powered() {
        return html! {};
    }
    html! {
        section class="proves" id="why" {
            @if sheet.asked.get("why").is_some() { (answer(job, log, step)) }
            @else {
                @let asked = sheet.asked.with(|asked| {
                    asked.more.clear();
                    asked.more.insert("step".to_owned(), step.name.clone());
                    asked.more.insert("why".to_owned(), "1".to_owned());
                });
                p { a href=(format!("{}#why", asked.href("bench"))) { (words::bench::WHY) } }
            }
        }
    }
}

fn answer(job: &Job, log: &Log, step: &Step) -> Markup {
    let all = planned(job);
    let Some(own) = all.iter().find(|one| one.name == step.name) else {
        return html! {};
    };
    let mains_of = |row: u64| log.row(row)?.mains_v;
    let found = match causes(job, own, step, mains_of, &quietrail_study::options()) {
        Ok(Some(found)) => found,
        Ok(None) => return html! { p { (said::nothing_outside(&step.name)) } },
        Err(why) => return html! { p class="fault" { (why.to_string()) } },
    };
    let (told, table) = (told(&found), table(&found));
    html! {
        h2 { (words::bench::WHY) }
        p { (parts::prose(&told.head)) }
        (parts::wide(words::bench::WHY, &html! { table class="plain" {
            thead { tr { @for one in &table.head { th scope="col" { (one) } } } }
            tbody {
                @for row in &table.rows {
                    tr { @for (k, cell) in row.iter().enumerate() {
                        @if k == 0 { th scope="row" { (cell) } } @else { td class="num" { (cell) } }
                    } }
                }
            }
        } }))
        @for one in &told.last { p { (one) } }
    }
}
