//! A new job in an empty folder: a few questions, then a commented job file.

use crate::asked::Asked;
use crate::desk::{Desk, Refused};
use crate::page;
use crate::parts;
use crate::sheet::FieldFault;
use crate::views::Answer;
use crate::words;
use maud::{Markup, html};
use quietrail_job::begin::{ALL, Answers, REGION, Region, TEMPLATE, wrong_with};

/// Regions to begin from.
const REGIONS: [&str; 4] = [REGION, "240 V 50 Hz", "120 V 60 Hz", "100 V 50 Hz"];

/// The questions, with defaults for the region asked for.
pub(crate) fn page(desk: &Desk, asked: &Asked) -> Markup {
    let region = asked.get("region").unwrap_or(REGION);
    questions(desk, region, &[], &[])
}

/// Takes the answers: writes the job, or says at the field what is wrong.
pub(crate) fn begin(desk: &Desk, pairs: &[(String, String)]) -> Answer {
    let value = |wanted: &str| {
        let found = pairs.iter().find(|(key, _)| key == wanted);
        found.map_or("", |(_, value)| value.trim())
    };
    let named = value("region");
    let Ok(region) = Region::parse(named) else {
        return Answer::Page(400, questions(desk, REGION, pairs, &[]));
    };
    let mut answers = Answers::new(region);
    let mut faults = Vec::new();
    for question in ALL {
        let default = question.default(&answers);
        let typed = if question.is_asked {
            value(question.name)
        } else {
            ""
        };
        let answer = if typed.is_empty() {
            default.clone()
        } else {
            typed.to_owned()
        };
        match wrong_with(question, &answer, &answers) {
            None => answers.take(question.name, answer),
            Some(said) => {
                faults.push(fault(question.name, said));
                answers.take(question.name, default);
            }
        }
    }
    if !faults.is_empty() {
        return Answer::Page(400, questions(desk, named, pairs, &faults));
    }
    let empty = desk.version().sum.clone();
    match desk.write(&empty, |_| Ok(answers.fill(TEMPLATE))) {
        Ok(()) | Err(Refused::Stale(_) | Refused::Nothing) => Answer::Go("descent".to_owned()),
        Err(Refused::Folder(said) | Refused::Broken(said)) => {
            let fault = fault("title", said);
            Answer::Page(409, questions(desk, named, pairs, &[fault]))
        }
    }
}

fn fault(name: &str, said: String) -> FieldFault {
    FieldFault {
        address: name.to_owned(),
        typed: String::new(),
        said,
        choices: Vec::new(),
    }
}

fn questions(
    desk: &Desk,
    region: &str,
    pairs: &[(String, String)],
    faults: &[FieldFault],
) -> Markup {
    let Ok(region) = Region::parse(region).or_else(|_| Region::parse(REGION)) else {
        return html! {};
    };
    let mut answers = Answers::new(region);
    let mut asked = Vec::new();
    let mut kept = Vec::new();
    for question in ALL {
        let default = question.default(&answers);
        answers.take(question.name, default.clone());
        if question.is_asked {
            let typed = pairs.iter().find(|(key, _)| key == question.name);
            let value = typed.map_or(default, |(_, value)| value.clone());
            let fault = faults.iter().find(|fault| fault.address == question.name);
            asked.push((question, value, fault));
        } else if question.name != "region" {
            kept.push((question.asks, default));
        }
    }
    let named = region.to_string();
    let file = desk.folder.file_name();
    let inside = html! {
        h1 { (words::BEGIN_TITLE) }
        p class="lede" { (words::begin_lede(&desk.folder.shown(), &file)) }
        p class="soft" { (words::CAUTION) }
        form class="regions" method="get" action="begin" {
            label for="region" { (words::REGION) }
            select id="region" name="region" {
                @for one in REGIONS { option value=(one) selected[one == named] { (one) } }
            }
            button class="btn" { (words::SHOW) }
        }
        form class="begin" method="post" action="begin" {
            input type="hidden" name="region" value=(named);
            @for (question, value, fault) in &asked {
                div class={ "question" @if fault.is_some() { " wrong" } } {
                    label for={ "q-" (question.name) } { (question.asks) }
                    input id={ "q-" (question.name) } type="text" name=(question.name) value=(value) autocomplete="off"
                        aria-invalid=[fault.map(|_| "true")];
                    @if let Some(fault) = fault { (parts::field_fault(fault)) }
                }
            }
            details {
                summary { (words::NOT_ASKED) }
                (parts::wide(words::NOT_ASKED, &html! { table class="plain" { tbody { @for (asks, default) in &kept { tr { th scope="row" { (asks) } td { (default) } } } } } }))
            }
            button class="btn main" { (words::WRITE_JOB) }
        }
    };
    page::alone(&file, &inside, "view-begin")
}
